/* A bag that came as one file, unpacked for as long as it is looked at. */
#ifndef MB_BAG_UNPACK_H
#define MB_BAG_UNPACK_H

#include <stdbool.h>

#include <markerbed/arena.h>

/* Does the file begin as a .zip or .gz does? */
bool mb_is_pack(const char *path);

/* Unpacks into a folder of its own under `scratch` (NULL: the system's), which the caller deletes
 * (mb_filetree_delete), and finds the bag in it. Unpacked it may be at most 200 times as long as
 * packed and 64 MiB more, and hold 100,000 files. MB_REFUSED where it holds no bag, or more than
 * one; nothing is left then. */
MB_CHECK enum mb_rc mb_bag_unpack(mb_arena *arena, const char *path, const char *scratch,
                                  const char **folder, const char **bag, struct mb_error *err);

#endif
