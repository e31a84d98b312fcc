/* The log by itself: appending, reading, groups, clock, chains. */
#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>

#include "bytes_of.h"
#include "keyring.h"
#include "plain_db.h"
#include "temp_folder.h"
#include "temp_ledger.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

static int64_t size_of(struct temp_ledger *t)
{
    struct mb_error err = { 0 };
    int64_t size = -1;

    cr_assert_eq(mb_log_size(t->log, &size, &err), MB_OK, "%s", err.text);
    return size;
}

static struct mb_entry entry_at(struct temp_ledger *t, int64_t seq)
{
    struct mb_error err = { 0 };
    struct mb_entry entry;

    cr_assert_eq(mb_log_entry(t->log, t->arena, seq, &entry, &err), MB_OK, "%s", err.text);
    return entry;
}

static void reopen(struct temp_ledger *t, enum mb_log_mode mode)
{
    struct mb_error err = { 0 };

    mb_log_close(t->log);
    cr_assert_eq(mb_log_open(t->arena, t->folder, mode, &t->log, &err), MB_OK, "%s", err.text);
}

Test(log, what_was_appended_is_read_after_opening_again)
{
    struct temp_ledger t;
    struct mb_entry put, got;
    struct mb_hash leaf;

    temp_ledger_new(&t);
    put = temp_ledger_add(
        &t, "specimen/26-0001", "collecting",
        "{\"open\":{\"objectForm\":\"slab\"},\"sale\":{\"eventDate\":\"2026-05-02\","
        "\"into*\":[1,2]},\"private\":{\"hours\":\"3.5\"}}");
    cr_expect_eq(put.seq, 3);
    reopen(&t, MB_LOG_READ);
    cr_expect_eq(size_of(&t), 4);
    got = entry_at(&t, 3);
    cr_expect(mb_str_equal(got.jws, put.jws));
    cr_expect_eq(got.disclosure_count, 5);
    cr_expect(mb_json_text_is(mb_entry_field(&got, "hours", NULL), "3.5"));
    cr_assert_eq(mb_log_leaf(t.log, 3, &leaf, NULL), MB_OK);
    cr_expect(mb_hash_equal(&leaf, &got.leaf));
    cr_expect(mb_str_is(mb_log_origin(t.log), TEMP_LEDGER_ORIGIN));
    leaf = entry_at(&t, 0).leaf;
    cr_expect(mb_hash_equal(mb_log_fingerprint(t.log), &leaf));
    temp_ledger_done(&t);
}

/* prev is the leaf hash of the entry before, prior that of the subject's entry before. */
Test(log, chains_are_linked_as_the_format_says)
{
    static const char *const subs[] = { "specimen/A", "specimen/B", "specimen/a", "specimen/B",
                                        "specimen/A" };
    static const int64_t nths[] = { 0, 0, 1, 1, 2 }, priors[] = { -1, -1, 3, 4, 5 };
    struct temp_ledger t;
    struct mb_error err = { 0 };
    struct mb_hash leaf = { { 0 } };
    int64_t *seqs, seq, nth;
    struct mb_str sub;
    size_t count;

    temp_ledger_new(&t);
    for (size_t i = 0; i < COUNT(subs); i++) {
        struct mb_entry e = temp_ledger_add(&t, subs[i], "note", "{}");
        struct mb_hash before = entry_at(&t, e.seq - 1).leaf;

        cr_expect(e.has_prev && mb_hash_equal(&e.prev, &before));
        cr_expect_eq(e.nth, nths[i]);
        cr_expect_eq(e.has_prior, priors[i] >= 0);
        if (e.has_prior) {
            before = entry_at(&t, priors[i]).leaf;
            cr_expect(mb_hash_equal(&e.prior, &before));
        }
        /* small and capital letters are one: written as it was first */
        cr_expect(mb_str_is(e.sub, i == 2 ? "specimen/A" : subs[i]));
    }
    cr_assert_eq(mb_log_chain(t.log, t.arena, MB_STR("specimen/a"), MB_NEVER, &seqs, &count, &err),
                 MB_OK);
    cr_assert_eq(count, 3);
    cr_expect(seqs[0] == 3 && seqs[1] == 5 && seqs[2] == 7);
    cr_assert_eq(mb_log_chain(t.log, t.arena, MB_STR("specimen/A"), 7, &seqs, &count, &err), MB_OK);
    cr_expect_eq(count, 2);
    cr_assert_eq(mb_log_chain(t.log, t.arena, MB_STR("specimen/C"), MB_NEVER, &seqs, &count, &err),
                 MB_OK);
    cr_expect_eq(count, 0);
    cr_assert_eq(
        mb_log_head(t.log, t.arena, MB_STR("SPECIMEN/b"), MB_NEVER, &seq, &nth, &sub, &err), MB_OK);
    cr_expect(seq == 6 && nth == 1 && mb_str_is(sub, "specimen/B"));
    cr_expect_eq(mb_log_head(t.log, t.arena, MB_STR("specimen/B"), 4, &seq, &nth, NULL, &err),
                 MB_NO);
    cr_expect_eq(mb_log_find_leaf(t.log, t.arena, MB_STR("specimen/A"), &leaf, &seq, &err), MB_NO);
    leaf = entry_at(&t, 5).leaf;
    cr_expect_eq(mb_log_find_leaf(t.log, t.arena, MB_STR("specimen/A"), &leaf, &seq, &err), MB_OK);
    cr_expect_eq(seq, 5);
    temp_ledger_done(&t);
}

