#include "filetree.h"

#include <sys/stat.h>
#include <unistd.h>

#include <criterion/criterion.h>

#include "fileio.h"
#include "temp_folder.h"

Test(filetree, lists_sorted_and_follows_nothing)
{
    mb_arena *arena = mb_arena_new();
    const char *folder = temp_folder_new(arena);
    struct mb_leaves leaves;
    struct mb_error err = { 0 };

    mkdir(mb_path_join(arena, folder, "b"), 0755);
    mkdir(mb_path_join(arena, folder, "empty"), 0755);
    cr_assert_eq(mb_file_write(mb_path_join(arena, folder, "b/two"), MB_STR("22"), 0644, &err),
                 MB_OK);
    cr_assert_eq(mb_file_write(mb_path_join(arena, folder, "b.one"), MB_STR("1"), 0644, &err),
                 MB_OK);
    cr_assert_eq(symlink("/", mb_path_join(arena, folder, "root")), 0);
    cr_assert_eq(mb_filetree_list(arena, folder, &leaves, &err), MB_OK, "%s", err.text);
    cr_assert_eq(leaves.count, 4);
    cr_expect_str_eq(leaves.at[0].path, "b.one");
    cr_expect_str_eq(leaves.at[1].path, "b/two");
    cr_expect_eq(leaves.at[1].bytes, 2);
    cr_expect_str_eq(leaves.at[2].path, "empty");
    cr_expect_eq(leaves.at[2].kind, MB_LEAF_EMPTY_FOLDER);
    cr_expect_eq(leaves.at[3].kind, MB_LEAF_OTHER);
    cr_expect_eq(mb_filetree_list(arena, mb_path_join(arena, folder, "none"), &leaves, &err),
                 MB_REFUSED);
    mb_filetree_delete(folder);
    cr_expect_not(mb_file_exists(folder));
    cr_expect(mb_file_exists("/"));
    mb_arena_free(arena);
}
