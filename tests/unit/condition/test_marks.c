#include "measuring.h"

#include <stdio.h>
#include <stdlib.h>

#include "flate.h"
#include "marks.h"

/* ---- a picture to look at -------------------------------------------------------------------- */

enum { SIDE = 240 };

struct image {
    double light[SIDE][SIDE]; /* relative luminance, WCAG 2.1 */
};

static uint32_t number_at(const uint8_t *at)
{
    return (uint32_t)at[0] << 24 | (uint32_t)at[1] << 16 | (uint32_t)at[2] << 8 | at[3];
}

static double linear(double v)
{
    v /= 255;
    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
}

static int paeth(int a, int b, int c)
{
    int p = a + b - c, pa = abs(p - a), pb = abs(p - b), pc = abs(p - c);

    return pa <= pb && pa <= pc ? a : pb <= pc ? b : c;
}

/* Undoes the filter of one row of a PNG (ISO/IEC 15948, clause 9); bpp bytes to the pixel. */
static void unfilter(uint8_t filter, uint8_t *row, const uint8_t *above, size_t len, size_t bpp)
{
    for (size_t i = 0; i < len; i++) {
        int left = i >= bpp ? row[i - bpp] : 0, up = above ? above[i] : 0;
        int corner = above && i >= bpp ? above[i - bpp] : 0;
        int add[] = { 0, left, up, (left + up) / 2, paeth(left, up, corner) };

        cr_assert_lt(filter, 5);
        row[i] = (uint8_t)(row[i] + add[filter]);
    }
}

static void look_at(mb_arena *arena, struct mb_str png, struct image *out)
{
    const uint8_t *at = (const uint8_t *)png.at + 8, *end = (const uint8_t *)png.at + png.len;
    char *packed = mb_arena_get(arena, png.len);
    size_t packed_len = 0, bpp, stride;
    struct mb_error err = { .code = MB_OK };
    struct mb_str rows;
    uint8_t *pixels;

    cr_assert_eq(number_at(at + 8), SIDE);
    cr_assert_eq(number_at(at + 12), SIDE);
    cr_assert_eq(at[16], 8);
    cr_assert(at[17] == 2 || at[17] == 6, "colour type %d", at[17]);
    bpp = at[17] == 2 ? 3 : 4;
    for (; at + 12 <= end; at += 12 + number_at(at))
        if (memcmp(at + 4, "IDAT", 4) == 0) {
            memcpy(packed + packed_len, at + 8, number_at(at));
            packed_len += number_at(at);
        }
    stride = 1 + SIDE * bpp;
    cr_assert_eq(
        mb_flate_unpack(arena, (struct mb_str){ packed, packed_len }, 4 << 20, &rows, &err), MB_OK,
        "%s", err.text);
    cr_assert_eq(rows.len, SIDE * stride);
    pixels = mb_arena_get(arena, rows.len);
    memcpy(pixels, rows.at, rows.len);
    for (size_t y = 0; y < SIDE; y++) {
        uint8_t *row = pixels + y * stride;

        unfilter(row[0], row + 1, y ? row + 1 - stride : NULL, SIDE * bpp, bpp);
        for (size_t x = 0; x < SIDE; x++) {
            const uint8_t *p = row + 1 + x * bpp;
            out->light[y][x] = 0.2126 * linear(p[0]) + 0.7152 * linear(p[1])
                               + 0.0722 * linear(p[2]);
        }
    }
}

/* A substance on a ground of one colour, 30 mm square, as a printed sheet shows it. */
static void show(enum mb_substance substance, uint32_t ground, struct image *out)
{
    mb_arena *arena = mb_arena_new();
    struct mb_error err = { .code = MB_OK };
    struct mb_canvas_setup setup = {
        .form = MB_CANVAS_PNG, .width_mm = 30, .height_mm = 30, .dpi = SIDE / 30.0 * 25.4
    };
    MB_CANVAS_AUTO mb_canvas *canvas = NULL;
    struct mb_fill under = { .pattern = MB_PATTERN_SOLID, .ink = { .rgb = ground } };
    struct mb_fill fill = mb_marks_fill(substance);
    struct mb_str png;

    cr_assert_eq(mb_canvas_open(&setup, &canvas, &err), MB_OK, "%s", err.text);
    mb_canvas_rect(canvas, 0, 0, 30, 30, &under, NULL);
    mb_canvas_rect(canvas, 0, 0, 30, 30, &fill, NULL);
    cr_assert_eq(mb_canvas_finish(canvas, arena, &png, &err), MB_OK, "%s", err.text);
    look_at(arena, png, out);
    mb_arena_free(arena);
}

static int by_size(const void *a, const void *b)
{
    double left = *(const double *)a, right = *(const double *)b;

    return left < right ? -1 : left > right;
}

