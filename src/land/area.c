#include "area.h"

#include <math.h>

#include "disc.h"
#include "geojson.h"

/* Edges at most this long bend less than a millimetre between their ends: an arc of length L on a
 * parallel stands off its chord by L^2 tan(lat) / 8R, and L is 0.002 degrees times cos(lat), so at
 * most 0.5 mm; other directions stay below 1 mm. */
#define EDGE_MAX_DEGREES 0.002
/* A distance to the edge that may be off by more is looked at closer. */
#define DOUBT_M 0.001

struct mb_area {
    mb_earth *earth;
    mb_geoms *geoms;
    mb_geom *degrees; /* x longitude, y latitude */
    mb_geom *ground;  /* on the plane */
    mb_geom *edge;    /* lines around it */
    mb_plane *plane;
    struct mb_latlon middle;
    struct mb_box bounds;
    double area_m2;
};

static bool project(void *context, struct mb_xy *at)
{
    const mb_area *area = context;
    struct mb_latlon place = { at->y, at->x };
    double distance_m;
    mb_earth_inverse(&mb_ellipsoid_wgs84, area->middle, place, &distance_m, NULL, NULL);
    return distance_m <= MB_AREA_REACH_M && mb_plane_there(area->plane, place, &at->x, &at->y);
}

static enum mb_rc lay_on_plane(mb_area *area, struct mb_error *err)
{
    const struct mb_box *b = &area->bounds;
    area->middle =
        (struct mb_latlon){ (b->y_min + b->y_max) / 2, remainder((b->x_min + b->x_max) / 2, 360) };
    enum mb_rc rc =
        mb_plane_equal_area(area->earth, &mb_ellipsoid_wgs84, area->middle, &area->plane, err);
    mb_geom *dense = NULL;
    if (rc == MB_OK)
        rc = mb_geom_densified(area->degrees, EDGE_MAX_DEGREES, &dense, err);
    if (rc == MB_OK)
        rc = mb_geom_moved(dense, project, area, &area->ground, err);
    mb_geom_free(dense);
    if (rc == MB_REFUSED)
        mb_fail_where(err, "the boundary reaches farther than %.0f km from its middle",
                      MB_AREA_REACH_M / 1000);
    if (rc == MB_OK)
        rc = mb_geom_boundary(area->ground, &area->edge, err);
    return rc;
}

/* Takes the shape over, on failure too. */
static enum mb_rc make(mb_arena *arena, mb_earth *earth, mb_geoms *geoms, mb_geom *degrees,
                       mb_area **out, struct mb_error *err)
{
    mb_area *area = MB_NEW(arena, mb_area);
    area->earth = earth;
    area->geoms = geoms;
    area->degrees = degrees;
    if (mb_geom_bounds(degrees, &area->bounds)) {
        enum mb_rc rc = lay_on_plane(area, err);
        if (rc != MB_OK) {
            mb_area_free(area);
            return rc;
        }
        area->area_m2 = mb_geom_area(area->ground);
    }
    *out = area;
    return MB_OK;
}

enum mb_rc mb_area_read(mb_arena *arena, mb_earth *earth, mb_geoms *geoms, const mb_json *value,
                        mb_area **out, struct mb_error *err)
{
    mb_geom *degrees;
    enum mb_rc rc = mb_geojson_read(arena, geoms, value, &degrees, err);
    return rc == MB_OK ? make(arena, earth, geoms, degrees, out, err) : rc;
}

mb_area *mb_area_free(mb_area *area)
{
    if (!area)
        return NULL;
    mb_geom_free(area->degrees);
    mb_geom_free(area->ground);
    mb_geom_free(area->edge);
    mb_plane_free(area->plane);
    *area = (mb_area){ .earth = NULL };
    return NULL;
}

/* ---- two areas ------------------------------------------------------------------------------- */

static bool turn(void *context, struct mb_xy *at)
{
    at->x += *(const double *)context;
    return true;
}

/* b's outline, turned by whole circles to lie beside a. */
static enum mb_rc beside(const mb_area *a, const mb_area *b, mb_geom **out, struct mb_error *err)
{
    double by = 0;
    if (!mb_area_empty(a) && !mb_area_empty(b))
        by = 360 *
             round((a->bounds.x_min + a->bounds.x_max - b->bounds.x_min - b->bounds.x_max) / 720);
    return mb_geom_moved(b->degrees, turn, &by, out, err);
}

enum operation { INTERSECTION, UNION, DIFFERENCE };

static enum mb_rc combine(mb_arena *arena, const mb_area *a, const mb_area *b, enum operation what,
                          mb_area **out, struct mb_error *err)
{
    mb_geom *other, *shape = NULL;
    enum mb_rc rc = beside(a, b, &other, err);
    if (rc != MB_OK)
        return rc;
    if (what == INTERSECTION)
        rc = mb_geom_intersection(a->degrees, other, &shape, err);
    else if (what == UNION)
        rc = mb_geom_union(a->geoms, (mb_geom *[]){ a->degrees, other }, 2, &shape, err);
    else
        rc = mb_geom_difference(a->degrees, other, &shape, err);
    mb_geom_free(other);
    return rc == MB_OK ? make(arena, a->earth, a->geoms, shape, out, err) : rc;
}

