/* Connections by role and grant; statements of users; copies. What the ledger's own tables refuse:
 * unit/ledger/test_log_guard.c. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "db.h"
#include "temp_folder.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

static const char *folder;
static mb_arena *arena;

static void set_up(void)
{
    arena = mb_arena_new();
    folder = temp_folder_new(arena);
}

static void take_down(void)
{
    temp_folder_remove(folder);
    arena = mb_arena_free(arena);
}

static const char *named(const char *name)
{
    return mb_arena_printf(arena, "%s/%s", folder, name);
}

static mb_db *made(const char *name)
{
    struct mb_error err = { 0 };
    mb_db *db;

    cr_assert_eq(mb_db_open(named(name), MB_DB_CREATE, &db, &err), MB_OK, "%s", err.text);
    mb_db_grant(db, MB_MAY_SHAPE | MB_MAY_APPEND);
    cr_assert_eq(mb_db_run(db,
                           "CREATE TABLE kept (a INTEGER, b TEXT);"
                           "CREATE TABLE disclosures (seq INTEGER, tail TEXT);"
                           "CREATE TABLE line (sub TEXT);"
                           "CREATE TABLE v_names (name TEXT);"
                           "INSERT INTO kept VALUES (1, 'one');"
                           "INSERT INTO disclosures VALUES (1, 'x~')",
                           &err),
                 MB_OK, "%s", err.text);
    return db;
}

static bool run(mb_db *db, const char *sql)
{
    struct mb_error err = { 0 };
    enum mb_rc rc = mb_db_run(db, sql, &err);

    cr_expect(rc == MB_OK || (rc == MB_UNABLE && err.text[0]));
    return rc == MB_OK;
}

Test(db, each_grant_allows_its_own_and_nothing_else, .init = set_up, .fini = take_down)
{
    static const struct {
        const char *sql;
        unsigned grants; /* those that allow it, each alone */
    } cases[] = {
        { "INSERT INTO kept VALUES (2, 'two')", MB_MAY_APPEND },
        { "INSERT INTO disclosures VALUES (2, 'y~')", MB_MAY_APPEND },
        { "UPDATE kept SET b = 'x'", 0 },
        { "DELETE FROM kept", 0 },
        { "UPDATE disclosures SET tail = ''", MB_MAY_FORGET },
        { "UPDATE disclosures SET seq = 9", 0 },
        { "UPDATE disclosures SET seq = 9, tail = ''", 0 },
        { "DELETE FROM disclosures", 0 },
        { "INSERT INTO line VALUES ('x')", MB_MAY_VIEW | MB_MAY_SHAPE },
        { "UPDATE line SET sub = 'y'", MB_MAY_VIEW | MB_MAY_SHAPE },
        { "DELETE FROM line", MB_MAY_VIEW | MB_MAY_SHAPE },
        { "INSERT INTO v_names VALUES ('x')", MB_MAY_VIEW | MB_MAY_SHAPE },
        { "DELETE FROM v_names", MB_MAY_VIEW | MB_MAY_SHAPE },
        { "CREATE TABLE v_more (a)", MB_MAY_VIEW | MB_MAY_SHAPE },
        { "CREATE INDEX v_i ON v_names (name)", MB_MAY_VIEW | MB_MAY_SHAPE },
        { "CREATE INDEX i ON kept (a)", MB_MAY_SHAPE },
        { "CREATE VIRTUAL TABLE v_words USING fts5 (w)", MB_MAY_VIEW | MB_MAY_SHAPE },
        { "DROP TABLE v_names", MB_MAY_VIEW | MB_MAY_SHAPE },
        { "CREATE TABLE other (a)", MB_MAY_SHAPE },
        { "CREATE VIEW v AS SELECT 1", MB_MAY_SHAPE },
        { "DROP TABLE kept", 0 },
        { "ALTER TABLE kept ADD COLUMN c", MB_MAY_SHAPE },
        { "ATTACH ':memory:' AS other", 0 },
        { "SELECT load_extension('x')", 0 },
        { "SELECT count(*) FROM kept", ~0u },
        { "BEGIN; ROLLBACK", ~0u },
    };
    static const unsigned grants[] = { 0, MB_MAY_APPEND, MB_MAY_VIEW, MB_MAY_FORGET, MB_MAY_SHAPE };

    for (size_t i = 0; i < COUNT(cases); i++)
        for (size_t g = 0; g < COUNT(grants); g++) {
            const char *name = mb_arena_printf(arena, "%zu-%zu.db", i, g);
            mb_db *db = made(name);
            bool want = cases[i].grants == ~0u || (cases[i].grants & grants[g]) != 0;

            mb_db_grant(db, grants[g]);
            cr_expect_eq(run(db, cases[i].sql), want, "%s with grant %u", cases[i].sql, grants[g]);
            mb_db_close(db);
        }
}

