/* The story of one subject. */
#include <markerbed/show.h>

#include <string.h>

#include "checking.h"
#include "kinds.h"
#include "landwords.h"
#include "sentence.h"
#include "settings.h"
#include "tale.h"
#include "text.h"
#include "views.h"

struct showing {
    mb_ledger *ledger;
    mb_arena *arena;
    struct mb_tale tale;
    struct mb_views views;
    mb_json *out;
    mb_stmt *entry, *label;
    struct mb_error *err;
};

/* ---- as it stands ---- */

/* Kinds that tell what something is, rather than what happened to it. */
static const struct {
    const char *prefix, *kind;
} describes[] = {
    { "specimen", "collecting" }, { "specimen", "arrival" }, { "specimen", "division" },
    { "specimen", "descent" },    { "specimen", "making" },  { "specimen", "identification" },
    { "party", "party" },         { "site", "site" },        { "horizon", "horizon" },
    { "permission", "permission" }, { "permission", "permission-change" },
    { "field-day", "field-day" }, { "dealing", "dealing" },  { "place", "placement" },
    { "ledger", "founding" },     { "ledger", "checkpoint-key" }, { "key", "key-enrolment" },
};

static bool is_description(const struct mb_tale *tale, const struct mb_told *told)
{
    struct mb_str kind = told->entry->kind;

    if (told->voided_by >= 0
        || (mb_str_is(kind, "division") && !mb_told_is(told, "side", "came out"))
        || (mb_str_is(kind, "identification")
            && mb_told_is(told, "isAcceptedIdentification", "no")))
        return false;
    for (size_t i = 0; i < sizeof describes / sizeof *describes; i++)
        if (mb_str_is(tale->prefix, describes[i].prefix) && mb_str_is(kind, describes[i].kind))
            return true;
    return false;
}

struct describing {
    struct showing *s;
    mb_json *now;
    const struct mb_told *told;
};

static void describe(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in,
                     int64_t from)
{
    const struct describing *d = ctx;
    mb_arena *arena = d->s->arena;
    mb_json *field = mb_json_object(arena);

    (void)in;
    if (mb_str_is(name, "batch"))
        return;
    mb_json_put(arena, field, "value", mb_json_copy(arena, value));
    mb_json_put_int(arena, field, "seq", from);
    if (from != d->told->entry->seq)
        mb_json_put_bool(arena, field, "corrected", true);
    mb_json_put_str(arena, d->now, name, field);
}

/* A changed permission: what the change says stands in the permission's own fields. */
static void describe_change(struct describing *d)
{
    static const char *const to[][2] = { { "newValidUntil", "validUntil" },
                                         { "newHolder", "holder" },
                                         { "newArea", "area" } };

    for (size_t i = 0; i < sizeof to / sizeof *to; i++) {
        const mb_json *value = mb_told_value(d->told, to[i][0]);

        if (value)
            describe(d, mb_str_of(to[i][1]), value, MB_LAND, d->told->entry->seq);
    }
}

static void put_now(struct showing *s)
{
    struct describing d = { s, mb_json_object(s->arena), NULL };

    for (size_t i = 0; i < s->tale.count; i++) {
        d.told = mb_tale_at(&s->tale, i);
        if (!is_description(&s->tale, d.told))
            continue;
        if (mb_str_is(d.told->entry->kind, "permission-change"))
            describe_change(&d);
        else
            mb_told_fields(d.told, describe, &d);
    }
    mb_json_put(s->arena, s->out, "now", d.now);
    if (mb_json_is(mb_json_get(mb_json_get(d.now, "legalDescription"), "value"), MB_JSON_STRING))
        mb_json_put(s->arena, s->out, "landDescription",
                    mb_json_copy(s->arena,
                                 mb_landwords(s->arena,
                                              mb_json_str(mb_json_get(mb_json_get(d.now,
                                                                      "legalDescription"),
                                                                      "value")))));
}

/* ---- what was written down ---- */

static enum mb_rc name_of(struct showing *s, struct mb_str party, struct mb_str *name)
{
    bool row;
    enum mb_rc rc;

    *name = party;
    if (!party.at)
        return MB_OK;
    mb_bind_text(s->label, 1, party);
    rc = mb_stmt_step(s->label, &row, s->err);
    if (!rc && row) {
        if (mb_col_type(s->label, 0) == MB_COL_TEXT)
            *name = mb_arena_str(s->arena, mb_col_text(s->label, 0));
        mb_stmt_reset(s->label);
    }
    return rc;
}

