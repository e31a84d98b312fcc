#include "tiles.h"

#include <string.h>

#include "fileio.h"
#include "text.h"

enum { HASH = sizeof(struct mb_hash), TILE_BYTES = (int)MB_TILE_WIDTH * HASH, GROUP = 1000 };

char *mb_tile_name(mb_arena *arena, unsigned level, uint64_t n, unsigned width)
{
    char *name = mb_arena_printf(arena, "%03u", (unsigned)(n % GROUP));

    for (n /= GROUP; n; n /= GROUP)
        name = mb_arena_printf(arena, "x%03u/%s", (unsigned)(n % GROUP), name);
    name = level == MB_TILE_LEVELS ? mb_arena_printf(arena, "tile/entries/%s", name)
                                   : mb_arena_printf(arena, "tile/%u/%s", level, name);
    return width == MB_TILE_WIDTH ? name : mb_arena_printf(arena, "%s.p/%u", name, width);
}

uint64_t mb_tile_hashes(unsigned level, uint64_t size)
{
    return level >= MB_TILE_LEVELS ? 0 : size >> (8 * level);
}

/* A partial tile that has gone since is the beginning of the full one. */
static enum mb_rc read_tile(struct mb_tiles *tiles, unsigned level, uint64_t n,
                            struct mb_error *err)
{
    uint64_t left = mb_tile_hashes(level, tiles->size) - n * MB_TILE_WIDTH;
    unsigned width = left < MB_TILE_WIDTH ? (unsigned)left : MB_TILE_WIDTH;
    const char *path = mb_path_join(tiles->arena, tiles->folder,
                                    mb_tile_name(tiles->arena, level, n, width));
    struct mb_str bytes;
    enum mb_rc rc;

    if (!mb_file_exists(path))
        path = mb_path_join(tiles->arena, tiles->folder,
                            mb_tile_name(tiles->arena, level, n, MB_TILE_WIDTH));
    rc = mb_file_read(tiles->arena, path, TILE_BYTES, &bytes, NULL);
    if (rc || bytes.len < (size_t)width * HASH)
        return mb_fail(err, MB_UNABLE, "the published tile %s is missing or too short", path);
    tiles->kept[level] = bytes;
    tiles->kept_n[level] = n;
    return MB_OK;
}

enum mb_rc mb_tiles_read(void *ctx, unsigned level, uint64_t index, struct mb_hash *out,
                         struct mb_error *err)
{
    struct mb_tiles *tiles = ctx;
    unsigned tile_level = level / 8, above = level % 8;
    uint64_t first = index << above, n = first / MB_TILE_WIDTH;
    struct mb_hash node[MB_TILE_WIDTH / 2];
    size_t count = (size_t)1 << above;

    if (tile_level >= MB_TILE_LEVELS || first + count > mb_tile_hashes(tile_level, tiles->size))
        return mb_fail(err, MB_UNABLE, "the published tree has no such node");
    if (!tiles->kept[tile_level].at || tiles->kept_n[tile_level] != n) {
        enum mb_rc rc = read_tile(tiles, tile_level, n, err);

        if (rc)
            return rc;
    }
    memcpy(node, tiles->kept[tile_level].at + first % MB_TILE_WIDTH * HASH, count * HASH);
    for (; count > 1; count /= 2)
        for (size_t i = 0; i < count / 2; i++)
            node[i] = mb_node_hash(&node[2 * i], &node[2 * i + 1]);
    *out = node[0];
    return MB_OK;
}
