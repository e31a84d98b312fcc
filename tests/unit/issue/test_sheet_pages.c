/*
 * The sheet as a buyer reads it, judged by poppler (pdftotext, pdffonts, pdfdetach), qpdf and
 * zbarimg, none of them ours. With SHEET_PAGES=FOLDER the pages are left there to be looked at.
 */
#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <markerbed/certificate.h>

#include "fileio.h"
#include "outside.h"
#include "paper.h"
#include "sample_jpeg.h"
#include "session.h"
#include "sheet_bar.h"
#include "stock.h"
#include "text.h"

static struct workbench b;

static void set_up(void)
{
    stock_house(&b);
}

static void tear_down(void)
{
    workbench_done(&b);
    outside_end();
}

TestSuite(sheet_pages, .init = set_up, .fini = tear_down);

static const char *buyer(const char *id)
{
    return paper_must(&b, (struct paper_wish){ .specimens = id, .audience = "buyer",
                                               .to = "P011" });
}

static struct mb_str page_of(const char *file, const char *paper, const char *name)
{
    const char *folder = getenv("SHEET_PAGES");
    struct mb_str pdf = { NULL, 0 };

    cr_assert_eq(mb_sheet_pdf(b.arena, mb_str_of(file), paper, NULL, &pdf, &b.err), MB_OK, "%s",
                 b.err.text);
    outside_file(b.arena, name, pdf);
    if (folder)
        cr_assert_eq(mb_file_write(mb_path_join(b.arena, folder, name), pdf, 0644, &b.err), MB_OK,
                     "%s", b.err.text);
    return pdf;
}

static struct mb_str text_of(const char *name)
{
    struct mb_str text;

    cr_assert_eq(outside_run(b.arena, &text,
                             "pdftotext -layout %s - | sed 's,\\xc2\\xa0, ,g' | tr -s ' \\n' '  '",
                             name),
                 0);
    return text;
}

static void has(struct mb_str text, const char *part)
{
    cr_expect(outside_holds(text, part), "\"%s\" is missing in: %.*s", part, MB_STR_ARG(text));
}

static void has_not(struct mb_str text, const char *part)
{
    cr_expect_not(outside_holds(text, part), "\"%s\" stands in: %.*s", part, MB_STR_ARG(text));
}

/* The first stands before the second. */
static void before(struct mb_str text, const char *one, const char *other)
{
    char *all = mb_arena_copy(b.arena, text.at, text.len);
    const char *first = strstr(all, one), *second = strstr(all, other);

    cr_expect(first && second && first < second, "\"%s\" does not stand before \"%s\" in: %s", one,
              other, all);
}

/* Two crinoids, placed together, one of them with made parts. */
static void rich(const char *id)
{
    struct mb_str photo = sample_jpeg(
        b.arena, &(struct sample_jpeg){ .width_px = 1200, .height_px = 900, .noise = 20 });
    const char *attach =
        mb_arena_printf(b.arena, "--attach photos=%s", outside_file(b.arena, "slab.jpg", photo));

    stock_sold(&b, id);
    workbench_must(&b, "identification", id, "whatItIs=fossil with made parts",
                   "vernacularName=crinoid", "scientificName=not known",
                   "preservation=original mineral kept", "identifiedBy=P002",
                   "identifierTie=preparator", "sure=likely", NULL);
    workbench_must(&b, "preparation", id,
                   "steps=method:airabrasive; medium:dolomite powder; grainUm:40; mohs:3.5;"
                   " pressure:2.5 bar; where:both crowns | method:join; material:acrylic copolymer"
                   " resin; strength:30 %; solvent:acetone; removableWith:acetone",
                   "madeParts=part:left arm of B; substance:restored; madeOf:epoxy putty;"
                   " basis:symmetry; edgeVisible:yes",
                   "colour=on:made part; medium:acrylic paint; where:left arm of B",
                   "lostInWork=tip of one arm", "preparedBy=P002", NULL);
    workbench_must(
        &b, "condition", id, "occasion=for sale", "means=eye | lens | ultraviolet",
        "examinerTie=did the work", "notExamined=reverse | under the mount", "form=natural",
        "frame=visible fossil surface in the named views",
        "shares=individual:A; view:front; substance:original; percent:34.0; low:31.2; high:36.8;"
        " how:outline; n:14 | individual:A; view:front; substance:repaired; percent:60.0; low:57.0;"
        " high:63.0; how:outline; n:14 | individual:A; view:front; substance:filled; percent:4.0;"
        " low:3.1; high:5.2; how:outline; n:14 | individual:A; view:front; substance:restored;"
        " percent:2.0; low:1.4; high:2.9; how:outline; n:14 | individual:B; view:front;"
        " substance:original; band:over 50; how:estimate | individual:B; view:front;"
        " substance:restored; band:10-25; how:estimate",
        "individuals=label:A; association:same layer, placed together; setting:own rock |"
        " label:B; association:same layer, placed together; setting:reset in other rock",
        "joins=through:fossil; count:3; lengthMm:212.5; widestGapMm:0.4; adhesive:acrylic copolymer"
        " resin | through:rock; count:1; lengthMm:410.0",
        "rock=pieces:4; joined:yes; backedWith:plywood; tinted:no; carved:no; edges:sawn",
        "elementsCount=region:arms; expected:10; originalWhole:6; originalPart:2; made:1; absent:1",
        "elementScheme=arms of ten, as usual for the group",
        "identifyingMarks=mark:rust spot; where:left of crown A | mark:bent arm; where:crown B |"
        " mark:oyster; where:lower edge",
        "dimensions=which:length; value:42; unit:cm | which:width; value:31; unit:cm",
        "mass=3.4 kg", "numberOnObject=HV 26-0115, in black on the reverse", "outlines=none",
        "hazards=what:silica dust; state:not tested", "care=Keep dry. Lift by the plywood.", attach,
        NULL);
}

