#include "canvas.h"

#include <math.h>
#include <string.h>

#include <cairo/cairo.h>
#include <fontconfig/fontconfig.h>
#include <pango/pangocairo.h>

#include "canvas_priv.h"
#include "text.h"

#define FAMILY "DejaVu Sans"
#define FAMILY_MONO "DejaVu Sans Mono"
#define POINTS(units) ((double)(units) / PANGO_SCALE)
#define TALLEST 3.0 /* a line may take so many times its own height */

struct line {
    PangoLayoutLine *line; /* owned by the layout */
    double x, width;       /* points, within the block */
    double ascent, height; /* baseline below the top of the line; both in points */
    double before;         /* room above, points */
    bool clip;             /* its letters would reach out of even the tallest line */
};

struct mb_block {
    mb_block *next, *previous;
    mb_canvas *canvas;
    mb_arena *arena;
    PangoLayout *layout;
    struct line *lines;
    size_t count, drawn;
    double width; /* points */
};

/* ---- setting up ---- */

enum mb_rc mb_canvas_open_text(mb_canvas *canvas, struct mb_error *err)
{
    PangoFontMap *map = pango_cairo_font_map_get_default();
    cairo_font_options_t *options = cairo_font_options_create();
    PangoFontDescription *family = pango_font_description_from_string(FAMILY " 10");
    PangoFont *font;

    canvas->pango = pango_font_map_create_context(map);
    /* Lines break alike on paper and on a screen: no rounding to the pixels of either. */
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    pango_cairo_context_set_font_options(canvas->pango, options);
    pango_cairo_context_set_resolution(canvas->pango, 72);
    pango_context_set_round_glyph_positions(canvas->pango, FALSE);
    pango_context_set_base_dir(canvas->pango, PANGO_DIRECTION_WEAK_LTR);
    pango_context_set_language(canvas->pango, pango_language_from_string("en"));
    font = pango_font_map_load_font(map, canvas->pango, family);
    pango_font_description_free(family);
    cairo_font_options_destroy(options);
    if (!font)
        return mb_fail(err, MB_UNABLE,
                       "no font is installed, so nothing can be printed; install one (DejaVu Sans "
                       "is best)");
    g_object_unref(font);
    return MB_OK;
}

void mb_canvas_close_text(mb_canvas *canvas)
{
    while (canvas->blocks)
        mb_block_free(canvas->blocks);
    g_clear_object(&canvas->pango);
}

void mb_canvas_shutdown(void)
{
    pango_cairo_font_map_set_default(NULL);
    cairo_debug_reset_static_data();
    FcFini();
}

/* ---- laying out ---- */

static enum mb_rc check_runs(const struct mb_run *runs, size_t count, double width_mm,
                             struct mb_error *err)
{
    size_t len = 0;

    if (!(width_mm >= 0 && width_mm <= MB_FAR_MM))
        return mb_fail(err, MB_REFUSED, "a text cannot be %g mm wide", width_mm);
    for (size_t i = 0; i < count; i++) {
        const struct mb_type *t = &runs[i].type;

        if (t->size_pt != 0 && !(t->size_pt >= 2 && t->size_pt <= 400))
            return mb_fail(err, MB_REFUSED, "letters cannot be %g points high; allowed are 2-400",
                           t->size_pt);
        if (!mb_text_allowed(runs[i].text, true))
            return mb_fail(err, MB_REFUSED,
                           "a text to be printed is not UTF-8, or has control characters or marks "
                           "that turn the direction of writing; take them out");
        len += runs[i].text.len;
        if (len > MB_BLOCK_BYTES_MAX)
            return mb_fail(err, MB_REFUSED, "a text to be printed is longer than %d KiB; shorten it",
                           MB_BLOCK_BYTES_MAX / 1024);
    }
    return MB_OK;
}

static void put(PangoAttrList *list, PangoAttribute *attribute, size_t from, size_t to)
{
    attribute->start_index = (guint)from;
    attribute->end_index = (guint)to;
    pango_attr_list_insert(list, attribute);
}

static PangoFontDescription *font_of(const struct mb_type *t)
{
    PangoFontDescription *font = pango_font_description_new();
    double size = t->size_pt != 0 ? t->size_pt : 10;

    pango_font_description_set_family_static(font, t->mono ? FAMILY_MONO : FAMILY);
    pango_font_description_set_absolute_size(font, size * PANGO_SCALE);
    pango_font_description_set_weight(font, t->weight ? (PangoWeight)t->weight
                                                      : PANGO_WEIGHT_NORMAL);
    pango_font_description_set_style(font, t->italic ? PANGO_STYLE_ITALIC : PANGO_STYLE_NORMAL);
    return font;
}

