/*
 * The other side's signature over an entry (docs/format.md section 5): a compact JWS of the type
 * markerbed-countersign+jwt, Ed25519, which names the entry by its leaf hash and carries its own
 * public key. That it is sound says only that whoever has that key saw that entry; whose key it is,
 * verify_countersign.c asks of the trust file and of the other ledgers at hand.
 */
#ifndef MB_COUNTERSIGN_H
#define MB_COUNTERSIGN_H

#include "entry.h"

#define MB_COUNTERSIGN_TYPE "markerbed-countersign+jwt"
#define MB_COUNTERSIGN_MAX 4096 /* bytes */

struct mb_countersign {
    struct mb_str iss;   /* the signer's ledger, or "key/" and the thumbprint where there is none */
    struct mb_hash over; /* leaf hash of the entry */
    struct mb_hash shown; /* over the digests of what of it was seen (bundle.h), as for `shown` */
    struct mb_str role;
    int64_t iat;
    struct mb_key key;
    char kid[MB_THUMBPRINT_LEN + 1];
};

/* Reads it strictly and checks its signature by the key inside. MB_REFUSED with one clause where it
 * is malformed or does not fit, MB_UNABLE for an algorithm or critical header that is unknown. */
MB_CHECK enum mb_rc mb_countersign_read(mb_arena *arena, struct mb_str jws,
                                        struct mb_countersign *out, struct mb_error *err);

/* Signs. Of `what` iss, over, shown, role and iat are taken; the key is the secret's. iss {NULL, 0}
 * stands for the key itself. */
struct mb_str mb_countersign_write(mb_arena *arena, const struct mb_countersign *what,
                                   const mb_secret *secret);

/* Of an entry of kind countersign that says how `key`: reads what it holds, and asks that it agrees
 * with the entry's own fields (whichEntry, role). MB_NO: it is a paper or a message, and nothing
 * is signed by a key. Else as mb_countersign_read. */
MB_CHECK enum mb_rc mb_countersign_of(mb_arena *arena, const struct mb_entry *entry,
                                      struct mb_countersign *out, struct mb_error *err);

#endif
