#include "outline_svg.h"

#include <math.h>
#include <string.h>

#include "drawnum.h"
#include "svgrings.h"
#include "text.h"

static double apart(struct mb_xy a, struct mb_xy b)
{
    return hypot(a.x - b.x, a.y - b.y);
}

static enum mb_rc label_of(struct svg_reading *r, const struct svg_layer *layer, enum svg_key key,
                           const char *what, const char **out)
{
    if (layer->value[key].len == 0)
        return MB_OK;
    return mb_outlines_label(r->arena, layer->value[key], what, out, r->err);
}

static enum mb_rc word_of(struct svg_reading *r, const struct svg_layer *layer, enum svg_key key,
                          const char *what, const char *const *words, size_t count,
                          const char **out)
{
    size_t found;
    enum mb_rc rc;

    if (layer->value[key].len == 0)
        return MB_OK;
    rc = mb_word_find(layer->value[key], what, words, count, &found, r->err);
    if (rc == MB_OK)
        *out = words[found];
    return rc;
}

/* Lines become rings; one whose ends are further apart than the drawn line is wide is an oversight
 * and no outline. */
static enum mb_rc shape_of(struct svg_reading *r, const struct svg_layer *layer,
                           const struct mb_view *view, const struct mb_svgline *lines,
                           struct mb_shape *out)
{
    size_t count = 0;
    struct mb_ring *rings;
    struct mb_polygon *polygon;

    for (const struct mb_svgline *line = lines; line; line = line->next)
        count++;
    rings = MB_ARRAY(r->arena, count, struct mb_ring);
    count = 0;
    for (const struct mb_svgline *line = lines; line; line = line->next) {
        struct mb_xy first = line->at[0], last = line->at[line->count - 1];

        if (line->count == 1)
            continue; /* a pen set down and lifted again */
        if (!line->closed && apart(first, last) > view->line_px)
            return mb_fail(r->err, MB_REFUSED,
                           "the outline is not closed: it ends at %.10g, %.10g and began at %.10g, "
                           "%.10g",
                           last.x, last.y, first.x, first.y);
        rings[count++] = (struct mb_ring){ line->at, line->count };
    }
    if (count == 0)
        return mb_fail(r->err, MB_REFUSED, "the outline is a single point");
    if (count > 1)
        return mb_svgrings_shape(r->arena, rings, count, layer->even_odd, out, r->err);
    polygon = MB_NEW(r->arena, struct mb_polygon);
    *polygon = (struct mb_polygon){ rings, 1 };
    *out = (struct mb_shape){ polygon, 1 };
    return MB_OK;
}

static enum mb_rc take_individual(struct svg_reading *r, const struct svg_layer *layer,
                                  const char *label)
{
    struct mb_individual *one = mb_outlines_individual(r->arena, r->all, label);
    enum mb_rc rc = word_of(r, layer, SVG_ASSOCIATION, "data-association", mb_association_words,
                            MB_ASSOCIATIONS, &one->association);

    if (rc == MB_OK)
        rc = word_of(r, layer, SVG_SETTING, "data-setting", mb_setting_words, MB_SETTINGS,
                     &one->setting);
    return rc == MB_OK ? label_of(r, layer, SVG_SHOWN_BY, "data-shown-by", &one->shown_by) : rc;
}

static enum mb_rc take_part(struct svg_reading *r, const struct svg_layer *layer,
                            struct mb_view *view, const struct mb_svgline *lines, const char *where)
{
    const char *individual = r->given && r->given->individual ? r->given->individual
                                                              : MB_OUTLINE_SPECIMEN;
    const char *element = r->given && r->given->element ? r->given->element : "";
    struct mb_part *part;
    enum mb_rc rc = mb_outlines_add_part(r->arena, r->all, view, &part, r->err);

    if (rc == MB_OK)
        rc = label_of(r, layer, SVG_INDIVIDUAL, "data-individual", &individual);
    if (rc == MB_OK)
        rc = label_of(r, layer, SVG_ELEMENT, "data-element", &element);
    if (rc == MB_OK && layer->value[SVG_UNCOVERED].len > 0)
        rc = mb_outlines_uncovered(layer->value[SVG_UNCOVERED], &part->uncovered, r->err);
    if (rc == MB_OK)
        rc = shape_of(r, layer, view, lines, &part->shape);
    if (rc != MB_OK)
        return rc;
    part->individual = individual;
    part->element = element;
    part->where = where;
    return take_individual(r, layer, individual);
}

