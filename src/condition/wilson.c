#include "wilson.h"

#include <math.h>

/* Rounding in the last place may put an end past 0, 1 or the share itself. */
static double within(double value, double low, double high)
{
    return value < low ? low : value > high ? high : value;
}

bool mb_wilson(uint64_t x, uint64_t n, struct mb_interval *out)
{
    double z2 = MB_Z95 * MB_Z95;
    double count = (double)n, p, middle, half;

    if (n == 0 || x > n)
        return false;
    p = (double)x / count;
    middle = 2 * (double)x + z2;
    half = MB_Z95 * sqrt(z2 + 4 * (double)x * (1 - p));
    out->low = x == 0 ? 0 : within((middle - half) / (2 * (count + z2)), 0, p);
    out->high = x == n ? 1 : within((middle + half) / (2 * (count + z2)), p, 1);
    return true;
}

bool mb_wilson_corrected(uint64_t x, uint64_t n, struct mb_interval *out)
{
    double z2 = MB_Z95 * MB_Z95;
    double count = (double)n, p, q, middle, down, up;

    if (n == 0 || x > n)
        return false;
    p = (double)x / count;
    q = 1 - p;
    middle = 2 * (double)x + z2;
    down = z2 - 2 - 1 / count + 4 * p * (count * q + 1);
    up = z2 + 2 - 1 / count + 4 * p * (count * q - 1);
    /* Below 0 only where p is 0 (down) or 1 (up), and there the end is fixed. */
    down = MB_Z95 * sqrt(down > 0 ? down : 0);
    up = MB_Z95 * sqrt(up > 0 ? up : 0);
    out->low = x == 0 ? 0 : within((middle - 1 - down) / (2 * (count + z2)), 0, p);
    out->high = x == n ? 1 : within((middle + 1 + up) / (2 * (count + z2)), p, 1);
    return true;
}

bool mb_wilson_weighted(const struct mb_stratum *parts, size_t count, double *share,
                        struct mb_interval *out)
{
    double p = 0, below = 0, above = 0;

    if (count == 0)
        return false;
    for (size_t i = 0; i < count; i++) {
        struct mb_interval own;
        double own_p;

        if (!mb_wilson(parts[i].x, parts[i].n, &own))
            return false;
        own_p = (double)parts[i].x / (double)parts[i].n;
        p += parts[i].weight * own_p;
        below += pow(parts[i].weight * (own_p - own.low), 2);
        above += pow(parts[i].weight * (own.high - own_p), 2);
    }
    *share = within(p, 0, 1);
    out->low = within(p - sqrt(below), 0, *share);
    out->high = within(p + sqrt(above), *share, 1);
    return true;
}
