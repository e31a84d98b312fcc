#include "bundle.h"

#include <stdlib.h>
#include <string.h>

#include "sha256.h"
#include "text.h"

const char *const mb_audience_name[MB_AUDIENCE_COUNT] = { "public", "buyer", "institution",
                                                          "auditor" };

bool mb_audience_of(struct mb_str name, enum mb_audience *out)
{
    for (int i = 0; i < MB_AUDIENCE_COUNT; i++)
        if (mb_str_is(name, mb_audience_name[i])) {
            *out = (enum mb_audience)i;
            return true;
        }
    return false;
}

bool mb_audience_sees(enum mb_audience audience, enum mb_class in)
{
    switch (in) {
    case MB_OPEN:
        return true;
    case MB_SALE:
        return audience != MB_PUBLIC;
    case MB_SCIENCE:
        return audience == MB_INSTITUTION;
    case MB_LAND:
        return audience == MB_INSTITUTION || audience == MB_AUDITOR;
    default:
        return false; /* private: one by one only; own: see verify.c */
    }
}

static enum mb_rc bad(struct mb_error *err, const char *what)
{
    return mb_fail(err, MB_REFUSED, "the certificate is malformed: %s", what);
}

static enum mb_rc read_path(const mb_json *list, struct mb_path *out, struct mb_error *err)
{
    if (!mb_json_is(list, MB_JSON_ARRAY) || list->count > MB_PROOF_NODES_MAX)
        return bad(err, "a proof is not a list of at most 63 hashes");
    out->count = 0;
    MB_JSON_EACH(item, list)
    {
        if (!mb_b64_read_exact(mb_json_str(item), out->node[out->count++].b, 32))
            return bad(err, "a hash of a proof is not 32 bytes of base64");
    }
    return MB_OK;
}

static enum mb_rc read_entries(mb_arena *arena, const mb_json *list, struct mb_bundle *out,
                               struct mb_error *err)
{
    int64_t before = -1;

    if (!mb_json_is(list, MB_JSON_ARRAY) || list->count == 0)
        return bad(err, "it holds no entries");
    out->entries = MB_ARRAY(arena, list->count, struct mb_bundle_entry);
    MB_JSON_EACH(item, list)
    {
        struct mb_bundle_entry *e = &out->entries[out->count++];
        enum mb_rc rc;

        e->index = mb_json_int(mb_json_get(item, "index"), -1);
        e->sd_jwt = mb_json_str(mb_json_get(item, "sd_jwt"));
        if (!mb_json_is(item, MB_JSON_OBJECT) || item->count != 3 || e->index < 0 || !e->sd_jwt.at)
            return bad(err, "an entry is not index, sd_jwt and proof");
        if (e->index <= before)
            return bad(err, "its entries are not in rising order");
        before = e->index;
        rc = read_path(mb_json_get(item, "proof"), &e->path, err);
        if (rc)
            return rc;
    }
    return MB_OK;
}

static enum mb_rc read_files(mb_arena *arena, const mb_json *object, struct mb_bundle *out,
                             struct mb_error *err)
{
    if (!mb_json_is(object, MB_JSON_OBJECT))
        return bad(err, "'files' is not an object");
    out->files = MB_ARRAY(arena, object->count + 1, struct mb_bundle_file);
    MB_JSON_EACH(item, object)
    {
        struct mb_bundle_file *f = &out->files[out->file_count++];
        struct mb_str b64 = mb_json_str(item);
        char *bytes;

        if (!b64.at)
            return bad(err, "a file in it is not base64");
        bytes = mb_arena_get(arena, b64.len + 4);
        f->name = item->name;
        if (item->name.len != 64 || !mb_b64_read(b64, bytes, &f->bytes.len))
            return bad(err, "a file in it is not named by its hash, or not base64");
        f->bytes.at = bytes;
    }
    return MB_OK;
}

static enum mb_rc read_anchors(mb_arena *arena, const mb_json *list, struct mb_bundle *out,
                               struct mb_error *err)
{
    if (!mb_json_is(list, MB_JSON_ARRAY) || list->count > 64)
        return bad(err, "'anchors' is not a list of at most 64");
    out->anchors = MB_ARRAY(arena, list->count + 1, struct mb_bundle_anchor);
    MB_JSON_EACH(item, list)
    {
        struct mb_bundle_anchor *a = &out->anchors[out->anchor_count++];
        enum mb_rc rc;

        a->note = mb_json_str(mb_json_get(item, "checkpoint"));
        if (!mb_json_is(item, MB_JSON_OBJECT) || item->count != 2 || !a->note.at)
            return bad(err, "an anchor is not checkpoint and consistency");
        rc = read_path(mb_json_get(item, "consistency"), &a->path, err);
        if (rc)
            return rc;
    }
    return MB_OK;
}

