/*
 * Sizes and distances are checked against closed forms of the ellipsoid, worked out here:
 * the area between two parallels and two meridians (integral of M N cos(lat)), and the length of a
 * meridian (integral of M), M and N being the radii of curvature.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "area.h"
#include "text.h"

#define A 6378137.0
#define F (1 / 298.257223563)
#define E2 (F * (2 - F))
#define RAD (M_PI / 180)

/* b^2/2 dlon [ sin/(1 - e2 sin2) + ln((1 + e sin)/(1 - e sin)) / 2e ] between the two latitudes. */
static double zone(double lat)
{
    double e = sqrt(E2), s = sin(lat * RAD);
    return s / (1 - E2 * s * s) + log((1 + e * s) / (1 - e * s)) / (2 * e);
}

static double cell_m2(double west, double south, double east, double north)
{
    double b = A * (1 - F);
    return b * b / 2 * (east - west) * RAD * (zone(north) - zone(south));
}

/* Simpson's rule; M changes slowly, so a few hundred steps give all digits. */
static double meridian_m(double from, double to)
{
    double sum = 0;
    int n = 400;
    for (int i = 0; i <= n; i++) {
        double s = sin((from + (to - from) * i / n) * RAD);
        double m = A * (1 - E2) / pow(1 - E2 * s * s, 1.5);
        sum += m * (i == 0 || i == n ? 1 : i % 2 ? 4 : 2);
    }
    return sum * (to - from) * RAD / n / 3;
}

struct ground {
    mb_arena *arena;
    mb_geoms *geoms;
    mb_earth *earth;
};

static struct ground ground;

static void setup(void)
{
    struct mb_error err = { 0 };
    ground.arena = mb_arena_new();
    ground.geoms = mb_geoms_open();
    cr_assert_eq(mb_earth_open(&ground.earth, &err), MB_OK, "%s", err.text);
}

static void teardown(void)
{
    mb_geoms_close(ground.geoms);
    mb_earth_close(ground.earth);
    mb_arena_free(ground.arena);
}

TestSuite(area, .init = setup, .fini = teardown);

static mb_area *read(const char *text)
{
    const mb_json *value;
    struct mb_error err = { 0 };
    mb_area *area = NULL;
    cr_assert_eq(mb_json_read(ground.arena, mb_str_of(text), MB_JSON_PLAIN, &value, &err), MB_OK);
    cr_assert_eq(mb_area_read(ground.arena, ground.earth, ground.geoms, value, &area, &err), MB_OK,
                 "%s", err.text);
    return area;
}

static mb_area *cell(double west, double south, double east, double north)
{
    return read(
        mb_arena_printf(ground.arena,
                        "{\"type\":\"Polygon\",\"coordinates\":[[[%.10f,%.10f],[%.10f,%.10f],"
                        "[%.10f,%.10f],[%.10f,%.10f],[%.10f,%.10f]]]}",
                        west, south, east, south, east, north, west, north, west, south));
}

static struct mb_area_answer place(const mb_area *area, double lat, double lon, double radius_m)
{
    struct mb_error err = { 0 };
    struct mb_area_answer out;
    cr_assert_eq(mb_area_place(area, (struct mb_latlon){ lat, lon }, radius_m, &out, &err), MB_OK,
                 "%s", err.text);
    return out;
}

static void near_to(double got, double wanted, double by, const char *what)
{
    cr_assert(fabs(got - wanted) <= by, "%s: %.12g is not %.12g", what, got, wanted);
}

Test(area, of_a_cell_between_parallels_and_meridians)
{
    static const double cells[][4] = {
        { -107.10, 47.20, -107.08, 47.22 },
        { -107, 47, -106, 48 },
        { 20, -34, 33, -22 },
        { 0, 0, 1, 1 },
        { -150, 60, -141, 69 },
        { 100, -10, 110, 10 },
    };
    for (size_t i = 0; i < sizeof cells / sizeof *cells; i++) {
        const double *c = cells[i];
        double wanted = cell_m2(c[0], c[1], c[2], c[3]);
        near_to(mb_area_m2(cell(c[0], c[1], c[2], c[3])), wanted, 1e-7 * wanted, "area");
    }
}

