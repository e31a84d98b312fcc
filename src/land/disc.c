#include "disc.h"

#include <math.h>

static double cross(struct mb_xy a, struct mb_xy b)
{
    return a.x * b.y - a.y * b.x;
}

static double dot(struct mb_xy a, struct mb_xy b)
{
    return a.x * b.x + a.y * b.y;
}

static double sector(struct mb_xy a, struct mb_xy b, double radius)
{
    return radius * radius / 2 * atan2(cross(a, b), dot(a, b));
}

static struct mb_xy along(struct mb_xy a, struct mb_xy b, double t)
{
    return (struct mb_xy){ a.x + t * (b.x - a.x), a.y + t * (b.y - a.y) };
}

/* Signed area that the triangle (0, a, b) and the disc round 0 have in common. */
static double slice(struct mb_xy a, struct mb_xy b, double radius)
{
    struct mb_xy run = { b.x - a.x, b.y - a.y };
    double length2 = dot(run, run);
    if (length2 == 0)
        return 0;
    /* |a + t run| = radius at t = foot -/+ half */
    double foot = -dot(a, run) / length2;
    double height = cross(a, b) / sqrt(length2);
    double left = radius * radius - height * height;
    if (left <= 0)
        return sector(a, b, radius);
    double half = sqrt(left / length2);
    double in = fmax(foot - half, 0), out = fmin(foot + half, 1);
    if (in >= out)
        return sector(a, b, radius);
    struct mb_xy enter = along(a, b, in), leave = along(a, b, out);
    return sector(a, enter, radius) + cross(enter, leave) / 2 + sector(leave, b, radius);
}

double mb_disc_overlap(const struct mb_polygon *polygons, size_t count, struct mb_xy centre,
                       double radius)
{
    double sum = 0;
    for (size_t p = 0; p < count; p++)
        for (size_t r = 0; r < polygons[p].count; r++) {
            const struct mb_ring *ring = &polygons[p].rings[r];
            double area = 0;
            for (size_t i = 0; i < ring->count; i++) {
                struct mb_xy a = ring->at[i], b = ring->at[(i + 1) % ring->count];
                area += slice((struct mb_xy){ a.x - centre.x, a.y - centre.y },
                              (struct mb_xy){ b.x - centre.x, b.y - centre.y }, radius);
            }
            sum += r == 0 ? fabs(area) : -fabs(area);
        }
    return sum;
}
