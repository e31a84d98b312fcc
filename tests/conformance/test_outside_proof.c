/*
 * Proof files (C2SP tlog-proof v1) of every entry of a ledger, judged by Go's golang.org/x/mod
 * sumdb/note and sumdb/tlog (tests/support/judge_proof.go, which reads the form by itself).
 */
#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>

#include <markerbed/witness.h>

#include "codec.h"
#include "outside.h"
#include "text.h"
#include "workbench.h"

#define GO "env GO111MODULE=off GOPATH=/usr/share/gocode GOCACHE=\"$PWD/cache\" GOFLAGS= go"

static struct workbench b;

static void set_up(void)
{
    workbench_house(&b);
}

static void tear_down(void)
{
    outside_end();
    workbench_done(&b);
}

TestSuite(outside_proof, .init = set_up, .fini = tear_down);

static struct mb_str proof_of(const char *entry)
{
    const mb_json *out = NULL;

    cr_assert_eq(mb_proof(b.ledger, b.arena, entry, &out, &b.err), MB_OK, "%s: %s", entry,
                 b.err.text);
    return mb_json_str(mb_json_get(out, "file"));
}

static int judge(struct mb_str proof, struct mb_str leaf, struct mb_str *said)
{
    const char *vkey = workbench_field(&b, 0, "checkpointKey", NULL); /* JSON text, in quotes */

    outside_file(b.arena, "leaf", leaf);
    outside_file(b.arena, "proof", proof);
    return outside_run(b.arena, said, "./judge %s leaf proof", vkey);
}

Test(outside_proof, go_agrees_on_every_entry, .timeout = 240)
{
    int64_t size = workbench_size(&b);
    char *here = realpath("tests/support", NULL);
    struct mb_str said;

    OUTSIDE_NEEDS("go");
    cr_assert_eq(outside_run(b.arena, &said, GO " build -o judge %s/judge_proof.go", here), 0,
                 "%.*s", MB_STR_ARG(said));
    free(here);
    cr_assert_gt(size, 8);
    for (int64_t seq = 0; seq < size; seq++) {
        struct mb_entry e = workbench_entry(&b, seq), other = workbench_entry(&b, (seq + 1) % size);
        struct mb_str proof = proof_of(mb_arena_printf(b.arena, "#%lld", (long long)seq));
        char *spoilt = mb_arena_copy(b.arena, proof.at, proof.len);

        cr_expect_eq(judge(proof, e.jws, &said), 0, "%.*s", MB_STR_ARG(said));
        cr_expect(mb_str_is(said, mb_arena_printf(b.arena, "%lld %lld\n", (long long)seq,
                                                  (long long)size)),
                  "%.*s", MB_STR_ARG(said));
        /* and it is no judge that says yes to all: another entry, a changed hash */
        cr_expect_eq(judge(proof, other.jws, NULL), 1, "entry %lld", (long long)seq);
        spoilt[strlen("c2sp.org/tlog-proof@v1\nindex ") + (seq > 9 ? 4 : 3)] ^= 1;
        cr_expect_eq(judge((struct mb_str){ spoilt, proof.len }, e.jws, NULL), 1);
    }
}

Test(outside_proof, an_entry_is_named_by_number_or_leaf_hash)
{
    struct mb_entry e = workbench_entry(&b, 3);
    struct mb_str by_number = proof_of("3"), leaf = mb_b64u(b.arena, e.leaf.b, sizeof e.leaf.b);

    cr_expect(mb_str_equal(by_number, proof_of("#3")));
    cr_expect(mb_str_equal(by_number, proof_of(mb_arena_copy(b.arena, leaf.at, leaf.len))));
    cr_expect_not(mb_str_equal(by_number, proof_of("4")));
}

Test(outside_proof, what_is_no_entry_is_refused)
{
    static const char *const wrong[] = {
        "", "#", "-1", "+3", "3 ", "0x3", "99999999999999999999", "100000", "specimen/26-0001",
        "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA", /* no entry has this leaf hash */
    };

    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        const mb_json *out = NULL;
        struct mb_error err = { 0 };

        cr_expect_eq(mb_proof(b.ledger, b.arena, wrong[i], &out, &err), MB_REFUSED, "'%s'",
                     wrong[i]);
        cr_expect_neq(err.text[0], '\0');
        cr_expect_null(out);
    }
}
