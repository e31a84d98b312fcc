/* Lists and queries row by row, in little memory however many rows there are. */
#include "rows.h"

#include "answer_rows.h"
#include "views.h"

struct mb_rows {
    struct mb_views views;
    mb_stmt *stmt;
    const mb_json *columns;
    const mb_json *fixed, *next; /* rows that are no statement's; next is NULL at the end */
};

/* Sorting may need more room than memory. What is open already is begun anew for that. */
static enum mb_rc begin(mb_ledger *ledger, const char *as_of, struct mb_views *views,
                        struct mb_error *err)
{
    enum mb_rc rc = mb_views_begin(ledger, as_of, views, err);

    if (rc)
        return rc;
    if (views->own) {
        mb_db_spill(views->db);
        return MB_OK;
    }
    mb_db_rollback(views->db);
    mb_db_spill(views->db);
    return mb_views_begin(ledger, as_of, views, err);
}

static enum mb_rc end_of(enum mb_rc rc, mb_rows *rows, mb_rows **out)
{
    if (rc)
        mb_rows_close(rows);
    else
        *out = rows;
    return rc;
}

enum mb_rc mb_rows_of_list(mb_ledger *ledger, mb_arena *arena, const char *as_of, const char *sql,
                           const char *const *titles, mb_rows **out, struct mb_error *err)
{
    mb_rows *rows = MB_NEW(arena, mb_rows);
    enum mb_rc rc = begin(ledger, as_of, &rows->views, err);

    if (!rc)
        rc = mb_stmt_make(rows->views.db, sql, &rows->stmt, err);
    if (!rc)
        rows->columns = mb_answer_columns(arena, rows->stmt, titles);
    return end_of(rc, rows, out);
}

mb_rows *mb_rows_of_answer(mb_arena *arena, const mb_json *answer)
{
    mb_rows *rows = MB_NEW(arena, mb_rows);

    rows->columns = mb_json_get(answer, "columns");
    rows->fixed = mb_json_get(answer, "rows");
    rows->next = rows->fixed->first;
    return rows;
}

enum mb_rc mb_query_rows(mb_ledger *ledger, mb_arena *arena, struct mb_str sql, const char *as_of,
                         mb_rows **out, struct mb_error *err)
{
    mb_rows *rows = MB_NEW(arena, mb_rows);
    enum mb_rc rc = begin(ledger, as_of, &rows->views, err);

    if (!rc)
        rc = mb_stmt_make_user(rows->views.db, sql, MB_QUERY_SECONDS, &rows->stmt, err);
    if (!rc)
        rows->columns = mb_answer_columns(arena, rows->stmt, NULL);
    return end_of(rc, rows, out);
}

const mb_json *mb_rows_columns(const mb_rows *rows)
{
    return rows->columns;
}

enum mb_rc mb_rows_next(mb_rows *rows, mb_arena *arena, const mb_json **row, struct mb_error *err)
{
    bool more = true;
    enum mb_rc rc;

    *row = rows->next;
    if (rows->fixed) {
        rows->next = rows->next ? rows->next->next : NULL;
        return MB_OK;
    }
    rc = mb_stmt_step(rows->stmt, &more, err);
    if (!rc && more)
        *row = mb_answer_row(arena, rows->stmt, NULL);
    return rc;
}

mb_rows *mb_rows_close(mb_rows *rows)
{
    if (rows) {
        rows->stmt = mb_stmt_free(rows->stmt);
        mb_views_end(&rows->views);
    }
    return NULL;
}
