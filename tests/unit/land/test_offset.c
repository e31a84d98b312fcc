#include <criterion/criterion.h>
#include <math.h>

#include "offset.h"
#include "text.h"

#define MILE 1609.344

static void near_to(double got, double wanted, const char *what)
{
    cr_assert(fabs(got - wanted) <= 1e-6, "%s: %.10g is not %.10g", what, got, wanted);
}

Test(offset, a_distance_and_a_heading)
{
    static const struct {
        const char *text;
        double distance_m, step_m, azimuth, half_angle;
    } cases[] = {
        { "2.5 mi NE of the windmill", 2.5 * MILE, 0.5 * MILE, 45, 22.5 },
        { "10mi E", 10 * MILE, MILE, 90, 45 },
        { "10.1 km north-east from Gove", 10100, 100, 45, 22.5 },
        { "3 km N45E of the bridge", 3000, 1000, 45, 0.5 },
        { "200 ft. south", 200 * 0.3048, 10 * 0.3048, 180, 45 },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_offset out;
        struct mb_error err = { 0 };

        cr_assert_eq(mb_offset_read(mb_str_of(cases[i].text), &out, &err), MB_OK, "%s: %s",
                     cases[i].text, err.text);
        cr_assert_eq(out.form, MB_GEOREF_HEADING, "%s", cases[i].text);
        near_to(out.distance_m, cases[i].distance_m, cases[i].text);
        near_to(out.azimuth, cases[i].azimuth, cases[i].text);
        near_to(out.half_angle, cases[i].half_angle, cases[i].text);
        if (cases[i].azimuth != 180)
            near_to(out.step_m, cases[i].step_m, cases[i].text);
    }
}

Test(offset, two_legs_of_a_right_angle)
{
    struct mb_offset out;

    cr_assert_eq(mb_offset_read(MB_STR("2 mi S and 0.5 mi W of the gate"), &out, NULL), MB_OK);
    cr_assert_eq(out.form, MB_GEOREF_OFFSETS);
    near_to(out.north_m, -2 * MILE, "south");
    near_to(out.east_m, -0.5 * MILE, "west");
    near_to(out.step_m, MILE, "the coarser step");
    cr_assert_eq(mb_offset_read(MB_STR("1.5 km east, 3 km north"), &out, NULL), MB_OK);
    near_to(out.north_m, 3000, "north");
    near_to(out.east_m, 1500, "east");
}

Test(offset, a_distance_alone_or_along_a_way)
{
    static const char *const texts[] = { "1 mi from the bridge", "1 mi along the road north",
                                         "1 mi by road NE of the mill", "1 mi" };

    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        struct mb_offset out;

        cr_assert_eq(mb_offset_read(mb_str_of(texts[i]), &out, NULL), MB_OK, "%s", texts[i]);
        cr_assert_eq(out.form, MB_GEOREF_POINT, "%s", texts[i]);
        near_to(out.distance_m, MILE, texts[i]);
    }
}

Test(offset, what_is_none)
{
    static const char *const texts[] = { "", "near the mill", "NE of the mill", "2.5 kg NE",
                                         "2 mi N and 3 mi S", "2 mi NE and 1 mi W", "-2 mi N",
                                         "0 mi N" };

    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        struct mb_error err = { 0 };
        struct mb_offset out;

        cr_assert_eq(mb_offset_read(mb_str_of(texts[i]), &out, &err), MB_REFUSED, "%s", texts[i]);
        cr_assert(err.text[0], "%s", texts[i]);
    }
}
