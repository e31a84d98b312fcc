/* The guides' own numbers are in tests/conformance/test_georeferencing.c. */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "date.h"
#include "georef.h"
#include "text.h"

static void near_to(double got, double wanted, double by, const char *what)
{
    cr_assert(fabs(got - wanted) <= by, "%s: %.10g is not %.10g", what, got, wanted);
}

Test(georef, bare_coordinates_add_up)
{
    struct mb_georef_input in = {
        .at = { 47, -107 }, .precision_m = 1.5, .gps_m = 10, .datum_m = 2
    };
    struct mb_georef out;
    cr_assert_eq(mb_georef_compute(&in, &out, NULL), MB_OK);
    near_to(out.uncertainty_m, 13.5, 1e-12, "radius");
    cr_assert_eq(out.count, 3);
    cr_assert_str_eq(out.parts[0].name, "precision");
    cr_assert_str_eq(out.parts[1].name, "GPS");
    cr_assert_str_eq(out.parts[2].name, "datum");
    cr_assert_eq(out.at.lat, 47);
}

Test(georef, a_path_keeps_its_start_and_adds_half_a_step)
{
    struct mb_georef_input in = { .form = MB_GEOREF_PATH,
                                  .at = { 47, -107 },
                                  .extent_m = 100,
                                  .distance_m = 3000,
                                  .distance_step_m = 1000,
                                  .map_m = 12 };
    struct mb_georef out;
    cr_assert_eq(mb_georef_compute(&in, &out, NULL), MB_OK);
    near_to(out.uncertainty_m, 612, 1e-12, "radius");
    cr_assert_eq(out.at.lat, 47);
    cr_assert_eq(out.at.lon, -107);
}

/* A heading known exactly leaves the parts along it; one known not at all, twice the way more. */
Test(georef, ends_of_the_heading_formula)
{
    struct mb_georef_input in = { .form = MB_GEOREF_HEADING,
                                  .at = { 47, -107 },
                                  .extent_m = 100,
                                  .distance_m = 3000,
                                  .distance_step_m = 200 };
    struct mb_georef out;
    cr_assert_eq(mb_georef_compute(&in, &out, NULL), MB_OK);
    near_to(out.uncertainty_m, 200, 1e-9, "no angle");
    in.half_angle = 180;
    cr_assert_eq(mb_georef_compute(&in, &out, NULL), MB_OK);
    near_to(out.uncertainty_m, 3000 + 3200, 1e-9, "any angle");
    near_to(out.parts[out.count - 1].metres, 6000, 1e-9, "direction");
}

/* Flat steps, but short ones agree with geodesics. */
Test(georef, the_new_place_is_where_the_heading_leads)
{
    struct mb_georef_input in = {
        .form = MB_GEOREF_HEADING, .at = { 47, -107 }, .distance_m = 1000, .azimuth = 30
    };
    struct mb_georef out;
    double m, azimuth;
    cr_assert_eq(mb_georef_compute(&in, &out, NULL), MB_OK);
    mb_earth_inverse(&mb_ellipsoid_wgs84, in.at, out.at, &m, &azimuth, NULL);
    near_to(m, 1000, 0.2, "distance");
    near_to(azimuth, 30, 0.02, "azimuth");
}

Test(georef, numbers_that_cannot_be)
{
    const struct {
        struct mb_georef_input in;
        const char *words;
    } cases[] = {
        { { .at = { 47, -107 }, .extent_m = -1 }, "extent" },
        { { .at = { 47, -107 }, .gps_m = NAN }, "GPS" },
        { { .at = { 91, -107 } }, "no place" },
        { { .at = { 47, NAN } }, "no place" },
        { { .form = MB_GEOREF_HEADING, .at = { 47, -107 }, .half_angle = 181 }, "half-angle" },
        { { .form = MB_GEOREF_HEADING, .at = { 89.9, 0 }, .distance_m = 20000 }, "pole" },
        { { .form = MB_GEOREF_OFFSETS, .at = { 47, 0 }, .north_m = NAN }, "offsets" },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_error err = { 0 };
        struct mb_georef out = { .count = 77 };
        cr_assert_eq(mb_georef_compute(&cases[i].in, &out, &err), MB_REFUSED, "case %zu", i);
        cr_assert(strstr(err.text, cases[i].words), "%s", err.text);
        cr_assert_eq(out.count, 77);
    }
}

Test(georef, never_zero_metres)
{
    cr_assert_eq(mb_georef_whole_m(0), 1);
    cr_assert_eq(mb_georef_whole_m(0.7), 1);
    cr_assert_eq(mb_georef_whole_m(21000.9), 21001);
    cr_assert_eq(mb_georef_whole_m(16262.2), 16262);
}

/* The signal was degraded on purpose until the first of May 2000 (guides, section GPS). */
Test(georef, receivers_and_pictures_by_their_day)
{
    near_to(mb_georef_gps_m(4, 0), 8, 0, "shown");
    near_to(mb_georef_gps_m(-1, mb_day_number(2000, 5, 1)), 30, 0, "after");
    near_to(mb_georef_gps_m(-1, mb_day_number(2000, 4, 30)), 100, 0, "before");
    near_to(mb_georef_imagery_m(mb_day_number(2008, 12, 31)), 89.7, 0, "imagery before");
    near_to(mb_georef_imagery_m(mb_day_number(2009, 1, 1)), 8, 0, "imagery after");
}

