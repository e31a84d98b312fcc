/* Bags: RFC 8493. The five bags of version 1.0 are those of the Library of Congress's conformance
 * suite (github LibraryOfCongress/bagit-conformance-suite, commit 9ab4870, CC0): their files as
 * published. The whole suite is read by tests/e2e/bags.py where it is at hand. */
#include "bag_check.h"

#include <sys/stat.h>
#include <unistd.h>

#include <criterion/criterion.h>

#include "fileio.h"
#include "temp_folder.h"
#include "text.h"

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

TestSuite(bag_check, .init = set_up, .fini = tear_down);

static void put(const char *path, const char *text)
{
    char *name = mb_path_join(arena, folder, path);

    for (char *at = name + strlen(folder) + 1; *at; at++)
        if (*at == '/') {
            *at = '\0';
            mkdir(name, 0755);
            *at = '/';
        }
    cr_assert_eq(mb_file_write(name, mb_str_of(text), 0644, &err), MB_OK, "%s", err.text);
}

static enum mb_rc check(const struct mb_bag **bag)
{
    err = (struct mb_error){ 0 };
    return mb_bag_check(arena, folder, bag, &err);
}

/* The bag does not hold, and the file is named. */
static void broken(const char *file, const char *words)
{
    const struct mb_bag *bag;
    bool named = false;

    cr_expect_eq(check(&bag), MB_NO, "%s", err.text);
    MB_JSON_EACH(fault, bag->faults)
        named = named
                || (mb_json_text_is(mb_json_get(fault, "file"), file)
                    && strstr(mb_json_cstr(arena, mb_json_get(fault, "text")), words));
    cr_expect(named, "%s not named with '%s' in %.*s", file, words,
              MB_STR_ARG(mb_json_write(arena, bag->faults)));
}

#define BAGIT "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
#define HELLO                                                                                     \
    "e7c22b994c59d9cf2b48e549b1e24666636045930d3da7c1acb299d1c3b7f931f94aae41edda2c2b207a36e10f8" \
    "bcb8d45223e54878f5b316e7ce3b6bc019629"
#define BASIC_TAGS                                                                               \
    "1d73ae108d4109b61f56698a5e19ee1f8947bdf8940bbce6adbe5e0940c2363caace6a547b4f1b3ec6a4fd2b7f" \
    "a845e9cb9d28823bc72c59971718bb26f2fbd8  bagit.txt\n"                                        \
    "00c69a00e6af794264d4503c2bd71d31b7bc5c4aa341a11e5ee87a2440f30079db9e5ac26103dd7e0b000eec44" \
    "6980bee85cfe37f64c4fdd736e468aa2040244  manifest-sha512.txt\n"

static void basic(void)
{
    put("bagit.txt", BAGIT);
    put("data/hello.txt", "hello\n");
    put("manifest-sha512.txt", HELLO "  data/hello.txt\n");
    put("tagmanifest-sha512.txt", BASIC_TAGS);
}

Test(bag_check, the_published_valid_bag)
{
    const struct mb_bag *bag;

    basic();
    cr_assert_eq(check(&bag), MB_OK, "%s %.*s", err.text,
                 MB_STR_ARG(mb_json_write(arena, bag->faults)));
    cr_expect_eq(bag->count, 4);
    cr_expect_eq(bag->payload_bytes, 6);
    cr_expect_not(bag->sealed);
    cr_expect_not_null(mb_bag_find(bag, "data/hello.txt"));
    cr_expect_null(mb_bag_find(bag, "data/hell"));
}

/* v1.0/invalid/notAllManifestsListAllFiles, bagit-with-invalid-whitespace, and the two where a
 * name stands twice. */
Test(bag_check, the_published_invalid_bags)
{
    basic();
    put("data/missingFromManifest.txt", "hello\n");
    broken("data/missingFromManifest.txt", "no manifest names it");
    unlink(mb_path_join(arena, folder, "data/missingFromManifest.txt"));

    put("bagit.txt", "BagIt-Version : 1.0\nTag-File-Character-Encoding : UTF-8\n");
    broken("bagit.txt", "blanks");
    put("bagit.txt", BAGIT);

    unlink(mb_path_join(arena, folder, "tagmanifest-sha512.txt"));
    put("manifest-sha512.txt", HELLO "  data/hello.txt\n" HELLO "  data/hello.txt\n");
    broken("data/hello.txt", "stands twice");
    put("manifest-sha512.txt", HELLO "  data/hello.txt\ndeadbeef"
                               "4c59d9cf2b48e549b1e24666636045930d3da7c1acb299d1c3b7f931f94aae41"
                               "edda2c2b207a36e10f8bcb8d45223e54878f5b316e7ce3b6bc019629"
                               "  data/hello.txt\n");
    broken("data/hello.txt", "two different checksums");
}

