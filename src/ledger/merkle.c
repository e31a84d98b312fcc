#include "merkle.h"

#include "sha256.h"

struct mb_hash mb_leaf_hash(struct mb_str leaf)
{
    return mb_sha256_tagged(0x00, leaf.at, leaf.len, NULL, 0);
}

struct mb_hash mb_node_hash(const struct mb_hash *left, const struct mb_hash *right)
{
    return mb_sha256_tagged(0x01, left->b, sizeof left->b, right->b, sizeof right->b);
}

bool mb_merkle_included(uint64_t index, uint64_t size, const struct mb_hash *leaf,
                        const struct mb_path *path, const struct mb_hash *root)
{
    uint64_t fn = index, sn = size - 1;
    struct mb_hash r = *leaf;

    if (index >= size)
        return false;
    for (size_t i = 0; i < path->count; i++) {
        if (sn == 0)
            return false;
        if ((fn & 1) || fn == sn) {
            r = mb_node_hash(&path->node[i], &r);
            while (!(fn & 1) && fn != 0) {
                fn >>= 1;
                sn >>= 1;
            }
        } else {
            r = mb_node_hash(&r, &path->node[i]);
        }
        fn >>= 1;
        sn >>= 1;
    }
    return sn == 0 && mb_hash_equal(&r, root);
}

static bool consistent_walk(uint64_t fn, uint64_t sn, const struct mb_hash *nodes, size_t count,
                            const struct mb_hash *root_old, const struct mb_hash *root_new)
{
    struct mb_hash fr = nodes[0], sr = nodes[0];

    for (size_t i = 1; i < count; i++) {
        if (sn == 0)
            return false;
        if ((fn & 1) || fn == sn) {
            fr = mb_node_hash(&nodes[i], &fr);
            sr = mb_node_hash(&nodes[i], &sr);
            while (!(fn & 1) && fn != 0) {
                fn >>= 1;
                sn >>= 1;
            }
        } else {
            sr = mb_node_hash(&sr, &nodes[i]);
        }
        fn >>= 1;
        sn >>= 1;
    }
    return sn == 0 && mb_hash_equal(&fr, root_old) && mb_hash_equal(&sr, root_new);
}

bool mb_merkle_consistent(uint64_t size_old, uint64_t size_new, const struct mb_hash *root_old,
                          const struct mb_hash *root_new, const struct mb_path *path)
{
    struct mb_hash nodes[MB_PATH_MAX + 1];
    size_t count = 0;
    uint64_t fn = size_old - 1, sn = size_new - 1;

    if (size_old == 0 || size_old > size_new)
        return false;
    if (size_old == size_new)
        return path->count == 0 && mb_hash_equal(root_old, root_new);
    if (path->count == 0)
        return false;
    if ((size_old & (size_old - 1)) == 0)
        nodes[count++] = *root_old;
    for (size_t i = 0; i < path->count; i++)
        nodes[count++] = path->node[i];
    while (fn & 1) {
        fn >>= 1;
        sn >>= 1;
    }
    return consistent_walk(fn, sn, nodes, count, root_old, root_new);
}

enum mb_rc mb_edge_push(struct mb_edge *edge, const struct mb_hash *leaf, mb_node_made *made,
                        void *ctx, struct mb_error *err)
{
    struct mb_hash node = *leaf;
    uint64_t index = edge->size;
    size_t count = edge->count;

    for (unsigned level = 1; index & 1; level++) {
        node = mb_node_hash(&edge->node[--count], &node);
        index >>= 1;
        if (made) {
            enum mb_rc rc = made(ctx, level, index, &node, err);

            if (rc)
                return rc;
        }
    }
    edge->node[count++] = node;
    edge->count = count;
    edge->size++;
    return MB_OK;
}

struct mb_hash mb_edge_root(const struct mb_edge *edge)
{
    struct mb_hash root;

