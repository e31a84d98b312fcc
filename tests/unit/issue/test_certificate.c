/* What a certificate carries, for whom, and what it keeps back: docs/format.md section 6. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include <markerbed/certificate.h>

#include "outside.h"
#include "paper.h"
#include "sample_jpeg.h"
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

TestSuite(certificate, .init = set_up, .fini = tear_down);

#define PAPER(...) paper_must(&b, (struct paper_wish){ __VA_ARGS__ })
#define BUYER(id, ...) PAPER(.specimens = id, .audience = "buyer", .to = "P011", __VA_ARGS__)

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

/* ---- whose chains come along ---- */

static const struct {
    const char *audience, *to, *holds;
} closures[] = {
    /* a buyer sees the find's site, layer, permission and finders, and is named; of the site's and
     * the permission's own references (land) nothing */
    { "buyer", "P011",
      "horizon/H-A 1, ledger 1, party/P001 1, party/P003 1, party/P011 1, permission/L001 1,"
      " site/S001 2, specimen/26-0115 2" },
    { "buyer", "bearer",
      "horizon/H-A 1, ledger 1, party/P001 1, party/P003 1, permission/L001 1, site/S001 2,"
      " specimen/26-0115 2" },
    /* the day and its paper are science: its own references lead no further */
    { "institution", "P005",
      "field-day/D001 1, horizon/H-A 1, ledger 1, party/P001 1, party/P003 1, party/P005 1,"
      " permission/L001 1, site/S001 2, specimen/26-0115 2" },
    { "auditor", "bearer",
      "horizon/H-A 1, ledger 1, party/P001 1, party/P003 1, permission/L001 1, site/S001 2,"
      " specimen/26-0115 2" },
    /* nothing that names anything is open */
    { "public", "bearer", "ledger 1, specimen/26-0115 2" },
};

Test(certificate, what_a_shown_field_names_comes_along_and_no_more)
{
    stock_find(&b, "26-0115");
    for (size_t i = 0; i < COUNT(closures); i++) {
        const char *file = PAPER(.specimens = "26-0115", .audience = closures[i].audience,
                                 .to = closures[i].to);
        const char *holds = paper_holds(&b, file);
        /* each certificate is an entry more on the specimen */
        size_t but_last = strlen(closures[i].holds) - 1;
        const char *want = mb_arena_printf(b.arena, "%.*s%zu", (int)but_last, closures[i].holds,
                                           i + 2);

        cr_expect_str_eq(holds, want, "%s to %s", closures[i].audience, closures[i].to);
        expect_sound(file, closures[i].audience);
    }
}

/* From a leased site onward: the owner and the grantor, by what the audience sees. */
Test(certificate, of_sites_and_permissions_only_owners_and_grantors_come_along)
{
    const char *file;

    stock_lot(&b, "26-0240", 240);
    file = PAPER(.specimens = "26-0240", .audience = "buyer", .to = "bearer");
    cr_expect_str_eq(paper_holds(&b, file),
                     "horizon/H-A 1, ledger 1, party/P003 1, permission/L002 1, site/S002 2,"
                     " specimen/26-0240 2");
    expect_sound(file, "buyer");
    file = PAPER(.specimens = "26-0240", .audience = "auditor", .to = "bearer");
    /* P006 owns and grants; P001, the holder of the lease, is not followed from there */
    cr_expect_str_eq(paper_holds(&b, file),
                     "horizon/H-A 1, ledger 1, party/P003 1, party/P006 1, permission/L002 1,"
                     " site/S002 2, specimen/26-0240 3");
    expect_sound(file, "auditor");
}

