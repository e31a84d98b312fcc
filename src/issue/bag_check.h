/*
 * Checking a bag: a folder by RFC 8493, ours or anybody's. Reads it file by file, a piece at a
 * time; changes nothing in it, and fetches nothing.
 *
 * Complete: bagit.txt, data/ and a payload manifest are there; every file that a manifest names is
 * there; every file in data/ is named by every payload manifest (before version 1.0: by one).
 * Valid: complete, and every checksum agrees. Payload-Oxum, where it is given, has to agree too.
 *
 * Our own bags say in bag-info.txt that they are sealed (MB_BAG_SEALED): then every tag file is
 * named by every tag manifest of the two algorithms, the tag manifests are byte for byte what they
 * have to be, and nothing else may lie in the bag: no file can be changed, taken away, added or
 * renamed without being named here. What a sealed bag cannot show is that somebody made it new
 * altogether: that shows the certificate in it.
 */
#ifndef MB_BAG_CHECK_H
#define MB_BAG_CHECK_H

#include <markerbed/json.h>

#include "bag_text.h"

/* Labels of bag-info.txt that are ours. */
#define MB_BAG_SEALED "Markerbed-Sealed" /* "sha256 sha512" */
#define MB_BAG_CERTIFICATE "Markerbed-Certificate" /* path of the certificate, under data/ */

struct mb_bag_file {
    const char *path;    /* in the bag: "data/photos/..." */
    int64_t bytes;
    bool payload;
    const char *sha256; /* hex, as the manifest has it and the file too; NULL if not given */
};

struct mb_bag {
    const char *folder;
    struct mb_bag_form form;
    bool sealed;
    const mb_json *info; /* [{"label","value"}] */
    struct mb_bag_file *files; /* sorted by path */
    size_t count;
    int64_t payload_bytes;
    const mb_json *faults;   /* [{"file","text"}]: why it is not complete or not valid */
    const mb_json *warnings; /* the same: what another system or program may stumble over */
};

/* Is it a folder with a bagit.txt in it? */
bool mb_bag_is(const char *folder);

/* MB_OK: complete and valid. MB_NO: it is not, and `faults` says why; *out is set for both.
 * MB_REFUSED: no bag at all. MB_UNABLE: it could not be read to the end, or has checksums of a kind
 * that is not known here. */
MB_CHECK enum mb_rc mb_bag_check(mb_arena *arena, const char *folder, const struct mb_bag **out,
                                 struct mb_error *err);

/* The file of this path, NULL if there is none. */
const struct mb_bag_file *mb_bag_find(const struct mb_bag *bag, const char *path);

#endif
