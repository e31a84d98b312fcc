#include <markerbed/audit.h>

#include <string.h>

#include "audit_priv.h"
#include "date.h"
#include "standing.h"
#include "text.h"

static const char opening[] =
    "This is what one ledger records. It is not a finding of law or of fact by any authority. Ask"
    " the land manager and a licensed lawyer.";

static const char *const cautions[] = {
    "It shows what the record shows, not what the law is. Each rule's text carries the day it was"
    " written down here; where it says \"not checked against the text\", it is to be checked before"
    " anybody relies on it.",
    "Boundaries are as entered; no survey was made. A share is that of the circle of uncertainty,"
    " not a probability. A permission is attached, not confirmed with its issuer, unless the record"
    " says so.",
    "A report you make may have to be handed over. Ask counsel first if there is a dispute or"
    " inquiry.",
};

/* ---- telling ---- */

static mb_json *rule_json(struct mb_audit *a, const struct mb_tally *tally)
{
    mb_json *one = mb_json_object(a->arena), *why = mb_json_array(a->arena);
    const struct mb_rule *rule = tally->rule;
    const char *const texts[][2] = {
        { "id", rule->id },
        { "name", rule->name },
        { "title", rule->title },
        { "severity", mb_weight_word(rule->severity) },
        { "citation", rule->citation },
        { "effective", rule->effective },
        { "writtenDown", rule->written_down },
        { "confidence", rule->confidence },
        { "mend", rule->mend },
    };

    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
        mb_json_put_text(a->arena, one, texts[i][0], texts[i][1]);
    mb_json_put_bool(a->arena, one, "checkedAgainstText", rule->checked);
    mb_json_put_bool(a->arena, one, "own", rule->own);
    mb_json_put_int(a->arena, one, "applied", tally->fits + tally->fails + tally->untold);
    mb_json_put_int(a->arena, one, "fits", tally->fits);
    mb_json_put_int(a->arena, one, "doesNotFit", tally->fails);
    mb_json_put_int(a->arena, one, "cannotTell", tally->untold);
    for (const struct mb_why *w = tally->why; w; w = w->next) {
        mb_json *reason = mb_json_add(why, mb_json_object(a->arena));

        mb_json_put(a->arena, reason, "reason", mb_json_string_str(a->arena, w->reason));
        mb_json_put_int(a->arena, reason, "count", w->count);
    }
    mb_json_put(a->arena, one, "why", why);
    return one;
}

/* One sentence for several cases: what they have in common, and how many they are. */
static struct mb_str sentence_of(struct mb_audit *a, const struct mb_audited *f)
{
    struct mb_str many = f->many, before, rest;

    if (f->count == 1)
        return f->sentence;
    if (!many.len)
        return mb_str_of(mb_arena_printf(a->arena, "%lld cases. The first: %.*s",
                                         (long long)f->count, MB_STR_ARG(f->sentence)));
    if (!mb_str_cut(many, '{', &before, &rest) || !mb_str_starts(rest, "count}"))
        return many;
    return mb_str_of(mb_arena_printf(a->arena, "%.*s%lld%.*s", MB_STR_ARG(before),
                                     (long long)f->count, (int)rest.len - 6, rest.at + 6));
}

static mb_json *finding_json(struct mb_audit *a, const struct mb_audited *f)
{
    mb_json *one = mb_json_object(a->arena), *acts = mb_json_array(a->arena);

    mb_json_put_text(a->arena, one, "rule", f->rule->id);
    mb_json_put_text(a->arena, one, "name", f->rule->name);
    mb_json_put_text(a->arena, one, "severity", mb_weight_word(f->severity));
    mb_json_put_text(a->arena, one, "answer", f->fails ? "does not fit" : "cannot tell");
    mb_json_put(a->arena, one, "reason", mb_json_string_str(a->arena, f->reason));
    for (int i = 0; i < MB_ACTS; i++)
        if (f->rule->act[i])
            mb_json_add_text(a->arena, acts, mb_act_words[i]);
    mb_json_put(a->arena, one, "acts", acts);
    mb_json_put(a->arena, one, "subject", mb_json_string_str(a->arena, f->subject));
    mb_json_put(a->arena, one, "entries", f->entries);
    mb_json_put(a->arena, one, "sentence", mb_json_string_str(a->arena, sentence_of(a, f)));
    mb_json_put_text(a->arena, one, "mend", f->rule->mend);
    if (f->site.at)
        mb_json_put(a->arena, one, "site", mb_json_string_str(a->arena, f->site));
    if (f->permission.at)
        mb_json_put(a->arena, one, "permission", mb_json_string_str(a->arena, f->permission));
    if (f->count > 1) {
        mb_json_put_int(a->arena, one, "count", f->count);
        mb_json_put(a->arena, one, "subjects", f->subjects);
    }
    return one;
}

