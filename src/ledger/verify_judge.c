/*
 * Judging entries in the order of the log: rights, links, tree, checkpoints; and at the end what is
 * missing, the index, and suspicion that came after the fact.
 */
#include "verify_judge.h"

#include <string.h>

#include "sha256.h"
#include "story.h"
#include "text.h"
#include "verify_countersign.h"

static const struct mb_str whole = { NULL, 0 };

void *mb_judge_more(mb_arena *arena, void *items, size_t count, size_t *room, size_t size)
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

static uint64_t short_hash(const struct mb_judge *judge, const void *a, size_t a_len, const void *b,
                           size_t b_len)
{
    struct mb_hash hash = mb_sha256_tagged(judge->secret[0], a, a_len, b, b_len);
    uint64_t out;

    memcpy(&out, hash.b, sizeof out);
    return out;
}

static struct seat *seat_of(struct mb_judge *judge, struct mb_str subject)
{
    uint64_t hash = short_hash(judge, judge->secret, sizeof judge->secret, subject.at, subject.len);
    uint64_t at = hash & judge->seat_mask;

    while (judge->seats[at].seq_plus && judge->seats[at].hash != hash)
        at = (at + 1) & judge->seat_mask;
    judge->seats[at].hash = hash;
    return &judge->seats[at];
}

/* Whether it stands where and when it says. */
static void judge_place(struct mb_judge *judge, const struct mb_row *row)
{
    const struct mb_entry *entry = &row->entry;
    mb_findings *findings = judge->check->findings;

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
    if (entry->iat < judge->check->iat_last)
        mb_find(findings, MB_F_CLOCK_BACKWARDS, entry->sub, row->seq,
                "Entry %lld was recorded earlier than the one before it.", (long long)row->seq);
    judge->check->iat_last = entry->iat;
}

/* Its place in the chain of its subject. */
static void judge_chain(struct mb_judge *judge, const struct mb_row *row)
{
    const struct mb_entry *entry = &row->entry;
    mb_findings *findings = judge->check->findings;
    struct seat *seat = seat_of(judge, entry->sub);
    int64_t nth = seat->seq_plus ? (int64_t)seat->nth + 1 : 0;

    if (entry->nth != nth)
        mb_find(findings, MB_F_HOLE_IN_CHAIN, entry->sub, row->seq,
                "Entry %lld stands at place %lld of the chain of %.*s, counted from 0, and says it"
                " stands at place %lld.",
                (long long)row->seq, (long long)nth, MB_STR_ARG(entry->sub),
                (long long)entry->nth);
    else if (entry->has_prior != (nth > 0)
             || (nth > 0
                 && !mb_hash_equal(&entry->prior, &judge->leaves[seat->seq_plus - 1])))
        mb_find(findings, MB_F_BROKEN_LINK, entry->sub, row->seq,
                "Entry %lld does not name the entry of %.*s before it.", (long long)row->seq,
                MB_STR_ARG(entry->sub));
    seat->seq_plus = (uint32_t)row->seq + 1;
    seat->nth = (uint32_t)entry->nth;
}

static void judge_erasure(struct mb_judge *judge, const struct mb_entry *entry)
{
    MB_JSON_EACH(digest, mb_entry_open(entry, "digests"))
    {
        struct mb_hash hash;

        if (!mb_b64u_read_exact(mb_json_str(digest), hash.b, sizeof hash.b))
            continue;
        judge->erased = mb_judge_more(judge->check->arena, judge->erased, judge->erased_count,
                                      &judge->erased_room, sizeof hash);
        judge->erased[judge->erased_count++] = hash;
    }
}

static void judge_disclosures(struct mb_judge *judge, const struct mb_row *row)
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
    struct mb_judge *judge = ctx;
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

static void judge_checkpoint(struct mb_judge *judge, struct mb_str bytes, int64_t size)
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
    else if (mb_log_origin(judge->check->log).len
             && !mb_str_equal(checkpoint.origin, mb_log_origin(judge->check->log)))
        mb_find(findings, MB_F_WRONG_ORIGIN, whole, -1,
                "The checkpoint at %lld entries is of another ledger.", (long long)size);
    else if (checkpoint.size != (uint64_t)size || !mb_hash_equal(&checkpoint.root, &root))
        mb_find(findings, MB_F_NOT_IN_TREE, whole, -1,
                "The first %lld entries do not give the root that was signed over them.",
                (long long)size);
    else if (!judge->newer
             && !mb_keyring_checkpoint_ok(judge->check->ring, &note, checkpoint.size,
                                          (uint64_t)judge->checkpoint_before, &why))
        mb_find(findings, MB_F_CHECKPOINT_KEY, whole, -1, "The checkpoint at %lld entries: %s.",
                (long long)size, why);
    judge->check->checkpoints++;
    judge->check->checkpoint_size = size;
    judge->checkpoint_before = size;
    mb_arena_free(scratch);
}

static enum mb_rc judge_checkpoints(struct mb_judge *judge, struct mb_error *err)
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

static void judge_signature(struct mb_judge *judge, struct mb_row *row)
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
static uint64_t index_row(const struct mb_judge *judge, struct mb_str sub, int64_t nth, int64_t seq,
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

static void judge_kind(struct mb_judge *judge, const struct mb_row *row)
{
    if (mb_kind_is_known(row->entry.kind))
        return;
    mb_find(judge->check->findings,
            mb_json_true(mb_entry_open(&row->entry, "changes")) ? MB_F_UNKNOWN_CHANGE
                                                                 : MB_F_UNKNOWN_KIND,
            row->entry.sub, row->seq, "Entry %lld is of the kind '%.*s', unknown to this program.",
            (long long)row->seq, MB_STR_ARG(row->entry.kind));
}

enum mb_rc mb_judge_row(struct mb_judge *judge, struct mb_row *row, struct mb_error *err)
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
        judge->newer = judge->newer || row->rc == MB_UNABLE;
    } else {
        judge_place(judge, row);
        if (!judge->newer) {
            judge_chain(judge, row);
            mb_keyring_take(judge->check->ring, &row->entry, findings);
            judge_kind(judge, row);
            mb_countersigned_in_log(judge->check, &row->entry);
        }
        judge_signature(judge, row);
        judge_disclosures(judge, row);
        mb_judge_keep_files(judge, row);
        judge->index_sum += index_row(judge, row->entry.sub, row->entry.nth, row->seq,
                                      row->entry.kind, row->entry.iat);
    }
    judge->check->entries++;
    if (mb_edge_push(&judge->edge, &leaf, compare_node, judge, err))
        return MB_UNABLE;
    return judge_checkpoints(judge, err);
}

static void judge_missing(struct mb_judge *judge)
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

static enum mb_rc judge_index(struct mb_judge *judge, struct mb_error *err)
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
static enum mb_rc judge_suspects(struct mb_judge *judge, struct mb_error *err)
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

enum mb_rc mb_judge_rest(struct mb_judge *judge, struct mb_error *err)
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
    mb_judge_files(judge);
    if (judge->newer) /* what it is about, only a newer program can tell */
        return MB_OK;
    rc = judge_index(judge, err);
    return rc ? rc : judge_suspects(judge, err);
}
