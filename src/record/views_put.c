/* Statements and rows of a replay, with a failure that sticks. */
#include <math.h>
#include <string.h>

#include "text.h"
#include "views_priv.h"

static const char *const sql_of[V_SQL_COUNT] = {
    [V_SUBJECT_GET] = "SELECT first_seq, entries, label FROM v_subject WHERE sub = ?1",
    [V_SUBJECT_PUT] = "INSERT OR REPLACE INTO v_subject"
                      " (sub, prefix, first_seq, last_seq, entries, label)"
                      " VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    [V_LABEL_PUT] = "INSERT INTO v_subject (sub, prefix, first_seq, last_seq, entries, label)"
                    " VALUES (?1, ?2, ?3, ?4, 0, ?5)"
                    " ON CONFLICT (sub) DO UPDATE SET label = excluded.label",
    [V_ENTRY_PUT] = "INSERT INTO v_entry (seq, sub, nth, kind, iat, recorded_at, recorded_day, kid,"
                    " signer, voided_by, corrected_by, event_date, event_day_first, event_day_last,"
                    " line) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14,"
                    " ?15)",
    [V_ENTRY_DROP] = "DELETE FROM v_entry WHERE seq = ?1",
    [V_FIELD_PUT] = "INSERT INTO v_field (seq, name, value, value_json, class, from_seq, corrected)"
                    " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
    [V_FIELD_DROP] = "DELETE FROM v_field WHERE seq = ?1",
    [V_CORRECTION_PUT] = "INSERT INTO v_correction (seq, sub, target, action, why, changes_facts,"
                         " moved_to, counts) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
    [V_CORRECTION_DROP] = "DELETE FROM v_correction WHERE seq = ?1",
    [V_CHANGE_PUT] = "INSERT INTO v_change (seq, name, target, value_before, value_after, counts)"
                     " VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    [V_CHANGE_DROP] = "DELETE FROM v_change WHERE seq = ?1",
    [V_MENTION_PUT] = "INSERT OR IGNORE INTO v_mention (sub, ref) VALUES (?1, ?2)",
    [V_MENTION_DROP] = "DELETE FROM v_mention WHERE sub = ?1",
    [V_MENTION_BY] = "INSERT OR IGNORE INTO v_work (phase, at, sub)"
                     " SELECT 2, s.first_seq, s.sub FROM v_mention m JOIN v_subject s USING (sub)"
                     " WHERE m.ref = ?1 AND s.entries > 0",
    [V_SEARCH_PUT] = "INSERT INTO v_search (rowid, id, label, words, around)"
                     " VALUES (?1, ?2, ?3, ?4, ?5)",
    [V_SEARCH_DROP] = "DELETE FROM v_search WHERE rowid = ?1",
    [V_KEY_GET] = "SELECT holder, enrolled FROM v_key WHERE kid = ?1",
    [V_KEY_PUT] = "INSERT OR REPLACE INTO v_key (kid, holder, may, founding, enrolled, enrolled_by,"
                  " retired, retired_why, suspect_from)"
                  " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
    [V_QUANTITY_PUT] = "INSERT INTO v_quantity (sub, seq, n, day, change, counts, balance, why)"
                       " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
    [V_QUANTITY_DROP] = "DELETE FROM v_quantity WHERE sub = ?1",
    [V_DIVISION_PUT] = "INSERT INTO v_division (seq, sub, date, day, purpose, remains, consent,"
                       " quantity_before, given, consumed, remainder, difference)"
                       " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
    [V_DIVISION_DROP] = "DELETE FROM v_division WHERE seq = ?1",
    [V_LINK_PUT] = "INSERT INTO v_link (seq, n, sub, parent, child, how, relation, quantity, form,"
                   " note, other_seq) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
    [V_LINK_DROP] = "DELETE FROM v_link WHERE seq = ?1",
    [V_CHILDREN] = "INSERT OR IGNORE INTO v_work (phase, at, sub)"
                   " SELECT 2, s.first_seq, s.sub FROM v_link l JOIN v_subject s ON s.sub = l.child"
                   " WHERE l.parent = ?1 AND s.entries > 0 AND s.sub <> ?1"
                   " AND l.how IN ('division', 'came out', 'joining', 'joined')",
    [V_HOLDER_PUT] = "INSERT INTO v_holder (sub, n, party, label, from_day, until_day, seq_in,"
                     " seq_out) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
    [V_HOLDER_DROP] = "DELETE FROM v_holder WHERE sub = ?1",
    [V_OWNER_PUT] = "INSERT INTO v_owner (sub, n, party, label, part, from_day, until_day, seq_in,"
                    " seq_out) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
    [V_OWNER_DROP] = "DELETE FROM v_owner WHERE sub = ?1",
    [V_SPECIMEN_PUT] =
        "INSERT INTO v_specimen (sub, id, first_seq, begins_as, what, object_form, material_class,"
        " what_it_is, vernacular_name, scientific_name, verbatim_identification, preservation,"
        " type_status, parent, site, horizon, permission, field_day, event_date, event_day_first,"
        " event_day_last, recorded_by, quantity_in, quantity_out, quantity_counted, quantity_now,"
        " quantity_lowest, overdrawn, quantity_how, holder, holder_label, owner, owner_label,"
        " status, last_condition, certificates)"
        " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18,"
        " ?19, ?20, ?21, ?22, ?23, ?24, ?25, ?26, ?27, ?28, ?29, ?30, ?31, ?32, ?33, ?34, ?35,"
        " ?36)",
    [V_SPECIMEN_DROP] = "DELETE FROM v_specimen WHERE sub = ?1",
    [V_SPECIMEN_FACTS] =
        "SELECT first_seq, what, material_class, site, horizon, permission, field_day, event_date,"
        " recorded_by FROM v_specimen WHERE sub = ?1",
    /* what a part held matters to the whole that it was joined into */
    [V_HANDED_ON] =
        "SELECT json_array(what, material_class, site, horizon, permission, field_day, event_date,"
        " recorded_by, CASE WHEN EXISTS (SELECT 1 FROM v_link WHERE parent = s.sub"
        " AND how = 'joining') THEN (SELECT json_group_array(x) FROM (SELECT seq || ' ' || balance"
        " AS x FROM v_quantity q WHERE q.sub = s.sub ORDER BY seq, n)) END)"
        " FROM v_specimen s WHERE s.sub = ?1",
    [V_WORK_PUT] = "INSERT OR IGNORE INTO v_work (phase, at, sub) VALUES (?1, ?2, ?3)",
    [V_WORK_NEXT] = "SELECT phase, at, sub FROM v_work ORDER BY phase, at, sub LIMIT 1",
    [V_WORK_DROP] = "DELETE FROM v_work WHERE phase = ?1 AND at = ?2 AND sub = ?3",
    [V_STAMP_GET] = "SELECT entries, leaf, (SELECT count(*) FROM (SELECT 1 FROM v_work LIMIT 1))"
                    " FROM v_stamp",
    [V_STAMP_PUT] = "UPDATE v_stamp SET entries = ?1, leaf = ?2",
};

