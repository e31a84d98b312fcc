#include "overlay.h"

#include "text.h"

#define SAMPLE_WIDTH_MM 14.0
#define SAMPLE_HEIGHT_MM 6.0
#define ROW_MM 8.0
#define GAP_MM 4.0

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

static size_t legend_rows(const struct mb_overlay *o)
{
    size_t rows = 0;

    for (const struct mb_legend *l = o->marks.legend; l; l = l->next)
        rows++;
    return rows;
}

enum mb_rc mb_overlay_prepare(struct mb_overlay *o, double width_mm, struct mb_error *err)
{
    struct mb_marks_setup setup = { .view = o->view };
    enum mb_rc rc;

    photo_size(o, &setup.width_px, &setup.height_px);
    o->width_mm = width_mm;
    o->photo_height_mm = width_mm * 0.75;
    if (setup.width_px > 0 && setup.height_px > 0)
        o->photo_height_mm = width_mm * setup.height_px / setup.width_px;
    setup.box = (struct mb_mm_box){ 0, 0, width_mm, o->photo_height_mm };
    rc = mb_marks_view(o->arena, o->measured, &setup, &o->marks, err);
    o->height_mm = o->photo_height_mm + GAP_MM + ROW_MM * (double)(legend_rows(o) + 2);
    return rc;
}

/* ---- drawing ---- */

static enum mb_rc legend(const struct mb_overlay *o, mb_canvas *canvas, struct mb_error *err)
{
    const struct mb_type type = { .size_pt = 10, .ink = ink };
    const struct mb_type head = { .size_pt = 10, .weight = 700, .ink = ink };
    double y = o->photo_height_mm + GAP_MM;
    const char *text = mb_arena_printf(
        o->arena, "View: %s. Photos are flat: steep surfaces count less.%s", o->view->name,
        o->marks.has_scale ? "" : " No scale is known.");
    enum mb_rc rc = mb_canvas_text(canvas, &type, mb_str_of(text), 0, y, o->width_mm, NULL, err);

    y += ROW_MM;
    for (const struct mb_legend *l = o->marks.legend; l && !rc; l = l->next, y += ROW_MM) {
        struct mb_mm_box box = { 0, y, SAMPLE_WIDTH_MM, SAMPLE_HEIGHT_MM };
        const struct mb_mark *mark = mb_marks_sample(o->arena, l->kind, l->index, box);

        for (; mark && !rc; mark = mark->next)
            draw_mark(canvas, mark, err, &rc);
        text = mb_arena_printf(o->arena, "%s%s%s%s%s%s", l->name, *l->share ? ": " : "", l->share,
                               *l->range ? " (" : "", l->range, *l->range ? ")" : "");
        if (!rc)
            rc = mb_canvas_text(canvas, l->kind == MB_LEGEND_INDIVIDUAL ? &head : &type,
                                mb_str_of(text),
                                l->kind == MB_LEGEND_INDIVIDUAL ? 0 : SAMPLE_WIDTH_MM + GAP_MM,
                                y + 1, 0, NULL, err);
    }
    return rc;
}

enum mb_rc mb_overlay_draw(const struct mb_overlay *o, mb_canvas *canvas, double x, double y,
                           struct mb_error *err)
{
    const struct mb_mm_box box = { 0, 0, o->width_mm, o->photo_height_mm };
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
    if (!rc)
        rc = legend(o, canvas, err);
    mb_canvas_pop(canvas);
    return rc;
}
