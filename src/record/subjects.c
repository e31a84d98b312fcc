/* What a typed name, number or path stands for in this ledger. */
#include <string.h>
#include <strings.h>

#include "checking.h"
#include "fileio.h"
#include "ids.h"
#include "text.h"

enum {
    SUBJECTS_MOST = 1 << 16, /* kept at a time; then the table begins anew */
    SUBJECTS_FIRST = 1 << 8,
    STORIES_MOST = 32
};

/* ---- subjects seen ---- */

static uint32_t hash_of(struct mb_str s)
{
    uint32_t hash = 2166136261u; /* FNV-1a over small letters */

    for (size_t i = 0; i < s.len; i++) {
        char c = s.at[i];

        hash ^= (unsigned char)(c >= 'A' && c <= 'Z' ? c + ('a' - 'A') : c);
        hash *= 16777619u;
    }
    return hash;
}

static bool same_subject(struct mb_str a, struct mb_str b)
{
    return a.len == b.len && strncasecmp(a.at, b.at, a.len) == 0;
}

/* Where a subject stands in the table, or could. */
static struct mb_str *slot_of(const struct mb_door *door, struct mb_str subject)
{
    size_t at = hash_of(subject) & (door->subject_room - 1);

    while (door->subjects[at].at && !same_subject(door->subjects[at], subject))
        at = (at + 1) & (door->subject_room - 1);
    return &door->subjects[at];
}

static void make_room(struct mb_door *door)
{
    struct mb_str *old = door->subjects;
    size_t room = door->subject_room;

    if (door->subject_count >= SUBJECTS_MOST) {
        mb_arena_reset(door->subject_arena);
        old = NULL;
        room = door->subject_room = 0;
    }
    door->subject_room = room ? room * 2 : SUBJECTS_FIRST;
    door->subjects = MB_ARRAY(door->subject_arena, door->subject_room, struct mb_str);
    door->subject_count = 0;
    for (size_t i = 0; old && i < room; i++)
        if (old[i].at) {
            *slot_of(door, old[i]) = old[i];
            door->subject_count++;
        }
}

static void keep_subject(struct mb_door *door, struct mb_str subject)
{
    if (door->subject_count * 2 >= door->subject_room)
        make_room(door);
    *slot_of(door, subject) = mb_arena_str(door->subject_arena, subject);
    door->subject_count++;
}

enum mb_rc mb_subjects_find(mb_ledger *ledger, mb_arena *arena, struct mb_str prefix,
                            struct mb_str id, struct mb_str *subject, struct mb_error *err)
{
    struct mb_str wanted = mb_str_of(
        mb_arena_printf(arena, "%.*s/%.*s", MB_STR_ARG(prefix), MB_STR_ARG(id)));
    struct mb_door *door = ledger->door;
    int64_t seq, nth;
    enum mb_rc rc;

    if (door && door->subject_room) {
        const struct mb_str *kept = slot_of(door, wanted);

        if (kept->at) {
            *subject = *kept;
            return MB_OK;
        }
    }
    rc = mb_log_head(ledger->log, arena, wanted, MB_NEVER, &seq, &nth, subject, err);
    if (!rc && door && mb_log_in_group(ledger->log))
        keep_subject(door, *subject);
    if (rc == MB_NO)
        *subject = wanted;
    return rc;
}

static const char *beginnings(mb_arena *arena, const char *prefix)
{
    struct mb_words kinds = mb_kinds_beginning(mb_str_of(prefix));

    /* the two that a person means by it; the others come of other pieces */
    return kinds.count > 2 ? mb_arena_printf(arena, "%s or %s", kinds.at[0], kinds.at[1])
                           : mb_kinds_join(arena, kinds.at, kinds.count, 3);
}

enum mb_rc mb_subjects_unknown(mb_ledger *ledger, mb_arena *arena, const char *prefix,
                               struct mb_str id, struct mb_error *err)
{
    const char *near;
    enum mb_rc rc = mb_ids_near(ledger, arena, prefix, id, &near, err);

    if (rc)
        return rc;
    if (near)
        return mb_fail(err, MB_REFUSED,
                       "unknown %s/%.*s (did you mean %s?); if it is new, record %s first", prefix,
                       MB_STR_ARG(id), near, beginnings(arena, prefix));
    return mb_fail(err, MB_REFUSED, "unknown %s/%.*s: record %s first", prefix, MB_STR_ARG(id),
                   beginnings(arena, prefix));
}

static enum mb_rc wrong_prefix(mb_arena *arena, const struct mb_words *prefixes,
                               struct mb_str text, struct mb_error *err)
{
    return mb_fail(err, MB_REFUSED, "'%.*s' is no %s; write %s/ID", MB_STR_ARG(text),
                   mb_kinds_join(arena, prefixes->at, prefixes->count, prefixes->count),
                   prefixes->at[0]);
}

