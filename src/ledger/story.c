#include "story.h"

#include <stdlib.h>
#include <stdio.h>
#include <string.h>

#include "asset.h"
#include "text.h"

/* What corrections do is worked out anew when it is asked for after an entry was added: a void of a
 * void brings back what the first took away, and so on, whatever the order of asking. */
struct telling {
    mb_arena *arena;
    struct mb_told *told;
    size_t count, room;
    bool settled;
};

struct mb_story {
    struct telling *telling;
};

mb_story *mb_story_new(mb_arena *arena)
{
    mb_story *story = MB_NEW(arena, mb_story);

    story->telling = MB_NEW(arena, struct telling);
    *story->telling = (struct telling){ .arena = arena, .settled = true };
    return story;
}

bool mb_correction_own(struct mb_str name)
{
    static const char *const own[] = { "target",  "action",      "changesFacts",
                                       "why",     "movedTo",     "explanation",
                                       "explanationForSale",     "explanationForScience",
                                       "explanationForLand",     "batch" };

    for (size_t i = 0; i < sizeof own / sizeof *own; i++)
        if (mb_str_is(name, own[i]))
            return true;
    return false;
}

bool mb_kind_is_known(struct mb_str kind)
{
    char path[64];

    /* common.json holds the fields that kinds share and is none itself */
    if (kind.len > 40 || mb_str_is(kind, "common"))
        return false;
    snprintf(path, sizeof path, "kinds/%.*s.json", MB_STR_ARG(kind));
    return mb_asset_find(path) != NULL;
}

bool mb_kind_is_final(struct mb_str kind)
{
    static const char *const final[] = { "founding",    "checkpoint-key", "key-enrolment",
                                         "key-retirement", "certificate",  "withdrawal",
                                         "countersign", "division",       "joining",
                                         "erasure" };

    for (size_t i = 0; i < sizeof final / sizeof *final; i++)
        if (mb_str_is(kind, final[i]))
            return true;
    return false;
}

/* An entry by its leaf hash, and where it stands. */
struct place {
    const struct mb_hash *leaf;
    size_t at;
};

static int by_leaf(const void *a, const void *b)
{
    return memcmp(((const struct place *)a)->leaf, ((const struct place *)b)->leaf,
                  sizeof(struct mb_hash));
}

static struct place *places_of(const struct telling *t)
{
    struct place *places = MB_ARRAY(t->arena, t->count + 1, struct place);

    for (size_t i = 0; i < t->count; i++)
        places[i] = (struct place){ &t->told[i].entry->leaf, i };
    qsort(places, t->count, sizeof *places, by_leaf);
    return places;
}

static bool is_correction(const struct mb_told *told)
{
    return mb_str_is(told->entry->kind, "correction");
}

/* What the correction at `at` is about, NULL if it is nothing that it could correct. */
static struct mb_told *target_of(const struct telling *t, const struct place *places, size_t at)
{
    const mb_json *target = mb_entry_open(t->told[at].entry, "target");
    struct mb_hash leaf;
    struct place key = { &leaf, 0 }, *found;

    if (!mb_b64u_read_exact(mb_json_str(mb_json_get(target, "entry")), leaf.b, sizeof leaf.b))
        return NULL;
    found = bsearch(&key, places, t->count, sizeof *places, by_leaf);
    if (!found || found->at >= at || mb_kind_is_final(t->told[found->at].entry->kind))
        return NULL;
    return &t->told[found->at];
}

static bool voids(const struct mb_entry *correction)
{
    return mb_str_starts(mb_json_str(mb_entry_open(correction, "action")), "void");
}

struct change {
    mb_arena *arena;
    struct mb_told *target;
    int64_t seq;
};

static void take_change(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in)
{
    struct change *change = ctx;
    struct mb_replacement *r;

    if (mb_correction_own(name))
        return;
    r = MB_NEW(change->arena, struct mb_replacement);
    *r = (struct mb_replacement){ name, value, in, change->seq, change->target->changes };
    change->target->changes = r;
}

static void correct(mb_arena *arena, struct mb_told *target, const struct mb_entry *correction)
{
    struct mb_correcting *one = MB_NEW(arena, struct mb_correcting);
    struct change change = { arena, target, correction->seq };

    *one = (struct mb_correcting){ correction, target->corrections };
    target->corrections = one;
    mb_entry_fields(correction, take_change, &change);
}

static void settle(struct telling *t)
{
    const struct place *places = places_of(t);

    for (size_t i = 0; i < t->count; i++) {
        t->told[i].voided_by = -1;
        t->told[i].changes = NULL;
        t->told[i].corrections = NULL;
    }
    /* From the last: whether a void stands itself is known before it voids anything. */
    for (size_t i = t->count; i-- > 0;)
        if (is_correction(&t->told[i]) && t->told[i].voided_by < 0
            && voids(t->told[i].entry)) {
            struct mb_told *target = target_of(t, places, i);

            if (target)
                target->voided_by = t->told[i].entry->seq;
        }
    for (size_t i = 0; i < t->count; i++)
        if (is_correction(&t->told[i]) && t->told[i].voided_by < 0
            && !voids(t->told[i].entry)) {
            struct mb_told *target = target_of(t, places, i);

            if (target && !is_correction(target))
                correct(t->arena, target, t->told[i].entry);
        }
    t->settled = true;
}

void mb_story_add(mb_story *story, const struct mb_entry *entry)
{
    struct telling *t = story->telling;

    if (t->count == t->room) {
        size_t room = t->room ? t->room * 2 : 8;
        struct mb_told *more = MB_ARRAY(t->arena, room, struct mb_told);

        if (t->count)
            memcpy(more, t->told, t->count * sizeof *more);
        t->told = more;
        t->room = room;
    }
    t->told[t->count] = (struct mb_told){ .entry = entry, .voided_by = -1 };
    t->settled = t->settled && !is_correction(&t->told[t->count]);
    t->count++;
}

size_t mb_story_count(const mb_story *story)
{
    return story->telling->count;
}

const struct mb_told *mb_story_at(const mb_story *story, size_t index)
{
    if (!story->telling->settled)
        settle(story->telling);
    return &story->telling->told[index];
}

const mb_json *mb_told_field(const struct mb_told *told, const char *name, int64_t *seq,
                             enum mb_class *in)
{
    for (const struct mb_replacement *r = told->changes; r; r = r->next)
        if (mb_str_is(r->name, name)) {
            if (seq)
                *seq = r->seq;
            if (in)
                *in = r->in;
            return mb_json_is(r->value, MB_JSON_NULL) ? NULL : r->value;
        }
    if (seq)
        *seq = told->entry->seq;
    return mb_entry_field(told->entry, name, in);
}
