#include <criterion/criterion.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <zlib.h>

#include "buf.h"
#include "canvas.h"
#include "outside.h"
#include "pdf.h"
#include "text.h"

#define MAX 100000

static mb_arena *arena;

static void set_up(void)
{
    arena = mb_arena_new();
}

static void tear_down(void)
{
    outside_end();
    mb_arena_free(arena);
    mb_canvas_shutdown();
}

TestSuite(pdf, .init = set_up, .fini = tear_down);

static const char data[] = "{\"format\":\"markerbed-certificate/1\",\"Łupek\":true}";

static struct mb_str drawn(const char *title)
{
    struct mb_canvas_setup setup = { .width_mm = 80, .height_mm = 60, .title = title,
                                     .author = "Harrow & Vane", .created = 1780000000 };
    struct mb_error err = { 0 };
    struct mb_str out = { 0 };
    mb_canvas *c;

    cr_assert_eq(mb_canvas_open(&setup, &c, &err), MB_OK, "%s", err.text);
    cr_assert_eq(mb_canvas_text(c, &(struct mb_type){ .size_pt = 9 }, MB_STR("Sheet HV-0412"), 5,
                                5, 70, NULL, &err), MB_OK);
    cr_assert_eq(mb_canvas_finish(c, arena, &out, &err), MB_OK, "%s", err.text);
    mb_canvas_close(c);
    return out;
}

static struct mb_str finished_with(struct mb_str bytes)
{
    struct mb_pdf_file file = { "certificate.json", "application/json",
                                "The data of this sheet; Ł (paper) \\ proof", bytes };
    struct mb_pdf_dress dress = { "en", 1780000000, true, &file };
    struct mb_error err = { 0 };
    struct mb_str out = { 0 };

    cr_assert_eq(mb_pdf_finish(arena, drawn("A <sheet> & „Łupek“"), &dress, &out, &err), MB_OK,
                 "%s", err.text);
    return out;
}

static struct mb_str finished(void)
{
    return finished_with(MB_STR(data));
}

static enum mb_rc get(struct mb_str pdf, size_t max, struct mb_str *out, struct mb_error *err)
{
    *out = (struct mb_str){ 0 };
    *err = (struct mb_error){ 0 };
    return mb_pdf_attachment(arena, pdf, "certificate.json", max, out, err);
}

static void gives(struct mb_str pdf, struct mb_str bytes, const char *what)
{
    struct mb_error err;
    struct mb_str out;

    cr_assert_eq(get(pdf, bytes.len, &out, &err), MB_OK, "%s: %s", what, err.text);
    cr_assert(mb_str_equal(out, bytes), "%s", what);
}

static void refuses(struct mb_str pdf, const char *part, const char *what)
{
    struct mb_error err;
    struct mb_str out;
    enum mb_rc rc = get(pdf, MAX, &out, &err);

    cr_assert_eq(rc, MB_REFUSED, "%s: code %d, %s", what, rc, err.text);
    cr_assert(strstr(err.text, part), "%s: \"%s\" does not say \"%s\"", what, err.text, part);
    cr_assert_null(out.at);
}

Test(pdf, finishing_adds_what_it_should)
{
    struct mb_str said, qdf;

    OUTSIDE_NEEDS("qpdf");
    OUTSIDE_NEEDS("pdfdetach");
    outside_file(arena, "a.pdf", finished());
    cr_assert_eq(outside_run(arena, &said, "qpdf --check a.pdf"), 0, "%.*s", MB_STR_ARG(said));
    cr_assert(!outside_holds(said, "WARNING"), "%.*s", MB_STR_ARG(said));
    outside_run(arena, &said, "pdfdetach -list a.pdf");
    cr_assert(outside_holds(said, "1 embedded files") && outside_holds(said, "certificate.json"));
    cr_assert_eq(outside_run(arena, NULL, "pdfdetach -save 1 -o got.json a.pdf"), 0);
    cr_assert(mb_str_is(outside_read(arena, "got.json"), data));
    outside_run(arena, &said, "qpdf --show-attachment=certificate.json a.pdf");
    cr_assert(mb_str_is(said, data));
    outside_run(arena, &said, "pdfinfo -rawdates a.pdf");
    cr_assert(outside_holds(said, "D:20260528202640Z") && outside_holds(said, "„Łupek“"),
              "%.*s", MB_STR_ARG(said));
    outside_run(arena, NULL, "qpdf --qdf --object-streams=disable a.pdf q.pdf");
    qdf = outside_read(arena, "q.pdf");
    cr_assert(outside_holds(qdf, "/Lang (en)") && outside_holds(qdf, "/AFRelationship /Data"));
    cr_assert(outside_holds(qdf, "/AF [") && outside_holds(qdf, "/DisplayDocTitle true"));
    cr_assert(outside_holds(qdf, "/Subtype /application#2fjson"));
    cr_assert_eq(outside_run(arena, NULL, "pdftotext a.pdf - | grep -q 'Sheet HV-0412'"), 0);
}

