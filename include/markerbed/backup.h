/*
 * Backups: a copy of a ledger as it stands at one moment, made while others record, and brought
 * back.
 *
 * A backup is a folder: ledger.db, files/, settings.json, backup.json that says what it is, and
 * keys/ only where they were asked for (they are sealed under their passphrases). It can be read
 * and verified as it lies, but nothing can be recorded in it: two ledgers that grow on their own
 * from one root are two stories, and whoever has seen both can prove it.
 */
#ifndef MARKERBED_BACKUP_H
#define MARKERBED_BACKUP_H

#include <markerbed/ledger.h>

struct mb_backup {
    const char *to; /* a new folder; everything is written under "TO.part", synced, then renamed */
    bool with_keys;
    bool scrub; /* no views, no page of the file that holds anything removed (VACUUM), no settings;
                 * the ledger itself, where it can be written, is left as clean: its own file is
                 * written anew and its -wal emptied */
};

/* {"to","origin","fingerprint","fingerprintGrouped","entries","files","bytes","keys","scrubbed",
 *  "madeAt","damaged":[hash of a file that is not as its name says, and was left out]}
 * MB_NO where any is damaged; the backup is made all the same. MB_UNABLE where the disk is full or
 * a file cannot be read: nothing is left under either name. */
MB_CHECK enum mb_rc mb_backup_make(mb_ledger *ledger, mb_arena *arena,
                                   const struct mb_backup *backup, const mb_json **out,
                                   struct mb_error *err);

/* Copies a backup to a folder that does not exist yet, verifies the copy, and only then gives it
 * its name. {"to","origin","fingerprint","fingerprintGrouped","entries","files","bytes","keys",
 *  "madeAt"?,"restored",
 *  "findings":[as of mb_verify]}
 * MB_NO where something does not hold: nothing is restored then, unless `even_damaged`. */
MB_CHECK enum mb_rc mb_backup_restore(mb_arena *arena, const char *from, const char *to,
                                      bool even_damaged, const mb_json **out,
                                      struct mb_error *err);

#endif
