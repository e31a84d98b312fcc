/* What is still missing before an institution can use a piece: a table of fields, asked of what the
 * institution would see. */
#ifndef MB_READINESS_H
#define MB_READINESS_H

#include "handing.h"

/* As mb_readiness (markerbed/handover.h). Only h->arena and h->check.stories are used. */
mb_json *mb_readiness_of(const struct mb_handing *h, struct mb_str specimen);

#endif
