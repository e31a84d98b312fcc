#include "overlay.h"

#include "text.h"

#define ROW_MM 6.6
#define GAP_MM 3.0
#define COLUMN_MM 85.0
#define LEGEND_PT 10

enum { NAME_LETTERS = 30, WORDS_LINES = 40 };

static const struct mb_ink ink = { 0x1A1A1A, 0 };

static void draw_mark(mb_canvas *canvas, const struct mb_mark *mark, struct mb_error *err,
                      enum mb_rc *rc)
{
    const struct mb_fill *fill = mark->filled ? &mark->fill : NULL;
    const struct mb_stroke *stroke = mark->stroked ? &mark->stroke : NULL;
    const struct mb_type type = { .size_pt = mark->size_pt, .ink = ink };
    mb_block *block;
    double width;

    switch (mark->kind) {
    case MB_MARK_AREA:
        mb_canvas_shape(canvas, mark->rings, mark->ring_count, fill, stroke);
        break;
    case MB_MARK_LINE:
        mb_canvas_polyline(canvas, mark->points, mark->point_count, &mark->stroke);
        break;
    case MB_MARK_CIRCLE:
        mb_canvas_circle(canvas, mark->at.x, mark->at.y, mark->radius_mm, fill, stroke);
        break;
    case MB_MARK_TEXT:
        *rc = mb_block_new(canvas, &type, mb_str_of(mark->text), 0, &block, err);
        if (*rc)
            break;
        width = mb_block_width(block);
        mb_block_draw(block, mark->at.x - (mark->centred ? width / 2 : 0),
                      mark->at.y - mb_block_height(block) / 2, 1e6);
        mb_block_free(block);
        break;
    }
}

/* ---- size ---- */

static void photo_size(const struct mb_overlay *o, double *width, double *height)
{
    int width_px, height_px;

    *width = o->view->width_px;
    *height = o->view->height_px;
    if (o->photo) {
        mb_picture_upright(o->photo, &width_px, &height_px);
        *width = width_px;
        *height = height_px;
    }
}

struct columns {
    size_t all, lines, count, rows;
    double width_mm;
};

static struct columns columns_of(const struct mb_overlay *o)
{
    struct columns c = { 0, 0, (size_t)(o->width_mm / COLUMN_MM), 0, 0 };

    for (const struct mb_legend *l = o->marks.legend; l; l = l->next)
        c.all++;
    c.lines = o->legend_max && c.all > o->legend_max ? o->legend_max : c.all;
    c.count = c.count < 1 ? 1 : c.count;
    c.rows = (c.lines + c.count - 1) / c.count;
    c.width_mm = o->width_mm / (double)c.count;
    return c;
}

static double bar_height(const struct mb_overlay *o)
{
    return o->marks.bar ? MB_MARKS_BAR_MM : 0;
}

enum mb_rc mb_overlay_prepare(struct mb_overlay *o, double width_mm, struct mb_error *err)
{
    struct mb_marks_setup setup = { .view = o->view };
    double shape = 0.75;
    enum mb_rc rc;

    photo_size(o, &setup.width_px, &setup.height_px);
    o->width_mm = width_mm;
    if (setup.width_px > 0 && setup.height_px > 0)
        shape = setup.height_px / setup.width_px;
    o->box = (struct mb_mm_box){ 0, 0, width_mm, width_mm * shape };
    if (o->photo_high_mm > 0 && o->box.height > o->photo_high_mm) {
        o->box.height = o->photo_high_mm;
        o->box.width = o->box.height / shape;
    }
    setup.box = o->box;
    rc = mb_marks_view(o->arena, o->measured, &setup, &o->marks, err);
    o->height_mm = o->box.height + bar_height(o);
    if (!o->bare)
        o->height_mm += GAP_MM + ROW_MM * (double)(columns_of(o).rows + 1);
    return rc;
}

/* ---- words ---- */

/* The first letters of a long name. */
static const char *shortened(mb_arena *arena, const char *name)
{
    size_t letters = 0;

    for (const char *at = name; *at; at++) {
        letters += ((unsigned char)*at & 0xC0) != 0x80;
        if (letters > NAME_LETTERS)
            return mb_arena_printf(arena, "%.*s…", (int)(at - name), name);
    }
    return name;
}

const char *mb_overlay_line(const struct mb_overlay *o, const struct mb_legend *l)
{
    const char *name = shortened(o->arena, l->name);

    if (l->kind == MB_LEGEND_SUBSTANCE && l->index == MB_SUBSTANCE_ORIGINAL)
        name = "original, left clear";
    return mb_arena_printf(o->arena, "%s%s%s%s%s%s", name, *l->share ? ": " : "", l->share,
                           *l->range ? " (" : "", l->range, *l->range ? ")" : "");
}