void mb_views_run_begin(struct mb_views_run *run, mb_log *log, mb_db *db, struct mb_error *err)
{
    *run = (struct mb_views_run){ .log = log, .db = db, .err = err };
    run->arena = mb_arena_new();
    run->names_arena = mb_arena_new();
}

void mb_views_run_end(struct mb_views_run *run)
{
    for (size_t i = 0; i < V_SQL_COUNT; i++)
        run->stmts[i] = mb_stmt_free(run->stmts[i]);
    for (size_t i = 0; i < MB_VIEW_TABLES_MOST; i++) {
        run->put[i] = mb_stmt_free(run->put[i]);
        run->drop[i] = mb_stmt_free(run->drop[i]);
    }
    run->arena = mb_arena_free(run->arena);
    run->names_arena = mb_arena_free(run->names_arena);
}

bool mb_run_failed(struct mb_views_run *run, enum mb_rc rc)
{
    if (!run->rc)
        run->rc = rc;
    return run->rc != MB_OK;
}

mb_stmt *mb_run_stmt_of(struct mb_views_run *run, mb_stmt **kept, const char *sql)
{
    if (run->rc)
        return NULL;
    if (!*kept && mb_run_failed(run, mb_stmt_make(run->db, sql, kept, run->err)))
        return NULL;
    return *kept;
}

mb_stmt *mb_run_stmt(struct mb_views_run *run, enum mb_view_sql which)
{
    return mb_run_stmt_of(run, &run->stmts[which], sql_of[which]);
}

void mb_put_stmt(struct mb_views_run *run, mb_stmt *stmt)
{
    run->now = stmt;
    run->at = 1;
}

void mb_put(struct mb_views_run *run, enum mb_view_sql which)
{
    mb_put_stmt(run, mb_run_stmt(run, which));
}

void mb_put_int(struct mb_views_run *run, int64_t value)
{
    if (run->now)
        mb_bind_int(run->now, run->at++, value);
}

void mb_put_if(struct mb_views_run *run, bool known, int64_t value)
{
    if (known)
        mb_put_int(run, value);
    else
        mb_put_null(run);
}

void mb_put_seq(struct mb_views_run *run, int64_t seq)
{
    mb_put_if(run, seq >= 0, seq);
}

void mb_put_text(struct mb_views_run *run, struct mb_str value)
{
    if (run->now)
        mb_bind_text(run->now, run->at++, value);
}

void mb_put_word(struct mb_views_run *run, const char *value)
{
    mb_put_text(run, mb_str_of(value));
}

void mb_put_real(struct mb_views_run *run, double value)
{
    if (isnan(value))
        mb_put_null(run);
    else if (run->now)
        mb_bind_double(run->now, run->at++, value);
}

void mb_put_null(struct mb_views_run *run)
{
    if (run->now)
        mb_bind_null(run->now, run->at++);
}

void mb_put_end(struct mb_views_run *run)
{
    if (run->now && !run->rc)
        run->rc = mb_stmt_do(run->now, run->err);
    run->now = NULL;
}

void mb_drop(struct mb_views_run *run, enum mb_view_sql which, struct mb_str sub)
{
    mb_put(run, which);
    mb_put_text(run, sub);
    mb_put_end(run);
}

void mb_drop_seq(struct mb_views_run *run, enum mb_view_sql which, int64_t seq)
{
    mb_put(run, which);
    mb_put_int(run, seq);
    mb_put_end(run);
}

bool mb_run_row(struct mb_views_run *run, mb_stmt *stmt)
{
    bool row = false;

    if (!stmt || run->rc)
        return false;
    run->rc = mb_stmt_step(stmt, &row, run->err);
    return row && !run->rc;
}
