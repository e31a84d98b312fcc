#include "codec.h"

#include <string.h>

/* What a character stands for, with VALID set; 0 for a character of no meaning. */
#define VALID 0x40u
#define V(n) (VALID | (n))
#define LETTERS_AND_DIGITS                                                                    \
    ['A'] = V(0), ['B'] = V(1), ['C'] = V(2), ['D'] = V(3), ['E'] = V(4), ['F'] = V(5),       \
    ['G'] = V(6), ['H'] = V(7), ['I'] = V(8), ['J'] = V(9), ['K'] = V(10), ['L'] = V(11),     \
    ['M'] = V(12), ['N'] = V(13), ['O'] = V(14), ['P'] = V(15), ['Q'] = V(16), ['R'] = V(17), \
    ['S'] = V(18), ['T'] = V(19), ['U'] = V(20), ['V'] = V(21), ['W'] = V(22), ['X'] = V(23), \
    ['Y'] = V(24), ['Z'] = V(25), ['a'] = V(26), ['b'] = V(27), ['c'] = V(28), ['d'] = V(29), \
    ['e'] = V(30), ['f'] = V(31), ['g'] = V(32), ['h'] = V(33), ['i'] = V(34), ['j'] = V(35), \
    ['k'] = V(36), ['l'] = V(37), ['m'] = V(38), ['n'] = V(39), ['o'] = V(40), ['p'] = V(41), \
    ['q'] = V(42), ['r'] = V(43), ['s'] = V(44), ['t'] = V(45), ['u'] = V(46), ['v'] = V(47), \
    ['w'] = V(48), ['x'] = V(49), ['y'] = V(50), ['z'] = V(51), ['0'] = V(52), ['1'] = V(53), \
    ['2'] = V(54), ['3'] = V(55), ['4'] = V(56), ['5'] = V(57), ['6'] = V(58), ['7'] = V(59), \
    ['8'] = V(60), ['9'] = V(61),

static const uint8_t value_url[256] = { LETTERS_AND_DIGITS['-'] = V(62), ['_'] = V(63) };
static const uint8_t value_padded[256] = { LETTERS_AND_DIGITS['+'] = V(62), ['/'] = V(63) };

static const char letters_url[] =
    "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
static const char letters_padded[] =
    "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
static const char letters_hex[] = "0123456789abcdef";
static const char letters_32[] = "abcdefghijklmnopqrstuvwxyz234567";

void mb_hex_write(char *out, const void *bytes, size_t len)
{
    const uint8_t *b = bytes;

    for (size_t i = 0; i < len; i++) {
        *out++ = letters_hex[b[i] >> 4];
        *out++ = letters_hex[b[i] & 15];
    }
    *out = '\0';
}

static unsigned hex_value(char c)
{
    if (c >= '0' && c <= '9')
        return (unsigned)(c - '0');
    if (c >= 'a' && c <= 'f')
        return (unsigned)(c - 'a' + 10);
    return 16;
}

bool mb_hex_read(struct mb_str text, void *out, size_t *len)
{
    uint8_t *to = out;

    if (text.len % 2 != 0)
        return false;
    for (size_t i = 0; i < text.len; i += 2) {
        unsigned high = hex_value(text.at[i]), low = hex_value(text.at[i + 1]);
        if ((high | low) > 15)
            return false;
        *to++ = (uint8_t)(high << 4 | low);
    }
    *len = text.len / 2;
    return true;
}

/* Writes without padding; returns the end. */
static char *write_64(char *out, const void *bytes, size_t len, const char *letters)
{
    const uint8_t *b = bytes;

    for (; len >= 3; len -= 3, b += 3) {
        uint32_t three = (uint32_t)b[0] << 16 | (uint32_t)b[1] << 8 | b[2];
        out[0] = letters[three >> 18];
        out[1] = letters[three >> 12 & 63];
        out[2] = letters[three >> 6 & 63];
        out[3] = letters[three & 63];
        out += 4;
    }
    if (len > 0) {
        uint32_t rest = (uint32_t)b[0] << 16 | (len == 2 ? (uint32_t)b[1] << 8 : 0);
        *out++ = letters[rest >> 18];
        *out++ = letters[rest >> 12 & 63];
        if (len == 2)
            *out++ = letters[rest >> 6 & 63];
    }
    *out = '\0';
    return out;
}

void mb_b64u_write(char *out, const void *bytes, size_t len)
{
    write_64(out, bytes, len, letters_url);
}

void mb_b64_write(char *out, const void *bytes, size_t len)
{
    char *end = write_64(out, bytes, len, letters_padded);

    while ((end - out) % 4 != 0)
        *end++ = '=';
    *end = '\0';
}

struct mb_str mb_b64u(mb_arena *arena, const void *bytes, size_t len)
{
    char *text = mb_arena_array(arena, MB_B64U_LEN(len) + 1, 1);

    mb_b64u_write(text, bytes, len);
    return (struct mb_str){ text, MB_B64U_LEN(len) };
}

struct mb_str mb_b64(mb_arena *arena, const void *bytes, size_t len)
{
    char *text = mb_arena_array(arena, MB_B64_LEN(len) + 1, 1);

