#include "plain_db.h"

#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void must(struct sqlite3 *db, bool holds, const char *sql)
{
    if (!holds) {
        fprintf(stderr, "plain SQLite: %s: %s\n", sql, sqlite3_errmsg(db));
        abort();
    }
}

struct sqlite3 *plain_open(const char *folder)
{
    struct sqlite3 *db;
    char path[4200];

    snprintf(path, sizeof path, "%s/ledger.db", folder);
    must(db, sqlite3_open(path, &db) == SQLITE_OK, path);
    return db;
}

void plain_close(struct sqlite3 *db)
{
    sqlite3_close(db);
}

bool plain_run(struct sqlite3 *db, const char *sql)
{
    return sqlite3_exec(db, sql, NULL, NULL, NULL) == SQLITE_OK;
}

int64_t plain_number(struct sqlite3 *db, const char *sql)
{
    sqlite3_stmt *stmt;
    int64_t number;

    must(db,
         sqlite3_prepare_v2(db, sql, -1, &stmt, NULL) == SQLITE_OK
             && sqlite3_step(stmt) == SQLITE_ROW,
         sql);
    number = sqlite3_column_int64(stmt, 0);
    sqlite3_finalize(stmt);
    return number;
}

void plain_unguard(struct sqlite3 *db)
{
    static const char *const tables[] = { "log", "node", "checkpoint", "disclosures" };
    static const char *const verbs[] = { "update", "delete", "insert" };

    for (size_t t = 0; t < 4; t++)
        for (size_t v = 0; v < 3; v++) {
            char sql[100];

            snprintf(sql, sizeof sql, "DROP TRIGGER %s_%s", tables[t], verbs[v]);
            must(db, plain_run(db, sql), sql);
        }
}

size_t plain_bits(struct sqlite3 *db, const char *table, const char *key, int64_t row,
                  const char *column)
{
    char sql[200];

    snprintf(sql, sizeof sql, "SELECT length(CAST(%s AS BLOB)) FROM %s WHERE %s = %lld", column,
             table, key, (long long)row);
    return (size_t)plain_number(db, sql) * 8;
}

void plain_turn(struct sqlite3 *db, const char *table, const char *key, int64_t row,
                const char *column, size_t bit)
{
    char get[200], set[200];
    sqlite3_stmt *stmt;
    unsigned char *bytes;
    int len;
    bool text;

    snprintf(get, sizeof get,
             "SELECT CAST(%s AS BLOB), typeof(%s) = 'text' FROM %s WHERE %s = %lld", column, column,
             table, key, (long long)row);
    must(db,
         sqlite3_prepare_v2(db, get, -1, &stmt, NULL) == SQLITE_OK
             && sqlite3_step(stmt) == SQLITE_ROW,
         get);
    len = sqlite3_column_bytes(stmt, 0);
    must(db, bit < (size_t)len * 8, get);
    bytes = malloc((size_t)len);
    if (!bytes)
        abort();
    memcpy(bytes, sqlite3_column_blob(stmt, 0), (size_t)len);
    text = sqlite3_column_int(stmt, 1);
    sqlite3_finalize(stmt);
    bytes[bit / 8] ^= (unsigned char)(1 << bit % 8);
    snprintf(set, sizeof set, "UPDATE %s SET %s = %s WHERE %s = %lld", table, column,
             text ? "CAST(?1 AS TEXT)" : "?1", key, (long long)row);
    must(db, sqlite3_prepare_v2(db, set, -1, &stmt, NULL) == SQLITE_OK, set);
    sqlite3_bind_blob(stmt, 1, bytes, len, SQLITE_STATIC);
    must(db, sqlite3_step(stmt) == SQLITE_DONE, set);
    sqlite3_finalize(stmt);
    free(bytes);
}