struct fields {
    mb_arena *arena;
    mb_json *out;
};

static void put_field(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in)
{
    struct fields *f = ctx;

    (void)in;
    mb_json_put_str(f->arena, f->out, name, mb_json_copy(f->arena, value));
}

/* Who signed it: by the enrolment of the key, or by what the folder's settings say of it. */
static enum mb_rc signer_of(struct showing *s, const struct mb_entry *entry, struct mb_str signer,
                            struct mb_str *name)
{
    if (!signer.at) {
        enum mb_rc rc = mb_settings_recorder(
            s->ledger, mb_arena_copy(s->arena, entry->kid.at, entry->kid.len), &signer, s->err);

        if (rc)
            return rc;
    }
    return name_of(s, signer, name);
}

/* How many fields of an entry were erased, by which entries and on what ground. */
static void put_erased(struct showing *s, mb_json *out, const struct mb_entry *entry)
{
    mb_json *list = NULL;

    for (size_t i = 0; i < s->tale.count; i++) {
        const struct mb_entry *other = &s->tale.entries[i];
        const mb_json *digests = mb_entry_open(other, "digests");
        mb_json *one;

        if (!mb_str_is(other->kind, "erasure")
            || mb_tale_seq(&s->tale, mb_entry_open(other, "target")) != entry->seq)
            continue;
        if (!list)
            list = mb_json_put(s->arena, out, "erased", mb_json_array(s->arena));
        one = mb_json_add(list, mb_json_object(s->arena));
        mb_json_put_int(s->arena, one, "seq", other->seq);
        mb_json_put_int(s->arena, one, "count", digests ? digests->count : 0);
        mb_json_put(s->arena, one, "ground",
                    mb_json_copy(s->arena, mb_entry_open(other, "ground")));
    }
}

static enum mb_rc put_entry(struct showing *s, mb_json *list, const struct mb_told *told)
{
    const struct mb_entry *entry = told->entry;
    const struct mb_kind *kind = mb_kind_find(entry->kind);
    struct fields f = { s->arena, mb_json_object(s->arena) };
    mb_json *out = mb_json_add(list, mb_json_object(s->arena));
    struct mb_str day, line, signer = { NULL, 0 };
    int64_t about = mb_tale_about(&s->tale, told);
    bool row;
    enum mb_rc rc;

    mb_bind_int(s->entry, 1, entry->seq);
    rc = mb_stmt_step(s->entry, &row, s->err);
    if (!rc && !row)
        rc = mb_fail(s->err, MB_UNABLE, "the views do not have entry %lld; run `markerbed verify`",
                     (long long)entry->seq);
    if (rc)
        return rc;
    day = mb_arena_str(s->arena, mb_col_text(s->entry, 0));
    line = mb_arena_str(s->arena, mb_col_text(s->entry, 1));
    if (mb_col_type(s->entry, 2) == MB_COL_TEXT)
        signer = mb_arena_str(s->arena, mb_col_text(s->entry, 2));
    mb_stmt_reset(s->entry);
    rc = signer_of(s, entry, signer, &signer);
    mb_json_put_int(s->arena, out, "seq", entry->seq);
    mb_json_put_int(s->arena, out, "iat", entry->iat);
    mb_json_put_text(s->arena, out, "recordedAt", mb_moment_write(s->arena, entry->iat));
    mb_json_put(s->arena, out, "kind", mb_json_string_str(s->arena, entry->kind));
    mb_json_put(s->arena, out, "title",
                kind ? mb_json_string(s->arena, kind->title)
                     : mb_json_string_str(s->arena, entry->kind));
    if (day.len)
        mb_json_put(s->arena, out, "day", mb_json_string_str(s->arena, day));
    mb_json_put(s->arena, out, "leaf",
                mb_json_string_str(s->arena, mb_b64u(s->arena, entry->leaf.b, 32)));
    mb_json_put(s->arena, out, "by",
                mb_json_string_str(s->arena, signer.at ? signer : entry->kid));
    mb_json_put(s->arena, out, "kid", mb_json_string_str(s->arena, entry->kid));
    mb_json_put(s->arena, out, "line", mb_json_string_str(s->arena, line));
    if (told->voided_by >= 0)
        mb_json_put_int(s->arena, out, "voided", told->voided_by);
    if (about >= 0)
        mb_json_put_int(s->arena, out, "corrects", about);
    mb_entry_fields(entry, put_field, &f);
    put_erased(s, out, entry);
    mb_json_put(s->arena, out, "fields", f.out);
    return rc;
}

