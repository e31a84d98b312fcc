#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "buf.h"
#include "canvas.h"
#include "outside.h"
#include "raster.h"
#include "sample_jpeg.h"
#include "text.h"

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

TestSuite(canvas, .init = set_up, .fini = tear_down);

static const struct mb_type ten = { .size_pt = 10 };
static const struct mb_stroke thin = { .width_mm = 0.2 };

#define OK(call)                                                                                \
    do {                                                                                        \
        struct mb_error err = { 0 };                                                            \
        cr_assert_eq((call), MB_OK, "%s", err.text);                                            \
    } while (0)

static mb_canvas *open_form(enum mb_canvas_form form, double width, double height, double dpi)
{
    struct mb_canvas_setup setup = { .form = form, .width_mm = width, .height_mm = height,
                                     .dpi = dpi, .title = "Łupek — Κρινοειδή",
                                     .author = "Harrow & Vane", .subject = "A sheet",
                                     .created = 1780000000 };
    mb_canvas *c = NULL;

    OK(mb_canvas_open(&setup, &c, &err));
    return c;
}

static mb_canvas *open_pdf(void)
{
    return open_form(MB_CANVAS_PDF, MB_A4_WIDTH_MM, MB_A4_HEIGHT_MM, 0);
}

static struct mb_str finish(mb_canvas *c)
{
    struct mb_str out = { 0 };
    struct mb_error err = { 0 };

    cr_assert_eq(mb_canvas_finish(c, arena, &out, &err), MB_OK, "%s", err.text);
    mb_canvas_close(c);
    return out;
}

static double write_text(mb_canvas *c, const char *text, double x, double y, double width)
{
    double height = 0;

    OK(mb_canvas_text(c, &ten, mb_str_of(text), x, y, width, &height, &err));
    return height;
}

static struct mb_picture photo(const struct sample_jpeg *how)
{
    struct mb_picture p;

    OK(mb_picture_look(sample_jpeg(arena, how), &p, &err));
    return p;
}

/* ---- one page with all of it ---- */

static const char *const names[] = {
    "Zażółć gęślą jaźń: Świętokrzyskie, Ćmielów",
    "Ελληνικά: Κρινοειδή, άνω Κρητιδικό",
    "Русский: Нижний мел, Саратов",
    "Ottoline Harrow & <Teodor> \"Vane\"",
};

static struct mb_str full_page(enum mb_canvas_form form)
{
    mb_canvas *c = open_form(form, MB_A4_WIDTH_MM, MB_A4_HEIGHT_MM, 60);
    struct mb_picture p = photo(&(struct sample_jpeg){ .width_px = 400, .height_px = 300,
                                                       .noise = 30, .turn = 3,
                                                       .secret = "quarry" });
    struct mb_fill dots = { .pattern = MB_PATTERN_DOTS };
    const struct mb_qr *qr;
    double y = 15;

    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        y += write_text(c, names[i], 15, y, 80);
    OK(mb_canvas_picture(c, &p, (struct mb_mm_box){ 100, 15, 80, 60 }, MB_FIT_MIDDLE, NULL, &err));
    for (int i = MB_PATTERN_NONE; i <= MB_PATTERN_BRICKS; i++) {
        dots.pattern = (enum mb_pattern)i;
        dots.ink.fade = i * 0.1;
        mb_canvas_rect(c, 15 + 20 * i, 100, 18, 18, &dots, &thin);
    }
    OK(mb_qr_make(arena, MB_STR("ledger.harrowvane.example/HV-0412"), MB_QR_LEVEL_M, &qr, &err));
    mb_canvas_qr(c, qr, 15, 130, 30);
    if (form == MB_CANVAS_PDF) {
        mb_canvas_page(c);
        write_text(c, "page two", 15, 15, 100);
        OK(mb_canvas_picture(c, &p, (struct mb_mm_box){ 10, 50, 60, 60 }, MB_FIT_CORNER, NULL,
                             &err));
        cr_assert_eq(mb_canvas_pages(c), 2);
    }
    return finish(c);
}

