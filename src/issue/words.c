#include "words.h"

#include <string.h>

#include "text.h"
#include "words_rows.h"

char *mb_words_name(mb_arena *arena, struct mb_str name)
{
    char *out = mb_arena_get(arena, 2 * name.len + 1), *at = out;

    for (size_t i = 0; i < name.len; i++) {
        bool capital = name.at[i] >= 'A' && name.at[i] <= 'Z';

        if (capital && i > 0)
            *at++ = ' ';
        *at++ = capital ? (char)(name.at[i] - 'A' + 'a') : name.at[i];
    }
    return out;
}

/* "a, b and c" */
static char *list_words(mb_arena *arena, const mb_json *list)
{
    char *out = mb_arena_text(arena, "");

    MB_JSON_EACH(item, list)
    {
        const char *between = item == list->first ? "" : item->next ? ", " : " and ";

        out = mb_arena_printf(arena, "%s%s%s", out, between, mb_words_value(arena, item));
    }
    return out;
}

static char *row_words(mb_arena *arena, const mb_json *row)
{
    char *out = mb_arena_text(arena, "");

    MB_JSON_EACH(member, row)
    {
        out = mb_arena_printf(arena, "%s%s%s: %s", out, *out ? "; " : "",
                              mb_words_name(arena, member->name), mb_words_value(arena, member));
    }
    return out;
}

static char *rows_words(mb_arena *arena, const mb_json *rows)
{
    char *out = mb_arena_text(arena, "");

    MB_JSON_EACH(row, rows)
    {
        out = mb_arena_printf(arena, "%s%s%s", out, *out ? "\n" : "", mb_words_value(arena, row));
    }
    return out;
}

static bool holds_rows(const mb_json *list)
{
    const mb_json *first = list->first;

    return mb_json_is(first, MB_JSON_OBJECT) && !mb_json_get(first, "ref")
           && !mb_json_get(first, "answer");
}

static char *object_words(mb_arena *arena, const mb_json *value)
{
    struct mb_str ref = mb_json_str(mb_json_get(value, "ref"));
    const char *answer = mb_json_cstr(arena, mb_json_get(value, "answer"));
    const char *amount = mb_json_cstr(arena, mb_json_get(value, "value"));
    const char *unit = mb_json_cstr(arena, mb_json_get(value, "unit"));
    const char *file = mb_json_cstr(arena, mb_json_get(value, "file"));

    if (ref.at)
        return mb_arena_copy(arena, ref.at, ref.len);
    if (answer && value->count == 1)
        return mb_arena_text(arena, answer);
    if (amount && unit && value->count == 2)
        return mb_arena_printf(arena, "%s %s", amount, unit);
    if (file)
        return mb_arena_printf(arena, "file %.12s…", file);
    return row_words(arena, value);
}

char *mb_words_value(mb_arena *arena, const mb_json *value)
{
    switch (value->type) {
    case MB_JSON_STRING:
    case MB_JSON_NUMBER:
        return mb_arena_copy(arena, value->text.at, value->text.len);
    case MB_JSON_INTEGER:
        return mb_arena_printf(arena, "%lld", (long long)value->integer);
    case MB_JSON_TRUE:
        return mb_arena_text(arena, "yes");
    case MB_JSON_FALSE:
        return mb_arena_text(arena, "no");
    case MB_JSON_ARRAY:
        return holds_rows(value) ? rows_words(arena, value) : list_words(arena, value);
    case MB_JSON_OBJECT:
        return object_words(arena, value);
    default:
        return mb_arena_text(arena, "");
    }
}

char *mb_words_line(mb_arena *arena, const mb_json *line)
{
    const mb_json *value = mb_json_get(line, "value");
    struct mb_str name = mb_json_str(mb_json_get(line, "name"));
    const char *unit = mb_json_cstr(arena, mb_json_get(line, "unit"));
    char *rows = mb_json_is(value, MB_JSON_ARRAY) ? mb_words_rows(arena, name, value) : NULL;

    if (rows)
        return rows;
    if (unit && !mb_json_get(value, "answer") && value->type != MB_JSON_ARRAY)
        return mb_arena_printf(arena, "%s %s", mb_words_value(arena, value), unit);
    return mb_words_value(arena, value);
}
