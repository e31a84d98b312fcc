#include "intake_map.h"

#include <string.h>

#include "buf.h"
#include "codec.h"
#include "fileio.h"
#include "kinds.h"
#include "sha256.h"
#include "text.h"

#define MAP_MAX (1u << 20)
#define TEMPLATE_MAX (1u << 20)
#define ID_PART_MAX 40

static size_t column_of(const struct mb_map *map, struct mb_str name)
{
    for (size_t i = 0; i < map->count; i++)
        if (mb_str_equal(map->columns[i], name))
            return i;
    return map->count;
}

/* " (did you mean 'x'?)", or nothing. */
static const char *nearest(mb_arena *arena, struct mb_str word, const char *const *names,
                           size_t count)
{
    const char *near = mb_nearest(word, names, count);

    return near ? mb_arena_printf(arena, " (did you mean '%s'?)", near) : "";
}

static enum mb_rc no_column(const struct mb_map *map, struct mb_str name, struct mb_error *err)
{
    const char **names = MB_ARRAY(map->arena, map->count + 1, const char *);

    for (size_t i = 0; i < map->count; i++)
        names[i] = mb_arena_copy(map->arena, map->columns[i].at, map->columns[i].len);
    return mb_fail(err, MB_REFUSED, "the table has no column '%.*s'%s", MB_STR_ARG(name),
                   nearest(map->arena, name, names, map->count));
}

/* The next {column} of a template and the text before it; false if a brace is not closed. A bar may
 * stand in a column's own name too. */
static bool next_part(const struct mb_map *map, struct mb_str *text, struct mb_str *plain,
                      struct mb_str *column, struct mb_str *how)
{
    struct mb_str inside;

    *column = *how = (struct mb_str){ NULL, 0 };
    if (!mb_str_cut(*text, '{', plain, text))
        return true;
    if (!mb_str_cut(*text, '}', &inside, text))
        return false;
    if (column_of(map, inside) < map->count)
        *column = inside;
    else
        mb_str_cut(inside, '|', column, how);
    return true;
}

static const mb_json *template_of(const mb_json *field)
{
    return field->type == MB_JSON_OBJECT ? mb_json_get(field, "from") : field;
}

static enum mb_rc tie_template(struct mb_map *map, const mb_json *template, struct mb_error *err)
{
    struct mb_str text = mb_json_str(template), plain, column, how;

    if (!text.at)
        return mb_fail(err, MB_REFUSED, "the map gives something that is no text as a template");
    while (text.len) {
        size_t at;

        if (!next_part(map, &text, &plain, &column, &how))
            return mb_fail(err, MB_REFUSED, "in '%.*s' a brace is opened and not closed",
                           MB_STR_ARG(mb_json_str(template)));
        if (!column.at)
            break;
        at = column_of(map, column);
        if (at == map->count)
            return no_column(map, column, err);
        if (how.len && !mb_str_is(how, "id"))
            return mb_fail(err, MB_REFUSED, "'{%.*s|%.*s}': the only way to change a column is |id",
                           MB_STR_ARG(column), MB_STR_ARG(how));
        map->used[at] = true;
    }
    return MB_OK;
}

static enum mb_rc check_members(mb_arena *arena, const mb_json *object, const char *const *names,
                                size_t count, const char *what, struct mb_error *err)
{
    MB_JSON_EACH(member, object)
    {
        size_t i = 0;

        while (i < count && !mb_str_is(member->name, names[i]))
            i++;
        if (i == count)
            return mb_fail(err, MB_REFUSED, "%s has no member '%.*s'%s", what,
                           MB_STR_ARG(member->name), nearest(arena, member->name, names, count));
    }
    return MB_OK;
}

static enum mb_rc check_field(mb_arena *arena, const struct mb_kind *kind, struct mb_str name,
                              struct mb_error *err)
{
    const char **names;

    if (!kind || mb_kind_field(kind, name))
        return MB_OK;
    names = MB_ARRAY(arena, kind->count + 1, const char *);
    for (size_t i = 0; i < kind->count; i++)
        names[i] = kind->fields[i].name.at;
    return mb_fail(err, MB_REFUSED, "kind %s has no field '%.*s'%s", kind->name.at,
                   MB_STR_ARG(name), nearest(arena, name, names, kind->count));
}

/* The kind that an entry of the map is of, where the map alone says it; a correction has the fields
 * of any. */
static enum mb_rc kind_of(struct mb_map *map, const mb_json *entry, const struct mb_kind **out,
                          struct mb_error *err)
{
    struct mb_str name = mb_json_str(mb_json_get(entry, "kind"));
    const char **names = MB_ARRAY(map->arena, mb_kinds_count() + 1, const char *);

