/*
 * The Merkle tree of RFC 6962 section 2.1 and RFC 9162 section 2.1, as pure functions.
 *
 * leaf = SHA-256(00 | entry), node = SHA-256(01 | left | right); a tree of n leaves splits at the
 * largest power of two smaller than n; the empty tree's root is SHA-256 of nothing.
 */
#ifndef MB_MERKLE_H
#define MB_MERKLE_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/arena.h>

#include "codec.h"

#define MB_PATH_MAX 64

struct mb_path {
    size_t count;
    struct mb_hash node[MB_PATH_MAX];
};

struct mb_hash mb_leaf_hash(struct mb_str leaf);
struct mb_hash mb_node_hash(const struct mb_hash *left, const struct mb_hash *right);

/* RFC 9162 section 2.1.3.2. */
bool mb_merkle_included(uint64_t index, uint64_t size, const struct mb_hash *leaf,
                        const struct mb_path *path, const struct mb_hash *root);
/* RFC 9162 section 2.1.4.2, 0 < old <= new; equal sizes ask for an empty path and equal roots. */
bool mb_merkle_consistent(uint64_t size_old, uint64_t size_new, const struct mb_hash *root_old,
                          const struct mb_hash *root_new, const struct mb_path *path);

/* The right edge of a growing tree: the roots of its perfect subtrees, largest first. */
struct mb_edge {
    uint64_t size;
    size_t count;
    struct mb_hash node[MB_PATH_MAX];
};

/* Called for each inner node that an added leaf completes: level 1 is over two leaves; the node
 * covers leaves index * 2^level to (index + 1) * 2^level - 1. */
typedef enum mb_rc mb_node_made(void *ctx, unsigned level, uint64_t index,
                                const struct mb_hash *hash, struct mb_error *err);
MB_CHECK enum mb_rc mb_edge_push(struct mb_edge *edge, const struct mb_hash *leaf,
                                 mb_node_made *made, void *ctx, struct mb_error *err);
struct mb_hash mb_edge_root(const struct mb_edge *edge);

/* Reads the root of a perfect subtree; level 0 is the leaf hash itself. */
typedef enum mb_rc mb_node_read(void *ctx, unsigned level, uint64_t index, struct mb_hash *out,
                                struct mb_error *err);
MB_CHECK enum mb_rc mb_edge_load(struct mb_edge *edge, uint64_t size, mb_node_read *read, void *ctx,
                                 struct mb_error *err);
/* Paths as RFC 9162 sections 2.1.3.1 and 2.1.4.1 define them. index < size; 0 < old <= new. */
MB_CHECK enum mb_rc mb_merkle_prove(uint64_t index, uint64_t size, mb_node_read *read, void *ctx,
                                    struct mb_path *out, struct mb_error *err);
MB_CHECK enum mb_rc mb_merkle_prove_growth(uint64_t size_old, uint64_t size_new,
                                           mb_node_read *read, void *ctx, struct mb_path *out,
                                           struct mb_error *err);

#endif
