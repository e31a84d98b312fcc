/* Areas and places are checked against plane geometry in closed form, worked out beside each. */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "geom.h"
#include "ring.h"

#define RING(...)                                             \
    ((struct mb_ring){ (const struct mb_xy[]){ __VA_ARGS__ }, \
                       sizeof((const struct mb_xy[]){ __VA_ARGS__ }) / sizeof(struct mb_xy) })

static mb_geom *polygon(mb_geoms *geoms, struct mb_ring ring)
{
    struct mb_error err = { 0 };
    mb_geom *out = NULL;
    cr_assert_eq(mb_geom_polygon(geoms, &ring, 1, &out, NULL, &err), MB_OK, "%s", err.text);
    return out;
}

static mb_geom *square(mb_geoms *geoms, double x, double y, double side)
{
    return polygon(geoms, RING({ x, y }, { x + side, y }, { x + side, y + side }, { x, y + side }));
}

static void near_to(double got, double wanted, double by)
{
    cr_assert(fabs(got - wanted) <= by, "%.12g is not %.12g", got, wanted);
}

/* Worked by hand with the shoelace formula. */
Test(geom, areas_of_the_shoelace_examples)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    struct mb_ring first = RING({ 3, 4 }, { 5, 11 }, { 12, 8 }, { 9, 5 }, { 5, 6 });
    struct mb_ring second = RING({ 1, 6 }, { 3, 1 }, { 7, 2 }, { 4, 4 }, { 8, 5 });

    near_to(mb_ring_area(first), -30, 1e-12);
    near_to(mb_geom_area(polygon(geoms, first)), 30, 1e-12);
    near_to(mb_geom_area(polygon(geoms, second)), 16.5, 1e-12);
}

Test(geom, a_ring_may_be_closed_or_not_and_run_either_way)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();

    near_to(mb_geom_area(polygon(geoms, RING({ 0, 0 }, { 4, 0 }, { 4, 3 }))), 6, 0);
    near_to(mb_geom_area(polygon(geoms, RING({ 0, 0 }, { 4, 0 }, { 4, 3 }, { 0, 0 }))), 6, 0);
    near_to(mb_geom_area(polygon(geoms, RING({ 4, 3 }, { 4, 0 }, { 4, 0 }, { 0, 0 }))), 6, 0);
}

Test(geom, holes_are_taken_off)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    struct mb_error err = { 0 };
    struct mb_ring rings[] = { RING({ 0, 0 }, { 10, 0 }, { 10, 10 }, { 0, 10 }),
                               RING({ 2, 2 }, { 4, 2 }, { 4, 5 }, { 2, 5 }),
                               RING({ 6, 6 }, { 6, 7 }, { 7, 7 }, { 7, 6 }) };
    mb_geom *shape;

    cr_assert_eq(mb_geom_polygon(geoms, rings, 3, &shape, NULL, &err), MB_OK, "%s", err.text);
    near_to(mb_geom_area(shape), 100 - 6 - 1, 1e-12);
    near_to(mb_geom_length(shape), 40 + 10 + 4, 1e-12);
}

struct wrong {
    struct mb_ring rings[3];
    size_t count;
    enum mb_geom_fault_kind kind;
    struct mb_xy at;
    const char *words;
};

static void must_refuse(mb_geoms *geoms, struct wrong wrong)
{
    struct mb_error err = { 0 };
    struct mb_geom_fault fault;
    mb_geom *shape = NULL;

    cr_assert_eq(mb_geom_polygon(geoms, wrong.rings, wrong.count, &shape, &fault, &err), MB_REFUSED,
                 "%s", wrong.words);
    cr_assert_null(shape);
    cr_assert_eq(fault.kind, wrong.kind, "%s: %s", wrong.words, err.text);
    cr_assert_eq(fault.has_place, wrong.kind != MB_GEOM_NOT_FINITE && wrong.count > 0);
    if (fault.has_place) {
        near_to(fault.at.x, wrong.at.x, 1e-12);
        near_to(fault.at.y, wrong.at.y, 1e-12);
    }
    cr_assert(strstr(err.text, wrong.words), "%s", err.text);
    cr_assert_eq(mb_geom_check(geoms, wrong.rings, wrong.count, &fault, NULL), MB_NO);
}

