/* What people, land owners and the issuer of one certificate want kept back or shown. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include "paper.h"
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

TestSuite(wishes, .init = set_up, .fini = tear_down);

#define PAPER(...) paper_must(&b, (struct paper_wish){ __VA_ARGS__ })

static bool warned(const char *part)
{
    MB_JSON_EACH(one, mb_json_get(b.out, "warnings"))
    {
        if (strstr(mb_json_cstr(b.arena, one), part))
            return true;
    }
    return false;
}

/* Holds with the ledger trusted, and is left open without. */
static void expect_sound(const char *file, const char *what)
{
    const char *trusted = paper_judge_text(&b, paper_trust(&b), file);
    const char *unknown = paper_judge_text(&b, NULL, file);

    cr_expect(trusted[0] == '0', "%s: %s", what, trusted);
    cr_expect(unknown[0] == '3' && strstr(unknown, "unknown-ledger"), "%s: %s", what, unknown);
}

/* ---- who may be named ---- */

static const struct {
    const char *party, *audience;
    bool named, listed; /* listed: said to be withheld */
} naming[] = {
    { "P001", "buyer", true, false },        /* anyone: beyond the class */
    { "P001", "public", true, false },
    { "P002", "buyer", true, false },        /* buyers */
    { "P002", "auditor", true, false },
    { "P002", "institution", true, false },
    { "P002", "public", false, false },
    { "P004", "buyer", false, false },       /* institutions and land managers only */
    { "P004", "institution", true, false },
    { "P004", "auditor", true, false },
    { "P003", "buyer", false, false },       /* nobody: not even where the class would allow it */
    { "P003", "institution", false, true },
    { "P003", "auditor", false, false },
};

Test(wishes, a_person_is_named_as_far_as_the_person_allowed)
{
    stock_find(&b, "26-0115");
    for (size_t i = 0; i < COUNT(naming); i++) {
        const char *file = PAPER(.specimens = "26-0115", .audience = naming[i].audience,
                                 .to = naming[i].party);
        const char *party = mb_arena_printf(b.arena, "party/%s", naming[i].party);
        bool shown = strstr(paper_shows(&b, file, party), "party.name") != NULL;

        cr_expect_eq(shown, naming[i].named, "%s to a %s", naming[i].party, naming[i].audience);
        cr_expect_eq(paper_withheld(&b, file, "a person's request") > 0,
                     naming[i].listed || strcmp(naming[i].audience, "institution") == 0,
                     "%s to a %s (P003 found it)", naming[i].party, naming[i].audience);
        expect_sound(file, naming[i].party);
    }
}

/* A name that was corrected is still that person's name. */
Test(wishes, a_wish_covers_the_corrected_name_too)
{
    int64_t party = workbench_must(&b, "party", "P020", "partyType=person", "name=Wrenn Castelane",
                                   "namedTo=nobody", "neutralLabel=a helper", NULL);
    const char *file;

    workbench_must(&b, "correction", "party/P020",
                   mb_arena_printf(b.arena, "target=#%lld", (long long)party),
                   "action=change fields", "why=typing", "changesFacts=no",
                   "name=Wren Castellane the elder", NULL);
    stock_find(&b, "26-0115");
    file = PAPER(.specimens = "26-0115", .audience = "institution", .to = "P020");
    cr_expect_null(strstr(paper_shows(&b, file, "party/P020"), "name"), "%s",
                   paper_shows(&b, file, "party/P020"));
    cr_expect_geq(paper_withheld(&b, file, "a person's request"), 2);
    expect_sound(file, "corrected name");
}

/* ---- how finely a place may be told ---- */

Test(wishes, a_place_is_told_no_finer_than_its_site_allows)
{
    const char *file;

    stock_lot(&b, "26-0240", 240);
    file = PAPER(.specimens = "26-0240", .audience = "buyer", .to = "bearer");
    cr_expect_str_eq(paper_line(&b, file, 0, "stateProvince"), "\"Kansas\"");
    cr_expect_str_eq(paper_line(&b, file, 0, "county"), "");
    cr_expect_null(strstr(paper_shows(&b, file, "site/S002"), "county"));
    cr_expect_eq(paper_withheld(&b, file, "landowner's request"), 1);
    expect_sound(file, "state only");
    file = PAPER(.specimens = "26-0240", .audience = "institution", .to = "P005");
    cr_expect_str_eq(paper_line(&b, file, 0, "county"), "\"Logan\"");
    expect_sound(file, "an institution sees the place");
    /* S001 allows the county, which is what the kind `site` proposes */
    stock_find(&b, "26-0115");
    file = PAPER(.specimens = "26-0115", .audience = "buyer", .to = "bearer");
    cr_expect_str_eq(paper_line(&b, file, 0, "county"), "\"Gove\"");
    expect_sound(file, "county");
}

