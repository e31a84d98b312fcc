#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include "buf.h"
#include "outside.h"
#include "qr.h"

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

TestSuite(qr, .init = set_up, .fini = tear_down);

static const struct mb_qr *make(struct mb_str content, enum mb_qr_level level)
{
    const struct mb_qr *qr = NULL;
    struct mb_error err = { 0 };

    cr_assert_eq(mb_qr_make(arena, content, level, &qr, &err), MB_OK, "%s", err.text);
    cr_assert_eq(qr->side, 17 + 4 * qr->version);
    return qr;
}

static struct mb_str repeat(const char *pattern, size_t len)
{
    char *text = mb_arena_get(arena, len + 1);

    for (size_t i = 0; i < len; i++)
        text[i] = pattern[i % strlen(pattern)];
    return (struct mb_str){ text, len };
}

/* ISO/IEC 18004:2015, table 7 (capacities), from memory. */
Test(qr, smallest_version_that_holds_it)
{
    static const struct {
        enum mb_qr_level level;
        int version;
        size_t digits, capitals, bytes;
    } rows[] = {
        { MB_QR_LEVEL_M, 1, 34, 20, 14 },       { MB_QR_LEVEL_M, 2, 63, 38, 26 },
        { MB_QR_LEVEL_M, 5, 202, 122, 84 },     { MB_QR_LEVEL_M, 10, 513, 311, 213 },
        { MB_QR_LEVEL_M, 40, 5596, 3391, 2331 }, { MB_QR_LEVEL_L, 1, 41, 25, 17 },
        { MB_QR_LEVEL_L, 40, 7089, 4296, 2953 }, { MB_QR_LEVEL_Q, 1, 27, 16, 11 },
        { MB_QR_LEVEL_Q, 40, 3993, 2420, 1663 }, { MB_QR_LEVEL_H, 1, 17, 10, 7 },
        { MB_QR_LEVEL_H, 40, 3057, 1852, 1273 },
    };

    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        size_t limits[3] = { rows[i].digits, rows[i].capitals, rows[i].bytes };
        static const char *const patterns[3] = { "1234567890", "AZ:$%", "az{~" };

        for (int k = 0; k < 3; k++) {
            const struct mb_qr *qr = make(repeat(patterns[k], limits[k]), rows[i].level);
            struct mb_str more = repeat(patterns[k], limits[k] + 1);
            struct mb_error err = { 0 };

            cr_assert_eq(qr->version, rows[i].version, "row %zu, mode %d", i, k);
            if (rows[i].version < 40) {
                cr_assert_eq(make(more, rows[i].level)->version, rows[i].version + 1);
                continue;
            }
            cr_assert_eq(mb_qr_make(arena, more, rows[i].level, &qr, &err), MB_REFUSED);
            cr_assert_neq(qr->version, 0, "a refused call leaves its output alone");
            cr_assert(strstr(err.text, "too many"));
        }
    }
}

static int format_bits(const struct mb_qr *qr)
{
    static const uint8_t x[15] = { 0, 1, 2, 3, 4, 5, 7, 8, 8, 8, 8, 8, 8, 8, 8 };
    static const uint8_t y[15] = { 8, 8, 8, 8, 8, 8, 8, 8, 7, 5, 4, 3, 2, 1, 0 };
    int bits = 0;

    for (int i = 0; i < 15; i++)
        bits = bits << 1 | qr->dark[y[i] * qr->side + x[i]];
    return bits;
}

/* ISO/IEC 18004:2015, table C.1: the 15 format bits of level and mask, from memory. */
Test(qr, carries_the_level_asked_for)
{
    static const int formats[4][8] = {
        [MB_QR_LEVEL_L] = { 0x77C4, 0x72F3, 0x7DAA, 0x789D, 0x662F, 0x6318, 0x6C41, 0x6976 },
        [MB_QR_LEVEL_M] = { 0x5412, 0x5125, 0x5E7C, 0x5B4B, 0x45F9, 0x40CE, 0x4F97, 0x4AA0 },
        [MB_QR_LEVEL_Q] = { 0x355F, 0x3068, 0x3F31, 0x3A06, 0x24B4, 0x2183, 0x2EDA, 0x2BED },
        [MB_QR_LEVEL_H] = { 0x1689, 0x13BE, 0x1CE7, 0x19D0, 0x0762, 0x0255, 0x0D0C, 0x083B },
    };

    for (int level = 0; level < 4; level++) {
        const struct mb_qr *qr = make(MB_STR("ledger.harrowvane.example"), (enum mb_qr_level)level);
        bool found = false;

        for (int mask = 0; mask < 8; mask++)
            found |= formats[level][mask] == format_bits(qr);
        cr_assert(found, "level %d has format bits %04x", level, (unsigned)format_bits(qr));
    }
}

