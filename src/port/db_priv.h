/* What db.c and db_rule.c share; SQLite's types stay in these two. */
#ifndef MB_DB_PRIV_H
#define MB_DB_PRIV_H

#include <sqlite3.h>

#include "db.h"

struct mb_db {
    sqlite3 *handle;
    unsigned grants;
    bool user;          /* a user's own statement is being prepared */
    bool rule;          /* a rule's is: it may read views alone */
    int64_t left_ns;    /* what a user's statement may still take, 0 for any time */
    int64_t began_ns;   /* when its step in hand did */
    int64_t steps_left; /* of a rule's statement, 0 for any number */
};

struct mb_stmt {
    sqlite3_stmt *handle;
    mb_db *db;
    bool bounded; /* somebody else's: its time or its steps are counted while it lives */
};

/* What one text or blob of somebody else's statement may be: a rule's, a query's. */
enum { RULE_LENGTH_MOST = 4 << 20, QUERY_LENGTH_MOST = 64 << 20 };
void mb_stmt_bound(mb_stmt *stmt, int length_most);

enum mb_rc mb_db_fail(mb_db *db, const char *doing, struct mb_error *err);
/* Lifts the authorizer for what SQLite does by itself. */
void mb_db_trust(mb_db *db, bool trusted);
mb_stmt *mb_stmt_wrap(mb_db *db, sqlite3_stmt *handle);
/* One SELECT and nothing behind it; `what` is who asks, for the sentence of a refusal. */
MB_CHECK enum mb_rc mb_stmt_prepare_user(mb_db *db, struct mb_str sql, const char *what,
                                         mb_stmt **out, struct mb_error *err);
/* SQLITE_OK or SQLITE_DENY; column "" where none is read (count(*)). */
int mb_db_rule_may_read(const char *table, const char *column);

#endif