Test(sheet_pages, a_buyer_reads_what_it_is_before_all_else)
{
    struct mb_str text;

    OUTSIDE_NEEDS("pdftotext");
    stock_find(&b, "26-0115");
    rich("26-0115");
    page_of(buyer("26-0115"), "A4", "rich.pdf");
    text = text_of("rich.pdf");
    has(text, "With made parts: 2 individuals, same layer, placed together: crinoid");
    before(text, "That this is the piece", "How much is original");
    before(text, "How much is original", "Joins, surface, rock");
    before(text, "Joins, surface, rock", "What was done to it, in order");
    before(text, "What was done to it, in order", "Where, when and in which layer");
    before(text, "The land, as the record shows it", "Who held and owned it");
    before(text, "Who held and owned it", "Hazards and care");
    before(text, "Hazards and care", "How to check this sheet");
    has(text, "Mark 1 rust spot, left of crown A");
    has(text, "length 42 cm");
    has(text, "3.4 kg");
    has(text, "The range does not cover work that could not be seen.");
    has(text, "reverse and under the mount");
    has(text, "made part: left arm of B, restored, made of epoxy putty");
    has_not(text, "authentic");
    has_not(text, "no restoration");
    has_not(text, "complete provenance");
    has_not(text, "withheld");
    has_not(text, "party/");
}

/* By hand: 34.0 + 60.0 = 94.0; low ends 31.2 + 57.0 = 88.2, but the others are at most 5.2 + 2.9,
 * which leaves 91.9; high ends 36.8 + 63.0 = 99.8, but the others are at least 3.1 + 1.4, which
 * leaves 95.5. */
Test(sheet_pages, the_sum_comes_first_and_bands_never_have_a_figure)
{
    struct mb_str text;

    OUTSIDE_NEEDS("pdftotext");
    stock_find(&b, "26-0115");
    rich("26-0115");
    page_of(buyer("26-0115"), "A4", "rich.pdf");
    text = text_of("rich.pdf");
    has(text, "94 %, between 91.9 and 95.5");
    has(text, "34 % never off (solid), 60 % broken off and set back (slanted lines)");
    before(text, "Original in all", "Not original in all");
    before(text, "Not original in all", "4.0 %, between 3.1 and 5.2");
    has(text, "6 %, between 4.5 and 8.1");
    has(text, "over 50 %");
    has(text, "10-25 %");
    has(text, "estimated by eye");
}

Test(sheet_pages, of_a_piece_with_little_on_record_it_says_so)
{
    struct mb_str text;

    OUTSIDE_NEEDS("pdftotext");
    stock_find(&b, "26-0116");
    page_of(buyer("26-0116"), "Letter", "poor.pdf");
    text = text_of("poor.pdf");
    has(text, "Crinoid slab");
    has(text, "This paper could belong to another piece: the record does not show three marks that"
              " identify it, its size, its mass, the number written on it and a photo of it");
    has(text, "Nobody has recorded how much is original. Ask.");
    has(text, "No work is on record. That does not say that none was done.");
    has(text, "No owner is on record.");
    has(text, "No examination of it is on record");
    has_not(text, "Original in all");
}

