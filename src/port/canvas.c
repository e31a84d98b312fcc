#include "canvas.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <cairo/cairo-pdf.h>
#include <cairo/cairo-svg.h>

#include "canvas_priv.h"
#include "date.h"
#include "text.h"

#define FILE_BYTES_MAX (512u << 20)
#define DEPTH_MAX 64

static cairo_status_t keep_bytes(void *owner, const unsigned char *bytes, unsigned len)
{
    struct mb_buf *buf = owner;

    mb_buf_add(buf, bytes, len);
    return mb_buf_ok(buf) ? CAIRO_STATUS_SUCCESS : CAIRO_STATUS_WRITE_ERROR;
}

/* ---- opening ---- */

static enum mb_rc check_setup(const struct mb_canvas_setup *s, struct mb_error *err)
{
    double most = s->form == MB_CANVAS_SVG ? 30000 : 3000;
    double px;

    if (!(s->width_mm >= 5 && s->width_mm <= most && s->height_mm >= 5 && s->height_mm <= most))
        return mb_fail(err, MB_REFUSED, "a page of %g x %g mm is not possible; allowed is 5-%g mm",
                       s->width_mm, s->height_mm, most);
    if (s->form != MB_CANVAS_PNG)
        return MB_OK;
    if (!(s->dpi >= 10 && s->dpi <= 1200))
        return mb_fail(err, MB_REFUSED, "%g dpi are not possible; allowed are 10-1200", s->dpi);
    px = s->dpi / 25.4;
    if (s->width_mm * px > 20000 || s->height_mm * px > 20000 ||
        s->width_mm * px * s->height_mm * px > 64e6)
        return mb_fail(err, MB_REFUSED,
                       "%g x %g mm at %g dpi are too many pixels; ask for fewer dpi",
                       s->width_mm, s->height_mm, s->dpi);
    return MB_OK;
}

static enum mb_rc check_line(const char *what, const char *text, struct mb_error *err)
{
    if (text && !mb_text_allowed(mb_str_of(text), false))
        return mb_fail(err, MB_REFUSED,
                       "the %s of the document must be one line of UTF-8 without control "
                       "characters", what);
    return MB_OK;
}

static void say(mb_canvas *c, cairo_pdf_metadata_t what, const char *text)
{
    char *copy;

    if (!text || !*text)
        return;
    copy = mb_arena_text(c->arena, text);
    mb_canvas_drop_noncharacters(copy, strlen(copy));
    cairo_pdf_surface_set_metadata(c->surface, what, copy);
}

static void set_metadata(mb_canvas *c, const struct mb_canvas_setup *s)
{
    say(c, CAIRO_PDF_METADATA_CREATOR, "Markerbed");
    say(c, CAIRO_PDF_METADATA_CREATE_DATE, mb_moment_write(c->arena, s->created));
    say(c, CAIRO_PDF_METADATA_TITLE, s->title);
    say(c, CAIRO_PDF_METADATA_AUTHOR, s->author);
    say(c, CAIRO_PDF_METADATA_SUBJECT, s->subject);
}

static void make_surface(mb_canvas *c, const struct mb_canvas_setup *s)
{
    double scale = 1 / MB_MM_PER_POINT;

    if (s->form == MB_CANVAS_PDF) {
        c->surface = cairo_pdf_surface_create_for_stream(keep_bytes, &c->bytes, c->points_wide,
                                                         c->points_high);
        set_metadata(c, s);
    } else if (s->form == MB_CANVAS_SVG) {
        c->surface = cairo_svg_surface_create_for_stream(keep_bytes, &c->bytes, c->points_wide,
                                                         c->points_high);
    } else {
        scale = c->px_per_mm = s->dpi / 25.4;
        c->surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24,
                                                (int)ceil(s->width_mm * scale - 1e-6),
                                                (int)ceil(s->height_mm * scale - 1e-6));
    }
    c->cr = cairo_create(c->surface);
    cairo_scale(c->cr, scale, scale);
    cairo_set_fill_rule(c->cr, CAIRO_FILL_RULE_EVEN_ODD);
    if (s->form == MB_CANVAS_PNG) {
        cairo_set_source_rgb(c->cr, 1, 1, 1);
        cairo_paint(c->cr);
    }
}

enum mb_rc mb_canvas_open(const struct mb_canvas_setup *setup, mb_canvas **out,
                          struct mb_error *err)
{
    mb_canvas *c;
    mb_arena *arena;
    enum mb_rc rc = check_setup(setup, err);

