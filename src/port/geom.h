/*
 * Plane geometry: outlines drawn on a picture, parcels on a local map.
 *
 * All units are those of the coordinates (pixels, metres); the direction of the y axis and the
 * winding of a ring do not matter. One mb_geoms owns everything that is made in it and frees it
 * when it is closed; inside a long loop a shape can be freed before that. One mb_geoms belongs to
 * one thread.
 *
 *     MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
 *     mb_geom *a, *b, *both;
 *     if ((rc = mb_geom_polygon(geoms, &ring_a, 1, &a, NULL, err)) != MB_OK) return rc; ...
 *     if ((rc = mb_geom_union(geoms, (mb_geom *[]){a, b}, 2, &both, err)) != MB_OK) return rc;
 *     double pixels = mb_geom_area(both);
 *
 * A mb_geom is always valid: no call hands out an outline that crosses itself. It holds any number
 * (none too) of polygons, or of lines, or of points, never a mixture. Inputs of a call are never
 * changed and may be the same shape; all of them must come from the same mb_geoms.
 *
 * Errors: MB_REFUSED where the coordinates are no shape (with the place), MB_UNABLE where the
 * geometry library gave up. The library underneath is GEOS; its types stay in geom.c.
 */
#ifndef MB_GEOM_H
#define MB_GEOM_H

#include <stdbool.h>
#include <stddef.h>

#include <markerbed/arena.h>

typedef struct mb_geoms mb_geoms;
typedef struct mb_geom mb_geom;

struct mb_xy {
    double x, y;
};

struct mb_box {
    double x_min, y_min, x_max, y_max;
};

/* Corners in order. The last may repeat the first or leave that out; corners that repeat the one
 * before them are tolerated. */
struct mb_ring {
    const struct mb_xy *at;
    size_t count;
};

/* rings[0] is the outer line, the others are holes. Handed out: each ring ends on its first point,
 * in an arena. */
struct mb_polygon {
    const struct mb_ring *rings;
    size_t count;
};

mb_geoms *mb_geoms_open(void);
mb_geoms *mb_geoms_close(mb_geoms *geoms); /* accepts NULL, returns NULL */
void mb_geoms_done(mb_geoms **geoms);
#define MB_GEOMS_AUTO __attribute__((cleanup(mb_geoms_done)))

/* Frees one shape early. Accepts NULL, returns NULL. */
mb_geom *mb_geom_free(mb_geom *geom);

/* ---- making ---------------------------------------------------------------------------------- */

enum mb_geom_fault_kind {
    MB_GEOM_SOUND,
    MB_GEOM_NOT_FINITE,   /* a coordinate is no number */
    MB_GEOM_TOO_FEW,      /* fewer than three different corners, or all on one line */
    MB_GEOM_CROSSES,      /* the outline crosses itself, or runs back along itself */
    MB_GEOM_TOUCHES,      /* the outline touches itself in one point */
    MB_GEOM_HOLE_OUTSIDE, /* a hole is not inside the outer line */
    MB_GEOM_HOLES_NESTED, /* a hole inside another hole, or the same ring twice */
    MB_GEOM_CUT_APART,    /* holes cut the polygon into pieces */
    MB_GEOM_OTHER
};

struct mb_geom_fault {
    enum mb_geom_fault_kind kind;
    bool has_place;
    struct mb_xy at;   /* where, if has_place */
    const char *words; /* "crosses itself", "has a hole outside its outer line"...; static text */
};

/* A polygon with holes. MB_REFUSED if it is not valid: the sentence names the fault and its place
 * ("the outline crosses itself at 12, 40"), and *fault (may be NULL) gets the same as data. */
MB_CHECK enum mb_rc mb_geom_polygon(mb_geoms *geoms, const struct mb_ring *rings, size_t count,
                                    mb_geom **out, struct mb_geom_fault *fault,
                                    struct mb_error *err);
/* Only the check: MB_OK, MB_NO with *fault filled, MB_UNABLE. */
MB_CHECK enum mb_rc mb_geom_check(mb_geoms *geoms, const struct mb_ring *rings, size_t count,
                                  struct mb_geom_fault *fault, struct mb_error *err);
/* A line through at least two different points; it may cross itself and may be closed. */
MB_CHECK enum mb_rc mb_geom_line(mb_geoms *geoms, const struct mb_xy *at, size_t count,
                                 mb_geom **out, struct mb_error *err);
MB_CHECK enum mb_rc mb_geom_point(mb_geoms *geoms, struct mb_xy at, mb_geom **out,
                                  struct mb_error *err);
MB_CHECK enum mb_rc mb_geom_rectangle(mb_geoms *geoms, struct mb_box box, mb_geom **out,
                                      struct mb_error *err);

/* ---- combining ------------------------------------------------------------------------------- */

/* All parts as one; what is covered twice counts once. No parts give an empty shape. MB_REFUSED if
 * the parts are not all polygons, all lines or all points (empty ones do not matter). */
MB_CHECK enum mb_rc mb_geom_union(mb_geoms *geoms, mb_geom *const *parts, size_t count,
                                  mb_geom **out, struct mb_error *err);