static enum mb_rc take_region(struct svg_reading *r, const struct svg_layer *layer,
                              struct mb_view *view, const struct mb_svgline *lines,
                              const char *where)
{
    struct mb_region *region;
    size_t found;
    enum mb_rc rc = mb_outlines_add_region(r->arena, r->all, view, &region, r->err);

    if (rc != MB_OK)
        return rc;
    region->where = where;
    if (layer->value[SVG_SUBSTANCE].len > 0) {
        rc = mb_word_find(layer->value[SVG_SUBSTANCE], "data-substance", mb_substance_words,
                          MB_SUBSTANCES, &found, r->err);
        if (rc != MB_OK)
            return rc;
        region->has_substance = true;
        region->substance = (enum mb_substance)found;
    }
    if (layer->value[SVG_SURFACE].len > 0)
        rc = mb_outlines_surfaces(layer->value[SVG_SURFACE], &region->surfaces, r->err);
    if (rc == MB_OK && !region->has_substance && !region->surfaces)
        rc = mb_fail(r->err, MB_REFUSED, "it has neither data-substance nor data-surface");
    if (rc == MB_OK)
        rc = label_of(r, layer, SVG_INDIVIDUAL, "data-individual", &region->individual);
    if (rc == MB_OK)
        rc = label_of(r, layer, SVG_ELEMENT, "data-element", &region->element);
    return rc == MB_OK ? shape_of(r, layer, view, lines, &region->shape) : rc;
}

static enum mb_rc take_join(struct svg_reading *r, const struct svg_layer *layer,
                            struct mb_view *view, const struct mb_svgline *line, const char *where)
{
    struct mb_join *join;
    struct mb_xy *at;
    size_t through;
    enum mb_rc rc = mb_outlines_add_join(r->arena, r->all, view, &join, r->err);

    if (rc == MB_OK)
        rc = mb_word_find(layer->value[SVG_THROUGH], "data-through", mb_through_words, MB_THROUGHS,
                          &through, r->err);
    if (rc == MB_OK)
        rc = label_of(r, layer, SVG_NAME, "data-name", &join->name);
    if (rc == MB_OK)
        rc = label_of(r, layer, SVG_CAUSE, "data-cause", &join->cause);
    if (rc == MB_OK)
        rc = label_of(r, layer, SVG_ADHESIVE, "data-adhesive", &join->adhesive);
    if (rc == MB_OK && layer->value[SVG_GAP_MM].len > 0)
        rc = mb_outlines_decimal(r->arena, mb_str_trim(layer->value[SVG_GAP_MM]), "data-gap-mm",
                                 &join->gap_mm, r->err);
    if (rc != MB_OK)
        return rc;
    join->where = where;
    join->through = (enum mb_through)through;
    join->count = line->count + (line->closed ? 1 : 0);
    at = MB_ARRAY(r->arena, join->count, struct mb_xy);
    memcpy(at, line->at, line->count * sizeof *at);
    if (line->closed)
        at[line->count] = at[0];
    join->at = at;
    return MB_OK;
}

/* The bar is a line; its length is from end to end. */
static enum mb_rc take_scale(struct svg_reading *r, const struct svg_layer *layer,
                             struct mb_view *view, const struct mb_svgline *line)
{
    if (line->next || line->closed || line->count < 2)
        return mb_fail(r->err, MB_REFUSED, "a scale bar is one open line along the bar");
    if (view->has_scale)
        return mb_fail(r->err, MB_REFUSED, "the view '%s' has a second scale bar", view->name);
    if (!mb_drawnum_read(mb_str_trim(layer->value[SVG_MM]), &view->bar_mm))
        return mb_fail(r->err, MB_REFUSED,
                       "the scale bar does not say how long it is (data-mm, a number)");
    view->bar_from = line->at[0];
    view->bar_to = line->at[line->count - 1];
    view->bar_px = apart(view->bar_from, view->bar_to);
    view->has_bar = view->has_scale = true;
    if (mb_outlines_size(view->bar_mm, "data-mm", r->err) != MB_OK)
        return MB_REFUSED;
    return mb_outlines_size(view->bar_px, "the scale bar's length in the drawing", r->err);
}

enum mb_rc mb_svg_take(struct svg_reading *r, const struct svg_layer *layer, enum svg_kind kind,
                       struct mb_view *view, const struct mb_svgline *lines, const char *where)
{
    enum mb_rc rc = MB_OK;

    if (kind == SVG_SPECIMEN)
        return take_part(r, layer, view, lines, where);
    if (kind == SVG_REGION)
        return take_region(r, layer, view, lines, where);
    if (kind == SVG_SCALE)
        return take_scale(r, layer, view, lines);
    for (const struct mb_svgline *line = lines; line && rc == MB_OK; line = line->next)
        rc = take_join(r, layer, view, line, where);
    return rc;
}

enum mb_rc mb_svg_not_examined(struct svg_reading *r, struct mb_str text)
{
    struct mb_str rest = text, one;
    size_t count = 1;
    bool more = text.len > 0;
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; i < text.len; i++)
        count += text.at[i] == ';';
    r->all->not_examined = MB_ARRAY(r->arena, count, const char *);
    while (more && rc == MB_OK) {
        more = mb_str_cut(rest, ';', &one, &rest);
        rc = mb_outlines_label(r->arena, one, "a part of data-not-examined",
                               &r->all->not_examined[r->all->not_examined_count], r->err);
        r->all->not_examined_count += rc == MB_OK;
    }
    return rc;
}

enum mb_rc mb_svg_finish(struct svg_reading *r)
{
    if (r->all->part_count == 0)
        return mb_fail(r->err, MB_REFUSED,
                       "no shape has data-kind=\"specimen\": the outline of what 100 %% is");
    return MB_OK;
}
