/* Keys of a ledger from its founding to loss and theft. What each leads to is judged by
 * verify_log.h, which knows nothing of this floor. */
#include <criterion/criterion.h>
#include <dirent.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "fileio.h"
#include "outside.h"
#include "recorder.h"
#include "session.h"
#include "temp_folder.h"
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

TestSuite(keys, .init = set_up, .fini = tear_down);

#define SOUND "unknown-ledger" /* all that verifying finds of a sound ledger that nobody trusts */

static enum mb_rc add(const char *label, const char *holder, bool checkpoints, size_t count,
                      const char *const *may)
{
    struct mb_key_adding adding = { .label = label, .holder = holder, .may = may,
                                    .may_count = count,
                                    .passphrase = MB_STR(WORKBENCH_PASSPHRASE),
                                    .signs_checkpoints = checkpoints };

    b.err = (struct mb_error){ 0 };
    return mb_key_add(b.ledger, b.arena, &adding, &b.out, &b.err);
}

static enum mb_rc add_teodor(bool checkpoints)
{
    static const char *const may[] = { "preparation", "condition", "collecting" };

    return add("teodor", "P002", checkpoints, 2 + checkpoints, may);
}

static int64_t number(const char *name)
{
    return mb_json_int(mb_json_get(b.out, name), -1);
}

static int64_t checkpoint_size(void)
{
    const mb_json *about = NULL;

    cr_assert_eq(mb_ledger_about(b.ledger, b.arena, &about, &b.err), MB_OK);
    return mb_json_int(mb_json_get(about, "checkpointSize"), -1);
}

/* How many keys signed the newest checkpoint. */
static size_t signatures(void)
{
    struct mb_note note;
    struct mb_str bytes;

    cr_assert_eq(mb_log_checkpoint(b.ledger->log, b.arena, 0, &bytes, NULL, &b.err), MB_OK);
    cr_assert_eq(mb_note_read(b.arena, bytes, &note, &b.err), MB_OK);
    return note.count;
}

static int64_t find(const char *id)
{
    return workbench_must(&b, "collecting", id, "fieldDay=D001", "recordNumber=T-1",
                          "verbatimIdentification=x", "objectQuantity=1", "objectForm=slab",
                          "quantityHow=counted", "materialClass=invertebrate", "horizon=H-A",
                          "inPlace=in place", NULL);
}

static void remove_files(const char *ending)
{
    const char *folder = mb_path_join(b.arena, b.folder, "keys");
    DIR *dir = opendir(folder);

    for (struct dirent *item; (item = readdir(dir));)
        if (strstr(item->d_name, ending))
            unlink(mb_path_join(b.arena, folder, item->d_name));
    closedir(dir);
}

/* ---- founding ---- */

Test(keys, a_founding_makes_two_keys_and_a_checkpoint)
{
    cr_assert_str_eq(workbench_field(&b, 0, "origin", NULL), "\"" WORKBENCH_ORIGIN "\"");
    cr_assert_str_eq(workbench_field(&b, 1, "may", NULL), "[\"enrol\"]");
    cr_assert_str_eq(workbench_field(&b, 1, "holder", NULL), "{\"ref\":\"party/P001\"}");
    cr_assert(mb_str_is(workbench_entry(&b, 1).sub,
                        mb_arena_printf(b.arena, "key/%s", b.second)));
    cr_assert(mb_str_is(workbench_entry(&b, 0).kid, b.founder));
    cr_assert_eq(checkpoint_size(), workbench_size(&b));
    cr_assert_str_eq(workbench_verify(&b), SOUND);
    cr_assert_eq(strlen(b.envelope), 60 + 14, "60 characters in groups of four");
}

