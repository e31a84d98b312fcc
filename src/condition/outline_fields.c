#include "outline_reading.h"

#include <stdio.h>
#include <string.h>

#include "drawnum.h"
#include "text.h"

/* ---- members --------------------------------------------------------------------------------- */

enum mb_rc mb_field_members(struct mb_reading *r, const mb_json *value, const char *what,
                            const char *const *names, size_t count)
{
    size_t found;
    struct mb_error why = { .code = MB_OK };

    if (!mb_json_is(value, MB_JSON_OBJECT))
        return mb_fail(r->err, MB_REFUSED, "%s is no object in braces", what);
    MB_JSON_EACH(member, value) {
        if (mb_word_find(member->name, "the member", names, count, &found, &why) != MB_OK)
            return mb_fail(r->err, MB_REFUSED, "%s", why.text);
        if (!mb_str_is(member->name, names[found]))
            return mb_fail(r->err, MB_REFUSED, "the member '%.*s' is written '%s'",
                           MB_STR_ARG(member->name), names[found]);
    }
    return MB_OK;
}

bool mb_field_number(const mb_json *value, double *out)
{
    if (mb_json_is(value, MB_JSON_INTEGER)) {
        *out = (double)value->integer;
        return true;
    }
    return mb_json_is(value, MB_JSON_NUMBER) && mb_drawnum_read(value->text, out);
}

enum mb_rc mb_field_label(struct mb_reading *r, const mb_json *object, const char *name,
                          const char **out)
{
    const mb_json *value = mb_json_get(object, name);
    char what[64];

    if (!value)
        return MB_OK;
    snprintf(what, sizeof what, "'%s'", name);
    if (!mb_json_is(value, MB_JSON_STRING))
        return mb_fail(r->err, MB_REFUSED, "'%s' is no text in quotation marks", name);
    return mb_outlines_label(r->arena, value->text, what, out, r->err);
}

enum mb_rc mb_field_size(struct mb_reading *r, const mb_json *object, const char *name, double *out)
{
    const mb_json *value = mb_json_get(object, name);
    char what[64];

    if (!value)
        return mb_fail(r->err, MB_REFUSED, "'%s' is missing", name);
    snprintf(what, sizeof what, "'%s'", name);
    if (!mb_field_number(value, out))
        return mb_fail(r->err, MB_REFUSED, "'%s' is no number", name);
    return mb_outlines_size(*out, what, r->err);
}

enum mb_rc mb_field_decimal(struct mb_reading *r, const mb_json *object, const char *name,
                            const char **out)
{
    const mb_json *value = mb_json_get(object, name);
    char what[64], digits[24];
    struct mb_str text;

    if (!value)
        return MB_OK;
    snprintf(what, sizeof what, "'%s'", name);
    text = value->text;
    if (mb_json_is(value, MB_JSON_INTEGER)) {
        snprintf(digits, sizeof digits, "%lld", (long long)value->integer);
        text = mb_str_of(digits);
    } else if (!mb_json_is(value, MB_JSON_NUMBER) && !mb_json_is(value, MB_JSON_STRING)) {
        return mb_fail(r->err, MB_REFUSED, "'%s' is no number", name);
    }
    return mb_outlines_decimal(r->arena, text, what, out, r->err);
}

enum mb_rc mb_field_word(struct mb_reading *r, const mb_json *object, const char *name,
                         const char *const *words, size_t count, size_t *out)
{
    const mb_json *value = mb_json_get(object, name);
    char what[64];

    if (!value)
        return mb_fail(r->err, MB_REFUSED, "'%s' is missing", name);
    if (!mb_json_is(value, MB_JSON_STRING))
        return mb_fail(r->err, MB_REFUSED, "'%s' is no text in quotation marks", name);
    snprintf(what, sizeof what, "'%s'", name);
    return mb_word_find(value->text, what, words, count, out, r->err);
}

enum mb_rc mb_reading_each(struct mb_reading *r, const mb_json *object, const char *name,
                           const char *what, mb_read_item *read)
{
    const mb_json *list = mb_json_get(object, name);
    size_t number = 0;

    if (list && !mb_json_is(list, MB_JSON_ARRAY))
        return mb_fail(r->err, MB_REFUSED, "'%s' is no list in square brackets", name);
    MB_JSON_EACH(item, list) {
        enum mb_rc rc = read(r, item, ++number);
        struct mb_str label = mb_json_str(mb_json_get(item, "name"));

        if (rc == MB_OK)
            continue;
        if (label.len > 0 && label.len <= MB_OUTLINE_LABEL_MAX)
            mb_fail_where(r->err, "%s %zu ('%.*s')", what, number, MB_STR_ARG(label));
        else
            mb_fail_where(r->err, "%s %zu", what, number);
        return rc;
    }
    return MB_OK;
}

enum mb_rc mb_reading_individual(struct mb_reading *r, const mb_json *object, const char **out)
{
    enum mb_rc rc = mb_field_label(r, object, "individual", out);
    const struct mb_individual *one = r->all->individuals;

    if (rc != MB_OK || !*out || !r->individuals_listed)
        return rc;
    while (one && strcmp(one->label, *out) != 0)
        one = one->next;
    if (!one)
        return mb_fail(r->err, MB_REFUSED, "individual '%s' is not in the list of individuals",
                       *out);
    return MB_OK;
}

enum mb_rc mb_reading_owner(struct mb_reading *r, const mb_json *object, const char **individual,
                            const char **element)
{
    enum mb_rc rc;

    *individual = NULL;
    *element = "";
    rc = mb_reading_individual(r, object, individual);
    if (rc == MB_OK)
        rc = mb_field_label(r, object, "element", element);
    if (rc != MB_OK)
        return rc;
    if (!*individual && r->individuals_listed && r->all->individual_count > 1)
        return mb_fail(r->err, MB_REFUSED,
                       "it does not say which of the %zu individuals it belongs to",
                       r->all->individual_count);
    if (!*individual)
        *individual = r->individuals_listed ? r->all->individuals->label : MB_OUTLINE_SPECIMEN;
    mb_outlines_individual(r->arena, r->all, *individual);
    return MB_OK;
}

const char *mb_reading_place(struct mb_reading *r, const char *what, size_t number,
                             const char *name)
{
    return name && *name ? mb_arena_printf(r->arena, "%s %zu ('%s')", what, number, name)
                         : mb_arena_printf(r->arena, "%s %zu", what, number);
}

enum mb_rc mb_reading_xy(struct mb_reading *r, const mb_json *value, struct mb_xy *out)
{
    if (!mb_json_is(value, MB_JSON_ARRAY) || value->count < 2
        || !mb_field_number(mb_json_at(value, 0), &out->x)
        || !mb_field_number(mb_json_at(value, 1), &out->y))
        return mb_fail(r->err, MB_REFUSED, "a place is not written as [x, y] with two numbers");
    return mb_outlines_place(*out, r->err);
}
