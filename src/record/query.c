/* One SELECT of a user's own over the views. */
#include <markerbed/show.h>

#include "answer_rows.h"
#include "rows.h"
#include "views.h"

enum mb_rc mb_query_within(mb_ledger *ledger, mb_arena *arena, struct mb_str sql,
                           const char *as_of, int seconds, const mb_json **out,
                           struct mb_error *err)
{
    struct mb_views views = { NULL, false };
    mb_stmt *stmt = NULL;
    enum mb_rc rc = mb_views_begin(ledger, as_of, &views, err);

    if (!rc)
        rc = mb_stmt_make_user(views.db, sql, seconds, &stmt, err);
    if (!rc)
        rc = mb_answer_rows(arena, stmt, NULL, false, out, err);
    mb_stmt_free(stmt);
    mb_views_end(&views);
    return rc;
}

enum mb_rc mb_query(mb_ledger *ledger, mb_arena *arena, struct mb_str sql, const char *as_of,
                    const mb_json **out, struct mb_error *err)
{
    return mb_query_within(ledger, arena, sql, as_of, MB_QUERY_SECONDS, out, err);
}
