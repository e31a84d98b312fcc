#include "measure_part.h"

#define SEAM_SHARE 1e-3 /* seams are no more than this of the outline in all */
#define DUST_SHARE 1e-9 /* less than this is rounding, not area */

/*
 * The first failure sticks: shapes are then NULL, areas 0, and the caller looks at rc once at the
 * end. What is made here is freed at the end of the part; there can be thousands of parts.
 */
struct work {
    mb_arena *arena;
    mb_geoms *geoms;
    mb_geom **made;
    size_t count, room;
    enum mb_rc rc;
    struct mb_error *err;
};

static mb_geom *keep(struct work *w, enum mb_rc rc, mb_geom *made)
{
    w->rc = rc;
    if (rc != MB_OK)
        return NULL;
    if (w->count == w->room) {
        size_t room = w->room ? 2 * w->room : 64;
        mb_geom **more = MB_ARRAY(w->arena, room, mb_geom *);
        for (size_t i = 0; i < w->count; i++)
            more[i] = w->made[i];
        w->made = more;
        w->room = room;
    }
    return w->made[w->count++] = made;
}

static mb_geom *unite(struct work *w, mb_geom *const *parts, size_t count)
{
    mb_geom *made = NULL;
    enum mb_rc rc = w->rc;

    if (rc == MB_OK)
        rc = mb_geom_union(w->geoms, parts, count, &made, w->err);
    return keep(w, rc, made);
}

static mb_geom *without(struct work *w, const mb_geom *a, const mb_geom *b)
{
    mb_geom *made = NULL;
    enum mb_rc rc = w->rc;

    if (rc == MB_OK)
        rc = mb_geom_difference(a, b, &made, w->err);
    return keep(w, rc, made);
}

static mb_geom *common(struct work *w, const mb_geom *a, const mb_geom *b)
{
    mb_geom *made = NULL;
    enum mb_rc rc = w->rc;

    if (rc == MB_OK)
        rc = mb_geom_intersection(a, b, &made, w->err);
    return keep(w, rc, made);
}

static mb_geom *widen(struct work *w, const mb_geom *a, double by)
{
    mb_geom *made = NULL;
    enum mb_rc rc = w->rc;

    if (rc == MB_OK)
        rc = mb_geom_buffer_coarse(a, by, &made, w->err);
    return keep(w, rc, made);
}

static double area(const struct work *w, const mb_geom *a)
{
    return w->rc == MB_OK ? mb_geom_area(a) : 0;
}

static bool empty(const struct work *w, const mb_geom *a)
{
    return w->rc != MB_OK || mb_geom_empty(a);
}

/* Frees what was made since the mark. */
static void release(struct work *w, size_t mark)
{
    while (w->count > mark)
        mb_geom_free(w->made[--w->count]);
}

/* Frees what was made since the mark, except one shape of them. */
static mb_geom *release_but(struct work *w, size_t mark, mb_geom *kept)
{
    size_t left = mark;

    for (size_t i = mark; i < w->count; i++) {
        if (w->made[i] == kept)
            w->made[left++] = kept;
        else
            mb_geom_free(w->made[i]);
    }
    w->count = left;
    return kept;
}

/* ---- one outline ----------------------------------------------------------------------------- */

/* The substances, and what no region covers. */
enum { LEFT_OVER = MB_SUBSTANCES, FIELDS };

struct field {
    struct work *w;
    const struct mb_box *tile;        /* what areas are of; NULL: all (measure_tiles.c) */
    const struct mb_part_areas *all;  /* of the whole: what is there; NULL: this is the whole */
    double half;                      /* of the drawn line */
    enum mb_substance uncovered;      /* what LEFT_OVER counts as */
    mb_geom *outline, *small, *large; /* E, E-, E+ */
    double area_small, area_large;
    mb_geom *settled[FIELDS]; /* as drawn, nothing twice; NULL: none */
    mb_geom *may[FIELDS];     /* where it may be; NULL: nowhere */
    /* The fields by precedence, LEFT_OVER behind what it counts as: so each substance and each sum
     * is one run of them. */
    size_t order[FIELDS];
    mb_geom *without_first[FIELDS + 1]; /* [i]: E+ without the places of fields 0 to i - 1 */
    mb_geom *without_last[FIELDS + 1];  /* [i]: E+ without the places of fields i to the last */
};

/* Fields from `from` to `to` - 1 of the order. */
struct run {
    size_t from, to;
};

