/* A certificate of one ledger received in another, carried on, signed for, and issued onward. */
#include <criterion/criterion.h>
#include <string.h>

#include <markerbed/certificate.h>
#include <markerbed/countersigning.h>
#include <markerbed/receive.h>

#include "fileio.h"
#include "paper.h"
#include "stock.h"
#include "temp_folder.h"
#include "text.h"

#define ORIGIN "ledger.western-strand.example"

static struct workbench lab;
static mb_ledger *museum;
static const char *folder;
static const mb_json *out;
static struct mb_error err;

/* The lab's skull goes to a museum with a ledger of its own. */
static void set_up(void)
{
    struct mb_founding founding = { .origin = ORIGIN,
                                    .name = "Western Strand",
                                    .key_label = "ambrose",
                                    .passphrase = MB_STR(WORKBENCH_PASSPHRASE),
                                    .holder_id = "P001" };
    static const struct mb_typed party[] = { { "partyType", "firm", NULL },
                                             { "name", "Harrow & Vane", NULL },
                                             { "namedTo", "anyone", NULL },
                                             { "neutralLabel", "a lab", NULL } };
    struct mb_recording recording = { .kind = "party",
                                      .subject = "party/P002",
                                      .typed = party,
                                      .count = 4 };

    stock_house(&lab);
    stock_find(&lab, "26-0130");
    workbench_must(&lab, "custody", "26-0130", "from=P001", "to=P005", "fromLabel=us",
                   "toLabel=museum", "handedOver=2026-05-31", "received=2026-05-31", "reason=gift",
                   "capacity=owner", "acknowledged=one side only", "receipt=none",
                   "fromCountry=US", "toCountry=US", NULL);
    folder = temp_folder_new(lab.arena);
    founding.folder = mb_path_join(lab.arena, folder, "museum");
    err = (struct mb_error){ 0 };
    cr_assert_eq(mb_ledger_found(lab.arena, &founding, &out, &err), MB_OK, "%s", err.text);
    cr_assert_eq(mb_ledger_open(lab.arena, founding.folder, MB_WRITE, &museum, &err), MB_OK);
    cr_assert_eq(mb_ledger_unlock(museum, NULL, MB_STR(WORKBENCH_PASSPHRASE), &err), MB_OK, "%s",
                 err.text);
    cr_assert_eq(mb_record(museum, lab.arena, &recording, &out, &err), MB_OK, "%s", err.text);
}

static void tear_down(void)
{
    mb_ledger_close(museum);
    temp_folder_remove(folder);
    workbench_done(&lab);
}

TestSuite(receive, .init = set_up, .fini = tear_down);

static const char *institution(void)
{
    const char *text =
        paper_must(&lab, (struct paper_wish){ "26-0130", "institution", "P005", .marked = false });

    return paper_file(&lab, "skull.certificate.json", mb_str_of(text));
}

static enum mb_rc take(const char *path, const char *as, const char *reason, bool accept)
{
    const struct mb_typed typed[] = { { "receivedFrom", "party/P002", NULL },
                                      { "reason", reason, NULL } };
    struct mb_receive what = { .path = path,
                               .trust_path = accept ? NULL : paper_trust(&lab),
                               .accept_unknown = accept,
                               .as = &as,
                               .as_count = as ? 1 : 0,
                               .typed = typed,
                               .count = 2 };

    err = (struct mb_error){ 0 };
    out = NULL;
    return mb_receive(museum, lab.arena, &what, &out, &err);
}

static int64_t size_of(mb_ledger *ledger)
{
    const mb_json *about;

    cr_assert_eq(mb_ledger_about(ledger, lab.arena, &about, NULL), MB_OK);
    return mb_json_int(mb_json_get(about, "entries"), -1);
}

static const char *arrival_field(const char *name)
{
    const mb_json *arrival = mb_json_at(mb_json_get(out, "arrivals"), 0);
    const mb_json *value = mb_json_get(mb_json_get(arrival, "fields"), name);

    return value ? mb_json_write(lab.arena, value).at : "";
}

Test(receive, looking_records_nothing)
{
    int64_t before = size_of(museum);

    cr_assert_eq(take(institution(), NULL, "gift", false), MB_OK, "%s", err.text);
    cr_expect_eq(mb_json_get(out, "specimens")->count, 1u);
    cr_expect(mb_json_text_is(
        mb_json_get(mb_json_at(mb_json_get(out, "specimens"), 0), "theirs"), "26-0130"));
    cr_expect_eq(size_of(museum), before);
}

