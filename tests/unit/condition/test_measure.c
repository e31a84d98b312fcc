#include "measuring.h"

#include <stdio.h>
#include <stdlib.h>

#include "share.h"

static void near_to(double got, double wanted, double by, const char *what)
{
    cr_assert(fabs(got - wanted) <= by, "%s: %.10g is not %.10g", what, got, wanted);
}

static int tenths_of(const struct mb_tally *tally, enum mb_substance s)
{
    cr_assert(tally->substance[s].there, "no share of %s", mb_substance_words[s]);
    return tally->substance[s].tenths;
}

static void adds_up(const struct mb_tally *tally)
{
    int sum = 0, sums = 0;

    for (size_t s = 0; s < MB_SUBSTANCES; s++) {
        const struct mb_share *share = &tally->substance[s];
        sum += share->there ? share->tenths : 0;
        cr_assert(share->low <= share->share + 1e-12 && share->share <= share->high + 1e-12);
        cr_assert(!share->there
                  || (share->tenths_low <= share->tenths && share->tenths <= share->tenths_high));
    }
    for (size_t i = 0; i < MB_SUMS; i++)
        sums += tally->sum[i].there ? tally->sum[i].tenths : 0;
    cr_assert_eq(sum, 1000, "the shares add up to %d tenths", sum);
    cr_assert_eq(sums, 1000, "the sums add up to %d tenths", sums);
}

/* An SVG of one view, 10 units to the millimetre, line 1 wide. */
static const char *svg(mb_arena *arena, const char *shapes)
{
    return mb_arena_printf(arena,
                           "<svg xmlns=\"http://www.w3.org/2000/svg\" data-line-width=\"1\" "
                           "data-view=\"front\" data-not-examined=\"reverse\">"
                           "<line data-kind=\"scale\" data-mm=\"50\" x1=\"0\" y1=\"-20\" "
                           "x2=\"500\" y2=\"-20\"/>%s</svg>",
                           shapes);
}

static double mm2_of_svg(mb_arena *arena, const char *shape)
{
    return measure_text(arena, svg(arena, shape), NULL)->tallies->mm2;
}

/* ---- areas that can be known otherwise ------------------------------------------------------- */

Test(measure, areas_are_those_of_closed_forms)
{
    mb_arena *arena = mb_arena_new();
    const char *star = "M";
    double outer = 400, inner = 150;

    near_to(mm2_of_svg(arena, "<circle data-kind='specimen' cx='500' cy='500' r='400'/>"),
            M_PI * 40 * 40, 0.2, "circle");
    near_to(mm2_of_svg(arena, "<ellipse data-kind='specimen' cx='500' cy='500' rx='400' ry='90' "
                              "transform='rotate(33 10 20) scale(1 -1)'/>"),
            M_PI * 40 * 9, 0.1, "ellipse, turned and mirrored");
    /* Two circles made of arcs, the inner one run the other way round. */
    near_to(mm2_of_svg(arena,
                       "<path data-kind='specimen' d='M100 500a400 400 0 0 1 800 0a400 400 0 0 1 "
                       "-800 0z M300 500a200 200 0 0 0 400 0a200 200 0 0 0 -400 0z'/>"),
            M_PI * (40 * 40 - 20 * 20), 0.3, "annulus");
    /* A star with n points between two circles: n R r sin(pi / n). */
    for (int i = 0; i < 14; i++) {
        double r = i % 2 ? inner : outer, angle = M_PI * i / 7;
        star = mb_arena_printf(arena, "%s%.12f %.12f ", star, 500 + r * cos(angle),
                               500 + r * sin(angle));
    }
    near_to(mm2_of_svg(arena, mb_arena_printf(arena, "<path data-kind='specimen' d='%sz'/>", star)),
            7 * 40 * 15 * sin(M_PI / 7), 1e-6, "star with seven points");
    /* Under a parabola: two thirds of the box. A quadratic curve is one. */
    near_to(mm2_of_svg(arena, "<path data-kind='specimen' d='M0 0Q300 600 600 0z'/>"),
            60 * 30 * 2.0 / 3.0, 0.1, "parabola");
    /* The cubic curve x = 3t(1-t)..., area of a Bezier arch with control points (0,0) (0,h) (b,h)
     * (b,0): 0.6 b h, by integration. */
    near_to(mm2_of_svg(arena, "<path data-kind='specimen' d='M0 0C0 300 600 300 600 0z'/>"),
            0.6 * 60 * 30, 0.1, "cubic arch");
    mb_arena_free(arena);
}