/* L3 */
Test(log, a_group_is_there_whole_or_not_at_all)
{
    struct temp_ledger t;
    struct mb_error err = { 0 };
    struct mb_hash before, after;
    struct mb_str note;
    int64_t size;

    temp_ledger_new(&t);
    cr_assert_eq(mb_log_root(t.log, 3, &before, &err), MB_OK);
    temp_ledger_begin(&t);
    for (int i = 0; i < 9; i++)
        temp_ledger_put_by(&t, t.owner, "specimen/A", "note", "{\"sale\":{\"text\":\"x\"}}");
    cr_expect(mb_log_in_group(t.log));
    cr_expect_eq(mb_log_next_seq(t.log), 12);
    mb_log_rollback(t.log);
    cr_expect_not(mb_log_in_group(t.log));
    cr_expect_eq(size_of(&t), 3);
    cr_expect_eq(temp_ledger_put(&t, "specimen/A", "note", "{}", &err), MB_UNABLE);
    cr_expect_eq(size_of(&t), 3, "outside a group nothing is recorded");

    temp_ledger_begin(&t);
    temp_ledger_put_by(&t, t.owner, "specimen/A", "note", "{}");
    mb_log_close(t.log); /* an open group is not there afterwards */
    err = (struct mb_error){ 0 };
    cr_assert_eq(mb_log_open(t.arena, t.folder, MB_LOG_WRITE, &t.log, &err), MB_OK);
    cr_expect_eq(size_of(&t), 3);
    cr_assert_eq(mb_log_root(t.log, 3, &after, &err), MB_OK);
    cr_expect(mb_hash_equal(&before, &after));

    temp_ledger_begin(&t);
    for (int i = 0; i < 9; i++)
        temp_ledger_put_by(&t, t.owner, "specimen/A", "note", "{}");
    temp_ledger_commit(&t);
    cr_expect_eq(size_of(&t), 12);
    cr_assert_eq(mb_log_checkpoint(t.log, t.arena, 0, &note, &size, &err), MB_OK);
    cr_expect_eq(size, 12);
    cr_expect_eq(mb_log_checkpoint(t.log, t.arena, 11, &note, &size, &err), MB_NO);
    cr_expect_eq(mb_log_checkpoint(t.log, t.arena, 3, &note, &size, &err), MB_OK);
    temp_ledger_begin(&t); /* an empty group needs no new checkpoint and is no fault */
    temp_ledger_commit(&t);
    cr_expect_eq(size_of(&t), 12);
    temp_ledger_done(&t);
}

