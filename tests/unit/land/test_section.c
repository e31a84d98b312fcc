#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "section.h"

#define RAD (M_PI / 180)

static void near_to(double got, double wanted, double by, const char *what)
{
    cr_assert(fabs(got - wanted) <= by, "%s: %.10g is not %.10g", what, got, wanted);
}

/* Four units of a map with beds of strike 84.5 (dip to its right) and dip 22.5, between points at
 * their tops and bases: Cardozo N., computational geosciences course, chapter 5, notebook 5-1
 * (github nfcd/compGeo, source/notebooks/ch5-1.ipynb at 0e26893), after a map of Bennison, Olver &
 * Moseley, An Introduction to Geological Structures and Maps (2011); printed to 0.1 m. The notebook
 * turns coordinates; here the line between two points is given by length, slope and azimuth. */
Test(section, thickness_between_points_of_a_map)
{
    static const struct {
        double e, n, up;
    } at[] = { { 1147, 3329, 400 },
               { 1323, 2362, 500 },
               { 1105, 1850, 400 },
               { 1768, 940, 300 },
               { 1842, 191, 200 } };
    static const double printed[] = { 467.2, 94.6, 278.6, 195.6 };
    for (size_t i = 0; i < 4; i++) {
        double de = at[i + 1].e - at[i].e, dn = at[i + 1].n - at[i].n;
        double du = at[i + 1].up - at[i].up, level = hypot(de, dn);
        double true_m = mb_section_true_m(hypot(level, du), atan2(du, level) / RAD,
                                          atan2(de, dn) / RAD, 22.5, 84.5 + 90);
        near_to(true_m, printed[i], 0.05, "thickness");
    }
}

/* The cases that field handbooks give, derived from trigonometry. */
Test(section, known_cases)
{
    near_to(mb_section_true_m(100, 0, 90, 30, 90), 50, 1e-9, "level, across");
    near_to(mb_section_true_m(100, 20, 270, 30, 90), fabs(100 * sin((30 - 20) * RAD)), 1e-9,
            "uphill away from the dip, flatter than the beds");
    near_to(mb_section_true_m(100, 20, 90, 30, 90), 100 * sin((30 + 20) * RAD), 1e-9,
            "uphill in the direction of the dip");
    near_to(mb_section_true_m(100, -20, 90, 30, 90), 100 * sin((30 - 20) * RAD), 1e-9,
            "downhill with the dip");
    near_to(mb_section_true_m(100, -20, 270, 30, 90), 100 * sin((30 + 20) * RAD), 1e-9,
            "downhill against it");
    near_to(mb_section_true_m(100, 90, 12, 30, 90), 100 * cos(30 * RAD), 1e-9, "straight up");
    near_to(mb_section_true_m(100, 0, 0, 30, 90), 0, 1e-9, "along the strike");
    near_to(mb_section_true_m(100, 0, 45, 30, 90), 50 * cos(45 * RAD), 1e-9, "askew");
    near_to(mb_section_true_m(100, 0, 45, 90, 90), 100 * cos(45 * RAD), 1e-9, "upright beds");
    near_to(mb_section_true_m(100, 30, 45, 0, 0), 50, 1e-9, "level beds");
}

static const struct mb_section_unit units[] = {
    { .name = "shale A", .lithology = "shale", .way = MB_SECTION_TRUE, .measured_m = 4 },
    { .name = "marker", .lithology = "bentonite", .way = MB_SECTION_TRUE, .measured_m = 0.2 },
    { .name = "chalk B", .way = MB_SECTION_VERTICAL, .measured_m = 10, .dip = 60 },
    { .name = "covered",
      .covered = true,
      .way = MB_SECTION_SLOPE,
      .measured_m = 20,
      .dip = 30,
      .dip_azimuth = 90,
      .slope = 0,
      .azimuth = 270 },
};

static struct mb_section build(mb_arena *arena, struct mb_section_datum datum)
{
    struct mb_error err = { 0 };
    struct mb_section out;
    cr_assert_eq(mb_section_build(arena, units, 4, datum, &out, &err), MB_OK, "%s", err.text);
    return out;
}

Test(section, levels_above_the_datum)
{
    mb_arena *arena = mb_arena_new();
    struct mb_section s = build(arena, (struct mb_section_datum){ .unit = NULL });
    static const double tops[] = { 4, 4.2, 9.2, 19.2 };
    for (size_t i = 0; i < 4; i++)
        near_to(s.beds[i].top_m, tops[i], 1e-9, "top");
    cr_assert_str_eq(s.datum, "base of the section");
    cr_assert_not(s.beds[0].derived);
    cr_assert(s.beds[2].derived && s.beds[3].derived);

    s = build(arena, (struct mb_section_datum){ .unit = "marker", .top = true });
    near_to(s.base_m, -4.2, 1e-9, "base");
    near_to(s.top_m, 15, 1e-9, "top");
    cr_assert_str_eq(s.datum, "top of marker");
    s = build(arena, (struct mb_section_datum){ .unit = "marker" });
    near_to(s.base_m, -4, 1e-9, "base");
    cr_assert_str_eq(s.datum, "base of marker");
    mb_arena_free(arena);
}