/* Two worked examples of the shoelace formula that stand in many textbooks; no single source. */
Test(measure, areas_are_those_of_worked_examples)
{
    mb_arena *arena = mb_arena_new();
    static const struct {
        const char *corners;
        double area;
    } rows[] = { { "[[3,4],[5,11],[12,8],[9,5],[5,6]]", 30 },
                 { "[[1,6],[3,1],[7,2],[4,4],[8,5]]", 16.5 } };

    for (size_t i = 0; i < 2; i++) {
        const char *text = one_view(
            arena, mb_arena_printf(arena,
                                   "\"lineWidthPx\":0.01,\"scaleBar\":{\"px\":10,\"mm\":10},"
                                   "\"specimens\":[{\"outline\":%s}]",
                                   rows[i].corners));
        near_to(measure_text(arena, text, NULL)->tallies->mm2, rows[i].area, 1e-9, "polygon");
    }
    mb_arena_free(arena);
}

/* ---- shares ---------------------------------------------------------------------------------- */

#define SQUARE "\"lineWidthPx\":2,\"specimens\":[{\"outline\":[[0,0],[1000,0],[1000,1000],[0,1000]]"

static const char *square(mb_arena *arena, const char *uncovered, const char *regions)
{
    return one_view(arena,
                    mb_arena_printf(arena, SQUARE "%s}],\"regions\":[%s]", uncovered, regions));
}

static const char *box(mb_arena *arena, const char *words, int x0, int y0, int x1, int y1)
{
    return mb_arena_printf(arena, "{%s,\"outline\":[[%d,%d],[%d,%d],[%d,%d],[%d,%d]]}", words, x0,
                           y0, x1, y0, x1, y1, x0, y1);
}

Test(measure, what_no_region_covers_is_unexamined_unless_the_outline_says_otherwise)
{
    mb_arena *arena = mb_arena_new();
    const char *filled = box(arena, "\"substance\":\"filled\"", 0, 0, 500, 200);
    const struct mb_tally *tally = measure_text(arena, square(arena, "", filled), NULL)->tallies;

    adds_up(tally);
    cr_assert_eq(tenths_of(tally, MB_SUBSTANCE_FILLED), 100);
    cr_assert_eq(tenths_of(tally, MB_SUBSTANCE_UNEXAMINED), 900);
    cr_assert_not(tally->substance[MB_SUBSTANCE_ORIGINAL].there);
    tally =
        measure_text(arena, square(arena, ",\"uncovered\":\"original\"", filled), NULL)->tallies;
    adds_up(tally);
    cr_assert_eq(tenths_of(tally, MB_SUBSTANCE_ORIGINAL), 900);
    cr_assert_eq(tally->sum[MB_SUM_ORIGINAL].tenths, 900);
    cr_assert_not(tally->substance[MB_SUBSTANCE_UNEXAMINED].there);
    mb_arena_free(arena);
}

/* The same spot in two substances counts once, as the one that comes first by precedence, in
 * whatever order they are drawn. Every pair of substances. */
Test(measure, an_overlap_counts_once_by_precedence)
{
    mb_arena *arena = mb_arena_new();

    for (size_t i = 0; i < MB_SUBSTANCES; i++)
        for (size_t j = 0; j < MB_SUBSTANCES; j++) {
            enum mb_substance first = mb_substance_precedence[i < j ? i : j];
            enum mb_substance second = mb_substance_precedence[i < j ? j : i];
            const char *a = box(arena,
                                mb_arena_printf(arena, "\"substance\":\"%s\"",
                                                mb_substance_words[mb_substance_precedence[i]]),
                                0, 0, 600, 1000);
            const char *b = box(arena,
                                mb_arena_printf(arena, "\"substance\":\"%s\"",
                                                mb_substance_words[mb_substance_precedence[j]]),
                                400, 0, 1000, 1000);
            const struct mb_tally *tally =
                measure_text(arena, square(arena, "", mb_arena_printf(arena, "%s,%s", a, b)), NULL)
                    ->tallies;

            adds_up(tally);
            cr_assert_eq(tenths_of(tally, first), i == j ? 1000 : 600);
            if (i != j)
                cr_assert_eq(tenths_of(tally, second), 400);
        }
    mb_arena_free(arena);
}

