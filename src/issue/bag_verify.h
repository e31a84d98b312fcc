/* What `verify` says of a bag: bag_check.h in findings, and whether the files that its certificate
 * shows the hashes of are there. */
#ifndef MB_BAG_VERIFY_H
#define MB_BAG_VERIFY_H

#include "bag_check.h"
#include "finding.h"

/* Adds its findings. about gets files, payloadBytes, sealed and, with a certificate,
 * attachmentsShown and attachmentsHere. *inside: the path of the certificate in the bag and *bytes
 * what it holds, still to be judged; NULL where there is none, which is a finding. */
MB_CHECK enum mb_rc mb_bag_verify(mb_arena *arena, const char *folder, mb_findings *findings,
                                  mb_json *about, const char **inside, struct mb_str *bytes,
                                  struct mb_error *err);

#endif
