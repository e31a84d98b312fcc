#include "sightings.h"

#include <stdlib.h>
#include <string.h>

#include "text.h"

struct sight {
    const char *file;
    struct mb_hash print;
    struct mb_str origin, sub; /* sub .at NULL: a root */
    int64_t seq, nth;          /* of a root: its size, 0 */
    struct mb_hash hash;
};

struct mb_sightings {
    mb_arena *arena;
    struct sight *items;
    size_t count, room;
};

mb_sightings *mb_sightings_new(mb_arena *arena)
{
    mb_sightings *seen = MB_NEW(arena, mb_sightings);

    seen->arena = arena;
    return seen;
}

static struct sight *add(mb_sightings *seen)
{
    if (seen->count == seen->room) {
        size_t room = seen->room ? seen->room * 2 : 64;
        struct sight *more = MB_ARRAY(seen->arena, room, struct sight);

        if (seen->count)
            memcpy(more, seen->items, seen->count * sizeof *more);
        seen->items = more;
        seen->room = room;
    }
    return &seen->items[seen->count++];
}

void mb_sightings_entry(mb_sightings *seen, const char *file, const struct mb_hash *fingerprint,
                        const struct mb_entry *entry)
{
    *add(seen) = (struct sight){ .file = mb_arena_text(seen->arena, file),
                                 .print = *fingerprint,
                                 .origin = mb_arena_str(seen->arena, entry->iss),
                                 .sub = mb_arena_str(seen->arena, entry->sub),
                                 .seq = entry->seq,
                                 .nth = entry->nth,
                                 .hash = entry->leaf };
}

void mb_sightings_root(mb_sightings *seen, const char *file, const struct mb_hash *fingerprint,
                       struct mb_str origin, uint64_t size, const struct mb_hash *root)
{
    *add(seen) = (struct sight){ .file = mb_arena_text(seen->arena, file),
                                 .print = *fingerprint,
                                 .origin = mb_arena_str(seen->arena, origin),
                                 .seq = (int64_t)size,
                                 .hash = *root };
}

static int by_place(const void *a, const void *b)
{
    const struct sight *x = a, *y = b;
    int order = memcmp(x->print.b, y->print.b, sizeof x->print.b);

    if (!order)
        order = (x->sub.at != NULL) - (y->sub.at != NULL);
    if (!order)
        order = (x->seq > y->seq) - (x->seq < y->seq);
    return order;
}

static int by_chain(const void *a, const void *b)
{
    const struct sight *x = a, *y = b;
    int order = memcmp(x->print.b, y->print.b, sizeof x->print.b);

    if (!order)
        order = mb_str_compare(x->sub, y->sub);
    if (!order)
        order = (x->nth > y->nth) - (x->nth < y->nth);
    return order;
}

static void compare_places(mb_sightings *seen, mb_findings *findings)
{
    qsort(seen->items, seen->count, sizeof *seen->items, by_place);
    for (size_t i = 1; i < seen->count; i++) {
        const struct sight *a = &seen->items[i - 1], *b = &seen->items[i];

        if (by_place(a, b) || mb_hash_equal(&a->hash, &b->hash))
            continue;
        if (a->sub.at)
            mb_find(findings, MB_F_FORKED, b->sub, b->seq,
                    "%s and %s hold two different entries %lld of the ledger %.*s.", a->file,
                    b->file, (long long)b->seq, MB_STR_ARG(b->origin));
        else
            mb_find(findings, MB_F_FORKED, (struct mb_str){ NULL, 0 }, -1,
                    "%s and %s hold two different roots over %lld entries of the ledger %.*s.",
                    a->file, b->file, (long long)b->seq, MB_STR_ARG(b->origin));
    }
}

static void compare_chains(mb_sightings *seen, mb_findings *findings)
{
    qsort(seen->items, seen->count, sizeof *seen->items, by_chain);
    for (size_t i = 1; i < seen->count; i++) {
        const struct sight *a = &seen->items[i - 1], *b = &seen->items[i];

        if (!a->sub.at || by_chain(a, b) || a->seq == b->seq || mb_hash_equal(&a->hash, &b->hash))
            continue;
        mb_find(findings, MB_F_FORKED, b->sub, b->seq,
                "%s and %s hold two different entries for place %lld of %.*s.", a->file, b->file,
                (long long)b->nth, MB_STR_ARG(b->sub));
    }
}

