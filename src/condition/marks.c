#include "marks.h"
#include "marks_list.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { TAGS_MAX = 40, TICKS_MAX = 1000, POINTS_MAX = 20000, PIECES_AT_ONCE = 200 };

#define BAR_MM 2.0 /* height of the scale bar on paper */

struct overlay {
    struct mb_mark_list list;
    const struct mb_measured *measured;
    const struct mb_marks_setup *setup;
    double px_mm_x, px_mm_y; /* page millimetres to a pixel */
    struct mb_xy corner;     /* of the photo, in pixels */
    size_t tags;
    struct mb_error *err;
};

static struct mb_ink ink(uint32_t rgb)
{
    return (struct mb_ink){ .rgb = rgb };
}

/* ---- from the photo to the page -------------------------------------------------------------- */

static void widen(struct mb_box *box, struct mb_xy at)
{
    box->x_min = fmin(box->x_min, at.x);
    box->y_min = fmin(box->y_min, at.y);
    box->x_max = fmax(box->x_max, at.x);
    box->y_max = fmax(box->y_max, at.y);
}

/* What is drawn in the view, where the size of the photo is not known. */
static struct mb_box extent(const struct mb_view *view)
{
    struct mb_box box = { INFINITY, INFINITY, -INFINITY, -INFINITY };

    for (const struct mb_part *part = view->parts; part; part = part->next)
        for (size_t p = 0; p < part->shape.count; p++)
            for (size_t i = 0; i < part->shape.at[p].rings[0].count; i++)
                widen(&box, part->shape.at[p].rings[0].at[i]);
    for (const struct mb_join *join = view->joins; join; join = join->next)
        for (size_t i = 0; i < join->count; i++)
            widen(&box, join->at[i]);
    for (const struct mb_count *count = view->counts; count; count = count->next)
        for (size_t i = 0; i < count->at_count; i++)
            widen(&box, count->at[i]);
    if (!(box.x_max > box.x_min) || !(box.y_max > box.y_min))
        return (struct mb_box){ 0, 0, 1, 1 };
    return box;
}

static void lay(struct overlay *o)
{
    const struct mb_marks_setup *s = o->setup;
    struct mb_box box = { 0, 0, s->width_px, s->height_px };

    if (!(s->width_px > 0) || !(s->height_px > 0))
        box = s->view->width_px > 0 ? (struct mb_box){ 0, 0, s->view->width_px, s->view->height_px }
                                    : extent(s->view);
    o->corner = (struct mb_xy){ box.x_min, box.y_min };
    o->px_mm_x = s->box.width / (box.x_max - box.x_min);
    o->px_mm_y = s->box.height / (box.y_max - box.y_min);
}

static struct mb_mm on_page(const struct overlay *o, struct mb_xy at)
{
    return (struct mb_mm){ o->setup->box.x + (at.x - o->corner.x) * o->px_mm_x,
                           o->setup->box.y + (at.y - o->corner.y) * o->px_mm_y };
}

static const struct mb_mm *points_of(struct overlay *o, const struct mb_xy *at, size_t count)
{
    struct mb_mm *points = MB_ARRAY(o->list.arena, count, struct mb_mm);

    for (size_t i = 0; i < count; i++)
        points[i] = on_page(o, at[i]);
    return points;
}

static const struct mb_mm_ring *rings_of(struct overlay *o, const struct mb_shape *shape,
                                         size_t *count)
{
    struct mb_mm_ring *rings;

    *count = 0;
    for (size_t p = 0; p < shape->count; p++)
        *count += shape->at[p].count;
    rings = MB_ARRAY(o->list.arena, *count, struct mb_mm_ring);
    *count = 0;
    for (size_t p = 0; p < shape->count; p++)
        for (size_t i = 0; i < shape->at[p].count; i++) {
            const struct mb_ring *ring = &shape->at[p].rings[i];
            rings[(*count)++] =
                (struct mb_mm_ring){ points_of(o, ring->at, ring->count), ring->count };
        }
    return rings;
}

/* ---- areas ----------------------------------------------------------------------------------- */

static void draw_some(struct overlay *o, const struct mb_shape *shape, const struct mb_fill *fill,
                      const struct mb_stroke *stroke)
{
    struct mb_stroke casing = { .width_mm = stroke->width_mm + 0.5,
                                .ink = { MB_MARKS_PAPER, 0.35 } };
    size_t count;
    const struct mb_mm_ring *rings = rings_of(o, shape, &count);

    mb_mark_area(&o->list, rings, count, fill, &casing);
    mb_mark_area(&o->list, rings, count, NULL, stroke);
}

