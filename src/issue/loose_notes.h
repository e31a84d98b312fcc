/* Checkpoints that stand in files of their own: checked with the keys that the other files hold,
 * for a checkpoint itself does not say whose it is. */
#ifndef MB_LOOSE_NOTES_H
#define MB_LOOSE_NOTES_H

#include "keyring.h"
#include "sightings.h"

typedef struct mb_loose_notes mb_loose_notes;

mb_loose_notes *mb_loose_notes_new(mb_arena *arena);
/* The keys of a ledger, as some file holds them. The ring outlives the notes. */
void mb_loose_notes_ring(mb_loose_notes *notes, const struct mb_hash *fingerprint,
                         const mb_keyring *ring);
/* Takes a checkpoint: {"origin","checkpointSize"} are put into `file`. MB_REFUSED if it is none. */
MB_CHECK enum mb_rc mb_loose_notes_add(mb_loose_notes *notes, const char *path, struct mb_str bytes,
                                       mb_json *file, struct mb_error *err);
/* When all files are read: who signed each of them, and what that adds to what was seen. How many
 * nobody here could have signed. */
size_t mb_loose_notes_judge(mb_loose_notes *notes, bool named, mb_sightings *seen,
                            mb_findings *findings);

#endif
