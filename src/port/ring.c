#include "ring.h"

#include <math.h>
#include <string.h>

static bool same_xy(struct mb_xy a, struct mb_xy b)
{
    return a.x == b.x && a.y == b.y;
}

size_t mb_ring_thin(const struct mb_xy *at, size_t count, struct mb_xy *out)
{
    size_t used = 0;
    for (size_t i = 0; i < count; i++)
        if (!used || !same_xy(at[i], out[used - 1]))
            out[used++] = at[i];
    return used;
}

static bool on_one_line(const struct mb_xy *at, size_t count)
{
    for (size_t i = 2; i < count; i++) {
        double cross =
            (at[1].x - at[0].x) * (at[i].y - at[0].y) - (at[1].y - at[0].y) * (at[i].x - at[0].x);
        if (cross != 0)
            return false;
    }
    return true;
}

bool mb_ring_tidy(mb_arena *arena, struct mb_ring ring, struct mb_ring *out,
                  struct mb_geom_fault *fault)
{
    for (size_t i = 0; i < ring.count; i++)
        if (!isfinite(ring.at[i].x) || !isfinite(ring.at[i].y)) {
            *fault = (struct mb_geom_fault){ .kind = MB_GEOM_NOT_FINITE,
                                             .words = "has a coordinate that is no number" };
            return false;
        }
    struct mb_xy *at = MB_ARRAY(arena, ring.count + 1, struct mb_xy);
    size_t used = mb_ring_thin(ring.at, ring.count, at);
    while (used > 1 && same_xy(at[0], at[used - 1]))
        used--;
    if (used < 3 || on_one_line(at, used)) {
        *fault = (struct mb_geom_fault){ .kind = MB_GEOM_TOO_FEW,
                                         .words = "has fewer than three corners that span an area",
                                         .has_place = used > 0 };
        if (used)
            fault->at = at[0];
        return false;
    }
    at[used++] = at[0];
    *out = (struct mb_ring){ at, used };
    return true;
}

double mb_ring_area(struct mb_ring ring)
{
    double twice = 0;
    if (!ring.count)
        return 0;
    /* From the first corner, so that far-off coordinates do not eat up the digits. */
    struct mb_xy from = ring.at[0];
    for (size_t i = 0; i < ring.count; i++) {
        struct mb_xy a = ring.at[i], b = ring.at[(i + 1) % ring.count];
        twice += (a.x - from.x) * (b.y - from.y) - (b.x - from.x) * (a.y - from.y);
    }
    return twice / 2;
}

struct mb_ring mb_ring_turned(mb_arena *arena, struct mb_ring ring, bool left)
{
    if ((mb_ring_area(ring) > 0) == left)
        return ring;
    struct mb_xy *turned = MB_ARRAY(arena, ring.count, struct mb_xy);
    for (size_t i = 0; i < ring.count; i++)
        turned[i] = ring.at[ring.count - 1 - i];
    return (struct mb_ring){ turned, ring.count };
}

void mb_ring_fault(const char *reason, const struct mb_xy *at, struct mb_geom_fault *fault)
{
    static const struct {
        const char *reason;
        enum mb_geom_fault_kind kind;
        const char *words;
    } known[] = {
        { "Self-intersection", MB_GEOM_CROSSES, "crosses itself" },
        { "Ring Self-intersection", MB_GEOM_TOUCHES, "touches itself" },
        { "Hole lies outside shell", MB_GEOM_HOLE_OUTSIDE, "has a hole outside its outer line" },
        { "Holes are nested", MB_GEOM_HOLES_NESTED, "has a hole inside a hole" },
        { "Duplicate Rings", MB_GEOM_HOLES_NESTED, "has the same ring twice" },
        { "Interior is disconnected", MB_GEOM_CUT_APART, "is cut into pieces by its holes" },
    };
    *fault = (struct mb_geom_fault){ .kind = MB_GEOM_OTHER,
                                     .words = "is not sound",
                                     .has_place = at != NULL };
    if (at)
        fault->at = *at;
    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        if (strcmp(reason, known[i].reason) == 0) {
            fault->kind = known[i].kind;
            fault->words = known[i].words;
        }
}