/* Of the part in the tile; a tile's shapes reach beyond it. */
static double area_of(const struct field *f, const mb_geom *a)
{
    struct work *w = f->w;
    mb_geom *here = NULL;
    double out;

    if (!f->tile || w->rc != MB_OK)
        return area(w, a);
    w->rc = mb_geom_clip(a, *f->tile, &here, w->err);
    out = area(w, here);
    mb_geom_free(here);
    return out;
}

static enum mb_rc begin(struct field *f, struct work *w, const struct mb_site *site,
                        const struct mb_tile *tile)
{
    *f = (struct field){ .w = w,
                         .tile = tile ? &tile->box : NULL,
                         .all = tile ? tile->all : NULL,
                         .half = site->view->line_px / 2,
                         .uncovered = site->uncovered,
                         .outline = site->outline };
    f->small = widen(w, f->outline, -f->half);
    f->large = widen(w, f->outline, f->half);
    f->area_small = area_of(f, f->small);
    f->area_large = area_of(f, f->large);
    if (w->rc == MB_OK && !f->tile)
        w->rc = mb_measure_small(f->area_small, site, w->err);
    return w->rc;
}

/* Gaps that are nowhere as wide as the drawn line, and little in all, are no surface. */
static bool is_seam(struct field *f, const mb_geom *gap)
{
    struct work *w = f->w;

    if (empty(w, gap) || f->all)
        return f->all ? empty(w, gap) || f->all->seams : true;
    return area(w, gap) < SEAM_SHARE * area(w, f->outline) && empty(w, widen(w, gap, -f->half));
}

/* E+ without (what is left of E)+: surely covered by the regions so far. It reaches E+ where they
 * reach the edge of the outline. */
static mb_geom *surely_covered(struct field *f, const mb_geom *left)
{
    struct work *w = f->w;

    return empty(w, left) ? f->large : without(w, f->large, widen(w, left, f->half));
}

/* One substance, in the order of precedence. left: what no region before it covers. */
static void settle_one(struct field *f, enum mb_substance s, const mb_geom *drawn,
                       const mb_geom *left, const mb_geom *covered, struct mb_part_areas *out)
{
    struct work *w = f->w;
    mb_geom *region, *may;
    size_t mark;

    f->settled[s] = common(w, drawn, left);
    mark = w->count;
    region = common(w, drawn, f->outline);
    out->twice += area_of(f, region) - area_of(f, f->settled[s]);
    out->there[s] = f->all ? f->all->there[s]
                           : area(w, f->settled[s]) > DUST_SHARE * f->area_small;
    may = empty(w, region) ? region : common(w, widen(w, region, f->half), f->large);
    if (covered)
        may = without(w, may, covered);
    f->may[s] = release_but(w, mark, may);
}

static void settle(struct field *f, const struct mb_site *site, struct mb_part_areas *out)
{
    struct work *w = f->w;
    mb_geom *left = f->outline, *covered = NULL;

    for (size_t i = 0; i < MB_SUBSTANCES; i++) {
        enum mb_substance s = mb_substance_precedence[i];
        size_t mark;

        if (!site->substance[s])
            continue;
        settle_one(f, s, site->substance[s], left, covered, out);
        left = without(w, left, site->substance[s]);
        mark = w->count;
        covered = release_but(w, mark, surely_covered(f, left));
    }
    if (is_seam(f, left))
        return;
    out->there[f->uncovered] = true;
    f->settled[LEFT_OVER] = left;
    f->may[LEFT_OVER] = covered ? without(w, f->large, covered) : f->large;
}

/* ---- areas ----------------------------------------------------------------------------------- */

static bool is_of(const struct field *f, size_t field, const bool *wanted)
{
    return field == LEFT_OVER ? wanted[f->uncovered] : wanted[field];
}

static void put_in_order(struct field *f)
{
    struct work *w = f->w;
    size_t count = 0;

    for (size_t i = 0; i < MB_SUBSTANCES; i++) {
        f->order[count++] = mb_substance_precedence[i];
        if (mb_substance_precedence[i] == f->uncovered)
            f->order[count++] = LEFT_OVER;
    }
    f->without_first[0] = f->without_last[FIELDS] = f->large;
    for (size_t i = 0; i < FIELDS; i++) {
        const mb_geom *may = f->may[f->order[i]];
        f->without_first[i + 1] = may ? without(w, f->without_first[i], may) : f->without_first[i];
    }
    for (size_t i = FIELDS; i > 0; i--) {
        const mb_geom *may = f->may[f->order[i - 1]];
        f->without_last[i - 1] = may ? without(w, f->without_last[i], may) : f->without_last[i];
    }
}

static struct run run_of(const struct field *f, const bool *wanted)
{
    struct run run = { 0, FIELDS };

