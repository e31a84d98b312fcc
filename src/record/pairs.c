#include "pairs.h"

#include <string.h>
#include <strings.h>

#include "text.h"

/* Fields that the entries on the other records have in common with the first. */
static const char *const shared[] = { "date",   "purpose",        "why",      "sameIndividual",
                                      "doneBy", "association",    "askedBy",  "removable",
                                      "madeFrom", "source",       "dealing",  "batch" };

static const mb_json *value_of(const struct mb_checked *checked, const char *name)
{
    const struct mb_kind_field *field = mb_kind_field(checked->kind, mb_str_of(name));

    return field ? checked->values[field - checked->kind->fields] : NULL;
}

static bool is_division(const struct mb_checked *checked)
{
    return mb_str_is(checked->kind->name, "division");
}

static const mb_json *others_of(const struct mb_checked *checked)
{
    const mb_json *list = is_division(checked) ? value_of(checked, "into")
                          : mb_str_is(checked->kind->name, "joining")
                              ? value_of(checked, "parts")
                              : NULL;

    return mb_json_is(list, MB_JSON_ARRAY) ? list : NULL;
}

static struct mb_str subject_of(const struct mb_checked *checked, const mb_json *other)
{
    return mb_ref_of(is_division(checked) ? mb_json_get(other, "specimen") : other);
}

static bool same(struct mb_str a, struct mb_str b)
{
    return a.len == b.len && strncasecmp(a.at, b.at, a.len) == 0;
}

static enum mb_rc check_other(mb_ledger *ledger, mb_arena *arena, const struct mb_checked *checked,
                              const mb_json *list, const mb_json *other, struct mb_error *err)
{
    struct mb_str subject = subject_of(checked, other);
    int64_t seq, nth;
    enum mb_rc rc;

    if (same(subject, mb_str_of(checked->subject)))
        return mb_fail(err, MB_REFUSED, "%s cannot come out of or be part of itself",
                       checked->subject);
    MB_JSON_EACH(before, list)
    {
        if (before == other)
            break;
        if (same(subject_of(checked, before), subject))
            return mb_fail(err, MB_REFUSED, "%.*s is named twice", MB_STR_ARG(subject));
    }
    if (!is_division(checked))
        return MB_OK;
    rc = mb_log_head(ledger->log, arena, subject, MB_NEVER, &seq, &nth, NULL, err);
    if (rc == MB_OK)
        return mb_fail(err, MB_REFUSED,
                       "%.*s has a record already (entry #%lld); give the new piece a number of"
                       " its own",
                       MB_STR_ARG(subject), (long long)seq);
    return rc == MB_NO ? MB_OK : rc;
}

enum mb_rc mb_pairs_check(mb_ledger *ledger, mb_arena *arena, const struct mb_checked *checked,
                          struct mb_error *err)
{
    const mb_json *side = value_of(checked, "side"), *list = others_of(checked);

    if (mb_json_text_is(side, "came out") || mb_json_text_is(side, "part"))
        return mb_fail(err, MB_REFUSED,
                       "field side: this side is written by the program; record the %s on the"
                       " piece that was divided, or the whole that was made",
                       checked->kind->name.at);
    if (list && list->count > MB_PIECES_MAX)
        return mb_fail(err, MB_REFUSED, "field %s: %u pieces are more than the %d that one entry"
                                        " may name; record it in several",
                       is_division(checked) ? "into" : "parts", list->count, MB_PIECES_MAX);
    MB_JSON_EACH(other, list)
    {
        enum mb_rc rc = check_other(ledger, arena, checked, list, other, err);

        if (rc) {
            mb_fail_where(err, "field %s", is_division(checked) ? "into" : "parts");
            return rc;
        }
    }
    return MB_OK;
}

struct writing {
    mb_arena *arena;
    const struct mb_checked *checked;
    struct mb_field *fields;
    size_t count;
};

static void put(struct writing *w, const char *name, const mb_json *value)
{
    const struct mb_kind_field *field = mb_kind_field(w->checked->kind, mb_str_of(name));

    if (field && value)
        w->fields[w->count++] =
            (struct mb_field){ .name = field->name.at, .in = field->in, .value = value };
}

static const mb_json *single(mb_arena *arena, const char *name, struct mb_str text)
{
    mb_json *value = mb_json_object(arena);

    mb_json_put(arena, value, name, mb_json_string_str(arena, text));
    return value;
}

static enum mb_rc append_other(mb_ledger *ledger, mb_arena *arena,
                               const struct mb_checked *checked, const struct mb_entry *entry,
                               const mb_json *other, mb_json *also, struct mb_error *err)
{
    struct mb_str subject = subject_of(checked, other);
    struct mb_str leaf = mb_b64u(arena, entry->leaf.b, sizeof entry->leaf.b);
    struct writing w = { arena, checked, MB_ARRAY(arena, 32, struct mb_field), 0 };
    bool division = is_division(checked);
    mb_json *told = mb_json_object(arena);
    struct mb_entry made;
    enum mb_rc rc;

    put(&w, "side", mb_json_string(arena, division ? "came out" : "part"));
    put(&w, division ? "outOf" : "joins", single(arena, "entry", leaf));
    put(&w, division ? "parent" : "whole", single(arena, "ref", entry->sub));
    if (division) {
        put(&w, "objectForm", mb_json_get(other, "form"));
        put(&w, "objectQuantity", mb_json_get(other, "quantity"));
    }
    for (size_t i = 0; i < sizeof shared / sizeof *shared; i++)
        put(&w, shared[i], value_of(checked, shared[i]));
    for (size_t i = 0; !value_of(checked, "batch") && i < checked->count; i++)
        if (strcmp(checked->fields[i].name, "batch") == 0)
            w.fields[w.count++] = checked->fields[i];
    rc = mb_recorder_append(ledger, arena, checked->kind->name.at,
                            mb_arena_copy(arena, subject.at, subject.len), w.fields, w.count,
                            &made, err);
    if (rc)
        return rc;
    mb_json_put(arena, told, "subject", mb_json_string_str(arena, made.sub));
    mb_json_put_int(arena, told, "seq", made.seq);
    mb_json_add(also, told);
    return MB_OK;
}

enum mb_rc mb_pairs_append(mb_ledger *ledger, mb_arena *arena, const struct mb_checked *checked,
                           const struct mb_entry *entry, mb_json *also, struct mb_error *err)
{
    MB_JSON_EACH(other, others_of(checked))
    {
        enum mb_rc rc = append_other(ledger, arena, checked, entry, other, also, err);

        if (rc)
            return rc;
    }
    return MB_OK;
}
