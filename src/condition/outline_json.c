#include "outline_reading.h"

#include <math.h>
#include <string.h>

#define FORMAT "markerbed-outlines/1"

/* ---- places ---------------------------------------------------------------------------------- */

static enum mb_rc read_places(struct mb_reading *r, const mb_json *value, const char *what,
                              const struct mb_xy **out, size_t *count)
{
    struct mb_xy *at;
    size_t used = 0;
    enum mb_rc rc = MB_OK;

    if (!mb_json_is(value, MB_JSON_ARRAY))
        return mb_fail(r->err, MB_REFUSED, "%s is no list of places [[x, y], [x, y], ...]", what);
    rc = mb_outlines_corners(r->all, value->count, r->err);
    if (rc != MB_OK)
        return rc;
    at = MB_ARRAY(r->arena, value->count, struct mb_xy);
    MB_JSON_EACH(place, value) {
        rc = mb_reading_xy(r, place, &at[used]);
        if (rc == MB_OK && place->count != 2)
            rc = mb_fail(r->err, MB_REFUSED, "a place has more than two numbers");
        if (rc != MB_OK) {
            mb_fail_where(r->err, "%s, corner %zu", what, used + 1);
            return rc;
        }
        used++;
    }
    *out = at;
    *count = used;
    return MB_OK;
}

/* outline and holes */
static enum mb_rc read_polygon(struct mb_reading *r, const mb_json *object, struct mb_polygon *out)
{
    const mb_json *outline = mb_json_get(object, "outline");
    const mb_json *holes = mb_json_get(object, "holes");
    size_t count = 0, hole_count = holes ? holes->count : 0;
    struct mb_ring *rings = MB_ARRAY(r->arena, 1 + hole_count, struct mb_ring);
    enum mb_rc rc;

    if (!outline)
        return mb_fail(r->err, MB_REFUSED, "'outline' is missing");
    if (holes && !mb_json_is(holes, MB_JSON_ARRAY))
        return mb_fail(r->err, MB_REFUSED, "'holes' is no list of outlines");
    rc = read_places(r, outline, "the outline", &rings[0].at, &rings[0].count);
    MB_JSON_EACH(hole, holes) {
        if (rc != MB_OK)
            return rc;
        count++;
        rc = read_places(r, hole, "a hole", &rings[count].at, &rings[count].count);
    }
    *out = (struct mb_polygon){ rings, 1 + count };
    return rc;
}

/* One outline, or several that were drawn as one. */
static enum mb_rc read_shape(struct mb_reading *r, const mb_json *object, struct mb_shape *out)
{
    static const char *const names[] = { "outline", "holes" };
    const mb_json *pieces = mb_json_get(object, "pieces");
    struct mb_polygon *at = MB_ARRAY(r->arena, pieces ? pieces->count + 1 : 1, struct mb_polygon);
    size_t count = 0;
    enum mb_rc rc = MB_OK;

    if (!pieces) {
        *out = (struct mb_shape){ at, 1 };
        return read_polygon(r, object, at);
    }
    if (mb_json_get(object, "outline") || mb_json_get(object, "holes"))
        return mb_fail(r->err, MB_REFUSED, "it must have either 'outline' or 'pieces', not both");
    if (!mb_json_is(pieces, MB_JSON_ARRAY) || pieces->count == 0)
        return mb_fail(r->err, MB_REFUSED, "'pieces' is no list of outlines");
    MB_JSON_EACH(piece, pieces) {
        rc = mb_field_members(r, piece, "it", names, MB_COUNT_OF(names));
        if (rc == MB_OK)
            rc = read_polygon(r, piece, &at[count]);
        count++;
        if (rc != MB_OK) {
            mb_fail_where(r->err, "piece %zu", count);
            return rc;
        }
    }
    *out = (struct mb_shape){ at, count };
    return MB_OK;
}

/* ---- what lies in a view --------------------------------------------------------------------- */

static enum mb_rc read_part(struct mb_reading *r, const mb_json *value, size_t number)
{
    static const char *const names[] = { "individual", "element", "outline",
                                         "holes",      "pieces",  "uncovered" };
    const mb_json *uncovered = mb_json_get(value, "uncovered");
    struct mb_part *part;
    enum mb_rc rc = mb_outlines_add_part(r->arena, r->all, r->view, &part, r->err);

