/*
 * Days as people know them (ISO 8601 calendar dates, reduced precision and intervals: 2026,
 * 2026-05, 2026-05-02, 2026-05-02/2026-05-04, 2026-05-02/04), and moments as the ledger counts
 * them (whole seconds since 1970-01-01T00:00:00Z, leap seconds ignored, as POSIX does).
 */
#ifndef MB_DATE_H
#define MB_DATE_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/arena.h>

struct mb_days {
    int32_t first, last; /* days since 1970-01-01, both included: 2026-05 is 31 days */
};

/* False if it is no date of the forms above, names a day that does not exist, or an interval that
 * runs backwards. Years 1500-2999. */
bool mb_days_read(struct mb_str text, struct mb_days *out);
int32_t mb_day_number(int year, int month, int day); /* proleptic Gregorian */
void mb_day_parts(int32_t day, int *year, int *month, int *date);
char *mb_day_write(mb_arena *arena, int32_t day); /* 2026-05-02 */

/* The program's only clock. MARKERBED_CLOCK exists in test builds alone (MB_TEST_BUILD). */
int64_t mb_now(void);
char *mb_moment_write(mb_arena *arena, int64_t seconds); /* 2026-05-02T14:00:00Z */
bool mb_moment_read(struct mb_str text, int64_t *seconds); /* the same form only */

#endif
