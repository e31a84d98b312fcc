#include "audit_text.h"

#include <stdlib.h>
#include <string.h>

#include "text.h"
#include "wording.h"

static const struct {
    const char *severity, *heading;
    enum style style;
} severities[] = {
    { "bar", "A rule on file does not allow the act as recorded", BAD },
    { "conflict", "Two things on the record do not agree", BAD },
    { "gap", "The record does not say", DOUBT },
    { "note", "Worth knowing", PLAIN },
};

enum { ENTRIES_SHOWN = 6 };

static const char *text_of(const struct screen *screen, const mb_json *object, const char *name)
{
    const char *text = mb_json_cstr(screen->arena, mb_json_get(object, name));

    return text ? text : "";
}

static const char *entries_of(const struct screen *screen, const mb_json *finding)
{
    const char *all = "";
    size_t n = 0;

    MB_JSON_EACH (seq, mb_json_get(finding, "entries")) {
        if (n++ == ENTRIES_SHOWN)
            return mb_arena_printf(screen->arena, "%s ...", all);
        all = mb_arena_printf(screen->arena, "%s%s#%lld", all, *all ? " " : "",
                              (long long)mb_json_int(seq, 0));
    }
    return all;
}

/* ---- findings ---- */

static const mb_json *rule_of(const mb_json *audit, const mb_json *id)
{
    MB_JSON_EACH (rule, mb_json_get(audit, "rules"))
        if (mb_json_equal(mb_json_get(rule, "id"), id))
            return rule;
    return NULL;
}

static void tell_rule(const struct screen *screen, const mb_json *rule)
{
    const char *citation = text_of(screen, rule, "citation");
    const char *effective = text_of(screen, rule, "effective");

    screen_say(screen, STRONG, 2, "Rule %s: %s%s%s", text_of(screen, rule, "id"),
               text_of(screen, rule, "title"),
               *text_of(screen, rule, "writtenDown") ? ", as written down on " : "",
               text_of(screen, rule, "writtenDown"));
    if (*citation)
        screen_say(screen, PLAIN, 4, "Rests on %s%s%s%s.", citation,
                   *effective ? ", in force since " : "", effective,
                   mb_json_true(mb_json_get(rule, "checkedAgainstText"))
                       ? ""
                       : "; not checked against the text");
}

static void tell_severity(const struct screen *screen, const mb_json *audit, size_t severity)
{
    const mb_json *last = NULL;
    bool any = false;

    MB_JSON_EACH (f, mb_json_get(audit, "findings")) {
        const mb_json *id = mb_json_get(f, "rule");
        const char *entries = entries_of(screen, f);

        if (!mb_json_text_is(mb_json_get(f, "severity"), severities[severity].severity))
            continue;
        if (!any)
            screen_heading(screen, severities[severity].heading);
        any = true;
        if (!last || !mb_json_equal(last, id)) {
            tell_rule(screen, rule_of(audit, id));
            screen_say(screen, FAINT, 4, "To mend the record: %s", text_of(screen, f, "mend"));
        }
        last = id;
        screen_say(screen, severities[severity].style, 4, "- %s: %s%s%s%s",
                   severities[severity].severity, text_of(screen, f, "sentence"),
                   *entries ? " (" : "", entries, *entries ? ")" : "");
    }
}

/* ---- what was checked ---- */

static void tell_cell(const struct screen *screen, mb_json *row, int64_t number)
{
    mb_json_add_text(screen->arena, row, wording_number(screen->arena, number));
}

static void tell_rules(const struct screen *screen, const mb_json *audit)
{
    static const char *const names[] = { "rule", "applied to", "fits", "does not fit",
                                         "cannot tell" };
    static const char *const counts[] = { "applied", "fits", "doesNotFit", "cannotTell" };
    mb_json *table = mb_json_object(screen->arena);
    mb_json *columns = mb_json_put(screen->arena, table, "columns", mb_json_array(screen->arena));
    mb_json *rows = mb_json_put(screen->arena, table, "rows", mb_json_array(screen->arena));
    int unused = 0;

    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        mb_json_add_text(screen->arena, columns, names[i]);
    MB_JSON_EACH (rule, mb_json_get(audit, "rules")) {
        mb_json *row;

        if (mb_json_int(mb_json_get(rule, "applied"), 0) == 0) {
            unused++;
            continue;
        }
        row = mb_json_add(rows, mb_json_array(screen->arena));
        mb_json_add_text(screen->arena, row,
                         mb_arena_printf(screen->arena, "%s %s", text_of(screen, rule, "id"),
                                         text_of(screen, rule, "name")));
        for (size_t i = 0; i < sizeof counts / sizeof *counts; i++)
            tell_cell(screen, row, mb_json_int(mb_json_get(rule, counts[i]), 0));
    }
    screen_heading(screen, "What was checked");
    screen_table(screen, table);
    if (unused)
        screen_say(screen, PLAIN, 0, "%s applied to nothing here.",
                   wording_count(screen->arena, unused, "other rule", "other rules"));
}

