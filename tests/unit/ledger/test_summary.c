/* The signed summary: as written it reads again, and nothing that is bent does. */
#include <criterion/criterion.h>
#include <string.h>

#include "summary.h"
#include "text.h"

static mb_arena *arena;
static mb_secret *secret;
static struct mb_summary what;

static void set_up(void)
{
    static const uint8_t seed[32] = { 7 };
    mb_json *says;

    cr_assert_eq(mb_crypto_start(NULL), MB_OK);
    arena = mb_arena_new();
    secret = mb_secret_from_seed(seed);
    says = mb_json_array(arena);
    mb_json_add_text(arena, says, "Ammonite, \xC3\xA9t\xC3\xA9");
    what = (struct mb_summary){ .iss = MB_STR("ledger.lab.example"), .crt = { { 1, 2, 3 } },
                                .sub = MB_STR("specimen/26-0001"), .audience = MB_STR("buyer"),
                                .iat = 1767225600, .says = says };
}

static void tear_down(void)
{
    mb_secret_free(secret);
    mb_arena_free(arena);
}

TestSuite(summary, .init = set_up, .fini = tear_down);

static enum mb_rc read_text(const char *jws, struct mb_summary *out)
{
    struct mb_error err = { 0 };

    return mb_summary_read(arena, mb_str_of(jws), out, &err);
}

Test(summary, reads_as_written)
{
    struct mb_str jws = mb_summary_write(arena, &what, secret);
    struct mb_str again = mb_summary_write(arena, &what, secret);
    struct mb_summary read;
    struct mb_key other = *mb_secret_key(secret);

    cr_assert(mb_str_equal(jws, again));
    cr_assert_eq(mb_summary_read(arena, jws, &read, NULL), MB_OK);
    cr_expect(mb_str_equal(read.iss, what.iss) && mb_str_equal(read.sub, what.sub));
    cr_expect(mb_hash_equal(&read.crt, &what.crt));
    cr_expect_eq(read.iat, what.iat);
    cr_expect_eq(read.says->count, 1);
    cr_expect(mb_summary_signed_by(&read, mb_secret_key(secret)));
    other.b[0] ^= 1;
    cr_expect(!mb_summary_signed_by(&read, &other));
}

Test(summary, no_letter_of_it_can_change)
{
    struct mb_str jws = mb_summary_write(arena, &what, secret);

    for (size_t i = 0; i < jws.len; i++) {
        char *bent = mb_arena_copy(arena, jws.at, jws.len);
        struct mb_summary read;

        bent[i] = bent[i] == 'A' ? 'B' : 'A';
        if (read_text(bent, &read) == MB_OK)
            cr_expect(!mb_summary_signed_by(&read, mb_secret_key(secret)), "letter %zu", i);
    }
}

static const char *jws_of(const char *header, const char *payload)
{
    struct mb_str head = mb_b64u(arena, header, strlen(header));
    struct mb_str body = mb_b64u(arena, payload, strlen(payload));
    static const uint8_t sig[64];

    return mb_arena_printf(arena, "%.*s.%.*s.%.*s", MB_STR_ARG(head), MB_STR_ARG(body),
                           MB_STR_ARG(mb_b64u(arena, sig, sizeof sig)));
}

#define HEAD "{\"alg\":\"EdDSA\",\"typ\":\"markerbed-summary+jwt\"}"
#define CRT "AQIDAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"
#define GOOD \
    "{\"aud\":\"buyer\",\"crt\":\"" CRT "\",\"iat\":1,\"iss\":\"l.example\",\"says\":[]," \
    "\"sub\":\"specimen/1\"}"

Test(summary, what_is_not_of_the_form_is_refused)
{
    static const struct {
        const char *header, *payload;
        enum mb_rc rc;
    } cases[] = {
        { HEAD, GOOD, MB_OK },
        { "{\"alg\":\"ES256\",\"typ\":\"markerbed-summary+jwt\"}", GOOD, MB_UNABLE },
        { "{\"alg\":\"EdDSA\",\"crit\":[\"b\"],\"typ\":\"markerbed-summary+jwt\"}", GOOD,
          MB_UNABLE },
        { "{\"alg\":\"EdDSA\",\"typ\":\"JWT\"}", GOOD, MB_REFUSED },
        { "{\"alg\":\"EdDSA\",\"kid\":\"a\",\"typ\":\"markerbed-summary+jwt\"}", GOOD, MB_REFUSED },
        { "[]", GOOD, MB_REFUSED },
        { HEAD, "[]", MB_REFUSED },
        { HEAD,
          "{\"aud\":\"all\",\"crt\":\"" CRT "\",\"iat\":1,\"iss\":\"l.example\",\"says\":[],"
          "\"sub\":\"specimen/1\"}",
          MB_REFUSED },
        { HEAD,
          "{\"aud\":\"buyer\",\"crt\":\"AQID\",\"iat\":1,\"iss\":\"l.example\",\"says\":[],"
          "\"sub\":\"specimen/1\"}",
          MB_REFUSED },
        { HEAD,
          "{\"aud\":\"buyer\",\"crt\":\"" CRT "\",\"iat\":1.0,\"iss\":\"l.example\",\"says\":[],"
          "\"sub\":\"specimen/1\"}",
          MB_REFUSED },
        { HEAD,
          "{\"aud\":\"buyer\",\"crt\":\"" CRT "\",\"iat\":1,\"iss\":\"l.example\",\"says\":[1],"
          "\"sub\":\"specimen/1\"}",
          MB_REFUSED },
        { HEAD,
          "{\"aud\":\"buyer\",\"crt\":\"" CRT "\",\"iat\":1,\"iss\":\"l.example\",\"says\":[],"
          "\"sub\":\"party/1\"}",
          MB_REFUSED },
        { HEAD,
          "{\"aud\":\"buyer\",\"aud\":\"buyer\",\"crt\":\"" CRT
          "\",\"iat\":1,\"iss\":\"l.example\",\"says\":[],\"sub\":\"specimen/1\"}",
          MB_REFUSED },
    };

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_summary read;

        cr_expect_eq(read_text(jws_of(cases[i].header, cases[i].payload), &read), cases[i].rc,
                     "case %zu", i);
    }
    cr_expect_eq(read_text("a.b", &what), MB_REFUSED);
    cr_expect_eq(read_text("", &what), MB_REFUSED);
}
