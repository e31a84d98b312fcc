/*
 * Whose key countersigned: docs/format.md section 5. A key is known if the trust file names it, or
 * if it was enrolled in another ledger that is at hand, checked and trusted: one that a certificate
 * carries, or that carries it, or that was given beside it.
 */
#ifndef MB_VERIFY_COUNTERSIGN_H
#define MB_VERIFY_COUNTERSIGN_H

#include "countersign.h"
#include "verify_bundle.h"
#include "verify_log.h"

/* The soundness of each countersignature in the file: findings, and check->countersigned. */
void mb_countersigned_check(struct mb_bundle_check *check);

/* Of an entry of a whole ledger: adds a finding if it is not sound, or names no entry before it on
 * its subject's chain. */
void mb_countersigned_in_log(struct mb_log_check *check, const struct mb_entry *entry);

/* The keys of all ledgers at hand. */
typedef struct mb_known_keys mb_known_keys;

mb_known_keys *mb_known_keys_new(mb_arena *arena, const struct mb_trust *trust);
/* Those of a checked certificate, and of the ones that it carries, as far as they are trusted. */
void mb_known_keys_add(mb_known_keys *known, const struct mb_bundle_check *check);
/* Those of a checked ledger on disk, if it is trusted. */
MB_CHECK enum mb_rc mb_known_keys_add_log(mb_known_keys *known, const struct mb_log_check *check,
                                          struct mb_error *err);

/* [{"seq","origin","subject","over":number of the entry,"role","kid","by":the ledger or key,
 *   "signedAt","known":bool}] of the file and of those that it carries; adds a finding for each
 * that is not known. NULL if there is none. */
mb_json *mb_countersigned_judge(const mb_known_keys *known, const struct mb_bundle_check *check);

#endif