enum mb_rc mb_area_intersection(mb_arena *arena, const mb_area *a, const mb_area *b, mb_area **out,
                                struct mb_error *err)
{
    return combine(arena, a, b, INTERSECTION, out, err);
}

enum mb_rc mb_area_union(mb_arena *arena, const mb_area *a, const mb_area *b, mb_area **out,
                         struct mb_error *err)
{
    return combine(arena, a, b, UNION, out, err);
}

enum mb_rc mb_area_difference(mb_arena *arena, const mb_area *a, const mb_area *b, mb_area **out,
                              struct mb_error *err)
{
    return combine(arena, a, b, DIFFERENCE, out, err);
}

/* ---- looking --------------------------------------------------------------------------------- */

bool mb_area_empty(const mb_area *area)
{
    return area->plane == NULL;
}

double mb_area_m2(const mb_area *area)
{
    return area->area_m2;
}

struct mb_latlon mb_area_middle(const mb_area *area)
{
    return area->middle;
}

bool mb_area_bounds(const mb_area *area, struct mb_box *out)
{
    *out = area->bounds;
    return !mb_area_empty(area);
}

void mb_area_outline(mb_arena *arena, const mb_area *area, struct mb_polygon **out, size_t *count)
{
    mb_geom_polygons(arena, area->degrees, out, count);
}

void mb_area_map(mb_arena *arena, const mb_area *area, struct mb_polygon **out, size_t *count)
{
    mb_geom_polygons(arena, mb_area_empty(area) ? area->degrees : area->ground, out, count);
}

bool mb_area_to_map(const mb_area *area, struct mb_latlon at, struct mb_xy *out)
{
    return !mb_area_empty(area) && mb_plane_there(area->plane, at, &out->x, &out->y);
}

/* ---- a point and its circle ------------------------------------------------------------------ */

/* A plane round one point on which circles about it stay circles and areas stay areas: a place at
 * distance s and azimuth z lies at 2R sin(s / 2R) in that direction, R being the ellipsoid's mean
 * radius of curvature there, sqrt(MN). */
struct round {
    const mb_area *area;
    struct mb_latlon centre;
    double radius_m;
};

static double lessened(const struct round *round, double distance_m)
{
    return 2 * round->radius_m * sin(distance_m / (2 * round->radius_m));
}

static bool lay_round(void *context, struct mb_xy *at)
{
    const struct round *round = context;
    struct mb_latlon place;
    double distance_m, azimuth;
    if (!mb_plane_back(round->area->plane, at->x, at->y, &place))
        return false;
    mb_earth_inverse(&mb_ellipsoid_wgs84, round->centre, place, &distance_m, &azimuth, NULL);
    double far = lessened(round, distance_m);
    at->x = far * sin(azimuth * M_PI / 180);
    at->y = far * cos(azimuth * M_PI / 180);
    return true;
}

static double curvature_radius_m(double lat)
{
    /* sqrt(MN) = a sqrt(1 - e2) / (1 - e2 sin2(lat)) */
    double f = mb_ellipsoid_wgs84.flattening;
    double e2 = f * (2 - f), s = sin(lat * M_PI / 180);
    return mb_ellipsoid_wgs84.a_m * sqrt(1 - e2) / (1 - e2 * s * s);
}

static enum mb_rc share_inside(const mb_area *area, struct mb_latlon at, struct mb_xy on_map,
                               double radius_m, double *out, struct mb_error *err)
{
    /* The clip is wider than the circle by more than the projection can stretch it. */
    double reach = 1.3 * radius_m + 1;
    struct mb_box box = { on_map.x - reach, on_map.y - reach, on_map.x + reach, on_map.y + reach };
    struct round round = { area, at, curvature_radius_m(at.lat) };
    mb_geom *near, *laid = NULL;
    enum mb_rc rc = mb_geom_clip(area->ground, box, &near, err);
    if (rc != MB_OK)
        return rc;
    rc = mb_geom_moved(near, lay_round, &round, &laid, err);
    mb_geom_free(near);
    if (rc != MB_OK)
        return rc;
    mb_arena *scratch = mb_arena_new();
    struct mb_polygon *polygons;
    size_t count;
    double radius = lessened(&round, radius_m);
    mb_geom_polygons(scratch, laid, &polygons, &count);
    double share =
        mb_disc_overlap(polygons, count, (struct mb_xy){ 0, 0 }, radius) / (M_PI * radius * radius);
    mb_arena_free(scratch);
    mb_geom_free(laid);
    *out = fmin(fmax(share, 0), 1);
    return MB_OK;
}

