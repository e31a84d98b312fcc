#include <string.h>

#include "pdf_read.h"
#include "text.h"

#define DEPTH_MAX 40
#define NUMBER_MAX 1000000000000000 /* 10^15: more than any length, offset or date */

const struct mb_pdf_value mb_pdf_null = { 0 };

static bool fail(struct mb_pdf_cursor *at)
{
    at->failed = true;
    return false;
}

static bool spend(struct mb_pdf_cursor *at, size_t bytes)
{
    at->limits->work -= (int64_t)bytes;
    return at->limits->work >= 0 || fail(at);
}

static int peek(const struct mb_pdf_cursor *at, size_t ahead)
{
    return ahead < at->bytes.len - at->pos ? (unsigned char)at->bytes.at[at->pos + ahead] : -1;
}

static bool is_space(int c)
{
    return c == 0 || c == '\t' || c == '\n' || c == '\f' || c == '\r' || c == ' ';
}

static bool is_regular(int c)
{
    return c >= 0 && !is_space(c) && !strchr("()<>[]{}/%", c);
}

static bool is_digit(int c)
{
    return c >= '0' && c <= '9';
}

bool mb_pdf_skip(struct mb_pdf_cursor *at)
{
    size_t from = at->pos;

    for (;;) {
        if (is_space(peek(at, 0)))
            at->pos++;
        else if (peek(at, 0) == '%')
            while (peek(at, 0) >= 0 && peek(at, 0) != '\n' && peek(at, 0) != '\r')
                at->pos++;
        else
            return spend(at, at->pos - from + 1);
    }
}

bool mb_pdf_sees(struct mb_pdf_cursor *at, const char *word)
{
    size_t len = strlen(word);

    return mb_pdf_skip(at) && at->bytes.len - at->pos >= len &&
           memcmp(at->bytes.at + at->pos, word, len) == 0 && !is_regular(peek(at, len));
}

bool mb_pdf_word(struct mb_pdf_cursor *at, const char *word)
{
    if (!mb_pdf_sees(at, word))
        return fail(at);
    at->pos += strlen(word);
    return true;
}

/* Digits alone, at the cursor; false leaves it where it was. */
static bool digits(struct mb_pdf_cursor *at, int64_t *out)
{
    size_t n = 0;
    int64_t value = 0;

    while (is_digit(peek(at, n)) && value <= NUMBER_MAX)
        value = value * 10 + (peek(at, n++) - '0');
    if (n == 0 || value > NUMBER_MAX || is_regular(peek(at, n)))
        return false;
    at->pos += n;
    *out = value;
    return true;
}

bool mb_pdf_number(struct mb_pdf_cursor *at, int64_t *out)
{
    return (mb_pdf_skip(at) && digits(at, out)) || fail(at);
}

/* ---- values ---- */

static struct mb_pdf_value *make(struct mb_pdf_cursor *at, enum mb_pdf_type type)
{
    struct mb_pdf_value *v;

    if (at->limits->nodes-- <= 0) {
        fail(at);
        return NULL;
    }
    v = MB_NEW(at->arena, struct mb_pdf_value);
    v->type = type;
    return v;
}

/* Room for a text that is not longer than len. */
static char *room(struct mb_pdf_cursor *at, size_t len)
{
    at->limits->room -= (int64_t)len;
    if (at->limits->room < 0 || !spend(at, len)) {
        fail(at);
        return NULL;
    }
    return mb_arena_get(at->arena, len + 1);
}

static int hex_digit(int c)
{
    if (is_digit(c))
        return c - '0';
    if ((c | 32) >= 'a' && (c | 32) <= 'f')
        return (c | 32) - 'a' + 10;
    return -1;
}

/* Name after its slash; #41 stands for A. */
static struct mb_pdf_value *parse_name(struct mb_pdf_cursor *at)
{
    struct mb_pdf_value *v = make(at, MB_PDF_NAME);
    size_t n = 0, out = 0;
    char *text;

