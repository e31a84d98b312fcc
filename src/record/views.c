#include "views.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <markerbed/show.h>

#include "date.h"
#include "fileio.h"
#include "text.h"
#include "views_priv.h"

enum { SECONDS_A_DAY = 86400, TRIES = 5 };

/* ---- how far ---- */

/* The first entry recorded at `moment` or later. Entries never go back in time. */
static enum mb_rc first_since(mb_log *log, int64_t size, int64_t moment, int64_t *seq,
                              struct mb_error *err)
{
    mb_arena *arena = mb_arena_new();
    int64_t from = 0, to = size;
    enum mb_rc rc = MB_OK;

    while (from < to && !rc) {
        int64_t mid = from + (to - from) / 2;
        struct mb_entry entry;

        mb_arena_reset(arena);
        rc = mb_log_entry(log, arena, mid, &entry, err);
        if (!rc && entry.iat < moment)
            from = mid + 1;
        else
            to = mid;
    }
    mb_arena_free(arena);
    *seq = from;
    return rc;
}

static bool read_number(const char *text, int64_t *number)
{
    size_t len = strspn(text, "0123456789");

    *number = strtoll(text, NULL, 10);
    return len > 0 && len <= 18 && text[len] == '\0';
}

enum mb_rc mb_views_before(mb_ledger *ledger, const char *as_of, int64_t *before,
                           struct mb_error *err)
{
    struct mb_days days;
    int64_t size, number;
    enum mb_rc rc = mb_log_size(ledger->log, &size, err);

    *before = size;
    if (rc || !as_of)
        return rc;
    if (as_of[0] == '#' && read_number(as_of + 1, &number)) {
        if (number >= size)
            return mb_fail(err, MB_REFUSED, "there is no entry %s; the last one is #%lld", as_of,
                           (long long)size - 1);
        *before = number + 1;
        return MB_OK;
    }
    if (as_of[0] == '#' || !mb_days_read(mb_str_of(as_of), &days))
        return mb_fail(err, MB_REFUSED,
                       "'%s' is neither a day (2026-05-02) nor an entry (#123) to look from",
                       as_of);
    return first_since(ledger->log, size, ((int64_t)days.last + 1) * SECONDS_A_DAY, before, err);
}

/* ---- which database ---- */

static enum mb_rc private_views(mb_ledger *ledger, int64_t before, mb_db **out,
                                struct mb_error *err)
{
    mb_db *db;
    enum mb_rc rc = mb_views_private(before, &db, err);

    if (rc)
        return rc;
    rc = mb_views_catch_up(ledger->log, db, before, err);
    mb_db_grant(db, 0);
    if (rc)
        db = mb_db_close(db);
    *out = db;
    return rc;
}

static bool may_write(const char *folder, const char *path)
{
    return access(folder, W_OK) == 0 && access(path, W_OK) == 0;
}

/* A second connection to the ledger's file; NULL where it cannot be written. */
static mb_db *own_file(mb_ledger *ledger)
{
    const char *folder = mb_log_folder(ledger->log);
    const char *path = mb_path_join(ledger->arena, folder, "ledger.db");

    if (ledger->views && ledger->views != mb_log_db(ledger->log))
        return ledger->views;
    if (!may_write(folder, path) || mb_db_open(path, MB_DB_WRITE, &ledger->views, NULL))
        return ledger->views = NULL;
    /* sorting a million rows for an index is no matter for memory */
    if (mb_db_run(ledger->views, "PRAGMA temp_store=FILE", NULL))
        ledger->views = mb_db_close(ledger->views);
    return ledger->views;
}

static bool is_current(mb_ledger *ledger, mb_db *db)
{
    bool current;
    int64_t entries;

    return mb_views_current(ledger->log, db, &current, &entries, NULL) == MB_OK && current;
}

