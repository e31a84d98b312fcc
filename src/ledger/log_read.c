/* Reading the log: entries, chains, proofs, checkpoints. Changes nothing. */
#include "log.h"

#include <string.h>

#include "keyring.h"
#include "log_priv.h"
#include "text.h"

const char *mb_log_folder(const mb_log *log)
{
    return log->folder;
}

mb_db *mb_log_db(mb_log *log)
{
    return log->db;
}

struct mb_str mb_log_origin(const mb_log *log)
{
    return log->origin;
}

const struct mb_hash *mb_log_fingerprint(const mb_log *log)
{
    return &log->fingerprint;
}

enum mb_rc mb_log_size(mb_log *log, int64_t *size, struct mb_error *err)
{
    mb_stmt *stmt;
    bool row = false;
    enum mb_rc rc = mb_log_stmt(log, S_HEAD, &stmt, err);

    if (!rc)
        rc = mb_stmt_step(stmt, &row, err);
    if (rc)
        return rc;
    *size = row ? mb_col_int(stmt, 0) + 1 : 0;
    mb_stmt_reset(stmt);
    return MB_OK;
}

enum mb_rc mb_log_entry(mb_log *log, mb_arena *arena, int64_t seq, struct mb_entry *out,
                        struct mb_error *err)
{
    struct mb_entry entry;
    struct mb_str jws, tail;
    mb_stmt *stmt;
    bool row = false;
    enum mb_rc rc = mb_log_stmt(log, S_ENTRY, &stmt, err);

    if (rc)
        return rc;
    mb_bind_int(stmt, 1, seq);
    rc = mb_stmt_step(stmt, &row, err);
    if (rc)
        return rc;
    if (!row)
        return mb_fail(err, MB_REFUSED, "there is no entry %lld", (long long)seq);
    jws = mb_arena_str(arena, mb_col_text(stmt, 0));
    tail = mb_arena_str(arena, mb_col_text(stmt, 1));
    mb_stmt_reset(stmt);
    rc = mb_entry_read(arena, jws, &entry, err);
    if (!rc)
        rc = mb_entry_disclose(arena, &entry, tail, err);
    if (rc) {
        mb_fail_where(err, "entry %lld", (long long)seq);
        return rc;
    }
    *out = entry;
    return MB_OK;
}

enum mb_rc mb_log_leaf(mb_log *log, int64_t seq, struct mb_hash *out, struct mb_error *err)
{
    struct mb_str leaf;
    mb_stmt *stmt;
    bool row = false;
    enum mb_rc rc = mb_log_stmt(log, S_LEAF, &stmt, err);

    if (rc)
        return rc;
    mb_bind_int(stmt, 1, seq);
    rc = mb_stmt_step(stmt, &row, err);
    if (rc)
        return rc;
    if (!row)
        return mb_fail(err, MB_REFUSED, "there is no entry %lld", (long long)seq);
    leaf = mb_col_blob(stmt, 0);
    if (leaf.len == sizeof out->b)
        memcpy(out->b, leaf.at, sizeof out->b);
    else
        rc = mb_fail(err, MB_UNABLE, "the stored hash of entry %lld is damaged", (long long)seq);
    mb_stmt_reset(stmt);
    return rc;
}

enum mb_rc mb_log_head(mb_log *log, mb_arena *arena, struct mb_str subject, int64_t before,
                       int64_t *seq, int64_t *nth, struct mb_str *sub, struct mb_error *err)
{
    mb_stmt *stmt;
    bool row = false;
    enum mb_rc rc = mb_log_stmt(log, S_SUBJECT_HEAD, &stmt, err);

    if (rc)
        return rc;
    mb_bind_text(stmt, 1, subject);
    mb_bind_int(stmt, 2, before);
    rc = mb_stmt_step(stmt, &row, err);
    if (rc || !row)
        return rc ? rc : MB_NO;
    *seq = mb_col_int(stmt, 0);
    *nth = mb_col_int(stmt, 1);
    if (sub)
        *sub = mb_arena_str(arena, mb_col_text(stmt, 2));
    mb_stmt_reset(stmt);
    return MB_OK;
}

