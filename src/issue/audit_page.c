/*
 * An audit on paper. It says what the record shows and what not, never what is allowed: each
 * sentence comes from the audit or is one that says how to read it.
 */
#include "audit_page.h"

#include <string.h>

#include "date.h"
#include "text.h"

/* ---- words ---- */

const char *mb_audit_text(struct mb_audit_page *page, const mb_json *of, const char *name)
{
    const mb_json *value = mb_json_get(of, name);

    if (!value)
        return "";
    if (value->type == MB_JSON_INTEGER)
        return mb_arena_printf(page->arena, "%lld", (long long)value->integer);
    return value->text.at ? mb_arena_copy(page->arena, value->text.at, value->text.len) : "";
}

const char *mb_audit_short(struct mb_audit_page *page, const mb_json *subject)
{
    struct mb_str prefix, id, text = mb_json_str(subject);

    if (!mb_str_cut(text, '/', &prefix, &id))
        return text.at ? mb_arena_copy(page->arena, text.at, text.len) : "none named";
    if (mb_str_is(prefix, "specimen") || mb_str_is(prefix, "permission"))
        return mb_arena_copy(page->arena, id.at, id.len);
    return mb_arena_printf(page->arena, "%.*s %.*s", MB_STR_ARG(prefix), MB_STR_ARG(id));
}

const char *mb_audit_name(struct mb_audit_page *page, const mb_json *subject)
{
    const char *id = mb_audit_short(page, subject);
    struct mb_str text = mb_json_str(subject);
    const char *name = text.at ? mb_json_cstr(page->arena, mb_json_get_str(page->names, text))
                               : NULL;

    return name ? mb_arena_printf(page->arena, "%s, %s", id, name) : id;
}

static const char *entries_of(struct mb_audit_page *page, const mb_json *list)
{
    const char *text = "";

    MB_JSON_EACH (one, list)
        text = mb_arena_printf(page->arena, "%s%s#%lld", text, *text ? ", " : "",
                               (long long)mb_json_int(one, 0));
    return text;
}

static const char *joined(struct mb_audit_page *page, const mb_json *list)
{
    const char *text = "";

    MB_JSON_EACH (one, list)
        text = mb_arena_printf(page->arena, "%s%s%.*s", text, *text ? ", " : "",
                               MB_STR_ARG(mb_json_str(one)));
    return text;
}

static const mb_json *rule_of(struct mb_audit_page *page, const mb_json *finding)
{
    MB_JSON_EACH (rule, mb_json_get(page->audit, "rules"))
        if (mb_json_equal(mb_json_get(rule, "id"), mb_json_get(finding, "rule"))
            && mb_json_equal(mb_json_get(rule, "name"), mb_json_get(finding, "name")))
            return rule;
    return NULL;
}

/* What a rule rests on, and how far that was checked. */
static const char *rests_on(struct mb_audit_page *page, const mb_json *rule)
{
    const char *citation = mb_audit_text(page, rule, "citation");
    const char *effective = mb_audit_text(page, rule, "effective");
    const char *written = mb_audit_text(page, rule, "writtenDown");
    const char *own = mb_json_true(mb_json_get(rule, "own"))
                          ? " A rule of the ledger's own keeper." : "";

    if (!*citation)
        return mb_arena_printf(page->arena, "Rests on the record's own logic; written down on"
                               " %s.%s", *written ? written : "a day not stated", own);
    return mb_arena_printf(page->arena, "Rests on: %s%s%s. Written down on %s; %s.%s", citation,
                           *effective ? "; in force from " : "", effective,
                           *written ? written : "a day not stated",
                           mb_json_true(mb_json_get(rule, "checkedAgainstText"))
                               ? "checked against an unofficial copy of the text"
                               : "not checked against the text", own);
}

/* ---- the first page ---- */

static const char *scope_words(struct mb_audit_page *page)
{
    static const char *const parts[][2] = { { "site", "site" }, { "permission", "permission" },
                                            { "specimen", "specimen" }, { "party", "party" },
                                            { "agency", "land of the agency" },
                                            { "from", "from" }, { "until", "until" } };
    const mb_json *scope = mb_json_get(page->audit, "scope");
    const char *text = "";

    if (mb_json_true(mb_json_get(scope, "whole")))
        return "the whole ledger";
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++)
        if (mb_json_get(scope, parts[i][0]))
            text = mb_arena_printf(page->arena, "%s%s%s %s", text, *text ? ", " : "", parts[i][1],
                                   mb_audit_text(page, scope, parts[i][0]));
    return text;
}

