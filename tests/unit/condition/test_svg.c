#include "measuring.h"

#include <stdio.h>

#include "svgpath.h"
#include "svgxml.h"

static const struct mb_svgline *path(mb_arena *arena, const char *data, struct mb_svgmove move)
{
    struct mb_error err = { .code = MB_OK };
    const struct mb_svgline *line = NULL;

    cr_assert_eq(mb_svgpath_read(arena, mb_str_of(data), move, 100000, &line, &err), MB_OK,
                 "%s: %s", data, err.text);
    return line;
}

static void passes(const struct mb_svgline *line, size_t i, double x, double y)
{
    cr_assert_lt(i, line->count);
    cr_assert(fabs(line->at[i].x - x) < 1e-9 && fabs(line->at[i].y - y) < 1e-9,
              "corner %d is %.10g, %.10g and not %.10g, %.10g", (int)i, line->at[i].x,
              line->at[i].y, x, y);
}

/* ---- path data ------------------------------------------------------------------------------- */

/* The same square in many spellings (SVG 1.1, 8.3: separators may be left out where the next
 * character cannot belong to the number; more numbers repeat the command, behind M as L). */
Test(svg, the_same_square_in_many_spellings)
{
    mb_arena *arena = mb_arena_new();
    static const char *const texts[] = {
        "M 10 20 L 30 20 L 30 40 L 10 40 Z",
        "M10,20 30,20 30,40 10,40z",
        "m10 20 20 0 0 20 -20 0z",
        "M10 20H30V40H10Z",
        "M10 20h20v20h-20z",
        "m10,20h+2e1v.2E2h-20.0z",
        "M1e1 20L30 20 30 40 10 40Z",
        "\n M 10\t20\r\nh20 v20-0h-20 Z ",
    };

    for (size_t i = 0; i + 1 < sizeof texts / sizeof texts[0]; i++) {
        const struct mb_svgline *line = path(arena, texts[i], mb_svgmove_none);

        cr_assert(line->closed && line->count == 4 && !line->next, "%s", texts[i]);
        passes(line, 0, 10, 20);
        passes(line, 1, 30, 20);
        passes(line, 2, 30, 40);
        passes(line, 3, 10, 40);
    }
    mb_arena_free(arena);
}

Test(svg, numbers_may_stand_without_blanks)
{
    mb_arena *arena = mb_arena_new();
    const struct mb_svgline *line = path(arena, "M.5.5-1-2L1.5.25", mb_svgmove_none);

    cr_assert_eq(line->count, 3);
    passes(line, 0, 0.5, 0.5);
    passes(line, 1, -1, -2);
    passes(line, 2, 1.5, 0.25);
    mb_arena_free(arena);
}

Test(svg, drawing_on_behind_z_starts_at_the_start)
{
    mb_arena *arena = mb_arena_new();
    const struct mb_svgline *line = path(arena, "M10 10h5v5zl0-5h-5zm1 1h1", mb_svgmove_none);

    cr_assert(line->closed && line->count == 3);
    line = line->next;
    cr_assert(line->closed && line->count == 3);
    passes(line, 0, 10, 10);
    passes(line, 1, 10, 5);
    line = line->next;
    cr_assert_not(line->closed);
    passes(line, 0, 11, 11);
    mb_arena_free(arena);
}

/* Distance of a point from a curve, as 20,000 chords of it. */
static double off_curve(struct mb_xy at, struct mb_xy (*curve)(double))
{
    double best = INFINITY;
    struct mb_xy a = curve(0);

    for (int i = 1; i <= 20000; i++) {
        struct mb_xy b = curve(i / 20000.0);
        double x = b.x - a.x, y = b.y - a.y;
        double t = ((at.x - a.x) * x + (at.y - a.y) * y) / (x * x + y * y);

        t = fmax(0, fmin(1, t));
        best = fmin(best, hypot(a.x + t * x - at.x, a.y + t * y - at.y));
        a = b;
    }
    return best;
}

static struct mb_xy cubic(double t)
{
    double u = 1 - t;

    return (struct mb_xy){ 3 * u * u * t * 40 + 3 * u * t * t * 300 + t * t * t * 200,
                           3 * u * u * t * 400 - 3 * u * t * t * 350 + t * t * t * 100 };
}