Test(keys, the_envelope_is_nowhere_on_the_disk)
{
    struct mb_str said, plain = mb_str_of(b.envelope);
    uint8_t seed[37 + 3];
    char hex[75], first[9];

    cr_assert(mb_base32_read_exact(plain, seed, 37));
    mb_hex_write(hex, seed, 32);
    snprintf(first, sizeof first, "%.4s%.4s", b.envelope, b.envelope + 5);
    outside_run(b.arena, &said, "grep -rlaF -e '%s' -e '%.9s' '%s' | wc -l", first, b.envelope,
                b.folder);
    cr_assert_eq(said.at[0], '0');
    outside_run(b.arena, &said,
                "find '%s' -type f -exec cat {} + | od -An -v -tx1 | tr -d ' \\n' | grep -c '%s'",
                b.folder, hex);
    cr_assert_eq(said.at[0], '0');
}

Test(keys, a_founding_that_is_refused_leaves_nothing)
{
    static const struct mb_founding bad[] = {
        { .origin = "two words", .name = "x", .key_label = "o",
          .passphrase = { "long enough", 11 } },
        { .origin = "a.example", .name = "", .key_label = "o",
          .passphrase = { "long enough", 11 } },
        { .origin = "a.example", .name = "x", .key_label = "o", .passphrase = { "short", 5 } },
        { .origin = "a.example", .name = "x", .key_label = "",
          .passphrase = { "long enough", 11 } },
        { .origin = "a.example", .name = "x", .key_label = "o",
          .passphrase = { "long enough", 11 }, .holder_id = "P 1" },
    };
    const char *folder = mb_arena_printf(b.arena, "%s-2", b.folder);

    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct mb_founding founding = bad[i];
        struct mb_error err = { 0 };

        founding.folder = folder;
        cr_expect_eq(mb_ledger_found(b.arena, &founding, &b.out, &err), MB_REFUSED, "%zu", i);
        cr_expect_gt(strlen(err.text), 10);
        cr_expect_not(mb_file_exists(folder), "%zu: %s", i, err.text);
    }
}

Test(keys, a_folder_with_a_ledger_is_left_alone)
{
    struct mb_founding founding = { .folder = b.folder, .origin = "a.example", .name = "x",
                                    .key_label = "o", .passphrase = MB_STR("long enough") };
    int64_t size = workbench_size(&b);

    cr_assert_eq(mb_ledger_found(b.arena, &founding, &b.out, &b.err), MB_REFUSED);
    cr_assert(strstr(b.err.text, "holds a ledger already"), "%s", b.err.text);
    workbench_reopen(&b, NULL);
    cr_assert_eq(workbench_size(&b), size);
}

/* ---- rights ---- */

Test(keys, a_key_records_what_it_may_and_nothing_else)
{
    int64_t seq, size;

    find("26-0115");
    cr_assert_eq(add_teodor(false), MB_OK, "%s", b.err.text);
    workbench_reopen(&b, "teodor");
    size = checkpoint_size();
    seq = workbench_must(&b, "preparation", "26-0115", "steps=method:needle", "lostInWork=none",
                         NULL);
    cr_assert_str_eq(workbench_field(&b, seq, "preparedBy", NULL), "[{\"ref\":\"party/P002\"}]");
    cr_assert_eq(checkpoint_size(), size, "this key signs none");
    cr_assert_eq(workbench_record(&b, "note", "specimen/26-0115", "text=x", NULL), MB_REFUSED);
    cr_assert_str_eq(b.err.text, "the key 'teodor' may not record a note; it may: preparation,"
                                 " condition (somebody whose key may enrol can add a key that"
                                 " may)");
    cr_assert_eq(add("another", "P003", false, 1, (const char *const[]){ "note" }), MB_REFUSED);
    cr_assert(strstr(b.err.text, "may not record a key-enrolment"), "%s", b.err.text);
    cr_assert_eq(mb_key_retire(b.ledger, b.arena, "ottoline", "left", -1, &b.out, &b.err),
                 MB_REFUSED);
    cr_assert_str_eq(workbench_verify(&b), "uncheckpointed " SOUND);
    workbench_reopen(&b, "ottoline");
    workbench_must(&b, "note", "specimen/26-0115", "text=x", NULL);
    cr_assert_eq(checkpoint_size(), workbench_size(&b), "the next who may signs for all");
    cr_assert_str_eq(workbench_verify(&b), SOUND);
}

