/* What `verify` says of a bag: bag_check.h in findings, and whether the files that its certificate
 * shows the hashes of are there. */
#ifndef MB_BAG_VERIFY_H
#define MB_BAG_VERIFY_H

#include "bag_check.h"
#include "finding.h"

/* What lies in the payload, for mb_bundle_check: ctx is a struct mb_bag. */
bool mb_bag_has(const void *ctx, struct mb_str sha256);

/* Adds its findings. *bag: what was checked. about gets files, payloadBytes, sealed and, with a
 * certificate, attachmentsShown and attachmentsHere. *inside: the path of the certificate in the
 * bag and *bytes what it holds, still to be judged; NULL where there is none: a finding. */
MB_CHECK enum mb_rc mb_bag_verify(mb_arena *arena, const char *folder, mb_findings *findings,
                                  mb_json *about, const struct mb_bag **bag, const char **inside,
                                  struct mb_str *bytes, struct mb_error *err);

#endif
