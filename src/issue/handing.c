#include "handing.h"

#include <string.h>

#include "asset.h"
#include "closure.h"
#include "date.h"
#include "session.h"
#include "text.h"
#include "words.h"
#include "words_rows.h"

enum { PARENTS_MAX = 16 }; /* divided again and again */

struct mb_str mb_handing_subject(const struct mb_handing *h, size_t which)
{
    return h->subjects[which];
}

const char *mb_handing_id(const struct mb_handing *h, size_t which)
{
    struct mb_str subject = h->subjects[which];

    return mb_arena_copy(h->arena, subject.at + strlen("specimen/"),
                         subject.len - strlen("specimen/"));
}

const struct mb_told *mb_handing_newest(const struct mb_handing *h, struct mb_str subject,
                                        const char *kind)
{
    const mb_story *story = mb_stories_of(h->check.stories, subject);

    for (size_t i = story ? mb_story_count(story) : 0; i-- > 0;) {
        const struct mb_told *told = mb_story_at(story, i);

        if (told->voided_by < 0 && (!kind || mb_str_is(told->entry->kind, kind)))
            return told;
    }
    return NULL;
}

static const mb_json *own_value(const struct mb_handing *h, struct mb_str subject,
                                const char *kind, const char *field)
{
    const mb_story *story = mb_stories_of(h->check.stories, subject);

    for (size_t i = story ? mb_story_count(story) : 0; i-- > 0;) {
        const struct mb_told *told = mb_story_at(story, i);
        const mb_json *value;

        if (told->voided_by >= 0 || (kind && !mb_str_is(told->entry->kind, kind)))
            continue;
        value = mb_told_field(told, field, NULL, NULL);
        if (value)
            return value;
    }
    return NULL;
}

const mb_json *mb_handing_value(const struct mb_handing *h, struct mb_str subject,
                                const char *kind, const char *field)
{
    const mb_json *value = NULL;

    for (int steps = 0; steps < PARENTS_MAX && subject.at && !value; steps++) {
        value = own_value(h, subject, kind, field);
        if (kind && strcmp(kind, "collecting") != 0 && strcmp(kind, "arrival") != 0)
            break;
        subject = mb_handing_parent(h, subject);
    }
    return value;
}

struct mb_str mb_handing_parent(const struct mb_handing *h, struct mb_str specimen)
{
    if (!mb_is_specimen(specimen))
        return (struct mb_str){ NULL, 0 };
    return mb_json_str(mb_json_get(own_value(h, specimen, "division", "parent"), "ref"));
}

bool mb_handing_known(const mb_json *value)
{
    struct mb_str text = mb_json_str(value);

    if (!value || mb_json_is(value, MB_JSON_NULL) || mb_json_get(value, "answer"))
        return false;
    if (value->type == MB_JSON_ARRAY)
        return value->count > 0 && mb_handing_known(value->first);
    return !mb_str_is(text, "not known") && !mb_str_is(text, "not examined");
}

const char *mb_handing_words(const struct mb_handing *h, const mb_json *value)
{
    return mb_handing_said(h, (struct mb_str){ NULL, 0 }, value);
}

const char *mb_handing_said(const struct mb_handing *h, struct mb_str field, const mb_json *value)
{
    struct mb_page speaker = *h->pages[0];
    const mb_json *named;
    char *rows = NULL;

    if (!value)
        return NULL;
    speaker.arena = h->arena;
    named = mb_page_named(&speaker, value);
    if (field.at && mb_json_is(named, MB_JSON_ARRAY))
        rows = mb_words_rows(h->arena, field, named);
    return rows ? rows : mb_words_value(h->arena, named);
}

struct mb_str mb_handing_ref(const struct mb_handing *h, struct mb_str specimen,
                             const char *field, const char *other)
{
    struct mb_str ref =
        mb_json_str(mb_json_get(mb_handing_value(h, specimen, NULL, field), "ref"));

    if (!ref.at && other)
        ref = mb_json_str(mb_json_get(mb_handing_value(h, specimen, NULL, other), "ref"));
    return ref;
}