Test(geom, what_is_no_outline_is_refused_with_its_place)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    struct mb_ring frame = RING({ 0, 0 }, { 10, 0 }, { 10, 10 }, { 0, 10 });
    struct mb_ring tie = RING({ 0, 0 }, { 2, 2 }, { 2, 0 }, { 0, 2 }); /* diagonals meet */
    struct mb_ring kissing = RING({ 0, 0 }, { 4, 0 }, { 2, 2 }, { 4, 4 }, { 0, 4 }, { 2, 2 });
    struct mb_ring far = RING({ 20, 20 }, { 21, 20 }, { 21, 21 });
    struct mb_ring hole = RING({ 1, 1 }, { 8, 1 }, { 8, 8 }, { 1, 8 });
    struct mb_ring in_hole = RING({ 2, 2 }, { 3, 2 }, { 3, 3 });
    struct mb_ring across = RING({ 0, 5 }, { 5, 6 }, { 10, 5 }, { 5, 4 }); /* edge to edge */
    struct mb_ring two = RING({ 0, 0 }, { 1, 0 }, { 0, 0 });
    struct mb_ring flat = RING({ 0, 0 }, { 1, 1 }, { 2, 2 }, { 3, 3 });
    struct mb_ring endless = RING({ 0, 0 }, { 1, NAN }, { 2, 2 });
    struct mb_geom_fault fault;

    must_refuse(geoms, (struct wrong){ { tie }, 1, MB_GEOM_CROSSES, { 1, 1 }, "itself at 1, 1" });
    must_refuse(geoms, (struct wrong){ { kissing }, 1, MB_GEOM_TOUCHES, { 2, 2 }, "touches" });
    must_refuse(geoms, (struct wrong){ { frame, far }, 2, MB_GEOM_HOLE_OUTSIDE, { 20, 20 },
                                       "a hole outside its outer line at 20, 20" });
    must_refuse(geoms, (struct wrong){ { frame, hole, in_hole }, 3, MB_GEOM_HOLES_NESTED, { 2, 2 },
                                       "a hole inside a hole" });
    must_refuse(geoms, (struct wrong){ { frame, across }, 2, MB_GEOM_CUT_APART, { 0, 5 },
                                       "cut into pieces" });
    must_refuse(geoms, (struct wrong){ { two }, 1, MB_GEOM_TOO_FEW, { 0, 0 }, "three corners" });
    must_refuse(geoms, (struct wrong){ { flat }, 1, MB_GEOM_TOO_FEW, { 0, 0 }, "three corners" });
    must_refuse(geoms, (struct wrong){ { endless }, 1, MB_GEOM_NOT_FINITE, { 0, 0 }, "no number" });
    must_refuse(geoms, (struct wrong){ { frame }, 0, MB_GEOM_TOO_FEW, { 0, 0 }, "no corners" });
    cr_assert_eq(mb_geom_check(geoms, &frame, 1, &fault, NULL), MB_OK);
    cr_assert_eq(fault.kind, MB_GEOM_SOUND);
}