Test(keys, a_key_is_added_only_with_sense)
{
    static const char *const wrong[] = { "preperation" };
    static const char *const founding[] = { "founding" };
    static const char *const all[] = { "everything", "enrol" };
    int64_t size = workbench_size(&b);

    cr_assert_eq(add("teodor", "P009", false, 1, all), MB_REFUSED);
    cr_assert(strstr(b.err.text, "unknown party/P009"), "%s", b.err.text);
    cr_assert_eq(add("teodor", "P002", false, 1, wrong), MB_REFUSED);
    cr_assert(strstr(b.err.text, "did you mean preparation?"), "%s", b.err.text);
    cr_assert_eq(add("teodor", "P002", false, 1, founding), MB_REFUSED);
    cr_assert_eq(add("teodor", "P002", false, 0, NULL), MB_REFUSED);
    cr_assert_eq(add("ottoline", "P002", false, 1, all), MB_REFUSED);
    cr_assert(strstr(b.err.text, "is here already"), "%s", b.err.text);
    cr_assert_eq(workbench_size(&b), size);
    workbench_reopen(&b, NULL); /* and there is still one key alone */
    cr_assert_eq(add("teodor", "party/P002", true, 2, all), MB_OK, "%s", b.err.text);
    workbench_reopen(&b, "teodor");
    find("26-0115");
    cr_assert_eq(checkpoint_size(), workbench_size(&b));
    cr_assert_str_eq(workbench_verify(&b), SOUND);
}

Test(keys, are_listed_with_what_they_may)
{
    const mb_json *row;

    cr_assert_eq(add_teodor(false), MB_OK);
    cr_assert_eq(mb_key_list(b.ledger, b.arena, &b.out, &b.err), MB_OK, "%s", b.err.text);
    cr_assert_eq(b.out->count, 3);
    row = mb_json_at(b.out, 0);
    cr_assert(mb_json_text_is(mb_json_get(row, "label"), "ottoline"));
    cr_assert(mb_json_text_is(mb_json_get(row, "holder"), "party/P001"));
    cr_assert(mb_json_true(mb_json_get(row, "here")));
    row = mb_json_at(b.out, 1);
    cr_assert_not(mb_json_true(mb_json_get(row, "here")), "it is in the envelope");
    cr_assert_null(mb_json_get(row, "retired"));
    row = mb_json_at(b.out, 2);
    cr_assert_eq(mb_json_get(row, "may")->count, 2);
}

/* ---- retiring ---- */

Test(keys, a_retired_key_signs_no_more)
{
    mb_ledger *other;

    find("26-0115");
    cr_assert_eq(add_teodor(true), MB_OK);
    cr_assert_eq(mb_ledger_open(b.arena, b.folder, MB_WRITE, &other, &b.err), MB_OK);
    cr_assert_eq(mb_ledger_unlock(other, "teodor", MB_STR(WORKBENCH_PASSPHRASE), &b.err), MB_OK);
    cr_assert_eq(mb_key_retire(b.ledger, b.arena, "teodor", "left", -1, &b.out, &b.err), MB_OK,
                 "%s", b.err.text);
    /* one that was open meanwhile sees it too */
    mb_ledger_close(b.ledger);
    b.ledger = other;
    cr_assert_eq(workbench_record(&b, "preparation", "26-0115", "steps=method:needle",
                                  "lostInWork=none", NULL),
                 MB_REFUSED);
    cr_assert(strstr(b.err.text, "the key 'teodor' was retired by entry"), "%s", b.err.text);
    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_ledger_unlock(b.ledger, "teodor", MB_STR(WORKBENCH_PASSPHRASE), &b.err),
                 MB_REFUSED);
    workbench_reopen(&b, "ottoline");
    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_key_retire(b.ledger, b.arena, "teodor", "left", -1, &b.out, &b.err),
                 MB_REFUSED);
    cr_assert(strstr(b.err.text, "was retired already"), "%s", b.err.text);
    cr_assert_str_eq(workbench_verify(&b), SOUND);
}