    if (rc == MB_OK)
        rc = mb_field_members(r, value, "it", names, MB_COUNT_OF(names));
    if (rc == MB_OK)
        rc = mb_reading_owner(r, value, &part->individual, &part->element);
    if (rc == MB_OK && uncovered)
        rc = mb_outlines_uncovered(mb_json_str(uncovered), &part->uncovered, r->err);
    if (rc == MB_OK)
        rc = read_shape(r, value, &part->shape);
    part->where = mb_reading_place(
        r, "specimen", number, part->element && *part->element ? part->element : part->individual);
    return rc;
}

static enum mb_rc read_surfaces(struct mb_reading *r, const mb_json *value, unsigned *bits)
{
    enum mb_rc rc = MB_OK;
    unsigned all = 0;

    if (mb_json_is(value, MB_JSON_STRING))
        return mb_outlines_surfaces(value->text, bits, r->err);
    if (!mb_json_is(value, MB_JSON_ARRAY) || value->count == 0)
        return mb_fail(r->err, MB_REFUSED, "'surface' is no word and no list of words");
    MB_JSON_EACH(word, value) {
        rc = mb_outlines_surfaces(mb_json_str(word), &all, r->err);
        if (rc != MB_OK)
            return rc;
    }
    if ((all & (1u << MB_SURFACE_BARE)) && all != 1u << MB_SURFACE_BARE)
        return mb_fail(r->err, MB_REFUSED,
                       "the surface cannot be bare and something else at the same spot");
    *bits = all;
    return MB_OK;
}

static enum mb_rc read_region_words(struct mb_reading *r, const mb_json *value,
                                    struct mb_region *region)
{
    const mb_json *surface = mb_json_get(value, "surface");
    size_t found = 0;
    enum mb_rc rc = MB_OK;

    if (mb_json_get(value, "substance")) {
        rc = mb_field_word(r, value, "substance", mb_substance_words, MB_SUBSTANCES, &found);
        region->has_substance = true;
        region->substance = (enum mb_substance)found;
    }
    if (rc == MB_OK && surface)
        rc = read_surfaces(r, surface, &region->surfaces);
    if (rc == MB_OK && !region->has_substance && !region->surfaces)
        rc = mb_fail(r->err, MB_REFUSED, "it names neither a substance nor a surface");
    return rc;
}

static enum mb_rc read_region(struct mb_reading *r, const mb_json *value, size_t number)
{
    static const char *const names[] = { "name",    "substance", "surface", "individual",
                                         "element", "outline",   "holes",   "pieces" };
    struct mb_region *region;
    const char *name = NULL;
    enum mb_rc rc = mb_outlines_add_region(r->arena, r->all, r->view, &region, r->err);

    if (rc != MB_OK)
        return rc;
    rc = mb_field_members(r, value, "it", names, MB_COUNT_OF(names));
    if (rc == MB_OK)
        rc = mb_field_label(r, value, "name", &name);
    if (rc == MB_OK)
        rc = mb_reading_individual(r, value, &region->individual);
    if (rc == MB_OK)
        rc = mb_field_label(r, value, "element", &region->element);
    if (rc == MB_OK)
        rc = read_region_words(r, value, region);
    if (rc == MB_OK)
        rc = read_shape(r, value, &region->shape);
    region->where = mb_reading_place(
        r, "region", number,
        name ? name : (region->has_substance ? mb_substance_words[region->substance] : NULL));
    return rc;
}

static enum mb_rc read_join(struct mb_reading *r, const mb_json *value, size_t number)
{
    static const char *const names[] = { "name", "through", "line", "cause", "adhesive", "gapMm" };
    struct mb_join *join;
    size_t through = 0;
    const mb_json *line = mb_json_get(value, "line");
    enum mb_rc rc = mb_outlines_add_join(r->arena, r->all, r->view, &join, r->err);

    if (rc == MB_OK)
        rc = mb_field_members(r, value, "it", names, MB_COUNT_OF(names));
    if (rc == MB_OK)
        rc = mb_field_label(r, value, "name", &join->name);
    if (rc == MB_OK)
        rc = mb_field_word(r, value, "through", mb_through_words, MB_THROUGHS, &through);
    if (rc == MB_OK)
        rc = mb_field_label(r, value, "cause", &join->cause);
    if (rc == MB_OK)
        rc = mb_field_label(r, value, "adhesive", &join->adhesive);
    if (rc == MB_OK)
        rc = mb_field_decimal(r, value, "gapMm", &join->gap_mm);
    if (rc == MB_OK && !line)
        rc = mb_fail(r->err, MB_REFUSED, "'line' is missing");
    if (rc == MB_OK)
        rc = read_places(r, line, "the line", &join->at, &join->count);
    if (rc == MB_OK) {
        join->through = (enum mb_through)through;
        join->where = mb_reading_place(r, "join", number, join->name);
    }
    return rc;
}

