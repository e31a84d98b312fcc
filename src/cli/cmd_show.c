#include <markerbed/record.h>
#include <markerbed/show.h>

#include <string.h>

#include "command.h"
#include "text.h"
#include "wording.h"

enum { STORY_HANG = 20 };

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    const char *subject = strcmp(call->words[0], "ledger") == 0
                              ? "ledger"
                              : call_subject(call, "specimen", call->words[0]);

    return mb_show(call->ledger, call->arena, subject, call_value(call, "as-of"), &call->result,
                   err);
}

/* ---- titles of fields ---- */

static const mb_json *named(const mb_json *list, const char *member, struct mb_str name)
{
    MB_JSON_EACH(one, list)
        if (mb_str_equal(mb_json_str(mb_json_get(one, member)), name))
            return one;
    return NULL;
}

/* The title of a field in one kind (or any, if that is NULL); the name itself if it is unknown. */
static const char *title_of(mb_arena *arena, const mb_json *kinds, const char *kind,
                            struct mb_str name)
{
    MB_JSON_EACH(one, kinds) {
        const mb_json *field;
        if (kind != NULL && !mb_json_text_is(mb_json_get(one, "kind"), kind)
            && !mb_json_text_is(mb_json_get(one, "kind"), "common"))
            continue;
        field = named(mb_json_get(one, "fields"), "name", name);
        if (field != NULL)
            return wording_of(arena, field, "title");
    }
    return wording_name(arena, name);
}

/* ---- as it stands ---- */

static void tell_now(const struct call *call, const struct screen *screen, const mb_json *kinds)
{
    mb_arena *arena = call->arena;
    struct pairs pairs = { .arena = arena };

    MB_JSON_EACH(field, mb_json_get(call->result, "now")) {
        const mb_json *value = mb_json_get(field, "value");
        const mb_json *corrected = mb_json_get(field, "corrected");
        const char *text = wording(arena, value != NULL ? value : field);
        if (corrected != NULL && !mb_json_is(corrected, MB_JSON_FALSE))
            text = mb_arena_printf(arena, "%s (corrected, entry #%s)", text,
                                   wording_of(arena, field, "seq"));
        pairs_add(&pairs, title_of(arena, kinds, NULL, field->name), text);
    }
    if (pairs.first == NULL)
        return;
    screen_heading(screen, "As it stands");
    pairs_print(screen, 2, &pairs);
}

/* ---- what was written down ---- */

static const char *marks(mb_arena *arena, const mb_json *entry)
{
    const mb_json *voided = mb_json_get(entry, "voided"),
                  *corrects = mb_json_get(entry, "corrects");
    const char *text = "";

    if (mb_json_is(voided, MB_JSON_INTEGER))
        text = mb_arena_printf(arena, "[struck out by entry #%s] ", wording(arena, voided));
    else if (voided != NULL && !mb_json_is(voided, MB_JSON_FALSE)
             && !mb_json_is(voided, MB_JSON_NULL))
        text = mb_json_is(voided, MB_JSON_OBJECT) && mb_json_get(voided, "by") != NULL
                   ? mb_arena_printf(arena, "[struck out by entry #%s] ",
                                     wording_of(arena, voided, "by"))
                   : "[struck out] ";
    if (corrects != NULL && !mb_json_is(corrects, MB_JSON_NULL))
        text = mb_arena_printf(arena, "%s[about entry #%s] ", text, wording(arena, corrects));
    return text;
}

static const char *written_on(mb_arena *arena, const mb_json *entry)
{
    const char *moment = wording_moment(arena, mb_json_get(entry, "iat"));

    return mb_arena_printf(arena, "%.10s", moment);
}

static void tell_fields(const struct call *call, const struct screen *screen, const mb_json *kinds,
                        const mb_json *entry)
{
    mb_arena *arena = call->arena;
    struct pairs pairs = { .arena = arena };
    const char *kind = wording_of(arena, entry, "kind");

    MB_JSON_EACH(field, mb_json_get(entry, "fields"))
        pairs_add(&pairs, title_of(arena, kinds, kind, field->name), wording(arena, field));
    pairs_print(screen, STORY_HANG, &pairs);
}

