/* Holding a certificate against what its ledger has published. */
#ifndef MB_PUBLISHED_H
#define MB_PUBLISHED_H

#include "verify_bundle.h"

#define MB_WITHDRAWN_FORMAT "markerbed-withdrawn/1"
#define MB_WITHDRAWN_TYPE "markerbed-withdrawn+jwt"

/*
 * Is what stands in the folder later than the certificate, does it go on from it, and does it
 * withdraw it? Findings say where not. The published checkpoint, where it holds, is added to the
 * bundle's anchors, so that witnesses of it count.
 *
 * So it is asked of the file's own certificate, or of those inside it, whichever are of the ledger
 * that published. "of": which ledger, where it is one inside.
 *
 * {"size","listedAt"?,"of"?,"goesOn":bool,"withdrawn":bool,"why"?}
 */
const mb_json *mb_published_check(struct mb_bundle_check *check, const char *folder);
/* One sentence of the above; NULL where the findings say it all. */
const char *mb_published_words(mb_arena *arena, const mb_json *published);

#endif
