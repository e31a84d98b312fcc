#include "sightings.h"

#include <stdlib.h>
#include <string.h>

#include "text.h"

struct sight {
    const char *file;
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

void mb_sightings_entry(mb_sightings *seen, const char *file, const struct mb_entry *entry)
{
    *add(seen) = (struct sight){ .file = mb_arena_text(seen->arena, file),
                                 .origin = mb_arena_str(seen->arena, entry->iss),
                                 .sub = mb_arena_str(seen->arena, entry->sub),
                                 .seq = entry->seq,
                                 .nth = entry->nth,
                                 .hash = entry->leaf };
}

void mb_sightings_root(mb_sightings *seen, const char *file, struct mb_str origin, uint64_t size,
                       const struct mb_hash *root)
{
    *add(seen) = (struct sight){ .file = mb_arena_text(seen->arena, file),
                                 .origin = mb_arena_str(seen->arena, origin),
                                 .seq = (int64_t)size,
                                 .hash = *root };
}

static int by_place(const void *a, const void *b)
{
    const struct sight *x = a, *y = b;
    int order = mb_str_compare(x->origin, y->origin);

    if (!order)
        order = (x->sub.at != NULL) - (y->sub.at != NULL);
    if (!order)
        order = (x->seq > y->seq) - (x->seq < y->seq);
    return order;
}

static int by_chain(const void *a, const void *b)
{
    const struct sight *x = a, *y = b;
    int order = mb_str_compare(x->origin, y->origin);

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

        if (!mb_str_equal(s->origin, mb_log_origin(log)) || strcmp(s->file, file) == 0)
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
