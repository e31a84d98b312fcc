#include <criterion/criterion.h>
#include <dirent.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include "fileio.h"
#include "text.h"

static char folder[4096];
static mb_arena *arena;

static void set_up(void)
{
    const char *place = getenv("TMPDIR");

    snprintf(folder, sizeof folder, "%s/markerbed-fileio-XXXXXX", place != NULL ? place : P_tmpdir);
    cr_assert_not_null(mkdtemp(folder));
    arena = mb_arena_new();
    umask(022);
}

static int entries(bool remove_them)
{
    DIR *dir = opendir(folder);
    struct dirent *entry;
    int count = 0;

    while ((entry = readdir(dir)) != NULL) {
        if (strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0)
            continue;
        count++;
        if (remove_them)
            remove(mb_path_join(arena, folder, entry->d_name));
    }
    closedir(dir);
    return count;
}

static void tear_down(void)
{
    entries(true);
    rmdir(folder);
    mb_arena_free(arena);
}

TestSuite(fileio, .init = set_up, .fini = tear_down);

static char *at(const char *name)
{
    return mb_path_join(arena, folder, name);
}

static bool holds(const char *path, const char *text)
{
    struct mb_str got;

    return mb_file_read(arena, path, 1 << 20, &got, NULL) == MB_OK && mb_str_is(got, text)
           && got.at[got.len] == '\0';
}

Test(fileio, a_file_is_written_over_whole_and_created_only_once)
{
    struct mb_error err = { 0 };
    struct stat about;

    cr_assert_eq(mb_file_create(at("a"), MB_STR("old"), 0600, &err), MB_OK);
    cr_assert(stat(at("a"), &about) == 0 && (about.st_mode & 0777) == 0600);
    cr_assert_eq(mb_file_create(at("a"), MB_STR("new"), 0644, &err), MB_REFUSED);
    cr_assert_not_null(strstr(err.text, "exists already"), "%s", err.text);
    cr_assert(holds(at("a"), "old"));
    cr_assert_eq(mb_file_write(at("a"), MB_STR("new"), 0666, NULL), MB_OK);
    cr_assert(holds(at("a"), "new"));
    cr_assert(stat(at("a"), &about) == 0 && (about.st_mode & 0777) == 0644);
    cr_assert_eq(mb_file_write(at("b"), MB_STR(""), 0644, NULL), MB_OK);
    cr_assert(holds(at("b"), ""));
    cr_assert_eq(symlink("nowhere", at("link")), 0);
    cr_assert_eq(mb_file_create(at("link"), MB_STR("x"), 0644, NULL), MB_REFUSED);
    cr_assert(mb_file_exists(at("a")) && mb_file_exists(at("link")));
    cr_assert_not(mb_file_exists(at("nowhere")));
    cr_assert_eq(entries(false), 3, "something temporary was left behind");
}

Test(fileio, a_bare_name_is_written_into_the_folder_one_is_in)
{
    cr_assert_eq(chdir(folder), 0);
    cr_assert_eq(mb_file_create("c", MB_STR("here"), 0644, NULL), MB_OK);
    cr_assert(holds(at("c"), "here"));
    cr_assert_eq(chdir("/"), 0);
}

/* The disk refuses to take all of it: the limit on file sizes stands in for a full disk. */
Test(fileio, a_failed_write_leaves_the_old_file_and_nothing_else)
{
    size_t len = 1 << 16;
    struct mb_str big = { memset(mb_arena_get(arena, len), 'x', len), len };
    struct rlimit limit = { 1000, 1000 };
    struct mb_error err = { 0 };

    cr_assert_eq(mb_file_write(at("a"), MB_STR("old"), 0644, NULL), MB_OK);
    signal(SIGXFSZ, SIG_IGN);
    cr_assert_eq(setrlimit(RLIMIT_FSIZE, &limit), 0);
    cr_assert_eq(mb_file_write(at("a"), big, 0644, &err), MB_UNABLE);
    cr_assert_eq(mb_file_create(at("b"), big, 0644, NULL), MB_UNABLE);
    cr_assert_not_null(strstr(err.text, at("a")));
    cr_assert(holds(at("a"), "old"));
    cr_assert_eq(entries(false), 1);
    cr_assert_eq(mb_file_write(at("no/such"), MB_STR("x"), 0644, NULL), MB_REFUSED);
    cr_assert_eq(mkdir(at("d"), 0755), 0);
    cr_assert_eq(mb_file_write(at("d"), MB_STR("x"), 0644, NULL), MB_REFUSED);
    cr_assert_eq(entries(false), 2);
}

