#include <criterion/criterion.h>
#include <string.h>

#include "codec.h"
#include "text.h"

/* RFC 4648 section 10 */
static const struct {
    const char *bytes, *base64, *base32, *base16;
} published[] = {
    { "", "", "", "" },
    { "f", "Zg==", "MY======", "66" },
    { "fo", "Zm8=", "MZXQ====", "666F" },
    { "foo", "Zm9v", "MZXW6===", "666F6F" },
    { "foob", "Zm9vYg==", "MZXW6YQ=", "666F6F62" },
    { "fooba", "Zm9vYmE=", "MZXW6YTB", "666F6F6261" },
    { "foobar", "Zm9vYmFy", "MZXW6YTBOI======", "666F6F626172" },
};

static struct mb_str small_unpadded(mb_arena *arena, const char *text)
{
    struct mb_str s = { text, strcspn(text, "=") };

    return mb_str_of(mb_lower(arena, s));
}

static bool same(const void *got, size_t len, const char *bytes)
{
    return len == strlen(bytes) && memcmp(got, bytes, len) == 0;
}

Test(codec, the_published_vectors_are_written_and_read)
{
    mb_arena *arena = mb_arena_new();

    for (size_t i = 0; i < sizeof published / sizeof published[0]; i++) {
        const char *bytes = published[i].bytes;
        size_t len = strlen(bytes), got;
        struct mb_str base64 = mb_str_of(published[i].base64);
        struct mb_str base64url = { base64.at, strcspn(base64.at, "=") };
        struct mb_str base32 = small_unpadded(arena, published[i].base32);
        struct mb_str base16 = small_unpadded(arena, published[i].base16);
        char text[32];
        unsigned char out[32];

        mb_hex_write(text, bytes, len);
        cr_assert(mb_str_is(base16, text));
        cr_assert(mb_str_equal(mb_b64(arena, bytes, len), base64));
        cr_assert(mb_str_equal(mb_b64u(arena, bytes, len), base64url));
        cr_assert(mb_str_equal(mb_base32(arena, bytes, len, false), base32));
        cr_assert_eq(base64.len, MB_B64_LEN(len));
        cr_assert_eq(base64url.len, MB_B64U_LEN(len));

        cr_assert(mb_hex_read(base16, out, &got) && same(out, got, bytes));
        cr_assert(mb_b64_read(base64, out, &got) && same(out, got, bytes));
        cr_assert(mb_b64u_read(base64url, out, &got) && same(out, got, bytes));
        cr_assert(mb_b64_read_exact(base64, out, len) && same(out, len, bytes));
        cr_assert(mb_b64u_read_exact(base64url, out, len) && same(out, len, bytes));
        cr_assert(mb_base32_read_exact(base32, out, len) && same(out, len, bytes));
        cr_assert(len == 0 || !mb_b64u_read_exact(base64url, out, len - 1));
        cr_assert_not(mb_b64u_read_exact(base64url, out, len + 1));
        cr_assert(len == 0 || !mb_b64_read_exact(base64, out, len - 1));
        cr_assert_not(mb_b64_read_exact(base64, out, len + 1));
        cr_assert_not(mb_base32_read_exact(base32, out, len + 1));
        cr_assert(len == 0 || !mb_base32_read_exact(base32, out, len - 1));
    }
    mb_arena_free(arena);
}

/* The alphabets are those of tables 1 to 3 of RFC 4648; the octets of "A-z_4ME" are those of
 * RFC 7515 appendix C. */
