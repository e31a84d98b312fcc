/* Appending: the one write path into a ledger. See log.h for the invariants. */
#include "log.h"

#include <string.h>

#include "asset.h"
#include "date.h"
#include "fileio.h"
#include "keyring.h"
#include "log_priv.h"
#include "text.h"

#define CLOCK_BEHIND_S 300            /* machines of one lab disagree by minutes */
#define CLOCK_AHEAD_S (400 * 86400LL) /* longer than a lab's longest pause */

static const char *const sql_of[S_COUNT] = {
    [S_HEAD] = "SELECT l.seq, l.leaf, l.jws FROM log l ORDER BY l.seq DESC LIMIT 1",
    [S_INSERT_LOG] = "INSERT INTO log (seq, leaf, jws) VALUES (?1, ?2, ?3)",
    [S_INSERT_NODE] = "INSERT INTO node (at, hash) VALUES (?1, ?2)",
    [S_INSERT_TAIL] = "INSERT INTO disclosures (seq, tail) VALUES (?1, ?2)",
    [S_INSERT_LINE] = "INSERT INTO line (sub, nth, seq, kind, iat) VALUES (?1, ?2, ?3, ?4, ?5)",
    [S_INSERT_CHECKPOINT] = "INSERT INTO checkpoint (size, note) VALUES (?1, ?2)",
    [S_READ_BACK] = "SELECT leaf, jws FROM log WHERE seq >= ?1 ORDER BY seq",
    [S_SUBJECT_HEAD] = "SELECT seq, nth, sub FROM line WHERE sub = ?1 AND seq < ?2"
                       " ORDER BY nth DESC LIMIT 1",
    [S_CHAIN] = "SELECT seq FROM line WHERE sub = ?1 AND seq < ?2 ORDER BY nth",
    [S_ENTRY] = "SELECT l.jws, d.tail FROM log l LEFT JOIN disclosures d ON d.seq = l.seq"
                " WHERE l.seq = ?1",
    [S_LEAF] = "SELECT leaf FROM log WHERE seq = ?1",
    [S_NODE] = "SELECT hash FROM node WHERE at = ?1",
    [S_CHECKPOINT_NEWEST] = "SELECT size, note FROM checkpoint ORDER BY size DESC LIMIT 1",
    [S_CHECKPOINT_AT] = "SELECT size, note FROM checkpoint WHERE size = ?1",
};

enum mb_rc mb_log_stmt(mb_log *log, enum mb_log_stmt which, mb_stmt **out, struct mb_error *err)
{
    if (!log->stmts[which]) {
        enum mb_rc rc = mb_stmt_make(log->db, sql_of[which], &log->stmts[which], err);

        if (rc)
            return rc;
    }
    *out = log->stmts[which];
    return MB_OK;
}

static const char *db_path(mb_arena *arena, const char *folder)
{
    return mb_path_join(arena, folder, "ledger.db");
}

static mb_log *log_new(mb_arena *arena, const char *folder, enum mb_log_mode mode)
{
    mb_log *log = MB_NEW(arena, mb_log);

    log->arena = arena;
    log->folder = mb_arena_text(arena, folder);
    log->mode = mode;
    return log;
}

enum mb_rc mb_log_create(mb_arena *arena, const char *folder, mb_log **out, struct mb_error *err)
{
    mb_log *log = log_new(arena, folder, MB_LOG_WRITE);
    const struct mb_asset *schema = mb_asset_find("ledger.sql");
    enum mb_rc rc = mb_folder_make(folder, 0755, err);

    if (rc)
        return rc;
    rc = mb_db_open(db_path(arena, folder), MB_DB_CREATE, &log->db, err);
    if (rc)
        return rc;
    mb_db_grant(log->db, MB_MAY_SHAPE | MB_MAY_APPEND);
    rc = mb_db_begin(log->db, err);
    if (!rc)
        rc = mb_db_run(log->db, schema->data, err);
    if (!rc)
        rc = mb_db_commit(log->db, err);
    mb_db_grant(log->db, 0);
    if (rc) {
        mb_log_close(log);
        return rc;
    }
    *out = log;
    return MB_OK;
}

static enum mb_rc read_number(mb_log *log, const char *sql, int64_t *number, struct mb_error *err)
{
    mb_stmt *stmt;
    bool row;
    enum mb_rc rc = mb_stmt_make(log->db, sql, &stmt, err);

