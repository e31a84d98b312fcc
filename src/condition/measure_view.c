#include "measure_inside.h"

#include <string.h>

/* A region with its shape. */
struct patch {
    const struct mb_region *region;
    mb_geom *shape;
    struct mb_box box;
    double area;
    bool used;
};

struct laid {
    struct mb_measuring *m;
    mb_geoms *geoms;
    const struct mb_view *view;
    struct mb_site *sites;
    struct mb_box *boxes; /* of the sites' outlines */
    size_t site_count;
    struct patch *patches;
    size_t patch_count;
    struct mb_error *err;
};

/* ---- shapes ---------------------------------------------------------------------------------- */

static enum mb_rc make_shape(struct laid *l, const struct mb_shape *shape, mb_geom **out)
{
    mb_geom **parts;
    enum mb_rc rc = MB_OK;

    if (shape->count == 1)
        return mb_geom_polygon(l->geoms, shape->at[0].rings, shape->at[0].count, out, NULL, l->err);
    parts = MB_ARRAY(l->m->arena, shape->count + 1, mb_geom *);
    for (size_t i = 0; i < shape->count && rc == MB_OK; i++)
        rc = mb_geom_polygon(l->geoms, shape->at[i].rings, shape->at[i].count, &parts[i], NULL,
                             l->err);
    return rc == MB_OK ? mb_geom_union(l->geoms, parts, shape->count, out, l->err) : rc;
}

/* A sound shape with an area. */
static enum mb_rc make_area(struct laid *l, const struct mb_shape *shape, const char *where,
                            mb_geom **out)
{
    enum mb_rc rc = make_shape(l, shape, out);

    if (rc == MB_OK && !(mb_geom_area(*out) > 0))
        rc = mb_fail(l->err, MB_REFUSED, "the outline has no area");
    if (rc != MB_OK)
        mb_fail_where(l->err, "%s", where);
    return rc;
}

static bool apart(const struct mb_box *a, const struct mb_box *b)
{
    return a->x_max < b->x_min || b->x_max < a->x_min || a->y_max < b->y_min || b->y_max < a->y_min;
}

/* ---- sites ----------------------------------------------------------------------------------- */

/* An outline on a copy of the photo of another size would give wrong sizes without a word. */
static enum mb_rc check_on_photo(struct laid *l, const struct mb_part *part, mb_geom *shape)
{
    const struct mb_view *view = l->view;
    double over = view->line_px;
    struct mb_box box;

    if (!(view->width_px > 0) || !mb_geom_bounds(shape, &box))
        return MB_OK;
    if (box.x_min >= -over && box.y_min >= -over && box.x_max <= view->width_px + over
        && box.y_max <= view->height_px + over)
        return MB_OK;
    return mb_fail(l->err, MB_REFUSED,
                   "%s: the outline reaches from %.10g, %.10g to %.10g, %.10g, which is off the "
                   "photo (%.10g x %.10g); was it drawn on a copy of another size?",
                   part->where, box.x_min, box.y_min, box.x_max, box.y_max, view->width_px,
                   view->height_px);
}

static struct mb_site *site_of(struct laid *l, const struct mb_part *part)
{
    struct mb_site *site;

    for (size_t i = 0; i < l->site_count; i++)
        if (strcmp(l->sites[i].individual, part->individual) == 0
            && strcmp(l->sites[i].element, part->element) == 0)
            return &l->sites[i];
    site = &l->sites[l->site_count++];
    *site = (struct mb_site){ .view = l->view,
                              .individual = part->individual,
                              .element = part->element,
                              .where = part->where,
                              .uncovered = part->uncovered };
    return site;
}

static enum mb_rc lay_sites(struct laid *l)
{
    size_t count = 0;

    for (const struct mb_part *part = l->view->parts; part; part = part->next)
        count++;
    l->sites = MB_ARRAY(l->m->arena, count, struct mb_site);
    l->boxes = MB_ARRAY(l->m->arena, count, struct mb_box);
    for (const struct mb_part *part = l->view->parts; part; part = part->next) {
        struct mb_site *site;
        mb_geom *shape;
        enum mb_rc rc = make_area(l, &part->shape, part->where, &shape);

        if (rc == MB_OK)
            rc = check_on_photo(l, part, shape);
        if (rc != MB_OK)
            return rc;
        site = site_of(l, part);
        if (site->outline) {
            rc = mb_geom_union(l->geoms, (mb_geom *[]){ site->outline, shape }, 2, &shape, l->err);
            if (rc != MB_OK)
                return rc;
        }
        site->outline = shape;
        mb_geom_bounds(shape, &l->boxes[site - l->sites]);
    }
    return MB_OK;
}

