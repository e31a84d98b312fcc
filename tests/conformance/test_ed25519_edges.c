/*
 * Where Ed25519 verifiers part ways. The rule of docs/format.md: small-order keys and R, keys and R
 * that are not canonical, and S of L or more are refused; so everything that we accept every common
 * verifier accepts too. Honest signers never make any of these.
 */
#include <criterion/criterion.h>

#include "bytes_of.h"
#include "text.h"

struct edge {
    const char *what, *message, *key, *signature;
    bool accepted;
};

/* novifinancial/ed25519-speccheck, cases.json ("Taming the many EdDSAs"): cases 0-9 as of commit
 * 336651ba, the two with keys that are not canonical as of d2b2ba58. What is accepted is that
 * project's published column for libsodium. */
static const struct edge speccheck[] = {
    { "0: small-order key and R",
      "8c93255d71dcab10e8f379c26200f3c7bd5f09d9bc3068d3ef4edeb4853022b6",
      "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa",
      "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a"
      "0000000000000000000000000000000000000000000000000000000000000000",
      false },
    { "1: small-order key", "9bd9f44f4dcc75bd531b56b2cd280b0bb38fc1cd6d1230e14861d861de092e79",
      "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa",
      "f7badec5b8abeaf699583992219b7b223f1df3fbbea919844e3f7c554a43dd43"
      "a5bb704786be79fc476f91d3f3f89b03984d8068dcf1bb7dfc6637b45450ac04",
      false },
    { "2: small-order R", "aebf3f2601a0c8c5d39cc7d8911642f740b78168218da8471772b35f9d35b9ab",
      "f7badec5b8abeaf699583992219b7b223f1df3fbbea919844e3f7c554a43dd43",
      "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa"
      "8c4bd45aecaca5b24fb97bc10ac27ac8751a7dfe1baff8b953ec9f5833ca260e",
      false },
    { "3: mixed order, fits either way",
      "9bd9f44f4dcc75bd531b56b2cd280b0bb38fc1cd6d1230e14861d861de092e79",
      "cdb267ce40c5cd45306fa5d2f29731459387dbf9eb933b7bd5aed9a765b88d4d",
      "9046a64750444938de19f227bb80485e92b83fdb4b6506c160484c016cc1852f"
      "87909e14428a7a1d62e9f22f3d3ad7802db02eb2e688b6c52fcd6648a98bd009",
      true },
    { "4: fits only with the cofactor",
      "e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec4011eaccd55b53f56c",
      "cdb267ce40c5cd45306fa5d2f29731459387dbf9eb933b7bd5aed9a765b88d4d",
      "160a1cb0dc9c0258cd0a7d23e94d8fa878bcb1925f2c64246b2dee1796bed512"
      "5ec6bc982a269b723e0668e540911a9a6a58921d6925e434ab10aa7940551a09",
      false },
    { "5: the same, before reducing",
      "e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec4011eaccd55b53f56c",
      "cdb267ce40c5cd45306fa5d2f29731459387dbf9eb933b7bd5aed9a765b88d4d",
      "21122a84e0b5fca4052f5b1235c80a537878b38f3142356b2c2384ebad4668b7"
      "e40bc836dac0f71076f9abe3a53f9c03c1ceeeddb658d0030494ace586687405",
      false },
    { "6: S of L or more", "85e241a07d148b41e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec40",
      "442aad9f089ad9e14647b1ef9099a1ff4798d78589e66f28eca69c11f582a623",
      "e96f66be976d82e60150baecff9906684aebb1ef181f67a7189ac78ea23b6c0e"
      "547f7690a0e2ddcd04d87dbc3490dc19b3b3052f7ff0538cb68afb369ba3a514",
      false },
    { "7: S far above L", "85e241a07d148b41e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec40",
      "442aad9f089ad9e14647b1ef9099a1ff4798d78589e66f28eca69c11f582a623",
      "8ce5b96c8f26d0ab6c47958c9e68b937104cd36e13c33566acd2fe8d38aa1942"
      "7e71f98a473474f2f13f06f97c20d58cc3f54b8bd0d272f42b695dd7e89a8c22",
      false },
    { "8: R not canonical", "fdaebc429f4a735932a160da1301080c13280eea8bc280d1b392c6b9e6ba3a5a",
      "f7badec5b8abeaf699583992219b7b223f1df3fbbea919844e3f7c554a43dd43",
      "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f"
      "454d370c8d9fc323a41450f8d513eafeb5b0697390c1e505a0d4ddc71f566607",
      false },
    { "9: R not canonical", "84b698d39be126ff55fe45079e6c8bf64a0d7db6994560b4e96b7021eb39c1a1",
      "f7badec5b8abeaf699583992219b7b223f1df3fbbea919844e3f7c554a43dd43",
      "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f"
      "084d5b99c2a9463d9c8bd5026916996984eeec87ddf1d3be329006ace1b37b09",
      false },
    { "10: key not canonical", "e96b7021eb39c1a163b6da4e3093dcd3f21387da4cc4572be588fafae23c155b",
      "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff",
      "a9d55260f765261eb9b84e106f665e00b867287a761990d7135963ee0a7d59dc"
      "a5bb704786be79fc476f91d3f3f89b03984d8068dcf1bb7dfc6637b45450ac04",
      false },
    { "11: key not canonical", "39a591f5321bbe07fd5a23dc2f39d025d74526615746727ceefd6e82ae65c06f",
      "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff",
      "a9d55260f765261eb9b84e106f665e00b867287a761990d7135963ee0a7d59dc"
      "a5bb704786be79fc476f91d3f3f89b03984d8068dcf1bb7dfc6637b45450ac04",
      false },
};