static enum mb_rc put_entries(struct showing *s)
{
    mb_json *list = mb_json_array(s->arena);
    enum mb_rc rc = mb_stmt_make(s->views.db,
                                 "SELECT event_date, line, signer FROM v_entry WHERE seq = ?1",
                                 &s->entry, s->err);

    if (!rc)
        rc = mb_stmt_make(s->views.db, "SELECT label FROM v_subject WHERE sub = ?1", &s->label,
                          s->err);
    for (size_t i = 0; i < s->tale.count && !rc; i++)
        rc = put_entry(s, list, mb_tale_at(&s->tale, i));
    s->entry = mb_stmt_free(s->entry);
    s->label = mb_stmt_free(s->label);
    mb_json_put(s->arena, s->out, "entries", list);
    return rc;
}

/* ---- rows of the views as objects ---- */

/* Whatever is NULL is left out. */
static void put_columns(mb_arena *arena, mb_stmt *stmt, mb_json *out)
{
    for (int i = 0; i < mb_col_count(stmt); i++) {
        const char *name = mb_col_name(stmt, i);

        if (mb_col_type(stmt, i) == MB_COL_INT)
            mb_json_put_int(arena, out, name, mb_col_int(stmt, i));
        else if (mb_col_type(stmt, i) == MB_COL_TEXT)
            mb_json_put(arena, out, name, mb_json_string_str(arena, mb_col_text(stmt, i)));
    }
}

/* All rows as objects of a list; `only` takes the first text of each instead. */
static enum mb_rc rows_of(struct showing *s, const char *sql, bool only, mb_json *list)
{
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc = mb_stmt_make(s->views.db, sql, &stmt, s->err);

    if (rc)
        return rc;
    mb_bind_text(stmt, 1, s->tale.sub);
    while (!(rc = mb_stmt_step(stmt, &row, s->err)) && row)
        if (only)
            mb_json_add(list, mb_json_string_str(s->arena, mb_col_text(stmt, 0)));
        else
            put_columns(s->arena, stmt, mb_json_add(list, mb_json_object(s->arena)));
    mb_stmt_free(stmt);
    return rc;
}

#define DAY(column) "date(" column " * 86400, 'unixepoch')"
#define STAYS(table, more) \
    "SELECT x.party, n.label AS name, x.label, " more DAY("x.from_day") " AS \"from\", " \
    DAY("x.until_day") " AS until, x.seq_in AS seqIn, x.seq_out AS seqOut" \
    " FROM " table " x LEFT JOIN v_subject n ON n.sub = x.party WHERE x.sub = ?1 ORDER BY x.n"

static enum mb_rc put_stays(struct showing *s)
{
    mb_json *holders = mb_json_array(s->arena), *owners = mb_json_array(s->arena);
    enum mb_rc rc = rows_of(s, STAYS("v_holder", ""), false, holders);

    if (!rc)
        rc = rows_of(s, STAYS("v_owner", "x.part, "), false, owners);
    mb_json_put(s->arena, s->out, "holders", holders);
    mb_json_put(s->arena, s->out, "owners", owners);
    return rc;
}

static enum mb_rc put_account(struct showing *s)
{
    mb_json *sums = mb_json_array(s->arena), *rows = mb_json_array(s->arena), *account;
    enum mb_rc rc = rows_of(s,
                            "SELECT quantity_now AS now, quantity_in AS \"in\","
                            " quantity_out AS out, quantity_counted AS byCounting"
                            " FROM v_specimen WHERE sub = ?1 AND quantity_now IS NOT NULL",
                            false, sums);

    if (rc || !sums->first)
        return rc;
    account = mb_json_copy(s->arena, sums->first);
    rc = rows_of(s,
                 "SELECT seq, " DAY("day") " AS day, change, balance, why"
                 " || iif(counts, '', ' (in a later count already)') AS why"
                 " FROM v_quantity WHERE sub = ?1 ORDER BY seq, n",
                 false, rows);
    mb_json_put(s->arena, account, "rows", rows);
    mb_json_put(s->arena, s->out, "account", account);
    return rc;
}

/* ---- what to look at twice ---- */