    while (run.from < FIELDS && !is_of(f, f->order[run.from], wanted))
        run.from++;
    while (run.to > run.from && !is_of(f, f->order[run.to - 1], wanted))
        run.to--;
    return run;
}

/* Where nothing else may be. */
static mb_geom *surely_is(struct field *f, struct run run)
{
    if (run.from == 0)
        return f->without_last[run.to];
    if (run.to == FIELDS)
        return f->without_first[run.from];
    return common(f->w, f->without_first[run.from], f->without_last[run.to]);
}

static mb_geom *cannot_be(struct field *f, struct run run)
{
    mb_geom *rest = f->large;

    if (run.from == 0)
        return f->without_first[run.to];
    if (run.to == FIELDS)
        return f->without_last[run.from];
    for (size_t i = run.from; i < run.to; i++)
        if (f->may[f->order[i]])
            rest = without(f->w, rest, f->may[f->order[i]]);
    return rest;
}

static double drawn_as(const struct field *f, const bool *wanted)
{
    double sum = 0;

    for (size_t i = 0; i < FIELDS; i++)
        if (f->settled[i] && is_of(f, i, wanted))
            sum += area_of(f, f->settled[i]);
    return sum;
}

/* From where it surely is, and where it cannot be. */
static struct mb_areas ends(struct field *f, double drawn, const mb_geom *surely,
                            const mb_geom *cannot)
{
    struct work *w = f->w;

    return (struct mb_areas){
        .drawn = drawn,
        .sure_in = area_of(f, common(w, surely, f->small)),
        .sure_out = f->area_large - area_of(f, surely),
        .may_in = f->area_large - area_of(f, cannot),
        .may_out = area_of(f, common(w, cannot, f->small)),
    };
}

static struct mb_areas measure_wanted(struct field *f, const bool *wanted)
{
    size_t mark = f->w->count;
    struct run run = run_of(f, wanted);
    mb_geom *surely = surely_is(f, run), *cannot = cannot_be(f, run);
    struct mb_areas areas = ends(f, drawn_as(f, wanted), surely, cannot);

    release(f->w, mark);
    return areas;
}

static void measure_substances(struct field *f, struct mb_part_areas *out)
{
    for (size_t s = 0; s < MB_SUBSTANCES; s++) {
        bool wanted[MB_SUBSTANCES] = { false };

        wanted[s] = true;
        if (out->there[s])
            out->substance[s] = measure_wanted(f, wanted);
    }
    for (size_t sum = 0; sum < MB_SUMS; sum++) {
        bool wanted[MB_SUBSTANCES], there = false;

        for (size_t s = 0; s < MB_SUBSTANCES; s++) {
            wanted[s] = mb_substance_sum((enum mb_substance)s) == (enum mb_sum)sum;
            there = there || (wanted[s] && out->there[s]);
        }
        if (there)
            out->sum[sum] = measure_wanted(f, wanted);
    }
}

static void hand_out(struct field *f, const mb_geom *geom, struct mb_shape *out)
{
    struct mb_polygon *polygons = NULL;

    if (f->w->rc != MB_OK)
        return;
    mb_geom_polygons(f->w->arena, geom, &polygons, &out->count);
    out->at = polygons;
}

/* ---- surfaces -------------------------------------------------------------------------------- */

struct coat {
    mb_geom *region, *surely, *may, *cannot;
};

static void measure_on(struct field *f, const struct coat *coat, enum mb_substance s,
                       struct mb_areas *out)
{
    struct work *w = f->w;
    size_t mark = w->count;
    bool wanted[MB_SUBSTANCES] = { false };
    mb_geom *surely, *may;
    struct run run;
    double drawn = 0;

    wanted[s] = true;
    for (size_t i = 0; i < FIELDS; i++)
        if (f->settled[i] && is_of(f, i, wanted))
            drawn += area_of(f, common(w, coat->region, f->settled[i]));
    run = run_of(f, wanted);
    surely = common(w, coat->surely, surely_is(f, run));
    may = without(w, coat->may, cannot_be(f, run));
    *out = ends(f, drawn, surely, without(w, f->large, may));
    release(w, mark);
}

static void measure_surface(struct field *f, const mb_geom *drawn, size_t surface,
                            struct mb_part_areas *out)
{
    struct work *w = f->w;
    size_t mark = w->count;
    struct coat coat = { .region = common(w, drawn, f->outline) };
    double drawn_area;

