#include "bag_text.h"

#include <string.h>

#include "buf.h"
#include "recode.h"
#include "text.h"

enum { RECODED_MAX = 256 << 20 };

bool mb_bag_line(struct mb_str *rest, struct mb_str *line)
{
    size_t n = 0;

    if (rest->len == 0)
        return false;
    while (n < rest->len && rest->at[n] != '\n' && rest->at[n] != '\r')
        n++;
    *line = (struct mb_str){ rest->at, n };
    if (n + 1 < rest->len && rest->at[n] == '\r' && rest->at[n + 1] == '\n')
        n++;
    if (n < rest->len)
        n++;
    *rest = (struct mb_str){ rest->at + n, rest->len - n };
    return true;
}

/* ---- bagit.txt ---- */

/* "Name: value"; *value trimmed where blanks may stand. */
static bool member(struct mb_str line, const char *name, bool loose, struct mb_str *value)
{
    struct mb_str label;

    if (!mb_str_cut(line, ':', &label, value))
        return false;
    if (!mb_str_is(loose ? mb_str_trim(label) : label, name))
        return false;
    if (!loose && (value->len < 2 || value->at[0] != ' '))
        return false;
    *value = mb_str_trim(*value);
    return value->len > 0;
}

static bool number(struct mb_str text, int *out)
{
    *out = 0;
    if (text.len == 0 || text.len > 3)
        return false;
    for (size_t i = 0; i < text.len; i++) {
        if (text.at[i] < '0' || text.at[i] > '9')
            return false;
        *out = *out * 10 + (text.at[i] - '0');
    }
    return true;
}

static bool two_lines(struct mb_str bytes, bool loose, struct mb_str *version,
                      struct mb_str *encoding)
{
    struct mb_str first, second, more;

    if (!mb_bag_line(&bytes, &first) || !mb_bag_line(&bytes, &second))
        return false;
    while (loose && mb_bag_line(&bytes, &more))
        if (mb_str_trim(more).len > 0)
            return false;
    return bytes.len == 0 && member(first, "BagIt-Version", loose, version)
           && member(second, "Tag-File-Character-Encoding", loose, encoding);
}

enum mb_rc mb_bag_form_read(mb_arena *arena, struct mb_str bytes, struct mb_bag_form *out,
                            struct mb_error *err)
{
    struct mb_str version, encoding, major, minor;

    if (bytes.len >= 3 && memcmp(bytes.at, "\xEF\xBB\xBF", 3) == 0)
        return mb_fail(err, MB_REFUSED,
                       "bagit.txt begins with a byte order mark, which a bag must not have");
    if (!two_lines(bytes, true, &version, &encoding)
        || !mb_str_cut(version, '.', &major, &minor) || !number(major, &out->major)
        || !number(minor, &out->minor))
        return mb_fail(err, MB_REFUSED,
                       "bagit.txt does not have the two lines 'BagIt-Version: 1.0' and"
                       " 'Tag-File-Character-Encoding: UTF-8'");
    if (out->major >= 1 && !two_lines(bytes, false, &version, &encoding))
        return mb_fail(err, MB_REFUSED,
                       "bagit.txt has other blanks or lines than version 1.0 of bags allows");
    if (out->major > 1 || (out->major == 1 && out->minor > 0))
        return mb_fail(err, MB_UNABLE,
                       "bagit.txt is of version %d.%d, which this program does not know",
                       out->major, out->minor);
    if (out->major == 0 && (out->minor < 93 || out->minor > 97))
        return mb_fail(err, MB_REFUSED,
                       "bagit.txt names the version %d.%d of bags, and there is none", out->major,
                       out->minor);
    out->encoding = mb_arena_copy(arena, encoding.at, encoding.len);
    return MB_OK;
}

/* ---- encodings ---- */

enum mb_rc mb_bag_recode(mb_arena *arena, const char *encoding, struct mb_str bytes,
                         struct mb_str *out, struct mb_error *err)
{
    MB_BUF_AUTO struct mb_buf buf = { 0 };
    bool utf8 = strcasecmp(encoding, "UTF-8") == 0;
    enum mb_rc rc;

