/* Forgetting: two steps with thirty days between them by the ledger's clock, what is found as a
 * copy, what is refused. That no byte is left is for tests/e2e/forget.py. */
#include <criterion/criterion.h>

#include <markerbed/forget.h>
#include <markerbed/show.h>

#include <string.h>

#include "text.h"
#include "workbench.h"

#define DAY 86400

static struct workbench b;

static void set_up(void)
{
    workbench_house(&b);
    workbench_must(&b, "party", "P006", "partyType=person", "name=Marguerite Oduya",
                   "namedTo=nobody", "neutralLabel=client", "address=Nine Thornapple Crescent",
                   NULL);
}

static void tear_down(void)
{
    workbench_done(&b);
}

TestSuite(forget, .init = set_up, .fini = tear_down);

static enum mb_rc ask(const char *subject, const char *field, bool copies)
{
    struct mb_forget forget = { .subject = subject, .fields = &field, .field_count = 1,
                                .ground = "a person's request", .copies = copies };

    b.err = (struct mb_error){ 0 };
    return mb_forget_ask(b.ledger, b.arena, &forget, &b.out, &b.err);
}

static int64_t asked(const char *subject, const char *field, bool copies)
{
    cr_assert_eq(ask(subject, field, copies), MB_OK, "%s", b.err.text);
    return mb_json_int(mb_json_get(b.out, "request"), -1);
}

static enum mb_rc done(int64_t request)
{
    b.err = (struct mb_error){ 0 };
    return mb_forget_do(b.ledger, b.arena, request, &b.out, &b.err);
}

static size_t copies_found(void)
{
    const mb_json *copies = mb_json_get(b.out, "copies");

    return copies ? copies->count : 0;
}

Test(forget, nothing_goes_before_its_day)
{
    int64_t request = asked("party/P006", "address", false);
    int64_t party = mb_json_int(
        mb_json_get(mb_json_at(mb_json_get(b.out, "fields"), 0), "seq"), -1);

    workbench_now += 30 * DAY - 1;
    cr_expect_eq(done(request), MB_REFUSED);
    cr_expect(strstr(b.err.text, "30 days"), "%s", b.err.text);
    cr_expect(strstr(workbench_field(&b, party, "address", NULL), "Thornapple"));
    workbench_now += 1;
    cr_assert_eq(done(request), MB_OK, "%s", b.err.text);
    cr_expect_str_eq(workbench_field(&b, party, "address", NULL), "");
    cr_expect(strstr(workbench_field(&b, party, "name", NULL), "Oduya"), "the rest stays");
    cr_expect_eq(done(request), MB_REFUSED, "once is enough");
    cr_expect_str_eq(workbench_verify(&b), "unknown-ledger erased");
}

/* A setting can only make the wait longer, and one that was made shorter again does not count for
 * what was asked before. */
Test(forget, a_setting_makes_it_longer_only)
{
    int64_t request;

    cr_expect_eq(mb_setting(b.ledger, b.arena, "forgetAfterDays", "29", &b.err), MB_REFUSED);
    cr_expect_eq(mb_setting(b.ledger, b.arena, "forgetAfterDays", "-60", NULL), MB_REFUSED);
    cr_expect_eq(mb_setting(b.ledger, b.arena, "forgetAfterDays", "60 days", NULL), MB_REFUSED);
    cr_assert_eq(mb_setting(b.ledger, b.arena, "forgetAfterDays", "60", NULL), MB_OK);
    request = asked("party/P006", "address", false);
    cr_assert_eq(mb_setting(b.ledger, b.arena, "forgetAfterDays", "30", NULL), MB_OK);
    workbench_now += 59 * DAY;
    cr_expect_eq(done(request), MB_REFUSED);
    workbench_now += DAY;
    cr_expect_eq(done(request), MB_OK, "%s", b.err.text);
}

