/* Undoing a whole batch: a correction "void (did not happen)" on each of its entries. */
#include <markerbed/record.h>

#include <string.h>

#include "checking.h"
#include "recorder.h"
#include "text.h"
#include "value.h"

/* A disclosure is base64url of ["<22 characters of salt>","batch","NAME"]. What stands before the
 * name of the field is 27 bytes, so everything from there on is the same text in every disclosure
 * of one batch, and most of the log is passed over unread. */
enum { SALTED_BYTES = 27, FOUND_FIRST = 64 };

struct undoing {
    mb_ledger *ledger;
    mb_arena *arena;   /* of the answer */
    const char *batch, *name; /* what is undone; what the corrections are called */
    mb_json *why, *explanation;
    int64_t *found;
    size_t count, room;
    mb_json *entries, *kept;
};

static struct mb_str wanted_text(mb_arena *arena, const char *batch)
{
    mb_json *parts = mb_json_array(arena);
    struct mb_str json, text;

    mb_json_add_text(arena, parts, "......................"); /* stands for the salt */
    mb_json_add_text(arena, parts, "batch");
    mb_json_add_text(arena, parts, batch);
    json = mb_json_write(arena, parts);
    text = mb_b64u(arena, json.at, json.len);
    return (struct mb_str){ text.at + SALTED_BYTES / 3 * 4, text.len - SALTED_BYTES / 3 * 4 };
}

static void keep(struct undoing *u, int64_t seq)
{
    if (u->count == u->room) {
        size_t room = u->room ? u->room * 2 : FOUND_FIRST;
        int64_t *more = MB_ARRAY(u->arena, room, int64_t);

        if (u->count)
            memcpy(more, u->found, u->count * sizeof *more);
        u->found = more;
        u->room = room;
    }
    u->found[u->count++] = seq;
}

static enum mb_rc find_entries(struct undoing *u, struct mb_error *err)
{
    struct mb_str wanted = wanted_text(u->arena, u->batch), leaf, jws, tail;
    mb_log_scan *scan;
    int64_t seq, next = mb_log_next_seq(u->ledger->log);
    bool row = true;
    enum mb_rc rc = mb_log_scan_open(u->ledger->log, 0, next, &scan, err);

    while (!rc) {
        rc = mb_log_scan_next(scan, &row, &seq, &leaf, &jws, &tail, err);
        if (rc || !row)
            break;
        if (tail.at && memmem(tail.at, tail.len, wanted.at, wanted.len))
            keep(u, seq);
    }
    mb_log_scan_close(scan);
    return rc;
}

/* The reason is one that everyone sees; other words are kept as the explanation. */
static enum mb_rc take_why(struct undoing *u, const char *why, struct mb_error *err)
{
    const struct mb_kind *kind = mb_kind_find(MB_STR("correction"));
    const struct mb_kind_field *field = kind ? mb_kind_field(kind, MB_STR("why")) : NULL;

    if (!field)
        return mb_fail(err, MB_UNABLE, "the form correction has no field why");
    if (why && mb_value_choice(u->arena, field, mb_str_of(why), &u->why, NULL) == MB_OK)
        return MB_OK;
    if (why && (strlen(why) > MB_VALUE_TEXT_MAX || !mb_text_allowed(mb_str_of(why), true)))
        return mb_fail(err, MB_REFUSED, "why: it is no plain text");
    u->explanation = why && why[0] ? mb_json_string(u->arena, why) : NULL;
    return mb_value_choice(u->arena, field, MB_STR("typing"), &u->why, err);
}

static void tell_kept(struct undoing *u, const struct mb_entry *entry, const char *why)
{
    mb_json *row = mb_json_object(u->arena);

    mb_json_put_int(u->arena, row, "seq", entry->seq);
    mb_json_put(u->arena, row, "subject", mb_json_string_str(u->arena, entry->sub));
    mb_json_put(u->arena, row, "kind", mb_json_string_str(u->arena, entry->kind));
    mb_json_put_text(u->arena, row, "why", why);
    mb_json_add(u->kept, row);
}

static bool is_voided(const mb_story *story, int64_t seq)
{
    for (size_t i = 0; i < mb_story_count(story); i++)
        if (mb_story_at(story, i)->entry->seq == seq)
            return mb_story_at(story, i)->voided_by >= 0;
    return false;
}

