/*
 * Land descriptions of the United States public land survey: township, range, section and its
 * aliquot parts (43 U.S.C. 751-753; Bureau of Land Management, Manual of Surveying Instructions,
 * 2009: a township is nominally six miles square and has 36 sections of one mile square, 640 acres,
 * divided by halves and quarters).
 *
 * The words are kept as they were written and understood beside that. No survey grid is shipped:
 * a description is not turned into coordinates here, because real sections are where their corners
 * were set and not where arithmetic puts them. Sizes are nominal.
 *
 * Read: T. 12 S., R. 31 W., sec. 14, NE1/4 SW1/4 · T12S R31W S14 NESW · NE¼SW¼ Section 14,
 * Township 12 South, Range 31 West, 6th P.M. · N/2 of the SE/4 of Sec 14-T12S-R31W · N2NE4 sec 14.
 * Smaller parts come first, each lying in the next; "of" may be left out. A comma or "and" between
 * two parts means both of them, as in the survey's own usage. "S14" is section 14; "S2" is the
 * south half where the word section stands elsewhere, else section 2.
 */
#ifndef MB_PLSS_H
#define MB_PLSS_H

#include <stdbool.h>

#include <markerbed/arena.h>

#define MB_PLSS_NESTED_MAX 6
#define MB_PLSS_PIECES_MAX 8
#define MB_PLSS_SECTIONS_MAX 36
#define MB_PLSS_LOTS_MAX 16
#define MB_PLSS_TEXT_MAX 500

struct mb_aliquot {
    char where[3]; /* N S E W (halves), NE NW SE SW (quarters) */
};

/* One part of a section: NE1/4 SW1/4 is the north-east quarter of the south-west quarter. */
struct mb_plss_piece {
    struct mb_aliquot at[MB_PLSS_NESTED_MAX]; /* smallest first */
    size_t count;
};

struct mb_plss {
    const char *verbatim;
    int township, range;                   /* 1.. */
    int township_quarters, range_quarters; /* 0, or 1..3 for T. 12 1/2 N. and the like */
    char township_side, range_side;        /* N or S; E or W */
    int sections[MB_PLSS_SECTIONS_MAX];
    size_t section_count; /* 0: the whole township */
    struct mb_plss_piece pieces[MB_PLSS_PIECES_MAX];
    size_t piece_count; /* 0: the whole section */
    int lots[MB_PLSS_LOTS_MAX];
    size_t lot_count;
    const char *meridian;      /* as it is officially named, or as written if it is not known */
    bool meridian_known;       /* false too if none was written (then meridian is NULL) */
    const char *rest;          /* words that were not understood (a county, a remark), or NULL */
};

/* MB_REFUSED, in one sentence, without township and range, or where a number cannot be. */
MB_CHECK enum mb_rc mb_plss_read(mb_arena *arena, struct mb_str text, struct mb_plss *out,
                                 struct mb_error *err);
/* In one form: "T. 12 S., R. 31 W., sec. 14, NE1/4 SW1/4, Sixth Principal Meridian". */
char *mb_plss_write(mb_arena *arena, const struct mb_plss *plss);

/* Nominal size of what is described: acres; and the distance from its middle to a corner, which is
 * the extent that georef.h asks for. Several pieces count for acres, for the extent the whole
 * section; several sections, the whole township; lots are of any size, so the whole section. */
double mb_plss_acres(const struct mb_plss *plss); /* negative: lots or parts of several sections */
double mb_plss_extent_m(const struct mb_plss *plss);

/* The sentence that belongs beside every parsed description. */
#define MB_PLSS_CAUTION                                                                          \
    "No survey grid is installed: the description was read, but not placed on the ground, and " \
    "its size is nominal."

/* A principal meridian by name or usual letters ("6th P.M.", "MDM"); NULL if none is meant. */
const char *mb_plss_meridian(struct mb_str text);

#endif