    if (!rc)
        rc = check_line("title", setup->title, err);
    if (!rc)
        rc = check_line("author", setup->author, err);
    if (!rc)
        rc = check_line("subject", setup->subject, err);
    if (rc)
        return rc;
    arena = mb_arena_new();
    c = MB_NEW(arena, mb_canvas);
    c->arena = arena;
    c->form = setup->form;
    c->points_wide = setup->width_mm / MB_MM_PER_POINT;
    c->points_high = setup->height_mm / MB_MM_PER_POINT;
    c->pages = 1;
    mb_buf_init(&c->bytes, FILE_BYTES_MAX);
    make_surface(c, setup);
    rc = mb_canvas_open_text(c, err);
    if (!rc && cairo_status(c->cr) != CAIRO_STATUS_SUCCESS)
        rc = mb_fail(err, MB_UNABLE, "the page could not be begun: %s",
                     cairo_status_to_string(cairo_status(c->cr)));
    if (rc)
        mb_canvas_close(c);
    else
        *out = c;
    return rc;
}

void mb_canvas_close(mb_canvas *canvas)
{
    mb_arena *arena;

    if (!canvas)
        return;
    mb_canvas_close_text(canvas);
    cairo_destroy(canvas->cr);
    cairo_surface_finish(canvas->surface);
    cairo_surface_destroy(canvas->surface);
    mb_canvas_close_pictures(canvas);
    mb_buf_done(&canvas->bytes);
    arena = canvas->arena;
    mb_arena_free(arena);
}

/* ---- pages, origin, clip ---- */

bool mb_canvas_may_draw(mb_canvas *canvas, const double *numbers, size_t count)
{
    if (canvas->finished)
        mb_fail(&canvas->trouble, MB_UNABLE, "something was drawn on a finished page");
    for (size_t i = 0; i < count; i++)
        if (!(fabs(numbers[i]) <= MB_FAR_MM))
            mb_fail(&canvas->trouble, MB_REFUSED,
                    "a drawing has the coordinate %g, which lies on no page; allowed is up to %g "
                    "mm", numbers[i], MB_FAR_MM);
    return canvas->trouble.code == MB_OK;
}

void mb_canvas_page(mb_canvas *canvas)
{
    if (!mb_canvas_may_draw(canvas, NULL, 0))
        return;
    if (canvas->form != MB_CANVAS_PDF || canvas->pushed > 0) {
        mb_fail(&canvas->trouble, MB_UNABLE,
                canvas->pushed > 0 ? "a page was ended between push and pop"
                                   : "only a PDF has more than one page");
        return;
    }
    cairo_show_page(canvas->cr);
    canvas->pages++;
}

int mb_canvas_pages(const mb_canvas *canvas)
{
    return canvas->pages;
}

static bool save(mb_canvas *canvas)
{
    if (canvas->pushed >= DEPTH_MAX)
        mb_fail(&canvas->trouble, MB_UNABLE, "more than %d pushes without a pop", DEPTH_MAX);
    if (canvas->trouble.code != MB_OK)
        return false;
    canvas->pushed++;
    cairo_save(canvas->cr);
    return true;
}

void mb_canvas_push(mb_canvas *canvas, double x_mm, double y_mm, double turn_degrees)
{
    if (!mb_canvas_may_draw(canvas, (double[]){ x_mm, y_mm, turn_degrees }, 3) || !save(canvas))
        return;
    cairo_translate(canvas->cr, x_mm, y_mm);
    /* Quarter turns are exact, so that edges stay sharp. */
    if (fmod(turn_degrees, 90) == 0) {
        int quarters = ((int)(turn_degrees / 90) % 4 + 4) % 4;
        static const double cosine[4] = { 1, 0, -1, 0 }, sine[4] = { 0, 1, 0, -1 };
        cairo_matrix_t m = { cosine[quarters], sine[quarters], -sine[quarters], cosine[quarters],
                             0, 0 };

        cairo_transform(canvas->cr, &m);
    } else {
        cairo_rotate(canvas->cr, turn_degrees * M_PI / 180);
    }
}

void mb_canvas_clip(mb_canvas *canvas, double x_mm, double y_mm, double width_mm,
                    double height_mm)
{
    if (!mb_canvas_may_draw(canvas, (double[]){ x_mm, y_mm, width_mm, height_mm }, 4) ||
        !save(canvas))
        return;
    cairo_rectangle(canvas->cr, x_mm, y_mm, width_mm, height_mm);
    cairo_clip(canvas->cr);
}

void mb_canvas_pop(mb_canvas *canvas)
{
    if (!mb_canvas_may_draw(canvas, NULL, 0))
        return;
    if (canvas->pushed == 0) {
        mb_fail(&canvas->trouble, MB_UNABLE, "a pop without a push");
        return;
    }
    canvas->pushed--;
    cairo_restore(canvas->cr);
}

/* ---- finishing ---- */