/* The views in the ledger's own file, current; NULL where that cannot be had. */
static mb_db *stored_views(mb_ledger *ledger)
{
    mb_db *db = own_file(ledger);
    enum mb_rc rc;

    if (!db)
        return is_current(ledger, mb_log_db(ledger->log)) ? mb_log_db(ledger->log) : NULL;
    if (is_current(ledger, db))
        return db;
    mb_db_grant(db, MB_MAY_VIEW);
    rc = mb_views_catch_up(ledger->log, db, MB_NEVER, NULL);
    mb_db_grant(db, 0);
    return rc ? NULL : db;
}

enum mb_rc mb_views_at(mb_ledger *ledger, const char *as_of, mb_db **out, bool *own,
                       struct mb_error *err)
{
    int64_t before, size;
    enum mb_rc rc = mb_views_before(ledger, as_of, &before, err);

    *own = false;
    if (!rc)
        rc = mb_log_size(ledger->log, &size, err);
    if (rc)
        return rc;
    /* what is being recorded just now is only seen through the log's own connection */
    *out = before < size || mb_log_in_group(ledger->log) ? NULL : stored_views(ledger);
    if (*out)
        return MB_OK;
    *own = true;
    return private_views(ledger, before, out, err);
}

/* ---- one moment ---- */

static enum mb_rc hold(mb_ledger *ledger, struct mb_views *out, bool *held, struct mb_error *err)
{
    bool current;
    int64_t entries = 0;
    enum mb_rc rc;

    *held = true;
    if (out->own || mb_db_in_transaction(out->db))
        return MB_OK;
    rc = mb_db_run(out->db, "BEGIN", err);
    if (!rc)
        rc = mb_views_current(ledger->log, out->db, &current, &entries, err);
    *held = !rc && entries > 0; /* somebody may have begun to replay meanwhile */
    if (!*held)
        mb_db_rollback(out->db);
    return rc;
}

enum mb_rc mb_views_begin(mb_ledger *ledger, const char *as_of, struct mb_views *out,
                          struct mb_error *err)
{
    bool held = false;
    int64_t before;
    enum mb_rc rc = MB_OK;

    for (int i = 0; i < TRIES && !rc && !held; i++) {
        rc = mb_views_at(ledger, as_of, &out->db, &out->own, err);
        if (!rc)
            rc = hold(ledger, out, &held, err);
    }
    if (rc || held)
        return rc;
    rc = mb_views_before(ledger, as_of, &before, err);
    out->own = true;
    return rc ? rc : private_views(ledger, before, &out->db, err);
}

enum mb_rc mb_views_begin_for(mb_ledger *ledger, const char *as_of, struct mb_str subject,
                              struct mb_views *out, struct mb_error *err)
{
    int64_t before;
    enum mb_rc rc;

    if (!as_of)
        return mb_views_begin(ledger, as_of, out, err);
    out->own = true;
    rc = mb_views_before(ledger, as_of, &before, err);
    if (!rc)
        rc = mb_views_private(0, &out->db, err);
    if (rc)
        return rc;
    rc = mb_views_catch_some(ledger->log, out->db, before, &subject, 1, err);
    mb_db_grant(out->db, 0);
    if (rc)
        out->db = mb_db_close(out->db);
    return rc;
}

void mb_views_end(struct mb_views *views)
{
    if (views->own)
        views->db = mb_db_close(views->db);
    else if (views->db)
        mb_db_rollback(views->db);
    views->db = NULL;
}

/* ---- again from the beginning ---- */

/* Is the index of subjects what the entries themselves say? */
static enum mb_rc check_line(mb_ledger *ledger, mb_db *db, bool *right, struct mb_error *err)
{
    mb_arena *arena = mb_arena_new();
    struct mb_str leaf, jws, tail;
    mb_log_scan *scan = NULL;
    mb_stmt *stmt = NULL;
    int64_t seq, rows = 0;
    bool row = true;
    enum mb_rc rc = mb_stmt_make(db, "SELECT 1 FROM line WHERE sub = ?1 AND nth = ?2 AND seq = ?3"
                                     " AND kind = ?4 AND iat = ?5",
                                 &stmt, err);

