#include <markerbed/json.h>

#include <string.h>

#include "json_members.h"
#include "json_reader.h"
#include "text.h"

static enum mb_rc read_value(struct mb_json_reader *r, mb_json *value);

/* Lines and columns are counted only here, where something is wrong; columns are characters. */
enum mb_rc mb_json_refuse(const struct mb_json_reader *r, const char *where, const char *format,
                          ...)
{
    size_t line = 1, column = 1;
    va_list args;
    char *what;

    if (r->err == NULL)
        return MB_REFUSED;
    for (const char *p = r->start; p < where; p++) {
        if (*p == '\n') {
            line++;
            column = 1;
        } else {
            column += ((unsigned char)*p & 0xc0) != 0x80;
        }
    }
    va_start(args, format);
    what = mb_arena_vprintf(r->arena, format, args);
    va_end(args);
    return mb_fail(r->err, MB_REFUSED, "line %zu, column %zu: %s", line, column, what);
}

static enum mb_rc refuse_here(const struct mb_json_reader *r, const char *wanted)
{
    if (r->at == r->end)
        return mb_json_refuse(r, r->at, "the text ends here, but %s should follow", wanted);
    return mb_json_refuse(r, r->at, "%s should stand here", wanted);
}

static inline void skip_blanks(struct mb_json_reader *r)
{
    while (r->at < r->end && (*r->at == ' ' || *r->at == '\n' || *r->at == '\r' || *r->at == '\t'))
        r->at++;
}

static inline bool take(struct mb_json_reader *r, char c)
{
    if (r->at == r->end || *r->at != c)
        return false;
    r->at++;
    return true;
}

/* ---- numbers ---- */

static const char *skip_digits(const char *p, const char *end)
{
    while (p < end && *p >= '0' && *p <= '9')
        p++;
    return p;
}

static bool whole_number(const char *p, const char *end, int64_t *number)
{
    int64_t n = 0;

    if (p == end || end - p > 16 || (*p == '0' && end - p > 1))
        return false;
    for (; p < end; p++) {
        if (*p < '0' || *p > '9')
            return false;
        n = n * 10 + (*p - '0');
    }
    *number = n;
    return n <= MB_JSON_INTEGER_MAX;
}

/* The end of a number of RFC 8259, or NULL. */
static const char *number_end(const char *p, const char *end)
{
    const char *from;

    p += p < end && *p == '-';
    from = p;
    p = skip_digits(p, end);
    if (p == from || (*from == '0' && p - from > 1))
        return NULL;
    if (p < end && *p == '.') {
        from = ++p;
        p = skip_digits(p, end);
        if (p == from)
            return NULL;
    }
    if (p < end && (*p == 'e' || *p == 'E')) {
        p++;
        p += p < end && (*p == '+' || *p == '-');
        from = p;
        p = skip_digits(p, end);
        if (p == from)
            return NULL;
    }
    return p;
}

static enum mb_rc read_number(struct mb_json_reader *r, mb_json *value)
{
    const char *p = r->at;

    while (p < r->end
           && ((*p >= '0' && *p <= '9') || *p == '-' || *p == '+' || *p == '.' || *p == 'e'
               || *p == 'E'))
        p++;
    if (whole_number(r->at, p, &value->integer)) {
        value->type = MB_JSON_INTEGER;
    } else if (r->strict) {
        return mb_json_refuse(r, r->at,
                              "numbers here are whole, from 0 to 9007199254740991, without signs "
                              "or zeros in front; write others as texts in quotation marks");
    } else if (number_end(r->at, p) != p) {
        return mb_json_refuse(r, r->at, "this is no number as JSON writes it");
    } else {
        value->integer = 0;
        value->type = MB_JSON_NUMBER;
        value->text = (struct mb_str){ r->at, (size_t)(p - r->at) };
    }
    r->at = p;
    return MB_OK;
}

/* ---- arrays and objects ---- */

static enum mb_rc enter(struct mb_json_reader *r)
{
    if (r->depth == r->depth_max)
        return mb_json_refuse(r, r->at, "this is nested deeper than the %d levels allowed",
                              r->depth_max);
    r->depth++;
    r->at++;
    skip_blanks(r);
    return MB_OK;
}

static inline void append(mb_json *parent, mb_json *child)
{
    if (parent->last == NULL)
        parent->first = child;
    else
        parent->last->next = child;
    parent->last = child;
    parent->count++;
}

static enum mb_rc read_array(struct mb_json_reader *r, mb_json *array)
{
    enum mb_rc rc;

    array->type = MB_JSON_ARRAY;
    if ((rc = enter(r)) != MB_OK)
        return rc;
    if (!take(r, ']')) {
        for (;;) {
            mb_json *child = MB_NEW(r->arena, mb_json);
            if ((rc = read_value(r, child)) != MB_OK)
                return rc;
            append(array, child);
            skip_blanks(r);
            if (take(r, ']'))
                break;
            if (!take(r, ','))
                return refuse_here(r, "a comma or ]");
            skip_blanks(r);
        }
    }
    r->depth--;
    return MB_OK;
}

static enum mb_rc twice(const struct mb_json_reader *r, const char *where, struct mb_str name)
{
    return mb_json_refuse(r, where, "the member \"%.*s\" stands twice in this object; keep one",
                          name.len > 200 ? 200 : (int)name.len, name.at);
}

/* One bit of 64 for a name: most names of a small object have one of their own. */
static inline uint64_t name_bit(struct mb_str name)
{
    uint64_t mix = name.len;

    if (name.len > 0)
        mix += (uint64_t)(unsigned char)name.at[0] << 8
               | (uint64_t)(unsigned char)name.at[name.len / 2] << 16
               | (uint64_t)(unsigned char)name.at[name.len - 1] << 24;
    return UINT64_C(1) << (mix * UINT64_C(0x9e3779b97f4a7c15) >> 58);
}

