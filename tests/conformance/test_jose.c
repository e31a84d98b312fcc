/* JOSE: RFC 8037 appendix A (Ed25519 keys and signatures), RFC 7638 (thumbprints), RFC 7515 (the
 * form of a compact JWS, its base64url). */
#include <criterion/criterion.h>

#include "bytes_of.h"
#include "entry.h"
#include "sha256.h"
#include "text.h"

static const char x_a1[] = "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo";

static mb_secret *key_a1(void)
{
    uint8_t d[32];

    cr_assert_eq(mb_crypto_start(NULL), MB_OK);
    cr_assert(mb_b64u_read_exact(MB_STR("nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A"), d, 32));
    return mb_secret_from_seed(d);
}

Test(jose, the_key_of_rfc_8037_is_written_and_named)
{
    mb_arena *arena = mb_arena_new();
    mb_secret *secret = key_a1();
    char kid[MB_THUMBPRINT_LEN + 1];
    struct mb_key key;

    /* A.1, A.2 and A.3; the canonical text is that of RFC 7638 section 3 */
    cr_expect(
        mb_str_is(mb_json_write(arena, mb_jwk_make(arena, mb_secret_key(secret))),
                  "{\"crv\":\"Ed25519\",\"kty\":\"OKP\",\"x\":\"11qYAYKxCrfVS_7TyWQHOg7hcvPapi"
                  "MlrwIaaPcHURo\"}"));
    mb_thumbprint(mb_secret_key(secret), kid);
    cr_expect_str_eq(kid, "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k");
    cr_expect(mb_jwk_read(mb_jwk_make(arena, mb_secret_key(secret)), &key));
    cr_expect(mb_key_equal(&key, mb_secret_key(secret)));
    mb_secret_free(secret);
    mb_arena_free(arena);
}

/* A.4 and A.5 */
Test(jose, the_signature_of_rfc_8037_is_made_and_verified)
{
    static const char payload[] = "Example of Ed25519 signing";
    static const char signed_part[] = "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc";
    static const char signature[] = "hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylG"
                                    "jg5BhVsPt9g7sVvpAr_MuM0KAg";
    mb_arena *arena = mb_arena_new();
    mb_secret *secret = key_a1();
    struct mb_str head = mb_b64u(arena, "{\"alg\":\"EdDSA\"}", 15);
    struct mb_str body = mb_b64u(arena, payload, sizeof payload - 1);
    struct mb_sig made, given;

    cr_expect_str_eq(mb_arena_printf(arena, "%.*s.%.*s", MB_STR_ARG(head), MB_STR_ARG(body)),
                     signed_part);
    mb_sign(secret, mb_str_of(signed_part), &made);
    cr_expect(mb_str_is(mb_b64u(arena, made.b, sizeof made.b), signature));
    cr_assert(mb_b64u_read_exact(mb_str_of(signature), given.b, sizeof given.b));
    cr_expect(mb_sig_ok(mb_secret_key(secret), mb_str_of(signed_part), &given));
    mb_secret_free(secret);
    mb_arena_free(arena);
}

/* RFC 7638 section 3.1: the thumbprint of an RSA key, which comes out of the same canonical writing
 * and hash that ours is made by. */
Test(jose, the_thumbprint_of_rfc_7638_comes_out)
{
    static const char shown[] =
        "{\"kty\":\"RSA\",\"n\":"
        "\"0vx7agoebGcQSuuPiLJXZptN9nndrQmbXEps2aiAFbWhM78LhWx4cbbfAAtVT86zwu1RK7aPFFxuhDR1L6tSo"
        "c_BJECPebWKRXjBZCiFV4n3oknjhMstn64tZ_2W-5JsGY4Hc5n9yBXArwl93lqt7_RN5w6Cf0h4QyQ5v-65YGjQ"
        "R0_FDW2QvzqY368QQMicAtaSqzs8KJZgnYb9c7d0zgdAZHzu6qMQvRL5hajrn1n91CbOpbISD08qNLyrdkt-bFT"
        "WhAI4vMQFh6WeZu0fM4lFd2NcRwr3XPksINHaQ-G_xBniIqbw0Ls1jF44-csFCur-kEgU8awapJzKnqDKgw\","
        "\"e\":\"AQAB\"}";
    mb_arena *arena = mb_arena_new();
    const mb_json *json;
    struct mb_hash hash;

    cr_assert_eq(mb_json_read(arena, mb_str_of(shown), MB_JSON_STRICT, &json, NULL), MB_OK);
    hash = mb_sha256_str(mb_json_write(arena, json));
    cr_expect(mb_str_is(mb_b64u(arena, hash.b, sizeof hash.b),
                        "NzbLsXh8uDCcd-6MNwXF4W_7noWXFZAfHkxZsRGC9Xs"));
    mb_arena_free(arena);
}

Test(jose, a_key_in_another_form_is_refused)
{
    static const char *const jwks[] = {
        "{\"crv\":\"Ed25519\",\"kty\":\"OKP\"}",
        "{\"crv\":\"Ed25519\",\"x\":\"@\"}",
        "{\"kty\":\"OKP\",\"x\":\"@\"}",
        "{\"crv\":\"Ed25519\",\"kty\":\"OKP\",\"kid\":\"k\",\"x\":\"@\"}",
        "{\"crv\":\"Ed25519\",\"d\":\"@\",\"kty\":\"OKP\",\"x\":\"@\"}",
        "{\"crv\":\"Ed448\",\"kty\":\"OKP\",\"x\":\"@\"}",
        "{\"crv\":\"X25519\",\"kty\":\"OKP\",\"x\":\"@\"}",
        "{\"crv\":\"Ed25519\",\"kty\":\"EC\",\"x\":\"@\"}",
        "{\"crv\":\"Ed25519\",\"kty\":\"okp\",\"x\":\"@\"}",
        "{\"crv\":\"Ed25519\",\"kty\":\"OKP\",\"x\":\"@=\"}",
        "{\"crv\":\"Ed25519\",\"kty\":\"OKP\",\"x\":\"@A\"}",
        "{\"crv\":\"Ed25519\",\"kty\":\"OKP\",\"x\":\"\"}",
        "{\"crv\":\"Ed25519\",\"kty\":\"OKP\",\"x\":7}",
        "[\"Ed25519\",\"OKP\",\"@\"]",
        "\"@\"",
        "null",
        /* the last letter of x with a stray bit: the same 32 bytes, another text */
        "{\"crv\":\"Ed25519\",\"kty\":\"OKP\",\"x\":\"11qYAYKxCrfVS_"
        "7TyWQHOg7hcvPapiMlrwIaaPcHURp\"}",
    };
    mb_arena *arena = mb_arena_new();
    const mb_json *json;
    struct mb_key key;

    for (size_t i = 0; i < sizeof jwks / sizeof jwks[0]; i++) {
        const char *at = strchr(jwks[i], '@');
        const char *text =
            at ? mb_arena_printf(arena, "%.*s%s%s", (int)(at - jwks[i]), jwks[i], x_a1, at + 1)
               : jwks[i];

        cr_assert_eq(mb_json_read(arena, mb_str_of(text), MB_JSON_STRICT, &json, NULL), MB_OK);
        cr_expect_not(mb_jwk_read(json, &key), "%s", text);
    }
    cr_expect_not(mb_jwk_read(NULL, &key));
    mb_arena_free(arena);
}
