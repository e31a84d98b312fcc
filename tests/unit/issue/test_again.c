/* A certificate's file made again from what the ledger holds: the same bytes, or a word why not. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include <markerbed/certificate.h>

#include "bundle.h"
#include "paper.h"
#include "plain_db.h"
#include "stock.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

static struct workbench b;

static void set_up(void)
{
    stock_house(&b);
}

static void tear_down(void)
{
    workbench_done(&b);
}

TestSuite(again, .init = set_up, .fini = tear_down);

static enum mb_rc again(const char *name)
{
    b.err = (struct mb_error){ 0 };
    b.out = NULL;
    return mb_certificate_again(b.ledger, b.arena, name, &b.out, &b.err);
}

/* By the identity in `file`; afterwards things are recorded and people change their minds. */
static void expect_same(const char *file, const char *what)
{
    const char *id = mb_json_cstr(b.arena, mb_json_get(b.out, "id"));

    workbench_must(&b, "note", "specimen/26-0115", "text=written later", NULL);
    workbench_must(&b, "party", "party/P011", "partyType=person", "name=Priya Lindqvist",
                   "namedTo=anyone", NULL);
    cr_assert_eq(again(id), MB_OK, "%s: %s", what, b.err.text);
    cr_expect_str_eq(mb_json_cstr(b.arena, mb_json_get(b.out, "file")), file, "%s", what);
    cr_expect_str_eq(mb_json_cstr(b.arena, mb_json_get(b.out, "id")), id, "%s", what);
}

Test(again, whatever_was_asked_for_comes_out_the_same)
{
    static const struct paper_wish wishes[] = {
        { "26-0115", "buyer", "P011", "", "", false, false },
        { "26-0115", "public", "bearer", "", "", false, false },
        { "26-0115", "auditor", "P004", "", "", false, false },
        { "26-0115", "institution", "P005", "", "", false, false },
        { "26-0115", "buyer", "P011", "county: landowner's request", "", false, false },
        { "26-0115", "buyer", "P011", "", "fieldNotes recordNumber steps", false, false },
        { "26-0115", "buyer", "P011", "name: a person's request", "decimalLatitude phone", false,
          false },
        { "26-0240 26-0115", "buyer", "P011", "county: our own decision", "recordNumber", false,
          false },
        { "26-0241", "buyer", "bearer", "", "", false, false }, /* out of a lot */
    };

    stock_find(&b, "26-0115");
    stock_sold(&b, "26-0115");
    stock_lot(&b, "26-0240", 100);
    stock_divide(&b, "26-0240", "specimen:26-0241; form:lot; quantity:80", "20", "0");
    for (size_t i = 0; i < COUNT(wishes); i++)
        expect_same(paper_must(&b, wishes[i]),
                    mb_arena_printf(b.arena, "wish %zu (%s for %s)", i, wishes[i].specimens,
                                    wishes[i].audience));
}

/* What was shown beyond the audience is kept, for nobody but ourselves to read. */
Test(again, what_is_kept_of_the_making_leaves_the_ledger_in_no_file)
{
    const char *file, *later;

    stock_find(&b, "26-0115");
    file = paper_must(&b, (struct paper_wish){ "26-0115", "buyer", "P011",
                                               "county: landowner's request", "recordNumber",
                                               false, false });
    cr_expect_not(strstr(paper_decoded(&b, file), "withholding"), "its own file");
    later = paper_must(&b, (struct paper_wish){ "26-0115", "institution", "P005", "", "", false,
                                                false });
    cr_expect_not(strstr(paper_decoded(&b, later), "withholding"), "a later one");
    cr_expect_not(strstr(paper_decoded(&b, later), "\"revealed\""), "a later one");
    cr_expect_str_eq(paper_judge_text(&b, paper_trust(&b), later), "0");
}

Test(again, it_is_found_by_its_specimen_its_entry_and_its_identity)
{
    char number[32];
    const char *file;

    stock_find(&b, "26-0115");
    stock_find(&b, "26-0116");
    paper_must(&b, (struct paper_wish){ "26-0115", "buyer", "P011", "", "", false, false });
    file = paper_must(&b, (struct paper_wish){ "26-0115", "public", "P011", "", "", false, false });
    snprintf(number, sizeof number, "#%lld",
             (long long)mb_json_int(mb_json_get(b.out, "seq"), -1));
    cr_assert_eq(again("26-0115"), MB_OK, "%s", b.err.text); /* the newest */
    cr_expect_str_eq(mb_json_cstr(b.arena, mb_json_get(b.out, "file")), file);
    cr_assert_eq(again("specimen/26-0115"), MB_OK, "%s", b.err.text);
    cr_assert_eq(again(number), MB_OK, "%s", b.err.text);
    cr_expect_str_eq(mb_json_cstr(b.arena, mb_json_get(b.out, "file")), file);

    cr_expect_eq(again("26-0116"), MB_REFUSED);
    cr_expect(strstr(b.err.text, "no certificate was ever issued for specimen/26-0116"), "%s",
              b.err.text);
    cr_expect_eq(again("26-0999"), MB_REFUSED);
    cr_expect(strstr(b.err.text, "is no specimen of this ledger"), "%s", b.err.text);
    cr_expect_eq(again("#0"), MB_REFUSED);
    cr_expect(strstr(b.err.text, "of kind founding"), "%s", b.err.text);
    cr_expect_eq(again("#99999"), MB_REFUSED);
    cr_expect_eq(again("#"), MB_REFUSED);
    cr_expect_eq(again("#18446744073709551616"), MB_REFUSED);
    cr_expect_eq(again("AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"), MB_REFUSED);
    cr_expect_eq(again(""), MB_REFUSED);
}

Test(again, a_withdrawn_one_is_said_to_be)
{
    const char *id;

    stock_find(&b, "26-0115");
    paper_must(&b, (struct paper_wish){ "26-0115", "buyer", "P011", "", "", false, false });
    id = mb_json_cstr(b.arena, mb_json_get(b.out, "id"));
    cr_assert_eq(mb_certificate_withdraw(b.ledger, b.arena, id, "error in facts", &b.out, &b.err),
                 MB_OK, "%s", b.err.text);
    cr_assert_eq(again(id), MB_OK, "%s", b.err.text);
    cr_expect(strstr(mb_json_cstr(b.arena, mb_json_at(mb_json_get(b.out, "warnings"), 0)),
                     "withdrawn by entry #"));
}

/* A disclosure that is gone without an erasure is damage, and not called one. */
Test(again, what_is_gone_without_a_word_is_damage)
{
    struct sqlite3 *db;
    int64_t find;

    find = stock_find(&b, "26-0115");
    paper_must(&b, (struct paper_wish){ "26-0115", "institution", "P005", "", "", false, false });
    db = plain_open(b.folder);
    cr_assert(plain_run(db, mb_arena_printf(b.arena,
                                            "UPDATE disclosures SET tail = '' WHERE seq = %lld",
                                            (long long)find)));
    plain_close(db);
    cr_expect_eq(again("26-0115"), MB_UNABLE);
    cr_expect(strstr(b.err.text, "does not give the sums that it was signed with"), "%s",
              b.err.text);
}
