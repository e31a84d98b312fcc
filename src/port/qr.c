#include "qr.h"

#include <errno.h>
#include <stdbool.h>
#include <string.h>

#include <qrencode.h>

#include "text.h"

#define LONGEST 7089 /* digits in version 40-L: nothing longer fits, whatever it is */

static QRecLevel level_of(enum mb_qr_level level)
{
    switch (level) {
    case MB_QR_LEVEL_L:
        return QR_ECLEVEL_L;
    case MB_QR_LEVEL_Q:
        return QR_ECLEVEL_Q;
    case MB_QR_LEVEL_H:
        return QR_ECLEVEL_H;
    case MB_QR_LEVEL_M:
        break;
    }
    return QR_ECLEVEL_M;
}

/* UTF-8 beyond ASCII is announced (ECI 26); readers left to guess take it for Japanese. */
static QRcode *encode_unicode(struct mb_str content, QRecLevel level)
{
    QRinput *input = QRinput_new2(0, level);
    QRcode *code = NULL;

    if (input && QRinput_appendECIheader(input, 26) == 0 &&
        QRinput_append(input, QR_MODE_8, (int)content.len, (const unsigned char *)content.at) == 0)
        code = QRcode_encodeInput(input);
    QRinput_free(input);
    return code;
}

/* The library's string call mixes modes to save room, but stops at a zero byte. */
static QRcode *encode(mb_arena *arena, struct mb_str content, QRecLevel level)
{
    bool plain = true;

    for (size_t i = 0; i < content.len; i++)
        plain &= content.at[i] != 0 && (unsigned char)content.at[i] < 128;
    if (plain)
        return QRcode_encodeString(mb_arena_copy(arena, content.at, content.len), 0, level,
                                   QR_MODE_8, 1);
    if (mb_text_allowed(content, true))
        return encode_unicode(content, level);
    return QRcode_encodeData((int)content.len, (const unsigned char *)content.at, 0, level);
}

enum mb_rc mb_qr_make(mb_arena *arena, struct mb_str content, enum mb_qr_level level,
                      const struct mb_qr **out, struct mb_error *err)
{
    QRcode *code = NULL;
    struct mb_qr *qr;
    uint8_t *dark;

    if (content.len == 0)
        return mb_fail(err, MB_REFUSED, "a QR code needs some content, and there is none");
    errno = ERANGE;
    if (content.len <= LONGEST)
        code = encode(arena, content, level_of(level));
    if (!code && errno == ERANGE)
        return mb_fail(err, MB_REFUSED,
                       "%zu bytes are too many for a QR code; shorten the content, or point to a "
                       "file instead",
                       content.len);
    if (!code)
        return mb_fail(err, MB_UNABLE, "the QR code could not be made: %s", strerror(errno));
    qr = MB_NEW(arena, struct mb_qr);
    dark = MB_ARRAY(arena, (size_t)code->width * (size_t)code->width, uint8_t);
    for (int i = 0; i < code->width * code->width; i++)
        dark[i] = code->data[i] & 1;
    *qr = (struct mb_qr){ .version = code->version, .side = code->width, .dark = dark };
    QRcode_free(code);
    *out = qr;
    return MB_OK;
}

double mb_qr_module_mm(const struct mb_qr *qr, double side_mm)
{
    return side_mm / (qr->side + 2 * MB_QR_QUIET);
}
