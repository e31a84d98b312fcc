#include "chrono.h"
#include "chrono_names.h"

#include <ctype.h>
#include <string.h>
#include <strings.h>

#include "decimal.h"
#include "text.h"

#define UNITS_MAX 400
#define NAME_MAX_LEN 60 /* longer words are not looked for among the near ones */

struct mb_chrono {
    const char *version;
    struct mb_chrono_unit *units; /* UNITS_MAX of them, so that they never move */
    const char **parents;
    const char **folded; /* rock name, time name of each unit */
    size_t count;
};

/* ---- keeping --------------------------------------------------------------------------------- */

mb_chrono *mb_chrono_new(mb_arena *arena)
{
    mb_chrono *chart = MB_NEW(arena, mb_chrono);
    chart->version = "not stated";
    chart->units = MB_ARRAY(arena, UNITS_MAX + 1, struct mb_chrono_unit);
    chart->parents = MB_ARRAY(arena, UNITS_MAX + 1, const char *);
    chart->folded = MB_ARRAY(arena, 2 * (UNITS_MAX + 1), const char *);
    return chart;
}

void mb_chrono_set_version(mb_chrono *chart, const char *version)
{
    chart->version = version;
}

struct mb_chrono_unit *mb_chrono_add(mb_chrono *chart)
{
    if (chart->count < UNITS_MAX)
        chart->count++;
    return &chart->units[chart->count - 1];
}

void mb_chrono_note_parent(mb_chrono *chart, const char *id)
{
    chart->parents[chart->count - 1] = id;
}

enum mb_rc mb_chrono_link(mb_arena *arena, mb_chrono *chart, struct mb_error *err)
{
    if (!chart->count || chart->count == UNITS_MAX)
        return mb_fail(err, MB_REFUSED, "the chart has no units, or too many");
    for (size_t i = 0; i < chart->count; i++) {
        struct mb_chrono_unit *unit = &chart->units[i];
        chart->folded[2 * i] = mb_chrono_fold(arena, mb_str_of(unit->rock_name));
        chart->folded[2 * i + 1] = mb_chrono_fold(arena, mb_str_of(unit->time_name));
        for (size_t j = 0; j < chart->count && *chart->parents[i]; j++)
            if (strcmp(chart->units[j].id, chart->parents[i]) == 0)
                unit->parent = &chart->units[j];
        if (*chart->parents[i] && !unit->parent)
            return mb_fail(err, MB_REFUSED, "the chart has no unit %s, in which %s is to lie",
                           chart->parents[i], unit->id);
        if (unit->parent &&
            (unit->parent->rank >= unit->rank || unit->parent->base.ma_nano < unit->base.ma_nano ||
             unit->parent->top.ma_nano > unit->top.ma_nano))
            return mb_fail(err, MB_REFUSED, "%s does not lie inside %s on the chart", unit->id,
                           unit->parent->id);
    }
    return MB_OK;
}

const char *mb_chrono_version(const mb_chrono *chart)
{
    return chart->version;
}

size_t mb_chrono_count(const mb_chrono *chart)
{
    return chart->count;
}

const struct mb_chrono_unit *mb_chrono_at(const mb_chrono *chart, size_t index)
{
    return index < chart->count ? &chart->units[index] : NULL;
}

/* ---- names ----------------------------------------------------------------------------------- */

static bool take_off(char *text, const char *end)
{
    size_t len = strlen(text), cut = strlen(end);
    if (len <= cut || strcmp(text + len - cut, end) != 0)
        return false;
    text[len - cut] = 0;
    return true;
}

char *mb_chrono_fold(mb_arena *arena, struct mb_str name)
{
    static const char *const ranks[] = { "subsystem", "subperiod", "system", "series",
                                         "erathem",   "eonothem",  "stage",  "period",
                                         "epoch",     "age",       "era",    "eon" };
    char *out = mb_arena_get(arena, name.len + 1);
    size_t len = 0;
    for (size_t i = 0; i < name.len; i++) {
        char c = (char)tolower((unsigned char)name.at[i]);
        if (!isalnum((unsigned char)c))
            continue;
        if (c == 'e' && len && out[len - 1] == 'a')
            len--;
        out[len++] = c;
    }
    out[len] = 0;
    for (size_t i = 0; i < sizeof ranks / sizeof *ranks; i++)
        if (take_off(out, ranks[i]))
            break;
    return out;
}

static const struct mb_chrono_unit *find_folded(const mb_chrono *chart, const char *folded)
{
    for (size_t i = 0; i < 2 * chart->count; i++)
        if (strcmp(chart->folded[i], folded) == 0)
            return &chart->units[i / 2];
    return NULL;
}

