/*
 * Which subjects are replayed, and in which order.
 *
 * v_work holds what is still to be done: first the labels of people, places and layers and the keys
 * (phase 1), then all rows (phase 2), each in the order in which the subjects began, so that what
 * came out of something is replayed behind it. A subject whose label changed, or that hands on
 * something else than before, puts into v_work those that take it over. The work is done in
 * transactions of some thousand subjects; v_work and v_stamp are part of each, so whoever comes
 * next goes on where the last one stopped.
 */
#include <string.h>

#include "keyring.h"
#include "text.h"
#include "views_priv.h"

enum { TURN_MOST = 4000, FEW_NEW = 500 };

/* ---- what there is to do ---- */

static bool is_label_first(struct mb_str sub)
{
    return mb_str_starts(sub, "party/") || mb_str_starts(sub, "site/")
           || mb_str_starts(sub, "horizon/") || mb_str_starts(sub, "key/")
           || mb_str_is(sub, "ledger");
}

static void put_work(struct mb_views_run *run, int64_t at, struct mb_str sub)
{
    for (int phase = is_label_first(sub) ? 1 : 2; phase <= 2; phase++) {
        mb_put(run, V_WORK_PUT);
        mb_put_int(run, phase);
        mb_put_int(run, at);
        mb_put_text(run, sub);
        mb_put_end(run);
    }
}

void mb_run_subject(struct mb_views_run *run, mb_arena *arena, struct mb_str sub)
{
    int64_t seq, nth;
    struct mb_str first;
    enum mb_rc rc = mb_log_head(run->log, arena, sub, run->before, &seq, &nth, &first, run->err);
    int64_t *seqs;
    size_t count;

    if (rc == MB_NO)
        return;
    if (!rc)
        rc = mb_log_chain(run->log, arena, sub, run->before, &seqs, &count, run->err);
    if (!mb_run_failed(run, rc) && count)
        put_work(run, seqs[0], first);
}

/* Each of a few new entries is read for its subject. */
static void work_of_few(struct mb_views_run *run, int64_t from)
{
    mb_arena *arena = mb_arena_new();

    for (int64_t seq = from; seq < run->before && !run->rc; seq++) {
        struct mb_entry entry;

        mb_arena_reset(arena);
        if (!mb_run_failed(run, mb_log_entry(run->log, arena, seq, &entry, run->err)))
            mb_run_subject(run, arena, entry.sub);
    }
    mb_arena_free(arena);
}

/* The index of subjects is read as a whole: one pass, chain by chain. */
static void work_of_many(struct mb_views_run *run, int64_t from)
{
    mb_arena *arena = mb_arena_new();
    struct mb_str sub = { NULL, 0 };
    int64_t first = 0;
    bool taken = false;
    mb_stmt *stmt = NULL;

    mb_run_failed(run, mb_stmt_make(mb_log_db(run->log),
                                    "SELECT sub, nth, seq FROM line ORDER BY sub, nth", &stmt,
                                    run->err));
    while (mb_run_row(run, stmt)) {
        int64_t seq = mb_col_int(stmt, 2);

        if (mb_col_int(stmt, 1) == 0) {
            mb_arena_reset(arena);
            sub = mb_arena_str(arena, mb_col_text(stmt, 0));
            first = seq;
            taken = false;
        }
        if (!taken && sub.at && seq >= from && seq < run->before && first < run->before) {
            put_work(run, first, sub);
            taken = true;
        }
    }
    mb_stmt_free(stmt);
    mb_arena_free(arena);
}

/* ---- doing it ---- */

static bool is_specimen(const struct mb_tale *tale)
{
    return mb_str_is(tale->prefix, "specimen");
}

/* What the views say of this subject already; false if nothing. The text lives in the arena. */
static bool stored_subject(struct mb_views_run *run, struct mb_str sub, struct mb_str *label)
{
    mb_stmt *stmt = mb_run_stmt(run, V_SUBJECT_GET);
    bool replayed = false;

    *label = (struct mb_str){ NULL, 0 };
    if (!stmt)
        return false;
    mb_bind_text(stmt, 1, sub);
    if (mb_run_row(run, stmt)) {
        replayed = mb_col_int(stmt, 1) > 0;
        if (mb_col_type(stmt, 2) == MB_COL_TEXT)
            *label = mb_arena_str(run->arena, mb_col_text(stmt, 2));
        mb_stmt_reset(stmt);
    }
    return replayed;
}

static bool same_text(struct mb_str a, struct mb_str b)
{
    return a.at == NULL || b.at == NULL ? a.at == b.at : mb_str_equal(a, b);
}

/* Phase 1: the label, and whoever speaks of it where it is a new one. */
static void tell_label(struct mb_views_run *run, const struct mb_tale *tale)
{
    struct mb_str before, label = mb_tale_label(tale);

    mb_keys_put(run, tale);
    stored_subject(run, tale->sub, &before);
    mb_put(run, V_LABEL_PUT);
    mb_put_text(run, tale->sub);
    mb_put_text(run, tale->prefix);
    mb_put_int(run, tale->entries[0].seq);
    mb_put_int(run, tale->entries[tale->count - 1].seq);
    mb_put_text(run, label);
    mb_put_end(run);
    if (!same_text(before, label)) {
        memset(run->names, 0, sizeof run->names);
        mb_arena_reset(run->names_arena);
        mb_drop(run, V_MENTION_BY, tale->sub);
    }
}