/* ---- the whole ------------------------------------------------------------------------------- */

static enum mb_rc read_photo(struct mb_reading *r, const mb_json *value)
{
    static const char *const names[] = { "file", "sha256", "widthPx", "heightPx" };
    const mb_json *hash = mb_json_get(value, "sha256");
    enum mb_rc rc;

    if (!value)
        return MB_OK;
    rc = mb_field_members(r, value, "'photo'", names, MB_COUNT_OF(names));
    if (rc == MB_OK)
        rc = mb_field_label(r, value, "file", &r->view->photo);
    if (rc == MB_OK && hash)
        rc = mb_outlines_sha256(r->arena, mb_json_str(hash), &r->view->photo_sha256, r->err);
    if (rc != MB_OK || (!mb_json_get(value, "widthPx") && !mb_json_get(value, "heightPx")))
        return rc;
    rc = mb_field_size(r, value, "widthPx", &r->view->width_px);
    return rc == MB_OK ? mb_field_size(r, value, "heightPx", &r->view->height_px) : rc;
}

/* The bar as a length in pixels, as two ends, or as both (then the ends are only drawn). */
static enum mb_rc read_bar(struct mb_reading *r, const mb_json *value)
{
    static const char *const names[] = { "px", "from", "to", "mm" };
    const mb_json *from = mb_json_get(value, "from"), *to = mb_json_get(value, "to");
    struct mb_view *view = r->view;
    enum mb_rc rc;

    if (!value)
        return MB_OK;
    rc = mb_field_members(r, value, "'scaleBar'", names, MB_COUNT_OF(names));
    if (rc == MB_OK)
        rc = mb_field_size(r, value, "mm", &view->bar_mm);
    if (rc == MB_OK && !from != !to)
        rc = mb_fail(r->err, MB_REFUSED, "'scaleBar' has one end without the other");
    if (rc == MB_OK && from) {
        rc = mb_reading_xy(r, from, &view->bar_from);
        if (rc == MB_OK)
            rc = mb_reading_xy(r, to, &view->bar_to);
        view->has_bar = true;
        view->bar_px = hypot(view->bar_to.x - view->bar_from.x, view->bar_to.y - view->bar_from.y);
    }
    if (rc == MB_OK && (!from || mb_json_get(value, "px")))
        rc = mb_field_size(r, value, "px", &view->bar_px);
    view->has_scale = true;
    return rc;
}

static enum mb_rc read_view_lists(struct mb_reading *r, const mb_json *value)
{
    static const struct {
        const char *name, *what;
        mb_read_item *read;
    } lists[] = { { "specimens", "specimen", read_part },
                  { "regions", "region", read_region },
                  { "joins", "join", read_join },
                  { "points", "point count", mb_reading_count },
                  { "estimates", "estimate", mb_reading_estimate } };
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; i < MB_COUNT_OF(lists) && rc == MB_OK; i++)
        rc = mb_reading_each(r, value, lists[i].name, lists[i].what, lists[i].read);
    return rc;
}

static enum mb_rc read_view(struct mb_reading *r, const mb_json *value, size_t number)
{
    static const char *const names[] = { "name",    "photo", "scaleBar", "lineWidthPx", "specimens",
                                         "regions", "joins", "points",   "estimates" };
    const char *name = NULL;
    enum mb_rc rc = mb_field_members(r, value, "it", names, MB_COUNT_OF(names));

    (void)number;
    if (rc == MB_OK)
        rc = mb_field_label(r, value, "name", &name);
    if (rc == MB_OK && !name)
        rc = mb_fail(r->err, MB_REFUSED, "'name' is missing: which side is seen");
    if (rc == MB_OK)
        rc = mb_outlines_add_view(r->arena, r->all, name, &r->view, r->err);
    if (rc == MB_OK && mb_json_get(value, "lineWidthPx"))
        rc = mb_field_size(r, value, "lineWidthPx", &r->view->line_px);
    if (rc == MB_OK)
        rc = read_photo(r, mb_json_get(value, "photo"));
    if (rc == MB_OK)
        rc = read_bar(r, mb_json_get(value, "scaleBar"));
    return rc == MB_OK ? read_view_lists(r, value) : rc;
}

