#include "bag_unpack.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "bag_text.h"
#include "fileio.h"
#include "filetree.h"
#include "packs.h"

#define FILES_MAX 100000
#define SWELLS_MAX 200
#define BYTES_MORE (64LL << 20)

bool mb_is_pack(const char *path)
{
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);
    unsigned char head[4] = { 0 };
    bool is = fd >= 0 && read(fd, head, sizeof head) == sizeof head
              && (memcmp(head, "PK\3\4", 4) == 0 || memcmp(head, "\x1f\x8b", 2) == 0);

    if (fd >= 0)
        close(fd);
    return is;
}

/* The one folder with a bagit.txt, at the top or one below. */
static enum mb_rc find_bag(mb_arena *arena, const char *path, const char *folder,
                           const char **bag, struct mb_error *err)
{
    struct mb_leaves leaves;
    enum mb_rc rc = mb_filetree_list(arena, folder, &leaves, err);

    *bag = NULL;
    for (size_t i = 0; !rc && i < leaves.count; i++) {
        const char *leaf = leaves.at[i].path, *slash = strchr(leaf, '/');

        if (strcmp(leaf, "bagit.txt") != 0 && (!slash || strcmp(slash, "/bagit.txt") != 0))
            continue;
        if (*bag)
            return mb_fail(err, MB_REFUSED, "%s holds more than one bag", path);
        *bag = slash ? mb_path_join(arena, folder,
                                    mb_arena_copy(arena, leaf, (size_t)(slash - leaf)))
                     : folder;
    }
    if (!rc && !*bag)
        rc = mb_fail(err, MB_REFUSED, "%s holds no bag: no bagit.txt is in it", path);
    return rc;
}

enum mb_rc mb_bag_unpack(mb_arena *arena, const char *path, const char *scratch,
                         const char **folder, const char **bag, struct mb_error *err)
{
    struct mb_unpack_limits limits = { .files_max = FILES_MAX, .bad = mb_bag_path_bad };
    struct stat about;
    char *name;
    enum mb_rc rc;

    if (stat(path, &about) != 0)
        return mb_fail(err, MB_REFUSED, "cannot open %s: %m", path);
    limits.bytes_max = (int64_t)about.st_size * SWELLS_MAX + BYTES_MORE;
    name = mb_path_join(arena, scratch && *scratch ? scratch : P_tmpdir, "markerbed-XXXXXX");
    if (!mkdtemp(name))
        return mb_fail(err, MB_UNABLE, "cannot make a folder to unpack into, %s: %m", name);
    rc = mb_archive_unpack(arena, path, name, &limits, err);
    if (!rc)
        rc = find_bag(arena, path, name, bag, err);
    if (rc)
        mb_filetree_delete(name);
    else
        *folder = name;
    return rc;
}
