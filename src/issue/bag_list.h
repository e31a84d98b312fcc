/* Manifests of a bag and its fetch.txt, for bag_check.c. */
#ifndef MB_BAG_LIST_H
#define MB_BAG_LIST_H

#include "bag_check.h"
#include "filetree.h"

#define MB_BAG_LISTS_MAX 16

struct mb_bag_seen {
    const char *path;
    int64_t bytes;
    bool payload;
    const char *sums[MB_BAG_LISTS_MAX]; /* what each manifest says, in hex; NULL: nothing */
    const char *sha256;
};

struct mb_bag_manifest {
    const char *name, *algorithm;
    bool payload; /* manifest-, not tagmanifest- */
    struct mb_str bytes;
};

struct mb_bag_checking {
    mb_arena *arena;
    struct mb_bag *bag;
    struct mb_bag_seen *files; /* sorted by path */
    size_t count;
    struct mb_bag_manifest lists[MB_BAG_LISTS_MAX];
    size_t list_count;
    bool has_tag_list;
    char *piece;
    mb_json *faults, *warnings;
};

/* Reads all manifests and fetch.txt. MB_UNABLE for an algorithm that is not known here. */
MB_CHECK enum mb_rc mb_bag_lists_read(struct mb_bag_checking *checking, struct mb_error *err);

struct mb_bag_seen *mb_bag_seen(struct mb_bag_checking *checking, const char *path);
void mb_bag_say(struct mb_bag_checking *checking, mb_json *list, const char *file,
                const char *format, ...) MB_PRINTF(4, 5);

#endif