Test(codec, every_letter_of_an_alphabet_has_its_value)
{
    static const char table1[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    static const char table2[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
    static const char table3[] = "abcdefghijklmnopqrstuvwxyz234567";
    static const unsigned char rfc7515[] = { 3, 236, 255, 224, 193 };
    unsigned char packed[48] = { 0 }, out[64];
    mb_arena *arena = mb_arena_new();
    size_t got;

    for (unsigned bit = 0; bit < 384; bit++)
        if (bit / 6 >> (5 - bit % 6) & 1)
            packed[bit / 8] |= (unsigned char)(0x80 >> bit % 8);
    cr_assert(mb_str_is(mb_b64(arena, packed, 48), table1));
    cr_assert(mb_str_is(mb_b64u(arena, packed, 48), table2));
    cr_assert(mb_b64_read_exact(mb_str_of(table1), out, 48) && memcmp(out, packed, 48) == 0);
    cr_assert(mb_b64u_read_exact(mb_str_of(table2), out, 48) && memcmp(out, packed, 48) == 0);
    memset(packed, 0, sizeof packed);
    for (unsigned bit = 0; bit < 160; bit++)
        if (bit / 5 >> (4 - bit % 5) & 1)
            packed[bit / 8] |= (unsigned char)(0x80 >> bit % 8);
    cr_assert(mb_str_is(mb_base32(arena, packed, 20, false), table3));
    cr_assert(mb_base32_read_exact(mb_str_of(table3), out, 20) && memcmp(out, packed, 20) == 0);
    cr_assert(mb_b64u_read(MB_STR("A-z_4ME"), out, &got) && got == 5);
    cr_assert_arr_eq(out, rfc7515, 5);
    mb_arena_free(arena);
}

Test(codec, a_text_that_is_not_the_one_strict_form_is_refused)
{
    enum { HEX = 1, URL = 2, PADDED = 4 };
    static const struct {
        const char *text;
        int by; /* the readers that must refuse it */
    } cases[] = {
        { "6", HEX },
        { "6g", HEX },
        { "6F", HEX },
        { " 66", HEX },
        { "Z", URL | PADDED },
        { "Zg", PADDED },
        { "Zg=", URL | PADDED },
        { "Zg==", URL },
        { "Zg===", URL | PADDED },
        { "Zh", URL | PADDED }, /* four stray bits */
        { "Zh==", URL | PADDED },
        { "Zm9", URL | PADDED }, /* two stray bits */
        { "Zm9=", URL | PADDED },
        { "Zm8", PADDED },
        { "Zm 8", URL | PADDED },
        { "Zm8=\n", URL | PADDED },
        { "Z=8=", URL | PADDED },
        { "=", URL | PADDED },
        { "====", URL | PADDED },
        { "Z===", URL | PADDED },
        { "Zg==Zg==", URL | PADDED },
        { "A-z_4ME=", PADDED | URL },
        { "A+z/", URL },
        { "A-z_", PADDED },
        { "\xc3\xa9\xc3\xa9", URL | PADDED | HEX },
    };
    unsigned char out[32];
    size_t got = 99;

    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct mb_str s = mb_str_of(cases[i].text);
        if (cases[i].by & HEX)
            cr_assert_not(mb_hex_read(s, out, &got), "hex %s", cases[i].text);
        if (cases[i].by & URL)
            cr_assert_not(mb_b64u_read(s, out, &got), "base64url %s", cases[i].text);
        if (cases[i].by & PADDED)
            cr_assert_not(mb_b64_read(s, out, &got), "base64 %s", cases[i].text);
        cr_assert_eq(got, 99);
    }
}

/* One text for the bytes: whichever character is changed, and to whatever, it is noticed. */
Test(codec, a_changed_character_never_goes_unnoticed)
{
    struct mb_hash hash, other;
    char url[MB_HASH_B64U_LEN + 1], padded[MB_HASH_B64_LEN + 1];

    for (size_t i = 0; i < 32; i++)
        hash.b[i] = (unsigned char)(i * 89 + 7);
    mb_b64u_write(url, hash.b, 32);
    mb_b64_write(padded, hash.b, 32);
    for (size_t i = 0; i < MB_HASH_B64_LEN; i++) {
        for (int c = 0; c < 256; c++) {
            char kept = padded[i];
            if ((char)c != kept) {
                padded[i] = (char)c;
                cr_assert(!mb_b64_read_exact(mb_str_of(padded), other.b, 32)
                          || !mb_hash_equal(&hash, &other));
                padded[i] = kept;
            }
            if (i < MB_HASH_B64U_LEN && (char)c != url[i]) {
                kept = url[i];
                url[i] = (char)c;
                cr_assert(!mb_b64u_read_exact((struct mb_str){ url, MB_HASH_B64U_LEN }, other.b, 32)
                          || !mb_hash_equal(&hash, &other));
                url[i] = kept;
            }
        }
    }
    cr_assert(mb_b64_read_exact(mb_str_of(padded), other.b, 32) && mb_hash_equal(&hash, &other));
}

Test(codec, base32_is_grouped_for_eyes_and_read_as_hands_write_it)
{
    static const struct {
        const char *text;
        bool ok;
    } cases[] = {
        { "mzxw 6ytb oi", true },
        { "MZXW-6YTB-OI", true },
        { "  m zxw6yt boi ", true },
        { "mzxw6ytb0i", true },
        { "mzxw6yt8oi", true },
        { "mzxw6ytboia", false },
        { "mzxw6ytbo", false },
        { "mzxw6ytboj", false },
        { "mzxw6ytboiaa", false },
        { "mzxw6ytboi=", false },
        { "mzxw6ytb9i", false },
        { "mzxw\n6ytboi", false },
        { "", false },
        { "mzxw_6ytboi", false },
        { "m\xc3\xa9xw6ytboi", false },
    };
    unsigned char out[6], all[32];
    mb_arena *arena = mb_arena_new();
    struct mb_str text;

    cr_assert(mb_str_is(mb_base32(arena, "foobar", 6, true), "mzxw 6ytb oi"));
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        cr_assert_eq(mb_base32_read_exact(mb_str_of(cases[i].text), out, 6), cases[i].ok, "%s",
                     cases[i].text);
        if (cases[i].ok)
            cr_assert_arr_eq(out, "foobar", 6);
    }
    cr_assert(mb_base32_read_exact(MB_STR("1"), out, 0) == false);
    cr_assert(mb_base32_read_exact(MB_STR("l8"), out, 1) == false);
    cr_assert(mb_base32_read_exact(MB_STR("1A"), out, 1) && out[0] == ('l' - 'a') << 3);
    for (size_t len = 0; len <= 32; len++) {
        unsigned char back[32];
        for (size_t i = 0; i < len; i++)
            all[i] = (unsigned char)(i * 89 + len);
        text = mb_base32(arena, all, len, true);
        cr_assert_eq(text.at[text.len], '\0');
        cr_assert(mb_base32_read_exact(text, back, len) && memcmp(back, all, len) == 0);
    }
    cr_assert_eq(text.len, 52 + 12, "a whole hash is 52 letters in 13 groups");
    mb_arena_free(arena);
}
