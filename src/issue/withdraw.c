/* Withdrawing a certificate: an entry on the specimen that names it. */
#include <markerbed/certificate.h>

#include <string.h>

#include "recorder.h"
#include "request.h"
#include "session.h"
#include "text.h"

/* By its identity, or by the number of its entry ("#123"). */
static enum mb_rc find_certificate(mb_ledger *ledger, mb_arena *arena, const char *id,
                                   struct mb_entry *out, struct mb_error *err)
{
    struct mb_hash leaf;
    mb_stmt *stmt;
    int64_t seq = -1;
    bool row = false;
    enum mb_rc rc;

    if (!mb_b64u_read_exact(mb_str_of(id), leaf.b, sizeof leaf.b))
        return mb_fail(err, MB_REFUSED,
                       "'%s' is no certificate's identity: 43 characters, printed on the sheet",
                       id);
    rc = mb_stmt_make(mb_log_db(ledger->log),
                      "SELECT l.seq FROM line n JOIN log l ON l.seq = n.seq"
                      " WHERE n.kind = 'certificate' AND l.leaf = ?1",
                      &stmt, err);
    if (rc)
        return rc;
    mb_bind_blob(stmt, 1, leaf.b, sizeof leaf.b);
    rc = mb_stmt_step(stmt, &row, err);
    if (!rc && row)
        seq = mb_col_int(stmt, 0);
    mb_stmt_free(stmt);
    if (!rc && seq < 0)
        rc = mb_fail(err, MB_REFUSED, "this ledger issued no certificate %s", id);
    return rc ? rc : mb_log_entry(ledger->log, arena, seq, out, err);
}

enum mb_rc mb_certificate_withdraw(mb_ledger *ledger, mb_arena *arena, const char *id,
                                   const char *why, const mb_json **out, struct mb_error *err)
{
    mb_json *which = mb_json_object(arena), *result = mb_json_object(arena);
    struct mb_entry certificate, entry;
    struct mb_field fields[2];
    enum mb_rc rc =
        mb_request_reason(arena, "withdrawal", "why", NULL, why, "withdraw", err);

    if (!rc)
        rc = find_certificate(ledger, arena, id, &certificate, err);
    if (!rc)
        rc = mb_session_begin(ledger, err);
    if (rc)
        return rc;
    mb_json_put_text(arena, which, "entry", id);
    fields[0] = (struct mb_field){ "which", MB_OPEN, which, false, { NULL, 0 } };
    fields[1] = (struct mb_field){ "why", MB_OPEN, mb_json_string(arena, why), false, { NULL, 0 } };
    rc = mb_recorder_append(ledger, arena, "withdrawal",
                            mb_arena_copy(arena, certificate.sub.at, certificate.sub.len), fields,
                            2, &entry, err);
    if (rc) {
        mb_session_rollback(ledger);
        return rc;
    }
    rc = mb_session_commit(ledger, err);
    if (rc)
        return rc;
    mb_json_put_int(arena, result, "seq", entry.seq);
    mb_json_put(arena, result, "subject", mb_json_string_str(arena, entry.sub));
    *out = result;
    return MB_OK;
}
