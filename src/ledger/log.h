/*
 * The log of one ledger on disk: appending and reading. docs/storage.md draws the tables.
 *
 * Invariants, held by log.c and tested under these names:
 *   L1  An entry is acknowledged (mb_log_commit returned MB_OK) only when it is synced to disk.
 *   L2  What is committed was read back from the database and hashed again inside the transaction:
 *       leaf hashes, inner nodes and, before a checkpoint is signed, everything since the last one.
 *   L3  One transaction is one group: all its entries are there or none.
 *   L4  Writers of several processes take turns (BEGIN IMMEDIATE); each reads the head inside its
 *       own transaction, so none overwrites, loses or forks.
 *   L5  iat never decreases. A clock more than a few minutes behind the last entry, or more than
 *       400 days ahead of it, is refused until confirmed.
 *   L6  No connection can change or remove what is recorded (triggers and authorizer).
 */
#ifndef MB_LOG_H
#define MB_LOG_H

#include <stdbool.h>
#include <stdint.h>

#include "db.h"
#include "entry.h"
#include "merkle.h"
#include "note.h"

typedef struct mb_log mb_log;

enum mb_log_mode {
    MB_LOG_READ,
    MB_LOG_WRITE,
    MB_LOG_CHECK /* as READ, but a founding that cannot be read leaves the origin empty */
};

/* Makes folder/ledger.db, empty. The founding is appended like any other entry. */
MB_CHECK enum mb_rc mb_log_create(mb_arena *arena, const char *folder, mb_log **out,
                                  struct mb_error *err);
/* MB_REFUSED if there is no ledger in the folder; MB_UNABLE if it is of a newer version. */
MB_CHECK enum mb_rc mb_log_open(mb_arena *arena, const char *folder, enum mb_log_mode mode,
                                mb_log **out, struct mb_error *err);
mb_log *mb_log_close(mb_log *log); /* accepts NULL; rolls back an open group */

const char *mb_log_folder(const mb_log *log);
mb_db *mb_log_db(mb_log *log);       /* for the views, which share the file */
struct mb_str mb_log_origin(const mb_log *log);
const struct mb_hash *mb_log_fingerprint(const mb_log *log); /* leaf hash of entry 0 */
MB_CHECK enum mb_rc mb_log_size(mb_log *log, int64_t *size, struct mb_error *err);

/* One group of appends. Begin waits for other writers. */
MB_CHECK enum mb_rc mb_log_begin(mb_log *log, struct mb_error *err);
void mb_log_confirm_clock(mb_log *log); /* the machine's clock is right: lifts L5's refusal */

struct mb_append {
    const char *sub, *kind;
    const struct mb_field *fields;
    size_t count;
    const char *origin; /* for a founding alone, else NULL */
};
/* Fills in iss, iat, seq, nth, prev, prior; signs; stores. *out (may be NULL) lives in the arena
 * and is told in short: without body, slots and disclosures, for which mb_log_entry reads it back.
 * */
MB_CHECK enum mb_rc mb_log_append(mb_log *log, mb_arena *arena, const struct mb_append *append,
                                  const mb_secret *secret, struct mb_entry *out,
                                  struct mb_error *err);
/* How many entries there were when the open group began. */
int64_t mb_log_group_start(const mb_log *log);
/* Where the next entry will stand. */
int64_t mb_log_next_seq(const mb_log *log);

/* Signs a checkpoint over all entries if `count` keys are given (the one in force and, after a
 * change of keys, the old one too), and commits. After a failure the group is rolled back. */
MB_CHECK enum mb_rc mb_log_commit(mb_log *log, const mb_secret *const *checkpoint_keys,
                                  size_t count, struct mb_error *err);
void mb_log_rollback(mb_log *log);
bool mb_log_in_group(const mb_log *log);

/* Reading. Entries come with their disclosures. MB_REFUSED if there is none. */
MB_CHECK enum mb_rc mb_log_entry(mb_log *log, mb_arena *arena, int64_t seq, struct mb_entry *out,
                                 struct mb_error *err);
MB_CHECK enum mb_rc mb_log_leaf(mb_log *log, int64_t seq, struct mb_hash *out,
                                struct mb_error *err);
/* The last entry of a subject recorded before entry `before` (MB_NEVER: of all): MB_NO if none.
 * Upper and lower case are one; *sub (may be NULL) gets the subject as it was first written. */
MB_CHECK enum mb_rc mb_log_head(mb_log *log, mb_arena *arena, struct mb_str subject,
                                int64_t before, int64_t *seq, int64_t *nth, struct mb_str *sub,
                                struct mb_error *err);
/* The entries of a subject below `before`, oldest first. */
MB_CHECK enum mb_rc mb_log_chain(mb_log *log, mb_arena *arena, struct mb_str subject,
                                 int64_t before, int64_t **seqs, size_t *count,
                                 struct mb_error *err);
/* Finds the entry with this leaf hash on a subject's chain: MB_NO if none. */
MB_CHECK enum mb_rc mb_log_find_leaf(mb_log *log, mb_arena *arena, struct mb_str subject,
                                     const struct mb_hash *leaf, int64_t *seq,
                                     struct mb_error *err);

/* Raw rows in order, for verifying and replaying: jws and tail are borrowed until the next call.
 * *row false at the end. */
typedef struct mb_log_scan mb_log_scan;
MB_CHECK enum mb_rc mb_log_scan_open(mb_log *log, int64_t from, int64_t to, mb_log_scan **out,
                                     struct mb_error *err);
MB_CHECK enum mb_rc mb_log_scan_next(mb_log_scan *scan, bool *row, int64_t *seq,
                                     struct mb_str *leaf, struct mb_str *jws, struct mb_str *tail,
                                     struct mb_error *err);
mb_log_scan *mb_log_scan_close(mb_log_scan *scan);
/* Each entry of [from, to) with what is disclosed of it, in order. It is gone once `each` is back;
 * what that answers, if not MB_OK, ends the walk and is its answer. */
typedef enum mb_rc mb_log_entry_fn(void *ctx, const struct mb_entry *entry, struct mb_error *err);
MB_CHECK enum mb_rc mb_log_each(mb_log *log, int64_t from, int64_t to, mb_log_entry_fn *each,
                                void *ctx, struct mb_error *err);

MB_CHECK enum mb_rc mb_log_node(mb_log *log, unsigned level, uint64_t index, struct mb_hash *out,
                                struct mb_error *err);
MB_CHECK enum mb_rc mb_log_prove(mb_log *log, int64_t seq, int64_t size, struct mb_path *out,
                                 struct mb_error *err);
MB_CHECK enum mb_rc mb_log_prove_growth(mb_log *log, int64_t size_old, int64_t size_new,
                                        struct mb_path *out, struct mb_error *err);
MB_CHECK enum mb_rc mb_log_root(mb_log *log, int64_t size, struct mb_hash *out,
                                struct mb_error *err);
/* The signed checkpoint of exactly this size, or (size 0) the newest; MB_NO if there is none. */
MB_CHECK enum mb_rc mb_log_checkpoint(mb_log *log, mb_arena *arena, int64_t size,
                                      struct mb_str *note, int64_t *size_out,
                                      struct mb_error *err);

/* Row of an inner node (level >= 1) in the table `node`. */
int64_t mb_node_row(unsigned level, uint64_t index);

#endif