const char *mb_handing_land(const struct mb_handing *h, struct mb_str specimen)
{
    struct mb_str site = mb_handing_ref(h, specimen, "site", "statedSite");
    const mb_json *category =
        site.at ? mb_handing_value(h, site, "land-status", "landCategory") : NULL;

    if (!mb_handing_known(category))
        return "not known";
    MB_JSON_EACH(term, h->lands)
        if (mb_json_equal(mb_json_get(term, "id"), category))
            return mb_json_cstr(h->arena, mb_json_get(term, "group"));
    return "not known";
}

/* ---- files ---- */

struct gathering {
    struct mb_handing *h;
    const struct mb_entry *entry;
    struct mb_str field;
    struct mb_handed_file **end;
};

static const char *ending_of(const char *type)
{
    static const char *const endings[][2] = {
        { "image/jpeg", "jpg" },    { "image/png", "png" },       { "image/tiff", "tif" },
        { "application/pdf", "pdf" }, { "application/json", "json" }, { "image/svg+xml", "svg" },
        { "text/plain", "txt" },    { "text/csv", "csv" },
    };

    for (size_t i = 0; type && i < sizeof endings / sizeof *endings; i++)
        if (strcmp(endings[i][0], type) == 0)
            return endings[i][1];
    return "bin";
}

static const struct mb_handed_file *seen_before(const struct gathering *g, struct mb_str sha256)
{
    for (const struct mb_handed_file *file = g->h->files; file; file = file->next)
        if (mb_str_equal(file->sha256, sha256))
            return file;
    return NULL;
}

static const char *path_of(const struct gathering *g, struct mb_str sha256, const char *type)
{
    char *subject = mb_arena_copy(g->h->arena, g->entry->sub.at, g->entry->sub.len);
    const char *floor = mb_str_is(g->field, "outlines") ? "measurements" : "attachments";

    for (char *at = subject; *at; at++)
        if (*at == '/')
            *at = '-';
    return mb_arena_printf(g->h->arena, "%s/%s/%05lld-%.12s.%s", floor, subject,
                           (long long)g->entry->seq, sha256.at, ending_of(type));
}

static void take(struct gathering *g, const mb_json *value, const mb_json *row)
{
    struct mb_str sha256 = mb_json_str(mb_json_get(value, "file"));

    if (mb_json_is(value, MB_JSON_OBJECT) && sha256.len == 64) {
        const struct mb_handed_file *before = seen_before(g, sha256);
        struct mb_handed_file *file = MB_NEW(g->h->arena, struct mb_handed_file);

        file->sha256 = sha256;
        file->type = mb_json_cstr(g->h->arena, mb_json_get(value, "type"));
        file->bytes = mb_json_int(mb_json_get(value, "bytes"), 0);
        file->subject = g->entry->sub;
        file->kind = g->entry->kind;
        file->seq = g->entry->seq;
        file->field = g->field;
        file->row = row;
        file->first = !before;
        file->path = before ? before->path : path_of(g, sha256, file->type);
        *g->end = file;
        g->end = &file->next;
        return;
    }
    MB_JSON_EACH(child, value)
        take(g, child, mb_json_is(value, MB_JSON_OBJECT) ? value : row);
}

static void gather(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in)
{
    struct gathering *g = ctx;

    (void)in;
    g->field = name;
    take(g, value, NULL);
}

/* ---- the whole ---- */

static enum mb_rc read_terms(mb_arena *arena, const char *name, const mb_json **out,
                             struct mb_error *err)
{
    const struct mb_asset *asset = mb_asset_find(name);
    const mb_json *vocab;
    enum mb_rc rc;

    if (!asset)
        return mb_fail(err, MB_UNABLE, "schema/%s is not built in", name);
    rc = mb_json_read(arena, (struct mb_str){ asset->data, asset->size }, MB_JSON_PLAIN, &vocab,
                      err);
    if (!rc)
        *out = mb_json_get(vocab, "terms");
    return rc;
}

static enum mb_rc read_vocabularies(struct mb_handing *out, struct mb_error *err)
{
    enum mb_rc rc = read_terms(out->arena, "vocab/material.json", &out->materials, err);

    return rc ? rc : read_terms(out->arena, "vocab/landCategory.json", &out->lands, err);
}