/* Luminance below which a share of the pixels lies. */
static double percentile(const struct image *image, double part)
{
    static double all[SIDE * SIDE];

    memcpy(all, image->light, sizeof all);
    qsort(all, SIDE * SIDE, sizeof all[0], by_size);
    return all[(size_t)(part * (SIDE * SIDE - 1))];
}

/* ---- told apart ------------------------------------------------------------------------------ */

/* WCAG 2.1, success criterion 1.4.11: graphics that have to be understood need a contrast of 3:1.
 * Black, the brown and grey of rock, and white below. */
Test(marks, patterns_show_on_dark_and_on_light_rock)
{
    static const uint32_t grounds[] = { 0x000000, 0x2B2420, 0x8A7A5A, 0x808080, 0xFFFFFF };
    static struct image image;

    for (size_t g = 0; g < sizeof grounds / sizeof grounds[0]; g++)
        for (size_t s = 0; s < MB_SUBSTANCES; s++) {
            double dark, pale;

            if (s == MB_SUBSTANCE_ORIGINAL)
                continue;
            show((enum mb_substance)s, grounds[g], &image);
            dark = percentile(&image, 0.02);
            pale = percentile(&image, 0.85);
            cr_assert_geq((pale + 0.05) / (dark + 0.05), 3, "%s on %06x: %.2f",
                          mb_substance_words[s], grounds[g], (pale + 0.05) / (dark + 0.05));
        }
}

/* What an eye that sees no colour has to go by: how much is dark, and in which directions it
 * changes. */
enum { DARK, ACROSS, DOWN, RISING, FALLING, TRAITS };

static void traits_of(const struct image *image, double *out)
{
    static const int step[][2] = { { 0, 4 }, { 4, 0 }, { -3, 3 }, { 3, 3 } };

    for (int t = 0; t < TRAITS; t++)
        out[t] = 0;
    for (int y = 4; y < SIDE - 4; y++)
        for (int x = 4; x < SIDE - 4; x++) {
            out[DARK] += image->light[y][x] < 0.18;
            for (int d = 0; d < 4; d++)
                out[ACROSS + d] +=
                    fabs(image->light[y][x] - image->light[y + step[d][0]][x + step[d][1]]);
        }
    for (int t = 0; t < TRAITS; t++)
        out[t] /= (SIDE - 8.0) * (SIDE - 8.0);
}

Test(marks, every_two_substances_differ_in_black_and_white)
{
    static struct image image;
    double traits[MB_SUBSTANCES][TRAITS];

    for (size_t s = 0; s < MB_SUBSTANCES; s++) {
        show((enum mb_substance)s, 0xC8B890, &image);
        traits_of(&image, traits[s]);
    }
    for (size_t a = 0; a < MB_SUBSTANCES; a++)
        for (size_t b = 0; b < a; b++) {
            double most = 0;

            for (int t = 0; t < TRAITS; t++)
                most = fmax(most, fabs(traits[a][t] - traits[b][t])
                                      / (0.02 + fmax(traits[a][t], traits[b][t])));
            cr_assert_gt(most, 0.25, "%s and %s look alike (%.2f)", mb_substance_words[a],
                         mb_substance_words[b], most);
        }
}

/* No two marks are told apart by colour alone, for all are of one ink and one paper. */
Test(marks, there_is_one_ink_and_one_paper)
{
    struct mb_fill first = mb_marks_fill(MB_SUBSTANCE_FILLED);

    for (size_t s = 0; s < MB_SUBSTANCES; s++) {
        struct mb_fill fill = mb_marks_fill((enum mb_substance)s);

        cr_assert_eq(fill.ink.rgb, first.ink.rgb);
        cr_assert(!fill.ground || fill.ground_ink.rgb == first.ground_ink.rgb);
        for (size_t other = 0; other < s; other++)
            cr_assert_neq(fill.pattern, mb_marks_fill((enum mb_substance)other).pattern);
    }
    for (size_t a = 0; a < MB_SURFACES; a++)
        for (size_t b = 0; b < a; b++) {
            struct mb_stroke x = mb_marks_edge((enum mb_surface)a);
            struct mb_stroke y = mb_marks_edge((enum mb_surface)b);

            cr_assert(fabs(x.width_mm - y.width_mm) > 0.15 || fabs(x.dash_mm - y.dash_mm) > 0.8
                          || fabs(x.gap_mm - y.gap_mm) > 0.8,
                      "%s and %s", mb_surface_words[a], mb_surface_words[b]);
        }
}

/* ---- in their place -------------------------------------------------------------------------- */

