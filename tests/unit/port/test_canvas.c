#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cairo/cairo.h>

#include "buf.h"
#include "canvas.h"
#include "outside.h"
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

/* ---- looking at pixels ---- */

struct raster {
    int width, height;
    uint8_t *rgb;
};

static struct raster page_at(struct mb_str pdf, int page, int dpi)
{
    struct raster r = { 0 };
    struct mb_str ppm;
    int at = 0;

    outside_file(arena, "page.pdf", pdf);
    cr_assert_eq(outside_run(arena, NULL, "pdftoppm -r %d -f %d -l %d -singlefile page.pdf page",
                             dpi, page, page), 0);
    ppm = outside_read(arena, "page.ppm");
    cr_assert_eq(sscanf(mb_arena_copy(arena, ppm.at, 40), "P6 %d %d 255%n", &r.width, &r.height,
                        &at), 2);
    r.rgb = (uint8_t *)mb_arena_copy(arena, ppm.at, ppm.len) + at + 1;
    return r;
}

static cairo_status_t take(void *owner, unsigned char *to, unsigned len)
{
    struct mb_str *rest = owner;

    if (len > rest->len)
        return CAIRO_STATUS_READ_ERROR;
    memcpy(to, rest->at, len);
    *rest = (struct mb_str){ rest->at + len, rest->len - len };
    return CAIRO_STATUS_SUCCESS;
}

static struct raster png_raster(struct mb_str png)
{
    cairo_surface_t *s = cairo_image_surface_create_from_png_stream(take, &png);
    struct raster r = { cairo_image_surface_get_width(s), cairo_image_surface_get_height(s), NULL };
    const unsigned char *rows = cairo_image_surface_get_data(s);

    r.rgb = mb_arena_get(arena, (size_t)r.width * (size_t)r.height * 3 + 1);
    for (int y = 0; y < r.height; y++)
        for (int x = 0; x < r.width; x++) {
            uint32_t px;
            uint8_t *to = r.rgb + ((size_t)y * (size_t)r.width + (size_t)x) * 3;

            memcpy(&px, rows + y * cairo_image_surface_get_stride(s) + 4 * x, 4);
            to[0] = (uint8_t)(px >> 16);
            to[1] = (uint8_t)(px >> 8);
            to[2] = (uint8_t)px;
        }
    cairo_surface_destroy(s);
    return r;
}

static const uint8_t *pixel(const struct raster *r, double x, double y)
{
    cr_assert(x >= 0 && y >= 0 && x < r->width && y < r->height);
    return r->rgb + ((size_t)y * (size_t)r->width + (size_t)x) * 3;
}

static bool is_colour(const uint8_t *px, int red, int green, int blue)
{
    return abs(px[0] - red) < 40 && abs(px[1] - green) < 40 && abs(px[2] - blue) < 40;
}

/* Share of black in a box of pixels. */
static double darkness(const struct raster *r, int x0, int y0, int x1, int y1)
{
    double sum = 0;

    for (int y = y0; y < y1; y++)
        for (int x = x0; x < x1; x++)
            sum += 1 - pixel(r, x, y)[1] / 255.0;
    return sum / ((x1 - x0) * (double)(y1 - y0));
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
                                                       .noise = 30, .turn = 3, .secret = "quarry" });
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

        cr_assert(is_colour(pixel(r, x * px, y * px), colours[i][0], colours[i][1], colours[i][2]),
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
    r = png_raster(finish(png));
    cr_assert(r.width == 420 && r.height == 594);
    for (int turn = 1; turn <= 8; turn++)
        check_quarters(&r, &at[turn], 2, turn);
    OUTSIDE_NEEDS("pdftoppm");
    r = page_at(finish(pdf), 1, 51);
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
Test(canvas, a_huge_photo_is_only_passed_on, .timeout = 60)
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
    r = png_raster(finish(c));
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
                struct mb_ring rings[] = { { square, 4 }, { hole, 4 } };
                struct mb_fill fill = { .pattern = (enum mb_pattern)i, .step_mm = s, .line_mm = l,
                                        .turn_degrees = turn };
                struct raster r;
                double dark;

                mb_canvas_shape(c, rings, 2, &fill, NULL);
                if (form == MB_CANVAS_PDF && !outside_has("pdftoppm"))
                    continue;
                r = form == MB_CANVAS_PDF ? page_at(finish(c), 1, 102) : png_raster(finish(c));
                dark = darkness(&r, 41, 41, 359, 359) * 6400 / 6000;
                cr_assert(fabs(dark - expected[i]) < 0.03 + expected[i] * 0.06,
                          "form %d, pattern %d, turned %d: %.3f inked, not %.3f", form, i, turn,
                          dark, expected[i]);
                cr_assert_eq(darkness(&r, 165, 165, 235, 235), 0, "the hole is left free");
                cr_assert_eq(darkness(&r, 0, 0, 400, 38), 0, "nothing outside");
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
    r = png_raster(finish(c));
    cr_assert(is_colour(pixel(&r, 10, 10), 255, 0, 0));
    cr_assert(is_colour(pixel(&r, 30, 10), 128, 128, 255));
    cr_assert(is_colour(pixel(&r, 50, 10), 0, 255, 0));
    cr_assert(is_colour(pixel(&r, 65, 5), 255, 0, 0) && is_colour(pixel(&r, 75, 5), 255, 255, 255));
    cr_assert(is_colour(pixel(&r, 65, 15), 255, 255, 255));
    cr_assert(is_colour(pixel(&r, 37, 70), 255, 0, 0) && is_colour(pixel(&r, 43, 70), 255, 255, 255));
    cr_assert(is_colour(pixel(&r, 80, 70), 0, 0, 0) && is_colour(pixel(&r, 80, 80), 255, 255, 255));
}

