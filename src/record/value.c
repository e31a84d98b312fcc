#include "value.h"

#include <string.h>
#include <strings.h>

#include "fileio.h"
#include "geovalue.h"
#include "text.h"
#include "value_scalar.h"

enum { OFFERED = 12, GEOMETRY_MOST = 1 << 20 };

/* ---- answers ---- */

static mb_json *answer(mb_arena *arena, const char *words)
{
    mb_json *value = mb_json_object(arena);

    mb_json_put_text(arena, value, "answer", words);
    return value;
}

static mb_json *find_answer(mb_arena *arena, const struct mb_kind_field *field,
                            struct mb_str typed)
{
    for (size_t i = 0; i < field->answers.count; i++)
        if (strlen(field->answers.at[i]) == typed.len
            && strncasecmp(field->answers.at[i], typed.at, typed.len) == 0)
            return answer(arena, field->answers.at[i]);
    return NULL;
}

struct mb_str mb_answer_of(const mb_json *value)
{
    return mb_json_is(value, MB_JSON_OBJECT) && value->count == 1
               ? mb_json_str(mb_json_get(value, "answer"))
               : (struct mb_str){ NULL, 0 };
}

/* ---- one of several types ---- */

static bool has_type(const struct mb_kind_field *field, enum mb_value_type type)
{
    return field->type == type || field->or_type == type;
}

static bool is_json(struct mb_str typed)
{
    return typed.len > 1
           && ((typed.at[0] == '[' && typed.at[typed.len - 1] == ']')
               || (typed.at[0] == '{' && typed.at[typed.len - 1] == '}'));
}

/* Rows never begin with a bracket when they are typed, so one that is left open is a slip of JSON. */
static bool is_meant_as_json(struct mb_str typed, enum mb_value_type type)
{
    if (type == MB_V_TEXT || type == MB_V_GEOMETRY)
        return false;
    return is_json(typed)
           || (type == MB_V_ROWS && typed.len > 0 && (typed.at[0] == '[' || typed.at[0] == '{'));
}

/* "#123" or 43 characters of base64url. */
static bool looks_like_entry(struct mb_str typed)
{
    struct mb_hash hash;

    if (mb_b64u_read_exact(typed, hash.b, sizeof hash.b))
        return true;
    if (typed.len < 2 || typed.at[0] != '#')
        return false;
    for (size_t i = 1; i < typed.len; i++)
        if (typed.at[i] < '0' || typed.at[i] > '9')
            return false;
    return true;
}

static bool looks_like_ref(const struct mb_value_in *in, const struct mb_kind_field *field,
                           struct mb_str typed)
{
    struct mb_str prefix, id, subject;

    if (mb_str_cut(typed, '/', &prefix, &id))
        return mb_words_has(&field->refs, prefix);
    return mb_id_ok(typed) && in->ref
           && in->ref(in->ctx, &field->refs, typed, true, &subject, NULL) == MB_OK;
}

/* A word that looks like one of the list and is none of it. */
static void own_words(const struct mb_value_in *in, const struct mb_kind_field *field,
                      struct mb_str typed)
{
    const char *near = mb_scalar_near(&field->choices->ids, typed);

    if (near && in->note)
        in->note(in->ctx, mb_arena_printf(in->arena,
                                          "field %s: '%.*s' was taken as your own word; the list"
                                          " has '%s'",
                                          field->name.at, MB_STR_ARG(typed), near));
}

/* Which of a field's two types a text is meant as. */
static enum mb_value_type meant(const struct mb_value_in *in, const struct mb_kind_field *field,
                                struct mb_str typed)
{
    enum mb_value_type other = field->type;

    if (field->or_type == MB_V_NONE)
        return field->type;
    if (has_type(field, MB_V_CHOICE)) {
        if (mb_scalar_choice(field->choices, typed) >= 0)
            return MB_V_CHOICE;
        if (field->type == MB_V_CHOICE)
            other = field->or_type;
        if (other == MB_V_TEXT)
            own_words(in, field, typed);
        return other;
    }
    if (has_type(field, MB_V_ENTRY) && looks_like_entry(typed))
        return MB_V_ENTRY;
    if (has_type(field, MB_V_TEXT)) {
        other = field->type == MB_V_TEXT ? field->or_type : field->type;
        return other == MB_V_REF && looks_like_ref(in, field, typed) ? MB_V_REF : MB_V_TEXT;
    }
    return field->type == MB_V_ENTRY ? field->or_type : field->type;
}