Test(measure, the_range_is_that_of_a_line_half_its_width_off)
{
    mb_arena *arena = mb_arena_new();
    const char *inside = box(arena, "\"substance\":\"filled\"", 300, 300, 500, 500);
    const struct mb_tally *tally =
        measure_text(arena, square(arena, ",\"uncovered\":\"original\"", inside), NULL)->tallies;
    const struct mb_share *filled = &tally->substance[MB_SUBSTANCE_FILLED];
    double w = 1, large = 1000 * 1000 + 4 * 1000 * w + M_PI * w * w, small = 998.0 * 998.0;

    /* Grown by w all round: sides and quarter circles; shrunk: a smaller square. */
    near_to(filled->share, 0.04, 1e-12, "share");
    near_to(filled->high, (200 * 200 + 4 * 200 * w + M_PI * w * w) / small, 1e-6, "high");
    near_to(filled->low, 198.0 * 198.0 / large, 1e-6, "low");
    /* The rest is what this one is not, from the same lines. */
    near_to(tally->substance[MB_SUBSTANCE_ORIGINAL].low, 1 - filled->high, 1e-9, "low of the rest");
    near_to(tally->substance[MB_SUBSTANCE_ORIGINAL].high, 1 - filled->low, 1e-9,
            "high of the rest");
    mb_arena_free(arena);
}

Test(measure, a_region_drawn_over_the_edge_reaches_the_edge)
{
    mb_arena *arena = mb_arena_new();
    const char *half = box(arena, "\"substance\":\"restored\"", -50, -50, 500, 1050);
    const struct mb_tally *tally =
        measure_text(arena, square(arena, ",\"uncovered\":\"original\"", half), NULL)->tallies;
    const struct mb_share *restored = &tally->substance[MB_SUBSTANCE_RESTORED];

    cr_assert_eq(restored->tenths, 500);
    /* Only the line in the middle and the outline's own width matter, not a gap along the edge:
     * least, the left part shrunk by 1 all round, the right part grown by 1, with round corners. */
    near_to(restored->low, 498.0 * 998 / (498.0 * 998 + 502.0 * 1002 - (2 - M_PI / 2)), 1e-6,
            "low");
    near_to(restored->high, 1 - restored->low, 1e-6, "high");
    tally = measure_text(
                arena,
                square(arena, "", box(arena, "\"substance\":\"original\"", 0, 0, 1000, 1000)), NULL)
                ->tallies;
    cr_assert_eq(tally->substance[MB_SUBSTANCE_ORIGINAL].tenths_low, 1000);
    mb_arena_free(arena);
}

Test(measure, hair_seams_between_regions_are_not_uncovered_surface)
{
    mb_arena *arena = mb_arena_new();
    const char *text =
        square(arena, "",
               "{\"substance\":\"original\",\"outline\":[[0,0],[499.7,0],[499.7,1000],[0,1000]]},"
               "{\"substance\":\"filled\",\"outline\":[[500,0],[1000,0],[1000,1000],[500,1000]]}");
    const struct mb_tally *tally = measure_text(arena, text, NULL)->tallies;

    adds_up(tally);
    cr_assert_not(tally->substance[MB_SUBSTANCE_UNEXAMINED].there);
    mb_arena_free(arena);
}

Test(measure, nothing_that_is_there_prints_as_nothing)
{
    mb_arena *arena = mb_arena_new();
    const char *speck = box(arena, "\"substance\":\"foreign\"", 300, 300, 305, 305);
    const struct mb_tally *tally =
        measure_text(arena, square(arena, ",\"uncovered\":\"original\"", speck), NULL)->tallies;

    adds_up(tally);
    cr_assert_eq(tenths_of(tally, MB_SUBSTANCE_FOREIGN), 1);
    cr_assert_eq(tenths_of(tally, MB_SUBSTANCE_ORIGINAL), 999);
    mb_arena_free(arena);
}

/* Hamilton's method: every part within one unit of its exact share, all of it given out. */
Test(measure, largest_remainders_add_up_to_a_hundred)
{
    uint64_t state = 88172645463325252u;

    for (int round = 0; round < 20000; round++) {
        double parts[12], all = 0;
        int tenths[12], sum = 0, raised = 0;
        size_t count = 1 + (size_t)(round % 12);

        for (size_t i = 0; i < count; i++) {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            parts[i] = (double)(state % 1000) + 1;
            all += parts[i];
        }
        mb_share_round(parts, count, tenths);
        for (size_t i = 0; i < count; i++)
            raised += parts[i] / all * 1000 < 1; /* may have been lifted to 0.1 */
        for (size_t i = 0; i < count; i++) {
            double exact = parts[i] / all * 1000;
            sum += tenths[i];
            cr_assert(fabs(tenths[i] - exact) < 1 + raised);
            cr_assert_gt(tenths[i], 0);
        }
        cr_assert_eq(sum, 1000);
    }
    {
        double thirds[] = { 1, 1, 1 };
        int tenths[3];

        mb_share_round(thirds, 3, tenths);
        cr_assert(tenths[0] == 334 && tenths[1] == 333 && tenths[2] == 333);
    }
    { /* the tenth for what is there but too little comes from the last of the largest */
        double halves[] = { 5000, 5000, 1 };
        int tenths[3];

        mb_share_round(halves, 3, tenths);
        cr_assert(tenths[0] == 500 && tenths[1] == 499 && tenths[2] == 1);
    }
}

