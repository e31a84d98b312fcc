#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "coord.h"
#include "text.h"

static enum mb_rc read(mb_arena *arena, const char *text, struct mb_coord *out,
                       struct mb_error *err)
{
    *err = (struct mb_error){ 0 };
    return mb_coord_read(arena, mb_str_of(text), out, err);
}

/* Places, written in the ways that labels and notebooks have. */
static const struct spelling {
    const char *text, *lat, *lon, *precision;
    enum mb_coord_form form;
} spellings[] = {
    { "47.2050, -107.0900", "47.2050", "-107.0900", "0.0001 degree", MB_COORD_DECIMAL },
    { "47.2050 -107.0900", "47.2050", "-107.0900", "0.0001 degree", MB_COORD_DECIMAL },
    { " 47.2050,-107.0900\n", "47.2050", "-107.0900", "0.0001 degree", MB_COORD_DECIMAL },
    { "47.2050;-107.0900", "47.2050", "-107.0900", "0.0001 degree", MB_COORD_DECIMAL },
    { "+47.2050 / -107.09", "47.2050", "-107.09", "0.01 degree", MB_COORD_DECIMAL },
    { "N47.2050 W107.0900", "47.2050", "-107.0900", "0.0001 degree", MB_COORD_DECIMAL },
    { "47.2050N 107.0900W", "47.2050", "-107.0900", "0.0001 degree", MB_COORD_DECIMAL },
    { "47.2050\u00b0 N, 107.0900\u00b0 W", "47.2050", "-107.0900", "0.0001 degree",
      MB_COORD_DECIMAL },
    { "W107.0900, N47.2050", "47.2050", "-107.0900", "0.0001 degree", MB_COORD_DECIMAL },
    { "Lat. 47.2050 Long. -107.0900", "47.2050", "-107.0900", "0.0001 degree", MB_COORD_DECIMAL },
    { "lon=-107.0900 lat=47.2050", "47.2050", "-107.0900", "0.0001 degree", MB_COORD_DECIMAL },
    { "\u221233.5 18.2", "-33.5", "18.2", "0.1 degree", MB_COORD_DECIMAL },
    { "33.5s 18.2e", "-33.5", "18.2", "0.1 degree", MB_COORD_DECIMAL },
    { "47.2050 N - 107.0900 W", "47.2050", "-107.0900", "0.0001 degree", MB_COORD_DECIMAL },
    { "047.2N 007W", "47.2", "-7", "1 degree", MB_COORD_DECIMAL },
    { "0.0, -0.0", "0.0", "0.0", "0.1 degree", MB_COORD_DECIMAL },
    { "47\u00b012'18\"N 107\u00b005'24\"W", "47.2050000", "-107.0900000", "1 second",
      MB_COORD_SECONDS },
    { "47 12 18 N 107 05 24 W", "47.2050000", "-107.0900000", "1 second", MB_COORD_SECONDS },
    { "N 47\u00b0 12' 18.0\", W 107\u00b0 05' 24.0\"", "47.2050000", "-107.0900000", "0.1 second",
      MB_COORD_SECONDS },
    { "47d12m18s N 107d05m24s W", "47.2050000", "-107.0900000", "1 second", MB_COORD_SECONDS },
    { "N 47d12m18s W 107d05m24s", "47.2050000", "-107.0900000", "1 second", MB_COORD_SECONDS },
    { "47deg 12min 18sec North, 107deg 5min 24sec West", "47.2050000", "-107.0900000", "1 second",
      MB_COORD_SECONDS },
    { "47\u00ba12\u201918\u201dN 107\u00ba05\u201924\u201dW", "47.2050000", "-107.0900000",
      "1 second", MB_COORD_SECONDS },
    { "47\u00b012\u203218\u2033N, 107\u00b005\u203224\u2033W", "47.2050000", "-107.0900000",
      "1 second", MB_COORD_SECONDS },
    { "47\u00b012'18''N, 107\u00b005'24''W", "47.2050000", "-107.0900000", "1 second",
      MB_COORD_SECONDS },
    { "47:12:18N 107:05:24W", "47.2050000", "-107.0900000", "1 second", MB_COORD_SECONDS },
    { "47-12-18N 107-05-24W", "47.2050000", "-107.0900000", "1 second", MB_COORD_SECONDS },
    { "47 12 18, -107 05 24", "47.2050000", "-107.0900000", "1 second", MB_COORD_SECONDS },
    { "47 12 18 107 05 24", "47.2050000", "107.0900000", "1 second", MB_COORD_SECONDS },
    { "33\u00b030'S 18\u00b012'E", "-33.5000000", "18.2000000", "1 minute", MB_COORD_MINUTES },
    { "47\u00b012.300'N 107\u00b005.40'W", "47.2050000", "-107.0900000", "0.01 minute",
      MB_COORD_MINUTES },
    { "47 12.3 N 107 05.4 W", "47.2050000", "-107.0900000", "0.1 minute", MB_COORD_MINUTES },
    { "47 12 107 05", "47.2000000", "107.0833333", "1 minute", MB_COORD_MINUTES },
    { "47\u00b0N 107\u00b030'W", "47", "-107.5000000", "1 degree", MB_COORD_MINUTES },
    { "89\u00b059'59.99\"S 179\u00b059'59.99\"W", "-89.9999972", "-179.9999972", "0.01 second",
      MB_COORD_SECONDS },
    /* 18.12345" = 0.005034291666... degree */
    { "47\u00b012'18.12345\"N 107\u00b005'24.00000\"W", "47.205034292", "-107.090000000",
      "0.00001 second", MB_COORD_SECONDS },
    { "90N 180W", "90", "-180", "1 degree", MB_COORD_DECIMAL },
    { "47.5\u00b0 107.5\u00b0", "47.5", "107.5", "0.1 degree", MB_COORD_DECIMAL },
    { "47\u00b012' 107\u00b005'", "47.2000000", "107.0833333", "1 minute", MB_COORD_MINUTES },
    { "47\u00b012'18\" 107\u00b005'24\"", "47.2050000", "107.0900000", "1 second",
      MB_COORD_SECONDS },
    { "47.2050, N; 107.0900, W", "47.2050", "-107.0900", "0.0001 degree", MB_COORD_DECIMAL },
};

