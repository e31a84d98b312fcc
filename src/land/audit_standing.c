/* Standing: what the record shows for each act, from the findings of one specimen and of what it
 * rests on. */
#include "audit_priv.h"
#include "text.h"

static const char *const standings[] = { "shown on the record", "incomplete", "in question" };

/* Findings of a piece that this one came out of count where the rule says that they carry. */
static bool concerns(const struct mb_audited *f, struct mb_str specimen, int act)
{
    if (!f->rule->act[act])
        return false;
    return f->rule->carries || !mb_str_starts(f->subject, "specimen/")
           || mb_str_equal(f->subject, specimen);
}

static int level_of(const struct mb_audited *f)
{
    return f->severity >= MB_CONFLICT ? 2 : f->severity == MB_GAP ? 1 : 0;
}

static void tell_act(struct mb_audit *a, struct mb_str specimen, int act, mb_json *out)
{
    mb_json *one = mb_json_add(out, mb_json_object(a->arena));
    mb_json *reasons = mb_json_array(a->arena);
    int level = 0;

    for (const struct mb_audited *f = a->first; f; f = f->next) {
        mb_json *reason;

        if (!concerns(f, specimen, act))
            continue;
        level = level_of(f) > level ? level_of(f) : level;
        reason = mb_json_add(reasons, mb_json_object(a->arena));
        mb_json_put_text(a->arena, reason, "rule", f->rule->id);
        mb_json_put_text(a->arena, reason, "name", f->rule->name);
        mb_json_put_text(a->arena, reason, "severity", mb_weight_word(f->severity));
        mb_json_put(a->arena, reason, "subject", mb_json_string_str(a->arena, f->subject));
        mb_json_put(a->arena, reason, "sentence", mb_json_string_str(a->arena, f->sentence));
    }
    mb_json_put(a->arena, one, "subject", mb_json_string_str(a->arena, specimen));
    mb_json_put_text(a->arena, one, "act", mb_act_words[act]);
    mb_json_put_text(a->arena, one, "standing", standings[level]);
    mb_json_put(a->arena, one, "reasons", reasons);
}

enum mb_rc mb_audit_standing(struct mb_audit *a, struct mb_str specimen, mb_json *out,
                             struct mb_error *err)
{
    enum mb_rc rc;

    a->first = a->last = NULL;
    a->listed = 0;
    a->one_by_one = true;
    rc = mb_audit_scope_one(a, specimen, err);
    if (!rc)
        rc = mb_audit_run(a, err);
    for (int act = 0; !rc && act < MB_ACTS; act++)
        tell_act(a, specimen, act, out);
    return rc;
}
