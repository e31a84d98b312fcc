/* Words to stand beside the IDs that an audit speaks of: what kind of permission, and its number.
 * No person's name is among them: those have rules of their own. */
#include <markerbed/land.h>

#include "text.h"
#include "views.h"

enum mb_rc mb_audit_names(mb_ledger *ledger, mb_arena *arena, const mb_json *audit,
                          const char *as_of, const mb_json **out, struct mb_error *err)
{
    static const char sql[] = "SELECT permission_type || coalesce(' ' || nullif(permit_number,"
                              " 'none'), '') FROM v_permission WHERE sub = ?1";
    mb_json *names = mb_json_object(arena);
    struct mb_views views = { 0 };
    mb_stmt *stmt = NULL;
    bool row = false;
    enum mb_rc rc = mb_views_begin(ledger, as_of, &views, err);

    if (!rc)
        rc = mb_stmt_make(views.db, sql, &stmt, err);
    MB_JSON_EACH (one, mb_json_get(audit, "timeline")) {
        const mb_json *permission = mb_json_get(one, "permission");

        if (rc)
            break;
        mb_bind_text(stmt, 1, mb_json_str(permission));
        rc = mb_stmt_step(stmt, &row, err);
        if (!rc && row && mb_col_text(stmt, 0).len)
            mb_json_put_str(arena, names, mb_json_str(permission),
                            mb_json_string_str(arena, mb_col_text(stmt, 0)));
        mb_stmt_reset(stmt);
    }
    mb_stmt_free(stmt);
    mb_views_end(&views);
    if (!rc)
        *out = names;
    return rc;
}
