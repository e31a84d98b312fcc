/* An open ledger as the upper floors see it: the log, the kinds, who signs. Private to the
 * library. */
#ifndef MB_SESSION_H
#define MB_SESSION_H

#include <markerbed/ledger.h>

#include "keyfile.h"
#include "keyring.h"
#include "log.h"

struct mb_place_words;

/* A folder with this file in it is a backup: nothing is recorded there. */
#define MB_BACKUP_MARK "backup.json"

/* So many checkpoint keys can stand over one checkpoint. More than two do only where somebody
 * changed the key several times and signed nothing between. */
enum { MB_CHECKPOINT_SIGNERS = 8 };

struct mb_door; /* what recording keeps from one entry to the next: door.h */

struct mb_ledger {
    mb_arena *arena; /* lives as long as the ledger is open */
    mb_log *log;
    enum mb_access access;
    mb_secret *person;      /* NULL until unlocked */
    struct mb_keyfile signer;
    struct mb_str recorder; /* party/ID of the signing key's holder, {NULL, 0} if none */
    /* the key in force, and those replaced that still must sign */
    const mb_secret *checkpoint[MB_CHECKPOINT_SIGNERS];
    size_t checkpoint_count; /* 0: this key signs no checkpoint */
    mb_secret *owned[MB_CHECKPOINT_SIGNERS]; /* the same, to be freed */
    mb_db *views;           /* where the views are: the ledger's own file, or memory; closed with
                             * the ledger if it is not the log's */
    struct mb_fresh_file *fresh; /* in the folder, and not yet named for good: fresh_files.h */
    struct mb_door *door;   /* NULL until something is recorded */
    /* works out places: placework.h; NULL until the land floor has joined */
    enum mb_rc (*place_work)(mb_arena *arena, const struct mb_place_words *words,
                             const mb_json **out, struct mb_error *err);

    /* the ring as last read, and what it was read from */
    mb_arena *ring_arena;
    mb_keyring *ring;
    int64_t ring_entries, ring_last;
    mb_stmt *key_entries;
};

/* The ring as of now: all keys and checkpoint keys of the ledger. It is kept, and read again only
 * where entries about keys were added; what this gives lasts until the next call. */
MB_CHECK enum mb_rc mb_session_keys(mb_ledger *ledger, const mb_keyring **out,
                                    struct mb_error *err);
/* Begins a group, after checking that a key is open and in force. */
MB_CHECK enum mb_rc mb_session_begin(mb_ledger *ledger, struct mb_error *err);
/* Commits it, with a signed checkpoint where this key may sign one; after a failure nothing of the
 * group is there. */
MB_CHECK enum mb_rc mb_session_commit(mb_ledger *ledger, struct mb_error *err);
void mb_session_rollback(mb_ledger *ledger);

#endif
