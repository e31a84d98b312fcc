#include "drawnum.h"

#include <math.h>
#include <stdint.h>

enum { DIGITS_KEPT = 18, EXPONENT_MAX = 400 };

struct digits {
    uint64_t value;  /* of the first DIGITS_KEPT that count */
    int kept, scale; /* the number is value * 10^scale */
    bool any;
};

static bool is_digit(struct mb_str s, size_t i)
{
    return i < s.len && s.at[i] >= '0' && s.at[i] <= '9';
}

/* places: each digit stands behind the point. */
static size_t take_digits(struct mb_str s, size_t i, bool places, struct digits *d)
{
    for (; is_digit(s, i); i++) {
        unsigned digit = (unsigned)(s.at[i] - '0');

        d->any = true;
        if (d->kept == DIGITS_KEPT) {
            d->scale += !places && d->scale < EXPONENT_MAX;
            continue;
        }
        d->value = d->value * 10 + digit;
        d->kept += d->value > 0;
        d->scale -= places && d->scale > -EXPONENT_MAX;
    }
    return i;
}

/* An exponent, if a whole one stands there: "1e" and "1em" leave the e alone. */
static size_t take_exponent(struct mb_str s, size_t i, int *out)
{
    size_t j = i + 1;
    bool minus;
    int value = 0;

    if (i >= s.len || (s.at[i] != 'e' && s.at[i] != 'E'))
        return i;
    minus = j < s.len && s.at[j] == '-';
    if (j < s.len && (s.at[j] == '-' || s.at[j] == '+'))
        j++;
    if (!is_digit(s, j))
        return i;
    for (; is_digit(s, j); j++)
        if (value < 2 * EXPONENT_MAX)
            value = value * 10 + (s.at[j] - '0');
    *out = minus ? -value : value;
    return j;
}

static double scaled(uint64_t value, int scale)
{
    double d = (double)value;

    if (value == 0)
        return 0;
    if (scale >= 0)
        return scale > EXPONENT_MAX ? INFINITY : d * pow(10, scale);
    if (scale >= -22)
        return d / pow(10, -scale); /* both exact up to 10^22, so rounded once */
    return scale < -EXPONENT_MAX ? 0 : d / 1e22 / pow(10, -scale - 22);
}

size_t mb_drawnum_at(struct mb_str s, double *out)
{
    struct digits d = { .value = 0 };
    size_t i = 0;
    bool minus = s.len > 0 && s.at[0] == '-';
    int exponent = 0;
    double value;

    if (s.len > 0 && (s.at[0] == '-' || s.at[0] == '+'))
        i++;
    i = take_digits(s, i, false, &d);
    if (i < s.len && s.at[i] == '.')
        i = take_digits(s, i + 1, true, &d);
    if (!d.any)
        return 0;
    i = take_exponent(s, i, &exponent);
    value = scaled(d.value, d.scale + exponent);
    if (!isfinite(value))
        return 0;
    *out = minus ? -value : value;
    return i;
}

bool mb_drawnum_read(struct mb_str s, double *out)
{
    double value;

    if (s.len == 0 || mb_drawnum_at(s, &value) != s.len)
        return false;
    *out = value;
    return true;
}
