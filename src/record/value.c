#include "value.h"

#include <string.h>
#include <strings.h>

#include "fileio.h"
#include "geovalue.h"
#include "text.h"
#include "value_rows.h"
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

/* Rows never begin with a bracket when they are typed, so one that is left open is a slip of
 * JSON. */
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

    if (path && strcmp(path, "-") == 0) /* an empty cell in some tables, not standard input */
        return mb_fail(err, MB_REFUSED, "'-' is no GeoJSON; write it, or the file that holds it");
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

static enum mb_rc read_list(const struct mb_value_in *in, const struct mb_kind_field *field,
                            struct mb_str typed, mb_json **out, struct mb_error *err)
{
    bool any_bar = !has_type(field->of, MB_V_TEXT), more = true;
    mb_json *list = mb_json_array(in->arena);
    struct mb_str part;

    while (more) {
        mb_json *value;
        enum mb_rc rc;

        more = mb_parts_cut(&typed, any_bar, &part);
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

/* ---- reading ---- */

static enum mb_rc take_statement(const struct mb_value_in *in, const mb_json *json, mb_json **out,
                                 struct mb_error *err)
{
    if (!mb_json_is(mb_json_get(json, "lines"), MB_JSON_ARRAY))
        return mb_fail(err, MB_REFUSED, "it is no statement");
    *out = mb_json_copy(in->arena, json);
    return MB_OK;
}

/* A file in the form that is signed: the bytes are in the ledger already, the name, where the field
 * keeps one, is the given one. */
static enum mb_rc take_file(const struct mb_value_in *in, const struct mb_kind_field *field,
                            const mb_json *json, mb_json **out, struct mb_error *err)
{
    struct mb_str name = mb_json_str(mb_json_get(json, "name"));
    enum mb_rc rc = read_file(in, field, mb_json_str(mb_json_get(json, "file")), out, err);

    if (!rc && mb_json_get(*out, "name") && name.len > 0 && name.len < 256
        && mb_text_allowed(name, false))
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
        return mb_rows_read(in, field, NULL, typed, out, err);
    default:
        return mb_scalar_read(in, field, type, typed, out, err);
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
        return mb_rows_read(in, field, json, (struct mb_str){ NULL, 0 }, out, err);
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
        return mb_rows_read(in, field, json, (struct mb_str){ NULL, 0 }, out, err);
    if (mb_json_is(json, MB_JSON_ARRAY))
        return mb_fail(err, MB_REFUSED, "it is a list where one %s is asked for",
                       mb_value_type_name[field->type]);
    return mb_value_read(in, field, mb_scalar_typed(in->arena, json), out, err);
}
