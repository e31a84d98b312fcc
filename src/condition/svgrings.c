#include "svgrings.h"

#include <math.h>

enum { RINGS_MAX = 2000 };

enum role { ROLE_NONE, ROLE_OUTER, ROLE_HOLE };

struct ring {
    struct mb_ring line;
    mb_geom *area;
    struct mb_box box;
    double size; /* area */
    int turn;    /* 1 or -1: which way it runs */
    int winding; /* around it: turns of the rings that hold it */
    int depth;   /* how many rings hold it */
    enum role role;
    size_t owner; /* of a hole: the outer ring that it lies in */
};

/* Twice the area, with the sign of the direction (the shoelace formula). */
static double signed_twice(struct mb_ring ring)
{
    double sum = 0;

    for (size_t i = 0; i < ring.count; i++) {
        struct mb_xy a = ring.at[i], b = ring.at[(i + 1) % ring.count];
        sum += (a.x - ring.at[0].x) * (b.y - ring.at[0].y)
               - (b.x - ring.at[0].x) * (a.y - ring.at[0].y);
    }
    return sum;
}

static bool apart(const struct mb_box *a, const struct mb_box *b)
{
    return a->x_max < b->x_min || b->x_max < a->x_min || a->y_max < b->y_min || b->y_max < a->y_min;
}

/* Whether the larger one, a, holds b. */
static enum mb_rc compare(const struct ring *a, const struct ring *b, bool *holds,
                          struct mb_error *err)
{
    mb_geom *both = NULL;
    struct mb_xy at = { 0, 0 };
    enum mb_rc rc;

    *holds = false;
    if (apart(&a->box, &b->box))
        return MB_OK;
    rc = mb_geom_covers(a->area, b->area, err);
    *holds = rc == MB_OK;
    if (rc != MB_NO)
        return rc;
    rc = mb_geom_intersection(a->area, b->area, &both, err);
    if (rc == MB_OK && mb_geom_area(both) > 1e-9 * b->size) {
        mb_geom_inner_point(both, &at);
        rc = mb_fail(err, MB_REFUSED,
                     "two lines of the same path cross each other near %.10g, %.10g", at.x, at.y);
    }
    mb_geom_free(both);
    return rc;
}

static enum mb_rc nest(struct ring *rings, size_t count, struct mb_error *err)
{
    for (size_t i = 0; i < count; i++)
        for (size_t j = i + 1; j < count; j++) {
            size_t large = rings[i].size >= rings[j].size ? i : j, small = i + j - large;
            bool holds;
            enum mb_rc rc = compare(&rings[large], &rings[small], &holds, err);

            if (rc != MB_OK)
                return rc;
            if (holds) {
                rings[small].winding += rings[large].turn;
                rings[small].depth++;
            }
        }
    return MB_OK;
}

static void give_role(struct ring *ring, bool even_odd)
{
    bool outside = even_odd ? ring->depth % 2 : ring->winding != 0;
    bool inside = even_odd ? !outside : ring->winding + ring->turn != 0;

    ring->role = outside == inside ? ROLE_NONE : inside ? ROLE_OUTER : ROLE_HOLE;
}

/* The smallest outer ring around each hole. */
static enum mb_rc own_holes(struct ring *rings, size_t count, struct mb_error *err)
{
    for (size_t h = 0; h < count; h++) {
        bool found = false;

        for (size_t o = 0; o < count && rings[h].role == ROLE_HOLE; o++) {
            bool holds;
            enum mb_rc rc;

            if (rings[o].role != ROLE_OUTER || rings[o].size < rings[h].size
                || (found && rings[o].size >= rings[rings[h].owner].size))
                continue;
            rc = compare(&rings[o], &rings[h], &holds, err);
            if (rc != MB_OK)
                return rc;
            if (holds) {
                rings[h].owner = o;
                found = true;
            }
        }
    }
    return MB_OK;
}

static void hand_out(mb_arena *arena, const struct ring *rings, size_t count, struct mb_shape *out)
{
    struct mb_polygon *polygons = MB_ARRAY(arena, count, struct mb_polygon);
    size_t made = 0;

    for (size_t o = 0; o < count; o++) {
        struct mb_ring *lines;
        size_t used = 1;

        if (rings[o].role != ROLE_OUTER)
            continue;
        for (size_t h = 0; h < count; h++)
            used += rings[h].role == ROLE_HOLE && rings[h].owner == o;
        lines = MB_ARRAY(arena, used, struct mb_ring);
        lines[0] = rings[o].line;
        used = 1;
        for (size_t h = 0; h < count; h++)
            if (rings[h].role == ROLE_HOLE && rings[h].owner == o)
                lines[used++] = rings[h].line;
        polygons[made++] = (struct mb_polygon){ lines, used };
    }
    *out = (struct mb_shape){ polygons, made };
}

static enum mb_rc measure(mb_geoms *geoms, struct ring *ring, struct mb_error *err)
{
    enum mb_rc rc = mb_geom_polygon(geoms, &ring->line, 1, &ring->area, NULL, err);

    if (rc != MB_OK)
        return rc;
    ring->size = mb_geom_area(ring->area);
    ring->turn = signed_twice(ring->line) < 0 ? -1 : 1;
    mb_geom_bounds(ring->area, &ring->box);
    return MB_OK;
}

enum mb_rc mb_svgrings_shape(mb_arena *arena, const struct mb_ring *lines, size_t count,
                             bool even_odd, struct mb_shape *out, struct mb_error *err)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    struct ring *rings = MB_ARRAY(arena, count, struct ring);
    enum mb_rc rc = MB_OK;

    if (count > RINGS_MAX)
        return mb_fail(err, MB_REFUSED, "it has more than %d lines in one path", RINGS_MAX);
    for (size_t i = 0; i < count && rc == MB_OK; i++) {
        rings[i].line = lines[i];
        rc = measure(geoms, &rings[i], err);
    }
    if (rc == MB_OK)
        rc = nest(rings, count, err);
    for (size_t i = 0; i < count; i++)
        give_role(&rings[i], even_odd);
    if (rc == MB_OK)
        rc = own_holes(rings, count, err);
    if (rc == MB_OK)
        hand_out(arena, rings, count, out);
    return rc;
}
