/*
 * Entries go through in batches. The crew takes a batch's entries apart, hashes them and checks the
 * signatures of keys known so far; meanwhile the caller's thread reads the next batch, and judges
 * in order what the crew has done: rights, links, tree, checkpoints. Nothing is skipped: an entry
 * whose key was unknown to the crew has its signature checked in order.
 */
#include "verify_log.h"

#include <stdlib.h>
#include <string.h>

#include "crew.h"
#include "fileio.h"
#include "sha256.h"
#include "story.h"
#include "text.h"

enum { BATCH = 1024, PIECE = 64, PIECES = BATCH / PIECE, BATCHES = 2 };

static const struct mb_str whole = { NULL, 0 };

struct row {
    int64_t seq;
    struct mb_str leaf, jws, tail;
    bool has_tail;
    struct mb_entry entry;
    enum mb_rc rc; /* of reading it */
    const char *fault;
    enum { SIG_OPEN, SIG_GOOD, SIG_BAD } sig;
    struct mb_str *files;
    size_t file_count;
};

struct known_key {
    char kid[MB_THUMBPRINT_LEN + 1];
    struct mb_key key;
};

struct batch {
    mb_arena *rows_arena;
    mb_arena *piece_arena[PIECES];
    struct row rows[BATCH];
    size_t count;
    const struct known_key *keys; /* a snapshot: the ring itself is changing meanwhile */
    size_t key_count;
};

/* The last entry of each subject, found by a keyed hash of its name. */
struct seat {
    uint64_t hash;
    uint32_t seq_plus; /* seq + 1, 0: free */
    uint32_t nth;
};

struct missing {
    int64_t seq;
    struct mb_hash digest;
    struct missing *next;
};

struct named_file {
    struct mb_str sha256;
    int64_t seq;
};

struct judge {
    struct mb_log_check *check;
    struct mb_hash *leaves; /* of all entries, by seq */
    struct seat *seats;
    uint64_t seat_mask;
    uint8_t secret[16];
    uint64_t size; /* how many entries the log had at the beginning */
    struct mb_edge edge;
    mb_stmt *nodes, *checkpoints;
    bool node_row, checkpoint_row;
    uint64_t node_faults;
    int64_t checkpoint_next; /* size of the next stored checkpoint, -1: none */
    int64_t checkpoint_before;
    uint64_t index_sum; /* over (sub, nth, seq, kind, iat) of all entries */
    struct missing *missing;
    struct mb_hash *erased;
    size_t erased_count, erased_room;
    struct named_file *files;
    size_t file_count, file_room;
    struct known_key *keys;
    size_t key_count;
};

void mb_value_files(const mb_json *value, mb_file_fn *each, void *ctx)
{
    const mb_json *file;

    if (!value || (value->type != MB_JSON_OBJECT && value->type != MB_JSON_ARRAY))
        return;
    file = value->type == MB_JSON_OBJECT ? mb_json_get(value, "file") : NULL;
    if (mb_json_is(file, MB_JSON_STRING) && file->text.len == 64) {
        each(ctx, file->text);
        return;
    }
    MB_JSON_EACH(child, value)
    {
        mb_value_files(child, each, ctx);
    }
}

/* ---- the crew's part ---- */

struct file_list {
    mb_arena *arena;
    struct row *row;
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

static void read_row(mb_arena *arena, const struct batch *batch, struct row *row)
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
        struct row *row = &batch->rows[batch->count];
        struct mb_str leaf, jws, tail;
        bool there;
        enum mb_rc rc = mb_log_scan_next(scan, &there, &row->seq, &leaf, &jws, &tail, err);

        if (rc || !there)
            return rc;
        *row = (struct row){ .seq = row->seq,
                             .leaf = mb_arena_str(batch->rows_arena, leaf),
                             .jws = mb_arena_str(batch->rows_arena, jws),
                             .tail = mb_arena_str(batch->rows_arena, tail),
                             .has_tail = tail.at != NULL };
        batch->count++;
    }
    return MB_OK;
}

/* ---- judging in order ---- */

static uint64_t short_hash(const struct judge *judge, const void *a, size_t a_len, const void *b,
                           size_t b_len)
{
    struct mb_hash hash = mb_sha256_tagged(judge->secret[0], a, a_len, b, b_len);
    uint64_t out;

    memcpy(&out, hash.b, sizeof out);
    return out;
}

