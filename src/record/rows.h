/* How listing.c opens rows; what they are is in markerbed/show.h. */
#ifndef MB_ROWS_H
#define MB_ROWS_H

#include <markerbed/show.h>

#include "session.h"

enum { MB_QUERY_SECONDS = 30 };

MB_CHECK enum mb_rc mb_rows_of_list(mb_ledger *ledger, mb_arena *arena, const char *as_of,
                                    const char *sql, const char *const *titles, mb_rows **out,
                                    struct mb_error *err);
/* {"columns","rows"} that is at hand. */
mb_rows *mb_rows_of_answer(mb_arena *arena, const mb_json *answer);

#endif
