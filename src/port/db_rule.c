/* SQLite: statements of other people, and functions of ours that they may call. */
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "db_priv.h"

static bool only_blanks(const char *at, const char *end)
{
    while (at < end && strchr(" \t\r\n;", *at))
        at++;
    return at >= end;
}

enum mb_rc mb_stmt_prepare_user(mb_db *db, struct mb_str sql, const char *what, mb_stmt **out,
                                struct mb_error *err)
{
    sqlite3_stmt *handle = NULL;
    const char *rest = NULL;
    int code = sqlite3_prepare_v2(db->handle, sql.at, (int)sql.len, &handle, &rest);

    if (code == SQLITE_AUTH)
        return mb_fail(err, MB_REFUSED, "%s may only read (%s)", what,
                       sqlite3_errmsg(db->handle));
    if (code != SQLITE_OK)
        return mb_fail(err, MB_REFUSED, "%s is not understood: %s",
                       strcmp(what, "a query") == 0 ? "the query" : what,
                       sqlite3_errmsg(db->handle));
    if (!handle || !sqlite3_stmt_readonly(handle) || sqlite3_stmt_isexplain(handle)
        || sqlite3_column_count(handle) == 0 || !only_blanks(rest, sql.at + sql.len)) {
        sqlite3_finalize(handle);
        return mb_fail(err, MB_REFUSED, "%s is one SELECT, and nothing behind it", what);
    }
    *out = mb_stmt_wrap(db, handle);
    return MB_OK;
}

/* Tables that are no views, by schema/ledger.sql. */
static bool is_kept_back(const char *table)
{
    static const char *const names[] = { "log",  "disclosures", "node",   "checkpoint",
                                         "cosignature", "seen", "line",   "v_work",
                                         "v_stamp", "dbstat", "bytecode", "tables_used" };

    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        if (strcasecmp(table, names[i]) == 0)
            return true;
    return strncasecmp(table, "sqlite_", 7) == 0 || strncasecmp(table, "pragma_", 7) == 0;
}

int mb_db_rule_may_read(const char *table, const char *column)
{
    static const char *const functions[] = { "json_each", "json_tree", "generate_series" };

    /* of a query's own WITH, counted and not read */
    if (table && column && !*column && !is_kept_back(table))
        return SQLITE_OK;

    for (size_t i = 0; table && i < sizeof functions / sizeof *functions; i++)
        if (strcmp(table, functions[i]) == 0)
            return SQLITE_OK;
    if (!table || strncmp(table, "v_", 2) != 0 || strcmp(table, "v_work") == 0
        || strcmp(table, "v_stamp") == 0)
        return SQLITE_DENY;
    return SQLITE_OK;
}

enum mb_rc mb_stmt_make_rule(mb_db *db, struct mb_str sql, int64_t steps, mb_stmt **out,
                             struct mb_error *err)
{
    enum mb_rc rc;

    db->user = db->rule = true;
    rc = mb_stmt_prepare_user(db, sql, "a rule's query", out, err);
    db->user = db->rule = false;
    if (!rc && steps) {
        db->steps_left = steps;
        mb_stmt_bound(*out, RULE_LENGTH_MOST);
    }
    return rc;
}

/* ---- functions ---- */

struct mb_sql_call {
    sqlite3_context *context;
    sqlite3_value **args;
};

struct function {
    mb_sql_function *does;
    void *ctx;
};

static void pass_on(sqlite3_context *context, int count, sqlite3_value **args)
{
    const struct function *function = sqlite3_user_data(context);
    mb_sql_call one = { context, args };

    (void)count;
    function->does(function->ctx, &one);
}

enum mb_rc mb_db_function(mb_db *db, const char *name, int args, mb_sql_function *does, void *ctx,
                          struct mb_error *err)
{
    struct function *function = NULL;
    int code;

    if (does) {
        function = malloc(sizeof *function);
        if (!function)
            abort();
        *function = (struct function){ does, ctx };
    }
    code = sqlite3_create_function_v2(db->handle, name, args,
                                      SQLITE_UTF8 | SQLITE_DETERMINISTIC | SQLITE_INNOCUOUS,
                                      function, does ? pass_on : NULL, NULL, NULL, free);
    return code == SQLITE_OK ? MB_OK : mb_db_fail(db, "a function could not be set up", err);
}

enum mb_col_type mb_arg_type(const mb_sql_call *call, int at)
{
    switch (sqlite3_value_type(call->args[at])) {
    case SQLITE_INTEGER:
        return MB_COL_INT;
    case SQLITE_FLOAT:
        return MB_COL_DOUBLE;
    case SQLITE_TEXT:
        return MB_COL_TEXT;
    case SQLITE_BLOB:
        return MB_COL_BLOB;
    default:
        return MB_COL_NULL;
    }
}

int64_t mb_arg_int(const mb_sql_call *call, int at)
{
    return sqlite3_value_int64(call->args[at]);
}

double mb_arg_double(const mb_sql_call *call, int at)
{
    return sqlite3_value_double(call->args[at]);
}

struct mb_str mb_arg_text(const mb_sql_call *call, int at)
{
    const char *text = (const char *)sqlite3_value_text(call->args[at]);

    return (struct mb_str){ text, text ? (size_t)sqlite3_value_bytes(call->args[at]) : 0 };
}

void mb_give_int(mb_sql_call *call, int64_t value)
{
    sqlite3_result_int64(call->context, value);
}

void mb_give_double(mb_sql_call *call, double value)
{
    sqlite3_result_double(call->context, value);
}

void mb_give_text(mb_sql_call *call, struct mb_str value)
{
    sqlite3_result_text(call->context, value.at, (int)value.len, SQLITE_TRANSIENT);
}

void mb_give_constant(mb_sql_call *call, const char *value)
{
    sqlite3_result_text(call->context, value, -1, SQLITE_STATIC);
}

void mb_give_null(mb_sql_call *call)
{
    sqlite3_result_null(call->context);
}
