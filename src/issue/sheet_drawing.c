#include "sheet_drawing.h"

#include "codec.h"
#include "remeasure.h"
#include "text.h"

#define WIDTH_MM 180.0
#define PHOTO_HIGH_MM 80.0 /* two views with their legends go on a page */
#define PHOTO_LEAST_MM 50.0
#define SPACE_MM 2.0
#define SCREEN_WIDTH_MM 100.0 /* so that letters can be read on a phone, where it is made to fit */
#define EDGE_MM 0.5           /* around a sample of the legend */

enum {
    VIEWS_MAX = 8,
    WEIGHTS_MAX = 24,
    LEGEND_MAX = 40,
    SCREEN_DPI = 200,
    SVG_PIXELS_MAX = 4000000, /* of a photo that goes into an SVG as it is */
    SVG_BYTES_MAX = 2 << 20
};

/* ---- which photo ---- */

static const struct mb_bundle_file *file_named(const struct mb_page *page, struct mb_str sha256)
{
    const struct mb_bundle *bundle = page->check->bundle;

    for (size_t i = 0; sha256.at && i < bundle->file_count; i++)
        if (mb_str_equal(bundle->files[i].name, sha256))
            return &bundle->files[i];
    return NULL;
}

/* The one that the outlines name by its hash, else the one that the entry calls by this view. */
static const struct mb_bundle_file *file_of(const struct mb_page *page, const struct mb_told *told,
                                            const struct mb_view *view)
{
    const struct mb_bundle_file *file = file_named(page, mb_str_of(view->photo_sha256));
    const mb_json *rows = mb_told_field(told, "photos", NULL, NULL);

    if (file || !mb_json_is(rows, MB_JSON_ARRAY))
        return file;
    MB_JSON_EACH(row, rows)
    {
        if (!file && mb_json_text_is(mb_json_get(row, "view"), view->name))
            file = file_named(page, mb_json_str(mb_json_get(mb_json_get(row, "file"), "file")));
    }
    return file;
}

/* NULL where there is none of the size that was drawn on. */
static const struct mb_picture *photo_of(const struct mb_page *page, const struct mb_told *told,
                                         const struct mb_view *view)
{
    const struct mb_bundle_file *file = file_of(page, told, view);
    struct mb_picture *picture = MB_NEW(page->arena, struct mb_picture);
    int width, height;

    if (!file || mb_picture_look(file->bytes, picture, NULL))
        return NULL;
    mb_picture_upright(picture, &width, &height);
    return view->width_px > 0 && (view->width_px != width || view->height_px != height) ? NULL
                                                                                        : picture;
}

/* ---- on the page ---- */

static void add_view(struct mb_page *page, const struct mb_told *told,
                     const struct mb_measured *measured, const struct mb_view *view)
{
    struct mb_overlay *overlay = MB_NEW(page->arena, struct mb_overlay);
    struct mb_page_item *item;

    *overlay = (struct mb_overlay){ .arena = page->arena,
                                    .measured = measured,
                                    .view = view,
                                    .photo = photo_of(page, told, view),
                                    .photo_high_mm = PHOTO_HIGH_MM,
                                    .legend_max = LEGEND_MAX };
    if (mb_overlay_prepare(overlay, WIDTH_MM, NULL))
        return;
    item = mb_page_add(page, MB_PAGE_DRAWING);
    item->text = mb_overlay_words(overlay);
    item->drawing = overlay;
}

/* "The whole of A counts each part by its area: front 46.5 %, back 53.5 %." */
static void say_weights(struct mb_page *page, const struct mb_measured *measured)
{
    for (const struct mb_tally *tally = measured->tallies; tally; tally = tally->next) {
        const char *text = "", *before = ": ";

        if (tally->weight_count < 2 || tally->weight_count > WEIGHTS_MAX)
            continue;
        for (size_t i = 0; i < tally->weight_count; i++, before = "; ") {
            const struct mb_weight *weight = &tally->weights[i];

            text = mb_arena_printf(page->arena, "%s%s%s%s%s %s %%", text, before, weight->view,
                                   *weight->element ? ", " : "", weight->element,
                                   mb_share_text(page->arena, weight->tenths));
        }
        mb_page_say(page,
                    mb_arena_printf(page->arena,
                                    "Where %s is told of several views or elements together, each"
                                    " counts by its area%s.",
                                    measured->outlines->individual_count > 1 ? tally->individual
                                                                             : "it",
                                    text));
    }
}

