/* The story of one subject, out of the views. */
#include <markerbed/show.h>

#include <string.h>

#include "kinds.h"
#include "text.h"
#include "views.h"

struct showing {
    mb_ledger *ledger;
    mb_arena *arena;
    mb_db *db;
    struct mb_str subject;
    mb_json *out;
    struct mb_error *err;
};

static mb_json *column(struct showing *s, mb_stmt *stmt, int at)
{
    if (mb_col_type(stmt, at) == MB_COL_INT)
        return mb_json_integer(s->arena, mb_col_int(stmt, at));
    return mb_json_string_str(s->arena, mb_col_text(stmt, at));
}

/* Rows of a query about the subject as objects; columns that are NULL are left out. */
static enum mb_rc rows_into(struct showing *s, const char *sql, mb_json *list)
{
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc = mb_stmt_make(s->db, sql, &stmt, s->err);

    if (rc)
        return rc;
    mb_bind_text(stmt, 1, s->subject);
    while (!(rc = mb_stmt_step(stmt, &row, s->err)) && row) {
        mb_json *item = mb_json_add(list, mb_json_object(s->arena));

        for (int i = 0; i < mb_col_count(stmt); i++)
            if (mb_col_type(stmt, i) == MB_COL_INT && mb_col_int(stmt, i) < 0)
                mb_json_put(s->arena, item, mb_col_name(stmt, i),
                            mb_json_string_str(s->arena, mb_col_text(stmt, i)));
            else if (mb_col_type(stmt, i) != MB_COL_NULL)
                mb_json_put(s->arena, item, mb_col_name(stmt, i), column(s, stmt, i));
    }
    mb_stmt_free(stmt);
    return rc;
}

static enum mb_rc put_rows(struct showing *s, const char *name, const char *sql)
{
    mb_json *list = mb_json_array(s->arena);

    mb_json_put(s->arena, s->out, name, list);
    return rows_into(s, sql, list);
}

static enum mb_rc find_subject(struct showing *s, const char *subject)
{
    int64_t seq, nth;
    const char *full = strchr(subject, '/') || strcmp(subject, "ledger") == 0
                           ? subject
                           : mb_arena_printf(s->arena, "specimen/%s", subject);
    enum mb_rc rc = mb_log_head(s->ledger->log, s->arena, mb_str_of(full), MB_NEVER, &seq, &nth,
                                &s->subject, s->err);

    if (rc == MB_NO)
        return mb_fail(s->err, MB_REFUSED,
                       "nothing is recorded about '%s'; `markerbed find WORDS` searches", full);
    return rc;
}

static enum mb_rc put_fields(struct showing *s, mb_json *entry)
{
    mb_json *fields = mb_json_object(s->arena);
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc = mb_stmt_make(s->db,
                                 "SELECT name, value, class, from_seq FROM v_field WHERE seq = ?1",
                                 &stmt, s->err);

    if (rc)
        return rc;
    mb_bind_int(stmt, 1, mb_json_int(mb_json_get(entry, "seq"), -1));
    while (!(rc = mb_stmt_step(stmt, &row, s->err)) && row) {
        mb_json *field = mb_json_object(s->arena);
        int64_t from = mb_col_int(stmt, 3);

        mb_json_put(s->arena, field, "value", mb_json_string_str(s->arena, mb_col_text(stmt, 1)));
        mb_json_put(s->arena, field, "class", mb_json_string_str(s->arena, mb_col_text(stmt, 2)));
        if (from != mb_json_int(mb_json_get(entry, "seq"), -1))
            mb_json_put_int(s->arena, field, "corrected", from);
        mb_json_put_str(s->arena, fields, mb_col_text(stmt, 0), field);
    }
    mb_stmt_free(stmt);
    mb_json_put(s->arena, entry, "fields", fields);
    return rc;
}

static enum mb_rc put_entries(struct showing *s)
{
    mb_json *list = mb_json_array(s->arena);
    enum mb_rc rc = rows_into(s,
                              "SELECT e.seq, e.iat, e.recorded_at AS recordedAt, e.kind, e.day,"
                              " e.leaf, e.line, e.voided_by AS voided, e.kid AS \"by\""
                              " FROM v_entry e WHERE e.sub = ?1 ORDER BY e.nth",
                              list);