/* Pieces lie apart from each other, so thousands of them need not be one path, which drawing would
 * hold in memory all at once. */
static void draw_area(struct overlay *o, const struct mb_shape *shape, const struct mb_fill *fill,
                      const struct mb_stroke *stroke)
{
    for (size_t i = 0; i < shape->count; i += PIECES_AT_ONCE) {
        size_t left = shape->count - i;
        struct mb_shape some = { shape->at + i, left < PIECES_AT_ONCE ? left : PIECES_AT_ONCE };

        draw_some(o, &some, fill, stroke);
    }
}

static void draw_substances(struct overlay *o, const struct mb_settled *settled)
{
    struct mb_stroke edge = { .width_mm = 0.25, .ink = ink(MB_MARKS_INK) };

    for (size_t s = 0; s < MB_SUBSTANCES; s++) {
        struct mb_fill fill = mb_marks_fill((enum mb_substance)s);

        /* Original stays clear: what its edge would show, the edges of the others show. */
        if (s != MB_SUBSTANCE_ORIGINAL && settled->substance[s].count > 0)
            draw_area(o, &settled->substance[s], &fill, &edge);
    }
}

static double ring_px2(const struct mb_ring *ring)
{
    double sum = 0;

    for (size_t i = 0; i + 1 < ring->count; i++)
        sum += ring->at[i].x * ring->at[i + 1].y - ring->at[i + 1].x * ring->at[i].y;
    return fabs(sum) / 2;
}

/* The word goes into the largest piece of the surface. */
static enum mb_rc tag(struct overlay *o, const struct mb_shape *shape, const char *word)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    const struct mb_polygon *largest = NULL;
    mb_geom *piece;
    struct mb_xy at;
    enum mb_rc rc;

    for (size_t p = 0; p < shape->count; p++)
        if (!largest || ring_px2(&shape->at[p].rings[0]) > ring_px2(&largest->rings[0]))
            largest = &shape->at[p];
    if (!largest || o->tags++ >= TAGS_MAX)
        return MB_OK;
    rc = mb_geom_polygon(geoms, largest->rings, largest->count, &piece, NULL, o->err);
    if (rc == MB_OK && mb_geom_inner_point(piece, &at))
        mb_mark_text(&o->list, on_page(o, at), word, true);
    return rc;
}

static enum mb_rc draw_surfaces(struct overlay *o, const struct mb_settled *settled)
{
    enum mb_rc rc = MB_OK;

    for (size_t f = 0; f < MB_SURFACES && rc == MB_OK; f++) {
        struct mb_stroke edge = mb_marks_edge((enum mb_surface)f);

        if (settled->surface[f].count == 0)
            continue;
        draw_area(o, &settled->surface[f], NULL, &edge);
        rc = tag(o, &settled->surface[f], mb_surface_words[f]);
    }
    return rc;
}

/* ---- lines and points ------------------------------------------------------------------------ */

static double length_mm(const struct mb_mm *points, size_t count)
{
    double length = 0;

    for (size_t i = 0; i + 1 < count; i++)
        length += hypot(points[i + 1].x - points[i].x, points[i + 1].y - points[i].y);
    return length;
}

static void draw_joins(struct overlay *o)
{
    double all = 0, every;

    for (const struct mb_join *join = o->setup->view->joins; join; join = join->next)
        all += length_mm(points_of(o, join->at, join->count), join->count);
    /* So many joins that ticks would blacken the page get them further apart. */
    every = fmax(MB_MARKS_TICK_MM, all / TICKS_MAX);
    for (const struct mb_join *join = o->setup->view->joins; join; join = join->next)
        mb_mark_join(&o->list, points_of(o, join->at, join->count), join->count, join->through,
                     every);
}

