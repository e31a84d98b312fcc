/*
 * Shares as they are printed: tenths of a per cent.
 *
 * Parts of a whole are rounded by the largest remainder (Hamilton's method), so that they add up
 * to exactly 100.0: each gets its tenths rounded down, and the tenths that are left go to the
 * largest remainders, earlier parts first where remainders are equal. A part that is there but
 * would come out as 0.0 gets 0.1, taken off the largest: nothing that was found prints as nothing.
 * Ends of ranges are rounded outward.
 */
#ifndef MB_SHARE_H
#define MB_SHARE_H

#include <stdbool.h>
#include <stddef.h>

#include <markerbed/arena.h>

#define MB_TENTHS_ALL 1000 /* 100.0 % */

struct mb_share {
    bool there;              /* it was found, drawn or asked for: it has a line of its own */
    double share, low, high; /* 0 to 1 */
    int tenths, tenths_low, tenths_high;
};

/* count parts, none below 0, not all 0, at most MB_TENTHS_ALL of them; tenths add up to 1000. */
void mb_share_round(const double *parts, size_t count, int *tenths);
/* Rounds the ends outward and makes them hold share->tenths. */
void mb_share_ends(struct mb_share *share);
/* Rounds a share that stands alone, with its ends; above 0 it is at least 0.1. */
void mb_share_alone(struct mb_share *share);

/* "12.3" */
const char *mb_share_text(mb_arena *arena, int tenths);

#endif
