#include <markerbed/shares.h>

#include <string.h>

#include "canvas.h"
#include "codec.h"
#include "decimal.h"
#include "fileio.h"
#include "kinds.h"
#include "measure.h"
#include "overlay.h"
#include "sha256.h"
#include "text.h"

enum { OUTLINES_MAX = 32 << 20, PHOTO_MAX = 64 << 20, OVERLAY_DPI = 200 };
#define OVERLAY_WIDTH_MM 200.0

static enum mb_rc read_outlines(mb_arena *arena, const char *path,
                                const struct mb_measure_given *given,
                                const struct mb_outlines **out, struct mb_error *err)
{
    static const struct mb_measure_given nothing = { 0 };
    const struct mb_measure_given *g = given ? given : &nothing;
    struct mb_outlines_given from = { g->view, g->individual, g->element, g->not_examined,
                                      g->not_examined_count, 0, g->area_mm2 };
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
        rc = mb_outlines_read(arena, path, text, &from, out, err);
    return rc;
}

static enum mb_rc measure(mb_arena *arena, const char *path, const struct mb_measure_given *given,
                          const struct mb_measured **out, struct mb_error *err)
{
    const struct mb_outlines *outlines;
    enum mb_rc rc = read_outlines(arena, path, given, &outlines, err);

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

/* ---- complete, for a record ---- */

struct completing {
    mb_arena *arena;
    const char *path;
    mb_json *photos; /* those that lie beside the outlines */
    struct mb_error *err;
};

static const char *beside(mb_arena *arena, const char *path, const char *name)
{
    const char *folder = mb_arena_copy(arena, path, (size_t)(mb_path_name(path) - path));

    return *folder ? mb_path_join(arena, folder, mb_path_name(name)) : mb_path_name(name);
}

/* A copy without what the camera wrote is what a record keeps for a sale; it counts as the same. */
static bool is_photo(mb_arena *arena, const struct mb_picture *picture, struct mb_str bytes,
                     const char *named, char *hex)
{
    struct mb_hash hash = mb_sha256_str(bytes);
    bool same;

    mb_hex_write(hex, hash.b, sizeof hash.b);
    same = !*named || strcmp(named, hex) == 0;
    if (picture->metadata) {
        hash = mb_sha256_str(mb_picture_clean(arena, picture, true));
        mb_hex_write(hex, hash.b, sizeof hash.b);
        same = same || strcmp(named, hex) == 0;
    }
    return same;
}

/* The size of the view's photo, and the hash of what is kept of it. */
static enum mb_rc take_photo(mb_arena *scratch, struct completing *c, struct mb_view *view,
                             const char *photo)
{
    char *hex = mb_arena_get(c->arena, MB_HEX_LEN(sizeof(struct mb_hash)) + 1);
    struct mb_picture picture;
    struct mb_str bytes;
    int width, height;
    enum mb_rc rc = mb_file_read(scratch, photo, PHOTO_MAX, &bytes, c->err);

    if (!rc)
        rc = mb_picture_look(bytes, &picture, c->err);
    if (rc) {
        mb_fail_where(c->err, "the photo %s", photo);
        return rc;
    }
    if (!is_photo(scratch, &picture, bytes, view->photo_sha256, hex))
        return mb_fail(c->err, MB_REFUSED,
                       "%s: view '%s' was drawn over another photo than %s: its SHA-256 differs",
                       c->path, view->name, photo);
    mb_picture_upright(&picture, &width, &height);
    if (view->width_px > 0 && (view->width_px != width || view->height_px != height))
        return mb_fail(c->err, MB_REFUSED,
                       "%s: view '%s' was drawn over a photo of %.10g x %.10g pixels; %s has %d x"
                       " %d",
                       c->path, view->name, view->width_px, view->height_px, photo, width, height);
    view->photo_sha256 = hex;
    view->width_px = width;
    view->height_px = height;
    return MB_OK;
}

/* {"file":path,"view":name}, as the field photos has them. */
static void list_photo(struct completing *c, const struct mb_view *view, const char *photo)
{
    const struct mb_kind *kind = mb_kind_find(MB_STR("condition"));
    const struct mb_kind_field *field = mb_kind_field(kind, MB_STR("photos"));
    mb_json *row = mb_json_add(c->photos, mb_json_object(c->arena));

    mb_json_put_text(c->arena, row, "file", photo);
    for (size_t i = 0; field && i < field->column_count; i++)
        if (mb_str_is(field->columns[i].name, "view")
            && mb_choice_find(field->columns[i].choices, mb_str_of(view->name)) >= 0)
            mb_json_put_text(c->arena, row, "view", view->name);
}

static enum mb_rc complete_views(struct completing *c, const struct mb_outlines *outlines)
{
    enum mb_rc rc = MB_OK;

    for (struct mb_view *view = outlines->views; view && !rc; view = view->next) {
        const char *photo = *view->photo ? beside(c->arena, c->path, view->photo) : NULL;
        mb_arena *scratch;

        if (!photo || !mb_file_exists(photo))
            continue;
        scratch = mb_arena_new();
        rc = take_photo(scratch, c, view, photo);
        mb_arena_free(scratch);
        if (!rc)
            list_photo(c, view, photo);
    }
    return rc;
}

enum mb_rc mb_measure_complete(mb_arena *arena, const char *path,
                               const struct mb_measure_given *given, const mb_json **out,
                               struct mb_str *complete, struct mb_error *err)
{
    struct completing c = { arena, path, mb_json_array(arena), err };
    const struct mb_outlines *outlines;
    const struct mb_measured *measured;
    mb_arena *scratch = mb_arena_new();
    mb_json *result;
    enum mb_rc rc = read_outlines(scratch, path, given, &outlines, err);

    if (!rc)
        rc = complete_views(&c, outlines);
    if (!rc)
        rc = mb_outlines_write(arena, outlines, complete, err);
    mb_arena_free(scratch);
    if (!rc) /* what the written bytes give, not the drawing's own last digits */
        rc = mb_outlines_read(arena, path, *complete, NULL, &outlines, err);
    if (!rc)
        rc = mb_measure(arena, outlines, &measured, err);
    if (rc)
        return rc;
    result = mb_measure_json(arena, measured);
    mb_json_put(arena, result, "photos", c.photos);
    *out = result;
    return MB_OK;
}

/* ---- drawn ---- */

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
    struct mb_str bytes;
    enum mb_rc rc;

    *there = photo || *view->photo;
    if (!*there)
        return MB_OK;
    if (!photo)
        photo = beside(arena, path, view->photo);
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