/* ---- several views and elements -------------------------------------------------------------- */

/* 6 of 120, 20 of 80 and 0 of 40 cm2: 26 of 240 = 10.83 %; the mean of the percentages would be
 * 10.0. Each element on its own photo at its own scale. */
Test(measure, elements_are_weighed_by_area)
{
    mb_arena *arena = mb_arena_new();
    const char *text =
        "{\"format\":\"markerbed-outlines/1\",\"notExamined\":[\"nothing\"],\"views\":["
        "{\"name\":\"one\",\"lineWidthPx\":1,\"scaleBar\":{\"px\":1000,\"mm\":100},\"specimens\":[{"
        "\"element\":\"skull\",\"uncovered\":\"original\",\"outline\":[[0,0],[1200,0],[1200,1000],"
        "[0,1000]]}],\"regions\":[{\"substance\":\"restored\",\"outline\":[[10,10],[310,10],"
        "[310,210],[10,210]]}]},"
        "{\"name\":\"two\",\"lineWidthPx\":1,\"scaleBar\":{\"px\":500,\"mm\":100},\"specimens\":[{"
        "\"element\":\"jaw\",\"uncovered\":\"original\",\"outline\":[[0,0],[500,0],[500,400],"
        "[0,400]]}],\"regions\":[{\"substance\":\"restored\",\"outline\":[[0,0],[250,0],[250,200],"
        "[0,200]]}]},"
        "{\"name\":\"three\",\"lineWidthPx\":1,\"scaleBar\":{\"px\":2000,\"mm\":100},\"specimens\":"
        "[{\"element\":\"rib\",\"uncovered\":\"original\",\"outline\":[[0,0],[1600,0],[1600,1000],"
        "[0,1000]]}]}]}";
    const struct mb_tally *whole = measure_text(arena, text, NULL)->tallies;

    adds_up(whole);
    near_to(whole->mm2, 24000, 1e-6, "area");
    near_to(whole->substance[MB_SUBSTANCE_RESTORED].share, 26.0 / 240, 1e-12, "share");
    cr_assert_eq(tenths_of(whole, MB_SUBSTANCE_RESTORED), 108);
    cr_assert_eq(whole->weight_count, 3);
    cr_assert(whole->weights[0].tenths == 500 && whole->weights[1].tenths == 333
              && whole->weights[2].tenths == 167);
    cr_assert_str_eq(whole->element, "skull, jaw, rib");
    cr_assert_str_eq(whole->view, "one, two, three");
    cr_assert_eq(tenths_of(whole->next, MB_SUBSTANCE_RESTORED), 50);
    cr_assert_eq(tenths_of(whole->next->next, MB_SUBSTANCE_RESTORED), 250);
    /* The whole's range also holds what the three scale bars may be off by. */
    cr_assert(whole->substance[MB_SUBSTANCE_RESTORED].low < 0.108
              && whole->substance[MB_SUBSTANCE_RESTORED].high > 0.109);
    mb_arena_free(arena);
}

/* Two elements in two views: a row for each, for each element, for each view, and for the whole. */
#define TWO                                                                                        \
    "{\"name\":\"%s\",\"lineWidthPx\":2,\"scaleBar\":{\"px\":%g,\"mm\":%d},\"specimens\":["        \
    "{\"element\":\"skull\",\"uncovered\":\"original\",\"outline\":[[0,0],[%d,0],[%d,100],[0,100]" \
    "]},"                                                                                          \
    "{\"element\":\"jaw\",\"outline\":[[0,200],[100,200],[100,%d],[0,%d]]}],\"regions\":["         \
    "{\"substance\":\"restored\",\"outline\":[[0,0],[20,0],[20,100],[0,100]]}]}"

static const struct mb_tally *two_by_two(mb_arena *arena, double front_px, double back_px)
{
    const char *text = mb_arena_printf(
        arena, "{\"format\":\"markerbed-outlines/1\",\"notExamined\":[\"x\"],\"views\":[%s,%s]}",
        mb_arena_printf(arena, TWO, "front", front_px, 10, 300, 300, 400, 400),
        mb_arena_printf(arena, TWO, "back", back_px, 8, 50, 50, 250, 250));

    return measure_text(arena, text, NULL)->tallies;
}