static void tell_reasons(const struct screen *screen, const mb_json *audit)
{
    bool any = false;

    MB_JSON_EACH (rule, mb_json_get(audit, "rules")) {
        const char *all = "";

        MB_JSON_EACH (why, mb_json_get(rule, "why"))
            all = mb_arena_printf(screen->arena, "%s%s%s %lld", all, *all ? "; " : "",
                                  text_of(screen, why, "reason"),
                                  (long long)mb_json_int(mb_json_get(why, "count"), 0));
        if (!*all)
            continue;
        if (!any)
            screen_heading(screen, "Why it cannot be told");
        any = true;
        screen_say(screen, PLAIN, 2, "%s %s: %s", text_of(screen, rule, "id"),
                   text_of(screen, rule, "name"), all);
    }
}

static void tell_none(const struct screen *screen, const mb_json *audit)
{
    int64_t unchecked = 0;

    MB_JSON_EACH (rule, mb_json_get(audit, "rules"))
        unchecked += mb_json_int(mb_json_get(rule, "cannotTell"), 0);
    screen_say(screen, PLAIN, 0, "No findings among %s; %s could not be checked.",
               wording_count(screen->arena, mb_json_int(mb_json_get(audit, "specimens"), 0),
                             "find", "finds"),
               wording_number(screen->arena, unchecked));
}

static void tell_contents(const struct screen *screen, const mb_json *audit)
{
    const mb_json *struck = mb_json_get(audit, "struckOut");
    const char *all = "";

    MB_JSON_EACH (one, mb_json_get(audit, "contains"))
        if (mb_json_int(mb_json_get(one, "count"), 0))
            all = mb_arena_printf(screen->arena, "%s%s%s: %s", all, *all ? "; " : "",
                                  text_of(screen, one, "what"),
                                  wording_number(screen->arena,
                                                 mb_json_int(mb_json_get(one, "count"), 0)));
    if (struck && struck->count)
        all = mb_arena_printf(screen->arena, "%s%sentries struck out: %u", all, *all ? "; " : "",
                              (unsigned)struck->count);
    if (*all)
        screen_say(screen, PLAIN, 2, "among them %s", all);
}

static void tell_scope(const struct screen *screen, const mb_json *audit)
{
    const mb_json *scope = mb_json_get(audit, "scope");
    const char *limits = "";

    MB_JSON_EACH (one, scope) {
        struct mb_str kind, id;

        if (!mb_json_is(one, MB_JSON_STRING))
            continue;
        if (!mb_str_cut(one->text, '/', &kind, &id))
            id = one->text;
        limits = mb_arena_printf(screen->arena, "%s%s%.*s %.*s", limits, *limits ? ", " : "",
                                 MB_STR_ARG(one->name), MB_STR_ARG(id));
    }
    screen_say(screen, PLAIN, 0, "Ledger %s, as of %s; looked at: %s, %s.",
               text_of(screen, audit, "origin"), text_of(screen, audit, "asOf"),
               *limits ? limits : "everything",
               wording_count(screen->arena, mb_json_int(mb_json_get(audit, "specimens"), 0),
                             "specimen or lot", "specimens and lots"));
    tell_contents(screen, audit);
    MB_JSON_EACH (out, mb_json_get(audit, "leftOut"))
        screen_say(screen, PLAIN, 2, "left out (%s): %s", text_of(screen, out, "category"),
                   wording_number(screen->arena, mb_json_int(mb_json_get(out, "count"), 0)));
}

/* ---- standing ---- */

/* Was this sentence told for an act before this one? */
static bool told_before(const mb_json *standing, const mb_json *act, const mb_json *sentence)
{
    MB_JSON_EACH (earlier, standing) {
        if (earlier == act)
            return false;
        MB_JSON_EACH (reason, mb_json_get(earlier, "reasons"))
            if (mb_json_equal(mb_json_get(reason, "sentence"), sentence))
                return true;
    }
    return false;
}