Test(certificate, whoever_signed_comes_with_the_chain_of_the_key)
{
    static const char *const may[] = { "preparation", "condition" };
    struct mb_key_adding adding = { .label = "teodor", .holder = "P002", .may = may,
                                    .may_count = 2,
                                    .passphrase = MB_STR(WORKBENCH_PASSPHRASE) };
    const char *file;

    stock_find(&b, "26-0115");
    cr_assert_eq(mb_key_add(b.ledger, b.arena, &adding, &b.out, &b.err), MB_OK, "%s", b.err.text);
    workbench_reopen(&b, "teodor");
    workbench_must(&b, "preparation", "26-0115", "steps=method:airscribe; where:left margin",
                   "lostInWork=none", NULL);
    cr_expect_eq(paper_issue(&b, (struct paper_wish){ .specimens = "26-0115", .audience = "buyer",
                                                      .to = "bearer" }),
                 MB_REFUSED, "a preparator's key issues no certificates");
    workbench_reopen(&b, "ottoline");
    file = PAPER(.specimens = "26-0115", .audience = "public", .to = "bearer");
    cr_expect_str_eq(paper_holds(&b, file), "key 1, ledger 1, specimen/26-0115 3");
    expect_sound(file, "public");
    cr_assert_eq(mb_key_retire(b.ledger, b.arena, "teodor", "left", -1, &b.out, &b.err), MB_OK,
                 "%s", b.err.text);
    file = PAPER(.specimens = "26-0115", .audience = "public", .to = "bearer");
    cr_expect_str_eq(paper_holds(&b, file), "key 2, ledger 1, specimen/26-0115 4");
    expect_sound(file, "retired since");
}

Test(certificate, a_piece_drawn_from_a_lot_brings_the_lot_up_to_that_drawing)
{
    const char *file;

    stock_lot(&b, "26-0240", 240);
    stock_divide(&b, "26-0240", "specimen:26-0241; form:lot; quantity:80", "160", "0");
    workbench_must(&b, "note", "specimen/26-0240", "text=later", NULL);
    stock_divide(&b, "26-0240", "specimen:26-0242; form:lot; quantity:60", "100", "0");
    file = PAPER(.specimens = "26-0241", .audience = "buyer", .to = "bearer");
    /* the lot: found, and divided into 26-0241; what the lot's own fields name comes along too */
    cr_expect_str_eq(paper_holds(&b, file),
                     "horizon/H-A 1, ledger 1, party/P002 1, party/P003 1, permission/L002 1,"
                     " site/S002 2, specimen/26-0240 2, specimen/26-0241 2");
    expect_sound(file, "26-0241");
    file = PAPER(.specimens = "26-0242", .audience = "buyer", .to = "bearer");
    /* (two certificates were not issued of the lot itself) */
    cr_expect_str_eq(paper_holds(&b, file),
                     "horizon/H-A 1, ledger 1, party/P002 1, party/P003 1, permission/L002 1,"
                     " site/S002 2, specimen/26-0240 4, specimen/26-0242 2");
    expect_sound(file, "26-0242");
    /* two pieces of one lot together: the lot up to the later drawing, once */
    file = PAPER(.specimens = "26-0242 26-0241", .audience = "buyer", .to = "bearer");
    cr_expect_str_eq(paper_holds(&b, file),
                     "horizon/H-A 1, ledger 1, party/P002 1, party/P003 1, permission/L002 1,"
                     " site/S002 2, specimen/26-0240 4, specimen/26-0241 3, specimen/26-0242 3");
    expect_sound(file, "both");
}

/* Which pieces came out besides is nobody's business: only our own element of `into` is shown. */
Test(certificate, of_a_division_only_the_piece_itself_is_named)
{
    const char *file;

    stock_lot(&b, "26-0240", 240);
    stock_divide(&b, "26-0240",
                 "specimen:26-0241; form:lot; quantity:80 | specimen:26-0242; form:lot;"
                 " quantity:60",
                 "100", "0");
    for (int i = 0; i < 3; i++) {
        static const char *const audience[] = { "buyer", "institution", "auditor" };

        file = PAPER(.specimens = "26-0241", .audience = audience[i], .to = "bearer");
        cr_expect(strstr(paper_shows(&b, file, "specimen/26-0240"), "division.into"), "%s",
                  audience[i]);
        expect_sound(file, audience[i]);
    }
    file = paper_decoded(&b, PAPER(.specimens = "26-0241", .audience = "institution",
                                   .to = "bearer"));
    cr_expect(strstr(file, "26-0241"));
    cr_expect_null(strstr(file, "26-0242"));
}

