/*
 * What a sheet says, before it has a form: a list of headings, sentences, pairs, bars and tables
 * in the order in which a buyer has to know them (docs/format.md). The PDF and the HTML page are
 * both drawn from it, so they say the same.
 *
 * Nothing is in it that is not in the certificate.
 */
#ifndef MB_SHEET_PAGE_H
#define MB_SHEET_PAGE_H

#include "substance.h"
#include "verify_bundle.h"

struct mb_overlay;

enum mb_page_kind {
    MB_PAGE_SECTION, /* text */
    MB_PAGE_GROUP,   /* text: a small heading within a section */
    MB_PAGE_SAY,     /* text: sentences over the whole width */
    MB_PAGE_PAIR,    /* label, text */
    MB_PAGE_BAR,     /* label, text, low to high, at */
    MB_PAGE_TABLE,   /* cells, row by row; the first row is the heading */
    MB_PAGE_DRAWING, /* drawing; text says in words what it shows */
    MB_PAGE_PICTURE  /* bytes, label; those that follow each other stand in rows */
};

/* A stretch of a bar: filled with the pattern that its substance has on the drawings too, but for
 * original, which is solid here and left clear there. */
struct mb_page_stretch {
    enum mb_substance substance;
    double percent;
};

/* The label of the bar that is to be read first. */
#define MB_PAGE_ORIGINAL "Original in all"

struct mb_page_item {
    struct mb_page_item *next;
    enum mb_page_kind kind;
    const char *label, *text;
    bool strong; /* of a bar or a sentence: the one to read first */
    double at, low, high; /* per cent; at below 0: only a band is known */
    struct mb_page_stretch stretches[MB_SUBSTANCES]; /* of a bar that has a figure */
    size_t stretch_count;
    const char *const *cells;
    size_t columns, rows;
    const struct mb_overlay *drawing;
    struct mb_str bytes; /* of a picture that reads */
};

struct mb_page {
    const char *title;    /* carved, cast, composite and placed together first */
    const char *number;   /* "26-0115" */
    const char *audience; /* what this sheet is, in a sentence */
    const char *as_of;    /* "2026-06-01" */
    bool preview; /* of a draft: it says so, and nothing on it can be taken for a certificate's */
    const char *issuer, *origin, *fingerprint, *id;
    const char *signers;
    struct mb_str sub;    /* "specimen/26-0115" */
    int64_t index;
    struct mb_str photo;  /* bytes of a picture of the piece; {NULL, 0} if none */
    struct mb_page_item *items;
    size_t marks;         /* identifying marks on record */
    /* of the making */
    struct mb_page_item **end;
    mb_arena *arena;
    const struct mb_bundle_check *check;
    const mb_json *lines;
    mb_json *told; /* lines that a section asked for, by name */
    const char *of; /* number of the other piece whose lines these are, else NULL */
    bool cast; /* never the word "original" of our own */
};

/* Reads a certificate and judges it by itself: MB_REFUSED if it does not hold. */
MB_CHECK enum mb_rc mb_page_open(mb_arena *arena, struct mb_str certificate,
                                 struct mb_bundle_check *check, struct mb_error *err);
/* Takes a draft (draft.h) apart in the same way; nobody signed it, so it is not judged. */
MB_CHECK enum mb_rc mb_page_open_draft(mb_arena *arena, const mb_json *draft,
                                       struct mb_bundle_check *check, struct mb_error *err);
/* The page of one of the certificates in a file that was checked and holds, or of a draft. */
struct mb_page *mb_page_make(mb_arena *arena, const struct mb_bundle_check *check,
                             const struct mb_bundle_entry *certificate);
/* The same, still without items. */
struct mb_page *mb_page_new(mb_arena *arena, const struct mb_bundle_check *check,
                            const struct mb_bundle_entry *certificate);

/* The web page of what was opened, without a certificate inside: sheet_html.c. */
MB_CHECK enum mb_rc mb_sheet_html_of(mb_arena *arena, const struct mb_bundle_check *check,
                                     struct mb_str *html, struct mb_error *err);

/* ---- for the parts of the page ---- */

const mb_json *mb_page_line(const struct mb_page *page, const char *name);
/* In words, people by name where the reader may know it; NULL if there is no such line. */
const char *mb_page_said(const struct mb_page *page, const char *name);
/* Recorded, and no mere "none" or "not examined". */
bool mb_page_rows(const struct mb_page *page, const char *name);
void mb_page_section(struct mb_page *page, const char *title);
void mb_page_say(struct mb_page *page, const char *text);
void mb_page_stress(struct mb_page *page, const char *text);
void mb_page_pair(struct mb_page *page, const char *label, const char *text);
/* Each line of the list (names divided by blanks) that is there. */
void mb_page_pairs(struct mb_page *page, const char *names);
struct mb_page_item *mb_page_add(struct mb_page *page, enum mb_page_kind kind);

/* The photo at its head, {NULL, 0} if there is none: sheet_photo.c. */
struct mb_str mb_page_photo(const struct mb_page *page);
/* The picture that a recorded file is, {NULL, 0} if it is none or not in the certificate. */
struct mb_str mb_page_picture(const struct mb_page *page, const mb_json *file);
/* That this is the piece: sheet_piece.c. */
void mb_page_piece(struct mb_page *page);
/* How much is original: sheet_shares.c. */
void mb_page_shares(struct mb_page *page);
/* Of the piece, and for an institution of what was used on it: sheet_cautions.c. */
void mb_page_cautions(struct mb_page *page);
/* Who held and owned it; what was kept back and by whom: sheet_people.c. */
void mb_page_people(struct mb_page *page);
void mb_page_owners_before(struct mb_page *page); /* of the piece that it came out of */
void mb_page_withheld(struct mb_page *page);
const char *mb_page_signers(const struct mb_page *page);
/* Divided, joined, related; corrections and earlier sheets: sheet_past.c. */
void mb_page_elsewhere(struct mb_page *page);
void mb_page_changes(struct mb_page *page);
/* The piece that this one came out of, where its story is in the file; {NULL, 0} if none. */
struct mb_str mb_page_parent(const struct mb_page *page);
/* Its years in other ledgers; what stands on one side's word and what on two: sheet_before.c. */
void mb_page_before(struct mb_page *page);
void mb_page_sides(struct mb_page *page);
/* What an auditor and an institution see of the dig and its permission: sheet_past.c. */
void mb_page_dig(struct mb_page *page);
/* What the issuer's rules say of the land record, in words: sheet_standing.c. */
void mb_page_standing(struct mb_page *page);
/* The value with each party's reference in it replaced by the name or label that is shown. */
const mb_json *mb_page_named(const struct mb_page *page, const mb_json *value);

#endif