#define DRAWN                                                                                    \
    "\"lineWidthPx\":2,\"scaleBar\":{\"px\":100,\"mm\":20},\"photo\":{\"file\":\"a.jpg\","       \
    "\"widthPx\":1000,\"heightPx\":500},\"specimens\":[{\"uncovered\":\"original\",\"outline\":" \
    "[[100,100],[900,100],[900,400],[100,400]]}],\"regions\":[{\"substance\":\"filled\","        \
    "\"surface\":\"coated\",\"outline\":[[50,100],[300,100],[300,400],[50,400]]}],"              \
    "\"joins\":[{\"through\":\"fossil\",\"line\":[[500,100],[500,400]]}],"                       \
    "\"points\":[{\"at\":[[110,110,\"filled\"],[600,200,\"original\"]]}]"

static bool has_corner(const struct mb_mark *mark, double x, double y)
{
    for (size_t r = 0; r < mark->ring_count; r++)
        for (size_t i = 0; i < mark->rings[r].count; i++)
            if (fabs(mark->rings[r].points[i].x - x) < 1e-9
                && fabs(mark->rings[r].points[i].y - y) < 1e-9)
                return true;
    return false;
}

Test(marks, marks_lie_where_the_photo_lies)
{
    mb_arena *arena = mb_arena_new();
    struct mb_error err = { .code = MB_OK };
    const struct mb_measured *measured = measure_text(arena, one_view(arena, DRAWN), NULL);
    struct mb_marks_setup setup = { .view = measured->outlines->views,
                                    .box = { 20, 30, 100, 50 } }; /* a tenth of a mm to a pixel */
    struct mb_marks marks;
    bool region = false, clipped = true, ticks = false, bar = false, dot = false;
    double bar_mm = 0;

    cr_assert_eq(mb_marks_view(arena, measured, &setup, &marks, &err), MB_OK, "%s", err.text);
    for (const struct mb_mark *mark = marks.marks; mark; mark = mark->next) {
        if (mark->kind == MB_MARK_AREA && mark->filled && mark->fill.pattern == MB_PATTERN_DOTS) {
            region = has_corner(mark, 30, 40) && has_corner(mark, 50, 70);
            clipped = !has_corner(mark, 25, 40);
        }
        ticks = ticks
                || (mark->kind == MB_MARK_LINE && mark->point_count == 2
                    && mark->points[0].y == mark->points[1].y);
        dot = dot
              || (mark->kind == MB_MARK_CIRCLE && fabs(mark->at.x - 80) < 1e-9
                  && fabs(mark->at.y - 50) < 1e-9);
    }
    /* below the photo: over it, it would lie on the photo's own */
    for (const struct mb_mark *mark = marks.bar; mark; mark = mark->next) {
        if (mark->kind == MB_MARK_AREA && mark->fill.pattern == MB_PATTERN_SOLID) {
            bar_mm += mark->rings[0].points[1].x - mark->rings[0].points[0].x;
            cr_assert(mark->rings[0].points[0].y > 80 && mark->rings[0].points[2].y < 87);
        }
        bar = bar || (mark->kind == MB_MARK_TEXT && strcmp(mark->text, "50 mm") == 0);
    }
    cr_assert(region, "the region is not at its place");
    cr_assert(clipped, "the region is drawn beyond the specimen");
    cr_assert(ticks && bar && dot);
    cr_assert(marks.has_scale);
    /* 100 px are 20 mm and 10 mm on paper: 50 mm are 25 on paper. */
    cr_assert(fabs(bar_mm - 25) < 1e-9, "the bar is %g mm long", bar_mm);
    mb_arena_free(arena);
}

Test(marks, the_legend_has_the_shares_of_this_view)
{
    mb_arena *arena = mb_arena_new();
    struct mb_error err = { .code = MB_OK };
    const struct mb_measured *measured = measure_text(arena, one_view(arena, DRAWN), NULL);
    struct mb_marks_setup setup = { .view = measured->outlines->views, .box = { 0, 0, 100, 50 } };
    struct mb_marks marks;
    const struct mb_legend *line;

    cr_assert_eq(mb_marks_view(arena, measured, &setup, &marks, &err), MB_OK, "%s", err.text);
    line = marks.legend;
    cr_assert_str_eq(line->name, "original");
    cr_assert_str_eq(line->share, "75.0 %");
    line = line->next;
    cr_assert_str_eq(line->name, "filled");
    cr_assert_str_eq(line->share, "25.0 %");
    /* 198 x 298 of it and 602 x 302 of the rest; 202 x 302 of it and 598 x 298 of the rest. */
    cr_assert_str_eq(line->range, "24.5\xE2\x80\x93"
                                  "25.6 %");
    line = line->next;
    cr_assert_eq(line->kind, MB_LEGEND_SURFACE);
    cr_assert_str_eq(line->name, "coated");
    line = line->next;
    cr_assert_str_eq(line->name, "join through fossil");
    cr_assert_str_eq(line->share, "1");
    cr_assert_null(line->next);
    for (line = marks.legend; line; line = line->next)
        cr_assert_not_null(
            mb_marks_sample(arena, line->kind, line->index, (struct mb_mm_box){ 0, 0, 8, 4 }));
    mb_arena_free(arena);
}

