/* What a handover is made from: one institution's certificate, judged, and short ways to what its
 * entries say. Everything in the bag is made from this and from the files whose hashes it shows, so
 * that nothing gets out that the certificate keeps back. */
#ifndef MB_HANDING_H
#define MB_HANDING_H

#include <markerbed/ledger.h>

#include "sheet_page.h"

/* One showing of an attached file; the same file may be shown more than once. */
struct mb_handed_file {
    struct mb_handed_file *next;
    struct mb_str sha256;
    const char *path; /* under data/; of all showings of one file the same; NULL: it is missing */
    const char *type;
    int64_t bytes;
    struct mb_str subject, kind;
    int64_t seq;
    struct mb_str field;
    const mb_json *row; /* what stands beside it in its row; may be NULL */
    bool first;         /* of its showings */
};

struct mb_handing {
    mb_arena *arena;
    struct mb_bundle_check check;
    struct mb_page **pages;    /* one a specimen, without items */
    const struct mb_str *subjects;
    size_t count;
    const char *origin, *issuer, *day; /* of issue */
    const char *to;                    /* "party/P006", or "bearer" */
    const char *to_words;              /* by name, as far as it is shown */
    struct mb_handed_file *files;
    const mb_json *materials, *lands; /* schema/vocab/material.json, landCategory.json: terms */
};

MB_CHECK enum mb_rc mb_handing_make(mb_arena *arena, struct mb_str certificate,
                                    struct mb_handing *out, struct mb_error *err);
/* The same as it would be, before anything is signed: what an institution would be shown. It has no
 * files, no certificate, and pages that only know people's names. */
MB_CHECK enum mb_rc mb_handing_look(mb_ledger *ledger, mb_arena *arena,
                                    const char *const *specimens, size_t count,
                                    struct mb_handing *out, struct mb_error *err);

struct mb_str mb_handing_subject(const struct mb_handing *h, size_t which);
const char *mb_handing_id(const struct mb_handing *h, size_t which);
/* The newest standing entry of a kind on a subject's chain; NULL if there is none. */
const struct mb_told *mb_handing_newest(const struct mb_handing *h, struct mb_str subject,
                                        const char *kind);
/* The newest value of a field in entries of a kind (NULL: any), as it stands; NULL if there is
 * none. What a piece that came out of another does not say of its finding, the other says. */
const mb_json *mb_handing_value(const struct mb_handing *h, struct mb_str subject,
                                const char *kind, const char *field);
/* The piece that this one came out of; {NULL, 0} if it is whole. */
struct mb_str mb_handing_parent(const struct mb_handing *h, struct mb_str specimen);
/* Known: there, and no "not known", "not examined" and the like. */
bool mb_handing_known(const mb_json *value);
/* In words, people by name where the reader may know it; NULL for NULL. */
const char *mb_handing_words(const struct mb_handing *h, const mb_json *value);
/* The same of a field's value, as a sheet says it: rows in sentences. */
const char *mb_handing_said(const struct mb_handing *h, struct mb_str field, const mb_json *value);
/* The reference that a specimen's record leads to ("site/S001"): of this name, or of the other one
 * (an arrival states a place, a find has one). {NULL, 0} if there is none. */
struct mb_str mb_handing_ref(const struct mb_handing *h, struct mb_str specimen,
                             const char *field, const char *other);
/* The land's group by its category on record (schema/vocab/landCategory.json): "federal",
 * "private", "tribal" ...; "not known" if there is none. */
const char *mb_handing_land(const struct mb_handing *h, struct mb_str specimen);

#endif
