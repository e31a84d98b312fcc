/* The sheet as a file: the certificate inside comes out as it went in, and nothing is printed of
 * one that does not hold. What stands on the page is test_sheet_pages.c's. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <markerbed/certificate.h>

#include "outside.h"
#include "paper.h"
#include "pdf.h"
#include "sample_jpeg.h"
#include "stock.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

static struct workbench b;
static const char *trust;

static void set_up(void)
{
    stock_house(&b);
    trust = paper_trust(&b);
}

static void tear_down(void)
{
    workbench_done(&b);
    outside_end();
}

TestSuite(sheet, .init = set_up, .fini = tear_down);

static const char *certificate(const char *ids, const char *audience)
{
    return paper_must(&b, (struct paper_wish){ .specimens = ids, .audience = audience,
                                               .to = "bearer" });
}

static struct mb_str printed(const char *file, const char *paper)
{
    struct mb_str pdf = { NULL, 0 };

    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_sheet_pdf(b.arena, mb_str_of(file), paper, NULL, &pdf, &b.err), MB_OK, "%s",
                 b.err.text);
    return pdf;
}

static int pages_of(struct mb_str pdf)
{
    struct mb_str said;
    int pages = -1;

    outside_file(b.arena, "pages.pdf", pdf);
    outside_run(b.arena, &said, "pdfinfo pages.pdf | sed -n 's/^Pages: *//p'");
    sscanf(mb_arena_copy(b.arena, said.at, said.len), "%d", &pages);
    return pages;
}

static struct mb_str text_of(struct mb_str pdf)
{
    struct mb_str said;

    outside_file(b.arena, "text.pdf", pdf);
    cr_assert_eq(outside_run(b.arena, &said, "pdftotext -raw text.pdf - | tr -s ' \\n' '  '"), 0);
    return said;
}

Test(sheet, the_certificate_inside_is_the_file_that_was_issued)
{
    static const char *const audiences[] = { "buyer", "institution", "auditor", "public" };

    stock_find(&b, "26-0115");
    stock_sold(&b, "26-0115");
    for (size_t i = 0; i < COUNT(audiences); i++) {
        const char *file = certificate("26-0115", audiences[i]), *path;
        struct mb_str pdf = printed(file, i % 2 ? "Letter" : "A4"), inside;

        cr_assert_eq(mb_pdf_attachment(b.arena, pdf, "certificate.json", 64u << 20, &inside,
                                       &b.err),
                     MB_OK, "%s", b.err.text);
        cr_expect(mb_str_is(inside, file), "%s", audiences[i]);
        path = paper_file(&b, "sheet.pdf", pdf);
        cr_expect_eq(paper_judge(&b, trust, path, NULL)[0], '0', "%s: %s", audiences[i],
                     paper_judge(&b, trust, path, NULL));
        cr_expect_eq(paper_judge(&b, NULL, path, NULL)[0], '3', "%s", audiences[i]);
        cr_expect(mb_str_equal(printed(file, i % 2 ? "Letter" : "A4"), pdf),
                  "%s: the same input gives the same bytes", audiences[i]);
    }
    /* of paper, what was checked is the data */
    paper_judge(&b, trust, paper_file(&b, "sheet.pdf", printed(certificate("26-0115", "buyer"),
                                                              NULL)),
                NULL);
    cr_expect(strstr(mb_json_write(b.arena, mb_json_get(b.out, "words")).at,
                     "The data inside the PDF was checked, not the printed page"));
}

/* Poppler finds the same attachment, and knows it by the name that the page tells. */
Test(sheet, other_readers_find_the_certificate)
{
    struct mb_str said;

    OUTSIDE_NEEDS("pdfdetach");
    stock_find(&b, "26-0115");
    outside_file(b.arena, "sheet.pdf", printed(certificate("26-0115", "buyer"), "A4"));
    cr_expect_eq(outside_run(b.arena, &said, "pdfdetach -list sheet.pdf"), 0);
    cr_expect(outside_holds(said, "1 embedded files") && outside_holds(said, "certificate.json"),
              "%.*s", MB_STR_ARG(said));
}

/* ---- what is not printed ---- */

static const char *with(const char *text, const char *from, const char *to)
{
    const char *at = strstr(text, from);

    cr_assert(at, "%s", from);
    return mb_arena_printf(b.arena, "%.*s%s%s", (int)(at - text), text, to, at + strlen(from));
}

