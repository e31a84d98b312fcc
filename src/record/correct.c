/*
 * Corrections. A correction is about one earlier entry of the same subject. What it types under its
 * own fields (target, action, why ...) is its own; everything else is a field of the target's kind,
 * read as that kind reads it and put in the class that the field had in the target. "(remove)"
 * becomes a null: the field is taken away.
 */
#include <string.h>

#include "checking.h"
#include "text.h"

struct correcting {
    struct mb_checking *c;
    const struct mb_kind *kind; /* of the target */
    const struct mb_told *told;
    const mb_story *story;
    bool voids;
    struct mb_field *fields;
    size_t count, changes;
};

static size_t index_of(const struct mb_checking *c, const char *name)
{
    return (size_t)(mb_kind_field(c->kind, mb_str_of(name)) - c->kind->fields);
}

/* ---- the target ---- */

static enum mb_rc find_target(struct correcting *k, struct mb_error *err)
{
    struct mb_checking *c = k->c;
    const mb_json *value = c->values[index_of(c, "target")];
    struct mb_str text = mb_json_str(mb_json_get(value, "entry"));
    struct mb_hash leaf;
    enum mb_rc rc = mb_subjects_story(c->ledger, mb_str_of(c->subject), &k->story, err);

    if (rc)
        return rc;
    if (!mb_b64u_read_exact(text, leaf.b, sizeof leaf.b))
        return mb_fail(err, MB_REFUSED, "field target: it names no entry");
    for (size_t i = 0; i < mb_story_count(k->story); i++)
        if (mb_hash_equal(&mb_story_at(k->story, i)->entry->leaf, &leaf))
            k->told = mb_story_at(k->story, i);
    if (!k->told)
        return mb_fail(err, MB_REFUSED,
                       "field target: that entry is of another record; a correction stands on the"
                       " same one as what it puts right, not on %s",
                       c->subject);
    k->kind = mb_kind_find(k->told->entry->kind);
    return MB_OK;
}

static enum mb_rc check_target(const struct correcting *k, struct mb_error *err)
{
    const struct mb_entry *target = k->told->entry;
    long long seq = (long long)target->seq;

    if (mb_kind_is_final(target->kind))
        return mb_fail(err, MB_REFUSED,
                       "entry #%lld is a %.*s, and those stand as they are; record what happened"
                       " since as an entry of its own",
                       seq, MB_STR_ARG(target->kind));
    if (!k->voids && mb_str_is(target->kind, "correction"))
        return mb_fail(err, MB_REFUSED,
                       "entry #%lld is itself a correction: void it and record a better one", seq);
    if (!k->voids && mb_str_is(target->kind, "erasure"))
        return mb_fail(err, MB_REFUSED, "entry #%lld is an erasure, and those stand as they are",
                       seq);
    if (k->told->voided_by >= 0)
        return mb_fail(err, MB_REFUSED, "entry #%lld was voided by #%lld and says nothing any more",
                       seq, (long long)k->told->voided_by);
    if (!k->voids && !k->kind)
        return mb_fail(err, MB_UNABLE,
                       "entry #%lld is of a kind that this program does not know (%.*s)", seq,
                       MB_STR_ARG(target->kind));
    return MB_OK;
}

/* ---- the changes ---- */

/* The class that a field had when it was recorded, or has by its form where it was not. */
static enum mb_class class_of(const struct correcting *k, const struct mb_kind_field *field)
{
    enum mb_class in = field->in;

    for (const struct mb_replacement *r = k->told->changes; r; r = r->next)
        if (mb_str_equal(r->name, field->name))
            return r->in;
    mb_entry_field(k->told->entry, field->name.at, &in);
    return in;
}

static enum mb_rc add_change(struct correcting *k, const struct mb_kind_field *field,
                             const mb_json *value, struct mb_error *err)
{
    const mb_json *now = mb_told_field(k->told, field->name.at, NULL, NULL);

    for (size_t i = 0; i < k->count; i++)
        if (strcmp(k->fields[i].name, field->name.at) == 0)
            return mb_fail(err, MB_REFUSED, "field %s: it is given twice", field->name.at);
    if (mb_json_is(value, MB_JSON_NULL) && !now)
        return mb_fail(err, MB_REFUSED, "field %s: entry #%lld has none to remove",
                       field->name.at, (long long)k->told->entry->seq);
    if (mb_json_is(value, MB_JSON_NULL)
        && (field->required == MB_REQUIRED_YES || field->required == MB_REQUIRED_ANSWER))
        return mb_fail(err, MB_REFUSED, "field %s: a %s cannot be without; give what it should be",
                       field->name.at, k->kind->name.at);
    if (now && mb_json_equal(now, value))
        mb_checking_warn(k->c, "field %s says so already", field->name.at);
    k->fields[k->count++] =
        (struct mb_field){ .name = field->name.at,
                           .in = class_of(k, field),
                           .value = value,
                           .salted = field->salted && mb_json_is(value, MB_JSON_ARRAY) };
    k->changes++;
    return MB_OK;
}

