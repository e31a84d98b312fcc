/*
 * Which subjects are replayed, and in which order.
 *
 * v_work holds what is still to be done: first the labels of people, places and layers and the keys
 * (phase 1), then all rows (phase 2), each in the order in which the subjects began, so that what
 * came out of something is replayed behind it. A subject whose label changed, or that hands on
 * something else than before, puts into v_work those that take it over. The work is done in
 * transactions of some thousand subjects; v_work and v_stamp are part of each, so whoever comes next
 * goes on where the last one stopped.
 */
#include <string.h>

#include "asset.h"
#include "keyring.h"
#include "sha256.h"
#include "text.h"
#include "views_priv.h"

enum { TURN_MOST = 4000, FEW_NEW = 500, MEMORY_MOST = 20000 };

#define LATER "-- ==\n"

/* ---- shape ---- */

static const char *schema_text(void)
{
    return mb_asset_find("views.sql")->data;
}

static void schema_digest(char out[MB_HEX_LEN(32) + 1])
{
    const struct mb_asset *asset = mb_asset_find("views.sql");
    struct mb_hash hash = mb_sha256(asset->data, asset->size);

    mb_hex_write(out, hash.b, sizeof hash.b);
}

/* One text, or -1, out of a statement without parameters. */
static enum mb_rc ask(mb_db *db, mb_arena *arena, const char *sql, struct mb_str *text,
                      int64_t *number, struct mb_error *err)
{
    mb_stmt *stmt;
    bool row = false;
    enum mb_rc rc = mb_stmt_make(db, sql, &stmt, err);

    if (rc)
        return rc;
    rc = mb_stmt_step(stmt, &row, err);
    if (!rc && row && text && mb_col_type(stmt, 0) == MB_COL_TEXT)
        *text = mb_arena_str(arena, mb_col_text(stmt, 0));
    if (!rc && row && number)
        *number = mb_col_int(stmt, 0);
    mb_stmt_free(stmt);
    return rc;
}

static enum mb_rc drop_one(mb_db *db, mb_arena *arena, const char *sql, bool *any,
                           struct mb_error *err)
{
    struct mb_str drop = { NULL, 0 };
    enum mb_rc rc = ask(db, arena, sql, &drop, NULL, err);

    *any = drop.at != NULL;
    if (!rc && drop.at)
        rc = mb_db_run(db, drop.at, err);
    return rc;
}

/* Views, then the search with its own tables, then tables; indexes go with them. */
enum mb_rc mb_views_drop(mb_db *db, struct mb_error *err)
{
    static const char *const next[] = {
        "SELECT 'DROP VIEW ' || name FROM sqlite_schema WHERE type = 'view'"
        " AND name GLOB 'v_*' LIMIT 1",
        "SELECT 'DROP TABLE ' || name FROM sqlite_schema WHERE type = 'table'"
        " AND name GLOB 'v_*' AND sql LIKE 'CREATE VIRTUAL%' LIMIT 1",
        "SELECT 'DROP TABLE ' || name FROM sqlite_schema WHERE type = 'table'"
        " AND name GLOB 'v_*' LIMIT 1",
    };
    mb_arena *arena = mb_arena_new();
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; i < sizeof next / sizeof *next && !rc; i++) {
        bool any = true;

        while (any && !rc)
            rc = drop_one(db, arena, next[i], &any, err);
    }
    mb_arena_free(arena);
    return rc;
}

static enum mb_rc make(mb_db *db, const char *digest, struct mb_error *err)
{
    mb_arena *arena = mb_arena_new();
    const char *text = schema_text(), *later = strstr(text, LATER);
    enum mb_rc rc;

    rc = mb_db_run(db, mb_arena_copy(arena, text, (size_t)(later - text)), err);
    if (!rc)
        rc = mb_db_run(db,
                       mb_arena_printf(arena,
                                       "INSERT INTO v_stamp (id, entries, leaf, schema)"
                                       " VALUES (1, 0, NULL, '%s')",
                                       digest),
                       err);
    mb_arena_free(arena);
    return rc;
}

static enum mb_rc has_stamp(mb_db *db, int64_t *there, struct mb_error *err)
{
    *there = 0;
    return ask(db, NULL, "SELECT count(*) FROM sqlite_schema WHERE name = 'v_stamp'", NULL, there,
               err);
}

enum mb_rc mb_views_shape(mb_db *db, struct mb_error *err)
{
    char digest[MB_HEX_LEN(32) + 1];
    struct mb_str stored = { NULL, 0 };
    mb_arena *arena = mb_arena_new();
    int64_t there;
    enum mb_rc rc = has_stamp(db, &there, err);

    schema_digest(digest);
    if (!rc && there)
        rc = ask(db, arena, "SELECT schema FROM v_stamp", &stored, NULL, err);
    if (!rc && !mb_str_is(stored, digest)) {
        rc = mb_views_drop(db, err);
        if (!rc)
            rc = make(db, digest, err);
    }
    mb_arena_free(arena);
    return rc;
}

enum mb_rc mb_views_current(mb_log *log, mb_db *db, bool *current, int64_t *entries,
                            struct mb_error *err)
{
    char digest[MB_HEX_LEN(32) + 1];
    int64_t there, size = 0;
    struct mb_hash leaf;
    mb_stmt *stmt;
    bool row = false, fits = false;
    enum mb_rc rc = has_stamp(db, &there, err);

