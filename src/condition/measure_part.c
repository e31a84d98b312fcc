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
        rc = mb_geom_buffer(a, by, &made, w->err);
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

/* ---- one outline ----------------------------------------------------------------------------- */

struct field {
    struct work *w;
    double half; /* of the drawn line */
    mb_geom *nothing;
    mb_geom *outline, *small, *large; /* E, E-, E+ */
    double area_small, area_large;
    mb_geom *settled[MB_SUBSTANCES]; /* as drawn, nothing twice */
    mb_geom *may[MB_SUBSTANCES];     /* where it may be */
    mb_geom *surely[MB_SUBSTANCES];  /* where nothing else may be */
};

/* U+ within E+, for a region that lies in E. */
static mb_geom *grown(struct field *f, const mb_geom *region)
{
    struct work *w = f->w;

    return empty(w, region) ? f->nothing : common(w, widen(w, region, f->half), f->large);
}

/* E+ without (E without U)+: shrunk, except where the region reaches the edge of the outline. */
static mb_geom *core(struct field *f, const mb_geom *region)
{
    struct work *w = f->w;
    mb_geom *rest;

    if (empty(w, region))
        return f->nothing;
    rest = without(w, f->outline, region);
    return empty(w, rest) ? f->large : without(w, f->large, widen(w, rest, f->half));
}

static enum mb_rc begin(struct field *f, struct work *w, const struct mb_site *site)
{
    *f = (struct field){ .w = w, .half = site->view->line_px / 2, .outline = site->outline };
    f->nothing = unite(w, NULL, 0);
    f->small = widen(w, f->outline, -f->half);
    f->large = widen(w, f->outline, f->half);
    f->area_small = area(w, f->small);
    f->area_large = area(w, f->large);
    if (w->rc == MB_OK && !(f->area_small > 0))
        w->rc = mb_fail(w->err, MB_REFUSED,
                        "the drawn line (%.10g wide) covers the whole outline; draw it on a larger "
                        "photo, or state how wide the line really is",
                        site->view->line_px);
    return w->rc;
}

/* Gaps that are nowhere as wide as the drawn line, and little in all, are no surface. */
static bool is_seam(struct field *f, const mb_geom *gap)
{
    struct work *w = f->w;

    if (empty(w, gap))
        return true;
    return area(w, gap) < SEAM_SHARE * area(w, f->outline) && empty(w, widen(w, gap, -f->half));
}

/* Goes through the substances by precedence: what is settled, where each may be. */
static void settle(struct field *f, const struct mb_site *site, struct mb_part_areas *out)
{
    struct work *w = f->w;
    mb_geom *before = f->nothing, *before_core = f->nothing, *gap;
    double drawn = 0;

    for (size_t i = 0; i < MB_SUBSTANCES; i++) {
        enum mb_substance s = mb_substance_precedence[i];
        mb_geom *region = f->nothing;

        f->settled[s] = f->may[s] = f->nothing;
        if (!site->substance[s])
            continue;
        region = common(w, site->substance[s], f->outline);
        drawn += area(w, region);
        f->settled[s] = without(w, region, before);
        f->may[s] = without(w, grown(f, region), before_core);
        before = unite(w, (mb_geom *[]){ before, region }, 2);
        before_core = core(f, before);
        out->there[s] = area(w, f->settled[s]) > DUST_SHARE * f->area_small;
    }
    out->twice = drawn - area(w, before);
    gap = without(w, f->outline, before);
    if (is_seam(f, gap))
        return;
    out->there[site->uncovered] = true;
    f->settled[site->uncovered] = unite(w, (mb_geom *[]){ f->settled[site->uncovered], gap }, 2);
    gap = without(w, f->large, before_core);
    f->may[site->uncovered] = unite(w, (mb_geom *[]){ f->may[site->uncovered], gap }, 2);
}