Test(keys, doubt_counts_the_entries_it_falls_on)
{
    int64_t first;

    find("26-0115");
    cr_assert_eq(add_teodor(true), MB_OK);
    workbench_reopen(&b, "teodor");
    workbench_must(&b, "preparation", "26-0115", "steps=method:needle", "lostInWork=none", NULL);
    first = workbench_must(&b, "preparation", "26-0115", "lostInWork=none", NULL);
    workbench_must(&b, "preparation", "26-0115", "lostInWork=none", NULL);
    workbench_reopen(&b, "ottoline");
    workbench_must(&b, "note", "specimen/26-0115", "text=x", NULL);
    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_key_retire(b.ledger, b.arena, "teodor", "copied", first, &b.out, &b.err),
                 MB_REFUSED);
    cr_assert(strstr(b.err.text, "did you mean 'suspected copied'?"), "%s", b.err.text);
    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_key_retire(b.ledger, b.arena, "teodor", "suspected copied", 9999, &b.out,
                               &b.err),
                 MB_REFUSED);
    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_key_retire(b.ledger, b.arena, "teodor", "suspected copied", first, &b.out,
                               &b.err),
                 MB_OK, "%s", b.err.text);
    cr_assert_eq(number("suspect"), 2);
    cr_assert_str_eq(workbench_verify(&b), "key-suspect " SOUND);
}

Test(keys, a_key_may_retire_itself_but_not_the_last_that_enrols)
{
    cr_assert_eq(add_teodor(false), MB_OK);
    workbench_reopen(&b, "teodor");
    cr_assert_eq(mb_key_retire(b.ledger, b.arena, "teodor", "left", -1, &b.out, &b.err), MB_OK,
                 "%s", b.err.text);
    workbench_reopen(&b, "ottoline");
    cr_assert_eq(mb_key_retire(b.ledger, b.arena, b.second, "no longer used", -1, &b.out, &b.err),
                 MB_OK, "%s", b.err.text);
    cr_assert_eq(mb_key_retire(b.ledger, b.arena, "ottoline", "left", -1, &b.out, &b.err),
                 MB_REFUSED);
    cr_assert(strstr(b.err.text, "the last key that may enrol others"), "%s", b.err.text);
    cr_assert_str_eq(workbench_verify(&b), SOUND);
}

/* ---- the checkpoint key ---- */

Test(keys, a_change_of_the_checkpoint_key_is_signed_by_both_once)
{
    mb_ledger *other, *first = b.ledger;

    cr_assert_eq(mb_ledger_open(b.arena, b.folder, MB_WRITE, &other, &b.err), MB_OK);
    cr_assert_eq(mb_ledger_unlock(other, NULL, MB_STR(WORKBENCH_PASSPHRASE), &b.err), MB_OK);
    cr_assert_eq(signatures(), 1);
    cr_assert_eq(mb_key_checkpoint(b.ledger, b.arena, "rotation", &b.out, &b.err), MB_OK, "%s",
                 b.err.text);
    cr_assert_eq(signatures(), 2);
    cr_assert_eq(checkpoint_size(), workbench_size(&b));
    /* one that was open meanwhile signs with the new key as well */
    b.ledger = other;
    find("26-0115");
    cr_assert_eq(signatures(), 1);
    cr_assert_eq(checkpoint_size(), workbench_size(&b));
    mb_ledger_close(first);
    cr_assert_str_eq(workbench_verify(&b), SOUND);
}

Test(keys, a_lost_checkpoint_key_is_replaced_without_its_signature)
{
    remove_files(".box");
    workbench_reopen(&b, NULL);
    find("26-0115");
    cr_assert_lt(checkpoint_size(), workbench_size(&b));
    cr_assert_eq(mb_key_checkpoint(b.ledger, b.arena, "rotation", &b.out, &b.err), MB_REFUSED);
    cr_assert(strstr(b.err.text, "was not given the old checkpoint key"), "%s", b.err.text);
    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_key_checkpoint(b.ledger, b.arena, "mislaid", &b.out, &b.err), MB_REFUSED);
    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_key_checkpoint(b.ledger, b.arena, "lost", &b.out, &b.err), MB_OK, "%s",
                 b.err.text);
    cr_assert_eq(signatures(), 1);
    cr_assert_eq(checkpoint_size(), workbench_size(&b));
    cr_assert_str_eq(workbench_verify(&b), SOUND);
}