    *current = false;
    *entries = 0;
    if (rc || !there)
        return rc;
    schema_digest(digest);
    rc = mb_log_size(log, &size, err);
    if (!rc)
        rc = mb_stmt_make(db,
                          "SELECT entries, leaf, schema, (SELECT count(*) FROM"
                          " (SELECT 1 FROM v_work LIMIT 1)) FROM v_stamp",
                          &stmt, err);
    if (rc)
        return rc;
    rc = mb_stmt_step(stmt, &row, err);
    if (!rc && row && mb_str_is(mb_col_text(stmt, 2), digest)) {
        *entries = mb_col_int(stmt, 0);
        if (*entries > 0 && *entries <= size)
            rc = mb_log_leaf(log, *entries - 1, &leaf, err);
        fits = !rc && *entries > 0 && *entries <= size && mb_col_blob(stmt, 1).len == sizeof leaf.b
               && memcmp(mb_col_blob(stmt, 1).at, leaf.b, sizeof leaf.b) == 0
               && mb_col_int(stmt, 3) == 0;
    }
    mb_stmt_free(stmt);
    *current = fits && *entries == size;
    if (!fits)
        *entries = 0;
    return rc;
}

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

/* Where a subject begins, spelled as it was first. */
static void put_subject(struct mb_views_run *run, mb_arena *arena, struct mb_str sub)
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
            put_subject(run, arena, entry.sub);
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
        ;
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
        if (mb_run_failed(run, mb_account_of(run->log, tale, run->before, run->before, 0, &account,
                                             run->err)))
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

/* The next subject; false where there is none, or after a failure. */
static bool do_next(struct mb_views_run *run)
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

static void finish(struct mb_views_run *run)
{
    const char *later = strstr(schema_text(), LATER);

    if (!run->rc)
        mb_run_failed(run, mb_db_run(run->db, later + strlen(LATER), run->err));
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
        more = do_next(run);
    forget_words(run);
    if (!more && !run->rc && (from < run->before || work))
        finish(run);
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

/* ---- a few subjects alone ---- */

/* Whoever a subject speaks of, and its parts. */
static void gather(struct mb_views_run *run, mb_json *all, const mb_json *value)
{
    struct mb_str ref = mb_ref_of(value);

    if (ref.at) {
        MB_JSON_EACH(one, all)
        {
            if (mb_str_equal(one->text, ref))
                return;
        }
        mb_json_add(all, mb_json_string_str(run->names_arena, ref));
    } else if (value->type == MB_JSON_ARRAY || value->type == MB_JSON_OBJECT) {
        MB_JSON_EACH(child, value)
        {
            gather(run, all, child);
        }
    }
}

struct gathering {
    struct mb_views_run *run;
    mb_json *all;
};

static void gather_field(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in)
{
    struct gathering *g = ctx;

    (void)name;
    (void)in;
    gather(g->run, g->all, value);
}

/* A piece that came out of another, or was joined, needs those for what it takes over. */
static bool hands_on(const struct mb_entry *entry)
{
    return mb_str_is(entry->kind, "division") || mb_str_is(entry->kind, "descent")
           || mb_str_is(entry->kind, "joining");
}

static void gather_of(struct mb_views_run *run, mb_json *all, struct mb_str sub, bool asked)
{
    struct gathering g = { run, all };
    struct mb_tale tale;

    mb_arena_reset(run->arena);
    if (mb_run_failed(run, mb_tale_read(run->log, run->arena, sub, run->before, &tale, run->err)))
        return;
    for (size_t i = 0; i < tale.count; i++) {
        const struct mb_entry *entry = &tale.entries[i];
        mb_json *signer = mb_json_object(run->arena);

        if (asked || (hands_on(entry) && i == 0))
            mb_entry_fields(entry, gather_field, &g);
        else if (mb_str_is(entry->kind, "key-enrolment"))
            gather(run, all, mb_entry_open(entry, "holder"));
        if (!asked)
            continue;
        mb_json_put_text(run->arena, signer, "ref",
                         mb_arena_printf(run->arena, "key/%.*s", MB_STR_ARG(entry->kid)));
        gather(run, all, signer);
    }
}

enum mb_rc mb_views_catch_some(mb_log *log, mb_db *db, int64_t before, const struct mb_str *subs,
                               size_t count, struct mb_error *err)
{
    struct mb_views_run run;
    mb_json *all;
    size_t asked = 0;

    mb_views_run_begin(&run, log, db, err);
    run.before = before;
    all = mb_json_array(run.names_arena);
    for (size_t i = 0; i < count; i++)
        mb_json_add(all, mb_json_string_str(run.names_arena, subs[i]));
    mb_run_failed(&run, mb_db_begin(db, err));
    if (!run.rc)
        mb_run_failed(&run, mb_views_shape(db, err));
    /* the list grows while it is gone through; those that were asked for stand first */
    for (mb_json *one = all->first; one && !run.rc; one = one->next) {
        gather_of(&run, all, one->text, asked < count);
        asked++;
        if (!run.rc)
            put_subject(&run, run.arena, one->text);
    }
    while (do_next(&run))
        mb_arena_reset(run.arena);
    if (!run.rc)
        finish(&run);
    if (!run.rc)
        mb_run_failed(&run, mb_db_commit(db, err));
    mb_db_rollback(db);
    mb_views_run_end(&run);
    return run.rc;
}

enum mb_rc mb_views_private(int64_t entries, mb_db **out, struct mb_error *err)
{
    /* a file without a name is SQLite's own temporary one, gone when it is closed */
    enum mb_db_role role = entries <= MEMORY_MOST ? MB_DB_MEMORY : MB_DB_CREATE;
    enum mb_rc rc = mb_db_open("", role, out, err);

    if (rc)
        return rc;
    mb_db_grant(*out, MB_MAY_VIEW);
    rc = mb_db_run(*out, "PRAGMA temp_store=FILE; PRAGMA synchronous=OFF", err);
    if (rc)
        *out = mb_db_close(*out);
    return rc;
}