Test(sheet, of_a_certificate_that_does_not_hold_nothing_is_printed)
{
    const char *file, *root;
    struct {
        const char *file, *said;
        enum mb_rc rc;
    } bad[5];

    stock_find(&b, "26-0115");
    file = certificate("26-0115", "buyer");
    root = mb_arena_printf(b.arena, "%.6s", strstr(file, "\\n") + 6);
    bad[0].file = with(file, "\"index\":0,", "\"index\":1,");
    bad[0].said = "the certificate";
    bad[0].rc = MB_REFUSED;
    bad[1].file = with(file, root, mb_arena_printf(b.arena, "%c%s", root[0] == 'A' ? 'B' : 'A',
                                                   root + 1));
    bad[1].said = "the certificate does not hold, so no sheet is printed of it: ";
    bad[1].rc = MB_REFUSED;
    bad[2].file = with(file, "certificate/1", "certificate/2");
    bad[2].said = "another version";
    bad[2].rc = MB_UNABLE;
    bad[3].file = "{";
    bad[3].said = "line 1";
    bad[3].rc = MB_REFUSED;
    bad[4].file = "";
    bad[4].said = "";
    bad[4].rc = MB_REFUSED;
    for (size_t i = 0; i < COUNT(bad); i++) {
        struct mb_str pdf = { NULL, 0 };

        b.err = (struct mb_error){ 0 };
        cr_expect_eq(mb_sheet_pdf(b.arena, mb_str_of(bad[i].file), "A4", NULL, &pdf, &b.err),
                     bad[i].rc,
                     "%zu: %s", i, b.err.text);
        cr_expect(strstr(b.err.text, bad[i].said), "%zu: %s", i, b.err.text);
        cr_expect_null(pdf.at);
    }
    b.err = (struct mb_error){ 0 };
    cr_expect_eq(mb_sheet_pdf(b.arena, mb_str_of(file), "A5", NULL, &(struct mb_str){ 0 }, &b.err),
                 MB_REFUSED);
    cr_expect_str_eq(b.err.text, "'A5' is no paper size; choose A4 or Letter");
}

/* ---- what is hard to print ---- */

Test(sheet, long_names_break_and_nothing_leaves_the_page)
{
    char *name = mb_arena_text(b.arena, ""), *word = mb_arena_text(b.arena, "");
    struct mb_str text;

    OUTSIDE_NEEDS("pdftotext");
    for (int i = 0; i < 60; i++)
        name = mb_arena_printf(b.arena, "%scrown%02d ", name, i);
    for (int i = 0; i < 75; i++)
        word = mb_arena_printf(b.arena, "%sx%03d", word, i); /* 300 letters without a blank */
    workbench_must(&b, "collecting", "26-0115", "fieldDay=D001", "recordNumber=T-1",
                   mb_arena_printf(b.arena, "verbatimIdentification=%send", name),
                   "objectQuantity=1", "objectForm=slab", "quantityHow=counted",
                   "materialClass=invertebrate", "horizon=H-A", "inPlace=in place",
                   mb_arena_printf(b.arena, "damageInDig=%s", word), NULL);
    stock_sold(&b, "26-0115");
    workbench_must(&b, "preparation", "26-0115", "steps=method:airscribe",
                   mb_arena_printf(b.arena, "lostInWork=%s", word), NULL);
    outside_file(b.arena, "text.pdf", printed(certificate("26-0115", "buyer"), "A4"));
    cr_assert_eq(outside_run(b.arena, &text, "pdftotext -bbox text.pdf - | grep -o 'xMax=\"[0-9.]*'"
                                             " | tr -d 'xMa=\"' | sort -n | tail -n 1"),
                 0);
    /* A4 is 595.28 points wide, and the margin at least 10 mm */
    cr_expect_lt(strtod(mb_arena_copy(b.arena, text.at, text.len), NULL), 595.28 - 28, "%.*s",
                 MB_STR_ARG(text));
    cr_assert_eq(outside_run(b.arena, &text, "pdftotext -raw text.pdf - | tr -d ' \\n'"), 0);
    cr_expect(outside_holds(text, "crown58crown59end"), "%.*s", MB_STR_ARG(text));
    cr_expect(outside_holds(text, word));
}