Test(georef, a_shift_counts_with_its_accuracy_unless_nobody_knows_it)
{
    struct mb_shift shift = { .accuracy_m = 7 };
    near_to(mb_georef_datum_m(&shift), 7, 0, "stated");
    shift.accuracy_m = -1;
    near_to(mb_georef_datum_m(&shift), MB_GEOREF_DATUM_UNKNOWN_M, 0, "not stated");
    shift = (struct mb_shift){ .accuracy_m = 5, .ballpark = true };
    near_to(mb_georef_datum_m(&shift), MB_GEOREF_DATUM_UNKNOWN_M, 0, "relabelled");
}

Test(georef, steps)
{
    static const struct {
        const char *text;
        double step;
    } cases[] = {
        { "1", 1 },       { "5", 1 },     { "10.50", 0.01 }, { "0.3", 0.1 },  { "2.125", 0.125 },
        { "2.13", 0.01 }, { "1250", 10 }, { "20", 1 },       { "4000", 100 }, { "3.0", 0.1 },
    };
    double step;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        cr_assert(mb_georef_step(mb_str_of(cases[i].text), &step), "%s", cases[i].text);
        near_to(step, cases[i].step, 1e-12, cases[i].text);
    }
    static const char *const not [] = { "", "0", "-3", "x", "1,5", "0.0", "12345678901234567" };
    for (size_t i = 0; i < sizeof not / sizeof *not ; i++)
        cr_assert_not(mb_georef_step(mb_str_of(not [i]), &step), "%s", not [i]);
}

Test(georef, headings)
{
    static const struct {
        const char *text;
        double azimuth, half_angle;
    } cases[] = {
        { "N", 0, 45 },
        { "e", 90, 45 },
        { "SW", 225, 22.5 },
        { "NNW", 337.5, 11.25 },
        { "north", 0, 45 },
        { "South-East", 135, 22.5 },
        { "N by E", 11.25, 5.625 },
        { "northwest by north", 326.25, 5.625 },
        { "045", 45, 0.5 },
        { "45.5", 45.5, 0.05 },
        { "360", 0, 0.5 },
        { "N45E", 45, 0.5 },
        { "S 20 W", 200, 0.5 },
        { "N 5.5 W", 354.5, 0.05 },
        { "45\u00b0", 45, 0.5 },
        { "N45\u00b0E", 45, 0.5 },
        { "120 degrees", 120, 0.5 },
        { "ESE", 112.5, 11.25 },
        { "SbW", 191.25, 5.625 },
    };
    double azimuth, half_angle;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        cr_assert(mb_georef_heading(mb_str_of(cases[i].text), &azimuth, &half_angle), "%s",
                  cases[i].text);
        near_to(azimuth, cases[i].azimuth, 1e-12, cases[i].text);
        near_to(half_angle, cases[i].half_angle, 1e-12, cases[i].text);
    }
    static const char *const not [] = { "", "NX", "361", "N95E", "up", "NEN", "45 miles", "E45N" };
    for (size_t i = 0; i < sizeof not / sizeof *not ; i++)
        cr_assert_not(mb_georef_heading(mb_str_of(not [i]), &azimuth, &half_angle), "%s", not [i]);
}

/* International agreement of 1959: the yard is 0.9144 m exactly. */
Test(georef, units)
{
    double m, foot, yard, mile;
    cr_assert(mb_georef_unit(MB_STR("feet"), &foot) && mb_georef_unit(MB_STR("yd"), &yard) &&
              mb_georef_unit(MB_STR("Miles"), &mile) && mb_georef_unit(MB_STR("km"), &m));
    near_to(yard, 0.9144, 0, "yard");
    near_to(3 * foot, yard, 1e-15, "foot");
    near_to(5280 * foot, mile, 1e-9, "mile");
    near_to(m, 1000, 0, "km");
    cr_assert_not(mb_georef_unit(MB_STR("leagues"), &m));
}

/* Every place of the true circle must lie in the circle given out. */
Test(georef, a_coarse_place_holds_the_true_one)
{
    static const double cells[] = { 0.01, 0.1, 0.5, 1 };
    for (size_t i = 0; i < sizeof cells / sizeof *cells; i++)
        for (double lat = -89; lat < 90; lat += 12.345)
            for (double lon = -179.9; lon < 180; lon += 31.41)
                for (double r = 1; r < 1e5; r *= 30) {
                    struct mb_latlon at = { lat, lon }, middle, rim;
                    double radius, m;
                    cr_assert_eq(mb_georef_coarse(at, r, cells[i], &middle, &radius, NULL), MB_OK);
                    cr_assert_leq(fabs(lat - middle.lat), cells[i] / 2 + 1e-9);
                    cr_assert_leq(fabs(lon - middle.lon), cells[i] / 2 + 1e-9);
                    for (int azimuth = 0; azimuth < 360; azimuth += 45) {
                        mb_earth_direct(&mb_ellipsoid_wgs84, at, azimuth, r, &rim, NULL);
                        mb_earth_inverse(&mb_ellipsoid_wgs84, middle, rim, &m, NULL, NULL);
                        cr_assert_leq(m, radius + 0.01, "%g %g %g %g", lat, lon, r, cells[i]);
                    }
                }
    struct mb_latlon middle;
    double radius;
    cr_assert_eq(
        mb_georef_coarse((struct mb_latlon){ 47.3, -107.2 }, 10, 0.1, &middle, &radius, NULL),
        MB_OK);
    near_to(middle.lat, 47.35, 1e-9, "a decimal on the line belongs to the cell it names");
    near_to(middle.lon, -107.15, 1e-9, "and so does a western one");
    cr_assert_eq(mb_georef_coarse((struct mb_latlon){ 47, 7 }, 1, 0.7, &middle, &radius, NULL),
                 MB_REFUSED);
}
