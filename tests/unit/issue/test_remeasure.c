/*
 * Shares on record against their outlines. By hand: a square of 100 x 100 pixels with a fill of
 * 20 x 50 in it, so 10 % are filled; a line of 1 pixel.
 */
#include <criterion/criterion.h>
#include <string.h>

#include "paper.h"
#include "remeasure.h"
#include "stock.h"
#include "text.h"

static struct workbench b;

static void set_up(void)
{
    stock_house(&b);
    stock_find(&b, "26-0115");
}

static void tear_down(void)
{
    workbench_done(&b);
}

TestSuite(remeasure, .init = set_up, .fini = tear_down);

static const char square[] =
    "{\"format\":\"markerbed-outlines/1\",\"notExamined\":[\"reverse\"],\"views\":[{\"name\":"
    "\"front\",\"lineWidthPx\":1,\"specimens\":[{\"uncovered\":\"original\",\"outline\":[[10,10],"
    "[110,10],[110,110],[10,110]]}],\"regions\":[{\"name\":\"fill\",\"substance\":\"filled\","
    "\"outline\":[[30,30],[50,30],[50,80],[30,80]]}]}]}";

/* What the program measured, as rows to type. */
static const char *measured_rows(void)
{
    const struct mb_outlines *outlines;
    const struct mb_measured *measured;
    const char *text = "";

    cr_assert_eq(mb_outlines_read(b.arena, "x", MB_STR(square), NULL, &outlines, NULL), MB_OK);
    cr_assert_eq(mb_measure(b.arena, outlines, &measured, NULL), MB_OK);
    MB_JSON_EACH(row, mb_json_get(mb_measure_json(b.arena, measured), "shares"))
    {
        text = mb_arena_printf(b.arena,
                               "%s%sview:front; substance:%s; percent:%s; low:%s; high:%s;"
                               " how:outline; n:2",
                               text, *text ? " | " : "",
                               mb_json_cstr(b.arena, mb_json_get(row, "substance")),
                               mb_json_cstr(b.arena, mb_json_get(row, "percent")),
                               mb_json_cstr(b.arena, mb_json_get(row, "low")),
                               mb_json_cstr(b.arena, mb_json_get(row, "high")));
    }
    return text;
}

static int64_t look(const char *shares, const char *outlines)
{
    const char *file = *outlines == '{' ? paper_file(&b, "drawn.json", mb_str_of(outlines))
                                        : outlines;

    return workbench_must(&b, "condition", "specimen/26-0115", "examinedBy=party/P002",
                          "occasion=after work", "means=eye", "examinerTie=did the work",
                          "notExamined=reverse", "form=natural", "surfaces=not examined",
                          "frame=visible fossil surface in the named views",
                          mb_arena_printf(b.arena, "shares=%s", shares), "joins=none",
                          mb_arena_printf(b.arena, "outlines=%s", file), NULL);
}

static const char *judged(void)
{
    return paper_judge(&b, paper_trust(&b), b.folder, NULL);
}

static int64_t count(const char *name)
{
    const mb_json *file = mb_json_at(mb_json_get(b.out, "files"), 0);

    return mb_json_int(mb_json_get(mb_json_get(file, "measured"), name), -1);
}

Test(remeasure, what_was_measured_agrees)
{
    look(measured_rows(), square);
    cr_assert_eq(judged()[0], '0', "%s", judged());
    cr_assert_eq(count("agree"), 1);
    cr_assert_eq(count("differ"), 0);
}

Test(remeasure, other_numbers_are_a_fault_until_they_are_corrected_or_void)
{
    char *wrong = mb_arena_text(b.arena, measured_rows());
    int64_t seq;

    memcpy(strstr(wrong, "10.0"), "10.3", 4);
    seq = look(wrong, square);
    cr_assert(strstr(judged(), "1 shares-differ"), "%s", judged());
    workbench_must(&b, "correction", "specimen/26-0115", "action=void (did not happen)",
                   "why=typing", "changesFacts=yes",
                   mb_arena_printf(b.arena, "target=#%lld", (long long)seq), NULL);
    cr_assert_eq(judged()[0], '0', "%s", judged());
    seq = look(wrong, square);
    cr_assert_eq(judged()[0], '1');
    workbench_must(&b, "correction", "specimen/26-0115", "action=change fields",
                   "why=measured again", "changesFacts=yes",
                   mb_arena_printf(b.arena, "target=#%lld", (long long)seq),
                   mb_arena_printf(b.arena, "shares=%s", measured_rows()), NULL);
    cr_assert_eq(judged()[0], '0', "%s", judged());
    cr_assert_eq(count("agree"), 1, "the void one is not looked at");
}

Test(remeasure, a_tenth_is_another_library_and_no_fault)
{
    char *near = mb_arena_text(b.arena, measured_rows());

    memcpy(strstr(near, "10.0"), "10.1", 4);
    look(near, square);
    cr_assert_eq(judged()[0], '0', "%s", judged());
}

Test(remeasure, a_substance_that_was_left_out_is_a_fault)
{
    const char *all = measured_rows(), *end = strstr(all, " | ");

    look(mb_arena_copy(b.arena, all, (size_t)(end - all)), square);
    cr_assert(strstr(judged(), "shares-differ"), "%s", judged());
}

Test(remeasure, what_is_no_drawing_was_not_checked)
{
    look(measured_rows(), "{\"format\":\"somebody-elses/7\"}");
    cr_assert(strstr(judged(), "0 shares-unchecked"), "%s", judged());
    cr_assert_eq(count("unchecked"), 1);
}

Test(remeasure, estimates_are_not_compared)
{
    look("view:front; substance:original; band:over 50; how:estimate", "none");
    cr_assert_eq(judged()[0], '0', "%s", judged());
    cr_assert_eq(count("agree"), -1, "there is nothing to say");
}

Test(remeasure, only_what_measure_writes_may_leave_with_a_sale)
{
    const struct mb_outlines *outlines;
    struct mb_str written;

    cr_assert_eq(mb_outlines_read(b.arena, "x", MB_STR(square), NULL, &outlines, NULL), MB_OK);
    cr_assert_eq(mb_outlines_write(b.arena, outlines, &written, NULL), MB_OK);
    cr_assert(mb_are_written_outlines(written));
    cr_assert(!mb_are_written_outlines(MB_STR(square)), "it has a region's name in it");
    cr_assert(!mb_are_written_outlines((struct mb_str){ written.at, written.len - 1 }));
    cr_assert(!mb_are_written_outlines(MB_STR("")));
    cr_assert(!mb_are_written_outlines(MB_STR("{}")));
    cr_assert(!mb_are_written_outlines(MB_STR("substance,count\noriginal,88\n")));
}
