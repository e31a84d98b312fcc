/*
 * L6 and L2: what stands in the file stays as it was written, or is noticed.
 * The file is opened here with plain SQLite too, as somebody with a copy of it could.
 */
#include <criterion/criterion.h>
#include <sqlite3.h>
#include <string.h>

#include "plain_db.h"
#include "temp_ledger.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])
#define H "x'0101010101010101010101010101010101010101010101010101010101010101'"

/* Every way in which SQL changes or removes a row, for each table that endures. */
static const char *const attacks[] = {
    "UPDATE log SET jws = 'x' WHERE seq = 1",
    "UPDATE log SET leaf = " H,
    "UPDATE log SET seq = 77 WHERE seq = 2",
    "UPDATE OR REPLACE log SET seq = 0 WHERE seq = 2",
    "DELETE FROM log WHERE seq = 2",
    "DELETE FROM log",
    "INSERT OR REPLACE INTO log (seq, leaf, jws) VALUES (1, " H ", 'x')",
    "REPLACE INTO log (seq, leaf, jws) VALUES (1, " H ", 'x')",
    "INSERT INTO log (seq, leaf, jws) VALUES (1, " H ", 'x')"
    " ON CONFLICT (seq) DO UPDATE SET jws = excluded.jws",
    "INSERT OR IGNORE INTO log (seq, leaf, jws) VALUES (1, " H ", 'x')",
    "INSERT INTO log (seq, leaf, jws) VALUES (99, " H ", 'x')", /* a gap */
    "INSERT INTO log (leaf, jws) VALUES (" H ", 'x')",
    "UPDATE node SET hash = " H,
    "DELETE FROM node",
    "INSERT OR REPLACE INTO node (at, hash) VALUES (0, " H ")",
    "REPLACE INTO node (at, hash) VALUES (0, " H ")",
    "INSERT INTO node (at, hash) VALUES (0, " H ") ON CONFLICT (at) DO UPDATE SET hash = " H,
    "INSERT INTO node (at, hash) VALUES (50, " H ")",
    "UPDATE checkpoint SET note = 'x'",
    "UPDATE checkpoint SET size = 2",
    "DELETE FROM checkpoint",
    "INSERT OR REPLACE INTO checkpoint (size, note) VALUES (3, 'x')",
    "REPLACE INTO checkpoint (size, note) VALUES (3, 'x')",
    "INSERT INTO checkpoint (size, note) VALUES (3, 'x') ON CONFLICT (size) DO UPDATE SET note='x'",
    "INSERT INTO checkpoint (size, note) VALUES (2, 'x')", /* behind the newest */
    "UPDATE disclosures SET tail = 'longer than before, so that nothing is erased' || tail",
    "UPDATE disclosures SET tail = tail",
    "UPDATE disclosures SET seq = 77 WHERE seq = 2",
    "DELETE FROM disclosures",
    "INSERT OR REPLACE INTO disclosures (seq, tail) VALUES (1, 'x~')",
    "REPLACE INTO disclosures (seq, tail) VALUES (1, 'x~')",
    "INSERT INTO disclosures (seq, tail) VALUES (1, 'x~') ON CONFLICT (seq) DO UPDATE SET "
    "tail='x~'",
    "INSERT INTO disclosures (seq, tail) VALUES (99, 'x~')",
    "UPDATE cosignature SET line = 'x'",
    "DELETE FROM cosignature",
    "REPLACE INTO cosignature (size, line) VALUES (3, 'seen')",
    "INSERT INTO cosignature (size, line) VALUES (3, 'seen')"
    " ON CONFLICT (size, line) DO UPDATE SET line = 'x'",
    "UPDATE seen SET note = 'x'",
    "DELETE FROM seen",
    "INSERT INTO seen (origin, size, note) VALUES ('o', 1, 'n')"
    " ON CONFLICT (origin, size, note) DO UPDATE SET note = 'x'",
};

