/*
 * Numbers as drawing programs write them: digits, point, exponent, no blanks needed between them.
 * Read the same on every machine and in every language setting.
 */
#ifndef MB_DRAWNUM_H
#define MB_DRAWNUM_H

#include <stdbool.h>
#include <stddef.h>

#include <markerbed/arena.h>

/* How far from the origin a drawing may reach, in its own units. A photo of 60 megapixels is
 * 10,000 wide; beyond a million, hundredths of a pixel would begin to get lost. */
#define MB_DRAWN_MAX 1e6

/* Reads the number that s begins with; gives its length in bytes, 0 if s begins with none or the
 * number is not finite. Up to 15 digits with at most 22 places are rounded exactly. */
size_t mb_drawnum_at(struct mb_str s, double *out);
/* The whole of s is one number. */
bool mb_drawnum_read(struct mb_str s, double *out);

#endif
