/*
 * SQLite, opened by role. The only file that knows it.
 *
 * Whatever a connection has not been granted is refused by SQLite's authorizer when a statement is
 * prepared, beside the triggers of schema/ledger.sql: two locks on the same door. A connection
 * begins with no grant but reading.
 */
#ifndef MB_DB_H
#define MB_DB_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/arena.h>

typedef struct mb_db mb_db;
typedef struct mb_stmt mb_stmt;

enum mb_db_role {
    MB_DB_READ,   /* the file is opened read-only, on a read-only medium too */
    MB_DB_WRITE,  /* an existing file, WAL, every commit synced */
    MB_DB_CREATE, /* a new file; MB_REFUSED where the name exists */
    MB_DB_MEMORY  /* none: a private database in memory, path ignored */
};

enum mb_db_grant {
    MB_MAY_APPEND = 1, /* INSERT into the enduring tables; never UPDATE, DELETE or schema changes */
    MB_MAY_VIEW = 2,   /* anything on the rebuildable tables ("line", and names beginning "v_") */
    MB_MAY_FORGET = 4, /* UPDATE of disclosures.tail: erasing */
    MB_MAY_SHAPE = 8   /* make and drop tables and triggers: founding and migration alone */
};

MB_CHECK enum mb_rc mb_db_open(const char *path, enum mb_db_role role, mb_db **out,
                               struct mb_error *err);
mb_db *mb_db_close(mb_db *db); /* accepts NULL, returns NULL */
void mb_db_grant(mb_db *db, unsigned grants);

/* Several statements without results. */
MB_CHECK enum mb_rc mb_db_run(mb_db *db, const char *sql, struct mb_error *err);
/* BEGIN IMMEDIATE: waits up to 60 s for another writer, then MB_UNABLE. */
MB_CHECK enum mb_rc mb_db_begin(mb_db *db, struct mb_error *err);
MB_CHECK enum mb_rc mb_db_commit(mb_db *db, struct mb_error *err);
void mb_db_rollback(mb_db *db); /* does nothing outside a transaction */
bool mb_db_in_transaction(const mb_db *db);
int64_t mb_db_changes(const mb_db *db);

/* Prepared once, used often. Free before the database is closed. */
MB_CHECK enum mb_rc mb_stmt_make(mb_db *db, const char *sql, mb_stmt **out, struct mb_error *err);
mb_stmt *mb_stmt_free(mb_stmt *stmt); /* accepts NULL, returns NULL */
/* Parameters are numbered from 1. Text and bytes are borrowed until the next step has ended. */
void mb_bind_int(mb_stmt *stmt, int at, int64_t value);
void mb_bind_text(mb_stmt *stmt, int at, struct mb_str value); /* .at NULL binds NULL */
void mb_bind_blob(mb_stmt *stmt, int at, const void *bytes, size_t len);
void mb_bind_double(mb_stmt *stmt, int at, double value);
void mb_bind_null(mb_stmt *stmt, int at);
/* *row is true while there is one; at the end the statement is reset. */
MB_CHECK enum mb_rc mb_stmt_step(mb_stmt *stmt, bool *row, struct mb_error *err);
/* For INSERT and the like: steps to the end and resets. */
MB_CHECK enum mb_rc mb_stmt_do(mb_stmt *stmt, struct mb_error *err);
void mb_stmt_reset(mb_stmt *stmt);
/* Columns are numbered from 0; texts and bytes are borrowed until the next step or reset. */
int64_t mb_col_int(mb_stmt *stmt, int at);
double mb_col_double(mb_stmt *stmt, int at);
struct mb_str mb_col_text(mb_stmt *stmt, int at);
struct mb_str mb_col_blob(mb_stmt *stmt, int at);
enum mb_col_type { MB_COL_NULL, MB_COL_INT, MB_COL_DOUBLE, MB_COL_TEXT, MB_COL_BLOB };
enum mb_col_type mb_col_type(mb_stmt *stmt, int at);
int mb_col_count(const mb_stmt *stmt);
const char *mb_col_name(const mb_stmt *stmt, int at);

/* One statement of a user's own, which may only read: MB_REFUSED with SQLite's words where it is
 * wrong, is more than one statement, or would write. Stops with MB_UNABLE once its steps have taken
 * `seconds`. */
MB_CHECK enum mb_rc mb_stmt_make_user(mb_db *db, struct mb_str sql, int seconds, mb_stmt **out,
                                      struct mb_error *err);

/* A rule's query: one SELECT that may read the tables whose names begin with "v_" and nothing else
 * (not v_work and v_stamp, which tell of the replay). MB_UNABLE after about `steps` steps of
 * SQLite's machine (0: never stopped); one such statement at a time. */
MB_CHECK enum mb_rc mb_stmt_make_rule(mb_db *db, struct mb_str sql, int64_t steps, mb_stmt **out,
                                      struct mb_error *err);

/* A function of ours that SQL may call by its name, with this many arguments; always the same
 * answer to the same arguments. `ctx` must live until the function is taken away (does = NULL) or
 * the database closed. */
typedef struct mb_sql_call mb_sql_call;
typedef void mb_sql_function(void *ctx, mb_sql_call *call);
MB_CHECK enum mb_rc mb_db_function(mb_db *db, const char *name, int args, mb_sql_function *does,
                                   void *ctx, struct mb_error *err);
/* Arguments are numbered from 0; texts are borrowed until the function returns. */
enum mb_col_type mb_arg_type(const mb_sql_call *call, int at);
int64_t mb_arg_int(const mb_sql_call *call, int at);
double mb_arg_double(const mb_sql_call *call, int at);
struct mb_str mb_arg_text(const mb_sql_call *call, int at);
void mb_give_int(mb_sql_call *call, int64_t value);
void mb_give_double(mb_sql_call *call, double value);
void mb_give_text(mb_sql_call *call, struct mb_str value);      /* copied */
void mb_give_constant(mb_sql_call *call, const char *value);    /* lives for ever */
void mb_give_null(mb_sql_call *call);

/* A copy into a new file, of one moment, while others write; synced, and whole in the one file.
 * After a failure there is nothing under that name. */
MB_CHECK enum mb_rc mb_db_copy(mb_db *db, const char *path, struct mb_error *err);

/* Empties the file's -wal: what was overwritten or removed stands in it until then. MB_UNABLE while
 * another connection still reads what was. */
MB_CHECK enum mb_rc mb_db_empty_wal(mb_db *db, struct mb_error *err);
/* Writes the file anew with nothing in it but what is stored (VACUUM), and empties its -wal. */
MB_CHECK enum mb_rc mb_db_write_anew(mb_db *db, struct mb_error *err);
/* What is sorted here may go to a temporary file where it is large. Outside a transaction; where it
 * cannot be, memory is used as before. */
void mb_db_spill(mb_db *db);
/* Ends the -wal for good: the file alone is whole. For copies that nobody else has open. */
MB_CHECK enum mb_rc mb_db_one_file(mb_db *db, struct mb_error *err);

#endif