/* ---- single values that the ledger has a say in ---- */

static enum mb_rc read_ref(const struct mb_value_in *in, const struct mb_kind_field *field,
                           struct mb_str typed, mb_json **out, struct mb_error *err)
{
    struct mb_str subject;
    enum mb_rc rc = in->ref ? in->ref(in->ctx, &field->refs, typed, false, &subject, err)
                            : mb_fail(err, MB_REFUSED, "nothing can be named here");

    if (rc)
        return rc;
    *out = mb_json_object(in->arena);
    mb_json_put(in->arena, *out, "ref", mb_json_string_str(in->arena, subject));
    return MB_OK;
}

static enum mb_rc read_entry(const struct mb_value_in *in, struct mb_str typed, mb_json **out,
                             struct mb_error *err)
{
    struct mb_str leaf;
    enum mb_rc rc;

    if (!looks_like_entry(typed))
        return mb_fail(err, MB_REFUSED, "'%.*s' is no entry; write its number, like #123",
                       MB_STR_ARG(typed));
    rc = in->entry ? in->entry(in->ctx, typed, &leaf, err)
                   : mb_fail(err, MB_REFUSED, "no entry can be named here");
    if (rc)
        return rc;
    *out = mb_json_object(in->arena);
    mb_json_put(in->arena, *out, "entry", mb_json_string_str(in->arena, leaf));
    return MB_OK;
}

static enum mb_rc read_file(const struct mb_value_in *in, const struct mb_kind_field *field,
                            struct mb_str typed, mb_json **out, struct mb_error *err)
{
    return in->file ? in->file(in->ctx, field, typed, out, err)
                    : mb_fail(err, MB_REFUSED, "no file can be attached here");
}

static enum mb_rc read_geometry(const struct mb_value_in *in, struct mb_str typed, mb_json **out,
                                struct mb_error *err)
{
    const char *path = is_json(typed) ? NULL : mb_arena_copy(in->arena, typed.at, typed.len);
    const mb_json *json;
    enum mb_rc rc = MB_OK;

    if (path)
        rc = mb_file_read(in->arena, path, GEOMETRY_MOST, &typed, err);
    if (!rc)
        rc = mb_json_read(in->arena, typed, MB_JSON_PLAIN, &json, err);
    if (!rc)
        rc = mb_geovalue_read(in->arena, json, out, err);
    if (rc && path)
        mb_fail_where(err, "%s", path);
    return rc;
}

/* ---- lists ---- */

static enum mb_rc read_list_json(const struct mb_value_in *in, const struct mb_kind_field *field,
                                 const mb_json *given, mb_json **out, struct mb_error *err)
{
    mb_json *list = mb_json_array(in->arena);

    if (given->count == 0)
        return mb_fail(err, MB_REFUSED, "the list is empty");
    MB_JSON_EACH(child, given)
    {
        mb_json *value;
        enum mb_rc rc = mb_value_take(in, field->of, child, &value, err);

        if (rc)
            return rc;
        mb_json_add(list, value);
    }
    *out = list;
    return MB_OK;
}

/* Where the next part of a typed list ends: at " | ", or for values that hold no bar at any. */
static bool cut_part(struct mb_str *rest, bool any_bar, struct mb_str *part)
{
    for (size_t i = 0; i < rest->len; i++)
        if (rest->at[i] == '|'
            && (any_bar
                || (i > 0 && rest->at[i - 1] == ' ' && i + 1 < rest->len
                    && rest->at[i + 1] == ' '))) {
            *part = mb_str_trim((struct mb_str){ rest->at, i });
            *rest = (struct mb_str){ rest->at + i + 1, rest->len - i - 1 };
            return true;
        }
    *part = mb_str_trim(*rest);
    rest->len = 0;
    return false;
}

static enum mb_rc read_list(const struct mb_value_in *in, const struct mb_kind_field *field,
                            struct mb_str typed, mb_json **out, struct mb_error *err)
{
    bool any_bar = !has_type(field->of, MB_V_TEXT), more = true;
    mb_json *list = mb_json_array(in->arena);
    struct mb_str part;

