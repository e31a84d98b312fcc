/* Files and ledgers named together: what each is, and what they say of each other. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include <markerbed/certificate.h>
#include <markerbed/show.h>
#include <markerbed/verify.h>

#include "bytes_of.h"
#include "note.h"
#include "outside.h"
#include "paper.h"
#include "plain_db.h"
#include "session.h"
#include "stock.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

static struct workbench b;
static const char *trust;

static void set_up(void)
{
    stock_house(&b);
    stock_find(&b, "26-0115");
    trust = paper_trust(&b);
}

static void tear_down(void)
{
    outside_end();
    workbench_done(&b);
}

TestSuite(verify, .init = set_up, .fini = tear_down);

#define EXPECT(said, names) cr_expect_str_eq(said, names)

static const char *certificate(const char *name, const char *audience)
{
    const char *file = paper_must(&b, (struct paper_wish){ .specimens = "26-0115",
                                                           .audience = audience,
                                                           .to = "bearer" });

    return paper_file(&b, name, mb_str_of(file));
}

/* A copy of the ledger's folder as it is now. */
static const char *copy_of_ledger(const char *name)
{
    const char *to = mb_arena_printf(b.arena, "%s/../%s", b.folder, name);
    struct mb_str said;

    b.ledger = mb_ledger_close(b.ledger);
    cr_assert_eq(outside_run(b.arena, &said, "cp -r '%s' '%s'", b.folder, to), 0, "%.*s",
                 MB_STR_ARG(said));
    workbench_reopen(&b, NULL);
    return to;
}

/* Goes on recording in another folder. */
static void go_over_to(const char *folder)
{
    b.folder = folder;
    workbench_reopen(&b, NULL);
}

static const char *checkpoint_file(const char *name)
{
    struct mb_str note;

    cr_assert_eq(mb_log_checkpoint(b.ledger->log, b.arena, 0, &note, NULL, &b.err), MB_OK);
    return paper_file(&b, name, note);
}

/* ---- what is none of ours ---- */

static const struct {
    const char *name, *content, *said;
} strangers[] = {
    { "empty", "", "the file is empty" },
    { "words", "Found on a Sunday.\n", "this is no certificate, sheet, checkpoint or ledger" },
    { "other.json", "{\"type\":\"FeatureCollection\"}", "this is no certificate of Markerbed" },
    { "blanks.json", "  \n {\"a\":1}", "this is no certificate of Markerbed" },
    { "list.json", "[1,2]", "this is no certificate, sheet, checkpoint or ledger" },
    { "sheet.pdf", "%PDF-1.7\n%%EOF\n", "" },
};

Test(verify, what_is_none_of_our_files_is_refused)
{
    for (size_t i = 0; i < COUNT(strangers); i++) {
        const char *path = paper_file(&b, strangers[i].name, mb_str_of(strangers[i].content));
        const char *said = paper_judge(&b, trust, path, NULL);

        cr_expect(strncmp(said, "2: ", 3) == 0 && strstr(said, strangers[i].said), "%s: %s",
                  strangers[i].name, said);
        cr_expect(strstr(said, strangers[i].name), "the file is named: %s", said);
    }
    cr_expect(strncmp(paper_judge(&b, trust, "no-such-file.json", NULL), "2: ", 3) == 0);
    cr_expect(strncmp(paper_judge(&b, trust, mb_arena_printf(b.arena, "%s/keys", b.folder), NULL),
                      "2: ", 3)
              == 0);
    cr_expect(strncmp(paper_judge(&b, "no-such-trust-file", b.folder, NULL), "2: ", 3) == 0);
    cr_expect_str_eq(paper_judge(&b, trust, NULL),
                     "2: name a certificate, a sheet or a ledger to check");
}

