/* From what is signed back to what could be typed. Half of value.h. */
#include "value.h"

#include <string.h>

#include "text.h"
#include "value_scalar.h"

static bool can_be_typed(struct mb_str text)
{
    return !memchr(text.at, '|', text.len) && !memchr(text.at, ';', text.len)
           && !memchr(text.at, '\n', text.len);
}

static char *single_text(mb_arena *arena, const mb_json *value)
{
    struct mb_str text = { NULL, 0 };

    switch (value->type) {
    case MB_JSON_STRING:
    case MB_JSON_NUMBER:
        text = value->text;
        break;
    case MB_JSON_INTEGER:
    case MB_JSON_TRUE:
    case MB_JSON_FALSE:
        text = mb_scalar_typed(arena, value);
        break;
    case MB_JSON_OBJECT:
        text = mb_ref_of(value);
        if (!text.at)
            text = mb_answer_of(value);
        if (!text.at && value->count == 1)
            text = mb_json_str(mb_json_get(value, "entry"));
        if (!text.at && value->count == 2 && mb_json_get(value, "unit"))
            return mb_arena_printf(arena, "%.*s %.*s",
                                   MB_STR_ARG(mb_json_str(mb_json_get(value, "value"))),
                                   MB_STR_ARG(mb_json_str(mb_json_get(value, "unit"))));
        break;
    default:
        break;
    }
    return text.at ? mb_arena_copy(arena, text.at, text.len) : NULL;
}

static char *row_text(mb_arena *arena, const mb_json *row)
{
    char *text = mb_arena_text(arena, "");

    MB_JSON_EACH(cell, row)
    {
        char *one = single_text(arena, cell);

        if (!one || !can_be_typed(mb_str_of(one)))
            return NULL;
        text = mb_arena_printf(arena, "%s%s%.*s:%s", text, text[0] ? "; " : "",
                               MB_STR_ARG(cell->name), one);
    }
    return text;
}

static char *json_text(mb_arena *arena, const mb_json *value)
{
    struct mb_str json = mb_json_write(arena, value);

    return mb_arena_copy(arena, json.at, json.len);
}

char *mb_value_text(mb_arena *arena, const mb_json *value)
{
    char *text = single_text(arena, value);

    if (text || !mb_json_is(value, MB_JSON_ARRAY))
        return text ? text : json_text(arena, value);
    MB_JSON_EACH(child, value)
    {
        char *one = single_text(arena, child);

        if (one && !can_be_typed(mb_str_of(one)))
            one = NULL;
        else if (!one && mb_json_is(child, MB_JSON_OBJECT))
            one = row_text(arena, child);
        if (!one)
            return json_text(arena, value);
        text = mb_arena_printf(arena, "%s%s%s", text ? text : "", text ? " | " : "", one);
    }
    return text ? text : json_text(arena, value);
}
