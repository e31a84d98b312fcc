#include "witnessed.h"

#include <string.h>

#include "anchors.h"
#include "date.h"
#include "text.h"

/* A witness's earliest word on one tree or several. */
struct sight {
    bool seen;
    int64_t when;
    uint64_t size;
};

struct looking {
    mb_arena *arena;
    const mb_policy *policy;
    const struct mb_bundle_check *check;
    size_t count; /* witnesses of the policy */
};

/* What the policy's witnesses say on a note; false if the note is none that it takes. */
static bool look(const struct looking *l, struct mb_str bytes, struct sight *sights,
                 uint64_t *size)
{
    struct mb_checkpoint checkpoint;
    struct mb_note note;

    if (mb_note_read(l->arena, bytes, &note, NULL)
        || mb_checkpoint_read(note.text, &checkpoint, NULL, NULL)
        || !mb_policy_takes_log(l->policy, &note))
        return false;
    *size = checkpoint.size;
    for (size_t i = 0; i < l->count; i++) {
        const struct mb_policy_witness *witness = mb_policy_witness_at(l->policy, i);
        int64_t when = 0;
        enum mb_note_answer answer = witness->usable
                                         ? mb_note_signed_by(&note, &witness->vkey, &when)
                                         : MB_NOTE_UNSIGNED;

        if (answer == MB_NOTE_FORGED)
            mb_find(l->check->findings, MB_F_COSIGNATURE_FORGED, (struct mb_str){ NULL, 0 }, -1,
                    "The cosignature by %.*s over %llu entries does not fit.",
                    MB_STR_ARG(witness->name), (unsigned long long)checkpoint.size);
        if (answer == MB_NOTE_SIGNED && (!sights[i].seen || when < sights[i].when))
            sights[i] = (struct sight){ true, when, checkpoint.size };
    }
    return true;
}

/* The moment from which enough of them had seen it. */
static bool quorum(const struct looking *l, const struct sight *sights, int64_t *by)
{
    bool *seen = MB_ARRAY(l->arena, l->count + 1, bool);
    bool reached = false;

    for (size_t i = 0; i < l->count; i++) {
        if (!sights[i].seen)
            continue;
        for (size_t j = 0; j < l->count; j++)
            seen[j] = sights[j].seen && sights[j].when <= sights[i].when;
        if (mb_policy_reached(l->policy, seen) && (!reached || sights[i].when < *by)) {
            reached = true;
            *by = sights[i].when;
        }
    }
    return reached;
}

static mb_json *list_of(const struct looking *l, const struct sight *sights)
{
    mb_json *list = mb_json_array(l->arena);

    for (size_t i = 0; i < l->count; i++) {
        mb_json *row;

        if (!sights[i].seen)
            continue;
        row = mb_json_add(list, mb_json_object(l->arena));
        mb_json_put(l->arena, row, "name",
                    mb_json_string_str(l->arena, mb_policy_witness_at(l->policy, i)->name));
        mb_json_put_int(l->arena, row, "size", (int64_t)sights[i].size);
        mb_json_put_text(l->arena, row, "seenAt", mb_moment_write(l->arena, sights[i].when));
    }
    return list;
}

/* The largest tree below `size` that a quorum saw. */
static mb_json *earlier(const struct looking *l, uint64_t size)
{
    const struct mb_bundle *bundle = l->check->bundle;
    uint64_t best = 0;
    mb_json *out = NULL;

    for (size_t i = 0; i < bundle->anchor_count; i++) {
        struct sight *sights = MB_ARRAY(l->arena, l->count + 1, struct sight);
        uint64_t at;
        int64_t by;

        if (!bundle->anchors[i].good || !look(l, bundle->anchors[i].note, sights, &at)
            || at >= size || at <= best || !quorum(l, sights, &by))
            continue;
        best = at;
        out = mb_json_object(l->arena);
        mb_json_put_int(l->arena, out, "size", (int64_t)at);
        mb_json_put_text(l->arena, out, "existedBy", mb_moment_write(l->arena, by));
        mb_json_put(l->arena, out, "witnesses", list_of(l, sights));
    }
    return out;
}

