#include "text.h"

#include <string.h>
#include <strings.h>

bool mb_str_equal(struct mb_str a, struct mb_str b)
{
    return a.len == b.len && (a.len == 0 || memcmp(a.at, b.at, a.len) == 0);
}

bool mb_str_is(struct mb_str s, const char *text)
{
    return mb_str_equal(s, mb_str_of(text));
}

bool mb_str_among(struct mb_str s, const char *words)
{
    for (const char *at = words; *at;) {
        size_t len = strcspn(at, " ");
        if (len == s.len && strncasecmp(at, s.at, len) == 0)
            return true;
        at += len + (at[len] == ' ');
    }
    return false;
}

bool mb_str_starts(struct mb_str s, const char *prefix)
{
    size_t len = strlen(prefix);

    return s.len >= len && (len == 0 || memcmp(s.at, prefix, len) == 0);
}

int mb_str_compare(struct mb_str a, struct mb_str b)
{
    size_t len = a.len < b.len ? a.len : b.len;
    int order = len == 0 ? 0 : memcmp(a.at, b.at, len);

    return order != 0 ? order : (a.len > b.len) - (a.len < b.len);
}

struct mb_str mb_str_of(const char *text)
{
    return (struct mb_str){ text, text == NULL ? 0 : strlen(text) };
}

static bool is_blank(char c)
{
    return c == ' ' || (c >= '\t' && c <= '\r');
}

struct mb_str mb_str_trim(struct mb_str s)
{
    while (s.len > 0 && is_blank(s.at[0])) {
        s.at++;
        s.len--;
    }
    while (s.len > 0 && is_blank(s.at[s.len - 1]))
        s.len--;
    return s;
}

bool mb_str_cut(struct mb_str s, char mark, struct mb_str *head, struct mb_str *rest)
{
    const char *at = s.len == 0 ? NULL : memchr(s.at, mark, s.len);

    if (at == NULL) {
        *head = s;
        *rest = (struct mb_str){ s.len == 0 ? s.at : s.at + s.len, 0 };
        return false;
    }
    *head = (struct mb_str){ s.at, (size_t)(at - s.at) };
    *rest = (struct mb_str){ at + 1, s.len - head->len - 1 };
    return true;
}

static bool is_tail(unsigned char c)
{
    return (c & 0xc0) == 0x80;
}

/* The bounds of the second byte are those of table 3-7 of the Unicode Standard. */
size_t mb_utf8_next(struct mb_str s, uint32_t *code)
{
    const unsigned char *b = (const unsigned char *)s.at;

    if (s.len == 0)
        return 0;
    if (b[0] < 0x80) {
        *code = b[0];
        return 1;
    }
    if (b[0] < 0xc2 || b[0] > 0xf4 || s.len < 2 || !is_tail(b[1]))
        return 0;
    if (b[0] < 0xe0) {
        *code = (b[0] & 0x1fu) << 6 | (b[1] & 0x3fu);
        return 2;
    }
    if (s.len < 3 || !is_tail(b[2]))
        return 0;
    if (b[0] < 0xf0) {
        if ((b[0] == 0xe0 && b[1] < 0xa0) || (b[0] == 0xed && b[1] > 0x9f))
            return 0;
        *code = (b[0] & 0x0fu) << 12 | (b[1] & 0x3fu) << 6 | (b[2] & 0x3fu);
        return 3;
    }
    if (s.len < 4 || !is_tail(b[3]) || (b[0] == 0xf0 && b[1] < 0x90)
        || (b[0] == 0xf4 && b[1] > 0x8f))
        return 0;
    *code = (b[0] & 0x07u) << 18 | (b[1] & 0x3fu) << 12 | (b[2] & 0x3fu) << 6 | (b[3] & 0x3fu);
    return 4;
}