Test(sheet_pages, a_cast_is_called_one_first_and_has_no_shares)
{
    struct mb_str text;

    OUTSIDE_NEEDS("pdftotext");
    stock_find(&b, "26-0117");
    stock_sold(&b, "26-0117");
    workbench_must(&b, "identification", "26-0117", "whatItIs=cast or copy",
                   "vernacularName=crinoid", "scientificName=not known",
                   "preservation=not known", "identifiedBy=P002", "identifierTie=preparator",
                   "sure=sure", NULL);
    page_of(buyer("26-0117"), "A4", "cast.pdf");
    text = text_of("cast.pdf");
    has(text, "Cast, not a fossil: crinoid");
    has(text, "Shares do not apply to a cast or copy.");
    has_not(text, "riginal");
}

Test(sheet_pages, what_is_kept_back_is_said_in_plain_words)
{
    struct mb_str text;
    const char *file;

    OUTSIDE_NEEDS("pdftotext");
    stock_find(&b, "26-0115");
    file = paper_must(&b, (struct paper_wish){ .specimens = "26-0115", .audience = "buyer",
                                               .to = "P011",
                                               .withhold = "county: landowner's request" });
    page_of(file, "A4", "kept.pdf");
    text = text_of("kept.pdf");
    has(text, "About the place where it was found:");
    has(text, "not given here, at the landowner's request.");
    has_not(text, "site/S001");
}

/* 400 steps with a long text each flow over pages: the first and the last are there. */
Test(sheet_pages, long_texts_flow_and_lose_nothing)
{
    char *steps = mb_arena_text(b.arena, ""), *name = mb_arena_text(b.arena, "");
    struct mb_str text;

    OUTSIDE_NEEDS("pdftotext");
    for (int i = 1; i <= 100; i++)
        steps = mb_arena_printf(b.arena, "%s%smethod:airscribe; where:spot number %d of the margin",
                                steps, i > 1 ? " | " : "", i);
    for (int i = 0; i < 30; i++)
        name = mb_arena_printf(b.arena, "%smark%d with ", name, i);
    stock_find(&b, "26-0118");
    stock_sold(&b, "26-0118");
    for (int i = 0; i < 4; i++)
        workbench_must(&b, "preparation", "26-0118", mb_arena_printf(b.arena, "steps=%s", steps),
                       mb_arena_printf(b.arena, "lostInWork=loss of sitting %d, %s", i, name),
                       "preparedBy=P002", NULL);
    page_of(buyer("26-0118"), "A4", "long.pdf");
    text = text_of("long.pdf");
    has(text, "spot number 1 of the margin");
    has(text, "spot number 100 of the margin");
    has(text, "loss of sitting 0");
    has(text, "loss of sitting 3");
    has(text, "mark29 with");
    has(text, "How to check this sheet");
}

Test(sheet_pages, the_file_is_sound_and_the_same_each_time)
{
    const char *file;
    struct mb_str first, again, out;

    OUTSIDE_NEEDS("qpdf");
    OUTSIDE_NEEDS("pdfdetach");
    OUTSIDE_NEEDS("zbarimg");
    stock_find(&b, "26-0115");
    rich("26-0115");
    file = buyer("26-0115");
    first = page_of(file, "Letter", "one.pdf");
    again = page_of(file, "Letter", "two.pdf");
    cr_expect(mb_str_equal(first, again));
    cr_expect_eq(outside_run(b.arena, &out, "qpdf --check one.pdf"), 0, "%.*s", MB_STR_ARG(out));
    cr_expect_eq(outside_run(b.arena, &out, "pdfdetach -saveall one.pdf"), 0);
    out = outside_read(b.arena, "certificate.json");
    cr_expect(mb_str_is(out, file));
    cr_expect_eq(outside_run(b.arena, &out, "pdffonts one.pdf | tail -n +3 | grep -vc 'yes yes'"),
                 1, "a font is not embedded: %.*s", MB_STR_ARG(out));
    /* it ends with 4, for the pages without a code */
    outside_run(b.arena, &out, "pdftoppm -r 150 -gray one.pdf raster && zbarimg -q raster*.pgm");
    has(out, "QR-Code:" WORKBENCH_ORIGIN);
}