/* Karney's polygon area is another way to the same number, if its geodesic edges are short enough
 * to follow the straight lines in degrees. */
Test(area, of_a_parcel_the_other_way)
{
    static const struct mb_latlon corners[] = {
        { 38.9, -100.5 }, { 38.903, -100.49 }, { 38.95, -100.43 }, { 38.911, -100.496 }
    };
    mb_area *area = read("{\"type\":\"Polygon\",\"coordinates\":[[[-100.5,38.9],[-100.49,38.903],"
                         "[-100.43,38.95],[-100.496,38.911],[-100.5,38.9]]]}");
    struct mb_latlon at[4 * 500];
    for (int i = 0; i < 4 * 500; i++) {
        const struct mb_latlon *from = &corners[i / 500], *to = &corners[(i / 500 + 1) % 4];
        double t = i % 500 / 500.0;
        at[i] = (struct mb_latlon){ from->lat + t * (to->lat - from->lat),
                                    from->lon + t * (to->lon - from->lon) };
    }
    double area_m2;
    mb_earth_polygon(&mb_ellipsoid_wgs84, at, 4 * 500, &area_m2, NULL);
    near_to(mb_area_m2(area), area_m2, 1e-6 * area_m2, "area");
}

Test(area, holes_and_parts)
{
    mb_area *area =
        read("{\"type\":\"MultiPolygon\",\"coordinates\":[[[[10,40],[10.1,40],[10.1,40.1],"
             "[10,40.1],[10,40]],[[10.02,40.02],[10.02,40.04],[10.04,40.04],"
             "[10.04,40.02],[10.02,40.02]]],[[[11,40],[11.1,40],[11.1,40.1],[11,40.1],"
             "[11,40]]]]}");
    double wanted = 2 * cell_m2(0, 40, 0.1, 40.1) - cell_m2(0, 40.02, 0.02, 40.04);
    near_to(mb_area_m2(area), wanted, 1e-7 * wanted, "area");
}

/* North of a parallel that is its edge, the nearest place is straight south along the meridian. */
Test(area, distance_along_a_meridian)
{
    mb_area *area = cell(-107.5, 47.0, -106.5, 47.2);
    for (double d = 0.0001; d < 0.3; d *= 3) {
        struct mb_area_answer out = place(area, 47.2 + d, -107.0, 1);
        near_to(out.distance_m, meridian_m(47.2, 47.2 + d), 0.002, "distance");
        near_to(out.azimuth, 180, 0.01, "azimuth");
        cr_assert_eq(out.side, MB_AREA_OUTSIDE);
        out = place(area, 47.2 - d / 3, -107.0, 1);
        near_to(out.distance_m, meridian_m(47.2 - d / 3, 47.2), 0.002, "distance");
        cr_assert_eq(out.side, MB_AREA_INSIDE);
    }
}

/* A wide area: the projection stretches near its ends, and must not matter. The bottom edge is the
 * equator, a geodesic, so due north of it the nearest place lies due south. */
Test(area, distance_far_from_the_middle_of_a_wide_area)
{
    mb_area *area = cell(10, -30, 60, 0);
    struct mb_area_answer out = place(area, 0.01, 12, 500);
    near_to(out.distance_m, meridian_m(0, 0.01), 0.01, "distance");
    cr_assert_eq(out.side, MB_AREA_OUTSIDE);
    out = place(area, 0.01, 12, 1110);
    cr_assert_eq(out.side, MB_AREA_STRADDLING);
    /* Half of a circle on the equator lies south of it. */
    out = place(area, 0, 12, 5000);
    near_to(out.share, 0.5, 1e-5, "share");
}

/* A meridian is a geodesic and a mirror of the ellipsoid: a circle on it is halved exactly. */
Test(area, share_of_a_circle_on_a_meridian)
{
    mb_area *area = cell(-107.5, 46.5, -107.0, 47.5);
    for (double r = 1; r < 30000; r *= 4) {
        struct mb_area_answer out = place(area, 47.0, -107.0, r);
        near_to(out.share, 0.5, 1e-6, "share");
        cr_assert_eq(out.side, MB_AREA_STRADDLING);
        cr_assert_eq(out.centre, MB_AREA_STRADDLING);
    }
    /* At the distance h r inside, the share is 1 - (acos h - h sqrt(1 - h^2)) / pi. */
    for (double h = 0.1; h < 1; h += 0.2) {
        double lat_m, lon_m, r = 100;
        mb_earth_degree(&mb_ellipsoid_wgs84, 47, &lat_m, &lon_m);
        struct mb_area_answer out = place(area, 47.0, -107.0 - h * r / lon_m, r);
        near_to(out.share, 1 - (acos(h) - h * sqrt(1 - h * h)) / M_PI, 1e-5, "share");
        near_to(out.distance_m, h * r, 0.002, "distance");
        cr_assert_eq(out.centre, MB_AREA_INSIDE);
    }
}

