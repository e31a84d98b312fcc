/*
 * The tree of RFC 6962 section 2.1 and RFC 9162 section 2.1 against published vectors:
 *   - hashes: transparency-dev/merkle rfc6962/rfc6962_test.go;
 *   - the 8-leaf tree, its paths and consistency proofs: google/certificate-transparency
 *     cpp/merkletree/merkle_tree_test.cc (leaves are counted from 1 there, from 0 here);
 *   - probes, valid and corrupted: transparency-dev/merkle testdata/{inclusion,consistency} at
 *     417fb0c3, a handful typed in, all 196 read from ../shared where that is.
 */
#include <criterion/criterion.h>
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <markerbed/json.h>

#include "bytes_of.h"
#include "merkle.h"
#include "sha256.h"
#include "temp_folder.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

static const struct {
    const char *data, *leaf, *root;
} tree8[] = {
    { "", "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
      "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d" },
    { "00", "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
      "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125" },
    { "10", "0298d122906dcfc10892cb53a73992fc5b9f493ea4c9badb27b791b4127a7fe7",
      "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77" },
    { "2021", "07506a85fd9dd2f120eb694f86011e5bb4662e5c415a62917033d4a9624487e7",
      "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7" },
    { "3031", "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
      "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4" },
    { "40414243", "4271a26be0d8a84f0bd54c8c302e7cb3a3b5d1fa6780a40bcce2873477dab658",
      "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef" },
    { "5051525354555657", "b08693ec2e721597130641e8211e7eedccb4c26413963eee6c1e2ed16ffb1a5f",
      "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c" },
    { "606162636465666768696a6b6c6d6e6f",
      "46f6ffadd3d06a09ff3c5860d2755c8b9819db7df44251788c7d8e3180de8eb1",
      "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328" },
};

/* Reads nodes of the 8-leaf tree from its leaves, as a ledger reads them from its table. */
static enum mb_rc read_node(void *ctx, unsigned level, uint64_t index, struct mb_hash *out,
                            struct mb_error *err)
{
    struct mb_hash left, right;

    if (level == 0) {
        *out = hash_of_hex(tree8[index].leaf);
        return MB_OK;
    }
    if (read_node(ctx, level - 1, 2 * index, &left, err)
        || read_node(ctx, level - 1, 2 * index + 1, &right, err))
        return MB_UNABLE;
    *out = mb_node_hash(&left, &right);
    return MB_OK;
}

static void same(const struct mb_hash *got, const char *hex, const char *what)
{
    struct mb_hash want = hash_of_hex(hex);

    cr_expect(mb_hash_equal(got, &want), "%s: %s", what, hex);
}

