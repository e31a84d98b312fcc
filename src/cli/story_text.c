#include "story_text.h"

#include <string.h>

#include "text.h"
#include "wording.h"

enum { STORY_HANG = 20 };

static const char *text_of(const struct story_text *text, const mb_json *object, const char *name)
{
    const char *words = wording_of(text->screen->arena, object, name);

    return words != NULL ? words : "";
}

/* ---- titles ---- */

static const mb_json *named(const mb_json *list, const char *member, struct mb_str name)
{
    MB_JSON_EACH(one, list)
        if (mb_str_equal(mb_json_str(mb_json_get(one, member)), name))
            return one;
    return NULL;
}

/* The title of a field of one kind; its name in words where the kind does not know it. */
static const char *title_of(const struct story_text *text, struct mb_str kind, struct mb_str name)
{
    const mb_json *form = named(text->kinds, "kind", kind);
    const mb_json *field = named(mb_json_get(form, "fields"), "name", name);

    if (field == NULL)
        field = named(mb_json_get(named(text->kinds, "kind", MB_STR("common")), "fields"), "name",
                      name);
    return field != NULL ? text_of(text, field, "title") : wording_name(text->screen->arena, name);
}

/* Fields in the order of their kind's form, unknown ones last. */
static const mb_json *in_order(const struct story_text *text, struct mb_str kind,
                               const mb_json *given)
{
    mb_arena *arena = text->screen->arena;
    const mb_json *forms[] = { named(text->kinds, "kind", kind),
                               named(text->kinds, "kind", MB_STR("common")) };
    mb_json *fields = mb_json_object(arena);

    for (size_t i = 0; i < 2; i++)
        MB_JSON_EACH(form, mb_json_get(forms[i], "fields")) {
            struct mb_str name = mb_json_str(mb_json_get(form, "name"));
            const mb_json *field = mb_json_get_str(given, name);
            if (field != NULL)
                mb_json_put_str(arena, fields, name, mb_json_copy(arena, field));
        }
    MB_JSON_EACH(field, given)
        if (mb_json_get_str(fields, field->name) == NULL)
            mb_json_put_str(arena, fields, field->name, mb_json_copy(arena, field));
    return fields;
}

static struct mb_str kind_of(const mb_json *entry)
{
    return mb_json_str(mb_json_get(entry, "kind"));
}

static const mb_json *entry_numbered(const struct story_text *text, int64_t seq)
{
    MB_JSON_EACH(entry, mb_json_get(text->story, "entries"))
        if (mb_json_int(mb_json_get(entry, "seq"), -1) == seq)
            return entry;
    return NULL;
}

/* ---- as it stands ---- */

/* The entry that a field belongs to: where a correction says it now, the corrected one. */
static const mb_json *home_of(const struct story_text *text, const mb_json *field)
{
    const mb_json *entry = entry_numbered(text, mb_json_int(mb_json_get(field, "seq"), -1));
    const mb_json *about = mb_json_get(entry, "corrects");

    return mb_json_true(mb_json_get(field, "corrected")) && about != NULL
               ? entry_numbered(text, mb_json_int(about, -1))
               : entry;
}

static const char *value_now(const struct story_text *text, const mb_json *field)
{
    const char *value = text_of(text, field, "value");

    if (!mb_json_true(mb_json_get(field, "corrected")))
        return value;
    return mb_arena_printf(text->screen->arena, "%s (corrected by entry #%s)", value,
                           text_of(text, field, "seq"));
}

static void print_part(const struct story_text *text, const mb_json *entry, const mb_json *fields)
{
    struct pairs pairs = { .arena = text->screen->arena };

    MB_JSON_EACH(field, in_order(text, kind_of(entry), fields))
        pairs_add(&pairs, title_of(text, kind_of(entry), field->name), value_now(text, field));
    screen_say(text->screen, PLAIN, 2, "%s (entry #%s)", text_of(text, entry, "title"),
               text_of(text, entry, "seq"));
    pairs_print(text->screen, 4, &pairs);
}

