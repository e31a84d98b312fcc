#include "offset.h"

#include <ctype.h>
#include <math.h>
#include <string.h>

#include "decimal.h"
#include "text.h"

struct leg {
    double distance_m, step_m, azimuth, half_angle;
    bool aimed;
};

static struct mb_str next(struct mb_str *rest)
{
    struct mb_str word = { NULL, 0 };
    size_t len = 0;

    *rest = mb_str_trim(*rest);
    while (len < rest->len && !strchr(" \t,;", rest->at[len]))
        len++;
    if (len == 0 && rest->len)
        len = 1; /* the comma */
    word.at = rest->at;
    word.len = len;
    rest->at += len;
    rest->len -= len;
    return word;
}

/* "2.5 mi" or "2.5mi" */
static bool read_distance(struct mb_str *rest, struct leg *leg)
{
    struct mb_str word = next(rest), number = word, unit;
    double step, metres;
    size_t digits = 0;

    while (digits < word.len && (isdigit((unsigned char)word.at[digits])
                                 || word.at[digits] == '.'))
        digits++;
    number.len = digits;
    unit = (struct mb_str){ word.at + digits, word.len - digits };
    if (unit.len == 0)
        unit = next(rest);
    if (unit.len > 1 && unit.at[unit.len - 1] == '.')
        unit.len--;
    if (!digits || !mb_georef_step(number, &step) || !mb_georef_unit(unit, &metres))
        return false;
    leg->distance_m = mb_decimal_double(number) * metres;
    leg->step_m = step * metres;
    return true;
}

/* What stands up to "of", "from", "and" or a comma, where that is a heading. */
static void read_heading(struct mb_str *rest, struct leg *leg)
{
    struct mb_str all = mb_str_trim(*rest), at = all, word;
    size_t len = 0;

    while (at.len) {
        struct mb_str before = at;

        word = next(&at);
        if (mb_str_among(word, "of from and to , ; &")) {
            at = before;
            break;
        }
        len = (size_t)(word.at + word.len - all.at);
    }
    if (len && mb_georef_heading((struct mb_str){ all.at, len }, &leg->azimuth,
                                 &leg->half_angle)) {
        leg->aimed = true;
        *rest = at;
    }
}

static bool follows_a_way(struct mb_str text)
{
    while (text.len)
        if (mb_str_among(next(&text),
                         "along by via road trail track river creek upstream downstream"))
            return true;
    return false;
}

/* Due north, east, south, west: the two legs of a right angle. */
static bool is_due(const struct leg *leg, bool north)
{
    return leg->aimed && fmod(leg->azimuth, 90) == 0
           && (fmod(leg->azimuth, 180) == 0) == north;
}

static void add_leg(struct mb_offset *out, const struct leg *leg)
{
    if (is_due(leg, true))
        out->north_m = leg->azimuth == 0 ? leg->distance_m : -leg->distance_m;
    else
        out->east_m = leg->azimuth == 90 ? leg->distance_m : -leg->distance_m;
}

enum mb_rc mb_offset_read(struct mb_str text, struct mb_offset *out, struct mb_error *err)
{
    struct leg legs[2] = { { 0 } };
    struct mb_str rest = text, after;
    size_t count = 0;

    *out = (struct mb_offset){ .form = MB_GEOREF_POINT };
    while (count < 2 && read_distance(&rest, &legs[count])) {
        read_heading(&rest, &legs[count++]);
        after = rest;
        if (!mb_str_among(next(&after), "and , ; &"))
            break;
        rest = after;
    }
    if (count == 0)
        return mb_fail(err, MB_REFUSED,
                       "'%.*s' is no distance; write it like 2.5 mi NE of the windmill, 2 mi S and"
                       " 0.5 mi W, or 3 km along the road",
                       MB_STR_ARG(text));
    out->distance_m = legs[0].distance_m;
    out->step_m = legs[0].step_m;
    if (count == 2) {
        out->step_m = fmax(legs[0].step_m, legs[1].step_m);
        if (is_due(&legs[0], true) == is_due(&legs[1], true)
            || is_due(&legs[0], false) == is_due(&legs[1], false))
            return mb_fail(err, MB_REFUSED,
                           "'%.*s': of two distances one goes north or south, the other east or"
                           " west",
                           MB_STR_ARG(text));
        out->form = MB_GEOREF_OFFSETS;
        add_leg(out, &legs[0]);
        add_leg(out, &legs[1]);
        out->distance_m = 0;
    } else if (legs[0].aimed && !follows_a_way(text)) {
        out->form = MB_GEOREF_HEADING;
        out->azimuth = legs[0].azimuth;
        out->half_angle = legs[0].half_angle;
    }
    return MB_OK;
}