static struct mb_xy quadratic(double t)
{
    double u = 1 - t;

    return (struct mb_xy){ 2 * u * t * 500 + t * t * 200, 2 * u * t * 300 - t * t * 50 };
}

static void flat_enough(const struct mb_svgline *line, struct mb_xy (*curve)(double))
{
    cr_assert_gt(line->count, 10);
    cr_assert_lt(line->count, 1000);
    for (size_t i = 0; i + 1 < line->count; i++) {
        struct mb_xy a = line->at[i], b = line->at[i + 1];
        struct mb_xy middle = { (a.x + b.x) / 2, (a.y + b.y) / 2 };

        cr_assert_leq(off_curve(a, curve), 1e-4, "corner %d is off the curve", (int)i);
        cr_assert_leq(off_curve(middle, curve), MB_SVGPATH_FLAT + 1e-4, "chord %d is off", (int)i);
    }
}

Test(svg, chords_stay_as_near_to_the_curve_as_is_said)
{
    mb_arena *arena = mb_arena_new();

    flat_enough(path(arena, "M0 0C40 400 300-350 200 100", mb_svgmove_none), cubic);
    flat_enough(path(arena, "M0 0q500 300 200-50", mb_svgmove_none), quadratic);
    /* Drawn at a tenth of the size and enlarged by a transform: just as near. */
    flat_enough(path(arena, "M0 0C4 40 30-35 20 10", (struct mb_svgmove){ 10, 0, 0, 10, 0, 0 }),
                cubic);
    mb_arena_free(arena);
}

/* S and T go on with the mirrored control point (SVG 1.1, 8.3.6 and 8.3.7). */
Test(svg, smooth_commands_mirror_the_control_point)
{
    mb_arena *arena = mb_arena_new();
    static const char *const pairs[][2] = {
        { "M0 0C0 50 80 90 100 40S200-70 250 0", "M0 0C0 50 80 90 100 40C120-10 200-70 250 0" },
        { "M0 0Q50 80 100 0T200 0T300 10", "M0 0Q50 80 100 0Q150-80 200 0Q250 80 300 10" },
        { "M0 0L5 5S60 70 80 10", "M0 0L5 5C5 5 60 70 80 10" },
        { "m7 3c0 50 80 90 100 40s100-110 150-40", "m7 3c0 50 80 90 100 40c20-50 100-110 150-40" },
    };

    for (size_t p = 0; p < 4; p++) {
        const struct mb_svgline *a = path(arena, pairs[p][0], mb_svgmove_none);
        const struct mb_svgline *b = path(arena, pairs[p][1], mb_svgmove_none);

        cr_assert_eq(a->count, b->count);
        for (size_t i = 0; i < a->count; i++)
            passes(a, i, b->at[i].x, b->at[i].y);
    }
    mb_arena_free(arena);
}

static double ring_area(const struct mb_svgline *line)
{
    double sum = 0;

    for (size_t i = 0; i < line->count; i++) {
        struct mb_xy a = line->at[i], b = line->at[(i + 1) % line->count];
        sum += a.x * b.y - b.x * a.y;
    }
    return sum / 2;
}

/* A chord of 6 in a circle of radius 5 lies 4 from the centre: it cuts off
 * 25 acos(4/5) - 12 of 25 pi. The flags choose which piece, and on which side it lies. */
Test(svg, arcs_cut_off_the_area_of_their_segment)
{
    mb_arena *arena = mb_arena_new();
    double small = 25 * acos(0.8) - 12, large = 25 * M_PI - small;
    static const char *const spelled[] = { "M0 0A5 5 0 0 0 6 0Z", "M0 0A5 5 0 0 1 6 0Z",
                                           "M0 0a5 5 0 106 0z", "M0 0a5,5,0,1,1,6,0z" };
    double wanted[] = { -small, small, -large, large };
    struct mb_svgmove big = { 100, 0, 0, 100, 0, 0 };

    for (size_t i = 0; i < 4; i++) {
        double area = ring_area(path(arena, spelled[i], big)) / 10000;
        cr_assert(fabs(area + wanted[i]) < 0.002 || fabs(area - wanted[i]) < 0.002,
                  "%s has %.6f, not %.6f", spelled[i], area, wanted[i]);
    }
    /* Sweep 1 is the way from the x axis to the y axis: over a chord to the right, y gets below. */
    cr_assert_lt(path(arena, spelled[1], big)->at[2].y, 0);
    cr_assert_gt(path(arena, spelled[0], big)->at[2].y, 0);
    mb_arena_free(arena);
}