Test(coord, places_in_many_spellings)
{
    const struct spelling *cases = spellings;
    mb_arena *arena = mb_arena_new();
    for (size_t i = 0; i < sizeof spellings / sizeof *spellings; i++) {
        struct mb_error err;
        struct mb_coord c;
        cr_assert_eq(read(arena, cases[i].text, &c, &err), MB_OK, "%s", err.text);
        cr_assert_str_eq(c.lat, cases[i].lat, "%s: %s", cases[i].text, c.lat);
        cr_assert_str_eq(c.lon, cases[i].lon, "%s: %s", cases[i].text, c.lon);
        cr_assert_str_eq(c.precision_text, cases[i].precision, "%s: %s", cases[i].text,
                         c.precision_text);
        cr_assert_eq(c.form, cases[i].form, "%s", cases[i].text);
        cr_assert_str_eq(c.verbatim, cases[i].text);
        cr_assert_float_eq(c.lat_deg, strtod(cases[i].lat, NULL), 1e-12);
        cr_assert_float_eq(c.lon_deg, strtod(cases[i].lon, NULL), 1e-12);
    }
    mb_arena_free(arena);
}

Test(coord, precision_in_degrees_is_the_last_digit_of_the_coarser_number)
{
    static const struct {
        const char *text;
        double degrees;
        bool padded;
    } cases[] = {
        { "47.2050, -107.09", 0.01, false },
        { "10.000, -123.500", 0.001, false },
        { "10.00000, -123.50000", 0.00001, true },
        { "47 12 18 N 107 05 24 W", 1 / 3600.0, false },
        { "47 12 N 107 05 24 W", 1 / 60.0, false },
        { "47 12 18.50 N 107 05 24.25 W", 0.01 / 3600, false },
        { "47 12.5 N 107 05.25 W", 0.1 / 60, false },
    };
    mb_arena *arena = mb_arena_new();
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_error err;
        struct mb_coord c;
        cr_assert_eq(read(arena, cases[i].text, &c, &err), MB_OK, "%s", err.text);
        cr_assert_float_eq(c.precision_deg, cases[i].degrees, 1e-15, "%s", cases[i].text);
        cr_assert_eq(c.maybe_padded, cases[i].padded, "%s", cases[i].text);
    }
    mb_arena_free(arena);
}