/* Both pages say what the issued ones say, and nothing of a certificate is in them; the e2e test
 * sheet_demo.py compares them word by word. */
Test(sheet_pages, a_preview_is_the_page_without_what_proves_it)
{
    const char *specimen = "26-0115";
    struct mb_issue issue = { .specimens = &specimen, .count = 1, .audience = "buyer",
                              .to = "P011", .unmarked = true };
    struct mb_sheet_pages pages = { { NULL, 0 }, { NULL, 0 } };
    const mb_json *seen;
    struct mb_str text;
    int64_t before, behind;

    stock_find(&b, "26-0115");
    rich("26-0115");
    cr_assert_eq(mb_log_size(b.ledger->log, &before, &b.err), MB_OK);
    cr_expect_eq(mb_sheet_preview(b.ledger, b.arena, &issue, "A5", &pages, &seen, &b.err),
                 MB_REFUSED);
    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_sheet_preview(b.ledger, b.arena, &issue, "A4", &pages, &seen, &b.err), MB_OK,
                 "%s", b.err.text);
    cr_assert_eq(mb_log_size(b.ledger->log, &behind, &b.err), MB_OK);
    cr_expect_eq(before, behind);
    cr_expect_not(mb_json_get(seen, "file"));
    cr_expect_not(mb_json_get(seen, "id"));
    outside_file(b.arena, "preview.pdf", pages.pdf);
    text = text_of("preview.pdf");
    has(text, "PREVIEW, not signed");
    has(text, "94 %, between 91.9 and 95.5");
    has_not(text, "Signed by:");
    has(pages.html, "<p class=\"preview\">PREVIEW, not signed</p>");
    has(pages.html, "94 %, between 91.9 and 95.5");
    has_not(pages.html, "<script");
    OUTSIDE_NEEDS("pdfdetach");
    outside_run(b.arena, &text, "pdfdetach -list preview.pdf");
    has(text, "0 embedded files");
}

/* What is made up, and how, is told apart by the pattern too. */
Test(sheet_pages, each_substance_has_a_bar_of_its_own_pattern)
{
    struct mb_str svg[MB_SUBSTANCES];

    for (unsigned i = 0; i < MB_SUBSTANCES; i++) {
        struct mb_page_item item = { .kind = MB_PAGE_BAR, .at = 40, .low = 35, .high = 45,
                                     .stretches = { { (enum mb_substance)i, 40 } },
                                     .stretch_count = 1 };
        MB_BUF_AUTO struct mb_buf out;

        mb_buf_init(&out, 1 << 20);
        mb_bar_html(&out, b.arena, &item);
        svg[i] = mb_arena_str(b.arena, mb_buf_str(&out));
        cr_expect_gt(svg[i].len, 500);
        for (unsigned j = 0; j < i; j++)
            cr_expect_not(mb_str_equal(svg[i], svg[j]), "%s and %s look the same",
                          mb_substance_words[i], mb_substance_words[j]);
    }
}

/* Read by Python's own HTML and JSON readers. */
Test(sheet_pages, the_web_page_says_the_same_and_fetches_nothing)
{
    const char *folder = getenv("SHEET_PAGES"), *file;
    struct mb_str html, said;

    stock_find(&b, "26-0115");
    rich("26-0115");
    file = buyer("26-0115");
    cr_assert_eq(mb_sheet_html(b.arena, mb_str_of(file), NULL, &html, &b.err), MB_OK, "%s",
                 b.err.text);
    outside_file(b.arena, "page.html", html);
    outside_file(b.arena, "given.json", mb_str_of(file));
    if (folder)
        cr_assert_eq(mb_file_write(mb_path_join(b.arena, folder, "rich.html"), html, 0644, &b.err),
                     MB_OK);
    cr_expect_eq(outside_run(b.arena, &said,
                             "/usr/bin/python3 -c '\n"
                             "import json, html.parser\n"
                             "class P(html.parser.HTMLParser):\n"
                             "    inside = None; out = []; data = []\n"
                             "    def handle_starttag(self, tag, attrs):\n"
                             "        self.inside = tag\n"
                             "        src = dict(attrs).get(\"src\") or \"data:\"\n"
                             "        assert src.startswith(\"data:\") and tag != \"link\"\n"
                             "    def handle_data(self, text):\n"
                             "        (self.data if self.inside == \"script\" else"
                             " self.out).append(text)\n"
                             "    def handle_endtag(self, tag):\n"
                             "        self.inside = None\n"
                             "p = P(); p.feed(open(\"page.html\").read())\n"
                             "assert json.loads(\"\".join(p.data)) =="
                             " json.load(open(\"given.json\"))\n"
                             "print(\" \".join(p.out))'"),
                 0, "%.*s", MB_STR_ARG(said));
    has(said, "With made parts: 2 individuals, same layer, placed together: crinoid");
    has(said, "94 %, between 91.9 and 95.5");
    has(said, "over 50 %");
    has(said, "It cannot show that what was written is true");
}