    if (rc)
        return rc;
    rc = mb_stmt_step(stmt, &row, err);
    if (!rc && row)
        *number = mb_col_int(stmt, 0);
    mb_stmt_free(stmt);
    return rc;
}

static enum mb_rc check_version(mb_log *log, struct mb_error *err)
{
    int64_t app = 0, version = 0;
    enum mb_rc rc = read_number(log, "PRAGMA application_id", &app, err);

    if (!rc)
        rc = read_number(log, "PRAGMA user_version", &version, err);
    if (rc)
        return rc;
    if (app != 1296198756)
        return mb_fail(err, MB_REFUSED, "%s/ledger.db is no ledger of this program", log->folder);
    if (version != 1)
        return mb_fail(err, MB_UNABLE,
                       "%s was made by a newer program (storage version %lld); use that one",
                       log->folder, (long long)version);
    return MB_OK;
}

static enum mb_rc learn_origin(mb_log *log, struct mb_error *err)
{
    struct mb_entry entry;
    int64_t size;
    enum mb_rc rc = mb_log_size(log, &size, err);

    if (!rc && size == 0)
        rc = mb_fail(err, MB_REFUSED, "%s is a ledger that was never founded", log->folder);
    if (rc)
        return rc;
    if (log->mode == MB_LOG_CHECK) {
        if (mb_log_entry(log, log->arena, 0, &entry, NULL)) {
            log->origin = MB_STR("");
            return MB_OK; /* the checker makes a finding of it */
        }
    } else {
        rc = mb_log_entry(log, log->arena, 0, &entry, err);
        if (rc)
            return rc;
    }
    log->origin = entry.iss;
    log->fingerprint = entry.leaf;
    return MB_OK;
}

enum mb_rc mb_log_open(mb_arena *arena, const char *folder, enum mb_log_mode mode, mb_log **out,
                       struct mb_error *err)
{
    mb_log *log = log_new(arena, folder, mode);
    const char *path = db_path(arena, folder);
    enum mb_rc rc;

    if (!mb_file_exists(path))
        return mb_fail(err, MB_REFUSED,
                       "there is no ledger in '%s'; make one with `markerbed found`, or name one"
                       " with -L",
                       folder);
    rc = mb_db_open(path, mode == MB_LOG_WRITE ? MB_DB_WRITE : MB_DB_READ, &log->db, err);
    if (rc)
        return rc;
    rc = check_version(log, err);
    if (!rc)
        rc = learn_origin(log, err);
    if (rc) {
        mb_log_close(log);
        return rc;
    }
    *out = log;
    return MB_OK;
}

mb_log *mb_log_close(mb_log *log)
{
    if (log) {
        mb_log_rollback(log);
        log->second = mb_second_free(log->second);
        for (int i = 0; i < S_COUNT; i++)
            log->stmts[i] = mb_stmt_free(log->stmts[i]);
        log->db = mb_db_close(log->db);
    }
    return NULL;
}

/* Does the index of subjects know the last entry? One that was lost would begin a chain anew that
 * has a beginning already: two entries for one place, for ever. */
static enum mb_rc check_index(mb_log *log, mb_arena *arena, const struct mb_entry *last,
                              struct mb_error *err)
{
    int64_t seq, nth;
    enum mb_rc rc = mb_log_head(log, arena, last->sub, MB_NEVER, &seq, &nth, NULL, err);

    if (rc == MB_NO || (!rc && (seq != last->seq || nth != last->nth)))
        rc = mb_fail(err, MB_UNABLE,
                     "the ledger's index of subjects does not fit its entries; nothing was"
                     " recorded: run `markerbed verify`");
    return rc;
}

static enum mb_rc load_head(mb_log *log, struct mb_error *err)
{
    mb_arena *scratch = mb_arena_new();
    struct mb_entry last;
    int64_t size = 0;
    mb_stmt *stmt = NULL;
    bool row = false;
    enum mb_rc rc = mb_log_stmt(log, S_HEAD, &stmt, err);

    if (!rc)
        rc = mb_stmt_step(stmt, &row, err);
    if (!rc && row) {
        /* the entry itself is read again, not a copy of what it says kept elsewhere */
        rc = mb_entry_read(scratch, mb_col_text(stmt, 2), &last, err);
        if (!rc) {
            size = mb_col_int(stmt, 0) + 1;
            log->leaf_last = last.leaf;
            log->iat_last = last.iat;
            rc = check_index(log, scratch, &last, err);
        }
    }
    if (row)
        mb_stmt_reset(stmt);
    mb_arena_free(scratch);
    if (!rc)
        rc = mb_edge_load(&log->edge_begin, (uint64_t)size,
                          mb_log_read_node, log, err);
    return rc;
}

