#include "report_paper.h"

#include <math.h>
#include <string.h>

#include "pdf.h"
#include "text.h"

#define FOOT_MM 8.0
#define LABEL_MM 44.0
#define GAP_MM 4.0
#define CELL_MM 1.2 /* room around a cell's text */

const struct mb_ink mb_report_black = { 0x1A1A1A, 0 }, mb_report_grey = { 0x505050, 0 },
                    mb_report_pale = { 0xA8A8A8, 0 };

/* ---- pages ---- */

static void foot(struct mb_report *r)
{
    const struct mb_type left = { .size_pt = 7.5, .ink = mb_report_grey };
    const struct mb_type right = { .size_pt = 7.5, .ink = mb_report_grey, .align = MB_ALIGN_END };
    double y = r->height - MB_REPORT_MARGIN_MM - 3, half = mb_report_width(r) - 30;

    mb_report_text(r, &left, r->foot, MB_REPORT_MARGIN_MM, y, half);
    mb_report_text(r, &right, mb_arena_printf(r->arena, "page %d", mb_canvas_pages(r->canvas)),
                   MB_REPORT_MARGIN_MM + half, y, 30);
}

enum mb_rc mb_report_open(struct mb_report *report, mb_arena *arena,
                          const struct mb_report_setup *setup, struct mb_error *err)
{
    bool letter = setup->paper && strcmp(setup->paper, "Letter") == 0;
    struct mb_canvas_setup canvas = { .form = setup->svg ? MB_CANVAS_SVG : MB_CANVAS_PDF,
                                      .title = setup->title, .author = setup->author,
                                      .subject = setup->subject,
                                      .created = setup->created };
    enum mb_rc rc;

    if (setup->paper && !letter && strcmp(setup->paper, "A4") != 0)
        return mb_fail(err, MB_REFUSED, "'%s' is no paper size; choose A4 or Letter",
                       setup->paper);
    *report = (struct mb_report){ .arena = arena, .err = err, .foot = setup->foot,
                                  .created = setup->created, .svg = setup->svg,
                                  .y = MB_REPORT_MARGIN_MM };
    canvas.width_mm = report->width = letter ? MB_LETTER_WIDTH_MM : MB_A4_WIDTH_MM;
    canvas.height_mm = report->height = letter ? MB_LETTER_HEIGHT_MM : MB_A4_HEIGHT_MM;
    rc = mb_canvas_open(&canvas, &report->canvas, err);
    if (!rc && !setup->svg)
        foot(report);
    return rc;
}

enum mb_rc mb_report_finish(struct mb_report *report, struct mb_str *pdf)
{
    const struct mb_pdf_dress dress = { .language = "en", .created = report->created,
                                        .xmp = true };
    struct mb_str drawn;

    if (!report->rc)
        report->rc = mb_canvas_finish(report->canvas, report->arena, &drawn, report->err);
    if (!report->rc && report->svg)
        *pdf = drawn;
    else if (!report->rc)
        report->rc = mb_pdf_finish(report->arena, drawn, &dress, pdf, report->err);
    return report->rc;
}

double mb_report_bottom(const struct mb_report *r)
{
    return r->height - MB_REPORT_MARGIN_MM - FOOT_MM;
}

double mb_report_width(const struct mb_report *r)
{
    return r->width - 2 * MB_REPORT_MARGIN_MM;
}

void mb_report_next(struct mb_report *r)
{
    mb_canvas_page(r->canvas);
    foot(r);
    r->y = MB_REPORT_MARGIN_MM;
}

void mb_report_need(struct mb_report *r, double height_mm)
{
    if (r->y + height_mm > mb_report_bottom(r) && r->y > MB_REPORT_MARGIN_MM)
        mb_report_next(r);
}

/* ---- text ---- */

void mb_report_flow(struct mb_report *r, const struct mb_type *type, const char *text, double x,
                    double width)
{
    mb_block *block;

    if (r->rc)
        return;
    r->rc = mb_block_new(r->canvas, type, mb_str_of(text), width, &block, r->err);
    if (r->rc)
        return;
    while (!mb_block_done(block)) {
        double room = mb_report_bottom(r) - r->y;

        if (mb_block_fits(block, room) <= 0) {
            if (r->y > MB_REPORT_MARGIN_MM) {
                mb_report_next(r);
                continue;
            }
            room = INFINITY; /* one line taller than a page: rather long than lost */
        }
        r->y += mb_block_draw(block, x, r->y, room);
    }
    mb_block_free(block);
}

double mb_report_text(struct mb_report *r, const struct mb_type *type, const char *text, double x,
                      double y, double width)
{
    double height = 0;

    if (!r->rc)
        r->rc = mb_canvas_text(r->canvas, type, mb_str_of(text), x, y, width, &height, r->err);
    return height;
}

void mb_report_title(struct mb_report *r, const char *title)
{
    const struct mb_type type = { .size_pt = 19, .weight = 700, .ink = mb_report_black };

    mb_report_flow(r, &type, title, MB_REPORT_MARGIN_MM, mb_report_width(r));
    r->y += 2;
}

void mb_report_section(struct mb_report *r, const char *title)
{
    const struct mb_type type = { .size_pt = 13, .weight = 700, .ink = mb_report_black };
    const struct mb_stroke stroke = { .width_mm = 0.3, .ink = mb_report_pale };

    mb_report_need(r, 30);
    if (r->y > MB_REPORT_MARGIN_MM)
        r->y += 5;
    mb_report_flow(r, &type, title, MB_REPORT_MARGIN_MM, mb_report_width(r));
    r->y += 0.6;
    mb_canvas_line(r->canvas, MB_REPORT_MARGIN_MM, r->y, r->width - MB_REPORT_MARGIN_MM, r->y,
                   &stroke);
    r->y += 2;
}

