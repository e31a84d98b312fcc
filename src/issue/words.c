#include "words.h"

#include <ctype.h>
#include <string.h>

#include "text.h"

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

static const char *text_of(mb_arena *arena, const mb_json *row, const char *name)
{
    const mb_json *value = mb_json_get(row, name);

    return value ? mb_words_value(arena, value) : NULL;
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

/* " (reason, acknowledged)" of those that are there. */
static char *in_brackets(mb_arena *arena, const mb_json *row, const char *const *names,
                         size_t count)
{
    char *out = mb_arena_text(arena, "");

    for (size_t i = 0; i < count; i++) {
        const char *text = text_of(arena, row, names[i]);

        if (text && strcmp(text, "none") != 0)
            out = mb_arena_printf(arena, "%s%s%s", out, *out ? ", " : "", text);
    }
    return *out ? mb_arena_printf(arena, " (%s)", out) : out;
}

static char *handover_words(mb_arena *arena, const mb_json *rows, const char *day,
                            const char *const *more, size_t count)
{
    char *out = mb_arena_text(arena, "");

    MB_JSON_EACH(row, rows)
    {
        const char *on = text_of(arena, row, day), *from = text_of(arena, row, "fromLabel");
        const char *to = text_of(arena, row, "toLabel");

        out = mb_arena_printf(arena, "%s%s%s: from %s to %s%s", out, *out ? "\n" : "",
                              on ? on : "day not given", from ? from : "(not given here)",
                              to ? to : "(not given here)", in_brackets(arena, row, more, count));
    }
    return out;
}

/* "original 91.0 % (89.2-92.6), by outline": estimates as bands only, never as numbers. */
static char *shares_words(mb_arena *arena, const mb_json *rows)
{
    char *out = mb_arena_text(arena, "");

    MB_JSON_EACH(row, rows)
    {
        const char *percent = text_of(arena, row, "percent"), *how = text_of(arena, row, "how");
        const char *low = text_of(arena, row, "low"), *high = text_of(arena, row, "high");
        const char *band = text_of(arena, row, "band"), *view = text_of(arena, row, "view");
        const char *substance = text_of(arena, row, "substance");
        const char *amount = band                ? band
                             : percent && low && high
                                 ? mb_arena_printf(arena, "%s %% (%s to %s)", percent, low, high)
                             : percent ? mb_arena_printf(arena, "%s %%", percent)
                                       : "not given";

        out = mb_arena_printf(arena, "%s%s%s: %s%s%s%s%s", out, *out ? "\n" : "",
                              substance ? substance : "?", amount, view ? ", " : "",
                              view ? view : "", how ? ", by " : "", how ? how : "");
    }
    return out;
}

static char *preparation_words(mb_arena *arena, const mb_json *rows)
{
    char *out = mb_arena_text(arena, "");

    MB_JSON_EACH(row, rows)
    {
        const char *on = text_of(arena, row, "preparationDate");

        out = mb_arena_printf(arena, "%s%s%s", out, *out ? "\n" : "", on ? on : "day not given");
        MB_JSON_EACH(member, row)
        {
            if (mb_str_is(member->name, "preparationDate"))
                continue;
            if (mb_str_is(member->name, "steps") || mb_str_is(member->name, "whose"))
                out = mb_arena_printf(arena, "%s; %s", out, mb_words_value(arena, member));
            else
                out = mb_arena_printf(arena, "%s; %s: %s", out,
                                      mb_words_name(arena, member->name),
                                      mb_words_value(arena, member));
        }
        for (char *c = out; *c; c++)
            if (*c == '\n' && c[1] != '\0' && !isdigit((unsigned char)c[1]))
                *c = ';';
    }
    return out;
}

char *mb_words_line(mb_arena *arena, const mb_json *line)
{
    static const char *const custody[] = { "reason", "acknowledged" };
    static const char *const title[] = { "manner", "conditions", "burdens", "acknowledged" };
    const mb_json *value = mb_json_get(line, "value");
    struct mb_str name = mb_json_str(mb_json_get(line, "name"));
    const char *unit = mb_json_cstr(arena, mb_json_get(line, "unit"));

    if (mb_json_is(value, MB_JSON_ARRAY)) {
        if (mb_str_is(name, "custody"))
            return handover_words(arena, value, "handedOver", custody, 2);
        if (mb_str_is(name, "title"))
            return handover_words(arena, value, "date", title, 4);
        if (mb_str_is(name, "shares"))
            return shares_words(arena, value);
        if (mb_str_is(name, "preparation"))
            return preparation_words(arena, value);
    }
    if (unit && !mb_json_get(value, "answer") && value->type != MB_JSON_ARRAY)
        return mb_arena_printf(arena, "%s %s", mb_words_value(arena, value), unit);
    return mb_words_value(arena, value);
}
