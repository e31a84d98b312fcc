/* Asking the ledger: one subject's story, search, lists, SQL; now or as of a day or entry. */
#ifndef MARKERBED_SHOW_H
#define MARKERBED_SHOW_H

#include <markerbed/ledger.h>

/* As of: NULL for now; a date ("2026-05-02", what had been recorded by its end, UTC) or "#1234",
 * the ledger before entry 1234 was recorded + that entry (entries 0..1234). */

/* {"subject","now":{field:{"value","seq","corrected"?}},
 *  "entries":[{"seq","iat","recordedAt","kind","title","day","leaf",
 *  "by","line","voided"?,"fields":{...}}],"holders":[...],"owners":[...],"account":{...}?,
 *  "warnings":[...]} */
MB_CHECK enum mb_rc mb_show(mb_ledger *ledger, mb_arena *arena, const char *subject,
                            const char *as_of, const mb_json **out, struct mb_error *err);
/* [{"subject","kind","line","seq"}], best first, at most `most`. */
MB_CHECK enum mb_rc mb_find_words(mb_ledger *ledger, mb_arena *arena, const char *words,
                                  size_t most, const char *as_of, const mb_json **out,
                                  struct mb_error *err);
/* what: specimens, lots, sites, horizons, permissions, parties, field-days, dealings, places,
 * certificates, keys, kinds. {"columns":[...],"rows":[[...]...]} */
MB_CHECK enum mb_rc mb_list(mb_ledger *ledger, mb_arena *arena, const char *what,
                            const char *as_of, const mb_json **out, struct mb_error *err);
/* One SELECT over the documented views (docs/views.md), stopped after 30 s.
 * {"columns":[...],"rows":[[...]...]} */
MB_CHECK enum mb_rc mb_query(mb_ledger *ledger, mb_arena *arena, struct mb_str sql,
                             const char *as_of, const mb_json **out, struct mb_error *err);
/* Drops the views and replays them. */
MB_CHECK enum mb_rc mb_views_rebuild(mb_ledger *ledger, struct mb_error *err);

#endif
