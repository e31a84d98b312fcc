#include "decimal.h"

#include <math.h>

#include "text.h"

enum { DIGITS_MAX = 30, NANO_PLACES = 9 };

/* A decimal taken apart: the digits before and behind the point. */
struct parts {
    bool minus;
    struct mb_str whole, fraction;
};

static size_t digit_run(struct mb_str s, size_t from)
{
    size_t i = from;

    while (i < s.len && s.at[i] >= '0' && s.at[i] <= '9')
        i++;
    return i - from;
}

static bool take_apart(struct mb_str s, struct parts *p)
{
    size_t at;

    *p = (struct parts){ .minus = s.len > 0 && s.at[0] == '-' };
    at = p->minus;
    p->whole = (struct mb_str){ s.at + at, digit_run(s, at) };
    if (p->whole.len == 0 || (p->whole.len > 1 && p->whole.at[0] == '0'))
        return false;
    at += p->whole.len;
    if (at < s.len) {
        if (s.at[at] != '.')
            return false;
        at++;
        p->fraction = (struct mb_str){ s.at + at, digit_run(s, at) };
        if (p->fraction.len == 0)
            return false;
        at += p->fraction.len;
    }
    return at == s.len && p->whole.len + p->fraction.len <= DIGITS_MAX;
}

bool mb_decimal_ok(struct mb_str text)
{
    struct parts p;

    return take_apart(text, &p);
}

static int digit_at(struct mb_str s, size_t i)
{
    return i < s.len ? s.at[i] - '0' : 0;
}

bool mb_decimal_nano(struct mb_str text, int64_t *nano)
{
    struct parts p;
    int64_t value = 0;

    if (!take_apart(text, &p) || p.fraction.len > NANO_PLACES)
        return false;
    for (size_t i = 0; i < p.whole.len + NANO_PLACES; i++) {
        int digit = i < p.whole.len ? digit_at(p.whole, i) : digit_at(p.fraction, i - p.whole.len);
        if (__builtin_mul_overflow(value, 10, &value)
            || __builtin_sub_overflow(value, digit, &value))
            return false; /* counted downwards: the range below zero is one longer */
    }
    if (!p.minus && value == INT64_MIN)
        return false;
    *nano = p.minus ? value : -value;
    return true;
}

static bool is_zero(const struct parts *p)
{
    for (size_t i = 0; i < p->whole.len; i++)
        if (p->whole.at[i] != '0')
            return false;
    for (size_t i = 0; i < p->fraction.len; i++)
        if (p->fraction.at[i] != '0')
            return false;
    return true;
}

static int compare_sizes(const struct parts *a, const struct parts *b)
{
    size_t most = a->fraction.len > b->fraction.len ? a->fraction.len : b->fraction.len;
    int order;

    if (a->whole.len != b->whole.len)
        return a->whole.len < b->whole.len ? -1 : 1;
    order = mb_str_compare(a->whole, b->whole);
    for (size_t i = 0; order == 0 && i < most; i++)
        order = digit_at(a->fraction, i) - digit_at(b->fraction, i);
    return (order > 0) - (order < 0);
}

int mb_decimal_compare(struct mb_str a, struct mb_str b)
{
    struct parts x, y;
    bool x_below, y_below;

    if (!take_apart(a, &x) || !take_apart(b, &y))
        return mb_str_compare(a, b);
    x_below = x.minus && !is_zero(&x);
    y_below = y.minus && !is_zero(&y);
    if (x_below != y_below)
        return x_below ? -1 : 1;
    return x_below ? compare_sizes(&y, &x) : compare_sizes(&x, &y);
}

char *mb_decimal_write(mb_arena *arena, int64_t nano, int places)
{
    uint64_t size = nano < 0 ? 0 - (uint64_t)nano : (uint64_t)nano;
    uint64_t whole = size / 1000000000u, fraction = size % 1000000000u;
    int shown = NANO_PLACES;
    char *text;

    text = mb_arena_printf(arena, "%09llu", (unsigned long long)fraction);
    while (shown > 0 && shown > places && text[shown - 1] == '0')
        shown--;
    if (shown == 0)
        return mb_arena_printf(arena, "%s%llu", nano < 0 ? "-" : "", (unsigned long long)whole);
    return mb_arena_printf(arena, "%s%llu.%.*s%.*s", nano < 0 ? "-" : "", (unsigned long long)whole,
                           shown, text, places > NANO_PLACES ? places - NANO_PLACES : 0,
                           "000000000000000000000");
}

/* Not by strtod, which goes by the language of the surroundings. Numbers of up to 2^53 in up to 22
 * places are rounded once and correctly: both sides of the division are exact. */
double mb_decimal_double(struct mb_str text)
{
    unsigned __int128 digits = 0;
    long double value, scale = 1;
    struct parts p;

    if (!take_apart(text, &p))
        return (double)NAN;
    for (size_t i = 0; i < p.whole.len; i++)
        digits = digits * 10 + (unsigned)digit_at(p.whole, i);
    for (size_t i = 0; i < p.fraction.len; i++) {
        digits = digits * 10 + (unsigned)digit_at(p.fraction, i);
        scale *= 10;
    }
    if (digits <= (1ull << 53) && p.fraction.len <= 22)
        value = (double)digits / (double)scale;
    else
        value = (long double)digits / scale;
    return (double)(p.minus ? -value : value);
}
