#include "answer_rows.h"

#include <math.h>
#include <string.h>

#include "codec.h"

enum { CELLS_MOST = 300000, BYTES_MOST = 32 << 20 };

static mb_json *number(mb_arena *arena, double value)
{
    mb_json *json = mb_json_string(arena, mb_arena_printf(arena, "%.15g", value));

    if (!isfinite(value))
        return mb_json_null(arena);
    json->type = MB_JSON_NUMBER;
    return json;
}

static mb_json *cell(mb_arena *arena, mb_stmt *stmt, int at, size_t *bytes)
{
    struct mb_str text;

    switch (mb_col_type(stmt, at)) {
    case MB_COL_INT:
        return mb_json_integer(arena, mb_col_int(stmt, at));
    case MB_COL_DOUBLE:
        return number(arena, mb_col_double(stmt, at));
    case MB_COL_TEXT:
        text = mb_col_text(stmt, at);
        *bytes += text.len;
        return mb_json_string_str(arena, text);
    case MB_COL_BLOB:
        text = mb_col_blob(stmt, at);
        *bytes += text.len;
        return mb_json_string_str(arena, mb_b64u(arena, text.at, text.len));
    case MB_COL_NULL:
        break;
    }
    return mb_json_null(arena);
}

mb_json *mb_answer_columns(mb_arena *arena, mb_stmt *stmt, const char *const *titles)
{
    mb_json *names = mb_json_array(arena);

    for (int i = 0; i < mb_col_count(stmt); i++)
        mb_json_add_text(arena, names, titles ? titles[i] : mb_col_name(stmt, i));
    return names;
}

mb_json *mb_answer_row(mb_arena *arena, mb_stmt *stmt, size_t *bytes)
{
    mb_json *row = mb_json_array(arena);
    int columns = mb_col_count(stmt);
    size_t count = 0;

    for (int i = 0; i < columns; i++)
        mb_json_add(row, cell(arena, stmt, i, &count));
    if (bytes)
        *bytes += count;
    return row;
}

static enum mb_rc read_rows(mb_arena *arena, mb_stmt *stmt, bool cut, mb_json *rows,
                            int64_t *more, struct mb_error *err)
{
    int columns = mb_col_count(stmt);
    size_t cells = 0, bytes = 0;
    bool row = true;
    enum mb_rc rc;

    *more = 0;
    while (!(rc = mb_stmt_step(stmt, &row, err)) && row) {
        if (cells + (size_t)columns > CELLS_MOST || bytes > BYTES_MOST) {
            if (!cut)
                return mb_fail(err, MB_REFUSED,
                               "the answer has more than %u rows, which is more than is given at"
                               " once; ask for less, with WHERE or LIMIT",
                               rows->count);
            ++*more;
            continue;
        }
        mb_json_add(rows, mb_answer_row(arena, stmt, &bytes));
        cells += (size_t)columns;
    }
    return rc;
}

enum mb_rc mb_answer_rows(mb_arena *arena, mb_stmt *stmt, const char *const *titles, bool cut,
                          const mb_json **out, struct mb_error *err)
{
    mb_json *answer = mb_json_object(arena), *rows = mb_json_array(arena);
    int64_t more;
    enum mb_rc rc = read_rows(arena, stmt, cut, rows, &more, err);

    if (rc)
        return rc;
    mb_json_put(arena, answer, "columns", mb_answer_columns(arena, stmt, titles));
    mb_json_put(arena, answer, "rows", rows);
    if (more)
        mb_json_put_int(arena, answer, "more", more);
    *out = answer;
    return MB_OK;
}
