/* Labels: where they lie on the sheet, what is refused. What a reader sees is judged from outside
 * by tests/e2e/cli_labels.py. */
#include <criterion/criterion.h>

#include <stdlib.h>
#include <string.h>

#include "labels_sheet.h"

static struct mb_error err;

static enum mb_rc grid(struct mb_label_sheet sheet, struct mb_label_grid *out)
{
    err = (struct mb_error){ 0 };
    return mb_label_grid(&sheet, out, &err);
}

/* The measures of a sheet by arithmetic: 5 labels of 38 mm and 4 gaps of 2.5 are 200 of 210 mm. */
Test(labels, a_grid_is_what_fits_between_the_margins)
{
    struct mb_label_grid g;

    cr_assert_eq(grid((struct mb_label_sheet){ .page_width = 210, .page_height = 297,
                                               .label_width = 38, .label_height = 21,
                                               .margin_left = 5, .margin_top = 12,
                                               .gap_across = 2.5 },
                      &g),
                 MB_OK, "%s", err.text);
    cr_expect_eq(g.across, 5);
    cr_expect_eq(g.down, 13); /* 13 x 21 = 273 = 297 - 24 */
    cr_expect_float_eq(g.step_across, 40.5, 1e-9);
}

/* Every sheet known by a name holds as many as its name says, and they lie on the paper. */
Test(labels, named_sheets_hold_what_they_say)
{
    mb_arena *arena = mb_arena_new();

    MB_JSON_EACH(one, mb_label_sheets(arena))
    {
        const char *name = mb_json_cstr(arena, mb_json_get(one, "name"));
        struct mb_label_grid g;

        cr_assert_eq(grid((struct mb_label_sheet){ .name = name }, &g), MB_OK);
        cr_expect_eq(g.across * g.down, (size_t)strtol(strchr(name, '-') + 1, NULL, 10),
                     "%s: %zu x %zu", name, g.across, g.down);
        cr_expect(g.left + g.step_across * (double)(g.across - 1) + g.width <= g.page_width + 0.1,
                  "%s runs off the side", name);
        cr_expect(g.top + g.step_down * (double)(g.down - 1) + g.height <= g.page_height + 0.1,
                  "%s runs off the foot", name);
    }
    mb_arena_free(arena);
}

Test(labels, measures_are_two_numbers)
{
    double w, h;

    cr_expect(mb_label_measure("63.5x38.1", &w, &h) && w > 63.4 && h < 38.2);
    cr_expect(!mb_label_measure("63.5", &w, &h));
    cr_expect(!mb_label_measure("-3x4", &w, &h));
    cr_expect(!mb_label_measure("3x-4", &w, &h));
    cr_expect(!mb_label_measure("3x4mm", &w, &h));
    cr_expect(!mb_label_measure("infx4", &w, &h));
}

Test(labels, a_code_too_fine_to_read_is_refused)
{
    const struct mb_canvas_setup setup = { .form = MB_CANVAS_PDF, .width_mm = 100,
                                           .height_mm = 100 };
    struct mb_label label = { .code = "ledger.harrowvane.example specimen/26-0115",
                              .number = "26-0115" };
    mb_arena *arena = mb_arena_new();
    mb_canvas *canvas;

    cr_assert_eq(mb_canvas_open(&setup, &canvas, &err), MB_OK, "%s", err.text);
    cr_expect_eq(mb_label_draw(canvas, arena, &label, (struct mb_mm_box){ 0, 0, 25, 25 }, &err),
                 MB_OK, "%s", err.text);
    cr_expect_eq(mb_label_draw(canvas, arena, &label, (struct mb_mm_box){ 0, 0, 30, 9 }, &err),
                 MB_REFUSED);
    cr_expect(strstr(err.text, "larger"), "%s", err.text);
    mb_canvas_close(canvas);
    mb_arena_free(arena);
}