Test(fileio, reading_keeps_to_the_limit_and_to_files, .timeout = 20)
{
    struct mb_error err = { 0 };
    struct mb_str got = { "untouched", 9 };

    cr_assert_eq(mb_file_write(at("a"), MB_STR("12345"), 0644, NULL), MB_OK);
    cr_assert_eq(mb_file_read(arena, at("a"), 4, &got, &err), MB_REFUSED);
    cr_assert_not_null(strstr(err.text, "longer than the 4 bytes"), "%s", err.text);
    cr_assert_eq(mb_file_read(arena, at("none"), 4, &got, NULL), MB_REFUSED);
    cr_assert_eq(mb_file_read(arena, folder, 4, &got, NULL), MB_REFUSED);
    cr_assert_eq(mkfifo(at("pipe"), 0600), 0);
    cr_assert_eq(mb_file_read(arena, at("pipe"), 4, &got, NULL), MB_REFUSED);
    cr_assert_eq(mb_file_read(arena, "/dev/zero", 4, &got, NULL), MB_REFUSED);
    cr_assert(mb_str_is(got, "untouched"));
    cr_assert_eq(mb_file_read(arena, at("a"), 5, &got, NULL), MB_OK);
    cr_assert(mb_str_is(got, "12345"));
    cr_assert_eq(symlink("a", at("link")), 0);
    cr_assert(holds(at("link"), "12345"));
    if (mb_file_exists("/proc/self/status")) { /* its length is said to be 0 */
        cr_assert_eq(mb_file_read(arena, "/proc/self/status", 1 << 20, &got, NULL), MB_OK);
        cr_assert(mb_str_starts(got, "Name:"));
    }
}

Test(fileio, standard_input_is_read_to_its_end_or_its_limit)
{
    enum { LEN = 300000 };
    struct mb_str got;

    for (size_t max = LEN - 1; max <= LEN + 1; max++) {
        int ends[2];
        pid_t child;
        cr_assert_eq(pipe(ends), 0);
        child = fork();
        if (child == 0) {
            signal(SIGPIPE, SIG_IGN);
            close(ends[0]);
            for (int i = 0; i < LEN / 10; i++)
                if (write(ends[1], "0123456789", 10) != 10)
                    _exit(1);
            _exit(0);
        }
        close(ends[1]);
        dup2(ends[0], STDIN_FILENO);
        close(ends[0]);
        cr_assert_eq(mb_file_read(arena, "-", max, &got, NULL), max < LEN ? MB_REFUSED : MB_OK);
        if (max >= LEN)
            cr_assert(got.len == LEN && memcmp(got.at + LEN - 10, "0123456789", 10) == 0);
    }
}

Test(fileio, folders_and_paths)
{
    static const struct {
        const char *path, *name;
    } names[] = {
        { "a/b/c.csv", "c.csv" }, { "c.csv", "c.csv" }, { "/c", "c" },
        { "a//c", "c" },          { "a/bag/", "bag/" }, { "", "" },
    };

    cr_assert_eq(mb_folder_make(at("f"), 0700, NULL), MB_OK);
    cr_assert_eq(mb_folder_make(at("f"), 0700, NULL), MB_OK);
    cr_assert_eq(mb_file_write(at("file"), MB_STR(""), 0644, NULL), MB_OK);
    cr_assert_eq(mb_folder_make(at("file"), 0700, NULL), MB_REFUSED);
    cr_assert_eq(mb_folder_make(at("no/such"), 0700, NULL), MB_REFUSED);
    cr_assert_str_eq(mb_path_join(arena, "a", "b"), "a/b");
    cr_assert_str_eq(mb_path_join(arena, "a/", "b"), "a/b");
    cr_assert_str_eq(mb_path_join(arena, "", "b"), "b");
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        cr_assert_str_eq(mb_path_name(names[i].path), names[i].name);
}
