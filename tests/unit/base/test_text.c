#include <criterion/criterion.h>
#include <iconv.h>
#include <string.h>

#include "text.h"

#define S(text) mb_str_of(text)

Test(text, comparing_goes_by_bytes_and_a_prefix_is_smaller)
{
    static const char *const rising[] = { "", "A", "AA", "AB", "B", "a", "\xc3\xa9" };

    for (int i = 0; i < 7; i++) {
        for (int j = 0; j < 7; j++) {
            int order = mb_str_compare(S(rising[i]), S(rising[j]));
            cr_assert_eq((order > 0) - (order < 0), (i > j) - (i < j));
            cr_assert_eq(mb_str_equal(S(rising[i]), S(rising[j])), i == j);
            cr_assert_eq(mb_str_is(S(rising[i]), rising[j]), i == j);
        }
    }
    cr_assert(mb_str_equal(S(NULL), S("")));
    cr_assert(mb_str_starts(S("specimen/A1"), "specimen/"));
    cr_assert_not(mb_str_starts(S("spec"), "specimen/"));
    cr_assert(mb_str_starts(S(NULL), ""));
    cr_assert(mb_str_among(S("North"), "n north"));
    cr_assert(mb_str_among(S("n"), "n north"));
    cr_assert_not(mb_str_among(S("nor"), "n north"));
    cr_assert_not(mb_str_among(S("n north"), "n north"));
    cr_assert_not(mb_str_among(S(""), "n north"));
    cr_assert_not(mb_str_among(S("n"), ""));
}

Test(text, trimming_and_cutting_take_what_they_should)
{
    struct mb_str head, rest;

    cr_assert(mb_str_is(mb_str_trim(S(" \t\r\n bed 4 \n")), "bed 4"));
    cr_assert_eq(mb_str_trim(S(" \t ")).len, 0);
    cr_assert_eq(mb_str_trim(S(NULL)).len, 0);
    cr_assert(mb_str_cut(S("site/SD-1/x"), '/', &head, &rest));
    cr_assert(mb_str_is(head, "site") && mb_str_is(rest, "SD-1/x"));
    cr_assert(mb_str_cut(S("="), '=', &head, &rest) && head.len == 0 && rest.len == 0);
    cr_assert_not(mb_str_cut(S("site"), '/', &head, &rest));
    cr_assert(mb_str_is(head, "site") && rest.len == 0);
    cr_assert_not(mb_str_cut(S(NULL), '/', &head, &rest));
}

/* The Unicode Standard, table 3-7 (well-formed UTF-8 byte sequences): both ends of each range and
 * the first byte outside. */
Test(text, utf8_is_well_formed_as_table_3_7_says)
{
    static const struct {
        const char *bytes;
        uint32_t code; /* 0: ill formed */
    } cases[] = {
        { "\x7f", 0x7f },
        { "\xc2\x80", 0x80 },
        { "\xdf\xbf", 0x7ff },
        { "\xe0\xa0\x80", 0x800 },
        { "\xe0\xbf\xbf", 0xfff },
        { "\xe1\x80\x80", 0x1000 },
        { "\xec\xbf\xbf", 0xcfff },
        { "\xed\x80\x80", 0xd000 },
        { "\xed\x9f\xbf", 0xd7ff },
        { "\xee\x80\x80", 0xe000 },
        { "\xef\xbf\xbf", 0xffff },
        { "\xf0\x90\x80\x80", 0x10000 },
        { "\xf3\xbf\xbf\xbf", 0xfffff },
        { "\xf4\x80\x80\x80", 0x100000 },
        { "\xf4\x8f\xbf\xbf", 0x10ffff },
        { "\x80", 0 },
        { "\xbf", 0 },
        { "\xc0\x80", 0 },
        { "\xc1\xbf", 0 },
        { "\xc2\x7f", 0 },
        { "\xc2\xc0", 0 },
        { "\xe0\x9f\xbf", 0 },
        { "\xed\xa0\x80", 0 },
        { "\xed\xbf\xbf", 0 },
        { "\xe1\x80", 0 },
        { "\xe1\x80\x7f", 0 },
        { "\xf0\x8f\xbf\xbf", 0 },
        { "\xf4\x90\x80\x80", 0 },
        { "\xf5\x80\x80\x80", 0 },
        { "\xff", 0 },
        { "\xf1\x80\x80", 0 },
        { "\xf8\x88\x80\x80\x80", 0 },
        { "\xf1\x80\xc0\x80", 0 },
    };
    char padded[32];

    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        size_t len = strlen(cases[i].bytes);
        uint32_t code = 0;
        cr_assert_eq(mb_utf8_next(S(cases[i].bytes), &code), cases[i].code == 0 ? 0 : len);
        cr_assert_eq(code, cases[i].code);
        for (size_t at = 0; at < 17; at++) {
            memset(padded, 'a', sizeof padded);
            memcpy(padded + at, cases[i].bytes, len);
            cr_assert_eq(mb_utf8_ok((struct mb_str){ padded, 24 }), cases[i].code != 0);
            cr_assert_eq(mb_utf8_ok((struct mb_str){ padded, at + len }), cases[i].code != 0);
        }
    }
    cr_assert_eq(mb_utf8_next((struct mb_str){ "\xe2\x82\xac", 2 }, &(uint32_t){ 0 }), 0);
    cr_assert_eq(mb_utf8_next(S(""), &(uint32_t){ 0 }), 0);
}