    *out = NULL;
    if (!name.at)
        return mb_fail(err, MB_REFUSED, "an entry of the map names no kind");
    if (memchr(name.at, '{', name.len) || mb_str_is(name, "correction"))
        return MB_OK;
    *out = mb_kind_find(name);
    for (size_t i = 0; i < mb_kinds_count(); i++)
        names[i] = mb_kinds_at(i)->name.at;
    return *out ? MB_OK
                : mb_fail(err, MB_REFUSED, "there is no kind '%.*s'%s", MB_STR_ARG(name),
                          nearest(map->arena, name, names, mb_kinds_count()));
}

static enum mb_rc tie_field(struct mb_map *map, const struct mb_kind *kind, const mb_json *field,
                            struct mb_error *err)
{
    static const char *const members[] = { "from", "values", "else" };
    const mb_json *values = NULL, *otherwise = NULL;
    enum mb_rc rc = check_field(map->arena, kind, field->name, err);

    if (!rc && field->type == MB_JSON_OBJECT) {
        rc = check_members(map->arena, field, members, 3, "a field of the map", err);
        values = mb_json_get(field, "values");
        otherwise = mb_json_get(field, "else");
    }
    MB_JSON_EACH(value, values)
    {
        if (!rc && value->type != MB_JSON_STRING && value->type != MB_JSON_NULL)
            rc = mb_fail(err, MB_REFUSED, "field %.*s: '%.*s' is translated into something that is"
                                          " no text",
                         MB_STR_ARG(field->name), MB_STR_ARG(value->name));
    }
    if (!rc && ((values && values->type != MB_JSON_OBJECT) || (otherwise && !values)
                || (otherwise && otherwise->type != MB_JSON_STRING
                    && otherwise->type != MB_JSON_NULL)))
        rc = mb_fail(err, MB_REFUSED, "field %.*s: values is {\"from this\":\"to that\"}, and else,"
                                      " beside it, a text or null",
                     MB_STR_ARG(field->name));
    return rc ? rc : tie_template(map, template_of(field), err);
}

static enum mb_rc tie_when(struct mb_map *map, const mb_json *when, struct mb_error *err)
{
    static const char *const members[] = { "column", "in" };
    struct mb_str column = mb_json_str(mb_json_get(when, "column"));
    enum mb_rc rc;

    if (!when)
        return MB_OK;
    rc = check_members(map->arena, when, members, 2, "when", err);
    if (!rc && mb_json_get(when, "in") && !mb_json_is(mb_json_get(when, "in"), MB_JSON_ARRAY))
        rc = mb_fail(err, MB_REFUSED, "when: in is a list of texts");
    if (!rc && column_of(map, column) == map->count)
        rc = no_column(map, column, err);
    return rc;
}

static enum mb_rc tie_entry(struct mb_map *map, const mb_json *entry, struct mb_error *err)
{
    static const char *const members[] = { "kind", "subject", "once", "when", "fields", "rest" };
    const mb_json *rest = mb_json_get(entry, "rest"), *fields = mb_json_get(entry, "fields");
    const struct mb_kind *kind = NULL;
    enum mb_rc rc = check_members(map->arena, entry, members, 6, "an entry of the map", err);

    if (!rc)
        rc = kind_of(map, entry, &kind, err);
    if (!rc)
        rc = tie_template(map, mb_json_get(entry, "kind"), err);
    if (!rc)
        rc = tie_template(map, mb_json_get(entry, "subject"), err);
    if (!rc)
        rc = tie_when(map, mb_json_get(entry, "when"), err);
    if (!rc && fields && fields->type != MB_JSON_OBJECT)
        rc = mb_fail(err, MB_REFUSED, "fields is {\"field\":\"template\"}");
    MB_JSON_EACH(field, fields)
    {
        if (!rc)
            rc = tie_field(map, kind, field, err);
    }
    if (!rc && rest && !mb_json_str(rest).at)
        rc = mb_fail(err, MB_REFUSED, "rest is the name of a field");
    if (!rc && rest)
        rc = check_field(map->arena, kind, mb_json_str(rest), err);
    return rc;
}

/* Without a map every column is the field it is called by. */
static const mb_json *own_map(struct mb_map *map)
{
    mb_arena *arena = map->arena;
    mb_json *json = mb_json_object(arena), *entry = mb_json_object(arena);
    mb_json *fields = mb_json_object(arena);

    for (size_t i = 0; i < map->count; i++)
        if (!mb_str_is(map->columns[i], "kind") && !mb_str_is(map->columns[i], "subject"))
            mb_json_put_str(arena, fields, map->columns[i],
                            mb_json_string(arena, mb_arena_printf(arena, "{%.*s}",
                                                                  MB_STR_ARG(map->columns[i]))));
    mb_json_put_text(arena, entry, "kind", "{kind}");
    mb_json_put_text(arena, entry, "subject", "{subject}");
    mb_json_put(arena, entry, "fields", fields);
    mb_json_add(mb_json_put(arena, json, "entries", mb_json_array(arena)), entry);
    return json;
}

