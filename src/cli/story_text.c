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
static const char *title_of(const struct story_text *text, const mb_json *entry, struct mb_str name)
{
    const mb_json *kind = named(text->kinds, "kind", mb_json_str(mb_json_get(entry, "kind")));
    const mb_json *field = named(mb_json_get(kind, "fields"), "name", name);

    if (field == NULL)
        field = named(mb_json_get(named(text->kinds, "kind", MB_STR("common")), "fields"), "name",
                      name);
    return field != NULL ? text_of(text, field, "title") : wording_name(text->screen->arena, name);
}

/* The fields of an entry in the order of its form, unknown ones last. */
static const mb_json *fields_of(const struct story_text *text, const mb_json *entry)
{
    mb_arena *arena = text->screen->arena;
    const mb_json *given = mb_json_get(entry, "fields");
    const mb_json *forms[] = {
        named(text->kinds, "kind", mb_json_str(mb_json_get(entry, "kind"))),
        named(text->kinds, "kind", MB_STR("common")),
    };
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

/* {"value","class","corrected"?}, or the value alone */
static const char *value_of(const struct story_text *text, const mb_json *field)
{
    const mb_json *value = mb_json_get(field, "value");

    return wording(text->screen->arena, value != NULL ? value : field);
}

/* ---- as it stands ---- */

/* Kinds that say what a subject is; the rest is about papers, people or other entries, or stands in
 * the tables of holders and owners. */
static bool says_what_it_is(const mb_json *entry)
{
    static const char *const others[] = { "certificate", "withdrawal", "correction",
                                          "countersign", "erasure",    "note",
                                          "document",    "custody",    "title" };

    for (size_t i = 0; i < sizeof others / sizeof *others; i++)
        if (mb_json_text_is(mb_json_get(entry, "kind"), others[i]))
            return false;
    return true;
}

static bool is_struck(const mb_json *entry)
{
    const mb_json *voided = mb_json_get(entry, "voided");

    return voided != NULL && !mb_json_is(voided, MB_JSON_NULL)
           && !mb_json_is(voided, MB_JSON_FALSE);
}

static bool same_kind(const mb_json *a, const mb_json *b)
{
    return mb_json_equal(mb_json_get(a, "kind"), mb_json_get(b, "kind"));
}

static bool is_newest(const mb_json *entry)
{
    for (const mb_json *later = entry->next; later != NULL; later = later->next)
        if (same_kind(entry, later) && !is_struck(later))
            return false;
    return true;
}

static void print_newest(const struct story_text *text, const mb_json *entry)
{
    struct pairs pairs = { .arena = text->screen->arena };

    MB_JSON_EACH(field, fields_of(text, entry)) {
        const char *corrected = text_of(text, field, "corrected"), *value = value_of(text, field);
        if (*corrected != '\0')
            value = mb_arena_printf(text->screen->arena, "%s (corrected by entry #%s)", value,
                                    corrected);
        pairs_add(&pairs, title_of(text, entry, field->name), value);
    }
    screen_say(text->screen, PLAIN, 2, "%s (entry #%s)", text_of(text, entry, "title"),
               text_of(text, entry, "seq"));
    pairs_print(text->screen, 4, &pairs);
}

void story_print_now(const struct story_text *text)
{
    bool any = false;

    MB_JSON_EACH(entry, mb_json_get(text->story, "entries")) {
        if (is_struck(entry) || !says_what_it_is(entry) || !is_newest(entry))
            continue;
        if (!any)
            screen_heading(text->screen, "As it stands");
        any = true;
        print_newest(text, entry);
    }
}

/* ---- what was written down ---- */

static const char *with_mark(const struct story_text *text, const mb_json *entry, const char *line)
{
    const mb_json *voided = mb_json_get(entry, "voided");

    if (!is_struck(entry))
        return line;
    if (mb_json_is(voided, MB_JSON_INTEGER))
        return mb_arena_printf(text->screen->arena, "[struck out by entry #%s] %s",
                               text_of(text, entry, "voided"), line);
    return mb_arena_printf(text->screen->arena, "[struck out] %s", line);
}

/* An entry of the same subject named by its leaf hash is named by its number instead. */
static const char *with_numbers(const struct story_text *text, const char *line)
{
    MB_JSON_EACH(entry, mb_json_get(text->story, "entries")) {
        const char *leaf = text_of(text, entry, "leaf"), *at = strstr(line, leaf);
        if (*leaf != '\0' && at != NULL)
            line = mb_arena_printf(text->screen->arena, "%.*sentry #%s%s", (int)(at - line), line,
                                   text_of(text, entry, "seq"), at + strlen(leaf));
    }
    return line;
}

static const char *line_of(const struct story_text *text, const mb_json *entry)
{
    const char *title = text_of(text, entry, "title"), *line = text_of(text, entry, "line");

    if (mb_json_text_is(mb_json_get(entry, "kind"), "correction"))
        line = with_numbers(text, line);
    if (*line == '\0')
        line = title;
    else if (!mb_str_starts(mb_str_of(line), title))
        line = mb_arena_printf(text->screen->arena, "%s: %s", title, line);
    return with_mark(text, entry, line);
}

static const char *who_wrote(const struct story_text *text, const mb_json *entry)
{
    struct mb_str by = mb_json_str(mb_json_get(entry, "by"));
    const mb_json *name = mb_json_get_str(text->names, by);

    return name != NULL ? wording(text->screen->arena, name) : text_of(text, entry, "by");
}

/* What a later entry put right in this one. */
static void print_corrected(const struct story_text *text, const mb_json *entry)
{
    MB_JSON_EACH(field, fields_of(text, entry)) {
        const char *by = text_of(text, field, "corrected"), *was = text_of(text, field, "was");
        if (*by != '\0')
            screen_say(text->screen, PLAIN, STORY_HANG, "[corrected by entry #%s] %s: %s%s%s", by,
                       title_of(text, entry, field->name), value_of(text, field),
                       *was ? ", before that " : "", was);
    }
}

static void print_fields(const struct story_text *text, const mb_json *entry)
{
    struct pairs pairs = { .arena = text->screen->arena };

    MB_JSON_EACH(field, fields_of(text, entry)) {
        const char *class = text_of(text, field, "class"), *value = value_of(text, field);
        if (*class != '\0')
            value = mb_arena_printf(text->screen->arena, "%s [%s]", value, class);
        pairs_add(&pairs, title_of(text, entry, field->name), value);
    }
    pairs_print(text->screen, STORY_HANG, &pairs);
}

static void print_entry(const struct story_text *text, const mb_json *entry)
{
    mb_arena *arena = text->screen->arena;
    const char *by = who_wrote(text, entry), *day = text_of(text, entry, "day");
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
    print_corrected(text, entry);
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

/* Rows of objects as a table: the columns in the order in which they first come. */
static mb_json *table_of(mb_arena *arena, const mb_json *list)
{
    mb_json *table = mb_json_object(arena), *columns = mb_json_array(arena);
    mb_json *names = mb_json_object(arena), *rows = mb_json_array(arena);

    MB_JSON_EACH(object, list)
        MB_JSON_EACH(member, object)
            mb_json_put_str(arena, names, member->name, mb_json_null(arena));
    MB_JSON_EACH(name, names)
        mb_json_add_text(arena, columns,
                         mb_str_is(name->name, "seq") ? "entry" : wording_name(arena, name->name));
    MB_JSON_EACH(object, list) {
        mb_json *row = mb_json_add(rows, mb_json_array(arena));
        MB_JSON_EACH(name, names) {
            const mb_json *value = mb_json_get_str(object, name->name);
            mb_json_add(row, value != NULL ? mb_json_copy(arena, value) : mb_json_null(arena));
        }
    }
    mb_json_put(arena, table, "columns", columns);
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
    const char *pieces = wording_of(text->screen->arena, account, "pieces");

    story_print_list(text, mb_json_get(account, "changes"), "Account of the pieces");
    if (pieces != NULL)
        screen_say(text->screen, PLAIN, 0, "Pieces now: %s", pieces);
}