/* "none" is an ID as well as an answer, so it is not here. */
static bool is_answer(struct mb_str text)
{
    return mb_str_is(text, "not known") || mb_str_is(text, "not examined")
           || mb_str_is(text, "does not apply");
}

static enum mb_rc wrong_id(struct mb_str id, struct mb_error *err)
{
    return mb_fail(err, MB_REFUSED,
                   "'%.*s' is no ID: 1-64 letters, digits, '.', '_' and '-', beginning with a"
                   " letter or digit",
                   MB_STR_ARG(id));
}

enum mb_rc mb_checking_ref(void *ctx, const struct mb_words *prefixes, struct mb_str text,
                           bool quiet, struct mb_str *subject, struct mb_error *err)
{
    const struct mb_checking *c = ctx;
    struct mb_str prefix = mb_str_of(prefixes->at[0]), id = text, head, rest;
    bool named = mb_str_cut(text, '/', &head, &rest);
    enum mb_rc rc = MB_NO;

    if (named) {
        prefix = head;
        id = rest;
        if (!mb_words_has(prefixes, prefix))
            return wrong_prefix(c->arena, prefixes, text, err);
    }
    if (!named && is_answer(id))
        return mb_fail(err, MB_REFUSED, "'%.*s' is no answer to this; write %s/ID, and record the"
                       " %s first, however little is known of it",
                       MB_STR_ARG(id), prefixes->at[0], prefixes->at[0]);
    if (!mb_id_ok(id))
        return wrong_id(id, err);
    for (size_t i = 0; rc == MB_NO && i < (named ? 1 : prefixes->count); i++)
        rc = mb_subjects_find(c->ledger, c->arena, named ? prefix : mb_str_of(prefixes->at[i]), id,
                              subject, err);
    if (rc != MB_NO || quiet)
        return rc;
    /* a shelf needs no description before something lies on it, a piece none before it is made */
    if ((mb_str_is(prefix, "place") && named) || (mb_str_is(prefix, "specimen") && c->new_pieces))
        return mb_subjects_find(c->ledger, c->arena, prefix, id, subject, err) == MB_NO
                   ? MB_OK
                   : MB_UNABLE;
    return mb_subjects_unknown(c->ledger, c->arena,
                               mb_arena_copy(c->arena, prefix.at, prefix.len), id, err);
}

enum mb_rc mb_door_subject(mb_ledger *ledger, mb_arena *arena, const char *prefix,
                           struct mb_str typed, struct mb_str *subject, struct mb_error *err)
{
    struct mb_checking c = { .ledger = ledger, .arena = arena };
    const char *only[] = { prefix };
    struct mb_words prefixes = { only, 1 };

    return mb_checking_ref(&c, &prefixes, typed, false, subject, err);
}

void mb_subjects_changed(struct mb_door *door, struct mb_str subject)
{
    if (!door)
        return;
    for (struct mb_kept_story **at = &door->stories; *at; at = &(*at)->next)
        if (same_subject((*at)->subject, subject)) {
            *at = (*at)->next;
            return;
        }
}

/* ---- entries and files ---- */

enum mb_rc mb_checking_entry(void *ctx, struct mb_str text, struct mb_str *leaf,
                             struct mb_error *err)
{
    const struct mb_checking *c = ctx;
    int64_t seq = 0, size = 0;
    struct mb_hash hash;
    enum mb_rc rc = MB_OK;

    if (text.at[0] != '#') {
        if (!mb_b64u_read_exact(text, hash.b, sizeof hash.b))
            return mb_fail(err, MB_REFUSED, "'%.*s' is no hash of an entry", MB_STR_ARG(text));
        rc = mb_log_find_leaf(c->ledger->log, c->arena, mb_str_of(c->subject), &hash, &seq, err);
        if (rc == MB_NO)
            rc = mb_fail(err, MB_REFUSED,
                         "%s has no entry %.*s; name one of another record by its number, like"
                         " #123",
                         c->subject, MB_STR_ARG(text));
        *leaf = text;
        return rc;
    }
    for (size_t i = 1; i < text.len; i++)
        seq = seq < INT32_MAX ? seq * 10 + (text.at[i] - '0') : seq;
    rc = mb_log_size(c->ledger->log, &size, err);
    if (!rc && seq >= size)
        rc = mb_fail(err, MB_REFUSED, "there is no entry #%lld; the last is #%lld",
                     (long long)seq, (long long)size - 1);
    if (!rc)
        rc = mb_log_leaf(c->ledger->log, seq, &hash, err);
    if (!rc)
        *leaf = mb_b64u(c->arena, hash.b, sizeof hash.b);
    return rc;
}

static bool is_hex_hash(struct mb_str text)
{
    for (size_t i = 0; i < text.len; i++)
        if (!memchr("0123456789abcdef", text.at[i], 16))
            return false;
    return text.len == 64;
}

