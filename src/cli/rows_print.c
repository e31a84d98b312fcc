#include "rows_print.h"

#include <stdio.h>

#include "text.h"

enum { ROWS_LOOKED_AT = 1000 };

static void put(struct mb_str text)
{
    fwrite(text.at, 1, text.len, stdout);
}

static enum mb_rc as_json(const struct call *call, int64_t *count, struct mb_error *err)
{
    mb_arena *scratch = mb_arena_new();
    const mb_json *row = NULL;
    enum mb_rc rc;

    fputs("{\n  \"columns\": ", stdout);
    put(mb_json_write(scratch, mb_rows_columns(call->rows)));
    fputs(",\n  \"rows\": [", stdout);
    while (!(rc = mb_rows_next(call->rows, scratch, &row, err)) && row && !ferror(stdout)) {
        fputs(*count > 0 ? ",\n    " : "\n    ", stdout);
        put(mb_json_write(scratch, row));
        mb_arena_reset(scratch);
        ++*count;
    }
    fputs(*count > 0 ? "\n  ]" : "]", stdout);
    if (rc != MB_OK) {
        fputs(",\n  \"stopped\": ", stdout);
        put(mb_json_write(scratch, mb_json_string(scratch, err->text)));
    }
    fputs("\n}\n", stdout);
    mb_arena_free(scratch);
    return rc;
}

static enum mb_rc first_rows(const struct call *call, mb_json *rows, bool *more,
                             struct mb_error *err)
{
    const mb_json *row = NULL;
    enum mb_rc rc = MB_OK;

    *more = true;
    while (rc == MB_OK && *more && rows->count < ROWS_LOOKED_AT) {
        rc = mb_rows_next(call->rows, call->arena, &row, err);
        *more = rc == MB_OK && row != NULL;
        if (*more)
            mb_json_add(rows, mb_json_copy(call->arena, row));
    }
    return rc;
}

static enum mb_rc as_table(const struct call *call, const struct screen *screen, int64_t *count,
                           struct mb_error *err)
{
    mb_json *table = mb_json_object(call->arena);
    mb_json *rows = mb_json_array(call->arena);
    const struct table *printed;
    const mb_json *row;
    mb_arena *scratch;
    bool more;
    enum mb_rc rc = first_rows(call, rows, &more, err);

    mb_json_put(call->arena, table, "columns",
                mb_json_copy(call->arena, mb_rows_columns(call->rows)));
    mb_json_put(call->arena, table, "rows", rows);
    *count = rows->count;
    if (rc == MB_OK && *count == 0 && call->command->none != NULL) {
        screen_say(screen, PLAIN, 0, "%s", call->command->none);
        return MB_OK;
    }
    printed = screen_table_begin(screen, table);
    scratch = mb_arena_new();
    while (rc == MB_OK && more && !ferror(stdout)) {
        rc = mb_rows_next(call->rows, scratch, &row, err);
        more = rc == MB_OK && row != NULL;
        if (more) {
            screen_table_row(printed, row, scratch);
            ++*count;
        }
        mb_arena_reset(scratch);
    }
    mb_arena_free(scratch);
    return rc;
}

enum mb_rc rows_print(const struct call *call, int64_t *count, struct mb_error *err)
{
    struct screen screen;

    *count = 0;
    if (call_json(call))
        return as_json(call, count, err);
    screen_open(&screen, stdout, call->arena);
    return as_table(call, &screen, count, err);
}
