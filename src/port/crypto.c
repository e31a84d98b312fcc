#include "crypto.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include <sodium.h>

struct mb_secret {
    uint8_t expanded[crypto_sign_SECRETKEYBYTES];
    struct mb_key key;
};

static_assert(crypto_sign_PUBLICKEYBYTES == sizeof(struct mb_key), "public key size");
static_assert(crypto_sign_BYTES == sizeof(struct mb_sig), "signature size");
static_assert(crypto_pwhash_SALTBYTES == MB_SEAL_SALT, "salt size");
static_assert(crypto_aead_xchacha20poly1305_ietf_NPUBBYTES
                      + crypto_aead_xchacha20poly1305_ietf_ABYTES
                  == MB_SEAL_EXTRA,
              "what sealing adds");
static_assert(crypto_box_SEALBYTES == MB_BOX_EXTRA, "what a box adds");

enum { NONCE = crypto_aead_xchacha20poly1305_ietf_NPUBBYTES };

enum mb_rc mb_crypto_start(struct mb_error *err)
{
    if (sodium_init() < 0)
        return mb_fail(err, MB_UNABLE, "the system gives no random numbers; nothing can be signed");
    return MB_OK;
}

static mb_secret *secret_room(void)
{
    mb_secret *secret = sodium_malloc(sizeof *secret);

    if (!secret)
        abort();
    return secret;
}

mb_secret *mb_secret_new(void)
{
    uint8_t seed[32];
    mb_secret *secret;

    mb_random(seed, sizeof seed);
    secret = mb_secret_from_seed(seed);
    mb_wipe(seed, sizeof seed);
    return secret;
}

mb_secret *mb_secret_from_seed(const uint8_t seed[32])
{
    mb_secret *secret = secret_room();

    crypto_sign_seed_keypair(secret->key.b, secret->expanded, seed);
    return secret;
}

mb_secret *mb_secret_free(mb_secret *secret)
{
    sodium_free(secret);
    return NULL;
}

const struct mb_key *mb_secret_key(const mb_secret *secret)
{
    return &secret->key;
}

void mb_secret_seed(const mb_secret *secret, uint8_t seed[32])
{
    crypto_sign_ed25519_sk_to_seed(seed, secret->expanded);
}

void mb_sign(const mb_secret *secret, struct mb_str message, struct mb_sig *out)
{
    crypto_sign_detached(out->b, NULL, (const uint8_t *)message.at, message.len, secret->expanded);
}

bool mb_sig_ok(const struct mb_key *key, struct mb_str message, const struct mb_sig *sig)
{
    return crypto_sign_verify_detached(sig->b, (const uint8_t *)message.at, message.len, key->b)
           == 0;
}

bool mb_key_ok(const struct mb_key *key)
{
    return crypto_core_ed25519_is_valid_point(key->b) == 1;
}

bool mb_key_equal(const struct mb_key *a, const struct mb_key *b)
{
    return memcmp(a->b, b->b, sizeof a->b) == 0;
}

void mb_wipe(void *at, size_t len)
{
    sodium_memzero(at, len);
}

struct mb_seal_cost mb_seal_cost_default(void)
{
    return (struct mb_seal_cost){ .operations = 3, .memory_bytes = 64u << 20 };
}

static enum mb_rc stretch(struct mb_str passphrase, const uint8_t salt[MB_SEAL_SALT],
                          struct mb_seal_cost cost, uint8_t key[32], struct mb_error *err)
{
    /* A key file is bytes that anyone may have changed: a cost past these bounds is no cost that
     * this program ever wrote, only a way to make it eat the machine. */
    if (cost.operations < 1 || cost.operations > 20 || cost.memory_bytes < (8u << 20)
        || cost.memory_bytes > (1u << 30))
        return mb_fail(err, MB_REFUSED, "the key file asks for an unlikely stretching cost");
    if (crypto_pwhash(key, 32, passphrase.at, passphrase.len, salt, cost.operations,
                      (size_t)cost.memory_bytes, crypto_pwhash_ALG_ARGON2ID13)
        != 0)
        return mb_fail(err, MB_UNABLE, "no memory to stretch the passphrase (%llu MiB needed)",
                       (unsigned long long)(cost.memory_bytes >> 20));
    return MB_OK;
}

enum mb_rc mb_seal(struct mb_str passphrase, const uint8_t salt[MB_SEAL_SALT],
                   struct mb_seal_cost cost, struct mb_str about, const void *plain, size_t len,
                   uint8_t *out, struct mb_error *err)
{
    uint8_t key[32];
    enum mb_rc rc = stretch(passphrase, salt, cost, key, err);

    if (rc)
        return rc;
    mb_random(out, NONCE);
    crypto_aead_xchacha20poly1305_ietf_encrypt(out + NONCE, NULL, plain, len,
                                               (const uint8_t *)about.at, about.len, NULL, out,
                                               key);
    mb_wipe(key, sizeof key);
    return MB_OK;
}

enum mb_rc mb_unseal(struct mb_str passphrase, const uint8_t salt[MB_SEAL_SALT],
                     struct mb_seal_cost cost, struct mb_str about, const uint8_t *sealed,
                     size_t sealed_len, void *plain, struct mb_error *err)
{
    uint8_t key[32];
    enum mb_rc rc;

    if (sealed_len < MB_SEAL_EXTRA)
        return mb_fail(err, MB_REFUSED, "the sealed key is cut short");
    rc = stretch(passphrase, salt, cost, key, err);
    if (rc)
        return rc;
    if (crypto_aead_xchacha20poly1305_ietf_decrypt(plain, NULL, NULL, sealed + NONCE,
                                                   sealed_len - NONCE, (const uint8_t *)about.at,
                                                   about.len, sealed, key)
        != 0)
        rc = mb_fail(err, MB_NO, "the passphrase does not open this key");
    mb_wipe(key, sizeof key);
    return rc;
}

bool mb_box_to(const struct mb_key *key, const void *plain, size_t len, uint8_t *out)
{
    uint8_t curve[crypto_box_PUBLICKEYBYTES];

    return crypto_sign_ed25519_pk_to_curve25519(curve, key->b) == 0
           && crypto_box_seal(out, plain, len, curve) == 0;
}

bool mb_box_open(const mb_secret *secret, const uint8_t *box, size_t box_len, void *plain)
{
    uint8_t public[crypto_box_PUBLICKEYBYTES], private[crypto_box_SECRETKEYBYTES];
    bool ok;

    if (crypto_sign_ed25519_pk_to_curve25519(public, secret->key.b) != 0
        || crypto_sign_ed25519_sk_to_curve25519(private, secret->expanded) != 0)
        return false;
    ok = crypto_box_seal_open(plain, box, box_len, public, private) == 0;
    mb_wipe(private, sizeof private);
    return ok;
}