static void put_run(PangoAttrList *list, const struct mb_type *t, size_t from, size_t to)
{
    PangoFontDescription *font = font_of(t);
    uint32_t rgb = t->ink.rgb;
    double cover = 1 - fmin(fmax(t->ink.fade, 0), 1);

    put(list, pango_attr_font_desc_new(font), from, to);
    pango_font_description_free(font);
    put(list, pango_attr_foreground_new((guint16)((rgb >> 16 & 255) * 257),
                                        (guint16)((rgb >> 8 & 255) * 257),
                                        (guint16)((rgb & 255) * 257)), from, to);
    if (cover < 1)
        put(list, pango_attr_foreground_alpha_new((guint16)fmax(cover * 65535, 1)), from, to);
}

static PangoLayout *lay_out(mb_canvas *c, const struct mb_run *runs, size_t count, double width_mm)
{
    PangoLayout *layout = pango_layout_new(c->pango);
    PangoAttrList *list = pango_attr_list_new();
    PangoFontDescription *font = font_of(&runs[0].type);
    enum mb_align align = runs[0].type.align;
    MB_BUF_AUTO struct mb_buf text;

    mb_buf_init(&text, MB_BLOCK_BYTES_MAX);
    for (size_t i = 0; i < count; i++) {
        size_t from = text.len;

        mb_buf_add_str(&text, runs[i].text);
        put_run(list, &runs[i].type, from, text.len);
    }
    pango_layout_set_font_description(layout, font);
    pango_font_description_free(font);
    pango_layout_set_width(layout, width_mm > 0
                                       ? (int)(width_mm / MB_MM_PER_POINT * PANGO_SCALE)
                                       : -1);
    pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
    pango_layout_set_alignment(layout, align == MB_ALIGN_MIDDLE ? PANGO_ALIGN_CENTER
                                       : align == MB_ALIGN_END  ? PANGO_ALIGN_RIGHT
                                                                : PANGO_ALIGN_LEFT);
    /* No hyphen of ours in somebody's name or number. */
    put(list, pango_attr_insert_hyphens_new(FALSE), 0, text.len);
    pango_layout_set_attributes(layout, list);
    pango_attr_list_unref(list);
    pango_layout_set_text(layout, text.at, (int)text.len);
    return layout;
}

/* The line's own box, grown to what its letters really cover. */
static struct line measure(PangoLayoutIter *iter, const struct mb_type *type, bool first)
{
    PangoRectangle ink, box;
    struct line l = { .line = pango_layout_iter_get_line_readonly(iter) };
    double leading = type->leading > 0 ? fmin(fmax(type->leading, 0.8), 3) : 1;
    double own, over, under, baseline, spare;

    pango_layout_iter_get_line_extents(iter, &ink, &box);
    own = POINTS(box.height);
    baseline = POINTS(pango_layout_iter_get_baseline(iter) - box.y);
    spare = own * (leading - 1) / 2;
    over = fmax(POINTS(box.y - ink.y), spare);
    under = fmax(POINTS(ink.y + ink.height - box.y - box.height), spare);
    if (ink.height == 0)
        over = under = spare;
    l.clip = over > own * (TALLEST - 1) / 2 || under > own * (TALLEST - 1) / 2;
    over = fmin(over, own * (TALLEST - 1) / 2);
    under = fmin(under, own * (TALLEST - 1) / 2);
    l.x = POINTS(box.x);
    l.width = POINTS(box.width);
    l.ascent = over + baseline;
    l.height = over + own + under;
    if (!first && pango_layout_line_is_paragraph_start(l.line) && type->between_mm > 0)
        l.before = type->between_mm / MB_MM_PER_POINT;
    return l;
}

static void find_lines(mb_block *b, const struct mb_type *type)
{
    PangoLayoutIter *iter = pango_layout_get_iter(b->layout);
    size_t i = 0;

    b->count = (size_t)pango_layout_get_line_count(b->layout);
    b->lines = MB_ARRAY(b->arena, b->count, struct line);
    do {
        b->lines[i] = measure(iter, type, i == 0);
        b->width = fmax(b->width, b->lines[i].width);
        i++;
    } while (i < b->count && pango_layout_iter_next_line(iter));
    pango_layout_iter_free(iter);
}

