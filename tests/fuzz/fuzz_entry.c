/*
 * Fuzzing the reader of entries. The first byte says how the rest is taken: "=" as the text of an
 * SD-JWT; else as lines, of which the first is the header's JSON, the second the payload's, the
 * others the disclosures', so that the reader behind base64 is reached (the signature is not judged
 * here and is 64 zero bytes).
 */
#include <stdlib.h>
#include <string.h>

#include "entry.h"
#include "fuzz.h"
#include "merkle.h"
#include "text.h"

static void must(bool holds)
{
    if (!holds)
        abort();
}

static struct mb_str line_of(mb_arena *arena, struct mb_str *rest)
{
    struct mb_str line;

    mb_str_cut(*rest, '\n', &line, rest);
    return mb_b64u(arena, line.at, line.len);
}

static struct mb_str joined(mb_arena *arena, struct mb_str rest)
{
    static const uint8_t zeros[64];
    struct mb_str header = line_of(arena, &rest), payload = line_of(arena, &rest), part;
    struct mb_str sig = mb_b64u(arena, zeros, sizeof zeros);
    char *text = mb_arena_printf(arena, "%.*s.%.*s.%.*s~", MB_STR_ARG(header), MB_STR_ARG(payload),
                                 MB_STR_ARG(sig));

    while (rest.len) {
        part = line_of(arena, &rest);
        text = mb_arena_printf(arena, "%s%.*s~", text, MB_STR_ARG(part));
    }
    return mb_str_of(text);
}

struct walk {
    const struct mb_entry *entry;
    mb_arena *arena;
    size_t fields;
};

static void field(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in)
{
    struct walk *walk = ctx;
    enum mb_class again;

    must(value && name.len > 0 && in < MB_CLASS_COUNT);
    must(mb_entry_field(walk->entry, mb_arena_copy(walk->arena, name.at, name.len), &again) == value
         && again == in);
    must(mb_json_write(walk->arena, value).len > 0);
    walk->fields++;
}

/* Whatever is accepted is consistent in itself. */
static void accepted(mb_arena *arena, const struct mb_entry *e, struct mb_str text)
{
    struct mb_hash leaf = mb_leaf_hash(e->jws);
    struct walk walk = { e, arena, 0 };
    size_t shown = 0;

    must(e->jws.at == text.at && e->jws.len <= MB_ENTRY_MAX && text.at[e->jws.len] == '~');
    must(mb_hash_equal(&leaf, &e->leaf));
    must(e->seq >= 0 && e->nth >= 0 && e->iat >= 0 && mb_subject_ok(e->sub));
    for (size_t i = 0; i < e->slot_count; i++)
        if (e->slots[i].shown >= 0) {
            must((size_t)e->slots[i].shown < e->disclosure_count);
            must(e->disclosures[e->slots[i].shown].slot == (int)i);
            must(mb_hash_equal(&e->disclosures[e->slots[i].shown].digest, &e->slots[i].digest));
            shown++;
        }
    for (size_t i = 0; i < e->disclosure_count; i++) {
        must(e->disclosures[i].value && e->disclosures[i].salt.len > 0);
        shown -= e->disclosures[i].slot >= 0;
    }
    must(shown == 0);
    mb_entry_fields(e, field, &walk);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t len)
{
    mb_arena *arena = mb_arena_new();
    struct mb_error err = { 0 };
    struct mb_entry entry;
    struct mb_str text = { (const char *)bytes, len };
    enum mb_rc rc;

    if (len > 0 && bytes[0] == '=')
        text = (struct mb_str){ (const char *)bytes + 1, len - 1 };
    else
        text = joined(arena, text);
    rc = mb_entry_read_sd(arena, text, &entry, &err);
    must(rc == MB_OK || rc == MB_REFUSED || rc == MB_UNABLE);
    must((rc == MB_OK) == (err.text[0] == '\0') && mb_text_allowed(mb_str_of(err.text), false));
    if (rc == MB_OK)
        accepted(arena, &entry, text);
    mb_arena_free(arena);
    return 0;
}
