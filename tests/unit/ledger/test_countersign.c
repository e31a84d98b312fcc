/* The other side signs: written, read back, and refused wherever it is not as it should be. */
#include <criterion/criterion.h>
#include <string.h>

#include "countersign.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

/* RFC 8037 appendix A.1, A.2 and A.3: the key and its thumbprint. */
#define SEED "nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A"
#define PUBLIC "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"
#define THUMBPRINT "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k"
#define ZEROS "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"

static mb_arena *arena;
static mb_secret *secret;

static void set_up(void)
{
    uint8_t seed[32];

    cr_assert_eq(mb_crypto_start(NULL), MB_OK);
    cr_assert(mb_b64u_read_exact(MB_STR(SEED), seed, sizeof seed));
    arena = mb_arena_new();
    secret = mb_secret_from_seed(seed);
}

static void tear_down(void)
{
    mb_secret_free(secret);
    mb_arena_free(arena);
}

TestSuite(countersign, .init = set_up, .fini = tear_down);

/* Signs whatever header and payload say. */
static struct mb_str jws_of(const char *header, const char *payload)
{
    struct mb_str text = mb_str_of(mb_arena_printf(
        arena, "%s.%s", mb_b64u(arena, header, strlen(header)).at,
        mb_b64u(arena, payload, strlen(payload)).at));
    struct mb_sig sig;

    mb_sign(secret, text, &sig);
    return mb_str_of(
        mb_arena_printf(arena, "%s.%s", text.at, mb_b64u(arena, sig.b, sizeof sig.b).at));
}

Test(countersign, it_is_read_as_it_was_written)
{
    struct mb_countersign out, what = { .iss = MB_STR("ledger.western-strand.example"),
                                        .role = MB_STR("receiver"),
                                        .iat = 1780000000 };
    struct mb_error err = { 0 };

    memset(what.over.b, 7, sizeof what.over.b);
    memset(what.shown.b, 9, sizeof what.shown.b);
    cr_assert_eq(mb_countersign_read(arena, mb_countersign_write(arena, &what, secret), &out, &err),
                 MB_OK, "%s", err.text);
    cr_expect_str_eq(out.kid, THUMBPRINT);
    cr_expect(mb_str_is(out.iss, "ledger.western-strand.example"));
    cr_expect(mb_str_is(out.role, "receiver"));
    cr_expect_eq(out.iat, 1780000000);
    cr_expect(mb_hash_equal(&out.over, &what.over) && mb_hash_equal(&out.shown, &what.shown));
}

Test(countersign, a_key_without_a_ledger_signs_for_itself)
{
    struct mb_countersign out, what = { .role = MB_STR("owner"), .iat = 1 };

    cr_assert_eq(mb_countersign_read(arena, mb_countersign_write(arena, &what, secret), &out, NULL),
                 MB_OK);
    cr_expect(mb_str_is(out.iss, "key/" THUMBPRINT));
}

Test(countersign, its_text_is_what_the_standards_give)
{
    struct mb_countersign what = { .iss = MB_STR("a.example"), .role = MB_STR("owner"), .iat = 1 };
    struct mb_str jws = mb_countersign_write(arena, &what, secret), header, rest;
    const char *as_is = "{\"alg\":\"EdDSA\",\"kid\":\"" THUMBPRINT
                        "\",\"typ\":\"markerbed-countersign+jwt\"}";

    mb_str_cut(jws, '.', &header, &rest);
    cr_expect(mb_str_equal(header, mb_b64u(arena, as_is, strlen(as_is))));
    /* Ed25519 is deterministic (RFC 8032 5.1.6): the same bytes, signed by hand, are the same */
    cr_expect(mb_str_equal(
        jws, jws_of(as_is, "{\"iat\":1,\"iss\":\"a.example\",\"jwk\":{\"crv\":\"Ed25519\","
                           "\"kty\":\"OKP\",\"x\":\"" PUBLIC "\"},\"over\":\"" ZEROS
                           "\",\"role\":\"owner\",\"shown\":\"" ZEROS "\"}")));
}

#define HEAD(alg, kid, typ) "{\"alg\":\"" alg "\",\"kid\":\"" kid "\",\"typ\":\"" typ "\"}"
#define GOOD_HEAD HEAD("EdDSA", THUMBPRINT, "markerbed-countersign+jwt")
#define JWK "{\"crv\":\"Ed25519\",\"kty\":\"OKP\",\"x\":\"" PUBLIC "\"}"
#define LOAD(iat, iss, jwk, over, more) \
    "{\"iat\":" iat ",\"iss\":\"" iss "\",\"jwk\":" jwk ",\"over\":\"" over \
    "\",\"role\":\"owner\",\"shown\":\"" ZEROS "\"" more "}"
