#include "canvas.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "canvas_priv.h"
#include "jpeg.h"
#include "sha256.h"

static cairo_status_t take_bytes(void *owner, unsigned char *to, unsigned len)
{
    struct mb_str *rest = owner;

    if (len > rest->len)
        return CAIRO_STATUS_READ_ERROR;
    memcpy(to, rest->at, len);
    rest->at += len;
    rest->len -= len;
    return CAIRO_STATUS_SUCCESS;
}

/* A copy that the surface frees: it may need the bytes for longer than the caller has them. */
static void attach(cairo_surface_t *surface, const char *mime, struct mb_str bytes)
{
    unsigned char *copy = malloc(bytes.len);

    if (!copy)
        abort();
    memcpy(copy, bytes.at, bytes.len);
    if (cairo_surface_set_mime_data(surface, mime, copy, bytes.len, free, copy) !=
        CAIRO_STATUS_SUCCESS)
        abort();
}

static enum mb_rc load_png(const struct mb_picture *p, bool keep_file, cairo_surface_t **out,
                           struct mb_error *err)
{
    struct mb_str rest = p->bytes;
    cairo_surface_t *s = cairo_image_surface_create_from_png_stream(take_bytes, &rest);

    if (cairo_surface_status(s) != CAIRO_STATUS_SUCCESS) {
        cairo_surface_destroy(s);
        return mb_fail(err, MB_REFUSED,
                       "the picture inside the photo file is damaged or cut short; copy it again "
                       "from where it came from");
    }
    if (keep_file) {
        mb_arena *arena = mb_arena_new();

        attach(s, CAIRO_MIME_TYPE_PNG, mb_picture_clean(arena, p, false));
        mb_arena_free(arena);
    }
    *out = s;
    return MB_OK;
}

/* The photo goes into the file as it is; what cairo draws with is only its shape. A PDF scales that
 * to the unit square, so one pixel does; an SVG keeps proportions, so it takes all of them. */
static enum mb_rc embed_jpeg(mb_canvas *c, const struct mb_picture *p, cairo_surface_t **out,
                             struct mb_error *err)
{
    bool pdf = c->form == MB_CANVAS_PDF;
    enum mb_rc rc = mb_jpeg_check(p, err);
    mb_arena *arena;

    if (rc)
        return rc;
    *out = cairo_image_surface_create(CAIRO_FORMAT_A8, pdf ? 1 : p->width_px,
                                      pdf ? 1 : p->height_px);
    arena = mb_arena_new();
    attach(*out, CAIRO_MIME_TYPE_JPEG, pdf ? p->bytes : mb_picture_clean(arena, p, false));
    mb_arena_free(arena);
    return MB_OK;
}

static uint32_t *room_in_surface(void *owner, int width_px, int height_px, size_t *row_words)
{
    cairo_surface_t **surface = owner;
    void *pixels;

    *surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, width_px, height_px);
    pixels = cairo_image_surface_get_data(*surface);
    *row_words = (size_t)cairo_image_surface_get_stride(*surface) / sizeof(uint32_t);
    return pixels;
}

static enum mb_rc unpack_jpeg(const struct mb_picture *p, double wide_px, double high_px,
                              cairo_surface_t **out, struct mb_error *err)
{
    cairo_surface_t *surface = NULL;
    struct mb_jpeg_room room = { room_in_surface, &surface };
    enum mb_rc rc =
        mb_jpeg_decode(p, (int)fmin(wide_px, 65535), (int)fmin(high_px, 65535), &room, err);

    if (rc) {
        cairo_surface_destroy(surface);
        return rc;
    }
    cairo_surface_mark_dirty(surface);
    *out = surface;
    return MB_OK;
}

/* Exif orientation as a map from the unit square of the stored photo to that of the upright one. */
static cairo_matrix_t upright(int turn)
{
    static const cairo_matrix_t maps[9] = {
        [1] = { 1, 0, 0, 1, 0, 0 },  [2] = { -1, 0, 0, 1, 1, 0 }, [3] = { -1, 0, 0, -1, 1, 1 },
        [4] = { 1, 0, 0, -1, 0, 1 }, [5] = { 0, 1, 1, 0, 0, 0 },  [6] = { 0, 1, -1, 0, 1, 0 },
        [7] = { 0, -1, -1, 0, 1, 1 }, [8] = { 0, -1, 1, 0, 0, 1 },
    };

    return maps[turn >= 1 && turn <= 8 ? turn : 1];
}

