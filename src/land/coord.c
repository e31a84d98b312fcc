#include "coord.h"
#include "coord_words.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "text.h"

enum axis { AXIS_UNSAID, AXIS_LAT, AXIS_LON };

/* One of the two coordinates while it is put together. */
struct part {
    enum axis axis;
    char letter; /* N S E W, or 0 */
    int sign;    /* -1, 1, or 0 where none was written */
    const struct mb_coord_token *number[6];
    enum mb_coord_word mark[6]; /* MB_WORD_NUMBER where there is none */
    bool minute_by_letter;
    size_t count;
};

struct parts {
    struct mb_coord_text *text;
    struct part at[3];
    size_t count; /* closed ones; at[count] is under way */
    bool letters; /* a hemisphere letter stands somewhere */
    bool letter_first;
};

#define LAT_WORDS "lat latitude"
#define LON_WORDS "lon long lng longitude"

static char hemisphere(const struct mb_coord_token *token)
{
    static const char *const words[] = { "n north", "s south", "e east", "w west" };
    for (size_t i = 0; i < 4; i++)
        if (mb_coord_is(token, words[i]))
            return "NSEW"[i];
    return 0;
}

static struct part *under_way(struct parts *parts)
{
    return &parts->at[parts->count];
}

static enum mb_rc close_part(struct parts *parts)
{
    if (parts->count == 2)
        return mb_coord_refuse(parts->text,
                               "more than two coordinates; write latitude, then longitude");
    parts->count++;
    return MB_OK;
}

static enum mb_rc close_if_filled(struct parts *parts)
{
    return under_way(parts)->count ? close_part(parts) : MB_OK;
}

/* ---- taking tokens --------------------------------------------------------------------------- */

static enum mb_rc take_mark(struct parts *parts, enum mb_coord_word mark)
{
    struct part *part = under_way(parts);
    if (mark == MB_WORD_DEGREE && part->count > 1 &&
        part->mark[part->count - 1] == MB_WORD_NUMBER) {
        /* The number before the mark begins the other coordinate. */
        const struct mb_coord_token *number = part->number[--part->count];
        enum mb_rc rc = close_part(parts);
        if (rc != MB_OK)
            return rc;
        part = under_way(parts);
        part->number[0] = number;
        part->mark[0] = MB_WORD_NUMBER;
        part->count = 1;
    }
    size_t place = mark == MB_WORD_DEGREE ? 1 : mark == MB_WORD_MINUTE ? 2 : 3;
    if (part->count != place || part->mark[place - 1] != MB_WORD_NUMBER)
        return mb_coord_refuse(parts->text,
                               "the marks for degrees, minutes and seconds stand in an "
                               "order that cannot be read");
    part->mark[place - 1] = mark;
    return MB_OK;
}

static bool second_letter(const struct part *part, const struct mb_coord_token *token)
{
    return mb_coord_is(token, "s") && part->count == 3 && part->minute_by_letter &&
           part->mark[2] == MB_WORD_NUMBER;
}

static enum mb_rc take_hemisphere(struct parts *parts, char letter)
{
    struct part *part = under_way(parts);
    enum mb_rc rc = MB_OK;
    if (parts->letter_first) {
        rc = close_if_filled(parts);
        part = under_way(parts);
    } else if (!part->count && parts->count) {
        part--; /* a comma stood between the number and its letter */
    }
    if (rc != MB_OK)
        return rc;
    if (part->letter || (!parts->letter_first && !part->count))
        return mb_coord_refuse(parts->text, "each of the letters N, S, E and W must stand with one "
                                            "number");
    part->letter = letter;
    if (!parts->letter_first && part == under_way(parts))
        rc = close_part(parts);
    return rc;
}