/* All corners of a turned elliptic arc satisfy the equation of its ellipse. */
Test(svg, corners_of_an_arc_lie_on_its_ellipse)
{
    mb_arena *arena = mb_arena_new();
    double rx = 90, ry = 30, turn = 25 * M_PI / 180;
    /* Half an ellipse: from one end of its long axis to the other, so the centre is between. */
    double ex = rx * cos(turn), ey = rx * sin(turn);
    const struct mb_svgline *line =
        path(arena,
             mb_arena_printf(arena, "M%.12f %.12fA%g %g 25 0 1 %.12f %.12f", 200 - ex, 100 - ey, rx,
                             ry, 200 + ex, 100 + ey),
             mb_svgmove_none);

    cr_assert_gt(line->count, 20);
    for (size_t i = 0; i < line->count; i++) {
        double dx = line->at[i].x - 200, dy = line->at[i].y - 100;
        double u = (dx * cos(turn) + dy * sin(turn)) / rx;
        double v = (-dx * sin(turn) + dy * cos(turn)) / ry;

        cr_assert(fabs(u * u + v * v - 1) < 1e-6, "corner %d", (int)i);
    }
    /* Radii too small for the way are enlarged (F.6.6): this is half a circle of radius 50. */
    cr_assert(
        fabs(fabs(ring_area(path(arena, "M0 0A1 1 0 0 1 100 0", mb_svgmove_none))) - M_PI * 1250)
        < 2);
    /* A radius of 0 is a straight line; no way at all is nothing. */
    cr_assert_eq(path(arena, "M0 0A0 5 0 0 1 9 9", mb_svgmove_none)->count, 2);
    cr_assert_eq(path(arena, "M0 0A5 5 0 0 1 0 0", mb_svgmove_none)->count, 1);
    mb_arena_free(arena);
}

Test(svg, refuses_path_data_by_name)
{
    mb_arena *arena = mb_arena_new();
    static const char *const rows[][2] = {
        { "M0 0 B 1 2", "the command 'B' at character 6" },
        { "M0 0 R 1 2 3 4", "the command 'R'" },
        { "L 1 2", "do not begin with M" },
        { "M 1", "no number" },
        { "M 1 x", "the path data have no number up to 1000000 at character 5" },
        { "M0 0 L 1 nan", "no number" },
        { "M0 0 L 1 2e9", "no number up to" },
        { "M0 0 A 5 5 0 2 1 3 3", "no flag 0 or 1" },
        { "M0 0 Z 5 5", "no command at character 8" },
        { "M0 0 ! 5", "no number" },
        { "5 5", "no command at character 1" },
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct mb_error err = { .code = MB_OK };
        const struct mb_svgline *line = NULL;

        cr_assert_eq(
            mb_svgpath_read(arena, mb_str_of(rows[i][0]), mb_svgmove_none, 1000, &line, &err),
            MB_REFUSED, "%s", rows[i][0]);
        says(err.text, rows[i][1]);
        cr_assert_null(line);
    }
    mb_arena_free(arena);
}

/* ---- transforms ------------------------------------------------------------------------------ */

static struct mb_xy moved(const char *transform, double x, double y)
{
    struct mb_error err = { .code = MB_OK };
    struct mb_svgmove move;

    cr_assert_eq(mb_svgmove_read(mb_str_of(transform), &move, &err), MB_OK, "%s", err.text);
    return mb_svgmove_do(move, (struct mb_xy){ x, y });
}