/* An entry that our own reader would refuse would stand in the log for ever. */
Test(log, what_could_not_be_read_again_is_not_recorded)
{
    static const char *const cases[][3] = {
        { "specimen/A", "note", "{\"open\":{\"a\":1.5}}" },
        { "specimen/A", "note", "{\"open\":{\"a\":-1}}" },
        { "specimen/A", "note", "{\"sale\":{\"a\":1e3}}" },
        { "specimen/A", "note", "{\"sale\":{\"a\":\"turned \\u202e round\"}}" },
        { "specimen/A", "note", "{\"open\":{\"a\":\"bell \\u0007\"}}" },
        { "specimen/A", "note",
          "{\"open\":{\"stra\xC3\x9F"
          "e\":1}}" },
        { "specimen/A", "note",
          "{\"sale\":{\"stra\xC3\x9F"
          "e\":1}}" },
        { "specimen/A", "note", "{\"open\":{\"sale\":1}}" },
        { "specimen/A", "note", "{\"open\":{\"_sd\":[]}}" },
        { "specimen/A", "note", "{\"sale\":{\"...\":1}}" },
        { "specimen/A", "note", "{\"sale\":{\"a\":1},\"land\":{\"a\":2}}" },
        { "specimen/A", "note", "{\"open\":{\"a\":1},\"land\":{\"a\":2}}" },
        { "specimen/A", "note", "{\"open\":{\"a\":[[[[[[[[[[[[[[[[1]]]]]]]]]]]]]]]]}}" },
        { "specimen/A B", "note", "{}" },
        { "specimen", "note", "{}" },
        { "key/short", "note", "{}" },
        { "specimen/A", "Note", "{}" },
        { "specimen/A", "", "{}" },
    };
    struct temp_ledger t;

    temp_ledger_new(&t);
    temp_ledger_begin(&t);
    for (size_t i = 0; i < COUNT(cases); i++) {
        struct mb_error err = { 0 };

        cr_expect_eq(temp_ledger_put(&t, cases[i][0], cases[i][1], cases[i][2], &err), MB_REFUSED,
                     "%s %s %s", cases[i][0], cases[i][1], cases[i][2]);
        cr_expect(err.text[0]);
        cr_expect_eq(mb_log_next_seq(t.log), 3);
    }
    temp_ledger_put_by(&t, t.owner, "specimen/A", "note", "{}"); /* the group goes on */
    temp_ledger_commit(&t);
    cr_expect_eq(size_of(&t), 4);
    temp_ledger_done(&t);
}

/* The same deep in a large group, whose entries a second thread reads back: the refusal may come
 * later, and then the whole group is refused. */
Test(log, one_unreadable_entry_among_many_spoils_the_group)
{
    static const int places[] = { 0, 63, 64, 65, 127, 128, 200, 298, 299 };

    for (size_t i = 0; i < COUNT(places); i++) {
        const mb_secret *keys[1];
        struct mb_error err = { 0 };
        enum mb_rc rc = MB_OK;
        struct temp_ledger t;

        temp_ledger_new(&t);
        keys[0] = t.checkpoint;
        temp_ledger_begin(&t);
        for (int n = 0; !rc && n < 300; n++)
            rc = temp_ledger_put(&t, "specimen/A", "note",
                                 n == places[i] ? "{\"sale\":{\"a\":\"turned \\u202e round\"}}"
                                                : "{\"sale\":{\"a\":\"plain\"}}",
                                 &err);
        if (!rc)
            rc = mb_log_commit(t.log, keys, 1, &err);
        cr_expect_eq(rc, MB_REFUSED, "place %d", places[i]);
        cr_expect(strstr(err.text, "U+202E"), "%s", err.text);
        mb_log_rollback(t.log);
        cr_expect_eq(size_of(&t), 3);
        temp_ledger_add(&t, "specimen/A", "note", "{}"); /* the next group is whole again */
        cr_expect_eq(size_of(&t), 4);
        temp_ledger_done(&t);
    }
}

/* The index of subjects can be made anew from the entries; where it was lost, nothing may be put on
 * a chain that it does not know: two entries for one place would be a fork for ever. */
Test(log, a_lost_index_stops_recording)
{
    static const char *const losses[] = {
        "DELETE FROM line",
        "DELETE FROM line WHERE sub = 'specimen/A'",
        "DELETE FROM line WHERE seq = 4",
        "UPDATE line SET nth = 7 WHERE seq = 4",
        "UPDATE line SET seq = 2 WHERE seq = 4",
    };

    for (size_t i = 0; i < COUNT(losses); i++) {
        struct mb_error err = { 0 };
        struct temp_ledger t;
        struct sqlite3 *db;
        enum mb_rc rc;

        temp_ledger_new(&t);
        temp_ledger_add(&t, "specimen/A", "note", "{}");
        temp_ledger_add(&t, "specimen/A", "note", "{}");
        db = plain_open(t.folder);
        cr_assert(plain_run(db, losses[i]));
        plain_close(db);
        rc = mb_log_begin(t.log, &err);
        if (!rc)
            rc = temp_ledger_put(&t, "specimen/A", "note", "{}", &err);
        cr_expect_eq(rc, MB_UNABLE, "%s: %d", losses[i], rc);
        cr_expect(strstr(err.text, "index"), "%s: %s", losses[i], err.text);
        mb_log_rollback(t.log);
        temp_ledger_done(&t);
    }
}

