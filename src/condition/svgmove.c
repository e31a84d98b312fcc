#include "svgpath.h"

#include <math.h>
#include <string.h>

#include "drawnum.h"
#include "text.h"

const struct mb_svgmove mb_svgmove_none = { 1, 0, 0, 1, 0, 0 };

struct mb_svgmove mb_svgmove_join(struct mb_svgmove o, struct mb_svgmove i)
{
    return (struct mb_svgmove){ o.a * i.a + o.c * i.b,       o.b * i.a + o.d * i.b,
                                o.a * i.c + o.c * i.d,       o.b * i.c + o.d * i.d,
                                o.a * i.e + o.c * i.f + o.e, o.b * i.e + o.d * i.f + o.f };
}

struct mb_xy mb_svgmove_do(struct mb_svgmove m, struct mb_xy at)
{
    return (struct mb_xy){ m.a * at.x + m.c * at.y + m.e, m.b * at.x + m.d * at.y + m.f };
}

static double radians(double degrees)
{
    return degrees * (M_PI / 180);
}

/* Right angles exactly: photos are often turned by them. */
static struct mb_svgmove turned(double degrees)
{
    double part = fmod(degrees, 360), s, c;

    part += part < 0 ? 360 : 0;
    s = part == 90 ? 1 : part == 270 ? -1 : part == 0 || part == 180 ? 0 : sin(radians(part));
    c = part == 0 ? 1 : part == 180 ? -1 : part == 90 || part == 270 ? 0 : cos(radians(part));
    return (struct mb_svgmove){ c, s, -s, c, 0, 0 };
}

/* The move for a name and its numbers; false if that many numbers do not fit the name. */
static bool named(struct mb_str name, const double *n, size_t count, struct mb_svgmove *out)
{
    *out = mb_svgmove_none;
    if (mb_str_is(name, "matrix") && count == 6) {
        *out = (struct mb_svgmove){ n[0], n[1], n[2], n[3], n[4], n[5] };
    } else if (mb_str_is(name, "translate") && (count == 1 || count == 2)) {
        out->e = n[0];
        out->f = count == 2 ? n[1] : 0;
    } else if (mb_str_is(name, "scale") && (count == 1 || count == 2)) {
        out->a = n[0];
        out->d = count == 2 ? n[1] : n[0];
    } else if (mb_str_is(name, "rotate") && (count == 1 || count == 3)) {
        struct mb_svgmove to = { 1, 0, 0, 1, count == 3 ? n[1] : 0, count == 3 ? n[2] : 0 };
        struct mb_svgmove back = { 1, 0, 0, 1, -to.e, -to.f };
        *out = mb_svgmove_join(mb_svgmove_join(to, turned(n[0])), back);
    } else if (mb_str_is(name, "skewX") && count == 1) {
        out->c = tan(radians(n[0]));
    } else if (mb_str_is(name, "skewY") && count == 1) {
        out->b = tan(radians(n[0]));
    } else {
        return false;
    }
    return true;
}

static struct mb_str skip(struct mb_str s, const char *marks)
{
    while (s.len > 0 && s.at[0] && strchr(marks, s.at[0])) {
        s.at++;
        s.len--;
    }
    return s;
}

enum mb_rc mb_svgmove_read(struct mb_str text, struct mb_svgmove *out, struct mb_error *err)
{
    struct mb_svgmove all = mb_svgmove_none, one;
    struct mb_str rest = skip(text, " \t\r\n,"), name, numbers, behind;

    while (rest.len > 0) {
        double n[6];
        size_t count = 0, len;

        if (!mb_str_cut(rest, '(', &name, &behind) || !mb_str_cut(behind, ')', &numbers, &rest))
            return mb_fail(err, MB_REFUSED, "the transform '%.*s' is not finished",
                           text.len < 60 ? (int)text.len : 60, text.at);
        for (numbers = skip(numbers, " \t\r\n,"); count < 6 && numbers.len > 0; count++) {
            len = mb_drawnum_at(numbers, &n[count]);
            if (len == 0)
                break;
            numbers = skip((struct mb_str){ numbers.at + len, numbers.len - len }, " \t\r\n,");
        }
        name = mb_str_trim(name);
        if (numbers.len > 0 || !named(name, n, count, &one))
            return mb_fail(err, MB_REFUSED, "the transform '%.*s' is not one that is read here",
                           name.len < 40 ? (int)name.len : 40, name.at);
        all = mb_svgmove_join(all, one);
        rest = skip(rest, " \t\r\n,");
    }
    *out = all;
    return MB_OK;
}
