/* A ledger's file opened with plain SQLite, as somebody with a copy of it could: no roles, no
 * grants. Whatever fails that should not ends the test. */
#ifndef MB_PLAIN_DB_H
#define MB_PLAIN_DB_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct sqlite3;

struct sqlite3 *plain_open(const char *folder); /* folder/ledger.db; plain_close ends it */
void plain_close(struct sqlite3 *db);
bool plain_run(struct sqlite3 *db, const char *sql); /* false if SQLite refuses */
int64_t plain_number(struct sqlite3 *db, const char *sql);
/* The triggers that keep every row, gone. */
void plain_unguard(struct sqlite3 *db);
/* Turns one bit of a stored text or blob; a second turn puts it back. How many bits it has is
 * plain_bits. */
void plain_turn(struct sqlite3 *db, const char *table, const char *key, int64_t row,
                const char *column, size_t bit);
size_t plain_bits(struct sqlite3 *db, const char *table, const char *key, int64_t row,
                  const char *column);

#endif
