#include "earth.h"

#include <geodesic.h>
#include <math.h>
#include <proj.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "datums.h"

#define DEGREE 0.017453292519943295 /* radians */

const struct mb_ellipsoid mb_ellipsoid_wgs84 = { "WGS 84", 6378137.0, 1 / 298.257223563 };
const struct mb_ellipsoid mb_ellipsoid_grs80 = { "GRS 1980", 6378137.0, 1 / 298.257222101 };
const struct mb_ellipsoid mb_ellipsoid_clarke1866 = { "Clarke 1866", 6378206.4,
                                                      (6378206.4 - 6356583.8) / 6378206.4 };
const struct mb_ellipsoid mb_ellipsoid_international1924 = { "International 1924", 6378388.0,
                                                             1 / 297.0 };
const struct mb_ellipsoid mb_ellipsoid_bessel1841 = { "Bessel 1841", 6377397.155, 1 / 299.1528128 };
const struct mb_ellipsoid mb_ellipsoid_krassowsky1940 = { "Krassowsky 1940", 6378245.0, 1 / 298.3 };

/* ---- geodesics ------------------------------------------------------------------------------- */

void mb_earth_inverse(const struct mb_ellipsoid *e, struct mb_latlon from, struct mb_latlon to,
                      double *distance_m, double *azimuth, double *azimuth_at_to)
{
    struct geod_geodesic geodesic;
    geod_init(&geodesic, e->a_m, e->flattening);
    geod_inverse(&geodesic, from.lat, from.lon, to.lat, to.lon, distance_m, azimuth, azimuth_at_to);
}

void mb_earth_direct(const struct mb_ellipsoid *e, struct mb_latlon from, double azimuth,
                     double distance_m, struct mb_latlon *to, double *azimuth_at_to)
{
    struct geod_geodesic geodesic;
    geod_init(&geodesic, e->a_m, e->flattening);
    geod_direct(&geodesic, from.lat, from.lon, azimuth, distance_m, &to->lat, &to->lon,
                azimuth_at_to);
}

void mb_earth_polygon(const struct mb_ellipsoid *e, const struct mb_latlon *at, size_t count,
                      double *area_m2, double *perimeter_m)
{
    struct geod_geodesic geodesic;
    struct geod_polygon polygon;
    double area, perimeter;
    geod_init(&geodesic, e->a_m, e->flattening);
    geod_polygon_init(&polygon, 0);
    for (size_t i = 0; i < count; i++)
        geod_polygon_addpoint(&geodesic, &polygon, at[i].lat, at[i].lon);
    geod_polygon_compute(&geodesic, &polygon, 0, 1, &area, &perimeter);
    if (area_m2)
        *area_m2 = fabs(area);
    if (perimeter_m)
        *perimeter_m = perimeter;
}

void mb_earth_degree(const struct mb_ellipsoid *e, double lat, double *lat_m, double *lon_m)
{
    double e2 = e->flattening * (2 - e->flattening);
    double s = sin(lat * DEGREE);
    double w = 1 - e2 * s * s;
    *lat_m = DEGREE * e->a_m * (1 - e2) / (w * sqrt(w));
    *lon_m = DEGREE * e->a_m / sqrt(w) * cos(lat * DEGREE);
}

/* ---- the handle ------------------------------------------------------------------------------ */

/* One way from a datum to WGS 84, as the register describes it. */
struct way {
    PJ *described; /* destroyed on close, as is the next */
    PJ *ready;     /* longitude first, in degrees; made when first used */
    double accuracy_m, west, south, east, north;
    const char *area; /* in words */
    bool ballpark, possible, at_sea;
};

struct source {
    const char *code;
    struct way *ways;
    size_t count;
    struct source *next;
};

struct mb_plane {
    mb_earth *home;
    PJ *projection;
    mb_plane *next, *prev;
};

struct mb_earth {
    PJ_CONTEXT *proj;
    mb_arena *arena;
    struct source *sources;
    mb_plane *planes, *spare;
};

