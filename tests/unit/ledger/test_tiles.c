/* Published trees: names and contents of tiles. Names are those of C2SP tlog-tiles; the leaves and
 * hashes those of transparency-dev/tessera testdata (15 entries, "one" to "fivten"). */
#include <criterion/criterion.h>
#include <string.h>

#include "bytes_of.h"
#include "fileio.h"
#include "temp_folder.h"
#include "text.h"
#include "tiles.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

Test(tiles, names_are_the_standards)
{
    static const struct {
        unsigned level;
        uint64_t n;
        unsigned width;
        const char *name;
    } cases[] = {
        { 0, 7, 256, "tile/0/007" },
        { 0, 1234067, 256, "tile/0/x001/x234/067" },
        { 1, 1000, 256, "tile/1/x001/000" },
        { 0, 273, 112, "tile/0/273.p/112" },
        { 2, 0, 1, "tile/2/000.p/1" },
        { MB_TILE_LEVELS, 0, 15, "tile/entries/000.p/15" },
        { MB_TILE_LEVELS, 1234067, 256, "tile/entries/x001/x234/067" },
    };
    mb_arena *arena = mb_arena_new();

    for (size_t i = 0; i < COUNT(cases); i++)
        cr_expect_str_eq(mb_tile_name(arena, cases[i].level, cases[i].n, cases[i].width),
                         cases[i].name);
    /* the standard's worked sizes */
    cr_expect_eq(mb_tile_hashes(0, 70000), 70000);
    cr_expect_eq(mb_tile_hashes(1, 70000), 256 + 17);
    cr_expect_eq(mb_tile_hashes(2, 70000), 1);
    cr_expect_eq(mb_tile_hashes(1, 256), 1);
    mb_arena_free(arena);
}

static const char *const leaves[] = { "one",   "two",    "three",   "four",     "five",
                                      "six",   "seven",  "eit",     "nain",     "ten",
                                      "ileven", "twelf", "threeten", "fourten", "fivten" };
static const char published_root[] = "rKbDipCvhuX1GZ7g5BBe8sA6BbJ7ja/1nk427v383cs=";
static const char root_of_six[] = "a6sWvsc2eEzmj72vah7mZ5dwFltivehh2b11qwlp5Jg=";
static const char first_hash[] = "d0d7360ab79f58ab1e1e3fe64ad77e2ea0bc07e36b5f46ed2223edd9298df9e9";
static const char last_hash[] = "3786dc18e75f450d499f119c1eaee20dd8293f21fc9d08714a18d72b1cd60eb5";

Test(tiles, a_published_tile_gives_the_published_roots_and_proofs)
{
    mb_arena *arena = mb_arena_new();
    const char *folder = temp_folder_new(arena);
    struct mb_tiles tiles = { .arena = arena, .folder = folder, .size = COUNT(leaves) };
    struct mb_hash hashes[COUNT(leaves)], root = hash_of_base64(published_root);
    struct mb_hash six = hash_of_base64(root_of_six), expected;
    struct mb_edge edge = { 0 };
    struct mb_path path;

    for (size_t i = 0; i < COUNT(leaves); i++)
        hashes[i] = mb_leaf_hash(mb_str_of(leaves[i]));
    expected = hash_of_hex(first_hash);
    cr_assert(mb_hash_equal(&hashes[0], &expected));
    expected = hash_of_hex(last_hash);
    cr_assert(mb_hash_equal(&hashes[14], &expected));
    cr_assert_eq(mb_folder_make(mb_path_join(arena, folder, "tile"), 0755, NULL), MB_OK);
    cr_assert_eq(mb_folder_make(mb_path_join(arena, folder, "tile/0"), 0755, NULL), MB_OK);
    cr_assert_eq(mb_folder_make(mb_path_join(arena, folder, "tile/0/000.p"), 0755, NULL), MB_OK);
    cr_assert_eq(mb_file_write(mb_path_join(arena, folder, "tile/0/000.p/15"),
                               (struct mb_str){ (const char *)hashes, sizeof hashes }, 0644, NULL),
                 MB_OK);
    cr_assert_eq(mb_edge_load(&edge, tiles.size, mb_tiles_read, &tiles, NULL), MB_OK);
    expected = mb_edge_root(&edge);
    cr_expect(mb_hash_equal(&expected, &root));
    cr_assert_eq(mb_merkle_prove_growth(6, 15, mb_tiles_read, &tiles, &path, NULL), MB_OK);
    cr_expect(mb_merkle_consistent(6, 15, &six, &root, &path));
    cr_expect_eq(mb_tiles_read(&tiles, 0, 15, &expected, NULL), MB_UNABLE, "past its end");
    tiles.size = 300; /* more than is there */
    tiles.kept[0] = (struct mb_str){ NULL, 0 };
    cr_expect_eq(mb_tiles_read(&tiles, 0, 3, &expected, NULL), MB_UNABLE);
    mb_arena_free(arena);
}