Test(pdf, metadata_is_xml_and_says_the_same)
{
    struct mb_str said;

    OUTSIDE_NEEDS("xmllint");
    OUTSIDE_NEEDS("pdfinfo");
    outside_file(arena, "a.pdf", finished());
    cr_assert_eq(outside_run(arena, &said, "pdfinfo -meta a.pdf | xmllint --nonet --xpath "
                             "'string(//*[local-name()=\"title\"])' -"), 0);
    cr_assert(outside_holds(said, "A <sheet> & „Łupek“"), "%.*s", MB_STR_ARG(said));
    outside_run(arena, &said, "pdfinfo -meta a.pdf | xmllint --nonet --xpath "
                              "'string(//*[local-name()=\"CreateDate\"])' -");
    cr_assert(outside_holds(said, "2026-05-28T20:26:40Z"));
}

Test(pdf, finishing_is_repeatable_and_can_be_bare)
{
    struct mb_pdf_dress bare = { .created = 0 };
    struct mb_error err = { 0 };
    struct mb_str a = finished(), b = finished(), out;

    cr_assert(mb_str_equal(a, b));
    cr_assert_eq(mb_pdf_finish(arena, drawn(NULL), &bare, &out, &err), MB_OK, "%s", err.text);
    cr_assert(outside_holds(out, "D:19700101000000Z") && !outside_holds(out, "/Lang"));
    cr_assert(!outside_holds(out, "/Metadata") && !outside_holds(out, "/EmbeddedFile"));
    cr_assert_eq(get(out, MAX, &a, &err), MB_NO);
    cr_assert(strstr(err.text, "no attached file named certificate.json"), "%s", err.text);
    gives(finished_with(MB_STR("")), MB_STR(""), "an empty file");
}

Test(pdf, finishing_refuses_bad_names_and_says_nothing_on_its_own)
{
    static const char *const names[] = { "", "a/b", "..", "a\\b", ".hidden", "a\nb", "\xFF", NULL };
    struct mb_error err = { 0 };
    struct mb_str out = { 0 };
    struct stat state;
    char *said = outside_path(arena, "said");
    int keep = dup(STDERR_FILENO), to = open(said, O_CREAT | O_WRONLY | O_TRUNC, 0600);
    enum mb_rc rc;

    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        struct mb_pdf_file file = { names[i], "application/json", NULL, MB_STR("x") };

        err.code = MB_OK;
        cr_assert_eq(mb_pdf_finish(arena, drawn(NULL), &(struct mb_pdf_dress){ .file = &file },
                                   &out, &err), MB_REFUSED, "name %zu", i);
    }
    err.code = MB_OK;
    dup2(to, STDERR_FILENO);
    rc = mb_pdf_finish(arena, MB_STR("%PDF-1.4\nno more"), &(struct mb_pdf_dress){ 0 }, &out, &err);
    dup2(keep, STDERR_FILENO);
    cr_assert_eq(rc, MB_UNABLE);
    cr_assert_null(out.at);
    cr_assert(strstr(err.text, "the PDF could not be finished: "));
    cr_assert_eq(fstat(to, &state), 0);
    cr_assert_eq(state.st_size, 0);
    close(to);
    close(keep);
}

/* ---- reading what other programs have saved again ---- */

