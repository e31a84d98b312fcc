#include "canvas.h"

#include <math.h>
#include <string.h>

#include <pango/pangocairo.h>

#include "canvas_priv.h"
#include "text.h"

#define FAMILY "DejaVu Sans"
#define FAMILY_MONO "DejaVu Sans Mono"

static PangoContext *context(PangoFontMap *map, PangoDirection direction)
{
    PangoContext *pango = pango_font_map_create_context(map);
    cairo_font_options_t *options = cairo_font_options_create();

    /* Lines break alike on paper and on a screen: no rounding to the pixels of either. */
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    pango_cairo_context_set_font_options(pango, options);
    pango_cairo_context_set_resolution(pango, 72);
    pango_context_set_round_glyph_positions(pango, FALSE);
    pango_context_set_base_dir(pango, direction);
    pango_context_set_language(pango, pango_language_from_string("en"));
    cairo_font_options_destroy(options);
    return pango;
}

enum mb_rc mb_canvas_open_text(mb_canvas *canvas, struct mb_error *err)
{
    PangoFontMap *map = pango_cairo_font_map_get_default();
    PangoFontDescription *family = pango_font_description_from_string(FAMILY " 10");
    PangoFont *font;

    canvas->rightward = context(map, PANGO_DIRECTION_LTR);
    canvas->leftward = context(map, PANGO_DIRECTION_RTL);
    font = pango_font_map_load_font(map, canvas->rightward, family);
    pango_font_description_free(family);
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
    g_clear_object(&canvas->rightward);
    g_clear_object(&canvas->leftward);
}

void mb_canvas_shutdown(void)
{
    pango_cairo_font_map_set_default(NULL);
}

/* U+FDD0-FDEF and the last two of each plane (Unicode 15, 23.7). */
void mb_canvas_drop_noncharacters(char *text, size_t len)
{
    struct mb_str rest = { text, len };
    uint32_t code;

    while (rest.len > 0) {
        size_t n = mb_utf8_next(rest, &code);
        char *at = text + (len - rest.len);

        if (code >= 0xFDD0 && code <= 0xFDEF)
            memcpy(at, "\xEF\xBF\xBD", 3);
        else if ((code & 0xFFFE) == 0xFFFE)
            at[n - 1] = '\xBD';
        rest.at += n;
        rest.len -= n;
    }
}

PangoFontDescription *mb_canvas_font(const struct mb_type *type)
{
    PangoFontDescription *font = pango_font_description_new();
    double size = type->size_pt != 0 ? type->size_pt : 10;

    pango_font_description_set_family_static(font, type->mono ? FAMILY_MONO : FAMILY);
    pango_font_description_set_absolute_size(font, size * PANGO_SCALE);
    pango_font_description_set_weight(font, type->weight ? (PangoWeight)type->weight
                                                         : PANGO_WEIGHT_NORMAL);
    pango_font_description_set_style(font, type->italic ? PANGO_STYLE_ITALIC : PANGO_STYLE_NORMAL);
    return font;
}

static void put(PangoAttrList *list, PangoAttribute *attribute, size_t from, size_t to)
{
    attribute->start_index = (guint)from;
    attribute->end_index = (guint)to;
    pango_attr_list_insert(list, attribute);
}

void mb_canvas_put_type(PangoAttrList *list, const struct mb_type *type, size_t from, size_t to)
{
    PangoFontDescription *font = mb_canvas_font(type);
    uint32_t rgb = type->ink.rgb;
    double cover = 1 - fmin(fmax(type->ink.fade, 0), 1);

    put(list, pango_attr_font_desc_new(font), from, to);
    pango_font_description_free(font);
    /* No hyphen of ours in somebody's name or number. */
    put(list, pango_attr_insert_hyphens_new(FALSE), from, to);
    put(list, pango_attr_foreground_new((guint16)((rgb >> 16 & 255) * 257),
                                        (guint16)((rgb >> 8 & 255) * 257),
                                        (guint16)((rgb & 255) * 257)), from, to);
    if (cover < 1)
        put(list, pango_attr_foreground_alpha_new((guint16)fmax(cover * 65535, 1)), from, to);
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
