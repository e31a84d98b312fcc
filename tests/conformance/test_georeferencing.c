/*
 * The worked numbers of the georeferencing guides, each row with its source:
 *
 *   BP   Chapman A D & Wieczorek J R (2020) Georeferencing Best Practices, GBIF, doi
 *        10.15468/doc-gg7h-s853
 *   CM   Bloom D A, Wieczorek J R & Zermoglio P F (2020) Georeferencing Calculator Manual, GBIF,
 *        doi 10.35035/gdwq-3v93
 */
#include <criterion/criterion.h>
#include <math.h>

#include "coord.h"
#include "georef.h"
#include "text.h"

#define MILE 1609.344
#define FOOT 0.3048

static void near_to(double got, double wanted, double by, const char *what)
{
    cr_assert(fabs(got - wanted) <= by, "%s: %.10g is not %.10g", what, got, wanted);
}

static struct mb_coord coord(mb_arena *arena, const char *text)
{
    struct mb_error err = { 0 };
    struct mb_coord out;
    cr_assert_eq(mb_coord_read(arena, mb_str_of(text), &out, &err), MB_OK, "%s", err.text);
    return out;
}

static struct mb_georef compute(struct mb_georef_input input)
{
    struct mb_error err = { 0 };
    struct mb_georef out;
    cr_assert_eq(mb_georef_compute(&input, &out, &err), MB_OK, "%s", err.text);
    double sum = 0;
    for (size_t i = 0; i < out.count; i++) {
        cr_assert_gt(out.parts[i].metres, 0);
        sum += out.parts[i].metres;
    }
    near_to(sum, out.uncertainty_m, 1e-6, "sum of the parts");
    return out;
}

/* CM, figures "Calculate" and "Paste results": 10 mi E of Bakersfield on NAD27. */
Test(georeferencing, ten_miles_east_of_bakersfield)
{
    mb_arena *arena = mb_arena_new();
    struct mb_coord start = coord(arena, "35d22m24s N 119d01m04s W");
    const struct mb_ellipsoid *e = &mb_ellipsoid_clarke1866;
    double azimuth, half_angle;
    cr_assert(mb_georef_heading(MB_STR("E"), &azimuth, &half_angle));
    struct mb_georef out = compute((struct mb_georef_input){
        .form = MB_GEOREF_HEADING,
        .at = { start.lat_deg, start.lon_deg },
        .ellipsoid = e,
        .extent_m = 3 * MILE,
        .precision_m = mb_georef_precision_m(e, start.lat_deg, start.precision_deg),
        .map_m = mb_georef_map_m(24000),
        .measuring_m = 0.00149 * MILE,
        .distance_m = 10 * MILE,
        .distance_step_m = 10 * MILE, /* the manual's choice in this example */
        .azimuth = azimuth,
        .half_angle = half_angle,
    });
    near_to(out.at.lat, 35.3733333, 1e-6, "latitude");
    near_to(out.at.lon, -118.840681, 1e-6, "longitude");
    cr_assert_eq(mb_georef_whole_m(out.uncertainty_m), 21001);
    mb_arena_free(arena);
}

/* CM, figure "Calculated coordinates from a map": two offsets. */
Test(georeferencing, two_offsets)
{
    mb_arena *arena = mb_arena_new();
    struct mb_coord start = coord(arena, "35d22m30s N 119d00m00s W");
    const struct mb_ellipsoid *e = &mb_ellipsoid_clarke1866;
    struct mb_georef out = compute((struct mb_georef_input){
        .form = MB_GEOREF_OFFSETS,
        .at = { start.lat_deg, start.lon_deg },
        .ellipsoid = e,
        .extent_m = 3 * MILE,
        .precision_m = mb_georef_precision_m(e, start.lat_deg, start.precision_deg),
        .map_m = mb_georef_map_m(24000),
        .measuring_m = 0.00149 * MILE,
        .distance_step_m = 10 * MILE,
        .north_m = -0.1193 * MILE,
        .east_m = -0.99916 * MILE,
    });
    near_to(out.at.lat, 35.3732695, 1e-6, "latitude");
    near_to(out.at.lon, -119.0176952, 1e-6, "longitude");
    cr_assert_eq(mb_georef_whole_m(out.uncertainty_m), 16262);
    mb_arena_free(arena);
}

/* BP, Uncertainty Related to Coordinate Precision: 10.27, -123.6 read to 0.01 degree. */
Test(georeferencing, precision_example)
{
    double lat_m, lon_m;
    mb_earth_degree(&mb_ellipsoid_wgs84, 10.27, &lat_m, &lon_m);
    near_to(0.01 * lat_m, 1106.1, 0.1, "along the meridian");
    near_to(0.01 * lon_m, 1095.5, 0.1, "along the parallel");
    near_to(mb_georef_precision_m(&mb_ellipsoid_wgs84, 10.27, 0.01), 1556.8, 0.1, "both");
}

/* BP, table of uncertainty by precision and latitude, WGS 84 (after Wieczorek 2001). Seconds are
 * printed rounded up; one metre is allowed for the others. */
