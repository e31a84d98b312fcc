/* A specimen's years in other ledgers, and whose word its handovers are. */
#include <markerbed/receive.h>

#include "countersign.h"
#include "date.h"
#include "door.h"
#include "foreign.h"
#include "sentence.h"
#include "session.h"
#include "tale.h"
#include "text.h"

struct telling {
    mb_arena *arena;
    mb_json *before;
};

/* ---- elsewhere ---- */

static struct mb_str leaf_text(mb_arena *arena, const struct mb_entry *entry)
{
    return mb_b64u(arena, entry->leaf.b, sizeof entry->leaf.b);
}

static void put(mb_arena *arena, mb_json *out, const char *name, struct mb_str text)
{
    mb_json_put(arena, out, name, mb_json_string_str(arena, text));
}

/* Opens a certificate if it is the one that the row names: its entries are read, and the entry of
 * the certificate is answered. */
static const struct mb_entry *open_named(const struct telling *t, const mb_json *json,
                                         const mb_json *row, struct mb_bundle *out)
{
    struct mb_str leaf = mb_json_str(mb_json_get(row, "entry"));

    if (!mb_json_equal(mb_json_get(json, "origin"), mb_json_get(row, "origin"))
        || mb_bundle_read(t->arena, json, out, NULL))
        return NULL;
    for (size_t i = 0; i < out->count; i++)
        if (mb_entry_read_sd(t->arena, out->entries[i].sd_jwt, &out->entries[i].entry, NULL))
            return NULL;
    for (size_t i = out->count; i-- > 0;) {
        const struct mb_entry *entry = &out->entries[i].entry;

        if (!mb_str_is(entry->kind, "certificate"))
            break;
        if (mb_str_equal(leaf_text(t->arena, entry), leaf))
            return entry;
    }
    return NULL;
}

/* People and places there are named by the entries there, as far as they are shown. */
static struct mb_str name_there(void *ctx, struct mb_str ref)
{
    static const char *const names[] = { "name", "siteName", "formation", "neutralLabel" };
    const mb_story *story = mb_stories_of(ctx, ref);

    for (size_t n = 0; story && n < sizeof names / sizeof *names; n++)
        for (size_t i = mb_story_count(story); i-- > 0;) {
            const mb_json *value = mb_told_field(mb_story_at(story, i), names[n], NULL, NULL);

            if (mb_json_is(value, MB_JSON_STRING) && mb_story_at(story, i)->voided_by < 0)
                return value->text;
        }
    return (struct mb_str){ NULL, 0 };
}

static mb_json *entries_of(const struct telling *t, mb_stories *stories, struct mb_str sub)
{
    struct mb_naming naming = { name_there, stories };
    const mb_story *story = mb_stories_of(stories, sub);
    mb_json *list = mb_json_array(t->arena);

    for (size_t i = 0; story && i < mb_story_count(story); i++) {
        const struct mb_told *told = mb_story_at(story, i);
        mb_json *one;

        if (mb_str_is(told->entry->kind, "certificate"))
            continue;
        one = mb_json_add(list, mb_json_object(t->arena));
        mb_json_put_int(t->arena, one, "seq", told->entry->seq);
        put(t->arena, one, "kind", told->entry->kind);
        mb_json_put_text(t->arena, one, "recordedAt",
                         mb_moment_write(t->arena, told->entry->iat));
        put(t->arena, one, "line", mb_sentence(t->arena, told, -1, &naming));
        if (told->voided_by >= 0)
            mb_json_put_bool(t->arena, one, "voided", true);
    }
    return list;
}

static bool tell_named(struct telling *t, const mb_json *json, const mb_json *row,
                       const mb_json *top, size_t depth);

/* What arrivals in a story name, looked for in all of the file that they came in. */
static void tell_arrivals(struct telling *t, const mb_story *story, const mb_json *top,
                          size_t depth)
{
    for (size_t i = 0; story && depth <= MB_FOREIGN_MAX && i < mb_story_count(story); i++) {
        const mb_json *rows = mb_entry_open(mb_story_at(story, i)->entry, "foreignEvidence");

        if (!mb_json_is(rows, MB_JSON_ARRAY))
            continue;
        MB_JSON_EACH(row, rows)
            tell_named(t, top, row, top, depth);
    }
}

