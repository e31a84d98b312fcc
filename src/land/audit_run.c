/* Rules, run one after the other; what they say, added up. */
#include <string.h>

#include "audit_priv.h"
#include "buf.h"
#include "date.h"
#include "text.h"

/* A user's rule may take so many steps of SQLite's machine, and so many more for each entry. */
enum { OWN_STEPS = 100000000, OWN_STEPS_AN_ENTRY = 1000, REASONS_MOST = 40 };

struct columns {
    int subject, entries, answer, reason, severity, sentence, site, permission, together, whom;
};

enum mb_rc mb_audit_rules(struct mb_audit *a, const char *folder, struct mb_error *err)
{
    size_t n = 0;
    enum mb_rc rc = mb_rules_built_in(a->arena, &a->rules, err);

    if (!rc && folder)
        rc = mb_rules_folder(a->arena, folder, &a->rules, err);
    if (rc)
        return rc;
    a->tallies = MB_ARRAY(a->arena, a->rules.count, struct mb_tally);
    for (const struct mb_rule *rule = a->rules.first; rule; rule = rule->next)
        a->tallies[n++].rule = rule;
    return MB_OK;
}

/* ---- sentences ---- */

static bool ends_with(const char *name, const char *end)
{
    size_t len = strlen(name), tail = strlen(end);

    return len >= tail && strcmp(name + len - tail, end) == 0;
}

static int column_named(mb_stmt *row, struct mb_str name)
{
    for (int i = 0; i < mb_col_count(row); i++)
        if (mb_str_is(name, mb_col_name(row, i)))
            return i;
    return -1;
}

/* Days by their date; "specimen/26-0115" as 26-0115, other subjects as "site S001". */
static void add_value(struct mb_audit *a, struct mb_buf *buf, mb_stmt *row, int at)
{
    enum mb_col_type type = mb_col_type(row, at);
    struct mb_str text = mb_col_text(row, at), kind, id;

    if (type == MB_COL_NULL || !text.at)
        mb_buf_add_text(buf, "not known");
    else if (type == MB_COL_INT && ends_with(mb_col_name(row, at), "day"))
        mb_buf_add_text(buf, mb_day_write(a->arena, (int32_t)mb_col_int(row, at)));
    else if (type == MB_COL_DOUBLE)
        mb_buf_printf(buf, "%.6g", mb_col_double(row, at));
    else if (mb_str_starts(text, "specimen/"))
        mb_buf_add(buf, text.at + 9, text.len - 9);
    else if (mb_str_cut(text, '/', &kind, &id) && mb_id_ok(kind) && mb_id_ok(id))
        mb_buf_printf(buf, "%.*s %.*s", MB_STR_ARG(kind), MB_STR_ARG(id));
    else
        mb_buf_add_str(buf, text);
}

struct mb_str mb_audit_say(struct mb_audit *a, mb_stmt *row, struct mb_str pattern)
{
    MB_BUF_AUTO struct mb_buf buf;

    mb_buf_init(&buf, 4000);
    while (pattern.len) {
        struct mb_str before, name, rest;
        int at = -1;

        if (!mb_str_cut(pattern, '{', &before, &rest)) {
            mb_buf_add_str(&buf, pattern);
            break;
        }
        mb_buf_add_str(&buf, before);
        if (mb_str_cut(rest, '}', &name, &pattern))
            at = column_named(row, name);
        if (at >= 0)
            add_value(a, &buf, row, at);
        else
            mb_buf_printf(&buf, "{%.*s}", MB_STR_ARG(name));
    }
    return mb_arena_str(a->arena, mb_buf_str(&buf));
}

/* ---- findings ---- */

static uint32_t heap_of(const struct mb_rule *rule, struct mb_str reason, struct mb_str together)
{
    uint32_t hash = 2166136261u;
    const struct mb_str parts[] = { mb_str_of(rule->id), reason, together };

    for (size_t p = 0; p < 3; p++)
        for (size_t i = 0; i < parts[p].len; i++)
            hash = (hash ^ (unsigned char)parts[p].at[i]) * 16777619u;
    return hash % MB_HEAPS;
}

/* "12 15 18": numbers of entries, divided by anything. */
static void add_entries(mb_arena *arena, mb_json *list, struct mb_str text)
{
    int64_t number = 0;
    bool within = false;

    for (size_t i = 0; i <= text.len && list->count < TOGETHER_MOST; i++) {
        char c = i < text.len ? text.at[i] : ' ';

        if (c >= '0' && c <= '9' && number < INT64_MAX / 16) {
            number = number * 10 + (c - '0');
            within = true;
        } else if (within) {
            mb_json_add(list, mb_json_integer(arena, number));
            number = 0;
            within = false;
        }
    }
}

static struct mb_audited *same_finding(struct mb_audit *a, uint32_t heap,
                                       const struct mb_rule *rule, struct mb_str reason,
                                       struct mb_str together)
{
    struct mb_audited *f = a->heaps[heap];

