/*
 * Rings of corners before they become shapes: closing, thinning, area, direction. Pure arithmetic,
 * no outside library; geom.h has the shapes.
 */
#ifndef MB_RING_H
#define MB_RING_H

#include "geom.h"

/* Copies the corners, leaving out those that repeat the one before; returns how many. */
size_t mb_ring_thin(const struct mb_xy *at, size_t count, struct mb_xy *out);
/* A closed copy without repeats; false with the fault where it can be no ring: a coordinate that
 * is no number, or fewer than three corners that are not on one line. */
bool mb_ring_tidy(mb_arena *arena, struct mb_ring ring, struct mb_ring *out,
                  struct mb_geom_fault *fault);
/* Half the sum of x(i)*y(i+1) - x(i+1)*y(i) (the shoelace formula): positive if the ring runs
 * counter-clockwise with y up. Closed or not. */
double mb_ring_area(struct mb_ring ring);
/* The ring, turned round if need be so that it runs counter-clockwise (left) or clockwise. */
struct mb_ring mb_ring_turned(mb_arena *arena, struct mb_ring ring, bool left);
/* Fills the fault from the reason that the geometry library gives; `at` may be NULL. */
void mb_ring_fault(const char *reason, const struct mb_xy *at, struct mb_geom_fault *fault);

#endif
