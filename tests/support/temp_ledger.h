/*
 * A ledger in a folder of its own, with keys whose seeds are fixed (secret_of_seed): the owner's
 * (20, the founding key), a spare one that enrols (40), a preparator's (60: preparation and
 * condition) and the checkpoint key (00). Origin ledger.harrowvane.example; its clock is the
 * machine's unless MARKERBED_CLOCK says otherwise. Whatever fails ends the test.
 */
#ifndef MB_TEMP_LEDGER_H
#define MB_TEMP_LEDGER_H

#include "log.h"

#define TEMP_LEDGER_ORIGIN "ledger.harrowvane.example"

struct temp_ledger {
    mb_arena *arena;
    const char *folder;
    mb_log *log;
    mb_secret *owner, *spare, *preparator, *checkpoint;
};

/* Three entries: the founding and the enrolling of the spare key and the preparator's. */
void temp_ledger_new(struct temp_ledger *t);
void temp_ledger_done(struct temp_ledger *t); /* removes the folder too */

/* Fields out of JSON by class: {"open":{...},"sale":{"into*":[...]}}; the elements of a list whose
 * name ends with a star are salted one by one. */
struct mb_field *temp_fields(mb_arena *arena, const char *json, size_t *count);
/* Appends one entry by the owner inside the open group. */
enum mb_rc temp_ledger_put(struct temp_ledger *t, const char *sub, const char *kind,
                           const char *fields, struct mb_error *err);
/* The same, signed by `secret`; the entry as stored. */
struct mb_entry temp_ledger_put_by(struct temp_ledger *t, const mb_secret *secret, const char *sub,
                                   const char *kind, const char *fields);
/* A group of one, committed with a signed checkpoint. */
struct mb_entry temp_ledger_add(struct temp_ledger *t, const char *sub, const char *kind,
                                const char *fields);
/* Begins and commits a group, the latter with a checkpoint. */
void temp_ledger_begin(struct temp_ledger *t);
void temp_ledger_commit(struct temp_ledger *t);

#endif
