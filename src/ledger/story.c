#include "story.h"

#include <string.h>

#include "text.h"

struct mb_story {
    mb_arena *arena;
    struct mb_told *told;
    size_t count, room;
};

mb_story *mb_story_new(mb_arena *arena)
{
    mb_story *story = MB_NEW(arena, mb_story);

    story->arena = arena;
    return story;
}

bool mb_correction_own(struct mb_str name)
{
    static const char *const own[] = { "target", "action",      "changesFacts", "why",
                                       "movedTo", "explanation", "batch" };

    for (size_t i = 0; i < sizeof own / sizeof *own; i++)
        if (mb_str_is(name, own[i]))
            return true;
    return false;
}

bool mb_kind_is_final(struct mb_str kind)
{
    static const char *const final[] = { "founding",    "checkpoint-key", "key-enrolment",
                                         "key-retirement", "certificate",  "withdrawal",
                                         "countersign", "division",       "joining" };

    for (size_t i = 0; i < sizeof final / sizeof *final; i++)
        if (mb_str_is(kind, final[i]))
            return true;
    return false;
}

static struct mb_told *target_of(mb_story *story, const struct mb_entry *correction)
{
    struct mb_str text = mb_json_str(mb_json_get(mb_entry_open(correction, "target"), "entry"));
    struct mb_hash leaf;

    if (!mb_b64u_read_exact(text, leaf.b, sizeof leaf.b))
        return NULL;
    for (size_t i = story->count; i-- > 0;)
        if (mb_hash_equal(&story->told[i].entry->leaf, &leaf))
            return &story->told[i];
    return NULL;
}

struct change {
    mb_story *story;
    struct mb_told *target;
    int64_t seq;
};

static void take_change(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in)
{
    struct change *change = ctx;
    struct mb_replacement *r;

    if (mb_correction_own(name))
        return;
    r = MB_NEW(change->story->arena, struct mb_replacement);
    *r = (struct mb_replacement){ name, value, in, change->seq, change->target->changes };
    change->target->changes = r;
}

/* A voided correction takes its changes back, and a voided void lets its target stand again. */
static void undo(mb_story *story, const struct mb_told *correction)
{
    int64_t seq = correction->entry->seq;

    for (size_t i = 0; i < story->count; i++) {
        if (story->told[i].voided_by == seq)
            story->told[i].voided_by = -1;
        for (struct mb_replacement **at = &story->told[i].changes; *at;) {
            if ((*at)->seq == seq)
                *at = (*at)->next;
            else
                at = &(*at)->next;
        }
    }
}

static void apply(mb_story *story, const struct mb_entry *correction)
{
    struct mb_told *target = target_of(story, correction);
    struct mb_str action = mb_json_str(mb_entry_open(correction, "action"));

    if (!target || mb_kind_is_final(target->entry->kind))
        return;
    if (mb_str_starts(action, "void")) {
        if (target->voided_by < 0)
            target->voided_by = correction->seq;
        if (mb_str_is(target->entry->kind, "correction"))
            undo(story, target);
    } else if (!mb_str_is(target->entry->kind, "correction")) {
        struct change change = { story, target, correction->seq };

        mb_entry_fields(correction, take_change, &change);
    }
}

void mb_story_add(mb_story *story, const struct mb_entry *entry)
{
    if (story->count == story->room) {
        size_t room = story->room ? story->room * 2 : 8;
        struct mb_told *more = MB_ARRAY(story->arena, room, struct mb_told);

        if (story->count)
            memcpy(more, story->told, story->count * sizeof *more);
        story->told = more;
        story->room = room;
    }
    if (mb_str_is(entry->kind, "correction"))
        apply(story, entry);
    story->told[story->count++] = (struct mb_told){ .entry = entry, .voided_by = -1 };
}

size_t mb_story_count(const mb_story *story)
{
    return story->count;
}

const struct mb_told *mb_story_at(const mb_story *story, size_t index)
{
    return &story->told[index];
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
