/*
 * Attached files: LEDGER/files/ab/<sha256>, named by what they hold and never changed. An entry
 * carries {"file":"<sha256, hex>","name","type","bytes"}; the bytes are there and synced before the
 * entry is.
 */
#ifndef MB_ATTACH_H
#define MB_ATTACH_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/json.h>

#define MB_ATTACH_MAX (1LL << 30) /* bytes of one file */

struct mb_attached {
    const char *path; /* where the person has it */
    struct mb_str content; /* or the bytes themselves, .at NULL where they lie at path */
    char hex[65];
    const char *name; /* the last part of the path */
    const char *type; /* media type, by the first bytes */
    int64_t bytes;
    struct mb_attached *next;
};

/* Reads the file and takes its hash; copies nothing. MB_REFUSED if it cannot be read, is empty, is
 * too long, or has a name that could not be recorded. */
MB_CHECK enum mb_rc mb_attach_look(mb_arena *arena, const char *path, struct mb_attached *out,
                                   struct mb_error *err);
/* By its first bytes a JPEG or PNG: what a sheet can show. */
bool mb_attach_is_picture(const struct mb_attached *attached);
/* The same photo without what a camera wrote into it (picture.h, tiff.h): MB_NO where the file is
 * no picture, or has nothing to take out; MB_REFUSED for a picture that is damaged, too large or
 * lies about its size. Its name is left out: it may tell the place. */
MB_CHECK enum mb_rc mb_attach_clean(mb_arena *arena, const struct mb_attached *attached,
                                    struct mb_attached *out, struct mb_error *err);
/* {"file","name"?,"type","bytes"}; a name goes in where named is true. */
mb_json *mb_attach_value(mb_arena *arena, const struct mb_attached *attached, bool named);
/* Copies it into the ledger's folder unless it is there: temporary name, fsync, rename. MB_UNABLE
 * if it is no longer the file that was looked at. */
MB_CHECK enum mb_rc mb_attach_store(const char *folder, const struct mb_attached *attached,
                                    struct mb_error *err);
/* Where the bytes of a hash lie. */
char *mb_attach_path(mb_arena *arena, const char *folder, const char *hex);

#endif