Test(merkle, the_published_hashes_come_out)
{
    mb_arena *arena = mb_arena_new();
    struct mb_edge edge = { 0 }, loaded;
    struct mb_hash hash = mb_edge_root(&edge);

    same(&hash, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855", "empty");
    hash = mb_leaf_hash(MB_STR("L123456"));
    same(&hash, "395aa064aa4c29f7010acfe3f25db9485bbd4b91897b6ad7ad547639252b4d56", "leaf");
    for (size_t i = 0; i < COUNT(tree8); i++) {
        struct mb_hash leaf = mb_leaf_hash(bytes_of_hex(arena, tree8[i].data));

        same(&leaf, tree8[i].leaf, "leaf");
        cr_assert_eq(mb_edge_push(&edge, &leaf, NULL, NULL, NULL), MB_OK);
        hash = mb_edge_root(&edge);
        same(&hash, tree8[i].root, "root");
        cr_assert_eq(mb_edge_load(&loaded, i + 1, read_node, NULL, NULL), MB_OK);
        hash = mb_edge_root(&loaded);
        same(&hash, tree8[i].root, "root from nodes");
        cr_expect_eq(edge.count, (size_t)__builtin_popcountll(i + 1));
        cr_expect_eq(loaded.count, edge.count);
    }
    mb_arena_free(arena);
}

/* node("N123","N456") of the same source has children of 4 bytes; ours are always of 32, so the
 * tagged hash below mb_node_hash is asked. */
Test(merkle, a_node_is_tagged_and_ordered)
{
    struct mb_hash hash = mb_sha256_tagged(1, "N123", 4, "N456", 4);

    same(&hash, "aa217fe888e47007fa15edab33c2b492a722cb106c64667fc2b044444de66bbb", "node");
}

static const struct {
    uint64_t a, b; /* leaf and size, or two sizes */
    const char *path[3];
} included[] = {
    { 0, 1, { NULL } },
    { 0,
      8,
      { "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
        "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4" } },
    { 5,
      8,
      { "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
        "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7" } },
    { 2, 3, { "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125" } },
    { 1,
      5,
      { "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
        "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b" } },
}, grown[] = {
    { 1, 1, { NULL } },
    { 1,
      8,
      { "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
        "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4" } },
    { 6,
      8,
      { "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
        "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7" } },
    { 2,
      5,
      { "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b" } },
    { 6,
      7,
      { "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
        "b08693ec2e721597130641e8211e7eedccb4c26413963eee6c1e2ed16ffb1a5f",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7" } },
};

static void path_is(const struct mb_path *path, const char *const want[3], const char *what)
{
    size_t count = 0;

    while (count < 3 && want[count])
        count++;
    cr_assert_eq(path->count, count, "%s", what);
    for (size_t i = 0; i < count; i++)
        same(&path->node[i], want[i], what);
}

Test(merkle, the_published_paths_are_made_and_hold)
{
    for (size_t i = 0; i < COUNT(included); i++) {
        uint64_t index = included[i].a, size = included[i].b;
        struct mb_hash leaf = hash_of_hex(tree8[index].leaf);
        struct mb_hash root = hash_of_hex(tree8[size - 1].root);
        struct mb_path path;

        cr_assert_eq(mb_merkle_prove(index, size, read_node, NULL, &path, NULL), MB_OK);
        path_is(&path, included[i].path, "inclusion");
        cr_expect(mb_merkle_included(index, size, &leaf, &path, &root));
    }
    for (size_t i = 0; i < COUNT(grown); i++) {
        struct mb_hash old = hash_of_hex(tree8[grown[i].a - 1].root);
        struct mb_hash new = hash_of_hex(tree8[grown[i].b - 1].root);
        struct mb_path path;

        cr_assert_eq(mb_merkle_prove_growth(grown[i].a, grown[i].b, read_node, NULL, &path, NULL),
                     MB_OK);
        path_is(&path, grown[i].path, "growth");
        cr_expect(mb_merkle_consistent(grown[i].a, grown[i].b, &old, &new, &path));
    }
}

/* ---- probes ---- */

struct probe {
    const char *name;
    uint64_t a, b;
    const char *first, *second; /* leaf and root, or the two roots */
    const char *proof[6];
    bool holds;
};

static const struct probe inclusion[] = {
    { "inclusion/2/happy-path",
      5,
      8,
      "QnGia+DYqE8L1UyMMC58s6O10fpngKQLzOKHNHfatlg=",
      "XcnaeacGWamtVZy3Ad7ZoqudgjqtL0lgz+Nw7/RgQyg=",
      { "vBoGQ7EuTS18d5GPROD095qDi2z57FtcKD4fTYhZnms=",
        "yoVOoSjtBQtBs1/8G4e46yveRh6eO1WW7Oa51ZdaCuA=",
        "037kGJdt2VdTwcc4Yrk5j6Kiz5tP8P3+izDNlSCWFLc=" },
      true },
    { "inclusion/1/leafIdx-XOR-@2",
      2,
      8,
      "bjQLnP+zepicpUTmu3gKLHiQHT+zNzh2hRGjBhevoB0=",
      "XcnaeacGWamtVZy3Ad7ZoqudgjqtL0lgz+Nw7/RgQyg=",
      { "lqKW0iTyhcZ77pPDD4owkVfw2qNdxbh+QQt4YwoJz8c=",
        "Xwg/ChozygdqlSeYMlgNs+DvRYS9/x9UyKNg9Q3jAx4=",
        "a0eq8p7jwq+a+Im8H7klTavTEXfxYjLdaqsDXKOb9uQ=" },
      false },
    { "inclusion/1/removed-component",
      0,
      8,
      "bjQLnP+zepicpUTmu3gKLHiQHT+zNzh2hRGjBhevoB0=",
      "XcnaeacGWamtVZy3Ad7ZoqudgjqtL0lgz+Nw7/RgQyg=",
      { "lqKW0iTyhcZ77pPDD4owkVfw2qNdxbh+QQt4YwoJz8c=",
        "Xwg/ChozygdqlSeYMlgNs+DvRYS9/x9UyKNg9Q3jAx4=" },
      false },
    { "inclusion/1/preceding-root",
      0,
      8,
      "bjQLnP+zepicpUTmu3gKLHiQHT+zNzh2hRGjBhevoB0=",
      "XcnaeacGWamtVZy3Ad7ZoqudgjqtL0lgz+Nw7/RgQyg=",
      { "XcnaeacGWamtVZy3Ad7ZoqudgjqtL0lgz+Nw7/RgQyg=",
        "lqKW0iTyhcZ77pPDD4owkVfw2qNdxbh+QQt4YwoJz8c=",
        "Xwg/ChozygdqlSeYMlgNs+DvRYS9/x9UyKNg9Q3jAx4=",
        "a0eq8p7jwq+a+Im8H7klTavTEXfxYjLdaqsDXKOb9uQ=" },
      false },
    { "inclusion/1/modified-proof[1]-bit-@3",
      0,
      8,
      "bjQLnP+zepicpUTmu3gKLHiQHT+zNzh2hRGjBhevoB0=",
      "XcnaeacGWamtVZy3Ad7ZoqudgjqtL0lgz+Nw7/RgQyg=",
      { "lqKW0iTyhcZ77pPDD4owkVfw2qNdxbh+QQt4YwoJz8c=",
        "Vwg/ChozygdqlSeYMlgNs+DvRYS9/x9UyKNg9Q3jAx4=",
        "a0eq8p7jwq+a+Im8H7klTavTEXfxYjLdaqsDXKOb9uQ=" },
      false },
    { "inclusion/1/treeSize-div-@2",
      0,
      4,
      "bjQLnP+zepicpUTmu3gKLHiQHT+zNzh2hRGjBhevoB0=",
      "XcnaeacGWamtVZy3Ad7ZoqudgjqtL0lgz+Nw7/RgQyg=",
      { "lqKW0iTyhcZ77pPDD4owkVfw2qNdxbh+QQt4YwoJz8c=",
        "Xwg/ChozygdqlSeYMlgNs+DvRYS9/x9UyKNg9Q3jAx4=",
        "a0eq8p7jwq+a+Im8H7klTavTEXfxYjLdaqsDXKOb9uQ=" },
      false },
};

static const struct probe consistency[] = {
    { "consistency/4/happy-path",
      6,
      7,
      "duZ9rbzfHhDht03cYIq9L5jfsW+851J3tSMqEn8gh+8=",
      "3bib5AOAnjJXUNPSY814kpwpQreUKjS3fhIslZSnTIw=",
      { "DrxdNDf74tsVi58Sah0RjjCBgQMdCpSfje3t68VY72o=",
        "sIaT7C5yFZcTBkHoIR5+7cy0wmQTlj7ubB4u0W/7Gl8=",
        "037kGJdt2VdTwcc4Yrk5j6Kiz5tP8P3+izDNlSCWFLc=" },
      true },
    { "consistency/3/swapped-roots",
      2,
      5,
      "Tju7H3tHjc/nH7YxYxUZo7yhLJrvyhYSv85ME6hiZNQ=",
      "+sVCA+fMaWzw38tCySodnbr3CtnmIfS9jZhmLwDjwSU=",
      { "Xwg/ChozygdqlSeYMlgNs+DvRYS9/x9UyKNg9Q3jAx4=",
        "vBoGQ7EuTS18d5GPROD095qDi2z57FtcKD4fTYhZnms=" },
      false },
    { "consistency/3/truncated-proof",
      2,
      5,
      "+sVCA+fMaWzw38tCySodnbr3CtnmIfS9jZhmLwDjwSU=",
      "Tju7H3tHjc/nH7YxYxUZo7yhLJrvyhYSv85ME6hiZNQ=",
      { "Xwg/ChozygdqlSeYMlgNs+DvRYS9/x9UyKNg9Q3jAx4=" },
      false },
    { "consistency/3/trailing-root2",
      2,
      5,
      "+sVCA+fMaWzw38tCySodnbr3CtnmIfS9jZhmLwDjwSU=",
      "Tju7H3tHjc/nH7YxYxUZo7yhLJrvyhYSv85ME6hiZNQ=",
      { "Xwg/ChozygdqlSeYMlgNs+DvRYS9/x9UyKNg9Q3jAx4=",
        "vBoGQ7EuTS18d5GPROD095qDi2z57FtcKD4fTYhZnms=",
        "Tju7H3tHjc/nH7YxYxUZo7yhLJrvyhYSv85ME6hiZNQ=" },
      false },
    { "consistency/3/size2-mul-@2",
      2,
      10,
      "+sVCA+fMaWzw38tCySodnbr3CtnmIfS9jZhmLwDjwSU=",
      "Tju7H3tHjc/nH7YxYxUZo7yhLJrvyhYSv85ME6hiZNQ=",
      { "Xwg/ChozygdqlSeYMlgNs+DvRYS9/x9UyKNg9Q3jAx4=",
        "vBoGQ7EuTS18d5GPROD095qDi2z57FtcKD4fTYhZnms=" },
      false },
    { "consistency/additional/sizes-match-but-proof-is-not-empty-and-sizes-are-one",
      1,
      1,
      "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=",
      "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=",
      { "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=" },
      false },
    { "consistency/additional/consistency-check-on-empty-tree-size1-is-zero-is-useless",
      0,
      1,
      "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=",
      "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=",
      { "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=" },
      false },
};

static struct mb_path path_of(const char *const proof[6])
{
    struct mb_path path = { 0 };

    while (path.count < 6 && proof[path.count]) {
        path.node[path.count] = hash_of_base64(proof[path.count]);
        path.count++;
    }
    return path;
}

Test(merkle, the_probes_typed_in_are_judged_as_published)
{
    for (size_t i = 0; i < COUNT(inclusion); i++) {
        const struct probe *p = &inclusion[i];
        struct mb_path path = path_of(p->proof);
        struct mb_hash leaf = hash_of_base64(p->first), root = hash_of_base64(p->second);

        cr_expect_eq(mb_merkle_included(p->a, p->b, &leaf, &path, &root), p->holds, "%s", p->name);
    }
    for (size_t i = 0; i < COUNT(consistency); i++) {
        const struct probe *p = &consistency[i];
        struct mb_path path = path_of(p->proof);
        struct mb_hash old = hash_of_base64(p->first), new = hash_of_base64(p->second);

        cr_expect_eq(mb_merkle_consistent(p->a, p->b, &old, &new, &path), p->holds, "%s", p->name);
    }
}

/* ---- all probes, where ../shared is ---- */

#define ARCHIVE "../shared/data/merkle-probes.tar.gz"

static size_t probes_run;

/* A hash of another length, a number past 64 bits: refused before any hashing, as wanted. */
static bool read_hash(const mb_json *text, struct mb_hash *out)
{
    return mb_b64_read_exact(mb_json_str(text), out->b, sizeof out->b);
}

/* Some roots of consistency probes are the text "don't care": any hash may stand for it, as long as
 * the same one stands for the same text. */
static bool read_root(const mb_json *text, struct mb_hash *out)
{
    uint8_t bytes[64];
    size_t len;

    if (mb_json_str(text).len > 20 || !mb_b64_read(mb_json_str(text), bytes, &len))
        return read_hash(text, out);
    memset(out, 0, sizeof *out);
    memcpy(out->b, bytes, len);
    return true;
}

static bool read_count(const mb_json *number, uint64_t *out)
{
    if (mb_json_is(number, MB_JSON_INTEGER)) {
        *out = (uint64_t)number->integer;
        return true;
    }
    if (!mb_json_is(number, MB_JSON_NUMBER) || number->text.len > 20)
        return false;
    *out = strtoull(number->text.at, NULL, 10); /* ends at the comma behind it */
    return true;
}

static bool probe_holds(const mb_json *probe)
{
    bool in = mb_json_get(probe, "leafIdx") != NULL;
    struct mb_path path = { 0 };
    struct mb_hash first, second;
    uint64_t a, b;

    if (!read_count(mb_json_get(probe, in ? "leafIdx" : "size1"), &a)
        || !read_count(mb_json_get(probe, in ? "treeSize" : "size2"), &b)
        || !(in ? read_hash : read_root)(mb_json_get(probe, in ? "leafHash" : "root1"), &first)
        || !(in ? read_hash : read_root)(mb_json_get(probe, in ? "root" : "root2"), &second))
        return false;
    MB_JSON_EACH(node, mb_json_get(probe, "proof")) {
        if (path.count == MB_PATH_MAX || !read_hash(node, &path.node[path.count++]))
            return false;
    }
    return in ? mb_merkle_included(a, b, &first, &path, &second)
              : mb_merkle_consistent(a, b, &first, &second, &path);
}

static int run_probe(const char *path, const struct stat *st, int type, struct FTW *at)
{
    mb_arena *arena = mb_arena_new();
    const mb_json *probe;

    (void)st;
    (void)at;
    if (type == FTW_F && strstr(path, ".json")) {
        cr_assert_eq(mb_json_read(arena, file_of_tree(arena, path), MB_JSON_PLAIN, &probe, NULL),
                     MB_OK, "%s", path);
        cr_expect_eq(probe_holds(probe), !mb_json_true(mb_json_get(probe, "wantErr")), "%s", path);
        probes_run++;
    }
    mb_arena_free(arena);
    return 0;
}

Test(merkle, all_probes_are_judged_as_published)
{
    mb_arena *arena = mb_arena_new();
    const char *folder;

    if (!file_of_tree(arena, ARCHIVE).at) {
        mb_arena_free(arena);
        cr_skip_test(ARCHIVE " is not here, so its 196 probes were not run");
    }
    folder = temp_folder_new(arena);
    cr_assert_eq(system(mb_arena_printf(arena, "tar -xzf " ARCHIVE " -C %s", folder)), 0);
    nftw(mb_arena_printf(arena, "%s/testdata/inclusion", folder), run_probe, 16, FTW_PHYS);
    nftw(mb_arena_printf(arena, "%s/testdata/consistency", folder), run_probe, 16, FTW_PHYS);
    cr_expect_eq(probes_run, 196);
    temp_folder_remove(folder);
    mb_arena_free(arena);
}