    while (more) {
        mb_json *value;
        enum mb_rc rc;

        more = cut_part(&typed, any_bar, &part);
        if (part.len == 0)
            return mb_fail(err, MB_REFUSED, "a part of the list is empty; write a | b");
        rc = mb_value_read(in, field->of, part, &value, err);
        if (rc)
            return rc;
        mb_json_add(list, value);
    }
    *out = list;
    return MB_OK;
}

/* ---- rows ---- */

static const struct mb_kind_field *column_of(const struct mb_kind_field *field, struct mb_str name)
{
    for (size_t i = 0; i < field->column_count; i++)
        if (mb_str_equal(field->columns[i].name, name))
            return &field->columns[i];
    return NULL;
}

static enum mb_rc no_column(const struct mb_value_in *in, const struct mb_kind_field *field,
                            struct mb_str name, struct mb_error *err)
{
    const char **names = MB_ARRAY(in->arena, field->column_count, const char *), *near;

    for (size_t i = 0; i < field->column_count; i++)
        names[i] = field->columns[i].name.at;
    near = mb_nearest(name, names, field->column_count);
    return mb_fail(err, MB_REFUSED, "there is no column '%.*s'%s%s%s; there are: %s",
                   MB_STR_ARG(name), near ? " (did you mean " : "", near ? near : "",
                   near ? "?)" : "", mb_kinds_join(in->arena, names, field->column_count, OFFERED));
}

static enum mb_rc check_row(const struct mb_kind_field *field, const mb_json *row,
                            struct mb_error *err)
{
    if (row->count == 0)
        return mb_fail(err, MB_REFUSED, "it is empty");
    for (size_t i = 0; i < field->column_count; i++) {
        const struct mb_kind_field *column = &field->columns[i];

        if (column->required == MB_REQUIRED_YES && !mb_json_get_str(row, column->name))
            return mb_fail(err, MB_REFUSED, "the column %s is missing", column->name.at);
    }
    return MB_OK;
}

/* One column of a row, typed or as JSON. An empty text is no value. */
static enum mb_rc put_column(const struct mb_value_in *in, const struct mb_kind_field *field,
                             struct mb_str name, const mb_json *json, struct mb_str typed,
                             mb_json *row, struct mb_error *err)
{
    const struct mb_kind_field *column = column_of(field, name);
    mb_json *value;
    enum mb_rc rc;

    if (!column)
        return no_column(in, field, name, err);
    if (mb_json_get_str(row, name))
        return mb_fail(err, MB_REFUSED, "the column %s stands there twice", column->name.at);
    if (json ? mb_json_is(json, MB_JSON_NULL) : typed.len == 0)
        return MB_OK;
    rc = json ? mb_value_take(in, column, json, &value, err)
              : mb_value_read(in, column, typed, &value, err);
    if (rc) {
        mb_fail_where(err, "column %s", column->name.at);
        return rc;
    }
    mb_json_put_str(in->arena, row, column->name, value);
    return MB_OK;
}

static enum mb_rc read_row(const struct mb_value_in *in, const struct mb_kind_field *field,
                           struct mb_str typed, mb_json *row, struct mb_error *err)
{
    while (typed.len > 0) {
        struct mb_str cell, name, value;
        enum mb_rc rc;

        mb_str_cut(typed, ';', &cell, &typed);
        cell = mb_str_trim(cell);
        if (cell.len == 0)
            continue;
        if (!mb_str_cut(cell, ':', &name, &value)) {
            const char **names = MB_ARRAY(in->arena, field->column_count, const char *);

            for (size_t i = 0; i < field->column_count; i++)
                names[i] = field->columns[i].name.at;
            return mb_fail(err, MB_REFUSED,
                           "'%.*s' names no column; write column:value; column:value with: %s",
                           MB_STR_ARG(cell),
                           mb_kinds_join(in->arena, names, field->column_count, OFFERED));
        }
        rc = put_column(in, field, mb_str_trim(name), NULL, mb_str_trim(value), row, err);
        if (rc)
            return rc;
    }
    return check_row(field, row, err);
}