enum mb_rc mb_block_new_runs(mb_canvas *canvas, const struct mb_run *runs, size_t count,
                             double width_mm, mb_block **out, struct mb_error *err)
{
    enum mb_rc rc = check_runs(runs, count, width_mm, err);
    mb_arena *arena;
    mb_block *b;

    if (!rc && count == 0)
        rc = mb_fail(err, MB_REFUSED, "a text to be printed has no parts");
    if (rc)
        return rc;
    arena = mb_arena_new();
    b = MB_NEW(arena, mb_block);
    b->arena = arena;
    b->canvas = canvas;
    b->layout = lay_out(canvas, runs, count, width_mm);
    find_lines(b, &runs[0].type);
    b->next = canvas->blocks;
    if (b->next)
        b->next->previous = b;
    canvas->blocks = b;
    *out = b;
    return MB_OK;
}

enum mb_rc mb_block_new(mb_canvas *canvas, const struct mb_type *type, struct mb_str text,
                        double width_mm, mb_block **out, struct mb_error *err)
{
    return mb_block_new_runs(canvas, &(struct mb_run){ text, *type }, 1, width_mm, out, err);
}

void mb_block_free(mb_block *block)
{
    if (!block)
        return;
    if (block->next)
        block->next->previous = block->previous;
    if (block->previous)
        block->previous->next = block->next;
    else
        block->canvas->blocks = block->next;
    g_object_unref(block->layout);
    mb_arena_free(block->arena);
}

/* ---- asking and drawing ---- */

/* Room above is left out at the top of what is drawn in one go. */
static double line_step(const mb_block *b, size_t i, size_t top)
{
    return b->lines[i].height + (i > top ? b->lines[i].before : 0);
}

static double height_of(const mb_block *b, size_t from, size_t to)
{
    double height = 0;

    for (size_t i = from; i < to; i++)
        height += line_step(b, i, from);
    return height;
}

/* Index behind the last line that fits. */
static size_t fitting(const mb_block *b, double height_mm)
{
    double left = height_mm / MB_MM_PER_POINT + 1e-6;
    size_t end = b->drawn;

    while (end < b->count && line_step(b, end, b->drawn) <= left)
        left -= line_step(b, end++, b->drawn);
    if (end + 1 == b->count && end - b->drawn >= 3)
        end--;
    return end;
}

double mb_block_height(const mb_block *block)
{
    return height_of(block, block->drawn, block->count) * MB_MM_PER_POINT;
}

size_t mb_block_lines(const mb_block *block)
{
    return block->count - block->drawn;
}

bool mb_block_done(const mb_block *block)
{
    return block->drawn == block->count;
}

double mb_block_fits(const mb_block *block, double height_mm)
{
    return height_of(block, block->drawn, fitting(block, height_mm)) * MB_MM_PER_POINT;
}

double mb_block_width(const mb_block *block)
{
    return block->width * MB_MM_PER_POINT;
}

double mb_block_baseline(const mb_block *block)
{
    return mb_block_done(block) ? 0 : block->lines[block->drawn].ascent * MB_MM_PER_POINT;
}

size_t mb_block_missing(const mb_block *block)
{
    return (size_t)pango_layout_get_unknown_glyphs_count(block->layout);
}

static void draw_line(cairo_t *cr, const struct line *l, double top)
{
    cairo_save(cr);
    if (l->clip) {
        cairo_rectangle(cr, l->x - 1000, top, l->width + 2000, l->height);
        cairo_clip(cr);
    }
    cairo_move_to(cr, l->x, top + l->ascent);
    pango_cairo_show_layout_line(cr, l->line);
    cairo_restore(cr);
}

double mb_block_draw(mb_block *block, double x_mm, double y_mm, double height_mm)
{
    mb_canvas *c = block->canvas;
    size_t end = fitting(block, height_mm), from = block->drawn;
    double y = 0;

    if (mb_canvas_may_draw(c, (double[]){ x_mm, y_mm }, 2)) {
        cairo_save(c->cr);
        cairo_new_path(c->cr);
        cairo_translate(c->cr, x_mm, y_mm);
        cairo_scale(c->cr, MB_MM_PER_POINT, MB_MM_PER_POINT);
        for (size_t i = from; i < end; i++) {
            y += line_step(block, i, from) - block->lines[i].height;
            draw_line(c->cr, &block->lines[i], y);
            y += block->lines[i].height;
        }
        cairo_restore(c->cr);
    }
    block->drawn = end;
    return height_of(block, from, end) * MB_MM_PER_POINT;
}

enum mb_rc mb_canvas_text(mb_canvas *canvas, const struct mb_type *type, struct mb_str text,
                          double x_mm, double y_mm, double width_mm, double *height_mm,
                          struct mb_error *err)
{
    mb_block *block;
    double height;
    enum mb_rc rc = mb_block_new(canvas, type, text, width_mm, &block, err);

    if (rc)
        return rc;
    height = mb_block_draw(block, x_mm, y_mm, INFINITY);
    mb_block_free(block);
    if (height_mm)
        *height_mm = height;
    return MB_OK;
}