static void tell_entry(const struct call *call, const struct screen *screen, const mb_json *kinds,
                       const mb_json *entry)
{
    mb_arena *arena = call->arena;
    const char *mark = marks(arena, entry), *day = wording_of(arena, entry, "day");
    const char *by = wording_of(arena, entry, "by"), *line = wording_of(arena, entry, "line");
    const char *title = wording_of(arena, entry, "title"), *written = written_on(arena, entry);
    const char *label, *text;
    bool struck = strncmp(mark, "[struck out", 11) == 0;

    if (day == NULL || *day == '\0')
        day = written;
    label = mb_arena_printf(arena, "%-6s %s",
                            mb_arena_printf(arena, "#%s", wording_of(arena, entry, "seq")), day);
    text = mb_arena_printf(arena, "%s%s%s%s%s%s", mark, title ? title : "", by && *by ? ", " : "",
                           by ? by : "", line && *line ? ": " : "", line ? line : "");
    screen_item(screen, struck ? STRUCK : PLAIN, 2, STORY_HANG, label, mb_str_of(text));
    if (strcmp(day, written) != 0)
        screen_say(screen, FAINT, STORY_HANG, "(written down %s)", written);
    if (call_has(call, "full"))
        tell_fields(call, screen, kinds, entry);
}

/* ---- holders, owners, pieces ---- */

/* Rows of objects as a table: the columns in the order in which they first come. */
static mb_json *table_of(mb_arena *arena, const mb_json *list)
{
    mb_json *table = mb_json_object(arena), *columns = mb_json_array(arena);
    mb_json *names = mb_json_object(arena), *rows = mb_json_array(arena);

    MB_JSON_EACH(object, list)
        MB_JSON_EACH(member, object)
            mb_json_put_str(arena, names, member->name, mb_json_null(arena));
    MB_JSON_EACH(name, names)
        mb_json_add_text(arena, columns, wording_name(arena, name->name));
    MB_JSON_EACH(object, list) {
        mb_json *row = mb_json_add(rows, mb_json_array(arena));
        MB_JSON_EACH(name, names)
            mb_json_add_text(arena, row, wording(arena, mb_json_get_str(object, name->name)));
    }
    mb_json_put(arena, table, "columns", columns);
    mb_json_put(arena, table, "rows", rows);
    return table;
}

static void tell_list(const struct call *call, const struct screen *screen, const char *member,
                      const char *heading)
{
    const mb_json *list = mb_json_get(call->result, member);

    if (list == NULL || list->count == 0)
        return;
    screen_heading(screen, heading);
    if (mb_json_is(list, MB_JSON_ARRAY) && mb_json_is(list->first, MB_JSON_OBJECT)) {
        screen_table(screen, table_of(call->arena, list));
        return;
    }
    MB_JSON_EACH(one, list)
        screen_say(screen, PLAIN, 2, "%s", wording(call->arena, one));
}

static void tell_account(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    const mb_json *account = mb_json_get(call->result, "account");
    struct pairs pairs = { .arena = arena };

    MB_JSON_EACH(member, account)
        pairs_add(&pairs, wording_name(arena, member->name), wording(arena, member));
    if (pairs.first == NULL)
        return;
    screen_heading(screen, "Account of the pieces");
    pairs_print(screen, 2, &pairs);
}

static void tell(const struct call *call, const struct screen *screen)
{
    const mb_json *kinds = NULL, *entries = mb_json_get(call->result, "entries");
    const char *as_of = call_value(call, "as-of");
    struct mb_error ignored = { 0 };

    if (mb_kinds(call->arena, &kinds, &ignored) != MB_OK)
        kinds = NULL; /* names in place of titles */
    screen_say(screen, STRONG, 0, "%s%s%s", wording_of(call->arena, call->result, "subject"),
               as_of ? ", as it stood " : "", as_of ? as_of : "");
    tell_now(call, screen, kinds);
    if (entries != NULL && entries->count > 0)
        screen_heading(screen, "What was written down");
    MB_JSON_EACH(entry, entries)
        tell_entry(call, screen, kinds, entry);
    tell_list(call, screen, "holders", "Who had it in hand");
    tell_list(call, screen, "owners", "Who owned it");
    tell_account(call, screen);
    tell_list(call, screen, "warnings", "Please note");
}

static const char *const usage[] = { "SUBJECT", NULL };

static const struct option options[] = {
    { .name = "full", .help = "with every field of every entry" },
    { 0 },
};

static const struct example examples[] = {
    { "The story of one slab", "markerbed -L lab show 26-0115" },
    { "A place, with all that was said of it", "markerbed -L lab show site/S002 --full" },
    { 0 },
};

const struct command cmd_show = {
    .name = "show",
    .group = "Looking up",
    .line = "the story of one subject",
    .usage = usage,
    .about =
        "What it is, what was written down about it and when, who had it and who owned it, and"
        " where the pieces went. What was corrected or struck out stays visible and is marked."
        " A number alone means a specimen; others are written with their kind, like site/S002.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_LEDGER | TAKES_AS_OF,
    .words_min = 1,
    .words_max = 1,
    .run = run,
    .tell = tell,
};