Test(marks, individuals_are_named_in_the_photo_and_in_the_legend)
{
    mb_arena *arena = mb_arena_new();
    struct mb_error err = { .code = MB_OK };
    const struct mb_measured *measured = measure_text(
        arena,
        "{\"format\":\"markerbed-outlines/1\",\"notExamined\":[\"x\"],\"individuals\":[{\"label\":"
        "\"A\",\"name\":\"crinoid\",\"association\":\"found together\"},{\"label\":\"B\","
        "\"association\":\"found together\"}],\"views\":[{\"name\":\"front\",\"lineWidthPx\":1,"
        "\"specimens\":[{\"individual\":\"A\",\"outline\":[[0,0],[90,0],[90,90]]},{\"individual\":"
        "\"B\",\"element\":\"stem\",\"outline\":[[100,0],[190,0],[190,90]]}]},{\"name\":\"back\","
        "\"lineWidthPx\":1,\"specimens\":[{\"individual\":\"B\",\"outline\":[[0,0],[9,0],[9,9]]}]}]"
        "}",
        NULL);
    struct mb_marks_setup setup = { .view = measured->outlines->views, .box = { 0, 0, 190, 90 } };
    struct mb_marks marks;
    bool a = false, b = false;

    cr_assert_eq(mb_marks_view(arena, measured, &setup, &marks, &err), MB_OK, "%s", err.text);
    for (const struct mb_mark *mark = marks.marks; mark; mark = mark->next) {
        a = a || (mark->kind == MB_MARK_TEXT && strcmp(mark->text, "A") == 0 && mark->at.x == 0);
        b = b
            || (mark->kind == MB_MARK_TEXT && strcmp(mark->text, "B stem") == 0
                && mark->at.x == 100);
    }
    cr_assert(a && b);
    cr_assert_str_eq(marks.legend->name, "A, crinoid");
    cr_assert_eq(marks.legend->kind, MB_LEGEND_INDIVIDUAL);
    cr_assert_null(mb_marks_sample(arena, MB_LEGEND_INDIVIDUAL, 0, setup.box));
    cr_assert_str_eq(marks.legend->next->name, "unexamined");
    cr_assert_str_eq(marks.legend->next->next->name, "B");
    setup.view = setup.view->next;
    cr_assert_eq(mb_marks_view(arena, measured, &setup, &marks, &err), MB_OK, "%s", err.text);
    cr_assert_str_eq(marks.legend->name, "B", "the other view shows one of the two");
    mb_arena_free(arena);
}

/* A photo that nobody can fill with ticks, dots and tags: the list stays short. */
Test(marks, a_crowded_view_stays_within_bounds)
{
    mb_arena *arena = mb_arena_new();
    struct mb_error err = { .code = MB_OK };
    char *points = mb_arena_get(arena, 60000 * 24 + 1);
    size_t len = 0, count = 0;
    const struct mb_measured *measured;
    struct mb_marks marks;

    for (int i = 0; i < 60000; i++)
        len += (size_t)snprintf(points + len, 24, "%d,%d,filled\n", i % 300, i / 300);
    measured = measure_text(arena, mb_arena_printf(arena, "x,y,substance\n%s", points), GIVEN_ALL);
    cr_assert_eq(mb_marks_view(arena, measured,
                               &(struct mb_marks_setup){ .view = measured->outlines->views,
                                                         .box = { 0, 0, 100, 100 } },
                               &marks, &err),
                 MB_OK);
    for (const struct mb_mark *mark = marks.marks; mark; mark = mark->next)
        count++;
    cr_assert(count > 10000 && count <= 20000, "%d marks", (int)count);
    cr_assert_not(marks.has_scale);
    measured = measure_text(arena,
                            one_view(arena, "\"joins\":[{\"through\":\"both\",\"line\":[[-900000,"
                                            "-900000],[900000,900000]]},{\"through\":\"both\","
                                            "\"line\":[[0,0],[1,1]]}],\"photo\":{\"file\":\"a\","
                                            "\"widthPx\":10,\"heightPx\":10}"),
                            NULL);
    cr_assert_eq(mb_marks_view(arena, measured,
                               &(struct mb_marks_setup){ .view = measured->outlines->views,
                                                         .box = { 0, 0, 100, 100 } },
                               &marks, &err),
                 MB_OK);
    count = 0;
    for (const struct mb_mark *mark = marks.marks; mark; mark = mark->next)
        count++;
    cr_assert_lt(count, 2000);
    mb_arena_free(arena);
}