static struct mb_mm_box placed(const struct mb_picture *p, struct mb_mm_box box, enum mb_fit fit)
{
    struct mb_mm_box to = box;
    int w, h;
    double scale;

    if (fit == MB_FIT_STRETCH)
        return box;
    mb_picture_upright(p, &w, &h);
    scale = fmin(box.width / w, box.height / h);
    to.width = w * scale;
    to.height = h * scale;
    if (fit == MB_FIT_MIDDLE) {
        to.x += (box.width - to.width) / 2;
        to.y += (box.height - to.height) / 2;
    }
    return to;
}

static enum mb_rc load(mb_canvas *c, const struct mb_picture *p, struct mb_mm_box to,
                       cairo_surface_t **out, struct mb_error *err)
{
    bool lying = p->turn >= 5;

    if (p->form == MB_PICTURE_PNG)
        return load_png(p, c->form == MB_CANVAS_SVG, out, err);
    if (c->form != MB_CANVAS_PNG)
        return embed_jpeg(c, p, out, err);
    return unpack_jpeg(p, (lying ? to.height : to.width) * c->px_per_mm,
                       (lying ? to.width : to.height) * c->px_per_mm, out, err);
}

/* A photo on several pages is stored once: cairo knows a surface again. Twice on one page it would
 * be named twice in that page's resources, which PDF forbids, so there it is stored anew. Pixels
 * for one place on a PNG are not kept. */
static enum mb_rc find_or_load(mb_canvas *c, const struct mb_picture *p, struct mb_mm_box to,
                               cairo_surface_t **out, struct mb_error *err)
{
    struct mb_stored_picture *stored;
    struct mb_hash hash = mb_sha256_str(p->bytes);
    enum mb_rc rc;

    for (stored = c->pictures; stored; stored = stored->next)
        if (stored->page != c->pages && mb_hash_equal(&stored->hash, &hash)) {
            stored->page = c->pages;
            *out = cairo_surface_reference(stored->surface);
            return MB_OK;
        }
    rc = load(c, p, to, out, err);
    if (rc || c->form == MB_CANVAS_PNG)
        return rc;
    stored = MB_NEW(c->arena, struct mb_stored_picture);
    stored->hash = hash;
    stored->page = c->pages;
    stored->surface = cairo_surface_reference(*out);
    stored->next = c->pictures;
    c->pictures = stored;
    return MB_OK;
}

/* Padding keeps the edges from fading into the paper; in a PDF it would unpack the photo. */
static void paint(mb_canvas *c, cairo_surface_t *surface)
{
    if (c->form != MB_CANVAS_PNG) {
        cairo_paint(c->cr);
        return;
    }
    cairo_pattern_set_extend(cairo_get_source(c->cr), CAIRO_EXTEND_PAD);
    cairo_rectangle(c->cr, 0, 0, cairo_image_surface_get_width(surface),
                    cairo_image_surface_get_height(surface));
    cairo_fill(c->cr);
}

enum mb_rc mb_canvas_picture(mb_canvas *canvas, const struct mb_picture *picture,
                             struct mb_mm_box box, enum mb_fit fit, struct mb_mm_box *drawn,
                             struct mb_error *err)
{
    struct mb_mm_box to = placed(picture, box, fit);
    cairo_matrix_t turn = upright(picture->turn);
    cairo_surface_t *surface = NULL;
    cairo_t *cr = canvas->cr;
    enum mb_rc rc;

    if (!mb_canvas_may_draw(canvas, (double[]){ box.x, box.y, box.width, box.height }, 4))
        return mb_fail(err, canvas->trouble.code, "%s", canvas->trouble.text);
    if (!(box.width > 0 && box.height > 0))
        return mb_fail(err, MB_REFUSED, "a photo needs a box with some room in it");
    rc = find_or_load(canvas, picture, to, &surface, err);
    if (rc)
        return rc;
    cairo_save(cr);
    cairo_translate(cr, to.x, to.y);
    cairo_scale(cr, to.width, to.height);
    cairo_transform(cr, &turn);
    cairo_scale(cr, 1.0 / cairo_image_surface_get_width(surface),
                1.0 / cairo_image_surface_get_height(surface));
    cairo_set_source_surface(cr, surface, 0, 0);
    paint(canvas, surface);
    cairo_restore(cr);
    cairo_surface_destroy(surface);
    if (drawn)
        *drawn = to;
    return MB_OK;
}

void mb_canvas_close_pictures(mb_canvas *canvas)
{
    for (struct mb_stored_picture *p = canvas->pictures; p; p = p->next)
        cairo_surface_destroy(p->surface);
    canvas->pictures = NULL;
}