Test(certificate, a_whole_brings_its_parts)
{
    const char *file;

    stock_find(&b, "26-0301");
    stock_find(&b, "26-0302");
    workbench_must(&b, "joining", "26-0300", "parts=26-0301 | 26-0302", "why=refit",
                   "sameIndividual=yes", "association=found together", "removable=yes",
                   "doneBy=P002", NULL);
    file = PAPER(.specimens = "26-0300", .audience = "buyer", .to = "bearer");
    cr_expect_str_eq(paper_holds(&b, file),
                     "horizon/H-A 1, ledger 1, party/P001 1, party/P002 1, party/P003 1,"
                     " permission/L001 1, site/S001 2, specimen/26-0300 2, specimen/26-0301 2,"
                     " specimen/26-0302 2");
    expect_sound(file, "the whole");
    file = PAPER(.specimens = "26-0301", .audience = "buyer", .to = "bearer");
    cr_expect(strstr(paper_holds(&b, file), "specimen/26-0301 3"));
    cr_expect_null(strstr(paper_holds(&b, file), "26-0302"), "a part does not bring the others");
    expect_sound(file, "a part");
}

/* ---- which classes are shown ---- */

static const struct {
    const char *audience, *shows; /* of the find */
} classes[] = {
    { "public", "" },
    { "buyer",
      "collecting.eventDate, collecting.horizon, collecting.inPlace, collecting.materialClass,"
      " collecting.objectQuantity, collecting.permission, collecting.quantityHow,"
      " collecting.recordedBy, collecting.site, collecting.verbatimIdentification" },
    { "auditor",
      "collecting.eventDate, collecting.horizon, collecting.inPlace, collecting.materialClass,"
      " collecting.objectQuantity, collecting.permission, collecting.purpose,"
      " collecting.quantityHow, collecting.recordedBy, collecting.site, collecting.tools,"
      " collecting.verbatimIdentification" },
    { "institution",
      "collecting.eventDate, collecting.fieldDay, collecting.horizon, collecting.inPlace,"
      " collecting.materialClass, collecting.objectQuantity, collecting.permission,"
      " collecting.purpose, collecting.quantityHow, collecting.recordNumber,"
      " collecting.recordedBy, collecting.site, collecting.tools,"
      " collecting.verbatimIdentification" },
};

/* Some fields the door fills in for itself (madeFrom and the like); they are looked past here. */
static bool shows_all(const char *shown, const char *wanted)
{
    struct mb_str rest = mb_str_of(wanted), one;

    while (rest.len) {
        const char *name;

        mb_str_cut(rest, ',', &one, &rest);
        one = mb_str_trim(one);
        name = mb_arena_copy(b.arena, one.at, one.len);
        if (one.len && !strstr(shown, name))
            return false;
    }
    return true;
}

Test(certificate, each_audience_is_shown_its_classes_and_no_others)
{
    stock_find(&b, "26-0115");
    for (size_t i = 0; i < COUNT(classes); i++) {
        const char *file = PAPER(.specimens = "26-0115", .audience = classes[i].audience,
                                 .to = "bearer");
        const char *shown = paper_shows(&b, file, "specimen/26-0115");

        cr_expect(shows_all(shown, classes[i].shows), "%s: %s", classes[i].audience, shown);
        cr_expect_null(strstr(shown, "collecting.remarks"), "%s", classes[i].audience);
        for (size_t j = i + 1; j < COUNT(classes) && i != 1; j++)
            cr_expect_not(shows_all(shown, classes[j].shows), "%s as %s", classes[i].audience,
                          classes[j].audience);
    }
}

/* No value that was kept back stands in the file in any form that a reader could undo. */
Test(certificate, what_is_not_for_a_buyer_is_not_in_the_file)
{
    static const char *const secrets[] = { "Sallow Draw", "38.94127",   "-100.31442",
                                           "T-26-0115",   "left of the fence", "1200",
                                           "Wren Castellane", "Priya Lindqvist", "D001",
                                           "deed seen" };
    const char *file, *all;

    stock_find(&b, "26-0115");
    stock_sold(&b, "26-0115");
    file = BUYER("26-0115");
    all = paper_decoded(&b, file);
    cr_expect(strstr(all, "rust spot"), "the looking finds what is shown");
    cr_expect(strstr(all, "Harrow"));
    for (size_t i = 0; i < COUNT(secrets); i++) {
        cr_expect_null(strstr(all, secrets[i]), "%s", secrets[i]);
    }
    expect_sound(file, "buyer");
}

/* ---- photographs and papers ---- */

#define SECRET "38.94127 N, Wren's camera"

