#include "sheet_layout.h"

#include <math.h>

#include "sheet_bar.h"
#include "sheet_drawing.h"
#include "sheet_sayings.h"
#include "picture.h"
#include "text.h"

#define FOOT_MM 9.0
#define LABEL_MM 54.0
#define GAP_MM 4.0
#define CELL_MM 1.0 /* room around a cell's text */

enum { COLUMNS_MAX = 8, PICTURES = 3 /* in a row */ };

const struct mb_ink mb_sheet_black = { 0x1A1A1A, 0 }, mb_sheet_grey = { 0x505050, 0 };
static const struct mb_ink pale = { 0xB0B0B0, 0 };

double mb_sheet_bottom(const struct mb_sheet *s)
{
    return s->height - MB_SHEET_MARGIN_MM - FOOT_MM;
}

double mb_sheet_width(const struct mb_sheet *s)
{
    return s->width - 2 * MB_SHEET_MARGIN_MM;
}

/* Across the margin above what is printed, which stays where it will be. */
static void preview_mark(struct mb_sheet *s)
{
    const struct mb_type type = { .size_pt = 15, .weight = 700, .align = MB_ALIGN_MIDDLE,
                                  .ink = mb_sheet_black };
    const struct mb_stroke line = { .width_mm = 0.8, .ink = mb_sheet_black };

    mb_canvas_rect(s->canvas, MB_SHEET_MARGIN_MM, 3.5, mb_sheet_width(s), 8, NULL, &line);
    if (!s->rc)
        s->rc = mb_canvas_text(s->canvas, &type, mb_str_of(mb_sheet_preview_mark),
                               MB_SHEET_MARGIN_MM, 4.4, mb_sheet_width(s), NULL, s->err);
}

void mb_sheet_foot(struct mb_sheet *s)
{
    const struct mb_type type = { .size_pt = 7.5, .ink = mb_sheet_grey };
    const char *text = mb_arena_printf(s->arena, "%s · number %s · page %d · entry %lld\n%s",
                                       s->page->origin, s->page->number,
                                       mb_canvas_pages(s->canvas), (long long)s->page->index,
                                       s->page->id);

    if (s->page->preview) {
        preview_mark(s);
        text = mb_arena_printf(s->arena, "%s · %s · number %s · page %d", mb_sheet_preview_mark,
                               s->page->origin, s->page->number, mb_canvas_pages(s->canvas));
    }
    if (!s->rc)
        s->rc = mb_canvas_text(s->canvas, &type, mb_str_of(text), MB_SHEET_MARGIN_MM,
                               s->height - MB_SHEET_MARGIN_MM - 7, mb_sheet_width(s), NULL,
                               s->err);
}

void mb_sheet_next(struct mb_sheet *s)
{
    mb_canvas_page(s->canvas);
    mb_sheet_foot(s);
    s->y = MB_SHEET_MARGIN_MM;
}

void mb_sheet_need(struct mb_sheet *s, double height_mm)
{
    if (s->y + height_mm > mb_sheet_bottom(s) && s->y > MB_SHEET_MARGIN_MM)
        mb_sheet_next(s);
}

void mb_sheet_flow(struct mb_sheet *s, const struct mb_type *type, const char *text, double x,
                   double width)
{
    mb_block *block;

    if (s->rc)
        return;
    s->rc = mb_block_new(s->canvas, type, mb_str_of(text), width, &block, s->err);
    if (s->rc)
        return;
    s->missing += mb_block_missing(block);
    while (!mb_block_done(block)) {
        double room = mb_sheet_bottom(s) - s->y;

        if (mb_block_fits(block, room) <= 0) {
            if (s->y > MB_SHEET_MARGIN_MM) {
                mb_sheet_next(s);
                continue;
            }
            room = INFINITY; /* one line taller than a page: rather long than lost */
        }
        s->y += mb_block_draw(block, x, s->y, room);
    }
    mb_block_free(block);
}

void mb_sheet_section(struct mb_sheet *s, const char *title)
{
    const struct mb_type type = { .size_pt = 12.5, .weight = 700, .ink = mb_sheet_black };
    const struct mb_stroke stroke = { .width_mm = 0.25, .ink = pale };

    if (s->y > MB_SHEET_MARGIN_MM)
        s->y += 3.5 * s->air;
    mb_sheet_flow(s, &type, title, MB_SHEET_MARGIN_MM, mb_sheet_width(s));
    s->y += 0.4;
    mb_canvas_line(s->canvas, MB_SHEET_MARGIN_MM, s->y, s->width - MB_SHEET_MARGIN_MM, s->y,
                   &stroke);
    s->y += 0.4 + 1.2 * s->air;
}