static int64_t sum_of(struct mb_audit_page *page, const char *name)
{
    int64_t sum = 0;

    MB_JSON_EACH (rule, mb_json_get(page->audit, "rules"))
        sum += mb_json_int(mb_json_get(rule, name), 0);
    return sum;
}

static int64_t count_of(struct mb_audit_page *page, const char *severity)
{
    int64_t count = 0;

    MB_JSON_EACH (finding, mb_json_get(page->audit, "findings"))
        if (mb_json_text_is(mb_json_get(finding, "severity"), severity))
            count += mb_json_int(mb_json_get(finding, "count"), 1);
    return count;
}

static void in_short(struct mb_audit_page *page)
{
    static const char *const words[][2] = {
        { "bar", "Bars: a dated rule on file does not allow the act as recorded" },
        { "conflict", "Conflicts: two things on the record do not agree" },
        { "gap", "Gaps: the record does not say" },
        { "note", "Notes: worth knowing" },
    };
    static const double shares[] = { 5, 1 };
    const struct mb_report_table table = { 2, shares, NULL };
    int64_t all = 0;

    mb_report_section(page->r, "In short");
    mb_report_table_begin(page->r, &table);
    for (size_t i = 0; i < 4; i++) {
        int64_t count = count_of(page, words[i][0]);

        all += count;
        mb_report_table_row(page->r, &table,
                            (const char *const[]){ words[i][1], mb_arena_printf(page->arena, "%lld",
                                                                       (long long)count) });
    }
    mb_report_table_end(page->r);
    mb_report_say(page->r,
                  mb_arena_printf(page->arena,
                                  "%lld rules were asked of %lld finds and of what belongs to them:"
                                  " %lld answers. %lld fit, %lld do not fit, and %lld could not be"
                                  " told. %s",
                                  (long long)mb_json_get(page->audit, "rules")->count,
                                  (long long)mb_json_int(mb_json_get(page->audit, "specimens"), 0),
                                  (long long)sum_of(page, "applied"),
                                  (long long)sum_of(page, "fits"),
                                  (long long)sum_of(page, "doesNotFit"),
                                  (long long)sum_of(page, "cannotTell"),
                                  all ? "Several cases of one kind may stand as one line below."
                                      : "There are no findings among them."));
    if (mb_json_int(mb_json_get(page->audit, "moreFindings"), 0))
        mb_report_say(page->r, mb_arena_printf(page->arena, "%s further findings were counted and"
                                               " are not listed, for their number.",
                                               mb_audit_text(page, page->audit, "moreFindings")));
}

static void first_page(struct mb_audit_page *page)
{
    mb_report_title(page->r, "Land and permission: what the record shows");
    mb_report_strong(page->r, mb_audit_text(page, page->audit, "opening"));
    page->r->y += 1;
    mb_report_pair(page->r, "Ledger", mb_audit_text(page, page->audit, "origin"));
    mb_report_pair(page->r, "What was looked at", scope_words(page));
    mb_report_pair(page->r, "All entries recorded by", mb_audit_text(page, page->audit, "asOf"));
    mb_report_pair(page->r, "Made on", mb_day_write(page->arena, (int32_t)(mb_now() / 86400)));
    page->r->y += 1.5;
    MB_JSON_EACH (caution, mb_json_get(page->audit, "cautions"))
        mb_report_say(page->r, mb_json_cstr(page->arena, caution));
    if (mb_json_get(page->audit, "sites")->count)
        mb_report_say(page->r, "This report may show exact places. Ask whoever decides about a"
                               " place before you pass its page on.");
    in_short(page);
}

/* ---- findings ---- */

static void begin_rule(struct mb_audit_page *page, const mb_json *finding)
{
    const mb_json *rule = rule_of(page, finding);
    const char *title = mb_audit_text(page, rule, "title");

    mb_report_need(page->r, 48);
    mb_report_group(page->r, mb_arena_printf(page->arena, "Rule %s, %s%s%s",
                                             mb_audit_text(page, finding, "rule"),
                                             mb_audit_text(page, finding, "name"),
                                             *title ? ": " : "", title));
    mb_report_small(page->r, mb_arena_printf(page->arena, "%s Touches: %s.", rests_on(page, rule),
                                             joined(page, mb_json_get(finding, "acts"))));
    mb_report_say(page->r, mb_arena_printf(page->arena, "How to mend the record: %s",
                                           mb_audit_text(page, finding, "mend")));
}