Test(ed25519_edges, the_speccheck_cases_are_judged_as_published)
{
    mb_arena *arena = mb_arena_new();

    cr_assert_eq(mb_crypto_start(NULL), MB_OK);
    for (size_t i = 0; i < sizeof speccheck / sizeof speccheck[0]; i++) {
        struct mb_key key = key_of_hex(speccheck[i].key);
        struct mb_sig sig = sig_of_hex(speccheck[i].signature);

        cr_expect_eq(mb_sig_ok(&key, bytes_of_hex(arena, speccheck[i].message), &sig),
                     speccheck[i].accepted, "%s", speccheck[i].what);
    }
    mb_arena_free(arena);
}

/* C2SP/CCTV ed25519/ed25519vectors.json at 0fb2c3b5, the first of each set of flags among numbers
 * 0-41; the message is the text itself. Only 7 and 29 are without a flag that we refuse. */
static const struct edge cctv[] = {
    { "0", "ed25519vectors 3", "0000000000000000000000000000000000000000000000000000000000000000",
      "0000000000000000000000000000000000000000000000000000000000000000"
      "0000000000000000000000000000000000000000000000000000000000000000",
      false },
    { "2", "ed25519vectors 7", "0000000000000000000000000000000000000000000000000000000000000000",
      "36684ea91032ba5b1dbab2d02f4debc74c3327f2b3802e2e4d371aa42b12b56b"
      "05ba9a796274d80437afa36f1236563f2f3b0aa84cecddc3d20914615ba4fe02",
      false },
    { "3", "ed25519vectors 3", "0000000000000000000000000000000000000000000000000000000000000000",
      "36684ea91032ba5b1dbab2d02f4debc74c3327f2b3802e2e4d371aa42b12b56b"
      "05ba9a796274d80437afa36f1236563f2f3b0aa84cecddc3d20914615ba4fe02",
      false },
    { "4", "ed25519vectors 7", "10eb7c3acfb2bed3e0d6ab89bf5a3d6afddd1176ce4812e38d9fd485058fdb1f",
      "0000000000000000000000000000000000000000000000000000000000000000"
      "5e176f12cfb0d4e6eb6929b19ae4c998ef05c1c2cf628a9b1fa1c21312627108",
      false },
    { "5", "ed25519vectors 3", "10eb7c3acfb2bed3e0d6ab89bf5a3d6afddd1176ce4812e38d9fd485058fdb1f",
      "0000000000000000000000000000000000000000000000000000000000000000"
      "9472a69cd9a701a50d130ed52189e2455b23767db52cacb8716fb896ffeeac09",
      false },
    { "6", "ed25519vectors 10", "10eb7c3acfb2bed3e0d6ab89bf5a3d6afddd1176ce4812e38d9fd485058fdb1f",
      "36684ea91032ba5b1dbab2d02f4debc74c3327f2b3802e2e4d371aa42b12b56b"
      "c02e2b9e63e385c058bf62b14b3a2b29ccefe8e38ddb536bc3f9865320a3d801",
      false },
    { "7", "ed25519vectors", "10eb7c3acfb2bed3e0d6ab89bf5a3d6afddd1176ce4812e38d9fd485058fdb1f",
      "36684ea91032ba5b1dbab2d02f4debc74c3327f2b3802e2e4d371aa42b12b56b"
      "bbfd00bd9c259d8d222d15e67a3d8228585050dbb9b9585be20d8fadc721da03",
      true },
    { "8", "ed25519vectors 8", "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
      "0000000000000000000000000000000000000000000000000000000000000000"
      "0000000000000000000000000000000000000000000000000000000000000000",
      false },
    { "11", "ed25519vectors", "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
      "36684ea91032ba5b1dbab2d02f4debc74c3327f2b3802e2e4d371aa42b12b56b"
      "05ba9a796274d80437afa36f1236563f2f3b0aa84cecddc3d20914615ba4fe02",
      false },
    { "14", "ed25519vectors 3", "0000000000000000000000000000000000000000000000000000000000000000",
      "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f"
      "0000000000000000000000000000000000000000000000000000000000000000",
      false },
    { "17", "ed25519vectors 3", "10eb7c3acfb2bed3e0d6ab89bf5a3d6afddd1176ce4812e38d9fd485058fdb1f",
      "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f"
      "ad7a355469b5c87e550469f6b2de409ee723acd584bf35f86b80c384e8ceb702",
      false },
    { "27", "ed25519vectors 10", "10eb7c3acfb2bed3e0d6ab89bf5a3d6afddd1176ce4812e38d9fd485058fdb1f",
      "0000000000000000000000000000000000000000000000000000000000000080"
      "050abffcd4d8ccbb4b8d6bf6649f5aa99e8de5cc182a7409633856ff53f49e0c",
      false },
    { "28", "ed25519vectors 9", "10eb7c3acfb2bed3e0d6ab89bf5a3d6afddd1176ce4812e38d9fd485058fdb1f",
      "b797b156efcd45a4e2454d2fd0b21438b3ccd80d4c7fd1d1b2c8e55bd4ed4a94"
      "639734cf989e314e9e049fc01a3864d191fed8f231b12fee6fa50aaadba44b0e",
      false },
    { "29", "ed25519vectors 2", "10eb7c3acfb2bed3e0d6ab89bf5a3d6afddd1176ce4812e38d9fd485058fdb1f",
      "b797b156efcd45a4e2454d2fd0b21438b3ccd80d4c7fd1d1b2c8e55bd4ed4a94"
      "732d9e0279fe001d90327efa319816e3e4506b78432b8b4e1f2fdc4b960d700f",
      true },
    { "39", "ed25519vectors 27", "10eb7c3acfb2bed3e0d6ab89bf5a3d6afddd1176ce4812e38d9fd485058fdb1f",
      "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff"
      "1f5fae114eb0c534b5aed0a892d0a0e1d429df6a025c5ae08012e0ffce78310c",
      false },
};

