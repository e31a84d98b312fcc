#include "canvas.h"

#include <math.h>

#include "canvas_priv.h"

#define LINES_MAX 20000 /* in one pattern */

/* ---- ink, lines ---- */

void mb_canvas_use_ink(mb_canvas *canvas, struct mb_ink ink)
{
    double cover = 1 - fmin(fmax(ink.fade, 0), 1);
    double r = (ink.rgb >> 16 & 255) / 255.0, g = (ink.rgb >> 8 & 255) / 255.0;

    if (cover < 1)
        cairo_set_source_rgba(canvas->cr, r, g, (ink.rgb & 255) / 255.0, cover);
    else
        cairo_set_source_rgb(canvas->cr, r, g, (ink.rgb & 255) / 255.0);
}

/* Strokes the current path and keeps it. */
static void stroke_path(mb_canvas *c, const struct mb_stroke *s)
{
    if (!s || !(s->width_mm > 0) || s->width_mm > MB_FAR_MM)
        return;
    mb_canvas_use_ink(c, s->ink);
    cairo_set_line_width(c->cr, s->width_mm);
    cairo_set_line_cap(c->cr, CAIRO_LINE_CAP_BUTT);
    cairo_set_line_join(c->cr, CAIRO_LINE_JOIN_ROUND);
    if (s->dash_mm > 0 && s->gap_mm > 0)
        cairo_set_dash(c->cr, (double[]){ s->dash_mm, s->gap_mm }, 2, 0);
    else
        cairo_set_dash(c->cr, NULL, 0, 0);
    cairo_stroke_preserve(c->cr);
}

void mb_canvas_polyline(mb_canvas *canvas, const struct mb_mm *points, size_t count,
                        const struct mb_stroke *stroke)
{
    for (size_t i = 0; i < count; i++)
        if (!mb_canvas_may_draw(canvas, (double[]){ points[i].x, points[i].y }, 2))
            return;
    if (count < 2 || !mb_canvas_may_draw(canvas, NULL, 0))
        return;
    cairo_new_path(canvas->cr);
    for (size_t i = 0; i < count; i++)
        cairo_line_to(canvas->cr, points[i].x, points[i].y);
    stroke_path(canvas, stroke);
    cairo_new_path(canvas->cr);
}

void mb_canvas_line(mb_canvas *canvas, double x1_mm, double y1_mm, double x2_mm, double y2_mm,
                    const struct mb_stroke *stroke)
{
    mb_canvas_polyline(canvas, (struct mb_mm[]){ { x1_mm, y1_mm }, { x2_mm, y2_mm } }, 2, stroke);
}

/* ---- patterns ---- */

/* A pattern's own frame: turned about the page's origin, so that neighbouring areas of one pattern
 * run on without a step. The box is what of it can be seen, in that frame, on the grid of steps. */
struct tile {
    cairo_t *cr;
    double step, line;
    double left, top, right, bottom;
};

static bool begin_tile(mb_canvas *c, const struct mb_fill *fill, struct tile *t)
{
    t->cr = c->cr;
    t->step = fill->step_mm > 0 ? fmax(fill->step_mm, 0.2) : 2;
    t->line = fill->line_mm > 0 ? fmin(fill->line_mm, t->step) : t->step / 8;
    cairo_clip(c->cr);
    cairo_rotate(c->cr, fill->turn_degrees * M_PI / 180);
    cairo_clip_extents(c->cr, &t->left, &t->top, &t->right, &t->bottom);
    if (!(t->right > t->left && t->bottom > t->top))
        return false;
    t->left = floor(t->left / t->step - 1) * t->step;
    t->top = floor(t->top / t->step - 1) * t->step;
    t->right += t->step;
    t->bottom += t->step;
    /* A clip is never wider than the page, but a page may be wide and a step small. */
    while ((t->bottom - t->top) / t->step > LINES_MAX || (t->right - t->left) / t->step > LINES_MAX)
        t->step *= 2;
    return true;
}

static void level_lines(const struct tile *t)
{
    for (double y = t->top; y <= t->bottom; y += t->step) {
        cairo_move_to(t->cr, t->left, y);
        cairo_line_to(t->cr, t->right, y);
    }
}

