/*
 * SVG path data and transforms as vector editors write them (SVG 1.1 second edition, W3C 2011,
 * chapters 7.6, 8.3 and appendix F.6): M L H V C S Q T A Z, absolute and relative; matrix,
 * translate, scale, rotate, skewX, skewY. Anything else is refused by name.
 *
 * Curves become chords that are nowhere further from the curve than MB_SVGPATH_FLAT, in the units
 * that the transform leads to. The number of chords of a Bezier curve of degree d comes from its
 * second differences: n = sqrt(d (d-1) / 8 * max |P_i - 2 P_i+1 + P_i+2| / flat) (G. Wang 1984, as
 * usually quoted; from memory, checked in the tests by distance); that of an ellipse's arc from
 * the sagitta of a chord.
 */
#ifndef MB_SVGPATH_H
#define MB_SVGPATH_H

#include <stdbool.h>
#include <stddef.h>

#include <markerbed/arena.h>

#include "geom.h"

#define MB_SVGPATH_FLAT 0.01

/* x' = a x + c y + e, y' = b x + d y + f, in the order of matrix(a b c d e f). */
struct mb_svgmove {
    double a, b, c, d, e, f;
};

extern const struct mb_svgmove mb_svgmove_none;

/* First inner, then outer. */
struct mb_svgmove mb_svgmove_join(struct mb_svgmove outer, struct mb_svgmove inner);
struct mb_xy mb_svgmove_do(struct mb_svgmove move, struct mb_xy at);
/* The value of a transform attribute. */
MB_CHECK enum mb_rc mb_svgmove_read(struct mb_str text, struct mb_svgmove *out,
                                    struct mb_error *err);

/* One run of a pen, between two M. */
struct mb_svgline {
    struct mb_svgline *next;
    const struct mb_xy *at;
    size_t count;
    bool closed; /* it ended with Z */
};

/* Reads path data; every place is moved. At most corners_max corners in all. MB_REFUSED names the
 * command or the character that is wrong. An empty path gives NULL. */
MB_CHECK enum mb_rc mb_svgpath_read(mb_arena *arena, struct mb_str data, struct mb_svgmove move,
                                    size_t corners_max, const struct mb_svgline **out,
                                    struct mb_error *err);
/* A whole ellipse, flattened in the same way. */
MB_CHECK enum mb_rc mb_svgpath_ellipse(mb_arena *arena, struct mb_xy centre, double rx, double ry,
                                       struct mb_svgmove move, size_t corners_max,
                                       const struct mb_svgline **out, struct mb_error *err);

#endif
