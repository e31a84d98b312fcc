/*
 * A published tree: C2SP tlog-tiles, hash tiles of height 8. Tile (level, n) holds the roots of the
 * subtrees over 256^level leaves numbered n*256 and on; the last one of a level is partial
 * ("tile/0/x001/234.p/17"), and a level above the leaves is made of full tiles alone.
 */
#ifndef MB_TILES_H
#define MB_TILES_H

#include "merkle.h"

#define MB_TILE_WIDTH 256u
#define MB_TILE_LEVELS 8 /* 256^8 = 2^64 */

/* "tile/0/x001/234.p/17"; level "entries" where level is MB_TILE_LEVELS. width 256: a full one. */
char *mb_tile_name(mb_arena *arena, unsigned level, uint64_t n, unsigned width);

/* How many hashes the level has in a tree of this size. */
uint64_t mb_tile_hashes(unsigned level, uint64_t size);

/* Reads nodes out of the tiles in a folder, for the functions of merkle.h: mb_tiles_read is their
 * mb_node_read with a struct mb_tiles as ctx. MB_UNABLE where a tile is missing or too short. */
struct mb_tiles {
    mb_arena *arena;
    const char *folder;
    uint64_t size; /* of the published tree */
    struct mb_str kept[MB_TILE_LEVELS]; /* the tile of each level that was read last */
    uint64_t kept_n[MB_TILE_LEVELS];
};
MB_CHECK enum mb_rc mb_tiles_read(void *ctx, unsigned level, uint64_t index, struct mb_hash *out,
                                  struct mb_error *err);

#endif