#define GOOD_LOAD LOAD("1", "a.example", JWK, ZEROS, "")

static const struct {
    const char *what, *header, *payload;
    enum mb_rc rc;
} shapes[] = {
    { "as it should be", GOOD_HEAD, GOOD_LOAD, MB_OK },
    { "the other name of the algorithm",
      HEAD("Ed25519", THUMBPRINT, "markerbed-countersign+jwt"), GOOD_LOAD, MB_OK },
    { "an unknown algorithm", HEAD("ES256", THUMBPRINT, "markerbed-countersign+jwt"), GOOD_LOAD,
      MB_UNABLE },
    { "no algorithm", HEAD("none", THUMBPRINT, "markerbed-countersign+jwt"), GOOD_LOAD, MB_UNABLE },
    { "a critical header",
      "{\"alg\":\"EdDSA\",\"crit\":[\"b\"],\"kid\":\"" THUMBPRINT
      "\",\"typ\":\"markerbed-countersign+jwt\"}",
      GOOD_LOAD, MB_UNABLE },
    { "another type", HEAD("EdDSA", THUMBPRINT, "jwt"), GOOD_LOAD, MB_REFUSED },
    { "another key's name", HEAD("EdDSA", ZEROS, "markerbed-countersign+jwt"), GOOD_LOAD,
      MB_REFUSED },
    { "a header of two members", "{\"alg\":\"EdDSA\",\"typ\":\"markerbed-countersign+jwt\"}",
      GOOD_LOAD, MB_REFUSED },
    { "a number as time", GOOD_HEAD, LOAD("\"1\"", "a.example", JWK, ZEROS, ""), MB_REFUSED },
    { "an origin with a blank", GOOD_HEAD, LOAD("1", "a example", JWK, ZEROS, ""), MB_REFUSED },
    { "itself", GOOD_HEAD, LOAD("1", "key/" THUMBPRINT, JWK, ZEROS, ""), MB_OK },
    { "another than itself", GOOD_HEAD, LOAD("1", "key/" ZEROS, JWK, ZEROS, ""), MB_REFUSED },
    { "a short hash", GOOD_HEAD, LOAD("1", "a.example", JWK, "AAAA", ""), MB_REFUSED },
    { "one member more", GOOD_HEAD, LOAD("1", "a.example", JWK, ZEROS, ",\"z\":1"), MB_REFUSED },
    { "a member twice", GOOD_HEAD, LOAD("1", "a.example", JWK, ZEROS, ",\"iat\":1"), MB_REFUSED },
    { "a key with one member more", GOOD_HEAD,
      LOAD("1", "a.example",
           "{\"crv\":\"Ed25519\",\"kid\":\"x\",\"kty\":\"OKP\",\"x\":\"" PUBLIC "\"}", ZEROS, ""),
      MB_REFUSED },
    { "a key of small order", GOOD_HEAD,
      LOAD("1", "a.example", "{\"crv\":\"Ed25519\",\"kty\":\"OKP\",\"x\":\"" ZEROS "\"}", ZEROS,
           ""),
      MB_REFUSED },
    { "a list", GOOD_HEAD, "[]", MB_REFUSED },
};

Test(countersign, what_is_otherwise_is_refused_though_it_is_signed)
{
    for (size_t i = 0; i < COUNT(shapes); i++) {
        struct mb_countersign out;
        struct mb_error err = { 0 };
        enum mb_rc rc = mb_countersign_read(arena, jws_of(shapes[i].header, shapes[i].payload),
                                            &out, &err);

        cr_expect_eq(rc, shapes[i].rc, "%s: %d %s", shapes[i].what, (int)rc, err.text);
        cr_expect(rc == MB_OK || err.text[0], "%s: no word why", shapes[i].what);
    }
}

Test(countersign, every_changed_letter_is_found)
{
    struct mb_str good = jws_of(GOOD_HEAD, GOOD_LOAD);

    for (size_t i = 0; i < good.len; i++) {
        char *bad = mb_arena_copy(arena, good.at, good.len);
        struct mb_countersign out;

        bad[i] = bad[i] == 'A' ? 'B' : 'A';
        cr_expect_neq(mb_countersign_read(arena, (struct mb_str){ bad, good.len }, &out, NULL),
                      MB_OK, "letter %zu", i);
        cr_expect_neq(mb_countersign_read(arena, (struct mb_str){ good.at, i }, &out, NULL), MB_OK,
                      "cut at %zu", i);
    }
}
