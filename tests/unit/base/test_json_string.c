#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>
#include <uchar.h>
#include <locale.h>

#include <markerbed/json.h>

#include "text.h"

/* Each place of a text of each length up to 40, so that the quick and the slow way both see it. */
Test(json_string, a_special_character_is_seen_wherever_it_stands)
{
    static const char special[] = { '"', '\\', '\n', 0x1f, 0x7f, (char)0x80, (char)0xff, '\0' };
    mb_arena *arena = mb_arena_new();
    char text[64];

    for (size_t len = 1; len < 40; len++) {
        for (size_t at = 0; at < len; at++) {
            for (size_t c = 0; c < sizeof special; c++) {
                const mb_json *value;
                memset(text, 'x', sizeof text);
                text[0] = text[len + 1] = '"';
                text[1 + at] = special[c];
                cr_assert_eq(mb_json_read(arena, (struct mb_str){ text, len + 2 }, MB_JSON_STRICT,
                                          &value, NULL),
                             MB_REFUSED, "byte %02x at %zu of %zu", special[c] & 0xff, at, len);
                text[1 + at] = ' ';
                cr_assert_eq(mb_json_read(arena, (struct mb_str){ text, len + 2 }, MB_JSON_STRICT,
                                          &value, NULL),
                             MB_OK);
                cr_assert_eq(value->text.len, len);
            }
        }
        mb_arena_reset(arena);
    }
    mb_arena_free(arena);
}

/* Each character past U+001F, written as escapes (RFC 8259 section 7) and as itself. What it is in
 * UTF-8 is the C library's word. */
Test(json_string, an_escape_and_the_character_itself_are_the_same)
{
    mb_arena *arena = mb_arena_new();

    cr_assert_not_null(setlocale(LC_CTYPE, "C.UTF-8"));
    for (uint32_t code = 0x20; code < 0x110000; code += code < 0x3000 ? 1 : 61) {
        enum mb_rc wanted = mb_char_allowed(code) ? MB_OK : MB_REFUSED;
        const mb_json *escaped, *raw;
        mbstate_t state = { 0 };
        char text[32], utf8[8] = { 0 };
        if (code >= 0xd800 && code < 0xe000)
            continue;
        cr_assert_neq(c32rtomb(utf8, code, &state), (size_t)-1);
        if (code < 0x10000)
            snprintf(text, sizeof text, "\"x\\u%04xy\"", code);
        else
            snprintf(text, sizeof text, "\"x\\u%04X\\u%04Xy\"", 0xd800 + ((code - 0x10000) >> 10),
                     0xdc00 + ((code - 0x10000) & 0x3ff));
        cr_assert_eq(mb_json_read(arena, mb_str_of(text), MB_JSON_STRICT, &escaped, NULL), wanted);
        cr_assert_eq(mb_json_read(arena, mb_str_of(text), MB_JSON_PLAIN, &escaped, NULL), MB_OK);
        cr_assert(escaped->text.len == strlen(utf8) + 2
                  && memcmp(escaped->text.at + 1, utf8, strlen(utf8)) == 0);
        if (code == '"' || code == '\\')
            continue;
        snprintf(text, sizeof text, "\"x%sy\"", utf8);
        cr_assert_eq(mb_json_read(arena, mb_str_of(text), MB_JSON_STRICT, &raw, NULL), wanted);
        cr_assert_eq(mb_json_read(arena, mb_str_of(text), MB_JSON_PLAIN, &raw, NULL), MB_OK);
        cr_assert(mb_json_equal(raw, escaped), "U+%04X", code);
        mb_arena_reset(arena);
    }
    mb_arena_free(arena);
}

Test(json_string, a_text_may_not_be_cut_off_anywhere)
{
    static const char whole[] = "\"a\\n\\\\\\\"\xc3\xa9\\u00e9\\ud83d\\ude00z\"";
    mb_arena *arena = mb_arena_new();
    const mb_json *value;

    for (size_t len = 0; len <= sizeof whole - 1; len++) {
        char *cut = mb_arena_get(arena, len);
        memcpy(cut, whole, len);
        cr_assert_eq(mb_json_read(arena, (struct mb_str){ cut, len }, MB_JSON_STRICT, &value, NULL),
                     len < sizeof whole - 1 ? MB_REFUSED : MB_OK, "cut at %zu", len);
    }
    cr_assert(mb_json_text_is(value, "a\n\\\"\xc3\xa9\xc3\xa9\xf0\x9f\x98\x80z"));
    mb_arena_free(arena);
}
