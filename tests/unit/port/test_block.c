#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "buf.h"
#include "canvas.h"
#include "outside.h"
#include "raster.h"
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

TestSuite(block, .init = set_up, .fini = tear_down);

static const struct mb_type ten = { .size_pt = 10 };

#define OK(call)                                                                                \
    do {                                                                                        \
        struct mb_error err = { 0 };                                                            \
        cr_assert_eq((call), MB_OK, "%s", err.text);                                            \
    } while (0)

static mb_canvas *open_form(enum mb_canvas_form form, double width, double height, double dpi)
{
    struct mb_canvas_setup setup = { .form = form, .width_mm = width, .height_mm = height,
                                     .dpi = dpi };
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
Test(block, a_long_text_flows_without_cut_or_overlap)
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

Test(block, no_line_of_a_paragraph_stands_alone)
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
Test(block, a_very_long_paragraph_has_no_seam)
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

Test(block, hostile_texts)
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
Test(block, odd_texts_stay_in_their_box)
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
            r = raster_of_png(arena, finish(c));
            cr_assert_gt(raster_darkness(&r, 40, 40, 340, 140), 0.001);
            cr_assert_eq(raster_darkness(&r, 0, 0, 400, 39), 0, "the pile does not leave its line");
            c = open_form(MB_CANVAS_PNG, 200, 200, 50.8);
        }
    }
    mb_canvas_close(c);
}

/* Noncharacters are UTF-8, but some libraries stop at them. */
Test(block, noncharacters_do_not_stop_the_page)
{
    struct mb_canvas_setup setup = { .width_mm = 100, .height_mm = 100,
                                     .title = "a \xEF\xB7\x90 \xF0\x9F\xBF\xBF b" };
    mb_canvas *c;
    mb_block *b;
    struct mb_str said;

    OK(mb_canvas_open(&setup, &c, &err));
    b = block_of(c, "one \xEF\xBF\xBE two \xEF\xBF\xBF three \xEF\xB7\x9F four "
                    "\xF0\x9F\xBF\xBE five \xF4\x8F\xBF\xBF six", 80);
    mb_block_draw(b, 5, 5, INFINITY);
    outside_file(arena, "a.pdf", finish(c));
    OUTSIDE_NEEDS("pdftotext");
    outside_run(arena, &said, "pdftotext a.pdf - | tr '\\n' ' '");
    cr_assert(outside_holds(said, "one") && outside_holds(said, "six"), "%.*s", MB_STR_ARG(said));
}

Test(block, alignment_follows_the_writing)
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
        r = raster_of_png(arena, finish(c));
        left = raster_darkness(&r, 0, 0, 10, 30);
        middle = raster_darkness(&r, 55, 0, 65, 30);
        right = raster_darkness(&r, 110, 0, 120, 30);
        cr_assert((left > 0) == (rows[i].side < 0) && (right > 0) == (rows[i].side > 0) &&
                      (middle > 0) == (rows[i].side == 0),
                  "row %zu: %g %g %g", i, left, middle, right);
    }
}