/* ---- text ---- */

static mb_block *block_of(mb_canvas *c, const char *text, double width)
{
    mb_block *b = NULL;

    OK(mb_block_new(c, &ten, mb_str_of(text), width, &b, &err));
    return b;
}

static char *steps(int count)
{
    MB_BUF_AUTO struct mb_buf buf;

    mb_buf_init(&buf, 1 << 22);
    for (int i = 0; i < count; i++)
        mb_buf_printf(&buf, "%sstep%d Air abrasion at 2 bar under the binocular, %d minutes; the "
                            "join at the third arm was opened, cleaned and set anew%s.",
                      i ? "\n" : "", i, 10 + i % 50,
                      i % 3 ? "" : ", then consolidated twice at five per cent in acetone, with "
                                   "a day between the two, since the surface had begun to powder");
    return mb_arena_copy(arena, buf.at, buf.len);
}

static struct mb_str flow(const char *text, double left, double top, double width, double bottom)
{
    mb_canvas *c = open_pdf();
    mb_block *b = block_of(c, text, width);
    double y = top, whole = mb_block_height(b), drawn = 0;

    while (!mb_block_done(b)) {
        double fits = mb_block_fits(b, bottom - y), took;

        if (fits == 0) {
            mb_canvas_page(c);
            y = top;
            continue;
        }
        took = mb_block_draw(b, left, y, bottom - y);
        cr_assert_float_eq(took, fits, 1e-9);
        cr_assert_leq(y + took, bottom + 1e-3);
        y += took;
        drawn += took;
    }
    cr_assert_float_eq(drawn, whole, 1e-6);
    cr_assert_eq(mb_block_fits(b, 100), 0);
    cr_assert_eq(mb_block_draw(b, left, y, 100), 0);
    return finish(c);
}

/* 400 steps over many pages, judged by another program: each word of each step is there once and in
 * order, every word lies within the frame, and no two on a page lie on each other. */
Test(canvas, a_long_text_flows_without_cut_or_overlap)
{
    struct mb_str pdf, said, line;
    const char *text = steps(400);
    double last_y = 0;
    int next = 0, words = 0, pages = 0, expected = 1;

    OUTSIDE_NEEDS("pdftotext");
    for (const char *at = text; *at; at++)
        expected += *at == ' ' || *at == '\n';
    pdf = flow(text, 20, 20, 120, 270);
    outside_file(arena, "a.pdf", pdf);
    cr_assert_eq(outside_run(arena, &said, "pdftotext -bbox a.pdf - | grep -E '<(word|page) '"), 0);
    while (mb_str_cut(said, '\n', &line, &said)) {
        double x0, y0, x1, y1;
        char word[100];

        if (sscanf(mb_arena_copy(arena, line.at, line.len),
                   " <word xMin=\"%lf\" yMin=\"%lf\" xMax=\"%lf\" yMax=\"%lf\">%99[^<]", &x0, &y0,
                   &x1, &y1, word) != 5) {
            pages++;
            last_y = 0;
            continue;
        }
        words++;
        cr_assert(x0 >= 20 / 25.4 * 72 - 1 && x1 <= 140 / 25.4 * 72 + 1, "%s at %g-%g", word, x0,
                  x1);
        cr_assert(y0 >= 20 / 25.4 * 72 - 1 && y1 <= 270 / 25.4 * 72 + 1, "%s at %g-%g", word, y0,
                  y1);
        cr_assert(y0 > last_y - 0.1 || y1 < last_y + 0.1 || fabs(y1 - last_y) < 0.1,
                  "%s lies on the line above", word);
        last_y = y1;
        if (strncmp(word, "step", 4) == 0)
            cr_assert_eq((int)strtol(word + 4, NULL, 10), next++);
    }
    cr_assert_eq(next, 400);
    cr_assert_eq(words, expected, "%d words of %d on %d pages", words, expected, pages);
    cr_assert_gt(pages, 10);
}