/* Looks through the members so far, if there are few; many are sorted when the object ends. */
static bool seen_before(const mb_json *object, struct mb_str name, uint64_t *seen)
{
    uint64_t bit;

    if (object->count >= MB_JSON_MEMBERS_FEW)
        return false;
    bit = name_bit(name);
    if ((*seen & bit) != 0)
        for (const mb_json *m = object->first; m != NULL; m = m->next)
            if (mb_str_equal(m->name, name))
                return true;
    *seen |= bit;
    return false;
}

static enum mb_rc check_many(const struct mb_json_reader *r, const mb_json *object)
{
    const mb_json **member;

    if (object->count <= MB_JSON_MEMBERS_FEW)
        return MB_OK;
    member = mb_json_members_sort(r->arena, object);
    for (uint32_t i = 1; i < object->count; i++) {
        struct mb_str a = member[i - 1]->name, b = member[i]->name;
        const char *later = (uintptr_t)a.at > (uintptr_t)b.at ? a.at : b.at;
        if (!mb_str_equal(a, b))
            continue;
        /* a name that had escapes is a copy: then the end of the object has to do as the place */
        if ((uintptr_t)later < (uintptr_t)r->start || (uintptr_t)later >= (uintptr_t)r->end)
            later = r->at;
        return twice(r, later, a);
    }
    return MB_OK;
}

static enum mb_rc read_member(struct mb_json_reader *r, mb_json *object, uint64_t *seen)
{
    mb_json *child = MB_NEW(r->arena, mb_json);
    const char *where = r->at;
    enum mb_rc rc;

    if (r->at == r->end || *r->at != '"')
        return refuse_here(r, "the name of a member, in quotation marks,");
    if ((rc = mb_json_read_string(r, true, &child->name)) != MB_OK)
        return rc;
    if (seen_before(object, child->name, seen))
        return twice(r, where, child->name);
    skip_blanks(r);
    if (!take(r, ':'))
        return refuse_here(r, "a colon");
    skip_blanks(r);
    if ((rc = read_value(r, child)) != MB_OK)
        return rc;
    append(object, child);
    return MB_OK;
}

static enum mb_rc read_object(struct mb_json_reader *r, mb_json *object)
{
    uint64_t seen = 0;
    enum mb_rc rc;

    object->type = MB_JSON_OBJECT;
    if ((rc = enter(r)) != MB_OK)
        return rc;
    if (!take(r, '}')) {
        for (;;) {
            if ((rc = read_member(r, object, &seen)) != MB_OK)
                return rc;
            skip_blanks(r);
            if (take(r, '}'))
                break;
            if (!take(r, ','))
                return refuse_here(r, "a comma or }");
            skip_blanks(r);
        }
    }
    r->depth--;
    return check_many(r, object);
}

/* ---- values ---- */

static enum mb_rc read_word(struct mb_json_reader *r, mb_json *value)
{
    static const struct {
        struct mb_str word;
        enum mb_json_type type;
    } words[] = {
        { { "null", 4 }, MB_JSON_NULL },
        { { "false", 5 }, MB_JSON_FALSE },
        { { "true", 4 }, MB_JSON_TRUE },
    };

    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        if ((size_t)(r->end - r->at) < words[i].word.len
            || memcmp(r->at, words[i].word.at, words[i].word.len) != 0)
            continue;
        value->type = words[i].type;
        r->at += words[i].word.len;
        return MB_OK;
    }
    return refuse_here(
        r, "a value (a text in quotation marks, a number, a list, an object, true or null)");
}

static enum mb_rc read_value(struct mb_json_reader *r, mb_json *value)
{
    char c = r->at == r->end ? '\0' : *r->at;

    if (c == '"') {
        value->type = MB_JSON_STRING;
        return mb_json_read_string(r, false, &value->text);
    }
    if (c == '{')
        return read_object(r, value);
    if (c == '[')
        return read_array(r, value);
    if (c == '-' || (c >= '0' && c <= '9'))
        return read_number(r, value);
    return read_word(r, value);
}

static enum mb_rc read_start(struct mb_json_reader *r)
{
    if (r->end - r->at > UINT32_MAX)
        return mb_fail(r->err, MB_REFUSED, "the text is longer than 4 GiB");
    if (r->end - r->at >= 3 && memcmp(r->at, "\xef\xbb\xbf", 3) == 0) {
        if (r->strict)
            return mb_json_refuse(r, r->at,
                                  "a byte order mark stands in front; save the text without it");
        r->at += 3;
        r->start += 3;
    }
    skip_blanks(r);
    return MB_OK;
}

enum mb_rc mb_json_read(mb_arena *arena, struct mb_str text, enum mb_json_rules rules,
                        const mb_json **out, struct mb_error *err)
{
    bool strict = rules == MB_JSON_STRICT;
    const char *start = text.len == 0 ? "" : text.at;
    struct mb_json_reader r = { .arena = arena,
                                .start = start,
                                .at = start,
                                .end = start + text.len,
                                .strict = strict,
                                .depth_max = strict ? MB_JSON_DEPTH_STRICT : MB_JSON_DEPTH_PLAIN,
                                .err = err };
    mb_json *value = MB_NEW(arena, mb_json);
    enum mb_rc rc;

    if ((rc = read_start(&r)) != MB_OK || (rc = read_value(&r, value)) != MB_OK)
        return rc;
    skip_blanks(&r);
    if (r.at != r.end)
        return mb_json_refuse(&r, r.at,
                              "the value is complete before this; remove what follows it");
    *out = value;
    return MB_OK;
}
