#include "wording.h"

#include <inttypes.h>
#include <string.h>

#include "date.h"
#include "text.h"

enum { MINUTES_LEN = sizeof "2026-05-02T14:00" - 1 };

static const char *join(mb_arena *arena, const char *before, const char *mark, const char *text)
{
    return *before == '\0' ? text : mb_arena_printf(arena, "%s%s%s", before, mark, text);
}

static bool is_wrapped(const mb_json *value, const char *name)
{
    return value->count == 1 && mb_json_is(mb_json_get(value, name), MB_JSON_STRING);
}

/* A measured share, as "original 83.6 % (82.5–84.5), view front, by outline": the word first, then
 * the number, then what it is of. NULL where the object is none. */
static const char *of_share(mb_arena *arena, const mb_json *row)
{
    static const char *const of[] = { "individual", "element", "view", "on" };
    const char *what = mb_json_cstr(arena, mb_json_get(row, "substance"));
    const char *percent = mb_json_cstr(arena, mb_json_get(row, "percent"));
    const char *low = mb_json_cstr(arena, mb_json_get(row, "low"));
    const char *high = mb_json_cstr(arena, mb_json_get(row, "high"));
    const char *how = mb_json_cstr(arena, mb_json_get(row, "how")), *text;

    if (what == NULL)
        what = mb_json_cstr(arena, mb_json_get(row, "surface"));
    if (what == NULL || percent == NULL || low == NULL || high == NULL || how == NULL)
        return NULL;
    text = mb_arena_printf(arena, "%s %s %% (%s–%s)", what, percent, low, high);
    for (size_t i = 0; i < sizeof of / sizeof *of; i++) {
        const char *part = mb_json_cstr(arena, mb_json_get(row, of[i]));

        if (part != NULL && strcmp(part, "specimen") != 0)
            text = mb_arena_printf(arena, "%s, %s %s", text, of[i], part);
    }
    return mb_arena_printf(arena, "%s, by %s", text,
                           strcmp(how, "points") == 0 ? "counted points" : how);
}

static const char *of_object(mb_arena *arena, const mb_json *object)
{
    const char *share = of_share(arena, object);
    const mb_json *value = mb_json_get(object, "value"), *unit = mb_json_get(object, "unit");
    const mb_json *name = mb_json_get(object, "name"), *which = mb_json_get(object, "which");
    const char *file = mb_json_cstr(arena, mb_json_get(object, "file")), *text = "";

    if (share != NULL)
        return share;
    if (is_wrapped(object, "ref") || is_wrapped(object, "answer"))
        return mb_json_cstr(arena, object->first);
    if (value != NULL && unit != NULL && object->count == 2)
        return mb_arena_printf(arena, "%s %s", wording(arena, value), wording(arena, unit));
    if (value != NULL && unit != NULL && which != NULL && object->count == 3)
        return mb_arena_printf(arena, "%s %s %s", wording(arena, which), wording(arena, value),
                               wording(arena, unit));
    if (file != NULL)
        return mb_arena_printf(arena, "%s (SHA-256 %.12s...)",
                               name != NULL ? wording(arena, name) : "a file", file);
    MB_JSON_EACH(member, object)
        text = join(arena, text, ", ",
                    mb_arena_printf(arena, "%s: %s", wording_name(arena, member->name),
                                    wording(arena, member)));
    return text;
}

/* Rows stand below each other, other lists in one line. */
static bool holds_rows(const mb_json *array)
{
    const mb_json *first = array->first;

    return mb_json_is(first, MB_JSON_OBJECT) && !is_wrapped(first, "ref")
           && !is_wrapped(first, "answer");
}

const char *wording(mb_arena *arena, const mb_json *value)
{
    const char *text = "";

    if (value == NULL)
        return "";
    switch (value->type) {
    case MB_JSON_NULL:
        return "";
    case MB_JSON_FALSE:
        return "no";
    case MB_JSON_TRUE:
        return "yes";
    case MB_JSON_INTEGER:
        return mb_arena_printf(arena, "%" PRId64, value->integer);
    case MB_JSON_NUMBER:
    case MB_JSON_STRING:
        return mb_arena_copy(arena, value->text.at, value->text.len);
    case MB_JSON_ARRAY:
        MB_JSON_EACH(child, value)
            text = join(arena, text, holds_rows(value) ? "\n" : "; ", wording(arena, child));
        return text;
    case MB_JSON_OBJECT:
        return of_object(arena, value);
    }
    return text;
}

const char *wording_of(mb_arena *arena, const mb_json *object, const char *name)
{
    const mb_json *value = mb_json_get(object, name);

    return value == NULL ? NULL : wording(arena, value);
}

const char *wording_number(mb_arena *arena, int64_t number)
{
    char *plain = mb_arena_printf(arena, "%" PRId64, number), *text, *to;
    size_t len = strlen(plain);

    to = text = mb_arena_array(arena, 2 * len + 1, 1);
    for (size_t i = 0; i < len; i++) {
        if (i > 0 && (len - i) % 3 == 0 && plain[i - 1] != '-')
            *to++ = ',';
        *to++ = plain[i];
    }
    return text;
}

const char *wording_count(mb_arena *arena, int64_t count, const char *one, const char *many)
{
    return mb_arena_printf(arena, "%s %s", wording_number(arena, count), count == 1 ? one : many);
}

const char *wording_moment(mb_arena *arena, const mb_json *moment)
{
    char *text;

    if (!mb_json_is(moment, MB_JSON_INTEGER))
        return wording(arena, moment);
    text = mb_moment_write(arena, moment->integer);
    if (strlen(text) < MINUTES_LEN)
        return text;
    return mb_arena_printf(arena, "%.10s %.5s UTC", text, text + 11);
}

const char *wording_choices(mb_arena *arena, const mb_json *choices)
{
    const char *text = "";

    MB_JSON_EACH(choice, choices)
        text = join(arena, text, choice->next == NULL ? " or " : ", ", wording(arena, choice));
    return text;
}

const char *wording_name(mb_arena *arena, struct mb_str name)
{
    char *text = mb_arena_array(arena, 2 * name.len + 1, 1), *to = text;

    for (size_t i = 0; i < name.len; i++) {
        char c = name.at[i];
        bool big = c >= 'A' && c <= 'Z';
        bool small_before = i > 0 && name.at[i - 1] >= 'a' && name.at[i - 1] <= 'z';
        if (big && small_before)
            *to++ = ' ';
        *to++ = big && (small_before || i == 0) ? (char)(c + ('a' - 'A')) : c;
    }
    return text;
}
