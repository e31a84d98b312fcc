/*
 * The pixels of a JPEG, by libjpeg: the only file that knows it. Give it only what mb_picture_look
 * has accepted.
 */
#ifndef MB_JPEG_H
#define MB_JPEG_H

#include <stddef.h>
#include <stdint.h>

#include "picture.h"

/* Asked once, when the size is known: where the pixels go (0x00RRGGBB, rows from the top), and how
 * many words there are from row to row; NULL makes the call fail with MB_UNABLE. */
struct mb_jpeg_room {
    uint32_t *(*get)(void *owner, int width_px, int height_px, size_t *row_words);
    void *owner;
};

/*
 * Decodes at 1/1, 1/2, 1/4 or 1/8 of the size: the smallest of these that still has at least
 * want_width_px x want_height_px pixels. `turn` is not applied. MB_REFUSED if the pixel data is
 * damaged or ends too early; a few stray bytes between markers, which many cameras write, pass.
 * At most 512 MiB are taken.
 */
MB_CHECK enum mb_rc mb_jpeg_decode(const struct mb_picture *picture, int want_width_px,
                                   int want_height_px, const struct mb_jpeg_room *room,
                                   struct mb_error *err);

/* Reads all of the pixel data without keeping any: MB_REFUSED as above. About 4 ms a megapixel. */
MB_CHECK enum mb_rc mb_jpeg_check(const struct mb_picture *picture, struct mb_error *err);

#endif
