/*
 * Outlines drawn in a vector editor: shapes with data- attributes, which groups hand down to what
 * lies in them. What has none of our attributes is decoration and passed over.
 */
#include "outline_svg.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drawnum.h"
#include "text.h"

static const char *const keys[SVG_KEYS] = {
    "data-kind",    "data-substance",    "data-surface",      "data-view",       "data-photo",
    "data-sha256",  "data-photo-width",  "data-photo-height", "data-line-width", "data-individual",
    "data-element", "data-uncovered",    "data-association",  "data-setting",    "data-shown-by",
    "data-through", "data-cause",        "data-adhesive",     "data-gap-mm",     "data-mm",
    "data-name",    "data-not-examined",
};

static const char *const kinds[SVG_KINDS] = { "specimen", "region", "join", "scale" };

/* What is not drawn where it stands, or is drawn by rules of its own. */
static const char *const shut[] = { "defs",          "symbol", "clipPath", "mask",
                                    "pattern",       "marker", "switch",   "use",
                                    "foreignObject", "text",   "image" };

static const char *const shapes[] = { "path",   "polygon", "polyline", "rect",
                                      "circle", "ellipse", "line" };

static bool is_one_of(struct mb_str name, const char *const *list, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (mb_str_is(name, list[i]))
            return true;
    return false;
}

#define IS_ONE_OF(name, list) is_one_of(name, list, sizeof(list) / sizeof((list)[0]))

/* ---- groups ---------------------------------------------------------------------------------- */

static bool says_hidden(const struct mb_svgxml *xml)
{
    struct mb_str style = mb_svgxml_get(xml, "style");
    char plain[400];
    size_t len = 0;

    for (size_t i = 0; i < style.len && len < sizeof plain - 1; i++)
        if (style.at[i] != ' ')
            plain[len++] = style.at[i];
    plain[len] = '\0';
    return mb_str_is(mb_svgxml_get(xml, "display"), "none")
           || mb_str_is(mb_svgxml_get(xml, "visibility"), "hidden") || strstr(plain, "display:none")
           || strstr(plain, "visibility:hidden");
}

static bool style_has(const struct mb_svgxml *xml, const char *text)
{
    struct mb_str style = mb_svgxml_get(xml, "style");

    return style.len > 0 && memmem(style.at, style.len, text, strlen(text)) != NULL;
}

/* The fill rule, which groups hand down too. */
static void take_fill_rule(const struct mb_svgxml *xml, struct svg_layer *layer)
{
    struct mb_str rule = mb_svgxml_get(xml, "fill-rule");

    if (mb_str_is(rule, "evenodd") || style_has(xml, "fill-rule:evenodd")
        || style_has(xml, "fill-rule: evenodd"))
        layer->even_odd = true;
    else if (mb_str_is(rule, "nonzero") || style_has(xml, "fill-rule:nonzero")
             || style_has(xml, "fill-rule: nonzero"))
        layer->even_odd = false;
}

/* Other programs use data- attributes too; only what looks like one of ours is refused. */
static enum mb_rc take_keys(struct svg_reading *r, struct svg_layer *layer)
{
    for (size_t i = 0; i < r->xml.attribute_count; i++) {
        struct mb_str name = r->xml.attributes[i].name;
        const char *near;
        size_t key = 0;

        if (!mb_str_starts(name, "data-"))
            continue;
        while (key < SVG_KEYS && !mb_str_is(name, keys[key]))
            key++;
        if (key < SVG_KEYS) {
            layer->value[key] = r->xml.attributes[i].value;
            layer->own[key] = true;
            continue;
        }
        near = mb_nearest(name, keys, SVG_KEYS);
        if (near)
            return mb_fail(r->err, MB_REFUSED,
                           "the attribute '%.*s' is not known; did you mean %s?", MB_STR_ARG(name),
                           near);
    }
    return MB_OK;
}

static enum mb_rc open_layer(struct svg_reading *r)
{
    struct svg_layer *layer = &r->layers[r->xml.depth];
    struct mb_str transform = mb_svgxml_get(&r->xml, "transform"), name = r->xml.name;
    struct mb_svgmove move;
    enum mb_rc rc;

    *layer = r->layers[r->xml.depth - 1];
    memset(layer->own, 0, sizeof layer->own);
    /* These say something of one shape, never of a group. */
    layer->value[SVG_NAME] = layer->value[SVG_MM] = (struct mb_str){ NULL, 0 };
    if (!layer->shut && (IS_ONE_OF(name, shut) || (r->xml.depth > 1 && mb_str_is(name, "svg"))))
        layer->shut = mb_arena_copy(r->arena, name.at, name.len);
    layer->hidden = layer->hidden || says_hidden(&r->xml);
    layer->styled = layer->styled || style_has(&r->xml, "transform:");
    take_fill_rule(&r->xml, layer);
    if (transform.len > 0) {
        rc = mb_svgmove_read(transform, &move, r->err);
        if (rc != MB_OK)
            return rc;
        layer->move = mb_svgmove_join(layer->move, move);
    }
    return take_keys(r, layer);
}