/* The photo as it was taken goes beside its cleaned copy, into a field for institutions. */
static void keep_as_taken(struct mb_checking *c, struct mb_attached *file)
{
    const struct mb_kind_field *field = mb_kind_field(c->kind, MB_STR("photosAsTaken"));
    mb_json *list;
    size_t at;

    if (!field)
        return;
    at = (size_t)(field - c->kind->fields);
    list = c->values[at] ? mb_json_copy(c->arena, c->values[at]) : mb_json_array(c->arena);
    mb_json_add(list, mb_attach_value(c->arena, file, true));
    c->values[at] = list;
    c->settled[at] = true;
}

static void will_store(struct mb_checking *c, struct mb_attached *file)
{
    file->next = c->files;
    c->files = file;
}

/* A field that may leave with a sale takes a photo without what the camera wrote into it. */
static enum mb_rc take_clean(struct mb_checking *c, struct mb_attached *file, mb_json **value,
                             struct mb_error *err)
{
    struct mb_attached *clean = MB_NEW(c->arena, struct mb_attached);
    enum mb_rc rc = mb_attach_clean(c->arena, file, clean, err);

    if (rc)
        return rc;
    will_store(c, clean);
    keep_as_taken(c, file);
    *value = mb_attach_value(c->arena, clean, false);
    return MB_OK;
}

/* The rows that hold photos, or their column. */
static bool is_photo(const struct mb_kind_field *field)
{
    return mb_str_is(field->name, "file") || mb_str_is(field->name, "photo")
           || mb_str_is(field->name, "photos");
}

enum mb_rc mb_checking_file(void *ctx, const struct mb_kind_field *field, struct mb_str path,
                            mb_json **value, struct mb_error *err)
{
    struct mb_checking *c = ctx;
    struct mb_attached *file = MB_NEW(c->arena, struct mb_attached);
    const char *at = mb_arena_copy(c->arena, path.at, path.len);
    bool for_sale = field->in == MB_OPEN || field->in == MB_SALE;
    bool stored = false;
    enum mb_rc rc;

    if (is_hex_hash(path)) {
        const char *kept = mb_attach_path(c->arena, mb_log_folder(c->ledger->log), at);

        stored = mb_file_exists(kept);
        if (stored)
            at = kept;
    }
    rc = mb_attach_look(c->arena, at, file, err);
    if (rc)
        return rc;
    if (!stored)
        will_store(c, file);
    if (for_sale) {
        rc = take_clean(c, file, value, err);
        if (rc != MB_NO)
            return rc;
    }
    if (for_sale && is_photo(field) && !mb_attach_is_picture(file))
        mb_checking_warn(c, "%s is neither a JPEG nor a PNG: it is kept, and no sheet can show it",
                         file->name);
    *value = mb_attach_value(c->arena, file, !for_sale);
    return MB_OK;
}

/* ---- stories ---- */

static enum mb_rc tell(mb_ledger *ledger, mb_arena *arena, struct mb_str subject, mb_story *story,
                       struct mb_error *err)
{
    int64_t *seqs;
    size_t count;
    enum mb_rc rc = mb_log_chain(ledger->log, arena, subject, MB_NEVER, &seqs, &count, err);

    for (size_t i = 0; !rc && i < count; i++) {
        struct mb_entry *entry = MB_NEW(arena, struct mb_entry);

        rc = mb_log_entry(ledger->log, arena, seqs[i], entry, err);
        if (!rc)
            mb_story_add(story, entry);
    }
    return rc;
}

enum mb_rc mb_subjects_story(mb_ledger *ledger, struct mb_str subject, const mb_story **out,
                             struct mb_error *err)
{
    struct mb_door *door = ledger->door;
    struct mb_kept_story *kept;
    mb_story *story;
    enum mb_rc rc;

    for (kept = door->stories; kept; kept = kept->next)
        if (same_subject(kept->subject, subject)) {
            *out = kept->story;
            return MB_OK;
        }
    story = mb_story_new(door->story_arena);
    rc = tell(ledger, door->story_arena, subject, story, err);
    if (rc)
        return rc;
    kept = MB_NEW(door->story_arena, struct mb_kept_story);
    *kept = (struct mb_kept_story){ mb_arena_str(door->story_arena, subject), story,
                                    door->stories };
    door->stories = kept;
    *out = story;
    return MB_OK;
}

void mb_subjects_trim(struct mb_door *door)
{
    size_t count = 0;

    for (const struct mb_kept_story *kept = door->stories; kept; kept = kept->next)
        count++;
    if (count >= STORIES_MOST) {
        mb_arena_reset(door->story_arena);
        door->stories = NULL;
    }
}

const struct mb_told *mb_story_newest(const mb_story *story, struct mb_str kind)
{
    for (size_t i = mb_story_count(story); i-- > 0;) {
        const struct mb_told *told = mb_story_at(story, i);

        if (told->voided_by < 0 && mb_str_equal(told->entry->kind, kind))
            return told;
    }
    return NULL;
}
