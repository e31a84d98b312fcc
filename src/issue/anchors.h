/* The cosigned checkpoints of a ledger, and which of them travel in a certificate. */
#ifndef MB_ANCHORS_H
#define MB_ANCHORS_H

#include <markerbed/witness.h>

#include "session.h"

/* One cosignature on file. */
struct mb_cosigned {
    int64_t size;       /* of the tree that it is about */
    struct mb_str line; /* "— NAME BASE64\n" */
    struct mb_str name; /* of the witness */
    uint32_t id;
};

struct mb_cosigned_lines {
    struct mb_cosigned *at; /* smallest tree first */
    size_t count;
};

/* For a certificate whose checkpoint covers `size` entries: of each witness the largest tree that
 * it cosigned before, and the smallest from there on. */
MB_CHECK enum mb_rc mb_anchors_choose(mb_ledger *ledger, mb_arena *arena, int64_t size,
                                      struct mb_cosigned_lines *out, struct mb_error *err);
/* The lines' SHA-256, in base64url: what a certificate keeps of them, and the lines by it. */
mb_json *mb_cosigned_digests(mb_arena *arena, const struct mb_cosigned_lines *lines);
MB_CHECK enum mb_rc mb_anchors_recall(mb_ledger *ledger, mb_arena *arena, const mb_json *digests,
                                      struct mb_cosigned_lines *out, struct mb_error *err);
/* The member `anchors`: [{"checkpoint","consistency":[...]}], with consistency proofs; NULL if
 * there are no lines. */
MB_CHECK enum mb_rc mb_anchors_make(mb_ledger *ledger, mb_arena *arena, int64_t size,
                                    const struct mb_cosigned_lines *from, mb_json **out,
                                    struct mb_error *err);

#endif