/* Worst first; within one severity by rule, then as they were found. */
static mb_json *findings_json(struct mb_audit *a)
{
    mb_json *list = mb_json_array(a->arena);

    for (int severity = MB_BAR; severity >= MB_NOTE; severity--)
        for (const struct mb_audited *f = a->first; f; f = f->next)
            if ((int)f->severity == severity)
                mb_json_add(list, finding_json(a, f));
    return list;
}

static enum mb_rc put_origin(struct mb_audit *a, mb_json *out, struct mb_error *err)
{
    const mb_json *about;
    enum mb_rc rc = mb_ledger_about(a->ledger, a->arena, &about, err);

    if (!rc)
        mb_json_put(a->arena, out, "origin", mb_json_copy(a->arena, mb_json_get(about, "origin")));
    return rc;
}

/* ---- the whole ---- */

static enum mb_rc tell_standing(struct mb_audit *a, mb_json *out, struct mb_error *err)
{
    mb_json *names = mb_json_array(a->arena);
    mb_stmt *stmt = NULL;
    bool row = true;
    enum mb_rc rc;

    if (!a->ask->standing && a->specimens > FEW_SPECIMENS)
        return MB_OK;
    rc = mb_stmt_make(a->db,
                      a->scoped ? "SELECT s.sub FROM v_scope s JOIN v_specimen USING (sub)"
                                : "SELECT sub FROM v_specimen",
                      &stmt, err);
    while (!rc && !(rc = mb_stmt_step(stmt, &row, err)) && row)
        mb_json_add(names, mb_json_string_str(a->arena, mb_col_text(stmt, 0)));
    mb_stmt_free(stmt);
    if (!rc && !a->scoped) /* rules are asked again, of one specimen at a time */
        mb_audit_run_done(a);
    MB_JSON_EACH (name, names) {
        if (!rc)
            rc = mb_audit_standing(a, name->text, out, err);
    }
    return rc;
}

static enum mb_rc tell(struct mb_audit *a, mb_json *out, struct mb_error *err)
{
    static const struct {
        const char *name;
        enum mb_rc (*fill)(struct mb_audit *, mb_json *, struct mb_error *);
    } parts[] = { { "accounts", mb_audit_accounts },   { "sites", mb_audit_sites },
                  { "timeline", mb_audit_timeline },   { "leftOut", mb_audit_left_out },
                  { "contains", mb_audit_contains },   { "struckOut", mb_audit_struck_out },
                  { "standing", tell_standing } };
    mb_json *rules = mb_json_array(a->arena), *words = mb_json_array(a->arena);
    enum mb_rc rc = put_origin(a, out, err);

    mb_json_put_text(a->arena, out, "asOf", mb_day_write(a->arena, (int32_t)a->today));
    mb_json_put(a->arena, out, "scope", mb_audit_scope_json(a));
    mb_json_put_text(a->arena, out, "opening", opening);
    for (size_t i = 0; i < sizeof cautions / sizeof *cautions; i++)
        mb_json_add_text(a->arena, words, cautions[i]);
    mb_json_put(a->arena, out, "cautions", words);
    mb_json_put_int(a->arena, out, "specimens", a->specimens);
    for (size_t i = 0; i < a->rules.count; i++)
        mb_json_add(rules, rule_json(a, &a->tallies[i]));
    mb_json_put(a->arena, out, "rules", rules);
    mb_json_put(a->arena, out, "findings", findings_json(a));
    if (a->more)
        mb_json_put_int(a->arena, out, "moreFindings", a->more);
    for (size_t i = 0; !rc && i < sizeof parts / sizeof *parts; i++) {
        mb_json *list = mb_json_array(a->arena);

        rc = parts[i].fill(a, list, err);
        mb_json_put(a->arena, out, parts[i].name, list);
    }
    return rc;
}

static enum mb_rc begin(struct mb_audit *a, struct mb_error *err)
{
    enum mb_rc rc = mb_audit_rules(a, a->ask->rules, err);

    if (!rc)
        rc = mb_views_begin(a->ledger, a->ask->as_of, &a->views, err);
    a->db = a->views.db;
    if (!rc)
        rc = mb_landsql_open(a->db, mb_log_folder(a->ledger->log), &a->sql, err);
    if (!rc)
        rc = mb_audit_tables(a, err);
    return rc;
}

static void end(struct mb_audit *a)
{
    mb_audit_run_done(a);
    if (a->db)
        mb_audit_tables_drop(a);
    a->sql = mb_landsql_close(a->sql);
    mb_views_end(&a->views);
}

