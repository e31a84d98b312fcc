/* SQL of a user's own: it reads, and does nothing else. */
#include <time.h>

#include "answer_rows.h"
#include "plain_db.h"
#include "viewing.h"

static struct viewing v;

static void set_up(void)
{
    viewing_new(&v);
    viewing_add(&v, "specimen/A", "collecting",
                "{\"open\":{\"objectForm\":\"slab\"},\"sale\":{\"objectQuantity\":1}}");
}

static void tear_down(void)
{
    viewing_done(&v);
}

TestSuite(query, .init = set_up, .fini = tear_down, .timeout = 120);

static const char *const hostile[] = {
    "INSERT INTO v_entry (seq) VALUES (99)",
    "DELETE FROM v_entry",
    "UPDATE v_specimen SET owner = 'me'",
    "DELETE FROM log",
    "UPDATE disclosures SET tail = ''",
    "INSERT INTO log VALUES (4, zeroblob(32), 'x')",
    "REPLACE INTO checkpoint VALUES (1, 'x')",
    "INSERT INTO v_search (v_search) VALUES ('optimize')",
    "INSERT INTO v_search (v_search, rank) VALUES ('rank', 'bm25(1)')",
    "CREATE TABLE v_mine (x)",
    "CREATE TEMP TABLE mine AS SELECT * FROM log",
    "CREATE VIEW mine AS SELECT 1",
    "CREATE VIRTUAL TABLE v_mine USING fts5 (x)",
    "CREATE TRIGGER mine AFTER INSERT ON log BEGIN SELECT 1; END",
    "DROP TABLE log",
    "DROP TABLE v_entry",
    "ALTER TABLE v_entry ADD COLUMN x",
    "ATTACH 'other.db' AS other",
    "ATTACH ':memory:' AS other",
    "DETACH main",
    "VACUUM",
    "VACUUM INTO 'copy.db'",
    "REINDEX",
    "ANALYZE",
    "PRAGMA journal_mode=DELETE",
    "PRAGMA query_only=0",
    "PRAGMA user_version",
    "PRAGMA writable_schema=1",
    "UPDATE sqlite_schema SET sql = ''",
    "BEGIN",
    "BEGIN; DELETE FROM log; COMMIT",
    "COMMIT",
    "ROLLBACK",
    "SAVEPOINT s",
    "SELECT 1; SELECT 2",
    "SELECT 1; DELETE FROM v_entry",
    "SELECT 1;\n-- a remark\nDELETE FROM v_entry",
    "EXPLAIN SELECT 1",
    "EXPLAIN DELETE FROM log",
    "SELECT load_extension('evil')",
    "WITH x AS (SELECT 1) DELETE FROM log",
    "",
    "   ",
    "-- nothing",
    "SELECT",
    "SELECT * FROM nowhere",
};

Test(query, what_would_write_is_refused_and_changes_nothing)
{
    struct sqlite3 *db;
    int64_t rows;

    viewing_ask(&v, "SELECT 1");
    db = plain_open(v.t.folder);
    rows = plain_number(db, "SELECT (SELECT count(*) FROM log) + (SELECT count(*) FROM v_entry)"
                            " + (SELECT count(*) FROM sqlite_schema) * 1000");
    for (size_t i = 0; i < sizeof hostile / sizeof *hostile; i++) {
        const mb_json *answer = NULL;

        v.err = (struct mb_error){ 0 };
        cr_assert_eq(
            mb_query(v.ledger, v.t.arena, mb_str_of(hostile[i]), NULL, &answer, &v.err),
            MB_REFUSED, "%s", hostile[i]);
        cr_assert(v.err.text[0], "%s", hostile[i]);
        cr_assert_null(answer);
    }
    cr_assert_eq(plain_number(db, "SELECT (SELECT count(*) FROM log) + (SELECT count(*) FROM"
                                  " v_entry) + (SELECT count(*) FROM sqlite_schema) * 1000"),
                 rows);
    plain_close(db);
    viewing_whole(&v);
}

Test(query, a_pragma_in_the_dress_of_a_table_sets_nothing)
{
    viewing_ask(&v, "SELECT * FROM pragma_journal_mode('delete')");
    SAYS(&v, "SELECT * FROM pragma_journal_mode", "wal");
    viewing_ask(&v, "SELECT * FROM pragma_optimize(65535)");
    SAYS(&v, "SELECT count(*) FROM sqlite_schema WHERE name GLOB 'sqlite_stat*'", "0");
}

/* Through views in memory too, where nothing else stands in the way. */
Test(query, what_would_write_into_a_private_copy_is_refused_too)
{
    for (size_t i = 0; i < sizeof hostile / sizeof *hostile; i++) {
        const mb_json *answer = NULL;

        v.err = (struct mb_error){ 0 };
        cr_assert_eq(
            mb_query(v.ledger, v.t.arena, mb_str_of(hostile[i]), "#3", &answer, &v.err),
            MB_REFUSED, "%s", hostile[i]);
    }
}