Test(verify, a_file_that_begins_as_ours_and_is_broken_is_malformed)
{
    static const struct {
        const char *content, *names;
    } broken[] = {
        { "{\"format\":\"markerbed-certificate/1\"}", "1 malformed" },
        { "{\"format\":\"markerbed-certificate/1\",", "1 malformed" },
        { "{\"format\":\"markerbed-certificate/1\",\"format\":\"markerbed-certificate/1\"}",
          "1 malformed" },
        { "{\"format\":\"markerbed-certificate/2\"}", "3 unknown-version" },
        { "{\"format\":\"something\"}", "1 malformed" },
    };

    for (size_t i = 0; i < COUNT(broken); i++)
        cr_expect_str_eq(paper_judge_text(&b, trust, broken[i].content), broken[i].names, "%s",
                         broken[i].content);
}

/* ---- ledgers ---- */

Test(verify, a_ledger_holds_for_whom_it_is_trusted)
{
    static const char line[] = "ledger " WORKBENCH_ORIGIN " ";
    const char *other = mb_arena_printf(b.arena, "%s%s\n", line,
                                        "qqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqa");

    EXPECT(paper_judge(&b, trust, b.folder, NULL), "0");
    EXPECT(paper_judge(&b, NULL, b.folder, NULL), "3 unknown-ledger");
    EXPECT(paper_judge(&b, paper_file(&b, "other", mb_str_of(other)), b.folder, NULL),
           "1 other-fingerprint");
}

Test(verify, two_ledgers_of_one_founding_that_part_are_forked)
{
    const char *first = b.folder, *second = copy_of_ledger("second");
    const char *from_first, *from_second;
    int64_t fork = workbench_size(&b);

    EXPECT(paper_judge(&b, trust, first, second, NULL), "0");
    workbench_must(&b, "note", "specimen/26-0115", "text=one story", NULL);
    from_first = certificate("first.json", "public");
    go_over_to(second);
    workbench_must(&b, "note", "specimen/26-0115", "text=another story", NULL);
    from_second = certificate("second.json", "public");
    workbench_must(&b, "note", "specimen/26-0115", "text=and on", NULL);

    EXPECT(paper_judge(&b, trust, first, second, NULL), "1 forked");
    cr_expect_eq(mb_json_int(mb_json_get(mb_json_at(mb_json_get(b.out, "findings"), 0), "seq"), -1),
                 fork, "the first entry that differs is named");
    EXPECT(paper_judge(&b, trust, second, first, NULL), "1 forked");
    /* two certificates show it without any ledger, and one with the other's ledger */
    EXPECT(paper_judge(&b, trust, from_first, from_second, NULL), "1 forked");
    EXPECT(paper_judge(&b, trust, from_first, second, NULL), "1 forked");
    EXPECT(paper_judge(&b, trust, from_first, first, NULL), "0");
    EXPECT(paper_judge(&b, NULL, from_first, from_second, NULL), "1 forked, unknown-ledger");
    b.folder = first; /* what is removed in the end holds both */
}

Test(verify, an_older_copy_is_found_out_by_whatever_is_newer)
{
    const char *now = b.folder, *old = copy_of_ledger("old");
    const char *newer, *checkpoint, *older;

    older = certificate("older.json", "public");
    newer = certificate("newer.json", "public");
    checkpoint = checkpoint_file("checkpoint");
    EXPECT(paper_judge(&b, trust, now, newer, older, checkpoint, NULL), "0");
    EXPECT(paper_judge(&b, trust, old, NULL), "0");
    EXPECT(paper_judge(&b, trust, old, newer, NULL), "1 rolled-back");
    EXPECT(paper_judge(&b, trust, older, old, NULL), "1 rolled-back");
    EXPECT(paper_judge(&b, trust, old, checkpoint, NULL), "1 rolled-back");
    EXPECT(paper_judge(&b, trust, old, now, NULL), "1 rolled-back");
    EXPECT(paper_judge(&b, trust, now, old, NULL), "1 rolled-back");
}

