#include "share.h"

#include <math.h>
#include <stdlib.h>

struct rest {
    double left;
    size_t index;
};

static int by_rest(const void *va, const void *vb)
{
    const struct rest *a = va, *b = vb;

    if (a->left != b->left)
        return a->left < b->left ? 1 : -1;
    return a->index < b->index ? -1 : 1;
}

/* The part with most tenths, the last of equals: what stands first (original) gives last. */
static size_t richest(const int *tenths, size_t count)
{
    size_t most = 0;

    for (size_t i = 1; i < count; i++)
        if (tenths[i] >= tenths[most])
            most = i;
    return most;
}

void mb_share_round(const double *parts, size_t count, int *tenths)
{
    struct rest rests[MB_TENTHS_ALL];
    double all = 0;
    int left = MB_TENTHS_ALL;

    for (size_t i = 0; i < count; i++)
        all += parts[i];
    for (size_t i = 0; i < count; i++) {
        double exact = parts[i] / all * MB_TENTHS_ALL;
        /* A whole number of tenths that the division missed by a hair is that number. */
        double whole = fabs(exact - round(exact)) < 1e-9 ? round(exact) : floor(exact);

        tenths[i] = (int)whole;
        left -= tenths[i];
        rests[i] = (struct rest){ exact - whole, i };
    }
    qsort(rests, count, sizeof rests[0], by_rest);
    for (size_t i = 0; left > 0; i = (i + 1) % count, left--)
        tenths[rests[i].index]++;
    for (size_t i = 0; i < count; i++)
        if (parts[i] > 0 && tenths[i] == 0) {
            tenths[richest(tenths, count)]--;
            tenths[i] = 1;
        }
}

void mb_share_ends(struct mb_share *share)
{
    share->tenths_low = (int)floor(share->low * MB_TENTHS_ALL + 1e-6);
    share->tenths_high = (int)ceil(share->high * MB_TENTHS_ALL - 1e-6);
    if (share->tenths_low > share->tenths)
        share->tenths_low = share->tenths;
    if (share->tenths_high < share->tenths)
        share->tenths_high = share->tenths;
}

void mb_share_alone(struct mb_share *share)
{
    share->tenths = (int)lround(share->share * MB_TENTHS_ALL);
    if (share->share > 0 && share->tenths == 0)
        share->tenths = 1;
    mb_share_ends(share);
}

const char *mb_share_text(mb_arena *arena, int tenths)
{
    return mb_arena_printf(arena, "%d.%d", tenths / 10, tenths % 10);
}