/* Finder patterns and timing lines, ISO/IEC 18004:2015, 6.3. */
Test(qr, has_the_fixed_marks_the_right_way_up)
{
    static const char finder[7][8] = { "1111111", "1000001", "1011101", "1011101",
                                       "1011101", "1000001", "1111111" };

    for (size_t len = 1; len < 2000; len = len * 3 + 1) {
        const struct mb_qr *qr = make(repeat("fossil", len), MB_QR_LEVEL_M);
        int s = qr->side, light = 0;

        for (int y = 0; y < 7; y++)
            for (int x = 0; x < 7; x++) {
                cr_assert_eq(qr->dark[y * s + x], finder[y][x] - '0');
                cr_assert_eq(qr->dark[y * s + s - 7 + x], finder[y][x] - '0');
                cr_assert_eq(qr->dark[(s - 7 + y) * s + x], finder[y][x] - '0');
                light += !qr->dark[(s - 7 + y) * s + s - 7 + x];
            }
        cr_assert_neq(light, 16, "no finder at the bottom right");
        for (int i = 8; i < s - 8; i++) {
            cr_assert_eq(qr->dark[6 * s + i], i % 2 == 0);
            cr_assert_eq(qr->dark[i * s + 6], i % 2 == 0);
        }
    }
    cr_assert_float_eq(mb_qr_module_mm(make(repeat("a", 200), MB_QR_LEVEL_M), 65), 1.0, 1e-9);
}

/* A picture of our own, not by the canvas: four dots a module. */
static void write_picture(const struct mb_qr *qr, const char *name)
{
    MB_BUF_AUTO struct mb_buf pgm;
    int side = (qr->side + 2 * MB_QR_QUIET) * 4;

    mb_buf_init(&pgm, 1 << 22);
    mb_buf_printf(&pgm, "P5\n%d %d\n255\n", side, side);
    for (int y = 0; y < side; y++)
        for (int x = 0; x < side; x++) {
            int mx = x / 4 - MB_QR_QUIET, my = y / 4 - MB_QR_QUIET;
            bool inside = mx >= 0 && my >= 0 && mx < qr->side && my < qr->side;

            mb_buf_add_char(&pgm, inside && qr->dark[my * qr->side + mx] ? 0 : (char)255);
        }
    outside_file(arena, name, mb_buf_str(&pgm));
}

Test(qr, another_reader_reads_it_back)
{
    static const char *const texts[] = {
        "a",
        "MFZW IZTB ONSG CYLT MRTG C43E",
        "0123456789012345678901234567890123456789",
        "ledger.harrowvane.example/HV-0412#MFZWIZTBONSGCYLTMRTGC43EMFZWIZTBONSGCYLTMRTGC43E",
        "Ein Stück Łupek, Κρινοειδή",
    };

    OUTSIDE_NEEDS("zbarimg");
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
        for (int level = 0; level < 4; level++) {
            struct mb_str said;

            write_picture(make((struct mb_str){ texts[i], strlen(texts[i]) },
                               (enum mb_qr_level)level), "qr.pgm");
            cr_assert_eq(outside_run(arena, &said,
                                     "zbarimg -q --raw --nodbus -Sdisable -Sqrcode.enable qr.pgm"),
                         0);
            cr_assert(said.len == strlen(texts[i]) + 1 &&
                          memcmp(said.at, texts[i], strlen(texts[i])) == 0,
                      "\"%s\" was read as \"%.*s\"", texts[i], MB_STR_ARG(said));
        }
}

Test(qr, refuses_in_one_sentence_and_repeats_itself)
{
    const struct mb_qr *qr = NULL, *again;
    struct mb_error err = { 0 };

    cr_assert_eq(mb_qr_make(arena, MB_STR(""), MB_QR_LEVEL_M, &qr, &err), MB_REFUSED);
    cr_assert_null(qr);
    err.code = MB_OK;
    cr_assert_eq(mb_qr_make(arena, repeat("x", 10000000), MB_QR_LEVEL_L, &qr, &err), MB_REFUSED);
    cr_assert(strstr(err.text, "10000000 bytes"));
    qr = make((struct mb_str){ "a\0b\0", 4 }, MB_QR_LEVEL_M);
    again = make((struct mb_str){ "a\0b\0", 4 }, MB_QR_LEVEL_M);
    cr_assert_eq(memcmp(qr->dark, again->dark, (size_t)(qr->side * qr->side)), 0);
    again = make((struct mb_str){ "a", 1 }, MB_QR_LEVEL_M);
    cr_assert_neq(memcmp(qr->dark, again->dark, (size_t)(qr->side * qr->side)), 0);
}