/* What both cover. Of two areas only area remains (a shared edge or corner gives an empty shape),
 * of a line and an area only line; two lines give lines, or points where they only cross. */
MB_CHECK enum mb_rc mb_geom_intersection(const mb_geom *a, const mb_geom *b, mb_geom **out,
                                         struct mb_error *err);
/* What a covers and b does not. */
MB_CHECK enum mb_rc mb_geom_difference(const mb_geom *a, const mb_geom *b, mb_geom **out,
                                       struct mb_error *err);
/* Everything within `distance` of the shape, with round ends and corners: a line of width w is a
 * buffer of w / 2. A negative distance shrinks areas. Quarter circles are drawn with 32 chords, so
 * that a disc is 0.04 % too small. */
MB_CHECK enum mb_rc mb_geom_buffer(const mb_geom *geom, double distance, mb_geom **out,
                                   struct mb_error *err);
/* The same with 8 chords to the quarter circle, which cut a round corner short by up to 0.5 % of
 * the distance: a quarter of the corners, time and memory where outlines come by the thousand. */
MB_CHECK enum mb_rc mb_geom_buffer_coarse(const mb_geom *geom, double distance, mb_geom **out,
                                          struct mb_error *err);
/* The part inside a rectangle; fast, for drawing and for looking at a neighbourhood. */
MB_CHECK enum mb_rc mb_geom_clip(const mb_geom *geom, struct mb_box box, mb_geom **out,
                                 struct mb_error *err);
/* The lines around areas, holes included. */
MB_CHECK enum mb_rc mb_geom_boundary(const mb_geom *geom, mb_geom **out, struct mb_error *err);
/* Adds corners, on the straight line, so that no edge is longer than step. */
MB_CHECK enum mb_rc mb_geom_densified(const mb_geom *geom, double step, mb_geom **out,
                                      struct mb_error *err);
/* Moves every corner by `move`, which answers false where it cannot: MB_REFUSED. If rounding makes
 * the result cross itself by a hair, it is mended; MB_UNABLE if that would change the area by more
 * than a millionth. */
typedef bool (*mb_geom_move)(void *context, struct mb_xy *at);
MB_CHECK enum mb_rc mb_geom_moved(const mb_geom *geom, mb_geom_move move, void *context,
                                  mb_geom **out, struct mb_error *err);

/* ---- measuring ------------------------------------------------------------------------------- */

bool mb_geom_empty(const mb_geom *geom);
double mb_geom_area(const mb_geom *geom);   /* of the polygons in it, holes taken off; else 0 */
double mb_geom_length(const mb_geom *geom); /* of lines; of polygons the whole boundary */
/* False if empty. */
bool mb_geom_bounds(const mb_geom *geom, struct mb_box *out);
bool mb_geom_centroid(const mb_geom *geom, struct mb_xy *out);
bool mb_geom_inner_point(const mb_geom *geom, struct mb_xy *out); /* on the shape for certain */
size_t mb_geom_corners(const mb_geom *geom);

/* Questions: MB_OK yes, MB_NO no, MB_UNABLE. */
MB_CHECK enum mb_rc mb_geom_contains(const mb_geom *a, const mb_geom *b, struct mb_error *err);
MB_CHECK enum mb_rc mb_geom_covers(const mb_geom *a, const mb_geom *b, struct mb_error *err);
MB_CHECK enum mb_rc mb_geom_intersects(const mb_geom *a, const mb_geom *b, struct mb_error *err);
MB_CHECK enum mb_rc mb_geom_touches(const mb_geom *a, const mb_geom *b, struct mb_error *err);
MB_CHECK enum mb_rc mb_geom_same(const mb_geom *a, const mb_geom *b, struct mb_error *err);
MB_CHECK enum mb_rc mb_geom_distance(const mb_geom *a, const mb_geom *b, double *out,
                                     struct mb_error *err);

/* Many questions to one shape: the first call builds an index that stays with the shape, so a shape
 * that is asked at all should be kept. */
enum mb_geom_side { MB_GEOM_OUTSIDE, MB_GEOM_ON, MB_GEOM_INSIDE };
MB_CHECK enum mb_rc mb_geom_side_of(mb_geom *geom, struct mb_xy at, enum mb_geom_side *out,
                                    struct mb_error *err);
/* The point of the shape nearest to `at`, and how far it is; for the edge of an area ask its
 * boundary. MB_REFUSED if the shape is empty. */
MB_CHECK enum mb_rc mb_geom_nearest(mb_geom *geom, struct mb_xy at, struct mb_xy *near,
                                    double *distance, struct mb_error *err);

/* ---- taking apart ---------------------------------------------------------------------------- */

/* The polygons, in an array in the arena; lines and points are passed over. Outer rings run
 * counter-clockwise with x to the right and y up, holes clockwise. */
void mb_geom_polygons(mb_arena *arena, const mb_geom *geom, struct mb_polygon **out, size_t *count);
/* The lines; polygons and points are passed over (see mb_geom_boundary). */
void mb_geom_lines(mb_arena *arena, const mb_geom *geom, struct mb_ring **out, size_t *count);

#endif
