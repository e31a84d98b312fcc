/* Asking the ledger: one subject's story, search, lists, SQL; now or as of a day or entry. */
#ifndef MARKERBED_SHOW_H
#define MARKERBED_SHOW_H

#include <markerbed/ledger.h>

/* As of: NULL for now; a date ("2026-05-02", what had been recorded by its end, UTC) or "#1234",
 * the ledger before entry 1234 was recorded + that entry (entries 0..1234). */

/* {"subject","now":{field:{"value","seq","corrected"?}},
 *  "entries":[{"seq","iat","recordedAt","kind","title","day"?,"leaf","by","kid","line","voided"?,
 *   "corrects"?,"erased"?:[{"seq","count","ground"}],"fields":{name:value as recorded}}],
 *  "holders":[{"party"?,"name"?,"label"?,"from"?,"until"?,"seqIn"?,"seqOut"?}],
 *  "owners":[the same with "part"],
 *  "account":{"now","in","out","byCounting","rows":[{"seq","day","change","balance","why"}]}?,
 *  "warnings":["..."]}
 * now: what the newest entry that describes it says of each field. by: the name of the key's
 * holder, else the party, else the key. voided, corrects: numbers of entries. corrected: true where
 * seq is that of a correction. Without a slash a subject is a specimen. */
MB_CHECK enum mb_rc mb_show(mb_ledger *ledger, mb_arena *arena, const char *subject,
                            const char *as_of, const mb_json **out, struct mb_error *err);
/* [{"subject","kind","line","seq"}], best first, at most `most`: subjects in whose entries all
 * words stand (or in the names of people, places and layers that they speak of), the last word
 * perhaps only begun; seq, kind and line are of the entry that holds the most of them. */
MB_CHECK enum mb_rc mb_find_words(mb_ledger *ledger, mb_arena *arena, const char *words,
                                  size_t most, const char *as_of, const mb_json **out,
                                  struct mb_error *err);
/* what: specimens, lots, sites, horizons, permissions, parties, field-days, dealings, places,
 * certificates, keys, kinds. {"columns":[...],"rows":[[...]...],"more"?: how many were left out
 * where there are very many} */
MB_CHECK enum mb_rc mb_list(mb_ledger *ledger, mb_arena *arena, const char *what,
                            const char *as_of, const mb_json **out, struct mb_error *err);
/* One SELECT over the documented views (docs/views.md), stopped after 30 s.
 * {"columns":[...],"rows":[[...]...]}; MB_REFUSED where it gives more than 300,000 cells. */
MB_CHECK enum mb_rc mb_query(mb_ledger *ledger, mb_arena *arena, struct mb_str sql,
                             const char *as_of, const mb_json **out, struct mb_error *err);
/* The same two, row by row, of any number of rows. They show one moment until they are closed;
 * columns and rows as above. */
typedef struct mb_rows mb_rows;
MB_CHECK enum mb_rc mb_list_rows(mb_ledger *ledger, mb_arena *arena, const char *what,
                                 const char *as_of, mb_rows **out, struct mb_error *err);
/* 30 s are for the database's own work; the caller takes what time it wants between rows. */
MB_CHECK enum mb_rc mb_query_rows(mb_ledger *ledger, mb_arena *arena, struct mb_str sql,
                                  const char *as_of, mb_rows **out, struct mb_error *err);
const mb_json *mb_rows_columns(const mb_rows *rows);
/* In the arena; NULL behind the last. */
MB_CHECK enum mb_rc mb_rows_next(mb_rows *rows, mb_arena *arena, const mb_json **row,
                                 struct mb_error *err);
mb_rows *mb_rows_close(mb_rows *rows); /* before the ledger; accepts NULL, returns NULL */
/* Drops the views and replays them. */
MB_CHECK enum mb_rc mb_views_rebuild(mb_ledger *ledger, struct mb_error *err);

#endif