Test(measure, wholes_come_before_their_parts)
{
    mb_arena *arena = mb_arena_new();
    static const char *const rows[][2] = {
        { "skull, jaw", "front, back" },
        { "skull", "front, back" },
        { "jaw", "front, back" },
        { "skull, jaw", "front" },
        { "skull, jaw", "back" },
        { "skull", "front" },
        { "jaw", "front" },
        { "skull", "back" },
        { "jaw", "back" },
    };
    const struct mb_tally *tally = two_by_two(arena, 50, 80);
    /* Square millimetres: front 0.2 mm to a pixel, back 0.1. */
    double skull = 300 * 100 * 0.04 + 50 * 100 * 0.01, jaw = 200 * 100 * 0.04 + 50 * 100 * 0.01;

    near_to(tally->mm2, skull + jaw, 1e-9, "area of the whole");
    near_to(tally->next->mm2, skull, 1e-9, "area of the skull");
    near_to(tally->substance[MB_SUBSTANCE_RESTORED].share,
            (20 * 100 * 0.04 + 20 * 100 * 0.01) / (skull + jaw), 1e-12, "restored of the whole");
    for (size_t i = 0; i < 9; i++, tally = tally->next) {
        cr_assert_not_null(tally, "only %d rows", (int)i);
        adds_up(tally);
        cr_assert_str_eq(tally->element, rows[i][0]);
        cr_assert_str_eq(tally->view, rows[i][1]);
    }
    cr_assert_null(tally);
    mb_arena_free(arena);
}

Test(measure, data_tells_the_weights)
{
    mb_arena *arena = mb_arena_new();
    const struct mb_outlines *outlines;
    const struct mb_measured *all;
    struct mb_error err = { .code = MB_OK };
    const char *text = mb_arena_printf(
        arena, "{\"format\":\"markerbed-outlines/1\",\"notExamined\":[\"x\"],\"views\":[%s,%s]}",
        mb_arena_printf(arena, TWO, "front", 50.0, 10, 300, 300, 400, 400),
        mb_arena_printf(arena, TWO, "back", 80.0, 8, 50, 50, 250, 250));
    const mb_json *total;
    double percent = 0, mm2 = 0;

    cr_assert_eq(mb_outlines_read(arena, "two", mb_str_of(text), NULL, &outlines, &err), MB_OK);
    cr_assert_eq(mb_measure(arena, outlines, &all, &err), MB_OK, "%s", err.text);
    total = mb_json_at(mb_json_get(mb_measure_json(arena, all), "totals"), 0);
    cr_assert(mb_json_text_is(mb_json_get(total, "element"), "skull, jaw"));
    cr_assert_eq(mb_json_get(total, "weights")->count, 4);
    MB_JSON_EACH(weight, mb_json_get(total, "weights")) {
        percent += strtod(mb_json_cstr(arena, mb_json_get(weight, "percent")), NULL);
        mm2 += strtod(mb_json_cstr(arena, mb_json_get(weight, "areaMm2")), NULL);
    }
    near_to(percent, 100, 1e-9, "weights together");
    near_to(mm2, strtod(mb_json_cstr(arena, mb_json_get(total, "areaMm2")), NULL), 0.01, "areas");
    mb_arena_free(arena);
}

/* Each bar may be off by half a line at either end; whatever the two are off by, the share that
 * then follows lies in the range. */
Test(measure, the_range_of_a_whole_holds_what_scale_bars_may_be_off_by)
{
    mb_arena *arena = mb_arena_new();
    const struct mb_tally *plain = two_by_two(arena, 50, 80);

    for (double front = -2; front <= 2; front += 0.5)
        for (double back = -2; back <= 2; back += 0.5) {
            const struct mb_tally *other = two_by_two(arena, 50 + front, 80 + back);

            for (size_t s = 0; s < MB_SUBSTANCES; s++) {
                cr_assert_leq(plain->substance[s].low, other->substance[s].share + 1e-12);
                cr_assert_geq(plain->substance[s].high, other->substance[s].share - 1e-12);
            }
            cr_assert_leq(plain->mm2_low, other->mm2);
            cr_assert_geq(plain->mm2_high, other->mm2);
        }
    mb_arena_free(arena);
}

