/* Files: read whole with a limit, write so that a crash leaves the old or the new, never a half. */
#ifndef MB_FILEIO_H
#define MB_FILEIO_H

#include <stdbool.h>
#include <stdint.h>
#include <sys/types.h>

#include <markerbed/arena.h>

/* Reads a whole file ("-" is standard input). MB_REFUSED if it is longer than max, cannot be
 * opened, or is no regular file. */
MB_CHECK enum mb_rc mb_file_read(mb_arena *arena, const char *path, size_t max, struct mb_str *out,
                                 struct mb_error *err);
/* Temporary name beside it, write, fsync, rename, fsync of the folder. */
MB_CHECK enum mb_rc mb_file_write(const char *path, struct mb_str bytes, mode_t mode,
                                  struct mb_error *err);
/* As mb_file_write, but refuses (MB_REFUSED) where the name exists. */
MB_CHECK enum mb_rc mb_file_create(const char *path, struct mb_str bytes, mode_t mode,
                                   struct mb_error *err);
MB_CHECK enum mb_rc mb_folder_make(const char *path, mode_t mode, struct mb_error *err);
bool mb_file_exists(const char *path);
char *mb_path_join(mb_arena *arena, const char *folder, const char *name);
/* A new file under a name for the time being is its writer's until it is closed: false where it was
 * taken away before that could be said (open another). */
bool mb_part_claim(int fd);
/* Takes such a file away: 1 if its writer still has it, which leaves it; 0 if it is gone; -1 with
 * errno. */
int mb_part_remove(const char *path);
const char *mb_path_name(const char *path); /* the last part */

#endif
