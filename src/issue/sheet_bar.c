#include "sheet_bar.h"

#include "codec.h"
#include "marks.h"

#define BAR_MM 4.2
#define RANGE_MM 1.2 /* below the bar */
#define SCREEN_WIDTH_MM 150.0
#define SCREEN_BAR_MM 16.0 /* where it begins */
#define SCREEN_EDGE_MM 0.5

static const struct mb_ink black = { 0x1A1A1A, 0 }, pale = { 0xB0B0B0, 0 };

static struct mb_fill fill_of(enum mb_substance substance)
{
    static const struct mb_fill solid = { .pattern = MB_PATTERN_SOLID, .ink = { 0x5A6A80, 0 } };

    return substance == MB_SUBSTANCE_ORIGINAL ? solid : mb_marks_fill(substance);
}

static void range(mb_canvas *canvas, double low, double high, double y)
{
    const struct mb_stroke edge = { .width_mm = 0.3, .ink = black };

    mb_canvas_line(canvas, low, y, high, y, &edge);
    mb_canvas_line(canvas, low, y - 0.8, low, y + 0.8, &edge);
    mb_canvas_line(canvas, high, y - 0.8, high, y + 0.8, &edge);
}

void mb_bar_draw(mb_canvas *canvas, const struct mb_page_item *item, double sample_x, double x,
                 double y, double width)
{
    const struct mb_stroke frame = { .width_mm = 0.2, .ink = pale };
    const struct mb_stroke edge = { .width_mm = 0.3, .ink = black };
    const struct mb_stroke dash = { .width_mm = 0.4, .ink = black, .dash_mm = 1.2,
                                    .gap_mm = 0.8 };
    double low = x + width * item->low / 100, high = x + width * item->high / 100, at = x;

    mb_canvas_rect(canvas, x, y, width, BAR_MM, NULL, &frame);
    if (item->stretch_count == 1) {
        struct mb_fill fill = fill_of(item->stretches[0].substance);

        mb_canvas_rect(canvas, sample_x, y, MB_BAR_SAMPLE_MM, BAR_MM, &fill, &edge);
    }
    for (size_t i = 0; i < item->stretch_count; i++) {
        struct mb_fill fill = fill_of(item->stretches[i].substance);
        double wide = width * item->stretches[i].percent / 100;

        mb_canvas_rect(canvas, at, y, wide, BAR_MM, &fill, &edge);
        at += wide;
    }
    if (item->at < 0 && high > low)
        mb_canvas_rect(canvas, low, y, high - low, BAR_MM, NULL, &dash);
    if (item->at >= 0 && high > low)
        range(canvas, low, high, y + BAR_MM + RANGE_MM);
}

void mb_bar_html(struct mb_buf *out, mb_arena *arena, const struct mb_page_item *item)
{
    const struct mb_canvas_setup setup = { .form = MB_CANVAS_SVG,
                                           .width_mm = SCREEN_WIDTH_MM + 2 * SCREEN_EDGE_MM,
                                           .height_mm = MB_BAR_HIGH_MM + 2 * SCREEN_EDGE_MM };
    MB_CANVAS_AUTO mb_canvas *canvas = NULL;
    struct mb_error ignored = { 0 };
    struct mb_str svg;

    if (mb_canvas_open(&setup, &canvas, &ignored))
        return;
    mb_bar_draw(canvas, item, SCREEN_EDGE_MM, SCREEN_EDGE_MM + SCREEN_BAR_MM, SCREEN_EDGE_MM,
                SCREEN_WIDTH_MM - SCREEN_BAR_MM);
    if (mb_canvas_finish(canvas, arena, &svg, &ignored))
        return;
    mb_buf_add_text(out, "<img class=\"bar\" alt=\"\" src=\"data:image/svg+xml;base64,");
    mb_buf_add_str(out, mb_b64(arena, svg.at, svg.len));
    mb_buf_add_text(out, "\">\n");
}