/* What only the grant keeps away: a trigger cannot stop it. */
static const char *const shapes[] = {
    "DROP TABLE log",
    "DROP TRIGGER log_update",
    "ALTER TABLE log ADD COLUMN x",
    "ALTER TABLE log RENAME TO old",
    "ALTER TABLE log DROP COLUMN jws",
    "CREATE TABLE x (a)",
    "CREATE TRIGGER x AFTER INSERT ON log BEGIN DELETE FROM line; END",
    "CREATE TEMP TRIGGER x AFTER INSERT ON log BEGIN DELETE FROM line; END",
    "CREATE VIEW v AS SELECT 1",
    "CREATE INDEX x ON log (jws)",
    "ATTACH 'other.db' AS other",
    "INSERT INTO sqlite_schema VALUES ('table','x','x',2,'')",
    "DELETE FROM sqlite_schema",
    "UPDATE sqlite_schema SET sql = ''",
};

/* All rows of all enduring tables as one text: to see that nothing changed. */
static char *everything(mb_arena *arena, sqlite3 *db)
{
    static const char *const sql[] = {
        "SELECT seq || hex(leaf) || jws FROM log ORDER BY seq",
        "SELECT seq || tail FROM disclosures ORDER BY seq",
        "SELECT at || hex(hash) FROM node ORDER BY at",
        "SELECT size || note FROM checkpoint ORDER BY size",
        "SELECT size || line FROM cosignature ORDER BY size",
        "SELECT origin || size || note FROM seen",
        "SELECT name || sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY name",
    };
    char *all = mb_arena_text(arena, "");

    for (size_t i = 0; i < COUNT(sql); i++) {
        sqlite3_stmt *stmt;

        cr_assert_eq(sqlite3_prepare_v2(db, sql[i], -1, &stmt, NULL), SQLITE_OK, "%s",
                     sqlite3_errmsg(db));
        while (sqlite3_step(stmt) == SQLITE_ROW)
            all = mb_arena_printf(arena, "%s%s\n", all, sqlite3_column_text(stmt, 0));
        sqlite3_finalize(stmt);
    }
    return all;
}

static void ledger_with_rows(struct temp_ledger *t)
{
    sqlite3 *db;

    temp_ledger_new(t);
    db = plain_open(t->folder);
    cr_assert(plain_run(db, "INSERT INTO cosignature VALUES (3, 'seen');"
                            "INSERT INTO seen VALUES ('o', 1, 'n')"));
    plain_close(db);
}

Test(log_guard, triggers_alone_keep_every_row)
{
    struct temp_ledger t;
    sqlite3 *db;
    char *before;

    ledger_with_rows(&t);
    db = plain_open(t.folder);
    before = everything(t.arena, db);
    for (int recursive = 0; recursive < 2; recursive++) {
        cr_assert(plain_run(db, recursive ? "PRAGMA recursive_triggers=ON"
                                          : "PRAGMA recursive_triggers=OFF"));
        for (size_t i = 0; i < COUNT(attacks); i++)
            cr_expect_not(plain_run(db, attacks[i]), "%s", attacks[i]);
    }
    cr_expect(strcmp(everything(t.arena, db), before) == 0, "rows or shape changed");
    plain_close(db);
    temp_ledger_done(&t);
}

static void all_refused(mb_db *db, const char *who)
{
    for (size_t i = 0; i < COUNT(attacks); i++)
        cr_expect_neq(mb_db_run(db, attacks[i], NULL), MB_OK, "%s: %s", who, attacks[i]);
    for (size_t i = 0; i < COUNT(shapes); i++) {
        struct mb_error err = { 0 };

        cr_expect_neq(mb_db_run(db, shapes[i], &err), MB_OK, "%s: %s", who, shapes[i]);
        cr_expect(err.text[0]);
    }
}

