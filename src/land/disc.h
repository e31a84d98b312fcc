/*
 * How much of a disc lies in polygons: exact, no chords. Derived from plane geometry: the polygon
 * is the signed sum of the triangles (centre, corner, next corner); each is cut by the circle into
 * triangles and circular sectors, whose areas are known in closed form.
 */
#ifndef MB_DISC_H
#define MB_DISC_H

#include "geom.h"

/* Area in common of the disc and the polygons, which must not overlap each other. */
double mb_disc_overlap(const struct mb_polygon *polygons, size_t count, struct mb_xy centre,
                       double radius);

#endif