/* Two outlines may share an edge, within the width of the line; a spot belongs to one of them. */
static enum mb_rc check_pair(struct laid *l, size_t i, size_t j)
{
    mb_geom *both = NULL, *rest = NULL;
    struct mb_xy at = { 0, 0 };
    enum mb_rc rc;

    if (apart(&l->boxes[i], &l->boxes[j]))
        return MB_OK;
    rc = mb_geom_intersection(l->sites[i].outline, l->sites[j].outline, &both, l->err);
    if (rc == MB_OK && !mb_geom_empty(both))
        rc = mb_geom_buffer(both, -l->view->line_px / 2, &rest, l->err);
    if (rc == MB_OK && rest && mb_geom_inner_point(rest, &at))
        rc = mb_fail(l->err, MB_REFUSED,
                     "%s and %s lie over each other near %.10g, %.10g; a spot can belong to only "
                     "one of them",
                     l->sites[i].where, l->sites[j].where, at.x, at.y);
    mb_geom_free(rest);
    mb_geom_free(both);
    return rc;
}

static enum mb_rc check_sites(struct laid *l)
{
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; i < l->site_count; i++)
        for (size_t j = i + 1; j < l->site_count && rc == MB_OK; j++)
            rc = check_pair(l, i, j);
    return rc;
}

/* ---- regions --------------------------------------------------------------------------------- */

static enum mb_rc lay_patches(struct laid *l)
{
    size_t count = 0;
    enum mb_rc rc = MB_OK;

    for (const struct mb_region *r = l->view->regions; r; r = r->next)
        count++;
    l->patches = MB_ARRAY(l->m->arena, count, struct patch);
    for (const struct mb_region *r = l->view->regions; r && rc == MB_OK; r = r->next) {
        struct patch *patch = &l->patches[l->patch_count++];

        patch->region = r;
        rc = make_area(l, &r->shape, r->where, &patch->shape);
        if (rc == MB_OK) {
            patch->area = mb_geom_area(patch->shape);
            mb_geom_bounds(patch->shape, &patch->box);
        }
    }
    return rc;
}

static bool belongs(const struct mb_region *region, const struct mb_site *site)
{
    return (!region->individual || strcmp(region->individual, site->individual) == 0)
           && (!region->element || strcmp(region->element, site->element) == 0);
}

/*
 * Whether the region lies in the outline. One that names no element and lies in another outline,
 * but laps over into this one by no more than the line's width and a hundredth of itself, does not.
 */
static enum mb_rc lies_in(struct laid *l, const struct patch *patch, const struct mb_site *site,
                          bool *out)
{
    mb_geom *both = NULL, *rest = NULL;
    bool free = !patch->region->individual && !patch->region->element && l->site_count > 1;
    enum mb_rc rc = mb_geom_covers(site->outline, patch->shape, l->err);

    *out = rc == MB_OK;
    if (rc != MB_NO)
        return rc;
    rc = mb_geom_intersection(patch->shape, site->outline, &both, l->err);
    *out = rc == MB_OK && mb_geom_area(both) > 0;
    if (*out && free && mb_geom_area(both) < 0.01 * patch->area) {
        rc = mb_geom_buffer(both, -l->view->line_px / 2, &rest, l->err);
        *out = rc == MB_OK && !mb_geom_empty(rest);
    }
    mb_geom_free(rest);
    mb_geom_free(both);
    return rc;
}

enum { HEAPS = MB_SUBSTANCES + MB_SURFACES };

struct heap {
    mb_geom **at;
    size_t count;
};

static bool wants(const struct mb_region *region, size_t h)
{
    return h < MB_SUBSTANCES ? region->has_substance && region->substance == h
                             : (region->surfaces >> (h - MB_SUBSTANCES) & 1u) != 0;
}