/* Township, range and section, as the description was read. */
static void print_land(const struct story_text *text)
{
    const mb_json *land = mb_json_get(text->story, "landDescription");

    if (land == NULL)
        return;
    if (mb_json_get(land, "read") == NULL) {
        screen_say(text->screen, PLAIN, 2,
                   "The land description is kept as written, and was not read as township, range"
                   " and section (%s).",
                   text_of(text, land, "notRead"));
        return;
    }
    screen_say(text->screen, PLAIN, 2, "The land description was read as: %s",
               text_of(text, land, "read"));
    if (mb_json_get(land, "notUnderstood") != NULL)
        screen_say(text->screen, PLAIN, 2, "Not understood in it: %s",
                   text_of(text, land, "notUnderstood"));
    if (mb_json_get(land, "nominalAcres") != NULL)
        screen_say(text->screen, PLAIN, 2, "Nominal size: %s acres",
                   text_of(text, land, "nominalAcres"));
    screen_say(text->screen, FAINT, 2, "%s", text_of(text, land, "caution"));
}

void story_print_now(const struct story_text *text)
{
    mb_arena *arena = text->screen->arena;
    const mb_json *now = mb_json_get(text->story, "now");

    if (now == NULL || now->count == 0)
        return;
    screen_heading(text->screen, "As it stands");
    MB_JSON_EACH(entry, mb_json_get(text->story, "entries")) {
        mb_json *fields = mb_json_object(arena);
        MB_JSON_EACH(field, now)
            if (home_of(text, field) == entry)
                mb_json_put_str(arena, fields, field->name, mb_json_copy(arena, field));
        if (fields->count > 0)
            print_part(text, entry, fields);
    }
    print_land(text);
}

/* ---- what was written down ---- */

static bool is_struck(const mb_json *entry)
{
    return mb_json_is(mb_json_get(entry, "voided"), MB_JSON_INTEGER);
}

static const char *line_of(const struct story_text *text, const mb_json *entry)
{
    const char *line = text_of(text, entry, "line");

    if (*line == '\0')
        line = text_of(text, entry, "title");
    if (!is_struck(entry))
        return line;
    return mb_arena_printf(text->screen->arena, "[struck out by entry #%s] %s",
                           text_of(text, entry, "voided"), line);
}

/* The fields of a correction that are about the correction itself. */
static bool is_about_correcting(const struct story_text *text, struct mb_str name)
{
    const mb_json *form = named(text->kinds, "kind", MB_STR("correction"));
    const mb_json *common = named(text->kinds, "kind", MB_STR("common"));

    return named(mb_json_get(form, "fields"), "name", name) != NULL
           || named(mb_json_get(common, "fields"), "name", name) != NULL;
}

/* What a correction put in the place of what: both are shown. */
static void print_changes(const struct story_text *text, const mb_json *entry)
{
    mb_arena *arena = text->screen->arena;
    const mb_json *target = entry_numbered(text, mb_json_int(mb_json_get(entry, "corrects"), -1));

    if (target == NULL || !mb_json_text_is(mb_json_get(entry, "kind"), "correction"))
        return;
    MB_JSON_EACH(field, mb_json_get(entry, "fields")) {
        const mb_json *was = mb_json_get_str(mb_json_get(target, "fields"), field->name);
        if (is_about_correcting(text, field->name))
            continue;
        screen_say(text->screen, PLAIN, STORY_HANG, "%s: %s, before that %s",
                   title_of(text, kind_of(target), field->name),
                   mb_json_is(field, MB_JSON_NULL) ? "taken away" : wording(arena, field),
                   was != NULL ? wording(arena, was) : "nothing");
    }
}

static void print_fields(const struct story_text *text, const mb_json *entry)
{
    mb_arena *arena = text->screen->arena;
    struct pairs pairs = { .arena = arena };

    MB_JSON_EACH(field, in_order(text, kind_of(entry), mb_json_get(entry, "fields")))
        pairs_add(&pairs, title_of(text, kind_of(entry), field->name), wording(arena, field));
    pairs_print(text->screen, STORY_HANG, &pairs);
}

static void print_entry(const struct story_text *text, const mb_json *entry)
{
    mb_arena *arena = text->screen->arena;
    const char *by = text_of(text, entry, "by"), *day = text_of(text, entry, "day");
    const char *written =
        mb_arena_printf(arena, "%.10s", wording_moment(arena, mb_json_get(entry, "iat")));
    const char *label, *line = line_of(text, entry);
    bool late;

    if (*day == '\0')
        day = written;
    late = strcmp(day, written) != 0;
    label = mb_arena_printf(arena, "%-6s %.10s",
                            mb_arena_printf(arena, "#%s", text_of(text, entry, "seq")), day);
    screen_item(text->screen, is_struck(entry) ? STRUCK : PLAIN, 2, STORY_HANG, label,
                mb_str_of(line));
    if (strlen(day) > 10)
        screen_say(text->screen, PLAIN, STORY_HANG, "(%s)", day);
    if (*by != '\0' || late)
        screen_say(text->screen, FAINT, STORY_HANG, "(by %s%s%s)", *by ? by : "an unknown key",
                   late ? ", written down " : "", late ? written : "");
    print_changes(text, entry);
    MB_JSON_EACH(erased, mb_json_get(entry, "erased"))
        screen_say(text->screen, PLAIN, STORY_HANG, "%s erased by entry #%s (%s)",
                   wording_count(arena, mb_json_int(mb_json_get(erased, "count"), 0), "field",
                                 "fields"),
                   text_of(text, erased, "seq"), text_of(text, erased, "ground"));
    if (text->full)
        print_fields(text, entry);
}