    if (utf8 && !mb_utf8_ok(bytes))
        return mb_fail(err, MB_REFUSED, "is not in UTF-8, as bagit.txt says it is");
    if (utf8) {
        *out = bytes;
        return MB_OK;
    }
    mb_buf_init(&buf, RECODED_MAX);
    rc = mb_recode(encoding, bytes, &buf);
    if (rc == MB_UNABLE)
        return mb_fail(err, MB_UNABLE, "is in the encoding '%s', which is not known here",
                       encoding);
    if (rc)
        return mb_fail(err, MB_REFUSED, "is not in %s, as bagit.txt says it is", encoding);
    *out = mb_arena_str(arena, mb_buf_str(&buf));
    return MB_OK;
}

/* ---- bag-info.txt ---- */

enum mb_rc mb_bag_info_read(mb_arena *arena, struct mb_str text, const mb_json **out,
                            struct mb_error *err)
{
    mb_json *list = mb_json_array(arena);
    struct mb_str line, label, value;
    int at = 0;

    while (mb_bag_line(&text, &line)) {
        at++;
        if (mb_str_trim(line).len == 0)
            continue;
        if ((line.at[0] == ' ' || line.at[0] == '\t') && list->last) {
            const char *more = mb_arena_printf(
                arena, "%.*s %.*s", MB_STR_ARG(mb_json_str(mb_json_get(list->last, "value"))),
                MB_STR_ARG(mb_str_trim(line)));

            mb_json_put_text(arena, list->last, "value", more);
            continue;
        }
        if (!mb_str_cut(line, ':', &label, &value) || mb_str_trim(label).len == 0)
            return mb_fail(err, MB_REFUSED, "line %d is no 'Label: value'", at);
        mb_json *row = mb_json_add(list, mb_json_object(arena));
        mb_json_put(arena, row, "label", mb_json_string_str(arena, mb_str_trim(label)));
        mb_json_put(arena, row, "value", mb_json_string_str(arena, mb_str_trim(value)));
    }
    *out = list;
    return MB_OK;
}

struct mb_str mb_bag_info(const mb_json *info, const char *label)
{
    MB_JSON_EACH(row, info)
    {
        struct mb_str name = mb_json_str(mb_json_get(row, "label"));

        if (name.len == strlen(label) && strncasecmp(name.at, label, name.len) == 0)
            return mb_json_str(mb_json_get(row, "value"));
    }
    return (struct mb_str){ NULL, 0 };
}

/* ---- paths ---- */

const char *mb_bag_path_bad(struct mb_str path)
{
    struct mb_str rest = path, part;
    bool more = true;

    if (path.len == 0)
        return "an empty path";
    if (!mb_utf8_ok(path) || memchr(path.at, 0, path.len))
        return "a path that is not in UTF-8";
    if (path.at[0] == '/' || path.at[0] == '~')
        return "a path that leads out of the bag";
    if (path.len > 1 && path.at[1] == ':')
        return "a path that leads out of the bag";
    if (memchr(path.at, '\\', path.len))
        return "a path with a backslash, which another system takes for a folder";
    while (more) {
        more = mb_str_cut(rest, '/', &part, &rest);
        if (mb_str_is(part, "..") || mb_str_is(part, "."))
            return "a path that leads out of the bag or runs in place";
        if (part.len == 0)
            return "a path with an empty part";
    }
    return NULL;
}

char *mb_bag_path_write(mb_arena *arena, const char *path)
{
    MB_BUF_AUTO struct mb_buf buf;

    mb_buf_init(&buf, 3 * strlen(path) + 1);
    for (; *path; path++)
        if (*path == '\r' || *path == '\n' || *path == '%')
            mb_buf_printf(&buf, "%%%02X", (unsigned char)*path);
        else
            mb_buf_add_char(&buf, *path);
    return mb_arena_copy(arena, buf.at ? buf.at : "", buf.len);
}

struct mb_str mb_bag_path_read(mb_arena *arena, struct mb_str written, bool since_1_0)
{
    static const struct {
        const char *code;
        char stands_for;
    } codes[] = { { "0A", '\n' }, { "0D", '\r' }, { "25", '%' } };
    char *out = mb_arena_array(arena, written.len + 1, 1);
    size_t n = 0;

    for (size_t i = 0; i < written.len; i++) {
        char c = written.at[i];

        for (size_t k = 0; c == '%' && i + 2 < written.len && k < (since_1_0 ? 3 : 2); k++)
            if (strncasecmp(written.at + i + 1, codes[k].code, 2) == 0) {
                out[n++] = codes[k].stands_for;
                i += 2;
                c = 0;
            }
        if (c)
            out[n++] = c;
    }
    return (struct mb_str){ out, n };
}