enum mb_rc mb_handing_make(mb_arena *arena, struct mb_str certificate, struct mb_handing *out,
                           struct mb_error *err)
{
    struct gathering g = { .h = out, .end = &out->files };
    struct mb_str *subjects;
    const struct mb_entry *last;
    const mb_json *to;
    enum mb_rc rc;

    *out = (struct mb_handing){ .arena = arena };
    rc = mb_page_open(arena, certificate, &out->check, err);
    if (!rc)
        rc = read_vocabularies(out, err);
    if (rc)
        return rc;
    out->count = out->check.certificate_count;
    out->pages = MB_ARRAY(arena, out->count, struct mb_page *);
    out->subjects = subjects = MB_ARRAY(arena, out->count, struct mb_str);
    for (size_t i = 0; i < out->count; i++)
        subjects[i] = out->check.certificates[i]->entry.sub;
    for (size_t i = 0; i < out->count; i++)
        out->pages[i] = mb_page_new(arena, &out->check, out->check.certificates[i]);
    last = &out->check.certificates[out->count - 1]->entry;
    out->origin = out->pages[0]->origin;
    out->issuer = out->pages[0]->issuer;
    out->day = mb_arena_copy(arena, mb_moment_write(arena, last->iat), 10);
    to = mb_entry_field(last, "to", NULL);
    out->to = mb_json_is(to, MB_JSON_OBJECT) ? mb_json_cstr(arena, mb_json_get(to, "ref"))
                                             : "bearer";
    out->to_words = to ? mb_handing_words(out, to) : "bearer";
    for (size_t i = 0; i < out->check.bundle->count; i++) {
        g.entry = &out->check.bundle->entries[i].entry;
        mb_entry_fields(g.entry, gather, &g);
    }
    return MB_OK;
}

static enum mb_rc find_subjects(mb_ledger *ledger, mb_arena *arena, const char *const *specimens,
                                size_t count, struct mb_str *out, struct mb_error *err)
{
    for (size_t i = 0; i < count; i++) {
        const char *full = strchr(specimens[i], '/')
                               ? specimens[i]
                               : mb_arena_printf(arena, "specimen/%s", specimens[i]);
        int64_t seq, nth;
        enum mb_rc rc =
            mb_log_head(ledger->log, arena, mb_str_of(full), MB_NEVER, &seq, &nth, &out[i], err);

        if (rc == MB_NO || (!rc && !mb_is_specimen(out[i])))
            return mb_fail(err, MB_REFUSED,
                           "there is no specimen '%s' in this ledger; `markerbed find` searches",
                           specimens[i]);
        if (rc)
            return rc;
    }
    return MB_OK;
}

enum mb_rc mb_handing_look(mb_ledger *ledger, mb_arena *arena, const char *const *specimens,
                           size_t count, struct mb_handing *out, struct mb_error *err)
{
    struct mb_issue issue = { .audience = "institution", .preview = true };
    struct mb_str *subjects = MB_ARRAY(arena, count + 1, struct mb_str);
    const struct mb_showing showing = { .audience = MB_INSTITUTION, .issue = &issue,
                                        .specimens = subjects, .specimen_count = count };
    struct mb_closure closure;
    int64_t size;
    enum mb_rc rc = mb_log_size(ledger->log, &size, err);

    *out = (struct mb_handing){ .arena = arena, .count = count, .subjects = subjects };
    if (!rc)
        rc = find_subjects(ledger, arena, specimens, count, subjects, err);
    if (!rc)
        rc = mb_closure_make(ledger, arena, &showing, (struct mb_str){ NULL, 0 }, size, &closure,
                             err);
    if (!rc)
        rc = read_vocabularies(out, err);
    if (rc)
        return rc;
    out->check.arena = arena;
    out->check.stories = closure.stories;
    out->pages = MB_ARRAY(arena, count + 1, struct mb_page *);
    for (size_t i = 0; i < count; i++) {
        out->pages[i] = MB_NEW(arena, struct mb_page);
        out->pages[i]->arena = arena;
        out->pages[i]->check = &out->check;
    }
    out->origin = mb_arena_copy(arena, mb_log_origin(ledger->log).at,
                                mb_log_origin(ledger->log).len);
    out->issuer = out->origin;
    out->to = out->to_words = "nobody yet";
    return MB_OK;
}