Test(sheet, four_hundred_sittings_flow_over_pages, .timeout = 60)
{
    static const char *const fields[] = { "steps", "lostInWork" };
    struct mb_str text, pdf;
    const char *file;
    mb_batch *batch;

    OUTSIDE_NEEDS("pdftotext");
    stock_find(&b, "26-0115");
    cr_assert_eq(mb_batch_begin(b.ledger, b.arena, "bench", &batch, &b.err), MB_OK);
    for (int i = 1; i <= 400; i++) {
        struct mb_typed typed[] = {
            { fields[0], "method:airscribe; where:left margin", NULL },
            { fields[1], mb_arena_printf(b.arena, "chip number %d", i), NULL },
            { "preparedBy", "P002", NULL },
            { "preparationDate", "2026-05-31", NULL },
            { "whose", "our work", NULL },
            { "madeFrom", "own observation", NULL },
        };
        struct mb_recording what = { .kind = "preparation", .subject = "specimen/26-0115",
                                     .typed = typed, .count = COUNT(typed) };

        cr_assert_eq(mb_batch_add(batch, b.arena, &what, NULL, &b.err), MB_OK, "%s", b.err.text);
    }
    cr_assert_eq(mb_batch_end(batch, &b.err), MB_OK);
    file = certificate("26-0115", "buyer");
    pdf = printed(file, "A4");
    cr_expect_geq(pages_of(pdf), 8, "%d pages", pages_of(pdf));
    text = text_of(pdf);
    for (int i = 1; i <= 400; i++)
        cr_expect(outside_holds(text, mb_arena_printf(b.arena, "chip number %d", i)), "%d", i);
    cr_expect(outside_holds(text, "How to check this sheet"));
    cr_expect_eq(paper_judge(&b, trust, paper_file(&b, "s.pdf", pdf), NULL)[0], '0');
}

/* Hebrew runs from the right; its letters come out whatever way round the reader puts them. */
Test(sheet, writing_from_the_right_and_other_scripts_are_printed)
{
    static const char *const letters[] = { "\xD7\xA9", "\xD7\x9C", "\xD7\x95", "\xD7\x9D",
                                           "\xCE\xA9", "\xD0\x96", "\xC3\xA9" };
    struct mb_str text;

    OUTSIDE_NEEDS("pdftotext");
    workbench_must(&b, "collecting", "26-0115", "fieldDay=D001", "recordNumber=T-1",
                   "verbatimIdentification=\xD7\xA9\xD7\x9C\xD7\x95\xD7\x9D, \xCE\xA9, \xD0\x96,"
                   " \xC3\xA9toile",
                   "objectQuantity=1", "objectForm=slab", "quantityHow=counted",
                   "materialClass=invertebrate", "horizon=H-A", "inPlace=in place", NULL);
    text = text_of(printed(certificate("26-0115", "buyer"), "A4"));
    for (size_t i = 0; i < COUNT(letters); i++)
        cr_expect(outside_holds(text, letters[i]), "%s in %.*s", letters[i], MB_STR_ARG(text));
}

/* Several pieces have a page each; with and without a photograph. */
Test(sheet, each_piece_has_its_own_page)
{
    struct sample_jpeg how = { .width_px = 300, .height_px = 200 };
    struct mb_str text, pdf;

    OUTSIDE_NEEDS("pdfinfo");
    stock_find(&b, "26-0115");
    stock_find(&b, "26-0116");
    pdf = printed(certificate("26-0115 26-0116", "buyer"), "A4");
    cr_expect_geq(pages_of(pdf), 2);
    text = text_of(pdf);
    cr_expect(outside_holds(text, "Number 26-0115") && outside_holds(text, "Number 26-0116"));
    cr_expect_eq(outside_run(b.arena, &text, "pdfimages -list pages.pdf | wc -l | grep -x 2"), 0,
                 "the two lines of a heading and no photograph");
    workbench_must(&b, "note", "specimen/26-0115", "text=front",
                   mb_arena_printf(b.arena, "--attach %s",
                                   paper_file(&b, "front.jpg", sample_jpeg(b.arena, &how))),
                   NULL);
    pages_of(printed(certificate("26-0115", "buyer"), "A4"));
    cr_expect_eq(outside_run(b.arena, &text, "pdfimages -list pages.pdf | grep -q '300 *200'"), 0);
}