static enum mb_rc take_letters(struct parts *parts, const struct mb_coord_token *token)
{
    struct part *part = under_way(parts);
    bool lat = mb_coord_is(token, LAT_WORDS);
    if (lat || mb_coord_is(token, LON_WORDS)) {
        enum mb_rc rc = close_if_filled(parts);
        under_way(parts)->axis = lat ? AXIS_LAT : AXIS_LON;
        return rc;
    }
    if (second_letter(part, token) || mb_coord_is(token, "sec secs second seconds"))
        return take_mark(parts, MB_WORD_SECOND);
    if (mb_coord_is(token, "d deg degs degree degrees"))
        return take_mark(parts, MB_WORD_DEGREE);
    if (mb_coord_is(token, "m min mins minute minutes")) {
        part->minute_by_letter = true;
        return take_mark(parts, MB_WORD_MINUTE);
    }
    char letter = hemisphere(token);
    if (letter)
        return take_hemisphere(parts, letter);
    return mb_coord_refuse(parts->text,
                           "\"%.*s\" is not understood; only numbers, N S E W and the marks of "
                           "degrees stand here, and the datum has a field of its own",
                           MB_STR_ARG(token->text));
}

static enum mb_rc take_sign(struct parts *parts, const struct mb_coord_token *token,
                            const struct mb_coord_token *next)
{
    if (token->word == MB_WORD_HYPHEN && parts->letters)
        return MB_OK; /* 47-12-18N */
    if (token->word == MB_WORD_HYPHEN)
        return mb_coord_refuse(parts->text, "put a comma between latitude and longitude, so that "
                                            "the dash cannot be mistaken");
    bool number_follows = next && next->word == MB_WORD_NUMBER;
    if (parts->letters && !(number_follows && next->close))
        return close_if_filled(parts); /* a dash between the two */
    enum mb_rc rc = close_if_filled(parts);
    if (rc != MB_OK)
        return rc;
    if (!number_follows || under_way(parts)->sign)
        return mb_coord_refuse(parts->text, "a sign must stand before a number");
    under_way(parts)->sign = token->word == MB_WORD_PLUS ? 1 : -1;
    return MB_OK;
}

static enum mb_rc take_number(struct parts *parts, const struct mb_coord_token *token)
{
    struct part *part = under_way(parts);
    if (part->count == 6)
        return mb_coord_refuse(parts->text, "too many numbers; write latitude, then longitude");
    if (part->count && part->mark[part->count - 1] == MB_WORD_SECOND) {
        enum mb_rc rc = close_part(parts);
        if (rc != MB_OK)
            return rc;
        part = under_way(parts);
    }
    part->mark[part->count] = MB_WORD_NUMBER;
    part->number[part->count++] = token;
    return MB_OK;
}

static enum mb_rc take_all(struct parts *parts)
{
    const struct mb_coord_text *text = parts->text;
    bool number_seen = false;
    for (size_t i = 0; i < text->count; i++) {
        number_seen |= text->at[i].word == MB_WORD_NUMBER;
        if (hemisphere(&text->at[i])) {
            parts->letter_first |= !number_seen && !parts->letters;
            parts->letters = true;
        }
    }
    for (size_t i = 0; i < text->count; i++) {
        const struct mb_coord_token *token = &text->at[i];
        enum mb_rc rc;
        if (token->word == MB_WORD_NUMBER)
            rc = take_number(parts, token);
        else if (token->word == MB_WORD_LETTERS)
            rc = take_letters(parts, token);
        else if (token->word == MB_WORD_BREAK)
            rc = close_if_filled(parts);
        else if (token->word == MB_WORD_MINUS || token->word == MB_WORD_PLUS ||
                 token->word == MB_WORD_HYPHEN)
            rc = take_sign(parts, token, i + 1 < text->count ? token + 1 : NULL);
        else
            rc = take_mark(parts, token->word);
        if (rc != MB_OK)
            return rc;
    }
    return close_if_filled(parts);
}

/* ---- from parts to numbers ------------------------------------------------------------------- */

/* "47 12 18 107 05 24": one run of numbers is two coordinates of equal length. */
static void split_even(struct parts *parts)
{
    struct part *one = &parts->at[0], *two = &parts->at[1];
    if (parts->count != 1 || one->letter || one->count % 2)
        return;
    for (size_t i = 0; i < one->count; i++)
        if (one->mark[i] != MB_WORD_NUMBER)
            return;
    size_t half = one->count / 2;
    *two = (struct part){ .count = half };
    for (size_t i = 0; i < half; i++) {
        two->number[i] = one->number[half + i];
        two->mark[i] = MB_WORD_NUMBER;
    }
    one->count = half;
    parts->count = 2;
}