Test(svg, transforms_move_points_as_the_standard_says)
{
    static const struct {
        const char *transform;
        double x, y, to_x, to_y;
    } rows[] = {
        { "", 3, 4, 3, 4 },
        { "translate(10)", 3, 4, 13, 4 },
        { "translate(10,-20)", 3, 4, 13, -16 },
        { "scale(2)", 3, 4, 6, 8 },
        { "scale(2 -1)", 3, 4, 6, -4 },
        { "rotate(90)", 1, 0, 0, 1 },
        { "rotate(90, 10, 10)", 20, 10, 10, 20 },
        { "rotate(-450)", 1, 0, 0, -1 },
        { "skewX(45)", 1, 2, 3, 2 },
        { "skewY(45)", 2, 1, 2, 3 },
        { "matrix(1 2 3 4 5 6)", 10, 100, 315, 426 },
        /* the right-most first: scaled, then moved */
        { "translate(10 0) scale(2)", 3, 4, 16, 8 },
        { " scale( 2 ),translate(10,0)\n", 3, 4, 26, 8 },
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct mb_xy at = moved(rows[i].transform, rows[i].x, rows[i].y);

        cr_assert(fabs(at.x - rows[i].to_x) < 1e-12 && fabs(at.y - rows[i].to_y) < 1e-12,
                  "%s leads to %g, %g", rows[i].transform, at.x, at.y);
    }
}

Test(svg, refuses_transforms_that_it_does_not_know)
{
    static const char *const texts[] = { "rotate(1 2)",    "scale()",  "matrix(1 2 3 4 5)",
                                         "perspective(1)", "rotate(1", "matrix(1 2 3 4 5 6 7)",
                                         "translate(a)" };

    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        struct mb_error err = { .code = MB_OK };
        struct mb_svgmove move;

        cr_assert_eq(mb_svgmove_read(mb_str_of(texts[i]), &move, &err), MB_REFUSED, "%s", texts[i]);
        says(err.text, "the transform");
    }
}

/* ---- files ----------------------------------------------------------------------------------- */

#define HEAD                                                                               \
    "<?xml version=\"1.0\" encoding=\"UTF-8\"?><!-- drawn -->"                             \
    "<!DOCTYPE svg PUBLIC \"-//W3C//DTD SVG 1.1//EN\" \"svg11.dtd\">"                      \
    "<svg xmlns=\"http://www.w3.org/2000/svg\" data-view=\"front\" data-line-width=\"1\" " \
    "data-not-examined=\"reverse; under the mount\">"
#define SPECIMEN "<rect data-kind='specimen' data-uncovered='original' width='1000' height='1000'/>"

static const struct mb_tally *tally_of(mb_arena *arena, const char *shapes)
{
    return measure_text(arena, mb_arena_printf(arena, HEAD "%s</svg>", shapes), NULL)->tallies;
}

Test(svg, groups_hand_words_and_transforms_down)
{
    mb_arena *arena = mb_arena_new();
    const struct mb_measured *all = measure_text(
        arena,
        HEAD SPECIMEN
        "<g data-substance=\"filled\" transform=\"translate(100 100)\"><g transform='scale(2)'>"
        "<path d='M0 0h100v100h-100z'/></g>"
        "<polygon data-substance='restored' points='400,400 500,400 500,500 400,500'/></g>"
        "<g data-kind='join' data-through='fossil' data-cause='fell &amp; broke'>"
        "<polyline points='0 0 30 40'/><line x1='0' y1='0' x2='0' y2='7'/></g>"
        "<line data-kind='scale' data-mm='10' x1='0' y1='0' x2='100' y2='0'/>"
        "<text>words</text><image href='photo.jpg'/><path d='nothing of ours'/></svg>",
        NULL);
    const struct mb_tally *tally = all->tallies;

    cr_assert_eq(tally->substance[MB_SUBSTANCE_FILLED].tenths, 40);
    cr_assert_eq(tally->substance[MB_SUBSTANCE_RESTORED].tenths, 10);
    cr_assert_eq(tally->substance[MB_SUBSTANCE_ORIGINAL].tenths, 950);
    cr_assert(fabs(tally->mm2 - 10000) < 1e-6);
    cr_assert_eq(all->joins->count, 2);
    cr_assert(fabs(all->joins->mm - 5.7) < 1e-9);
    cr_assert_str_eq(all->joins->cause, "fell & broke");
    cr_assert_str_eq(all->outlines->not_examined[1], "under the mount");
    mb_arena_free(arena);
}