static enum mb_rc read_individual(struct mb_reading *r, const mb_json *value, size_t number)
{
    static const char *const names[] = { "label", "name", "association", "setting", "shownBy" };
    const char *label = NULL;
    struct mb_individual *one;
    size_t found;
    enum mb_rc rc = mb_field_members(r, value, "it", names, MB_COUNT_OF(names));

    if (rc == MB_OK)
        rc = mb_field_label(r, value, "label", &label);
    if (rc == MB_OK && !label)
        rc = mb_fail(r->err, MB_REFUSED, "'label' is missing");
    if (rc != MB_OK)
        return rc;
    one = mb_outlines_individual(r->arena, r->all, label);
    if (r->all->individual_count != number)
        return mb_fail(r->err, MB_REFUSED, "the label '%s' is there twice", label);
    rc = mb_field_label(r, value, "name", &one->name);
    if (rc == MB_OK)
        rc = mb_field_label(r, value, "shownBy", &one->shown_by);
    if (rc == MB_OK && mb_json_get(value, "association")) {
        rc = mb_field_word(r, value, "association", mb_association_words, MB_ASSOCIATIONS, &found);
        if (rc == MB_OK)
            one->association = mb_association_words[found];
    }
    if (rc == MB_OK && mb_json_get(value, "setting")) {
        rc = mb_field_word(r, value, "setting", mb_setting_words, MB_SETTINGS, &found);
        if (rc == MB_OK)
            one->setting = mb_setting_words[found];
    }
    return rc;
}

static enum mb_rc read_not_examined(struct mb_reading *r, const mb_json *root)
{
    const mb_json *list = mb_json_get(root, "notExamined");
    enum mb_rc rc = MB_OK;

    if (!list)
        return MB_OK;
    if (!mb_json_is(list, MB_JSON_ARRAY))
        return mb_fail(r->err, MB_REFUSED, "'notExamined' is no list in square brackets");
    r->all->not_examined = MB_ARRAY(r->arena, list->count, const char *);
    MB_JSON_EACH(text, list) {
        const char **next = &r->all->not_examined[r->all->not_examined_count];

        rc =
            mb_outlines_label(r->arena, mb_json_str(text), "a line of 'notExamined'", next, r->err);
        if (rc != MB_OK)
            return rc;
        r->all->not_examined_count++;
    }
    return MB_OK;
}

/* Before any of it is taken apart; one in a text counts too. */
static enum mb_rc check_values(struct mb_str text, struct mb_error *err)
{
    size_t count = 0;

    for (size_t i = 0; i < text.len; i++)
        count += text.at[i] == ',' || text.at[i] == '[' || text.at[i] == '{';
    if (count <= MB_OUTLINE_VALUES_MAX)
        return MB_OK;
    return mb_fail(err, MB_REFUSED,
                   "it has more than %d values; thin the outlines out, or hand many counted points"
                   " in as a table",
                   MB_OUTLINE_VALUES_MAX);
}

enum mb_rc mb_outlines_json(mb_arena *arena, struct mb_str text, struct mb_outlines *out,
                            struct mb_error *err)
{
    static const char *const names[] = { "format", "notExamined", "individuals", "views" };
    struct mb_reading r = { .arena = arena, .all = out, .err = err };
    const mb_json *root;
    enum mb_rc rc = check_values(text, err);

    if (rc == MB_OK)
        rc = mb_json_read(arena, text, MB_JSON_PLAIN, &root, err);
    if (rc != MB_OK)
        return rc;
    if (!mb_json_text_is(mb_json_get(root, "format"), FORMAT))
        return mb_fail(err, MB_REFUSED, "'format' is not \"%s\"", FORMAT);
    rc = mb_field_members(&r, root, "the file", names, MB_COUNT_OF(names));
    if (rc == MB_OK)
        rc = read_not_examined(&r, root);
    if (rc == MB_OK)
        rc = mb_reading_each(&r, root, "individuals", "individual", read_individual);
    r.individuals_listed = out->individual_count > 0;
    if (rc == MB_OK)
        rc = mb_reading_each(&r, root, "views", "view", read_view);
    return rc;
}
