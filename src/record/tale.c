#include "tale.h"

#include <stddef.h>
#include <string.h>

#include "sentence.h"
#include "text.h"

enum mb_rc mb_tale_read(mb_log *log, mb_arena *arena, struct mb_str sub, int64_t before,
                        struct mb_tale *out, struct mb_error *err)
{
    int64_t *seqs;
    size_t count;
    enum mb_rc rc = mb_log_chain(log, arena, sub, before, &seqs, &count, err);

    *out = (struct mb_tale){ .arena = arena, .sub = sub };
    if (rc)
        return rc;
    out->entries = MB_ARRAY(arena, count + 1, struct mb_entry);
    out->story = mb_story_new(arena);
    for (size_t i = 0; i < count; i++) {
        rc = mb_log_entry(log, arena, seqs[i], &out->entries[i], err);
        if (rc)
            return rc;
        mb_story_add(out->story, &out->entries[i]);
        out->count++;
    }
    if (count)
        out->sub = out->entries[0].sub;
    mb_str_cut(out->sub, '/', &out->prefix, &out->id);
    return MB_OK;
}

const struct mb_told *mb_tale_at(const struct mb_tale *tale, size_t index)
{
    return mb_story_at(tale->story, index);
}

bool mb_tale_stands(const struct mb_tale *tale, size_t index, const char *kind)
{
    const struct mb_told *told = mb_tale_at(tale, index);

    return told->voided_by < 0 && (!kind || mb_str_is(told->entry->kind, kind));
}

const struct mb_told *mb_tale_newest(const struct mb_tale *tale, const char *kind)
{
    for (size_t i = tale->count; i-- > 0;)
        if (mb_tale_stands(tale, i, kind))
            return mb_tale_at(tale, i);
    return NULL;
}

ptrdiff_t mb_tale_find(const struct mb_tale *tale, const mb_json *entry)
{
    struct mb_hash leaf;

    if (mb_b64u_read_exact(mb_json_str(mb_json_get(entry, "entry")), leaf.b, sizeof leaf.b))
        for (size_t i = tale->count; i-- > 0;)
            if (mb_hash_equal(&tale->entries[i].leaf, &leaf))
                return (ptrdiff_t)i;
    return -1;
}

int64_t mb_tale_seq(const struct mb_tale *tale, const mb_json *entry)
{
    ptrdiff_t at = mb_tale_find(tale, entry);

    return at < 0 ? -1 : tale->entries[at].seq;
}

int64_t mb_tale_about(const struct mb_tale *tale, const struct mb_told *told)
{
    static const char *const names[] = { "target", "which", "whichEntry" };

    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        int64_t seq = mb_tale_seq(tale, mb_told_value(told, names[i]));

        if (seq >= 0)
            return seq;
    }
    return -1;
}

const mb_json *mb_told_value(const struct mb_told *told, const char *name)
{
    return mb_told_field(told, name, NULL, NULL);
}

struct mb_str mb_told_words(mb_arena *arena, const struct mb_told *told, const char *name)
{
    return mb_words(arena, mb_told_value(told, name));
}

struct telling {
    const struct mb_told *told;
    mb_told_fn *each;
    void *ctx;
};

static const struct mb_replacement *replacement(const struct mb_told *told, struct mb_str name)
{
    const struct mb_replacement *r = told->changes;

    while (r && !mb_str_equal(r->name, name))
        r = r->next;
    return r;
}

static void tell_recorded(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in)
{
    const struct telling *t = ctx;
    bool correction = mb_str_is(t->told->entry->kind, "correction");

    if (!replacement(t->told, name) && (!correction || mb_correction_own(name)))
        t->each(t->ctx, name, value, in, t->told->entry->seq);
}

void mb_told_fields(const struct mb_told *told, mb_told_fn *each, void *ctx)
{
    struct telling t = { told, each, ctx };

    mb_entry_fields(told->entry, tell_recorded, &t);
    for (const struct mb_replacement *r = told->changes; r; r = r->next)
        if (replacement(told, r->name) == r && r->value->type != MB_JSON_NULL)
            each(ctx, r->name, r->value, r->in, r->seq);
}

bool mb_told_is(const struct mb_told *told, const char *name, const char *words)
{
    return mb_json_text_is(mb_told_value(told, name), words);
}

struct mb_str mb_told_ref(const struct mb_told *told, const char *name)
{
    return mb_ref_of(mb_told_value(told, name));
}

bool mb_told_days(const struct mb_told *told, struct mb_days *out)
{
    const char *field = mb_event_field(told->entry->kind);

    if (field)
        return mb_value_days(mb_told_value(told, field), out);
    if (!mb_kind_is_own_act(told->entry->kind))
        return false;
    out->first = out->last = mb_recorded_day(told->entry);
    return true;
}

int32_t mb_recorded_day(const struct mb_entry *entry)
{
    return (int32_t)(entry->iat / 86400);
}

struct mb_days mb_told_days_or(const struct mb_told *told)
{
    struct mb_days days;

    if (!mb_told_days(told, &days))
        days.first = days.last = mb_recorded_day(told->entry);
    return days;
}

/* The newest value of a field among the standing entries of a kind. */
static struct mb_str newest_words(const struct mb_tale *tale, const char *kind, const char *field)
{
    for (size_t i = tale->count; i-- > 0;) {
        const mb_json *value;

        if (!mb_tale_stands(tale, i, kind))
            continue;
        value = mb_told_value(mb_tale_at(tale, i), field);
        if (value && !mb_value_is_answer(value))
            return mb_words(tale->arena, value);
    }
    return (struct mb_str){ NULL, 0 };
}

struct mb_str mb_tale_label(const struct mb_tale *tale)
{
    static const struct {
        const char *prefix, *kind, *fields[3];
    } from[] = {
        { "party", "party", { "name" } },
        { "site", "site", { "siteName" } },
        { "horizon", "horizon", { "layerName", "bed", "formation" } },
        { "permission", "permission", { "permissionType" } },
        { "field-day", "field-day", { "eventDate" } },
        { "dealing", "dealing", { "type" } },
        { "place", "placement", { "placeName" } },
        { "ledger", "founding", { "name" } },
    };

    for (size_t i = 0; i < sizeof from / sizeof *from; i++)
        for (size_t f = 0; mb_str_is(tale->prefix, from[i].prefix) && f < 3; f++) {
            struct mb_str words;

            if (!from[i].fields[f])
                break;
            words = newest_words(tale, from[i].kind, from[i].fields[f]);
            if (words.at)
                return words;
        }
    return (struct mb_str){ NULL, 0 };
}
