#include "views.h"

#include <markerbed/show.h>

#include <string.h>

#include "date.h"
#include "fileio.h"
#include "replay.h"
#include "text.h"

/* How many entries belong to "as of": "#1234", or a day (all that was recorded by its end, UTC). */
static enum mb_rc size_as_of(mb_ledger *ledger, const char *as_of, int64_t *size,
                             struct mb_error *err)
{
    int64_t all, low = 0, high, end;
    struct mb_days days;
    enum mb_rc rc = mb_log_size(ledger->log, &all, err);

    if (rc)
        return rc;
    if (as_of[0] == '#' && as_of[1] >= '0' && as_of[1] <= '9' && strlen(as_of) < 17) {
        int64_t seq = 0;

        for (const char *c = as_of + 1; *c >= '0' && *c <= '9'; c++)
            seq = 10 * seq + (*c - '0');
        *size = seq + 1 < all ? seq + 1 : all;
        return MB_OK;
    }
    if (!mb_days_read(mb_str_of(as_of), &days))
        return mb_fail(err, MB_REFUSED,
                       "'%s' is no point in time; write a day like 2026-05-02, or #12 for an entry",
                       as_of);
    end = ((int64_t)days.last + 1) * 86400;
    /* iat never decreases, so the last entry of that day is found by halving */
    for (high = all; low < high;) {
        int64_t middle = low + (high - low) / 2;
        mb_arena *arena = mb_arena_new();
        struct mb_entry entry;

        rc = mb_log_entry(ledger->log, arena, middle, &entry, err);
        if (!rc && entry.iat < end)
            low = middle + 1;
        else
            high = middle;
        mb_arena_free(arena);
        if (rc)
            return rc;
    }
    *size = low;
    return MB_OK;
}

static enum mb_rc in_memory(mb_ledger *ledger, int64_t size, mb_db **out, struct mb_error *err)
{
    mb_db *db;
    enum mb_rc rc = mb_db_open(NULL, MB_DB_MEMORY, &db, err);

    if (rc)
        return rc;
    mb_db_grant(db, MB_MAY_VIEW);
    rc = mb_db_run(db, "BEGIN", err);
    if (!rc)
        rc = mb_replay_to(db, ledger->log, size, err);
    if (!rc)
        rc = mb_db_commit(db, err);
    mb_db_grant(db, 0);
    if (rc)
        mb_db_close(db);
    else
        *out = db;
    return rc;
}

/* The ledger's own file, brought up to date. MB_NO where it cannot be written. */
static enum mb_rc in_file(mb_ledger *ledger, bool rebuild, mb_db **out, struct mb_error *err)
{
    mb_arena *arena = mb_arena_new();
    const char *path = mb_path_join(arena, mb_log_folder(ledger->log), "ledger.db");
    struct mb_error why = { 0 };
    mb_db *db = NULL;
    int64_t size;
    enum mb_rc rc = mb_log_size(ledger->log, &size, err);

    if (!rc && mb_db_open(path, MB_DB_WRITE, &db, &why))
        rc = MB_NO;
    if (!rc && (rebuild || mb_replay_stamp(db) != size)) {
        mb_db_grant(db, MB_MAY_VIEW);
        if (mb_db_begin(db, &why))
            rc = MB_NO;
        if (!rc && rebuild)
            rc = mb_replay_reset(db, err);
        if (!rc)
            rc = mb_replay_to(db, ledger->log, size, err);
        if (!rc)
            rc = mb_db_commit(db, err);
        mb_db_grant(db, 0);
    }
    mb_arena_free(arena);
    if (rc)
        mb_db_close(db);
    else
        *out = db;
    return rc;
}

enum mb_rc mb_views_at(mb_ledger *ledger, const char *as_of, mb_db **out, bool *own,
                       struct mb_error *err)
{
    int64_t size;
    enum mb_rc rc;

    *own = true;
    if (as_of) {
        rc = size_as_of(ledger, as_of, &size, err);
        return rc ? rc : in_memory(ledger, size, out, err);
    }
    rc = in_file(ledger, false, out, err);
    if (rc != MB_NO)
        return rc;
    rc = mb_log_size(ledger->log, &size, err);
    return rc ? rc : in_memory(ledger, size, out, err);
}

enum mb_rc mb_views_rebuild(mb_ledger *ledger, struct mb_error *err)
{
    mb_db *db;
    enum mb_rc rc = in_file(ledger, true, &db, err);

    if (rc == MB_NO)
        return mb_fail(err, MB_UNABLE, "the ledger's file cannot be written, so its views cannot"
                                       " be rebuilt");
    if (!rc)
        mb_db_close(db);
    return rc;
}

/* ---- comparing ---- */

static const char *const compared[][2] = {
    { "v_entry",
      "SELECT seq, iat, recorded_at, sub, nth, kind, kid, leaf, day, day_first, day_last,"
      " voided_by, line FROM v_entry ORDER BY seq" },
    { "v_field", "SELECT seq, name, value, json, class, from_seq FROM v_field ORDER BY seq, name" },
    { "v_search", "SELECT rowid, sub, text FROM v_search ORDER BY rowid" },
};

static bool same_row(mb_stmt *a, mb_stmt *b)
{
    for (int i = 0; i < mb_col_count(a); i++)
        if (mb_col_type(a, i) != mb_col_type(b, i)
            || !mb_str_equal(mb_col_text(a, i), mb_col_text(b, i)))
            return false;
    return true;
}

/* MB_NO if they differ. */
static enum mb_rc compare(mb_db *stored, mb_db *fresh, const char *sql, struct mb_error *err)
{
    mb_stmt *a = NULL, *b = NULL;
    bool row_a = true, row_b = true;
    enum mb_rc rc = mb_stmt_make(stored, sql, &a, err);

    if (!rc)
        rc = mb_stmt_make(fresh, sql, &b, err);
    while (!rc && row_a) {
        rc = mb_stmt_step(a, &row_a, err);
        if (!rc)
            rc = mb_stmt_step(b, &row_b, err);
        if (!rc && (row_a != row_b || (row_a && !same_row(a, b))))
            rc = MB_NO;
    }
    mb_stmt_free(a);
    mb_stmt_free(b);
    return rc;
}

/* The definitions of the views are compared by the stamp's digest; here it is what they are made
 * of, as it stands in the file: a changed definition is no row. */
static const char *const shapes = "SELECT type, name, coalesce(sql, '') FROM sqlite_schema"
                                  " WHERE name LIKE 'v\\_%' ESCAPE '\\' ORDER BY name";

enum mb_rc mb_views_compare(mb_ledger *ledger, mb_arena *arena, const char **where,
                            struct mb_error *err)
{
    mb_db *stored = mb_log_db(ledger->log), *fresh;
    int64_t stamp = mb_replay_stamp(stored);
    enum mb_rc rc;

    (void)arena;
    if (stamp < 0) /* never made, or by another version: nobody reads them before a replay */
        return MB_OK;
    rc = in_memory(ledger, stamp, &fresh, err);
    if (rc)
        return rc;
    *where = "definitions";
    rc = compare(stored, fresh, shapes, err);
    for (size_t i = 0; !rc && i < sizeof compared / sizeof *compared; i++) {
        *where = compared[i][0];
        rc = compare(stored, fresh, compared[i][1], err);
    }
    mb_db_close(fresh);
    return rc;
}
