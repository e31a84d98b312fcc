/* From the areas of parts to the shares of an individual. */
#include "measure_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The parts that make one tally. */
struct group {
    const struct mb_part_areas **at;
    size_t count;
};

bool mb_measure_scale(const struct mb_view *view, struct mb_scale *out)
{
    if (!view->has_scale)
        return false;
    out->mm2 = pow(view->bar_mm / view->bar_px, 2);
    out->mm2_low = pow(view->bar_mm / (view->bar_px + view->line_px), 2);
    out->mm2_high = pow(view->bar_mm / (view->bar_px - view->line_px), 2);
    return true;
}

/* ---- putting views together ------------------------------------------------------------------ */

/* What one view brings to a sum: inside and outside of what is asked for, in its own square pixels,
 * and between what its scale may lie. */
struct term {
    double in, out;
    double scale_low, scale_high;
};

static int by_ratio(const void *va, const void *vb)
{
    const struct term *a = va, *b = vb;
    double left = a->in * (b->in + b->out), right = b->in * (a->in + a->out);

    return left < right ? -1 : left > right;
}

/*
 * The least (or greatest) value of sum(k in) / sum(k (in + out)) where each k is free within its
 * ends: a quotient of linear sums is extreme where each k is at an end, and views with a smaller
 * ratio than the result are at their high end when the least is sought.
 */
static double extreme(struct term *terms, size_t count, bool least)
{
    double best = least ? 1 : 0;
    bool any = false;

    qsort(terms, count, sizeof *terms, by_ratio);
    for (size_t cut = 0; cut <= count; cut++) {
        double in = 0, all = 0, ratio;

        for (size_t i = 0; i < count; i++) {
            double k = (i < cut) == least ? terms[i].scale_high : terms[i].scale_low;
            in += k * terms[i].in;
            all += k * (terms[i].in + terms[i].out);
        }
        if (!(all > 0))
            continue;
        ratio = in / all;
        if (!any || (least ? ratio < best : ratio > best))
            best = ratio;
        any = true;
    }
    return best;
}

/* Where in mb_part_areas the areas of one line lie. */
struct line {
    size_t offset;
};

#define LINE(member) ((struct line){ offsetof(struct mb_part_areas, member) })

static const struct mb_areas *areas_of(const struct mb_part_areas *part, struct line line)
{
    return (const struct mb_areas *)(const void *)((const char *)part + line.offset);
}

/* One end: parts of the same view share its scale, so they are added up first. */
static double end_of(mb_arena *arena, const struct group *group, struct line line, bool low)
{
    struct term *terms = MB_ARRAY(arena, group->count, struct term);
    const struct mb_view *view = NULL;
    size_t count = 0;

    for (size_t i = 0; i < group->count; i++) {
        const struct mb_areas *areas = areas_of(group->at[i], line);
        struct mb_scale scale = { 1, 1, 1 };

        if (group->at[i]->view != view) {
            view = group->at[i]->view;
            mb_measure_scale(view, &scale);
            terms[count].scale_low = scale.mm2_low;
            terms[count++].scale_high = scale.mm2_high;
        }
        terms[count - 1].in += low ? areas->sure_in : areas->may_in;
        terms[count - 1].out += low ? areas->sure_out : areas->may_out;
    }
    return extreme(terms, count, low);
}

static double weight_of(const struct mb_part_areas *part)
{
    struct mb_scale scale = { 1, 1, 1 };

    mb_measure_scale(part->view, &scale);
    return scale.mm2;
}

static double drawn_of(const struct group *group, struct line line)
{
    double sum = 0;

    for (size_t i = 0; i < group->count; i++)
        sum += weight_of(group->at[i]) * areas_of(group->at[i], line)->drawn;
    return sum;
}

static void fill_share(mb_arena *arena, const struct group *group, struct line line, double all,
                       struct mb_share *out)
{
    out->share = drawn_of(group, line) / all;
    out->low = fmin(end_of(arena, group, line, true), out->share);
    out->high = fmax(end_of(arena, group, line, false), out->share);
}

/* ---- one tally ------------------------------------------------------------------------------- */