Test(db, a_file_is_opened_by_its_role, .init = set_up, .fini = take_down)
{
    struct mb_error err = { 0 };
    mb_db *db = NULL, *second = NULL;
    struct stat st;

    cr_expect_eq(mb_db_open(named("none.db"), MB_DB_READ, &db, &err), MB_REFUSED);
    cr_expect(strstr(err.text, "cannot be opened"), "%s", err.text);
    cr_expect_eq(mb_db_open(named("none.db"), MB_DB_WRITE, &db, NULL), MB_REFUSED);
    cr_expect_neq(stat(named("none.db"), &st), 0, "looking makes no file");
    db = made("a.db");
    err = (struct mb_error){ 0 };
    cr_expect_eq(mb_db_open(named("a.db"), MB_DB_CREATE, &second, &err), MB_REFUSED);
    cr_expect(strstr(err.text, "is there already"), "%s", err.text);
    mb_db_close(db);
    cr_assert_eq(mb_db_open(named("a.db"), MB_DB_READ, &db, NULL), MB_OK);
    mb_db_grant(db, ~0u);
    cr_expect_not(run(db, "INSERT INTO kept VALUES (2, 'two')"));
    cr_expect_not(run(db, "INSERT INTO line VALUES ('x')"));
    mb_db_close(db);
    cr_assert_eq(mb_db_open("ignored", MB_DB_MEMORY, &db, NULL), MB_OK);
    mb_db_grant(db, MB_MAY_VIEW);
    cr_expect(run(db, "CREATE TABLE v_a (x); INSERT INTO v_a VALUES (1)"));
    cr_expect_null(mb_db_close(db));
    cr_expect_null(mb_db_close(NULL));

    {
        FILE *f = fopen(named("text.db"), "w"); /* something that is no database */

        fputs("this is a letter, not a database, and long enough to tell", f);
        fclose(f);
        err = (struct mb_error){ 0 };
        cr_expect_neq(mb_db_open(named("text.db"), MB_DB_WRITE, &db, &err), MB_OK);
        cr_expect(err.text[0]);
    }
}