Test(section, where_a_find_lay)
{
    mb_arena *arena = mb_arena_new();
    struct mb_section s = build(arena, (struct mb_section_datum){ .unit = "marker" });
    static const struct {
        double level;
        const char *bed;
        double above_base, beyond;
        bool boundary;
    } cases[] = {
        { -4, "shale A", 0, 0, true },    { -0.4, "shale A", 3.6, 0, false },
        { 0, "marker", 0, 0, true },      { 0.1, "marker", 0.1, 0, false },
        { 0.2, "chalk B", 0, 0, true },   { 3, "chalk B", 2.8, 0, false },
        { 15.2, "covered", 10, 0, true }, { 16, NULL, 0, 0.8, false },
        { -5, NULL, 0, -1, false },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_section_place p;
        mb_section_locate(&s, cases[i].level, &p);
        if (cases[i].bed) {
            cr_assert(p.bed && strcmp(p.bed->unit->name, cases[i].bed) == 0, "%g", cases[i].level);
            near_to(p.above_base_m, cases[i].above_base, 1e-9, "above base");
            cr_assert_eq(p.on_boundary, cases[i].boundary, "%g", cases[i].level);
        } else {
            cr_assert_null(p.bed);
            near_to(p.beyond_m, cases[i].beyond, 1e-9, "beyond");
        }
    }
    mb_arena_free(arena);
}

Test(section, units_that_cannot_be)
{
    static const struct {
        struct mb_section_unit unit[2];
        size_t count;
        struct mb_section_datum datum;
        const char *words;
    } cases[] = {
        { { { .name = "a" } }, 0, { NULL, false }, "1 to" },
        { { { .name = "a", .measured_m = 0 } }, 1, { NULL, false }, "\"a\": a thickness of 0" },
        { { { .name = "a", .measured_m = NAN } }, 1, { NULL, false }, "thickness" },
        { { { .name = "a", .measured_m = 1, .way = MB_SECTION_VERTICAL, .dip = 91 } },
          1,
          { NULL, false },
          "dip of 91" },
        { { { .name = "a", .measured_m = 1, .way = MB_SECTION_VERTICAL, .dip = 90 } },
          1,
          { NULL, false },
          "along the beds" },
        { { { .name = "a", .measured_m = 1, .way = MB_SECTION_SLOPE, .dip = 30, .slope = 95 } },
          1,
          { NULL, false },
          "slope of 95" },
        { { { .name = "a", .measured_m = 1, .way = MB_SECTION_SLOPE, .dip = 30, .azimuth = -1 } },
          1,
          { NULL, false },
          "direction of the line" },
        { { { .name = "a",
              .measured_m = 1,
              .way = MB_SECTION_SLOPE,
              .dip = 30,
              .dip_azimuth = 90 } },
          1,
          { NULL, false },
          "along the beds" },
        { { { .name = "a", .measured_m = 1 }, { .name = "a", .measured_m = 1 } },
          2,
          { NULL, false },
          "two units called \"a\"" },
        { { { .name = "a", .measured_m = 1 } }, 1, { "b", false }, "\"b\" is no unit" },
    };
    mb_arena *arena = mb_arena_new();
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_error err = { 0 };
        struct mb_section out = { .count = 77 };
        cr_assert_eq(
            mb_section_build(arena, cases[i].unit, cases[i].count, cases[i].datum, &out, &err),
            MB_REFUSED, "case %zu", i);
        cr_assert(strstr(err.text, cases[i].words), "case %zu: %s", i, err.text);
        cr_assert_eq(out.count, 77);
    }
    mb_arena_free(arena);
}

