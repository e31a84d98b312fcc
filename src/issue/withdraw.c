/* Withdrawing a certificate: an entry on the specimen that names it. */
#include <markerbed/certificate.h>

#include <string.h>

#include "issuing.h"
#include "recorder.h"
#include "request.h"
#include "session.h"
#include "text.h"

enum mb_rc mb_certificate_withdraw(mb_ledger *ledger, mb_arena *arena, const char *id,
                                   const char *why, const mb_json **out, struct mb_error *err)
{
    mb_json *which = mb_json_object(arena), *result = mb_json_object(arena);
    struct mb_entry certificate, entry;
    struct mb_field fields[2];
    enum mb_rc rc =
        mb_request_reason(arena, "withdrawal", "why", NULL, why, "withdraw", err);

    if (!rc)
        rc = mb_issuing_find(ledger, arena, id, &certificate, err);
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