Test(db, values_come_back_as_they_were_bound, .init = set_up, .fini = take_down)
{
    mb_db *db = made("a.db");
    mb_stmt *put, *get;
    bool row;

    mb_db_grant(db, MB_MAY_VIEW);
    cr_assert(run(db, "CREATE TABLE v_all (a, b, c, d, e)"));
    cr_assert_eq(mb_stmt_make(db, "INSERT INTO v_all VALUES (?1, ?2, ?3, ?4, ?5)", &put, NULL),
                 MB_OK);
    mb_bind_int(put, 1, INT64_MIN);
    mb_bind_double(put, 2, 0.5);
    mb_bind_text(put, 3, MB_STR("d\xC3\xA9j\xC3\xA0"));
    mb_bind_blob(put, 4, "\0\1\2", 3);
    mb_bind_null(put, 5);
    cr_assert_eq(mb_stmt_do(put, NULL), MB_OK);
    cr_expect_eq(mb_db_changes(db), 1);
    mb_bind_text(put, 3, (struct mb_str){ NULL, 0 });
    mb_bind_blob(put, 4, "", 0);
    cr_assert_eq(mb_stmt_do(put, NULL), MB_OK);
    mb_stmt_free(put);

    cr_assert_eq(mb_stmt_make(db, "SELECT a, b, c, d, e FROM v_all", &get, NULL), MB_OK);
    cr_expect_eq(mb_col_count(get), 5);
    cr_expect_str_eq(mb_col_name(get, 2), "c");
    cr_assert(mb_stmt_step(get, &row, NULL) == MB_OK && row);
    cr_expect(mb_col_type(get, 0) == MB_COL_INT && mb_col_int(get, 0) == INT64_MIN);
    cr_expect(mb_col_type(get, 1) == MB_COL_DOUBLE && mb_col_double(get, 1) == 0.5);
    cr_expect(mb_col_type(get, 2) == MB_COL_TEXT
              && mb_str_is(mb_col_text(get, 2), "d\xC3\xA9j\xC3\xA0"));
    cr_expect(mb_col_type(get, 3) == MB_COL_BLOB && mb_col_blob(get, 3).len == 3
              && memcmp(mb_col_blob(get, 3).at, "\0\1\2", 3) == 0);
    cr_expect(mb_col_type(get, 4) == MB_COL_NULL && !mb_col_text(get, 4).at);
    cr_assert(mb_stmt_step(get, &row, NULL) == MB_OK && row);
    cr_expect_eq(mb_col_type(get, 2), MB_COL_NULL);
    cr_expect_eq(mb_col_blob(get, 3).len, 0);
    cr_assert(mb_stmt_step(get, &row, NULL) == MB_OK && !row);
    cr_assert(mb_stmt_step(get, &row, NULL) == MB_OK && row, "at the end it begins again");
    mb_stmt_reset(get);
    cr_expect_null(mb_stmt_free(get));
    cr_expect_null(mb_stmt_free(NULL));
    mb_db_close(db);
}

Test(db, writers_take_turns, .init = set_up, .fini = take_down)
{
    mb_db *a = made("a.db"), *b;

    cr_assert_eq(mb_db_open(named("a.db"), MB_DB_WRITE, &b, NULL), MB_OK);
    mb_db_grant(a, MB_MAY_APPEND);
    cr_assert_eq(mb_db_begin(a, NULL), MB_OK);
    cr_expect(mb_db_in_transaction(a));
    cr_assert(run(a, "INSERT INTO kept VALUES (2, 'two')"));
    mb_db_rollback(a);
    cr_expect_not(mb_db_in_transaction(a));
    mb_db_rollback(a); /* outside one it does nothing */
    cr_assert_eq(mb_db_begin(a, NULL), MB_OK);
    cr_expect_eq(mb_db_begin(a, NULL), MB_UNABLE, "not twice");
    cr_expect(mb_db_in_transaction(a));
    cr_assert_eq(mb_db_commit(a, NULL), MB_OK);
    cr_assert_eq(mb_db_begin(b, NULL), MB_OK);
    mb_db_rollback(b);
    mb_db_close(a);
    mb_db_close(b);
}