Test(receive, an_arrival_names_the_other_ledger_and_keeps_its_certificate)
{
    const char *path = institution();
    const mb_json *first;

    cr_assert_eq(take(path, "WS-1", "gift", false), MB_OK, "%s", err.text);
    cr_expect(strstr(arrival_field("foreignEvidence"), WORKBENCH_ORIGIN));
    first = mb_json_at(mb_json_get(out, "specimens"), 0);
    cr_expect(strstr(arrival_field("foreignEvidence"),
                     mb_json_cstr(lab.arena, mb_json_get(first, "certificate"))));
    cr_expect_str_eq(arrival_field("fromLabel"), "\"another ledger\"");
    cr_expect_str_eq(arrival_field("objectForm"), "\"slab\"");
    cr_expect_str_eq(arrival_field("countryOfDiscovery"), "\"US\"");
    cr_expect_eq(take(path, "WS-2", "gift", false), MB_OK);
    cr_expect_null(mb_json_get(out, "arrivals"), "a second time adds nothing");
}

Test(receive, what_is_not_taken_changes_nothing)
{
    const char *path = institution();
    int64_t before = size_of(museum);
    struct mb_str text;
    char *broken;

    cr_assert_eq(mb_file_read(lab.arena, path, 1 << 24, &text, NULL), MB_OK);
    broken = mb_arena_copy(lab.arena, text.at, text.len);
    broken[text.len / 2] = broken[text.len / 2] == 'A' ? 'B' : 'A';
    cr_expect_neq(take(paper_file(&lab, "broken.json", (struct mb_str){ broken, text.len }), "WS-1",
                       "gift", false),
                  MB_OK);
    cr_expect_eq(take(path, "WS 1", "gift", false), MB_REFUSED);
    cr_expect_eq(take(path, "26-0199=WS-1", "gift", false), MB_REFUSED);
    cr_expect_eq(take(path, "WS-1", "a whim", false), MB_REFUSED, "%s", err.text);
    cr_expect_eq(take(paper_file(&lab, "empty.json", MB_STR("{}")), "WS-1", "gift", false),
                 MB_REFUSED);
    cr_expect_eq(size_of(museum), before);
    cr_expect_eq(take(path, "WS-1", "gift", true), MB_OK, "an unknown ledger, accepted: %s",
                 err.text);
}

static const char *issued_by_museum(const char *audience)
{
    const char *specimen = "WS-1";
    struct mb_issue issue = { .specimens = &specimen,
                              .count = 1,
                              .audience = audience,
                              .to = "bearer",
                              .unmarked = true };

    err = (struct mb_error){ 0 };
    cr_assert_eq(mb_certificate_issue(museum, lab.arena, &issue, &out, &err), MB_OK, "%s",
                 err.text);
    return mb_json_cstr(lab.arena, mb_json_get(out, "file"));
}

static const char *both_trusted(void)
{
    const mb_json *about;
    struct mb_str text;

    cr_assert_eq(mb_ledger_about(museum, lab.arena, &about, NULL), MB_OK);
    cr_assert_eq(mb_file_read(lab.arena, paper_trust(&lab), 1 << 16, &text, NULL), MB_OK);
    return paper_file(&lab, "both", mb_str_of(mb_arena_printf(
                                        lab.arena, "%.*s\nledger " ORIGIN " %s\n", MB_STR_ARG(text),
                                        mb_json_cstr(lab.arena,
                                                     mb_json_get(about, "fingerprint")))));
}

Test(receive, a_later_certificate_carries_it_as_far_as_its_reader_sees)
{
    const char *institution_text, *buyer_text;

    cr_assert_eq(take(institution(), "WS-1", "gift", false), MB_OK, "%s", err.text);
    institution_text = issued_by_museum("institution");
    buyer_text = issued_by_museum("buyer");
    cr_expect(strstr(paper_decoded(&lab, institution_text), "Sallow Draw"));
    cr_expect_null(strstr(paper_decoded(&lab, buyer_text), "Sallow Draw"));
    cr_expect(strstr(buyer_text, "\"foreign\":[{"));
    for (int i = 0; i < 2; i++) {
        const char *found =
            paper_judge_text(&lab, both_trusted(), i ? buyer_text : institution_text);

        cr_expect_eq(found[0], '0', "%d: %s", i, found);
    }
    cr_expect_eq(paper_judge_text(&lab, paper_trust(&lab), buyer_text)[0], '3');
}