Test(wishes, a_corrected_place_is_held_back_as_the_first_one_was)
{
    const char *file;

    int64_t site;

    for (site = workbench_size(&b); site-- > 0;)
        if (mb_str_is(workbench_entry(&b, site).sub, "site/S002")
            && mb_str_is(workbench_entry(&b, site).kind, "site"))
            break;
    stock_lot(&b, "26-0240", 240);
    workbench_must(&b, "correction", "site/S002",
                   mb_arena_printf(b.arena, "target=#%lld", (long long)site),
                   "action=change fields", "why=typing", "changesFacts=yes", "county=Wallace",
                   NULL);
    file = PAPER(.specimens = "26-0240", .audience = "buyer", .to = "bearer");
    cr_expect_null(strstr(paper_shows(&b, file, "site/S002"), "county"), "%s",
                   paper_shows(&b, file, "site/S002"));
    cr_expect_eq(paper_withheld(&b, file, "landowner's request"), 2);
    cr_expect_str_eq(paper_line(&b, file, 0, "county"), "");
    expect_sound(file, "corrected county");
}

/* ---- what this one export withholds or reveals ---- */

Test(wishes, a_field_can_be_withheld_with_a_reason)
{
    const char *file;

    stock_find(&b, "26-0115");
    file = PAPER(.specimens = "26-0115", .audience = "buyer", .to = "bearer",
                 .withhold = "eventDate: our own decision");
    cr_expect_str_eq(paper_line(&b, file, 0, "eventDate"), "");
    cr_expect_eq(paper_withheld(&b, file, "our own decision"), 1);
    cr_expect_not(warned("eventDate"));
    expect_sound(file, "withheld");
    file = PAPER(.specimens = "26-0115", .audience = "buyer", .to = "bearer");
    cr_expect_str_eq(paper_line(&b, file, 0, "eventDate"), "\"2026-05-30\"", "for once only");
}

static const struct {
    const char *what;
    struct paper_wish wish;
    const char *said;
} refusals[] = {
    { "no reason", { .withhold = "eventDate: " }, "'' is no reason to withhold; choose one of: " },
    { "another reason", { .withhold = "eventDate: a whim" },
      "'a whim' is no reason to withhold; choose one of: " },
    { "a field misspelt", { .withhold = "eventDat: our own decision" },
      "there is no field 'eventDat' to withhold (did you mean 'eventDate'?)" },
    { "a field unheard of", { .withhold = "xylophone: our own decision" },
      "there is no field 'xylophone' to withhold" },
    { "a field in clear", { .withhold = "objectForm: our own decision" },
      "'objectForm' is open: it stands in clear in every file, and cannot be withheld" },
    { "the statement", { .withhold = "statement: our own decision" },
      "'statement' is part of every certificate, and cannot be withheld" },
    { "a revealed field misspelt", { .reveal = "siteNam" },
      "there is no field 'siteNam' to reveal (did you mean 'siteName'?)" },
    { "no such audience", { .audience = "byer" },
      "there is no audience 'byer'; choose public, buyer, institution or auditor" },
    { "no such party", { .to = "P999" },
      "there is no party 'P999': record it first, or say --to bearer" },
    { "no party", { .to = "site/S001" },
      "there is no party 'site/S001': record it first, or say --to bearer" },
    { "no such specimen", { .specimens = "26-9999" },
      "there is no specimen '26-9999' in this ledger; `markerbed find` searches" },
    { "no specimen", { .specimens = "site/S001" },
      "there is no specimen 'site/S001' in this ledger; `markerbed find` searches" },
    { "none named", { .specimens = "" }, "name 1 to 500 specimens" },
    { "one named twice", { .specimens = "26-0115 specimen/26-0115" },
      "specimen 'specimen/26-0115' is named twice" },
};

Test(wishes, what_cannot_be_is_refused_and_records_nothing)
{
    int64_t size;

    stock_find(&b, "26-0115");
    size = workbench_size(&b);
    for (size_t i = 0; i < COUNT(refusals); i++)
        for (int preview = 0; preview < 2; preview++) {
            struct paper_wish wish = refusals[i].wish;

            wish.preview = preview;
            wish.audience = wish.audience ? wish.audience : "buyer";
            wish.to = wish.to ? wish.to : "bearer";
            wish.specimens = wish.specimens ? wish.specimens : "26-0115";
            cr_expect_eq(paper_issue(&b, wish), MB_REFUSED, "%s", refusals[i].what);
            cr_expect(strncmp(b.err.text, refusals[i].said, strlen(refusals[i].said)) == 0,
                      "%s: %s", refusals[i].what, b.err.text);
            cr_expect_null(b.out, "%s", refusals[i].what);
        }
    cr_expect_eq(workbench_size(&b), size);
    cr_expect_str_eq(workbench_verify(&b), "unknown-ledger");
}