static const char *const warnings[] = {
    "SELECT 'More was given out than there was: ' || -quantity_lowest || ' too many at one time.'"
    " FROM v_specimen WHERE sub = ?1 AND overdrawn",
    "SELECT 'Entry #' || seq || ': the pieces do not add up, by ' || abs(difference) || '.'"
    " FROM v_division WHERE sub = ?1 AND difference <> 0 ORDER BY seq",
    "SELECT 'Entry #' || seq || ': handed over by somebody who did not have it on this record.'"
    " FROM v_custody WHERE sub = ?1 AND giver_held = 0 ORDER BY seq",
    "SELECT 'Entry #' || seq || ': passed on by somebody who did not own it on this record.'"
    " FROM v_title WHERE sub = ?1 AND giver_owned = 0 ORDER BY seq",
    "SELECT 'Entry #' || seq || ': an open claim about ' || coalesce(nature, 'it')"
    " || coalesce(', asking: ' || nullif(hold, 'none'), '') || '.'"
    " FROM v_claim WHERE sub = ?1 AND is_open ORDER BY seq",
    "SELECT 'Entry #' || seq || ': ' || nature || ', and not recovered.' FROM v_loss"
    " WHERE sub = ?1 AND nature IN ('stolen', 'missing') AND closed_by IS NULL ORDER BY seq",
    "SELECT 'The certificate of entry #' || seq || ' was withdrawn: '"
    " || coalesce(withdrawn_why, 'no reason given') || '.' FROM v_certificate"
    " WHERE sub = ?1 AND withdrawn_by IS NOT NULL ORDER BY seq",
    "SELECT 'Entry #' || seq || ': ' || what || coalesce(' from ' || from_date, '') || '.'"
    " FROM v_permission_change WHERE permission = ?1 AND what IN ('suspended', 'revoked')"
    " ORDER BY seq",
    "SELECT 'This key was retired by entry #' || retired || coalesce('; its entries from #'"
    " || suspect_from || ' on are in doubt', '') || '.' FROM v_key"
    " WHERE 'key/' || kid = ?1 AND retired IS NOT NULL",
};

static enum mb_rc put_warnings(struct showing *s)
{
    mb_json *list = mb_json_array(s->arena);
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; i < sizeof warnings / sizeof *warnings && !rc; i++)
        rc = rows_of(s, warnings[i], true, list);
    mb_json_put(s->arena, s->out, "warnings", list);
    return rc;
}

/* ---- the whole ---- */

static enum mb_rc not_there(struct showing *s, struct mb_str subject, const char *as_of)
{
    struct mb_str prefix, id, sub;
    int64_t seq, nth;
    enum mb_rc rc =
        mb_log_head(s->ledger->log, s->arena, subject, MB_NEVER, &seq, &nth, &sub, s->err);

    if (rc == MB_OK)
        return mb_fail(s->err, MB_REFUSED,
                       "nothing had been recorded on %.*s by %s; its first entry is later",
                       MB_STR_ARG(sub), as_of);
    if (rc != MB_NO)
        return rc;
    mb_str_cut(subject, '/', &prefix, &id);
    return mb_subjects_unknown(s->ledger, s->arena,
                               mb_arena_copy(s->arena, prefix.at, prefix.len), id, s->err);
}

static enum mb_rc show_all(struct showing *s)
{
    enum mb_rc rc;

    mb_json_put(s->arena, s->out, "subject", mb_json_string_str(s->arena, s->tale.sub));
    put_now(s);
    rc = put_entries(s);
    if (!rc)
        rc = put_stays(s);
    if (!rc)
        rc = put_account(s);
    if (!rc)
        rc = put_warnings(s);
    return rc;
}

enum mb_rc mb_show(mb_ledger *ledger, mb_arena *arena, const char *subject, const char *as_of,
                   const mb_json **out, struct mb_error *err)
{
    struct showing s = { .ledger = ledger, .arena = arena, .err = err };
    int64_t before;
    enum mb_rc rc;

    if (!strchr(subject, '/') && strcmp(subject, "ledger") != 0)
        subject = mb_arena_printf(arena, "specimen/%s", subject);
    if (!mb_subject_ok(mb_str_of(subject)))
        return mb_fail(err, MB_REFUSED,
                       "'%s' is no subject; write it like specimen/26-0115 or site/S001", subject);
    rc = mb_views_before(ledger, as_of, &before, err);
    if (!rc)
        rc = mb_tale_read(ledger->log, arena, mb_str_of(subject), before, &s.tale, err);
    if (!rc && s.tale.count == 0)
        rc = not_there(&s, mb_str_of(subject), as_of);
    if (!rc)
        rc = mb_views_begin_for(ledger, as_of, s.tale.sub, &s.views, err);
    if (rc)
        return rc;
    s.out = mb_json_object(arena);
    rc = show_all(&s);
    mb_views_end(&s.views);
    if (!rc)
        *out = s.out;
    return rc;
}
