/* The cosigned checkpoints of a ledger, and which of them travel in a certificate. */
#ifndef MB_ANCHORS_H
#define MB_ANCHORS_H

#include <markerbed/witness.h>

#include "session.h"

/*
 * For a certificate whose checkpoint covers `size` entries: of each witness the largest tree that
 * it cosigned before, and the smallest from there on, with consistency proofs, as
 * [{"checkpoint","consistency":[...]}]. NULL if no witness has signed anything.
 */
MB_CHECK enum mb_rc mb_anchors_for(mb_ledger *ledger, mb_arena *arena, int64_t size, mb_json **out,
                                   struct mb_error *err);

#endif