/* L5: what the machine's clock said when the last entry was recorded, what it says now. */
Test(log, the_clock_never_runs_backwards_and_never_far_ahead)
{
    static const struct {
        const char *last, *now;
        int64_t iat; /* of the new entry; -1: refused until confirmed */
        int64_t confirmed;
    } cases[] = {
        { "2026-05-02T12:00:00Z", "2026-05-02T12:00:01Z", 1777723201, 0 },
        { "2026-05-02T12:00:00Z", "2026-05-02T12:00:00Z", 1777723200, 0 },
        { "2026-05-02T12:00:00Z", "2026-05-02T11:59:00Z", 1777723200, 0 }, /* not before the last */
        { "2026-05-02T12:00:00Z", "2026-05-02T11:55:00Z", 1777723200, 0 },
        { "2026-05-02T12:00:00Z", "2026-05-02T11:54:59Z", -1, 1777723200 },
        { "2026-05-02T12:00:00Z", "1970-01-01T00:00:10Z", -1, 1777723200 },
        { "2026-05-02T12:00:00Z", "2027-06-06T12:00:00Z", 1812283200, 0 }, /* 400 days */
        { "2026-05-02T12:00:00Z", "2027-06-06T12:00:01Z", -1, 1812283201 },
    };

    for (size_t i = 0; i < COUNT(cases); i++) {
        struct mb_error err = { 0 };
        struct temp_ledger t;
        struct mb_entry e;

        setenv("MARKERBED_CLOCK", cases[i].last, 1);
        temp_ledger_new(&t);
        setenv("MARKERBED_CLOCK", cases[i].now, 1);
        temp_ledger_begin(&t);
        if (cases[i].iat < 0) {
            cr_expect_eq(temp_ledger_put(&t, "specimen/A", "note", "{}", &err), MB_REFUSED);
            cr_expect(strstr(err.text, cases[i].now) && strstr(err.text, cases[i].last), "%s",
                      err.text);
            mb_log_confirm_clock(t.log);
        }
        e = temp_ledger_put_by(&t, t.owner, "specimen/A", "note", "{}");
        cr_expect_eq(e.iat, cases[i].iat < 0 ? cases[i].confirmed : cases[i].iat, "case %zu", i);
        temp_ledger_commit(&t);
        temp_ledger_done(&t);
    }
}

Test(log, what_is_no_ledger_is_not_opened)
{
    struct temp_ledger t;
    struct mb_error err = { 0 };
    mb_log *log = NULL;
    const char *empty;
    mb_db *db;

    temp_ledger_new(&t);
    empty = temp_folder_new(t.arena);
    cr_expect_eq(mb_log_open(t.arena, empty, MB_LOG_READ, &log, &err), MB_REFUSED);
    cr_expect(strstr(err.text, "there is no ledger in"), "%s", err.text);
    err = (struct mb_error){ 0 };
    cr_expect_eq(mb_log_create(t.arena, t.folder, &log, &err), MB_REFUSED);
    cr_expect(strstr(err.text, "is there already"), "%s", err.text);

    err = (struct mb_error){ 0 };
    cr_assert_eq(mb_log_create(t.arena, empty, &log, &err), MB_OK, "%s", err.text);
    mb_log_close(log);
    cr_expect_eq(mb_log_open(t.arena, empty, MB_LOG_READ, &log, &err), MB_REFUSED);
    cr_expect(strstr(err.text, "was never founded"), "%s", err.text);

    cr_assert_eq(
        mb_db_open(mb_arena_printf(t.arena, "%s/ledger.db", empty), MB_DB_WRITE, &db, NULL), MB_OK);
    cr_assert_eq(mb_db_run(db, "PRAGMA user_version = 2", NULL), MB_OK);
    err = (struct mb_error){ 0 };
    cr_expect_eq(mb_log_open(t.arena, empty, MB_LOG_READ, &log, &err), MB_UNABLE);
    cr_expect(strstr(err.text, "made by a newer program (storage version 2)"), "%s", err.text);
    cr_assert_eq(mb_db_run(db, "PRAGMA application_id = 7", NULL), MB_OK);
    err = (struct mb_error){ 0 };
    cr_expect_eq(mb_log_open(t.arena, empty, MB_LOG_READ, &log, &err), MB_REFUSED);
    cr_expect(strstr(err.text, "is no ledger of this program"), "%s", err.text);
    mb_db_close(db);
    temp_folder_remove(empty);

    reopen(&t, MB_LOG_READ);
    err = (struct mb_error){ 0 };
    cr_expect_eq(mb_log_begin(t.log, &err), MB_REFUSED);
    cr_expect(strstr(err.text, "open for reading only"), "%s", err.text);
    err = (struct mb_error){ 0 };
    cr_expect_eq(mb_log_entry(t.log, t.arena, 3, &(struct mb_entry){ 0 }, &err), MB_REFUSED);
    cr_expect_str_eq(err.text, "there is no entry 3");
    temp_ledger_done(&t);
}

