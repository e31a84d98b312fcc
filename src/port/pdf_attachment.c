#include <string.h>

#include "pdf.h"
#include "pdf_read.h"
#include "text.h"

#define TREE_DEPTH 16
#define NAMES_MAX 10000

struct hunt {
    mb_pdf_reader *r;
    const char *name;
    int names;
    int64_t found; /* object number of the stream, 0: none yet */
    bool twice;
};

/* PDF texts are UTF-16 or UTF-8 behind their marks, else one byte a character (ISO 32000-2, 7.9.2);
 * below 128 the last is ASCII, and nothing else of it can equal a name of ours by chance. */
static bool text_is(const struct mb_pdf_value *v, const char *name)
{
    struct mb_str s = v->text;
    struct mb_str rest = mb_str_of(name);
    uint32_t code, want;
    size_t i;

    if (v->type != MB_PDF_STRING)
        return false;
    if (mb_str_starts(s, "\xEF\xBB\xBF"))
        return mb_str_is((struct mb_str){ s.at + 3, s.len - 3 }, name);
    if (!mb_str_starts(s, "\xFE\xFF"))
        return mb_str_is(s, name);
    for (i = 2; i + 1 < s.len && rest.len > 0; i += 2) {
        size_t len = mb_utf8_next(rest, &want);

        code = (uint32_t)(uint8_t)s.at[i] << 8 | (uint8_t)s.at[i + 1];
        if (code >= 0xD800 && code < 0xDC00 && i + 3 < s.len) {
            i += 2;
            code = 0x10000 + ((code - 0xD800) << 10) +
                   (((uint32_t)(uint8_t)s.at[i] << 8 | (uint8_t)s.at[i + 1]) - 0xDC00);
        }
        if (len == 0 || code != want)
            return false;
        rest.at += len;
        rest.len -= len;
    }
    return i == s.len && rest.len == 0;
}

/* One file specification: is it ours, and where is its stream. */
static void look_at(struct hunt *h, const struct mb_pdf_value *key,
                    const struct mb_pdf_value *value)
{
    const struct mb_pdf_value *spec = mb_pdf_resolve(h->r, value);
    const struct mb_pdf_value *held = mb_pdf_get(h->r, spec, "EF");
    const struct mb_pdf_value *stream = mb_pdf_entry(held, "UF");

    if (stream->type != MB_PDF_REF)
        stream = mb_pdf_entry(held, "F");
    if (stream->type != MB_PDF_REF)
        return;
    if (!text_is(mb_pdf_get(h->r, spec, "UF"), h->name) &&
        !text_is(mb_pdf_get(h->r, spec, "F"), h->name) &&
        !text_is(mb_pdf_resolve(h->r, key), h->name))
        return;
    h->twice |= h->found && h->found != stream->number;
    h->found = stream->number;
}

static bool count_name(struct hunt *h)
{
    return !mb_pdf_reader_rc(h->r) && h->names++ < NAMES_MAX;
}

/* ISO 32000-2, 7.9.6; the limits are not used, all of the tree is looked at. */
static void walk_tree(struct hunt *h, const struct mb_pdf_value *node, int depth)
{
    const struct mb_pdf_value *names = mb_pdf_get(h->r, node, "Names");
    const struct mb_pdf_value *kids = mb_pdf_get(h->r, node, "Kids");

    if (depth > TREE_DEPTH)
        return;
    if (names->type == MB_PDF_ARRAY)
        for (const struct mb_pdf_value *v = names->first; v && v->next && count_name(h);
             v = v->next->next)
            look_at(h, v, v->next);
    if (kids->type == MB_PDF_ARRAY)
        for (const struct mb_pdf_value *v = kids->first; v && count_name(h); v = v->next)
            walk_tree(h, mb_pdf_resolve(h->r, v), depth + 1);
}

static void walk_associated(struct hunt *h, const struct mb_pdf_value *list)
{
    if (list->type == MB_PDF_ARRAY)
        for (const struct mb_pdf_value *v = list->first; v && count_name(h); v = v->next)
            look_at(h, &mb_pdf_null, v);
}

static enum mb_rc fetch(struct hunt *h, mb_arena *arena, size_t max, struct mb_str *out,
                        struct mb_error *err)
{
    struct mb_pdf_value ref = { .type = MB_PDF_REF, .number = h->found };
    const struct mb_pdf_value *stream = mb_pdf_resolve(h->r, &ref);
    struct mb_str bytes = mb_pdf_unpack(h->r, arena, stream, max);

    if (mb_pdf_reader_rc(h->r)) {
        mb_fail_where(err, "the attached file %.80s", h->name);
        return mb_pdf_reader_rc(h->r);
    }
    *out = bytes.at == stream->text.at ? mb_arena_str(arena, bytes) : bytes;
    return MB_OK;
}

enum mb_rc mb_pdf_attachment(mb_arena *arena, struct mb_str pdf, const char *name, size_t max,
                             struct mb_str *out, struct mb_error *err)
{
    mb_arena *scratch = mb_arena_new();
    struct mb_error trouble = { 0 };
    struct hunt h = { .name = name };
    const struct mb_pdf_value *root, *names;
    enum mb_rc rc = mb_pdf_open(scratch, pdf, &h.r, &trouble);

    if (!rc) {
        root = mb_pdf_root(h.r);
        names = mb_pdf_get(h.r, root, "Names");
        walk_tree(&h, mb_pdf_get(h.r, names, "EmbeddedFiles"), 0);
        walk_associated(&h, mb_pdf_get(h.r, root, "AF"));
        rc = mb_pdf_reader_rc(h.r);
    }
    if (!rc && h.twice)
        rc = mb_fail(&trouble, MB_REFUSED,
                     "the PDF has two different attached files named %.80s, so it is not clear "
                     "which one counts; ask for the one that was issued", name);
    else if (!rc && !h.found)
        rc = mb_fail(&trouble, MB_NO, "the PDF has no attached file named %.80s", name);
    if (!rc)
        rc = fetch(&h, arena, max, out, &trouble);
    mb_arena_free(scratch);
    return rc ? mb_fail(err, trouble.code, "%s", trouble.text) : MB_OK;
}