static enum mb_rc read_foreign(mb_arena *arena, const mb_json *list, struct mb_bundle *out,
                               struct mb_error *err)
{
    if (!mb_json_is(list, MB_JSON_ARRAY) || list->count > MB_FOREIGN_MAX)
        return bad(err, "'foreign' is not a list of at most 16");
    out->foreign = MB_ARRAY(arena, list->count + 1, const mb_json *);
    MB_JSON_EACH(item, list)
    {
        out->foreign[out->foreign_count++] = item;
    }
    return MB_OK;
}

static bool is_other_version(struct mb_str format)
{
    static const struct mb_str name = { MB_BUNDLE_FORMAT, sizeof MB_BUNDLE_FORMAT - 2 };

    if (!mb_str_starts(format, "markerbed-certificate/") || mb_str_is(format, MB_BUNDLE_FORMAT)
        || format.len == name.len)
        return false;
    for (size_t i = name.len; i < format.len; i++)
        if (format.at[i] < '0' || format.at[i] > '9')
            return false;
    return true;
}

enum mb_rc mb_bundle_read(mb_arena *arena, const mb_json *json, struct mb_bundle *out,
                          struct mb_error *err)
{
    struct mb_bundle bundle = { 0 };
    const mb_json *files, *anchors, *foreign;
    enum mb_rc rc;

    if (is_other_version(mb_json_str(mb_json_get(json, "format"))))
        return mb_fail(err, MB_UNABLE,
                       "this is no certificate of the format " MB_BUNDLE_FORMAT
                       " but of another version");
    if (!mb_json_text_is(mb_json_get(json, "format"), MB_BUNDLE_FORMAT))
        return mb_fail(err, MB_REFUSED, "this is no certificate of the format " MB_BUNDLE_FORMAT);
    bundle.origin = mb_json_str(mb_json_get(json, "origin"));
    bundle.note = mb_json_str(mb_json_get(json, "checkpoint"));
    files = mb_json_get(json, "files");
    anchors = mb_json_get(json, "anchors");
    foreign = mb_json_get(json, "foreign");
    if (!bundle.origin.at || !bundle.note.at
        || json->count != 4u + !!files + !!anchors + !!foreign)
        return bad(err, "it has other members than the format gives");
    rc = read_entries(arena, mb_json_get(json, "entries"), &bundle, err);
    if (!rc && files)
        rc = read_files(arena, files, &bundle, err);
    if (!rc && anchors)
        rc = read_anchors(arena, anchors, &bundle, err);
    if (!rc && foreign)
        rc = read_foreign(arena, foreign, &bundle, err);
    if (!rc)
        *out = bundle;
    return rc;
}

bool mb_is_specimen(struct mb_str subject)
{
    return mb_str_starts(subject, "specimen/");
}

struct needs {
    bool of_specimen;
    mb_needs_fn *each;
    void *ctx;
};

static void needs_in(const struct needs *needs, const mb_json *value)
{
    struct mb_str ref = mb_ref_of(value);

    if (ref.at) {
        if (!mb_is_specimen(ref) && !mb_str_starts(ref, "key/") && !mb_str_is(ref, "ledger"))
            needs->each(needs->ctx, ref);
        return;
    }
    if (mb_json_is(value, MB_JSON_OBJECT) || mb_json_is(value, MB_JSON_ARRAY))
        MB_JSON_EACH(child, value)
        {
            needs_in(needs, child);
        }
}

static void needs_of_field(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in)
{
    static const char *const onward[] = { "surfaceOwner", "fossilOwner", "landManager", "grantor" };
    const struct needs *needs = ctx;

    (void)in;
    if (needs->of_specimen) {
        needs_in(needs, value);
        return;
    }
    for (size_t i = 0; i < sizeof onward / sizeof *onward; i++)
        if (mb_str_is(name, onward[i]))
            needs_in(needs, value);
}

void mb_entry_needs(const struct mb_entry *entry, bool of_specimen, mb_needs_fn *each, void *ctx)
{
    struct needs needs = { of_specimen, each, ctx };

    if (of_specimen || mb_str_starts(entry->sub, "site/")
        || mb_str_starts(entry->sub, "permission/"))
        mb_entry_fields(entry, needs_of_field, &needs);
}

static int by_text(const void *a, const void *b)
{
    return memcmp(a, b, MB_HASH_B64U_LEN);
}

struct mb_str mb_digest_of_set(mb_arena *arena, const struct mb_hash *hashes, size_t count)
{
    /* each line is 43 characters and a line end, so that they can be sorted in place */
    char *lines = mb_arena_get(arena, count * (MB_HASH_B64U_LEN + 1) + 1);
    struct mb_hash digest;

    for (size_t i = 0; i < count; i++) {
        char *line = lines + i * (MB_HASH_B64U_LEN + 1);

        mb_b64u_write(line, hashes[i].b, sizeof hashes[i].b);
        line[MB_HASH_B64U_LEN] = '\n';
    }
    qsort(lines, count, MB_HASH_B64U_LEN + 1, by_text);
    digest = mb_sha256(lines, count ? count * (MB_HASH_B64U_LEN + 1) - 1 : 0);
    return mb_b64u(arena, digest.b, sizeof digest.b);
}