static enum mb_rc find_axes(struct parts *parts)
{
    for (size_t i = 0; i < 2; i++) {
        struct part *part = &parts->at[i];
        enum axis said = !part->letter                                ? AXIS_UNSAID
                         : part->letter == 'N' || part->letter == 'S' ? AXIS_LAT
                                                                      : AXIS_LON;
        if (part->axis && said && part->axis != said)
            return mb_coord_refuse(parts->text, "%c does not belong to a %s", part->letter,
                                   part->axis == AXIS_LAT ? "latitude" : "longitude");
        if (part->letter && part->sign)
            return mb_coord_refuse(
                parts->text, "a sign and the letter %c together; keep one of them", part->letter);
        if (said)
            part->axis = said;
    }
    enum axis first = parts->at[0].axis, second = parts->at[1].axis;
    if (first && first == second)
        return mb_coord_refuse(parts->text, "two %ss; one must be the other",
                               first == AXIS_LAT ? "latitude" : "longitude");
    if (!first && !second && parts->at[0].number[0]->value > 90 &&
        parts->at[1].number[0]->value <= 90)
        return mb_coord_refuse(parts->text,
                               "latitude comes first; turn them round or write N, S, E "
                               "or W with them");
    if (!first)
        parts->at[0].axis = second == AXIS_LAT ? AXIS_LON : AXIS_LAT;
    if (!second)
        parts->at[1].axis = parts->at[0].axis == AXIS_LAT ? AXIS_LON : AXIS_LAT;
    return MB_OK;
}

static enum mb_rc check_part(struct parts *parts, const struct part *part)
{
    static const char *const names[] = { "degrees", "minutes", "seconds" };
    double value = 0, unit = 1;
    if (part->count > 3)
        return mb_coord_refuse(parts->text, "more than degrees, minutes and seconds in one "
                                            "coordinate; put a comma between the two");
    for (size_t i = 0; i < part->count; i++, unit /= 60) {
        const struct mb_coord_token *number = part->number[i];
        if (number->places && i + 1 < part->count)
            return mb_coord_refuse(parts->text,
                                   "only the last number may have decimals; the %s have "
                                   "some already",
                                   names[i]);
        if (i > 0 && number->value >= 60)
            return mb_coord_refuse(parts->text, "%.*s %s; there are only 60",
                                   MB_STR_ARG(number->text), names[i]);
        if (i > 0 && number->places > (i == 1 ? 7 : 6))
            return mb_coord_refuse(parts->text, "the %s have more decimals than anyone can measure",
                                   names[i]);
        value += number->value * unit;
    }
    bool lat = part->axis == AXIS_LAT;
    if (value > (lat ? 90 : 180))
        return mb_coord_refuse(parts->text, "a %s is at most %d degrees, %.*s is more",
                               lat ? "latitude" : "longitude", lat ? 90 : 180,
                               MB_STR_ARG(part->number[0]->text));
    return MB_OK;
}

static double precision_deg(const struct part *part)
{
    static const double unit[] = { 1, 60, 3600 };
    return pow(10, -part->number[part->count - 1]->places) / unit[part->count - 1];
}

/* The number's digits without the point. */
static int64_t digits_of(const struct mb_coord_token *number)
{
    int64_t value = 0;
    for (size_t i = 0; i < number->text.len; i++)
        if (number->text.at[i] != '.')
            value = 10 * value + (number->text.at[i] - '0');
    return value;
}

static char *as_written(mb_arena *arena, const struct mb_coord_token *number, const char *sign)
{
    struct mb_str text = number->text;
    while (text.len > 1 && text.at[0] == '0' && text.at[1] != '.')
        text.at++, text.len--;
    return mb_arena_printf(arena, "%s%.*s", number->value == 0 ? "" : sign, MB_STR_ARG(text));
}

/* Degrees from minutes and seconds, in whole numbers so that rounding happens once. */
static char *worked_out(mb_arena *arena, const struct part *part, const char *sign)
{
    const struct mb_coord_token *last = part->number[part->count - 1];
    int64_t scale = 1, places_scale = 10000000, per_degree = part->count == 2 ? 60 : 3600;
    int places = 7;
    for (int i = 0; i < last->places; i++)
        scale *= 10;
    if (precision_deg(part) < 0.9e-3 / 3600) {
        places = 9;
        places_scale = 1000000000;
    }
    int64_t steps = digits_of(last);
    if (part->count == 3)
        steps += digits_of(part->number[1]) * 60 * scale;
    per_degree *= scale;
    int64_t below = (2 * steps * places_scale + per_degree) / (2 * per_degree);
    int64_t degrees = digits_of(part->number[0]) + below / places_scale;
    below %= places_scale;
    return mb_arena_printf(arena, "%s%lld.%0*lld", degrees || below ? sign : "", (long long)degrees,
                           places, (long long)below);
}