Test(db, a_users_statement_only_reads, .init = set_up, .fini = take_down)
{
    static const struct {
        const char *sql;
        const char *says; /* NULL: accepted */
    } cases[] = {
        { "SELECT a, b FROM kept", NULL },
        { "  SELECT 1 ;; \n\t", NULL },
        { "SELECT 1 -- a remark", NULL },
        { "WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n LIMIT 9) SELECT * FROM n",
          NULL },
        { "VALUES (1), (2)", NULL },
        { "SELECT upper(b) || length(b) FROM kept", NULL },
        { "", "one SELECT" },
        { ";", "one SELECT" },
        { "-- nothing", "one SELECT" },
        { "SELECT 1; SELECT 2", "one SELECT" },
        { "SELECT 1; DROP TABLE kept", "one SELECT" },
        { "EXPLAIN SELECT 1", "one SELECT" },
        { "SELEC 1", "not understood" },
        { "SELECT nothing FROM kept", "not understood" },
        { "SELECT * FROM kept WHERE (", "not understood" },
        { "INSERT INTO kept VALUES (3, 'x')", "may only read" },
        { "UPDATE kept SET a = 1", "may only read" },
        { "DELETE FROM kept", "may only read" },
        { "INSERT INTO line VALUES ('x')", "may only read" },
        { "DROP TABLE line", "may only read" },
        { "CREATE TEMP TABLE t (a)", "may only read" },
        { "CREATE TABLE v_t (a)", "may only read" },
        { "ATTACH 'x.db' AS x", "may only read" },
        { "DETACH main", "may only read" },
        { "PRAGMA writable_schema = ON", "may only read" },
        { "PRAGMA journal_mode = DELETE", "may only read" },
        { "PRAGMA user_version", "may only read" },
        { "BEGIN", "may only read" },
        { "SAVEPOINT x", "may only read" },
        { "VACUUM", "one SELECT" },
        { "REINDEX", "one SELECT" },
        { "ANALYZE", "may only read" },
        { "SELECT load_extension('x')", "not authorized" },
        { "WITH x AS (SELECT 1) DELETE FROM kept", "may only read" },
    };
    mb_db *db = made("a.db");

    mb_db_grant(db, ~0u); /* whatever the connection itself may do */
    for (size_t i = 0; i < COUNT(cases); i++) {
        /* exactly as long as the text, so that a read past its end is seen */
        struct mb_str sql = mb_arena_str(arena, mb_str_of(cases[i].sql));
        struct mb_error err = { 0 };
        mb_stmt *stmt = NULL;
        enum mb_rc rc = mb_stmt_make_user(db, sql, 5, &stmt, &err);
        bool row;

        cr_expect_eq(rc, cases[i].says ? MB_REFUSED : MB_OK, "%s: %s", cases[i].sql, err.text);
        if (cases[i].says)
            cr_expect(strstr(err.text, cases[i].says), "%s: %s", cases[i].sql, err.text);
        else
            cr_expect(mb_stmt_step(stmt, &row, NULL) == MB_OK && row, "%s", cases[i].sql);
        mb_stmt_free(stmt);
    }
    mb_db_close(db);
}

Test(db, a_users_statement_is_stopped_in_time, .init = set_up, .fini = take_down)
{
    mb_db *db = made("a.db");
    struct mb_error err = { 0 };
    mb_stmt *stmt;
    bool row;

    cr_assert_eq(mb_stmt_make_user(db,
                                   MB_STR("WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1"
                                          " FROM n) SELECT count(*) FROM n"),
                                   1, &stmt, &err),
                 MB_OK);
    cr_expect_eq(mb_stmt_step(stmt, &row, &err), MB_UNABLE);
    cr_expect_str_eq(err.text, "the query ran longer than it may and was stopped");
    mb_stmt_free(stmt);
    cr_expect(run(db, "SELECT count(*) FROM kept"), "the connection goes on");
    mb_db_close(db);
}

Test(db, a_copy_is_whole_and_never_over_another, .init = set_up, .fini = take_down)
{
    mb_db *db = made("a.db"), *copy;
    struct mb_error err = { 0 };
    mb_stmt *stmt;
    bool row;

    cr_assert_eq(mb_db_copy(db, named("b.db"), &err), MB_OK, "%s", err.text);
    cr_assert_eq(mb_db_open(named("b.db"), MB_DB_READ, &copy, &err), MB_OK, "%s", err.text);
    cr_assert_eq(mb_stmt_make(copy, "SELECT b FROM kept WHERE a = 1", &stmt, NULL), MB_OK);
    cr_expect(mb_stmt_step(stmt, &row, NULL) == MB_OK && row
              && mb_str_is(mb_col_text(stmt, 0), "one"));
    mb_stmt_free(stmt);
    mb_db_close(copy);
    cr_expect_eq(mb_db_copy(db, named("b.db"), &err), MB_REFUSED);
    cr_expect(strstr(err.text, "is there already"), "%s", err.text);
    cr_expect_eq(mb_db_copy(db, named("nowhere/b.db"), NULL), MB_REFUSED);
    mb_db_close(db);
}

/* ---- rules, and functions of ours ---- */