/* ---- views ----------------------------------------------------------------------------------- */

static enum mb_rc number_in(struct svg_reading *r, const struct svg_layer *layer, enum svg_key key,
                            double *out)
{
    struct mb_str text = layer->value[key];

    if (text.len == 0)
        return MB_OK;
    if (!mb_drawnum_read(mb_str_trim(text), out))
        return mb_fail(r->err, MB_REFUSED, "%s '%.*s' is no number", keys[key],
                       text.len < 40 ? (int)text.len : 40, text.at);
    return mb_outlines_size(*out, keys[key], r->err);
}

static enum mb_rc label_in(struct svg_reading *r, const struct svg_layer *layer, enum svg_key key,
                           const char **out)
{
    if (layer->value[key].len == 0)
        return MB_OK;
    return mb_outlines_label(r->arena, layer->value[key], keys[key], out, r->err);
}

/* The view of the layer, made when its first shape is met. */
static enum mb_rc view_of(struct svg_reading *r, const struct svg_layer *layer,
                          struct mb_view **out)
{
    const char *name = r->given ? r->given->view : NULL;
    double line = r->given ? r->given->line_px : 0, width = 0, height = 0;
    const char *photo = "", *hash = "";
    enum mb_rc rc = label_in(r, layer, SVG_VIEW, &name);

    if (rc == MB_OK && !name)
        rc = mb_fail(r->err, MB_REFUSED, "it does not say which view it lies in (data-view)");
    if (rc == MB_OK)
        rc = number_in(r, layer, SVG_LINE_WIDTH, &line);
    if (rc == MB_OK)
        rc = number_in(r, layer, SVG_PHOTO_WIDTH, &width);
    if (rc == MB_OK)
        rc = number_in(r, layer, SVG_PHOTO_HEIGHT, &height);
    if (rc == MB_OK)
        rc = label_in(r, layer, SVG_PHOTO, &photo);
    if (rc == MB_OK && layer->value[SVG_SHA256].len > 0)
        rc = mb_outlines_sha256(r->arena, layer->value[SVG_SHA256], &hash, r->err);
    if (rc != MB_OK)
        return rc;
    *out = mb_outlines_view(r->all, name);
    if (!*out) {
        rc = mb_outlines_add_view(r->arena, r->all, name, out, r->err);
        if (rc != MB_OK)
            return rc;
        (*out)->photo = photo;
        (*out)->photo_sha256 = hash;
        (*out)->line_px = line;
        (*out)->width_px = width;
        (*out)->height_px = height;
        return MB_OK;
    }
    if ((*out)->line_px != line || (*out)->width_px != width || (*out)->height_px != height
        || strcmp((*out)->photo, photo) != 0 || strcmp((*out)->photo_sha256, hash) != 0)
        return mb_fail(r->err, MB_REFUSED,
                       "the view '%s' has another photo, size or line width here than before",
                       name);
    return MB_OK;
}

/* ---- shapes ---------------------------------------------------------------------------------- */

/* A length of a basic shape: a number, with or without px. */
static enum mb_rc length(struct svg_reading *r, const char *name, double *out)
{
    struct mb_str text = mb_str_trim(mb_svgxml_get(&r->xml, name));
    size_t len;

    *out = 0;
    if (text.len == 0)
        return MB_OK;
    len = mb_drawnum_at(text, out);
    if (len == 0
        || (len < text.len && !mb_str_is((struct mb_str){ text.at + len, text.len - len }, "px")))
        return mb_fail(r->err, MB_REFUSED, "its %s '%.*s' is no plain number", name,
                       text.len < 40 ? (int)text.len : 40, text.at);
    return MB_OK;
}

static enum mb_rc lengths(struct svg_reading *r, const char *const *names, double *out,
                          size_t count)
{
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; i < count && rc == MB_OK; i++)
        rc = length(r, names[i], &out[i]);
    return rc;
}

static enum mb_rc draw_text(struct svg_reading *r, const struct svg_layer *layer,
                            struct mb_str data, const struct mb_svgline **out)
{
    return mb_svgpath_read(r->arena, data, layer->move,
                           MB_OUTLINE_CORNERS_MAX - r->all->corner_count, out, r->err);
}