Test(log_guard, no_connection_of_ours_changes_what_is_recorded)
{
    struct temp_ledger t;
    struct mb_error err = { 0 };
    sqlite3 *db;
    char *before;

    ledger_with_rows(&t);
    db = plain_open(t.folder);
    before = everything(t.arena, db);

    all_refused(mb_log_db(t.log), "the connection that founded");
    mb_log_close(t.log);
    cr_assert_eq(mb_log_open(t.arena, t.folder, MB_LOG_READ, &t.log, &err), MB_OK);
    all_refused(mb_log_db(t.log), "reader");
    mb_db_grant(mb_log_db(t.log), ~0u); /* opened for reading, no grant helps */
    all_refused(mb_log_db(t.log), "reader with every grant");
    mb_log_close(t.log);
    cr_assert_eq(mb_log_open(t.arena, t.folder, MB_LOG_WRITE, &t.log, &err), MB_OK);
    all_refused(mb_log_db(t.log), "writer without a group");
    temp_ledger_begin(&t);
    all_refused(mb_log_db(t.log), "writer in a group");
    mb_log_rollback(t.log);
    all_refused(mb_log_db(t.log), "writer after a group");
    cr_expect(strcmp(everything(t.arena, db), before) == 0, "rows or shape changed");
    plain_close(db);
    temp_ledger_done(&t);
}

/* Between making the file and the first group nothing may reshape it either. */
Test(log_guard, a_new_file_is_closed_to_reshaping_at_once)
{
    struct temp_ledger t;
    struct mb_error err = { 0 };
    mb_log *log;

    temp_ledger_new(&t);
    cr_assert_eq(mb_log_create(t.arena, mb_arena_printf(t.arena, "%s/new", t.folder), &log, &err),
                 MB_OK, "%s", err.text);
    for (size_t i = 0; i < COUNT(shapes); i++)
        cr_expect_neq(mb_db_run(mb_log_db(log), shapes[i], NULL), MB_OK, "%s", shapes[i]);
    mb_log_close(log);
    temp_ledger_done(&t);
}

/* ---- L2: bits turned in the file between two groups ---- */

/* One more entry, with a checkpoint: its code. The group is rolled back if it was refused. */
static enum mb_rc next_checkpoint(struct temp_ledger *t, struct mb_error *err)
{
    const mb_secret *keys[] = { t->checkpoint };
    enum mb_rc rc = mb_log_open(t->arena, t->folder, MB_LOG_WRITE, &t->log, err);

    if (!rc)
        rc = mb_log_begin(t->log, err);
    if (!rc)
        rc = temp_ledger_put(t, "specimen/Z", "note", "{}", err);
    if (!rc)
        rc = mb_log_commit(t->log, keys, 1, err);
    t->log = rc == MB_REFUSED && !t->log ? NULL : mb_log_close(t->log);
    return rc;
}

/* Entries 0-2 and their node stand under a checkpoint; 3-10 were recorded after it. Whatever bit of
 * these is turned, no checkpoint is signed over it; put back, all goes on. */