    while (is_regular(peek(at, n)))
        n++;
    if (!v || !(text = room(at, n)))
        return NULL;
    for (size_t i = 0; i < n; i++) {
        int c = peek(at, i);

        if (c == '#' && i + 2 < n && hex_digit(peek(at, i + 1)) >= 0 &&
            hex_digit(peek(at, i + 2)) >= 0) {
            c = hex_digit(peek(at, i + 1)) * 16 + hex_digit(peek(at, i + 2));
            i += 2;
        }
        text[out++] = (char)c;
    }
    at->pos += n;
    v->text = (struct mb_str){ text, out };
    return v;
}

/* How far a literal string reaches, its last parenthesis included; 0 if it never ends. */
static size_t literal_len(struct mb_pdf_cursor *at)
{
    size_t n = 0;
    int open = 1;

    for (; open > 0; n++) {
        int c = peek(at, n);

        if (c < 0)
            return 0;
        if (c == '\\')
            n++;
        open += c == '(';
        open -= c == ')';
    }
    return n;
}

/* What stands behind a backslash at i; moves i past it. -1: nothing (a line joined). */
static int escaped(const struct mb_pdf_cursor *at, size_t *i)
{
    static const char from[] = "nrtbf", to[] = "\n\r\t\b\f";
    int c = peek(at, (*i)++);
    const char *known = c > 0 ? strchr(from, c) : NULL;
    int value = 0;

    if (known)
        return to[known - from];
    if (c == '\r' && peek(at, *i) == '\n')
        (*i)++;
    if (c == '\r' || c == '\n')
        return -1;
    if (c < '0' || c > '7')
        return c;
    (*i)--;
    for (int k = 0; k < 3 && peek(at, *i) >= '0' && peek(at, *i) <= '7'; k++)
        value = value * 8 + peek(at, (*i)++) - '0';
    return value & 255;
}

static struct mb_pdf_value *parse_literal(struct mb_pdf_cursor *at)
{
    struct mb_pdf_value *v = make(at, MB_PDF_STRING);
    size_t n = literal_len(at), out = 0;
    char *text;

    if (!v || n == 0 || !(text = room(at, n))) {
        fail(at);
        return NULL;
    }
    for (size_t i = 0; i + 1 < n;) {
        int c = peek(at, i++);

        if (c == '\\')
            c = escaped(at, &i);
        if (c >= 0)
            text[out++] = (char)c;
    }
    at->pos += n;
    v->text = (struct mb_str){ text, out };
    return v;
}

static struct mb_pdf_value *parse_hex(struct mb_pdf_cursor *at)
{
    struct mb_pdf_value *v = make(at, MB_PDF_STRING);
    size_t n = 0, count = 0;
    char *text;

    while (peek(at, n) >= 0 && peek(at, n) != '>')
        n++;
    if (!v || peek(at, n) < 0 || !(text = room(at, n))) {
        fail(at);
        return NULL;
    }
    for (size_t i = 0; i < n; i++) {
        int d = hex_digit(peek(at, i));

        if (d < 0 && is_space(peek(at, i)))
            continue;
        if (d < 0) {
            fail(at);
            return NULL;
        }
        if (count % 2 == 0)
            text[count / 2] = (char)(d << 4);
        else
            text[count / 2] |= (char)d;
        count++;
    }
    at->pos += n + 1;
    v->text = (struct mb_str){ text, (count + 1) / 2 };
    return v;
}

/* "12 0 R" is a reference, "12 0" two numbers. */
static struct mb_pdf_value *parse_number(struct mb_pdf_cursor *at)
{
    struct mb_pdf_value *v = make(at, MB_PDF_INTEGER);
    size_t back;
    int64_t generation;

