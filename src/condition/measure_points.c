/* Counted points: checks, and shares with their score intervals. */
#include "measure_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "drawnum.h"
#include "text.h"
#include "wilson.h"

/* ---- checks ---------------------------------------------------------------------------------- */

struct spot {
    struct mb_xy at;
    size_t index;
};

static int by_place(const void *va, const void *vb)
{
    const struct spot *a = va, *b = vb;

    if (a->at.x != b->at.x)
        return a->at.x < b->at.x ? -1 : 1;
    if (a->at.y != b->at.y)
        return a->at.y < b->at.y ? -1 : 1;
    return a->index < b->index ? -1 : a->index > b->index;
}

/* A point that is counted twice makes the range too narrow. */
static enum mb_rc check_twice(struct mb_measuring *m, const struct mb_count *count)
{
    struct spot *spots = MB_ARRAY(m->arena, count->at_count, struct spot);

    for (size_t i = 0; i < count->at_count; i++)
        spots[i] = (struct spot){ count->at[i], i };
    qsort(spots, count->at_count, sizeof *spots, by_place);
    for (size_t i = 1; i < count->at_count; i++)
        if (spots[i].at.x == spots[i - 1].at.x && spots[i].at.y == spots[i - 1].at.y)
            return mb_fail(m->err, MB_REFUSED,
                           "%s: points %zu and %zu are both at %.10g, %.10g; a point counts once",
                           count->where, spots[i - 1].index + 1, spots[i].index + 1, spots[i].at.x,
                           spots[i].at.y);
    return MB_OK;
}

/* The outline that a count belongs to, if it was drawn. */
static const struct mb_part_areas *
outline_of(const struct mb_measuring *m, const struct mb_view *view, const struct mb_count *count)
{
    for (const struct mb_part_areas *part = m->parts; part; part = part->next)
        if (part->view == view && strcmp(part->individual, count->individual) == 0
            && strcmp(part->element, count->element) == 0)
            return part;
    return NULL;
}

static enum mb_rc check_inside(struct mb_measuring *m, const struct mb_count *count,
                               const struct mb_part_areas *part)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    const struct mb_shape *shape = &part->settled.outline;
    mb_geom **pieces = MB_ARRAY(m->arena, shape->count, mb_geom *), *outline = NULL;
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; i < shape->count && rc == MB_OK; i++)
        rc = mb_geom_polygon(geoms, shape->at[i].rings, shape->at[i].count, &pieces[i], NULL,
                             m->err);
    if (rc == MB_OK)
        rc = mb_geom_union(geoms, pieces, shape->count, &outline, m->err);
    for (size_t i = 0; i < count->at_count && rc == MB_OK; i++) {
        enum mb_geom_side side;

        rc = mb_geom_side_of(outline, count->at[i], &side, m->err);
        if (rc == MB_OK && side == MB_GEOM_OUTSIDE)
            rc = mb_fail(m->err, MB_REFUSED,
                         "%s: point %zu at %.10g, %.10g lies outside the outline", count->where,
                         i + 1, count->at[i].x, count->at[i].y);
    }
    return rc;
}

static enum mb_rc check_count(struct mb_measuring *m, const struct mb_view *view,
                              const struct mb_count *count)
{
    const struct mb_part_areas *part = outline_of(m, view, count);
    enum mb_rc rc;

    for (const struct mb_count *other = count->next; other; other = other->next)
        if (strcmp(other->individual, count->individual) == 0
            && strcmp(other->element, count->element) == 0)
            return mb_fail(m->err, MB_REFUSED,
                           "%s and %s are of the same surface; put their points into one",
                           count->where, other->where);
    rc = check_twice(m, count);
    return rc == MB_OK && part && count->at_count > 0 ? check_inside(m, count, part) : rc;
}

enum mb_rc mb_measure_check_counts(struct mb_measuring *m, const struct mb_view *view)
{
    enum mb_rc rc = MB_OK;

    for (const struct mb_count *count = view->counts; count && rc == MB_OK; count = count->next)
        rc = check_count(m, view, count);
    if (rc != MB_OK)
        mb_fail_where(m->err, "view '%s'", view->name);
    return rc;
}

/* ---- shares ---------------------------------------------------------------------------------- */

/* A count with the area that it stands for. */
struct counted {
    const struct mb_count *count;
    const struct mb_view *view;
    double mm2, px2; /* 0: not known */
};

struct group {
    struct counted *at;
    size_t count;
};

static struct counted counted_of(const struct mb_measuring *m, const struct mb_view *view,
                                 const struct mb_count *count)
{
    struct counted one = { .count = count, .view = view };
    const struct mb_part_areas *part = outline_of(m, view, count);
    struct mb_scale scale;

    if (*count->area_mm2)
        mb_drawnum_read(mb_str_of(count->area_mm2), &one.mm2);
    if (!part)
        return one;
    one.px2 = part->area;
    if (!*count->area_mm2 && mb_measure_scale(view, &scale))
        one.mm2 = part->area * scale.mm2;
    return one;
}

/* Weights of the parts: by square millimetres, or in one photo by square pixels. */
static bool weigh(const struct group *group, double *weights)
{
    double mm2 = 0, px2 = 0;
    bool all_mm2 = true, all_px2 = true;

    for (size_t i = 0; i < group->count; i++) {
        all_mm2 = all_mm2 && group->at[i].mm2 > 0;
        all_px2 = all_px2 && group->at[i].px2 > 0 && group->at[i].view == group->at[0].view;
        mm2 += group->at[i].mm2;
        px2 += group->at[i].px2;
    }
    for (size_t i = 0; i < group->count; i++)
        weights[i] = group->count == 1 ? 1
                     : all_mm2         ? group->at[i].mm2 / mm2
                                       : group->at[i].px2 / px2;
    return group->count == 1 || all_mm2 || all_px2;
}

