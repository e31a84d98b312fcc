/*
 * Entries go through in batches. The crew takes a batch's entries apart, hashes them and checks the
 * signatures of keys known so far; meanwhile the caller's thread reads the next batch, and judges
 * in order what the crew has done: rights, links, tree, checkpoints. Nothing is skipped: an entry
 * whose key was unknown to the crew has its signature checked in order.
 */
#include "verify_log.h"

#include <string.h>

#include "crew.h"
#include "date.h"
#include "text.h"
#include "verify_judge.h"

/* Small, so that a batch lies in the cache from its reading to its judging, and so that no thread
 * waits long for the other's last piece. The keys of the first two batches are not known to the
 * crew: the fewer entries in them, the better. */
enum { BATCH = 256, PIECE = 4, PIECES = BATCH / PIECE, BATCHES = 2 };

static const struct mb_str whole = { NULL, 0 };

struct batch {
    mb_arena *rows_arena;
    mb_arena *piece_arena[PIECES];
    struct mb_row rows[BATCH];
    size_t count;
    const struct known_key *keys; /* a snapshot: the ring itself is changing meanwhile */
    size_t key_count;
};

/* ---- the crew's part ---- */

struct file_list {
    mb_arena *arena;
    struct mb_row *row;
};

static void keep_file(void *ctx, struct mb_str sha256)
{
    struct file_list *list = ctx;
    struct mb_str *more =
        MB_ARRAY(list->arena, list->row->file_count + 1, struct mb_str);

    if (list->row->file_count)
        memcpy(more, list->row->files, list->row->file_count * sizeof *more);
    more[list->row->file_count++] = sha256;
    list->row->files = more;
}

static void read_row(mb_arena *arena, const struct batch *batch, struct mb_row *row)
{
    struct file_list list = { arena, row };
    struct mb_error err = { 0 };

    row->rc = mb_entry_read(arena, row->jws, &row->entry, &err);
    if (!row->rc)
        row->rc = mb_entry_disclose(arena, &row->entry, row->tail, &err);
    if (row->rc) {
        row->fault = mb_arena_text(arena, err.text);
        return;
    }
    for (size_t i = 0; i < row->entry.disclosure_count; i++)
        mb_value_files(row->entry.disclosures[i].value, keep_file, &list);
    for (size_t i = 0; i < batch->key_count; i++)
        if (mb_str_is(row->entry.kid, batch->keys[i].kid))
            row->sig = mb_entry_signed_by(&row->entry, &batch->keys[i].key) ? SIG_GOOD : SIG_BAD;
}

static void work_piece(void *job, size_t piece)
{
    struct batch *batch = job;
    size_t end = (piece + 1) * PIECE < batch->count ? (piece + 1) * PIECE : batch->count;

    mb_arena_reset(batch->piece_arena[piece]);
    for (size_t i = piece * PIECE; i < end; i++)
        read_row(batch->piece_arena[piece], batch, &batch->rows[i]);
}

/* ---- reading ---- */

static enum mb_rc read_batch(mb_log_scan *scan, struct batch *batch, struct mb_error *err)
{
    mb_arena_reset(batch->rows_arena);
    batch->count = 0;
    while (batch->count < BATCH) {
        struct mb_row *row = &batch->rows[batch->count];
        struct mb_str leaf, jws, tail;
        bool there;
        enum mb_rc rc = mb_log_scan_next(scan, &there, &row->seq, &leaf, &jws, &tail, err);

        if (rc || !there)
            return rc;
        *row = (struct mb_row){ .seq = row->seq,
                             .leaf = mb_arena_str(batch->rows_arena, leaf),
                             .jws = mb_arena_str(batch->rows_arena, jws),
                             .tail = mb_arena_str(batch->rows_arena, tail),
                             .has_tail = tail.at != NULL };
        batch->count++;
    }
    return MB_OK;
}

static void snapshot_keys(struct mb_judge *judge, struct batch *batch)
{
    const mb_keyring *ring = judge->check->ring;
    size_t count = mb_keyring_count(ring);

    if (count != judge->key_count) {
        judge->keys = MB_ARRAY(judge->check->arena, count, struct known_key);
        judge->key_count = count;
        for (size_t i = 0; i < count; i++) {
            memcpy(judge->keys[i].kid, mb_keyring_at(ring, i)->kid, sizeof judge->keys[i].kid);
            judge->keys[i].key = mb_keyring_at(ring, i)->key;
        }
    }
    batch->keys = judge->keys;
    batch->key_count = judge->key_count;
}

static enum mb_rc judge_batch(struct mb_judge *judge, struct batch *batch, struct mb_error *err)
{
    for (size_t i = 0; i < batch->count; i++) {
        enum mb_rc rc = mb_judge_row(judge, &batch->rows[i], err);

        if (rc)
            return rc;
    }
    if (judge->check->progress)
        judge->check->progress(judge->check->ctx, judge->check->entries, judge->size);
    return MB_OK;
}

/* While the crew works on one batch, the other is judged and then filled anew. */
static enum mb_rc run_batches(struct mb_judge *judge, mb_log_scan *scan, struct batch **batches,
                              struct mb_error *err)
{
    struct batch *now = batches[0], *done = batches[1];
    enum mb_rc rc = read_batch(scan, now, err);

    while (!rc && now->count) {
        struct batch *swap = now;

        snapshot_keys(judge, now);
        mb_crew_start(judge->crew, work_piece, now, (now->count + PIECE - 1) / PIECE);
        rc = judge_batch(judge, done, err);
        if (!rc)
            rc = read_batch(scan, done, err);
        mb_crew_wait(judge->crew);
        now = done;
        done = swap;
    }
    return rc ? rc : judge_batch(judge, done, err);
}

