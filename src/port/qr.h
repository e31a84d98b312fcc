/*
 * QR codes (ISO/IEC 18004), by libqrencode: the only file that knows it.
 *
 * The smallest version that holds the content is chosen; text of digits and capital letters takes
 * less room than other text, so fingerprints in base32 are best given in capitals. Text beyond
 * ASCII is marked as UTF-8 (ECI 26). The same content gives the same grid every time.
 *
 * How large to print it: a reader wants at least 0.33 mm a module (two dots at 150 dpi). At level M
 * 200 bytes take 57 modules and thus 25 mm with the quiet zone; 500 bytes 85 modules and 35 mm.
 */
#ifndef MB_QR_H
#define MB_QR_H

#include <stdint.h>

#include <markerbed/arena.h>

/* How much of the printed code may be damaged: M about 15 %, L 7 %, Q 25 %, H 30 %. */
enum mb_qr_level { MB_QR_LEVEL_M, MB_QR_LEVEL_L, MB_QR_LEVEL_Q, MB_QR_LEVEL_H };

#define MB_QR_QUIET 4 /* modules of white that must stand around the grid, ISO/IEC 18004 */

struct mb_qr {
    int version;         /* 1-40 */
    int side;            /* modules a side: 17 + 4 * version */
    const uint8_t *dark; /* side * side, by rows from the top left; 1 is dark */
};

/* Content may be any bytes. MB_REFUSED if it is empty or too long for version 40 (level M: 2,331
 * bytes, 3,391 digits and capital letters). */
MB_CHECK enum mb_rc mb_qr_make(mb_arena *arena, struct mb_str content, enum mb_qr_level level,
                               const struct mb_qr **out, struct mb_error *err);

/* Side of one module where the whole code, quiet zone included, is printed side_mm wide. */
double mb_qr_module_mm(const struct mb_qr *qr, double side_mm);

#endif
