#include "filetree.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "fileio.h"

enum { DEPTH_MAX = 32, LEAVES_MAX = 1000000 };

struct walking {
    mb_arena *arena;
    const char *top;
    struct mb_leaf *at;
    size_t count, room;
    struct mb_error *err;
};

static void keep(struct walking *w, const char *path, enum mb_leaf_kind kind, int64_t bytes)
{
    if (w->count == w->room) {
        struct mb_leaf *more = MB_ARRAY(w->arena, w->room ? 2 * w->room : 64, struct mb_leaf);

        if (w->count > 0)
            memcpy(more, w->at, w->count * sizeof *more);
        w->at = more;
        w->room = w->room ? 2 * w->room : 64;
    }
    w->at[w->count++] = (struct mb_leaf){ path, kind, bytes };
}

static enum mb_rc walk(struct walking *w, int parent, const char *name, const char *path,
                       unsigned depth);

static enum mb_rc look(struct walking *w, int fd, const char *name, const char *path,
                       unsigned depth)
{
    struct stat about;

    if (w->count >= LEAVES_MAX)
        return mb_fail(w->err, MB_REFUSED, "%s holds more than %d files", w->top, LEAVES_MAX);
    if (fstatat(fd, name, &about, AT_SYMLINK_NOFOLLOW) != 0)
        return mb_fail(w->err, MB_UNABLE, "cannot look at %s/%s: %m", w->top, path);
    if (S_ISDIR(about.st_mode))
        return walk(w, fd, name, path, depth + 1);
    keep(w, path, S_ISREG(about.st_mode) ? MB_LEAF_FILE : MB_LEAF_OTHER, about.st_size);
    return MB_OK;
}

static enum mb_rc walk(struct walking *w, int parent, const char *name, const char *path,
                       unsigned depth)
{
    int fd = openat(parent, name,
                    O_RDONLY | O_DIRECTORY | O_CLOEXEC | (depth > 0 ? O_NOFOLLOW : 0));
    DIR *folder = fd < 0 ? NULL : fdopendir(fd);
    size_t before = w->count;
    bool empty = true;
    enum mb_rc rc = MB_OK;

    if (!folder) {
        rc = mb_fail(w->err, depth == 0 ? MB_REFUSED : MB_UNABLE,
                     "cannot open the folder %s%s%s: %m", w->top, depth ? "/" : "", path);
        if (fd >= 0)
            close(fd);
        return rc;
    }
    if (depth > DEPTH_MAX)
        rc = mb_fail(w->err, MB_REFUSED, "%s/%s is nested deeper than %d folders", w->top, path,
                     DEPTH_MAX);
    errno = 0;
    for (struct dirent *one; rc == MB_OK && (one = readdir(folder)) != NULL; errno = 0) {
        if (strcmp(one->d_name, ".") == 0 || strcmp(one->d_name, "..") == 0)
            continue;
        empty = false;
        rc = look(w, fd, one->d_name,
                  *path ? mb_path_join(w->arena, path, one->d_name)
                        : mb_arena_text(w->arena, one->d_name),
                  depth);
    }
    if (rc == MB_OK && errno != 0)
        rc = mb_fail(w->err, MB_UNABLE, "cannot read the folder %s/%s: %m", w->top, path);
    closedir(folder);
    if (rc == MB_OK && empty && w->count == before && depth > 0)
        keep(w, path, MB_LEAF_EMPTY_FOLDER, 0);
    return rc;
}

static int by_path(const void *a, const void *b)
{
    const struct mb_leaf *one = a, *other = b;

    return strcmp(one->path, other->path);
}

enum mb_rc mb_filetree_list(mb_arena *arena, const char *folder, struct mb_leaves *out,
                            struct mb_error *err)
{
    struct walking w = { .arena = arena, .top = folder, .err = err };
    enum mb_rc rc = walk(&w, AT_FDCWD, folder, "", 0);

    if (rc)
        return rc;
    if (w.count > 0)
        qsort(w.at, w.count, sizeof *w.at, by_path);
    *out = (struct mb_leaves){ w.at, w.count };
    return MB_OK;
}

/* ---- deleting ---- */

static void delete_in(int parent, const char *name, unsigned depth)
{
    int fd = openat(parent, name, O_RDONLY | O_DIRECTORY | O_CLOEXEC | O_NOFOLLOW);
    DIR *folder = fd < 0 ? NULL : fdopendir(fd);

    if (!folder) {
        if (fd >= 0)
            close(fd);
        unlinkat(parent, name, 0);
        return;
    }
    for (struct dirent *one; depth <= DEPTH_MAX && (one = readdir(folder)) != NULL;)
        if (strcmp(one->d_name, ".") != 0 && strcmp(one->d_name, "..") != 0)
            delete_in(fd, one->d_name, depth + 1);
    closedir(folder);
    unlinkat(parent, name, AT_REMOVEDIR);
}

void mb_filetree_delete(const char *folder)
{
    delete_in(AT_FDCWD, folder, 0);
}