/* Anybody can found a ledger of that name; it proves nothing against the one that is trusted. */
Test(verify, a_ledger_of_the_same_name_is_another_ledger)
{
    const char *ours = certificate("ours.json", "public"), *theirs;
    struct workbench other;

    stock_house(&other);
    stock_find(&other, "26-0115");
    theirs = paper_must(&other, (struct paper_wish){ .specimens = "26-0115",
                                                     .audience = "public",
                                                     .to = "bearer" });
    theirs = paper_file(&b, "theirs.json", mb_str_of(theirs));
    EXPECT(paper_judge(&b, trust, ours, theirs, NULL), "1 other-fingerprint");
    EXPECT(paper_judge(&b, NULL, ours, theirs, NULL), "3 unknown-ledger");
    EXPECT(paper_judge(&b, NULL, ours, other.folder, NULL), "3 unknown-ledger");
    EXPECT(paper_judge(&b, NULL, b.folder, other.folder, NULL), "3 unknown-ledger");
    workbench_done(&other);
    cr_assert_eq(mb_start(&b.err), MB_OK);
}

/* ---- checkpoints in files of their own ---- */

static const char *note_with(const char *name, struct mb_str text, const mb_secret *secret)
{
    const char *note = mb_arena_printf(b.arena, "%.*s\n%s", MB_STR_ARG(text),
                                       mb_note_sign(b.arena, text, MB_STR(WORKBENCH_ORIGIN),
                                                    secret));

    return paper_file(&b, name, mb_str_of(note));
}

Test(verify, a_checkpoint_alone_proves_nothing)
{
    const char *good = checkpoint_file("good"), *alone = certificate("c.json", "public"), *forged;
    mb_secret *other = secret_of_seed(0x90);
    struct mb_checkpoint lie = { .origin = MB_STR(WORKBENCH_ORIGIN), .size = 3 };
    struct mb_str text = mb_str_of(mb_checkpoint_text(b.arena, &lie));
    struct mb_str bytes = file_of_tree(b.arena, good);
    char *turned = mb_arena_copy(b.arena, bytes.at, bytes.len);

    turned[strlen(turned) - 10] = turned[strlen(turned) - 10] == 'A' ? 'B' : 'A';
    forged = paper_file(&b, "forged", mb_str_of(turned));
    EXPECT(paper_judge(&b, trust, good, NULL), "3 unknown-ledger");
    EXPECT(paper_judge(&b, trust, note_with("lie", text, other), NULL), "3 unknown-ledger");
    /* with a file that holds the ledger's keys it is checked */
    EXPECT(paper_judge(&b, trust, good, alone, NULL), "0");
    EXPECT(paper_judge(&b, trust, b.folder, good, NULL), "0");
    EXPECT(paper_judge(&b, trust, forged, alone, NULL), "1 checkpoint-forged");
    /* somebody's lie about the ledger does not make it forked */
    EXPECT(paper_judge(&b, trust, b.folder, note_with("lie", text, other), NULL),
           "3 unknown-ledger");
    /* its own does */
    EXPECT(paper_judge(&b, trust, b.folder,
                       note_with("own-lie", text, b.ledger->checkpoint[0]), NULL),
           "1 forked");
    mb_secret_free(other);
}

/* ---- views ---- */

Test(verify, a_view_changed_from_outside_is_found_unless_views_are_left_out)
{
    const char *paths[] = { b.folder };
    struct mb_verify verify = { .paths = paths, .count = 1, .trust_path = trust, .threads = 1,
                                .skip_views = true };
    struct sqlite3 *db;
    const mb_json *out;

    cr_assert_eq(mb_views_rebuild(b.ledger, &b.err), MB_OK, "%s", b.err.text);
    EXPECT(paper_judge(&b, trust, b.folder, NULL), "0");
    b.ledger = mb_ledger_close(b.ledger);
    db = plain_open(b.folder);
    cr_assert(plain_run(db, "UPDATE v_entry SET line = 'nothing' WHERE seq = 3"));
    plain_close(db);
    EXPECT(paper_judge(&b, trust, b.folder, NULL), "1 view-differs");
    cr_expect_eq(mb_verify(b.arena, &verify, &out, &b.err), MB_OK, "%s", b.err.text);
    workbench_reopen(&b, NULL);
    cr_assert_eq(mb_views_rebuild(b.ledger, &b.err), MB_OK, "%s", b.err.text);
    EXPECT(paper_judge(&b, trust, b.folder, NULL), "0");
}