Test(forget, copies_are_found_by_what_stands_in_them)
{
    int64_t note = workbench_must(&b, "note", "site/S001",
                                  "text=send it to Nine Thornapple Crescent", NULL);
    int64_t request;

    workbench_must(&b, "note", "site/S001", "text=nine crescents", NULL);
    request = asked("party/P006", "address", false);
    cr_expect_eq(copies_found(), 1);
    workbench_now += 30 * DAY;
    cr_assert_eq(done(request), MB_OK, "%s", b.err.text);
    cr_expect(workbench_field(&b, note, "text", NULL)[0], "told of, but not asked for");
    workbench_must(&b, "party", "P006", "partyType=person", "name=Marguerite Oduya",
                   "namedTo=nobody", "neutralLabel=client", "address=Nine Thornapple Crescent",
                   NULL);
    request = asked("party/P006", "address", true);
    workbench_now += 30 * DAY;
    cr_assert_eq(done(request), MB_OK, "%s", b.err.text);
    cr_expect_str_eq(workbench_field(&b, note, "text", NULL), "");
}

/* A field-day's site is copied into its finds by reference; the same site elsewhere is no copy. */
Test(forget, a_reference_is_a_copy_only_where_the_same_subject_is_named)
{
    workbench_must(&b, "collecting", "26-0001", "fieldDay=D001", "recordNumber=T-1",
                   "verbatimIdentification=crinoid slab", "objectQuantity=1", "objectForm=slab",
                   "quantityHow=counted", "materialClass=invertebrate", "horizon=H-A",
                   "inPlace=in place", NULL);
    workbench_must(&b, "collecting", "26-0002", "fieldDay=(remove)", "site=S001",
                   "eventDate=2026-05-29", "recordedBy=P002", "permission=not needed",
                   "recordNumber=T-2", "purpose=personal", "tools=hand tools",
                   "verbatimIdentification=crinoid slab", "objectQuantity=1", "objectForm=slab",
                   "quantityHow=counted", "materialClass=invertebrate", "horizon=H-A",
                   "inPlace=in place", NULL);
    cr_assert_eq(ask("field-day/D001", "site", false), MB_OK, "%s", b.err.text);
    cr_expect_eq(copies_found(), 1);
}

Test(forget, a_claim_that_nothing_be_erased_stops_it)
{
    int64_t request = asked("party/P006", "address", false), claim;
    char leaf[60];

    claim = workbench_must(&b, "claim", "site/S001", "nature=court", "status=open",
                           "date=2026-05-30", "by=not known", "byLabel=unknown person",
                           "hold=do not erase", NULL);
    workbench_now += 40 * DAY;
    cr_expect_eq(done(request), MB_REFUSED);
    cr_expect(strstr(b.err.text, "claim"), "%s", b.err.text);
    cr_expect_eq(ask("party/P006", "name", false), MB_REFUSED);
    mb_b64u_write(leaf, workbench_entry(&b, claim).leaf.b, 32);
    workbench_must(&b, "claim", "site/S001", "nature=court", "status=settled", "date=2026-06-20",
                   "by=not known", "byLabel=unknown person", "hold=none",
                   mb_arena_printf(b.arena, "concerns=%s", leaf), NULL);
    cr_expect_eq(done(request), MB_OK, "%s", b.err.text);
}

Test(forget, what_is_asked_is_checked)
{
    cr_expect_eq(ask("party/P006", "mail", false), MB_REFUSED);
    cr_expect(strstr(b.err.text, "no field mail"), "%s", b.err.text);
    cr_expect_eq(ask("site/S001", "countryCode", false), MB_REFUSED);
    cr_expect(strstr(b.err.text, "is open"), "%s", b.err.text);
    cr_expect_eq(done(3), MB_REFUSED);
    cr_assert_eq(mb_forget_list(b.ledger, b.arena, &b.out, &b.err), MB_OK);
    cr_expect_eq(b.out->count, 0);
}
