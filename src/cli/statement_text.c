#include "statement_text.h"

#include "wording.h"

static const char *value_of(mb_arena *arena, const mb_json *line)
{
    const char *text = wording_of(arena, line, "text"), *unit = wording_of(arena, line, "unit");
    const mb_json *value = mb_json_get(line, "value");

    if (text != NULL)
        return text;
    if (value != NULL && unit != NULL && !mb_json_is(value, MB_JSON_OBJECT)
        && !mb_json_is(value, MB_JSON_ARRAY))
        return mb_arena_printf(arena, "%s %s", wording(arena, value), unit);
    return wording(arena, value);
}

void statement_print(const struct screen *screen, unsigned indent, const char *heading,
                     const mb_json *lines, enum statement_part part)
{
    mb_arena *arena = screen->arena;
    struct pairs pairs = { .arena = arena };

    MB_JSON_EACH(line, lines) {
        const char *title = wording_of(arena, line, "title");
        bool stated = mb_json_true(mb_json_get(line, "attested"));
        if (stated != (part == STATEMENT_STATED))
            continue;
        if (title == NULL)
            title = wording_name(arena, mb_json_str(mb_json_get(line, "name")));
        pairs_add(&pairs, title, value_of(arena, line));
    }
    if (pairs.first == NULL)
        return;
    if (heading != NULL)
        screen_say(screen, STRONG, indent, "%s", heading);
    pairs_print(screen, heading != NULL ? indent + 2 : indent, &pairs);
}
