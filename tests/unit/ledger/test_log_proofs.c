/* Every inclusion and growth proof of a ledger of up to 200 entries, against the recursive
 * definitions of RFC 6962 section 2.1 written down here once more. */
#include <criterion/criterion.h>
#include <string.h>

#include "sha256.h"
#include "temp_ledger.h"

enum { MOST = 200 };

static struct mb_hash leaves[MOST];
static struct mb_hash known[MOST + 1][MOST + 1]; /* MTH(D[a:b]) once worked out */
static bool is_known[MOST + 1][MOST + 1];

static uint64_t split(uint64_t n)
{
    uint64_t k = 1;

    while (2 * k < n)
        k *= 2;
    return k;
}

/* Section 2.1: MTH(D[a:b]) */
static struct mb_hash mth(uint64_t a, uint64_t b)
{
    if (b - a == 0)
        return mb_sha256("", 0);
    if (b - a == 1)
        return leaves[a];
    if (!is_known[a][b]) {
        uint64_t k = split(b - a);
        struct mb_hash left = mth(a, a + k), right = mth(a + k, b);

        known[a][b] = mb_sha256_tagged(1, left.b, 32, right.b, 32);
        is_known[a][b] = true;
    }
    return known[a][b];
}

/* Section 2.1.1: PATH(m, D[a:b]) */
static void path(uint64_t m, uint64_t a, uint64_t b, struct mb_path *out)
{
    uint64_t k;

    if (b - a == 1)
        return;
    k = split(b - a);
    if (m < k) {
        path(m, a, a + k, out);
        out->node[out->count++] = mth(a + k, b);
    } else {
        path(m - k, a + k, b, out);
        out->node[out->count++] = mth(a, a + k);
    }
}

/* Section 2.1.2: SUBPROOF(m, D[a:b], whole) */
static void subproof(uint64_t m, uint64_t a, uint64_t b, bool whole, struct mb_path *out)
{
    uint64_t k;

    if (m == b - a) {
        if (!whole)
            out->node[out->count++] = mth(a, b);
        return;
    }
    k = split(b - a);
    if (m <= k) {
        subproof(m, a, a + k, whole, out);
        out->node[out->count++] = mth(a + k, b);
    } else {
        subproof(m - k, a + k, b, false, out);
        out->node[out->count++] = mth(a, a + k);
    }
}

static bool same(const struct mb_path *a, const struct mb_path *b)
{
    return a->count == b->count && memcmp(a->node, b->node, a->count * sizeof *a->node) == 0;
}

static void fill(struct temp_ledger *t)
{
    temp_ledger_new(t);
    temp_ledger_begin(t);
    while (mb_log_next_seq(t->log) < MOST)
        temp_ledger_put_by(t, t->owner, "specimen/A", "note", "{}");
    temp_ledger_commit(t);
    for (int64_t i = 0; i < MOST; i++) {
        struct mb_entry e;

        cr_assert_eq(mb_log_entry(t->log, t->arena, i, &e, NULL), MB_OK);
        leaves[i] = mb_sha256_tagged(0, e.jws.at, e.jws.len, NULL, 0);
    }
}

/* A path with one hash changed, one left out, one more, or for another place, proves nothing. */
static void spoilt(uint64_t i, uint64_t n, const struct mb_path *good, const struct mb_hash *root)
{
    struct mb_path p = *good;

    cr_expect_not(mb_merkle_included(i + 1, n, &leaves[i], good, root));
    cr_expect_not(mb_merkle_included(n, n, &leaves[i], good, root));
    p.node[p.count++] = leaves[0];
    cr_expect_not(mb_merkle_included(i, n, &leaves[i], &p, root));
    if (good->count == 0)
        return;
    p = *good;
    p.count--;
    cr_expect_not(mb_merkle_included(i, n, &leaves[i], &p, root));
    p = *good;
    p.node[i % p.count].b[n % 32] ^= 1;
    cr_expect_not(mb_merkle_included(i, n, &leaves[i], &p, root));
}

Test(log_proofs, every_inclusion_and_growth_up_to_200_entries)
{
    struct temp_ledger t;
    struct mb_error err = { 0 };
    size_t wrong = 0;

    fill(&t);
    for (uint64_t n = 1; n <= MOST; n++) {
        struct mb_hash want = mth(0, n), root;

        cr_assert_eq(mb_log_root(t.log, (int64_t)n, &root, &err), MB_OK, "%s", err.text);
        cr_expect(mb_hash_equal(&root, &want), "root of %llu", (unsigned long long)n);
        for (uint64_t i = 0; i < n; i++) {
            struct mb_path made = { 0 }, defined = { 0 };

            cr_assert_eq(mb_log_prove(t.log, (int64_t)i, (int64_t)n, &made, &err), MB_OK);
            path(i, 0, n, &defined);
            wrong += !same(&made, &defined);
            wrong += !mb_merkle_included(i, n, &leaves[i], &made, &root);
            if (i % 13 == n % 13)
                spoilt(i, n, &made, &root);
        }
        for (uint64_t m = 1; m <= n; m++) {
            struct mb_path made = { 0 }, defined = { 0 };
            struct mb_hash old = mth(0, m);

            cr_assert_eq(mb_log_prove_growth(t.log, (int64_t)m, (int64_t)n, &made, &err), MB_OK);
            subproof(m, 0, n, true, &defined);
            wrong += !same(&made, &defined);
            wrong += !mb_merkle_consistent(m, n, &old, &root, &made);
            if (m < n)
                wrong += mb_merkle_consistent(m, n, &leaves[m], &root, &made)
                         || mb_merkle_consistent(m, n, &old, &leaves[m], &made);
        }
        cr_assert_eq(wrong, 0, "size %llu", (unsigned long long)n);
    }
    temp_ledger_done(&t);
}

/* The row of an inner node: in the order of their making, as docs/storage.md and the schema say. */
Test(log_proofs, nodes_have_the_rows_that_the_schema_gives)
{
    int64_t next = 0;

    for (uint64_t m = 0; m < 5000;
         m++) /* leaf m completes one node for each of its trailing ones */
        for (unsigned level = 1; (m >> (level - 1)) & 1; level++)
            cr_assert_eq(mb_node_row(level, m >> level), next++, "leaf %llu, level %u",
                         (unsigned long long)m, level);
    cr_expect_eq(next, 5000 - __builtin_popcount(5000));
}