/* Names in wide use that the chart does not have, and what it has there (from memory). */
static const char *old_name(const char *folded)
{
    static const struct {
        const char *folded, *instead;
    } old[] = {
        { "tertiary", "Paleogene or Neogene" },
        { "senonian", "Coniacian to Maastrichtian" },
        { "neocomian", "Berriasian to Hauterivian" },
        { "lias", "Lower Jurassic" },
        { "liassic", "Lower Jurassic" },
        { "dogger", "Middle Jurassic" },
        { "malm", "Upper Jurassic" },
    };
    for (size_t i = 0; i < sizeof old / sizeof *old; i++)
        if (strcmp(folded, old[i].folded) == 0)
            return old[i].instead;
    return NULL;
}

static const char *nearest_name(const mb_chrono *chart, const char *folded)
{
    struct mb_str word = mb_str_of(folded);
    const char *nearest =
        word.len <= NAME_MAX_LEN ? mb_nearest(word, chart->folded, 2 * chart->count) : NULL;
    for (size_t i = 0; i < 2 * chart->count && nearest; i++)
        if (chart->folded[i] == nearest)
            return i % 2 ? chart->units[i / 2].time_name : chart->units[i / 2].rock_name;
    return NULL;
}

static enum mb_rc unknown_name(const mb_chrono *chart, struct mb_str name, const char *folded,
                               struct mb_error *err)
{
    const char *instead = old_name(folded), *nearest = nearest_name(chart, folded);
    if (instead)
        return mb_fail(err, MB_REFUSED, "the chart (%s) has no \"%.*s\"; use %s", chart->version,
                       MB_STR_ARG(name), instead);
    if (nearest)
        return mb_fail(
            err, MB_REFUSED,
            "the chart (%s) has no \"%.*s\"; did you mean %s? A regional name is kept with the "
            "zone",
            chart->version, MB_STR_ARG(name), nearest);
    return mb_fail(err, MB_REFUSED,
                   "the chart (%s) has no \"%.*s\"; write a stage, series or system of it, or an "
                   "age in Ma, and keep a regional name with the zone",
                   chart->version, MB_STR_ARG(name));
}

/* Splits an informal word off: "upper Campanian". */
static bool split_part(struct mb_str name, struct mb_str *part, struct mb_str *rest)
{
    static const char *const words[] = { "lowermost", "uppermost", "lower", "upper",
                                         "middle",    "early",     "late",  "latest",
                                         "earliest",  "mid",       "basal" };
    size_t len = 0;
    while (len < name.len && name.at[len] != ' ' && name.at[len] != '-')
        len++;
    if (len == name.len)
        return false;
    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (strlen(words[i]) == len && strncasecmp(words[i], name.at, len) == 0) {
            *part = (struct mb_str){ name.at, len };
            *rest = mb_str_trim((struct mb_str){ name.at + len + 1, name.len - len - 1 });
            return true;
        }
    return false;
}

enum mb_rc mb_chrono_find(mb_arena *arena, const mb_chrono *chart, struct mb_str name,
                          const struct mb_chrono_unit **out, const char **part,
                          struct mb_error *err)
{
    struct mb_str word, rest;
    name = mb_str_trim(name);
    const char *folded = mb_chrono_fold(arena, name);
    const struct mb_chrono_unit *unit = find_folded(chart, folded);
    const char *informal = NULL;
    if (!unit && strncmp(folded, "stage", 5) == 0)
        unit = find_folded(chart, mb_arena_printf(arena, "cambrian%s", folded));
    if (!unit && split_part(name, &word, &rest)) {
        unit = find_folded(chart, mb_chrono_fold(arena, rest));
        informal = mb_arena_copy(arena, word.at, word.len);
    }
    if (!unit || !*folded)
        return unknown_name(chart, name, folded, err);
    *out = unit;
    if (part)
        *part = informal;
    return MB_OK;
}

const struct mb_chrono_unit *mb_chrono_above(const struct mb_chrono_unit *unit,
                                             enum mb_chrono_rank rank)
{
    if (unit && unit->stage_too && rank == MB_CHRONO_AGE)
        return unit;
    while (unit && unit->rank > rank)
        unit = unit->parent;
    return unit && unit->rank == rank ? unit : NULL;
}

const struct mb_chrono_unit *mb_chrono_when(const mb_chrono *chart, int64_t ma_nano)
{
    const struct mb_chrono_unit *found = NULL;
    for (size_t i = 0; i < chart->count; i++) {
        const struct mb_chrono_unit *unit = &chart->units[i];
        bool inside = ma_nano <= unit->base.ma_nano &&
                      (ma_nano > unit->top.ma_nano || (ma_nano == 0 && unit->top.ma_nano == 0));
        if (inside && (!found || unit->rank > found->rank))
            found = unit;
    }
    return found;
}

/* ---- spans ----------------------------------------------------------------------------------- */

static bool plain_number(struct mb_str *rest, struct mb_str *number)
{
    *rest = mb_str_trim(*rest);
    size_t len = 0;
    while (len < rest->len && (isdigit((unsigned char)rest->at[len]) || rest->at[len] == '.'))
        len++;
    *number = (struct mb_str){ rest->at, len };
    *rest = mb_str_trim((struct mb_str){ rest->at + len, rest->len - len });
    return mb_decimal_ok(*number);
}