Test(pdf, attachments_survive_other_programs)
{
    static const char *const ways[] = {
        "qpdf a.pdf b.pdf",
        "qpdf a.pdf --object-streams=generate b.pdf",
        "qpdf a.pdf --linearize b.pdf",
        "qpdf a.pdf --linearize --object-streams=generate b.pdf",
        "qpdf a.pdf --stream-data=uncompress b.pdf",
        "qpdf a.pdf --recompress-flate --compression-level=9 --object-streams=generate b.pdf",
        "qpdf a.pdf --qdf b.pdf",
        "qpdf a.pdf --newline-before-endstream --force-version=2.0 b.pdf",
        "qpdf plain.pdf --add-attachment certificate.json -- b.pdf",
        "qpdf plain.pdf --add-attachment certificate.json --mimetype=text/plain -- "
        "--object-streams=generate b.pdf",
        "pdfattach plain.pdf certificate.json b.pdf",
        "cat a.pdf > b.pdf; head -c 2000 /dev/zero >> b.pdf",
        "head -c 500 /dev/zero > b.pdf; cat a.pdf >> b.pdf",
    };
    MB_BUF_AUTO struct mb_buf large;

    OUTSIDE_NEEDS("qpdf");
    OUTSIDE_NEEDS("pdfattach");
    mb_buf_init(&large, 4 << 20);
    for (int i = 0; i < 60000; i++)
        mb_buf_printf(&large, "%d,", i % 1000 * i % 9973);
    outside_file(arena, "plain.pdf", drawn("plain"));
    for (int big = 0; big < 2; big++) {
        struct mb_str bytes = big ? mb_buf_str(&large) : MB_STR(data);

        outside_file(arena, "a.pdf", finished_with(bytes));
        outside_file(arena, "certificate.json", bytes);
        for (size_t i = 0; i < sizeof ways / sizeof *ways; i++) {
            outside_run(arena, NULL, "rm -f b.pdf");
            cr_assert_eq(outside_run(arena, NULL, "%s", ways[i]), 0, "%s", ways[i]);
            gives(outside_read(arena, "b.pdf"), bytes, ways[i]);
        }
    }
}

Test(pdf, what_cannot_count_is_refused)
{
    struct mb_error err;
    struct mb_str out;

    OUTSIDE_NEEDS("qpdf");
    outside_file(arena, "a.pdf", finished());
    outside_run(arena, NULL, "qpdf --encrypt '' owner 256 -- a.pdf b.pdf");
    refuses(outside_read(arena, "b.pdf"), "protected by a password", "encrypted");
    outside_run(arena, NULL, "qpdf a.pdf --copy-attachments-from a.pdf --prefix=x -- b.pdf");
    refuses(outside_read(arena, "b.pdf"), "two different attached files", "two");
    outside_run(arena, NULL, "qpdf a.pdf --remove-attachment=certificate.json b.pdf");
    cr_assert_eq(get(outside_read(arena, "b.pdf"), MAX, &out, &err), MB_NO);
    refuses(MB_STR(""), "empty file", "nothing");
    refuses(MB_STR("{}"), "not a PDF", "JSON");
    refuses(MB_STR("%PDF-1.7\n"), "damaged or was cut short", "head alone");
}

Test(pdf, the_limit_is_exact)
{
    struct mb_str pdf = finished(), out;
    struct mb_error err;

    cr_assert_eq(get(pdf, sizeof data - 1, &out, &err), MB_OK);
    cr_assert_eq(get(pdf, sizeof data - 2, &out, &err), MB_REFUSED);
    cr_assert(strstr(err.text, "the attached file certificate.json: "), "%s", err.text);
    cr_assert(strstr(err.text, "allowed"), "%s", err.text);
}

/* ---- hostile files ---- */

/* A PDF of the given objects, each "N 0 obj ... endobj" written by the caller as text with its
 * length; the cross-reference table is right. */
struct maker {
    struct mb_buf buf;
    size_t at[40];
    int count;
};

static void begin(struct maker *m)
{
    *m = (struct maker){ .count = 1 };
    mb_buf_init(&m->buf, 64 << 20);
    mb_buf_add_text(&m->buf, "%PDF-1.7\n");
}

static void object(struct maker *m, const char *dict, struct mb_str stream)
{
    m->at[m->count] = m->buf.len;
    mb_buf_printf(&m->buf, "%d 0 obj\n%s\n", m->count, dict);
    if (stream.at) {
        mb_buf_add_text(&m->buf, "stream\n");
        mb_buf_add_str(&m->buf, stream);
        mb_buf_add_text(&m->buf, "\nendstream\n");
    }
    mb_buf_add_text(&m->buf, "endobj\n");
    m->count++;
}

static struct mb_str end(struct maker *m, const char *trailer)
{
    size_t xref = m->buf.len;
    struct mb_str out;

    mb_buf_printf(&m->buf, "xref\n0 %d\n0000000000 65535 f \n", m->count);
    for (int i = 1; i < m->count; i++)
        mb_buf_printf(&m->buf, "%010zu 00000 n \n", m->at[i]);
    mb_buf_printf(&m->buf, "trailer\n<< /Size %d /Root 1 0 R %s >>\nstartxref\n%zu\n%%%%EOF\n",
                  m->count, trailer, xref);
    out = mb_arena_str(arena, mb_buf_str(&m->buf));
    mb_buf_done(&m->buf);
    return out;
}