static bool any_there(const struct group *group, size_t substance)
{
    for (size_t i = 0; i < group->count; i++)
        if (group->at[i]->there[substance])
            return true;
    return false;
}

static double fill_substances(mb_arena *arena, const struct group *group, struct mb_tally *tally)
{
    double drawn[MB_SUBSTANCES], all = 0;
    int tenths[MB_SUBSTANCES];

    for (size_t s = 0; s < MB_SUBSTANCES; s++) {
        tally->substance[s].there = any_there(group, s);
        drawn[s] = tally->substance[s].there ? drawn_of(group, LINE(substance[s])) : 0;
        all += drawn[s];
    }
    mb_share_round(drawn, MB_SUBSTANCES, tenths);
    for (size_t s = 0; s < MB_SUBSTANCES; s++) {
        struct mb_share *share = &tally->substance[s], *sum;

        if (!share->there)
            continue;
        fill_share(arena, group, LINE(substance[s]), all, share);
        share->tenths = tenths[s];
        mb_share_ends(share);
        sum = &tally->sum[mb_substance_sum((enum mb_substance)s)];
        sum->there = true;
        sum->tenths += tenths[s];
    }
    for (size_t i = 0; i < MB_SUMS; i++) {
        if (!tally->sum[i].there)
            continue;
        fill_share(arena, group, LINE(sum[i]), all, &tally->sum[i]);
        mb_share_ends(&tally->sum[i]);
    }
    return all;
}

static void fill_surfaces(mb_arena *arena, const struct group *group, double all,
                          struct mb_tally *tally)
{
    for (size_t f = 0; f < MB_SURFACES; f++) {
        for (size_t i = 0; i < group->count; i++)
            tally->surface[f].there |= group->at[i]->surface_there[f];
        if (!tally->surface[f].there)
            continue;
        fill_share(arena, group, LINE(surface[f]), all, &tally->surface[f]);
        mb_share_alone(&tally->surface[f]);
        for (size_t s = 0; s < MB_SUBSTANCES; s++) {
            struct mb_share *on = &tally->surface_on[f][s];

            /* Less than what two lines drawn over each other differ by is no finding. */
            on->there = tally->substance[s].there
                        && drawn_of(group, LINE(surface_on[f][s])) > 1e-9 * all;
            if (!on->there)
                continue;
            fill_share(arena, group, LINE(surface_on[f][s]), all, on);
            mb_share_alone(on);
        }
    }
}

static void fill_areas(const struct group *group, struct mb_tally *tally)
{
    tally->has_mm2 = true;
    for (size_t i = 0; i < group->count; i++) {
        const struct mb_part_areas *part = group->at[i];
        struct mb_scale scale;

        if (!mb_measure_scale(part->view, &scale)) {
            tally->has_mm2 = false;
            tally->mm2 = tally->mm2_low = tally->mm2_high = 0;
            return;
        }
        tally->mm2 += part->area * scale.mm2;
        tally->mm2_low += part->area_small * scale.mm2_low;
        tally->mm2_high += part->area_large * scale.mm2_high;
    }
}

void mb_measure_weights(mb_arena *arena, struct mb_tally *tally)
{
    double *parts = MB_ARRAY(arena, tally->weight_count, double);
    int *tenths = MB_ARRAY(arena, tally->weight_count, int);

    if (tally->weight_count == 0)
        return;
    for (size_t i = 0; i < tally->weight_count; i++) {
        parts[i] = tally->weights[i].weight;
        tenths[i] = (int)lround(parts[i] * MB_TENTHS_ALL);
    }
    if (tally->weight_count <= MB_TENTHS_ALL)
        mb_share_round(parts, tally->weight_count, tenths);
    for (size_t i = 0; i < tally->weight_count; i++)
        tally->weights[i].tenths = tenths[i];
}

