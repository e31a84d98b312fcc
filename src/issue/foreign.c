#include "foreign.h"

#include <string.h>

#include "attach.h"
#include "enclose.h"
#include "fileio.h"
#include "guard.h"
#include "sha256.h"
#include "showing.h"
#include "text.h"
#include "verify_log.h"

#define FILES_MAX (MB_BUNDLE_MAX / 2) /* bytes of base64, of all of them together */

struct taking {
    mb_ledger *ledger;
    mb_arena *arena;
    enum mb_audience audience;
    struct mb_issue issue; /* ours, without what it reveals */
    mb_json *warnings;
    struct mb_hash taken[MB_FOREIGN_MAX]; /* by their last certificate entry */
    size_t taken_count;
    size_t room; /* for files */
    struct mb_hash *digests;
    size_t count, digest_room;
    struct mb_error *err;
    enum mb_rc rc;
};

static bool is_taken(const struct taking *t, const struct mb_hash *leaf)
{
    for (size_t i = 0; i < t->taken_count; i++)
        if (mb_hash_equal(&t->taken[i], leaf))
            return true;
    return false;
}

static void add_digest(struct taking *t, struct mb_str disclosure)
{
    if (t->count == t->digest_room) {
        struct mb_hash *more;

        t->digest_room = t->digest_room ? 2 * t->digest_room : 256;
        more = mb_arena_array(t->arena, t->digest_room, sizeof *more);
        if (t->count)
            memcpy(more, t->digests, t->count * sizeof *more);
        t->digests = more;
    }
    t->digests[t->count++] = mb_sha256_str(disclosure);
}

/* ---- one certificate, cut down ---- */

struct cutting {
    struct taking *t;
    struct mb_bundle bundle;
    mb_stories *stories;
    struct mb_showing showing;
    struct mb_guard guard;
    mb_json *files; /* that shown fields still name */
};

static bool goes_on(const struct cutting *c, const struct mb_entry *entry,
                    const struct mb_disclosure *d)
{
    const struct mb_slot *slot;
    bool listed;

    if (d->slot < 0)
        return false;
    slot = &entry->slots[d->slot];
    if (slot->in == MB_OWN)
        return c->t->audience == MB_INSTITUTION && c->t->issue.withhold_count == 0;
    return !mb_showing_refuses(&c->showing, entry, d, slot->in, slot->element,
                               mb_stories_of(c->stories, entry->sub), &listed);
}

static void note_file(void *ctx, struct mb_str sha256)
{
    struct cutting *c = ctx;

    for (size_t i = 0; i < c->bundle.file_count; i++) {
        const struct mb_bundle_file *file = &c->bundle.files[i];

        if (!mb_str_equal(file->name, sha256) || mb_json_get_str(c->files, sha256)
            || !mb_enclose_may_go(c->t->audience, file->bytes))
            continue;
        if (file->bytes.len / 3 * 4 > c->t->room) {
            mb_json_add_text(c->t->arena, c->t->warnings,
                             mb_arena_printf(c->t->arena,
                                             "A file of the certificate of %.*s is too large to"
                                             " come along.",
                                             MB_STR_ARG(c->bundle.origin)));
            continue;
        }
        c->t->room -= file->bytes.len / 3 * 4;
        mb_json_put_str(c->t->arena, c->files, sha256,
                        mb_json_string_str(c->t->arena,
                                           mb_b64(c->t->arena, file->bytes.at, file->bytes.len)));
    }
}

/* An element of a list stands only beside the list that it is in, so fields come first. */
static struct mb_str cut_entry(struct cutting *c, const struct mb_entry *entry)
{
    mb_arena *arena = c->t->arena;
    char *text = mb_arena_printf(arena, "%.*s~", MB_STR_ARG(entry->jws));
    struct mb_entry shown;

