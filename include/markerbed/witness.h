/* What others need to hold a ledger to its word: proofs that a program of theirs can check. */
#ifndef MARKERBED_WITNESS_H
#define MARKERBED_WITNESS_H

#include <markerbed/ledger.h>

/*
 * Proof that an entry stands in the log: a C2SP tlog-proof v1 file under the newest signed
 * checkpoint. It holds neither the entry nor any of its fields; who checks it needs the entry's
 * signed bytes, or its leaf hash, from elsewhere.
 *
 * `entry` is a number ("12", "#12") or a leaf hash in base64url, such as a certificate's identity.
 * {"file":text of the proof,"seq","leaf","subject","kind","size":of the checkpoint's tree}
 * MB_REFUSED if there is no such entry; MB_UNABLE if no checkpoint was signed since it was
 * recorded.
 */
MB_CHECK enum mb_rc mb_proof(mb_ledger *ledger, mb_arena *arena, const char *entry,
                             const mb_json **out, struct mb_error *err);

#endif
