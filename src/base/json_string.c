#include "json_reader.h"

#include <string.h>

#include "text.h"

#define EACH_BYTE(n) (UINT64_C(0x0101010101010101) * (n))

/* Not 0 if a byte of the eight is 0 (and only then). */
static inline uint64_t zero_bytes(uint64_t eight)
{
    return (eight - EACH_BYTE(1)) & ~eight & EACH_BYTE(0x80);
}

static inline bool is_simple(unsigned char c)
{
    return c >= 0x20 && c < 0x7f && c != '"' && c != '\\';
}

/* To the first character that needs a look: a quotation mark, a backslash, anything not printable
 * ASCII. Eight at a time. */
static const char *skip_simple(const char *p, const char *end)
{
    while (end - p >= 8) {
        uint64_t eight;
        memcpy(&eight, p, sizeof eight);
        if ((eight & EACH_BYTE(0x80)) | ((eight - EACH_BYTE(0x20)) & ~eight & EACH_BYTE(0x80))
            | zero_bytes(eight ^ EACH_BYTE('"')) | zero_bytes(eight ^ EACH_BYTE('\\'))
            | zero_bytes(eight ^ EACH_BYTE(0x7f)))
            break;
        p += 8;
    }
    while (p < end && is_simple((unsigned char)*p))
        p++;
    return p;
}

/* May this character stand in the text, having been written in itself or as an escape? */
static enum mb_rc check_char(const struct mb_json_reader *r, const char *where, uint32_t code,
                             bool name)
{
    if (code == 0)
        return mb_json_refuse(r, where,
                              "the character U+0000 cannot stand in a text; leave it out");
    if (!r->strict)
        return MB_OK;
    if (name && (code < 0x20 || code > 0x7e))
        return mb_json_refuse(r, where, "names of members are printable ASCII, U+%04X is not",
                              (unsigned)code);
    if (!mb_char_allowed(code) && code != '\n' && code != '\t')
        return mb_json_refuse(r, where,
                              "the control or direction character U+%04X is not allowed in a "
                              "text; leave it out",
                              (unsigned)code);
    return MB_OK;
}

static bool hex4(const char *p, const char *end, uint32_t *code)
{
    *code = 0;
    if (end - p < 4)
        return false;
    for (int i = 0; i < 4; i++) {
        char c = p[i];
        uint32_t digit;
        if (c >= '0' && c <= '9')
            digit = (uint32_t)(c - '0');
        else if (c >= 'a' && c <= 'f')
            digit = (uint32_t)(c - 'a' + 10);
        else if (c >= 'A' && c <= 'F')
            digit = (uint32_t)(c - 'A' + 10);
        else
            return false;
        *code = *code << 4 | digit;
    }
    return true;
}

/* At the four digits behind \u; a pair of surrogates takes the second escape too. */
static enum mb_rc read_u_escape(const struct mb_json_reader *r, const char **at, const char *end,
                                uint32_t *code)
{
    const char *p = *at;
    uint32_t low;

    if (!hex4(p, end, code))
        return mb_json_refuse(r, p - 2, "four hexadecimal digits should follow \\u");
    *at = p + 4;
    if (*code < 0xd800 || *code > 0xdfff)
        return MB_OK;
    if (*code > 0xdbff || end - p < 6 || p[4] != '\\' || p[5] != 'u' || !hex4(p + 6, end, &low)
        || low < 0xdc00 || low > 0xdfff)
        return mb_json_refuse(r, p - 2,
                              "\\u%.4s is half of a surrogate pair, the other half is missing", p);
    *code = 0x10000 + ((*code - 0xd800) << 10) + (low - 0xdc00);
    *at = p + 10;
    return MB_OK;
}

static char *write_utf8(char *to, uint32_t code)
{
    if (code < 0x80) {
        *to++ = (char)code;
        return to;
    }
    if (code < 0x800) {
        *to++ = (char)(0xc0 | code >> 6);
    } else {
        if (code < 0x10000) {
            *to++ = (char)(0xe0 | code >> 12);
        } else {
            *to++ = (char)(0xf0 | code >> 18);
            *to++ = (char)(0x80 | (code >> 12 & 0x3f));
        }
        *to++ = (char)(0x80 | (code >> 6 & 0x3f));
    }
    *to++ = (char)(0x80 | (code & 0x3f));
    return to;
}

static enum mb_rc read_escape(const struct mb_json_reader *r, const char **at, const char *end,
                              uint32_t *code)
{
    static const char letters[] = "\"\\/bfnrt", meant[] = "\"\\/\b\f\n\r\t";
    const char *letter = memchr(letters, **at, sizeof letters - 1);

    if (letter != NULL) {
        *code = (unsigned char)meant[letter - letters];
        ++*at;
        return MB_OK;
    }
    if (**at != 'u')
        return mb_json_refuse(r, *at - 1, "no such escape; a backslash itself is written \\\\");
    ++*at;
    return read_u_escape(r, at, end, code);
}

/* Undoes the escapes between p and end (the closing mark); what is not escaped was checked. */
static enum mb_rc unescape(struct mb_json_reader *r, const char *p, const char *end, bool name,
                           struct mb_str *out)
{
    char *text = mb_arena_array(r->arena, (size_t)(end - p) + 1, 1), *to = text;

    while (p < end) {
        const char *slash = memchr(p, '\\', (size_t)(end - p)), *at;
        uint32_t code;
        enum mb_rc rc;
        size_t run = (size_t)((slash == NULL ? end : slash) - p);
        memcpy(to, p, run);
        to += run;
        if (slash == NULL)
            break;
        at = slash + 1;
        if ((rc = read_escape(r, &at, end, &code)) != MB_OK
            || (rc = check_char(r, slash, code, name)) != MB_OK)
            return rc;
        to = write_utf8(to, code);
        p = at;
    }
    *out = (struct mb_str){ text, (size_t)(to - text) };
    return MB_OK;
}

/* The character at p is neither simple nor a quotation mark or backslash. */
static enum mb_rc check_raw(const struct mb_json_reader *r, const char **p, bool name)
{
    uint32_t code;
    size_t len = mb_utf8_next((struct mb_str){ *p, (size_t)(r->end - *p) }, &code);

    if (len == 0)
        return mb_json_refuse(r, *p, "this is not UTF-8; save the text as UTF-8");
    if (code < 0x20)
        return mb_json_refuse(r, *p,
                              "a control character (U+%04X) or line end stands in a text; write it "
                              "as an escape, or close the text with a quotation mark",
                              (unsigned)code);
    *p += len;
    return check_char(r, *p - len, code, name);
}

/* At the opening quotation mark. */
enum mb_rc mb_json_read_string(struct mb_json_reader *r, bool name, struct mb_str *out)
{
    const char *start = r->at + 1, *p = start;
    bool escaped = false;
    enum mb_rc rc;

    for (;;) {
        p = skip_simple(p, r->end);
        if (p < r->end && *p == '"')
            break;
        if (r->end - p < 2)
            return mb_json_refuse(r, r->at,
                                  "this text is never closed; a quotation mark is missing");
        if (*p == '\\') {
            escaped = true;
            p++;
            if (*p == '"' || *p == '\\')
                p++;
        } else if ((rc = check_raw(r, &p, name)) != MB_OK) {
            return rc;
        }
    }
    *out = (struct mb_str){ start, (size_t)(p - start) };
    if (escaped && (rc = unescape(r, start, p, name, out)) != MB_OK)
        return rc;
    if (name && r->strict && out->len == 0)
        return mb_json_refuse(r, r->at, "the name of a member is empty");
    r->at = p + 1;
    return MB_OK;
}