    for (size_t i = 0; i < entry->disclosure_count; i++)
        if (entry->disclosures[i].name.at && goes_on(c, entry, &entry->disclosures[i]))
            text = mb_arena_printf(arena, "%s%.*s~", text, MB_STR_ARG(entry->disclosures[i].text));
    if (mb_entry_read_sd(arena, mb_str_of(text), &shown, c->t->err)) {
        c->t->rc = MB_REFUSED;
        return mb_str_of(text);
    }
    for (size_t i = 0; i < entry->disclosure_count; i++) {
        const struct mb_disclosure *d = &entry->disclosures[i];
        bool has_place = false;

        for (size_t j = 0; j < shown.slot_count && !d->name.at; j++)
            has_place = has_place
                        || (shown.slots[j].element
                            && mb_hash_equal(&shown.slots[j].digest, &d->digest));
        if (has_place && goes_on(c, entry, d))
            text = mb_arena_printf(arena, "%s%.*s~", text, MB_STR_ARG(d->text));
    }
    if (mb_entry_read_sd(arena, mb_str_of(text), &shown, c->t->err))
        c->t->rc = MB_REFUSED;
    for (size_t i = 0; i < shown.disclosure_count && !c->t->rc; i++) {
        add_digest(c->t, shown.disclosures[i].text);
        mb_value_files(shown.disclosures[i].value, note_file, c);
    }
    return mb_str_of(text);
}

static mb_json *cut_entries(struct cutting *c, const mb_json *json)
{
    mb_json *list = mb_json_array(c->t->arena);
    size_t i = 0;

    MB_JSON_EACH(item, mb_json_get(json, "entries"))
    {
        mb_json *copy = mb_json_add(list, mb_json_copy(c->t->arena, item));

        mb_json_put(c->t->arena, copy, "sd_jwt",
                    mb_json_string_str(c->t->arena,
                                       cut_entry(c, &c->bundle.entries[i++].entry)));
    }
    return list;
}

/* Reads the entries, gathers the stories, and finds the specimens that it was issued for. */
static enum mb_rc open_entries(struct cutting *c, struct mb_error *err)
{
    mb_arena *arena = c->t->arena;
    struct mb_str *specimens = MB_ARRAY(arena, c->bundle.count + 1, struct mb_str);
    size_t count = 0;

    c->stories = mb_stories_new(arena);
    for (size_t i = 0; i < c->bundle.count; i++) {
        struct mb_bundle_entry *e = &c->bundle.entries[i];
        enum mb_rc rc = mb_entry_read_sd(arena, e->sd_jwt, &e->entry, err);

        if (rc)
            return rc;
        mb_stories_add(c->stories, &e->entry);
    }
    for (size_t i = c->bundle.count; i-- > 0;) {
        const struct mb_entry *entry = &c->bundle.entries[i].entry;

        if (!mb_str_is(entry->kind, "certificate"))
            break;
        specimens[count++] = entry->sub;
    }
    c->showing =
        (struct mb_showing){ .audience = c->t->audience,
                             .issue = &c->t->issue,
                             .specimens = specimens,
                             .specimen_count = count,
                             .guard = &c->guard };
    return mb_guard_carried(arena, c->stories, &c->guard, err);
}

static void take(struct taking *t, const mb_json *json, size_t depth, mb_json *list);