static enum mb_rc read_file(struct mb_map *map, const char *path, struct mb_error *err)
{
    static const char *const members[] = { "format", "entries" };
    struct mb_str bytes;
    enum mb_rc rc = mb_file_read(map->arena, path, MAP_MAX, &bytes, err);

    if (!rc)
        rc = mb_json_read(map->arena, bytes, MB_JSON_PLAIN, &map->json, err);
    if (!rc && !mb_json_text_is(mb_json_get(map->json, "format"), "markerbed-map/1"))
        rc = mb_fail(err, MB_REFUSED, "it is no map: its format is not markerbed-map/1");
    if (!rc)
        rc = check_members(map->arena, map->json, members, 2, "the map", err);
    if (!rc && !mb_json_is(mb_json_get(map->json, "entries"), MB_JSON_ARRAY))
        rc = mb_fail(err, MB_REFUSED, "the map has no list of entries");
    return rc;
}

enum mb_rc mb_map_read(mb_arena *arena, const char *path, const struct mb_str *columns,
                       size_t count, struct mb_map *out, struct mb_error *err)
{
    struct mb_map map = { .arena = arena, .count = count };
    enum mb_rc rc = MB_OK;

    map.columns = MB_ARRAY(arena, count + 1, struct mb_str);
    map.used = MB_ARRAY(arena, count + 1, bool);
    for (size_t i = 0; i < count; i++) {
        map.columns[i] = mb_arena_str(arena, mb_str_trim(columns[i]));
        if (map.columns[i].len == 0)
            map.columns[i] = mb_str_of(mb_arena_printf(arena, "column %zu", i + 1));
        for (size_t j = 0; j < i; j++)
            if (mb_str_equal(map.columns[i], map.columns[j]))
                return mb_fail(err, MB_REFUSED, "two columns are called '%.*s'",
                               MB_STR_ARG(map.columns[i]));
    }
    if (path)
        rc = read_file(&map, path, err);
    else if (column_of(&map, MB_STR("kind")) == count
             || column_of(&map, MB_STR("subject")) == count)
        return mb_fail(err, MB_REFUSED,
                       "the table has no columns `kind` and `subject`; name a map with --map"
                       " (docs/intake.md)");
    else
        map.json = own_map(&map);
    MB_JSON_EACH(entry, mb_json_get(map.json, "entries"))
    {
        if (!rc)
            rc = tie_entry(&map, entry, err);
    }
    if (rc) {
        if (path)
            mb_fail_where(err, "%s", path);
        return rc;
    }
    *out = map;
    return MB_OK;
}

static struct mb_str cell(const struct mb_map *map, const struct mb_csv_record *record, size_t at)
{
    (void)map;
    return at < record->count ? mb_str_trim(record->fields[at]) : (struct mb_str){ NULL, 0 };
}

/* Letters, digits and . _ - stay; what else stands there becomes a hyphen, and where anything was
 * changed a few characters of its hash keep different cells different. */