static bool tell_named(struct telling *t, const mb_json *json, const mb_json *row,
                       const mb_json *top, size_t depth)
{
    struct mb_bundle bundle;
    const struct mb_entry *piece = open_named(t, json, row, &bundle), *first;
    mb_stories *stories;
    mb_json *one;

    MB_JSON_EACH(inner, piece ? NULL : mb_json_get(json, "foreign"))
    {
        if (tell_named(t, inner, row, top, depth))
            return true;
    }
    if (!piece)
        return false;
    first = &bundle.entries[0].entry;
    stories = mb_stories_new(t->arena);
    for (size_t i = 0; i < bundle.count; i++)
        mb_stories_add(stories, &bundle.entries[i].entry);
    one = mb_json_add(t->before, mb_json_object(t->arena));
    put(t->arena, one, "origin", bundle.origin);
    put(t->arena, one, "name", mb_json_str(mb_entry_open(first, "name")));
    put(t->arena, one, "subject", piece->sub);
    put(t->arena, one, "certificate", leaf_text(t->arena, piece));
    put(t->arena, one, "fingerprint", mb_base32(t->arena, first->leaf.b, 32, true));
    mb_json_put_text(t->arena, one, "recordedAt", mb_moment_write(t->arena, piece->iat));
    mb_json_put(t->arena, one, "entries", entries_of(t, stories, piece->sub));
    tell_arrivals(t, mb_stories_of(stories, piece->sub), top, depth + 1);
    return true;
}

/* ---- one side, or two ---- */

static const struct mb_told *signed_for(mb_arena *arena, const struct mb_tale *tale,
                                        const struct mb_entry *over)
{
    for (size_t i = tale->count; i-- > 0;) {
        const struct mb_told *told = mb_tale_at(tale, i);
        const mb_json *which = mb_entry_open(told->entry, "whichEntry");

        if (mb_str_is(told->entry->kind, "countersign")
            && mb_str_equal(mb_json_str(mb_json_get(which, "entry")), leaf_text(arena, over)))
            return told;
    }
    return NULL;
}

static void put_sides(mb_arena *arena, mb_json *out, const struct mb_told *told,
                      const struct mb_told *other)
{
    struct mb_str how = other ? mb_json_str(mb_entry_open(other->entry, "how"))
                              : (struct mb_str){ NULL, 0 };
    struct mb_countersign what;
    const char *sides = "one-sided";

    if (other && !mb_countersign_of(arena, other->entry, &what, NULL)) {
        sides = "signed with a key";
        put(arena, out, "by", what.iss);
        mb_json_put_text(arena, out, "kid", what.kid);
    } else if (mb_str_starts(how, "paper") || mb_told_is(told, "acknowledged", "on paper by both"))
        sides = "two-sided, on paper";
    else if (other)
        sides = "the other side wrote";
    mb_json_put_text(arena, out, "sides", sides);
    if (other)
        mb_json_put_int(arena, out, "signedIn", other->entry->seq);
}

static mb_json *sides_of(mb_arena *arena, const struct mb_tale *tale)
{
    mb_json *list = mb_json_array(arena);

    for (size_t i = 0; i < tale->count; i++) {
        const struct mb_told *told = mb_tale_at(tale, i);
        mb_json *one;

        if (!mb_tale_stands(tale, i, "custody") && !mb_tale_stands(tale, i, "title"))
            continue;
        one = mb_json_add(list, mb_json_object(arena));
        mb_json_put_int(arena, one, "seq", told->entry->seq);
        put(arena, one, "kind", told->entry->kind);
        put(arena, one, "line", mb_sentence(arena, told, -1, NULL));
        put_sides(arena, one, told, signed_for(arena, tale, told->entry));
    }
    return list;
}

enum mb_rc mb_before(mb_ledger *ledger, mb_arena *arena, const char *specimen,
                     const mb_json **out, struct mb_error *err)
{
    struct telling t = { arena, mb_json_array(arena) };
    mb_json *result = mb_json_object(arena);
    struct mb_str subject;
    struct mb_tale tale;
    enum mb_rc rc =
        mb_door_subject(ledger, arena, "specimen", mb_str_of(specimen), &subject, err);

    if (!rc)
        rc = mb_tale_read(ledger->log, arena, subject, MB_NEVER, &tale, err);
    if (rc)
        return rc;
    for (size_t i = 0; i < tale.count; i++) {
        const struct mb_entry *entry = mb_tale_at(&tale, i)->entry;
        const mb_json *json = NULL, *rows = mb_entry_open(entry, "foreignEvidence");

        if (!mb_tale_stands(&tale, i, "arrival") || !mb_json_is(rows, MB_JSON_ARRAY)
            || mb_foreign_open(ledger, arena, entry, &json, NULL))
            continue;
        MB_JSON_EACH(row, rows)
            tell_named(&t, json, row, json, 0);
    }
    mb_json_put(arena, result, "before", t.before);
    mb_json_put(arena, result, "sides", sides_of(arena, &tale));
    *out = result;
    return MB_OK;
}