static struct seat *seat_of(struct judge *judge, struct mb_str subject)
{
    uint64_t hash = short_hash(judge, judge->secret, sizeof judge->secret, subject.at, subject.len);
    uint64_t at = hash & judge->seat_mask;

    while (judge->seats[at].seq_plus && judge->seats[at].hash != hash)
        at = (at + 1) & judge->seat_mask;
    judge->seats[at].hash = hash;
    return &judge->seats[at];
}

static void judge_links(struct judge *judge, const struct row *row)
{
    const struct mb_entry *entry = &row->entry;
    mb_findings *findings = judge->check->findings;
    struct seat *seat = seat_of(judge, entry->sub);
    int64_t nth = seat->seq_plus ? (int64_t)seat->nth + 1 : 0;

    if (entry->seq != row->seq)
        mb_find(findings, MB_F_MALFORMED, entry->sub, row->seq,
                "Entry %lld says that it is entry %lld.", (long long)row->seq,
                (long long)entry->seq);
    if (!mb_str_equal(entry->iss, mb_log_origin(judge->check->log)))
        mb_find(findings, MB_F_WRONG_ORIGIN, entry->sub, row->seq,
                "Entry %lld is of the ledger %.*s.", (long long)row->seq, MB_STR_ARG(entry->iss));
    if (entry->has_prev != (row->seq > 0)
        || (row->seq > 0 && !mb_hash_equal(&entry->prev, &judge->leaves[row->seq - 1])))
        mb_find(findings, MB_F_BROKEN_LINK, entry->sub, row->seq,
                "Entry %lld does not name the entry before it.", (long long)row->seq);
    if (entry->nth != nth)
        mb_find(findings, MB_F_HOLE_IN_CHAIN, entry->sub, row->seq,
                "Entry %lld is the %lldth of %.*s and says it is the %lldth.",
                (long long)row->seq, (long long)nth, MB_STR_ARG(entry->sub),
                (long long)entry->nth);
    else if (entry->has_prior != (nth > 0)
             || (nth > 0
                 && !mb_hash_equal(&entry->prior, &judge->leaves[seat->seq_plus - 1])))
        mb_find(findings, MB_F_BROKEN_LINK, entry->sub, row->seq,
                "Entry %lld does not name the entry of %.*s before it.", (long long)row->seq,
                MB_STR_ARG(entry->sub));
    if (entry->iat < judge->check->iat_last)
        mb_find(findings, MB_F_CLOCK_BACKWARDS, entry->sub, row->seq,
                "Entry %lld was recorded earlier than the one before it.", (long long)row->seq);
    judge->check->iat_last = entry->iat;
    seat->seq_plus = (uint32_t)row->seq + 1;
    seat->nth = (uint32_t)entry->nth;
}

static void *more(mb_arena *arena, void *items, size_t count, size_t *room, size_t size)
{
    void *grown;

    if (count < *room)
        return items;
    *room = *room ? *room * 2 : 64;
    grown = mb_arena_array(arena, *room, size);
    if (count)
        memcpy(grown, items, count * size);
    return grown;
}

static void judge_erasure(struct judge *judge, const struct mb_entry *entry)
{
    MB_JSON_EACH(digest, mb_entry_open(entry, "digests"))
    {
        struct mb_hash hash;

        if (!mb_b64u_read_exact(mb_json_str(digest), hash.b, sizeof hash.b))
            continue;
        judge->erased = more(judge->check->arena, judge->erased, judge->erased_count,
                             &judge->erased_room, sizeof hash);
        judge->erased[judge->erased_count++] = hash;
    }
}

static void judge_disclosures(struct judge *judge, const struct row *row)
{
    const struct mb_entry *entry = &row->entry;
    mb_findings *findings = judge->check->findings;

    judge->check->disclosures += entry->disclosure_count;
    for (size_t i = 0; i < entry->disclosure_count; i++) {
        const struct mb_disclosure *d = &entry->disclosures[i];

        if (d->slot < 0)
            mb_find(findings, MB_F_STRAY_DISCLOSURE, entry->sub, row->seq,
                    "Entry %lld does not hold the field '%.*s' as it is stored.",
                    (long long)row->seq, MB_STR_ARG(d->name.at ? d->name : MB_STR("(in a list)")));
        if (d->salt.len < 22)
            mb_find(findings, MB_F_WEAK_SALT, entry->sub, row->seq,
                    "A field of entry %lld has a salt of %zu characters.", (long long)row->seq,
                    d->salt.len);
        for (size_t j = 0; j < i; j++)
            if (d->salt.at[0] == entry->disclosures[j].salt.at[0]
                && mb_str_equal(d->salt, entry->disclosures[j].salt))
                mb_find(findings, MB_F_REPEATED_SALT, entry->sub, row->seq,
                        "Two fields of entry %lld have one salt.", (long long)row->seq);
    }
    for (size_t i = 0; i < entry->slot_count; i++)
        if (entry->slots[i].shown < 0) {
            struct missing *missing = MB_NEW(judge->check->arena, struct missing);

            *missing = (struct missing){ row->seq, entry->slots[i].digest, judge->missing };
            judge->missing = missing;
        }
    if (mb_str_is(entry->kind, "erasure"))
        judge_erasure(judge, entry);
}