/* A big circle on the corner of an area bounded by the equator and a meridian: a quarter. */
Test(area, share_of_a_big_circle_on_a_corner)
{
    mb_area *area = cell(0, 0, 20, 20);
    near_to(place(area, 0, 0, 200000).share, 0.25, 1e-5, "share");
    /* and on the equator's edge, far from corners, a half */
    near_to(place(area, 0, 10, 500000).share, 0.5, 1e-4, "share");
}

Test(area, touching_is_straddling)
{
    mb_area *area = cell(-107.5, 46.5, -107.0, 47.5);
    double lat_m, lon_m;
    mb_earth_degree(&mb_ellipsoid_wgs84, 47, &lat_m, &lon_m);
    double off = 50 / lon_m;
    cr_assert_eq(place(area, 47, -107 - off, 49.9).side, MB_AREA_INSIDE);
    cr_assert_eq(place(area, 47, -107 - off, 50.0).side, MB_AREA_STRADDLING);
    cr_assert_eq(place(area, 47, -107 - off, 50.1).side, MB_AREA_STRADDLING);
    cr_assert_eq(place(area, 47, -107 + off, 49.9).side, MB_AREA_OUTSIDE);
    cr_assert_eq(place(area, 47, -107 + off, 50.0).side, MB_AREA_STRADDLING);
    near_to(place(area, 47, -107 - off, 50).share, 1, 1e-5, "share");
    near_to(place(area, 47, -107 + off, 50).share, 0, 1e-5, "share");
    /* bare points */
    cr_assert_eq(place(area, 47, -107, 0).side, MB_AREA_STRADDLING);
    near_to(place(area, 47, -107, 0).share, 0.5, 0, "share");
    near_to(place(area, 47, -107.1, 0).share, 1, 0, "share");
    near_to(place(area, 47, -106.9, 0).share, 0, 0, "share");
    cr_assert_str_eq(mb_area_side_word(MB_AREA_STRADDLING), "straddling");
}

/* The same ground on the antimeridian, written in four ways, and at Greenwich. */
Test(area, across_the_antimeridian)
{
    mb_area *greenwich = cell(-0.2, 51.0, 0.1, 51.3);
    mb_area *ways[] = {
        read("{\"type\":\"Polygon\",\"coordinates\":[[[179.8,51],[-179.9,51],[-179.9,51.3],"
             "[179.8,51.3],[179.8,51]]]}"),
        read("{\"type\":\"MultiPolygon\",\"coordinates\":[[[[179.8,51],[180,51],[180,51.3],[179.8,"
             "51.3],"
             "[179.8,51]]],[[[-180,51],[-179.9,51],[-179.9,51.3],[-180,51.3],[-180,51]]]]}"),
        read(
            "{\"type\":\"MultiPolygon\",\"coordinates\":[[[[-180,51],[-179.9,51],[-179.9,51.3],"
            "[-180,51.3],[-180,51]]],[[[179.8,51],[180,51],[180,51.3],[179.8,51.3],[179.8,51]]]]}"),
        cell(179.8, 51.0, 180.1, 51.3),
    };
    for (size_t i = 0; i < sizeof ways / sizeof *ways; i++) {
        near_to(mb_area_m2(ways[i]), mb_area_m2(greenwich), 1e-8 * mb_area_m2(greenwich), "area");
        for (double lat = 50.95; lat < 51.4; lat += 0.0391)
            for (double lon = -0.25; lon < 0.2; lon += 0.0277) {
                struct mb_area_answer a = place(greenwich, lat, lon, 3000);
                struct mb_area_answer b = place(ways[i], lat, remainder(lon + 180, 360), 3000);
                cr_assert_eq(a.side, b.side);
                near_to(b.distance_m, a.distance_m, 0.001, "distance");
                near_to(b.share, a.share, 1e-8, "share");
            }
        /* On the seam itself, in the middle: inside, with the true edge far off. */
        cr_assert_eq(place(ways[i], 51.15, 180, 3000).side, MB_AREA_INSIDE);
        cr_assert_eq(place(ways[i], 51.15, -180, 3000).side, MB_AREA_INSIDE);
    }
}