Test(canvas, the_same_drawing_gives_the_same_bytes)
{
    for (int form = MB_CANVAS_PDF; form <= MB_CANVAS_PNG; form++) {
        struct mb_str first = full_page((enum mb_canvas_form)form), again;

        mb_canvas_shutdown();
        again = full_page((enum mb_canvas_form)form);
        cr_assert_eq(first.len, again.len, "form %d", form);
        cr_assert_eq(memcmp(first.at, again.at, first.len), 0, "form %d", form);
    }
}

Test(canvas, pdf_is_sound_and_says_what_it_is)
{
    struct mb_str pdf = full_page(MB_CANVAS_PDF), said;
    int fonts = 0, embedded = 0;

    OUTSIDE_NEEDS("qpdf");
    OUTSIDE_NEEDS("pdffonts");
    outside_file(arena, "a.pdf", pdf);
    cr_assert_eq(outside_run(arena, &said, "qpdf --check a.pdf"), 0, "%.*s", MB_STR_ARG(said));
    cr_assert(!outside_holds(said, "WARNING"), "%.*s", MB_STR_ARG(said));
    outside_run(arena, &said, "pdfinfo -isodates a.pdf");
    cr_assert(outside_holds(said, "Łupek — Κρινοειδή") && outside_holds(said, "Harrow & Vane"));
    cr_assert(outside_holds(said, "A sheet") && outside_holds(said, "Markerbed"));
    cr_assert(outside_holds(said, "2026-05-28T20:26:40"), "%.*s", MB_STR_ARG(said));
    cr_assert(outside_holds(said, "Pages:           2") && outside_holds(said, "(A4)"));
    outside_run(arena, &said, "pdffonts a.pdf | tail -n +3");
    for (struct mb_str line; mb_str_cut(said, '\n', &line, &said);) {
        fonts++;
        embedded += outside_holds(line, "yes yes yes"); /* embedded, a subset, with Unicode */
    }
    cr_assert(fonts > 0 && fonts == embedded, "%d of %d fonts are embedded", embedded, fonts);
    outside_run(arena, &said, "pdftotext a.pdf -");
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        cr_assert(outside_holds(said, names[i]), "%s: %.*s", names[i], MB_STR_ARG(said));
    cr_assert(outside_holds(said, "page two"));
}

Test(canvas, a_jpeg_goes_into_the_pdf_byte_for_byte_and_once)
{
    struct mb_str pdf = full_page(MB_CANVAS_PDF), said, out;
    struct mb_str jpeg = sample_jpeg(arena, &(struct sample_jpeg){ .width_px = 400,
                                         .height_px = 300, .noise = 30, .turn = 3,
                                         .secret = "quarry" });

    OUTSIDE_NEEDS("pdfimages");
    outside_file(arena, "a.pdf", pdf);
    cr_assert_eq(outside_run(arena, NULL, "pdfimages -j a.pdf img"), 0);
    for (int i = 0; i < 2; i++) {
        out = outside_read(arena, i ? "img-001.jpg" : "img-000.jpg");
        cr_assert_eq(out.len, jpeg.len);
        cr_assert_eq(memcmp(out.at, jpeg.at, jpeg.len), 0);
    }
    outside_run(arena, &said, "pdfimages -list a.pdf | tail -n +3 | awk '{print $11}' | uniq");
    cr_assert_eq(said.len, 2, "one object number, not %.*s", MB_STR_ARG(said));
}

Test(canvas, svg_is_well_formed_and_tells_no_more_than_its_pixels)
{
    struct mb_str svg = full_page(MB_CANVAS_SVG), said;

    cr_assert(outside_holds(svg, "<svg ") && outside_holds(svg, "data:image/jpeg;base64,"));
    /* "quarry" in base64, at each of three offsets */
    cr_assert(!outside_holds(svg, "cXVhcnJ5") && !outside_holds(svg, "F1YXJye") &&
              !outside_holds(svg, "xdWFycn"));
    OUTSIDE_NEEDS("xmllint");
    outside_file(arena, "a.svg", svg);
    /* A clip's rule counts only on its own path; without it holes would be filled. */
    outside_run(arena, &said, "grep -A1 '<clipPath' a.svg | grep -c '<clipPath'; "
                              "grep -A1 '<clipPath' a.svg | "
                              "grep -c '<path clip-rule=\"evenodd\" d='");
    cr_assert(said.len > 2 && strncmp(said.at, said.at + said.len / 2, said.len / 2) == 0 &&
                  said.at[0] != '0', "%.*s", MB_STR_ARG(said));
    cr_assert_eq(outside_run(arena, &said, "xmllint --noout --nonet a.svg"), 0, "%.*s",
                 MB_STR_ARG(said));
    /* Every name that is used is there, once. */
    cr_assert_eq(outside_run(arena, &said,
                             "grep -o 'id=\"[^\"]*\"' a.svg | sort | uniq -d | wc -l; "
                             "grep -o '#[a-z]*[0-9][0-9-]*' a.svg | sort -u | tr -d '#' | "
                             "while read -r n; do grep -q \"id=\\\"$n\\\"\" a.svg || "
                             "echo missing $n; done"), 0);
    cr_assert(mb_str_is(said, "0\n"), "%.*s", MB_STR_ARG(said));
}