/* Zeros, packed as tightly as zlib can: about a thousandth. */
static struct mb_str bomb(size_t len)
{
    Bytef *zeros = calloc(1, len);
    uLongf packed_len = compressBound(len);
    Bytef *packed = malloc(packed_len);
    struct mb_str out;

    cr_assert(zeros && packed);
    cr_assert_eq(compress2(packed, &packed_len, zeros, len, 9), Z_OK);
    out = mb_arena_str(arena, (struct mb_str){ (const char *)packed, packed_len });
    free(zeros);
    free(packed);
    return out;
}

static const char root[] = "<< /Type /Catalog /Names << /EmbeddedFiles 2 0 R >> >>";
static const char tree[] = "<< /Names [ (certificate.json) 3 0 R ] >>";
static const char spec[] = "<< /Type /Filespec /F (certificate.json) /EF << /F 4 0 R >> >>";

static struct mb_str with_stream(const char *dict, struct mb_str stream)
{
    struct maker m;

    begin(&m);
    object(&m, root, (struct mb_str){ 0 });
    object(&m, tree, (struct mb_str){ 0 });
    object(&m, spec, (struct mb_str){ 0 });
    object(&m, dict, stream);
    return end(&m, "");
}

Test(pdf, a_plain_hand_made_file_is_read)
{
    gives(with_stream("<< /Length 5 >>", MB_STR("hello")), MB_STR("hello"), "plain");
    gives(with_stream("<< /Length 5 /Filter [] >>", MB_STR("hello")), MB_STR("hello"), "no filter");
    gives(with_stream("<< /Length 13 /Filter [/FlateDecode] >>",
                      MB_STR("\x78\x9c\xcb\x48\xcd\xc9\xc9\x07\x00\x06\x2c\x02\x15")),
          MB_STR("hello"), "packed");
    gives(with_stream("<< /Length 13 /Filter /Fl#61teDecode % comment ) >>\n >>",
                      MB_STR("\x78\x9c\xcb\x48\xcd\xc9\xc9\x07\x00\x06\x2c\x02\x15")),
          MB_STR("hello"), "name with a number sign");
}

static long memory_kib(void)
{
    struct rusage usage;

    getrusage(RUSAGE_SELF, &usage);
    return usage.ru_maxrss;
}

static void bounded(struct mb_str pdf, const char *part, const char *what)
{
    long before = memory_kib();

    refuses(pdf, part, what);
#ifndef __SANITIZE_ADDRESS__
    cr_assert_lt(memory_kib() - before, 200 * 1024, "%s took %ld KiB", what,
                 memory_kib() - before);
#else
    (void)before;
#endif
}

/* Each of these asks for a gigabyte or more from a megabyte. */
Test(pdf, bombs)
{
    struct mb_str packed = bomb(600u << 20);
    struct maker m;
    size_t at;
    struct mb_str pdf;

    bounded(with_stream(mb_arena_printf(arena, "<< /Length %zu /Filter /FlateDecode >>",
                                        packed.len), packed), "more than the 100000 bytes", "file");
    bounded(with_stream(mb_arena_printf(arena, "<< /Length %zu /Filter [/FlateDecode /FlateDecode] "
                                               ">>", packed.len), packed),
            "packed more than once", "two filters");
    begin(&m);
    object(&m, root, (struct mb_str){ 0 });
    at = m.buf.len;
    object(&m, mb_arena_printf(arena, "<< /Type /XRef /Size 9 /Root 1 0 R /W [1 2 1] /Length %zu "
                                      "/Filter /FlateDecode >>", packed.len), packed);
    mb_buf_printf(&m.buf, "startxref\n%zu\n%%%%EOF\n", at);
    pdf = mb_arena_str(arena, mb_buf_str(&m.buf));
    mb_buf_done(&m.buf);
    bounded(pdf, "far more than any honest", "cross-reference stream");
    begin(&m);
    object(&m, mb_arena_printf(arena, "<< /Type /ObjStm /N 1 /First 4 /Length %zu /Filter "
                                      "/FlateDecode >>", packed.len), packed);
    at = m.buf.len;
    object(&m, "<< /Type /XRef /Size 9 /Root 3 0 R /W [1 2 1] /Length 16 >>",
           (struct mb_str){ "\0\0\0\0\1\0\x09\0\1\0\0\0\2\0\1\0", 16 });
    mb_buf_printf(&m.buf, "startxref\n%zu\n%%%%EOF\n", at);
    pdf = mb_arena_str(arena, mb_buf_str(&m.buf));
    mb_buf_done(&m.buf);
    bounded(pdf, "far more than any honest", "object stream");
}

static struct mb_str nest(const char *open, int count, const char *after)
{
    MB_BUF_AUTO struct mb_buf buf;