static bool is_drawn(const struct mb_view *view)
{
    return view->parts || view->joins;
}

static void add_views(struct mb_page *page, const struct mb_told *told,
                      const struct mb_measured *measured)
{
    size_t drawn = 0;

    for (const struct mb_view *view = measured->outlines->views; view; view = view->next)
        drawn += is_drawn(view);
    if (!drawn)
        return;
    mb_page_add(page, MB_PAGE_GROUP)->text = "What was drawn and measured";
    mb_page_say(page, "The patterns are those of the bars above; what is original is solid in the"
                      " bars, and left clear on the photos so that it can be seen.");
    say_weights(page, measured);
    drawn = 0;
    for (const struct mb_view *view = measured->outlines->views; view; view = view->next)
        if (is_drawn(view) && drawn++ < VIEWS_MAX)
            add_view(page, told, measured, view);
    if (drawn > VIEWS_MAX)
        mb_page_say(page, mb_arena_printf(page->arena, "%zu more views are in the certificate.",
                                          drawn - VIEWS_MAX));
}

void mb_page_drawings(struct mb_page *page)
{
    const mb_story *story = mb_stories_of(page->check->stories, page->sub);

    for (size_t i = story ? mb_story_count(story) : 0; i-- > 0;) {
        const struct mb_told *told = mb_story_at(story, i);
        const struct mb_measured *measured;

        if (told->voided_by >= 0 || told->entry->seq >= page->index
            || !mb_str_is(told->entry->kind, "condition")
            || !mb_told_field(told, "shares", NULL, NULL))
            continue;
        measured = mb_remeasured_of(page->arena, page->check->bundle, told);
        if (measured)
            add_views(page, told, measured);
        return;
    }
}

/* A photo that turns out to be damaged is left away: the outlines are still worth seeing. */
static enum mb_rc draw_on(const struct mb_overlay *overlay, mb_canvas *canvas, double x, double y,
                          struct mb_error *err)
{
    struct mb_overlay bare = *overlay;
    struct mb_error ignored = { 0 };

    if (mb_overlay_draw(overlay, canvas, x, y, &ignored) == MB_OK)
        return MB_OK;
    bare.photo = NULL;
    return mb_overlay_draw(&bare, canvas, x, y, err);
}

/* ---- on paper ---- */

/* Where a somewhat smaller photo goes on this page with its legend, it is made smaller: else much
 * of the page would stay white. */
static const struct mb_overlay *fitted(struct mb_sheet *s, const struct mb_overlay *overlay)
{
    double over = s->y + overlay->height_mm + SPACE_MM - mb_sheet_bottom(s);
    double high = overlay->box.height - over - SPACE_MM;
    struct mb_overlay *smaller;

    if (over <= 0 || high < PHOTO_LEAST_MM)
        return overlay;
    smaller = MB_NEW(s->arena, struct mb_overlay);
    *smaller = *overlay;
    smaller->arena = s->arena;
    smaller->photo_high_mm = high;
    return mb_overlay_prepare(smaller, overlay->width_mm, NULL) ? overlay : smaller;
}

void mb_sheet_drawing(struct mb_sheet *s, const struct mb_page_item *item)
{
    const struct mb_overlay *overlay = fitted(s, item->drawing);

    mb_sheet_need(s, overlay->height_mm + SPACE_MM);
    if (s->rc)
        return;
    s->rc = draw_on(overlay, s->canvas, MB_SHEET_MARGIN_MM, s->y, s->err);
    s->y += overlay->height_mm + SPACE_MM;
}

/* ---- in a browser ---- */

/* A photo of many megapixels would make the page as heavy again: there the view is a picture. */
static enum mb_canvas_form form_of(const struct mb_picture *photo)
{
    return photo
                   && ((int64_t)photo->width_px * photo->height_px > SVG_PIXELS_MAX
                       || photo->bytes.len > SVG_BYTES_MAX)
               ? MB_CANVAS_PNG
               : MB_CANVAS_SVG;
}