static void upright_lines(const struct tile *t)
{
    for (double x = t->left; x <= t->right; x += t->step) {
        cairo_move_to(t->cr, x, t->top);
        cairo_line_to(t->cr, x, t->bottom);
    }
}

/* Rows in which every other one is shifted by half of `period`; on and off make up the period. */
static void broken_rows(const struct tile *t, double on, double period, bool upright)
{
    double dash[2] = { on, period - on };
    double along = upright ? t->top : t->left, end = upright ? t->bottom : t->right;
    double from = floor(along / period) * period - period;

    for (int odd = 0; odd < 2; odd++) {
        double across = upright ? t->left : t->top, last = upright ? t->right : t->bottom;

        if (((long long)llround(across / t->step) & 1) != odd)
            across += t->step;
        for (; across <= last; across += 2 * t->step) {
            cairo_move_to(t->cr, upright ? across : from, upright ? from : across);
            cairo_line_to(t->cr, upright ? across : end, upright ? end : across);
        }
        cairo_set_dash(t->cr, dash, 2, odd ? period / 2 : 0);
        cairo_stroke(t->cr);
    }
    cairo_set_dash(t->cr, NULL, 0, 0);
}

static void rings(struct tile *t)
{
    double r = t->step * 0.3;

    while ((t->bottom - t->top) / t->step * ((t->right - t->left) / t->step) > LINES_MAX)
        t->step *= 2;
    for (double y = t->top; y <= t->bottom; y += t->step) {
        bool odd = (long long)llround(y / t->step) & 1;

        for (double x = t->left + (odd ? t->step / 2 : 0); x <= t->right; x += t->step) {
            cairo_new_sub_path(t->cr);
            cairo_arc(t->cr, x, y, r, 0, 2 * M_PI);
        }
    }
}

static void draw_tile(struct tile *t, enum mb_pattern pattern)
{
    cairo_set_line_width(t->cr, t->line);
    cairo_set_line_cap(t->cr, CAIRO_LINE_CAP_BUTT);
    cairo_set_dash(t->cr, NULL, 0, 0);
    switch (pattern) {
    case MB_PATTERN_NONE:
    case MB_PATTERN_SOLID:
        break;
    case MB_PATTERN_LINES:
        level_lines(t);
        break;
    case MB_PATTERN_CROSS:
        level_lines(t);
        upright_lines(t);
        break;
    case MB_PATTERN_DASHES:
        broken_rows(t, t->step * 1.5, t->step * 2.5, false);
        break;
    case MB_PATTERN_DOTS:
        /* A dash of no length with round ends is a dot. */
        cairo_set_line_cap(t->cr, CAIRO_LINE_CAP_ROUND);
        cairo_set_line_width(t->cr, t->line * 2);
        broken_rows(t, 0, t->step, false);
        break;
    case MB_PATTERN_RINGS:
        rings(t);
        break;
    case MB_PATTERN_BRICKS:
        level_lines(t);
        cairo_stroke(t->cr);
        broken_rows(t, t->step, t->step * 2, true);
        break;
    }
    cairo_stroke(t->cr);
}

/* Fills the current path and keeps it. */
static void fill_path(mb_canvas *c, const struct mb_fill *fill)
{
    struct tile tile;
    cairo_path_t *path;

    if (!fill)
        return;
    if (fill->ground) {
        mb_canvas_use_ink(c, fill->ground_ink);
        cairo_fill_preserve(c->cr);
    }
    if (fill->pattern == MB_PATTERN_NONE)
        return;
    mb_canvas_use_ink(c, fill->ink);
    if (fill->pattern == MB_PATTERN_SOLID) {
        cairo_fill_preserve(c->cr);
        return;
    }
    path = cairo_copy_path(c->cr);
    cairo_save(c->cr);
    if (begin_tile(c, fill, &tile))
        draw_tile(&tile, fill->pattern);
    cairo_restore(c->cr);
    cairo_new_path(c->cr);
    cairo_append_path(c->cr, path);
    cairo_path_destroy(path);
}