const mb_json *mb_witnessed(mb_arena *arena, const mb_policy *policy,
                            const struct mb_bundle_check *check)
{
    struct looking l = { arena, policy, check, mb_policy_witness_count(policy) };
    const struct mb_bundle *bundle = check->bundle;
    uint64_t size = (uint64_t)bundle->entries[bundle->count - 1].index + 1, at;
    struct sight *sights = MB_ARRAY(arena, l.count + 1, struct sight);
    mb_json *out = mb_json_object(arena), *part;
    bool reached = !mb_policy_asks(policy);
    int64_t by = 0;

    if (check->checkpoint_good)
        look(&l, bundle->note, sights, &at);
    for (size_t i = 0; i < bundle->anchor_count; i++)
        if (bundle->anchors[i].good && bundle->anchors[i].size >= size)
            look(&l, bundle->anchors[i].note, sights, &at);
    reached = quorum(&l, sights, &by) || reached;
    mb_json_put_bool(arena, out, "quorum", reached);
    if (by)
        mb_json_put_text(arena, out, "existedBy", mb_moment_write(arena, by));
    mb_json_put(arena, out, "witnesses", list_of(&l, sights));
    part = by ? NULL : earlier(&l, size);
    if (part)
        mb_json_put(arena, out, "earlier", part);
    if (!reached)
        mb_find(check->findings, MB_F_NO_QUORUM, (struct mb_str){ NULL, 0 }, -1,
                "%s", mb_witnessed_words(arena, out));
    return out;
}

/* Its own checkpoint, and the cosigned ones beside it, are looked at as a certificate's are. */
enum mb_rc mb_witnessed_ledger(mb_ledger *ledger, mb_arena *arena, const mb_policy *policy,
                               mb_findings *findings, const mb_json **out, struct mb_error *err)
{
    struct mb_bundle_entry last = { 0 };
    struct mb_bundle bundle = { .entries = &last, .count = 1 };
    struct mb_bundle_check check = { .arena = arena, .bundle = &bundle, .findings = findings,
                                     .checkpoint_good = true };
    struct mb_cosigned_lines lines = { 0 };
    int64_t size = 0;
    enum mb_rc rc = mb_log_checkpoint(ledger->log, arena, 0, &bundle.note, &size, err);

    if (rc && rc != MB_NO)
        return rc;
    check.checkpoint_good = rc == MB_OK;
    last.index = size - 1;
    rc = mb_anchors_choose(ledger, arena, size, &lines, err);
    bundle.anchors = MB_ARRAY(arena, lines.count + 1, struct mb_bundle_anchor);
    for (size_t i = 0; !rc && i < lines.count; i++) {
        struct mb_bundle_anchor *anchor = &bundle.anchors[bundle.anchor_count];
        struct mb_str note;

        rc = mb_log_checkpoint(ledger->log, arena, lines.at[i].size, &note, NULL, err);
        if (rc == MB_NO) { /* cosigned, and not of this log: it says nothing here */
            rc = MB_OK;
            continue;
        }
        anchor->note = mb_str_of(mb_arena_printf(arena, "%.*s%.*s", MB_STR_ARG(note),
                                                 MB_STR_ARG(lines.at[i].line)));
        anchor->good = true;
        anchor->size = (uint64_t)lines.at[i].size;
        bundle.anchor_count++;
    }
    if (!rc)
        *out = mb_witnessed(arena, policy, &check);
    return rc;
}

static const char *names(mb_arena *arena, const mb_json *list)
{
    const char *text = "";

    MB_JSON_EACH(row, list)
    {
        text = mb_arena_printf(arena, "%s%s%s (%s)", text, *text ? ", " : "",
                               mb_json_cstr(arena, mb_json_get(row, "name")),
                               mb_json_cstr(arena, mb_json_get(row, "seenAt")));
    }
    return text;
}

const char *mb_witnessed_words(mb_arena *arena, const mb_json *witnessed)
{
    const mb_json *part = mb_json_get(witnessed, "earlier");
    const char *by = mb_json_cstr(arena, mb_json_get(witnessed, "existedBy"));

    if (by)
        return mb_arena_printf(arena, "It existed by %s: witnessed by %s.", by,
                               names(arena, mb_json_get(witnessed, "witnesses")));
    if (part)
        return mb_arena_printf(arena,
                               "The first %lld entries of its ledger existed by %s: witnessed by"
                               " %s. What came behind them is the ledger's own word, unwitnessed.",
                               (long long)mb_json_int(mb_json_get(part, "size"), 0),
                               mb_json_cstr(arena, mb_json_get(part, "existedBy")),
                               names(arena, mb_json_get(part, "witnesses")));
    return "It is the ledger's own word, unwitnessed: the witnesses that your policy asks for have"
           " not cosigned it.";
}