Test(area, two_areas)
{
    mb_area *a = cell(10, 40, 12, 41), *b = cell(11, 40.5, 13, 41.5);
    mb_area *both, *either, *rest, *none;
    struct mb_error err = { 0 };
    cr_assert_eq(mb_area_intersection(ground.arena, a, b, &both, &err), MB_OK);
    cr_assert_eq(mb_area_union(ground.arena, a, b, &either, &err), MB_OK);
    cr_assert_eq(mb_area_difference(ground.arena, a, b, &rest, &err), MB_OK);
    double shared = cell_m2(11, 40.5, 12, 41);
    double first = cell_m2(10, 40, 12, 41), second = cell_m2(11, 40.5, 13, 41.5);
    near_to(mb_area_m2(both), shared, 1e-7 * shared, "both");
    near_to(mb_area_m2(rest), first - shared, 1e-7 * first, "rest");
    near_to(mb_area_m2(either), first + second - shared, 1e-7 * first, "either");

    /* Neighbours share an edge and no ground. */
    cr_assert_eq(mb_area_intersection(ground.arena, a, cell(12, 40, 13, 41), &none, &err), MB_OK);
    cr_assert(mb_area_empty(none));
    near_to(mb_area_m2(none), 0, 0, "none");
    struct mb_area_answer out;
    cr_assert_eq(mb_area_place(none, (struct mb_latlon){ 40, 12 }, 1, &out, &err), MB_REFUSED);
    cr_assert_eq(mb_area_union(ground.arena, none, a, &either, &err), MB_OK);
    near_to(mb_area_m2(either), first, 1e-7 * first, "with nothing");

    /* Across the antimeridian, each written from its own side. */
    cr_assert_eq(mb_area_intersection(ground.arena, cell(179, 0, 181, 1), cell(-180.5, 0, -178, 1),
                                      &both, &err),
                 MB_OK);
    shared = cell_m2(0, 0, 1.5, 1);
    near_to(mb_area_m2(both), shared, 1e-7 * shared, "both");
}

/* Parcels made for this: private land with a hole, public land in the hole, state land of two parts
 * with a gap, and five places that are to be found in them. */