static enum mb_rc compare_node(void *ctx, unsigned level, uint64_t index,
                               const struct mb_hash *hash, struct mb_error *err)
{
    struct judge *judge = ctx;
    struct mb_str stored;
    enum mb_rc rc = MB_OK;

    if (judge->node_row)
        rc = mb_stmt_step(judge->nodes, &judge->node_row, err);
    if (rc)
        return rc;
    stored = judge->node_row ? mb_col_blob(judge->nodes, 1) : (struct mb_str){ NULL, 0 };
    if (!judge->node_row || mb_col_int(judge->nodes, 0) != mb_node_row(level, index)
        || stored.len != sizeof hash->b || memcmp(stored.at, hash->b, sizeof hash->b) != 0)
        mb_find(judge->check->findings, MB_F_TREE_DIFFERS, whole, -1,
                "The stored hash over entries %llu to %llu is not that of the entries.",
                (unsigned long long)(index << level),
                (unsigned long long)(((index + 1) << level) - 1));
    return MB_OK;
}

static bool old_key_due(const struct judge *judge, int64_t size)
{
    const mb_keyring *ring = judge->check->ring;

    for (size_t i = 1; i < mb_keyring_checkpoint_count(ring); i++) {
        int64_t since = mb_keyring_checkpoint_at(ring, i)->since;

        if (judge->checkpoint_before <= since && since < size)
            return true;
    }
    return false;
}

static void judge_checkpoint(struct judge *judge, struct mb_str bytes, int64_t size)
{
    mb_findings *findings = judge->check->findings;
    mb_arena *scratch = mb_arena_new();
    struct mb_hash root = mb_edge_root(&judge->edge);
    struct mb_checkpoint checkpoint;
    struct mb_error err = { 0 };
    struct mb_note note;
    const char *why;

    if (mb_note_read(scratch, bytes, &note, &err)
        || mb_checkpoint_read(note.text, &checkpoint, NULL, &err))
        mb_find(findings, MB_F_MALFORMED, whole, -1, "The checkpoint at %lld entries: %s.",
                (long long)size, err.text);
    else if (!mb_str_equal(checkpoint.origin, mb_log_origin(judge->check->log)))
        mb_find(findings, MB_F_WRONG_ORIGIN, whole, -1,
                "The checkpoint at %lld entries is of another ledger.", (long long)size);
    else if (checkpoint.size != (uint64_t)size || !mb_hash_equal(&checkpoint.root, &root))
        mb_find(findings, MB_F_NOT_IN_TREE, whole, -1,
                "The first %lld entries do not give the root that was signed over them.",
                (long long)size);
    else if (!mb_keyring_checkpoint_ok(judge->check->ring, &note, checkpoint.size,
                                       old_key_due(judge, size), &why))
        mb_find(findings, MB_F_CHECKPOINT_KEY, whole, -1, "The checkpoint at %lld entries: %s.",
                (long long)size, why);
    judge->check->checkpoints++;
    judge->check->checkpoint_size = size;
    judge->checkpoint_before = size;
    mb_arena_free(scratch);
}

static enum mb_rc judge_checkpoints(struct judge *judge, struct mb_error *err)
{
    while (judge->checkpoint_row
           && mb_col_int(judge->checkpoints, 0) <= (int64_t)judge->edge.size) {
        enum mb_rc rc;

        judge_checkpoint(judge, mb_col_text(judge->checkpoints, 1),
                         mb_col_int(judge->checkpoints, 0));
        rc = mb_stmt_step(judge->checkpoints, &judge->checkpoint_row, err);
        if (rc)
            return rc;
    }
    return MB_OK;
}

