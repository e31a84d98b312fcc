#include <criterion/criterion.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <zlib.h>

#include "buf.h"
#include "jpeg.h"
#include "outside.h"
#include "picture.h"
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
}

TestSuite(picture, .init = set_up, .fini = tear_down);

static struct mb_picture look(struct mb_str bytes)
{
    struct mb_picture p = { .turn = -1 };
    struct mb_error err = { 0 };

    cr_assert_eq(mb_picture_look(bytes, &p, &err), MB_OK, "%s", err.text);
    return p;
}

static void refused(struct mb_str bytes, const char *part)
{
    struct mb_picture p = { .turn = -1 };
    struct mb_error err = { 0 };
    enum mb_rc rc = mb_picture_look(bytes, &p, &err);

    cr_assert_eq(rc, MB_REFUSED, "%zu bytes were taken", bytes.len);
    cr_assert_eq(p.turn, -1, "a refused call leaves its output alone");
    cr_assert(strstr(err.text, part), "\"%s\" does not say \"%s\"", err.text, part);
    cr_assert(mb_text_allowed(mb_str_of(err.text), false));
}

static struct mb_str changed(struct mb_str bytes, size_t at, const char *with, size_t len)
{
    struct mb_str copy = { mb_arena_copy(arena, bytes.at, bytes.len), bytes.len };

    cr_assert_leq(at + len, bytes.len);
    memcpy((char *)(uintptr_t)copy.at + at, with, len);
    return copy;
}

static size_t find(struct mb_str bytes, const char *what, size_t len)
{
    const char *at = memmem(bytes.at, bytes.len, what, len);

    cr_assert_not_null(at);
    return (size_t)(at - bytes.at);
}

static struct mb_str joined(struct mb_str a, struct mb_str b)
{
    char *both = mb_arena_get(arena, a.len + b.len + 1);

    memcpy(both, a.at, a.len);
    memcpy(both + a.len, b.at, b.len);
    return (struct mb_str){ both, a.len + b.len };
}

Test(picture, reads_what_libjpeg_wrote)
{
    for (int i = 0; i < 32; i++) {
        struct sample_jpeg how = { .width_px = 1 + i * 37, .height_px = 1 + (i * 91) % 400,
                                   .channels = i % 3 ? 3 : 1, .progressive = i % 4 == 1,
                                   .noise = i % 5 * 9, .turn = i % 9, .little = i % 2,
                                   .secret = i % 7 == 3 ? "37.77 N 109.53 W" : NULL };
        struct mb_picture p = look(sample_jpeg(arena, &how));
        int w, h;

        cr_assert_eq(p.form, MB_PICTURE_JPEG);
        cr_assert_eq(p.width_px, how.width_px);
        cr_assert_eq(p.height_px, how.height_px);
        cr_assert_eq(p.channels, how.channels);
        cr_assert_eq(p.turn, how.turn ? how.turn : 1);
        cr_assert_eq(p.metadata, how.turn != 0 || how.secret != NULL);
        cr_assert_eq(p.scans > 1, how.progressive);
        mb_picture_upright(&p, &w, &h);
        cr_assert_eq(w, how.turn >= 5 ? how.height_px : how.width_px);
        cr_assert_eq(h, how.turn >= 5 ? how.width_px : how.height_px);
    }
}

Test(picture, every_cut_is_noticed)
{
    for (int progressive = 0; progressive < 2; progressive++) {
        struct sample_jpeg how = { .width_px = 70, .height_px = 50, .progressive = progressive,
                                   .noise = 20, .turn = 6, .secret = "x" };
        struct mb_str jpeg = sample_jpeg(arena, &how);

        for (size_t len = 2; len < jpeg.len; len++)
            refused((struct mb_str){ jpeg.at, len }, "cut short");
    }
    refused(MB_STR(""), "empty file");
    refused(MB_STR("\xFF"), "neither a JPEG nor a PNG");
    refused(MB_STR("GIF89a"), "neither a JPEG nor a PNG");
    refused((struct mb_str){ mb_arena_get(arena, 70000000), 70000000 }, "66 MiB");
}

Test(picture, a_false_size_is_noticed)
{
    struct mb_str jpeg = sample_jpeg(arena, &(struct sample_jpeg){ .width_px = 64, .height_px = 48,
                                                                   .noise = 30 });
    size_t sof = find(jpeg, "\xFF\xC0\x00\x11\x08", 5);

    refused(changed(jpeg, sof + 5, "\x20\x00\x20\x00", 4), "cannot fill them");
    refused(changed(jpeg, sof + 5, "\xFF\xFF\xFF\xFF", 4),
            "65535 x 65535 pixels, more than the 100");
    refused(changed(jpeg, sof + 5, "\x00\x00\x00\x40", 4), "64 x 0 pixels");
    refused(changed(jpeg, sof + 5, "\x00\x30\x00\x00", 4), "0 x 48 pixels");
    refused(changed(jpeg, sof + 4, "\x0C", 1), "rare kind");
    refused(changed(jpeg, sof + 1, "\xC3", 1), "rare kind");
    refused(changed(jpeg, sof + 1, "\xC9", 1), "rare kind");
    refused(changed(jpeg, sof + 9, "\x04", 1), "damaged");
    refused(changed(jpeg, sof + 11, "\x00", 1), "damaged");
    refused(changed(jpeg, sof + 11, "\x51", 1), "damaged");
    refused(sample_jpeg(arena, &(struct sample_jpeg){ .width_px = 9, .height_px = 9,
                                                      .channels = 4 }), "rare kind");
}