/* Phase 2: all rows. */
static void tell_all(struct mb_views_run *run, const struct mb_tale *tale)
{
    struct mb_str label, handed_on = { NULL, 0 };
    struct mb_account account;
    struct mb_held held;
    bool stored = stored_subject(run, tale->sub, &label);

    if (stored && is_specimen(tale))
        handed_on = mb_specimen_handed_on(run, tale->sub);
    if (stored) {
        mb_entries_drop(run, tale);
        mb_rows_drop(run, tale);
        if (is_specimen(tale))
            mb_specimen_drop(run, tale);
    }
    label = mb_tale_label(tale);
    if (is_specimen(tale)) {
        if (mb_run_failed(run,
                          mb_account_of(run->log, tale, run->before, &account, run->err)))
            return;
        mb_held_of(tale, &account, &held);
        label = mb_specimen_put(run, tale, &account, &held);
    }
    mb_entries_put(run, tale, label);
    mb_rows_put(run, tale, is_specimen(tale) ? &held : NULL);
    if (is_specimen(tale)
        && !same_text(handed_on, mb_specimen_handed_on(run, tale->sub)))
        mb_drop(run, V_CHILDREN, tale->sub);
}

bool mb_run_next(struct mb_views_run *run)
{
    mb_stmt *stmt = mb_run_stmt(run, V_WORK_NEXT);
    struct mb_tale tale;
    struct mb_str sub;
    int64_t phase, at;

    mb_arena_reset(run->arena);
    if (!mb_run_row(run, stmt))
        return false;
    phase = mb_col_int(stmt, 0);
    at = mb_col_int(stmt, 1);
    sub = mb_arena_str(run->arena, mb_col_text(stmt, 2));
    mb_stmt_reset(stmt);
    mb_put(run, V_WORK_DROP);
    mb_put_int(run, phase);
    mb_put_int(run, at);
    mb_put_text(run, sub);
    mb_put_end(run);
    if (mb_run_failed(run, mb_tale_read(run->log, run->arena, sub, run->before, &tale, run->err)))
        return false;
    if (tale.count && phase == 1)
        tell_label(run, &tale);
    else if (tale.count)
        tell_all(run, &tale);
    return !run->rc;
}

/* ---- one turn ---- */

/* How far the stored views go: 0 where the log is not the one that they were made from. */
static int64_t stamped(struct mb_views_run *run, bool *work)
{
    mb_stmt *stmt = mb_run_stmt(run, V_STAMP_GET);
    struct mb_hash leaf, stored;
    int64_t entries = 0;

    *work = false;
    if (!mb_run_row(run, stmt))
        return 0;
    entries = mb_col_int(stmt, 0);
    memset(&stored, 0, sizeof stored);
    if (mb_col_blob(stmt, 1).len == sizeof stored.b)
        memcpy(stored.b, mb_col_blob(stmt, 1).at, sizeof stored.b);
    *work = mb_col_int(stmt, 2) > 0;
    mb_stmt_reset(stmt);
    if (entries == 0)
        return 0;
    if (entries > run->before)
        return -1;
    if (mb_run_failed(run, mb_log_leaf(run->log, entries - 1, &leaf, run->err)))
        return 0;
    return mb_hash_equal(&leaf, &stored) ? entries : -1;
}

static void put_stamp(struct mb_views_run *run)
{
    struct mb_hash leaf;

    if (run->before == 0
        || mb_run_failed(run, mb_log_leaf(run->log, run->before - 1, &leaf, run->err)))
        return;
    mb_put(run, V_STAMP_PUT);
    mb_put_int(run, run->before);
    if (run->now)
        mb_bind_blob(run->now, 2, leaf.b, sizeof leaf.b);
    mb_put_end(run);
}

static void find_work(struct mb_views_run *run, int64_t from)
{
    if (from >= run->before)
        return;
    if (run->before - from <= FEW_NEW)
        work_of_few(run, from);
    else
        work_of_many(run, from);
    put_stamp(run);
}

/* Erased words would stay in the search index until it is next made small. */
static void forget_words(struct mb_views_run *run)
{
    if (!run->rc && run->erased)
        mb_run_failed(run, mb_db_run(run->db,
                                     "INSERT INTO v_search (v_search) VALUES ('optimize')",
                                     run->err));
    run->erased = false;
}

/* One transaction: what is new, and some thousand subjects. *done if nothing is left. */
static void take_turn(struct mb_views_run *run, int64_t before, bool *done)
{
    int64_t from, size;
    bool work, more = true;

    *done = false;
    if (mb_run_failed(run, mb_views_shape(run->db, run->err))
        || mb_run_failed(run, mb_log_size(run->log, &size, run->err)))
        return;
    run->before = before < size ? before : size;
    from = stamped(run, &work);
    if (from < 0) {
        /* another log than the one that these were made from: a backup was put in place */
        mb_views_run_end(run);
        mb_views_run_begin(run, run->log, run->db, run->err);
        run->before = before < size ? before : size;
        if (mb_run_failed(run, mb_views_drop(run->db, run->err))
            || mb_run_failed(run, mb_views_shape(run->db, run->err)))
            return;
        from = 0;
    }
    find_work(run, from);
    for (int i = 0; i < TURN_MOST && more; i++)
        more = mb_run_next(run);
    forget_words(run);
    if (!more && !run->rc && (from < run->before || work))
        mb_run_failed(run, mb_views_index(run->db, run->err));
    *done = !more;
}

enum mb_rc mb_views_catch_up(mb_log *log, mb_db *db, int64_t before, struct mb_error *err)
{
    struct mb_views_run run;
    bool done = false;

    mb_views_run_begin(&run, log, db, err);
    while (!run.rc && !done) {
        if (mb_run_failed(&run, mb_db_begin(db, err)))
            break;
        take_turn(&run, before, &done);
        if (!run.rc)
            mb_run_failed(&run, mb_db_commit(db, err));
        if (run.rc)
            mb_db_rollback(db);
        memset(run.names, 0, sizeof run.names);
        mb_arena_reset(run.names_arena);
    }
    mb_views_run_end(&run);
    return run.rc;
}
