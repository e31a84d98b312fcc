/* Copying a database while it is written to, and leaving nothing behind of what was removed. */
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <unistd.h>

#include "db_priv.h"

/* ---- copying ---- */

static void take_away(const char *path)
{
    static const char *const endings[] = { "", "-journal", "-wal", "-shm" };
    mb_arena *arena = mb_arena_new();

    for (size_t i = 0; i < sizeof endings / sizeof *endings; i++)
        unlink(mb_arena_printf(arena, "%s%s", path, endings[i]));
    mb_arena_free(arena);
}

static enum mb_rc sync_file(const char *path, struct mb_error *err)
{
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    bool synced = fd >= 0 && fsync(fd) == 0;
    int reason = errno;

    if (fd >= 0)
        close(fd);
    errno = reason;
    return synced ? MB_OK : mb_fail(err, MB_UNABLE, "the copy %s could not be saved: %m", path);
}

static enum mb_rc not_copied(const char *path, int code, struct mb_error *err)
{
    if ((code & 0xff) == SQLITE_FULL)
        return mb_fail(err, MB_UNABLE, "the disk is full; %s was not made", path);
    if ((code & 0xff) == SQLITE_BUSY || (code & 0xff) == SQLITE_LOCKED)
        return mb_fail(err, MB_UNABLE, "another program holds the ledger; try again");
    return mb_fail(err, MB_UNABLE, "the copy %s could not be written: %s", path,
                   sqlite3_errstr(code));
}

/* The copy is thrown away if anything fails, so it needs no journal of its own. */
static int copy_all(sqlite3 *from, sqlite3 *to)
{
    int code = sqlite3_exec(to, "PRAGMA journal_mode=OFF;PRAGMA synchronous=FULL;", NULL, NULL,
                            NULL);
    sqlite3_backup *backup;

    if (code != SQLITE_OK)
        return code;
    backup = sqlite3_backup_init(to, "main", from, "main");
    if (!backup)
        return sqlite3_errcode(to);
    code = sqlite3_backup_step(backup, -1);
    sqlite3_backup_finish(backup);
    if (code != SQLITE_DONE)
        return code;
    /* its pages say "WAL" as those of the original do */
    return sqlite3_exec(to, "PRAGMA journal_mode=DELETE", NULL, NULL, NULL);
}

enum mb_rc mb_db_copy(mb_db *db, const char *path, struct mb_error *err)
{
    sqlite3 *to = NULL;
    enum mb_rc rc;
    int code;

    if (access(path, F_OK) == 0)
        return mb_fail(err, MB_REFUSED, "%s is there already", path);
    code = sqlite3_open_v2(path, &to,
                           SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOMUTEX
                               | SQLITE_OPEN_PRIVATECACHE,
                           NULL);
    if (code != SQLITE_OK) {
        sqlite3_close_v2(to);
        return mb_fail(err, MB_REFUSED, "%s cannot be opened: %s", path, sqlite3_errstr(code));
    }
    code = copy_all(db->handle, to);
    if (sqlite3_close_v2(to) != SQLITE_OK && code == SQLITE_OK)
        code = SQLITE_IOERR;
    rc = code == SQLITE_OK ? sync_file(path, err) : not_copied(path, code, err);
    if (rc)
        take_away(path);
    return rc;
}

/* ---- leaving nothing behind ---- */

enum mb_rc mb_db_empty_wal(mb_db *db, struct mb_error *err)
{
    mb_stmt *stmt;
    bool row = false;
    int64_t busy = 0;
    enum mb_rc rc = mb_stmt_make(db, "PRAGMA wal_checkpoint(TRUNCATE)", &stmt, err);

    if (rc)
        return rc;
    rc = mb_stmt_step(stmt, &row, err);
    if (!rc && row)
        busy = mb_col_int(stmt, 0);
    mb_stmt_free(stmt);
    if (!rc && busy)
        rc = mb_fail(err, MB_UNABLE,
                     "another program still reads the ledger as it was, so what was removed is not"
                     " gone from the file ledger.db-wal yet; end it and try again");
    return rc;
}

enum mb_rc mb_db_write_anew(mb_db *db, struct mb_error *err)
{
    enum mb_rc rc = mb_db_empty_wal(db, err);

    if (rc)
        return rc;
    /* VACUUM attaches a file of its own, which nobody else may */
    mb_db_trust(db, true);
    rc = mb_db_run(db, "PRAGMA temp_store=FILE;VACUUM;PRAGMA temp_store=MEMORY;", err);
    mb_db_trust(db, false);
    return rc ? rc : mb_db_empty_wal(db, err);
}

void mb_db_spill(mb_db *db)
{
    struct mb_error err = { 0 };

    mb_db_trust(db, true);
    if (!mb_db_in_transaction(db) && mb_db_run(db, "PRAGMA temp_store=FILE", &err))
        err.code = MB_OK; /* as it was, then */
    mb_db_trust(db, false);
}

enum mb_rc mb_db_one_file(mb_db *db, struct mb_error *err)
{
    return mb_db_run(db, "PRAGMA journal_mode=DELETE", err);
}