    mb_b64_write(text, bytes, len);
    return (struct mb_str){ text, MB_B64_LEN(len) };
}

/* The last two or three characters; bits that stand for nothing must be 0. */
static bool read_64_rest(const uint8_t *c, size_t count, uint8_t *to, const uint8_t *value)
{
    unsigned a, b, d;

    if (count < 2)
        return count == 0;
    a = value[c[0]];
    b = value[c[1]];
    d = count == 3 ? value[c[2]] : VALID;
    if (!(a & b & d & VALID) || (count == 2 ? b & 15 : d & 3) != 0)
        return false;
    to[0] = (uint8_t)(a << 2 | (b >> 4 & 3));
    if (count == 3)
        to[1] = (uint8_t)(b << 4 | (d >> 2 & 15));
    return true;
}

static bool read_64(struct mb_str text, void *out, size_t *len, const uint8_t *value)
{
    const uint8_t *c = (const uint8_t *)text.at;
    uint8_t *to = out;
    unsigned valid = VALID;

    for (size_t n = text.len / 4; n > 0; n--, c += 4, to += 3) {
        uint32_t v0 = value[c[0]], v1 = value[c[1]], v2 = value[c[2]], v3 = value[c[3]];
        uint32_t three = (v0 << 18 | (v1 & 63) << 12 | (v2 & 63) << 6 | (v3 & 63));
        valid &= v0 & v1 & v2 & v3;
        to[0] = (uint8_t)(three >> 16);
        to[1] = (uint8_t)(three >> 8);
        to[2] = (uint8_t)three;
    }
    if (!valid || !read_64_rest(c, text.len % 4, to, value))
        return false;
    *len = text.len / 4 * 3 + text.len % 4 * 3 / 4;
    return true;
}

bool mb_b64u_read(struct mb_str text, void *out, size_t *len)
{
    return read_64(text, out, len, value_url);
}

bool mb_b64_read(struct mb_str text, void *out, size_t *len)
{
    if (text.len % 4 != 0)
        return false;
    if (text.len > 0 && text.at[text.len - 1] == '=')
        text.len -= text.at[text.len - 2] == '=' ? 2 : 1;
    return read_64(text, out, len, value_padded);
}

bool mb_b64u_read_exact(struct mb_str text, void *out, size_t len)
{
    size_t got;

    return text.len == MB_B64U_LEN(len) && mb_b64u_read(text, out, &got);
}

bool mb_b64_read_exact(struct mb_str text, void *out, size_t len)
{
    size_t padding = (3 - len % 3) % 3, got;

    /* the padding is looked at first, so that no more than len bytes are ever written */
    if (text.len != MB_B64_LEN(len))
        return false;
    for (size_t i = 1; i <= 2 && i <= text.len; i++)
        if ((text.at[text.len - i] == '=') != (i <= padding))
            return false;
    return mb_b64_read(text, out, &got);
}

struct mb_str mb_base32(mb_arena *arena, const void *bytes, size_t len, bool groups)
{
    size_t count = len / 5 * 8 + (len % 5 * 8 + 4) / 5;
    char *text = mb_arena_array(arena, count + count / 4 + 1, 1), *to = text;
    const uint8_t *b = bytes;

    for (size_t i = 0; i < count; i++) {
        size_t bit = i * 5, at = bit / 8;
        unsigned two = (unsigned)b[at] << 8 | (at + 1 < len ? b[at + 1] : 0u);
        if (groups && i > 0 && i % 4 == 0)
            *to++ = ' ';
        *to++ = letters_32[two >> (11 - bit % 8) & 31];
    }
    return (struct mb_str){ text, (size_t)(to - text) };
}

static unsigned base32_value(char c)
{
    if (c >= 'a' && c <= 'z')
        return (unsigned)(c - 'a');
    if (c >= 'A' && c <= 'Z')
        return (unsigned)(c - 'A');
    if (c >= '2' && c <= '7')
        return (unsigned)(c - '2' + 26);
    switch (c) {
    case '0':
        return 'o' - 'a';
    case '1':
        return 'l' - 'a';
    case '8':
        return 'b' - 'a';
    default:
        return 32;
    }
}

bool mb_base32_read_exact(struct mb_str text, void *out, size_t len)
{
    uint8_t *to = out;
    size_t written = 0, count = 0;
    unsigned bits = 0, have = 0;

    for (size_t i = 0; i < text.len; i++) {
        unsigned value;
        if (text.at[i] == ' ' || text.at[i] == '-')
            continue;
        value = base32_value(text.at[i]);
        if (value > 31)
            return false;
        bits = (bits << 5 | value) & 0xfff;
        have += 5;
        count++;
        if (have >= 8) {
            if (written == len)
                return false;
            have -= 8;
            to[written++] = (uint8_t)(bits >> have);
        }
    }
    return written == len && count == len / 5 * 8 + (len % 5 * 8 + 4) / 5
           && (bits & ((1u << have) - 1)) == 0;
}

bool mb_hash_equal(const struct mb_hash *a, const struct mb_hash *b)
{
    return memcmp(a->b, b->b, sizeof a->b) == 0;
}