enum mb_rc mb_log_chain(mb_log *log, mb_arena *arena, struct mb_str subject, int64_t before,
                        int64_t **seqs, size_t *count, struct mb_error *err)
{
    int64_t seq, nth, *list;
    size_t n = 0;
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc = mb_log_head(log, arena, subject, before, &seq, &nth, NULL, err);

    *seqs = NULL;
    *count = 0;
    if (rc)
        return rc == MB_NO ? MB_OK : rc;
    list = MB_ARRAY(arena, (size_t)nth + 1, int64_t);
    rc = mb_log_stmt(log, S_CHAIN, &stmt, err);
    if (rc)
        return rc;
    mb_bind_text(stmt, 1, subject);
    mb_bind_int(stmt, 2, before);
    for (;;) {
        rc = mb_stmt_step(stmt, &row, err);
        if (rc || !row)
            break;
        if (n <= (size_t)nth)
            list[n++] = mb_col_int(stmt, 0);
    }
    if (rc)
        return rc;
    *seqs = list;
    *count = n;
    return MB_OK;
}

enum mb_rc mb_log_find_leaf(mb_log *log, mb_arena *arena, struct mb_str subject,
                            const struct mb_hash *leaf, int64_t *seq, struct mb_error *err)
{
    int64_t *seqs;
    size_t count;
    enum mb_rc rc = mb_log_chain(log, arena, subject, MB_NEVER, &seqs, &count, err);

    for (size_t i = 0; !rc && i < count; i++) {
        struct mb_hash one;

        rc = mb_log_leaf(log, seqs[i], &one, err);
        if (!rc && mb_hash_equal(&one, leaf)) {
            *seq = seqs[i];
            return MB_OK;
        }
    }
    return rc ? rc : MB_NO;
}

struct mb_log_scan {
    mb_stmt *stmt;
    bool over; /* a statement stepped past its end would begin anew */
};

enum mb_rc mb_log_scan_open(mb_log *log, int64_t from, int64_t to, mb_log_scan **out,
                            struct mb_error *err)
{
    mb_log_scan *scan = MB_NEW(log->arena, mb_log_scan);
    enum mb_rc rc = mb_stmt_make(log->db,
                                 "SELECT l.seq, l.leaf, l.jws, d.tail FROM log l"
                                 " LEFT JOIN disclosures d ON d.seq = l.seq"
                                 " WHERE l.seq >= ?1 AND l.seq < ?2 ORDER BY l.seq",
                                 &scan->stmt, err);

    if (rc)
        return rc;
    mb_bind_int(scan->stmt, 1, from);
    mb_bind_int(scan->stmt, 2, to);
    *out = scan;
    return MB_OK;
}

enum mb_rc mb_log_scan_next(mb_log_scan *scan, bool *row, int64_t *seq, struct mb_str *leaf,
                            struct mb_str *jws, struct mb_str *tail, struct mb_error *err)
{
    enum mb_rc rc;

    *row = false;
    if (scan->over)
        return MB_OK;
    rc = mb_stmt_step(scan->stmt, row, err);
    scan->over = rc || !*row;
    if (scan->over)
        return rc;
    *seq = mb_col_int(scan->stmt, 0);
    *leaf = mb_col_blob(scan->stmt, 1);
    *jws = mb_col_text(scan->stmt, 2);
    *tail = mb_col_text(scan->stmt, 3);
    return MB_OK;
}

mb_log_scan *mb_log_scan_close(mb_log_scan *scan)
{
    if (scan)
        scan->stmt = mb_stmt_free(scan->stmt);
    return NULL;
}

enum mb_rc mb_log_each(mb_log *log, int64_t from, int64_t to, mb_log_entry_fn *each, void *ctx,
                       struct mb_error *err)
{
    mb_arena *scratch = mb_arena_new();
    struct mb_str leaf, jws, tail;
    mb_log_scan *scan = NULL;
    int64_t seq;
    bool row = true;
    enum mb_rc rc = mb_log_scan_open(log, from, to, &scan, err);

