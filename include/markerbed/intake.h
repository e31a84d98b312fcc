/* Many entries from a spreadsheet (CSV, RFC 4180), all or none. */
#ifndef MARKERBED_INTAKE_H
#define MARKERBED_INTAKE_H

#include <markerbed/ledger.h>

struct mb_intake {
    const char *path;      /* CSV file; "-" for standard input */
    const char *map_path;  /* which column is which field (docs/intake.md); NULL: names are alike */
    bool dry_run;
    bool split;            /* write PATH.good.csv and PATH.faulty.csv and take none */
    size_t most_faults;    /* faults told in full; 0 for 100 */
    /* called now and then with rows done and in all; may be NULL */
    void (*progress)(void *ctx, size_t done, size_t rows);
    void *ctx;
};

/* {"rows","entries","batch","already":n (rows that the ledger has from an earlier run),
 *  "faults":[{"line","column"?,"text"}],"faultsInAll","kinds":{kind:count},"dryRun","good"?,
 *  "faulty"?}
 * MB_REFUSED if any row is faulty (nothing recorded; *out is given all the same). */
MB_CHECK enum mb_rc mb_intake_file(mb_ledger *ledger, mb_arena *arena,
                                   const struct mb_intake *intake, const mb_json **out,
                                   struct mb_error *err);

#endif