    while (f && !(f->rule == rule && mb_str_equal(f->reason, reason)
                  && mb_str_equal(f->together, together)))
        f = f->chain;
    return f;
}

static struct mb_str text_at(mb_stmt *row, int column)
{
    return column >= 0 ? mb_col_text(row, column) : (struct mb_str){ NULL, 0 };
}

static struct mb_str sentence_of(struct mb_audit *a, const struct mb_rule *rule, mb_stmt *row,
                                 const struct columns *at, struct mb_str reason)
{
    struct mb_str own = text_at(row, at->sentence);
    struct mb_str pattern = mb_json_str(mb_json_get_str(rule->say, reason));

    if (own.len)
        return mb_arena_str(a->arena, own);
    if (!pattern.len)
        pattern = mb_str_of(mb_arena_printf(a->arena, "{subject}: %s: %.*s.", rule->title,
                                            MB_STR_ARG(reason)));
    return mb_audit_say(a, row, pattern);
}

static enum mb_weight severity_of(const struct mb_rule *rule, struct mb_str said, bool fails)
{
    enum mb_weight severity = mb_weight_read(said);

    if (severity != MB_WEIGHTLESS)
        return severity;
    return fails || rule->severity < MB_GAP ? rule->severity : MB_GAP;
}

static void add_finding(struct mb_audit *a, const struct mb_rule *rule, mb_stmt *row,
                        const struct columns *at, struct mb_str reason, bool fails)
{
    enum mb_weight weight = severity_of(rule, text_at(row, at->severity), fails);
    bool alone = a->one_by_one || (fails && weight > MB_NOTE);
    struct mb_str together = alone ? (struct mb_str){ NULL, 0 } : text_at(row, at->together);
    uint32_t heap = together.at ? heap_of(rule, reason, together) : 0;
    struct mb_audited *f = together.at ? same_finding(a, heap, rule, reason, together) : NULL;

    if (f) {
        f->count++;
        if (f->subjects->count < TOGETHER_MOST)
            mb_json_add(f->subjects, mb_json_string_str(a->arena, text_at(row, at->subject)));
        add_entries(a->arena, f->entries, text_at(row, at->entries));
        return;
    }
    if (a->listed >= FINDINGS_MOST) {
        a->more++;
        return;
    }
    f = MB_NEW(a->arena, struct mb_audited);
    f->rule = rule;
    f->fails = fails;
    f->count = 1;
    f->severity = weight;
    f->reason = mb_arena_str(a->arena, reason);
    f->subject = mb_arena_str(a->arena, text_at(row, at->subject));
    f->site = mb_arena_str(a->arena, text_at(row, at->site));
    f->permission = mb_arena_str(a->arena, text_at(row, at->permission));
    f->whom = mb_arena_str(a->arena, text_at(row, at->whom));
    f->sentence = sentence_of(a, rule, row, at, reason);
    f->entries = mb_json_array(a->arena);
    f->subjects = mb_json_array(a->arena);
    mb_json_add(f->subjects, mb_json_string_str(a->arena, f->subject));
    add_entries(a->arena, f->entries, text_at(row, at->entries));
    if (together.at) {
        f->many = mb_audit_say(a, row, mb_json_str(mb_json_get_str(rule->together, reason)));
        f->together = mb_arena_str(a->arena, together);
        f->chain = a->heaps[heap];
        a->heaps[heap] = f;
    }
    *(a->last ? &a->last->next : &a->first) = f;
    a->last = f;
    a->listed++;
}

static void add_why(struct mb_audit *a, struct mb_tally *tally, struct mb_str reason)
{
    struct mb_why **at = &tally->why;
    int n = 0;

    while (*at && !mb_str_equal((*at)->reason, reason) && n++ < REASONS_MOST)
        at = &(*at)->next;
    if (!*at) {
        if (n == REASONS_MOST)
            reason = MB_STR("another reason");
        *at = MB_NEW(a->arena, struct mb_why);
        (*at)->reason = mb_arena_str(a->arena, reason);
    }
    (*at)->count++;
}

/* ---- one rule ---- */

static enum mb_rc find_columns(mb_stmt *row, struct columns *at, struct mb_error *err)
{
    const struct {
        const char *name;
        int *at;
    } all[] = { { "subject", &at->subject },   { "answer", &at->answer },
                { "entries", &at->entries },   { "reason", &at->reason },
                { "severity", &at->severity }, { "sentence", &at->sentence },
                { "site", &at->site },         { "permission", &at->permission },
                { "together", &at->together },
                { "whom", &at->whom } };

    for (size_t i = 0; i < sizeof all / sizeof *all; i++) {
        *all[i].at = column_named(row, mb_str_of(all[i].name));
        if (i < 2 && *all[i].at < 0)
            return mb_fail(err, MB_REFUSED,
                           "the query gives no column \"%s\"; it must give subject and answer",
                           all[i].name);
    }
    return MB_OK;
}

/* Is one of the pieces that a sum is made of looked at? A person's sums run over all land, and what
 * others' land adds up to is no business of this one's. Without a list: yes. */