Test(georeferencing, precision_table)
{
    static const double lats[] = { 0, 30, 60, 85 };
    static const struct {
        double degrees, printed[4], by;
    } rows[] = {
        { 1, { 156904, 146962, 124605, 112109 }, 1 },
        { 1 / 60.0, { 2615, 2450, 2077, 1869 }, 1 },
        { 0.001, { 157, 147, 125, 112 }, 1 },
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        for (size_t j = 0; j < 4; j++)
            near_to(mb_georef_precision_m(&mb_ellipsoid_wgs84, lats[j], rows[i].degrees),
                    rows[i].printed[j], rows[i].by, "table");
    static const double seconds[] = { 44, 41, 35, 32 };
    for (size_t j = 0; j < 4; j++)
        near_to(ceil(mb_georef_precision_m(&mb_ellipsoid_wgs84, lats[j], 1 / 3600.0)), seconds[j],
                0, "one second");
}

/* BP, Uncertainty Related to Heading: 10 km NE, nothing else uncertain. */
Test(georeferencing, heading_alone)
{
    double azimuth, half_angle;
    cr_assert(mb_georef_heading(MB_STR("NE"), &azimuth, &half_angle));
    near_to(azimuth, 45, 0, "azimuth");
    near_to(half_angle, 22.5, 0, "half-angle");
    struct mb_georef out = compute((struct mb_georef_input){
        .form = MB_GEOREF_HEADING,
        .at = { 40, -100 },
        .distance_m = 10000,
        .azimuth = azimuth,
        .half_angle = half_angle,
    });
    near_to(out.uncertainty_m, 3900, 10, "radius");
    cr_assert_eq(out.count, 1);
    cr_assert_str_eq(out.parts[0].name, "direction");
}

/* BP, two offsets with a precision of 1 km and nothing else: 0.707 km. */
Test(georeferencing, offsets_alone)
{
    struct mb_georef out = compute((struct mb_georef_input){
        .form = MB_GEOREF_OFFSETS,
        .at = { 40, -100 },
        .distance_step_m = 1000,
        .north_m = 3000,
        .east_m = 4000,
    });
    near_to(out.uncertainty_m, 707, 0.5, "radius");
}

/* BP, table of offset precision: the uncertainty is half of the step. */
Test(georeferencing, steps_of_distances)
{
    static const struct {
        const char *distance;
        double uncertainty;
    } rows[] = {
        { "10.1", 0.05 },   { "10.25", 0.125 }, { "10.5", 0.25 }, { "10.6", 0.05 },
        { "10.75", 0.125 }, { "10", 0.5 },      { "15", 0.5 },    { "30", 0.5 },
        { "33", 0.5 },      { "100", 5 },       { "140", 5 },     { "200", 5 },
        { "1000", 50 },     { "2000", 50 },
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        double step;
        cr_assert(mb_georef_step(mb_str_of(rows[i].distance), &step));
        near_to(step / 2, rows[i].uncertainty, 1e-12, rows[i].distance);
    }
}

/* CM: measuring on a map, and miles. */
Test(georeferencing, map_measurements)
{
    double mile;
    near_to(mb_georef_map_mm(24000, 0.1) / MILE, 0.00149, 0.000005, "0.1 mm at 1:24,000");
    near_to(mb_georef_map_mm(50000, 80) / MILE, 2.48548, 0.000005, "8 cm at 1:50,000");
    near_to(mb_georef_map_mm(24000, 67) / MILE, 0.99916, 0.000005, "67 mm at 1:24,000");
    near_to(mb_georef_map_mm(24000, 8) / MILE, 0.1193, 0.00005, "8 mm at 1:24,000");
    cr_assert(mb_georef_unit(MB_STR("mi"), &mile));
    near_to(10 * mile / 1000, 16.09344, 0.000005, "10 mi in km");
}

/* United States National Map Accuracy Standards (1947): at 1:24,000, 40 feet. */
Test(georeferencing, map_error)
{
    near_to(mb_georef_map_m(24000), 40 * FOOT, 1e-9, "1:24,000");
    near_to(mb_georef_map_m(20000), 20000 / 50.0 / 12 * FOOT, 1e-9, "1:20,000");
    near_to(mb_georef_map_m(12000), 12000 / 30.0 / 12 * FOOT, 1e-9, "1:12,000");
}

/* BP, Uncertainty from Unknown Datum: 5359 m at worst. (CM prints 5030 m for 0 N 0 E, from a table
 * of shifts by place that is not shipped here, so the worst case stands for it.) */
Test(georeferencing, unknown_datum)
{
    near_to(mb_georef_datum_m(NULL), 5359, 0, "datum");
    struct mb_georef out =
        compute((struct mb_georef_input){ .at = { 0, 0 }, .datum_m = mb_georef_datum_m(NULL) });
    cr_assert_geq(out.uncertainty_m, 5030);
    cr_assert_str_eq(out.parts[0].name, "datum");
}

/* BP: full UTM numbers give 0.707 m. */
Test(georeferencing, grid_precision)
{
    mb_arena *arena = mb_arena_new();
    struct mb_coord c = coord(arena, "30U 699579 5709430");
    near_to(mb_georef_grid_m(c.precision_m), 0.707, 0.0005, "grid");
    mb_arena_free(arena);
}

/* BP, spatial fit: a circle of 5.726 km2 over 4.1 km2 of true area (printed 1.39, cut short). */
Test(georeferencing, spatial_fit)
{
    near_to(mb_georef_fit(5.726e6, 4.1e6, true), 1.39, 0.01, "fit");
    near_to(mb_georef_fit(5.726e6, 4.1e6, false), 0, 0, "fit");
}