Test(geom, overlap_counts_once)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    struct mb_error err = { 0 };
    mb_geom *a = square(geoms, 0, 0, 4), *b = square(geoms, 2, 1, 4), *c = square(geoms, 9, 9, 1);
    mb_geom *all, *both, *rest, *none;

    cr_assert_eq(mb_geom_union(geoms, (mb_geom *[]){ a, b, c, a }, 4, &all, &err), MB_OK);
    cr_assert_eq(mb_geom_intersection(a, b, &both, &err), MB_OK);
    cr_assert_eq(mb_geom_difference(a, b, &rest, &err), MB_OK);
    cr_assert_eq(mb_geom_union(geoms, NULL, 0, &none, &err), MB_OK);
    near_to(mb_geom_area(both), 2 * 3, 1e-12);
    near_to(mb_geom_area(rest), 16 - 6, 1e-12);
    near_to(mb_geom_area(all), 16 + 16 - 6 + 1, 1e-12);
    cr_assert(mb_geom_empty(none));
    near_to(mb_geom_area(none), 0, 0);

    mb_geom *again;
    cr_assert_eq(mb_geom_union(geoms, (mb_geom *[]){ none, a }, 2, &again, &err), MB_OK);
    near_to(mb_geom_area(again), 16, 1e-12);
    cr_assert_eq(mb_geom_intersection(a, none, &again, &err), MB_OK);
    cr_assert(mb_geom_empty(again));
    cr_assert_eq(mb_geom_difference(a, none, &again, &err), MB_OK);
    near_to(mb_geom_area(again), 16, 1e-12);
}

Test(geom, areas_that_only_touch_share_nothing)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    struct mb_error err = { 0 };
    mb_geom *a = square(geoms, 0, 0, 1), *beside = square(geoms, 1, 0, 1);
    mb_geom *corner = square(geoms, 1, 1, 1), *out;

    cr_assert_eq(mb_geom_intersection(a, beside, &out, &err), MB_OK);
    cr_assert(mb_geom_empty(out));
    cr_assert_eq(mb_geom_intersection(a, corner, &out, &err), MB_OK);
    cr_assert(mb_geom_empty(out));
    cr_assert_eq(mb_geom_touches(a, beside, &err), MB_OK);
    cr_assert_eq(mb_geom_intersects(a, corner, &err), MB_OK);
    cr_assert_eq(mb_geom_contains(a, corner, &err), MB_NO);
}

Test(geom, lines_are_measured_cut_and_widened)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    struct mb_error err = { 0 };
    mb_geom *line, *inside, *wide, *area = square(geoms, 0, 0, 10);
    struct mb_xy at[] = { { -3, 5 }, { 3, 5 }, { 3, 5 }, { 3, 9 } };

    cr_assert_eq(mb_geom_line(geoms, at, 4, &line, &err), MB_OK);
    near_to(mb_geom_length(line), 10, 1e-12);
    cr_assert_eq(mb_geom_intersection(line, area, &inside, &err), MB_OK);
    near_to(mb_geom_length(inside), 7, 1e-12);
    near_to(mb_geom_area(inside), 0, 0);

    /* A straight line of length 6 and width 2: a rectangle and a disc of radius 1. */
    struct mb_xy straight[] = { { 0, 0 }, { 6, 0 } };
    cr_assert_eq(mb_geom_line(geoms, straight, 2, &line, &err), MB_OK);
    cr_assert_eq(mb_geom_buffer(line, 1, &wide, &err), MB_OK);
    near_to(mb_geom_area(wide), 12 + M_PI, 0.0005 * M_PI);

    cr_assert_eq(mb_geom_line(geoms, (struct mb_xy[]){ { 1, 1 }, { 1, 1 } }, 2, &line, &err),
                 MB_REFUSED);
    cr_assert_eq(mb_geom_union(geoms, (mb_geom *[]){ area, inside }, 2, &wide, &err), MB_REFUSED);
}

Test(geom, a_disc_of_chords_is_a_little_too_small)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    struct mb_error err = { 0 };
    mb_geom *point, *disc;

    cr_assert_eq(mb_geom_point(geoms, (struct mb_xy){ 7, 8 }, &point, &err), MB_OK);
    cr_assert_eq(mb_geom_buffer(point, 10, &disc, &err), MB_OK);
    /* 128 equal triangles: n/2 r^2 sin(2 pi / n) */
    near_to(mb_geom_area(disc), 64 * 100 * sin(2 * M_PI / 128), 1e-9);
    cr_assert_geq(mb_geom_area(disc), 100 * M_PI * (1 - 0.0005));
}