enum mb_rc mb_earth_open(mb_earth **out, struct mb_error *err)
{
    PJ_CONTEXT *proj = proj_context_create();
    if (!proj)
        abort();
    proj_log_level(proj, PJ_LOG_NONE);
    proj_context_set_enable_network(proj, 0);
    if (!proj_context_get_database_metadata(proj, "EPSG.VERSION")) {
        proj_context_destroy(proj);
        return mb_fail(err, MB_UNABLE,
                       "the register of coordinate systems (proj.db) is not installed; install "
                       "the package that holds PROJ's data");
    }
    mb_arena *arena = mb_arena_new();
    *out = MB_NEW(arena, mb_earth);
    (*out)->proj = proj;
    (*out)->arena = arena;
    return MB_OK;
}

mb_earth *mb_earth_close(mb_earth *earth)
{
    if (!earth)
        return NULL;
    while (earth->planes)
        mb_plane_free(earth->planes);
    for (struct source *source = earth->sources; source; source = source->next)
        for (size_t i = 0; i < source->count; i++) {
            proj_destroy(source->ways[i].described);
            proj_destroy(source->ways[i].ready);
        }
    proj_context_destroy(earth->proj);
    mb_arena_free(earth->arena);
    return NULL;
}

void mb_earth_done(mb_earth **earth)
{
    *earth = mb_earth_close(*earth);
}

static void destroy_pj(PJ **pj)
{
    proj_destroy(*pj);
}

#define PJ_AUTO __attribute__((cleanup(destroy_pj)))

/* ---- datums ---------------------------------------------------------------------------------- */

static void read_ellipsoid(mb_earth *earth, mb_arena *arena, const PJ *system,
                           struct mb_ellipsoid *out)
{
    PJ_AUTO PJ *ellipsoid = proj_get_ellipsoid(earth->proj, system);
    double a = 0, inverse = 0;
    proj_ellipsoid_get_parameters(earth->proj, ellipsoid, &a, NULL, NULL, &inverse);
    out->name = mb_arena_text(arena, proj_get_name(ellipsoid));
    out->a_m = a;
    out->flattening = inverse > 0 ? 1 / inverse : 0;
}

static bool counts_degrees_from_greenwich(mb_earth *earth, const PJ *system)
{
    PJ_AUTO PJ *axes = proj_crs_get_coordinate_system(earth->proj, system);
    PJ_AUTO PJ *meridian = proj_get_prime_meridian(earth->proj, system);
    double unit = 0, from = 0;
    proj_cs_get_axis_info(earth->proj, axes, 0, NULL, NULL, NULL, &unit, NULL, NULL, NULL);
    proj_prime_meridian_get_parameters(earth->proj, meridian, &from, NULL, NULL);
    return fabs(unit - DEGREE) < 1e-12 && from == 0;
}

/* The system of a code, if it is one of latitude and longitude in degrees. */
static enum mb_rc find_system(mb_earth *earth, const char *code, PJ **out, struct mb_error *err)
{
    const char *number = strchr(code, ':');
    *out = number ? proj_create_from_database(earth->proj, "EPSG", number + 1, PJ_CATEGORY_CRS, 0,
                                              NULL)
                  : NULL;
    if (!*out)
        return mb_fail(err, MB_REFUSED, "%s is not in the EPSG register of coordinate systems",
                       code);
    PJ_TYPE type = proj_get_type(*out);
    if (type == PJ_TYPE_GEOGRAPHIC_2D_CRS && counts_degrees_from_greenwich(earth, *out))
        return MB_OK;
    char name[100];
    snprintf(name, sizeof name, "%s", proj_get_name(*out));
    PJ_AUTO PJ *base =
        type == PJ_TYPE_PROJECTED_CRS ? proj_crs_get_geodetic_crs(earth->proj, *out) : NULL;
    char hint[120] = "";
    if (base)
        snprintf(hint, sizeof hint, "; its datum is EPSG:%s (%s)", proj_get_id_code(base, 0),
                 proj_get_name(base));
    proj_destroy(*out);
    *out = NULL;
    return mb_fail(err, MB_REFUSED,
                   "%s (%s) does not count latitude and longitude in degrees from Greenwich%s",
                   code, name, hint);
}

enum mb_rc mb_earth_datum(mb_earth *earth, mb_arena *arena, struct mb_str text,
                          struct mb_datum *out, struct mb_error *err)
{
    const char *code;
    enum mb_rc rc = mb_datum_code(arena, text, &code, err);
    if (rc != MB_OK)
        return rc;
    PJ_AUTO PJ *system = NULL;
    rc = find_system(earth, code, &system, err);
    if (rc != MB_OK)
        return rc;
    out->code = code;
    out->name = mb_arena_text(arena, proj_get_name(system));
    read_ellipsoid(earth, arena, system, &out->ellipsoid);
    return MB_OK;
}