void mb_sightings_compare(mb_sightings *seen, mb_findings *findings)
{
    if (seen->count == 0)
        return;
    compare_places(seen, findings);
    compare_chains(seen, findings);
}

enum mb_rc mb_sightings_against(mb_sightings *seen, const char *file, mb_log *log,
                                mb_findings *findings, struct mb_error *err)
{
    int64_t size;
    enum mb_rc rc = mb_log_size(log, &size, err);

    for (size_t i = 0; !rc && i < seen->count; i++) {
        const struct sight *s = &seen->items[i];
        int64_t needed = s->sub.at ? s->seq + 1 : s->seq;
        struct mb_hash hash;

        if (!mb_hash_equal(&s->print, mb_log_fingerprint(log)) || strcmp(s->file, file) == 0)
            continue;
        if (needed > size) {
            mb_find(findings, MB_F_ROLLED_BACK, s->sub, -1,
                    "%s speaks of %lld entries; the ledger in %s has %lld.", s->file,
                    (long long)needed, file, (long long)size);
            continue;
        }
        rc = s->sub.at ? mb_log_leaf(log, s->seq, &hash, err)
                       : mb_log_root(log, s->seq, &hash, err);
        if (!rc && !mb_hash_equal(&hash, &s->hash))
            mb_find(findings, MB_F_FORKED, s->sub, s->sub.at ? s->seq : -1,
                    "%s and the ledger in %s tell two stories of entry %lld.", s->file, file,
                    (long long)(s->sub.at ? s->seq : s->seq - 1));
    }
    return rc;
}

/* The first entry that differs, of two ledgers whose first `size` entries give different roots. */
static enum mb_rc first_other(mb_log *a, mb_log *b, int64_t size, int64_t *seq,
                              struct mb_error *err)
{
    int64_t same = 0, other = size; /* as many entries are the same; as many are not */

    while (other - same > 1) {
        int64_t mid = same + (other - same) / 2;
        struct mb_hash in_a, in_b;
        enum mb_rc rc = mb_log_root(a, mid, &in_a, err);

        if (!rc)
            rc = mb_log_root(b, mid, &in_b, err);
        if (rc)
            return rc;
        if (mb_hash_equal(&in_a, &in_b))
            same = mid;
        else
            other = mid;
    }
    *seq = same;
    return MB_OK;
}

enum mb_rc mb_sightings_of_two(const char *file_a, mb_log *a, const char *file_b, mb_log *b,
                               mb_findings *findings, struct mb_error *err)
{
    struct mb_hash in_a, in_b;
    int64_t size_a, size_b, size, seq;
    enum mb_rc rc = mb_log_size(a, &size_a, err);

    if (!rc)
        rc = mb_log_size(b, &size_b, err);
    if (rc || !mb_hash_equal(mb_log_fingerprint(a), mb_log_fingerprint(b)))
        return rc;
    size = size_a < size_b ? size_a : size_b;
    rc = mb_log_root(a, size, &in_a, err);
    if (!rc)
        rc = mb_log_root(b, size, &in_b, err);
    if (rc)
        return rc;
    if (!mb_hash_equal(&in_a, &in_b)) {
        rc = first_other(a, b, size, &seq, err);
        if (!rc)
            mb_find(findings, MB_F_FORKED, (struct mb_str){ NULL, 0 }, seq,
                    "The ledgers in %s and %s tell two stories from entry %lld on.", file_a, file_b,
                    (long long)seq);
    } else if (size_a != size_b) {
        mb_find(findings, MB_F_ROLLED_BACK, (struct mb_str){ NULL, 0 }, -1,
                "The ledger in %s has %lld entries, and that in %s the same and %lld more: the"
                " first is an older copy.",
                size_a < size_b ? file_a : file_b, (long long)size,
                size_a < size_b ? file_b : file_a, (long long)(size_a + size_b - 2 * size));
    }
    return rc;
}
