/* Standing: what the record shows for each act, from the findings of one specimen and of what it
 * rests on. */
#include "audit_priv.h"

#include <string.h>

#include "text.h"

static const char *const standings[] = { "shown on the record", "incomplete", "in question" };

/* "specimen/A,specimen/B": is one of ours among them? */
static bool among(struct mb_str whom, const mb_json *ours)
{
    struct mb_str one, rest;

    while (whom.len) {
        mb_str_cut(whom, ',', &one, &rest);
        whom = rest;
        MB_JSON_EACH (name, ours)
            if (mb_str_equal(name->text, one))
                return true;
    }
    return false;
}

/* Findings of a piece that this one came out of count where the rule says that they carry; those
 * of several pieces together where this one is among them. */
static bool concerns(const struct mb_audited *f, struct mb_str specimen, const mb_json *ours,
                     int act)
{
    if (!f->rule->act[act])
        return false;
    if (f->whom.len)
        return among(f->whom, ours);
    return f->rule->carries || !mb_str_starts(f->subject, "specimen/")
           || mb_str_equal(f->subject, specimen);
}

static int level_of(const struct mb_audited *f)
{
    return f->severity >= MB_CONFLICT ? 2 : f->severity == MB_GAP ? 1 : 0;
}

/* Where no rule can judge how a piece was come by, that is a gap, and never "shown". */
enum begun {
    BEGUN_HERE,
    BEGUN_ELSEWHERE, /* it came in from others: what their ledger shows is their word */
    BEGUN_STRUCK     /* nothing that stands says how it came: its beginning was struck out */
};

static void tell_begun(struct mb_audit *a, struct mb_str specimen, enum begun begun,
                       mb_json *reasons)
{
    mb_json *reason = mb_json_add(reasons, mb_json_object(a->arena));
    bool struck = begun == BEGUN_STRUCK;

    mb_json_put_text(a->arena, reason, "rule", "00");
    mb_json_put_text(a->arena, reason, "name", struck ? "struck-out" : "found-elsewhere");
    mb_json_put_text(a->arena, reason, "severity", mb_weight_word(MB_GAP));
    mb_json_put(a->arena, reason, "subject", mb_json_string_str(a->arena, specimen));
    mb_json_put_text(a->arena, reason, "sentence",
                     mb_arena_printf(a->arena,
                                     struck ? "How %.*s came here was struck out; nothing that"
                                              " stands on the record says it."
                                            : "%.*s came in from others; how it was collected is"
                                              " not on the record of this ledger.",
                                     (int)specimen.len - 9, specimen.at + 9));
}

static void tell_act(struct mb_audit *a, struct mb_str specimen, const mb_json *ours, int act,
                     enum begun begun, mb_json *out)
{
    mb_json *one = mb_json_add(out, mb_json_object(a->arena));
    mb_json *reasons = mb_json_array(a->arena);
    int level = 0;

    if (begun == BEGUN_STRUCK
        || (begun == BEGUN_ELSEWHERE && strcmp(mb_act_words[act], "keeping") != 0)) {
        tell_begun(a, specimen, begun, reasons);
        level = 1;
    }
    for (const struct mb_audited *f = a->first; f; f = f->next) {
        mb_json *reason;

        if (!concerns(f, specimen, ours, act))
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

/* The piece, and all that it came out of. */
static enum mb_rc list_ours(struct mb_audit *a, struct mb_str specimen, mb_json *ours,
                            struct mb_error *err)
{
    mb_stmt *stmt = NULL;
    bool row = true;
    enum mb_rc rc = mb_audit_ask_sql(a, "SELECT root FROM v_derived WHERE sub = ?1", specimen,
                                     (struct mb_str){ NULL, 0 }, &stmt, err);

    mb_json_add(ours, mb_json_string_str(a->arena, specimen));
    while (!rc && !(rc = mb_stmt_step(stmt, &row, err)) && row)
        mb_json_add(ours, mb_json_string_str(a->arena, mb_col_text(stmt, 0)));
    mb_stmt_free(stmt);
    return rc;
}

/* It came in, or out of something that came in, and nothing says how it was collected; or its own
 * beginning is struck out. */
static enum mb_rc how_begun(struct mb_audit *a, struct mb_str specimen, enum begun *begun,
                            struct mb_error *err)
{
    mb_stmt *stmt = NULL;
    bool row = false;
    enum mb_rc rc = mb_audit_ask_sql(
        a,
        "SELECT EXISTS (SELECT 1 FROM v_arrival WHERE sub = ?1"
        "               OR sub IN (SELECT root FROM v_derived WHERE sub = ?1))"
        "       AND NOT EXISTS (SELECT 1 FROM v_find WHERE sub = ?1"
        "                       OR sub IN (SELECT root FROM v_derived WHERE sub = ?1)),"
        " EXISTS (SELECT 1 FROM v_specimen WHERE sub = ?1 AND begins_as IS NULL)",
        specimen, (struct mb_str){ NULL, 0 }, &stmt, err);

    if (!rc)
        rc = mb_stmt_step(stmt, &row, err);
    *begun = BEGUN_HERE;
    if (!rc && row)
        *begun = mb_col_int(stmt, 1)   ? BEGUN_STRUCK
                 : mb_col_int(stmt, 0) ? BEGUN_ELSEWHERE
                                       : BEGUN_HERE;
    mb_stmt_free(stmt);
    return rc;
}

enum mb_rc mb_audit_standing(struct mb_audit *a, struct mb_str specimen, mb_json *out,
                             struct mb_error *err)
{
    mb_json *ours = mb_json_array(a->arena);
    enum begun begun = BEGUN_HERE;
    enum mb_rc rc;

    a->first = a->last = NULL;
    a->listed = 0;
    a->one_by_one = true;
    rc = mb_audit_scope_one(a, specimen, err);
    if (!rc)
        rc = list_ours(a, specimen, ours, err);
    if (!rc)
        rc = how_begun(a, specimen, &begun, err);
    if (!rc)
        rc = mb_audit_run(a, err);
    for (int act = 0; !rc && act < MB_ACTS; act++)
        tell_act(a, specimen, ours, act, begun, out);
    return rc;
}
