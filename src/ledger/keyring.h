/*
 * Whose signature counts for what, and since when (docs/format.md section 4).
 *
 * A ring is fed the entries of the ledger in their order. It learns keys from the founding, from
 * key-enrolment and key-retirement, checkpoint keys from the founding and checkpoint-key, and says
 * of every entry whether its signer was enrolled, not retired, and had the right to that kind.
 * Signatures themselves are checked elsewhere, with the key that the ring names.
 */
#ifndef MB_KEYRING_H
#define MB_KEYRING_H

#include <stdbool.h>
#include <stdint.h>

#include "entry.h"
#include "finding.h"
#include "note.h"

#define MB_NEVER INT64_MAX

struct mb_ring_key {
    char kid[MB_THUMBPRINT_LEN + 1];
    struct mb_key key;
    int64_t enrolled;     /* seq of the entry that brought it */
    int64_t retired;      /* seq of its retirement, or MB_NEVER */
    int64_t suspect_from; /* entries from this seq on are in doubt, or MB_NEVER */
    int enrolled_by;      /* index of the key that signed its enrolment, -1 for the founding key */
    bool founding;        /* may do everything */
    bool enrols;
    const mb_json *may;   /* list of kinds */
    struct mb_str holder; /* party/ID, {NULL, 0} for the founding key */
};

struct mb_ring_checkpoint {
    struct mb_vkey vkey;
    int64_t since;  /* seq of the entry that brought it: in force for sizes > since */
    bool old_lost;  /* the key before it was lost or stolen: its signature is not asked for */
};

typedef struct mb_keyring mb_keyring;

/* The arena must outlive the ring; entries fed to it need not. */
mb_keyring *mb_keyring_new(mb_arena *arena);

/* Judges one entry and learns from it. Adds findings; never fails. */
void mb_keyring_take(mb_keyring *ring, const struct mb_entry *entry, mb_findings *findings);

size_t mb_keyring_count(const mb_keyring *ring);
const struct mb_ring_key *mb_keyring_at(const mb_keyring *ring, size_t index);
/* The key of this thumbprint whether in force or not, NULL if the ring never learned it. */
const struct mb_ring_key *mb_keyring_find(const mb_keyring *ring, struct mb_str kid);
/* May this key record this kind in an entry numbered seq? */
bool mb_keyring_may(const mb_keyring *ring, const struct mb_ring_key *key, struct mb_str kind,
                    int64_t seq);
/* True if a later retirement cast doubt on what this key, or a key that brought it, signed at seq.
 * */
bool mb_keyring_suspects(const mb_keyring *ring, struct mb_str kid, int64_t seq);
bool mb_keyring_any_suspect(const mb_keyring *ring);

size_t mb_keyring_checkpoint_count(const mb_keyring *ring);
const struct mb_ring_checkpoint *mb_keyring_checkpoint_at(const mb_keyring *ring, size_t index);
/* K5. Does the change that brought checkpoint key `index` (> 0) still want the old key's signature
 * under a checkpoint of this size, when the one before it had the size `before`? */
bool mb_keyring_owes(const mb_keyring *ring, size_t index, uint64_t before, uint64_t size);
/* Judges the signatures of a checkpoint of this size: the key in force then, and every key that was
 * replaced since the checkpoint before it, back to the newest change by which a key was lost.
 * `before` is the size of that earlier checkpoint; who does not know it says size - 1, which is
 * right for the change that stands just there, and asks for no other. False: *why is one clause. */
bool mb_keyring_checkpoint_ok(const mb_keyring *ring, const struct mb_note *note, uint64_t size,
                              uint64_t before, const char **why);

#endif
