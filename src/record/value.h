/*
 * One value, from how a person writes it to how it is signed.
 *
 *   type      typed                         signed
 *   text      any words                     "..."
 *   date      2026-05-02, 2026-05, 2026,    the same
 *             2026-05-02/2026-05-04
 *   decimal   12.50 kg                      {"unit":"kg","value":"12.50"}; "12.50" where the field
 *                                           has one unit or none
 *   integer   240                           240
 *   choice    in place (or its title)       "in place"
 *   ref       S001 or site/S001             {"ref":"site/S001"}, spelled as first recorded
 *   entry     #123, or its hash             {"entry":"<leaf hash, base64url>"}
 *   list      a | b, or ["a","b"]           array
 *   rows      column:value; column:value    array of objects
 *             | column:value, or JSON
 *   file      a path                        {"bytes","file","name","type"} (attach.h)
 *   geometry  GeoJSON or a path to it       the same with numbers as texts (geovalue.h)
 *   boolean   yes, no                       true, false
 *   fraction  1/3                           "1/3"
 *   others    as their standards write them the same
 *
 * An answer ("not known") is typed as its words and signed as {"answer":"not known"}. In JSON,
 * values may come as typed texts or in the form that is signed.
 *
 * Sentences begin with the value: who calls puts the field's name, file and line before them.
 */
#ifndef MB_VALUE_H
#define MB_VALUE_H

#include "kinds.h"

#define MB_VALUE_TEXT_MAX 65536 /* bytes of one text */

/* What reading a value asks of the ledger. A NULL function refuses such values. */
struct mb_value_in {
    mb_arena *arena;
    const char *kind;  /* for "see markerbed record KIND --help"; may be NULL */
    int32_t today;     /* UTC; a day beyond the next is in the future */
    void *ctx;
    /* The subject as recorded, by ID or prefix/ID; quiet: only asking whether there is one. */
    enum mb_rc (*ref)(void *ctx, const struct mb_words *prefixes, struct mb_str text, bool quiet,
                      struct mb_str *subject, struct mb_error *err);
    /* The leaf hash of an entry, by "#123" or the hash itself. */
    enum mb_rc (*entry)(void *ctx, struct mb_str text, struct mb_str *leaf, struct mb_error *err);
    /* A file by its path, or one that the ledger holds already by its value. */
    enum mb_rc (*file)(void *ctx, const struct mb_kind_field *field, struct mb_str path,
                       mb_json **value, struct mb_error *err);
    /* Something worth a second look, which is taken all the same. May be NULL. */
    void (*note)(void *ctx, const char *sentence);
};

/* Both MB_REFUSED with what is wrong and what is allowed. */
MB_CHECK enum mb_rc mb_value_read(const struct mb_value_in *in, const struct mb_kind_field *field,
                                  struct mb_str typed, mb_json **out, struct mb_error *err);
MB_CHECK enum mb_rc mb_value_take(const struct mb_value_in *in, const struct mb_kind_field *field,
                                  const mb_json *json, mb_json **out, struct mb_error *err);

/* One of a field's choices alone, by its id or title. */
MB_CHECK enum mb_rc mb_value_choice(mb_arena *arena, const struct mb_kind_field *field,
                                    struct mb_str typed, mb_json **out, struct mb_error *err);

/* The words of {"answer":...}, {NULL, 0} if the value is no answer. */
struct mb_str mb_answer_of(const mb_json *value);

/* As it could be typed again; JSON where words would not do. */
char *mb_value_text(mb_arena *arena, const mb_json *value);

#endif
