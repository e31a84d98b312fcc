#include "db.h"

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "db_priv.h"

#define WAIT_MS 60000
#define STEPS_A_LOOK 10000
#define NS_A_SECOND 1000000000LL

enum mb_rc mb_db_fail(mb_db *db, const char *doing, struct mb_error *err)
{
    int code = sqlite3_errcode(db->handle);

    if (code == SQLITE_BUSY)
        return mb_fail(err, MB_UNABLE, "another program holds the ledger; try again");
    if (code == SQLITE_INTERRUPT)
        return mb_fail(err, MB_UNABLE, "the query ran longer than it may and was stopped");
    if (code == SQLITE_TOOBIG)
        return mb_fail(err, MB_UNABLE,
                       "the query makes a text or blob larger than it may and was stopped");
    if (code == SQLITE_FULL)
        return mb_fail(err, MB_UNABLE, "the disk is full; nothing was recorded");
    if (code == SQLITE_IOERR)
        return mb_fail(err, MB_UNABLE,
                       "the disk does not take or give what the ledger needs (%s): is it full, or"
                       " failing?",
                       sqlite3_errmsg(db->handle));
    if (code == SQLITE_READONLY)
        return mb_fail(err, MB_UNABLE,
                       "the ledger cannot be written where it is: the disk, the folder or its file"
                       " ledger.db allows reading only");
    if (code == SQLITE_CORRUPT || code == SQLITE_NOTADB)
        return mb_fail(err, MB_UNABLE,
                       "the ledger's file ledger.db is damaged (%s): see what `markerbed verify`"
                       " can still read of it, and bring back a backup with `markerbed restore`",
                       sqlite3_errmsg(db->handle));
    return mb_fail(err, MB_UNABLE, "%s: %s", doing, sqlite3_errmsg(db->handle));
}

static bool starts(const char *text, const char *prefix)
{
    return text && strncmp(text, prefix, strlen(prefix)) == 0;
}

static bool is_view_table(const char *table)
{
    return starts(table, "v_") || (table && strcmp(table, "line") == 0);
}

static int may_write(const mb_db *db, int action, const char *table, const char *column)
{
    if (is_view_table(table))
        return db->grants & (MB_MAY_VIEW | MB_MAY_SHAPE) ? SQLITE_OK : SQLITE_DENY;
    if (action == SQLITE_INSERT)
        return db->grants & MB_MAY_APPEND ? SQLITE_OK : SQLITE_DENY;
    if (action == SQLITE_UPDATE && table && column && strcmp(table, "disclosures") == 0
        && strcmp(column, "tail") == 0)
        return db->grants & MB_MAY_FORGET ? SQLITE_OK : SQLITE_DENY;
    return SQLITE_DENY;
}

static int authorize(void *ctx, int action, const char *a, const char *b, const char *database,
                     const char *trigger)
{
    const mb_db *db = ctx;

    (void)database;
    (void)trigger;
    switch (action) {
    case SQLITE_READ:
        return db->rule ? mb_db_rule_may_read(a, b) : SQLITE_OK;
    case SQLITE_SELECT:
    case SQLITE_RECURSIVE:
        return SQLITE_OK;
    case SQLITE_TRANSACTION:
    case SQLITE_SAVEPOINT:
        return db->user ? SQLITE_DENY : SQLITE_OK;
    case SQLITE_FUNCTION:
        return b && (strcmp(b, "load_extension") == 0 || strcmp(b, "fts3_tokenizer") == 0)
                   ? SQLITE_DENY
                   : SQLITE_OK;
    case SQLITE_PRAGMA:
        /* full-text tables ask for their version themselves */
        return !db->user || (a && strcmp(a, "data_version") == 0) ? SQLITE_OK : SQLITE_DENY;
    case SQLITE_INSERT:
    case SQLITE_UPDATE:
    case SQLITE_DELETE:
        /* SQLite parses a virtual table's columns as if it wrote its own schema table, even for a
         * reader; a statement that really does is refused by SQLite itself (DEFENSIVE) */
        if (starts(a, "sqlite_"))
            return SQLITE_OK;
        return db->user ? SQLITE_DENY : may_write(db, action, a, b);
    case SQLITE_ATTACH:
    case SQLITE_DETACH:
        return SQLITE_DENY;
    default:
        if (db->user)
            return SQLITE_DENY;
        if (db->grants & MB_MAY_SHAPE)
            return SQLITE_OK;
        /* tables, indices and virtual tables of the views; for an index b is its table */
        return db->grants & MB_MAY_VIEW && (is_view_table(a) || is_view_table(b)) ? SQLITE_OK
                                                                                  : SQLITE_DENY;
    }
}