/* Places one after the other, as path data. */
static enum mb_rc draw_corners(struct svg_reading *r, const struct svg_layer *layer,
                               struct mb_str points, bool closed, const struct mb_svgline **out)
{
    char *data = mb_arena_printf(r->arena, "M%.*s%s", MB_STR_ARG(points), closed ? "Z" : "");
    struct mb_str text = mb_str_trim(points);

    for (size_t i = 0; i < text.len; i++)
        if (strchr("MLHVCSQTAZmlhvcsqtaz", text.at[i]))
            return mb_fail(r->err, MB_REFUSED, "its points have a letter among them");
    return draw_text(r, layer, mb_str_of(text.len > 0 ? data : ""), out);
}

static enum mb_rc draw_rect(struct svg_reading *r, const struct svg_layer *layer,
                            const struct mb_svgline **out)
{
    static const char *const names[] = { "x", "y", "width", "height", "rx", "ry" };
    double n[6];
    enum mb_rc rc = lengths(r, names, n, 6);

    if (rc != MB_OK)
        return rc;
    if (n[4] != 0 || n[5] != 0)
        return mb_fail(r->err, MB_REFUSED,
                       "it is a rectangle with rounded corners; turn it into a path");
    if (!(n[2] > 0) || !(n[3] > 0))
        return mb_fail(r->err, MB_REFUSED, "its width or height is not above 0");
    return draw_text(r, layer,
                     mb_str_of(mb_arena_printf(r->arena, "M%.17g %.17gh%.17gv%.17gh%.17gZ", n[0],
                                               n[1], n[2], n[3], -n[2])),
                     out);
}

static enum mb_rc draw_round(struct svg_reading *r, const struct svg_layer *layer,
                             const struct mb_svgline **out)
{
    static const char *const circle[] = { "cx", "cy", "r", "r" };
    static const char *const ellipse[] = { "cx", "cy", "rx", "ry" };
    double n[4];
    enum mb_rc rc = lengths(r, mb_str_is(r->xml.name, "circle") ? circle : ellipse, n, 4);

    if (rc != MB_OK)
        return rc;
    if (!(n[2] > 0) || !(n[3] > 0))
        return mb_fail(r->err, MB_REFUSED, "its radius is not above 0");
    return mb_svgpath_ellipse(r->arena, (struct mb_xy){ n[0], n[1] }, n[2], n[3], layer->move,
                              MB_OUTLINE_CORNERS_MAX - r->all->corner_count, out, r->err);
}

static enum mb_rc draw_line(struct svg_reading *r, const struct svg_layer *layer,
                            const struct mb_svgline **out)
{
    static const char *const names[] = { "x1", "y1", "x2", "y2" };
    double n[4];
    enum mb_rc rc = lengths(r, names, n, 4);

    if (rc != MB_OK)
        return rc;
    return draw_text(
        r, layer,
        mb_str_of(mb_arena_printf(r->arena, "M%.17g %.17gL%.17g %.17g", n[0], n[1], n[2], n[3])),
        out);
}

static enum mb_rc draw(struct svg_reading *r, const struct svg_layer *layer,
                       const struct mb_svgline **out)
{
    struct mb_str name = r->xml.name;
    enum mb_rc rc;

    *out = NULL;
    if (mb_str_is(name, "path"))
        rc = draw_text(r, layer, mb_svgxml_get(&r->xml, "d"), out);
    else if (mb_str_is(name, "rect"))
        rc = draw_rect(r, layer, out);
    else if (mb_str_is(name, "line"))
        rc = draw_line(r, layer, out);
    else if (mb_str_is(name, "circle") || mb_str_is(name, "ellipse"))
        rc = draw_round(r, layer, out);
    else
        rc = draw_corners(r, layer, mb_svgxml_get(&r->xml, "points"), mb_str_is(name, "polygon"),
                          out);
    if (rc == MB_OK && !*out)
        rc = mb_fail(r->err, MB_REFUSED, "nothing is drawn in it");
    for (const struct mb_svgline *line = *out; line && rc == MB_OK; line = line->next) {
        rc = mb_outlines_corners(r->all, line->count, r->err);
        for (size_t i = 0; i < line->count && rc == MB_OK; i++)
            rc = mb_outlines_place(line->at[i], r->err);
    }
    return rc;
}

/* ---- elements -------------------------------------------------------------------------------- */

/* What sort of thing a shape is: what it or its group says, else a region if it has a region's
 * words. */
static enum mb_rc kind_of(struct svg_reading *r, const struct svg_layer *layer, bool *ours,
                          enum svg_kind *out)
{
    size_t found;
    enum mb_rc rc;