/* Budget of the design: 150 ms a page. Ten times that fails only where something is very wrong. */
Test(sheet_pages, a_page_does_not_take_long)
{
    struct timespec begun, ended;
    const char *file;
    double ms;

    stock_find(&b, "26-0115");
    rich("26-0115");
    file = buyer("26-0115");
    page_of(file, "A4", "first.pdf"); /* fonts are looked up once */
    clock_gettime(CLOCK_MONOTONIC, &begun);
    page_of(file, "A4", "timed.pdf");
    clock_gettime(CLOCK_MONOTONIC, &ended);
    ms = (double)(ended.tv_sec - begun.tv_sec) * 1e3
         + (double)(ended.tv_nsec - begun.tv_nsec) / 1e6;
    cr_log_info("a sheet in %.1f ms", ms);
    cr_expect_lt(ms, 1500);
}

/* A permission may be recorded before its paper: the paper follows, on the permission itself. */
Test(sheet_pages, a_paper_that_came_later_is_said_to_be)
{
    struct mb_str text;

    OUTSIDE_NEEDS("pdftotext");
    workbench_must(&b, "permission", "L009", "permissionType=lease", "grantor=P006", "holder=P001",
                   "validFrom=2026-04-01", "validUntil=2026-10-31", "saleAllowed=yes",
                   "titlePasses=on collecting", NULL);
    workbench_now += 3 * 86400;
    workbench_must(&b, "document", "permission/L009", "docType=lease", "title=Lease of the cut",
                   "docDate=2026-03-18", "issuedBy=P006", "file=none", NULL);
    workbench_must(&b, "collecting", "26-0119", "recordNumber=T-119", "recordedBy=P001",
                   "site=S002", "permission=L009", "eventDate=2026-05-30",
                   "verbatimIdentification=crinoid slab", "objectQuantity=1", "objectForm=slab",
                   "quantityHow=counted", "materialClass=invertebrate", "horizon=not known",
                   "inPlace=in place", "purpose=commercial", "tools=hand tools", NULL);
    workbench_must(&b, "preparation", "26-0119", "preparationDate=not known",
                   "steps=method:airscribe", "preparedBy=earlier hand, not known",
                   "whose=earlier work seen by us", "lostInWork=not known", NULL);
    page_of(paper_must(&b, (struct paper_wish){ .specimens = "26-0119", .audience = "auditor",
                                                .to = "P005" }),
            "A4", "later.pdf");
    text = text_of("later.pdf");
    has(text, "Paper on file");
    has(text, "lease, Lease of the cut, dated 2026-03-18; attached later, on 2026-06-04");
    has(text, "day not known: earlier work seen by us");
}

/* Beside a new mass the one of the examination is the older one, and the title says cf. */
Test(sheet_pages, the_newest_mass_comes_first)
{
    struct mb_str text;

    OUTSIDE_NEEDS("pdftotext");
    stock_find(&b, "26-0115");
    stock_sold(&b, "26-0115");
    workbench_must(&b, "measurement", "26-0115", "what=mass", "value=3.52", "unit=kg",
                   "how=bench scale", "on=2026-06-01", NULL);
    workbench_must(&b, "identification", "26-0115", "whatItIs=natural fossil",
                   "vernacularName=crinoid", "scientificName=Uintacrinus socialis",
                   "identificationQualifier=cf.", "preservation=original mineral kept",
                   "identifiedBy=P002", "identifierTie=preparator", "sure=likely", NULL);
    page_of(buyer("26-0115"), "A4", "mass.pdf");
    text = text_of("mass.pdf");
    has(text, "Uintacrinus cf. socialis");
    before(text, "Mass 3.52 kg, weighed 2026-06-01", "3.4 kg");
}