    mb_buf_init(&buf, 64 << 20);
    for (int i = 0; i < count; i++)
        mb_buf_add_text(&buf, open);
    mb_buf_add_text(&buf, after);
    return mb_arena_str(arena, mb_buf_str(&buf));
}

static struct mb_str with_tree(const char *tree_text)
{
    struct maker m;

    begin(&m);
    object(&m, root, (struct mb_str){ 0 });
    object(&m, tree_text, (struct mb_str){ 0 });
    return end(&m, "");
}

static struct mb_str with_trailer(const char *trailer)
{
    struct maker m;

    begin(&m);
    object(&m, root, (struct mb_str){ 0 });
    object(&m, "<< >>", (struct mb_str){ 0 });
    return end(&m, trailer);
}

/* Circles, depths and widths: each ends quickly, in a sentence. */
Test(pdf, endless_structures)
{
    struct mb_error err;
    struct mb_str out;
    enum mb_rc rc;

    bounded(with_stream("<< /Length 4 0 R >>", MB_STR("hello")), "damaged", "own length");
    bounded(with_stream("<< /Length 99999999999999999999 >>", MB_STR("x")), "damaged", "length");
    bounded(with_stream("<< /Length 50 >>", MB_STR("x")), "damaged", "too long a length");
    bounded(with_tree(nest("[", 100000, "").at), "damaged", "deep array");
    bounded(with_tree(nest("<</A", 100000, "").at), "damaged", "deep dictionary");
    bounded(with_tree(nest("((", 1000000, "").at), "damaged", "deep string");
    bounded(with_tree(mb_arena_printf(arena, "[%s]", nest("0 ", 9000000, "").at)),
            "more work or memory", "wide array");
    bounded(with_tree(mb_arena_printf(arena, "<< /Kids [%s] /X [%s] >>",
                                      nest("2 0 R ", 9999, "").at, nest("0 ", 20000, "").at)),
            "more work or memory", "children that are their own parents");
    bounded(with_tree(mb_arena_printf(arena, "<< /Names [ %s ] >>",
                                      nest("(a) 2 0 R ", 90000, "").at)),
            "more work or memory", "names without end");
    bounded(with_trailer("/Prev 9"), "damaged", "previous section that is none");
    bounded(with_trailer("/Encrypt 9 0 R"), "protected", "encrypted");
    bounded(MB_STR("%PDF-1.7\nxref\n0 1\n0000000000 65535 f \ntrailer\n"
                   "<< /Size 99999999 /Root 1 0 R >>\nstartxref\n9\n%%EOF\n"),
            "damaged", "a hundred million objects");
    rc = get(with_tree("<< /Kids [ 2 0 R ] >>"), MAX, &out, &err);
    cr_assert_eq(rc, MB_NO, "a circle that ends: %d %s", rc, err.text);
}

/* Every cut and 30,000 changed bytes: never a crash, always a code that is allowed, and a sentence
 * where it is not MB_OK. A changed byte may still give a file, if it stood where nobody looks. */
Test(pdf, cuts_and_changes)
{
    struct mb_str pdf = finished(), out;
    struct mb_error err;
    uint32_t chance = 7;
    int taken = 0;

    for (int form = 0; form < 2; form++) {
        char *copy;

        if (form == 1) {
            if (!outside_has("qpdf"))
                break;
            outside_file(arena, "a.pdf", pdf);
            outside_run(arena, NULL, "qpdf a.pdf --object-streams=generate b.pdf");
            pdf = outside_read(arena, "b.pdf");
        }
        for (size_t len = 0; len + 10 < pdf.len; len += 3) {
            copy = mb_arena_copy(arena, pdf.at, len);
            cr_assert_eq(get((struct mb_str){ copy, len }, MAX, &out, &err), MB_REFUSED,
                         "%zu of %zu bytes", len, pdf.len);
        }
        copy = mb_arena_copy(arena, pdf.at, pdf.len);
        for (int i = 0; i < 15000; i++) {
            size_t at = (chance = chance * 1664525u + 1013904223u) % pdf.len;
            char old = copy[at];
            enum mb_rc rc;

            copy[at] = (char)(chance >> 24);
            rc = get((struct mb_str){ copy, pdf.len }, MAX, &out, &err);
            cr_assert(rc == MB_OK || rc == MB_NO || rc == MB_REFUSED);
            cr_assert(rc == MB_OK ? err.text[0] == 0 : mb_text_allowed(mb_str_of(err.text), false));
            taken += rc == MB_OK;
            copy[at] = old;
        }
    }
    cr_assert_gt(taken, 1000);
}