    if (!empty(w, coat.region)) {
        coat.may = common(w, widen(w, coat.region, f->half), f->large);
        coat.cannot = without(w, f->large, coat.may);
        coat.surely = surely_covered(f, without(w, f->outline, coat.region));
        drawn_area = area_of(f, coat.region);
        out->surface_there[surface] = drawn_area > DUST_SHARE * f->area_small;
        out->surface[surface] = ends(f, drawn_area, coat.surely, coat.cannot);
        for (size_t s = 0; s < MB_SUBSTANCES; s++)
            if (out->there[s])
                measure_on(f, &coat, (enum mb_substance)s, &out->surface_on[surface][s]);
        if (!f->tile)
            hand_out(f, coat.region, &out->settled.surface[surface]);
    }
    release(w, mark);
}

static void hand_out_substances(struct field *f, struct mb_part_areas *out)
{
    struct work *w = f->w;

    for (size_t s = 0; s < MB_SUBSTANCES; s++) {
        mb_geom *whole = f->settled[s];

        if (s == f->uncovered && f->settled[LEFT_OVER])
            whole = whole ? unite(w, (mb_geom *[]){ whole, f->settled[LEFT_OVER] }, 2)
                          : f->settled[LEFT_OVER];
        if (whole)
            hand_out(f, whole, &out->settled.substance[s]);
    }
}

/* What is not there has none of the outline, which counts where parts are put together. */
static void fill_none(const struct field *f, struct mb_part_areas *out)
{
    struct mb_areas none = { .sure_out = f->area_large, .may_out = f->area_small };

    for (size_t s = 0; s < MB_SUBSTANCES; s++)
        out->substance[s] = none;
    for (size_t i = 0; i < MB_SUMS; i++)
        out->sum[i] = none;
    for (size_t i = 0; i < MB_SURFACES; i++) {
        out->surface[i] = none;
        for (size_t s = 0; s < MB_SUBSTANCES; s++)
            out->surface_on[i][s] = none;
    }
}

enum mb_rc mb_measure_small(double area_small, const struct mb_site *site, struct mb_error *err)
{
    if (area_small > 0)
        return MB_OK;
    return mb_fail(err, MB_REFUSED,
                   "the drawn line (%.10g wide) covers the whole outline; draw it on a larger "
                   "photo, or state how wide the line really is",
                   site->view->line_px);
}

enum mb_rc mb_measure_areas(mb_arena *arena, mb_geoms *geoms, const struct mb_site *site,
                            const struct mb_tile *tile, struct mb_part_areas *out,
                            struct mb_error *err)
{
    struct work w = { .arena = arena, .geoms = geoms, .rc = MB_OK, .err = err };
    struct field f;

    if (begin(&f, &w, site, tile) == MB_OK) {
        out->area = area_of(&f, f.outline);
        out->area_small = f.area_small;
        out->area_large = f.area_large;
        fill_none(&f, out);
        settle(&f, site, out);
        put_in_order(&f);
        measure_substances(&f, out);
        for (size_t i = 0; i < MB_SURFACES; i++)
            if (site->surface[i])
                measure_surface(&f, site->surface[i], i, out);
        if (!tile) {
            hand_out(&f, f.outline, &out->settled.outline);
            hand_out_substances(&f, out);
        }
    }
    release(&w, 0);
    return w.rc;
}

/* The outlines as drawn alone, which no line widens. */
static void settle_drawn(struct field *f, const struct mb_site *site, struct mb_part_areas *out)
{
    struct work *w = f->w;
    mb_geom *left = f->outline;

    for (size_t i = 0; i < MB_SUBSTANCES; i++) {
        enum mb_substance s = mb_substance_precedence[i];

        if (!site->substance[s])
            continue;
        f->settled[s] = common(w, site->substance[s], left);
        out->there[s] = area(w, f->settled[s]) > DUST_SHARE * area(w, f->outline);
        left = without(w, left, site->substance[s]);
    }
    out->seams = is_seam(f, left);
    if (out->seams)
        return;
    out->there[f->uncovered] = true;
    f->settled[LEFT_OVER] = left;
}

enum mb_rc mb_measure_drawn(mb_arena *arena, mb_geoms *geoms, const struct mb_site *site,
                            struct mb_part_areas *out, struct mb_error *err)
{
    struct work w = { .arena = arena, .geoms = geoms, .rc = MB_OK, .err = err };
    struct field f = { .w = &w, .half = site->view->line_px / 2, .uncovered = site->uncovered,
                       .outline = site->outline };

    settle_drawn(&f, site, out);
    for (size_t i = 0; i < MB_SURFACES; i++)
        if (site->surface[i])
            hand_out(&f, common(&w, site->surface[i], f.outline), &out->settled.surface[i]);
    hand_out(&f, f.outline, &out->settled.outline);
    hand_out_substances(&f, out);
    release(&w, 0);
    return w.rc;
}