Test(ed25519_edges, the_cctv_cases_are_judged_by_their_flags)
{
    cr_assert_eq(mb_crypto_start(NULL), MB_OK);
    for (size_t i = 0; i < sizeof cctv / sizeof cctv[0]; i++) {
        struct mb_key key = key_of_hex(cctv[i].key);
        struct mb_sig sig = sig_of_hex(cctv[i].signature);

        cr_expect_eq(mb_sig_ok(&key, mb_str_of(cctv[i].message), &sig), cctv[i].accepted,
                     "number %s", cctv[i].what);
    }
}

/* Which keys may be enrolled. The order of each point was worked out apart, with the addition law
 * of RFC 8032 section 5.1.4 in whole numbers. */
Test(ed25519_edges, only_canonical_points_of_the_prime_order_group_are_keys)
{
    static const struct {
        const char *what, *key;
        bool ok;
    } keys[] = {
        { "RFC 8032 TEST 1", "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
          1 },
        { "prime order", "442aad9f089ad9e14647b1ef9099a1ff4798d78589e66f28eca69c11f582a623", 1 },
        { "order 1", "0100000000000000000000000000000000000000000000000000000000000000", 0 },
        { "order 2", "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f", 0 },
        { "order 4", "0000000000000000000000000000000000000000000000000000000000000000", 0 },
        { "order 4", "0000000000000000000000000000000000000000000000000000000000000080", 0 },
        { "order 8", "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05", 0 },
        { "order 8", "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc85", 0 },
        { "order 8", "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a", 0 },
        { "order 8", "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa", 0 },
        { "y = p", "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f", 0 },
        { "y = p + 1", "eeffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f", 0 },
        { "y = p + 3, mixed", "f0ffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
          0 },
        { "x = 0 with a sign", "0100000000000000000000000000000000000000000000000000000000000080",
          0 },
        { "x = 0 with a sign", "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff",
          0 },
        { "mixed order", "cdb267ce40c5cd45306fa5d2f29731459387dbf9eb933b7bd5aed9a765b88d4d", 0 },
        { "mixed order", "10eb7c3acfb2bed3e0d6ab89bf5a3d6afddd1176ce4812e38d9fd485058fdb1f", 0 },
        { "mixed order", "0300000000000000000000000000000000000000000000000000000000000000", 0 },
        { "not on the curve", "0200000000000000000000000000000000000000000000000000000000000000",
          0 },
        { "not on the curve", "0700000000000000000000000000000000000000000000000000000000000000",
          0 },
    };

    cr_assert_eq(mb_crypto_start(NULL), MB_OK);
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        struct mb_key key = key_of_hex(keys[i].key);

        cr_expect_eq(mb_key_ok(&key), keys[i].ok, "%s %s", keys[i].what, keys[i].key);
    }
}
