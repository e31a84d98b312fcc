/* Inside of measuring: the areas of one element of one individual in one view. */
#ifndef MB_MEASURE_PART_H
#define MB_MEASURE_PART_H

#include "measure.h"

/* Square pixels of one substance or surface: as drawn, and the ends of its range (measure.h). */
struct mb_areas {
    double drawn;
    double sure_in, sure_out;
    double may_in, may_out;
};

/* What lies in one outline, before overlaps are settled. */
struct mb_site {
    const struct mb_view *view;
    const char *individual, *element, *where;
    enum mb_substance uncovered;
    mb_geom *outline;
    mb_geom *substance[MB_SUBSTANCES]; /* NULL if there is no region of it */
    mb_geom *surface[MB_SURFACES];
    size_t regions;
};

struct mb_part_areas {
    struct mb_part_areas *next;
    const struct mb_view *view;
    const char *individual, *element;
    size_t n;                            /* outlines drawn, the specimen's included */
    double area, area_small, area_large; /* of the specimen's outline, square pixels */
    double twice;                        /* drawn as more than one substance, square pixels */
    bool there[MB_SUBSTANCES], surface_there[MB_SURFACES];
    bool seams; /* what no region covers is no surface, but seams between regions */
    struct mb_areas substance[MB_SUBSTANCES];
    struct mb_areas sum[MB_SUMS];
    struct mb_areas surface[MB_SURFACES];
    struct mb_areas surface_on[MB_SURFACES][MB_SUBSTANCES];
    struct mb_settled settled;
};

/* All shapes of the site belong to geoms; none of them is freed. MB_REFUSED if the drawn line
 * covers the whole outline. Outlines with very many corners are measured tile by tile, which gives
 * the same areas (but for rounding) in bounded memory: measure_tiles.c. */
MB_CHECK enum mb_rc mb_measure_part(mb_arena *arena, mb_geoms *geoms, const struct mb_site *site,
                                    struct mb_part_areas *out, struct mb_error *err);

/* ---- for it ---- */

/* A rectangle of the view; all areas are of what lies in it. The site's shapes have to be whole up
 * to twice the width of the line beyond it. `all` says what is there in the whole. */
struct mb_tile {
    struct mb_box box;
    const struct mb_part_areas *all;
};

/* Areas and ranges: of the whole (tile NULL), with the settled shapes, or of a tile, without. */
MB_CHECK enum mb_rc mb_measure_areas(mb_arena *arena, mb_geoms *geoms, const struct mb_site *site,
                                     const struct mb_tile *tile, struct mb_part_areas *out,
                                     struct mb_error *err);
/* What is there, and the settled shapes: no ranges, for which lines have to be widened. */
MB_CHECK enum mb_rc mb_measure_drawn(mb_arena *arena, mb_geoms *geoms, const struct mb_site *site,
                                     struct mb_part_areas *out, struct mb_error *err);
MB_CHECK enum mb_rc mb_measure_small(double area_small, const struct mb_site *site,
                                     struct mb_error *err);

#endif
