/* Which witnesses saw the history of a certificate, by when, and whether that is the quorum that
 * the reader's policy asks for. */
#ifndef MB_WITNESSED_H
#define MB_WITNESSED_H

#include "policy.h"
#include "session.h"
#include "verify_bundle.h"

/*
 * Goes through the checkpoint and the anchors that hold. Findings: a cosignature by a witness of
 * the policy that does not fit; no quorum over a tree that holds the certificate.
 * {"quorum":bool,"existedBy"?,"witnesses":[{"name","size","seenAt"}],
 *  "earlier"?:{"size","existedBy"}: of a part of its entries, where it is not of all}
 */
const mb_json *mb_witnessed(mb_arena *arena, const mb_policy *policy,
                            const struct mb_bundle_check *check);
/* The same of a whole ledger that holds: its newest checkpoint, and the cosignatures on file. */
MB_CHECK enum mb_rc mb_witnessed_ledger(mb_ledger *ledger, mb_arena *arena,
                                        const mb_policy *policy, mb_findings *findings,
                                        const mb_json **out, struct mb_error *err);
/* One sentence of the above. */
const char *mb_witnessed_words(mb_arena *arena, const mb_json *witnessed);

#endif