/* ---- shifts ---------------------------------------------------------------------------------- */

static void describe(mb_earth *earth, mb_arena *arena, PJ *operation, struct way *out)
{
    *out = (struct way){ .described = operation };
    out->accuracy_m = proj_coordoperation_get_accuracy(earth->proj, operation);
    out->ballpark = proj_coordoperation_has_ballpark_transformation(earth->proj, operation) == 1;
    out->possible = proj_coordoperation_is_instantiable(earth->proj, operation) == 1;
    const char *area = NULL;
    if (!proj_get_area_of_use(earth->proj, operation, &out->west, &out->south, &out->east,
                              &out->north, &area)) {
        out->west = -180, out->east = 180;
        out->south = -90, out->north = 90;
    }
    out->area = mb_arena_text(arena, area ? area : "not stated");
    out->at_sea = strstr(out->area, "offshore") && !strstr(out->area, "onshore");
}

static enum mb_rc list_ways(mb_earth *earth, const char *code, struct source **out,
                            struct mb_error *err)
{
    for (*out = earth->sources; *out; *out = (*out)->next)
        if (strcmp((*out)->code, code) == 0)
            return MB_OK;
    PJ_AUTO PJ *from = NULL;
    enum mb_rc rc = find_system(earth, code, &from, err);
    if (rc != MB_OK)
        return rc;
    PJ_AUTO PJ *to =
        proj_create_from_database(earth->proj, "EPSG", "4326", PJ_CATEGORY_CRS, 0, NULL);
    PJ_OPERATION_FACTORY_CONTEXT *how = proj_create_operation_factory_context(earth->proj, NULL);
    proj_operation_factory_context_set_spatial_criterion(
        earth->proj, how, PROJ_SPATIAL_CRITERION_PARTIAL_INTERSECTION);
    proj_operation_factory_context_set_grid_availability_use(earth->proj, how,
                                                             PROJ_GRID_AVAILABILITY_IGNORED);
    PJ_OBJ_LIST *found = proj_create_operations(earth->proj, from, to, how);
    proj_operation_factory_context_destroy(how);
    int count = found ? proj_list_get_count(found) : 0;
    *out = MB_NEW(earth->arena, struct source);
    (*out)->code = mb_arena_text(earth->arena, code);
    (*out)->ways = MB_ARRAY(earth->arena, (size_t)count + 1, struct way);
    for (int i = 0; i < count; i++)
        describe(earth, earth->arena, proj_list_get(earth->proj, found, i),
                 &(*out)->ways[(*out)->count++]);
    proj_list_destroy(found);
    (*out)->next = earth->sources;
    earth->sources = *out;
    return MB_OK;
}

static bool covers(const struct way *way, struct mb_latlon at)
{
    if (at.lat < way->south || at.lat > way->north)
        return false;
    if (way->west <= way->east)
        return at.lon >= way->west && at.lon <= way->east;
    return at.lon >= way->west || at.lon <= way->east;
}

static double extent(const struct way *way)
{
    double wide = way->east - way->west;
    return (wide < 0 ? wide + 360 : wide) * (way->north - way->south);
}

/* Is a to be taken rather than b? b may be NULL. */
static bool better(const struct way *a, const struct way *b)
{
    if (!b)
        return true;
    if (a->ballpark != b->ballpark)
        return b->ballpark;
    if (a->at_sea != b->at_sea)
        return b->at_sea;
    if ((a->accuracy_m < 0) != (b->accuracy_m < 0))
        return b->accuracy_m < 0;
    if (a->accuracy_m != b->accuracy_m)
        return a->accuracy_m < b->accuracy_m;
    return extent(a) < extent(b);
}

static bool run(mb_earth *earth, struct way *way, struct mb_latlon at, struct mb_latlon *to)
{
    if (!way->ready)
        way->ready = proj_normalize_for_visualization(earth->proj, way->described);
    if (!way->ready)
        return false;
    proj_errno_reset(way->ready);
    PJ_COORD moved = proj_trans(way->ready, PJ_FWD, proj_coord(at.lon, at.lat, 0, HUGE_VAL));
    if (!isfinite(moved.lp.lam) || !isfinite(moved.lp.phi))
        return false;
    *to = (struct mb_latlon){ moved.lp.phi, remainder(moved.lp.lam, 360) };
    return true;
}