/* At least two dots a module: qr.h. */
Test(canvas, a_code_is_read_from_a_raster_of_the_page)
{
    static const struct {
        size_t len;
        double side;
    } rows[] = { { 40, 15 }, { 200, 25 }, { 500, 40 }, { 1000, 50 } };
    struct mb_str said;

    OUTSIDE_NEEDS("zbarimg");
    OUTSIDE_NEEDS("pdftoppm");
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        mb_canvas *c = open_pdf();
        char *text = mb_arena_get(arena, rows[i].len + 1);
        struct mb_picture p = photo(&(struct sample_jpeg){ .width_px = 300, .height_px = 200,
                                                           .noise = 60 });
        const struct mb_qr *qr;

        for (size_t k = 0; k < rows[i].len; k++)
            text[k] = (char)('a' + (k * k + k / 3) % 26);
        OK(mb_qr_make(arena, mb_str_of(text), MB_QR_LEVEL_M, &qr, &err));
        mb_canvas_rect(c, 0, 0, 210, 297, &(struct mb_fill){ .pattern = MB_PATTERN_CROSS }, NULL);
        OK(mb_canvas_picture(c, &p, (struct mb_mm_box){ 20, 150, 100, 100 }, MB_FIT_CORNER, NULL,
                             &err));
        mb_canvas_qr(c, qr, 20.3, 30.7, rows[i].side);
        outside_file(arena, "a.pdf", finish(c));
        outside_run(arena, NULL, "pdftoppm -r 150 -gray -singlefile a.pdf a");
        outside_run(arena, &said, "zbarimg -q --raw --nodbus -Sdisable -Sqrcode.enable a.pgm");
        cr_assert(said.len == rows[i].len + 1 && memcmp(said.at, text, rows[i].len) == 0,
                  "%zu bytes at %g mm were read as \"%.*s\"", rows[i].len, rows[i].side,
                  MB_STR_ARG(said));
    }
}

/* ---- photos ---- */

/* Where the red (top left as stored), green (top right), blue (bottom left) and white quarter are
 * seen, by the Exif 2.3 table of orientations: positions as "row column" of the seen picture. */
static const char turned[9][4][3] = {
    [1] = { "00", "01", "10", "11" }, [2] = { "01", "00", "11", "10" },
    [3] = { "11", "10", "01", "00" }, [4] = { "10", "11", "00", "01" },
    [5] = { "00", "10", "01", "11" }, [6] = { "01", "11", "00", "10" },
    [7] = { "11", "01", "10", "00" }, [8] = { "10", "00", "11", "01" },
};

static void check_quarters(const struct raster *r, const struct mb_mm_box *box, double px, int turn)
{
    static const int colours[4][3] = { { 220, 30, 30 }, { 30, 200, 30 }, { 30, 30, 220 },
                                       { 240, 240, 240 } };

    for (int i = 0; i < 4; i++) {
        double x = box->x + box->width * (turned[turn][i][1] == '1' ? 0.75 : 0.25);
        double y = box->y + box->height * (turned[turn][i][0] == '1' ? 0.75 : 0.25);

        cr_assert(raster_is(r, x * px, y * px, colours[i][0], colours[i][1], colours[i][2]),
                  "turn %d: quarter %d is not where it belongs", turn, i);
    }
}