Test(receive, its_years_elsewhere_are_told)
{
    const mb_json *before;

    cr_assert_eq(take(institution(), "WS-1", "gift", false), MB_OK, "%s", err.text);
    cr_assert_eq(mb_before(museum, lab.arena, "WS-1", &out, &err), MB_OK, "%s", err.text);
    before = mb_json_get(out, "before");
    cr_assert_eq(before->count, 1u);
    cr_expect(mb_json_text_is(mb_json_get(before->first, "subject"), "specimen/26-0130"));
    cr_expect_geq(mb_json_get(before->first, "entries")->count, 2u);
    cr_assert_eq(mb_before(lab.ledger, lab.arena, "26-0130", &out, &err), MB_OK);
    cr_expect_eq(mb_json_get(out, "before")->count, 0u);
    cr_expect(mb_json_text_is(mb_json_get(mb_json_get(out, "sides")->first, "sides"), "one-sided"));
}

Test(receive, the_other_side_signs_and_the_giver_records_it)
{
    static const struct mb_typed by[] = { { "by", "party/P005", NULL } };
    struct mb_countersign_wish wish = { .path = institution() };
    const char *jws;
    int64_t before;

    err = (struct mb_error){ 0 };
    cr_expect_eq(mb_countersign_sign(lab.ledger, lab.arena, &wish, &out, &err), MB_REFUSED,
                 "the giver is not the other side");
    err = (struct mb_error){ 0 };
    cr_assert_eq(mb_countersign_sign(museum, lab.arena, &wish, &out, &err), MB_OK, "%s", err.text);
    jws = paper_file(&lab, "it.countersign", mb_json_str(mb_json_get(out, "jws")));
    cr_expect_eq(mb_countersign_record(museum, lab.arena, jws, by, 1, &out, &err), MB_REFUSED,
                 "it is over no entry of the museum's");
    err = (struct mb_error){ 0 };
    cr_assert_eq(mb_countersign_record(lab.ledger, lab.arena, jws, by, 1, &out, &err), MB_OK, "%s",
                 err.text);
    before = size_of(lab.ledger);
    cr_assert_eq(mb_countersign_record(lab.ledger, lab.arena, jws, by, 1, &out, &err), MB_OK);
    cr_expect(mb_json_get(out, "already"));
    cr_expect_eq(size_of(lab.ledger), before);
    cr_assert_eq(mb_before(lab.ledger, lab.arena, "26-0130", &out, &err), MB_OK);
    cr_expect(mb_json_text_is(mb_json_get(mb_json_get(out, "sides")->first, "sides"),
                              "signed with a key"));
    cr_expect_str_eq(workbench_verify(&lab), "unknown-ledger");
}

Test(receive, a_key_of_their_own_is_made_once_and_opens_by_its_passphrase)
{
    struct mb_countersign_wish wish = { .path = institution(),
                                        .own_folder = mb_path_join(lab.arena, folder, "stick"),
                                        .own_passphrase = MB_STR("a registrar's own") };
    const char *kid;

    err = (struct mb_error){ 0 };
    cr_expect_not(mb_countersign_has_key(lab.arena, wish.own_folder));
    cr_assert_eq(mb_countersign_sign(NULL, lab.arena, &wish, &out, &err), MB_OK, "%s", err.text);
    kid = mb_json_cstr(lab.arena, mb_json_get(out, "kid"));
    cr_expect(mb_json_true(mb_json_get(out, "made")));
    cr_expect(mb_countersign_has_key(lab.arena, wish.own_folder));
    cr_assert_eq(mb_countersign_sign(NULL, lab.arena, &wish, &out, &err), MB_OK);
    cr_expect(mb_json_text_is(mb_json_get(out, "kid"), kid));
    wish.own_passphrase = MB_STR("another one than theirs");
    cr_expect_eq(mb_countersign_sign(NULL, lab.arena, &wish, &out, &err), MB_REFUSED);
}