static void tell_act(const struct screen *screen, unsigned indent, const mb_json *standing,
                     const mb_json *act)
{
    screen_say(screen, PLAIN, indent, "%s: %s", text_of(screen, act, "act"),
               text_of(screen, act, "standing"));
    MB_JSON_EACH (reason, mb_json_get(act, "reasons")) {
        const mb_json *sentence = mb_json_get(reason, "sentence");

        if (mb_json_text_is(mb_json_get(reason, "severity"), "note"))
            continue;
        screen_say(screen, FAINT, indent + 2, "%s, rule %s: %s",
                   text_of(screen, reason, "severity"), text_of(screen, reason, "rule"),
                   told_before(standing, act, sentence) ? "as above"
                                                        : text_of(screen, reason, "sentence"));
    }
}

void standing_tell(const struct screen *screen, unsigned indent, const mb_json *standing)
{
    MB_JSON_EACH (act, standing)
        tell_act(screen, indent, standing, act);
}

/* ---- the whole ---- */

void audit_tell(const struct screen *screen, const mb_json *audit)
{
    const mb_json *findings = mb_json_get(audit, "findings");
    int64_t more = mb_json_int(mb_json_get(audit, "moreFindings"), 0);

    screen_say(screen, STRONG, 0, "%s", text_of(screen, audit, "opening"));
    tell_scope(screen, audit);
    for (size_t i = 0; i < sizeof severities / sizeof *severities; i++)
        tell_severity(screen, audit, i);
    if (!findings || findings->count == 0)
        tell_none(screen, audit);
    if (more)
        screen_say(screen, PLAIN, 0, "And %s more that are not listed here.",
                   wording_number(screen->arena, more));
    if (mb_json_get(mb_json_get(audit, "scope"), "specimen")) {
        screen_heading(screen, "Standing, act by act");
        standing_tell(screen, 2, mb_json_get(audit, "standing"));
    }
    tell_rules(screen, audit);
    tell_reasons(screen, audit);
    screen_gap(screen);
    MB_JSON_EACH (caution, mb_json_get(audit, "cautions"))
        screen_say(screen, FAINT, 0, "%s", wording(screen->arena, caution));
}

/* ---- a spreadsheet ---- */

/* Quoted; what a spreadsheet would take for a formula gets an apostrophe before it. */
static void put_cell(FILE *to, const char *text, bool last)
{
    fputc('"', to);
    if (*text && strchr("=+-@\t\r", *text))
        fputc('\'', to);
    for (; *text; text++) {
        if (*text == '"')
            fputc('"', to);
        fputc(*text, to);
    }
    fputs(last ? "\"\r\n" : "\",", to);
}

static const char *list_of(const struct screen *screen, const mb_json *list)
{
    const char *all = "";

    MB_JSON_EACH (one, list)
        all = mb_json_is(one, MB_JSON_INTEGER)
                  ? mb_arena_printf(screen->arena, "%s%s%lld", all, *all ? " " : "",
                                    (long long)one->integer)
                  : mb_arena_printf(screen->arena, "%s%s%.*s", all, *all ? "; " : "",
                                    MB_STR_ARG(one->text));
    return all;
}

void audit_tell_csv(const struct screen *screen, const mb_json *audit)
{
    static const char *const columns[] = { "rule",   "name",    "severity", "answer",
                                           "reason", "subject", "site",     "permission" };
    size_t count = sizeof columns / sizeof *columns;

    for (size_t i = 0; i < count; i++)
        put_cell(screen->to, columns[i], false);
    put_cell(screen->to, "acts", false);
    put_cell(screen->to, "entries", false);
    put_cell(screen->to, "cases", false);
    put_cell(screen->to, "sentence", false);
    put_cell(screen->to, "citation", false);
    put_cell(screen->to, "checked against the text", false);
    put_cell(screen->to, "to mend the record", true);
    MB_JSON_EACH (f, mb_json_get(audit, "findings")) {
        const mb_json *rule = rule_of(audit, mb_json_get(f, "rule"));
        int64_t cases = mb_json_int(mb_json_get(f, "count"), 1);

        for (size_t i = 0; i < count; i++)
            put_cell(screen->to, text_of(screen, f, columns[i]), false);
        put_cell(screen->to, list_of(screen, mb_json_get(f, "acts")), false);
        put_cell(screen->to, list_of(screen, mb_json_get(f, "entries")), false);
        put_cell(screen->to, mb_arena_printf(screen->arena, "%lld", (long long)cases), false);
        put_cell(screen->to, text_of(screen, f, "sentence"), false);
        put_cell(screen->to, text_of(screen, rule, "citation"), false);
        put_cell(screen->to,
                 mb_json_true(mb_json_get(rule, "checkedAgainstText")) ? "yes" : "no", false);
        put_cell(screen->to, text_of(screen, f, "mend"), true);
    }
}
