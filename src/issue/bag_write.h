/*
 * Writing a bag (RFC 8493, version 1.0): a folder that is whole or not there.
 *
 * Everything goes into a folder of another name beside the one asked for. bagit.txt, without which
 * no folder is a bag, is written last of all; then all is brought to the disk, and only then the
 * folder gets its name. Whoever stops half-way leaves a folder that says in its name that it is
 * none.
 *
 * The same files, labels and day make the same bytes.
 */
#ifndef MB_BAG_WRITE_H
#define MB_BAG_WRITE_H

#include <stdint.h>

#include <markerbed/arena.h>

typedef struct mb_bag_writer mb_bag_writer;

/* MB_REFUSED where the name is taken or its folder cannot be written into. */
MB_CHECK enum mb_rc mb_bag_begin(mb_arena *arena, const char *folder, mb_bag_writer **out,
                                 struct mb_error *err);
/* A file under data/ ("certificate.json", "attachments/..."); its folders are made. MB_REFUSED for
 * a path that leads out of the bag or is there already. */
MB_CHECK enum mb_rc mb_bag_add(mb_bag_writer *writer, const char *path, struct mb_str bytes,
                               struct mb_error *err);
/* The same from a file on the disk, a piece at a time. sha256: hex that it must have, or NULL;
 * MB_UNABLE if it does not. *bytes (may be NULL) gets its length. */
MB_CHECK enum mb_rc mb_bag_copy(mb_bag_writer *writer, const char *path, const char *source,
                                const char *sha256, int64_t *bytes, struct mb_error *err);
/* A line of bag-info.txt; in the order of the calls, Payload-Oxum and Bag-Size behind them. A line
 * end in a value becomes a blank. */
void mb_bag_label(mb_bag_writer *writer, const char *label, const char *value);
/* Manifests, tag files, name. The writer is gone whatever comes of it; after a failure so is what
 * was written. */
MB_CHECK enum mb_rc mb_bag_end(mb_bag_writer *writer, struct mb_error *err);
/* Deletes what was written; accepts NULL. */
void mb_bag_cancel(mb_bag_writer *writer);

#endif
