/* Secrets, sealing and boxes. Signatures: conformance/test_rfc8032 and test_ed25519_edges. */
#include <criterion/criterion.h>
#include <string.h>

#include "bytes_of.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

static const struct mb_seal_cost cheap = { .operations = 1, .memory_bytes = 8u << 20 };
static const uint8_t salt[MB_SEAL_SALT] = "salt for tests 1";

Test(crypto, a_secret_gives_back_its_seed)
{
    uint8_t seed[32];
    mb_secret *a = secret_of_seed(7), *b = mb_secret_new(), *c = mb_secret_new();
    struct mb_sig sig;

    mb_secret_seed(a, seed);
    for (unsigned i = 0; i < 32; i++)
        cr_expect_eq(seed[i], 7 + i);
    mb_secret_seed(b, seed);
    {
        mb_secret *again = mb_secret_from_seed(seed);

        cr_expect(mb_key_equal(mb_secret_key(again), mb_secret_key(b)));
        mb_secret_free(again);
    }
    cr_expect_not(mb_key_equal(mb_secret_key(b), mb_secret_key(c)), "two new keys are two");
    cr_expect(mb_key_ok(mb_secret_key(b)));
    mb_sign(b, MB_STR("text"), &sig);
    cr_expect(mb_sig_ok(mb_secret_key(b), MB_STR("text"), &sig));
    cr_expect_not(mb_sig_ok(mb_secret_key(c), MB_STR("text"), &sig));
    cr_expect_not(mb_sig_ok(mb_secret_key(b), MB_STR("Text"), &sig));
    mb_wipe(seed, sizeof seed);
    for (size_t i = 0; i < sizeof seed; i++)
        cr_expect_eq(seed[i], 0);
    mb_secret_free(a);
    mb_secret_free(b);
    cr_expect_null(mb_secret_free(c));
    cr_expect_null(mb_secret_free(NULL));
}

Test(crypto, what_is_sealed_opens_with_the_passphrase_alone)
{
    static const char plain[] = "thirty-two bytes of some secret.";
    uint8_t sealed[sizeof plain + MB_SEAL_EXTRA], other[sizeof sealed];
    char opened[sizeof plain];
    struct mb_error err = { 0 };
    struct mb_str pass = MB_STR("correct horse"), about = MB_STR("whose it is");
    uint8_t wrong_salt[MB_SEAL_SALT];

    cr_assert_eq(mb_crypto_start(NULL), MB_OK);
    cr_assert_eq(mb_seal(pass, salt, cheap, about, plain, sizeof plain, sealed, &err), MB_OK, "%s",
                 err.text);
    cr_expect_null(memmem(sealed, sizeof sealed, plain, 8));
    cr_assert_eq(mb_unseal(pass, salt, cheap, about, sealed, sizeof sealed, opened, &err), MB_OK);
    cr_expect_arr_eq(opened, plain, sizeof plain);
    /* a second sealing of the same looks otherwise */
    cr_assert_eq(mb_seal(pass, salt, cheap, about, plain, sizeof plain, other, &err), MB_OK);
    cr_expect(memcmp(sealed, other, sizeof sealed) != 0);

    cr_expect_eq(
        mb_unseal(MB_STR("correct horsf"), salt, cheap, about, sealed, sizeof sealed, opened, &err),
        MB_NO);
    cr_expect_str_eq(err.text, "the passphrase does not open this key");
    cr_expect_eq(mb_unseal(pass, salt, cheap, MB_STR("somebody else's"), sealed, sizeof sealed,
                           opened, NULL),
                 MB_NO);
    memcpy(wrong_salt, salt, sizeof salt);
    wrong_salt[0] ^= 1;
    cr_expect_eq(mb_unseal(pass, wrong_salt, cheap, about, sealed, sizeof sealed, opened, NULL),
                 MB_NO);
    for (size_t at = 0; at < sizeof sealed; at += 7) {
        memcpy(other, sealed, sizeof sealed);
        other[at] ^= 0x10;
        cr_expect_eq(mb_unseal(pass, salt, cheap, about, other, sizeof other, opened, NULL), MB_NO,
                     "byte %zu", at);
    }
    cr_expect_eq(mb_unseal(pass, salt, cheap, about, sealed, sizeof sealed - 1, opened, NULL),
                 MB_NO);
    cr_expect_eq(mb_unseal(pass, salt, cheap, about, sealed, MB_SEAL_EXTRA - 1, opened, NULL),
                 MB_REFUSED);
}

/* A key file can be changed by anyone: what it asks for must not eat the machine. */
Test(crypto, an_unlikely_cost_is_refused)
{
    static const struct mb_seal_cost costs[] = {
        { 0, 64u << 20 },      { 21, 64u << 20 },     { UINT64_MAX, 64u << 20 }, { 3, 0 },
        { 3, (8u << 20) - 1 }, { 3, (1u << 30) + 1 }, { 3, UINT64_MAX },
    };
    uint8_t sealed[40 + MB_SEAL_EXTRA] = { 0 }, opened[40];

    cr_assert_eq(mb_crypto_start(NULL), MB_OK);
    for (size_t i = 0; i < COUNT(costs); i++) {
        struct mb_error err = { 0 };

        cr_expect_eq(
            mb_unseal(MB_STR("p"), salt, costs[i], MB_STR(""), sealed, sizeof sealed, opened, &err),
            MB_REFUSED);
        cr_expect_str_eq(err.text, "the key file asks for an unlikely stretching cost");
    }
    cr_expect_eq(mb_seal_cost_default().operations, 3);
    cr_expect_eq(mb_seal_cost_default().memory_bytes, 64u << 20);
}

Test(crypto, a_box_opens_for_its_holder_alone)
{
    static const char plain[] = "the checkpoint key's seed, say..";
    mb_secret *a = secret_of_seed(1), *b = secret_of_seed(2);
    uint8_t box[sizeof plain + MB_BOX_EXTRA];
    char opened[sizeof plain];
    struct mb_key small_order =
        key_of_hex("c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa");

    cr_assert(mb_box_to(mb_secret_key(a), plain, sizeof plain, box));
    cr_expect_null(memmem(box, sizeof box, plain, 8));
    cr_assert(mb_box_open(a, box, sizeof box, opened));
    cr_expect_arr_eq(opened, plain, sizeof plain);
    cr_expect_not(mb_box_open(b, box, sizeof box, opened));
    box[50] ^= 1;
    cr_expect_not(mb_box_open(a, box, sizeof box, opened));
    cr_expect_not(mb_box_open(a, box, MB_BOX_EXTRA - 1, opened));
    cr_expect_not(mb_box_to(&small_order, plain, sizeof plain, box));
    mb_secret_free(a);
    mb_secret_free(b);
}

Test(crypto, random_bytes_differ)
{
    uint8_t a[64] = { 0 }, b[64] = { 0 };
    int zeros = 0;

    cr_assert_eq(mb_crypto_start(NULL), MB_OK);
    mb_random(a, sizeof a);
    mb_random(b, sizeof b);
    cr_expect(memcmp(a, b, sizeof a) != 0);
    for (size_t i = 0; i < sizeof a; i++)
        zeros += a[i] == 0;
    cr_expect_lt(zeros, 8);
}