Test(canvas, no_line_of_a_paragraph_stands_alone)
{
    mb_canvas *c = open_pdf();
    mb_block *b = block_of(c, "one one one one one one one one\ntwo two two two two two two two",
                           30);
    double line = mb_block_height(b) / (double)mb_block_lines(b), took;

    cr_assert_eq(mb_block_lines(b), 4);
    cr_assert_float_eq(mb_block_fits(b, line * 0.9), 0, 1e-6);
    cr_assert_float_eq(mb_block_fits(b, line * 1.1), line, 1e-6, "no choice");
    cr_assert_float_eq(mb_block_fits(b, line * 2.1), line * 2, 1e-6);
    cr_assert_float_eq(mb_block_fits(b, line * 3.1), line * 2, 1e-6, "two stays together");
    cr_assert_float_eq(mb_block_fits(b, line * 4.1), line * 4, 1e-6);
    took = mb_block_draw(b, 10, 10, line * 3.1);
    cr_assert_float_eq(took, line * 2, 1e-6);
    cr_assert_eq(mb_block_lines(b), 2);
    mb_canvas_close(c);
}

/* A paragraph longer than one piece of layout breaks as one that fits into it would: every line but
 * the last is full. */
Test(canvas, a_very_long_paragraph_has_no_seam)
{
    mb_canvas *c = open_pdf();
    char *text = mb_arena_get(arena, 40001);
    mb_block *b;
    struct mb_str said, line;
    int lines = 0, short_lines = 0;
    double y = 5;

    OUTSIDE_NEEDS("pdftotext");
    for (int i = 0; i < 40000; i += 4)
        memcpy(text + i, "abc ", 4);
    b = block_of(c, text, 190);
    while (!mb_block_done(b)) {
        y += mb_block_draw(b, 10, y, 290 - y);
        mb_canvas_page(c);
        y = 5;
    }
    outside_file(arena, "a.pdf", finish(c));
    outside_run(arena, &said, "pdftotext -layout a.pdf - | grep abc");
    while (mb_str_cut(said, '\n', &line, &said)) {
        lines++;
        short_lines += line.len < 90;
    }
    cr_assert_gt(lines, 300);
    cr_assert_leq(short_lines, 1);
}

Test(canvas, hostile_texts)
{
    static const struct {
        const char *text, *part;
    } bad[] = {
        { "\xFF\xFE", "not UTF-8" },        { "a\xC0\x80", "not UTF-8" },
        { "cut \xE2\x82", "not UTF-8" },    { "bell \a", "control characters" },
        { "\xE2\x80\xAE" "evil", "direction" }, { "\xED\xA0\x80", "not UTF-8" },
    };
    mb_canvas *c = open_pdf();
    char *long_text = mb_arena_get(arena, MB_BLOCK_BYTES_MAX + 2);
    mb_block *b = NULL;
    struct mb_error err = { 0 };

    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        err.code = MB_OK;
        cr_assert_eq(mb_block_new(c, &ten, mb_str_of(bad[i].text), 50, &b, &err), MB_REFUSED);
        cr_assert(strstr(err.text, bad[i].part), "%s", err.text);
        cr_assert_null(b);
    }
    memset(long_text, 'x', MB_BLOCK_BYTES_MAX + 1);
    err.code = MB_OK;
    cr_assert_eq(mb_block_new(c, &ten, mb_str_of(long_text), 50, &b, &err), MB_REFUSED);
    cr_assert(strstr(err.text, "longer than 1024 KiB"));
    memset(long_text, '\n', 70000);
    err.code = MB_OK;
    cr_assert_eq(mb_block_new(c, &ten, (struct mb_str){ long_text, 70000 }, 50, &b, &err),
                 MB_REFUSED);
    cr_assert(strstr(err.text, "65535 lines"));
    err.code = MB_OK;
    cr_assert_eq(mb_block_new(c, &ten, MB_STR("a"), NAN, &b, &err), MB_REFUSED);
    err.code = MB_OK;
    cr_assert_eq(mb_block_new(c, &(struct mb_type){ .size_pt = 4000 }, MB_STR("a"), 50, &b, &err),
                 MB_REFUSED);
    err.code = MB_OK;
    cr_assert_eq(mb_block_new_runs(c, NULL, 0, 50, &b, &err), MB_REFUSED);
    cr_assert_null(b);
    finish(c);
}