Test(measure, views_without_a_scale_are_not_put_together)
{
    mb_arena *arena = mb_arena_new();
    const char *text =
        "{\"format\":\"markerbed-outlines/1\",\"notExamined\":[\"nothing\"],\"views\":["
        "{\"name\":\"front\",\"lineWidthPx\":1,\"specimens\":[{\"uncovered\":\"original\","
        "\"outline\":[[0,0],[100,0],[100,100]]}]},"
        "{\"name\":\"back\",\"lineWidthPx\":1,\"scaleBar\":{\"px\":50,\"mm\":10},\"specimens\":[{"
        "\"outline\":[[0,0],[100,0],[100,100]]}]}]}";
    const struct mb_measured *all = measure_text(arena, text, NULL);

    cr_assert_str_eq(all->tallies->view, "front");
    cr_assert_str_eq(all->tallies->next->view, "back");
    cr_assert_null(all->tallies->next->next, "there is a whole after all");
    says(all->notes->text, "not every view has a scale bar");
    mb_arena_free(arena);
}

/* ---- counts ---------------------------------------------------------------------------------- */

Test(measure, counted_and_drawn_shares_stand_apart)
{
    mb_arena *arena = mb_arena_new();
    const char *text = one_view(
        arena, SQUARE ",\"uncovered\":\"original\"}],\"points\":[{\"counts\":{\"original\":100}}],"
                      "\"estimates\":[{\"substance\":\"filled\",\"band\":\"under 5 %\"},"
                      "{\"surface\":\"consolidated\",\"extent\":\"throughout\"}]");
    const struct mb_measured *all = measure_text(arena, text, NULL);
    const struct mb_tally *drawn = all->tallies, *counted = drawn->next;
    mb_json *json = mb_measure_json(arena, all);
    const mb_json *estimate = NULL;
    size_t estimates = 0;

    cr_assert_eq(drawn->how, MB_HOW_OUTLINE);
    cr_assert_eq(counted->how, MB_HOW_POINTS);
    cr_assert_null(counted->next);
    adds_up(counted);
    cr_assert_eq(counted->substance[MB_SUBSTANCE_FILLED].tenths, 0);
    cr_assert_eq(counted->substance[MB_SUBSTANCE_FILLED].tenths_high, 37,
                 "0 of 100 is 0 to 3.7 %%");
    cr_assert_eq(counted->sum[MB_SUM_NOT_ORIGINAL].tenths_high, 37);
    cr_assert_eq(counted->substance[MB_SUBSTANCE_ORIGINAL].tenths_low, 963);
    MB_JSON_EACH(row, mb_json_get(json, "shares")) {
        if (!mb_json_text_is(mb_json_get(row, "how"), "estimate"))
            continue;
        estimate = row;
        estimates++;
    }
    cr_assert_eq(estimates, 1);
    cr_assert(mb_json_text_is(mb_json_get(estimate, "band"), "under 5"));
    cr_assert_null(mb_json_get(estimate, "percent"), "an estimate has a figure");
    mb_arena_free(arena);
}

Test(measure, counts_of_elements_are_weighed_by_area)
{
    mb_arena *arena = mb_arena_new();
    const char *text = "element;substance;count;areaMm2\n"
                       "skull;original;90;12000\nskull;restored;10;\n"
                       "jaw;original;30;8000,0\njaw;filled;10;\n";
    const struct mb_tally *whole = measure_text(arena, text, GIVEN_ALL)->tallies;

    adds_up(whole);
    cr_assert_eq(whole->n, 140);
    near_to(whole->substance[MB_SUBSTANCE_RESTORED].share, 0.6 * 0.1, 1e-12, "restored");
    near_to(whole->substance[MB_SUBSTANCE_FILLED].share, 0.4 * 0.25, 1e-12, "filled");
    cr_assert_eq(whole->weights[0].tenths, 600);
    cr_assert_eq(tenths_of(whole->next, MB_SUBSTANCE_ORIGINAL), 900);
    mb_arena_free(arena);
}

/* ---- surfaces and joins ---------------------------------------------------------------------- */

Test(measure, surfaces_overlap_freely_and_say_on_what)
{
    mb_arena *arena = mb_arena_new();
    const char *text = square(
        arena, ",\"uncovered\":\"original\"",
        mb_arena_printf(arena, "%s,%s,%s", box(arena, "\"substance\":\"filled\"", 0, 0, 200, 1000),
                        box(arena, "\"surface\":[\"inpainted\",\"coated\"]", 100, 0, 300, 1000),
                        box(arena, "\"surface\":\"coated\"", 200, 0, 700, 1000)));
    const struct mb_tally *tally = measure_text(arena, text, NULL)->tallies;

    adds_up(tally);
    cr_assert_eq(tally->surface[MB_SURFACE_INPAINTED].tenths, 200);
    cr_assert_eq(tally->surface_on[MB_SURFACE_INPAINTED][MB_SUBSTANCE_FILLED].tenths, 100);
    cr_assert_eq(tally->surface_on[MB_SURFACE_INPAINTED][MB_SUBSTANCE_ORIGINAL].tenths, 100);
    cr_assert_eq(tally->surface[MB_SURFACE_COATED].tenths, 600, "the two coats are counted twice");
    cr_assert_eq(tally->surface_on[MB_SURFACE_COATED][MB_SUBSTANCE_ORIGINAL].tenths, 500);
    cr_assert_not(tally->surface[MB_SURFACE_BARE].there);
    mb_arena_free(arena);
}