/* XML 1.0, 4.1: characters by number, decimal and hexadecimal, and the five by name. */
Test(svg, characters_by_number_and_name)
{
    mb_arena *arena = mb_arena_new();
    const char *cause = measure_text(arena,
                                     HEAD SPECIMEN "<path data-kind='join' data-through='rock' "
                                                   "data-cause='&#233;&#x2014;&#x1F41A;&lt;&gt;"
                                                   "&amp;&quot;&apos;' d='M0 0h9'/></svg>",
                                     NULL)
                            ->joins->cause;

    cr_assert_str_eq(cause, "\xC3\xA9\xE2\x80\x94\xF0\x9F\x90\x9A<>&\"'");
    mb_arena_free(arena);
}

/* SVG 1.1, 11.3: by the rule nonzero a ring inside another is a hole only if it runs the other way
 * round; by evenodd always. */
Test(svg, holes_follow_the_fill_rule)
{
    mb_arena *arena = mb_arena_new();
    static const struct {
        const char *attributes, *data;
        int tenths;
    } rows[] = {
        { "", "M0 0H1000V500H0ZM100 100V300H300V100Z", 460 },
        { "", "M0 0H1000V500H0ZM100 100H300V300H100Z", 500 },
        { "fill-rule='evenodd'", "M0 0H1000V500H0ZM100 100H300V300H100Z", 460 },
        { "style='fill:red;fill-rule:evenodd'", "M0 0H1000V500H0ZM100 100H300V300H100Z", 460 },
        { "fill-rule='evenodd'", "M150 150H250V250H150ZM0 0H1000V500H0ZM100 100H300V300H100Z",
          470 },
        { "", "M0 0H1000V500H0ZM100 100V300H300V100ZM150 150H250V250H150Z", 470 },
        { "", "M0 0H500V500H0ZM600 0H1000V500H600Z", 450 },
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct mb_tally *tally = tally_of(
            arena, mb_arena_printf(arena, SPECIMEN "<path data-substance='filled' %s d='%s'/>",
                                   rows[i].attributes, rows[i].data));

        cr_assert_eq(tally->substance[MB_SUBSTANCE_FILLED].tenths, rows[i].tenths,
                     "row %d: %d tenths", (int)i, tally->substance[MB_SUBSTANCE_FILLED].tenths);
    }
    mb_arena_free(arena);
}

Test(svg, views_lie_in_groups)
{
    mb_arena *arena = mb_arena_new();
    const struct mb_outlines *all =
        measure_text(arena,
                     "<svg:svg xmlns:svg='http://www.w3.org/2000/svg' data-line-width='2' "
                     "data-not-examined='nothing'><svg:g data-view='front'><svg:circle "
                     "data-kind='specimen' cx='50' cy='50' r='40px' data-setting='freed'/></svg:g>"
                     "<svg:g data-view='back' data-line-width='4' data-photo='b.jpg'><svg:ellipse "
                     "data-kind='specimen' rx='30' ry='20'/></svg:g></svg:svg>",
                     NULL)
            ->outlines;

    cr_assert_eq(all->view_count, 2);
    cr_assert_str_eq(all->views->name, "front");
    cr_assert_eq(all->views->next->line_px, 4);
    cr_assert_str_eq(all->views->next->photo, "b.jpg");
    cr_assert_str_eq(all->individuals->setting, "freed");
    mb_arena_free(arena);
}