    *ours = layer->value[SVG_KIND].len > 0 || layer->value[SVG_SUBSTANCE].len > 0
            || layer->value[SVG_SURFACE].len > 0;
    *out = SVG_REGION;
    if (layer->value[SVG_KIND].len == 0)
        return MB_OK;
    rc = mb_word_find(layer->value[SVG_KIND], "data-kind", kinds, SVG_KINDS, &found, r->err);
    if (rc != MB_OK)
        return rc;
    *out = (enum svg_kind)found;
    if (*out != SVG_REGION && (layer->own[SVG_SUBSTANCE] || layer->own[SVG_SURFACE]))
        return mb_fail(r->err, MB_REFUSED,
                       "it is of the kind '%s', but has a substance or surface like a region",
                       kinds[found]);
    return MB_OK;
}

static const char *place_of(struct svg_reading *r, const struct svg_layer *layer)
{
    struct mb_str id = layer->value[SVG_NAME];

    if (id.len == 0)
        id = mb_svgxml_get(&r->xml, "id");
    if (id.len == 0 || id.len > MB_OUTLINE_LABEL_MAX || !mb_text_allowed(id, false))
        return mb_arena_printf(r->arena, "%.*s in line %zu", MB_STR_ARG(r->xml.name),
                               r->xml.line_open);
    return mb_arena_printf(r->arena, "%.*s '%.*s' in line %zu", MB_STR_ARG(r->xml.name),
                           MB_STR_ARG(id), r->xml.line_open);
}

static enum mb_rc take_shape(struct svg_reading *r, const struct svg_layer *layer,
                             enum svg_kind kind, const char *where)
{
    const struct mb_svgline *lines;
    struct mb_view *view;
    enum mb_rc rc;

    if (layer->hidden)
        return mb_fail(r->err, MB_REFUSED,
                       "it is hidden; show it, or take its data- attributes off");
    if (layer->styled)
        return mb_fail(r->err, MB_REFUSED,
                       "its style has a transform, which is not read; save the drawing as plain "
                       "SVG");
    rc = view_of(r, layer, &view);
    if (rc == MB_OK)
        rc = draw(r, layer, &lines);
    if (rc == MB_OK)
        rc = mb_svg_take(r, layer, kind, view, lines, where);
    return rc;
}

static enum mb_rc element(struct svg_reading *r)
{
    struct svg_layer *layer = &r->layers[r->xml.depth];
    bool shape = IS_ONE_OF(r->xml.name, shapes), ours = false;
    enum svg_kind kind = SVG_REGION;
    const char *where;
    enum mb_rc rc = open_layer(r);

    if (rc == MB_OK && r->xml.depth == 1 && !mb_str_is(r->xml.name, "svg"))
        rc = mb_fail(r->err, MB_REFUSED, "the outermost element is '%.*s', not svg",
                     MB_STR_ARG(r->xml.name));
    if (rc == MB_OK && r->xml.depth == 1)
        rc = mb_svg_not_examined(r, layer->value[SVG_NOT_EXAMINED]);
    if (rc == MB_OK)
        rc = kind_of(r, layer, &ours, &kind);
    where = place_of(r, layer);
    if (rc == MB_OK && layer->shut
        && (layer->own[SVG_KIND] || layer->own[SVG_SUBSTANCE] || layer->own[SVG_SURFACE]))
        rc = mb_fail(r->err, MB_REFUSED,
                     "it lies in or is a '%s' element, which is not read; make it a plain path",
                     layer->shut);
    if (rc == MB_OK && shape && ours && !layer->shut)
        rc = take_shape(r, layer, kind, where);
    if (rc != MB_OK)
        mb_fail_where(r->err, "%s", where);
    return rc;
}

enum mb_rc mb_outlines_svg(mb_arena *arena, struct mb_str text,
                           const struct mb_outlines_given *given, struct mb_outlines *out,
                           struct mb_error *err)
{
    struct svg_reading *r = MB_NEW(arena, struct svg_reading);
    enum mb_svgxml_event event;
    enum mb_rc rc;

    *r = (struct svg_reading){ .arena = arena, .given = given, .all = out, .err = err };
    mb_svgxml_init(&r->xml, arena, text);
    r->layers = MB_ARRAY(arena, MB_SVGXML_DEPTH_MAX + 1, struct svg_layer);
    r->layers[0].move = mb_svgmove_none;
    do {
        rc = mb_svgxml_next(&r->xml, &event, err);
        if (rc == MB_OK && event == MB_SVGXML_OPEN)
            rc = element(r);
    } while (rc == MB_OK && event != MB_SVGXML_END);
    return rc == MB_OK ? mb_svg_finish(r) : rc;
}
