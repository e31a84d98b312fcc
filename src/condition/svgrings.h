/*
 * Which of the closed lines of one SVG path bound an area from outside, and which are holes in it,
 * by the path's fill rule (SVG 1.1, 11.3): so a path means what the drawing program shows.
 */
#ifndef MB_SVGRINGS_H
#define MB_SVGRINGS_H

#include "outline.h"

/* MB_REFUSED if a line crosses itself or another of the path, with the place. */
MB_CHECK enum mb_rc mb_svgrings_shape(mb_arena *arena, const struct mb_ring *rings, size_t count,
                                      bool even_odd, struct mb_shape *out, struct mb_error *err);

#endif
