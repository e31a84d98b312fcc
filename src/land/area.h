/*
 * Ground: a boundary on the earth, its size, and where a point with its uncertainty stands to it.
 *
 * A boundary's edges are straight in latitude and longitude, as RFC 7946 has it. Sizes are taken on
 * an equal-area projection centred on the area, distances along geodesics, both on the ellipsoid of
 * WGS 84; between corners the projected edge is followed to a millimetre. The ground is taken as
 * the ellipsoid: slopes make no area.
 *
 * The answer about a point is about its whole circle of uncertainty: inside, outside, or
 * straddling. A circle that comes within a centimetre of the edge touches it, and touching counts
 * as straddling, so that rounding never makes a doubtful point a certain one. The share is that of
 * the circle's area inside. It is no probability: nobody says that each place in the circle is as
 * likely as the other.
 */
#ifndef MB_AREA_H
#define MB_AREA_H

#include <markerbed/json.h>

#include "earth.h"
#include "geom.h"

#define MB_AREA_TOUCH_M 0.01
#define MB_AREA_REACH_M 5000000.0    /* corners farther from the middle are refused */
#define MB_AREA_RADIUS_MAX_M 1000000.0

/* Lives in the arena; its shapes live in geoms and earth, which must outlive it. */
typedef struct mb_area mb_area;

/* From GeoJSON: geojson.h says what is taken. */
MB_CHECK enum mb_rc mb_area_read(mb_arena *arena, mb_earth *earth, mb_geoms *geoms,
                                 const mb_json *value, mb_area **out, struct mb_error *err);
/* Frees the shapes early; the area is not to be used again. Accepts NULL, returns NULL. */
mb_area *mb_area_free(mb_area *area);

/* What both, either, or only a covers; may be empty. */
MB_CHECK enum mb_rc mb_area_intersection(mb_arena *arena, const mb_area *a, const mb_area *b,
                                         mb_area **out, struct mb_error *err);
MB_CHECK enum mb_rc mb_area_union(mb_arena *arena, const mb_area *a, const mb_area *b,
                                  mb_area **out, struct mb_error *err);
MB_CHECK enum mb_rc mb_area_difference(mb_arena *arena, const mb_area *a, const mb_area *b,
                                       mb_area **out, struct mb_error *err);

bool mb_area_empty(const mb_area *area);
double mb_area_m2(const mb_area *area);
struct mb_latlon mb_area_middle(const mb_area *area); /* of its box */
/* x longitude, y latitude; x_max may be past 180 where the area crosses the antimeridian. */
bool mb_area_bounds(const mb_area *area, struct mb_box *out);

/* For drawing. Outline as it was given (degrees, longitude first, overlaps merged), and on the
 * projection (metres, x east and y north of the middle, edges followed). */
void mb_area_outline(mb_arena *arena, const mb_area *area, struct mb_polygon **out, size_t *count);
void mb_area_map(mb_arena *arena, const mb_area *area, struct mb_polygon **out, size_t *count);
bool mb_area_to_map(const mb_area *area, struct mb_latlon at, struct mb_xy *out);

enum mb_area_side { MB_AREA_OUTSIDE, MB_AREA_STRADDLING, MB_AREA_INSIDE };

struct mb_area_answer {
    enum mb_area_side side;
    enum mb_area_side centre; /* of the bare point, without its circle; straddling: on the edge */
    double share;      /* of the circle, inside; a bare point has 0, on the edge 0.5, or 1 */
    double distance_m; /* from the point to the nearest edge */
    double azimuth;    /* towards it, degrees clockwise from north, 0..360 */
    struct mb_latlon nearest; /* the place on the edge */
};

/* radius_m is the uncertainty; 0 asks about the bare point. MB_REFUSED for a place that is none, a
 * negative or unknown radius, one over MB_AREA_RADIUS_MAX_M, and an empty area. */
MB_CHECK enum mb_rc mb_area_place(const mb_area *area, struct mb_latlon at, double radius_m,
                                  struct mb_area_answer *out, struct mb_error *err);

/* "inside", "straddling", "outside". */
const char *mb_area_side_word(enum mb_area_side side);

#endif