/* ---- areas ---- */

static bool fill_sane(mb_canvas *c, const struct mb_fill *f)
{
    return !f || mb_canvas_may_draw(c, (double[]){ f->step_mm, f->line_mm, f->turn_degrees }, 3);
}

static void paint_path(mb_canvas *c, const struct mb_fill *fill, const struct mb_stroke *stroke)
{
    fill_path(c, fill);
    stroke_path(c, stroke);
    cairo_new_path(c->cr);
}

void mb_canvas_rect(mb_canvas *canvas, double x_mm, double y_mm, double width_mm, double height_mm,
                    const struct mb_fill *fill, const struct mb_stroke *stroke)
{
    if (!mb_canvas_may_draw(canvas, (double[]){ x_mm, y_mm, width_mm, height_mm }, 4) ||
        !fill_sane(canvas, fill))
        return;
    cairo_new_path(canvas->cr);
    cairo_rectangle(canvas->cr, x_mm, y_mm, width_mm, height_mm);
    paint_path(canvas, fill, stroke);
}

void mb_canvas_circle(mb_canvas *canvas, double x_mm, double y_mm, double radius_mm,
                      const struct mb_fill *fill, const struct mb_stroke *stroke)
{
    if (!mb_canvas_may_draw(canvas, (double[]){ x_mm, y_mm, radius_mm }, 3) ||
        !fill_sane(canvas, fill))
        return;
    cairo_new_path(canvas->cr);
    cairo_arc(canvas->cr, x_mm, y_mm, fabs(radius_mm), 0, 2 * M_PI);
    cairo_close_path(canvas->cr);
    paint_path(canvas, fill, stroke);
}

void mb_canvas_shape(mb_canvas *canvas, const struct mb_mm_ring *rings_, size_t count,
                     const struct mb_fill *fill, const struct mb_stroke *stroke)
{
    if (!mb_canvas_may_draw(canvas, NULL, 0) || !fill_sane(canvas, fill))
        return;
    for (size_t i = 0; i < count; i++)
        for (size_t k = 0; k < rings_[i].count; k++)
            if (!mb_canvas_may_draw(
                    canvas, (double[]){ rings_[i].points[k].x, rings_[i].points[k].y }, 2))
                return;
    cairo_new_path(canvas->cr);
    for (size_t i = 0; i < count; i++) {
        cairo_new_sub_path(canvas->cr);
        for (size_t k = 0; k < rings_[i].count; k++)
            cairo_line_to(canvas->cr, rings_[i].points[k].x, rings_[i].points[k].y);
        if (rings_[i].count > 0)
            cairo_close_path(canvas->cr);
    }
    paint_path(canvas, fill, stroke);
}

/* ---- codes ---- */

/* One path and one fill for all of it: separate rectangles would show hairlines between them. */
void mb_canvas_qr(mb_canvas *canvas, const struct mb_qr *qr, double x_mm, double y_mm,
                  double side_mm)
{
    double module = mb_qr_module_mm(qr, side_mm);
    cairo_t *cr = canvas->cr;

    if (!mb_canvas_may_draw(canvas, (double[]){ x_mm, y_mm, side_mm }, 3))
        return;
    cairo_save(cr);
    cairo_set_antialias(cr, CAIRO_ANTIALIAS_NONE);
    cairo_set_source_rgb(cr, 1, 1, 1);
    cairo_rectangle(cr, x_mm, y_mm, side_mm, side_mm);
    cairo_fill(cr);
    cairo_translate(cr, x_mm + MB_QR_QUIET * module, y_mm + MB_QR_QUIET * module);
    cairo_scale(cr, module, module);
    for (int y = 0; y < qr->side; y++)
        for (int x = 0, run; x < qr->side; x += run) {
            const uint8_t *row = qr->dark + y * qr->side;

            for (run = 1; x + run < qr->side && row[x + run] == row[x]; run++)
                ;
            if (row[x])
                cairo_rectangle(cr, x, y, run, 1);
        }
    cairo_set_source_rgb(cr, 0, 0, 0);
    cairo_fill(cr);
    cairo_restore(cr);
}