    mb_json_put(s->arena, s->out, "entries", list);
    for (mb_json *entry = list->first; !rc && entry; entry = entry->next) {
        const struct mb_kind *kind = mb_kind_find(mb_json_str(mb_json_get(entry, "kind")));

        if (kind)
            mb_json_put_text(s->arena, entry, "title", kind->title);
        rc = put_fields(s, entry);
    }
    return rc;
}

/* What is said last of each field, whichever entry says it. */
static void put_now(struct showing *s)
{
    mb_json *now = mb_json_object(s->arena);

    MB_JSON_EACH(entry, mb_json_get(s->out, "entries"))
    {
        if (mb_json_get(entry, "voided")
            || mb_json_text_is(mb_json_get(entry, "kind"), "correction"))
            continue;
        MB_JSON_EACH(field, mb_json_get(entry, "fields"))
        {
            mb_json *copy = mb_json_object(s->arena);

            mb_json_put(s->arena, copy, "value",
                        mb_json_copy(s->arena, mb_json_get(field, "value")));
            mb_json_put(s->arena, copy, "seq", mb_json_copy(s->arena, mb_json_get(entry, "seq")));
            if (mb_json_get(field, "corrected"))
                mb_json_put(s->arena, copy, "corrected",
                            mb_json_copy(s->arena, mb_json_get(field, "corrected")));
            mb_json_put_str(s->arena, now, field->name, copy);
        }
    }
    mb_json_put(s->arena, s->out, "now", now);
}

static enum mb_rc put_account(struct showing *s)
{
    mb_json *account = mb_json_object(s->arena), *changes = mb_json_array(s->arena);
    mb_json *balance = mb_json_array(s->arena);
    enum mb_rc rc = rows_into(s,
                              "SELECT seq, day, change, why FROM v_quantity WHERE sub = ?1"
                              " ORDER BY seq",
                              changes);

    if (!rc)
        rc = rows_into(s, "SELECT pieces FROM v_balance WHERE sub = ?1", balance);
    if (rc || changes->count == 0)
        return rc;
    mb_json_put(s->arena, account, "changes", changes);
    if (balance->first)
        mb_json_put(s->arena, account, "pieces",
                    mb_json_copy(s->arena, mb_json_get(balance->first, "pieces")));
    mb_json_put(s->arena, s->out, "account", account);
    return MB_OK;
}

/* What does not agree, said at once and not only in an audit. */
static void put_warnings(struct showing *s)
{
    mb_json *list = mb_json_array(s->arena);
    const mb_json *pieces = mb_json_get(mb_json_get(s->out, "account"), "pieces");

    if (mb_json_is(pieces, MB_JSON_STRING)) /* below zero: no JSON integer of ours */
        mb_json_add_text(s->arena, list,
                         mb_arena_printf(s->arena,
                                         "More pieces were given out than there were: %.*s.",
                                         MB_STR_ARG(pieces->text)));
    mb_json_put(s->arena, s->out, "warnings", list);
}

enum mb_rc mb_show(mb_ledger *ledger, mb_arena *arena, const char *subject, const char *as_of,
                   const mb_json **out, struct mb_error *err)
{
    struct showing s = { .ledger = ledger, .arena = arena, .err = err };
    bool own;
    enum mb_rc rc = find_subject(&s, subject);

    if (!rc)
        rc = mb_views_at(ledger, as_of, &s.db, &own, err);
    if (rc)
        return rc;
    s.out = mb_json_object(arena);
    mb_json_put(arena, s.out, "subject", mb_json_string_str(arena, s.subject));
    rc = put_entries(&s);
    if (!rc && mb_json_get(s.out, "entries")->count == 0)
        rc = mb_fail(err, MB_REFUSED, "nothing had been recorded about '%.*s' by then",
                     MB_STR_ARG(s.subject));
    if (!rc)
        put_now(&s);
    if (!rc)
        rc = put_rows(&s, "holders",
                      "SELECT seq, handed_over AS \"from\", until, to_party AS party,"
                      " to_label AS label, reason, acknowledged FROM v_custody WHERE sub = ?1"
                      " ORDER BY day_first, seq");
    if (!rc)
        rc = put_rows(&s, "owners",
                      "SELECT seq, date AS \"from\", until, to_party AS party, to_label AS label,"
                      " manner, acknowledged FROM v_title WHERE sub = ?1 ORDER BY day_first, seq");
    if (!rc)
        rc = put_account(&s);
    if (!rc)
        put_warnings(&s);
    if (own)
        mb_db_close(s.db);
    if (!rc)
        *out = s.out;
    return rc;
}