Test(area, five_places_in_three_parcels)
{
    mb_area *parcels[] = {
        read("{\"type\":\"Polygon\",\"coordinates\":[[[-107.10,47.20],[-107.08,47.20],[-107.08,47."
             "22],"
             "[-107.10,47.22],[-107.10,47.20]],[[-107.095,47.205],[-107.095,47.210],"
             "[-107.090,47.210],[-107.090,47.205],[-107.095,47.205]]]}"),
        read("{\"type\":\"Polygon\",\"coordinates\":[[[-107.095,47.205],[-107.090,47.205],"
             "[-107.090,47.210],[-107.095,47.210],[-107.095,47.205]]]}"),
        read("{\"type\":\"MultiPolygon\",\"coordinates\":[[[[-107.08,47.20],[-107.06,47.20],"
             "[-107.06,47.21],[-107.08,47.21],[-107.08,47.20]]],[[[-107.08,47.215],"
             "[-107.07,47.215],[-107.07,47.22],[-107.08,47.22],[-107.08,47.215]]]]}"),
    };
    static const struct {
        double lat, lon;
        enum mb_area_side side[3];
    } cases[] = {
        { 47.2150, -107.0975, { MB_AREA_INSIDE, MB_AREA_OUTSIDE, MB_AREA_OUTSIDE } },
        { 47.2075, -107.0925, { MB_AREA_OUTSIDE, MB_AREA_INSIDE, MB_AREA_OUTSIDE } },
        { 47.2175, -107.0750, { MB_AREA_OUTSIDE, MB_AREA_OUTSIDE, MB_AREA_INSIDE } },
        { 47.2125, -107.0750, { MB_AREA_OUTSIDE, MB_AREA_OUTSIDE, MB_AREA_OUTSIDE } },
        { 47.2050, -107.0800, { MB_AREA_STRADDLING, MB_AREA_OUTSIDE, MB_AREA_STRADDLING } },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        for (size_t j = 0; j < 3; j++)
            for (double r = 0; r <= 20; r += 10)
                cr_assert_eq(place(parcels[j], cases[i].lat, cases[i].lon, r).side,
                             cases[i].side[j], "place %zu, parcel %zu, %g m", i, j, r);
    /* On the shared edge, each has half of the circle. */
    near_to(place(parcels[0], 47.205, -107.08, 20).share, 0.5, 1e-6, "share");
    near_to(place(parcels[2], 47.205, -107.08, 20).share, 0.5, 1e-6, "share");
}

/* An edge along a parallel is no geodesic: over 40 km at 60 degrees the geodesic between its ends
 * runs L^2 tan(lat) / 8R = 54 m north of it. The boundary follows the parallel (RFC 7946). */
Test(area, edges_are_straight_in_degrees)
{
    double lat_m, lon_m;
    mb_earth_degree(&mb_ellipsoid_wgs84, 60, &lat_m, &lon_m);
    double half = 20000 / lon_m;
    mb_area *area = cell(20 - half, 59.9, 20 + half, 60);
    cr_assert_eq(place(area, 60 + 10 / lat_m, 20, 5).side, MB_AREA_OUTSIDE);
    near_to(place(area, 60 + 10 / lat_m, 20, 5).distance_m, 10, 0.01, "distance");
    cr_assert_eq(place(area, 60 - 10 / lat_m, 20, 5).side, MB_AREA_INSIDE);
}

Test(area, what_cannot_be_asked)
{
    mb_area *area = cell(10, 40, 12, 41);
    static const struct {
        struct mb_latlon at;
        double radius_m;
        const char *words;
    } cases[] = {
        { { 40, 11 }, -1, "radius" },   { { 40, 11 }, NAN, "radius" },
        { { 40, 11 }, 2e6, "radius" },  { { 91, 11 }, 1, "no place" },
        { { NAN, 11 }, 1, "no place" },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_error err = { 0 };
        struct mb_area_answer out = { .share = 7 };
        cr_assert_eq(mb_area_place(area, cases[i].at, cases[i].radius_m, &out, &err), MB_REFUSED);
        cr_assert(strstr(err.text, cases[i].words), "%s", err.text);
        cr_assert_eq(out.share, 7);
    }
    const mb_json *value;
    struct mb_error err = { 0 };
    cr_assert_eq(
        mb_json_read(ground.arena,
                     MB_STR("{\"type\":\"Polygon\",\"coordinates\":[[[-85,0],[85,0],[85,1],"
                            "[-85,1],[-85,0]]]}"),
                     MB_JSON_PLAIN, &value, &err),
        MB_OK);
    cr_assert_eq(mb_area_read(ground.arena, ground.earth, ground.geoms, value, &area, &err),
                 MB_REFUSED);
    cr_assert(strstr(err.text, "5000 km"), "%s", err.text);
}

Test(area, for_drawing)
{
    mb_area *area = cell(179.9, 51.0, 180.1, 51.3);
    struct mb_polygon *list;
    size_t count;
    struct mb_xy at;
    struct mb_box box;
    mb_area_outline(ground.arena, area, &list, &count);
    cr_assert_eq(count, 1);
    cr_assert_eq(list[0].rings[0].count, 5);
    mb_area_map(ground.arena, area, &list, &count);
    cr_assert_eq(count, 1);
    cr_assert_gt(list[0].rings[0].count, 100);
    cr_assert(mb_area_to_map(area, mb_area_middle(area), &at));
    near_to(at.x, 0, 1e-6, "x");
    near_to(at.y, 0, 1e-6, "y");
    cr_assert(mb_area_bounds(area, &box));
    near_to(box.x_max - box.x_min, 0.2, 1e-9, "width");
    cr_assert_null(mb_area_free(area));
    cr_assert_null(mb_area_free(NULL));
}
