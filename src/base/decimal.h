/*
 * Decimal numbers as they were written: 12.50 stays 12.50. No binary floating point takes part, so
 * nothing that is hashed, summed or compared depends on rounding.
 *
 * Form: an optional minus, digits without superfluous zeros in front, optionally a point and
 * digits; at most 30 digits in all, 9 behind the point where it is summed or compared.
 */
#ifndef MB_DECIMAL_H
#define MB_DECIMAL_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/arena.h>

bool mb_decimal_ok(struct mb_str text);
/* Value in billionths (10^-9), exact; false if it is no decimal or does not fit. */
bool mb_decimal_nano(struct mb_str text, int64_t *nano);
int mb_decimal_compare(struct mb_str a, struct mb_str b); /* both must be decimals */
/* Shortest text of nano * 10^-9, at least `places` digits behind the point. */
char *mb_decimal_write(mb_arena *arena, int64_t nano, int places);
double mb_decimal_double(struct mb_str text); /* for drawing and geometry only; NaN if none */

#endif