static enum mb_rc take_row(const struct mb_value_in *in, const struct mb_kind_field *field,
                           const mb_json *given, mb_json *row, struct mb_error *err)
{
    if (mb_json_is(given, MB_JSON_STRING))
        return read_row(in, field, given->text, row, err);
    if (!mb_json_is(given, MB_JSON_OBJECT))
        return mb_fail(err, MB_REFUSED, "it is no row; write {\"column\":\"value\"}");
    MB_JSON_EACH(cell, given)
    {
        enum mb_rc rc = put_column(in, field, cell->name, cell, mb_json_str(cell), row, err);

        if (rc)
            return rc;
    }
    return check_row(field, row, err);
}

static enum mb_rc read_rows(const struct mb_value_in *in, const struct mb_kind_field *field,
                            const mb_json *json, struct mb_str typed, mb_json **out,
                            struct mb_error *err)
{
    mb_json *rows = mb_json_array(in->arena);
    const mb_json *given = mb_json_is(json, MB_JSON_ARRAY) ? json->first : json;
    bool more = true;

    if (json && !given)
        return mb_fail(err, MB_REFUSED, "there are no rows in it");
    while (json ? given != NULL : more) {
        mb_json *row = mb_json_object(in->arena);
        struct mb_str part;
        enum mb_rc rc;

        if (json) {
            rc = take_row(in, field, given, row, err);
            given = given->next;
            if (!mb_json_is(json, MB_JSON_ARRAY))
                given = NULL;
        } else {
            more = cut_part(&typed, false, &part);
            rc = read_row(in, field, part, row, err);
        }
        if (rc) {
            mb_fail_where(err, "row %u", rows->count + 1);
            return rc;
        }
        mb_json_add(rows, row);
    }
    *out = rows;
    return MB_OK;
}

/* ---- reading ---- */

static enum mb_rc take_statement(const struct mb_value_in *in, const mb_json *json, mb_json **out,
                                 struct mb_error *err)
{
    if (!mb_json_is(mb_json_get(json, "lines"), MB_JSON_ARRAY))
        return mb_fail(err, MB_REFUSED, "it is no statement");
    *out = mb_json_copy(in->arena, json);
    return MB_OK;
}

/* A file in the form that is signed: the bytes are in the ledger already, the name is the given one. */
static enum mb_rc take_file(const struct mb_value_in *in, const struct mb_kind_field *field,
                            const mb_json *json, mb_json **out, struct mb_error *err)
{
    struct mb_str name = mb_json_str(mb_json_get(json, "name"));
    enum mb_rc rc = read_file(in, field, mb_json_str(mb_json_get(json, "file")), out, err);

    if (!rc && name.len > 0 && name.len < 256 && mb_text_allowed(name, false))
        mb_json_put(in->arena, *out, "name", mb_json_string_str(in->arena, name));
    return rc;
}

static enum mb_rc take_jwk(const struct mb_value_in *in, const mb_json *json, mb_json **out,
                           struct mb_error *err)
{
    struct mb_key key;

    if (!mb_jwk_read(json, &key) || !mb_key_ok(&key))
        return mb_fail(err, MB_REFUSED, "it is no Ed25519 public key (JWK)");
    *out = mb_jwk_make(in->arena, &key);
    return MB_OK;
}

static enum mb_rc read_as_json(const struct mb_value_in *in, const struct mb_kind_field *field,
                               struct mb_str typed, mb_json **out, struct mb_error *err)
{
    const mb_json *json;
    enum mb_rc rc = mb_json_read(in->arena, typed, MB_JSON_PLAIN, &json, err);

    return rc ? rc : mb_value_take(in, field, json, out, err);
}

enum mb_rc mb_value_read(const struct mb_value_in *in, const struct mb_kind_field *field,
                         struct mb_str typed, mb_json **out, struct mb_error *err)
{
    enum mb_value_type type;