static enum mb_rc check_question(const mb_area *area, struct mb_latlon at, double radius_m,
                                 struct mb_xy *on_map, struct mb_error *err)
{
    if (mb_area_empty(area))
        return mb_fail(err, MB_REFUSED, "the area is empty, so no place can be in or near it");
    if (!(fabs(at.lat) <= 90) || !(fabs(at.lon) <= 360))
        return mb_fail(err, MB_REFUSED, "latitude %.10g, longitude %.10g is no place", at.lat,
                       at.lon);
    if (!(radius_m >= 0) || radius_m > MB_AREA_RADIUS_MAX_M)
        return mb_fail(err, MB_REFUSED,
                       "an uncertainty of %.10g m is no radius; it must be 0 to %.0f m", radius_m,
                       MB_AREA_RADIUS_MAX_M);
    if (!mb_plane_there(area->plane, at, &on_map->x, &on_map->y))
        return mb_fail(err, MB_UNABLE, "the place is on the other side of the earth from the area");
    return MB_OK;
}

/* The projection stretches lengths by one part in (c / 2R)^2 at the distance c from its middle, so
 * the place that is nearest on it may be farther on the ground than another by so much. */
static double doubt_m(const struct mb_area *area, struct mb_latlon at, double distance_m)
{
    double c;
    mb_earth_inverse(&mb_ellipsoid_wgs84, area->middle, at, &c, NULL, NULL);
    c += distance_m;
    double half = fmin(c / (2 * mb_ellipsoid_wgs84.a_m), 1.5);
    return distance_m * tan(half) * tan(half);
}

/* Looks for the nearest place on a plane round the point, on which distances from it are true. */
static enum mb_rc look_closer(const mb_area *area, struct mb_latlon at, struct mb_xy on_map,
                              struct mb_area_answer *out, struct mb_error *err)
{
    struct round round = { area, at, curvature_radius_m(at.lat) };
    double reach = 1.5 * out->distance_m + 1, flat;
    struct mb_box box = { on_map.x - reach, on_map.y - reach, on_map.x + reach, on_map.y + reach };
    struct mb_xy near;
    mb_geom *some = NULL, *laid = NULL;
    enum mb_rc rc = mb_geom_clip(area->edge, box, &some, err);
    if (rc == MB_OK)
        rc = mb_geom_moved(some, lay_round, &round, &laid, err);
    if (rc == MB_OK && !mb_geom_empty(laid))
        rc = mb_geom_nearest(laid, (struct mb_xy){ 0, 0 }, &near, &flat, err);
    if (rc == MB_OK && !mb_geom_empty(laid)) {
        double far = 2 * round.radius_m * asin(fmin(flat / (2 * round.radius_m), 1));
        if (far < out->distance_m) {
            out->distance_m = far;
            out->azimuth = atan2(near.x, near.y) * 180 / M_PI;
            mb_earth_direct(&mb_ellipsoid_wgs84, at, out->azimuth, far, &out->nearest, NULL);
        }
    }
    mb_geom_free(some);
    mb_geom_free(laid);
    return rc;
}

/* Where the bare point is, and how far the edge is from it. */
static enum mb_rc look_at_point(const mb_area *area, struct mb_latlon at, struct mb_xy on_map,
                                struct mb_area_answer *out, struct mb_error *err)
{
    enum mb_geom_side side;
    struct mb_xy near;
    double flat;
    enum mb_rc rc = mb_geom_side_of(area->ground, on_map, &side, err);
    if (rc == MB_OK)
        rc = mb_geom_nearest(area->edge, on_map, &near, &flat, err);
    if (rc != MB_OK)
        return rc;
    if (!mb_plane_back(area->plane, near.x, near.y, &out->nearest))
        return mb_fail(err, MB_UNABLE, "the nearest edge cannot be taken back to the ground");
    mb_earth_inverse(&mb_ellipsoid_wgs84, at, out->nearest, &out->distance_m, &out->azimuth, NULL);
    if (doubt_m(area, at, out->distance_m) > DOUBT_M)
        rc = look_closer(area, at, on_map, out, err);
    if (out->azimuth < 0)
        out->azimuth += 360;
    if (out->distance_m <= MB_AREA_TOUCH_M)
        out->centre = MB_AREA_STRADDLING;
    else
        out->centre = side == MB_GEOM_INSIDE ? MB_AREA_INSIDE : MB_AREA_OUTSIDE;
    return rc;
}

enum mb_rc mb_area_place(const mb_area *area, struct mb_latlon at, double radius_m,
                         struct mb_area_answer *out, struct mb_error *err)
{
    struct mb_area_answer answer = { .side = MB_AREA_OUTSIDE };
    struct mb_xy on_map;
    enum mb_rc rc = check_question(area, at, radius_m, &on_map, err);
    if (rc == MB_OK)
        rc = look_at_point(area, at, on_map, &answer, err);
    if (rc != MB_OK)
        return rc;
    bool touches = answer.distance_m <= radius_m + MB_AREA_TOUCH_M;
    answer.side = touches ? MB_AREA_STRADDLING : answer.centre;
    answer.share = (int)answer.centre / 2.0;
    if (touches && radius_m > 0)
        rc = share_inside(area, at, on_map, radius_m, &answer.share, err);
    if (rc == MB_OK)
        *out = answer;
    return rc;
}

const char *mb_area_side_word(enum mb_area_side side)
{
    return side == MB_AREA_INSIDE ? "inside" : side == MB_AREA_OUTSIDE ? "outside" : "straddling";
}