static void add_id(struct mb_buf *out, struct mb_str text)
{
    struct mb_hash hash = mb_sha256_str(text);
    char hex[MB_HEX_LEN(32) + 1];
    bool changed = text.len > ID_PART_MAX;
    size_t n = changed ? ID_PART_MAX : text.len;

    for (size_t i = 0; i < n; i++) {
        char c = text.at[i];
        bool good = (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9')
                    || c == '.' || c == '_' || c == '-';

        changed = changed || !good;
        mb_buf_add_char(out, good ? c : '-');
    }
    mb_hex_write(hex, hash.b, 4);
    if (changed)
        mb_buf_printf(out, "-%s", hex);
}

/* NULL where the template has columns and all of them are empty. */
static const char *fill_in(const struct mb_map *map, mb_arena *arena, struct mb_str text,
                           const struct mb_csv_record *record)
{
    MB_BUF_AUTO struct mb_buf out = { 0 };
    bool any_column = false, any_value = false;

    mb_buf_init(&out, TEMPLATE_MAX);
    while (text.len) {
        struct mb_str plain, column, how, value;

        if (!next_part(map, &text, &plain, &column, &how))
            break;
        mb_buf_add_str(&out, plain);
        if (!column.at)
            break;
        value = cell(map, record, column_of(map, column));
        any_column = true;
        any_value = any_value || value.len;
        if (how.len)
            add_id(&out, value);
        else
            mb_buf_add_str(&out, value);
    }
    if (any_column && !any_value)
        return NULL;
    return mb_arena_copy(arena, out.at ? out.at : "", out.len);
}

static const char *translate(mb_arena *arena, const mb_json *rule, const char *value)
{
    const mb_json *values = mb_json_get(rule, "values"), *otherwise = mb_json_get(rule, "else");
    const mb_json *found;

    if (!values)
        return value;
    found = mb_json_get(values, value ? value : "");
    if (!found && !value)
        return NULL;
    if (!found)
        return otherwise ? mb_json_cstr(arena, otherwise) : value;
    return mb_json_cstr(arena, found);
}

static bool wanted(const struct mb_map *map, const mb_json *entry,
                   const struct mb_csv_record *record)
{
    const mb_json *when = mb_json_get(entry, "when"), *in = mb_json_get(when, "in");
    struct mb_str value;

    if (!when)
        return true;
    value = cell(map, record, column_of(map, mb_json_str(mb_json_get(when, "column"))));
    MB_JSON_EACH(one, in)
    {
        if (mb_str_equal(mb_json_str(one), value))
            return true;
    }
    return !in && value.len > 0;
}

/* Columns that nothing else uses, word for word. */
static const char *rest_of(const struct mb_map *map, mb_arena *arena,
                           const struct mb_csv_record *record)
{
    MB_BUF_AUTO struct mb_buf out = { 0 };

    mb_buf_init(&out, TEMPLATE_MAX);
    for (size_t i = 0; i < map->count; i++) {
        struct mb_str value = cell(map, record, i);

        if (!map->used[i] && value.len)
            mb_buf_printf(&out, "%s%.*s: %.*s", out.len ? "\n" : "", MB_STR_ARG(map->columns[i]),
                          MB_STR_ARG(value));
    }
    return out.len ? mb_arena_copy(arena, out.at, out.len) : NULL;
}

const char *mb_map_columns(const struct mb_map *map, mb_arena *arena, const mb_json *rule,
                           struct mb_str field)
{
    const mb_json *at = mb_json_get_str(mb_json_get(rule, "fields"), field);
    struct mb_str text = at ? mb_json_str(template_of(at)) : (struct mb_str){ NULL, 0 };
    struct mb_str plain, column, how;
    const char *out = NULL;

    while (text.len && next_part(map, &text, &plain, &column, &how) && column.at)
        out = mb_arena_printf(arena, "%s%s%.*s", out ? out : "", out ? ", " : "",
                              MB_STR_ARG(column));
    return out;
}

static void add_value(struct mb_mapped *mapped, const char *name, const char *value)
{
    if (!value)
        return;
    mapped->names[mapped->count] = name;
    mapped->values[mapped->count++] = value;
}

static enum mb_rc map_entry(const struct mb_map *map, mb_arena *arena, const mb_json *entry,
                            const struct mb_csv_record *record, struct mb_mapped *out,
                            struct mb_error *err)
{
    const mb_json *fields = mb_json_get(entry, "fields"), *rest = mb_json_get(entry, "rest");
    const char *kept = rest ? rest_of(map, arena, record) : NULL;
    size_t room = (fields ? fields->count : 0) + 1;

    *out = (struct mb_mapped){ .rule = entry, .once = mb_json_true(mb_json_get(entry, "once")) };
    out->names = MB_ARRAY(arena, room, const char *);
    out->values = MB_ARRAY(arena, room, const char *);
    out->kind = fill_in(map, arena, mb_json_str(mb_json_get(entry, "kind")), record);
    out->subject = fill_in(map, arena, mb_json_str(mb_json_get(entry, "subject")), record);
    if (!out->kind || !out->subject)
        return mb_fail(err, MB_REFUSED, "the row does not say which %s it is about",
                       out->kind ? "subject" : "kind of entry");
    MB_JSON_EACH(field, fields)
    {
        const char *value = fill_in(map, arena, mb_json_str(template_of(field)), record);

        if (kept && mb_str_equal(field->name, mb_json_str(rest)))
            continue;
        if (field->type == MB_JSON_OBJECT)
            value = translate(arena, field, value);
        add_value(out, mb_arena_copy(arena, field->name.at, field->name.len), value);
    }
    if (kept)
        add_value(out, mb_json_cstr(arena, rest), kept);
    return MB_OK;
}

enum mb_rc mb_map_row(const struct mb_map *map, mb_arena *arena,
                      const struct mb_csv_record *record, struct mb_mapped **out, size_t *count,
                      struct mb_error *err)
{
    const mb_json *entries = mb_json_get(map->json, "entries");

    if (record->count != map->count)
        return mb_fail(err, MB_REFUSED, "the row has %zu fields, the header %zu", record->count,
                       map->count);
    *out = MB_ARRAY(arena, entries->count + 1, struct mb_mapped);
    *count = 0;
    MB_JSON_EACH(entry, entries)
    {
        if (wanted(map, entry, record)) {
            enum mb_rc rc = map_entry(map, arena, entry, record, &(*out)[(*count)++], err);

            if (rc)
                return rc;
        }
    }
    return MB_OK;
}