Test(geom, box_centroid_and_a_point_that_is_surely_inside)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    struct mb_error err = { 0 };
    /* An L of three unit squares: centroid (5/6, 5/6). */
    mb_geom *l = polygon(geoms, RING({ 0, 0 }, { 2, 0 }, { 2, 1 }, { 1, 1 }, { 1, 2 }, { 0, 2 }));
    struct mb_box box;
    struct mb_xy at;
    enum mb_geom_side side;

    cr_assert(mb_geom_bounds(l, &box));
    near_to(box.x_max, 2, 0);
    near_to(box.y_min, 0, 0);
    cr_assert(mb_geom_centroid(l, &at));
    near_to(at.x, 5.0 / 6, 1e-12);
    near_to(at.y, 5.0 / 6, 1e-12);
    cr_assert(mb_geom_inner_point(l, &at));
    cr_assert_eq(mb_geom_side_of(l, at, &side, &err), MB_OK);
    cr_assert_eq(side, MB_GEOM_INSIDE);
}

Test(geom, sides_of_a_boundary)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    struct mb_error err = { 0 };
    struct mb_ring rings[] = { RING({ 0, 0 }, { 10, 0 }, { 10, 10 }, { 0, 10 }),
                               RING({ 4, 4 }, { 6, 4 }, { 6, 6 }, { 4, 6 }) };
    const struct {
        struct mb_xy at;
        enum mb_geom_side side;
        double to_edge;
    } cases[] = {
        { { 1, 3 }, MB_GEOM_INSIDE, 1 },    { { 5, 5 }, MB_GEOM_OUTSIDE, 1 },
        { { 10, 3 }, MB_GEOM_ON, 0 },       { { 4, 5 }, MB_GEOM_ON, 0 },
        { { 13, 14 }, MB_GEOM_OUTSIDE, 5 }, { { 3.5, 5 }, MB_GEOM_INSIDE, 0.5 },
    };
    mb_geom *shape, *edge;
    cr_assert_eq(mb_geom_polygon(geoms, rings, 2, &shape, NULL, &err), MB_OK);
    cr_assert_eq(mb_geom_boundary(shape, &edge, &err), MB_OK);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        enum mb_geom_side side;
        struct mb_xy near;
        double distance;
        cr_assert_eq(mb_geom_side_of(shape, cases[i].at, &side, &err), MB_OK);
        cr_assert_eq(side, cases[i].side, "case %zu", i);
        cr_assert_eq(mb_geom_nearest(edge, cases[i].at, &near, &distance, &err), MB_OK);
        near_to(distance, cases[i].to_edge, 1e-12);
    }
}

Test(geom, taken_apart_the_rings_run_one_way_and_end_where_they_began)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    struct mb_error err = { 0 };
    mb_arena *arena = mb_arena_new();
    mb_geom *ring, *two;
    struct mb_polygon *list;
    size_t count;

    cr_assert_eq(mb_geom_difference(square(geoms, 0, 0, 10), square(geoms, 3, 3, 2), &ring, &err),
                 MB_OK);
    cr_assert_eq(
        mb_geom_union(geoms, (mb_geom *[]){ ring, square(geoms, 20, 0, 1) }, 2, &two, &err), MB_OK);
    mb_geom_polygons(arena, two, &list, &count);
    cr_assert_eq(count, 2);
    double sum = 0;
    for (size_t i = 0; i < count; i++)
        for (size_t j = 0; j < list[i].count; j++) {
            const struct mb_ring *r = &list[i].rings[j];
            cr_assert_eq(r->at[0].x, r->at[r->count - 1].x);
            cr_assert_eq(r->at[0].y, r->at[r->count - 1].y);
            cr_assert_eq(mb_ring_area(*r) > 0, j == 0);
            sum += mb_ring_area(*r);
        }
    near_to(sum, 100 - 4 + 1, 1e-12);
    cr_assert_eq(mb_geom_corners(two), 5 + 5 + 5);

    mb_geom *edge;
    struct mb_ring *lines;
    cr_assert_eq(mb_geom_boundary(two, &edge, &err), MB_OK);
    mb_geom_lines(arena, edge, &lines, &count);
    cr_assert_eq(count, 3);
    near_to(mb_geom_length(edge), 40 + 8 + 4, 1e-12);
    mb_arena_free(arena);
}

