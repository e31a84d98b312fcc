/*
 * Secret keys on disk, in the ledger's folder keys/.
 *
 * A person's key is keys/THUMBPRINT.key: JSON with the public key, the name it is called by, and
 * the seed sealed under a passphrase (Argon2id, XChaCha20-Poly1305). The checkpoint key is
 * keys/checkpoint-ID.box: its seed, sealed once to each person's key who signs checkpoints, so that
 * a person needs one passphrase and the checkpoint key can be changed while others are away.
 * A key for an envelope is 60 characters of base32 in groups of four: the seed and a 5-byte check.
 */
#ifndef MB_KEYFILE_H
#define MB_KEYFILE_H

#include "entry.h"
#include "note.h"

#define MB_PASSPHRASE_MIN 8

struct mb_keyfile {
    struct mb_str label;  /* what its holder calls it */
    struct mb_key key;
    char kid[MB_THUMBPRINT_LEN + 1];
    const char *path;
};

/* Writes keys/THUMBPRINT.key; MB_REFUSED if it exists or the passphrase is under 8 bytes. */
MB_CHECK enum mb_rc mb_keyfile_write(mb_arena *arena, const char *ledger, const char *label,
                                     const mb_secret *secret, struct mb_str passphrase,
                                     struct mb_error *err);
/* All key files of a ledger, sorted by label. */
MB_CHECK enum mb_rc mb_keyfile_list(mb_arena *arena, const char *ledger, struct mb_keyfile **out,
                                    size_t *count, struct mb_error *err);
/* By label or the beginning of the thumbprint; NULL name: the only one. MB_REFUSED with the
 * choices. */
MB_CHECK enum mb_rc mb_keyfile_find(mb_arena *arena, const char *ledger, const char *name,
                                    struct mb_keyfile *out, struct mb_error *err);
/* MB_NO if the passphrase does not open it. The caller frees *out. */
MB_CHECK enum mb_rc mb_keyfile_open(mb_arena *arena, const struct mb_keyfile *file,
                                    struct mb_str passphrase, mb_secret **out,
                                    struct mb_error *err);

/* Adds a box for `to` to the checkpoint key's file (made if it is not there). */
MB_CHECK enum mb_rc mb_keybox_add(mb_arena *arena, const char *ledger, const struct mb_vkey *vkey,
                                  const mb_secret *checkpoint, const struct mb_key *to,
                                  struct mb_error *err);
/* MB_NO if there is no box for this person. The caller frees *out. */
MB_CHECK enum mb_rc mb_keybox_open(mb_arena *arena, const char *ledger,
                                   const struct mb_vkey *vkey, const mb_secret *person,
                                   mb_secret **out, struct mb_error *err);

/* For the envelope: "abcd efgh ..." and back; MB_REFUSED if the check does not fit. */
char *mb_envelope_write(mb_arena *arena, const mb_secret *secret);
MB_CHECK enum mb_rc mb_envelope_read(struct mb_str text, mb_secret **out, struct mb_error *err);

#endif
