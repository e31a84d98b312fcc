/* Fuzzing what people type: "kind.field=value". Whatever is accepted can be signed, is read back
 * from its own JSON as the same, and can be typed again; whatever is refused is refused in one
 * clean sentence. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "date.h"
#include "fuzz.h"
#include "kinds.h"
#include "text.h"
#include "value.h"

static void must(bool holds)
{
    if (!holds)
        abort();
}

/* Every ID is there; what is looked for without a prefix is not. */
static enum mb_rc find_ref(void *ctx, const struct mb_words *prefixes, struct mb_str text,
                           bool quiet, struct mb_str *subject, struct mb_error *err)
{
    struct mb_str prefix, id;
    bool named = mb_str_cut(text, '/', &prefix, &id);

    if (!named || !mb_words_has(prefixes, prefix) || !mb_id_ok(id))
        return quiet ? MB_NO : mb_fail(err, MB_REFUSED, "unknown");
    *subject = mb_arena_str(ctx, text);
    return MB_OK;
}

static enum mb_rc find_entry(void *ctx, struct mb_str text, struct mb_str *leaf,
                             struct mb_error *err)
{
    (void)ctx;
    if (text.at[0] == '#')
        return mb_fail(err, MB_REFUSED, "unknown");
    *leaf = text;
    return MB_OK;
}

static const struct mb_kind_field *field_of(struct mb_str name)
{
    struct mb_str kind, field;
    const struct mb_kind *form;

    mb_str_cut(name, '.', &kind, &field);
    form = mb_kind_find(kind);
    return form ? mb_kind_field(form, field) : NULL;
}

static mb_json *read_once(const struct mb_value_in *in, const struct mb_kind_field *field,
                          struct mb_str typed, const mb_json *json)
{
    struct mb_error err = { 0 };
    mb_json *value = NULL;
    enum mb_rc rc = json ? mb_value_take(in, field, json, &value, &err)
                         : mb_value_read(in, field, typed, &value, &err);

    if (rc == MB_OK) {
        must(value != NULL && err.code == MB_OK);
        return value;
    }
    must(rc == MB_REFUSED && err.code == MB_REFUSED && err.text[0] != '\0');
    must(mb_text_allowed(mb_str_of(err.text), false));
    return NULL;
}

static void must_be_signable(mb_arena *arena, const mb_json *value)
{
    const mb_json *again = NULL;

    must(mb_json_read(arena, mb_json_write(arena, value), MB_JSON_STRICT, &again, NULL) == MB_OK);
    must(mb_json_equal(value, again));
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t len)
{
    mb_arena *arena = mb_arena_new();
    struct mb_str whole = { (const char *)bytes, len }, name, typed;
    struct mb_value_in in = { .arena = arena, .today = mb_day_number(2026, 6, 1), .ctx = arena,
                              .ref = find_ref, .entry = find_entry };
    const struct mb_kind_field *field;
    mb_json *value, *again;

    must(mb_kinds_start(NULL) == MB_OK);
    mb_str_cut(whole, '=', &name, &typed);
    field = field_of(name);
    /* a geometry that is no JSON names a file */
    if (field && !(field->type == MB_V_GEOMETRY && mb_str_trim(typed).len > 0
                   && mb_str_trim(typed).at[0] != '{')) {
        value = read_once(&in, field, typed, NULL);
        if (value) {
            must_be_signable(arena, value);
            again = read_once(&in, field, typed, value);
            must(again && mb_json_equal(value, again));
            again = read_once(&in, field, mb_str_of(mb_value_text(arena, value)), NULL);
            must(again && mb_json_equal(value, again));
        }
    }
    mb_arena_free(arena);
    return 0;
}