Test(canvas, photos_stand_upright)
{
    mb_canvas *pdf = open_pdf(), *png = open_form(MB_CANVAS_PNG, 210, 297, 50.8);
    struct mb_mm_box at[9];
    struct raster r;

    for (int turn = 1; turn <= 8; turn++) {
        struct mb_picture p = photo(&(struct sample_jpeg){ .width_px = 200, .height_px = 100,
                                                           .turn = turn });
        struct mb_mm_box box = { 10 + turn % 4 * 45, 10 + turn / 4 * 60, 40, 40 };

        OK(mb_canvas_picture(png, &p, box, MB_FIT_MIDDLE, NULL, &err));
        OK(mb_canvas_picture(pdf, &p, box, MB_FIT_MIDDLE, &at[turn], &err));
        cr_assert_float_eq(at[turn].width, turn >= 5 ? 20 : 40, 1e-9);
        cr_assert_float_eq(at[turn].height, turn >= 5 ? 40 : 20, 1e-9);
        cr_assert_float_eq(at[turn].x, box.x + (turn >= 5 ? 10 : 0), 1e-9);
        cr_assert_float_eq(at[turn].y, box.y + (turn >= 5 ? 0 : 10), 1e-9);
    }
    r = raster_of_png(arena, finish(png));
    cr_assert(r.width == 420 && r.height == 594);
    for (int turn = 1; turn <= 8; turn++)
        check_quarters(&r, &at[turn], 2, turn);
    OUTSIDE_NEEDS("pdftoppm");
    r = raster_of_pdf(arena, finish(pdf), 1, 51);
    for (int turn = 1; turn <= 8; turn++)
        check_quarters(&r, &at[turn], 51 / 25.4, turn);
}

Test(canvas, a_bad_photo_is_refused_and_the_page_goes_on)
{
    struct mb_str jpeg = sample_jpeg(arena, &(struct sample_jpeg){ .width_px = 300, .noise = 50,
                                                                   .height_px = 200 });
    char *cut = mb_arena_copy(arena, jpeg.at, jpeg.len / 2 + 2);
    struct mb_picture p;

    memcpy(cut + jpeg.len / 2, "\xFF\xD9", 2);
    OK(mb_picture_look((struct mb_str){ cut, jpeg.len / 2 + 2 }, &p, &err));
    for (int form = MB_CANVAS_PDF; form <= MB_CANVAS_PNG; form++) {
        mb_canvas *c = open_form((enum mb_canvas_form)form, 100, 100, 100);
        struct mb_error err = { 0 };

        cr_assert_eq(mb_canvas_picture(c, &p, (struct mb_mm_box){ 5, 5, 50, 50 }, MB_FIT_MIDDLE,
                                       NULL, &err), MB_REFUSED);
        cr_assert(strstr(err.text, "damaged or cut short"), "%s", err.text);
        err.code = MB_OK;
        cr_assert_eq(mb_canvas_picture(c, &p, (struct mb_mm_box){ 5, 5, 0, 50 }, MB_FIT_MIDDLE,
                                       NULL, &err), MB_REFUSED);
        write_text(c, "and on", 5, 5, 50);
        cr_assert_gt(finish(c).len, 100);
    }
}

/* 60 million pixels: kept as they are, not unpacked, so a page takes no more memory than others. */
Test(canvas, a_huge_photo_is_only_passed_on)
{
    struct mb_str jpeg = sample_jpeg(arena, &(struct sample_jpeg){ .width_px = 10000,
                                                                   .height_px = 6000 });
    mb_canvas *c = open_pdf();
    struct mb_picture p;
    struct mb_str pdf;
    struct raster r;

    OK(mb_picture_look(jpeg, &p, &err));
    OK(mb_canvas_picture(c, &p, (struct mb_mm_box){ 5, 5, 100, 60 }, MB_FIT_MIDDLE, NULL, &err));
    pdf = finish(c);
    cr_assert(pdf.len > jpeg.len && pdf.len < jpeg.len + 10000);
    c = open_form(MB_CANVAS_PNG, 100, 60, 100);
    OK(mb_canvas_picture(c, &p, (struct mb_mm_box){ 0, 0, 100, 60 }, MB_FIT_MIDDLE, NULL, &err));
    r = raster_of_png(arena, finish(c));
    check_quarters(&r, &(struct mb_mm_box){ 0, 0, 100, 60 }, 100 / 25.4, 1);
}

/* ---- patterns ---- */