static bool means(const struct mb_typed *typed, const char *word)
{
    return typed->value_json ? mb_json_text_is(typed->value_json, word)
                             : mb_str_is(mb_str_trim(mb_str_of(typed->value)), word);
}

static bool is_empty(const struct mb_typed *typed)
{
    return !typed->value_json && mb_str_trim(mb_str_of(typed->value)).len == 0;
}

static enum mb_rc take_changes(struct correcting *k, struct mb_error *err)
{
    struct mb_checking *c = k->c;

    for (size_t i = 0; i < c->what->count; i++) {
        const struct mb_typed *typed = &c->what->typed[i];
        const struct mb_kind_field *field;
        mb_json *value;
        enum mb_rc rc = MB_OK;

        if (mb_kind_field(c->kind, mb_str_of(typed->name)) || is_empty(typed))
            continue;
        if (k->voids)
            return mb_fail(err, MB_REFUSED,
                           "field %s: a voided entry says nothing, so there is nothing to change",
                           typed->name);
        field = mb_kind_field(k->kind, mb_str_of(typed->name));
        if (!field)
            return mb_checking_no_field(c, k->kind, typed->name, err);
        if (means(typed, MB_LEAVE_OUT)
            || (typed->value_json && mb_json_is(typed->value_json, MB_JSON_NULL)))
            value = mb_json_null(c->arena);
        else
            rc = mb_checking_take(c, typed, field, &value, err);
        if (!rc)
            rc = add_change(k, field, value, err);
        if (rc)
            return rc;
    }
    return MB_OK;
}

/* A slip of typing changes no fact, anything else does, unless somebody says otherwise. */
static void fill_changes_facts(struct mb_checking *c)
{
    size_t at = index_of(c, "changesFacts");
    bool typing = mb_json_text_is(c->values[index_of(c, "why")], "typing");

    if (c->values[at])
        return;
    c->values[at] = mb_json_string(c->arena, typing ? "no" : "yes");
    mb_json_put_text(c->arena, c->filled, "changesFacts", typing ? "no" : "yes");
}

static enum mb_rc take_own(struct correcting *k, struct mb_error *err)
{
    struct mb_checking *c = k->c;

    fill_changes_facts(c);
    for (size_t i = 0; i < c->kind->count; i++)
        if (c->values[i])
            k->fields[k->count++] = (struct mb_field){ .name = c->kind->fields[i].name.at,
                                                       .in = c->kind->fields[i].in,
                                                       .value = c->values[i] };
    return mb_checking_whole(c, err);
}

enum mb_rc mb_correct_check(struct mb_checking *c, struct mb_field **fields, size_t *count,
                            struct mb_error *err)
{
    struct correcting k = { .c = c };
    const mb_json *action = c->values[index_of(c, "action")];
    enum mb_rc rc = MB_OK;

    if (!c->values[index_of(c, "target")])
        return mb_fail(err, MB_REFUSED, "field target: say which entry is put right, like #123");
    if (!action)
        return mb_fail(err, MB_REFUSED, "field action: say what to do: change fields, or void"
                                        " (wrong specimen), (double) or (did not happen)");
    k.voids = mb_str_starts(mb_json_str(action), "void");
    k.fields = MB_ARRAY(c->arena, c->kind->count + c->what->count + 1, struct mb_field);
    rc = find_target(&k, err);
    if (!rc)
        rc = check_target(&k, err);
    if (!rc)
        rc = take_changes(&k, err);
    if (!rc && !k.voids && k.changes == 0)
        rc = mb_fail(err, MB_REFUSED, "no field is changed; give it as field=value, with the value"
                                      " it should have");
    if (!rc)
        rc = take_own(&k, err);
    *fields = k.fields;
    *count = k.count;
    return rc;
}
