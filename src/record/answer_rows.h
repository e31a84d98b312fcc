/* Rows of a statement as {"columns":[...],"rows":[[...]...]}, with a bound on how much is held. */
#ifndef MB_ANSWER_ROWS_H
#define MB_ANSWER_ROWS_H

#include "db.h"
#include "session.h"

/* titles: one for each column, NULL: the statement's own names. Past the bound (300,000 cells or
 * 32 MiB of text): where `cut`, what is left over is counted in "more"; else MB_REFUSED. Bytes come
 * as base64url. */
MB_CHECK enum mb_rc mb_answer_rows(mb_arena *arena, mb_stmt *stmt, const char *const *titles,
                                   bool cut, const mb_json **out, struct mb_error *err);

/* The names of its columns, and the row that it stands on. *bytes (may be NULL) grows by its
 * text. */
mb_json *mb_answer_columns(mb_arena *arena, mb_stmt *stmt, const char *const *titles);
mb_json *mb_answer_row(mb_arena *arena, mb_stmt *stmt, size_t *bytes);

/* mb_query with a time limit of the caller's. */
MB_CHECK enum mb_rc mb_query_within(mb_ledger *ledger, mb_arena *arena, struct mb_str sql,
                                    const char *as_of, int seconds, const mb_json **out,
                                    struct mb_error *err);

#endif
