#include <markerbed/shares.h>

#include <string.h>

#include "canvas.h"
#include "decimal.h"
#include "fileio.h"
#include "measure.h"
#include "overlay.h"
#include "text.h"

enum { OUTLINES_MAX = 32 << 20, PHOTO_MAX = 64 << 20, OVERLAY_DPI = 200 };
#define OVERLAY_WIDTH_MM 200.0

static enum mb_rc measure(mb_arena *arena, const char *path, const struct mb_measure_given *given,
                          const struct mb_measured **out, struct mb_error *err)
{
    static const struct mb_measure_given nothing = { 0 };
    const struct mb_measure_given *g = given ? given : &nothing;
    struct mb_outlines_given from = { g->view, g->individual, g->element, g->not_examined,
                                      g->not_examined_count, 0, g->area_mm2 };
    const struct mb_outlines *outlines;
    struct mb_str text;
    enum mb_rc rc;

    if (g->line_px) {
        from.line_px = mb_decimal_double(mb_str_of(g->line_px));
        if (!(from.line_px > 0))
            return mb_fail(err, MB_REFUSED,
                           "'%s' is no width of a line; give it in pixels of the photo, like 4",
                           g->line_px);
    }
    rc = mb_file_read(arena, path, OUTLINES_MAX, &text, err);
    if (!rc)
        rc = mb_outlines_read(arena, path, text, &from, &outlines, err);
    return rc ? rc : mb_measure(arena, outlines, out, err);
}

enum mb_rc mb_measure_file(mb_arena *arena, const char *path, const struct mb_measure_given *given,
                           const mb_json **out, struct mb_error *err)
{
    const struct mb_measured *measured;
    enum mb_rc rc = measure(arena, path, given, &measured, err);

    if (!rc)
        *out = mb_measure_json(arena, measured);
    return rc;
}

static bool ends_with(const char *text, const char *end)
{
    size_t len = strlen(text), n = strlen(end);

    return len > n && strcmp(text + len - n, end) == 0;
}

static enum mb_rc form_of(const char *name, enum mb_canvas_form *form, struct mb_error *err)
{
    if (ends_with(name, ".svg"))
        *form = MB_CANVAS_SVG;
    else if (ends_with(name, ".png"))
        *form = MB_CANVAS_PNG;
    else if (ends_with(name, ".pdf"))
        *form = MB_CANVAS_PDF;
    else
        return mb_fail(err, MB_REFUSED, "%s: an overlay is written as .svg, .png or .pdf", name);
    return MB_OK;
}

static enum mb_rc view_named(const struct mb_measured *measured, const char *name,
                             const struct mb_view **out, struct mb_error *err)
{
    for (*out = measured->outlines->views; *out; *out = (*out)->next)
        if (!name || strcmp((*out)->name, name) == 0)
            return MB_OK;
    if (!name)
        return mb_fail(err, MB_REFUSED, "%s: there is no view in it", measured->outlines->file);
    return mb_fail(err, MB_REFUSED, "%s: there is no view named '%s'", measured->outlines->file,
                   name);
}

/* *there is false where no photo is named. */
static enum mb_rc read_photo(mb_arena *arena, const char *path, const struct mb_view *view,
                             const char *photo, struct mb_picture *out, bool *there,
                             struct mb_error *err)
{
    const char *folder = mb_arena_copy(arena, path, (size_t)(mb_path_name(path) - path));
    struct mb_str bytes;
    enum mb_rc rc;

    *there = photo || *view->photo;
    if (!*there)
        return MB_OK;
    if (!photo)
        photo = *folder ? mb_path_join(arena, folder, mb_path_name(view->photo))
                        : mb_path_name(view->photo);
    rc = mb_file_read(arena, photo, PHOTO_MAX, &bytes, err);
    if (!rc)
        rc = mb_picture_look(bytes, out, err);
    if (rc)
        mb_fail_where(err, "the photo %s", photo);
    return rc;
}

enum mb_rc mb_measure_overlay(mb_arena *arena, const char *path,
                              const struct mb_measure_given *given, const char *view,
                              const char *photo, const char *name, struct mb_str *out,
                              struct mb_error *err)
{
    struct mb_canvas_setup setup = { .dpi = OVERLAY_DPI, .width_mm = OVERLAY_WIDTH_MM };
    const struct mb_measured *measured;
    struct mb_overlay overlay = { .arena = arena };
    struct mb_picture picture;
    mb_canvas *canvas;
    bool there;
    enum mb_rc rc = form_of(name, &setup.form, err);

    if (!rc)
        rc = measure(arena, path, given, &measured, err);
    if (!rc)
        rc = view_named(measured, view, &overlay.view, err);
    if (!rc)
        rc = read_photo(arena, path, overlay.view, photo, &picture, &there, err);
    if (rc)
        return rc;
    overlay.measured = measured;
    overlay.photo = there ? &picture : NULL;
    rc = mb_overlay_prepare(&overlay, OVERLAY_WIDTH_MM - 2 * MB_OVERLAY_EDGE_MM, err);
    setup.height_mm = overlay.height_mm + 2 * MB_OVERLAY_EDGE_MM;
    if (!rc)
        rc = mb_canvas_open(&setup, &canvas, err);
    if (rc)
        return rc;
    rc = mb_overlay_draw(&overlay, canvas, MB_OVERLAY_EDGE_MM, MB_OVERLAY_EDGE_MM, err);
    if (!rc)
        rc = mb_canvas_finish(canvas, arena, out, err);
    mb_canvas_close(canvas);
    return rc;
}