/* No paper rests on a note of ours, nor on the shelf where a piece lies. */
static bool rests_on(const struct mb_entry *entry)
{
    return !mb_str_is(entry->kind, "note") && !mb_str_is(entry->kind, "placement");
}

static enum mb_rc void_entry(struct undoing *u, mb_arena *scratch, const struct mb_entry *entry,
                             struct mb_error *err)
{
    mb_json *target = mb_json_object(scratch);
    struct mb_field fields[6];
    size_t count = 0;

    mb_json_put(scratch, target, "entry",
                mb_json_string_str(scratch, mb_b64u(scratch, entry->leaf.b, sizeof entry->leaf.b)));
    fields[count++] = mb_field_open("target", target);
    fields[count++] =
        mb_field_open("action", mb_json_string(scratch, "void (did not happen)"));
    fields[count++] = mb_field_open("why", u->why);
    fields[count++] =
        mb_field_open("changesFacts", mb_json_string(scratch, rests_on(entry) ? "yes" : "no"));
    if (u->explanation)
        fields[count++] = (struct mb_field){ .name = "explanation", .in = MB_PRIVATE,
                                             .value = u->explanation };
    fields[count++] = (struct mb_field){ .name = "batch", .in = MB_PRIVATE,
                                         .value = mb_json_string(scratch, u->name) };
    return mb_recorder_append(u->ledger, scratch, "correction",
                              mb_arena_copy(scratch, entry->sub.at, entry->sub.len), fields, count,
                              NULL, err);
}

static enum mb_rc undo_entry(struct undoing *u, mb_arena *scratch, int64_t seq,
                             struct mb_error *err)
{
    struct mb_entry entry;
    const mb_story *story;
    enum mb_rc rc = mb_log_entry(u->ledger->log, scratch, seq, &entry, err);

    if (rc)
        return rc;
    if (!mb_json_text_is(mb_entry_field(&entry, "batch", NULL), u->batch))
        return MB_OK;
    if (mb_kind_is_final(entry.kind)) {
        tell_kept(u, &entry, "entries of this kind stand as they are");
        return MB_OK;
    }
    mb_subjects_trim(u->ledger->door);
    rc = mb_subjects_story(u->ledger, entry.sub, &story, err);
    if (rc)
        return rc;
    if (is_voided(story, seq)) {
        tell_kept(u, &entry, "it was voided before");
        return MB_OK;
    }
    rc = void_entry(u, scratch, &entry, err);
    if (!rc)
        mb_json_add(u->entries, mb_json_integer(u->arena, seq));
    return rc;
}

/* The newest first, so that a correction in the batch is undone before what it corrected. */
static enum mb_rc undo_all(struct undoing *u, struct mb_error *err)
{
    mb_arena *scratch = mb_arena_new();
    enum mb_rc rc = find_entries(u, err);

    if (!rc && u->count == 0)
        rc = mb_fail(err, MB_REFUSED, "no entry was recorded in a batch '%s'", u->batch);
    for (size_t i = u->count; !rc && i-- > 0;) {
        mb_arena_reset(scratch);
        rc = undo_entry(u, scratch, u->found[i], err);
    }
    mb_arena_free(scratch);
    return rc;
}

enum mb_rc mb_batch_undo(mb_ledger *ledger, mb_arena *arena, const char *batch, const char *why,
                         const mb_json **out, struct mb_error *err)
{
    struct undoing u = { .ledger = ledger, .arena = arena, .batch = batch };
    mb_json *answer = mb_json_object(arena);
    enum mb_rc rc;

    if (!batch || !batch[0])
        return mb_fail(err, MB_REFUSED, "say which batch is undone");
    u.name = mb_arena_printf(arena, "undo of %s", batch);
    u.entries = mb_json_array(arena);
    u.kept = mb_json_array(arena);
    rc = take_why(&u, why, err);
    if (!rc)
        rc = mb_session_begin(ledger, err);
    if (rc)
        return rc;
    rc = undo_all(&u, err);
    if (rc) {
        mb_session_rollback(ledger);
        return rc;
    }
    rc = mb_session_commit(ledger, err);
    if (rc)
        return rc;
    mb_json_put_int(arena, answer, "voided", u.entries->count);
    mb_json_put(arena, answer, "entries", u.entries);
    mb_json_put_text(arena, answer, "batch", u.name);
    if (u.kept->count)
        mb_json_put(arena, answer, "kept", u.kept);
    *out = answer;
    return MB_OK;
}
