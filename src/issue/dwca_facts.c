/* Measurements and facts out of rows: shares, surfaces, joins, elements, sizes. */
#include <string.h>

#include "dwca_rows.h"
#include "kinds.h"
#include "text.h"

struct stating {
    struct mb_dwca *d;
    const char *id;
    int64_t seq;
    const struct mb_kind_field *field;
    const mb_json *shared;
    int n;
};

static mb_json *begin(struct stating *s, const char *type)
{
    mb_json *row = mb_dwca_row(s->d, MB_DWCA_FACT, s->id);

    mb_dwca_put(s->d, row, "dwc:measurementID",
                mb_arena_printf(s->d->arena, "%s#%lld.%s.%d", s->id, (long long)s->seq,
                                s->field->name.at, ++s->n));
    mb_dwca_put(s->d, row, "dwc:measurementType", type);
    return row;
}

static void share(struct stating *s, mb_json *row)
{
    MB_JSON_EACH(member, s->shared)
        mb_dwca_put(s->d, row, mb_arena_copy(s->d->arena, member->name.at, member->name.len),
                    mb_json_cstr(s->d->arena, member));
}

static bool numeric(const struct mb_kind_field *column)
{
    return (column->type == MB_V_DECIMAL || column->type == MB_V_INTEGER)
           && !mb_str_is(column->name, "low") && !mb_str_is(column->name, "high")
           && !mb_str_is(column->name, "n");
}

/* What the row says beside its numbers. */
static const char *beside(struct stating *s, const mb_json *row)
{
    const char *out = NULL;

    for (size_t i = 0; i < s->field->column_count; i++) {
        const struct mb_kind_field *column = &s->field->columns[i];
        const char *words = mb_dwca_words(s->d, mb_json_get(row, column->name.at));

        if (!words || numeric(column) || mb_str_is(column->name, "how")
            || mb_str_is(column->name, "unit") || mb_str_is(column->name, "low")
            || mb_str_is(column->name, "high"))
            continue;
        out = mb_arena_printf(s->d->arena, "%s%s%s: %s", out ? out : "", out ? "; " : "",
                              column->title, words);
    }
    return out;
}

static const char *unit_of(struct stating *s, const struct mb_kind_field *column,
                           const mb_json *row)
{
    size_t len = column->name.len;

    if (column->unit_in)
        return mb_dwca_words(s->d, mb_json_get(row, column->unit_in));
    if (column->units.count == 1)
        return column->units.at[0];
    if (mb_str_is(column->name, "percent")
        || (len > 7 && memcmp(column->name.at + len - 7, "Percent", 7) == 0))
        return "%";
    if (len > 2 && memcmp(column->name.at + len - 2, "Mm", 2) == 0)
        return "mm";
    return NULL;
}

static void take_number(struct stating *s, const struct mb_kind_field *column, const mb_json *row)
{
    const char *value = mb_dwca_words(s->d, mb_json_get(row, column->name.at));
    const char *low = mb_dwca_words(s->d, mb_json_get(row, "low"));
    const char *high = mb_dwca_words(s->d, mb_json_get(row, "high"));
    mb_json *out;

    if (!value)
        return;
    out = begin(s, mb_arena_printf(s->d->arena, "%s: %s", s->field->title, column->title));
    mb_dwca_put(s->d, out, "dwc:measurementValue", value);
    mb_dwca_put(s->d, out, "dwc:measurementUnit", unit_of(s, column, row));
    if (low && high && mb_str_is(column->name, "percent"))
        mb_dwca_put(s->d, out, "dwc:measurementAccuracy",
                    mb_arena_printf(s->d->arena, "%s to %s %%", low, high));
    mb_dwca_put(s->d, out, "dwc:measurementMethod", mb_dwca_words(s->d, mb_json_get(row, "how")));
    mb_dwca_put(s->d, out, "dwc:measurementRemarks", beside(s, row));
    share(s, out);
}

static void take_row(struct stating *s, const mb_json *row)
{
    bool any = false;
    mb_json *out;

    for (size_t i = 0; i < s->field->column_count; i++) {
        const struct mb_kind_field *column = &s->field->columns[i];

        if (numeric(column) && mb_dwca_words(s->d, mb_json_get(row, column->name.at))) {
            take_number(s, column, row);
            any = true;
        }
    }
    if (any || !beside(s, row))
        return;
    out = begin(s, s->field->title);
    mb_dwca_put(s->d, out, "dwc:measurementValue", beside(s, row));
    mb_dwca_put(s->d, out, "dwc:measurementMethod", mb_dwca_words(s->d, mb_json_get(row, "how")));
    share(s, out);
}

void mb_dwca_facts(struct mb_dwca *d, const char *id, int64_t seq,
                   const struct mb_kind_field *field, const mb_json *value,
                   const mb_json *shared)
{
    struct stating s = { d, id, seq, field, shared, 0 };
    const char *number = mb_dwca_words(d, mb_json_get(value, "value"));
    mb_json *out;

    if (field->type == MB_V_ROWS && mb_json_is(value, MB_JSON_ARRAY)) {
        MB_JSON_EACH(row, value)
            take_row(&s, row);
        return;
    }
    if (!mb_dwca_words(d, value))
        return;
    out = begin(&s, field->title);
    mb_dwca_put(d, out, "dwc:measurementValue", number ? number : mb_dwca_words(d, value));
    mb_dwca_put(d, out, "dwc:measurementUnit", mb_dwca_words(d, mb_json_get(value, "unit")));
    if (!number && field->units.count == 1)
        mb_dwca_put(d, out, "dwc:measurementUnit", field->units.at[0]);
    share(&s, out);
}