static bool ends_in_zeros(const struct part *part)
{
    struct mb_str text = part->number[0]->text;
    return part->count == 1 && part->number[0]->places >= 3 &&
           memcmp(text.at + text.len - 3, "000", 3) == 0;
}

static const char *step_text(mb_arena *arena, const struct part *part)
{
    static const char *const units[] = { "degree", "minute", "second" };
    const struct mb_coord_token *last = part->number[part->count - 1];
    if (!last->places)
        return mb_arena_printf(arena, "1 %s", units[part->count - 1]);
    return mb_arena_printf(arena, "0.%0*d %s", last->places, 1, units[part->count - 1]);
}

static void fill(struct parts *parts, struct mb_coord *out)
{
    mb_arena *arena = parts->text->arena;
    size_t longest = 0;
    for (size_t i = 0; i < 2; i++) {
        const struct part *part = &parts->at[i];
        const char *sign = part->sign < 0 || part->letter == 'S' || part->letter == 'W' ? "-" : "";
        char *text = part->count == 1 ? as_written(arena, part->number[0], sign)
                                      : worked_out(arena, part, sign);
        bool lat = part->axis == AXIS_LAT;
        *(lat ? &out->lat : &out->lon) = text;
        *(lat ? &out->lat_deg : &out->lon_deg) = strtod(text, NULL);
        if (precision_deg(part) > out->precision_deg) {
            out->precision_deg = precision_deg(part);
            out->precision_text = step_text(arena, part);
        }
        if (part->count > longest)
            longest = part->count;
    }
    out->form = longest == 1   ? MB_COORD_DECIMAL
                : longest == 2 ? MB_COORD_MINUTES
                               : MB_COORD_SECONDS;
    out->maybe_padded = ends_in_zeros(&parts->at[0]) && ends_in_zeros(&parts->at[1]);
}

static enum mb_rc read_degrees(struct mb_coord_text *text, struct mb_coord *out)
{
    struct parts parts = { .text = text };
    enum mb_rc rc = take_all(&parts);
    if (rc != MB_OK)
        return rc;
    split_even(&parts);
    if (parts.count < 2)
        return mb_coord_refuse(text, "only one coordinate; write latitude and longitude");
    rc = find_axes(&parts);
    for (size_t i = 0; i < 2 && rc == MB_OK; i++)
        rc = check_part(&parts, &parts.at[i]);
    if (rc == MB_OK)
        fill(&parts, out);
    return rc;
}

/* Degrees never have six digits before the point; grid positions always do. */
static bool looks_like_grid(const struct mb_coord_text *text)
{
    for (size_t i = 0; i < text->count; i++)
        if (mb_coord_is(&text->at[i], "utm zone") ||
            (text->at[i].word == MB_WORD_NUMBER && text->at[i].whole >= 6))
            return true;
    return false;
}

enum mb_rc mb_coord_read(mb_arena *arena, struct mb_str text, struct mb_coord *out,
                         struct mb_error *err)
{
    struct mb_coord_text *words = MB_NEW(arena, struct mb_coord_text);
    struct mb_coord coord = { .verbatim = mb_arena_copy(arena, text.at, text.len) };
    words->arena = arena;
    words->all = mb_str_trim(text);
    words->err = err;
    if (words->all.len == 0)
        return mb_fail(err, MB_REFUSED, "the coordinates are empty; write latitude and longitude");
    if (words->all.len > MB_COORD_TEXT_MAX)
        return mb_fail(err, MB_REFUSED,
                       "the coordinates are longer than %d characters; write "
                       "latitude and longitude only",
                       MB_COORD_TEXT_MAX);
    enum mb_rc rc = mb_coord_cut(words);
    if (rc == MB_OK)
        rc =
            looks_like_grid(words) ? mb_coord_read_utm(words, &coord) : read_degrees(words, &coord);
    if (rc == MB_OK)
        *out = coord;
    return rc;
}
