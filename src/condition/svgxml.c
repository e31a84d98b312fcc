#include "svgxml.h"

#include <string.h>

#include "text.h"

void mb_svgxml_init(struct mb_svgxml *xml, mb_arena *arena, struct mb_str text)
{
    xml->arena = arena;
    xml->rest = text;
    xml->line = 1;
    xml->empty = xml->seen = false;
    xml->depth = xml->attribute_count = 0;
}

static enum mb_rc bad(struct mb_svgxml *xml, const char *what, struct mb_error *err)
{
    return mb_fail(err, MB_REFUSED, "line %zu: %s", xml->line, what);
}

static void step(struct mb_svgxml *xml, size_t len)
{
    for (size_t i = 0; i < len; i++)
        xml->line += xml->rest.at[i] == '\n';
    xml->rest.at += len;
    xml->rest.len -= len;
}

static void skip_blanks(struct mb_svgxml *xml)
{
    size_t len = 0;

    while (len < xml->rest.len && memchr(" \t\r\n", xml->rest.at[len], 4))
        len++;
    step(xml, len);
}

/* Goes behind the next `mark`; false if there is none. */
static bool skip_past(struct mb_svgxml *xml, const char *mark)
{
    const char *at = memmem(xml->rest.at, xml->rest.len, mark, strlen(mark));

    if (!at)
        return false;
    step(xml, (size_t)(at - xml->rest.at) + strlen(mark));
    return true;
}

/* A name ends at a blank or one of = / > and quotation marks. */
static struct mb_str take_name(struct mb_svgxml *xml)
{
    struct mb_str name = { xml->rest.at, 0 };

    while (name.len < xml->rest.len && !memchr(" \t\r\n=/><\"'", name.at[name.len], 10))
        name.len++;
    step(xml, name.len);
    return name;
}

static bool same(struct mb_str a, struct mb_str b)
{
    return a.len == b.len && memcmp(a.at, b.at, a.len) == 0;
}

/* ---- attributes ------------------------------------------------------------------------------ */

static size_t put_utf8(char *out, uint32_t c)
{
    if (c < 0x80) {
        out[0] = (char)c;
        return 1;
    }
    if (c < 0x800) {
        out[0] = (char)(0xC0 | c >> 6);
        out[1] = (char)(0x80 | (c & 0x3F));
        return 2;
    }
    if (c < 0x10000) {
        out[0] = (char)(0xE0 | c >> 12);
        out[1] = (char)(0x80 | (c >> 6 & 0x3F));
        out[2] = (char)(0x80 | (c & 0x3F));
        return 3;
    }
    out[0] = (char)(0xF0 | c >> 18);
    out[1] = (char)(0x80 | (c >> 12 & 0x3F));
    out[2] = (char)(0x80 | (c >> 6 & 0x3F));
    out[3] = (char)(0x80 | (c & 0x3F));
    return 4;
}

/* The code behind &# as decimal or x and hexadecimal; false if it is no character. */
static bool numbered(struct mb_str digits, uint32_t *out)
{
    bool hex = digits.len > 0 && digits.at[0] == 'x';
    uint32_t base = hex ? 16 : 10, value = 0;

    if (digits.len <= hex || digits.len > 9)
        return false;
    for (size_t i = hex; i < digits.len; i++) {
        static const char figures[] = "0123456789abcdef";
        char c = digits.at[i] >= 'A' && digits.at[i] <= 'F' ? (char)(digits.at[i] + 32)
                                                            : digits.at[i];
        const char *figure = c ? strchr(figures, c) : NULL;

        if (!figure || (uint32_t)(figure - figures) >= base)
            return false;
        value = value * base + (uint32_t)(figure - figures);
        if (value > 0x10FFFF)
            return false;
    }
    *out = value;
    return value > 0 && (value < 0xD800 || value > 0xDFFF);
}

static bool entity(struct mb_str name, uint32_t *out)
{
    static const struct {
        const char *name;
        char is;
    } known[] = { { "amp", '&' }, { "lt", '<' }, { "gt", '>' }, { "quot", '"' }, { "apos", '\'' } };

    if (name.len > 1 && name.at[0] == '#')
        return numbered((struct mb_str){ name.at + 1, name.len - 1 }, out);
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        if (mb_str_is(name, known[i].name)) {
            *out = (uint32_t)known[i].is;
            return true;
        }
    return false;
}

static enum mb_rc undo_entities(struct mb_svgxml *xml, struct mb_str *value, struct mb_error *err)
{
    struct mb_str rest = *value;
    char *plain;
    size_t len = 0;

    if (!memchr(value->at, '&', value->len))
        return MB_OK;
    plain = mb_arena_get(xml->arena, value->len + 1);
    while (rest.len > 0) {
        struct mb_str name, behind;
        uint32_t code;

        if (rest.at[0] != '&') {
            plain[len++] = rest.at[0];
            rest.at++;
            rest.len--;
            continue;
        }
        if (!mb_str_cut((struct mb_str){ rest.at + 1, rest.len - 1 }, ';', &name, &behind)
            || !entity(name, &code))
            return bad(xml,
                       "an attribute has an entity that is not known here; save the drawing "
                       "as plain SVG",
                       err);
        len += put_utf8(plain + len, code);
        rest = behind;
    }
    *value = (struct mb_str){ plain, len };
    return MB_OK;
}

static enum mb_rc take_attribute(struct mb_svgxml *xml, struct mb_error *err)
{
    struct mb_svgxml_attribute *attribute = &xml->attributes[xml->attribute_count];
    const char *end;
    enum mb_rc rc;