static void group(struct mb_sheet *s, const struct mb_page_item *item)
{
    const struct mb_type type = { .size_pt = 10.5, .weight = 700, .ink = mb_sheet_black };

    s->y += 1.4 * s->air;
    mb_sheet_flow(s, &type, item->text, MB_SHEET_MARGIN_MM, mb_sheet_width(s));
    s->y += s->air;
}

static void say(struct mb_sheet *s, const struct mb_page_item *item)
{
    const struct mb_type type = { .size_pt = 10, .weight = item->strong ? 700 : 400,
                                  .ink = mb_sheet_black };

    mb_sheet_flow(s, &type, item->text, MB_SHEET_MARGIN_MM, mb_sheet_width(s));
    s->y += 1.2 * s->air;
}

/* Label at the left, text at the right; both may be long, and neither is ever cut. */
static void pair_of(struct mb_sheet *s, const char *label, const char *text, bool strong)
{
    const struct mb_type left = { .size_pt = 10, .weight = strong ? 700 : 400,
                                  .ink = strong ? mb_sheet_black : mb_sheet_grey };
    const struct mb_type right = { .size_pt = 10.5, .weight = strong ? 700 : 400,
                                   .ink = mb_sheet_black };
    double top, end;
    int page;

    mb_sheet_need(s, 13);
    top = s->y;
    page = mb_canvas_pages(s->canvas);
    mb_sheet_flow(s, &left, label, MB_SHEET_MARGIN_MM, LABEL_MM - GAP_MM);
    if (page != mb_canvas_pages(s->canvas)) { /* a label longer than a page */
        mb_sheet_flow(s, &right, text, MB_SHEET_MARGIN_MM + LABEL_MM,
                      mb_sheet_width(s) - LABEL_MM);
        s->y += s->air;
        return;
    }
    end = s->y;
    s->y = top;
    mb_sheet_flow(s, &right, text, MB_SHEET_MARGIN_MM + LABEL_MM, mb_sheet_width(s) - LABEL_MM);
    if (page == mb_canvas_pages(s->canvas) && s->y < end)
        s->y = end;
    s->y += s->air;
}

/* ---- bars ---- */

static void bar(struct mb_sheet *s, const struct mb_page_item *item)
{
    mb_sheet_need(s, 20);
    pair_of(s, item->label, item->text, item->strong);
    mb_sheet_need(s, MB_BAR_HIGH_MM + 1);
    mb_bar_draw(s->canvas, item, MB_SHEET_MARGIN_MM, MB_SHEET_MARGIN_MM + LABEL_MM, s->y,
                mb_sheet_width(s) - LABEL_MM);
    s->y += MB_BAR_HIGH_MM + 1;
}

/* ---- tables ---- */

/* One row, its cells set but not yet drawn. */
struct row {
    mb_block *blocks[COLUMNS_MAX];
    size_t columns;
    double height;
};

static void row_set(struct mb_sheet *s, const struct mb_page_item *item, size_t index,
                    struct row *row)
{
    const struct mb_type type = { .size_pt = 10, .weight = index ? 400 : 700,
                                  .ink = mb_sheet_black };
    double width = mb_sheet_width(s) / (double)item->columns - 2 * CELL_MM, tallest = 0;

    *row = (struct row){ .columns = item->columns };
    for (size_t i = 0; i < item->columns && !s->rc; i++) {
        s->rc = mb_block_new(s->canvas, &type, mb_str_of(item->cells[index * item->columns + i]),
                             width, &row->blocks[i], s->err);
        if (!s->rc)
            s->missing += mb_block_missing(row->blocks[i]);
        if (!s->rc && mb_block_height(row->blocks[i]) > tallest)
            tallest = mb_block_height(row->blocks[i]);
    }
    row->height = tallest + 2 * CELL_MM;
}

static void row_draw(struct mb_sheet *s, struct row *row)
{
    const struct mb_stroke stroke = { .width_mm = 0.15, .ink = pale };
    double column = mb_sheet_width(s) / (double)row->columns;

    for (size_t i = 0; i < row->columns && !s->rc; i++) {
        mb_block_draw(row->blocks[i], MB_SHEET_MARGIN_MM + (double)i * column,
                      s->y + CELL_MM / 2, INFINITY);
        mb_block_free(row->blocks[i]);
        row->blocks[i] = NULL;
    }
    s->y += row->height - CELL_MM;
    mb_canvas_line(s->canvas, MB_SHEET_MARGIN_MM, s->y, s->width - MB_SHEET_MARGIN_MM, s->y,
                   &stroke);
}

static void heading_row(struct mb_sheet *s, const struct mb_page_item *item)
{
    struct row heading;

    row_set(s, item, 0, &heading);
    row_draw(s, &heading);
}

static void row_free(struct row *row)
{
    for (size_t i = 0; i < row->columns; i++)
        mb_block_free(row->blocks[i]);
}

