/*
 * A witness's judgement (C2SP tlog-witness v1.0.0 add-checkpoint). The log is the test log of
 * transparency-dev/tessera (testdata, Apache-2.0): its origin, key, roots and the signatures of
 * sizes 0 and 15. The proof from 6 to 15 was checked with golang.org/x/mod sumdb/tlog. The
 * witness's seed is 00 01 .. 1f, its time 1700000000; its line was made and checked with x/mod.
 */
#include <criterion/criterion.h>
#include <string.h>

#include "text.h"
#include "witnessing.h"

#define ORIGIN "example.com/log/testdata"
#define VKEY ORIGIN "+33d7b496+AeHTu4Q3hEIMHNqc6fASMsq3rKNx280NI+oO5xCFkkSx"
#define PROOF                                                                                  \
    "ycRkkNklus5eMVRUvkD1pK321vMrA+jjOiZKU8aOcY4=\n"                                           \
    "nk9gCR+floFqznAPtqjjcnnV64dge2jQB95D5t164Hg=\n"                                           \
    "zY1lN35vrXYAPixXSd59LsU29xUJtuW4o2dNNg5Y2Co=\n"                                           \
    "5jLpqTgjsBDSEX6SgZiRnbTMdTuRd8bQ5tSsAOxe0Ks=\n"
#define SIGNED(size, root, sig) ORIGIN "\n" size "\n" root "\n\n\u2014 " ORIGIN " " sig "\n"
#define ROOT_6 "a6sWvsc2eEzmj72vah7mZ5dwFltivehh2b11qwlp5Jg="
#define ROOT_7 "IrSXADBqJ7EQoUODSDKROySgNveeL6CFhik2w/+fS7U="
#define SIZE_0                                                                                 \
    SIGNED("0", "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=",                                \
           "M9e0lhxJACzE1KoUdqKuPa+9p6R7dSW8BlEvrg/noo8FkGg6PbJoRNOcdjqjOq89wVvTA60eubCc4oufo5B" \
           "vIVEgtQc=")
#define SIZE_15                                                                                \
    SIGNED("15", "rKbDipCvhuX1GZ7g5BBe8sA6BbJ7ja/1nk427v383cs=",                               \
           "M9e0luh4jTG+UMBqOUo9/q+yAEvx1ilBEniMvjf1zfcBOhg+CKubMt53MvIt/uEWP6zdkdIQzd/fmwlM/dl" \
           "PWF74ewI=")
#define FORGED_15                                                                              \
    SIGNED("15", "rKbDipCvhuX1GZ7g5BBe8sA6BbJ7ja/1nk427v383cs=",                               \
           "M9e0lhxJACzE1KoUdqKuPa+9p6R7dSW8BlEvrg/noo8FkGg6PbJoRNOcdjqjOq89wVvTA60eubCc4oufo5B" \
           "vIVEgtQc=")
#define WITNESS_LINE                                                                           \
    "\u2014 witness.example/w1 519lMgAAAABlU/EA8Ksalh7kTmlIFPRO/50jC8JyWktgWjbjpb8ZCaY7/1Pyo/"  \
    "Js5iv0m/SL/Pgn8ExkAr34GAbhHPwm6x2I0VpoBA==\n"

static mb_arena *arena;

static void set_up(void)
{
    cr_assert_eq(mb_crypto_start(NULL), MB_OK);
    arena = mb_arena_new();
}

static void tear_down(void)
{
    mb_arena_free(arena);
}

TestSuite(witnessing, .init = set_up, .fini = tear_down);