void story_print_entries(const struct story_text *text)
{
    const mb_json *entries = mb_json_get(text->story, "entries");

    if (entries == NULL || entries->count == 0)
        return;
    screen_heading(text->screen, "What was written down");
    MB_JSON_EACH(entry, entries)
        print_entry(text, entry);
}

/* ---- tables ---- */

/* Columns that come first and last where they are; the others between, as they come. */
static const char *const first_columns[] = { "day", "from", "until", "name", "party", "label" };
static const char *const last_columns[] = { "seq", "seqIn", "seqOut" };
static const char *const last_titles[] = { "entry", "in by", "out by" };
enum {
    FIRST_COUNT = sizeof first_columns / sizeof *first_columns,
    LAST_COUNT = sizeof last_columns / sizeof *last_columns
};

static bool is_one_of(struct mb_str name, const char *const *names, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (mb_str_is(name, names[i]))
            return true;
    return false;
}

static bool is_anywhere(const mb_json *list, const char *name)
{
    MB_JSON_EACH(object, list)
        if (mb_json_get(object, name) != NULL)
            return true;
    return false;
}

/* {member: title of its column} */
static mb_json *columns_of(mb_arena *arena, const mb_json *list)
{
    mb_json *columns = mb_json_object(arena);

    for (size_t i = 0; i < FIRST_COUNT; i++)
        if (is_anywhere(list, first_columns[i]))
            mb_json_put_text(arena, columns, first_columns[i], first_columns[i]);
    MB_JSON_EACH(object, list)
        MB_JSON_EACH(member, object)
            if (!is_one_of(member->name, first_columns, FIRST_COUNT)
                && !is_one_of(member->name, last_columns, LAST_COUNT))
                mb_json_put_str(arena, columns, member->name,
                                mb_json_string(arena, wording_name(arena, member->name)));
    for (size_t i = 0; i < LAST_COUNT; i++)
        if (is_anywhere(list, last_columns[i]))
            mb_json_put_text(arena, columns, last_columns[i], last_titles[i]);
    return columns;
}

static mb_json *table_of(mb_arena *arena, const mb_json *list)
{
    mb_json *table = mb_json_object(arena), *titles = mb_json_array(arena);
    mb_json *columns = columns_of(arena, list), *rows = mb_json_array(arena);

    MB_JSON_EACH(column, columns)
        mb_json_add(titles, mb_json_copy(arena, column));
    MB_JSON_EACH(object, list) {
        mb_json *row = mb_json_add(rows, mb_json_array(arena));
        MB_JSON_EACH(column, columns) {
            const mb_json *value = mb_json_get_str(object, column->name);
            mb_json_add(row, value != NULL ? mb_json_copy(arena, value) : mb_json_null(arena));
        }
    }
    mb_json_put(arena, table, "columns", titles);
    mb_json_put(arena, table, "rows", rows);
    return table;
}

void story_print_list(const struct story_text *text, const mb_json *list, const char *heading)
{
    if (list == NULL || list->count == 0)
        return;
    screen_heading(text->screen, heading);
    if (mb_json_is(list->first, MB_JSON_OBJECT)) {
        screen_table(text->screen, table_of(text->screen->arena, list));
        return;
    }
    MB_JSON_EACH(one, list)
        screen_say(text->screen, PLAIN, 2, "%s", wording(text->screen->arena, one));
}

void story_print_account(const struct story_text *text)
{
    const mb_json *account = mb_json_get(text->story, "account");
    const char *now = text_of(text, account, "now");

    story_print_list(text, mb_json_get(account, "rows"), "Account of the pieces");
    if (*now != '\0')
        screen_say(text->screen, PLAIN, 0, "Pieces now: %s", now);
}