void mb_report_group(struct mb_report *r, const char *title)
{
    const struct mb_type type = { .size_pt = 10.5, .weight = 700, .ink = mb_report_black };

    mb_report_need(r, 22);
    r->y += 2;
    mb_report_flow(r, &type, title, MB_REPORT_MARGIN_MM, mb_report_width(r));
    r->y += 1;
}

static void paragraph(struct mb_report *r, const struct mb_type *type, const char *text)
{
    mb_report_flow(r, type, text, MB_REPORT_MARGIN_MM, mb_report_width(r));
    r->y += 1.3;
}

void mb_report_say(struct mb_report *r, const char *text)
{
    paragraph(r, &(struct mb_type){ .size_pt = 10, .ink = mb_report_black }, text);
}

void mb_report_strong(struct mb_report *r, const char *text)
{
    paragraph(r, &(struct mb_type){ .size_pt = 10.5, .weight = 700, .ink = mb_report_black },
              text);
}

void mb_report_small(struct mb_report *r, const char *text)
{
    paragraph(r, &(struct mb_type){ .size_pt = 8.5, .ink = mb_report_grey }, text);
}

void mb_report_pair(struct mb_report *r, const char *label, const char *text)
{
    const struct mb_type left = { .size_pt = 9, .ink = mb_report_grey };
    const struct mb_type right = { .size_pt = 10, .ink = mb_report_black };
    double top, end;
    int page;

    mb_report_need(r, 11);
    top = r->y;
    page = mb_canvas_pages(r->canvas);
    mb_report_flow(r, &left, label, MB_REPORT_MARGIN_MM, LABEL_MM - GAP_MM);
    end = r->y;
    if (page == mb_canvas_pages(r->canvas)) /* else a label longer than a page */
        r->y = top;
    page = mb_canvas_pages(r->canvas);
    mb_report_flow(r, &right, text, MB_REPORT_MARGIN_MM + LABEL_MM,
                   mb_report_width(r) - LABEL_MM);
    if (page == mb_canvas_pages(r->canvas) && r->y < end)
        r->y = end;
    r->y += 0.8;
}

/* ---- tables ---- */

static double share(const struct mb_report_table *t, size_t column)
{
    double all = 0;

    for (size_t i = 0; i < t->columns; i++)
        all += t->shares[i];
    return t->shares[column] / all;
}

static void draw_cells(struct mb_report *r, const struct mb_report_table *t, mb_block **blocks,
                       double tallest, bool head)
{
    const struct mb_stroke stroke = { .width_mm = head ? 0.3 : 0.12, .ink = mb_report_pale };
    double x = MB_REPORT_MARGIN_MM;

    for (size_t i = 0; i < t->columns; i++) {
        mb_block_draw(blocks[i], x, r->y + CELL_MM / 2, INFINITY);
        x += mb_report_width(r) * share(t, i);
    }
    r->y += tallest + CELL_MM;
    mb_canvas_line(r->canvas, MB_REPORT_MARGIN_MM, r->y, r->width - MB_REPORT_MARGIN_MM, r->y,
                   &stroke);
}

static double set_cells(struct mb_report *r, const struct mb_report_table *t,
                        const char *const *cells, bool head, mb_block **blocks)
{
    const struct mb_type type = { .size_pt = 8.5, .weight = head ? 700 : 400,
                                  .ink = mb_report_black };
    double tallest = 0;

    for (size_t i = 0; i < t->columns && !r->rc; i++) {
        r->rc = mb_block_new(r->canvas, &type, mb_str_of(cells[i] ? cells[i] : ""),
                             mb_report_width(r) * share(t, i) - 2 * CELL_MM, &blocks[i], r->err);
        if (!r->rc && mb_block_height(blocks[i]) > tallest)
            tallest = mb_block_height(blocks[i]);
    }
    return tallest;
}

static void free_cells(mb_block **blocks)
{
    for (size_t i = 0; i < MB_REPORT_COLUMNS_MAX; i++)
        mb_block_free(blocks[i]);
}

static void heading(struct mb_report *r, const struct mb_report_table *t)
{
    mb_block *blocks[MB_REPORT_COLUMNS_MAX] = { NULL };
    double tallest;

    if (!t->head || r->rc)
        return;
    tallest = set_cells(r, t, t->head, true, blocks);
    if (!r->rc)
        draw_cells(r, t, blocks, tallest, true);
    free_cells(blocks);
}

void mb_report_table_begin(struct mb_report *r, const struct mb_report_table *t)
{
    mb_report_need(r, 20);
    heading(r, t);
}

void mb_report_table_row(struct mb_report *r, const struct mb_report_table *t,
                         const char *const *cells)
{
    mb_block *blocks[MB_REPORT_COLUMNS_MAX] = { NULL };
    double tallest = set_cells(r, t, cells, false, blocks);

    if (r->rc) {
        free_cells(blocks);
        return;
    }
    if (tallest + 40 > mb_report_bottom(r) - MB_REPORT_MARGIN_MM) {
        /* too tall for any page: each cell by itself */
        for (size_t i = 0; i < t->columns; i++)
            mb_report_pair(r, t->head ? t->head[i] : "", cells[i] ? cells[i] : "");
    } else {
        if (r->y + tallest + CELL_MM > mb_report_bottom(r)) {
            mb_report_next(r);
            heading(r, t);
        }
        draw_cells(r, t, blocks, tallest, false);
    }
    free_cells(blocks);
}

void mb_report_table_end(struct mb_report *r)
{
    r->y += 2;
}