    if (edge->count == 0)
        return mb_sha256(NULL, 0);
    root = edge->node[edge->count - 1];
    for (size_t i = edge->count - 1; i-- > 0;)
        root = mb_node_hash(&edge->node[i], &root);
    return root;
}

enum mb_rc mb_edge_load(struct mb_edge *edge, uint64_t size, mb_node_read *read, void *ctx,
                        struct mb_error *err)
{
    struct mb_edge fresh = { .size = size };

    for (int level = 63; level >= 0; level--) {
        uint64_t width = (uint64_t)1 << level;

        if (size & width) {
            /* what stands left of this subtree is all the larger ones */
            uint64_t before = size & ~((width << 1) - 1);
            enum mb_rc rc = read(ctx, (unsigned)level, before >> level, &fresh.node[fresh.count++],
                                 err);

            if (rc)
                return rc;
        }
    }
    *edge = fresh;
    return MB_OK;
}

/* The root over leaves begin..end-1; begin is a multiple of the power of two that covers it. */
static enum mb_rc range_root(uint64_t begin, uint64_t end, mb_node_read *read, void *ctx,
                             struct mb_hash *out, struct mb_error *err)
{
    struct mb_hash part[MB_PATH_MAX];
    size_t count = 0;

    for (uint64_t at = begin; at < end;) {
        unsigned level = 0;
        enum mb_rc rc;

        while (level < 62 && at % ((uint64_t)2 << level) == 0
               && at + ((uint64_t)2 << level) <= end)
            level++;
        rc = read(ctx, level, at >> level, &part[count++], err);
        if (rc)
            return rc;
        at += (uint64_t)1 << level;
    }
    *out = part[count - 1];
    for (size_t i = count - 1; i-- > 0;)
        *out = mb_node_hash(&part[i], out);
    return MB_OK;
}

/* Largest power of two smaller than n, n > 1. */
static uint64_t split_at(uint64_t n)
{
    uint64_t k = 1;

    while (k << 1 < n)
        k <<= 1;
    return k;
}

static void turn_round(struct mb_path *path)
{
    for (size_t i = 0, j = path->count; i + 1 < j; i++) {
        struct mb_hash swap = path->node[i];

        path->node[i] = path->node[--j];
        path->node[j] = swap;
    }
}

enum mb_rc mb_merkle_prove(uint64_t index, uint64_t size, mb_node_read *read, void *ctx,
                           struct mb_path *out, struct mb_error *err)
{
    uint64_t begin = 0, end = size;

    out->count = 0;
    while (end - begin > 1) {
        uint64_t middle = begin + split_at(end - begin);
        bool left = index < middle;
        enum mb_rc rc = range_root(left ? middle : begin, left ? end : middle, read, ctx,
                                   &out->node[out->count++], err);

        if (rc)
            return rc;
        if (left)
            end = middle;
        else
            begin = middle;
    }
    turn_round(out); /* found from the root down, told from the leaf up */
    return MB_OK;
}

enum mb_rc mb_merkle_prove_growth(uint64_t size_old, uint64_t size_new, mb_node_read *read,
                                  void *ctx, struct mb_path *out, struct mb_error *err)
{
    uint64_t begin = 0, end = size_new;
    bool whole = true; /* the old tree is exactly begin..size_old-1 and its root is known */
    enum mb_rc rc;

    out->count = 0;
    while (end != size_old) {
        uint64_t middle = begin + split_at(end - begin);
        bool left = size_old <= middle;

        rc = range_root(left ? middle : begin, left ? end : middle, read, ctx,
                        &out->node[out->count++], err);
        if (rc)
            return rc;
        if (left) {
            end = middle;
        } else {
            begin = middle;
            whole = false;
        }
    }
    if (!whole) {
        rc = range_root(begin, end, read, ctx, &out->node[out->count++], err);
        if (rc)
            return rc;
    }
    turn_round(out);
    return MB_OK;
}