static void judge_signature(struct judge *judge, struct row *row)
{
    if (row->sig == SIG_OPEN) {
        const struct mb_ring_key *key = mb_keyring_find(judge->check->ring, row->entry.kid);

        if (!key)
            return; /* the ring has made a finding of that */
        row->sig = mb_entry_signed_by(&row->entry, &key->key) ? SIG_GOOD : SIG_BAD;
    }
    if (row->sig == SIG_BAD)
        mb_find(judge->check->findings, MB_F_BROKEN_SIGNATURE, row->entry.sub, row->seq,
                "The signature of entry %lld (%.*s) does not fit.", (long long)row->seq,
                MB_STR_ARG(row->entry.kind));
}

/* A sum over the rows of the index, whose order is another than the log's. */
static uint64_t index_row(const struct judge *judge, struct mb_str sub, int64_t nth, int64_t seq,
                          struct mb_str kind, int64_t iat)
{
    struct {
        uint8_t secret[16];
        int64_t nth, seq, iat;
        char kind[40];
    } fixed;

    memset(&fixed, 0, sizeof fixed);
    memcpy(fixed.secret, judge->secret, sizeof fixed.secret);
    fixed.nth = nth;
    fixed.seq = seq;
    fixed.iat = iat;
    memcpy(fixed.kind, kind.at, kind.len < sizeof fixed.kind ? kind.len : sizeof fixed.kind);
    return short_hash(judge, &fixed, sizeof fixed, sub.at, sub.len);
}

static void judge_kind(struct judge *judge, const struct row *row)
{
    if (mb_kind_is_known(row->entry.kind))
        return;
    mb_find(judge->check->findings,
            mb_json_true(mb_entry_open(&row->entry, "changes")) ? MB_F_UNKNOWN_CHANGE
                                                                 : MB_F_UNKNOWN_KIND,
            row->entry.sub, row->seq, "Entry %lld is of the kind '%.*s', unknown to this program.",
            (long long)row->seq, MB_STR_ARG(row->entry.kind));
}

static void keep_files(struct judge *judge, const struct row *row)
{
    for (size_t i = 0; i < row->file_count; i++) {
        judge->files = more(judge->check->arena, judge->files, judge->file_count,
                            &judge->file_room, sizeof *judge->files);
        judge->files[judge->file_count++] =
            (struct named_file){ mb_arena_str(judge->check->arena, row->files[i]), row->seq };
    }
}

static enum mb_rc judge_row(struct judge *judge, struct row *row, struct mb_error *err)
{
    mb_findings *findings = judge->check->findings;
    struct mb_hash leaf = row->rc ? mb_leaf_hash(row->jws) : row->entry.leaf;

    if ((uint64_t)row->seq != judge->edge.size) {
        mb_find(findings, MB_F_HOLE_IN_CHAIN, whole, row->seq,
                "Behind entry %lld comes entry %lld.", (long long)judge->edge.size - 1,
                (long long)row->seq);
        return mb_fail(err, MB_NO, "the log has a hole");
    }
    judge->leaves[row->seq] = leaf;
    if (row->leaf.len != sizeof leaf.b || memcmp(row->leaf.at, leaf.b, sizeof leaf.b) != 0)
        mb_find(findings, MB_F_TREE_DIFFERS, whole, row->seq,
                "The stored hash of entry %lld is not that of its text.", (long long)row->seq);
    if (row->rc) {
        mb_find(findings, row->rc == MB_UNABLE ? MB_F_UNKNOWN_VERSION : MB_F_MALFORMED, whole,
                row->seq, "Entry %lld: %s.", (long long)row->seq, row->fault);
    } else {
        judge_links(judge, row);
        mb_keyring_take(judge->check->ring, &row->entry, findings);
        judge_signature(judge, row);
        judge_disclosures(judge, row);
        judge_kind(judge, row);
        keep_files(judge, row);
        judge->index_sum += index_row(judge, row->entry.sub, row->entry.nth, row->seq,
                                      row->entry.kind, row->entry.iat);
    }
    judge->check->entries++;
    if (mb_edge_push(&judge->edge, &leaf, compare_node, judge, err))
        return MB_UNABLE;
    return judge_checkpoints(judge, err);
}

static void snapshot_keys(struct judge *judge, struct batch *batch)
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