static const char *photo(const char *name, bool secret)
{
    struct sample_jpeg how = { .width_px = secret ? 320 : 300, .height_px = 240, .turn = 1,
                               .secret = secret ? SECRET : NULL };

    if (!secret)
        how.turn = 0;
    return paper_file(&b, name, sample_jpeg(b.arena, &how));
}

Test(certificate, only_pictures_that_tell_no_place_travel_to_a_buyer)
{
    const char *lease = paper_file(&b, "lease.txt", MB_STR("the lease of the east cut\n"));
    const char *file;

    stock_find(&b, "26-0115");
    workbench_must(&b, "document", "specimen/26-0115", "docType=letter", "title=a letter",
                   "docDate=2026-05-01", "issuedBy=not known",
                   mb_arena_printf(b.arena, "file=%s", lease), NULL);
    workbench_must(&b, "note", "specimen/26-0115", "text=seen from the front",
                   mb_arena_printf(b.arena, "--attach %s", photo("front.jpg", true)),
                   mb_arena_printf(b.arena, "--attach %s", photo("back.jpg", false)), NULL);
    file = BUYER("26-0115");
    cr_expect_eq(paper_files(&b, file), 2);
    expect_sound(file, "buyer");
    cr_expect_null(strstr(paper_judge_text(&b, NULL, file), "no-view"));
    cr_expect_null(memmem(file, strlen(file), SECRET, strlen(SECRET)));
    file = PAPER(.specimens = "26-0115", .audience = "institution", .to = "P005");
    cr_expect_eq(paper_files(&b, file), 4, "as taken, and the paper: %zu", paper_files(&b, file));
    expect_sound(file, "institution");
    file = PAPER(.specimens = "26-0115", .audience = "public", .to = "bearer");
    cr_expect_eq(paper_files(&b, file), 0);
    expect_sound(file, "public");
}

Test(certificate, a_file_that_cannot_come_along_is_said)
{
    struct mb_str said;
    const char *file;

    stock_find(&b, "26-0115");
    workbench_must(&b, "note", "specimen/26-0115", "text=front",
                   mb_arena_printf(b.arena, "--attach %s", photo("front.jpg", false)), NULL);
    cr_assert_eq(outside_run(b.arena, &said, "rm -r '%s/files'", b.folder), 0);
    file = BUYER("26-0115");
    cr_expect_eq(paper_files(&b, file), 0);
    cr_expect(warned("is not in the ledger any more and cannot come along"));
    cr_expect(strstr(paper_judge_text(&b, paper_trust(&b), file), "0 file-not-here, no-view"), "%s",
              paper_judge_text(&b, paper_trust(&b), file));
    outside_end();
}

/* ---- several pieces in one file ---- */

Test(certificate, several_specimens_stand_in_one_file)
{
    const char *file;
    int64_t size;

    stock_find(&b, "26-0115");
    stock_find(&b, "26-0116");
    stock_lot(&b, "26-0240", 240);
    size = workbench_size(&b);
    file = PAPER(.specimens = "26-0240 26-0115 26-0116", .audience = "buyer", .to = "P011");
    cr_expect_eq(workbench_size(&b), size + 3);
    cr_expect_str_eq(paper_line(&b, file, 0, "objectQuantity"), "240");
    cr_expect_str_eq(paper_line(&b, file, 1, "objectQuantity"), "1");
    cr_expect_str_eq(paper_line(&b, file, 2, "stateProvince"), "\"Kansas\"");
    expect_sound(file, "three");
}

/* What is kept back stands in the certificate of the piece that it is of: an entry is small. */
Test(certificate, many_pieces_may_keep_back_much)
{
    const char *ids = "", *file;
    size_t told = 0;

    for (int i = 0; i < 120; i++) {
        const char *id = mb_arena_printf(b.arena, "26-%04d", i);

        stock_find(&b, id);
        ids = mb_arena_printf(b.arena, "%s%s%s", ids, i ? " " : "", id);
    }
    file = PAPER(.specimens = ids, .audience = "buyer", .to = "P011",
                 .withhold = "eventDate: our own decision | inPlace: our own decision |"
                             " quantityHow: our own decision | recordedBy: a person's request |"
                             " horizon: our own decision | site: landowner's request");
    expect_sound(file, "120 pieces, 720 fields kept back");
    MB_JSON_EACH(row, mb_json_get(mb_json_at(mb_json_get(b.out, "files"), 0), "withheld"))
    {
        told += mb_json_text_is(mb_json_get(row, "kind"), "collecting");
    }
    cr_expect_eq(told, 720);
}