Test(wishes, what_was_asked_for_and_changes_nothing_is_said)
{
    stock_find(&b, "26-0115");
    /* a field that exists, and is nowhere in what a buyer would see */
    paper_must(&b, (struct paper_wish){ .specimens = "26-0115", .audience = "buyer",
                                        .to = "bearer",
                                        .withhold = "county: our own decision |"
                                                    " siteName: landowner's request |"
                                                    " price: our own decision",
                                        .reveal = "phone" });
    cr_expect(warned("Nothing is called 'siteName'"));
    cr_expect(warned("Nothing is called 'price'"));
    cr_expect(warned("Nothing is called 'phone'"));
    cr_expect_not(warned("county"));
    cr_expect(warned("specimen/26-0115 has no condition on record: the sheet will say"
                     " 'not examined'"));
}

Test(wishes, single_fields_are_revealed_beyond_the_class)
{
    const char *file;

    stock_find(&b, "26-0115");
    file = PAPER(.specimens = "26-0115", .audience = "buyer", .to = "bearer",
                 .reveal = "recordNumber remarks");
    cr_expect(strstr(paper_shows(&b, file, "specimen/26-0115"), "collecting.recordNumber"));
    cr_expect(strstr(paper_shows(&b, file, "specimen/26-0115"), "collecting.remarks"));
    cr_expect_null(strstr(paper_shows(&b, file, "specimen/26-0115"), "fieldDay"));
    expect_sound(file, "revealed");
    /* what a shown reference names comes along */
    file = PAPER(.specimens = "26-0115", .audience = "buyer", .to = "bearer",
                 .reveal = "fieldDay");
    cr_expect(strstr(paper_holds(&b, file), "field-day/D001 1"));
    expect_sound(file, "field-day");
    /* withholding is stronger */
    file = PAPER(.specimens = "26-0115", .audience = "buyer", .to = "bearer",
                 .reveal = "recordNumber", .withhold = "recordNumber: our own decision");
    cr_expect_null(strstr(paper_shows(&b, file, "specimen/26-0115"), "recordNumber"));
    expect_sound(file, "both");
}

/* Revealing a field lifts its class, not what a person or a landowner asked for. */
Test(wishes, revealing_is_weaker_than_a_wish)
{
    const char *file;

    stock_lot(&b, "26-0240", 240);
    file = PAPER(.specimens = "26-0240", .audience = "buyer", .to = "P011",
                 .reveal = "name siteName county municipality decimalLatitude");
    cr_expect_null(strstr(paper_shows(&b, file, "party/P003"), "name"));
    cr_expect_null(strstr(paper_shows(&b, file, "party/P011"), "name"));
    cr_expect_str_eq(paper_shows(&b, file, "site/S002"),
                     "land-status.landCategory, land-status.madeFrom, site.madeFrom,"
                     " site.placeFinestAllowed, site.placeHeldBackBy, site.stateProvince");
    cr_expect(warned("'name' of party/P003 stays hidden (a person's request)"));
    cr_expect(warned("'decimalLatitude' of site/S002 stays hidden (landowner's request)"));
    expect_sound(file, "revealed against a wish");
}

/* A piece whose beginning was struck out: nothing is "shown" of it, and it is not sold. */
Test(wishes, what_was_struck_out_is_not_shown_on_the_record)
{
    int64_t find = stock_find(&b, "26-0119");
    const char *standing;

    workbench_must(&b, "correction", "specimen/26-0119",
                   mb_arena_printf(b.arena, "target=#%lld", (long long)find),
                   "action=void (did not happen)", "why=typing", "changesFacts=yes", NULL);
    cr_assert_eq(paper_issue(&b, (struct paper_wish){ "26-0119", "buyer", "bearer", "", "", false,
                                                      false }),
                 MB_REFUSED);
    cr_expect(strstr(b.err.text, "was struck out, so no sheet for a sale is made"), "%s",
              b.err.text);
    standing = paper_line(&b, PAPER("26-0119", "auditor", "P004", "", "", false, false), 0,
                          "standing");
    cr_expect_not(strstr(standing, "shown on the record"), "%s", standing);
    cr_expect(strstr(standing, "collecting: incomplete (00 struck-out)"), "%s", standing);

    stock_find(&b, "26-0119"); /* again, and rightly */
    standing = paper_line(&b, PAPER("26-0119", "buyer", "bearer", "", "", false, false), 0,
                          "standing");
    cr_expect_not(strstr(standing, "struck-out"), "%s", standing);
}