enum mb_rc mb_log_begin(mb_log *log, struct mb_error *err)
{
    enum mb_rc rc;

    if (log->mode != MB_LOG_WRITE)
        return mb_fail(err, MB_REFUSED, "the ledger is open for reading only");
    mb_db_grant(log->db, MB_MAY_APPEND | MB_MAY_VIEW);
    rc = mb_db_begin(log->db, err);
    if (rc)
        return rc;
    log->iat_last = 0;
    rc = load_head(log, err);
    if (rc) {
        mb_log_rollback(log);
        return rc;
    }
    log->edge = log->edge_begin;
    return MB_OK;
}

void mb_log_confirm_clock(mb_log *log)
{
    log->clock_confirmed = true;
}

int64_t mb_log_group_start(const mb_log *log)
{
    return (int64_t)log->edge_begin.size;
}

int64_t mb_log_next_seq(const mb_log *log)
{
    return (int64_t)log->edge.size;
}

bool mb_log_in_group(const mb_log *log)
{
    return log->db && mb_db_in_transaction(log->db);
}

static enum mb_rc read_clock(mb_log *log, int64_t *iat, struct mb_error *err)
{
    int64_t now = mb_now();
    mb_arena *scratch;
    enum mb_rc rc = MB_OK;

    *iat = now > log->iat_last ? now : log->iat_last; /* L5: never decreasing */
    if (log->iat_last == 0 || log->clock_confirmed
        || (now >= log->iat_last - CLOCK_BEHIND_S && now <= log->iat_last + CLOCK_AHEAD_S))
        return MB_OK;
    scratch = mb_arena_new();
    rc = mb_fail(err, MB_REFUSED,
                 "this machine's clock says %s and the last entry was recorded at %s: set the"
                 " clock, or say --clock-is-right",
                 mb_moment_write(scratch, now), mb_moment_write(scratch, log->iat_last));
    mb_arena_free(scratch);
    return rc;
}

static enum mb_rc insert_node(void *ctx, unsigned level, uint64_t index, const struct mb_hash *hash,
                              struct mb_error *err)
{
    mb_log *log = ctx;
    mb_stmt *stmt;
    enum mb_rc rc = mb_log_stmt(log, S_INSERT_NODE, &stmt, err);

    if (rc)
        return rc;
    mb_bind_int(stmt, 1, mb_node_row(level, index));
    mb_bind_blob(stmt, 2, hash->b, sizeof hash->b);
    return mb_stmt_do(stmt, err);
}

static enum mb_rc insert_entry(mb_log *log, const struct mb_draft *draft, struct mb_str jws,
                               struct mb_str tail, const struct mb_hash *leaf,
                               struct mb_error *err)
{
    mb_stmt *stmt;
    enum mb_rc rc = mb_log_stmt(log, S_INSERT_LOG, &stmt, err);

    if (rc)
        return rc;
    mb_bind_int(stmt, 1, draft->seq);
    mb_bind_blob(stmt, 2, leaf->b, sizeof leaf->b);
    mb_bind_text(stmt, 3, jws);
    rc = mb_stmt_do(stmt, err);
    if (!rc)
        rc = mb_log_stmt(log, S_INSERT_TAIL, &stmt, err);
    if (rc)
        return rc;
    mb_bind_int(stmt, 1, draft->seq);
    mb_bind_text(stmt, 2, tail);
    rc = mb_stmt_do(stmt, err);
    if (!rc)
        rc = mb_log_stmt(log, S_INSERT_LINE, &stmt, err);
    if (rc)
        return rc;
    mb_bind_text(stmt, 1, mb_str_of(draft->sub));
    mb_bind_int(stmt, 2, draft->nth);
    mb_bind_int(stmt, 3, draft->seq);
    mb_bind_text(stmt, 4, mb_str_of(draft->kind));
    mb_bind_int(stmt, 5, draft->iat);
    return mb_stmt_do(stmt, err);
}

static void tell_short(struct mb_entry *out, const struct mb_draft *draft, struct mb_str jws,
                       const struct mb_hash *leaf)
{
    *out = (struct mb_entry){ .jws = jws,
                              .leaf = *leaf,
                              .iss = draft->iss,
                              .sub = mb_str_of(draft->sub),
                              .kind = mb_str_of(draft->kind),
                              .iat = draft->iat,
                              .seq = draft->seq,
                              .nth = draft->nth,
                              .has_prev = draft->prev != NULL,
                              .has_prior = draft->prior != NULL };
    if (draft->prev)
        out->prev = *draft->prev;
    if (draft->prior)
        out->prior = *draft->prior;
}