static enum mb_rc is_looked_at(struct mb_audit *a, struct mb_str whom, bool *yes,
                               struct mb_error *err)
{
    struct mb_str one, rest;
    int64_t count = 0;
    enum mb_rc rc = MB_OK;

    *yes = !a->scoped || !whom.len;
    while (!rc && !*yes && whom.len) {
        mb_str_cut(whom, ',', &one, &rest);
        whom = rest;
        rc = mb_audit_do(a, "SELECT count(*) FROM v_scope WHERE sub = ?1", mb_str_trim(one),
                         (struct mb_str){ NULL, 0 }, &count, err);
        *yes = count > 0;
    }
    return rc;
}

static enum mb_rc take_row(struct mb_audit *a, struct mb_tally *tally, const struct columns *at,
                           struct mb_error *err)
{
    struct mb_str answer = mb_col_text(tally->stmt, at->answer), reason;
    bool fails = mb_str_is(answer, "does not fit"), ours;
    enum mb_rc rc = is_looked_at(a, text_at(tally->stmt, at->whom), &ours, err);

    if (rc || !ours)
        return rc;
    if (mb_str_is(answer, "fits")) {
        tally->fits++;
        return MB_OK;
    }
    if (mb_str_is(answer, "does not apply"))
        return MB_OK;
    if (!fails && !mb_str_is(answer, "cannot tell"))
        return mb_fail(err, MB_REFUSED,
                       "the query answers '%.*s'; an answer is fits, does not fit, cannot tell or"
                       " does not apply",
                       MB_STR_ARG(answer));
    reason = text_at(tally->stmt, at->reason);
    if (!reason.len)
        reason = answer;
    if (fails)
        tally->fails++;
    else
        tally->untold++;
    if (!fails)
        add_why(a, tally, reason);
    add_finding(a, tally->rule, tally->stmt, at, reason, fails);
    return MB_OK;
}

/* Names that are bound are looked for in each part of a query; a table of them only afterwards. */
static const char names[] = "(?1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11,?12,?13,?14,?15,?16,?17,?18,?19,"
                            "?20,?21,?22,?23,?24)";
_Static_assert(FEW_NAMES == 24, "one name for each parameter");

static void bind_names(struct mb_audit *a, struct mb_tally *tally)
{
    for (size_t i = 0; i < FEW_NAMES; i++)
        mb_bind_text(tally->stmt, (int)i + 1,
                     i < a->few_count ? a->few[i] : (struct mb_str){ NULL, 0 });
}

static enum mb_rc make(struct mb_audit *a, struct mb_tally *tally, struct mb_error *err)
{
    const struct mb_rule *rule = tally->rule;
    struct mb_str sql = rule->query;
    int64_t steps = rule->own ? OWN_STEPS + OWN_STEPS_AN_ENTRY * a->entries : 0;

    while (sql.len && strchr("; \t\r\n", sql.at[sql.len - 1]))
        sql.len--;
    tally->by_name = a->scoped && a->few_count <= FEW_NAMES;
    if (a->scoped)
        sql = mb_str_of(mb_arena_printf(a->arena, "SELECT * FROM (\n%.*s\n) WHERE subject IN %s",
                                        MB_STR_ARG(sql),
                                        tally->by_name ? names : "(SELECT sub FROM v_scope)"));
    return mb_stmt_make_rule(a->db, sql, steps, &tally->stmt, err);
}

static enum mb_rc run_rule(struct mb_audit *a, struct mb_tally *tally, struct mb_error *err)
{
    struct columns at;
    bool row = true;
    enum mb_rc rc;

    if (tally->stmt && tally->by_name != (a->scoped && a->few_count <= FEW_NAMES))
        tally->stmt = mb_stmt_free(tally->stmt);
    rc = tally->stmt ? MB_OK : make(a, tally, err);
    if (!rc && tally->by_name)
        bind_names(a, tally);
    if (!rc)
        rc = find_columns(tally->stmt, &at, err);
    while (!rc && !(rc = mb_stmt_step(tally->stmt, &row, err)) && row)
        rc = take_row(a, tally, &at, err);
    if (rc && tally->rule->own && rc == MB_UNABLE)
        rc = err && err->code ? (err->code = MB_REFUSED) : MB_REFUSED;
    if (rc)
        mb_fail_where(err, "rule %s", tally->rule->id);
    if (rc || tally->rule->own) /* whose steps are counted while it lives */
        tally->stmt = mb_stmt_free(tally->stmt);
    return rc;
}

enum mb_rc mb_audit_run(struct mb_audit *a, struct mb_error *err)
{
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; !rc && i < a->rules.count; i++)
        rc = run_rule(a, &a->tallies[i], err);
    return rc;
}

void mb_audit_run_done(struct mb_audit *a)
{
    for (size_t i = 0; a->tallies && i < a->rules.count; i++)
        a->tallies[i].stmt = mb_stmt_free(a->tallies[i].stmt);
}
