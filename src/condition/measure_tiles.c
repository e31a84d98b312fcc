/*
 * One outline of very many corners, tile by tile: widening a hundred thousand corners at once would
 * take hundreds of MiB. What a spot is follows from what is drawn within half the width of the line
 * around it, so a tile needs its neighbourhood and nothing else, and the areas of the tiles add up
 * to that of the whole.
 */
#include "measure_part.h"

#define SURE_SHARE 1e-9 /* less than this is rounding, not area: as in measure_part.c */

enum { CORNERS_AT_ONCE = 4000, DEPTH_MAX = 8 };

struct tiling {
    mb_geoms *geoms;
    const struct mb_site *site;
    struct mb_part_areas *all;
    double beyond; /* what a tile needs around it, pixels */
    struct mb_error *err;
};

static size_t corners_of(const struct mb_site *site)
{
    size_t count = mb_geom_corners(site->outline);

    for (size_t i = 0; i < MB_SUBSTANCES; i++)
        count += site->substance[i] ? mb_geom_corners(site->substance[i]) : 0;
    for (size_t i = 0; i < MB_SURFACES; i++)
        count += site->surface[i] ? mb_geom_corners(site->surface[i]) : 0;
    return count;
}

/* ---- adding up ---- */

static void add_areas(struct mb_areas *to, const struct mb_areas *one)
{
    to->drawn += one->drawn;
    to->sure_in += one->sure_in;
    to->sure_out += one->sure_out;
    to->may_in += one->may_in;
    to->may_out += one->may_out;
}

static void add(struct mb_part_areas *to, const struct mb_part_areas *one)
{
    to->area += one->area;
    to->area_small += one->area_small;
    to->area_large += one->area_large;
    to->twice += one->twice;
    for (size_t s = 0; s < MB_SUBSTANCES; s++)
        add_areas(&to->substance[s], &one->substance[s]);
    for (size_t i = 0; i < MB_SUMS; i++)
        add_areas(&to->sum[i], &one->sum[i]);
    for (size_t i = 0; i < MB_SURFACES; i++) {
        add_areas(&to->surface[i], &one->surface[i]);
        for (size_t s = 0; s < MB_SUBSTANCES; s++)
            add_areas(&to->surface_on[i][s], &one->surface_on[i][s]);
    }
}

/* ---- tiles ---- */

static void free_shapes(struct mb_site *site)
{
    site->outline = mb_geom_free(site->outline);
    for (size_t i = 0; i < MB_SUBSTANCES; i++)
        site->substance[i] = mb_geom_free(site->substance[i]);
    for (size_t i = 0; i < MB_SURFACES; i++)
        site->surface[i] = mb_geom_free(site->surface[i]);
}

/* One that has nothing in the box is not there. */
static enum mb_rc clip_one(const struct tiling *t, mb_geom *shape, struct mb_box box, mb_geom **out)
{
    enum mb_rc rc = MB_OK;

    *out = NULL;
    if (shape)
        rc = mb_geom_clip(shape, box, out, t->err);
    if (rc == MB_OK && *out && mb_geom_empty(*out))
        *out = mb_geom_free(*out);
    return rc;
}

static enum mb_rc clip(const struct tiling *t, const struct mb_site *from, struct mb_box box,
                       struct mb_site *out)
{
    enum mb_rc rc;

    box.x_min -= t->beyond;
    box.y_min -= t->beyond;
    box.x_max += t->beyond;
    box.y_max += t->beyond;
    rc = clip_one(t, from->outline, box, &out->outline);
    for (size_t i = 0; i < MB_SUBSTANCES && rc == MB_OK; i++)
        rc = clip_one(t, from->substance[i], box, &out->substance[i]);
    for (size_t i = 0; i < MB_SURFACES && rc == MB_OK; i++)
        rc = clip_one(t, from->surface[i], box, &out->surface[i]);
    return rc;
}

static enum mb_rc measure_tile(const struct tiling *t, const struct mb_site *site,
                               struct mb_box box)
{
    const struct mb_tile tile = { box, t->all };
    struct mb_part_areas one = { .next = NULL };
    mb_arena *scratch = mb_arena_new();
    enum mb_rc rc = mb_measure_areas(scratch, t->geoms, site, &tile, &one, t->err);

    mb_arena_free(scratch);
    if (rc == MB_OK)
        add(t->all, &one);
    return rc;
}

static enum mb_rc tiles(const struct tiling *t, const struct mb_site *from, struct mb_box box,
                        int depth)
{
    double x = (box.x_min + box.x_max) / 2, y = (box.y_min + box.y_max) / 2;
    const struct mb_box quarters[] = { { box.x_min, box.y_min, x, y },
                                       { x, box.y_min, box.x_max, y },
                                       { box.x_min, y, x, box.y_max },
                                       { x, y, box.x_max, box.y_max } };
    struct mb_site site = *t->site;
    enum mb_rc rc;

    for (size_t i = 0; i < MB_SUBSTANCES; i++)
        site.substance[i] = NULL;
    for (size_t i = 0; i < MB_SURFACES; i++)
        site.surface[i] = NULL;
    site.outline = NULL;
    rc = clip(t, from, box, &site);
    if (rc == MB_OK && site.outline) {
        bool small = depth == DEPTH_MAX || x - box.x_min < 4 * t->beyond
                     || y - box.y_min < 4 * t->beyond || corners_of(&site) <= CORNERS_AT_ONCE;

        if (small)
            rc = measure_tile(t, &site, box);
        for (size_t i = 0; i < 4 && !small && rc == MB_OK; i++)
            rc = tiles(t, &site, quarters[i], depth + 1);
    }
    free_shapes(&site);
    return rc;
}

static enum mb_rc measure_in_tiles(struct tiling *t)
{
    struct mb_part_areas *all = t->all;
    struct mb_box box;
    enum mb_rc rc = MB_OK;

    if (!mb_geom_bounds(t->site->outline, &box))
        return mb_measure_small(0, t->site, t->err);
    box.x_min -= t->beyond;
    box.y_min -= t->beyond;
    box.x_max += t->beyond;
    box.y_max += t->beyond;
    rc = tiles(t, t->site, box, 0);
    for (size_t i = 0; i < MB_SURFACES; i++)
        all->surface_there[i] = all->surface[i].drawn > SURE_SHARE * all->area_small;
    return rc == MB_OK ? mb_measure_small(all->area_small, t->site, t->err) : rc;
}

enum mb_rc mb_measure_part(mb_arena *arena, mb_geoms *geoms, const struct mb_site *site,
                           struct mb_part_areas *out, struct mb_error *err)
{
    struct tiling t = { .geoms = geoms, .site = site, .all = out,
                        .beyond = 2 * site->view->line_px + 2, .err = err };
    enum mb_rc rc;

    out->n = site->regions + 1;
    if (corners_of(site) <= CORNERS_AT_ONCE)
        return mb_measure_areas(arena, geoms, site, NULL, out, err);
    rc = mb_measure_drawn(arena, geoms, site, out, err);
    return rc == MB_OK ? measure_in_tiles(&t) : rc;
}
