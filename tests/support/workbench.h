/*
 * A ledger founded through the library's own door, and short ways to record in it. Its clock stands
 * still at workbench_now (linking this file takes the place of the machine's clock), its time zone
 * is UTC. Whatever fails where a test did not ask for the answer ends the test.
 */
#ifndef MB_WORKBENCH_H
#define MB_WORKBENCH_H

#include <markerbed/record.h>

#include "entry.h"

#define WORKBENCH_PASSPHRASE "six marker beds"
#define WORKBENCH_ORIGIN "ledger.harrowvane.example"

extern int64_t workbench_now; /* 2026-06-01T12:00:00Z at first */

struct workbench {
    mb_arena *arena;
    const char *folder, *envelope, *founder, *second;
    mb_ledger *ledger;
    const mb_json *out;  /* the last answer */
    struct mb_error err; /* of the last call; emptied by each */
};

/* Founded, open and unlocked by the founding key, whose holder is party/P001. */
void workbench_new(struct workbench *b);
/* The same, and recorded: party P001 (Ottoline Harrow), P002 (Teodor Vane), P003 (Wren Castellane),
 * site S001 (Sallow Draw), horizon H-A, permission L001, field-day D001 on 2026-05-30. */
void workbench_house(struct workbench *b);
void workbench_done(struct workbench *b);
/* Closes it and opens it again by another key (NULL: the only one). */
void workbench_reopen(struct workbench *b, const char *key);

/* Records "kind subject" with fields "name=value", the list ending with NULL. */
enum mb_rc workbench_record(struct workbench *b, const char *kind, const char *subject, ...);
/* The same; a refusal ends the test. Returns the entry's number. */
int64_t workbench_must(struct workbench *b, const char *kind, const char *subject, ...);
/* Adds to a batch, the answer in b->out. */
enum mb_rc workbench_add(struct workbench *b, mb_batch *batch, const char *where,
                         const char *kind, const char *subject, ...);

/* An entry as it stands in the log. */
struct mb_entry workbench_entry(struct workbench *b, int64_t seq);
/* A field of it as JSON text, "" if it is not there; *in (may be NULL) its class. */
const char *workbench_field(struct workbench *b, int64_t seq, const char *name,
                            enum mb_class *in);
int64_t workbench_size(struct workbench *b);
/* Judges the ledger on disk as a stranger would (verify_log.h): the names of what was found, sorted
 * and divided by blanks. A whole ledger of our own is "unknown-ledger". */
const char *workbench_verify(struct workbench *b);

#endif
