#include "value_rows.h"

#include <string.h>

#include "text.h"

enum { OFFERED = 12 };

bool mb_parts_cut(struct mb_str *rest, bool any_bar, struct mb_str *part)
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

enum mb_rc mb_rows_read(const struct mb_value_in *in, const struct mb_kind_field *field,
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
            more = mb_parts_cut(&typed, false, &part);
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