static bool take_sign(struct mb_str *rest)
{
    static const char *const signs[] = { "\u00b1", "+/-", "+-" };
    for (size_t i = 0; i < sizeof signs / sizeof *signs; i++)
        if (mb_str_starts(*rest, signs[i])) {
            rest->at += strlen(signs[i]);
            rest->len -= strlen(signs[i]);
            return true;
        }
    return false;
}

/* A number in Ma from one that may be in ka. */
static bool to_ma(mb_arena *arena, struct mb_str number, bool thousands, const char **text,
                  int64_t *nano)
{
    if (!mb_decimal_nano(number, nano))
        return false;
    if (!thousands) {
        *text = mb_arena_copy(arena, number.at, number.len);
        return true;
    }
    bool exact = *nano % 1000 == 0;
    *nano /= 1000;
    *text = mb_decimal_write(arena, *nano, 0);
    return exact;
}

/* MB_NO if the text is no number at all. */
static enum mb_rc read_number(mb_arena *arena, const mb_chrono *chart, struct mb_str text,
                              bool oldest, struct mb_chrono_bound *out, struct mb_error *err)
{
    struct mb_str rest = text, number, plus = { NULL, 0 };
    if (!text.len || !isdigit((unsigned char)text.at[0]))
        return MB_NO;
    bool ok = plain_number(&rest, &number);
    if (ok && take_sign(&rest))
        ok = plain_number(&rest, &plus);
    bool thousands = mb_str_is(rest, "ka") || mb_str_is(rest, "kya");
    bool unit_ok = thousands || !rest.len || mb_str_is(rest, "Ma") || mb_str_is(rest, "Mya") ||
                   mb_str_is(rest, "ma");
    int64_t nano = 0, plus_nano = 0;
    if (ok && unit_ok)
        ok = to_ma(arena, number, thousands, &out->age.ma, &nano) &&
             (!plus.len || to_ma(arena, plus, thousands, &out->age.uncertainty, &plus_nano));
    if (!ok || !unit_ok)
        return mb_fail(err, MB_REFUSED,
                       "the age \"%.*s\" cannot be read; write one number of Ma such as 75.5 or "
                       "75.5 +/- 0.3, and a range as oldest and youngest",
                       MB_STR_ARG(text));
    out->numeric = true;
    out->age.ma_nano = nano;
    int64_t outer = oldest ? nano + plus_nano : nano - plus_nano;
    out->unit = mb_chrono_when(chart, outer < 0 ? 0 : outer);
    if (!out->unit)
        return mb_fail(err, MB_REFUSED, "an age of %s Ma is older than the earth", out->age.ma);
    return MB_OK;
}

static enum mb_rc read_bound(mb_arena *arena, const mb_chrono *chart, struct mb_str text,
                             bool oldest, struct mb_chrono_bound *out, struct mb_error *err)
{
    *out = (struct mb_chrono_bound){ .numeric = false };
    enum mb_rc rc = read_number(arena, chart, text, oldest, out, err);
    if (rc != MB_NO)
        return rc;
    rc = mb_chrono_find(arena, chart, text, &out->unit, &out->part, err);
    if (rc == MB_OK)
        out->age = oldest ? out->unit->base : out->unit->top;
    return rc;
}

enum mb_rc mb_chrono_span(mb_arena *arena, const mb_chrono *chart, struct mb_str oldest,
                          struct mb_str youngest, struct mb_chrono_span *out, struct mb_error *err)
{
    struct mb_chrono_span span = { .version = chart->version };
    oldest = mb_str_trim(oldest);
    youngest = mb_str_trim(youngest);
    if (!youngest.len)
        youngest = oldest;
    enum mb_rc rc = read_bound(arena, chart, oldest, true, &span.oldest, err);
    if (rc == MB_OK)
        rc = read_bound(arena, chart, youngest, false, &span.youngest, err);
    if (rc != MB_OK)
        return rc;
    int64_t from = span.oldest.age.ma_nano, to = span.youngest.age.ma_nano;
    if (from < to || (from == to && !(span.oldest.numeric && span.youngest.numeric)))
        return mb_fail(err, MB_REFUSED,
                       "the range runs the wrong way: \"%.*s\" (%s Ma) is not older than \"%.*s\" "
                       "(%s Ma); write the older one first",
                       MB_STR_ARG(oldest), span.oldest.age.ma, MB_STR_ARG(youngest),
                       span.youngest.age.ma);
    *out = span;
    return MB_OK;
}

char *mb_chrono_age_text(mb_arena *arena, const struct mb_chrono_age *age)
{
    return mb_arena_printf(arena, "%s%s%s%s Ma", age->uncertain ? "~" : "", age->ma,
                           age->uncertainty ? " \u00b1 " : "",
                           age->uncertainty ? age->uncertainty : "");
}