    *right = true;
    if (!rc)
        rc = mb_log_scan_open(ledger->log, 0, MB_NEVER, &scan, err);
    while (!rc && *right && !(rc = mb_log_scan_next(scan, &row, &seq, &leaf, &jws, &tail, err))
           && row) {
        struct mb_entry entry;

        mb_arena_reset(arena);
        rc = mb_entry_read(arena, jws, &entry, err);
        if (rc)
            break;
        mb_bind_text(stmt, 1, entry.sub);
        mb_bind_int(stmt, 2, entry.nth);
        mb_bind_int(stmt, 3, entry.seq);
        mb_bind_text(stmt, 4, entry.kind);
        mb_bind_int(stmt, 5, entry.iat);
        rc = mb_stmt_step(stmt, right, err);
        mb_stmt_reset(stmt);
        rows++;
    }
    mb_log_scan_close(scan);
    mb_stmt_free(stmt);
    mb_arena_free(arena);
    if (rc || !*right)
        return rc;
    rc = mb_stmt_make(db, "SELECT count(*) FROM line", &stmt, err);
    if (!rc)
        rc = mb_stmt_step(stmt, &row, err);
    if (!rc)
        *right = row && mb_col_int(stmt, 0) == rows;
    mb_stmt_free(stmt);
    return rc;
}

static enum mb_rc write_line(mb_ledger *ledger, mb_db *db, struct mb_error *err)
{
    mb_arena *arena = mb_arena_new();
    struct mb_str leaf, jws, tail;
    mb_log_scan *scan = NULL;
    mb_stmt *stmt = NULL;
    int64_t seq;
    bool row = true;
    enum mb_rc rc = mb_db_run(db, "DELETE FROM line", err);

    if (!rc)
        rc = mb_stmt_make(db, "INSERT INTO line (sub, nth, seq, kind, iat)"
                              " VALUES (?1, ?2, ?3, ?4, ?5)",
                          &stmt, err);
    if (!rc)
        rc = mb_log_scan_open(ledger->log, 0, MB_NEVER, &scan, err);
    while (!rc && !(rc = mb_log_scan_next(scan, &row, &seq, &leaf, &jws, &tail, err)) && row) {
        struct mb_entry entry;

        mb_arena_reset(arena);
        rc = mb_entry_read(arena, jws, &entry, err);
        if (rc)
            break;
        mb_bind_text(stmt, 1, entry.sub);
        mb_bind_int(stmt, 2, entry.nth);
        mb_bind_int(stmt, 3, entry.seq);
        mb_bind_text(stmt, 4, entry.kind);
        mb_bind_int(stmt, 5, entry.iat);
        rc = mb_stmt_do(stmt, err);
    }
    mb_log_scan_close(scan);
    mb_stmt_free(stmt);
    mb_arena_free(arena);
    return rc;
}

static enum mb_rc rebuild(mb_ledger *ledger, mb_db *db, struct mb_error *err)
{
    bool right = true;
    enum mb_rc rc = mb_db_begin(db, err);

    if (!rc)
        rc = mb_views_drop(db, err);
    if (!rc)
        rc = check_line(ledger, db, &right, err);
    if (!rc && !right)
        rc = write_line(ledger, db, err);
    if (!rc)
        rc = mb_db_commit(db, err);
    mb_db_rollback(db);
    return rc ? rc : mb_views_catch_up(ledger->log, db, MB_NEVER, err);
}

enum mb_rc mb_views_rebuild(mb_ledger *ledger, struct mb_error *err)
{
    mb_db *db;
    enum mb_rc rc;

    if (mb_log_in_group(ledger->log))
        return mb_fail(err, MB_REFUSED,
                       "the views cannot be made again while entries are recorded");
    db = own_file(ledger);
    if (!db)
        return mb_fail(err, MB_UNABLE, "%s cannot be written; the views stay as they are",
                       mb_log_folder(ledger->log));
    mb_db_grant(db, MB_MAY_VIEW);
    rc = rebuild(ledger, db, err);
    mb_db_grant(db, 0);
    return rc;
}
