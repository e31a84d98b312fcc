#include "kinds.h"

#include <markerbed/record.h>
#include <string.h>

#include "kinds_read.h"
#include "text.h"

const char *const mb_value_type_name[MB_VALUE_TYPE_COUNT] = {
    [MB_V_NONE] = "",           [MB_V_TEXT] = "text",         [MB_V_DATE] = "date",
    [MB_V_DECIMAL] = "decimal", [MB_V_INTEGER] = "integer",   [MB_V_CHOICE] = "choice",
    [MB_V_REF] = "ref",         [MB_V_GEOMETRY] = "geometry", [MB_V_FILE] = "file",
    [MB_V_LIST] = "list",       [MB_V_ROWS] = "rows",         [MB_V_TAXON] = "taxon",
    [MB_V_DOI] = "doi",         [MB_V_HASH] = "hash",         [MB_V_DIGEST] = "digest",
    [MB_V_JWK] = "jwk",         [MB_V_VKEY] = "vkey",         [MB_V_ORIGIN] = "origin",
    [MB_V_ENTRY] = "entry",     [MB_V_BOOLEAN] = "boolean",   [MB_V_FRACTION] = "fraction",
    [MB_V_JWS] = "jws",         [MB_V_STATEMENT] = "statement",
};

/* Read once, before any thread is started. */
static struct mb_kinds_table table;

enum mb_rc mb_kinds_start(struct mb_error *err)
{
    enum mb_rc rc = MB_OK;

    if (!table.arena) {
        rc = mb_kinds_read(&table, err);
        if (rc)
            mb_kinds_stop();
    }
    return rc;
}

void mb_kinds_stop(void)
{
    mb_arena_free(table.arena);
    table = (struct mb_kinds_table){ 0 };
}

const struct mb_kind *mb_kind_find(struct mb_str name)
{
    size_t from = 0, to = table.count;

    while (from < to) {
        size_t mid = from + (to - from) / 2;
        int order = mb_str_compare(name, table.kinds[mid].name);

        if (order == 0)
            return &table.kinds[mid];
        if (order < 0)
            to = mid;
        else
            from = mid + 1;
    }
    return NULL;
}

const struct mb_kind_field *mb_kind_field(const struct mb_kind *kind, struct mb_str name)
{
    size_t from = 0, to = kind->count;

    while (from < to) {
        size_t mid = from + (to - from) / 2;
        int order = mb_str_compare(name, kind->sorted[mid]->name);

        if (order == 0)
            return kind->sorted[mid];
        if (order < 0)
            to = mid;
        else
            from = mid + 1;
    }
    return NULL;
}

size_t mb_kinds_count(void)
{
    return table.count;
}

const struct mb_kind *mb_kinds_at(size_t index)
{
    return &table.kinds[index];
}

int mb_choice_find(const struct mb_choices *choices, struct mb_str id)
{
    size_t from = 0, to = choices ? choices->ids.count : 0;

    while (from < to) {
        size_t mid = from + (to - from) / 2;
        int order = mb_str_compare(id, mb_str_of(choices->ids.at[choices->sorted[mid]]));

        if (order == 0)
            return choices->sorted[mid];
        if (order < 0)
            to = mid;
        else
            from = mid + 1;
    }
    return -1;
}

bool mb_words_has(const struct mb_words *words, struct mb_str word)
{
    for (size_t i = 0; i < words->count; i++)
        if (mb_str_is(word, words->at[i]))
            return true;
    return false;
}

void mb_kinds_prefixes(const char *const **names, size_t *count)
{
    static const char *const prefixes[] = { "party",     "site",    "horizon", "permission",
                                            "field-day", "dealing", "place",   "specimen" };

    *names = prefixes;
    *count = sizeof prefixes / sizeof *prefixes;
}

struct mb_words mb_kinds_beginning(struct mb_str prefix)
{
    /* a specimen is found, comes in, is made here, or comes out of or together from others */
    static const char *specimen[] = { "collecting", "arrival", "making", "division", "joining" };
    static const char *place[] = { "placement" };
    static const char *party[] = { "party" };
    static const char *site[] = { "site" };
    static const char *horizon[] = { "horizon" };
    static const char *permission[] = { "permission" };
    static const char *day[] = { "field-day" };
    static const char *dealing[] = { "dealing" };
    static const struct {
        const char *prefix;
        struct mb_words kinds;
    } begin[] = {
        { "specimen", { specimen, sizeof specimen / sizeof *specimen } },
        { "place", { place, 1 } },
        { "party", { party, 1 } },
        { "site", { site, 1 } },
        { "horizon", { horizon, 1 } },
        { "permission", { permission, 1 } },
        { "field-day", { day, 1 } },
        { "dealing", { dealing, 1 } },
    };

    for (size_t i = 0; i < sizeof begin / sizeof *begin; i++)
        if (mb_str_is(prefix, begin[i].prefix))
            return begin[i].kinds;
    return (struct mb_words){ NULL, 0 };
}

static void add_once(const char **names, size_t *count, const char *name)
{
    for (size_t i = 0; i < *count; i++)
        if (strcmp(names[i], name) == 0)
            return;
    names[(*count)++] = name;
}

void mb_kinds_settings(mb_arena *arena, const char ***names, size_t *count)
{
    size_t most = 1;

    for (size_t k = 0; k < table.count; k++)
        for (size_t f = 0; f < table.kinds[k].count; f++)
            most += table.kinds[k].fields[f].from.count;
    *names = MB_ARRAY(arena, most, const char *);
    *count = 0;
    add_once(*names, count, "keeper");
    for (size_t k = 0; k < table.count; k++)
        for (size_t f = 0; f < table.kinds[k].count; f++) {
            const struct mb_words *from = &table.kinds[k].fields[f].from;

            for (size_t i = 0; i < from->count; i++)
                if (strncmp(from->at[i], "setting.", 8) == 0)
                    add_once(*names, count, from->at[i] + 8);
        }
}

char *mb_kinds_join(mb_arena *arena, const char *const *words, size_t count, size_t most)
{
    char *text = mb_arena_text(arena, "");

    for (size_t i = 0; i < count && i < most; i++)
        text = mb_arena_printf(arena, "%s%s%s", text, i ? ", " : "", words[i]);
    if (count > most)
        text = mb_arena_printf(arena, "%s and %zu more", text, count - most);
    return text;
}

static mb_json *kind_data(mb_arena *arena, const struct mb_kind *kind)
{
    mb_json *data = mb_json_object(arena), *fields = mb_json_array(arena);

    MB_JSON_EACH(member, kind->json)
    {
        if (!mb_str_is(member->name, "fields"))
            mb_json_put_str(arena, data, member->name, mb_json_copy(arena, member));
    }
    for (size_t i = 0; i < kind->count; i++) {
        mb_json *field = mb_json_copy(arena, kind->fields[i].json);

        if (kind->fields[i].common)
            mb_json_put_bool(arena, field, "common", true);
        mb_json_add(fields, field);
    }
    mb_json_put(arena, data, "fields", fields);
    return data;
}

enum mb_rc mb_kinds(mb_arena *arena, const mb_json **out, struct mb_error *err)
{
    mb_json *list = mb_json_array(arena);

    if (!table.arena)
        return mb_fail(err, MB_UNABLE, "mb_start was not called");
    for (size_t i = 0; i < table.count; i++)
        mb_json_add(list, kind_data(arena, &table.kinds[i]));
    *out = list;
    return MB_OK;
}