static const char *missing_grids(mb_earth *earth, mb_arena *arena, const PJ *operation)
{
    const char *names = NULL;
    int count = proj_coordoperation_get_grid_used_count(earth->proj, operation);
    for (int i = 0; i < count; i++) {
        const char *name = NULL;
        int there = 0;
        proj_coordoperation_get_grid_used(earth->proj, operation, i, &name, NULL, NULL, NULL, NULL,
                                          NULL, &there);
        if (!there && name && *name)
            names =
                names ? mb_arena_printf(arena, "%s, %s", names, name) : mb_arena_text(arena, name);
    }
    return names;
}

static void report(mb_arena *arena, const struct way *way, struct mb_latlon at,
                   struct mb_shift *out)
{
    const char *name = proj_get_name(way->described);
    const char *authority = proj_get_id_auth_name(way->described, 0);
    const char *code = proj_get_id_code(way->described, 0);
    out->accuracy_m = way->accuracy_m;
    out->ballpark = way->ballpark;
    out->area = mb_arena_text(arena, way->area);
    out->operation = mb_arena_text(arena, name ? name : "without a name");
    out->operation_id = authority && code ? mb_arena_printf(arena, "%s:%s", authority, code) : NULL;
    mb_earth_inverse(&mb_ellipsoid_wgs84, at, out->to, &out->moved_m, NULL, NULL);
}

static enum mb_rc check_place(struct mb_latlon at, struct mb_error *err)
{
    if (fabs(at.lat) <= 90 && fabs(at.lon) <= 180)
        return MB_OK;
    return mb_fail(err, MB_REFUSED,
                   "latitude %.10g, longitude %.10g is no place on the earth; latitude is within "
                   "90, longitude within 180 degrees",
                   at.lat, at.lon);
}

/* The best way that works here; NULL if none does. */
static struct way *choose(mb_earth *earth, struct source *source, struct mb_latlon at,
                          struct mb_latlon *to)
{
    struct way *chosen = NULL;
    for (size_t i = 0; i < source->count; i++) {
        struct way *way = &source->ways[i];
        if (way->possible && covers(way, at) && better(way, chosen) && run(earth, way, at, to))
            chosen = way;
    }
    if (chosen)
        run(earth, chosen, at, to);
    return chosen;
}

enum mb_rc mb_earth_shift(mb_earth *earth, mb_arena *arena, const char *code, struct mb_latlon at,
                          struct mb_shift *out, struct mb_error *err)
{
    struct source *source;
    struct mb_shift shift = { .to = at };
    enum mb_rc rc = check_place(at, err);
    if (rc == MB_OK && strcmp(code, "EPSG:4326") == 0) {
        shift.operation = "none needed";
        *out = shift;
        return MB_OK;
    }
    if (rc == MB_OK)
        rc = list_ways(earth, code, &source, err);
    if (rc != MB_OK)
        return rc;
    struct way *chosen = choose(earth, source, at, &shift.to);
    if (!chosen)
        return mb_fail(err, MB_UNABLE, "no way is known from %s to WGS 84 at %.6f, %.6f", code,
                       at.lat, at.lon);
    report(arena, chosen, at, &shift);
    struct way *missed = NULL;
    for (size_t i = 0; i < source->count; i++) {
        struct way *way = &source->ways[i];
        if (!way->possible && !way->ballpark && way->accuracy_m >= 0 && covers(way, at) &&
            better(way, chosen) && better(way, missed))
            missed = way;
    }
    if (missed) {
        shift.grid_missing = true;
        shift.better_accuracy_m = missed->accuracy_m;
        shift.grids = missing_grids(earth, arena, missed->described);
    }
    *out = shift;
    return MB_OK;
}

