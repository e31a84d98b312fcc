/* Shares of a disc in closed form, each worked out beside its case. */
#include <criterion/criterion.h>
#include <math.h>

#include "disc.h"

static double overlap(const struct mb_xy *at, size_t count, struct mb_xy centre, double radius)
{
    struct mb_ring ring = { at, count };
    struct mb_polygon polygon = { &ring, 1 };
    return mb_disc_overlap(&polygon, 1, centre, radius);
}

static void near_to(double got, double wanted)
{
    cr_assert(fabs(got - wanted) <= 1e-10 * (1 + fabs(wanted)), "%.15g is not %.15g", got, wanted);
}

Test(disc, whole_none_and_half)
{
    static const struct mb_xy square[] = { { 0, 0 }, { 10, 0 }, { 10, 10 }, { 0, 10 } };
    near_to(overlap(square, 4, (struct mb_xy){ 5, 5 }, 2), 4 * M_PI);
    near_to(overlap(square, 4, (struct mb_xy){ 5, 5 }, 5), 25 * M_PI); /* touches all sides */
    near_to(overlap(square, 4, (struct mb_xy){ 5, 5 }, 100), 100);     /* swallows it */
    near_to(overlap(square, 4, (struct mb_xy){ 20, 5 }, 10), 0);       /* touches outside */
    near_to(overlap(square, 4, (struct mb_xy){ 20, 5 }, 3), 0);
    near_to(overlap(square, 4, (struct mb_xy){ 10, 5 }, 2), 2 * M_PI);  /* centre on an edge */
    near_to(overlap(square, 4, (struct mb_xy){ 10, 10 }, 4), 4 * M_PI); /* on a corner */
}

/* A chord at distance h from the centre cuts off r^2 acos(h/r) - h sqrt(r^2 - h^2). */
Test(disc, segments_of_a_circle)
{
    static const struct mb_xy half_plane[] = {
        { 0, -1e4 }, { 1e4, -1e4 }, { 1e4, 1e4 }, { 0, 1e4 }
    };
    for (double h = -0.95; h < 1; h += 0.1) {
        double r = 7, x = -h * r;
        double wanted = r * r * acos(h) - h * r * sqrt(r * r - h * h * r * r);
        near_to(overlap(half_plane, 4, (struct mb_xy){ x, 3 }, r), wanted);
    }
}

/* A square of half-side s inside its circumscribed circle is reached where s < r < s sqrt 2: the
 * four segments beyond the sides are missing from the disc. */
Test(disc, a_circle_that_pokes_out_of_a_square_on_four_sides)
{
    static const struct mb_xy square[] = { { -1, -1 }, { 1, -1 }, { 1, 1 }, { -1, 1 } };
    double r = 1.2, segment = r * r * acos(1 / r) - sqrt(r * r - 1);
    near_to(overlap(square, 4, (struct mb_xy){ 0, 0 }, r), M_PI * r * r - 4 * segment);
}

Test(disc, direction_closing_and_holes_do_not_matter)
{
    static const struct mb_xy out[] = { { 0, 0 }, { 0, 10 }, { 10, 10 }, { 10, 0 }, { 0, 0 } };
    static const struct mb_xy hole[] = { { 4, 4 }, { 6, 4 }, { 6, 6 }, { 4, 6 } };
    static const struct mb_xy turned[] = { { 4, 6 }, { 6, 6 }, { 6, 4 }, { 4, 4 } };
    struct mb_ring rings[] = { { out, 5 }, { hole, 4 } }, other[] = { { out, 5 }, { turned, 4 } };
    struct mb_polygon a = { rings, 2 }, b = { other, 2 };
    near_to(mb_disc_overlap(&a, 1, (struct mb_xy){ 5, 5 }, 3), 9 * M_PI - 4);
    near_to(mb_disc_overlap(&b, 1, (struct mb_xy){ 5, 5 }, 3), 9 * M_PI - 4);
    near_to(mb_disc_overlap(&a, 1, (struct mb_xy){ 5, 5 }, 1), 0); /* inside the hole */
    near_to(mb_disc_overlap(&a, 0, (struct mb_xy){ 5, 5 }, 1), 0);
}

/* A wedge of angle a from the centre has the share a / 2 pi. */
Test(disc, wedges)
{
    for (int degrees = 10; degrees < 180; degrees += 17) {
        double angle = degrees * M_PI / 180;
        struct mb_xy wedge[] = { { 0, 0 },
                                 { 1000, 0 },
                                 { 1e5 * cos(angle / 2), 1e5 * sin(angle / 2) },
                                 { 1000 * cos(angle), 1000 * sin(angle) } };
        near_to(overlap(wedge, 4, (struct mb_xy){ 0, 0 }, 30), angle / 2 * 900);
    }
}