Test(geom, clipping_keeps_what_lies_in_the_frame)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    struct mb_error err = { 0 };
    mb_geom *triangle = polygon(geoms, RING({ 0, 0 }, { 10, 0 }, { 0, 10 }));
    mb_geom *out;

    /* The frame's far corner lies on the slope: all of the frame is inside. */
    cr_assert_eq(mb_geom_clip(triangle, (struct mb_box){ 1, 1, 5, 5 }, &out, &err), MB_OK);
    near_to(mb_geom_area(out), 16, 1e-12);
    /* Past the slope a triangle of legs 2 is cut off. */
    cr_assert_eq(mb_geom_clip(triangle, (struct mb_box){ 1, 1, 6, 6 }, &out, &err), MB_OK);
    near_to(mb_geom_area(out), 25 - 2, 1e-12);
    cr_assert_eq(mb_geom_clip(triangle, (struct mb_box){ 20, 20, 30, 30 }, &out, &err), MB_OK);
    cr_assert(mb_geom_empty(out));
}

static bool double_x(void *context, struct mb_xy *at)
{
    at->x *= *(const double *)context;
    return at->x < 100;
}

Test(geom, moved_and_densified_shapes)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    struct mb_error err = { 0 };
    double twice = 2;
    mb_geom *a = square(geoms, 0, 0, 10), *out;

    cr_assert_eq(mb_geom_densified(a, 3, &out, &err), MB_OK);
    near_to(mb_geom_area(out), 100, 1e-12);
    cr_assert_eq(mb_geom_corners(out), 4 * 4 + 1); /* four pieces of 2.5 a side */
    cr_assert_eq(mb_geom_moved(out, double_x, &twice, &out, &err), MB_OK);
    near_to(mb_geom_area(out), 200, 1e-12);
    twice = 20;
    cr_assert_eq(mb_geom_moved(a, double_x, &twice, &out, &err), MB_REFUSED);
}

Test(geom, shapes_can_be_freed_early_and_their_room_is_used_again)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    mb_geom *kept = square(geoms, 0, 0, 3), *first = square(geoms, 0, 0, 1);
    mb_geom *second;

    cr_assert_null(mb_geom_free(first));
    second = square(geoms, 0, 0, 2);
    cr_assert_eq(first, second);
    near_to(mb_geom_area(second), 4, 0);
    near_to(mb_geom_area(kept), 9, 0);
    cr_assert_null(mb_geom_free(NULL));
    mb_geom_free(kept);
}

/* The part of a disc that two other discs leave over, against the formula for a lens: two circles
 * of radius r at distance d share 2 r^2 acos(d / 2r) - d/2 sqrt(4 r^2 - d^2). */
Test(geom, two_discs_share_a_lens)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    struct mb_error err = { 0 };
    mb_geom *p, *q, *a, *b, *lens;
    double r = 5, d = 4;

    cr_assert_eq(mb_geom_point(geoms, (struct mb_xy){ 0, 0 }, &p, &err), MB_OK);
    cr_assert_eq(mb_geom_point(geoms, (struct mb_xy){ d, 0 }, &q, &err), MB_OK);
    cr_assert_eq(mb_geom_buffer(p, r, &a, &err), MB_OK);
    cr_assert_eq(mb_geom_buffer(q, r, &b, &err), MB_OK);
    cr_assert_eq(mb_geom_intersection(a, b, &lens, &err), MB_OK);
    double exact = 2 * r * r * acos(d / (2 * r)) - d / 2 * sqrt(4 * r * r - d * d);
    near_to(mb_geom_area(lens), exact, 0.002 * exact);
}