/* The union of the places where one of the substances may be that `wanted` chooses. */
static mb_geom *may_be(struct field *f, const bool *wanted)
{
    mb_geom *parts[MB_SUBSTANCES];
    size_t count = 0;

    for (size_t s = 0; s < MB_SUBSTANCES; s++)
        if (wanted[s] && !empty(f->w, f->may[s]))
            parts[count++] = f->may[s];
    return count == 1 ? parts[0] : unite(f->w, parts, count);
}

static mb_geom *surely_is(struct field *f, const bool *wanted)
{
    bool others[MB_SUBSTANCES];

    for (size_t s = 0; s < MB_SUBSTANCES; s++)
        others[s] = !wanted[s];
    return without(f->w, f->large, may_be(f, others));
}

static struct mb_areas ends(struct field *f, double drawn, const mb_geom *surely,
                            const mb_geom *may)
{
    struct work *w = f->w;

    return (struct mb_areas){
        .drawn = drawn,
        .sure_in = area(w, common(w, surely, f->small)),
        .sure_out = f->area_large - area(w, surely),
        .may_in = area(w, may),
        .may_out = f->area_small - area(w, common(w, may, f->small)),
    };
}

static void measure_substances(struct field *f, struct mb_part_areas *out)
{
    for (size_t s = 0; s < MB_SUBSTANCES; s++) {
        bool wanted[MB_SUBSTANCES] = { false };

        wanted[s] = true;
        f->surely[s] = empty(f->w, f->may[s]) ? f->nothing : surely_is(f, wanted);
        out->substance[s] = ends(f, area(f->w, f->settled[s]), f->surely[s], f->may[s]);
    }
    for (size_t sum = 0; sum < MB_SUMS; sum++) {
        bool wanted[MB_SUBSTANCES];
        double drawn = 0;

        for (size_t s = 0; s < MB_SUBSTANCES; s++) {
            wanted[s] = mb_substance_sum((enum mb_substance)s) == (enum mb_sum)sum;
            drawn += wanted[s] ? area(f->w, f->settled[s]) : 0;
        }
        out->sum[sum] = ends(f, drawn, surely_is(f, wanted), may_be(f, wanted));
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

static void measure_surface(struct field *f, const mb_geom *drawn, size_t surface,
                            struct mb_part_areas *out)
{
    struct work *w = f->w;
    mb_geom *region = common(w, drawn, f->outline);
    mb_geom *may = grown(f, region), *surely = core(f, region);

    out->surface_there[surface] = area(w, region) > DUST_SHARE * f->area_small;
    out->surface[surface] = ends(f, area(w, region), surely, may);
    hand_out(f, region, &out->settled.surface[surface]);
    for (size_t s = 0; s < MB_SUBSTANCES; s++) {
        double both;

        if (empty(w, f->may[s]))
            continue;
        both = area(w, common(w, region, f->settled[s]));
        out->surface_on[surface][s] =
            ends(f, both, common(w, surely, f->surely[s]), common(w, may, f->may[s]));
    }
}

enum mb_rc mb_measure_part(mb_arena *arena, mb_geoms *geoms, const struct mb_site *site,
                           struct mb_part_areas *out, struct mb_error *err)
{
    struct work w = { .arena = arena, .geoms = geoms, .rc = MB_OK, .err = err };
    struct field f;
    enum mb_rc rc = begin(&f, &w, site);

    if (rc == MB_OK) {
        out->n = site->regions + 1;
        out->area = area(&w, f.outline);
        out->area_small = f.area_small;
        out->area_large = f.area_large;
        settle(&f, site, out);
        measure_substances(&f, out);
        for (size_t i = 0; i < MB_SURFACES; i++)
            if (site->surface[i])
                measure_surface(&f, site->surface[i], i, out);
        hand_out(&f, f.outline, &out->settled.outline);
        for (size_t s = 0; s < MB_SUBSTANCES; s++)
            hand_out(&f, f.settled[s], &out->settled.substance[s]);
    }
    for (size_t i = 0; i < w.count; i++)
        mb_geom_free(w.made[i]);
    return w.rc;
}