bool mb_utf8_ok(struct mb_str s)
{
    uint32_t code;

    while (s.len > 0) {
        uint64_t eight;
        size_t len;
        if (s.len >= sizeof eight) {
            memcpy(&eight, s.at, sizeof eight);
            if ((eight & 0x8080808080808080u) == 0) {
                s.at += sizeof eight;
                s.len -= sizeof eight;
                continue;
            }
        }
        len = mb_utf8_next(s, &code);
        if (len == 0)
            return false;
        s.at += len;
        s.len -= len;
    }
    return true;
}

bool mb_char_allowed(uint32_t code)
{
    if (code < 0xa0)
        return code >= 0x20 && code < 0x7f;
    if (code == 0x61c)
        return false;
    if (code < 0x200e || code > 0x2069)
        return true;
    return !(code <= 0x200f || (code >= 0x202a && code <= 0x202e) || code >= 0x2066);
}

bool mb_text_allowed(struct mb_str s, bool line_ends)
{
    uint32_t code;

    while (s.len > 0) {
        size_t len = mb_utf8_next(s, &code);
        if (len == 0)
            return false;
        if (!mb_char_allowed(code) && !(line_ends && (code == '\n' || code == '\t')))
            return false;
        s.at += len;
        s.len -= len;
    }
    return true;
}

static bool is_letter_or_digit(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
}

bool mb_id_ok(struct mb_str id)
{
    if (id.len == 0 || id.len > MB_ID_MAX || !is_letter_or_digit(id.at[0]))
        return false;
    for (size_t i = 1; i < id.len; i++) {
        char c = id.at[i];
        if (!is_letter_or_digit(c) && c != '.' && c != '_' && c != '-')
            return false;
    }
    return true;
}

char *mb_lower(mb_arena *arena, struct mb_str s)
{
    char *text = mb_arena_copy(arena, s.at, s.len);

    for (size_t i = 0; i < s.len; i++)
        if (text[i] >= 'A' && text[i] <= 'Z')
            text[i] = (char)(text[i] + ('a' - 'A'));
    return text;
}

enum { WORD_MAX = 64, EDITS_MAX = 3 };

struct word {
    uint32_t at[WORD_MAX];
    size_t len;
};

static bool word_of(struct mb_str s, struct word *word)
{
    word->len = 0;
    while (s.len > 0) {
        uint32_t code;
        size_t len = mb_utf8_next(s, &code);
        if (len == 0 || word->len == WORD_MAX)
            return false;
        word->at[word->len++] = code;
        s.at += len;
        s.len -= len;
    }
    return true;
}

static size_t least(size_t a, size_t b)
{
    return a < b ? a : b;
}

/* Edit distance in which two neighbours that changed places are one edit (optimal string
 * alignment), one row of the table at a time. */
static size_t edits_between(const struct word *a, const struct word *b)
{
    size_t rows[3][WORD_MAX + 1];

    for (size_t j = 0; j <= b->len; j++)
        rows[0][j] = j;
    for (size_t i = 1; i <= a->len; i++) {
        size_t *row = rows[i % 3];
        const size_t *above = rows[(i + 2) % 3], *second = rows[(i + 1) % 3];

        row[0] = i;
        for (size_t j = 1; j <= b->len; j++) {
            size_t replaced = above[j - 1] + (a->at[i - 1] != b->at[j - 1]);

            row[j] = least(replaced, least(above[j], row[j - 1]) + 1);
            if (i > 1 && j > 1 && a->at[i - 1] == b->at[j - 2] && a->at[i - 2] == b->at[j - 1])
                row[j] = least(row[j], second[j - 2] + 1);
        }
    }
    return rows[a->len % 3][b->len];
}

const char *mb_nearest(struct mb_str word, const char *const *allowed, size_t count)
{
    const char *nearest = NULL;
    size_t fewest = EDITS_MAX + 1;
    struct word wanted, other;

    if (!word_of(word, &wanted))
        return NULL;
    for (size_t i = 0; i < count; i++) {
        size_t edits;
        if (!word_of(mb_str_of(allowed[i]), &other))
            continue;
        edits = edits_between(&wanted, &other);
        if (edits < fewest && 2 * edits < wanted.len) {
            fewest = edits;
            nearest = allowed[i];
        }
    }
    return nearest;
}