static bool snap(void *context, struct mb_xy *at)
{
    double grid = *(const double *)context;
    at->x = round(at->x / grid) * grid;
    at->y = round(at->y / grid) * grid;
    return true;
}

static bool twist(void *context, struct mb_xy *at)
{
    (void)context;
    if (at->y > 2)
        at->x = 4 - at->x;
    return true;
}

/* A needle's eye that rounding closes: mended where that is next to nothing, refused where not. */
Test(geom, rounding_that_makes_an_outline_touch_itself_is_mended)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    struct mb_error err = { 0 };
    double grid = 1e-3;
    mb_geom *out;
    /* Two squares of 10, joined by a slit of 1e-4. */
    mb_geom *eye = polygon(geoms, RING({ 0, 0 }, { 10, 0 }, { 10, 4.9999 }, { 12, 4.9999 },
                                       { 12, 0 }, { 22, 0 }, { 22, 10 }, { 12, 10 }, { 12, 5 },
                                       { 10, 5 }, { 10, 10 }, { 0, 10 }));

    cr_assert_eq(mb_geom_moved(eye, snap, &grid, &out, &err), MB_OK, "%s", err.text);
    near_to(mb_geom_area(out), 200, 1e-9);
    cr_assert_eq(mb_geom_same(out, eye, &err), MB_NO);
    /* A twist that folds the outline over itself makes another shape of it: not mended. */
    cr_assert_eq(mb_geom_moved(square(geoms, 0, 0, 4), twist, NULL, &out, &err), MB_UNABLE);
    cr_assert(strstr(err.text, "without changing it"), "%s", err.text);
}

Test(geom, questions_about_two_shapes)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    struct mb_error err = { 0 };
    mb_geom *big = square(geoms, 0, 0, 10), *small = square(geoms, 0, 0, 2);
    mb_geom *inner = square(geoms, 4, 4, 2), *far = square(geoms, 13, 14, 1);
    mb_geom *again = polygon(geoms, RING({ 0, 10 }, { 10, 10 }, { 10, 5 }, { 10, 0 }, { 0, 0 }));
    mb_geom *edge, *none;
    double distance;

    cr_assert_eq(mb_geom_contains(big, inner, &err), MB_OK);
    cr_assert_eq(mb_geom_contains(inner, big, &err), MB_NO);
    cr_assert_eq(mb_geom_covers(big, small, &err), MB_OK);
    cr_assert_eq(mb_geom_same(big, again, &err), MB_OK);
    cr_assert_eq(mb_geom_same(big, small, &err), MB_NO);
    cr_assert_eq(mb_geom_distance(big, far, &distance, &err), MB_OK);
    near_to(distance, 5, 1e-12); /* 3 and 4 */
    cr_assert_eq(mb_geom_intersects(big, far, &err), MB_NO);
    /* A shape's own edge is covered but not contained. */
    cr_assert_eq(mb_geom_boundary(big, &edge, &err), MB_OK);
    cr_assert_eq(mb_geom_covers(big, edge, &err), MB_OK);
    cr_assert_eq(mb_geom_contains(big, edge, &err), MB_NO);

    cr_assert_eq(mb_geom_union(geoms, NULL, 0, &none, &err), MB_OK);
    struct mb_box box;
    struct mb_xy at;
    cr_assert_not(mb_geom_bounds(none, &box));
    cr_assert_not(mb_geom_centroid(none, &at));
    cr_assert_eq(mb_geom_distance(big, none, &distance, &err), MB_REFUSED);
}