Test(log_guard, a_turned_bit_is_noticed_before_the_next_checkpoint)
{
    struct temp_ledger t;
    struct mb_error err = { 0 };
    sqlite3 *db;

    temp_ledger_new(&t);
    temp_ledger_begin(&t);
    for (int i = 0; i < 8; i++)
        temp_ledger_put_by(&t, t.owner, "specimen/A", "note", "{\"open\":{\"text\":\"a find\"}}");
    cr_assert_eq(mb_log_commit(t.log, NULL, 0, &err), MB_OK, "%s", err.text);
    t.log = mb_log_close(t.log);
    db = plain_open(t.folder);
    plain_unguard(db);

    for (int64_t seq = 3; seq <= 10; seq++)
        for (size_t bit = 0; bit < 64; bit += 7) {
            static const char *const columns[] = { "leaf", "jws" };

            for (size_t c = 0; c < 2; c++) {
                size_t at = bit * (c ? 61 : 3);

                err = (struct mb_error){ 0 };
                plain_turn(db, "log", "seq", seq, columns[c], at);
                cr_expect_neq(next_checkpoint(&t, &err), MB_OK, "%s of %lld, bit %zu", columns[c],
                              (long long)seq, at);
                plain_turn(db, "log", "seq", seq, columns[c], at);
            }
        }
    /* nodes 1-8: row 0 is over entries 0 and 1 and was signed; the root over it would not be */
    for (int64_t at = 0; at <= 7; at++)
        for (size_t bit = 0; bit < 256; bit += 37) {
            err = (struct mb_error){ 0 };
            plain_turn(db, "node", "at", at, "hash", bit);
            cr_expect_neq(next_checkpoint(&t, &err), MB_OK, "node %lld, bit %zu", (long long)at,
                          bit);
            plain_turn(db, "node", "at", at, "hash", bit);
        }
    for (size_t bit = 26 * 8; bit < 70 * 8; bit += 31) { /* its size and root */
        err = (struct mb_error){ 0 };
        plain_turn(db, "checkpoint", "size", 3, "note", bit);
        cr_expect_neq(next_checkpoint(&t, &err), MB_OK, "checkpoint, bit %zu", bit);
        plain_turn(db, "checkpoint", "size", 3, "note", bit);
    }
    cr_assert(plain_run(db, "CREATE TABLE kept AS SELECT * FROM log WHERE seq = 7;"
                            "DELETE FROM log WHERE seq = 7"));
    err = (struct mb_error){ 0 };
    cr_expect_neq(next_checkpoint(&t, &err), MB_OK, "an entry gone");
    cr_assert(plain_run(db, "INSERT INTO log SELECT * FROM kept; DROP TABLE kept"));

    err = (struct mb_error){ 0 };
    cr_expect_eq(next_checkpoint(&t, &err), MB_OK, "%s", err.text);
    plain_close(db);
    temp_ledger_done(&t);
}

/* Somebody who changes entry and leaf hash alike, but not the nodes, is noticed too. */
Test(log_guard, an_entry_swapped_for_another_is_noticed)
{
    struct temp_ledger t;
    struct mb_error err = { 0 };
    sqlite3 *db;

    temp_ledger_new(&t);
    temp_ledger_begin(&t);
    for (int i = 0; i < 6; i++)
        temp_ledger_put_by(&t, t.owner, "specimen/A", "note", "{}");
    cr_assert_eq(mb_log_commit(t.log, NULL, 0, &err), MB_OK, "%s", err.text);
    t.log = mb_log_close(t.log);
    db = plain_open(t.folder);
    plain_unguard(db);
    cr_assert(plain_run(db, "UPDATE log SET leaf = (SELECT leaf FROM log WHERE seq = 4),"
                            " jws = (SELECT jws FROM log WHERE seq = 4) WHERE seq = 5"));
    cr_expect_eq(next_checkpoint(&t, &err), MB_UNABLE);
    cr_expect(strstr(err.text, "nothing was recorded"), "%s", err.text);
    plain_close(db);
    temp_ledger_done(&t);
}

/* L1: what is acknowledged is synced. */
Test(log_guard, the_writer_syncs_every_commit)
{
    static const struct {
        const char *pragma, *value;
    } wanted[] = { { "journal_mode", "wal" },
                   { "synchronous", "2" },
                   { "secure_delete", "1" },
                   { "foreign_keys", "1" } };
    struct temp_ledger t;

    temp_ledger_new(&t);
    for (size_t i = 0; i < COUNT(wanted); i++) {
        mb_stmt *stmt;
        bool row;

        cr_assert_eq(mb_stmt_make(mb_log_db(t.log),
                                  mb_arena_printf(t.arena, "PRAGMA %s", wanted[i].pragma), &stmt,
                                  NULL),
                     MB_OK);
        cr_assert_eq(mb_stmt_step(stmt, &row, NULL), MB_OK);
        cr_expect(row && mb_str_is(mb_col_text(stmt, 0), wanted[i].value), "%s", wanted[i].pragma);
        mb_stmt_free(stmt);
    }
    temp_ledger_done(&t);
}