Test(keys, a_stolen_checkpoint_key_does_not_sign_its_own_end)
{
    cr_assert_eq(mb_key_checkpoint(b.ledger, b.arena, "stolen", &b.out, &b.err), MB_OK, "%s",
                 b.err.text);
    cr_assert_eq(signatures(), 1);
    cr_assert_str_eq(workbench_verify(&b), SOUND);
}

/* Somebody who records between the change and the next checkpoint, without a box for either key,
 * takes nothing away from it. */
Test(keys, an_unsigned_change_is_made_up_for_by_the_next_who_can_sign)
{
    static const char *const may[] = { "enrol", "collecting" };

    cr_assert_eq(add("wren", "P003", false, 2, may), MB_OK, "%s", b.err.text);
    workbench_reopen(&b, "wren");
    cr_assert_eq(mb_key_checkpoint(b.ledger, b.arena, "rotation", &b.out, &b.err), MB_REFUSED);
    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_key_checkpoint(b.ledger, b.arena, "lost", &b.out, &b.err), MB_OK, "%s",
                 b.err.text);
    workbench_reopen(&b, "ottoline");
    find("26-0115");
    cr_assert_eq(checkpoint_size(), workbench_size(&b));
    cr_assert_str_eq(workbench_verify(&b), SOUND);
}

static void change_unsigned(void)
{
    mb_secret *secret = mb_secret_new();
    struct mb_vkey vkey =
        mb_vkey_make(mb_log_origin(b.ledger->log), MB_VKEY_LOG, mb_secret_key(secret));
    struct mb_field fields[] = {
        mb_field_open("checkpointKey", mb_json_string(b.arena, mb_vkey_write(b.arena, &vkey))),
        mb_field_open("why", mb_json_string(b.arena, "rotation")),
    };
    struct mb_entry entry;

    cr_assert_eq(mb_recorder_append(b.ledger, b.arena, "checkpoint-key", "ledger", fields, 2,
                                    &entry, &b.err),
                 MB_OK, "%s", b.err.text);
    cr_assert_eq(mb_keybox_add(b.arena, b.folder, &vkey, secret, mb_secret_key(b.ledger->person),
                               &b.err),
                 MB_OK);
    mb_secret_free(secret);
}

Test(keys, every_key_replaced_since_the_last_checkpoint_signs_the_next)
{
    cr_assert_eq(mb_session_begin(b.ledger, &b.err), MB_OK, "%s", b.err.text);
    change_unsigned();
    change_unsigned();
    cr_assert_eq(mb_session_commit(b.ledger, &b.err), MB_OK, "%s", b.err.text);
    cr_assert_eq(signatures(), 3);
    cr_assert_eq(checkpoint_size(), workbench_size(&b));
    find("26-0115");
    cr_assert_eq(signatures(), 1);
    cr_assert_str_eq(workbench_verify(&b), SOUND);
}

/* ---- the envelope ---- */

static enum mb_rc bring_back(const char *envelope, const char *label)
{
    struct mb_key_adding adding = { .label = label, .envelope = mb_str_of(envelope),
                                    .passphrase = MB_STR(WORKBENCH_PASSPHRASE) };

    b.err = (struct mb_error){ 0 };
    return mb_key_add(b.ledger, b.arena, &adding, &b.out, &b.err);
}