static const struct {
    const char *what, *request, *origin, *root;
    uint64_t seen;
    int status;
} asked[] = {
    { "the worked request", "old 6\n" PROOF "\n" SIZE_15, ORIGIN, ROOT_6, 6, 200 },
    { "first seen", "old 0\n\n" SIZE_15, ORIGIN, ROOT_6, 0, 200 },
    { "an empty log", "old 0\n\n" SIZE_0, ORIGIN, ROOT_6, 0, 200 },
    { "a proof from nothing", "old 0\n" PROOF "\n" SIZE_15, ORIGIN, ROOT_6, 0, 422 },
    { "seen with another root", "old 6\n" PROOF "\n" SIZE_15, ORIGIN, ROOT_7, 6, 422 },
    { "no proof", "old 6\n\n" SIZE_15, ORIGIN, ROOT_6, 6, 422 },
    { "one size, two roots", "old 15\n\n" SIZE_15, ORIGIN, ROOT_6, 15, 422 },
    { "the same once more", "old 15\n\n" SIZE_15, ORIGIN,
      "rKbDipCvhuX1GZ7g5BBe8sA6BbJ7ja/1nk427v383cs=", 15, 200 },
    { "not what was seen last", "old 6\n" PROOF "\n" SIZE_15, ORIGIN, ROOT_7, 7, 409 },
    { "as if nothing was seen", "old 0\n\n" SIZE_15, ORIGIN, ROOT_6, 6, 409 },
    { "backwards", "old 16\n\n" SIZE_15, ORIGIN, ROOT_6, 16, 400 },
    { "another log", "old 6\n" PROOF "\n" SIZE_15, "example.com/other", ROOT_6, 6, 404 },
    { "a signature of another size", "old 6\n" PROOF "\n" FORGED_15, ORIGIN, ROOT_6, 6, 403 },
};

Test(witnessing, judges_as_the_standard_says)
{
    struct mb_vkey vkey;

    cr_assert_eq(mb_vkey_read(mb_str_of(VKEY), &vkey, NULL), MB_OK);
    for (size_t i = 0; i < sizeof asked / sizeof *asked; i++) {
        struct mb_witness_seen seen = { .size = asked[i].seen };
        struct mb_witness_request request;
        struct mb_error err = { 0 };

        cr_assert(mb_b64_read_exact(mb_str_of(asked[i].root), seen.root.b, 32));
        cr_assert_eq(mb_witness_request_read(arena, mb_str_of(asked[i].request), &request, &err),
                     MB_OK, "%s: %s", asked[i].what, err.text);
        cr_expect_eq((int)mb_witness_judge(&request, mb_str_of(asked[i].origin), &vkey, &seen,
                                           &err),
                     asked[i].status, "%s: %s", asked[i].what, err.text);
        cr_expect_eq(err.text[0] == '\0', asked[i].status == 200, "%s", asked[i].what);
        cr_expect_str_eq(mb_witness_request_write(arena, request.size_old, &request.path,
                                                  mb_str_of(strstr(asked[i].request, "\n\n") + 2)),
                         asked[i].request);
    }
}

Test(witnessing, cosigns_the_worked_request_byte_for_byte)
{
    struct mb_witness_request request;
    uint8_t seed[32];
    mb_secret *secret;

    for (size_t i = 0; i < sizeof seed; i++)
        seed[i] = (uint8_t)i;
    secret = mb_secret_from_seed(seed);
    cr_assert_eq(mb_witness_request_read(arena, mb_str_of("old 6\n" PROOF "\n" SIZE_15), &request,
                                         NULL),
                 MB_OK);
    cr_expect_str_eq(mb_note_cosign(arena, request.note.text, mb_str_of("witness.example/w1"),
                                    secret, 1700000000),
                     WITNESS_LINE);
    mb_secret_free(secret);
}

Test(witnessing, what_is_no_request_is_refused)
{
    static const char *const wrong[] = {
        "", "old 6", "old\n\n" SIZE_15, "old 06\n\n" SIZE_15, "old -1\n\n" SIZE_15,
        "Old 6\n\n" SIZE_15, "old 6 \n\n" SIZE_15, "old 99999999999999999999\n\n" SIZE_15,
        "old 6\nAAAA\n\n" SIZE_15, "old 6\n" PROOF SIZE_15, "old 6\n" PROOF "\n",
        "old 6\n\nno note\n",
    };

    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        struct mb_witness_request request;
        struct mb_error err = { 0 };

        cr_expect_eq(mb_witness_request_read(arena, mb_str_of(wrong[i]), &request, &err),
                     MB_REFUSED, "%zu", i);
        cr_expect_neq(err.text[0], '\0', "%zu", i);
    }
}
