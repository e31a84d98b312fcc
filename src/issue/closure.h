/*
 * What has to come along with a specimen for one audience (docs/format.md section 6.2): whole
 * chains of the specimen, of those it came out of or was joined from, of what its shown fields
 * name, of the ledger and of every signing key; and which fields of those this audience is shown.
 */
#ifndef MB_CLOSURE_H
#define MB_CLOSURE_H

#include <markerbed/certificate.h>

#include "bundle.h"
#include "guard.h"
#include "session.h"
#include "showing.h"
#include "statement.h"

struct mb_carried {
    int64_t seq;
    struct mb_entry stored;  /* with all its disclosures */
    struct mb_str sd_jwt;    /* with those that are shown */
    struct mb_entry shown;   /* the same, read back */
};

struct mb_kept_back {
    struct mb_hash digest;
    const char *reason;
    bool listed; /* of a class that this audience sees: `withheld` has to name it. Else it was to be
                  * revealed, and was not. */
    struct mb_str field;
    struct mb_str subject;
};

struct mb_closure {
    struct mb_carried *entries; /* by rising seq */
    size_t count;
    struct mb_kept_back *kept_back;
    size_t kept_back_count;
    mb_stories *stories; /* of what is shown */
};

/* `showing`: for whom, and of which specimens, as the ledger spells them; `to`: the party that it
 * is made out to, whose chain comes along too, or {NULL, 0}; `before`: entries below this seq. */
MB_CHECK enum mb_rc mb_closure_make(mb_ledger *ledger, mb_arena *arena,
                                    const struct mb_showing *showing, struct mb_str to,
                                    int64_t before, struct mb_closure *out, struct mb_error *err);

#endif
