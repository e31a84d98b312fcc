/* Cleaning TIFF: hostile bytes are refused or give a picture, and cost no more than their length.
 * Metadata and pixels are judged from outside by tests/e2e/clean_photos.py. */
#include <criterion/criterion.h>

#include <string.h>

#include "tiff.h"

/* Little-endian, 2 x 1 pixels of grey, one strip, and one text (270) that tells a place. */
static const char sample[] =
    "II\x2a\0\x0c\0\0\0" "\x10\x20\0\0"
    "\x08\0"
    "\0\x01\x03\0\x01\0\0\0\x02\0\0\0" "\x01\x01\x03\0\x01\0\0\0\x01\0\0\0"
    "\x03\x01\x03\0\x01\0\0\0\x01\0\0\0" "\x06\x01\x03\0\x01\0\0\0\x01\0\0\0"
    "\x0e\x01\x02\0\x06\0\0\0\x72\0\0\0" "\x11\x01\x04\0\x01\0\0\0\x08\0\0\0"
    "\x15\x01\x03\0\x01\0\0\0\x01\0\0\0" "\x17\x01\x04\0\x01\0\0\0\x02\0\0\0"
    "\0\0\0\0" "Gulch\0";
enum { SAMPLE_LEN = sizeof sample - 1, AT_STRIP = 14 + 5 * 12 + 8, AT_TEXT = 0x72 };

static enum mb_rc clean(mb_arena *arena, const char *bytes, size_t len, struct mb_str *out,
                        bool *other)
{
    struct mb_error err = { 0 };
    enum mb_rc rc =
        mb_tiff_clean(arena, (struct mb_str){ mb_arena_copy(arena, bytes, len), len }, out, other,
                      &err);

    cr_expect_eq(rc != MB_OK, err.text[0] != '\0', "a refusal says why");
    return rc;
}

Test(tiff, a_text_goes_and_the_picture_stays)
{
    mb_arena *arena = mb_arena_new();
    struct mb_str out, again;
    bool other;

    cr_assert_eq(memcmp(sample + AT_TEXT, "Gulch", 5), 0);
    cr_assert_eq(clean(arena, sample, SAMPLE_LEN, &out, &other), MB_OK);
    cr_expect(other);
    cr_expect_null(memmem(out.at, out.len, "Gulch", 5));
    cr_expect_not_null(memmem(out.at, out.len, "\x10\x20", 2));
    cr_assert_eq(clean(arena, out.at, out.len, &again, &other), MB_OK);
    cr_expect(!other, "what is clean is left as it is");
    cr_expect(again.len == out.len && memcmp(again.at, out.at, out.len) == 0);
    mb_arena_free(arena);
}

Test(tiff, cut_short_at_any_byte_is_no_crash)
{
    mb_arena *arena = mb_arena_new();
    struct mb_str out;
    bool other;

    for (size_t len = 0; len < AT_TEXT - 4; len++) {
        cr_expect_eq(clean(arena, sample, len, &out, &other), MB_REFUSED, "%zu bytes", len);
        mb_arena_reset(arena);
    }
    mb_arena_free(arena);
}

Test(tiff, any_byte_changed_is_no_crash)
{
    mb_arena *arena = mb_arena_new();
    char bytes[SAMPLE_LEN];
    struct mb_str out;
    bool other;

    for (size_t at = 0; at < SAMPLE_LEN; at++)
        for (int value = 0; value < 256; value += 5) {
            memcpy(bytes, sample, SAMPLE_LEN);
            bytes[at] = (char)value;
            if (clean(arena, bytes, SAMPLE_LEN, &out, &other) == MB_OK)
                cr_expect_leq(out.len, SAMPLE_LEN + 65536);
            mb_arena_reset(arena);
        }
    mb_arena_free(arena);
}

Test(tiff, a_strip_outside_the_file_and_a_circle_are_refused)
{
    mb_arena *arena = mb_arena_new();
    char bytes[SAMPLE_LEN];
    struct mb_str out;
    bool other;

    memcpy(bytes, sample, SAMPLE_LEN);
    bytes[AT_STRIP + 1] = 1;
    cr_expect_eq(clean(arena, bytes, SAMPLE_LEN, &out, &other), MB_REFUSED);
    memcpy(bytes, sample, SAMPLE_LEN);
    bytes[14 + 8 * 12] = 12; /* the next directory is this one again */
    cr_expect_eq(clean(arena, bytes, SAMPLE_LEN, &out, &other), MB_REFUSED);
    mb_arena_free(arena);
}