Test(log, a_scan_gives_every_row_in_order)
{
    struct temp_ledger t;
    struct mb_error err = { 0 };
    mb_log_scan *scan;
    int64_t seq, next = 1;
    struct mb_str leaf, jws, tail;
    bool row;

    temp_ledger_new(&t);
    temp_ledger_add(&t, "party/P001", "party", "{\"sale\":{\"neutralLabel\":\"the lab\"}}");
    cr_assert_eq(mb_log_scan_open(t.log, 1, 4, &scan, &err), MB_OK, "%s", err.text);
    for (;;) {
        struct mb_hash hash;

        cr_assert_eq(mb_log_scan_next(scan, &row, &seq, &leaf, &jws, &tail, &err), MB_OK);
        if (!row)
            break;
        cr_expect_eq(seq, next++);
        hash = mb_leaf_hash(jws);
        cr_expect(leaf.len == 32 && memcmp(leaf.at, hash.b, 32) == 0);
        cr_expect_eq(tail.len > 0, seq == 3);
    }
    cr_expect_eq(next, 4);
    mb_log_scan_close(scan);
    temp_ledger_done(&t);
}

/* Both keys sign the first checkpoint after a change (design: and lost ones are not asked for). */
Test(log, a_checkpoint_carries_the_signatures_that_are_asked_for)
{
    struct temp_ledger t;
    struct mb_error err = { 0 };
    mb_secret *newer = secret_of_seed(0x10);
    const mb_secret *both[] = { newer, NULL };
    struct mb_vkey old_key, new_key;
    struct mb_note note;
    struct mb_str bytes;
    int64_t size;

    temp_ledger_new(&t);
    both[1] = t.checkpoint;
    old_key = mb_vkey_make(MB_STR(TEMP_LEDGER_ORIGIN), MB_VKEY_LOG, mb_secret_key(t.checkpoint));
    new_key = mb_vkey_make(MB_STR(TEMP_LEDGER_ORIGIN), MB_VKEY_LOG, mb_secret_key(newer));
    temp_ledger_begin(&t);
    temp_ledger_put_by(&t, t.owner, "ledger", "checkpoint-key",
                       mb_arena_printf(t.arena,
                                       "{\"open\":{\"checkpointKey\":\"%s\",\"why\":"
                                       "\"routine\"}}",
                                       mb_vkey_write(t.arena, &new_key)));
    cr_assert_eq(mb_log_commit(t.log, both, 2, &err), MB_OK, "%s", err.text);
    cr_assert_eq(mb_log_checkpoint(t.log, t.arena, 0, &bytes, &size, &err), MB_OK);
    cr_assert_eq(mb_note_read(t.arena, bytes, &note, &err), MB_OK, "%s", err.text);
    cr_expect_eq(size, 4);
    cr_expect_eq(note.count, 2);
    cr_expect_eq(mb_note_signed_by(&note, &new_key, NULL), MB_NOTE_SIGNED);
    cr_expect_eq(mb_note_signed_by(&note, &old_key, NULL), MB_NOTE_SIGNED);
    mb_secret_free(newer);
    temp_ledger_done(&t);
}