/* Hits on any of the substances that are wanted. */
static void fill_share(const struct group *group, const double *weights, const bool *wanted,
                       struct mb_stratum *strata, struct mb_share *out)
{
    struct mb_interval ends = { 0, 1 };

    for (size_t i = 0; i < group->count; i++) {
        const struct mb_count *count = group->at[i].count;

        strata[i] = (struct mb_stratum){ .n = count->total, .weight = weights[i] };
        for (size_t s = 0; s < MB_SUBSTANCES; s++)
            strata[i].x += wanted[s] ? count->hits[s] : 0;
    }
    if (!mb_wilson_weighted(strata, group->count, &out->share, &ends))
        return;
    out->low = ends.low;
    out->high = ends.high;
}

static void fill_shares(mb_arena *arena, const struct group *group, const double *weights,
                        struct mb_tally *tally)
{
    struct mb_stratum *strata = MB_ARRAY(arena, group->count, struct mb_stratum);
    double shares[MB_SUBSTANCES];
    int tenths[MB_SUBSTANCES];

    for (size_t s = 0; s < MB_SUBSTANCES; s++) {
        bool wanted[MB_SUBSTANCES] = { false };

        wanted[s] = true;
        fill_share(group, weights, wanted, strata, &tally->substance[s]);
        shares[s] = tally->substance[s].share;
        /* None found in n points is a finding with a range; not judging is no finding. */
        tally->substance[s].there = shares[s] > 0 || s != MB_SUBSTANCE_UNEXAMINED;
    }
    mb_share_round(shares, MB_SUBSTANCES, tenths);
    for (size_t i = 0; i < MB_SUMS; i++) {
        bool wanted[MB_SUBSTANCES];

        for (size_t s = 0; s < MB_SUBSTANCES; s++) {
            wanted[s] = mb_substance_sum((enum mb_substance)s) == (enum mb_sum)i;
            tally->sum[i].tenths += wanted[s] ? tenths[s] : 0;
            tally->sum[i].there |= wanted[s] && tally->substance[s].there;
        }
        fill_share(group, weights, wanted, strata, &tally->sum[i]);
        mb_share_ends(&tally->sum[i]);
    }
    for (size_t s = 0; s < MB_SUBSTANCES; s++) {
        tally->substance[s].tenths = tenths[s];
        mb_share_ends(&tally->substance[s]);
    }
}

static void tally_group(struct mb_measuring *m, const char *individual, const struct group *group,
                        const double *weights)
{
    struct mb_tally *tally = mb_measure_add_tally(m, individual, MB_HOW_POINTS);
    const char **elements = MB_ARRAY(m->arena, group->count, const char *);
    const char **views = MB_ARRAY(m->arena, group->count, const char *);

    tally->weights = MB_ARRAY(m->arena, group->count, struct mb_weight);
    tally->weight_count = group->count;
    tally->has_mm2 = true;
    for (size_t i = 0; i < group->count; i++) {
        const struct counted *one = &group->at[i];

        elements[i] = one->count->element;
        views[i] = one->view->name;
        tally->several_elements |= strcmp(elements[i], elements[0]) != 0;
        tally->several_views |= one->view != group->at[0].view;
        tally->n += one->count->total;
        tally->has_mm2 = tally->has_mm2 && one->mm2 > 0;
        tally->mm2 += one->mm2;
        tally->weights[i] = (struct mb_weight){
            .element = elements[i], .view = views[i], .mm2 = one->mm2, .weight = weights[i]
        };
    }
    /* The area is somebody's statement, or the outline's own tally has its range. */
    tally->mm2_low = tally->mm2_high = tally->mm2;
    tally->element = mb_measure_list(m->arena, elements, group->count);
    tally->view = mb_measure_list(m->arena, views, group->count);
    mb_measure_weights(m->arena, tally);
    fill_shares(m->arena, group, weights, tally);
}

static void note_layout(struct mb_measuring *m, const struct counted *one)
{
    if (strcmp(one->count->layout, "grid") == 0)
        mb_measure_note(m,
                        "The points of view '%s' lie on a grid that was not laid at random; on a "
                        "surface with a regular pattern the range may be too narrow.",
                        one->view->name);
}

void mb_measure_counted(struct mb_measuring *m, const struct mb_individual *one)
{
    struct group all = { NULL, 0 };
    double *weights;
    size_t count = 0;

    for (const struct mb_view *view = m->outlines->views; view; view = view->next)
        for (const struct mb_count *c = view->counts; c; c = c->next)
            count += strcmp(c->individual, one->label) == 0;
    all.at = MB_ARRAY(m->arena, count, struct counted);
    weights = MB_ARRAY(m->arena, count, double);
    for (const struct mb_view *view = m->outlines->views; view; view = view->next)
        for (const struct mb_count *c = view->counts; c; c = c->next)
            if (strcmp(c->individual, one->label) == 0)
                all.at[all.count++] = counted_of(m, view, c);
    if (all.count > 1 && weigh(&all, weights))
        tally_group(m, one->label, &all, weights);
    else if (all.count > 1)
        mb_measure_note(m,
                        "%s: the areas that the points stand for are not all known, so the counts "
                        "cannot be put together; there are shares of each count and none of all.",
                        one->label);
    for (size_t i = 0; i < all.count; i++) {
        double whole = 1;

        note_layout(m, &all.at[i]);
        tally_group(m, one->label, &(struct group){ &all.at[i], 1 }, &whole);
    }
}
