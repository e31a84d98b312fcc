/* What lies among the attached files, and what is passed over there. */
#include <criterion/criterion.h>
#include <sys/stat.h>
#include <unistd.h>

#include "file_shelf.h"
#include "fileio.h"
#include "temp_folder.h"
#include "text.h"

#define A "aa00000000000000000000000000000000000000000000000000000000000000"
#define B "aa11111111111111111111111111111111111111111111111111111111111111"
#define C "0c22222222222222222222222222222222222222222222222222222222222222"

static mb_arena *arena;
static const char *folder;

static void set_up(void)
{
    arena = mb_arena_new();
    folder = temp_folder_new(arena);
}

static void tear_down(void)
{
    temp_folder_remove(folder);
    mb_arena_free(arena);
}

TestSuite(file_shelf, .init = set_up, .fini = tear_down);

static void put(const char *name, const char *text)
{
    cr_assert_eq(mb_file_write(mb_path_join(arena, folder, name), mb_str_of(text), 0644, NULL),
                 MB_OK, "%s", name);
}

Test(file_shelf, no_folder_is_no_file)
{
    struct mb_shelf shelf;

    cr_assert_eq(mb_shelf_read(arena, folder, &shelf, NULL), MB_OK);
    cr_assert_eq(shelf.count, 0);
    cr_assert_null(mb_shelf_find(&shelf, MB_STR(A)));
}

Test(file_shelf, attached_files_and_parts_are_told_from_anything_else)
{
    static const char *const folders[] = { "files", "files/aa", "files/0c", "files/zz",
                                           "files/aa/" B };
    static const char *const other[] = { "files/note.txt", "files/aa/note.txt", "files/aa/.hidden",
                                         "files/aa/" C, "files/zz/" A, "files/aa/.part" };
    struct mb_shelf shelf;

    for (size_t i = 0; i < sizeof folders / sizeof *folders; i++)
        cr_assert_eq(mkdir(mb_path_join(arena, folder, folders[i]), 0755), 0);
    for (size_t i = 0; i < sizeof other / sizeof *other; i++)
        put(other[i], "x");
    put("files/aa/" A, "four");
    put("files/0c/" C, "c");
    put("files/aa/." A "-17.part", "ha");
    put("files/0c/.markerbed-17-0.part", "h");
    cr_assert_eq(symlink("/etc/passwd", mb_path_join(arena, folder, "files/0c/0c" A)), 0);

    cr_assert_eq(mb_shelf_read(arena, folder, &shelf, NULL), MB_OK);
    cr_assert_eq(shelf.count, 4);
    cr_assert_not_null(mb_shelf_find(&shelf, MB_STR(A)));
    cr_assert_eq(mb_shelf_find(&shelf, MB_STR(A))->bytes, 4);
    cr_assert_not(mb_shelf_find(&shelf, MB_STR(A))->part);
    cr_assert_not_null(mb_shelf_find(&shelf, MB_STR(C)));
    cr_assert_null(mb_shelf_find(&shelf, MB_STR(B)), "a folder is no file");
    for (size_t i = 0; i < shelf.count; i++)
        cr_assert_eq(shelf.files[i].part, shelf.files[i].name[0] == '.');
}
