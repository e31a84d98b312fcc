/*
 * TIFF files (TIFF 6.0, with its later tags for tiles, prediction and colour profiles), read by our
 * own code from hostile bytes: only what a cleaned copy needs.
 */
#ifndef MB_TIFF_H
#define MB_TIFF_H

#include <stdbool.h>

#include <markerbed/arena.h>

/*
 * The same pictures, strip for strip and tile for tile as they were stored, without what may give
 * away place, date, device or names: of each directory only the tags that pixels and colours need;
 * no Exif, GPS, XMP, IPTC, maker notes, texts or sub-directories, no smaller copies of the picture,
 * no bytes that no tag names. *other is false where the file held nothing else (and *out is then
 * the bytes as they came).
 * MB_REFUSED with what to do about it: cut short, the large form of TIFF, pictures stored as JPEG
 * inside (which can hold metadata of their own), more than 64 pictures.
 */
MB_CHECK enum mb_rc mb_tiff_clean(mb_arena *arena, struct mb_str bytes, struct mb_str *out,
                                  bool *other, struct mb_error *err);

#endif