#define JOINED                                                                                   \
    "{\"name\":\"%s\",\"scaleBar\":{\"px\":100,\"mm\":%d},\"joins\":["                           \
    "{\"name\":\"break 1\",\"through\":\"fossil\",\"gapMm\":\"%s\",\"line\":[[0,0],[300,400]]}," \
    "{\"name\":\"break 1\",\"through\":\"fossil\",\"line\":[[0,0],[0,100]]},"                    \
    "{\"through\":\"rock\",\"line\":[[0,0],[100,0],[0,0]]}]}"

Test(measure, a_join_seen_in_two_views_is_one_join)
{
    mb_arena *arena = mb_arena_new();
    const char *text = mb_arena_printf(
        arena, "{\"format\":\"markerbed-outlines/1\",\"notExamined\":[\"x\"],\"views\":[%s,%s]}",
        mb_arena_printf(arena, JOINED, "front", 10, "0.4"),
        mb_arena_printf(arena, JOINED, "back", 9, "1.20"));
    const struct mb_join_group *fossil = measure_text(arena, text, NULL)->joins;

    cr_assert_eq(fossil->count, 1);
    near_to(fossil->mm, 60, 1e-9, "length in the view where it is longest");
    cr_assert_str_eq(fossil->gap_mm, "1.20");
    cr_assert_eq(fossil->next->through, MB_THROUGH_ROCK);
    cr_assert_eq(fossil->next->count, 2, "joins without a name are each their own");
    near_to(fossil->next->mm, 19, 1e-9, "a line that runs back on itself is as long as one way");
    mb_arena_free(arena);
}

/* ---- what must not matter -------------------------------------------------------------------- */

struct turn {
    double scale, angle, dx, dy;
    bool mirrored;
};

static const char *turned(mb_arena *arena, struct turn t)
{
    static const double outline[][2] = { { 0, 0 }, { 900, 40 }, { 1000, 700 }, { 300, 820 } };
    static const double a[][2] = { { 100, 50 }, { 400, 80 }, { 380, 300 }, { 90, 250 } };
    static const double b[][2] = { { 300, 200 }, { 700, 180 }, { 720, 560 }, { 280, 600 } };
    const double(*lists[])[2] = { outline, a, b };
    const char *texts[3];

    for (size_t i = 0; i < 3; i++) {
        texts[i] = "";
        for (size_t j = 0; j < 4; j++) {
            double x = lists[i][j][0] * t.scale * (t.mirrored ? -1 : 1);
            double y = lists[i][j][1] * t.scale;
            texts[i] = mb_arena_printf(arena, "%s%s[%.9f,%.9f]", texts[i], j ? "," : "",
                                       t.dx + x * cos(t.angle) - y * sin(t.angle),
                                       t.dy + x * sin(t.angle) + y * cos(t.angle));
        }
    }
    return one_view(arena,
                    mb_arena_printf(arena,
                                    "\"lineWidthPx\":%.9f,\"scaleBar\":{\"px\":%.9f,"
                                    "\"mm\":40},\"specimens\":[{\"uncovered\":\"original\","
                                    "\"outline\":[%s]}],\"regions\":["
                                    "{\"substance\":\"filled\",\"outline\":[%s]},"
                                    "{\"substance\":\"repaired\",\"surface\":\"coated\","
                                    "\"outline\":[%s]}]",
                                    3 * t.scale, 200 * t.scale, texts[0], texts[1], texts[2]));
}

static void same_share(const struct mb_share *a, const struct mb_share *b)
{
    near_to(a->share, b->share, 1e-7, "share");
    near_to(a->low, b->low, 2e-6, "low end"); /* round corners are chords, which turn along */
    near_to(a->high, b->high, 2e-6, "high end");
}