/* How much of the area each pattern inks, worked out by hand for step s and line l (in mm). */
Test(canvas, patterns_cover_what_they_should)
{
    double s = 4, l = 0.8, a = l / s;
    const double expected[] = {
        [MB_PATTERN_NONE] = 0, [MB_PATTERN_SOLID] = 1, [MB_PATTERN_LINES] = a,
        [MB_PATTERN_CROSS] = 2 * a - a * a, [MB_PATTERN_DASHES] = a * 1.5 / 2.5,
        [MB_PATTERN_DOTS] = M_PI * a * a,  /* of diameter 2 l, one for each s x s */
        [MB_PATTERN_RINGS] = 2 * M_PI * 0.3 * a,
        [MB_PATTERN_BRICKS] = a + (1 - a) * a / 2,
    };

    for (int form = MB_CANVAS_PDF; form <= MB_CANVAS_PNG; form += 2) {
        for (int i = MB_PATTERN_NONE; i <= MB_PATTERN_BRICKS; i++)
            for (int turn = 0; turn < 90; turn += 37) {
                mb_canvas *c = open_form((enum mb_canvas_form)form, 100, 100, 101.6);
                struct mb_mm square[] = { { 10, 10 }, { 90, 10 }, { 90, 90 }, { 10, 90 } };
                struct mb_mm hole[] = { { 40, 40 }, { 60, 40 }, { 60, 60 }, { 40, 60 } };
                struct mb_mm_ring rings[] = { { square, 4 }, { hole, 4 } };
                struct mb_fill fill = { .pattern = (enum mb_pattern)i, .step_mm = s, .line_mm = l,
                                        .turn_degrees = turn };
                struct raster r;
                double dark;

                mb_canvas_shape(c, rings, 2, &fill, NULL);
                if (form == MB_CANVAS_PDF && !outside_has("pdftoppm"))
                    continue;
                r = form == MB_CANVAS_PDF ? raster_of_pdf(arena, finish(c), 1, 102)
                                          : raster_of_png(arena, finish(c));
                dark = raster_darkness(&r, 41, 41, 359, 359) * 6400 / 6000;
                cr_assert(fabs(dark - expected[i]) < 0.03 + expected[i] * 0.06,
                          "form %d, pattern %d, turned %d: %.3f inked, not %.3f", form, i, turn,
                          dark, expected[i]);
                cr_assert_eq(raster_darkness(&r, 165, 165, 235, 235), 0, "the hole is left free");
                cr_assert_eq(raster_darkness(&r, 0, 0, 400, 38), 0, "nothing outside");
            }
    }
}

Test(canvas, ground_ink_fade_and_clip)
{
    mb_canvas *c = open_form(MB_CANVAS_PNG, 100, 100, 25.4);
    struct mb_fill red = { .pattern = MB_PATTERN_SOLID, .ink = { 0xFF0000, 0 } };
    struct mb_fill half = { .pattern = MB_PATTERN_SOLID, .ink = { 0x0000FF, 0.5 } };
    struct mb_fill ground = { .ground = true, .ground_ink = { 0x00FF00, 0 } };
    struct raster r;

    mb_canvas_rect(c, 0, 0, 20, 20, &red, NULL);
    mb_canvas_rect(c, 20, 0, 20, 20, &half, NULL);
    mb_canvas_rect(c, 40, 0, 20, 20, &ground, NULL);
    mb_canvas_clip(c, 60, 0, 10, 10);
    mb_canvas_rect(c, 0, 0, 100, 100, &red, NULL);
    mb_canvas_pop(c);
    mb_canvas_push(c, 50, 50, 90); /* x points down, y to the left */
    mb_canvas_rect(c, 10, 10, 20, 5, &red, NULL);
    mb_canvas_pop(c);
    mb_canvas_circle(c, 80, 80, 10, NULL, &(struct mb_stroke){ .width_mm = 4 });
    r = raster_of_png(arena, finish(c));
    cr_assert(raster_is(&r, 10, 10, 255, 0, 0));
    cr_assert(raster_is(&r, 30, 10, 128, 128, 255));
    cr_assert(raster_is(&r, 50, 10, 0, 255, 0));
    cr_assert(raster_is(&r, 65, 5, 255, 0, 0) && raster_is(&r, 75, 5, 255, 255, 255));
    cr_assert(raster_is(&r, 65, 15, 255, 255, 255));
    cr_assert(raster_is(&r, 37, 70, 255, 0, 0) && raster_is(&r, 43, 70, 255, 255, 255));
    cr_assert(raster_is(&r, 80, 70, 0, 0, 0) && raster_is(&r, 80, 80, 255, 255, 255));
}

