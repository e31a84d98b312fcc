#include "closure.h"

#include <stdlib.h>
#include <string.h>

#include "buf.h"
#include "bundle.h"
#include "text.h"

#define ENTRIES_MAX 20000 /* a certificate is 64 MiB at most, an entry some kilobytes */

struct wanted {
    struct mb_str subject;
    int64_t before;
};

struct work {
    mb_ledger *ledger;
    mb_arena *arena;
    struct mb_showing showing;
    int64_t before;
    struct wanted *wanted; /* subjects in the order they were asked for */
    size_t wanted_count, wanted_room, done;
    struct mb_carried *entries;
    size_t count, room;
    struct mb_kept_back *kept;
    size_t kept_count, kept_room;
    struct mb_error *err;
    enum mb_rc rc;
};

static void *more(mb_arena *arena, void *items, size_t count, size_t *room, size_t size)
{
    void *grown;

    if (count < *room)
        return items;
    *room = *room ? *room * 2 : 32;
    grown = mb_arena_array(arena, *room, size);
    if (count)
        memcpy(grown, items, count * size);
    return grown;
}

static void want(struct work *work, struct mb_str subject, int64_t before)
{
    for (size_t i = 0; i < work->wanted_count; i++)
        if (mb_str_equal(work->wanted[i].subject, subject)) {
            /* a parent of two pieces: up to the later division; more is taken in another round */
            if (work->wanted[i].before >= before)
                return;
            work->wanted[i].before = before;
            if (i < work->done)
                break;
            return;
        }
    work->wanted = more(work->arena, work->wanted, work->wanted_count, &work->wanted_room,
                        sizeof *work->wanted);
    work->wanted[work->wanted_count++] = (struct wanted){ subject, before };
}

static bool have(const struct work *work, int64_t seq)
{
    for (size_t i = 0; i < work->count; i++)
        if (work->entries[i].seq == seq)
            return true;
    return false;
}

static void need(void *ctx, struct mb_str subject)
{
    struct work *work = ctx;

    want(work, subject, work->before);
}

static void keep_back(struct work *work, const struct mb_entry *entry,
                      const struct mb_disclosure *d, const char *reason, bool listed)
{
    work->kept = more(work->arena, work->kept, work->kept_count, &work->kept_room,
                      sizeof *work->kept);
    work->kept[work->kept_count++] =
        (struct mb_kept_back){ d->digest, reason, listed, d->name, entry->sub };
}

/* Puts together what is shown of an entry and reads it back as its reader will. */
static void present(struct work *work, struct mb_carried *carried, const mb_story *own_story)
{
    const struct mb_entry *entry = &carried->stored;
    MB_BUF_AUTO struct mb_buf text = { 0 };

    mb_buf_init(&text, MB_BUNDLE_MAX);
    mb_buf_add_str(&text, entry->jws);
    mb_buf_add_char(&text, '~');
    for (int elements = 0; elements < 2; elements++)
        for (size_t i = 0; i < entry->disclosure_count; i++) {
            const struct mb_disclosure *d = &entry->disclosures[i];
            const struct mb_slot *slot = d->slot >= 0 ? &entry->slots[d->slot] : NULL;
            const char *reason;
            bool listed;

            if (!slot || slot->element != (elements == 1))
                continue;
            reason = mb_showing_refuses(&work->showing, entry, d, slot->in, slot->element,
                                        own_story, &listed);
            if (!reason) {
                mb_buf_add_str(&text, d->text);
                mb_buf_add_char(&text, '~');
            } else if (listed || (!slot->element && mb_showing_reveals(&work->showing, d->name))) {
                keep_back(work, entry, d, reason, listed);
            }
        }
    if (!mb_buf_ok(&text)) {
        work->rc = mb_fail(work->err, MB_REFUSED, "entry %lld is longer than a certificate may be",
                           (long long)entry->seq);
        return;
    }
    carried->sd_jwt = mb_arena_str(work->arena, mb_buf_str(&text));
    work->rc = mb_entry_read_sd(work->arena, carried->sd_jwt, &carried->shown, work->err);
}