enum mb_rc mb_log_append(mb_log *log, mb_arena *arena, const struct mb_append *append,
                         const mb_secret *secret, struct mb_entry *out, struct mb_error *err)
{
    struct mb_draft draft = { .iss = append->origin ? mb_str_of(append->origin) : log->origin,
                              .kind = append->kind,
                              .seq = (int64_t)log->edge.size,
                              .fields = append->fields,
                              .count = append->count };
    struct mb_hash prior, leaf;
    struct mb_str sub, jws, tail;
    int64_t seq_prior;
    enum mb_rc rc;

    if (!mb_log_in_group(log))
        return mb_fail(err, MB_UNABLE, "nothing can be recorded outside a group of entries");
    rc = mb_log_head(log, arena, mb_str_of(append->sub), MB_NEVER, &seq_prior, &draft.nth, &sub,
                     err);
    draft.sub = append->sub;
    if (rc == MB_OK) {
        draft.sub = mb_arena_copy(arena, sub.at, sub.len);
        draft.nth++;
        rc = mb_log_leaf(log, seq_prior, &prior, err);
        draft.prior = &prior;
    } else if (rc == MB_NO) {
        rc = MB_OK;
    }
    if (!rc)
        rc = read_clock(log, &draft.iat, err);
    if (rc)
        return rc;
    draft.prev = draft.seq ? &log->leaf_last : NULL;
    rc = mb_entry_write(arena, &draft, secret, &jws, &tail, err);
    if (rc)
        return rc;
    leaf = mb_leaf_hash(jws);
    if (!log->second)
        log->second = mb_second_new();
    rc = mb_second_read(log->second, jws, tail, err);
    if (!rc)
        rc = insert_entry(log, &draft, jws, tail, &leaf, err);
    if (!rc)
        rc = mb_edge_push(&log->edge, &leaf, insert_node, log, err);
    if (rc)
        return rc;
    if (out) /* while prev is still the entry before */
        tell_short(out, &draft, jws, &leaf);
    log->leaf_last = leaf;
    log->iat_last = draft.iat;
    if (draft.seq == 0) {
        log->origin = mb_arena_str(log->arena, draft.iss);
        log->fingerprint = leaf;
    }
    return MB_OK;
}

/* Is the inner node that the leaves give the one that is stored? */
static enum mb_rc same_node(void *ctx, unsigned level, uint64_t index, const struct mb_hash *hash,
                            struct mb_error *err)
{
    struct mb_hash stored;
    enum mb_rc rc = mb_log_node(ctx, level, index, &stored, err);

    if (!rc && !mb_hash_equal(&stored, hash))
        rc = mb_fail(err, MB_UNABLE,
                     "the tree reads back otherwise than it was written; nothing was recorded:"
                     " check the disk and run `markerbed verify`");
    return rc;
}

/* L2: hashes again what stands in the database from entry `edge->size` on, tree and all. */
static enum mb_rc read_back(mb_log *log, struct mb_edge *edge, struct mb_error *err)
{
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc = mb_log_stmt(log, S_READ_BACK, &stmt, err);

    if (rc)
        return rc;
    mb_bind_int(stmt, 1, (int64_t)edge->size);
    for (;;) {
        struct mb_hash leaf;
        struct mb_str stored;

        rc = mb_stmt_step(stmt, &row, err);
        if (rc || !row)
            return rc;
        leaf = mb_leaf_hash(mb_col_text(stmt, 1));
        stored = mb_col_blob(stmt, 0);
        if (stored.len != sizeof leaf.b || memcmp(stored.at, leaf.b, sizeof leaf.b) != 0)
            rc = mb_fail(err, MB_UNABLE,
                         "entry %llu reads back otherwise than it was written; nothing was"
                         " recorded: check the disk and run `markerbed verify`",
                         (unsigned long long)edge->size);
        if (!rc)
            rc = mb_edge_push(edge, &leaf, same_node, log, err);
        if (rc) {
            mb_stmt_reset(stmt);
            return rc;
        }
    }
}

/* The tree over what was signed last, from stored nodes; its root must be the one that was signed,
 * or everything built on it would be signed unseen. */