    typed = mb_str_trim(typed);
    if (field->answers.count && mb_choice_find(field->choices, typed) < 0) {
        *out = find_answer(in->arena, field, typed);
        if (*out)
            return MB_OK;
    }
    type = meant(in, field, typed);
    if (is_meant_as_json(typed, type))
        return read_as_json(in, field, typed, out, err);
    switch (type) {
    case MB_V_REF:
        return read_ref(in, field, typed, out, err);
    case MB_V_ENTRY:
        return read_entry(in, typed, out, err);
    case MB_V_FILE:
        return read_file(in, field, typed, out, err);
    case MB_V_GEOMETRY:
        return read_geometry(in, typed, out, err);
    case MB_V_LIST:
        return read_list(in, field, typed, out, err);
    case MB_V_ROWS:
        return read_rows(in, field, NULL, typed, out, err);
    default:
        return mb_scalar_read(in, field, type, typed, out, err);
    }
}

/* A number, yes or no in JSON, as it would be typed. */
static struct mb_str as_typed(mb_arena *arena, const mb_json *json)
{
    switch (json->type) {
    case MB_JSON_INTEGER:
        return mb_str_of(mb_arena_printf(arena, "%lld", (long long)json->integer));
    case MB_JSON_TRUE:
        return MB_STR("yes");
    case MB_JSON_FALSE:
        return MB_STR("no");
    default:
        return json->text; /* of texts and other numbers */
    }
}

static enum mb_rc take_object(const struct mb_value_in *in, const struct mb_kind_field *field,
                              const mb_json *json, mb_json **out, struct mb_error *err)
{
    struct mb_str ref = mb_ref_of(json), value = mb_json_str(mb_json_get(json, "value"));
    struct mb_str entry = mb_json_str(mb_json_get(json, "entry"));
    struct mb_str unit = mb_json_str(mb_json_get(json, "unit"));
    struct mb_str words = mb_answer_of(json);

    if (words.at) {
        *out = find_answer(in->arena, field, words);
        if (*out)
            return MB_OK;
        return mb_fail(err, MB_REFUSED, "'%.*s' is no answer to this; allowed: %s",
                       MB_STR_ARG(words),
                       field->answers.count ? mb_kinds_join(in->arena, field->answers.at,
                                                            field->answers.count, OFFERED)
                                            : "a value only");
    }
    if (has_type(field, MB_V_GEOMETRY))
        return mb_geovalue_read(in->arena, json, out, err);
    if (has_type(field, MB_V_JWK))
        return take_jwk(in, json, out, err);
    if (has_type(field, MB_V_STATEMENT))
        return take_statement(in, json, out, err);
    if (has_type(field, MB_V_ROWS))
        return read_rows(in, field, json, (struct mb_str){ NULL, 0 }, out, err);
    if (has_type(field, MB_V_FILE) && mb_json_get(json, "file"))
        return take_file(in, field, json, out, err);
    if (has_type(field, MB_V_REF) && ref.at)
        return read_ref(in, field, ref, out, err);
    if (has_type(field, MB_V_ENTRY) && entry.at && json->count == 1)
        return read_entry(in, entry, out, err);
    if (has_type(field, MB_V_DECIMAL) && value.at && unit.at && json->count == 2)
        return mb_value_read(in, field,
                             mb_str_of(mb_arena_printf(in->arena, "%.*s %.*s", MB_STR_ARG(value),
                                                       MB_STR_ARG(unit))),
                             out, err);
    return mb_fail(err, MB_REFUSED, "it is no %s", mb_value_type_name[field->type]);
}

enum mb_rc mb_value_take(const struct mb_value_in *in, const struct mb_kind_field *field,
                         const mb_json *json, mb_json **out, struct mb_error *err)
{
    if (mb_json_is(json, MB_JSON_NULL))
        return mb_fail(err, MB_REFUSED, "null is no value; leave the field out");
    if (mb_json_is(json, MB_JSON_OBJECT))
        return take_object(in, field, json, out, err);
    if (mb_json_is(json, MB_JSON_ARRAY) && has_type(field, MB_V_LIST))
        return read_list_json(in, field, json, out, err);
    if (mb_json_is(json, MB_JSON_ARRAY) && has_type(field, MB_V_ROWS))
        return read_rows(in, field, json, (struct mb_str){ NULL, 0 }, out, err);
    if (mb_json_is(json, MB_JSON_ARRAY))
        return mb_fail(err, MB_REFUSED, "it is a list where one %s is asked for",
                       mb_value_type_name[field->type]);
    return mb_value_read(in, field, as_typed(in->arena, json), out, err);
}

/* ---- and back ---- */

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
        text = as_typed(arena, value);
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