    if (xml->attribute_count == MB_SVGXML_ATTRIBUTES_MAX)
        return bad(xml, "an element has too many attributes", err);
    attribute->name = take_name(xml);
    skip_blanks(xml);
    if (attribute->name.len == 0 || xml->rest.len == 0 || xml->rest.at[0] != '=')
        return bad(xml, "an attribute has no value", err);
    step(xml, 1);
    skip_blanks(xml);
    if (xml->rest.len == 0 || (xml->rest.at[0] != '"' && xml->rest.at[0] != '\''))
        return bad(xml, "an attribute's value has no quotation marks", err);
    end = memchr(xml->rest.at + 1, xml->rest.at[0], xml->rest.len - 1);
    if (!end)
        return bad(xml, "an attribute's quotation mark is never closed", err);
    attribute->value = (struct mb_str){ xml->rest.at + 1, (size_t)(end - xml->rest.at) - 1 };
    for (size_t i = 0; i < xml->attribute_count; i++)
        if (same(xml->attributes[i].name, attribute->name))
            return bad(xml, "an element has the same attribute twice", err);
    rc = undo_entities(xml, &attribute->value, err);
    if (rc != MB_OK)
        return rc;
    step(xml, (size_t)(end - xml->rest.at) + 1);
    xml->attribute_count++;
    return MB_OK;
}

/* ---- elements -------------------------------------------------------------------------------- */

static struct mb_str without_prefix(struct mb_str name)
{
    if (mb_str_starts(name, "svg:"))
        return (struct mb_str){ name.at + 4, name.len - 4 };
    return name;
}

static enum mb_rc take_open(struct mb_svgxml *xml, struct mb_error *err)
{
    struct mb_str written;
    enum mb_rc rc;

    step(xml, 1);
    xml->line_open = xml->line;
    xml->attribute_count = 0;
    written = take_name(xml);
    if (written.len == 0)
        return bad(xml, "an element has no name", err);
    if (xml->depth == 0 && xml->seen)
        return bad(xml, "there is a second outermost element", err);
    if (xml->depth == MB_SVGXML_DEPTH_MAX)
        return bad(xml, "the elements lie too deep in each other", err);
    xml->seen = true;
    xml->name = without_prefix(written);
    xml->open[xml->depth++] = written;
    for (;;) {
        skip_blanks(xml);
        if (xml->rest.len == 0)
            return bad(xml, "the file ends within an element", err);
        xml->empty = xml->rest.len > 1 && memcmp(xml->rest.at, "/>", 2) == 0;
        if (xml->empty || xml->rest.at[0] == '>') {
            step(xml, xml->empty ? 2 : 1);
            return MB_OK;
        }
        rc = take_attribute(xml, err);
        if (rc != MB_OK)
            return rc;
    }
}

static enum mb_rc take_close(struct mb_svgxml *xml, struct mb_error *err)
{
    struct mb_str name;

    step(xml, 2);
    name = take_name(xml);
    skip_blanks(xml);
    if (xml->rest.len == 0 || xml->rest.at[0] != '>')
        return bad(xml, "a closing mark is not finished", err);
    step(xml, 1);
    if (xml->depth == 0 || !same(name, xml->open[xml->depth - 1]))
        return bad(xml, "a closing mark does not fit the element that is open", err);
    xml->depth--;
    return MB_OK;
}

/* Comments and such, with the reader at "<!" or "<?". */
static enum mb_rc skip_aside(struct mb_svgxml *xml, struct mb_error *err)
{
    bool ok;

    if (mb_str_starts(xml->rest, "<!--")) {
        step(xml, 4);
        ok = skip_past(xml, "-->");
    } else if (mb_str_starts(xml->rest, "<![CDATA[")) {
        ok = skip_past(xml, "]]>");
    } else if (mb_str_starts(xml->rest, "<?")) {
        ok = skip_past(xml, "?>");
    } else {
        const char *end = memchr(xml->rest.at, '>', xml->rest.len);
        size_t len = end ? (size_t)(end - xml->rest.at) : xml->rest.len;

        if (memchr(xml->rest.at, '[', len))
            return bad(xml,
                       "the document type has declarations of its own, which are not read; "
                       "save the drawing as plain SVG",
                       err);
        ok = skip_past(xml, ">");
    }
    return ok ? MB_OK : bad(xml, "the file ends within a comment or declaration", err);
}

enum mb_rc mb_svgxml_next(struct mb_svgxml *xml, enum mb_svgxml_event *out, struct mb_error *err)
{
    enum mb_rc rc = MB_OK;

    if (xml->empty) {
        xml->empty = false;
        xml->depth--;
        *out = MB_SVGXML_CLOSE;
        return MB_OK;
    }
    while (rc == MB_OK) {
        const char *mark = xml->rest.len ? memchr(xml->rest.at, '<', xml->rest.len) : NULL;

        if (!mark) {
            if (xml->depth > 0 || !xml->seen)
                return bad(xml, "the file ends before its elements are closed", err);
            *out = MB_SVGXML_END;
            return MB_OK;
        }
        step(xml, (size_t)(mark - xml->rest.at));
        if (mb_str_starts(xml->rest, "</")) {
            *out = MB_SVGXML_CLOSE;
            return take_close(xml, err);
        }
        if (!mb_str_starts(xml->rest, "<!") && !mb_str_starts(xml->rest, "<?")) {
            *out = MB_SVGXML_OPEN;
            return take_open(xml, err);
        }
        rc = skip_aside(xml, err);
    }
    return rc;
}

struct mb_str mb_svgxml_get(const struct mb_svgxml *xml, const char *name)
{
    for (size_t i = 0; i < xml->attribute_count; i++)
        if (mb_str_is(xml->attributes[i].name, name))
            return xml->attributes[i].value;
    return (struct mb_str){ NULL, 0 };
}
