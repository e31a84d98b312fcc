/*
 * A ledger: founding it, opening it, its keys.
 *
 * Every call that answers something answers with a JSON value in the caller's arena; its members
 * are given with the call. The program prints the same value with --json, or tells it in words.
 *
 *   mb_ledger *ledger;
 *   rc = mb_ledger_open(arena, "lab", MB_WRITE, &ledger, &err);
 *   rc = mb_ledger_unlock(ledger, NULL, passphrase, &err);     (before anything is recorded)
 *   ...
 *   mb_ledger_close(ledger);
 */
#ifndef MARKERBED_LEDGER_H
#define MARKERBED_LEDGER_H

#include <markerbed/json.h>

typedef struct mb_ledger mb_ledger;

enum mb_access {
    MB_READ, /* never writes to the log; views may be brought up to date where the disk allows */
    MB_WRITE
};

/* Once per process, before any other call. MB_UNABLE where the system gives no randomness. */
MB_CHECK enum mb_rc mb_start(struct mb_error *err);
/* Frees what libraries keep to themselves; for tidy ends and leak checkers. */
void mb_stop(void);

struct mb_founding {
    const char *folder;      /* made if it is not there; must hold no ledger */
    const char *origin;      /* the ledger's name for ever, like ledger.harrowvane.example */
    const char *name;        /* the firm's name, public in every file */
    const char *key_label;   /* what the founding key is called, e.g. "ottoline" */
    struct mb_str passphrase;
    const char *holder_id;   /* party/ID of the founder, e.g. "P001"; NULL: none is recorded */
};
/* {"origin","fingerprint","fingerprintGrouped","founder":kid,"second":kid,"envelope":"abcd ...",
 *  "entries":n}. The envelope is the second enrolling key: it is nowhere on disk; print it, lock it
 * away. */
MB_CHECK enum mb_rc mb_ledger_found(mb_arena *arena, const struct mb_founding *founding,
                                    const mb_json **out, struct mb_error *err);

MB_CHECK enum mb_rc mb_ledger_open(mb_arena *arena, const char *folder, enum mb_access access,
                                   mb_ledger **out, struct mb_error *err);
mb_ledger *mb_ledger_close(mb_ledger *ledger); /* accepts NULL, returns NULL */

/* Opens a key to sign with: by its label or the beginning of its thumbprint, NULL for the only
 * one. */
MB_CHECK enum mb_rc mb_ledger_unlock(mb_ledger *ledger, const char *key, struct mb_str passphrase,
                                     struct mb_error *err);
/* True if a key is open. */
bool mb_ledger_unlocked(const mb_ledger *ledger);
/* The machine's clock is right although it is far from the last entry. */
void mb_ledger_confirm_clock(mb_ledger *ledger);

/* {"origin","name","fingerprint","fingerprintGrouped","entries","checkpointSize","folder"} */
MB_CHECK enum mb_rc mb_ledger_about(mb_ledger *ledger, mb_arena *arena, const mb_json **out,
                                    struct mb_error *err);

struct mb_key_adding {
    const char *label;
    const char *holder;          /* party/ID or ID */
    const char *const *may;      /* kinds and "enrol"; "everything" stands for all kinds of today */
    size_t may_count;
    struct mb_str passphrase;    /* of the new key */
    struct mb_str envelope; /* bring back a key from its envelope instead; .at NULL: a new key */
    bool signs_checkpoints;      /* gets the checkpoint key too */
};
/* {"kid","label","entry":seq or absent for a key brought back} */
MB_CHECK enum mb_rc mb_key_add(mb_ledger *ledger, mb_arena *arena,
                               const struct mb_key_adding *adding, const mb_json **out,
                               struct mb_error *err);
/* why: one of the choices of kind key-retirement. suspect_from: entry number, -1 for none.
 * {"kid","entry","suspect":how many entries are now in doubt} */
MB_CHECK enum mb_rc mb_key_retire(mb_ledger *ledger, mb_arena *arena, const char *key,
                                  const char *why, int64_t suspect_from, const mb_json **out,
                                  struct mb_error *err);
/* New checkpoint key. lost: the old one cannot sign any more (or was stolen: why says which).
 * {"checkpointKey","entry"} */
MB_CHECK enum mb_rc mb_key_checkpoint(mb_ledger *ledger, mb_arena *arena, const char *why,
                                      const mb_json **out, struct mb_error *err);
/* [{"kid","label","holder","may":[...],"enrolled":seq,"retired":seq,"suspectFrom","here":bool}] */
MB_CHECK enum mb_rc mb_key_list(mb_ledger *ledger, mb_arena *arena, const mb_json **out,
                                struct mb_error *err);

#endif
