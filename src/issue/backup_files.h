/* Copying a ledger's folder file by file, under a temporary name until all of it is on the disk. */
#ifndef MB_BACKUP_FILES_H
#define MB_BACKUP_FILES_H

#include <stdint.h>
#include <sys/types.h>

#include <markerbed/json.h>

/* A folder "TO.part" that becomes TO. It is locked while it is filled: one that nobody holds was
 * left by a run that was stopped, and is cleared away by the next. */
struct mb_part {
    const char *to, *path;
    int lock;
};
/* MB_REFUSED where `to` exists, its parent does not, or another run fills it just now. */
MB_CHECK enum mb_rc mb_part_begin(mb_arena *arena, const char *to, struct mb_part *part,
                                  struct mb_error *err);
/* Syncs the folder and renames it; never over anything. */
MB_CHECK enum mb_rc mb_part_end(struct mb_part *part, struct mb_error *err);
void mb_part_drop(struct mb_part *part); /* removes what is there; nothing after mb_part_end */

struct mb_copied {
    int64_t files, bytes;
    mb_json *damaged; /* array of hashes */
};
/* All attachments of `from` into `to`, each hashed on the way; one that is not what its name says
 * is left out and told of. */
MB_CHECK enum mb_rc mb_copy_attachments(mb_arena *arena, const char *from, const char *to,
                                        struct mb_copied *copied, struct mb_error *err);
/* One file of the folder, if it is there. */
MB_CHECK enum mb_rc mb_copy_one(mb_arena *arena, const char *from, const char *to,
                                const char *name, mode_t mode, struct mb_error *err);
/* The folder keys/. */
MB_CHECK enum mb_rc mb_copy_keys(mb_arena *arena, const char *from, const char *to, int64_t *keys,
                                 struct mb_error *err);

#endif
