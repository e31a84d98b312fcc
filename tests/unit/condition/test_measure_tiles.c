/*
 * An outline of very many corners is measured tile by tile (measure_tiles.c). The other way, all at
 * once, is still there and judges it: the same areas, and the same ends of every range.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "measure_part.h"

enum { STARS = 300, STAR_CORNERS = 40 };

static double part_of(unsigned *state, double from, double to)
{
    *state = *state * 1664525u + 1013904223u;
    return from + (to - from) * (*state >> 8) / 16777216.0;
}

/* Stars that lie over each other, over the edge, and over the edges of tiles. */
static mb_geom *stars(mb_geoms *geoms, mb_arena *arena, unsigned state)
{
    mb_geom **made = MB_ARRAY(arena, STARS, mb_geom *), *out = NULL;
    struct mb_error err = { 0 };

    for (size_t i = 0; i < STARS; i++) {
        double x = part_of(&state, 0, 1000), y = part_of(&state, 0, 800);
        double size = part_of(&state, 4, 30);
        struct mb_xy at[STAR_CORNERS];
        struct mb_ring ring = { at, STAR_CORNERS };

        for (int k = 0; k < STAR_CORNERS; k++) {
            double r = size * (k % 2 ? 1 : 0.6), turn = 2 * M_PI * k / STAR_CORNERS;

            at[k] = (struct mb_xy){ x + r * cos(turn), y + r * sin(turn) };
        }
        cr_assert_eq(mb_geom_polygon(geoms, &ring, 1, &made[i], NULL, &err), MB_OK, "%s",
                     err.text);
    }
    cr_assert_eq(mb_geom_union(geoms, made, STARS, &out, &err), MB_OK, "%s", err.text);
    return out;
}

static void same(const char *what, size_t which, const struct mb_areas *a,
                 const struct mb_areas *b)
{
    const double one[] = { a->drawn, a->sure_in, a->sure_out, a->may_in, a->may_out };
    const double other[] = { b->drawn, b->sure_in, b->sure_out, b->may_in, b->may_out };

    for (size_t i = 0; i < 5; i++)
        cr_expect_lt(fabs(one[i] - other[i]), 0.01, "%s %zu, area %zu: %.6f and %.6f", what, which,
                     i, one[i], other[i]);
}

static void compare(const struct mb_part_areas *tiled, const struct mb_part_areas *whole)
{
    cr_expect_lt(fabs(tiled->area - whole->area), 0.01);
    cr_expect_lt(fabs(tiled->area_small - whole->area_small), 0.01);
    cr_expect_lt(fabs(tiled->area_large - whole->area_large), 0.01);
    cr_expect_lt(fabs(tiled->twice - whole->twice), 0.01, "%f %f", tiled->twice, whole->twice);
    cr_expect_gt(whole->twice, 1000);
    for (size_t s = 0; s < MB_SUBSTANCES; s++) {
        cr_expect_eq(tiled->there[s], whole->there[s], "%s", mb_substance_words[s]);
        same("substance", s, &tiled->substance[s], &whole->substance[s]);
        cr_expect_eq(tiled->settled.substance[s].count, whole->settled.substance[s].count);
    }
    for (size_t i = 0; i < MB_SUMS; i++)
        same("sum", i, &tiled->sum[i], &whole->sum[i]);
    for (size_t i = 0; i < MB_SURFACES; i++) {
        cr_expect_eq(tiled->surface_there[i], whole->surface_there[i]);
        same("surface", i, &tiled->surface[i], &whole->surface[i]);
        for (size_t s = 0; s < MB_SUBSTANCES; s++)
            same("surface on", 10 * i + s, &tiled->surface_on[i][s], &whole->surface_on[i][s]);
    }
}

Test(measure_tiles, add_up_to_what_the_whole_gives, .timeout = 240)
{
    static const enum mb_substance drawn[] = { MB_SUBSTANCE_FILLED, MB_SUBSTANCE_RESTORED,
                                               MB_SUBSTANCE_FOREIGN, MB_SUBSTANCE_REPAIRED };
    static const struct mb_view view = { .name = "front", .line_px = 3 };
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    mb_arena *arena = mb_arena_new();
    struct mb_site site = { .view = &view, .individual = "A", .element = "", .where = "A",
                            .uncovered = MB_SUBSTANCE_ORIGINAL, .regions = 4 * STARS };
    struct mb_part_areas tiled = { .next = NULL }, whole = { .next = NULL };
    struct mb_error err = { 0 };

    cr_assert_eq(mb_geom_rectangle(geoms, (struct mb_box){ 20, 20, 980, 780 }, &site.outline,
                                   &err), MB_OK);
    for (unsigned i = 0; i < 4; i++)
        site.substance[drawn[i]] = stars(geoms, arena, i + 1);
    site.surface[MB_SURFACE_COATED] = stars(geoms, arena, 9);
    cr_assert_eq(mb_measure_part(arena, geoms, &site, &tiled, &err), MB_OK, "%s", err.text);
    cr_assert_eq(mb_measure_areas(arena, geoms, &site, NULL, &whole, &err), MB_OK, "%s", err.text);
    cr_expect_eq(tiled.n, 4 * STARS + 1);
    compare(&tiled, &whole);
    mb_arena_free(arena);
}

/* The refusal of a line that is too wide comes from the sum of the tiles as well. */
Test(measure_tiles, a_line_that_covers_the_outline_is_refused)
{
    static const struct mb_view view = { .name = "front", .line_px = 3000 };
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    mb_arena *arena = mb_arena_new();
    struct mb_site site = { .view = &view, .individual = "A", .element = "", .where = "A",
                            .uncovered = MB_SUBSTANCE_ORIGINAL };
    struct mb_part_areas out = { .next = NULL };
    struct mb_error err = { 0 };

    cr_assert_eq(mb_geom_rectangle(geoms, (struct mb_box){ 0, 0, 1000, 800 }, &site.outline, &err),
                 MB_OK);
    site.substance[MB_SUBSTANCE_FILLED] = stars(geoms, arena, 3);
    cr_expect_eq(mb_measure_part(arena, geoms, &site, &out, &err), MB_REFUSED);
    cr_expect(strstr(err.text, "covers the whole outline"), "%s", err.text);
    mb_arena_free(arena);
}
