/* The built-in files against the same files on disk; tests run in the top folder. */
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include <criterion/criterion.h>

#include "asset.h"

/* Counts the regular files under a folder whose names end as an asset's may. */
static size_t count_files(const char *folder)
{
    static const char *const endings[] = { ".json", ".sql",  ".tsv", ".css",
                                           ".html", ".js", ".txt" };
    DIR *dir = opendir(folder);
    const struct dirent *entry;
    size_t count = 0;

    cr_assert_not_null(dir, "%s is not there: run tests in the top folder", folder);
    while ((entry = readdir(dir)) != NULL) {
        const char *dot = strrchr(entry->d_name, '.');
        char path[4096];
        struct stat st;

        if (entry->d_name[0] == '.')
            continue;
        snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        cr_assert_eq(lstat(path, &st), 0);
        if (S_ISDIR(st.st_mode)) {
            count += count_files(path);
            continue;
        }
        for (size_t i = 0; dot && i < sizeof endings / sizeof *endings; i++)
            count += strcmp(dot, endings[i]) == 0;
    }
    closedir(dir);
    return count;
}

Test(asset, every_file_on_disk_is_built_in)
{
    cr_assert_eq(mb_asset_count(), count_files("schema"));
}

Test(asset, built_in_bytes_are_the_bytes_on_disk)
{
    for (size_t i = 0; i < mb_asset_count(); i++) {
        const struct mb_asset *asset = mb_asset_at(i);
        char *bytes = malloc(asset->size + 1);
        char path[4096];
        FILE *file;

        snprintf(path, sizeof path, "schema/%s", asset->path);
        file = fopen(path, "rb");
        cr_assert_not_null(file, "%s", path);
        cr_assert_not_null(bytes);
        cr_assert_eq(fread(bytes, 1, asset->size + 1, file), asset->size, "%s: length", path);
        cr_assert(memcmp(bytes, asset->data, asset->size) == 0, "%s: content", path);
        cr_assert_eq(asset->data[asset->size], '\0', "%s: zero behind it", path);
        fclose(file);
        free(bytes);
    }
}

Test(asset, every_path_is_found_and_stands_in_order)
{
    for (size_t i = 0; i < mb_asset_count(); i++) {
        const struct mb_asset *asset = mb_asset_at(i);

        cr_assert_eq(mb_asset_find(asset->path), asset, "%s", asset->path);
        if (i > 0)
            cr_assert_lt(strcmp(mb_asset_at(i - 1)->path, asset->path), 0, "%s", asset->path);
    }
}

Test(asset, an_unknown_path_is_not_found)
{
    static const char *const unknown[] = { "", "!", "no-such-file.json", "~", "../Makefile" };

    for (size_t i = 0; i < sizeof unknown / sizeof *unknown; i++)
        cr_assert_null(mb_asset_find(unknown[i]), "%s", unknown[i]);
    cr_assert_null(mb_asset_at(mb_asset_count()));
}