Test(bag_check, one_file_changed_added_taken_away_renamed)
{
    basic();
    put("data/hello.txt", "hellO\n");
    broken("data/hello.txt", "differs");
    cr_assert_eq(rename(mb_path_join(arena, folder, "data/hello.txt"),
                        mb_path_join(arena, folder, "data/hallo.txt")), 0);
    broken("data/hello.txt", "missing");
    broken("data/hallo.txt", "no manifest names it");
    basic();
    unlink(mb_path_join(arena, folder, "data/hallo.txt"));
    put("manifest-sha512.txt", HELLO "   data/hello.txt\n");
    broken("manifest-sha512.txt", "differs");
    basic();
    cr_assert_eq(symlink("hello.txt", mb_path_join(arena, folder, "data/link")), 0);
    broken("data/link", "link");
}

Test(bag_check, paths_that_lead_out)
{
    static const char *const bad[] = {
        "../out", "data/../../out", "/etc/out", "~/out", "~root/out", "C:/out", "data\\out",
        "data//out", "data/./out", "data/..", "%HomeDrive%\\out",
    };

    basic();
    unlink(mb_path_join(arena, folder, "tagmanifest-sha512.txt"));
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        cr_expect(mb_bag_path_bad(mb_str_of(bad[i])), "%s", bad[i]);
        put("manifest-sha512.txt", mb_arena_printf(arena, HELLO "  data/hello.txt\n" HELLO
                                                          "  %s\n", bad[i]));
        broken("manifest-sha512.txt", bad[i]);
        put("manifest-sha512.txt", HELLO "  data/hello.txt\n");
        put("fetch.txt", mb_arena_printf(arena, "https://ledger.harrowvane.example/x - %s\n",
                                         bad[i]));
        broken("fetch.txt", bad[i]);
        unlink(mb_path_join(arena, folder, "fetch.txt"));
    }
    cr_expect_null(mb_bag_path_bad(MB_STR("data/a b/..c/%7Ed/ü.txt")));
}

Test(bag_check, what_a_bag_must_have)
{
    const struct mb_bag *bag;

    cr_expect_eq(check(&bag), MB_REFUSED);
    put("bagit.txt", BAGIT);
    broken("data", "missing");
    basic();
    unlink(mb_path_join(arena, folder, "tagmanifest-sha512.txt"));
    unlink(mb_path_join(arena, folder, "manifest-sha512.txt"));
    broken("manifest-sha512.txt", "no manifest");
    basic();
    unlink(mb_path_join(arena, folder, "tagmanifest-sha512.txt"));
    put("bagit.txt", "\xEF\xBB\xBF" BAGIT);
    broken("bagit.txt", "byte order mark");
    put("bagit.txt", "BagIt-Version: 1.1\nTag-File-Character-Encoding: UTF-8\n");
    cr_expect_eq(check(&bag), MB_UNABLE);
    put("bagit.txt", BAGIT);
    put("bag-info.txt", "Payload-Oxum: 7.1\n");
    broken("bag-info.txt", "6.1");
    put("bag-info.txt", "payload-oxum: 6.1\nExternal-Description: long\n  and longer\n");
    cr_assert_eq(check(&bag), MB_OK);
    cr_expect(mb_str_is(mb_bag_info(bag->info, "external-description"), "long and longer"));
    put("manifest-sha3.txt", "aa  data/hello.txt\n");
    cr_expect_eq(check(&bag), MB_UNABLE);
}

Test(bag_check, names_with_line_ends_and_percent_signs)
{
    const char *name = "a%b\nc\rd";

    cr_expect_str_eq(mb_bag_path_write(arena, name), "a%25b%0Ac%0Dd");
    cr_expect(mb_str_is(mb_bag_path_read(arena, MB_STR("a%25b%0ac%0Dd"), true), name));
    cr_expect(mb_str_is(mb_bag_path_read(arena, MB_STR("a%7Eb%"), true), "a%7Eb%"));
    cr_expect(mb_str_is(mb_bag_path_read(arena, MB_STR("a%25b"), false), "a%25b"));
}
