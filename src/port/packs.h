/*
 * Packs of many files by libarchive (the only file that knows it): .tar.gz (POSIX pax, RFC 1952)
 * and .zip.
 *
 * Packing is deterministic: sorted names, one day for all files, no owner, no machine's name; the
 * same files make the same bytes. Pictures and PDFs are stored in a .zip as they are, for they do
 * not get smaller. Files go through a piece at a time.
 */
#ifndef MB_PACKS_H
#define MB_PACKS_H

#include <stdint.h>

#include <markerbed/arena.h>

enum mb_pack { MB_PACK_TAR_GZ, MB_PACK_ZIP };

/* Packs a folder with all files in it, under the name `top`, into a new file; `when` in seconds
 * since 1970. MB_REFUSED where the file is there already; after a failure nothing is left. */
MB_CHECK enum mb_rc mb_archive_folder(mb_arena *arena, enum mb_pack form, const char *folder,
                                      const char *top, int64_t when, const char *path,
                                      struct mb_error *err);

struct mb_archived {
    const char *name;
    struct mb_str bytes;
};

/* A small .zip in memory. */
MB_CHECK enum mb_rc mb_archive_zip(mb_arena *arena, const struct mb_archived *files, size_t count,
                                   int64_t when, struct mb_str *out, struct mb_error *err);

struct mb_unpack_limits {
    int64_t bytes_max; /* of all files together, unpacked */
    int64_t files_max;
    /* Why a path must not be used, or NULL. */
    const char *(*bad)(struct mb_str path);
};

/* Unpacks a .tar, .tar.gz or .zip into an existing, empty folder. Only folders and plain files are
 * taken. MB_REFUSED where it is damaged, names anything else, a path that `bad` gives a reason
 * against or a name twice, or is larger than the limits, however small it is packed; what was
 * unpacked until then is left to the caller to delete. */
MB_CHECK enum mb_rc mb_archive_unpack(mb_arena *arena, const char *path, const char *folder,
                                      const struct mb_unpack_limits *limits,
                                      struct mb_error *err);

#endif