/* ---- wrong use ---- */

Test(canvas, what_cannot_be_drawn_is_told_at_the_end)
{
    static const double far[] = { NAN, INFINITY, -INFINITY, 1e9, -1e300 };
    struct mb_str out = { 0 };

    for (int i = 0; i < 5 * 6; i++) {
        mb_canvas *c = open_pdf();
        struct mb_mm points[] = { { 1, 1 }, { far[i / 6], 5 }, { 3, 3 } };
        struct mb_mm_ring ring = { points, 3 };
        struct mb_fill fill = { .pattern = MB_PATTERN_LINES };
        struct mb_error err = { 0 };

        switch (i % 6) {
        case 0: mb_canvas_line(c, 1, 1, 2, far[i / 6], &thin); break;
        case 1: mb_canvas_rect(c, 1, 1, far[i / 6], 1, &fill, &thin); break;
        case 2: mb_canvas_circle(c, 1, 1, far[i / 6], &fill, &thin); break;
        case 3: mb_canvas_shape(c, &ring, 1, &fill, &thin); break;
        case 4: mb_canvas_push(c, far[i / 6], 1, 0); break;
        default: mb_canvas_polyline(c, points, 3, &thin);
        }
        mb_canvas_line(c, 1, 1, 2, 2, &thin);
        cr_assert_eq(mb_canvas_finish(c, arena, &out, &err), MB_REFUSED);
        cr_assert(strstr(err.text, "lies on no page"), "%s", err.text);
        mb_canvas_close(c);
    }
    cr_assert_null(out.at);
}

Test(canvas, pushes_pages_and_ends_must_match)
{
    struct mb_error err = { 0 };
    struct mb_str out;
    mb_canvas *c;

    for (int i = 0; i < 5; i++) {
        c = open_form(i == 2 ? MB_CANVAS_SVG : MB_CANVAS_PDF, 100, 100, 100);
        if (i == 0)
            mb_canvas_pop(c);
        for (int k = 0; k < (i == 1 ? 1 : i == 4 ? 70 : 0); k++)
            mb_canvas_push(c, 1, 1, 1);
        if (i == 1 || i == 2)
            mb_canvas_page(c);
        if (i == 3)
            mb_canvas_clip(c, 1, 1, 9, 9);
        err.code = MB_OK;
        cr_assert_eq(mb_canvas_finish(c, arena, &out, &err), MB_UNABLE, "case %d", i);
        mb_canvas_close(c);
    }
    c = open_pdf();
    cr_assert_eq(mb_canvas_finish(c, arena, &out, &err), MB_OK);
    err.code = MB_OK;
    cr_assert_eq(mb_canvas_finish(c, arena, &out, &err), MB_UNABLE);
    mb_canvas_close(c);
    mb_canvas_close(NULL);
}

Test(canvas, pages_of_impossible_size_are_refused)
{
    static const struct mb_canvas_setup bad[] = {
        { .width_mm = 0, .height_mm = 100 },
        { .width_mm = 100, .height_mm = NAN },
        { .width_mm = 100, .height_mm = 5000 },
        { .form = MB_CANVAS_PNG, .width_mm = 100, .height_mm = 100, .dpi = 0 },
        { .form = MB_CANVAS_PNG, .width_mm = 100, .height_mm = 100, .dpi = 5000 },
        { .form = MB_CANVAS_PNG, .width_mm = 3000, .height_mm = 3000, .dpi = 300 },
        { .width_mm = 100, .height_mm = 100, .title = "two\nlines" },
        { .width_mm = 100, .height_mm = 100, .author = "\xFF" },
        { .width_mm = 100, .height_mm = 100, .subject = "\xE2\x80\xAE" },
    };

    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct mb_error err = { 0 };
        mb_canvas *c = NULL;

        cr_assert_eq(mb_canvas_open(&bad[i], &c, &err), MB_REFUSED, "case %zu", i);
        cr_assert_null(c);
        cr_assert_neq(err.text[0], 0);
    }
}