    if (!v)
        return NULL;
    if (!digits(at, &v->number)) {
        v->type = MB_PDF_REAL;
        for (back = 0; is_regular(peek(at, 0)) && back < 400; back++)
            at->pos++;
        return v;
    }
    back = at->pos;
    if (mb_pdf_skip(at) && digits(at, &generation) && mb_pdf_sees(at, "R")) {
        at->pos++;
        v->type = MB_PDF_REF;
        return v;
    }
    at->pos = back;
    return v;
}

static struct mb_pdf_value *parse_word(struct mb_pdf_cursor *at)
{
    static const struct {
        const char *word;
        enum mb_pdf_type type;
        int64_t number;
    } words[] = { { "true", MB_PDF_BOOL, 1 },
                  { "false", MB_PDF_BOOL, 0 },
                  { "null", MB_PDF_NULL, 0 } };

    for (size_t i = 0; i < 3; i++)
        if (mb_pdf_sees(at, words[i].word)) {
            struct mb_pdf_value *v = make(at, words[i].type);

            at->pos += strlen(words[i].word);
            if (v)
                v->number = words[i].number;
            return v;
        }
    fail(at);
    return NULL;
}

static struct mb_pdf_value *parse_any(struct mb_pdf_cursor *at, int depth);

static void append(struct mb_pdf_value *parent, struct mb_pdf_value *child)
{
    if (parent->last)
        parent->last->next = child;
    else
        parent->first = child;
    parent->last = child;
}

static struct mb_pdf_value *parse_array(struct mb_pdf_cursor *at, int depth)
{
    struct mb_pdf_value *v = make(at, MB_PDF_ARRAY), *child;

    if (!v)
        return NULL;
    while (mb_pdf_skip(at) && peek(at, 0) != ']') {
        child = parse_any(at, depth + 1);
        if (!child)
            return NULL;
        append(v, child);
    }
    at->pos++;
    return at->failed ? NULL : v;
}

static struct mb_pdf_value *parse_dict(struct mb_pdf_cursor *at, int depth)
{
    struct mb_pdf_value *v = make(at, MB_PDF_DICT), *key, *child;

    if (!v)
        return NULL;
    while (mb_pdf_skip(at) && peek(at, 0) == '/') {
        at->pos++;
        key = parse_name(at);
        child = key ? parse_any(at, depth + 1) : NULL;
        if (!child)
            return NULL;
        child->key = key->text;
        append(v, child);
    }
    if (at->failed || peek(at, 0) != '>' || peek(at, 1) != '>') {
        fail(at);
        return NULL;
    }
    at->pos += 2;
    return v;
}

static struct mb_pdf_value *parse_any(struct mb_pdf_cursor *at, int depth)
{
    int c;

    if (depth > DEPTH_MAX || !mb_pdf_skip(at)) {
        fail(at);
        return NULL;
    }
    c = peek(at, 0);
    if (is_digit(c) || c == '+' || c == '-' || c == '.')
        return parse_number(at);
    if (c < 0 || !strchr("/(<[", c))
        return parse_word(at);
    at->pos++;
    if (c == '/')
        return parse_name(at);
    if (c == '(')
        return parse_literal(at);
    if (c == '[')
        return parse_array(at, depth);
    if (peek(at, 0) != '<')
        return parse_hex(at);
    at->pos++;
    return parse_dict(at, depth);
}

const struct mb_pdf_value *mb_pdf_parse(struct mb_pdf_cursor *at)
{
    const struct mb_pdf_value *v = at->failed ? NULL : parse_any(at, 0);

    return v && !at->failed ? v : &mb_pdf_null;
}

/* ---- looking ---- */

const struct mb_pdf_value *mb_pdf_entry(const struct mb_pdf_value *dict, const char *key)
{
    if (dict->type == MB_PDF_DICT)
        for (const struct mb_pdf_value *v = dict->first; v; v = v->next)
            if (mb_str_is(v->key, key))
                return v;
    return &mb_pdf_null;
}

bool mb_pdf_name_is(const struct mb_pdf_value *value, const char *name)
{
    return value->type == MB_PDF_NAME && mb_str_is(value->text, name);
}
