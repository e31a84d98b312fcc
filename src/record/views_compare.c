/* Stored views against a replay, row by row; neither side is held in memory as a whole. */
#include <string.h>

#include "text.h"
#include "views_priv.h"

/* What there is to compare: the shape of everything, then each table by its own order. The tables
 * behind the search are SQLite's own; what it holds is compared as a table. */
#define SHAPE \
    "SELECT type, name, sql FROM sqlite_schema WHERE name GLOB 'v_*'" \
    " AND name NOT GLOB 'v_search_*' ORDER BY name"
#define TABLES \
    "SELECT name FROM sqlite_schema WHERE type = 'table' AND name GLOB 'v_*'" \
    " AND name NOT GLOB 'v_search*' AND name <> 'v_stamp' ORDER BY name"

struct sides {
    mb_db *stored, *made;
    mb_arena *arena;
    struct mb_error *err;
};

static bool same_cell(mb_stmt *a, mb_stmt *b, int at)
{
    enum mb_col_type type = mb_col_type(a, at);
    double x, y;

    if (type != mb_col_type(b, at))
        return false;
    switch (type) {
    case MB_COL_NULL:
        return true;
    case MB_COL_INT:
        return mb_col_int(a, at) == mb_col_int(b, at);
    case MB_COL_DOUBLE:
        x = mb_col_double(a, at);
        y = mb_col_double(b, at);
        return memcmp(&x, &y, sizeof x) == 0;
    case MB_COL_TEXT:
        return mb_str_equal(mb_col_text(a, at), mb_col_text(b, at));
    case MB_COL_BLOB:
        return mb_str_equal(mb_col_blob(a, at), mb_col_blob(b, at));
    }
    return false;
}

static bool same_row(mb_stmt *a, mb_stmt *b)
{
    if (mb_col_count(a) != mb_col_count(b))
        return false;
    for (int i = 0; i < mb_col_count(a); i++)
        if (!same_cell(a, b, i))
            return false;
    return true;
}

/* MB_NO if the two answers differ. */
static enum mb_rc compare(const struct sides *s, const char *sql)
{
    mb_stmt *a = NULL, *b = NULL;
    bool row_a = true, row_b = true, same = true;
    enum mb_rc rc;

    /* what does not even have the columns is not as it should be */
    if (mb_stmt_make(s->stored, sql, &a, NULL))
        return MB_NO;
    rc = mb_stmt_make(s->made, sql, &b, s->err);
    while (!rc && same && row_a && row_b) {
        rc = mb_stmt_step(a, &row_a, s->err);
        if (!rc)
            rc = mb_stmt_step(b, &row_b, s->err);
        if (!rc)
            same = row_a == row_b && (!row_a || same_row(a, b));
    }
    mb_stmt_free(a);
    mb_stmt_free(b);
    return rc ? rc : same ? MB_OK : MB_NO;
}

/* SELECT of all columns in the order of the primary key. */
static enum mb_rc select_of(const struct sides *s, struct mb_str table, const char **sql)
{
    const char *order = "";
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc = mb_stmt_make(s->made,
                                 "SELECT name FROM pragma_table_info(?1) WHERE pk > 0 ORDER BY pk",
                                 &stmt, s->err);

    if (rc)
        return rc;
    mb_bind_text(stmt, 1, table);
    while (!(rc = mb_stmt_step(stmt, &row, s->err)) && row) {
        struct mb_str name = mb_col_text(stmt, 0);

        order = mb_arena_printf(s->arena, "%s%s%.*s", order, order[0] ? ", " : "",
                                MB_STR_ARG(name));
    }
    mb_stmt_free(stmt);
    *sql = mb_arena_printf(s->arena, "SELECT * FROM %.*s ORDER BY %s", MB_STR_ARG(table), order);
    return rc;
}

static enum mb_rc compare_tables(const struct sides *s, const char **where)
{
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc = mb_stmt_make(s->made, TABLES, &stmt, s->err);

    while (!rc && !(rc = mb_stmt_step(stmt, &row, s->err)) && row) {
        struct mb_str table = mb_arena_str(s->arena, mb_col_text(stmt, 0));
        const char *sql;

        *where = mb_arena_copy(s->arena, table.at, table.len);
        rc = select_of(s, table, &sql);
        if (!rc)
            rc = compare(s, sql);
    }
    mb_stmt_free(stmt);
    return rc;
}

static enum mb_rc compare_all(const struct sides *s, const char **where)
{
    enum mb_rc rc;

    *where = "v_*";
    rc = compare(s, SHAPE);
    if (!rc)
        rc = compare_tables(s, where);
    if (!rc) {
        *where = "v_search";
        rc = compare(s, "SELECT rowid, * FROM v_search ORDER BY rowid");
    }
    return rc;
}

enum mb_rc mb_views_compare(mb_ledger *ledger, mb_arena *arena, const char **where,
                            struct mb_error *err)
{
    struct sides s = { .arena = arena, .err = err };
    struct mb_views stored = { NULL, false };
    bool current;
    int64_t entries = 0;
    enum mb_rc rc = mb_views_current(ledger->log, mb_log_db(ledger->log), &current, &entries, err);

    if (rc || entries == 0)
        return rc;
    /* what was erased since they were made is erased from them too, if that may be written */
    rc = mb_views_begin(ledger, NULL, &stored, err);
    if (!rc && stored.own) {
        /* it may not: what is stored is held against a replay of as many entries */
        mb_views_end(&stored);
        stored = (struct mb_views){ mb_log_db(ledger->log), false };
        rc = mb_db_run(stored.db, "BEGIN", err);
    }
    if (!rc)
        rc = mb_views_current(ledger->log, stored.db, &current, &entries, err);
    if (!rc)
        rc = mb_views_private(entries, &s.made, err);
    if (!rc) {
        s.stored = stored.db;
        rc = mb_views_catch_up(ledger->log, s.made, entries, err);
        if (!rc)
            rc = compare_all(&s, where);
        mb_db_close(s.made);
    }
    mb_views_end(&stored);
    return rc;
}