static void fill_weights(mb_arena *arena, const struct group *group, struct mb_tally *tally)
{
    double all = 0;

    tally->weights = MB_ARRAY(arena, group->count, struct mb_weight);
    tally->weight_count = group->count;
    for (size_t i = 0; i < group->count; i++)
        all += group->at[i]->area * weight_of(group->at[i]);
    for (size_t i = 0; i < group->count; i++) {
        const struct mb_part_areas *part = group->at[i];
        double area = part->area * weight_of(part);

        tally->weights[i] = (struct mb_weight){ .element = part->element,
                                                .view = part->view->name,
                                                .mm2 = part->view->has_scale ? area : 0,
                                                .weight = area / all };
    }
    mb_measure_weights(arena, tally);
}

static void fill_names(mb_arena *arena, const struct group *group, struct mb_tally *tally)
{
    const char **elements = MB_ARRAY(arena, group->count, const char *);
    const char **views = MB_ARRAY(arena, group->count, const char *);

    for (size_t i = 0; i < group->count; i++) {
        elements[i] = group->at[i]->element;
        views[i] = group->at[i]->view->name;
        tally->several_elements |= strcmp(elements[i], elements[0]) != 0;
        tally->several_views |= group->at[i]->view != group->at[0]->view;
        tally->n += group->at[i]->n;
    }
    tally->element = mb_measure_list(arena, elements, group->count);
    tally->view = mb_measure_list(arena, views, group->count);
}

static void tally_group(struct mb_measuring *m, const char *individual, const struct group *group)
{
    struct mb_tally *tally = mb_measure_add_tally(m, individual, MB_HOW_OUTLINE);
    double all;

    fill_names(m->arena, group, tally);
    fill_areas(group, tally);
    fill_weights(m->arena, group, tally);
    all = fill_substances(m->arena, group, tally);
    fill_surfaces(m->arena, group, all, tally);
}

/* ---- one individual -------------------------------------------------------------------------- */

static bool can_be_weighed(const struct group *group)
{
    for (size_t i = 0; i < group->count; i++)
        if (group->at[i]->view != group->at[0]->view
            && (!group->at[i]->view->has_scale || !group->at[0]->view->has_scale))
            return false;
    return true;
}

typedef bool same_line(const struct mb_part_areas *a, const struct mb_part_areas *b);

static bool same_element(const struct mb_part_areas *a, const struct mb_part_areas *b)
{
    return strcmp(a->element, b->element) == 0;
}

static bool same_view(const struct mb_part_areas *a, const struct mb_part_areas *b)
{
    return a->view == b->view;
}

/* A tally for each set of parts that are the same in one respect, if it has more than one of them
 * and is not the whole. */
static void tally_sets(struct mb_measuring *m, const char *individual, const struct group *all,
                       same_line *same)
{
    struct group set = { MB_ARRAY(m->arena, all->count, const struct mb_part_areas *), 0 };

    for (size_t i = 0; i < all->count; i++) {
        bool seen = false;

        for (size_t j = 0; j < i; j++)
            seen = seen || same(all->at[j], all->at[i]);
        if (seen)
            continue;
        set.count = 0;
        for (size_t j = i; j < all->count; j++)
            if (same(all->at[i], all->at[j]))
                set.at[set.count++] = all->at[j];
        if (set.count > 1 && set.count < all->count && can_be_weighed(&set))
            tally_group(m, individual, &set);
    }
}

void mb_measure_outlined(struct mb_measuring *m, const struct mb_individual *one)
{
    struct group all = { NULL, 0 };
    size_t count = 0;

    for (const struct mb_part_areas *part = m->parts; part; part = part->next)
        count += strcmp(part->individual, one->label) == 0;
    all.at = MB_ARRAY(m->arena, count, const struct mb_part_areas *);
    for (const struct mb_part_areas *part = m->parts; part; part = part->next)
        if (strcmp(part->individual, one->label) == 0)
            all.at[all.count++] = part;
    if (all.count > 1) {
        if (can_be_weighed(&all))
            tally_group(m, one->label, &all);
        else
            mb_measure_note(m,
                            "%s: not every view has a scale bar, so the views cannot be weighed "
                            "against each other; there are shares of each view and none of all.",
                            one->label);
        tally_sets(m, one->label, &all, same_element);
        tally_sets(m, one->label, &all, same_view);
    }
    for (size_t i = 0; i < all.count; i++)
        tally_group(m, one->label, &(struct group){ &all.at[i], 1 });
}