/* The division that brought a piece about, on its parent's chain. */
static void want_parent(struct work *work, const struct mb_entry *entry)
{
    struct mb_str parent = mb_ref_of(mb_entry_field(entry, "parent", NULL));
    struct mb_str text = mb_json_str(mb_json_get(mb_entry_open(entry, "outOf"), "entry"));
    struct mb_hash leaf;
    int64_t seq;
    enum mb_rc rc;

    if (!parent.at || !mb_b64u_read_exact(text, leaf.b, sizeof leaf.b))
        return;
    rc = mb_log_find_leaf(work->ledger->log, work->arena, parent, &leaf, &seq, work->err);
    if (rc == MB_OK)
        want(work, parent, seq + 1);
    else if (rc != MB_NO)
        work->rc = rc;
}

static void want_parts(struct work *work, const struct mb_entry *entry)
{
    MB_JSON_EACH(part, mb_entry_field(entry, "parts", NULL))
    {
        struct mb_str ref = mb_ref_of(part);

        if (ref.at)
            want(work, ref, work->before);
    }
}

static void want_signer(struct work *work, const struct mb_entry *entry)
{
    struct mb_str key =
        mb_str_of(mb_arena_printf(work->arena, "key/%.*s", MB_STR_ARG(entry->kid)));

    want(work, key, work->before);
}

static void take_entry(struct work *work, int64_t seq, const mb_story *own_story,
                       const struct mb_entry *stored)
{
    struct mb_carried *carried;

    if (have(work, seq))
        return;
    if (work->count == ENTRIES_MAX) {
        work->rc = mb_fail(work->err, MB_REFUSED,
                           "the certificate would hold more than %d entries: issue it for fewer"
                           " specimens",
                           ENTRIES_MAX);
        return;
    }
    work->entries =
        more(work->arena, work->entries, work->count, &work->room, sizeof *work->entries);
    carried = &work->entries[work->count++];
    *carried = (struct mb_carried){ .seq = seq, .stored = *stored };
    present(work, carried, own_story);
    if (work->rc)
        return;
    mb_entry_needs(&carried->shown, mb_is_specimen(stored->sub), need, work);
    want_signer(work, stored);
    if (mb_str_is(stored->kind, "division"))
        want_parent(work, &carried->shown);
    if (mb_str_is(stored->kind, "joining"))
        want_parts(work, &carried->shown);
}

static void take_chain(struct work *work, struct wanted wanted)
{
    mb_story *story = mb_story_new(work->arena);
    struct mb_entry *stored;
    int64_t *seqs;
    size_t count;

    work->rc = mb_log_chain(work->ledger->log, work->arena, wanted.subject, wanted.before, &seqs,
                            &count, work->err);
    if (work->rc)
        return;
    stored = MB_ARRAY(work->arena, count + 1, struct mb_entry);
    for (size_t i = 0; i < count && !work->rc; i++) {
        work->rc =
            mb_log_entry(work->ledger->log, work->arena, seqs[i], &stored[i], work->err);
        if (!work->rc)
            mb_story_add(story, &stored[i]);
    }
    for (size_t i = 0; i < count && !work->rc; i++)
        take_entry(work, seqs[i], story, &stored[i]);
}

static int by_seq(const void *a, const void *b)
{
    const struct mb_carried *x = a, *y = b;

    return (x->seq > y->seq) - (x->seq < y->seq);
}

enum mb_rc mb_closure_make(mb_ledger *ledger, mb_arena *arena, const struct mb_showing *showing,
                           struct mb_str to, int64_t before, struct mb_closure *out,
                           struct mb_error *err)
{
    struct work work = { .ledger = ledger,
                         .arena = arena,
                         .showing = *showing,
                         .before = before,
                         .err = err };

    want(&work, MB_STR("ledger"), before);
    for (size_t i = 0; i < showing->specimen_count; i++)
        want(&work, showing->specimens[i], before);
    if (to.at)
        want(&work, to, before);
    while (!work.rc && work.done < work.wanted_count)
        take_chain(&work, work.wanted[work.done++]);
    if (work.rc)
        return work.rc;
    qsort(work.entries, work.count, sizeof *work.entries, by_seq);
    *out = (struct mb_closure){ .entries = work.entries,
                                .count = work.count,
                                .kept_back = work.kept,
                                .kept_back_count = work.kept_count,
                                .stories = mb_stories_new(arena) };
    for (size_t i = 0; i < out->count; i++)
        mb_stories_add(out->stories, &out->entries[i].shown);
    return MB_OK;
}