/*
 * cairo names images and surfaces in an SVG by a counter of the whole process, so that the same
 * drawing made twice would differ. They are counted anew here, in the order they come. Names stand
 * behind id=" or #, and nothing else in the file can look so: text is drawn as outlines, pictures
 * are base64.
 */
static size_t new_number(struct mb_buf *seen, uint64_t number)
{
    size_t count = seen->len / sizeof number;

    for (size_t k = 0; k < count; k++)
        if (memcmp(seen->at + k * sizeof number, &number, sizeof number) == 0)
            return k;
    mb_buf_add(seen, &number, sizeof number);
    return count;
}

static void renumber_word(struct mb_buf *to, struct mb_str svg, const char *word)
{
    MB_BUF_AUTO struct mb_buf seen;
    size_t done = 0, len = strlen(word);

    mb_buf_init(&seen, FILE_BYTES_MAX);
    for (size_t i = 4; i + len < svg.len; i++) {
        size_t end = i + len;
        uint64_t number = 0;

        if (svg.at[i] != *word || memcmp(svg.at + i, word, len) != 0 ||
            (svg.at[i - 1] != '#' && memcmp(svg.at + i - 4, "id=\"", 4) != 0))
            continue;
        for (; end < svg.len && svg.at[end] >= '0' && svg.at[end] <= '9'; end++)
            number = number * 10 + (uint64_t)(svg.at[end] - '0');
        mb_buf_add(to, svg.at + done, i - done);
        mb_buf_printf(to, "%s%zu", word, new_number(&seen, number));
        done = end;
    }
    mb_buf_add(to, svg.at + done, svg.len - done);
}

/* cairo writes the rule of a clip beside the reference to it, where it has no effect; all clips
 * here are even-odd, or a box, to which it does no harm. */
static void put_clip_rules(struct mb_buf *to, struct mb_str svg)
{
    static const char clip[] = "<clipPath ", path[] = "<path ";
    const char *end = svg.at + svg.len, *at;

    while ((at = memmem(svg.at, svg.len, clip, sizeof clip - 1)) &&
           (at = memmem(at, (size_t)(end - at), path, sizeof path - 1))) {
        at += sizeof path - 1;
        mb_buf_add(to, svg.at, (size_t)(at - svg.at));
        mb_buf_add_text(to, "clip-rule=\"evenodd\" ");
        svg = (struct mb_str){ at, (size_t)(end - at) };
    }
    mb_buf_add_str(to, svg);
}

static struct mb_str mend_svg(mb_arena *arena, struct mb_str svg)
{
    MB_BUF_AUTO struct mb_buf images, surfaces, all;

    mb_buf_init(&images, FILE_BYTES_MAX);
    mb_buf_init(&surfaces, FILE_BYTES_MAX);
    mb_buf_init(&all, FILE_BYTES_MAX);
    renumber_word(&images, svg, "image");
    renumber_word(&surfaces, mb_buf_str(&images), "surface");
    put_clip_rules(&all, mb_buf_str(&surfaces));
    return mb_arena_str(arena, mb_buf_str(&all));
}

static enum mb_rc write_out(mb_canvas *c, struct mb_error *err)
{
    cairo_status_t status;

    if (c->form == MB_CANVAS_PNG) {
        status = cairo_status(c->cr);
        if (status == CAIRO_STATUS_SUCCESS)
            status = cairo_surface_write_to_png_stream(c->surface, keep_bytes, &c->bytes);
    } else {
        cairo_show_page(c->cr);
        status = cairo_status(c->cr);
        cairo_surface_finish(c->surface);
        if (status == CAIRO_STATUS_SUCCESS)
            status = cairo_surface_status(c->surface);
    }
    if (status != CAIRO_STATUS_SUCCESS || !mb_buf_ok(&c->bytes))
        return mb_fail(err, MB_UNABLE, "the page could not be written: %s",
                       mb_buf_ok(&c->bytes) ? cairo_status_to_string(status)
                                            : "it takes more than 512 MiB");
    return MB_OK;
}

enum mb_rc mb_canvas_finish(mb_canvas *canvas, mb_arena *arena, struct mb_str *out,
                            struct mb_error *err)
{
    enum mb_rc rc;

    if (mb_canvas_may_draw(canvas, NULL, 0) && canvas->pushed > 0)
        mb_fail(&canvas->trouble, MB_UNABLE, "a push or clip without its pop");
    canvas->finished = true;
    if (canvas->trouble.code != MB_OK)
        return mb_fail(err, canvas->trouble.code, "%s", canvas->trouble.text);
    rc = write_out(canvas, err);
    if (rc)
        return rc;
    if (canvas->form == MB_CANVAS_SVG)
        *out = mend_svg(arena, mb_buf_str(&canvas->bytes));
    else
        *out = mb_arena_str(arena, mb_buf_str(&canvas->bytes));
    return MB_OK;
}