static enum mb_rc edge_signed(mb_log *log, mb_arena *arena, struct mb_edge *edge,
                              struct mb_error *err)
{
    struct mb_checkpoint checkpoint;
    struct mb_note note;
    struct mb_str bytes;
    struct mb_hash root;
    int64_t size;
    enum mb_rc rc = mb_log_checkpoint(log, arena, 0, &bytes, &size, err);

    memset(edge, 0, sizeof *edge);
    if (rc == MB_NO)
        return MB_OK;
    if (!rc)
        rc = mb_note_read(arena, bytes, &note, err);
    if (!rc)
        rc = mb_checkpoint_read(note.text, &checkpoint, NULL, err);
    if (!rc)
        rc = mb_edge_load(edge, checkpoint.size, mb_log_read_node, log, err);
    if (rc)
        return rc;
    root = mb_edge_root(edge);
    if (!mb_hash_equal(&root, &checkpoint.root))
        return mb_fail(err, MB_UNABLE,
                       "the stored tree no longer gives the root that was signed at %lld entries;"
                       " run `markerbed verify` and restore a backup",
                       (long long)size);
    return MB_OK;
}

static enum mb_rc sign_checkpoint(mb_log *log, mb_arena *arena, const mb_secret *const *keys,
                                  size_t count, struct mb_error *err)
{
    struct mb_checkpoint checkpoint = { .origin = log->origin };
    struct mb_hash written = mb_edge_root(&log->edge);
    struct mb_edge edge;
    mb_stmt *stmt;
    char *text, *note;
    enum mb_rc rc = edge_signed(log, arena, &edge, err);

    if (rc)
        return rc;
    if (edge.size == log->edge.size)
        return MB_OK; /* nothing new to vouch for */
    rc = read_back(log, &edge, err);
    if (rc)
        return rc;
    checkpoint.size = edge.size;
    checkpoint.root = mb_edge_root(&edge);
    if (checkpoint.size != log->edge.size || !mb_hash_equal(&checkpoint.root, &written))
        return mb_fail(err, MB_UNABLE,
                       "the entries since the last checkpoint are not those that were written;"
                       " nothing was recorded: run `markerbed verify`");
    text = mb_checkpoint_text(arena, &checkpoint);
    note = mb_arena_printf(arena, "%s\n", text);
    for (size_t i = 0; i < count; i++)
        note = mb_arena_printf(arena, "%s%s", note,
                               mb_note_sign(arena, mb_str_of(text), log->origin, keys[i]));
    rc = mb_log_stmt(log, S_INSERT_CHECKPOINT, &stmt, err);
    if (rc)
        return rc;
    mb_bind_int(stmt, 1, (int64_t)checkpoint.size);
    mb_bind_text(stmt, 2, mb_str_of(note));
    return mb_stmt_do(stmt, err);
}

/* What the group stored must give the tree that was computed while it was written. */
static enum mb_rc check_group(mb_log *log, struct mb_error *err)
{
    struct mb_edge edge = log->edge_begin, stored;
    struct mb_hash written, read, nodes;
    enum mb_rc rc = read_back(log, &edge, err);

    if (!rc)
        rc = mb_edge_load(&stored, log->edge.size, mb_log_read_node,
                          log, err);
    if (rc)
        return rc;
    written = mb_edge_root(&log->edge);
    read = mb_edge_root(&edge);
    nodes = mb_edge_root(&stored);
    if (!mb_hash_equal(&written, &read) || !mb_hash_equal(&written, &nodes))
        return mb_fail(err, MB_UNABLE,
                       "what was written reads back otherwise; nothing was recorded: check the"
                       " disk and run `markerbed verify`");
    return MB_OK;
}

enum mb_rc mb_log_commit(mb_log *log, const mb_secret *const *checkpoint_keys, size_t count,
                         struct mb_error *err)
{
    mb_arena *scratch = mb_arena_new();
    enum mb_rc rc = log->second ? mb_second_end(log->second, err) : MB_OK;

    if (!rc)
        rc = check_group(log, err);
    if (!rc && count)
        rc = sign_checkpoint(log, scratch, checkpoint_keys, count, err);
    if (!rc)
        rc = mb_db_commit(log->db, err);
    if (rc)
        mb_log_rollback(log);
    mb_arena_free(scratch);
    return rc;
}

void mb_log_rollback(mb_log *log)
{
    if (log->second)
        mb_second_forget(log->second);
    if (log->db)
        mb_db_rollback(log->db);
}