/* Marks piled up hundredfold, one endless word, boxes narrower than a letter, letters that no font
 * has, right to left, nothing at all: each stays in its box. */
Test(canvas, odd_texts_stay_in_their_box)
{
    MB_BUF_AUTO struct mb_buf pile, word;
    struct mb_type large = { .size_pt = 30 };
    struct raster r;
    mb_canvas *c = open_form(MB_CANVAS_PNG, 200, 200, 50.8);
    mb_block *b;
    double y = 20;

    mb_buf_init(&pile, 100000);
    mb_buf_init(&word, 100000);
    for (int i = 0; i < 300; i++)
        mb_buf_add_text(&pile, i % 10 ? "\xCC\x81" : "\xCC\xA3");
    for (int i = 0; i < 3000; i++)
        mb_buf_add_char(&word, "abcdefghij"[i % 10]);
    for (int i = 0; i < 6; i++) {
        const char *texts[] = { mb_arena_printf(arena, "a%s b", pile.at), word.at,
                                "العربية: زنبق البحر", "\xF4\x8F\xBF\xBD private", "", "   " };
        struct mb_type *type = i == 1 ? &(struct mb_type){ .size_pt = 4 } : &large;

        OK(mb_block_new(c, type, mb_str_of(texts[i]), i == 3 ? 2 : 150, &b, &err));
        cr_assert_eq(mb_block_missing(b), i == 3 ? 1 : 0, "text %d", i);
        cr_assert_lt(mb_block_height(b), 150);
        cr_assert_gt(mb_block_height(b), 1);
        mb_canvas_clip(c, 0, 0, 200, 200);
        mb_block_draw(b, 20, y, INFINITY);
        mb_canvas_pop(c);
        if (i == 0)
            cr_assert_lt(mb_block_height(b) + y, 200);
        mb_block_free(b);
        if (i == 0) {
            r = png_raster(finish(c));
            cr_assert_gt(darkness(&r, 40, 40, 340, 140), 0.001);
            cr_assert_eq(darkness(&r, 0, 0, 400, 39), 0, "the pile does not leave its line");
            c = open_form(MB_CANVAS_PNG, 200, 200, 50.8);
        }
    }
    mb_canvas_close(c);
}

Test(canvas, alignment_follows_the_writing)
{
    static const struct {
        const char *text;
        enum mb_align align;
        int side; /* -1 left, 0 middle, 1 right */
    } rows[] = {
        { "fossil", MB_ALIGN_START, -1 },  { "fossil", MB_ALIGN_MIDDLE, 0 },
        { "fossil", MB_ALIGN_END, 1 },     { "זנבק", MB_ALIGN_START, 1 },
        { "זנבק", MB_ALIGN_MIDDLE, 0 },    { "זנבק", MB_ALIGN_END, -1 },
        { "12 זנבק", MB_ALIGN_START, 1 },  { "fossil זנבק", MB_ALIGN_START, -1 },
    };

    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        mb_canvas *c = open_form(MB_CANVAS_PNG, 120, 30, 25.4);
        struct mb_type type = { .size_pt = 20, .align = rows[i].align };
        struct raster r;
        double left, middle, right;

        OK(mb_canvas_text(c, &type, mb_str_of(rows[i].text), 0, 5, 120, NULL, &err));
        r = png_raster(finish(c));
        left = darkness(&r, 0, 0, 10, 30);
        middle = darkness(&r, 55, 0, 65, 30);
        right = darkness(&r, 110, 0, 120, 30);
        cr_assert((left > 0) == (rows[i].side < 0) && (right > 0) == (rows[i].side > 0) &&
                      (middle > 0) == (rows[i].side == 0),
                  "row %zu: %g %g %g", i, left, middle, right);
    }
}

/* ---- wrong use ---- */

Test(canvas, what_cannot_be_drawn_is_told_at_the_end)
{
    static const double far[] = { NAN, INFINITY, -INFINITY, 1e9, -1e300 };
    struct mb_str out = { 0 };

    for (int i = 0; i < 5 * 6; i++) {
        mb_canvas *c = open_pdf();
        struct mb_mm points[] = { { 1, 1 }, { far[i / 6], 5 }, { 3, 3 } };
        struct mb_ring ring = { points, 3 };
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
