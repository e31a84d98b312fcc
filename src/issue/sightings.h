/*
 * What several files say of the same ledgers, held against each other: two different entries for
 * one place, or two different roots for one size, are signed proof that two stories were told.
 * A ledger is known by its fingerprint: anybody can give theirs the same name.
 */
#ifndef MB_SIGHTINGS_H
#define MB_SIGHTINGS_H

#include "entry.h"
#include "finding.h"
#include "log.h"

typedef struct mb_sightings mb_sightings;

mb_sightings *mb_sightings_new(mb_arena *arena);
/* An entry, seen in `file`. Only entries whose signature was found good should be told of. */
void mb_sightings_entry(mb_sightings *seen, const char *file, const struct mb_hash *fingerprint,
                        const struct mb_entry *entry);
/* A checkpoint whose signatures were found good. */
void mb_sightings_root(mb_sightings *seen, const char *file, const struct mb_hash *fingerprint,
                       struct mb_str origin, uint64_t size, const struct mb_hash *root);
/* Compares all with each other. */
void mb_sightings_compare(mb_sightings *seen, mb_findings *findings);
/* Compares all of one ledger with that ledger on disk. */
MB_CHECK enum mb_rc mb_sightings_against(mb_sightings *seen, const char *file, mb_log *log,
                                         mb_findings *findings, struct mb_error *err);
/* Compares two ledgers on disk, if they are of one founding. */
MB_CHECK enum mb_rc mb_sightings_of_two(const char *file_a, mb_log *a, const char *file_b,
                                        mb_log *b, mb_findings *findings, struct mb_error *err);

#endif
