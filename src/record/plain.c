#include "plain.h"

#include <string.h>

#include "kinds.h"
#include "text.h"

#define LINE_VALUES 3
#define LINE_VALUE_MAX 60

static char *joined(mb_arena *arena, const mb_json *list, const char *between)
{
    char *out = mb_arena_text(arena, "");

    MB_JSON_EACH(item, list)
    {
        out = mb_arena_printf(arena, "%s%s%s", out, item == list->first ? "" : between,
                              mb_plain_value(arena, item));
    }
    return out;
}

static char *object_value(mb_arena *arena, const mb_json *value)
{
    static const char *const single[] = { "ref", "entry", "answer", "file" };
    char *out = mb_arena_text(arena, "");

    for (size_t i = 0; i < sizeof single / sizeof *single; i++) {
        const char *text = mb_json_cstr(arena, mb_json_get(value, single[i]));

        if (text)
            return mb_arena_text(arena, text);
    }
    if (value->count == 2 && mb_json_get(value, "value") && mb_json_get(value, "unit"))
        return mb_arena_printf(arena, "%s %s", mb_plain_value(arena, mb_json_get(value, "value")),
                               mb_plain_value(arena, mb_json_get(value, "unit")));
    MB_JSON_EACH(member, value)
    {
        out = mb_arena_printf(arena, "%s%s%.*s: %s", out, *out ? "; " : "",
                              MB_STR_ARG(member->name), mb_plain_value(arena, member));
    }
    return out;
}

char *mb_plain_value(mb_arena *arena, const mb_json *value)
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
        return joined(arena, value, " | ");
    case MB_JSON_OBJECT:
        return object_value(arena, value);
    default:
        return mb_arena_text(arena, "");
    }
}

/* What a reader would want to know of an entry first is what a person was asked first. */
char *mb_plain_line(mb_arena *arena, const struct mb_told *told)
{
    const struct mb_kind *kind = mb_kind_find(told->entry->kind);
    char *out;
    size_t said = 0;

    if (!kind)
        return mb_arena_printf(arena, "%.*s: not understood by this program",
                               MB_STR_ARG(told->entry->kind));
    out = mb_arena_text(arena, kind->title);
    for (size_t i = 0; i < kind->ask.count && said < LINE_VALUES; i++) {
        const mb_json *value = mb_told_field(told, kind->ask.at[i], NULL, NULL);
        const char *text;

        if (!value || mb_json_get(value, "answer"))
            continue;
        text = mb_plain_value(arena, value);
        if (strlen(text) > LINE_VALUE_MAX)
            continue;
        out = mb_arena_printf(arena, "%s%s %s", out, said ? ";" : ":", text);
        said++;
    }
    return out;
}

const char *mb_plain_day(mb_arena *arena, const struct mb_told *told, struct mb_days *days)
{
    static const char *const fields[] = { "eventDate",  "receivedOn", "preparationDate",
                                          "examinedOn", "handedOver", "dateIdentified",
                                          "date",       "on",         "signedOn",
                                          "filedOn",    "opened",     "docDate",
                                          "from" };

    for (size_t i = 0; i < sizeof fields / sizeof *fields; i++) {
        const mb_json *value = mb_told_field(told, fields[i], NULL, NULL);

        if (mb_json_is(value, MB_JSON_STRING) && mb_days_read(value->text, days))
            return mb_json_cstr(arena, value);
    }
    return NULL;
}