const char *mb_overlay_words(const struct mb_overlay *o)
{
    const char *text =
        mb_arena_printf(o->arena, "View %s with its regions drawn in", o->view->name);
    const char *before = ": ";
    size_t lines = 0;

    for (const struct mb_legend *l = o->marks.legend; l && lines++ < WORDS_LINES;
         l = l->next, before = "; ")
        text = mb_arena_printf(o->arena, "%s%s%s", text, before, mb_overlay_line(o, l));
    return text;
}

/* ---- drawing ---- */

enum mb_rc mb_overlay_sample(const struct mb_overlay *o, mb_canvas *canvas,
                             const struct mb_legend *l, double x, double y, struct mb_error *err)
{
    struct mb_mm_box box = { x, y, MB_OVERLAY_SAMPLE_WIDTH_MM, MB_OVERLAY_SAMPLE_HEIGHT_MM };
    const struct mb_mark *mark = mb_marks_sample(o->arena, l->kind, l->index, box);
    enum mb_rc rc = MB_OK;

    for (; mark && !rc; mark = mark->next)
        draw_mark(canvas, mark, err, &rc);
    return rc;
}

static enum mb_rc legend_line(const struct mb_overlay *o, mb_canvas *canvas,
                              const struct mb_legend *l, double x, double y, struct mb_error *err)
{
    bool heading = l->kind == MB_LEGEND_INDIVIDUAL;
    const struct mb_type type = { .size_pt = LEGEND_PT, .weight = heading ? 700 : 400,
                                  .ink = ink };
    enum mb_rc rc = mb_overlay_sample(o, canvas, l, x, y, err);

    return rc ? rc
              : mb_canvas_text(canvas, &type, mb_str_of(mb_overlay_line(o, l)),
                               heading ? x : x + MB_OVERLAY_SAMPLE_WIDTH_MM + GAP_MM, y + 0.5, 0,
                               NULL, err);
}

size_t mb_overlay_lines(const struct mb_overlay *o)
{
    return columns_of(o).lines;
}

const char *mb_overlay_heading(const struct mb_overlay *o)
{
    const struct columns c = columns_of(o);

    return mb_arena_printf(o->arena, "View: %s. Shares are of this view.%s%s",
                           shortened(o->arena, o->view->name),
                           o->marks.bar ? "" : " No scale is known.",
                           c.lines < c.all ? " Not all lines of the legend fit here." : "");
}

/* Column by column. */
static enum mb_rc legend(const struct mb_overlay *o, mb_canvas *canvas, struct mb_error *err)
{
    const struct mb_type type = { .size_pt = LEGEND_PT, .ink = ink };
    const struct columns c = columns_of(o);
    const struct mb_legend *l = o->marks.legend;
    double top = o->box.height + bar_height(o) + GAP_MM;
    enum mb_rc rc = mb_canvas_text(canvas, &type, mb_str_of(mb_overlay_heading(o)), 0, top,
                                   o->width_mm, NULL, err);

    top += ROW_MM;
    for (size_t i = 0; l && i < c.lines && !rc; l = l->next, i++)
        rc = legend_line(o, canvas, l, c.width_mm * (double)(i / c.rows),
                         top + ROW_MM * (double)(i % c.rows), err);
    return rc;
}

enum mb_rc mb_overlay_draw(const struct mb_overlay *o, mb_canvas *canvas, double x, double y,
                           struct mb_error *err)
{
    const struct mb_mm_box box = o->box;
    enum mb_rc rc = MB_OK;

    mb_canvas_push(canvas, x, y, 0);
    if (o->photo)
        rc = mb_canvas_picture(canvas, o->photo, box, MB_FIT_STRETCH, NULL, err);
    if (o->photo)
        mb_canvas_clip(canvas, box.x, box.y, box.width, box.height);
    for (const struct mb_mark *mark = o->marks.marks; mark && !rc; mark = mark->next)
        draw_mark(canvas, mark, err, &rc);
    if (o->photo)
        mb_canvas_pop(canvas);
    for (const struct mb_mark *mark = o->marks.bar; mark && !rc; mark = mark->next)
        draw_mark(canvas, mark, err, &rc);
    if (!rc && !o->bare)
        rc = legend(o, canvas, err);
    mb_canvas_pop(canvas);
    return rc;
}
