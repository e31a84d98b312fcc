#include "temp_folder.h"

#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

const char *temp_folder_new(mb_arena *arena)
{
    const char *base = getenv("TMPDIR");
    char *folder = mb_arena_printf(arena, "%s/mbXXXXXX", base && base[0] ? base : "/tmp");

    if (!mkdtemp(folder)) {
        perror(folder);
        abort();
    }
    return folder;
}

static int remove_one(const char *path, const struct stat *st, int type, struct FTW *at)
{
    (void)st;
    (void)type;
    (void)at;
    return remove(path);
}

void temp_folder_remove(const char *folder)
{
    nftw(folder, remove_one, 16, FTW_DEPTH | FTW_PHYS);
}