Test(svg, refuses_drawings_in_one_sentence_with_the_line)
{
    mb_arena *arena = mb_arena_new();
    static const char *const rows[][2] = {
        { HEAD "</svg>", "no shape has data-kind=\"specimen\"" },
        { HEAD "<path d='M0 0'/>\n</svg>", "no shape has" },
        { HEAD SPECIMEN "\n<path id='p7' data-substance='fillled' d='M0 0h9v9z'/></svg>",
          "drawing: path 'p7' in line 2: data-substance 'fillled' is none of: original" },
        { HEAD SPECIMEN "<path data-substence='filled' d='M0 0h9v9z'/></svg>",
          "did you mean data-substance?" },
        { HEAD SPECIMEN "<path data-substance='filled' d='M0 0h9v9'/></svg>",
          "is not closed: it ends at 9, 9 and began at 0, 0" },
        { HEAD SPECIMEN "<path data-substance='filled' d='M0 0'/></svg>", "a single point" },
        { HEAD SPECIMEN "<path data-substance='filled' d=''/></svg>", "nothing is drawn in it" },
        { HEAD SPECIMEN "<path data-substance='filled'/></svg>", "nothing is drawn in it" },
        { HEAD SPECIMEN "<use data-substance='filled' href='#a'/></svg>", "a 'use' element" },
        { HEAD SPECIMEN "<defs><path data-substance='filled' d='M0 0h9v9z'/></defs></svg>",
          "a 'defs' element" },
        { HEAD SPECIMEN "<g display='none'><path data-substance='filled' d='M0 0h9v9z'/></g></svg>",
          "it is hidden" },
        { HEAD SPECIMEN "<path style='display: none' data-substance='filled' d='M0 0h9v9z'/></svg>",
          "it is hidden" },
        { HEAD SPECIMEN "<path style='transform:rotate(3deg)' data-substance='filled' "
                        "d='M0 0h9v9z'/></svg>",
          "its style has a transform" },
        { HEAD SPECIMEN "<path transform='warp(1)' data-substance='filled' d='M0 0h9z'/></svg>",
          "the transform 'warp'" },
        { HEAD SPECIMEN "<g transform='scale(0)'><path data-substance='filled' d='M0 0h9v9z'/></g>"
                        "</svg>",
          "leaves nothing to see" },
        { HEAD SPECIMEN "<rect rx='3' width='9' height='9' data-substance='filled'/></svg>",
          "rounded corners" },
        { HEAD SPECIMEN "<rect width='9mm' height='9' data-substance='filled'/></svg>",
          "its width '9mm' is no plain number" },
        { HEAD SPECIMEN "<circle r='0' data-substance='filled'/></svg>", "its radius" },
        { HEAD SPECIMEN "<path data-kind='join' d='M0 0h9'/></svg>", "data-through" },
        { HEAD SPECIMEN "<path data-kind='scale' d='M0 0h9'/></svg>", "does not say how long" },
        { HEAD SPECIMEN "<path data-kind='scale' data-mm='5' d='M0 0h9z'/></svg>",
          "one open line" },
        { HEAD SPECIMEN "<path data-kind='join' data-substance='filled' d='M0 0h9'/></svg>",
          "like a region" },
        { HEAD SPECIMEN "<path data-substance='filled' d='M0 0h900v900h-900zM500 500h900v9h-900z'/>"
                        "</svg>",
          "two lines of the same path cross each other" },
        { "<svg data-not-examined='x'>" SPECIMEN "</svg>", "which view it lies in" },
        { "<svg data-view='a' data-not-examined='x'>" SPECIMEN "</svg>",
          "the width of the drawn line is not stated" },
        { "<html></html>", "the outermost element is 'html', not svg" },
        { HEAD SPECIMEN, "ends before its elements are closed" },
        { HEAD "<g></svg></g>", "does not fit the element" },
        { HEAD "<g a='1' a='2'/></svg>", "the same attribute twice" },
        { HEAD "<g a=1/></svg>", "no quotation marks" },
        { HEAD "<g a='&lol;'/></svg>", "an entity that is not known" },
        { HEAD "<g a='&#0;'/></svg>", "an entity" },
        { "<!DOCTYPE svg [<!ENTITY a 'b'>]><svg/>", "declarations of its own" },
        { "<svg/><svg/>", "second outermost element" },
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        says(refusal(arena, rows[i][0], NULL), rows[i][1]);
    mb_arena_free(arena);
}

Test(svg, elements_too_deep_and_too_many_attributes_are_refused)
{
    mb_arena *arena = mb_arena_new();
    size_t room = 300 * 4 + 1;
    char *deep = mb_arena_get(arena, room);
    const char *wide = "<svg";

    for (size_t i = 0; i < 300; i++)
        memcpy(deep + 3 * i, "<g>", 3);
    says(refusal(arena, deep, GIVEN_ALL), "outermost element is 'g'");
    memcpy(deep, "<svg>", 5);
    memcpy(deep + 5, " ", 1);
    says(refusal(arena, deep, GIVEN_ALL), "too deep");
    for (int i = 0; i < 300; i++)
        wide = mb_arena_printf(arena, "%s a%d='1'", wide, i);
    says(refusal(arena, mb_arena_printf(arena, "%s/>", wide), GIVEN_ALL), "too many attributes");
    mb_arena_free(arena);
}