/* A heading never stands without a row below it, and comes again at the head of the next page. */
static void table(struct mb_sheet *s, const struct mb_page_item *item)
{
    double room = mb_sheet_bottom(s) - MB_SHEET_MARGIN_MM;
    struct row heading, row;

    if (item->columns > COLUMNS_MAX || item->rows == 0)
        return;
    row_set(s, item, 0, &heading);
    for (size_t i = 1; i < item->rows && !s->rc; i++) {
        double above = i == 1 ? heading.height : 0;

        row_set(s, item, i, &row);
        if (row.height + heading.height > room) { /* too tall for any page: each cell by itself */
            for (size_t j = 0; j < item->columns; j++)
                pair_of(s, item->cells[j], item->cells[i * item->columns + j], false);
        } else if (!s->rc) {
            bool turned = s->y + above + row.height > mb_sheet_bottom(s);

            if (turned)
                mb_sheet_next(s);
            if (turned || i == 1)
                heading_row(s, item);
            row_draw(s, &row);
        }
        row_free(&row);
    }
    row_free(&heading);
    s->y += 1.5;
}

/* The least that has to stand below a heading on the same page. */
static double beginning_of(struct mb_sheet *s, const struct mb_page_item *item)
{
    struct row heading, row;
    double height = 0;

    if (!item)
        return 14;
    switch (item->kind) {
    case MB_PAGE_SECTION:
    case MB_PAGE_GROUP:
        return 8 + beginning_of(s, item->next);
    case MB_PAGE_BAR:
        return 28;
    case MB_PAGE_DRAWING:
        return item->drawing->height_mm;
    case MB_PAGE_TABLE:
        if (item->columns > COLUMNS_MAX || item->rows < 2)
            return 0;
        row_set(s, item, 0, &heading);
        row_set(s, item, 1, &row);
        height = heading.height + row.height;
        row_free(&heading);
        row_free(&row);
        return height;
    default:
        return 14;
    }
}

static void keep_with_next(struct mb_sheet *s, const struct mb_page_item *item, double own_mm)
{
    double needed = own_mm + beginning_of(s, item->next);
    double most = (mb_sheet_bottom(s) - MB_SHEET_MARGIN_MM) / 2;

    mb_sheet_need(s, needed < most ? needed : most);
}

/* Three in a row, each in a box of one size with its label below. */
static void picture(struct mb_sheet *s, const struct mb_page_item *item)
{
    const struct mb_type type = { .size_pt = 10, .ink = mb_sheet_grey };
    double width = (mb_sheet_width(s) - (PICTURES - 1) * GAP_MM) / PICTURES;
    struct mb_mm_box box = { 0, 0, width, width * 0.75 };
    struct mb_error ignored = { 0 };
    struct mb_picture look;
    double top;

    if (s->in_row == 0) {
        mb_sheet_need(s, box.height + 9);
        s->y += 1;
    }
    top = s->y;
    box.x = MB_SHEET_MARGIN_MM + (double)s->in_row * (width + GAP_MM);
    box.y = top;
    if (mb_picture_look(item->bytes, &look, NULL)
        || mb_canvas_picture(s->canvas, &look, box, MB_FIT_CORNER, NULL, &ignored))
        item = NULL;
    if (!s->rc && item)
        s->rc = mb_canvas_text(s->canvas, &type, mb_str_of(item->label), box.x,
                               top + box.height + 1, width, NULL, s->err);
}

static void picture_row(struct mb_sheet *s, const struct mb_page_item *item)
{
    double width = (mb_sheet_width(s) - (PICTURES - 1) * GAP_MM) / PICTURES;

    picture(s, item);
    s->in_row++;
    if (s->in_row == PICTURES || !item->next || item->next->kind != MB_PAGE_PICTURE) {
        s->in_row = 0;
        s->y += width * 0.75 + 7;
    }
}

void mb_sheet_item(struct mb_sheet *s, const struct mb_page_item *item)
{
    switch (item->kind) {
    case MB_PAGE_SECTION:
        keep_with_next(s, item, 12);
        mb_sheet_section(s, item->text);
        break;
    case MB_PAGE_GROUP:
        keep_with_next(s, item, 8);
        group(s, item);
        break;
    case MB_PAGE_SAY:
        say(s, item);
        break;
    case MB_PAGE_PAIR:
        pair_of(s, item->label, item->text, false);
        break;
    case MB_PAGE_BAR:
        bar(s, item);
        break;
    case MB_PAGE_TABLE:
        table(s, item);
        break;
    case MB_PAGE_DRAWING:
        mb_sheet_drawing(s, item);
        break;
    case MB_PAGE_PICTURE:
        picture_row(s, item);
        break;
    }
}