static enum mb_rc judge_batch(struct judge *judge, struct batch *batch, struct mb_error *err)
{
    for (size_t i = 0; i < batch->count; i++) {
        enum mb_rc rc = judge_row(judge, &batch->rows[i], err);

        if (rc)
            return rc;
    }
    if (judge->check->progress)
        judge->check->progress(judge->check->ctx, judge->check->entries, judge->size);
    return MB_OK;
}

/* While the crew works on one batch, the other is judged and then filled anew. */
static enum mb_rc run_batches(struct judge *judge, mb_log_scan *scan, mb_crew *crew,
                              struct batch **batches, struct mb_error *err)
{
    struct batch *now = batches[0], *done = batches[1];
    enum mb_rc rc = read_batch(scan, now, err);

    while (!rc && now->count) {
        struct batch *swap = now;

        snapshot_keys(judge, now);
        mb_crew_start(crew, work_piece, now, (now->count + PIECE - 1) / PIECE);
        rc = judge_batch(judge, done, err);
        if (!rc)
            rc = read_batch(scan, done, err);
        mb_crew_wait(crew);
        now = done;
        done = swap;
    }
    return rc ? rc : judge_batch(judge, done, err);
}

static void judge_missing(struct judge *judge)
{
    for (const struct missing *m = judge->missing; m; m = m->next) {
        bool erased = false;

        for (size_t i = 0; i < judge->erased_count && !erased; i++)
            erased = mb_hash_equal(&judge->erased[i], &m->digest);
        if (erased)
            mb_find(judge->check->findings, MB_F_ERASED, whole, m->seq,
                    "A field of entry %lld was erased.", (long long)m->seq);
        else
            mb_find(judge->check->findings, MB_F_DISCLOSURE_MISSING, whole, m->seq,
                    "The content of a field of entry %lld is gone.", (long long)m->seq);
    }
}

static int by_name(const void *a, const void *b)
{
    return mb_str_compare(((const struct named_file *)a)->sha256,
                          ((const struct named_file *)b)->sha256);
}

static void judge_file(struct judge *judge, const struct named_file *file)
{
    mb_arena *scratch = mb_arena_new();
    const char *folder = mb_path_join(scratch, mb_log_folder(judge->check->log), "files");
    const char *path =
        mb_arena_printf(scratch, "%s/%.2s/%.*s", folder, file->sha256.at, MB_STR_ARG(file->sha256));
    struct mb_str bytes;
    char hex[MB_HEX_LEN(32) + 1];

    judge->check->attachments++;
    if (mb_file_read(scratch, path, SIZE_MAX / 2, &bytes, NULL)) {
        mb_find(judge->check->findings, MB_F_FILE_MISSING, whole, file->seq,
                "The file %.*s named by entry %lld is not in the ledger.",
                MB_STR_ARG(file->sha256), (long long)file->seq);
    } else {
        struct mb_hash hash = mb_sha256_str(bytes);

        mb_hex_write(hex, hash.b, sizeof hash.b);
        if (!mb_str_is(file->sha256, hex))
            mb_find(judge->check->findings, MB_F_FILE_CHANGED, whole, file->seq,
                    "The file %.*s named by entry %lld was changed.", MB_STR_ARG(file->sha256),
                    (long long)file->seq);
    }
    mb_arena_free(scratch);
}

static void judge_files(struct judge *judge)
{
    if (judge->file_count)
        qsort(judge->files, judge->file_count, sizeof *judge->files, by_name);
    for (size_t i = 0; i < judge->file_count; i++)
        if (i == 0 || !mb_str_equal(judge->files[i].sha256, judge->files[i - 1].sha256))
            judge_file(judge, &judge->files[i]);
}

static enum mb_rc judge_index(struct judge *judge, struct mb_error *err)
{
    mb_stmt *stmt;
    uint64_t sum = 0, count = 0;
    bool row = true;
    enum mb_rc rc = mb_stmt_make(mb_log_db(judge->check->log),
                                 "SELECT sub, nth, seq, kind, iat FROM line WHERE seq < ?1", &stmt,
                                 err);

    if (rc)
        return rc;
    mb_bind_int(stmt, 1, (int64_t)judge->edge.size);
    while (!(rc = mb_stmt_step(stmt, &row, err)) && row) {
        sum += index_row(judge, mb_col_text(stmt, 0), mb_col_int(stmt, 1), mb_col_int(stmt, 2),
                         mb_col_text(stmt, 3), mb_col_int(stmt, 4));
        count++;
    }
    mb_stmt_free(stmt);
    if (!rc && (sum != judge->index_sum || count != judge->edge.size))
        mb_find(judge->check->findings, MB_F_INDEX_DIFFERS, whole, -1,
                "The index of subjects is not that of the %llu entries.",
                (unsigned long long)judge->edge.size);
    return rc;
}