    while (!rc && !(rc = mb_log_scan_next(scan, &row, &seq, &leaf, &jws, &tail, err)) && row) {
        struct mb_entry entry;

        mb_arena_reset(scratch);
        rc = mb_entry_read(scratch, jws, &entry, err);
        if (!rc)
            rc = mb_entry_disclose(scratch, &entry, tail, err);
        if (!rc)
            rc = each(ctx, &entry, err);
    }
    mb_log_scan_close(scan);
    mb_arena_free(scratch);
    return rc;
}

int64_t mb_node_row(unsigned level, uint64_t index)
{
    uint64_t m = ((index + 1) << level) - 1; /* the leaf whose adding completes the node */

    return (int64_t)(m - (uint64_t)__builtin_popcountll(m) + level - 1);
}

enum mb_rc mb_log_node(mb_log *log, unsigned level, uint64_t index, struct mb_hash *out,
                       struct mb_error *err)
{
    struct mb_str hash;
    mb_stmt *stmt;
    bool row = false;
    enum mb_rc rc;

    if (level == 0)
        return mb_log_leaf(log, (int64_t)index, out, err);
    rc = mb_log_stmt(log, S_NODE, &stmt, err);
    if (rc)
        return rc;
    mb_bind_int(stmt, 1, mb_node_row(level, index));
    rc = mb_stmt_step(stmt, &row, err);
    if (rc)
        return rc;
    hash = row ? mb_col_blob(stmt, 0) : (struct mb_str){ NULL, 0 };
    if (hash.len == sizeof out->b)
        memcpy(out->b, hash.at, sizeof out->b);
    else
        rc = mb_fail(err, MB_UNABLE, "a stored hash of the tree is missing or damaged");
    if (row)
        mb_stmt_reset(stmt);
    return rc;
}

enum mb_rc mb_log_read_node(void *ctx, unsigned level, uint64_t index, struct mb_hash *out,
                            struct mb_error *err)
{
    return mb_log_node(ctx, level, index, out, err);
}

enum mb_rc mb_log_prove(mb_log *log, int64_t seq, int64_t size, struct mb_path *out,
                        struct mb_error *err)
{
    return mb_merkle_prove((uint64_t)seq, (uint64_t)size, mb_log_read_node, log, out, err);
}

enum mb_rc mb_log_prove_growth(mb_log *log, int64_t size_old, int64_t size_new,
                               struct mb_path *out, struct mb_error *err)
{
    return mb_merkle_prove_growth((uint64_t)size_old, (uint64_t)size_new, mb_log_read_node, log,
                                  out, err);
}

enum mb_rc mb_log_root(mb_log *log, int64_t size, struct mb_hash *out, struct mb_error *err)
{
    struct mb_edge edge;
    enum mb_rc rc = mb_edge_load(&edge, (uint64_t)size, mb_log_read_node, log, err);

    if (!rc)
        *out = mb_edge_root(&edge);
    return rc;
}

enum mb_rc mb_log_checkpoint(mb_log *log, mb_arena *arena, int64_t size, struct mb_str *note,
                             int64_t *size_out, struct mb_error *err)
{
    mb_stmt *stmt;
    bool row = false;
    enum mb_rc rc = mb_log_stmt(log, size ? S_CHECKPOINT_AT : S_CHECKPOINT_NEWEST, &stmt, err);

    if (rc)
        return rc;
    if (size)
        mb_bind_int(stmt, 1, size);
    rc = mb_stmt_step(stmt, &row, err);
    if (rc || !row)
        return rc ? rc : MB_NO;
    if (size_out)
        *size_out = mb_col_int(stmt, 0);
    *note = mb_arena_str(arena, mb_col_text(stmt, 1));
    mb_stmt_reset(stmt);
    return MB_OK;
}