void mb_db_trust(mb_db *db, bool trusted)
{
    sqlite3_set_authorizer(db->handle, trusted ? NULL : authorize, db);
}

static int64_t now_ns(void)
{
    struct timespec now;

    clock_gettime(CLOCK_MONOTONIC, &now);
    return now.tv_sec * NS_A_SECOND + now.tv_nsec;
}

static int keep_time(void *ctx)
{
    mb_db *db = ctx;

    if (db->steps_left && (db->steps_left -= STEPS_A_LOOK) <= 0) {
        db->steps_left = 1; /* and no other step of it either */
        return 1;
    }
    return db->left_ns && now_ns() - db->began_ns >= db->left_ns;
}

static enum mb_rc set_up(mb_db *db, enum mb_db_role role, struct mb_error *err)
{
    sqlite3_busy_timeout(db->handle, WAIT_MS);
    sqlite3_db_config(db->handle, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    sqlite3_db_config(db->handle, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
    sqlite3_extended_result_codes(db->handle, 0);
    if (role == MB_DB_CREATE || role == MB_DB_WRITE) {
        enum mb_rc rc = mb_db_run(db,
                                  "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;"
                                  "PRAGMA secure_delete=ON;PRAGMA foreign_keys=ON;"
                                  "PRAGMA cache_size=-16000;PRAGMA temp_store=MEMORY;",
                                  err);

        if (rc)
            return rc;
    } else if (role == MB_DB_READ) {
        enum mb_rc rc = mb_db_run(db,
                                  "PRAGMA query_only=ON;PRAGMA cache_size=-16000;"
                                  "PRAGMA temp_store=MEMORY;",
                                  err);

        if (rc)
            return rc;
    }
    mb_db_trust(db, false);
    sqlite3_progress_handler(db->handle, STEPS_A_LOOK, keep_time, db);
    return MB_OK;
}

/* A file in WAL mode that lies alone, without its -wal, is read only where SQLite may make that
 * file beside it. On a medium or in a folder that cannot be written it is read as what it is then:
 * a file that nobody changes. NULL where that is not so. */
static const char *path_unchanging(mb_arena *arena, const char *path)
{
    const char *wal = mb_arena_printf(arena, "%s-wal", path);
    const char *slash = strrchr(path, '/');
    const char *folder = !slash          ? "."
                         : slash == path ? "/"
                                         : mb_arena_copy(arena, path, (size_t)(slash - path));
    const char *name = "";

    if (access(path, R_OK) || access(wal, F_OK) == 0 || access(folder, W_OK) == 0)
        return NULL;
    for (size_t plain; *path; path += plain) {
        plain = strcspn(path, "%?#");
        name = mb_arena_printf(arena, "%s%.*s", name, (int)plain, path);
        if (path[plain])
            name = mb_arena_printf(arena, "%s%%%02X", name, (unsigned)path[plain++]);
    }
    return mb_arena_printf(arena, "file:%s?immutable=1", name);
}

enum mb_rc mb_db_open(const char *path, enum mb_db_role role, mb_db **out, struct mb_error *err)
{
    static const int flags[] = {
        [MB_DB_READ] = SQLITE_OPEN_READONLY,
        [MB_DB_WRITE] = SQLITE_OPEN_READWRITE,
        [MB_DB_CREATE] = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE,
        [MB_DB_MEMORY] = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_MEMORY,
    };
    mb_arena *arena = mb_arena_new();
    const char *unchanging = role == MB_DB_READ ? path_unchanging(arena, path) : NULL;
    const char *name = role == MB_DB_MEMORY ? ":memory:" : unchanging ? unchanging : path;
    mb_db *db;
    enum mb_rc rc;
    int code;

    if (role == MB_DB_CREATE && access(path, F_OK) == 0) {
        mb_arena_free(arena);
        return mb_fail(err, MB_REFUSED, "%s is there already", path);
    }
    db = calloc(1, sizeof *db);
    if (!db)
        abort();
    code = sqlite3_open_v2(name, &db->handle,
                           flags[role] | SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_PRIVATECACHE
                               | (unchanging ? SQLITE_OPEN_URI : 0),
                           NULL);
    mb_arena_free(arena);
    if (code != SQLITE_OK) {
        rc = mb_fail(err, MB_REFUSED, "%s cannot be opened: %s", path, sqlite3_errmsg(db->handle));
        mb_db_close(db);
        return rc;
    }
    rc = set_up(db, role, err);
    if (rc) {
        mb_db_close(db);
        return rc;
    }
    *out = db;
    return MB_OK;
}

mb_db *mb_db_close(mb_db *db)
{
    if (db) {
        sqlite3_close_v2(db->handle);
        free(db);
    }
    return NULL;
}

void mb_db_grant(mb_db *db, unsigned grants)
{
    db->grants = grants;
}

enum mb_rc mb_db_run(mb_db *db, const char *sql, struct mb_error *err)
{
    if (sqlite3_exec(db->handle, sql, NULL, NULL, NULL) != SQLITE_OK)
        return mb_db_fail(db, "the ledger's database refuses", err);
    return MB_OK;
}

enum mb_rc mb_db_begin(mb_db *db, struct mb_error *err)
{
    return mb_db_run(db, "BEGIN IMMEDIATE", err);
}

enum mb_rc mb_db_commit(mb_db *db, struct mb_error *err)
{
    return mb_db_run(db, "COMMIT", err);
}

void mb_db_rollback(mb_db *db)
{
    if (mb_db_in_transaction(db))
        sqlite3_exec(db->handle, "ROLLBACK", NULL, NULL, NULL);
}

bool mb_db_in_transaction(const mb_db *db)
{
    return sqlite3_get_autocommit(db->handle) == 0;
}

int64_t mb_db_changes(const mb_db *db)
{
    return sqlite3_changes64(db->handle);
}

mb_stmt *mb_stmt_wrap(mb_db *db, sqlite3_stmt *handle)
{
    mb_stmt *stmt = malloc(sizeof *stmt);

    if (!stmt)
        abort();
    *stmt = (mb_stmt){ .handle = handle, .db = db };
    return stmt;
}

enum mb_rc mb_stmt_make(mb_db *db, const char *sql, mb_stmt **out, struct mb_error *err)
{
    sqlite3_stmt *handle;

    if (sqlite3_prepare_v3(db->handle, sql, -1, SQLITE_PREPARE_PERSISTENT, &handle, NULL)
        != SQLITE_OK)
        return mb_db_fail(db, "the ledger's database is not as expected", err);
    *out = mb_stmt_wrap(db, handle);
    return MB_OK;
}

enum mb_rc mb_stmt_make_user(mb_db *db, struct mb_str sql, int seconds, mb_stmt **out,
                             struct mb_error *err)
{
    enum mb_rc rc;

    db->user = true;
    rc = mb_stmt_prepare_user(db, sql, "a query", out, err);
    db->user = false;
    if (!rc) {
        db->left_ns = seconds * NS_A_SECOND;
        mb_stmt_bound(*out, QUERY_LENGTH_MOST);
    }
    return rc;
}

void mb_stmt_bound(mb_stmt *stmt, int length_most)
{
    stmt->bounded = true;
    sqlite3_limit(stmt->db->handle, SQLITE_LIMIT_LENGTH, length_most);
}

mb_stmt *mb_stmt_free(mb_stmt *stmt)
{
    if (stmt) {
        sqlite3_finalize(stmt->handle);
        if (stmt->bounded) {
            stmt->db->left_ns = 0;
            stmt->db->steps_left = 0;
            sqlite3_limit(stmt->db->handle, SQLITE_LIMIT_LENGTH, INT_MAX);
        }
        free(stmt);
    }
    return NULL;
}

void mb_bind_int(mb_stmt *stmt, int at, int64_t value)
{
    sqlite3_bind_int64(stmt->handle, at, value);
}

void mb_bind_text(mb_stmt *stmt, int at, struct mb_str value)
{
    sqlite3_bind_text(stmt->handle, at, value.at, (int)value.len, SQLITE_STATIC);
}

void mb_bind_blob(mb_stmt *stmt, int at, const void *bytes, size_t len)
{
    sqlite3_bind_blob(stmt->handle, at, bytes, (int)len, SQLITE_STATIC);
}

void mb_bind_double(mb_stmt *stmt, int at, double value)
{
    sqlite3_bind_double(stmt->handle, at, value);
}

void mb_bind_null(mb_stmt *stmt, int at)
{
    sqlite3_bind_null(stmt->handle, at);
}

/* The time between the steps is the caller's. */
static int step_in_time(mb_stmt *stmt)
{
    mb_db *db = stmt->db;
    int code;

    if (!db->left_ns)
        return sqlite3_step(stmt->handle);
    db->began_ns = now_ns();
    code = sqlite3_step(stmt->handle);
    db->left_ns -= now_ns() - db->began_ns;
    db->left_ns = db->left_ns > 0 ? db->left_ns : 1;
    return code;
}

enum mb_rc mb_stmt_step(mb_stmt *stmt, bool *row, struct mb_error *err)
{
    int code = step_in_time(stmt);
    enum mb_rc rc = MB_OK;

    *row = code == SQLITE_ROW;
    if (code != SQLITE_ROW && code != SQLITE_DONE)
        rc = mb_db_fail(stmt->db, "the ledger's database refuses", err);
    if (code != SQLITE_ROW)
        sqlite3_reset(stmt->handle);
    return rc;
}

enum mb_rc mb_stmt_do(mb_stmt *stmt, struct mb_error *err)
{
    bool row;
    enum mb_rc rc = mb_stmt_step(stmt, &row, err);

    if (row)
        sqlite3_reset(stmt->handle);
    return rc;
}

void mb_stmt_reset(mb_stmt *stmt)
{
    sqlite3_reset(stmt->handle);
}

int64_t mb_col_int(mb_stmt *stmt, int at)
{
    return sqlite3_column_int64(stmt->handle, at);
}

double mb_col_double(mb_stmt *stmt, int at)
{
    return sqlite3_column_double(stmt->handle, at);
}

struct mb_str mb_col_text(mb_stmt *stmt, int at)
{
    const char *text = (const char *)sqlite3_column_text(stmt->handle, at);

    return (struct mb_str){ text, text ? (size_t)sqlite3_column_bytes(stmt->handle, at) : 0 };
}

struct mb_str mb_col_blob(mb_stmt *stmt, int at)
{
    const char *bytes = sqlite3_column_blob(stmt->handle, at);

    return (struct mb_str){ bytes, bytes ? (size_t)sqlite3_column_bytes(stmt->handle, at) : 0 };
}

enum mb_col_type mb_col_type(mb_stmt *stmt, int at)
{
    switch (sqlite3_column_type(stmt->handle, at)) {
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

int mb_col_count(const mb_stmt *stmt)
{
    return sqlite3_column_count(stmt->handle);
}

const char *mb_col_name(const mb_stmt *stmt, int at)
{
    return sqlite3_column_name(stmt->handle, at);
}