Test(measure, size_turn_place_and_mirroring_of_a_photo_do_not_matter)
{
    mb_arena *arena = mb_arena_new();
    const struct mb_tally *plain =
        measure_text(arena, turned(arena, (struct turn){ .scale = 1 }), NULL)->tallies;
    uint64_t state = 2463534242u;

    for (int i = 0; i < 40; i++) {
        struct turn t;
        const struct mb_tally *other;

        state = state * 6364136223846793005u + 1442695040888963407u;
        t.scale = 0.2 + (double)(state >> 40) / (double)(1 << 24) * 20;
        state = state * 6364136223846793005u + 1442695040888963407u;
        t.angle = (double)(state >> 40) / (double)(1 << 24) * 2 * M_PI;
        t.dx = (double)(state >> 50) * 10;
        t.dy = -(double)(state >> 52) * 7;
        t.mirrored = i % 2;
        other = measure_text(arena, turned(arena, t), NULL)->tallies;
        for (size_t s = 0; s < MB_SUBSTANCES; s++)
            same_share(&plain->substance[s], &other->substance[s]);
        for (size_t s = 0; s < MB_SUMS; s++)
            same_share(&plain->sum[s], &other->sum[s]);
        same_share(&plain->surface[MB_SURFACE_COATED], &other->surface[MB_SURFACE_COATED]);
        near_to(other->mm2 / plain->mm2, 1, 1e-7, "area");
    }
    mb_arena_free(arena);
}

/* Scale bar n times as long in millimetres: n^2 times the area, the same shares. */
Test(measure, area_goes_with_the_square_of_the_scale)
{
    mb_arena *arena = mb_arena_new();
    double areas[2];

    for (int i = 0; i < 2; i++)
        areas[i] = measure_text(arena,
                                one_view(arena, mb_arena_printf(arena,
                                                                "\"lineWidthPx\":1,\"scaleBar\":"
                                                                "{\"px\":100,\"mm\":%d},"
                                                                "\"specimens\":[{\"outline\":"
                                                                "[[0,0],[100,0],[100,100],"
                                                                "[0,100]]}]",
                                                                i ? 70 : 10)),
                                NULL)
                       ->tallies->mm2;
    near_to(areas[0], 100, 1e-9, "area");
    near_to(areas[1], 4900, 1e-9, "area");
    mb_arena_free(arena);
}

/* ---- as data --------------------------------------------------------------------------------- */

Test(measure, rows_are_compared_with_what_the_outlines_give)
{
    mb_arena *arena = mb_arena_new();
    struct mb_error err = { .code = MB_OK };
    const char *text =
        square(arena, ",\"uncovered\":\"original\"",
               box(arena, "\"substance\":\"filled\",\"surface\":\"coated\"", 0, 0, 500, 200));
    const struct mb_measured *all = measure_text(arena, text, NULL);
    const mb_json *json = mb_measure_json(arena, all), *back;
    struct mb_str written = mb_json_write(arena, json);
    const mb_json *shares;
    char *changed;

    cr_assert_eq(mb_json_read(arena, written, MB_JSON_STRICT, &back, &err), MB_OK, "%s", err.text);
    shares = mb_json_get(back, "shares");
    cr_assert_eq(mb_measure_compare(arena, all, shares, mb_json_get(back, "surfaces"),
                                    mb_json_get(back, "joins"), &err),
                 MB_OK, "%s", err.text);
    cr_assert_eq(mb_measure_compare(arena, all, NULL, NULL, NULL, &err), MB_NO);
    says(err.text, "not recorded");

    changed = mb_arena_copy(arena, written.at, written.len);
    memcpy(strstr(changed, "\"10.0\""), "\"10.2\"", 6);
    err = (struct mb_error){ .code = MB_OK };
    cr_assert_eq(
        mb_json_read(arena, (struct mb_str){ changed, written.len }, MB_JSON_STRICT, &back, &err),
        MB_OK);
    cr_assert_eq(mb_measure_compare(arena, all, mb_json_get(back, "shares"),
                                    mb_json_get(back, "surfaces"), NULL, &err),
                 MB_NO);
    says(err.text, "is recorded as 10.2, the outlines give 10");
    mb_arena_free(arena);
}

Test(measure, the_same_outlines_give_the_same_bytes)
{
    mb_arena *arena = mb_arena_new();
    const char *text = turned(arena, (struct turn){ .scale = 1.37, .angle = 0.4, .dx = 900 });
    struct mb_str a = mb_json_write(arena, mb_measure_json(arena, measure_text(arena, text, NULL)));
    struct mb_str b = mb_json_write(arena, mb_measure_json(arena, measure_text(arena, text, NULL)));

    cr_assert(mb_str_equal(a, b));
    mb_arena_free(arena);
}