enum mb_rc mb_audit(mb_ledger *ledger, mb_arena *arena, const struct mb_audit_ask *ask,
                    const mb_json **out, struct mb_error *err)
{
    struct mb_audit *a = MB_NEW(arena, struct mb_audit);
    mb_json *answer = mb_json_object(arena);
    enum mb_rc rc;

    a->ledger = ledger;
    a->arena = arena;
    a->ask = ask;
    rc = begin(a, err);
    if (!rc)
        rc = mb_audit_scope(a, err);
    if (!rc)
        rc = mb_audit_run(a, err);
    if (!rc)
        rc = tell(a, answer, err);
    end(a);
    if (!rc)
        *out = answer;
    return rc;
}

/* ---- standing alone ---- */

/* "04 day-outside, 20 sale-not-allowed": rules behind an act, each once. */
static const char *rules_behind(mb_arena *arena, const mb_json *act)
{
    const mb_json *last = NULL;
    const char *all = "";

    MB_JSON_EACH (reason, mb_json_get(act, "reasons")) {
        const mb_json *rule = mb_json_get(reason, "rule");

        if (mb_json_text_is(mb_json_get(reason, "severity"), "note")
            || (last && mb_json_equal(last, rule)))
            continue;
        all = mb_arena_printf(arena, "%s%s%.*s %.*s", all, *all ? ", " : "",
                              MB_STR_ARG(mb_json_str(rule)),
                              MB_STR_ARG(mb_json_str(mb_json_get(reason, "name"))));
        last = rule;
    }
    return all;
}

static const char *in_words(mb_arena *arena, const mb_json *acts)
{
    const char *all = "";

    MB_JSON_EACH (act, acts) {
        const char *rules = rules_behind(arena, act);

        all = mb_arena_printf(arena, "%s%s%.*s: %.*s%s%s%s", all, *all ? "; " : "",
                              MB_STR_ARG(mb_json_str(mb_json_get(act, "act"))),
                              MB_STR_ARG(mb_json_str(mb_json_get(act, "standing"))),
                              *rules ? " (" : "", rules, *rules ? ")" : "");
    }
    return all;
}

static const char *bar_among(mb_arena *arena, struct mb_str specimen, const mb_json *acts)
{
    MB_JSON_EACH (reason, mb_json_get(mb_json_at(acts, 2), "reasons")) {
        struct mb_str sentence = mb_json_str(mb_json_get(reason, "sentence"));

        if (!mb_json_text_is(mb_json_get(reason, "severity"), "bar"))
            continue;
        if (sentence.len && sentence.at[sentence.len - 1] == '.')
            sentence.len--;
        return mb_arena_printf(arena, "no sheet for a sale is made of %.*s (rule %.*s): %.*s",
                               (int)specimen.len - 9, specimen.at + 9,
                               MB_STR_ARG(mb_json_str(mb_json_get(reason, "rule"))),
                               MB_STR_ARG(sentence));
    }
    return NULL;
}

static enum mb_rc stand(mb_ledger *ledger, mb_arena *arena, const char *as_of,
                        const struct mb_str *specimens, size_t count, struct mb_stood *out,
                        struct mb_error *err)
{
    struct mb_audit *a = MB_NEW(arena, struct mb_audit);
    struct mb_audit_ask ask = { .as_of = as_of };
    enum mb_rc rc;

    a->ledger = ledger;
    a->arena = arena;
    a->ask = &ask;
    rc = begin(a, err);
    for (size_t i = 0; !rc && i < count; i++) {
        mb_json *acts = mb_json_array(arena);

        rc = mb_audit_standing(a, specimens[i], acts, err);
        out[i] = (struct mb_stood){ acts, in_words(arena, acts),
                                    rc ? NULL : bar_among(arena, specimens[i], acts) };
    }
    end(a);
    return rc;
}

enum mb_rc mb_standings(mb_ledger *ledger, mb_arena *arena, const struct mb_str *specimens,
                        size_t count, struct mb_stood *out, struct mb_error *err)
{
    return stand(ledger, arena, NULL, specimens, count, out, err);
}

enum mb_rc mb_standing(mb_ledger *ledger, mb_arena *arena, const char *specimen,
                       const char *as_of, const mb_json **out, struct mb_error *err)
{
    struct mb_str name = mb_str_of(strchr(specimen, '/')
                                       ? specimen
                                       : mb_arena_printf(arena, "specimen/%s", specimen));
    struct mb_stood stood;
    enum mb_rc rc = stand(ledger, arena, as_of, &name, 1, &stood, err);

    if (!rc)
        *out = stood.acts;
    return rc;
}

int mb_severity_rank(const char *word)
{
    return (int)mb_weight_read(mb_str_of(word));
}