Test(query, what_never_ends_is_stopped)
{
    static const char *const endless[] = {
        "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT max(i) FROM n",
        "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i FROM n) SELECT count(*) FROM n",
        "SELECT count(*) FROM v_field a, v_field b, v_field c, v_field d, v_field e, v_field f,"
        " v_field g, v_field h, v_field i, v_field j, v_field k, v_field l",
    };

    for (size_t i = 0; i < sizeof endless / sizeof *endless; i++) {
        const mb_json *answer;
        struct timespec from, to;

        v.err = (struct mb_error){ 0 };
        clock_gettime(CLOCK_MONOTONIC, &from);
        cr_assert_eq(mb_query_within(v.ledger, v.t.arena, mb_str_of(endless[i]), NULL, 1, &answer,
                                     &v.err),
                     MB_UNABLE, "%s", endless[i]);
        clock_gettime(CLOCK_MONOTONIC, &to);
        cr_assert_lt(to.tv_sec - from.tv_sec, 20, "%s", endless[i]);
        cr_assert(strstr(v.err.text, "longer"), "%s", v.err.text);
    }
    SAYS(&v, "SELECT 1", "1"); /* and the next one is none the worse */
}

Test(query, an_answer_without_end_is_refused_before_memory_runs_out)
{
    const mb_json *answer;

    cr_assert_eq(mb_query(v.ledger, v.t.arena,
                          MB_STR("WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n)"
                                 " SELECT i FROM n"),
                          NULL, &answer, &v.err),
                 MB_REFUSED);
    cr_assert(strstr(v.err.text, "LIMIT"), "%s", v.err.text);
}

Test(query, values_of_every_sort_come_as_json)
{
    SAYS(&v, "SELECT NULL, -7, 9007199254740993, 1.5, 'text', X'00ff', 1e300 * 1e300",
         "-|-7|9007199254740993|1.5|text|AP8|-");
    SAYS(&v, "SELECT 1 AS one, 2 WHERE 0", "");
    SAYS(&v, "  SELECT 1 ; ", "1");
    SAYS(&v, "WITH x AS (SELECT 2 AS y) SELECT y FROM x", "2");
    SAYS(&v, "VALUES (1), (2)", "1; 2");
}

Test(query, columns_have_their_names)
{
    const mb_json *answer;

    cr_assert_eq(mb_query(v.ledger, v.t.arena,
                          MB_STR("SELECT object_form, quantity_now AS pieces FROM v_specimen"),
                          NULL, &answer, &v.err),
                 MB_OK);
    cr_assert_str_eq(mb_json_write(v.t.arena, answer).at,
                     "{\"columns\":[\"object_form\",\"pieces\"],\"rows\":[[\"slab\",1]]}");
}

/* Row by row, the same as all at once; past the bound of what is given at once. */
Test(query, rows_one_by_one)
{
    static const char *const few = "SELECT seq, kind FROM v_entry ORDER BY seq";
    static const char *const many =
        "WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM c WHERE x < 400000)"
        " SELECT x FROM c";
    mb_arena *scratch = mb_arena_new();
    const mb_json *answer, *row, *expected;
    int64_t count = 0;
    mb_rows *rows;

    cr_assert_eq(mb_query(v.ledger, v.t.arena, mb_str_of(few), NULL, &answer, &v.err), MB_OK);
    cr_assert_eq(mb_query_rows(v.ledger, v.t.arena, mb_str_of(few), NULL, &rows, &v.err), MB_OK);
    cr_expect(mb_json_equal(mb_rows_columns(rows), mb_json_get(answer, "columns")));
    expected = mb_json_get(answer, "rows")->first;
    for (;; expected = expected->next) {
        cr_assert_eq(mb_rows_next(rows, scratch, &row, &v.err), MB_OK);
        if (!row || !expected)
            break;
        cr_expect(mb_json_equal(row, expected));
        mb_arena_reset(scratch);
    }
    cr_expect(!row && !expected);
    mb_rows_close(rows);

    cr_assert_eq(mb_query(v.ledger, v.t.arena, mb_str_of(many), NULL, &answer, &v.err),
                 MB_REFUSED);
    v.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_query_rows(v.ledger, v.t.arena, mb_str_of(many), NULL, &rows, &v.err), MB_OK);
    while (mb_rows_next(rows, scratch, &row, &v.err) == MB_OK && row) {
        count++;
        mb_arena_reset(scratch);
    }
    cr_expect_eq(count, 400000, "%s", v.err.text);
    mb_rows_close(rows);
    mb_rows_close(NULL);

    cr_assert_eq(mb_list_rows(v.ledger, v.t.arena, "kinds", NULL, &rows, &v.err), MB_OK);
    for (count = 0; mb_rows_next(rows, scratch, &row, &v.err) == MB_OK && row;)
        count++;
    cr_expect_gt(count, 30);
    mb_rows_close(rows);
    cr_assert_eq(mb_list_rows(v.ledger, v.t.arena, "fossils", NULL, &rows, &v.err), MB_REFUSED);
    v.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_query_rows(v.ledger, v.t.arena, MB_STR("DELETE FROM log"), NULL, &rows,
                               &v.err),
                 MB_REFUSED);
    mb_arena_free(scratch);
}