enum mb_rc mb_earth_shift_by(mb_earth *earth, mb_arena *arena, const char *operation_id,
                             struct mb_latlon at, struct mb_shift *out, struct mb_error *err)
{
    enum mb_rc rc = check_place(at, err);
    if (rc != MB_OK)
        return rc;
    PJ_AUTO PJ *operation = NULL;
    if (strncmp(operation_id, "EPSG:", 5) == 0)
        operation = proj_create_from_database(earth->proj, "EPSG", operation_id + 5,
                                              PJ_CATEGORY_COORDINATE_OPERATION, 0, NULL);
    if (!operation)
        return mb_fail(err, MB_REFUSED, "%s is no operation of the EPSG register", operation_id);
    struct way way;
    struct mb_shift shift = { .to = at };
    describe(earth, arena, operation, &way);
    if (!way.possible)
        return mb_fail(err, MB_UNABLE, "%s needs a grid that is not installed: %s", operation_id,
                       missing_grids(earth, arena, operation));
    bool done = run(earth, &way, at, &shift.to);
    proj_destroy(way.ready);
    if (!done)
        return mb_fail(err, MB_UNABLE, "%s has no value at %.6f, %.6f", operation_id, at.lat,
                       at.lon);
    report(arena, &way, at, &shift);
    *out = shift;
    return MB_OK;
}

/* ---- planes ---------------------------------------------------------------------------------- */

static enum mb_rc make_plane(mb_earth *earth, const char *definition, mb_plane **out,
                             struct mb_error *err)
{
    PJ *projection = proj_create(earth->proj, definition);
    if (!projection)
        return mb_fail(err, MB_UNABLE, "the projection library refuses %s", definition);
    mb_plane *plane = earth->spare;
    if (plane)
        earth->spare = plane->next;
    else
        plane = MB_NEW(earth->arena, mb_plane);
    *plane = (mb_plane){ .home = earth, .projection = projection, .next = earth->planes };
    if (earth->planes)
        earth->planes->prev = plane;
    earth->planes = plane;
    *out = plane;
    return MB_OK;
}

enum mb_rc mb_plane_equal_area(mb_earth *earth, const struct mb_ellipsoid *e,
                               struct mb_latlon centre, mb_plane **out, struct mb_error *err)
{
    char text[200];
    enum mb_rc rc = check_place(centre, err);
    if (rc != MB_OK)
        return rc;
    snprintf(text, sizeof text, "+proj=laea +lat_0=%.12f +lon_0=%.12f +a=%.4f +f=%.17g", centre.lat,
             centre.lon, e->a_m, e->flattening);
    return make_plane(earth, text, out, err);
}

enum mb_rc mb_plane_utm(mb_earth *earth, const struct mb_ellipsoid *e, int zone, bool south,
                        mb_plane **out, struct mb_error *err)
{
    char text[200];
    if (zone < 1 || zone > 60)
        return mb_fail(err, MB_REFUSED, "UTM zone %d does not exist; zones are 1 to 60", zone);
    snprintf(text, sizeof text, "+proj=utm +zone=%d%s +a=%.4f +f=%.17g", zone,
             south ? " +south" : "", e->a_m, e->flattening);
    return make_plane(earth, text, out, err);
}

bool mb_plane_there(const mb_plane *plane, struct mb_latlon at, double *x, double *y)
{
    proj_errno_reset(plane->projection);
    PJ_COORD moved = proj_trans(plane->projection, PJ_FWD,
                                proj_coord(at.lon * DEGREE, at.lat * DEGREE, 0, HUGE_VAL));
    *x = moved.xy.x;
    *y = moved.xy.y;
    return isfinite(*x) && isfinite(*y);
}

bool mb_plane_back(const mb_plane *plane, double x, double y, struct mb_latlon *at)
{
    proj_errno_reset(plane->projection);
    PJ_COORD moved = proj_trans(plane->projection, PJ_INV, proj_coord(x, y, 0, HUGE_VAL));
    at->lat = moved.lp.phi / DEGREE;
    at->lon = moved.lp.lam / DEGREE;
    return isfinite(at->lat) && isfinite(at->lon);
}

mb_plane *mb_plane_free(mb_plane *plane)
{
    if (!plane)
        return NULL;
    mb_earth *home = plane->home;
    proj_destroy(plane->projection);
    if (plane->prev)
        plane->prev->next = plane->next;
    else
        home->planes = plane->next;
    if (plane->next)
        plane->next->prev = plane->prev;
    *plane = (mb_plane){ .next = home->spare };
    home->spare = plane;
    return NULL;
}