/* A progressive file whose last scan comes a hundred times more: a decoder would work for hours. */
Test(picture, too_many_layers_are_refused)
{
    struct mb_str jpeg = sample_jpeg(arena, &(struct sample_jpeg){
                                                .width_px = 64, .height_px = 48,
                                                .progressive = true, .noise = 30 });
    size_t sos = 0;
    MB_BUF_AUTO struct mb_buf many;

    for (size_t i = 0; i + 1 < jpeg.len; i++)
        if (memcmp(jpeg.at + i, "\xFF\xDA", 2) == 0)
            sos = i;
    mb_buf_init(&many, 1 << 22);
    mb_buf_add(&many, jpeg.at, jpeg.len - 2);
    for (int i = 0; i < 100; i++)
        mb_buf_add(&many, jpeg.at + sos, jpeg.len - 2 - sos);
    mb_buf_add(&many, "\xFF\xD9", 2);
    refused(mb_buf_str(&many), "too many layers");
}

static uint32_t *pixels;

static uint32_t *give_room(void *owner, int width_px, int height_px, size_t *row_words)
{
    int *size = owner;

    size[0] = width_px;
    size[1] = height_px;
    *row_words = (size_t)width_px;
    pixels = MB_ARRAY(arena, (size_t)width_px * (size_t)height_px, uint32_t);
    return pixels;
}

static uint32_t *decode(struct mb_str bytes, int want, int size[2])
{
    struct mb_picture p = look(bytes);
    struct mb_jpeg_room room = { give_room, size };
    struct mb_error err = { 0 };

    cr_assert_eq(mb_jpeg_decode(&p, want, want, &room, &err), MB_OK, "%s", err.text);
    return pixels;
}

static bool near_colour(uint32_t pixel, int r, int g, int b)
{
    return abs((int)(pixel >> 16 & 255) - r) < 25 && abs((int)(pixel >> 8 & 255) - g) < 25 &&
           abs((int)(pixel & 255) - b) < 25;
}

Test(picture, decodes_no_larger_than_needed)
{
    static const struct {
        int want, width, height;
    } rows[] = { { 1, 40, 30 }, { 30, 40, 30 }, { 31, 80, 60 }, { 100, 160, 120 },
                 { 120, 160, 120 }, { 121, 320, 240 }, { 999, 320, 240 } };
    struct mb_str jpeg = sample_jpeg(arena, &(struct sample_jpeg){ .width_px = 320,
                                                                   .height_px = 240 });

    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        int size[2];
        uint32_t *px = decode(jpeg, rows[i].want, size);
        size_t w, h;

        cr_assert_eq(size[0], rows[i].width);
        cr_assert_eq(size[1], rows[i].height);
        w = (size_t)size[0];
        h = (size_t)size[1];
        cr_assert(near_colour(px[h / 4 * w + w / 4], 220, 30, 30));
        cr_assert(near_colour(px[h / 4 * w + w * 3 / 4], 30, 200, 30));
        cr_assert(near_colour(px[h * 3 / 4 * w + w / 4], 30, 30, 220));
        cr_assert(near_colour(px[h * 3 / 4 * w + w * 3 / 4], 240, 240, 240));
    }
}

Test(picture, damage_inside_is_found_by_reading_through)
{
    struct mb_str jpeg = sample_jpeg(arena, &(struct sample_jpeg){ .width_px = 320, .noise = 40,
                                                                   .height_px = 240 });
    size_t found = 0, cuts = 0;
    struct mb_picture p = look(jpeg);
    struct mb_error err = { 0 };

    cr_assert_eq(mb_jpeg_check(&p, &err), MB_OK, "%s", err.text);
    /* Cut, and closed with an end marker so that it looks whole. */
    for (size_t len = 700; len + 100 < jpeg.len; len += 131, cuts++) {
        struct mb_str cut = joined((struct mb_str){ jpeg.at, len }, MB_STR("\xFF\xD9"));

        err.code = MB_OK;
        if (mb_picture_look(cut, &p, &err) || mb_jpeg_check(&p, &err)) {
            cr_assert_eq(err.code, MB_REFUSED);
            cr_assert(strstr(err.text, "copy it again") || strstr(err.text, "cannot fill"));
            found++;
        }
    }
    cr_assert_gt(cuts, 20);
    cr_assert_eq(found, cuts);
}

