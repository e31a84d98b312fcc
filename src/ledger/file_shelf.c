#include "file_shelf.h"

#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "fileio.h"
#include "text.h"

enum { NAME_LEN = 64, PART_LEN_MIN = 6 };

static void close_folder(DIR **folder)
{
    if (*folder)
        closedir(*folder);
}

#define FOLDER_AUTO __attribute__((cleanup(close_folder)))

static bool is_hex(const char *name, size_t len)
{
    return strspn(name, "0123456789abcdef") == len;
}

/* As attached files are called while they are copied (attach.c, fileio.c). */
static bool is_part(const char *name)
{
    size_t len = strlen(name);

    return len >= PART_LEN_MIN && strcmp(name + len - 5, ".part") == 0 && name[0] == '.'
           && (is_hex(name + 1, NAME_LEN) || strncmp(name, ".markerbed-", 11) == 0);
}

static void take(mb_arena *arena, struct mb_shelf *shelf, size_t *room, const char *folder,
                 const char *name, bool part)
{
    struct mb_shelved one = { .name = mb_arena_text(arena, name),
                              .path = mb_path_join(arena, folder, name), .part = part };
    struct stat about;

    if (lstat(one.path, &about) != 0 || !S_ISREG(about.st_mode))
        return;
    one.bytes = about.st_size;
    one.changed_s = about.st_mtime;
    if (shelf->count == *room) {
        struct mb_shelved *more;

        *room = *room ? 2 * *room : 256;
        more = mb_arena_array(arena, *room, sizeof *more);
        if (shelf->count)
            memcpy(more, shelf->files, shelf->count * sizeof *more);
        shelf->files = more;
    }
    shelf->files[shelf->count++] = one;
}

static int by_name(const void *a, const void *b)
{
    const struct mb_shelved *x = a, *y = b;

    return strcmp(x->name, y->name);
}

enum mb_rc mb_shelf_read(mb_arena *arena, const char *ledger_folder, struct mb_shelf *out,
                         struct mb_error *err)
{
    const char *files = mb_path_join(arena, ledger_folder, "files");
    FOLDER_AUTO DIR *outer = opendir(files);
    const struct dirent *shelf, *one;
    size_t room = 0;

    *out = (struct mb_shelf){ NULL, 0 };
    if (!outer && errno == ENOENT)
        return MB_OK;
    if (!outer)
        return mb_fail(err, MB_UNABLE, "cannot read the folder %s: %m", files);
    while ((shelf = readdir(outer)) != NULL) {
        const char *path = mb_path_join(arena, files, shelf->d_name);
        FOLDER_AUTO DIR *inner = NULL;

        if (strlen(shelf->d_name) != 2 || !is_hex(shelf->d_name, 2))
            continue;
        inner = opendir(path);
        if (!inner)
            return mb_fail(err, MB_UNABLE, "cannot read the folder %s: %m", path);
        while ((one = readdir(inner)) != NULL)
            if (is_part(one->d_name)
                || (strlen(one->d_name) == NAME_LEN && is_hex(one->d_name, NAME_LEN)
                    && strncmp(one->d_name, shelf->d_name, 2) == 0))
                take(arena, out, &room, path, one->d_name, is_part(one->d_name));
    }
    if (out->count)
        qsort(out->files, out->count, sizeof *out->files, by_name);
    return MB_OK;
}

struct mb_shelved *mb_shelf_find(const struct mb_shelf *shelf, struct mb_str name)
{
    size_t low = 0, high = shelf->count;

    while (low < high) {
        size_t middle = low + (high - low) / 2;
        int order = mb_str_compare(mb_str_of(shelf->files[middle].name), name);

        if (order == 0)
            return &shelf->files[middle];
        if (order < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return NULL;
}