static void judge_trust(struct mb_judge *judge)
{
    struct mb_log_check *check = judge->check;
    enum mb_trust_answer answer = MB_TRUST_UNKNOWN;

    if (check->trust)
        answer = mb_trust_of(check->trust, mb_log_origin(check->log),
                             mb_log_fingerprint(check->log));
    check->trusted = answer == MB_TRUST_KNOWN;
    if (answer == MB_TRUST_OTHER)
        mb_find(check->findings, MB_F_OTHER_FINGERPRINT, whole, -1,
                "The ledger calls itself %.*s, and its fingerprint is not the one you trust.",
                MB_STR_ARG(mb_log_origin(check->log)));
    else if (answer == MB_TRUST_UNKNOWN)
        mb_find(check->findings, MB_F_UNKNOWN_LEDGER, whole, -1,
                "Nobody here has said whose ledger %.*s is: compare its fingerprint.",
                MB_STR_ARG(mb_log_origin(check->log)));
}

/* Counted, not taken from the last one's number, which somebody could have written there. */
static enum mb_rc count_entries(mb_log *log, int64_t *count, struct mb_error *err)
{
    mb_stmt *stmt;
    bool row;
    enum mb_rc rc = mb_stmt_make(mb_log_db(log), "SELECT count(*) FROM log", &stmt, err);

    if (rc)
        return rc;
    rc = mb_stmt_step(stmt, &row, err);
    if (!rc)
        *count = mb_col_int(stmt, 0);
    mb_stmt_free(stmt);
    return rc;
}

static enum mb_rc set_up(struct mb_judge *judge, struct mb_error *err)
{
    struct mb_log_check *check = judge->check;
    uint64_t seats = 1024;
    int64_t size = 0;
    enum mb_rc rc = count_entries(check->log, &size, err);

    if (!rc)
        rc = mb_stmt_make(mb_log_db(check->log), "SELECT at, hash FROM node ORDER BY at",
                          &judge->nodes, err);
    if (!rc)
        rc = mb_stmt_make(mb_log_db(check->log),
                          "SELECT size, note FROM checkpoint ORDER BY size", &judge->checkpoints,
                          err);
    if (!rc)
        rc = mb_stmt_step(judge->checkpoints, &judge->checkpoint_row, err);
    if (rc)
        return rc;
    while (seats < 2 * (uint64_t)size)
        seats *= 2;
    judge->size = (uint64_t)size;
    judge->leaves = MB_ARRAY(check->arena, (size_t)size + 1, struct mb_hash);
    judge->seats = MB_ARRAY(check->arena, seats, struct seat);
    judge->seat_mask = seats - 1;
    judge->node_row = true;
    judge->began = mb_now();
    mb_random(judge->secret, sizeof judge->secret);
    check->ring = mb_keyring_new(check->arena);
    check->entries = check->disclosures = check->attachments = check->checkpoints = 0;
    check->checkpoint_size = check->iat_last = 0;
    return MB_OK;
}

static struct batch *batch_new(mb_arena *arena)
{
    struct batch *batch = MB_NEW(arena, struct batch);

    batch->rows_arena = mb_arena_new();
    for (size_t i = 0; i < PIECES; i++)
        batch->piece_arena[i] = mb_arena_new();
    return batch;
}

static void batch_free(struct batch *batch)
{
    mb_arena_free(batch->rows_arena);
    for (size_t i = 0; i < PIECES; i++)
        mb_arena_free(batch->piece_arena[i]);
}

static enum mb_rc judge_all(struct mb_judge *judge, struct mb_error *err)
{
    struct batch *batches[BATCHES];
    mb_log_scan *scan;
    enum mb_rc rc = mb_log_scan_open(judge->check->log, 0, MB_NEVER, &scan, err);

    if (rc)
        return rc;
    for (size_t i = 0; i < BATCHES; i++)
        batches[i] = batch_new(judge->check->arena);
    rc = run_batches(judge, scan, batches, err);
    mb_log_scan_close(scan);
    for (size_t i = 0; i < BATCHES; i++)
        batch_free(batches[i]);
    return rc ? rc : mb_judge_rest(judge, err);
}

enum mb_rc mb_log_verify(struct mb_log_check *check, struct mb_error *err)
{
    struct mb_judge judge = { .check = check };
    struct mb_error damage = { 0 };
    mb_crew *crew;
    enum mb_rc rc = mb_crew_new(check->arena, check->threads ? check->threads : mb_cores(), &crew,
                                err);

    if (rc)
        return rc;
    /* one consistent look at the file, whoever appends meanwhile */
    judge.crew = crew;
    rc = mb_db_run(mb_log_db(check->log), "BEGIN", &damage);
    if (!rc)
        rc = set_up(&judge, &damage);
    if (!rc)
        rc = judge_all(&judge, &damage);
    if (rc && rc != MB_NO)
        mb_find(check->findings, MB_F_DATABASE_DAMAGED, whole, -1,
                "The ledger's database cannot be read to its end: %s.", damage.text);
    mb_crew_end(crew);
    judge.nodes = mb_stmt_free(judge.nodes);
    judge.checkpoints = mb_stmt_free(judge.checkpoints);
    mb_db_rollback(mb_log_db(check->log));
    judge_trust(&judge);
    return MB_OK;
}