/* The regions of one site, in a heap for each substance and surface. */
static enum mb_rc sort_out(struct laid *l, struct mb_site *site, const struct mb_box *box,
                           mb_arena *scratch, struct heap *heaps)
{
    enum mb_rc rc;

    for (size_t i = 0; i < l->patch_count; i++) {
        struct patch *patch = &l->patches[i];
        const struct mb_region *region = patch->region;
        bool inside = false;

        if (!belongs(region, site) || apart(box, &patch->box))
            continue;
        rc = lies_in(l, patch, site, &inside);
        if (rc != MB_OK)
            return rc;
        if (!inside)
            continue;
        patch->used = true;
        site->regions++;
        for (size_t h = 0; h < HEAPS; h++) {
            if (!wants(region, h))
                continue;
            if (!heaps[h].at)
                heaps[h].at = MB_ARRAY(scratch, l->patch_count, mb_geom *);
            heaps[h].at[heaps[h].count++] = patch->shape;
        }
    }
    return MB_OK;
}

static enum mb_rc gather(struct laid *l, struct mb_site *site, const struct mb_box *box)
{
    struct heap heaps[HEAPS] = { { NULL, 0 } };
    mb_arena *scratch = mb_arena_new();
    enum mb_rc rc = sort_out(l, site, box, scratch, heaps);

    for (size_t h = 0; h < HEAPS && rc == MB_OK; h++)
        if (heaps[h].count > 0)
            rc = mb_geom_union(l->geoms, heaps[h].at, heaps[h].count,
                               h < MB_SUBSTANCES ? &site->substance[h]
                                                 : &site->surface[h - MB_SUBSTANCES],
                               l->err);
    mb_arena_free(scratch);
    return rc;
}

static enum mb_rc check_patches(struct laid *l)
{
    for (size_t i = 0; i < l->patch_count; i++)
        if (!l->patches[i].used)
            return mb_fail(l->err, MB_REFUSED,
                           "%s lies wholly outside the specimen's outline, near %.10g, %.10g",
                           l->patches[i].region->where, l->patches[i].box.x_min,
                           l->patches[i].box.y_min);
    return MB_OK;
}

/* ---- the view -------------------------------------------------------------------------------- */

static void free_site(struct mb_site *site)
{
    for (size_t i = 0; i < MB_SUBSTANCES; i++)
        site->substance[i] = mb_geom_free(site->substance[i]);
    for (size_t i = 0; i < MB_SURFACES; i++)
        site->surface[i] = mb_geom_free(site->surface[i]);
}

static enum mb_rc measure_site(struct laid *l, struct mb_site *site, const struct mb_box *box)
{
    struct mb_measuring *m = l->m;
    struct mb_part_areas *part = MB_NEW(m->arena, struct mb_part_areas);
    enum mb_rc rc = gather(l, site, box);

    part->view = l->view;
    part->individual = site->individual;
    part->element = site->element;
    if (rc == MB_OK) {
        rc = mb_measure_part(m->arena, l->geoms, site, part, l->err);
        if (rc != MB_OK)
            mb_fail_where(l->err, "%s", site->where);
    }
    free_site(site);
    if (rc != MB_OK)
        return rc;
    if (m->parts_last)
        m->parts_last->next = part;
    else
        m->parts = part;
    m->parts_last = part;
    part->settled.view = l->view;
    part->settled.individual = site->individual;
    part->settled.element = site->element;
    if (m->settled_last)
        m->settled_last->next = &part->settled;
    else
        m->out->settled = &part->settled;
    m->settled_last = &part->settled;
    return MB_OK;
}

static enum mb_rc lay_and_measure(struct laid *l)
{
    enum mb_rc rc = lay_sites(l);

    if (rc == MB_OK)
        rc = check_sites(l);
    if (rc == MB_OK)
        rc = lay_patches(l);
    for (size_t i = 0; i < l->site_count && rc == MB_OK; i++)
        rc = measure_site(l, &l->sites[i], &l->boxes[i]);
    return rc == MB_OK ? check_patches(l) : rc;
}

enum mb_rc mb_measure_view(struct mb_measuring *m, const struct mb_view *view)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    struct laid l = { .m = m, .geoms = geoms, .view = view, .err = m->err };
    enum mb_rc rc = MB_OK;

    if (view->has_scale && view->bar_px <= view->line_px)
        rc = mb_fail(m->err, MB_REFUSED,
                     "the scale bar is %.10g long, no longer than the drawn line is wide (%.10g)",
                     view->bar_px, view->line_px);
    if (rc == MB_OK && view->parts)
        rc = lay_and_measure(&l);
    if (rc != MB_OK)
        mb_fail_where(m->err, "view '%s'", view->name);
    return rc;
}
