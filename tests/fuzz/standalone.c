/*
 * Replays kept inputs through a fuzz harness without a fuzzer: each argument is a file, or a folder
 * whose files are all run. It ends with the number of files; none at all is a failure.
 */
#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "fuzz.h"

static size_t replayed;

static void fail(const char *path)
{
    fprintf(stderr, "%s: %s\n", path, strerror(errno));
    exit(1);
}

static void replay_file(const char *path, size_t size)
{
    /* Exactly as long as the file, so that a read past the end is seen. */
    uint8_t *bytes = malloc(size > 0 ? size : 1);
    FILE *file = fopen(path, "rb");

    if (!bytes || !file || fread(bytes, 1, size, file) != size)
        fail(path);
    fclose(file);
    printf("%s\n", path);
    fflush(stdout);
    LLVMFuzzerTestOneInput(bytes, size);
    free(bytes);
    replayed++;
}

static void replay(const char *path);

static void replay_folder(const char *folder)
{
    struct dirent **names;
    int count = scandir(folder, &names, NULL, alphasort);

    if (count < 0)
        fail(folder);
    for (int i = 0; i < count; i++) {
        char path[4096];

        snprintf(path, sizeof path, "%s/%s", folder, names[i]->d_name);
        if (names[i]->d_name[0] != '.')
            replay(path);
        free(names[i]);
    }
    free(names);
}

static void replay(const char *path)
{
    struct stat st;

    if (stat(path, &st) != 0)
        fail(path);
    if (S_ISDIR(st.st_mode))
        replay_folder(path);
    else
        replay_file(path, (size_t)st.st_size);
}

int main(int argc, char **argv)
{
    for (int i = 1; i < argc; i++)
        replay(argv[i]);
    printf("%zu inputs replayed\n", replayed);
    return replayed > 0 ? 0 : 1;
}
