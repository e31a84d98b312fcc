/* What is written is what bag_check.c accepts; sha256sum and sha512sum judge it in
 * tests/e2e/handover.py. */
#include "bag_write.h"

#include <string.h>

#include <criterion/criterion.h>

#include "bag_check.h"
#include "fileio.h"
#include "filetree.h"
#include "temp_folder.h"
#include "text.h"

static mb_arena *arena;
static const char *folder, *bag;
static struct mb_error err;

static void set_up(void)
{
    arena = mb_arena_new();
    folder = temp_folder_new(arena);
    bag = mb_path_join(arena, folder, "bag");
    err = (struct mb_error){ 0 };
}

static void tear_down(void)
{
    temp_folder_remove(folder);
    mb_arena_free(arena);
}

TestSuite(bag_write, .init = set_up, .fini = tear_down);

static mb_bag_writer *begin(void)
{
    mb_bag_writer *writer;

    cr_assert_eq(mb_bag_begin(arena, bag, &writer, &err), MB_OK, "%s", err.text);
    return writer;
}

static void add(mb_bag_writer *writer, const char *path, const char *text)
{
    cr_assert_eq(mb_bag_add(writer, path, mb_str_of(text), &err), MB_OK, "%s", err.text);
}

static size_t left_in_folder(void)
{
    struct mb_leaves leaves;

    cr_assert_eq(mb_filetree_list(arena, folder, &leaves, &err), MB_OK);
    return leaves.count;
}

Test(bag_write, whole_and_sealed)
{
    mb_bag_writer *writer = begin();
    const struct mb_bag *read;

    add(writer, "a%b\nc\rd", "odd name");
    add(writer, "deep/er/x.txt", "");
    add(writer, "ü.txt", "u");
    mb_bag_label(writer, "Source-Organization", "One\nline");
    mb_bag_label(writer, "External-Description",
                 "a text that is so long that it has to go on in another line of the file, for"
                 " nobody reads lines without end");
    cr_assert_eq(mb_bag_end(writer, &err), MB_OK, "%s", err.text);
    cr_assert_eq(mb_bag_check(arena, bag, &read, &err), MB_OK, "%s", err.text);
    cr_expect(read->sealed);
    cr_expect_eq(read->count, 3 + 6);
    cr_expect_eq(read->payload_bytes, 9);
    cr_expect(mb_bag_find(read, "data/a%b\nc\rd"));
    cr_expect(mb_str_is(mb_bag_info(read->info, "Source-Organization"), "One line"));
    cr_expect(mb_str_is(mb_bag_info(read->info, "External-Description"),
                        "a text that is so long that it has to go on in another line of the file,"
                        " for nobody reads lines without end"));
    cr_expect_eq(left_in_folder(), read->count);
}

Test(bag_write, the_same_twice)
{
    const char *names[] = { "manifest-sha512.txt", "bag-info.txt", "tagmanifest-sha256.txt" };
    struct mb_str once[3], again;

    for (int turn = 0; turn < 2; turn++) {
        mb_bag_writer *writer = begin();

        add(writer, turn ? "a" : "b", turn ? "1" : "2");
        add(writer, turn ? "b" : "a", turn ? "2" : "1");
        mb_bag_label(writer, "Bagging-Date", "2026-06-01");
        cr_assert_eq(mb_bag_end(writer, &err), MB_OK, "%s", err.text);
        for (size_t i = 0; i < 3; i++) {
            const char *path = mb_path_join(arena, bag, names[i]);

            cr_assert_eq(mb_file_read(arena, path, 1 << 20, &again, &err), MB_OK);
            if (turn)
                cr_expect(mb_str_equal(once[i], again), "%s", names[i]);
            once[i] = again;
        }
        mb_filetree_delete(bag);
    }
}

Test(bag_write, refusals_leave_nothing)
{
    mb_bag_writer *writer = begin(), *other;
    const char *source = mb_path_join(arena, folder, "source");
    int64_t bytes;

    cr_expect_eq(mb_bag_add(writer, "../out", MB_STR("x"), &err), MB_REFUSED);
    err = (struct mb_error){ 0 };
    add(writer, "in", "x");
    cr_expect_eq(mb_bag_add(writer, "in", MB_STR("y"), &err), MB_REFUSED);
    err = (struct mb_error){ 0 };
    cr_assert_eq(mb_file_write(source, MB_STR("abc"), 0644, &err), MB_OK);
    cr_expect_eq(mb_bag_copy(writer, "copy", source,
                             "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
                             &bytes, &err),
                 MB_OK, "%s", err.text); /* FIPS 180-4 */
    cr_expect_eq(bytes, 3);
    cr_expect_eq(mb_bag_copy(writer, "other", source, "ba78", NULL, &err), MB_UNABLE);
    err = (struct mb_error){ 0 };
    cr_expect_not(mb_file_exists(bag));
    mb_bag_cancel(writer);
    cr_expect_eq(left_in_folder(), 1); /* the source */
    cr_assert_eq(mb_file_write(bag, MB_STR("taken"), 0644, &err), MB_OK);
    cr_expect_eq(mb_bag_begin(arena, bag, &other, &err), MB_REFUSED);
    mb_bag_cancel(NULL);
}

/* The name was taken while the bag was being written. */
Test(bag_write, never_over_another)
{
    mb_bag_writer *writer = begin();

    add(writer, "a", "1");
    cr_assert_eq(mb_file_write(bag, MB_STR("taken"), 0644, &err), MB_OK);
    cr_expect_eq(mb_bag_end(writer, &err), MB_UNABLE);
    cr_expect_eq(left_in_folder(), 1);
}