/* Counted points: an open ring is original, a full dot is not, a small one was not judged. */
static void draw_points(struct overlay *o)
{
    struct mb_stroke edge = { .width_mm = 0.25, .ink = ink(MB_MARKS_INK) };
    struct mb_fill full = { .pattern = MB_PATTERN_SOLID, .ink = ink(MB_MARKS_INK) };
    struct mb_fill pale = { .pattern = MB_PATTERN_SOLID, .ink = ink(MB_MARKS_PAPER) };

    size_t all = 0, step;

    for (const struct mb_count *count = o->setup->view->counts; count; count = count->next)
        all += count->at_count;
    step = all / POINTS_MAX + 1; /* more than a page can show: every so many */
    for (const struct mb_count *count = o->setup->view->counts; count; count = count->next)
        for (size_t i = 0; i < count->at_count; i += step) {
            enum mb_sum sum = mb_substance_sum((enum mb_substance)count->substance[i]);

            mb_mark_circle(&o->list, on_page(o, count->at[i]),
                           sum == MB_SUM_UNEXAMINED ? 0.35 : 0.6,
                           sum == MB_SUM_ORIGINAL ? &pale : &full, &edge);
        }
}

/* 1, 2 or 5 times a power of ten: the longest that is not longer than `most`. */
static double round_length(double most)
{
    double power = pow(10, floor(log10(most)));

    return most >= 5 * power ? 5 * power : most >= 2 * power ? 2 * power : power;
}

/* Below the photo, for the photo has a bar of its own in it, perhaps right there. */
static const struct mb_mark *bar_of(const struct overlay *o)
{
    const struct mb_view *view = o->setup->view;
    const struct mb_mm_box *box = &o->setup->box;
    struct mb_mark_list list = { .arena = o->list.arena };
    struct mb_stroke edge = { .width_mm = 0.25, .ink = ink(MB_MARKS_INK) };
    double page_mm, length, wide, y = box->y + box->height + (MB_MARKS_BAR_MM - BAR_MM) / 2;

    if (!view->has_scale)
        return NULL;
    page_mm = view->bar_px / view->bar_mm * o->px_mm_x; /* on paper to a real millimetre */
    length = round_length(box->width / 3 / page_mm);
    wide = length * page_mm;
    for (int i = 0; i < 5; i++) {
        struct mb_fill fill = { .pattern = MB_PATTERN_SOLID,
                                .ink = ink(i % 2 ? MB_MARKS_PAPER : MB_MARKS_INK) };
        mb_mark_box(&list, (struct mb_mm_box){ box->x + wide * i / 5, y, wide / 5, BAR_MM }, &fill,
                    &edge);
    }
    mb_mark_text(&list, (struct mb_mm){ box->x + wide + 2, y + BAR_MM / 2 },
                 length >= 1000 ? mb_arena_printf(list.arena, "%g m", length / 1000)
                                : mb_arena_printf(list.arena, "%g mm", length),
                 false);
    return list.first;
}

/* ---- legend ---------------------------------------------------------------------------------- */

struct legend {
    mb_arena *arena;
    struct mb_legend *first, *last;
};

static void add_line(struct legend *l, enum mb_legend_kind kind, unsigned index, const char *name,
                     const char *share, const char *range)
{
    struct mb_legend *line = MB_NEW(l->arena, struct mb_legend);

    *line = (struct mb_legend){
        .kind = kind, .index = index, .name = name, .share = share, .range = range
    };
    if (l->last)
        l->last->next = line;
    else
        l->first = line;
    l->last = line;
}

static void add_share(struct legend *l, enum mb_legend_kind kind, unsigned index, const char *name,
                      const struct mb_share *share)
{
    /* where all is of one kind, no line that was drawn has a width to be off by */
    bool all = share->tenths_low == 1000;
    const char *range = all ? "nothing else was marked"
                            : mb_arena_printf(l->arena, "%s\xE2\x80\x93%s %%",
                                              mb_share_text(l->arena, share->tenths_low),
                                              mb_share_text(l->arena, share->tenths_high));

    add_line(l, kind, index, name,
             mb_arena_printf(l->arena, "%s %%", mb_share_text(l->arena, share->tenths)), range);
}

/* The shares of one individual in this view alone: the first that speaks of nothing else. */
static const struct mb_tally *tally_of(const struct overlay *o, const char *individual)
{
    const struct mb_tally *tally = o->measured->tallies;

    while (tally
           && (tally->how != MB_HOW_OUTLINE || tally->several_views
               || strcmp(tally->individual, individual) != 0
               || strcmp(tally->view, o->setup->view->name) != 0))
        tally = tally->next;
    return tally;
}