/* What is wrong with one file does not keep another from being looked at whole. */
Test(verify, each_file_is_judged_by_itself_and_findings_name_it)
{
    const char *bad = paper_file(&b, "bad.json",
                                 MB_STR("{\"format\":\"markerbed-certificate/1\"}"));
    struct sqlite3 *db;

    cr_assert_eq(mb_views_rebuild(b.ledger, &b.err), MB_OK, "%s", b.err.text);
    b.ledger = mb_ledger_close(b.ledger);
    db = plain_open(b.folder);
    cr_assert(plain_run(db, "UPDATE v_entry SET line = 'nothing' WHERE seq = 3"));
    plain_close(db);
    EXPECT(paper_judge(&b, trust, bad, b.folder, NULL), "1 malformed, view-differs");
    MB_JSON_EACH(finding, mb_json_get(b.out, "findings"))
    {
        bool first = mb_json_text_is(mb_json_get(finding, "name"), "malformed");

        cr_expect(mb_json_text_is(mb_json_get(finding, "file"), first ? bad : b.folder));
    }
    cr_expect_eq(mb_json_get(b.out, "files")->count, 2);
    workbench_reopen(&b, NULL);
}

Test(verify, a_withdrawal_in_one_file_is_told_of_the_other)
{
    const char *first = certificate("first.json", "public"), *id, *second;

    id = mb_json_cstr(b.arena, mb_json_get(b.out, "id"));
    cr_assert_eq(mb_certificate_withdraw(b.ledger, b.arena, id, "error in facts", &b.out, &b.err),
                 MB_OK);
    second = certificate("second.json", "public");
    EXPECT(paper_judge(&b, trust, first, NULL), "0");
    EXPECT(paper_judge(&b, trust, second, first, NULL), "0 withdrawn");
    EXPECT(paper_judge(&b, trust, first, b.folder, NULL), "0 withdrawn");
    EXPECT(paper_judge(&b, trust, b.folder, second, NULL), "0");
}

/* ---- words ---- */

Test(verify, the_verdict_says_what_it_is_about_and_promises_nothing)
{
    static const char *const audiences[] = { "buyer", "institution", "auditor", "public" };
    static const char *const never[] = { "authentic", "guarantee", "verified", " legal",
                                         "illegal", "genuine" };

    for (size_t i = 0; i < COUNT(audiences); i++) {
        const mb_json *words;
        struct mb_str all;
        const char *text;

        paper_judge(&b, i % 2 ? trust : NULL, certificate("c.json", audiences[i]), NULL);
        words = mb_json_get(b.out, "words");
        cr_expect(mb_json_text_is(mb_json_at(words, 0),
                                  "As of 2026-06-01; says nothing of later."));
        all = mb_json_write(b.arena, b.out);
        text = mb_arena_copy(b.arena, all.at, all.len);
        for (size_t j = 0; j < COUNT(never); j++)
            cr_expect_null(strstr(text, never[j]), "%s: %s", audiences[i], never[j]);
        cr_expect(strstr(text, "Not tested: whether what was written down is true"));
        cr_expect(strstr(text, "unwitnessed"));
        cr_expect_eq(strstr(text, "This is not a disclosure for a sale.") != NULL, i >= 2, "%s",
                     audiences[i]);
        cr_expect_eq(strstr(text, "nobody here has said") != NULL, i % 2 == 0);
    }
}
