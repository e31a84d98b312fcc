#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "decimal.h"
#include "georef.h"
#include "text.h"

/* ---- distances ------------------------------------------------------------------------------- */

/* The step of a number with decimals: a simple fraction of two, or the last digit. */
static double step_of_fraction(struct mb_str text, size_t places)
{
    double last = pow(10, -(double)places);
    if (text.at[text.len - 1] == '0')
        return last; /* 10.50: hundredths were looked at */
    long digits = 0, scale = 1;
    for (size_t i = text.len - places; i < text.len; i++) {
        digits = 10 * digits + (text.at[i] - '0');
        scale *= 10;
    }
    for (long parts = 2; parts <= 8; parts *= 2)
        if (digits * parts % scale == 0)
            return 1.0 / (double)parts;
    return last;
}

static double step_of_whole(struct mb_str text)
{
    size_t zeros = 0;
    while (zeros + 1 < text.len && text.at[text.len - 1 - zeros] == '0')
        zeros++;
    size_t below = text.len >= 2 ? text.len - 2 : 0;
    return pow(10, (double)(zeros < below ? zeros : below));
}

bool mb_georef_step(struct mb_str distance, double *step)
{
    struct mb_str text = mb_str_trim(distance), whole, places;
    if (!mb_decimal_ok(text) || !(mb_decimal_double(text) > 0) || text.len > 15)
        return false;
    if (mb_str_cut(text, '.', &whole, &places))
        *step = step_of_fraction(text, places.len);
    else
        *step = step_of_whole(text);
    return true;
}

bool mb_georef_unit(struct mb_str unit, double *metres)
{
    static const struct {
        const char *words;
        double metres;
    } known[] = {
        { "m", 1 },
        { "metre", 1 },
        { "metres", 1 },
        { "meter", 1 },
        { "meters", 1 },
        { "km", 1000 },
        { "kilometre", 1000 },
        { "kilometres", 1000 },
        { "kilometer", 1000 },
        { "kilometers", 1000 },
        { "mi", 1609.344 },
        { "mile", 1609.344 },
        { "miles", 1609.344 },
        { "ft", 0.3048 },
        { "foot", 0.3048 },
        { "feet", 0.3048 },
        { "yd", 0.9144 },
        { "yard", 0.9144 },
        { "yards", 0.9144 },
        { "nmi", 1852 },
    };
    unit = mb_str_trim(unit);
    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        if (strlen(known[i].words) == unit.len &&
            strncasecmp(known[i].words, unit.at, unit.len) == 0) {
            *metres = known[i].metres;
            return true;
        }
    return false;
}

/* ---- headings -------------------------------------------------------------------------------- */

/* The 32 winds clockwise from north. */
static const char *const winds[] = { "N", "NbE", "NNE", "NEbN", "NE", "NEbE", "ENE", "EbN",
                                     "E", "EbS", "ESE", "SEbE", "SE", "SEbS", "SSE", "SbE",
                                     "S", "SbW", "SSW", "SWbS", "SW", "SWbW", "WSW", "WbS",
                                     "W", "WbN", "WNW", "NWbW", "NW", "NWbN", "NNW", "NbW" };

/* "north by east", "N-N-E" and "SouthWest" become NbE, NNE, SW; false if it is anything else. */
static bool shorten(struct mb_str text, char out[8])
{
    static const char *const words[] = { "north", "south", "east", "west", "by" };
    size_t len = 0;
    for (size_t i = 0; i < text.len;) {
        size_t word = 0;
        if (strchr(" -.,", text.at[i])) {
            i++;
            continue;
        }
        while (word < 5 && !(text.len - i >= strlen(words[word]) &&
                             strncasecmp(text.at + i, words[word], strlen(words[word])) == 0))
            word++;
        char letter = word < 5 ? "NSEWb"[word] : (char)toupper((unsigned char)text.at[i]);
        if (!strchr("NSEWBb", letter) || len == 7)
            return false;
        out[len++] = letter == 'B' ? 'b' : letter;
        i += word < 5 ? strlen(words[word]) : 1;
    }
    out[len] = 0;
    return len > 0;
}

static bool wind(struct mb_str text, double *azimuth, double *half_angle)
{
    char name[8];
    if (!shorten(text, name))
        return false;
    for (int i = 0; i < 32; i++)
        if (strcmp(winds[i], name) == 0) {
            *azimuth = i * 11.25;
            *half_angle = i % 8 == 0 ? 45 : i % 4 == 0 ? 22.5 : i % 2 == 0 ? 11.25 : 5.625;
            return true;
        }
    return false;
}

/* A plain number at the head of the text; its step goes to *step. */
static bool degrees(struct mb_str *text, double *value, double *step)
{
    char digits[16] = "";
    size_t len = 0, places = 0;
    bool point = false;
    while (len < text->len && len < sizeof digits - 1 &&
           (isdigit((unsigned char)text->at[len]) || (text->at[len] == '.' && !point))) {
        if (point)
            places++;
        point |= text->at[len] == '.';
        digits[len] = text->at[len];
        len++;
    }
    if (!len || !isdigit((unsigned char)digits[0]))
        return false;
    *value = strtod(digits, NULL);
    *step = pow(10, -(double)places);
    text->at += len;
    text->len -= len;
    *text = mb_str_trim(*text);
    static const char *const marks[] = { "\u00b0", "\u00ba", "degrees", "degree", "deg", "d" };
    for (size_t i = 0; i < sizeof marks / sizeof *marks; i++)
        if (mb_str_starts(*text, marks[i])) {
            text->at += strlen(marks[i]);
            text->len -= strlen(marks[i]);
            break;
        }
    *text = mb_str_trim(*text);
    return true;
}

/* N45E: 45 degrees from north towards east. */
static bool quadrant(struct mb_str text, double *azimuth, double *half_angle)
{
    double angle, step;
    char from = (char)toupper((unsigned char)text.at[0]);
    if (from != 'N' && from != 'S')
        return false;
    text.at++, text.len--;
    text = mb_str_trim(text);
    if (!degrees(&text, &angle, &step) || angle > 90 || text.len != 1)
        return false;
    char to = (char)toupper((unsigned char)text.at[0]);
    if (to != 'E' && to != 'W')
        return false;
    double east = from == 'N' ? angle : 180 - angle;
    *azimuth = fmod(to == 'E' ? east : 360 - east, 360);
    *half_angle = step / 2;
    return true;
}

bool mb_georef_heading(struct mb_str text, double *azimuth, double *half_angle)
{
    double value, step;
    struct mb_str rest = mb_str_trim(text);
    if (!rest.len)
        return false;
    if (wind(rest, azimuth, half_angle) || quadrant(rest, azimuth, half_angle))
        return true;
    if (!degrees(&rest, &value, &step) || rest.len || value > 360)
        return false;
    *azimuth = value == 360 ? 0 : value;
    *half_angle = step / 2;
    return true;
}