static enum mb_rc draw(const struct mb_overlay *overlay, enum mb_canvas_form form,
                       struct mb_str *out)
{
    const struct mb_canvas_setup setup = { .form = form,
                                           .dpi = SCREEN_DPI,
                                           .width_mm = overlay->width_mm,
                                           .height_mm = overlay->height_mm };
    struct mb_error ignored = { 0 };
    mb_canvas *canvas;
    enum mb_rc rc = mb_canvas_open(&setup, &canvas, &ignored);

    if (rc)
        return rc;
    rc = draw_on(overlay, canvas, 0, 0, &ignored);
    if (!rc)
        rc = mb_canvas_finish(canvas, overlay->arena, out, &ignored);
    mb_canvas_close(canvas);
    return rc;
}

static enum mb_rc sample(const struct mb_overlay *overlay, const struct mb_legend *line,
                         struct mb_str *out)
{
    const struct mb_canvas_setup setup = {
        .form = MB_CANVAS_SVG,
        .width_mm = MB_OVERLAY_SAMPLE_WIDTH_MM + 2 * EDGE_MM,
        .height_mm = MB_OVERLAY_SAMPLE_HEIGHT_MM + 2 * EDGE_MM,
    };
    MB_CANVAS_AUTO mb_canvas *canvas = NULL;
    struct mb_error ignored = { 0 };
    enum mb_rc rc = mb_canvas_open(&setup, &canvas, &ignored);

    if (!rc)
        rc = mb_overlay_sample(overlay, canvas, line, EDGE_MM, EDGE_MM, &ignored);
    return rc ? rc : mb_canvas_finish(canvas, overlay->arena, out, &ignored);
}

/* In letters of the page, so that it can be read on a phone and is not cut apart in print. */
static void legend_html(struct mb_buf *out, const struct mb_overlay *overlay)
{
    size_t left = mb_overlay_lines(overlay);
    struct mb_str svg;

    mb_buf_add_text(out, "<p>");
    mb_buf_add_escaped(out, mb_str_of(mb_overlay_heading(overlay)));
    mb_buf_add_text(out, "</p>\n<ul class=\"legend\">\n");
    for (const struct mb_legend *l = overlay->marks.legend; l && left > 0; l = l->next, left--) {
        bool heading = l->kind == MB_LEGEND_INDIVIDUAL;

        mb_buf_add_text(out, heading ? "<li class=\"head\">" : "<li>");
        if (!heading && sample(overlay, l, &svg) == MB_OK) {
            mb_buf_add_text(out, "<img alt=\"\" src=\"data:image/svg+xml;base64,");
            mb_buf_add_str(out, mb_b64(overlay->arena, svg.at, svg.len));
            mb_buf_add_text(out, "\">");
        }
        mb_buf_add_text(out, "<span>");
        mb_buf_add_escaped(out, mb_str_of(mb_overlay_line(overlay, l)));
        mb_buf_add_text(out, "</span></li>\n");
    }
    mb_buf_add_text(out, "</ul>\n");
}

void mb_drawing_html(struct mb_buf *out, const struct mb_page_item *item)
{
    struct mb_overlay overlay = *item->drawing;
    enum mb_canvas_form form = form_of(overlay.photo);
    struct mb_str bytes;

    overlay.photo_high_mm = 0;
    overlay.bare = true;
    if (mb_overlay_prepare(&overlay, SCREEN_WIDTH_MM, NULL) || draw(&overlay, form, &bytes)) {
        mb_buf_add_text(out, "<p>The drawing could not be made.</p>\n");
        return;
    }
    mb_buf_add_text(out, "<p><img class=\"drawing\" alt=\"");
    mb_buf_add_escaped(out, mb_str_of(item->text));
    mb_buf_printf(out, "\" src=\"data:image/%s;base64,",
                  form == MB_CANVAS_SVG ? "svg+xml" : "png");
    mb_buf_add_str(out, mb_b64(overlay.arena, bytes.at, bytes.len));
    mb_buf_add_text(out, "\"></p>\n");
    legend_html(out, &overlay);
}