Test(coord, near_misses_get_one_sentence)
{
    static const struct {
        const char *text, *words;
    } cases[] = {
        { "", "empty" },
        { "  ", "empty" },
        { "hello", "\"hello\" is not understood" },
        { "47,2050 107,0900", "decimals with a point" },
        { "47,2050; -107,0900", "decimals with a point" },
        { "47.2050-107.0900", "a comma between" },
        { "-107.09 47.205", "latitude comes first" },
        { "-107.09W 47.205N", "a sign and the letter W" },
        { "47.205", "only one coordinate" },
        { "47.2050 N", "only one coordinate" },
        { "47.2 107.3 12.4", "only one coordinate" },
        { "1, 2, 3", "more than two" },
        { "47\u00b060'N 107\u00b000'W", "60 minutes" },
        { "47 12 60.5 N 107 0 0 W", "60.5 seconds" },
        { "97.2N 107W", "at most 90" },
        { "47N 181W", "at most 180" },
        { "91 100", "at most 90" },
        { "90\u00b00'1\"N 10\u00b0W", "at most 90" },
        { "47.5\u00b012'N 107\u00b0W", "only the last number" },
        { "47.2050 N 107.0900 N", "two latitudes" },
        { "47.2050 E 107.0900 W", "two longitudes" },
        { "lat 47.2 W lon 107.1 N", "W does not belong to a latitude" },
        { "N S 47 107", "must stand with one number" },
        { "47.2 N W 107", "must stand with one number" },
        { "47.205 -107.09 NAD27", "a field of its own" },
        { "47\u00b0'12 107\u00b0", "order that cannot be read" },
        { "47\u00b012\"18'N 107W", "order that cannot be read" },
        { "47 12 18 5 N 107 W", "more than degrees, minutes and seconds" },
        { "- , 47", "sign must stand before a number" },
        { "47.2\u00a7 107", "means nothing here" },
        { "\xff"
          "47 107",
          "UTF-8" },
        { "12345678901 107", "too many digits" },
        { "471218N 1070524W", "parts apart" },
        { "1 2 3 4 5 6 7 8", "too many numbers" },
        { "47.12.18 107", "means nothing here" },
        { "47 12.12345678 N 107 5 W", "more decimals than" },
    };
    mb_arena *arena = mb_arena_new();
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_error err;
        struct mb_coord c = { .zone = 77 };
        cr_assert_eq(read(arena, cases[i].text, &c, &err), MB_REFUSED, "%s", cases[i].text);
        cr_assert(strstr(err.text, cases[i].words), "%s: %s", cases[i].text, err.text);
        cr_assert_eq(c.zone, 77);
    }
    char *longer = mb_arena_get(arena, 300);
    memset(longer, '1', 250);
    struct mb_error err;
    struct mb_coord c;
    cr_assert_eq(read(arena, longer, &c, &err), MB_REFUSED);
    mb_arena_free(arena);
}

Test(coord, grid_positions)
{
    static const struct {
        const char *text;
        int zone;
        bool south;
        char band;
        const char *easting, *northing, *precision;
    } cases[] = {
        { "13T 492000 5228000", 13, false, 'T', "492000", "5228000", "1 m" },
        { "13 T 492000E 5228000N", 13, false, 'T', "492000", "5228000", "1 m" },
        { "UTM 13N 492000 5228000", 13, false, 0, "492000", "5228000", "1 m" },
        { "Zone 13 north, 492000 mE, 5228000 mN", 13, false, 0, "492000", "5228000", "1 m" },
        { "zone 13 N: 492000 m E, 5228000 m N", 13, false, 0, "492000", "5228000", "1 m" },
        { "13T E 492000 N 5228000", 13, false, 'T', "492000", "5228000", "1 m" },
        { "13N E 492000 N 5228000", 13, false, 0, "492000", "5228000", "1 m" },
        { "13T N 5228000 E 492000", 13, false, 'T', "492000", "5228000", "1 m" },
        { "492000E 5228000N 13T", 13, false, 'T', "492000", "5228000", "1 m" },
        { "13t 492000.5 5228000.25", 13, false, 'T', "492000.5", "5228000.25", "0.1 m" },
        { "12S 450000 3900000", 12, false, 'S', "450000", "3900000", "1 m" },
        { "35S 450000 7000000", 35, true, 0, "450000", "7000000", "1 m" },
        { "12 south 450000 3900000", 12, true, 0, "450000", "3900000", "1 m" },
        { "35J 450000 7000000", 35, true, 'J', "450000", "7000000", "1 m" },
        { "31N 166021 0", 31, false, 0, "166021", "0", "1 m" },
    };
    mb_arena *arena = mb_arena_new();
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_error err;
        struct mb_coord c;
        cr_assert_eq(read(arena, cases[i].text, &c, &err), MB_OK, "%s", err.text);
        cr_assert_eq(c.form, MB_COORD_UTM);
        cr_assert_eq(c.zone, cases[i].zone, "%s", cases[i].text);
        cr_assert_eq(c.south, cases[i].south, "%s", cases[i].text);
        cr_assert_eq(c.band, cases[i].band, "%s: %c", cases[i].text, c.band);
        cr_assert_str_eq(c.easting, cases[i].easting);
        cr_assert_str_eq(c.northing, cases[i].northing);
        cr_assert_str_eq(c.precision_text, cases[i].precision);
        bool single_s = strstr(cases[i].text, "S ") != NULL;
        cr_assert_eq(c.reading != NULL, single_s, "%s", cases[i].text);
    }
    mb_arena_free(arena);
}