static const char *about(struct mb_audit_page *page, const mb_json *finding)
{
    int64_t count = mb_json_int(mb_json_get(finding, "count"), 1);
    const char *subject = mb_audit_short(page, mb_json_get(finding, "subject"));

    if (count > 1)
        subject = mb_arena_printf(page->arena, "%s and %lld more", subject,
                                  (long long)count - 1);
    if (mb_json_text_is(mb_json_get(finding, "answer"), "cannot tell"))
        subject = mb_arena_printf(page->arena, "%s (cannot be told)", subject);
    return subject;
}

static bool same_rule(const mb_json *a, const mb_json *b)
{
    return a && mb_json_equal(mb_json_get(a, "rule"), mb_json_get(b, "rule"))
           && mb_json_equal(mb_json_get(a, "name"), mb_json_get(b, "name"))
           && mb_json_equal(mb_json_get(a, "mend"), mb_json_get(b, "mend"))
           && mb_json_equal(mb_json_get(a, "acts"), mb_json_get(b, "acts"))
           && mb_json_equal(mb_json_get(a, "severity"), mb_json_get(b, "severity"));
}

/* The numbers of many entries fill the broad column, not the narrow one. */
static void finding_row(struct mb_audit_page *page, const struct mb_report_table *table,
                        const mb_json *finding)
{
    enum { NARROW_MOST = 8 };
    const mb_json *list = mb_json_get(finding, "entries");
    const char *sentence = mb_audit_text(page, finding, "sentence");
    const char *entries = entries_of(page, list);
    bool many = list && list->count > NARROW_MOST;

    if (many)
        sentence = mb_arena_printf(page->arena, "%s\nEntries: %s", sentence, entries);
    mb_report_table_row(page->r, table,
                        (const char *const[]){ about(page, finding), sentence,
                                               many ? mb_arena_printf(page->arena, "%u, named here",
                                                                      list->count)
                                                    : entries });
}

static void findings_of(struct mb_audit_page *page, const char *severity, const char *title)
{
    static const double shares[] = { 1.5, 5, 1.1 };
    static const char *const head[] = { "About", "What the record shows", "Entries" };
    const struct mb_report_table table = { 3, shares, head };
    const mb_json *last = NULL;

    MB_JSON_EACH (finding, mb_json_get(page->audit, "findings")) {
        if (!mb_json_text_is(mb_json_get(finding, "severity"), severity))
            continue;
        if (!last) {
            mb_report_need(page->r, 70); /* never alone at the foot of a page */
            mb_report_section(page->r, title);
        }
        if (!same_rule(last, finding)) {
            if (last)
                mb_report_table_end(page->r);
            begin_rule(page, finding);
            mb_report_table_begin(page->r, &table);
        }
        last = finding;
        finding_row(page, &table, finding);
    }
    if (last)
        mb_report_table_end(page->r);
}

/* ---- standing ---- */

static void standing(struct mb_audit_page *page)
{
    static const double shares[] = { 1.2, 1.2, 1.4, 4 };
    static const char *const head[] = { "Piece", "For", "Standing", "Why" };
    const struct mb_report_table table = { 4, shares, head };
    const mb_json *list = mb_json_get(page->audit, "standing");

    if (!list || !list->count)
        return;
    mb_report_section(page->r, "Standing, act by act");
    mb_report_say(page->r, "Shown on the record: nothing that was asked is missing or does not"
                           " agree. Incomplete: the record does not say all that was asked. In"
                           " question: two things on it do not agree, or a rule on file does not"
                           " allow the act as recorded.");
    mb_report_table_begin(page->r, &table);
    MB_JSON_EACH (one, list) {
        const char *why = "";

        MB_JSON_EACH (reason, mb_json_get(one, "reasons"))
            why = mb_arena_printf(page->arena, "%s%sRule %s: %s", why, *why ? " " : "",
                                  mb_audit_text(page, reason, "rule"),
                                  mb_audit_text(page, reason, "sentence"));
        mb_report_table_row(page->r, &table,
                            (const char *const[]){
                                mb_audit_short(page, mb_json_get(one, "subject")),
                                mb_audit_text(page, one, "act"),
                                mb_audit_text(page, one, "standing"), why });
    }
    mb_report_table_end(page->r);
}