Test(keys, all_lost_comes_back_out_of_the_envelope)
{
    static const char *const all[] = { "everything", "enrol" };
    char *wrong = mb_arena_text(b.arena, b.envelope);

    find("26-0115");
    remove_files(".key");
    b.ledger = mb_ledger_close(b.ledger);
    cr_assert_eq(mb_ledger_open(b.arena, b.folder, MB_WRITE, &b.ledger, &b.err), MB_OK);
    cr_assert_eq(mb_ledger_unlock(b.ledger, NULL, MB_STR(WORKBENCH_PASSPHRASE), &b.err),
                 MB_REFUSED);
    wrong[7] = wrong[7] == 'a' ? 'b' : 'a';
    cr_assert_eq(bring_back(wrong, "spare"), MB_REFUSED);
    cr_assert_eq(bring_back(b.envelope, "spare"), MB_OK, "%s", b.err.text);
    cr_assert(mb_json_text_is(mb_json_get(b.out, "kid"), b.second));
    cr_assert_null(mb_json_get(b.out, "entry"), "nothing is recorded by it");
    cr_assert_eq(bring_back(b.envelope, "again"), MB_REFUSED);
    workbench_reopen(&b, "spare");
    cr_assert_eq(add("ottoline-2", "P001", true, 2, all), MB_OK, "%s", b.err.text);
    cr_assert_eq(checkpoint_size(), workbench_size(&b), "the envelope's key has its box too");
    workbench_reopen(&b, "ottoline-2");
    cr_assert_eq(mb_key_retire(b.ledger, b.arena, b.founder, "lost", -1, &b.out, &b.err), MB_OK,
                 "%s", b.err.text);
    find("26-0116");
    cr_assert_str_eq(workbench_verify(&b), SOUND);
}

Test(keys, an_envelope_of_another_ledger_opens_nothing_here)
{
    mb_secret *stranger = mb_secret_new();

    cr_assert_eq(bring_back(mb_envelope_write(b.arena, stranger), "spare"), MB_REFUSED);
    cr_assert(strstr(b.err.text, "never enrolled in this ledger"), "%s", b.err.text);
    mb_secret_free(stranger);
}

/* ---- opening ---- */

Test(keys, nothing_is_recorded_before_a_key_is_open)
{
    b.ledger = mb_ledger_close(b.ledger);
    cr_assert_eq(mb_ledger_open(b.arena, b.folder, MB_WRITE, &b.ledger, &b.err), MB_OK);
    cr_assert_not(mb_ledger_unlocked(b.ledger));
    cr_assert_eq(workbench_record(&b, "note", "party/P001", "text=x", NULL), MB_REFUSED);
    cr_assert(strstr(b.err.text, "no key is open"), "%s", b.err.text);
    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_ledger_unlock(b.ledger, NULL, MB_STR("another passphrase"), &b.err), MB_NO);
    cr_assert_not(mb_ledger_unlocked(b.ledger));
    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_ledger_unlock(b.ledger, "nobody", MB_STR(WORKBENCH_PASSPHRASE), &b.err),
                 MB_REFUSED);
    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_ledger_unlock(b.ledger, "ottoline", MB_STR(WORKBENCH_PASSPHRASE), &b.err),
                 MB_OK);
    cr_assert(mb_ledger_unlocked(b.ledger));
}

Test(keys, a_reader_records_nothing)
{
    b.ledger = mb_ledger_close(b.ledger);
    cr_assert_eq(mb_ledger_open(b.arena, b.folder, MB_READ, &b.ledger, &b.err), MB_OK);
    cr_assert_eq(mb_ledger_unlock(b.ledger, NULL, MB_STR(WORKBENCH_PASSPHRASE), &b.err), MB_OK);
    cr_assert_eq(workbench_record(&b, "note", "party/P001", "text=x", NULL), MB_REFUSED);
    cr_assert(strstr(b.err.text, "for reading only"), "%s", b.err.text);
}

Test(keys, a_clock_that_runs_ahead_must_be_confirmed)
{
    workbench_now += 500 * 86400LL;
    cr_assert_eq(workbench_record(&b, "note", "party/P001", "text=x", NULL), MB_REFUSED);
    cr_assert(strstr(b.err.text, "clock"), "%s", b.err.text);
    mb_ledger_confirm_clock(b.ledger);
    workbench_must(&b, "note", "party/P001", "text=x", NULL);
    cr_assert_str_eq(workbench_verify(&b), SOUND);
}