/* The C library's own converter judges all first and second bytes with the bounds of the rest. */
Test(text, utf8_agrees_with_the_converter_of_the_c_library)
{
    static const unsigned char edge[] = { 0x00, 0x41, 0x7f, 0x80, 0x8f, 0xbf, 0xc0, 0xff };
    iconv_t converter = iconv_open("UTF-32LE", "UTF-8");

    cr_assert_neq(converter, (iconv_t)-1);
    for (unsigned n = 0; n < 256 * 256 * 64; n++) {
        char bytes[4] = { (char)(n >> 14), (char)(n >> 6), (char)edge[n >> 3 & 7],
                          (char)edge[n & 7] };
        uint32_t code = 0, theirs[4] = { 0 };
        size_t len = mb_utf8_next((struct mb_str){ bytes, 4 }, &code), left = len ? len : 4;
        size_t room = len ? sizeof theirs : 4;
        char *from = bytes, *to = (char *)theirs;
        bool taken;
        iconv(converter, NULL, NULL, NULL, NULL);
        taken = iconv(converter, &from, &left, &to, &room) != (size_t)-1;
        if (len > 0)
            cr_assert(taken && theirs[0] == code && room == sizeof theirs - 4, "%08x", n);
        else
            cr_assert(from == bytes, "%08x should be refused from its first byte", n);
    }
    iconv_close(converter);
}

/* Unicode Standard Annex 9 section 2 names the bidirectional formatting characters. */
Test(text, controls_and_direction_characters_are_not_allowed_in_a_text)
{
    static const uint32_t direction[] = { 0x61c,  0x200e, 0x200f, 0x202a, 0x202b, 0x202c,
                                          0x202d, 0x202e, 0x2066, 0x2067, 0x2068, 0x2069 };
    size_t refused = 0;

    for (uint32_t code = 0; code < 0x110000; code++)
        refused += !mb_char_allowed(code);
    cr_assert_eq(refused, 32 + 1 + 32 + 12);
    for (size_t i = 0; i < 12; i++)
        cr_assert_not(mb_char_allowed(direction[i]));
    for (uint32_t code = 0; code < 0x20; code++)
        cr_assert(!mb_char_allowed(code) && !mb_char_allowed(0x80 + code));
    cr_assert(!mb_char_allowed(0x7f) && mb_char_allowed(' ') && mb_char_allowed(0xa0));
    cr_assert(mb_text_allowed(S("f\xc3\xbcr \xe2\x82\xac 5"), false));
    cr_assert(mb_text_allowed(S("two\n\tlines"), true));
    cr_assert_not(mb_text_allowed(S("two\nlines"), false));
    cr_assert_not(mb_text_allowed(S("two\r\nlines"), true));
    cr_assert_not(mb_text_allowed(S("\xe2\x80\xae"), true));
    cr_assert_not(mb_text_allowed(S("\xff"), true));
}

Test(text, an_id_begins_with_a_letter_or_digit_and_is_short)
{
    static const struct {
        const char *id;
        bool ok;
    } cases[] = {
        { "A", true },
        { "7", true },
        { "SD-1", true },
        { "a.b_c-d", true },
        { "", false },
        { ".a", false },
        { "-a", false },
        { "_a", false },
        { "a b", false },
        { "a/b", false },
        { "a\xc3\xa9", false },
        { "1234567890123456789012345678901234567890123456789012345678901234", true },
        { "12345678901234567890123456789012345678901234567890123456789012345", false },
    };
    mb_arena *arena = mb_arena_new();

    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        cr_assert_eq(mb_id_ok(S(cases[i].id)), cases[i].ok, "%s", cases[i].id);
    cr_assert_not(mb_id_ok((struct mb_str){ "a\0b", 3 }));
    cr_assert_str_eq(mb_lower(arena, S("SD-1.@[Z\xc3\x89")), "sd-1.@[z\xc3\x89");
    mb_arena_free(arena);
}

/* kitten and sitting are three edits apart: the textbook case of edit distance (from memory). */
Test(text, the_nearest_word_is_offered_only_where_it_is_near)
{
    static const char *const allowed[] = { "preparation", "condition", "custody", "kitten",
                                           "note" };
    static const struct {
        const char *word, *nearest;
    } cases[] = {
        { "custody", "custody" },
        { "custdy", "custody" },
        { "Preperation", "preparation" },
        { "sitting", "kitten" },
        { "sattin", NULL }, /* three edits are half of it */
        { "conditoins", "condition" },
        { "nte", "note" },
        { "nt", NULL },
        { "nat", NULL },
        { "nose", "note" },
        { "", NULL },
        { "quarry", NULL },
        { "\xff\xff\xff\xff", NULL },
        { "kitt\xc3\xa9n", "kitten" },
        { "ntoe", "note" }, /* neighbours that changed places are one edit */
        { "cutsdoy", "custody" },
        { "otne", NULL },
    };

    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const char *got = mb_nearest(S(cases[i].word), allowed, 5);
        cr_assert(cases[i].nearest == NULL ? got == NULL
                                           : got != NULL && strcmp(got, cases[i].nearest) == 0,
                  "%s gave %s", cases[i].word, got == NULL ? "nothing" : got);
    }
    cr_assert_null(mb_nearest(S("note"), NULL, 0));
}