static void add_shares(struct legend *l, const struct mb_tally *tally)
{
    for (unsigned s = 0; s < MB_SUBSTANCES; s++)
        if (tally->substance[s].there)
            add_share(l, MB_LEGEND_SUBSTANCE, s, mb_substance_words[s], &tally->substance[s]);
    for (unsigned f = 0; f < MB_SURFACES; f++)
        if (tally->surface[f].there)
            add_share(l, MB_LEGEND_SURFACE, f, mb_surface_words[f], &tally->surface[f]);
}

static void add_joins(struct legend *l, const struct mb_view *view)
{
    static const char *const names[MB_THROUGHS] = { "join through fossil", "join through rock",
                                                    "join through both" };
    size_t counts[MB_THROUGHS] = { 0 };

    for (const struct mb_join *join = view->joins; join; join = join->next) {
        const struct mb_join *before = view->joins;

        /* Lines of one name are one join. */
        while (before != join && !(*join->name && strcmp(before->name, join->name) == 0))
            before = before->next;
        counts[join->through] += before == join;
    }
    for (unsigned t = 0; t < MB_THROUGHS; t++)
        if (counts[t] > 0)
            add_line(l, MB_LEGEND_JOIN, t, names[t], mb_arena_printf(l->arena, "%zu", counts[t]),
                     "");
}

static struct mb_legend *legend_of(struct overlay *o)
{
    struct legend l = { .arena = o->list.arena };
    const struct mb_outlines *outlines = o->measured->outlines;

    for (const struct mb_individual *one = outlines->individuals; one; one = one->next) {
        const struct mb_tally *tally = tally_of(o, one->label);

        if (!tally)
            continue;
        if (outlines->individual_count > 1)
            add_line(&l, MB_LEGEND_INDIVIDUAL, 0,
                     *one->name ? mb_arena_printf(l.arena, "%s, %s", one->label, one->name)
                                : one->label,
                     "", "");
        add_shares(&l, tally);
    }
    add_joins(&l, o->setup->view);
    return l.first;
}

/* ---- the view -------------------------------------------------------------------------------- */

static enum mb_rc draw_settled(struct overlay *o, const struct mb_settled *settled)
{
    struct mb_stroke edge = { .width_mm = 0.6, .ink = ink(MB_MARKS_INK) };
    enum mb_rc rc;

    draw_substances(o, settled);
    rc = draw_surfaces(o, settled);
    draw_area(o, &settled->outline, NULL, &edge);
    return rc;
}

/* At the corner that is nearest to the top left. */
static void name_outline(struct overlay *o, const struct mb_settled *settled)
{
    const struct mb_ring *ring = &settled->outline.at[0].rings[0];
    const char *label = settled->individual;
    struct mb_xy best = ring->at[0];

    if (*settled->element)
        label = o->measured->outlines->individual_count > 1
                    ? mb_arena_printf(o->list.arena, "%s %s", settled->individual, settled->element)
                    : settled->element;
    for (size_t i = 0; i < ring->count; i++)
        if (ring->at[i].x + ring->at[i].y < best.x + best.y)
            best = ring->at[i];
    if (o->tags++ < TAGS_MAX)
        mb_mark_text(&o->list, on_page(o, best), label, true);
}

enum mb_rc mb_marks_view(mb_arena *arena, const struct mb_measured *measured,
                         const struct mb_marks_setup *setup, struct mb_marks *out,
                         struct mb_error *err)
{
    struct overlay o = {
        .list = { .arena = arena }, .measured = measured, .setup = setup, .err = err
    };
    size_t parts = 0;
    enum mb_rc rc = MB_OK;

    lay(&o);
    for (const struct mb_settled *s = measured->settled; s && rc == MB_OK; s = s->next)
        if (s->view == setup->view) {
            parts++;
            rc = draw_settled(&o, s);
        }
    /* Several outlines are told apart by their names; one needs none. */
    for (const struct mb_settled *s = measured->settled; s && parts > 1; s = s->next)
        if (s->view == setup->view && rc == MB_OK)
            name_outline(&o, s);
    if (rc != MB_OK)
        return rc;
    draw_joins(&o);
    draw_points(&o);
    *out = (struct mb_marks){ .marks = o.list.first,
                              .bar = bar_of(&o),
                              .legend = legend_of(&o),
                              .has_scale = setup->view->has_scale };
    return MB_OK;
}