Test(coord, grid_positions_that_are_none)
{
    static const struct {
        const char *text, *words;
    } cases[] = {
        { "492000 5228000", "no zone" },
        { "Zone 13, 492000 mE, 5228000 mN", "hemisphere or the latitude band" },
        { "13 492000 5228000", "hemisphere or the latitude band" },
        { "61T 492000 5228000", "zone 61" },
        { "13I 492000 5228000", "I is no latitude band" },
        { "13U 492000 5228000", "not in the band U" },
        { "13T 5228000 492000", "easting (six digits) comes first" },
        { "13T 49200 5228000", "six digits" },
        { "13T 492000 15228000", "at most 10000000" },
        { "13T 492000", "a zone, an easting and a northing" },
        { "13T 492000 5228000 NAD27", "\"NAD\" is not understood" },
        { "13T 492000E 5228000E", "two eastings" },
        { "13T -492000 5228000", "no sign" },
        { "13T 492000\u00b0 5228000", "either degrees or a grid" },
        { "13T 492,000 5,228,000", "thousands without a comma" },
    };
    mb_arena *arena = mb_arena_new();
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_error err;
        struct mb_coord c;
        cr_assert_eq(read(arena, cases[i].text, &c, &err), MB_REFUSED, "%s", cases[i].text);
        cr_assert(strstr(err.text, cases[i].words), "%s: %s", cases[i].text, err.text);
    }
    mb_arena_free(arena);
}

/* From the grid to degrees: GeoConvert of GeographicLib 2.1.2, run for this test, gave the first
 * pair; Snyder, USGS Professional Paper 1395, p. 269, gave the second, on Clarke 1866
 * (from memory). */
Test(coord, grid_to_degrees)
{
    mb_arena *arena = mb_arena_new();
    MB_EARTH_AUTO mb_earth *earth = NULL;
    struct mb_error err = { 0 };
    struct mb_coord c;
    cr_assert_eq(mb_earth_open(&earth, &err), MB_OK, "%s", err.text);

    cr_assert_eq(read(arena, "30U 699579 5709430", &c, &err), MB_OK);
    cr_assert_eq(mb_coord_utm(arena, earth, &mb_ellipsoid_wgs84, &c, &err), MB_OK);
    cr_assert_float_eq(c.lat_deg, 51.500721, 0.5 / 111000);
    cr_assert_float_eq(c.lon_deg, -0.124430, 0.5 / 69000);

    cr_assert_eq(read(arena, "18T 627106.5 4484124.4", &c, &err), MB_OK);
    cr_assert_eq(mb_coord_utm(arena, earth, &mb_ellipsoid_clarke1866, &c, &err), MB_OK);
    cr_assert_float_eq(c.lat_deg, 40.5, 1e-6);
    cr_assert_float_eq(c.lon_deg, -73.5, 1e-6);
    cr_assert_eq(strlen(strchr(c.lat, '.') + 1), 7);

    /* Degrees are left alone. */
    cr_assert_eq(read(arena, "47.2050, -107.0900", &c, &err), MB_OK);
    cr_assert_eq(mb_coord_utm(arena, earth, &mb_ellipsoid_wgs84, &c, &err), MB_OK);
    cr_assert_str_eq(c.lat, "47.2050");
    mb_arena_free(arena);
}

Test(coord, bands)
{
    double south, north;
    cr_assert(mb_coord_band('C', &south, &north) && south == -80 && north == -72);
    cr_assert(mb_coord_band('N', &south, &north) && south == 0 && north == 8);
    cr_assert(mb_coord_band('S', &south, &north) && south == 32 && north == 40);
    cr_assert(mb_coord_band('T', &south, &north) && south == 40 && north == 48);
    cr_assert(mb_coord_band('X', &south, &north) && south == 72 && north == 84);
    cr_assert_not(mb_coord_band('I', &south, &north));
    cr_assert_not(mb_coord_band('O', &south, &north));
    cr_assert_not(mb_coord_band('A', &south, &north));
    cr_assert_not(mb_coord_band(0, &south, &north));
}