/* A whole certificate, in the list if it is not there yet. */
static void cut(struct taking *t, const mb_json *json, size_t depth, mb_json *list)
{
    struct cutting c = { .t = t, .files = mb_json_object(t->arena) };
    mb_json *out = mb_json_object(t->arena), *inner = mb_json_array(t->arena);
    const mb_json *anchors = mb_json_get(json, "anchors");
    struct mb_hash leaf;

    t->rc = mb_bundle_read(t->arena, json, &c.bundle, t->err);
    if (!t->rc)
        t->rc = open_entries(&c, t->err);
    if (t->rc)
        return;
    leaf = c.bundle.entries[c.bundle.count - 1].entry.leaf;
    if (is_taken(t, &leaf))
        return;
    if (t->taken_count == MB_FOREIGN_MAX || depth > MB_FOREIGN_NEST) {
        mb_json_add_text(t->arena, t->warnings,
                         mb_arena_printf(t->arena,
                                         "There is no room for the certificate of %.*s: what was"
                                         " before it cannot be checked by the reader.",
                                         MB_STR_ARG(c.bundle.origin)));
        return;
    }
    t->taken[t->taken_count++] = leaf;
    mb_json_put_text(t->arena, out, "format", MB_BUNDLE_FORMAT);
    mb_json_put(t->arena, out, "origin", mb_json_string_str(t->arena, c.bundle.origin));
    mb_json_put(t->arena, out, "checkpoint", mb_json_string_str(t->arena, c.bundle.note));
    mb_json_put(t->arena, out, "entries", cut_entries(&c, json));
    if (c.files->count)
        mb_json_put(t->arena, out, "files", c.files);
    if (anchors)
        mb_json_put(t->arena, out, "anchors", mb_json_copy(t->arena, anchors));
    mb_json_add(list, out);
    MB_JSON_EACH(one, mb_json_get(json, "foreign"))
        take(t, one, depth + 1, inner);
    if (inner->count)
        mb_json_put(t->arena, out, "foreign", inner);
}

static void take(struct taking *t, const mb_json *json, size_t depth, mb_json *list)
{
    if (!t->rc)
        cut(t, json, depth, list);
}

/* ---- arrivals ---- */

enum mb_rc mb_foreign_open(mb_ledger *ledger, mb_arena *arena, const struct mb_entry *arrival,
                           const mb_json **json, struct mb_error *err)
{
    struct mb_str hex =
        mb_json_str(mb_json_get(mb_entry_field(arrival, "foreignFile", NULL), "file"));
    struct mb_str bytes;
    enum mb_rc rc;

    if (!hex.at)
        return MB_NO;
    rc = mb_file_read(arena,
                      mb_attach_path(arena, mb_log_folder(ledger->log),
                                     mb_arena_copy(arena, hex.at, hex.len)),
                      MB_BUNDLE_MAX, &bytes, err);
    if (!rc)
        rc = mb_json_read(arena, bytes, MB_JSON_STRICT, json, err);
    if (rc)
        mb_fail_where(err, "the certificate that entry %lld was received with",
                      (long long)arrival->seq);
    return rc;
}

static void take_arrival(struct taking *t, const struct mb_entry *arrival, mb_json *list)
{
    const mb_json *json = NULL;
    enum mb_rc rc = mb_foreign_open(t->ledger, t->arena, arrival, &json, NULL);

    if (!rc)
        take(t, json, 1, list);
    else
        mb_json_add_text(t->arena, t->warnings,
                         mb_arena_printf(t->arena,
                                         "Entry %lld speaks of a certificate of another ledger that"
                                         " this ledger does not hold: what was before it cannot be"
                                         " checked by the reader.",
                                         (long long)arrival->seq));
}

enum mb_rc mb_foreign_gather(mb_ledger *ledger, mb_arena *arena, const struct mb_closure *closure,
                             enum mb_audience audience, const struct mb_issue *issue,
                             mb_json *warnings, struct mb_foreign *out, struct mb_error *err)
{
    struct taking t = { .ledger = ledger,
                        .arena = arena,
                        .audience = audience,
                        .issue = *issue,
                        .warnings = warnings,
                        .room = FILES_MAX,
                        .err = err };
    mb_json *list = mb_json_array(arena);

    t.issue.reveal_count = 0;
    for (size_t i = 0; i < closure->count && !t.rc; i++) {
        const struct mb_entry *entry = &closure->entries[i].stored;

        if (mb_str_is(entry->kind, "arrival")
            && mb_json_is(mb_entry_open(entry, "foreignEvidence"), MB_JSON_ARRAY))
            take_arrival(&t, entry, list);
    }
    *out = (struct mb_foreign){ list->count ? list : NULL, t.digests, t.count };
    return t.rc;
}
