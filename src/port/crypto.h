/*
 * Signing, sealing and randomness, by libsodium: the only file that knows it (with random.c).
 *
 * Ed25519 as in RFC 8032 (pure). Verification is libsodium's, the strictest of the common ones:
 * S >= L, small-order A or R, and non-canonical A are refused.
 */
#ifndef MB_CRYPTO_H
#define MB_CRYPTO_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/arena.h>

struct mb_key {
    uint8_t b[32]; /* Ed25519 public key, RFC 8032 encoding */
};

struct mb_sig {
    uint8_t b[64];
};

/* A secret key, in guarded memory that is wiped when freed. */
typedef struct mb_secret mb_secret;

/* Once per process, before anything else of this file; MB_UNABLE if the system has no randomness.
 * */
MB_CHECK enum mb_rc mb_crypto_start(struct mb_error *err);

mb_secret *mb_secret_new(void); /* a fresh random key */
mb_secret *mb_secret_from_seed(const uint8_t seed[32]);
mb_secret *mb_secret_free(mb_secret *secret); /* accepts NULL, returns NULL */
const struct mb_key *mb_secret_key(const mb_secret *secret);
void mb_secret_seed(const mb_secret *secret, uint8_t seed[32]); /* the caller wipes it */

void mb_sign(const mb_secret *secret, struct mb_str message, struct mb_sig *out);
bool mb_sig_ok(const struct mb_key *key, struct mb_str message, const struct mb_sig *sig);

/* Canonical, on the curve, in the prime-order group, and not the identity: only such a key may be
 * enrolled (docs/format.md). */
bool mb_key_ok(const struct mb_key *key);
bool mb_key_equal(const struct mb_key *a, const struct mb_key *b);

/* The system's generator (random.c, alone there so that test programs may bring their own). */
void mb_random(void *out, size_t len);
void mb_wipe(void *at, size_t len);

/* Sealing under a passphrase: Argon2id, then XChaCha20-Poly1305 with `about` authenticated too. */
#define MB_SEAL_SALT 16
#define MB_SEAL_EXTRA 40 /* nonce 24 + tag 16 */
struct mb_seal_cost {
    uint64_t operations;
    uint64_t memory_bytes;
};
struct mb_seal_cost mb_seal_cost_default(void); /* 3 passes over 64 MiB: about 0.2 s */
/* out holds len + MB_SEAL_EXTRA bytes. MB_UNABLE if the memory is not to be had. */
MB_CHECK enum mb_rc mb_seal(struct mb_str passphrase, const uint8_t salt[MB_SEAL_SALT],
                            struct mb_seal_cost cost, struct mb_str about, const void *plain,
                            size_t len, uint8_t *out, struct mb_error *err);
/* MB_NO if the passphrase does not open it (or it was changed). */
MB_CHECK enum mb_rc mb_unseal(struct mb_str passphrase, const uint8_t salt[MB_SEAL_SALT],
                              struct mb_seal_cost cost, struct mb_str about, const uint8_t *sealed,
                              size_t sealed_len, void *plain, struct mb_error *err);

/* Sealing to a signing key's holder (libsodium's sealed box over the key's X25519 form): out holds
 * len + MB_BOX_EXTRA bytes. */
#define MB_BOX_EXTRA 48
bool mb_box_to(const struct mb_key *key, const void *plain, size_t len, uint8_t *out);
bool mb_box_open(const mb_secret *secret, const uint8_t *box, size_t box_len, void *plain);

#endif