Test(picture, cleaning_keeps_the_pixels_and_drops_the_rest)
{
    static const char secret[] = "Bracken Quarry 37.77 N";

    for (int turn = 1; turn <= 8; turn++)
        for (int keep = 0; keep < 2; keep++) {
            struct sample_jpeg how = { .width_px = 80, .height_px = 60, .turn = turn,
                                       .progressive = turn % 2, .secret = secret };
            struct mb_str jpeg = joined(sample_jpeg(arena, &how), MB_STR("\xFF\xD8 Bracken"));
            struct mb_picture before = look(jpeg), after;
            struct mb_str clean = mb_picture_clean(arena, &before, keep);
            int size[2];
            uint32_t *a = decode(jpeg, 9999, size), *b = decode(clean, 9999, size);

            after = look(clean);
            cr_assert(before.metadata && outside_holds(jpeg, "Bracken"));
            cr_assert(!outside_holds(clean, "Bracken") && !outside_holds(clean, "37.77"));
            cr_assert_eq(after.turn, keep ? turn : 1);
            cr_assert_eq(after.metadata, keep && turn != 1);
            cr_assert_eq(memcmp(a, b, 80 * 60 * sizeof *a), 0);
        }
}

/* Another program finds nothing left either. */
Test(picture, exiftool_finds_nothing_after_cleaning)
{
    struct sample_jpeg how = { .width_px = 80, .height_px = 60, .turn = 8,
                               .secret = "Bracken Quarry" };
    struct mb_picture p = look(sample_jpeg(arena, &how));
    struct mb_str said;

    OUTSIDE_NEEDS("exiftool");
    outside_file(arena, "a.jpg", p.bytes);
    outside_file(arena, "b.jpg", mb_picture_clean(arena, &p, true));
    outside_run(arena, &said, "exiftool -G1 a.jpg");
    cr_assert(outside_holds(said, "Bracken"));
    outside_run(arena, &said, "exiftool -G1 b.jpg");
    cr_assert(!outside_holds(said, "Bracken") && outside_holds(said, "Rotate 270 CW"),
              "%.*s", MB_STR_ARG(said));
}

/* ---- PNG, made by hand (ISO/IEC 15948) and zlib ---- */

static void add_be32(struct mb_buf *buf, uint32_t v)
{
    for (int shift = 24; shift >= 0; shift -= 8)
        mb_buf_add_char(buf, (char)(v >> shift & 255));
}

static void add_chunk(struct mb_buf *buf, const char *name, const void *body, size_t len)
{
    uLong crc = crc32(crc32(0, (const Bytef *)name, 4), body, (uInt)len);

    add_be32(buf, (uint32_t)len);
    mb_buf_add(buf, name, 4);
    mb_buf_add(buf, body, len);
    add_be32(buf, (uint32_t)(len ? crc : crc32(0, (const Bytef *)name, 4)));
}

static struct mb_str png(uint32_t width, uint32_t height, uint32_t said_width, bool text)
{
    uLongf len = compressBound((width * 3 + 1) * height);
    Bytef *raw = mb_arena_get(arena, (width * 3 + 1) * height), *packed = mb_arena_get(arena, len);
    MB_BUF_AUTO struct mb_buf buf, head;

    mb_buf_init(&buf, 1 << 24);
    mb_buf_init(&head, 100);
    compress(packed, &len, raw, (width * 3 + 1) * height);
    add_be32(&head, said_width);
    add_be32(&head, height);
    mb_buf_add(&head, "\x08\x02\0\0\0", 5);
    mb_buf_add(&buf, "\x89PNG\r\n\x1a\n", 8);
    add_chunk(&buf, "IHDR", head.at, head.len);
    if (text)
        add_chunk(&buf, "tEXt", "Comment\0Bracken", 15);
    add_chunk(&buf, "IDAT", packed, len);
    add_chunk(&buf, "IEND", NULL, 0);
    return mb_arena_str(arena, mb_buf_str(&buf));
}

Test(picture, png)
{
    struct mb_str bytes = png(90, 40, 90, true);
    struct mb_picture p = look(bytes);

    cr_assert(p.form == MB_PICTURE_PNG && p.width_px == 90 && p.height_px == 40);
    cr_assert(p.channels == 3 && p.turn == 1 && p.metadata);
    bytes = mb_picture_clean(arena, &p, true);
    cr_assert(!outside_holds(bytes, "Bracken") && !look(bytes).metadata);
    cr_assert_eq(memcmp(bytes.at, png(90, 40, 90, false).at, bytes.len), 0);
    for (size_t len = 8; len < bytes.len; len++)
        refused((struct mb_str){ bytes.at, len }, "cut short");
    refused(png(90, 40, 900000, false), "more than a PNG may have");
    refused(png(90, 40, 600000, false), "32767 a side");
    refused(png(30, 900, 20000, false), "cannot fill them");
    refused(changed(bytes, 24, "\x11", 1), "damaged");
    refused(changed(bytes, 25, "\x05", 1), "damaged");
    refused(changed(bytes, 16, "\0\0\0\0", 4), "damaged");
}