Test(certificate, a_preview_records_nothing_and_shows_the_same)
{
    struct paper_wish wish = { .specimens = "26-0115", .audience = "buyer", .to = "P011",
                               .withhold = "county: our own decision", .preview = true };
    const mb_json *statement, *withheld;
    int64_t size;

    stock_find(&b, "26-0115");
    size = workbench_size(&b);
    cr_assert_eq(paper_issue(&b, wish), MB_OK, "%s", b.err.text);
    cr_expect_eq(workbench_size(&b), size);
    cr_expect_null(mb_json_get(b.out, "file"));
    cr_expect_null(mb_json_get(b.out, "seq"));
    statement = mb_json_get(b.out, "statement");
    withheld = mb_json_get(b.out, "withheld");
    wish.preview = false;
    cr_assert_eq(paper_issue(&b, wish), MB_OK);
    cr_expect(mb_json_equal(mb_json_get(b.out, "statement"), statement));
    cr_expect(mb_json_equal(mb_json_get(b.out, "withheld"), withheld));
    cr_expect_eq(workbench_size(&b), size + 1);
}

/* ---- later ---- */

Test(certificate, a_second_one_holds_the_first_with_its_own_lines_kept_back)
{
    const char *first, *second, *third;
    int64_t find = stock_find(&b, "26-0115");

    first = PAPER(.specimens = "26-0115", .audience = "institution", .to = "P005");
    second = PAPER(.specimens = "26-0115", .audience = "buyer", .to = "P011");
    cr_expect_str_eq(paper_line(&b, second, 0, "earlierCertificates"),
                     "[{\"audience\":\"institution\"}]");
    cr_expect_str_eq(paper_line(&b, second, 1, "earlierCertificates"), "", "one statement shown");
    expect_sound(second, "second");
    workbench_must(&b, "correction", "specimen/26-0115",
                   mb_arena_printf(b.arena, "target=#%lld", (long long)find),
                   "action=change fields", "why=typing", "changesFacts=yes", "objectQuantity=2",
                   NULL);
    third = PAPER(.specimens = "26-0115", .audience = "buyer", .to = "P011");
    cr_expect_str_eq(paper_line(&b, third, 0, "objectQuantity"), "2");
    expect_sound(third, "after a correction");
    expect_sound(first, "the first still holds, as of its day");
    cr_expect_str_eq(paper_line(&b, first, 0, "objectQuantity"), "1");
}

Test(certificate, one_can_be_withdrawn_and_stays_what_it_was)
{
    const char *file, *id, *next;

    stock_find(&b, "26-0115");
    file = PAPER(.specimens = "26-0115", .audience = "buyer", .to = "P011");
    id = mb_json_cstr(b.arena, mb_json_get(b.out, "id"));
    cr_expect_eq(mb_certificate_withdraw(b.ledger, b.arena, id, "a whim", &b.out, &b.err),
                 MB_REFUSED);
    cr_expect(strstr(b.err.text, "'a whim' is no reason to withdraw; choose one of: replaced by"),
              "%s", b.err.text);
    b.err = (struct mb_error){ 0 };
    cr_expect_eq(mb_certificate_withdraw(b.ledger, b.arena,
                                         "sDnoqhLhjb-srs3N0R3Wv0KNuLo0eSh4CFItc8UnNRU",
                                         "sale undone", &b.out, &b.err),
                 MB_REFUSED);
    cr_expect(strstr(b.err.text, "this ledger issued no certificate sDno"), "%s", b.err.text);
    cr_assert_eq(mb_certificate_withdraw(b.ledger, b.arena, id, "sale undone", &b.out, &b.err),
                 MB_OK, "%s", b.err.text);
    expect_sound(file, "it says nothing of later");
    next = PAPER(.specimens = "26-0115", .audience = "buyer", .to = "P011");
    cr_expect(strstr(paper_holds(&b, next), "specimen/26-0115 4"));
    expect_sound(next, "and the next one tells");
    cr_expect_str_eq(workbench_verify(&b), "unknown-ledger");
}