Test(section, drawn_to_scale)
{
    mb_arena *arena = mb_arena_new();
    struct mb_section s = build(arena, (struct mb_section_datum){ .unit = "marker" });
    static const struct mb_section_mark marks[] = {
        { "low", -3, -3 },    { "high", 12, 12 }, { "run", 1, 5 },
        { "beyond", 40, 40 }, { "twin", 12, 12 },
    };
    struct mb_section_want want = {
        .height_mm = 200, .label_mm = 4, .marks = marks, .mark_count = 5
    };
    struct mb_section_layout l;
    cr_assert_eq(mb_section_lay_out(arena, &s, &want, &l, NULL), MB_OK);
    /* 19.2 m in 200 mm: 1:96 at least, so 1:100 and 192 mm. */
    near_to(l.scale, 100, 1e-9, "scale");
    near_to(l.height_mm, 192, 1e-9, "height");
    cr_assert_not(l.crowded);
    cr_assert_str_eq(l.beds[0].bed->unit->name, "covered");
    near_to(l.beds[0].top_mm, 0, 1e-9, "top");
    near_to(l.beds[0].base_mm, 100, 1e-9, "base");
    near_to(l.beds[3].base_mm, 192, 1e-9, "bottom");
    /* All labels have room in the middle of their beds. */
    near_to(l.beds[0].label_mm, 50, 1e-9, "label");
    near_to(l.beds[1].label_mm, 125, 1e-9, "label");
    near_to(l.beds[2].label_mm, 151, 1e-9, "label");

    cr_assert_str_eq(l.marks[0].mark->label, "beyond");
    cr_assert(l.marks[0].outside);
    near_to(l.marks[0].top_mm, 0, 1e-9, "clamped");
    near_to(l.marks[1].top_mm, 32, 1e-9, "12 m is 3.2 m below the top");
    cr_assert_str_eq(l.marks[1].mark->label, "high");
    /* The twins make room for each other evenly. */
    near_to(l.marks[1].label_mm, 30, 1e-9, "label");
    near_to(l.marks[2].label_mm, 34, 1e-9, "label");
    near_to(l.marks[3].top_mm, 102, 1e-9, "run");
    near_to(l.marks[3].base_mm, 142, 1e-9, "run");
    near_to(l.marks[4].top_mm, 182, 1e-9, "low");

    /* At least 8 mm apart, which is 0.8 m: every metre, from 15 down to -4. */
    cr_assert_eq(l.tick_count, 20);
    cr_assert_str_eq(l.ticks[0].text, "15");
    near_to(l.ticks[0].mm, 2, 1e-9, "tick");
    cr_assert_str_eq(l.ticks[15].text, "0");
    cr_assert_str_eq(l.ticks[19].text, "-4");
    mb_arena_free(arena);
}

Test(section, scales_are_round_and_ticks_have_the_digits_they_need)
{
    mb_arena *arena = mb_arena_new();
    static const struct {
        double thick, height, scale;
        const char *first_tick;
    } cases[] = {
        { 1, 1000, 1, "1.00" }, { 1.01, 1000, 2, "1.00" },   { 0.35, 100, 5, "0.35" },
        { 45, 250, 200, "44" }, { 1000, 250, 5000, "1000" }, { 3, 100, 50, "3.0" },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_section_unit unit = { .name = "a", .measured_m = cases[i].thick };
        struct mb_section s;
        struct mb_section_layout l;
        struct mb_section_want want = { .height_mm = cases[i].height, .label_mm = 3 };
        cr_assert_eq(
            mb_section_build(arena, &unit, 1, (struct mb_section_datum){ NULL, false }, &s, NULL),
            MB_OK);
        cr_assert_eq(mb_section_lay_out(arena, &s, &want, &l, NULL), MB_OK);
        near_to(l.scale, cases[i].scale, 1e-9, "scale");
        cr_assert_leq(l.height_mm, cases[i].height + 1e-9);
        cr_assert_str_eq(l.ticks[0].text, cases[i].first_tick, "case %zu: %s", i, l.ticks[0].text);
        for (size_t j = 1; j < l.tick_count; j++)
            cr_assert_geq(l.ticks[j].mm - l.ticks[j - 1].mm, 8 - 1e-9);
    }
    mb_arena_free(arena);
}

Test(section, labels_keep_their_distance_and_order)
{
    mb_arena *arena = mb_arena_new();
    struct mb_section s = build(arena, (struct mb_section_datum){ NULL, false });
    srandom(7);
    for (int round = 0; round < 200; round++) {
        struct mb_section_mark marks[60];
        size_t count = 1 + (size_t)random() % 60;
        for (size_t i = 0; i < count; i++) {
            double level = (double)(random() % 2000) / 100;
            marks[i] = (struct mb_section_mark){ "m", level, level + (double)(random() % 3) };
        }
        struct mb_section_want want = {
            .height_mm = 200, .label_mm = 4, .marks = marks, .mark_count = count
        };
        struct mb_section_layout l;
        cr_assert_eq(mb_section_lay_out(arena, &s, &want, &l, NULL), MB_OK);
        cr_assert_eq(l.crowded, (double)count * 4 > l.height_mm + 1e-9, "%zu", count);
        double gap = l.crowded ? (l.height_mm - 4) / (double)(count - 1) : 4;
        for (size_t i = 0; i < count; i++) {
            cr_assert_geq(l.marks[i].label_mm, 2 - 1e-9);
            cr_assert_leq(l.marks[i].label_mm, l.height_mm - 2 + 1e-9);
            if (i > 0)
                cr_assert_geq(l.marks[i].label_mm - l.marks[i - 1].label_mm, gap - 1e-9);
        }
    }
    struct mb_section_want none = { .height_mm = 2, .label_mm = 4 };
    struct mb_section_layout l;
    cr_assert_eq(mb_section_lay_out(arena, &s, &none, &l, NULL), MB_REFUSED);
    mb_arena_free(arena);
}