/* Suspicion comes after the fact: a second look at who signed what. */
static enum mb_rc judge_suspects(struct judge *judge, struct mb_error *err)
{
    mb_arena *scratch;
    mb_log_scan *scan;
    struct mb_str leaf, jws, tail;
    int64_t seq;
    bool row = true;
    enum mb_rc rc;

    if (!mb_keyring_any_suspect(judge->check->ring))
        return MB_OK;
    rc = mb_log_scan_open(judge->check->log, 0, (int64_t)judge->edge.size, &scan, err);
    if (rc)
        return rc;
    scratch = mb_arena_new();
    while (!(rc = mb_log_scan_next(scan, &row, &seq, &leaf, &jws, &tail, err)) && row) {
        struct mb_entry entry;

        mb_arena_reset(scratch);
        if (!mb_entry_read(scratch, jws, &entry, NULL)
            && mb_keyring_suspects(judge->check->ring, entry.kid, seq))
            mb_find(judge->check->findings, MB_F_KEY_SUSPECT, entry.sub, seq,
                    "Entry %lld was signed with the key %.*s after it was said to be in doubt.",
                    (long long)seq, MB_STR_ARG(entry.kid));
    }
    mb_arena_free(scratch);
    mb_log_scan_close(scan);
    return rc;
}

static enum mb_rc judge_rest(struct judge *judge, struct mb_error *err)
{
    mb_findings *findings = judge->check->findings;
    enum mb_rc rc;

    if (judge->checkpoint_row)
        mb_find(findings, MB_F_ROLLED_BACK, whole, -1,
                "A checkpoint was signed over %lld entries; the ledger has %llu.",
                (long long)mb_col_int(judge->checkpoints, 0),
                (unsigned long long)judge->edge.size);
    if (judge->node_row && !mb_stmt_step(judge->nodes, &judge->node_row, NULL) && judge->node_row)
        mb_find(findings, MB_F_TREE_DIFFERS, whole, -1,
                "The ledger stores hashes of entries that it does not have.");
    if (judge->check->checkpoint_size < (int64_t)judge->edge.size)
        mb_find(findings, MB_F_UNCHECKPOINTED, whole, -1,
                "The newest %lld entries stand under no signed checkpoint yet.",
                (long long)judge->edge.size - (long long)judge->check->checkpoint_size);
    judge_missing(judge);
    judge_files(judge);
    rc = judge_index(judge, err);
    return rc ? rc : judge_suspects(judge, err);
}

static void judge_trust(struct judge *judge)
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

static enum mb_rc set_up(struct judge *judge, struct mb_error *err)
{
    struct mb_log_check *check = judge->check;
    uint64_t seats = 1024;
    int64_t size;
    enum mb_rc rc = mb_log_size(check->log, &size, err);

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

static enum mb_rc judge_all(struct judge *judge, mb_crew *crew, struct mb_error *err)
{
    struct batch *batches[BATCHES];
    mb_log_scan *scan;
    enum mb_rc rc = mb_log_scan_open(judge->check->log, 0, (int64_t)judge->size, &scan, err);

    if (rc)
        return rc;
    for (size_t i = 0; i < BATCHES; i++)
        batches[i] = batch_new(judge->check->arena);
    rc = run_batches(judge, scan, crew, batches, err);
    mb_log_scan_close(scan);
    for (size_t i = 0; i < BATCHES; i++)
        batch_free(batches[i]);
    return rc ? rc : judge_rest(judge, err);
}

enum mb_rc mb_log_verify(struct mb_log_check *check, struct mb_error *err)
{
    struct judge judge = { .check = check };
    struct mb_error damage = { 0 };
    mb_crew *crew;
    enum mb_rc rc = mb_crew_new(check->arena, check->threads ? check->threads : mb_cores(), &crew,
                                err);

    if (rc)
        return rc;
    /* one consistent look at the file, whoever appends meanwhile */
    rc = mb_db_run(mb_log_db(check->log), "BEGIN", &damage);
    if (!rc)
        rc = set_up(&judge, &damage);
    if (!rc)
        rc = judge_all(&judge, crew, &damage);
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