Test(db, a_rule_reads_views_alone_and_comes_to_an_end, .init = set_up,
     .fini = take_down)
{
    static const struct {
        const char *sql, *said; /* NULL: taken */
    } cases[] = {
        { "SELECT name FROM v_names", NULL },
        { "WITH n AS (SELECT name FROM v_names) SELECT * FROM n", NULL },
        { "SELECT a FROM kept", "prohibited" },
        { "SELECT tail FROM disclosures", "prohibited" },
        { "SELECT name FROM sqlite_schema", "prohibited" },
        { "SELECT name FROM v_names WHERE name IN (SELECT b FROM kept)", "prohibited" },
        { "INSERT INTO v_names VALUES ('x')", "may only read" },
        { "ATTACH 'x' AS x", "may only read" },
        { "SELECT 1; SELECT 2", "nothing behind it" },
    };
    mb_db *db = made("rules.db");

    for (size_t i = 0; i < COUNT(cases); i++) {
        struct mb_error err = { 0 };
        mb_stmt *stmt = NULL;
        enum mb_rc rc = mb_stmt_make_rule(db, mb_str_of(cases[i].sql), 0, &stmt, &err);

        cr_expect_eq(rc, cases[i].said ? MB_REFUSED : MB_OK, "%s: %s", cases[i].sql, err.text);
        cr_expect(!cases[i].said || strstr(err.text, cases[i].said), "%s: %s", cases[i].sql,
                  err.text);
        mb_stmt_free(stmt);
    }
    mb_db_close(db);
}

Test(db, a_rule_that_never_ends_is_stopped_and_no_other_is, .init = set_up,
     .fini = take_down)
{
    mb_db *db = made("endless.db");
    struct mb_error err = { 0 };
    mb_stmt *stmt;
    bool row;

    cr_assert_eq(mb_stmt_make_rule(db,
                                   MB_STR("WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1"
                                          " FROM n) SELECT max(i) FROM n"),
                                   200000, &stmt, &err),
                 MB_OK, "%s", err.text);
    cr_expect_eq(mb_stmt_step(stmt, &row, &err), MB_UNABLE);
    cr_expect(strstr(err.text, "stopped"), "%s", err.text);
    mb_stmt_free(stmt);
    cr_expect(run(db, "INSERT INTO kept WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1"
                      " FROM n WHERE i < 50000) SELECT i, 'x' FROM n"));
    mb_db_close(db);
}

static void twice(void *ctx, mb_sql_call *call)
{
    int *calls = ctx;

    ++*calls;
    if (mb_arg_type(call, 0) == MB_COL_INT)
        mb_give_int(call, 2 * mb_arg_int(call, 0));
    else if (mb_arg_type(call, 0) == MB_COL_DOUBLE)
        mb_give_double(call, 2 * mb_arg_double(call, 0));
    else if (mb_arg_type(call, 0) == MB_COL_TEXT)
        mb_give_text(call, mb_arg_text(call, 0));
    else
        mb_give_null(call);
}

Test(db, functions_of_ours_come_and_go, .init = set_up,
     .fini = take_down)
{
    mb_db *db = made("functions.db");
    struct mb_error err = { 0 };
    mb_stmt *stmt;
    int calls = 0;
    bool row;

    cr_assert_eq(mb_db_function(db, "twice", 1, twice, &calls, &err), MB_OK, "%s", err.text);
    cr_assert_eq(mb_stmt_make(db, "SELECT twice(21), twice(0.5), twice('x'), twice(NULL)", &stmt,
                              &err),
                 MB_OK, "%s", err.text);
    cr_assert_eq(mb_stmt_step(stmt, &row, &err), MB_OK);
    cr_expect_eq(mb_col_int(stmt, 0), 42);
    cr_expect_float_eq(mb_col_double(stmt, 1), 1, 0);
    cr_expect(mb_str_is(mb_col_text(stmt, 2), "x"));
    cr_expect_eq(mb_col_type(stmt, 3), MB_COL_NULL);
    cr_expect_eq(calls, 4);
    mb_stmt_free(stmt);
    cr_assert_eq(mb_db_function(db, "twice", 1, NULL, NULL, &err), MB_OK, "%s", err.text);
    cr_expect_neq(mb_stmt_make(db, "SELECT twice(1)", &stmt, &err), MB_OK);
    mb_db_close(db);
}
