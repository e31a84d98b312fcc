/*
 * Entries that one act writes on several records (docs/format.md, the other signed forms):
 *   division  on the piece that was divided, then `came out` as the first entry of each new piece
 *   joining   on the whole, then `part` on each of its parts
 * All of them stand or fall together.
 */
#ifndef MB_PAIRS_H
#define MB_PAIRS_H

#include "recorder.h"

#define MB_PIECES_MAX 500 /* new pieces of one division, parts of one joining */

/* What the door cannot see in one field: that new pieces are new, and parts others than the
 * whole. */
MB_CHECK enum mb_rc mb_pairs_check(mb_ledger *ledger, mb_arena *arena,
                                   const struct mb_checked *checked, struct mb_error *err);
/* Appends the others behind `entry`, and adds them to the list `also`. */
MB_CHECK enum mb_rc mb_pairs_append(mb_ledger *ledger, mb_arena *arena,
                                    const struct mb_checked *checked,
                                    const struct mb_entry *entry, mb_json *also,
                                    struct mb_error *err);

#endif
