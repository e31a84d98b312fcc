/*
 * What a photo file says of itself, read by our own code from hostile bytes: no library sees a file
 * before this has walked it from its first marker to its last. JPEG (ITU-T T.81, JFIF, Exif) and
 * PNG (ISO/IEC 15948) only.
 *
 * mb_picture_look reads no pixels, so it costs well under a millisecond. It finds files that are
 * cut short, and sizes that the bytes present cannot possibly fill; damage inside the pixel data is
 * found when they are decoded (jpeg.h, canvas.h).
 */
#ifndef MB_PICTURE_H
#define MB_PICTURE_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/arena.h>

enum mb_picture_form { MB_PICTURE_JPEG, MB_PICTURE_PNG };

struct mb_picture {
    enum mb_picture_form form;
    int width_px, height_px; /* as stored, before `turn` */
    int channels;            /* JPEG: 1 grey or 3 colour; PNG: 1-4 */
    int turn;                /* Exif orientation, 1-8; 1 is upright, 6 and 8 lie on a side */
    int scans;               /* JPEG: 1, or more if progressive */
    bool metadata;           /* Exif, XMP, IPTC, comments, trailers: may hold place, date, names */
    struct mb_str bytes;     /* borrowed: the file */
};

#define MB_PICTURE_JPEG_PIXELS_MAX 100000000 /* they are embedded as they are, never unpacked */
#define MB_PICTURE_PNG_PIXELS_MAX 25000000   /* they are unpacked: 4 bytes a pixel */
#define MB_PICTURE_BYTES_MAX 67108864        /* 64 MiB */

/* MB_REFUSED with what is wrong and what to do about it: an unknown format, too many pixels, CMYK,
 * 12-bit, lossless or arithmetic JPEG, a file cut short, a size that its bytes cannot fill. */
MB_CHECK enum mb_rc mb_picture_look(struct mb_str bytes, struct mb_picture *out,
                                    struct mb_error *err);

/* Size as it is to be seen, after `turn`. */
void mb_picture_upright(const struct mb_picture *picture, int *width_px, int *height_px);

/*
 * The same pixels, bit for bit, without what may give away place, date, device or names: of a JPEG,
 * all APPn segments but JFIF (without its small picture), colour profile, Adobe transform,
 * comments, and whatever stands behind the end of the picture; of a PNG, all but the chunks that
 * pixels and colours need. With keep_turn a minimal Exif segment that says nothing but the
 * orientation is put back.
 */
struct mb_str mb_picture_clean(mb_arena *arena, const struct mb_picture *picture, bool keep_turn);

#endif
