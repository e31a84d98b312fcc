/* Packs, opened by others in tests/e2e/handover.py; here: that they are the same twice, and what
 * unpacking refuses. */
#include "packs.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <criterion/criterion.h>

#include "fileio.h"
#include "filetree.h"
#include "temp_folder.h"
#include "text.h"

enum { NOON = 1780315200 };

static mb_arena *arena;
static const char *folder;
static struct mb_error err;

static void set_up(void)
{
    arena = mb_arena_new();
    folder = temp_folder_new(arena);
    err = (struct mb_error){ 0 };
}

static void tear_down(void)
{
    temp_folder_remove(folder);
    mb_arena_free(arena);
}

TestSuite(packs, .init = set_up, .fini = tear_down);

static const char *at(const char *name)
{
    return mb_path_join(arena, folder, name);
}

static void put(const char *name, struct mb_str bytes)
{
    cr_assert_eq(mb_file_write(at(name), bytes, 0600, &err), MB_OK, "%s", err.text);
}

static struct mb_str bytes_of(const char *name)
{
    struct mb_str bytes;

    cr_assert_eq(mb_file_read(arena, at(name), 1 << 24, &bytes, &err), MB_OK, "%s", err.text);
    return bytes;
}

static void fill(void)
{
    char *noise = mb_arena_get(arena, 300000);

    for (size_t i = 0; i < 300000; i++)
        noise[i] = (char)(i * i >> 7);
    mkdir(at("in"), 0755);
    mkdir(at("in/deep"), 0700);
    put("in/deep/b.jpg", (struct mb_str){ noise, 300000 });
    put("in/a.txt", MB_STR("one\n"));
    put("in/empty", MB_STR(""));
}

static void pack(enum mb_pack form, const char *name)
{
    cr_assert_eq(mb_archive_folder(arena, form, at("in"), "top", NOON, at(name), &err), MB_OK,
                 "%s", err.text);
}

static const char *no_dots(struct mb_str path)
{
    for (size_t i = 0; i + 1 < path.len; i++)
        if (path.at[i] == '.' && path.at[i + 1] == '.')
            return "dots";
    return NULL;
}

static enum mb_rc unpack(const char *name, int64_t bytes_max, int64_t files_max)
{
    struct mb_unpack_limits limits = { bytes_max, files_max, no_dots };
    static int n;
    const char *to = at(mb_arena_printf(arena, "out%d", ++n));

    mkdir(to, 0755);
    err = (struct mb_error){ 0 };
    return mb_archive_unpack(arena, at(name), to, &limits, &err);
}

Test(packs, the_same_files_make_the_same_bytes)
{
    fill();
    pack(MB_PACK_TAR_GZ, "one.tar.gz");
    pack(MB_PACK_ZIP, "one.zip");
    sleep(2); /* a clock in the pack would show */
    cr_assert_eq(chmod(at("in/a.txt"), 0640), 0);
    put("in/a.txt", MB_STR("one\n"));
    pack(MB_PACK_TAR_GZ, "two.tar.gz");
    pack(MB_PACK_ZIP, "two.zip");
    cr_expect(mb_str_equal(bytes_of("one.tar.gz"), bytes_of("two.tar.gz")));
    cr_expect(mb_str_equal(bytes_of("one.zip"), bytes_of("two.zip")));
    cr_expect_eq(mb_archive_folder(arena, MB_PACK_ZIP, at("in"), "top", NOON, at("one.zip"), &err),
                 MB_REFUSED);
}

Test(packs, unpacked_as_it_was)
{
    fill();
    for (int form = MB_PACK_TAR_GZ; form <= MB_PACK_ZIP; form++) {
        const char *name = form == MB_PACK_ZIP ? "p.zip" : "p.tar.gz";
        struct mb_unpack_limits limits = { 1 << 20, 10, no_dots };
        const char *to = at(form == MB_PACK_ZIP ? "z" : "t");

        pack((enum mb_pack)form, name);
        mkdir(to, 0755);
        cr_assert_eq(mb_archive_unpack(arena, at(name), to, &limits, &err), MB_OK, "%s", err.text);
        cr_expect(mb_str_equal(bytes_of(form == MB_PACK_ZIP ? "z/top/deep/b.jpg"
                                                            : "t/top/deep/b.jpg"),
                               bytes_of("in/deep/b.jpg")));
    }
}

Test(packs, limits_and_damage)
{
    struct mb_str whole;
    char *cut;

    fill();
    pack(MB_PACK_TAR_GZ, "p.tar.gz");
    cr_expect_eq(unpack("p.tar.gz", 1 << 20, 10), MB_OK, "%s", err.text);
    cr_expect_eq(unpack("p.tar.gz", 1000, 10), MB_REFUSED);
    cr_expect_eq(unpack("p.tar.gz", 1 << 20, 2), MB_REFUSED);
    whole = bytes_of("p.tar.gz");
    put("half.tar.gz", (struct mb_str){ whole.at, whole.len / 2 });
    cr_expect_eq(unpack("half.tar.gz", 1 << 20, 10), MB_REFUSED);
    cut = mb_arena_copy(arena, whole.at, whole.len);
    cut[whole.len / 2] ^= 0x20;
    put("bent.tar.gz", (struct mb_str){ cut, whole.len });
    cr_expect_eq(unpack("bent.tar.gz", 1 << 20, 10), MB_REFUSED);
    put("no.zip", MB_STR("this is none"));
    cr_expect_eq(unpack("no.zip", 1 << 20, 10), MB_REFUSED);
}

/* A folder with a link packed by the system's own tar would be needed for links; names are enough
 * to show that paths are asked about. */
Test(packs, paths_are_asked_about)
{
    const struct mb_archived files[] = { { "good.txt", MB_STR("1") },
                                         { "../bad.txt", MB_STR("2") } };
    struct mb_str zip;

    cr_assert_eq(mb_archive_zip(arena, files, 2, NOON, &zip, &err), MB_OK, "%s", err.text);
    put("p.zip", zip);
    cr_expect_eq(unpack("p.zip", 1 << 20, 10), MB_REFUSED);
    cr_expect(strstr(err.text, "../bad.txt"), "%s", err.text);
    cr_expect_not(mb_file_exists(at("bad.txt")));
}
