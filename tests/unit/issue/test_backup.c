/* What a backup is as the library gives it: whole, locked while it is filled, nothing kept of a
 * failed one. Beside writers, kills and full disks: tests/e2e/backup.py. */
#include <criterion/criterion.h>

#include <markerbed/backup.h>
#include <markerbed/show.h>

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "backup_files.h"
#include "fileio.h"
#include "outside.h"
#include "session.h"
#include "text.h"
#include "workbench.h"

static struct workbench b;

static void set_up(void)
{
    workbench_house(&b);
}

static void tear_down(void)
{
    outside_end();
    workbench_done(&b);
}

TestSuite(backup, .init = set_up, .fini = tear_down);

static const char *named(const char *name)
{
    return mb_arena_printf(b.arena, "%s/%s", b.folder, name);
}

static enum mb_rc make(const char *to, bool scrub)
{
    struct mb_backup backup = { .to = to, .scrub = scrub };

    b.err = (struct mb_error){ 0 };
    return mb_backup_make(b.ledger, b.arena, &backup, &b.out, &b.err);
}

/* How often the words stand in the file's bytes, by grep. */
static bool holds(const char *path, const char *words)
{
    struct mb_str said;

    return outside_run(b.arena, &said, "grep -aqF '%s' '%s'", words, path) == 0;
}

Test(backup, it_says_what_it_is_and_takes_no_entries)
{
    mb_ledger *other;

    cr_assert_eq(make(named("copy"), false), MB_OK, "%s", b.err.text);
    cr_expect_eq(mb_json_int(mb_json_get(b.out, "entries"), 0), workbench_size(&b));
    cr_expect_eq(mb_json_int(mb_json_get(b.out, "keys"), -1), 0);
    cr_expect(mb_file_exists(named("copy/backup.json")));
    cr_expect(!mb_file_exists(named("copy/ledger.db-wal")) && !mb_file_exists(named("copy.part")));
    cr_expect_eq(mb_ledger_open(b.arena, named("copy"), MB_WRITE, &other, &b.err), MB_REFUSED);
    cr_expect(strstr(b.err.text, "restore"), "%s", b.err.text);
    cr_assert_eq(mb_ledger_open(b.arena, named("copy"), MB_READ, &other, &b.err), MB_OK);
    mb_ledger_close(other);
}

Test(backup, it_comes_back_as_it_was)
{
    cr_assert_eq(make(named("copy"), false), MB_OK, "%s", b.err.text);
    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_backup_restore(b.arena, named("copy"), named("again"), false, &b.out, &b.err),
                 MB_OK, "%s", b.err.text);
    cr_expect(mb_json_true(mb_json_get(b.out, "restored")));
    cr_expect(!mb_file_exists(named("again/backup.json")));
    cr_expect_eq(mb_backup_restore(b.arena, named("copy"), named("again"), false, &b.out, &b.err),
                 MB_REFUSED);
}

Test(backup, a_copy_that_tells_of_another_ledger_is_not_restored)
{
    struct mb_str said;

    cr_assert_eq(make(named("copy"), false), MB_OK, "%s", b.err.text);
    cr_assert_eq(outside_run(b.arena, &said, "sed -i 's/\"entries\": [0-9]*/\"entries\": 3/' '%s'",
                             named("copy/backup.json")),
                 0);
    cr_expect_eq(mb_backup_restore(b.arena, named("copy"), named("again"), false, &b.out, &b.err),
                 MB_NO);
    cr_expect(!mb_file_exists(named("again")) && !mb_file_exists(named("again.part")));
}

Test(backup, two_runs_do_not_fill_one_folder)
{
    struct mb_part part, other;

    cr_assert_eq(mb_part_begin(b.arena, named("copy/"), &part, &b.err), MB_OK, "%s", b.err.text);
    cr_expect_str_eq(part.path, named("copy.part"));
    cr_expect_eq(mb_part_begin(b.arena, named("copy"), &other, &b.err), MB_REFUSED);
    cr_expect(strstr(b.err.text, "another run"), "%s", b.err.text);
    mb_part_drop(&part);
    cr_expect(!mb_file_exists(named("copy.part")));
    mb_part_drop(&part); /* nothing to drop is no fault */
}

/* The views hold words of entries in many places; a scrubbed copy has none. */
Test(backup, a_scrubbed_copy_has_no_views_and_serves_all_the_same)
{
    mb_ledger *other;
    const mb_json *found;

    cr_assert_eq(mb_find_words(b.ledger, b.arena, "castellane", 9, NULL, &found, &b.err), MB_OK);
    cr_assert_eq(make(named("plain"), false), MB_OK, "%s", b.err.text);
    cr_expect(holds(named("plain/ledger.db"), "Castellane"), "the views do hold them");
    cr_assert_eq(make(named("clean"), true), MB_OK, "%s", b.err.text);
    cr_expect(!holds(named("clean/ledger.db"), "Castellane"));
    cr_expect(!holds(named("ledger.db"), "Castellane"), "and the ledger was scrubbed too");
    cr_expect(!mb_file_exists(named("clean/settings.json")));
    cr_assert_eq(mb_ledger_open(b.arena, named("clean"), MB_READ, &other, &b.err), MB_OK);
    cr_expect_eq(mb_find_words(other, b.arena, "castellane", 9, NULL, &found, &b.err), MB_OK);
    cr_expect(found->count > 0);
    mb_ledger_close(other);
    workbench_must(&b, "note", "site/S001", "text=and the ledger goes on", NULL);
    cr_expect_str_eq(workbench_verify(&b), "unknown-ledger");
}