/* ---- what was checked ---- */

static void rules(struct mb_audit_page *page)
{
    static const double shares[] = { 0.55, 4.6, 0.85, 0.6, 0.75, 2 };
    static const char *const head[] = { "Rule", "Asked, and on what it rests", "Applied to", "Fit",
                                        "Do not", "Cannot be told" };
    const struct mb_report_table table = { 6, shares, head };

    mb_report_section(page->r, "What was checked, rule by rule");
    mb_report_table_begin(page->r, &table);
    MB_JSON_EACH (rule, mb_json_get(page->audit, "rules")) {
        const char *untold = mb_audit_text(page, rule, "cannotTell");

        MB_JSON_EACH (why, mb_json_get(rule, "why"))
            untold = mb_arena_printf(page->arena, "%s%s%s: %s", untold,
                                     why == mb_json_get(rule, "why")->first ? "\n" : ", ",
                                     mb_audit_text(page, why, "reason"),
                                     mb_audit_text(page, why, "count"));
        mb_report_table_row(
            page->r, &table,
            (const char *const[]){
                mb_audit_text(page, rule, "id"),
                mb_arena_printf(page->arena, "%s (%s; %s). %s", mb_audit_text(page, rule, "title"),
                                mb_audit_text(page, rule, "name"),
                                mb_audit_text(page, rule, "severity"), rests_on(page, rule)),
                mb_audit_text(page, rule, "applied"), mb_audit_text(page, rule, "fits"),
                mb_audit_text(page, rule, "doesNotFit"), untold });
    }
    mb_report_table_end(page->r);
}

static void left_out(struct mb_audit_page *page)
{
    static const double shares[] = { 5, 1 };
    const struct mb_report_table table = { 2, shares, NULL };
    const mb_json *list = mb_json_get(page->audit, "leftOut");

    if (!list || !list->count)
        return;
    mb_report_section(page->r, "What was left out");
    mb_report_say(page->r, "This report is limited, as its first page says. Of what the ledger"
                           " holds beside it, these are not in it:");
    mb_report_table_begin(page->r, &table);
    MB_JSON_EACH (one, list)
        mb_report_table_row(page->r, &table,
                            (const char *const[]){ mb_audit_text(page, one, "category"),
                                                   mb_audit_text(page, one, "count") });
    mb_report_table_end(page->r);
}

/* ---- the whole ---- */

static enum mb_rc check(const mb_json *audit, struct mb_error *err)
{
    static const char *const lists[] = { "cautions", "rules", "findings", "accounts", "sites",
                                         "timeline" };

    for (size_t i = 0; i < sizeof lists / sizeof *lists; i++)
        if (!mb_json_is(mb_json_get(audit, lists[i]), MB_JSON_ARRAY))
            return mb_fail(err, MB_REFUSED, "this is no audit: it has no list \"%s\"", lists[i]);
    return MB_OK;
}

enum mb_rc mb_audit_pdf(mb_arena *arena, const mb_json *audit, const mb_json *names,
                        const char *paper, struct mb_str *pdf, struct mb_error *err)
{
    struct mb_report report = { .arena = arena };
    struct mb_audit_page page = { &report, arena, audit, names };
    struct mb_report_setup setup = { .paper = paper, .created = mb_now(),
                                     .title = "Land and permission: what the record shows",
                                     .subject = "An audit of one ledger" };
    enum mb_rc rc = check(audit, err);

    if (rc)
        return rc;
    setup.author = mb_audit_text(&page, audit, "origin");
    setup.foot = mb_arena_printf(arena, "%s · as of %s · what the record shows, no finding of law",
                                 setup.author, mb_audit_text(&page, audit, "asOf"));
    rc = mb_report_open(&report, arena, &setup, err);
    if (rc)
        return rc;
    first_page(&page);
    findings_of(&page, "bar", "Bars: a dated rule on file does not allow the act as recorded");
    findings_of(&page, "conflict", "Conflicts: two things on the record do not agree");
    findings_of(&page, "gap", "Gaps: the record does not say");
    findings_of(&page, "note", "Notes: worth knowing");
    standing(&page);
    mb_audit_account_pages(&page);
    mb_audit_timelines(&page);
    mb_audit_maps(&page);
    rules(&page);
    left_out(&page);
    rc = mb_report_finish(&report, pdf);
    mb_canvas_close(report.canvas);
    return rc;
}
