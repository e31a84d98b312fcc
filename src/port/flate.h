/*
 * Packing and unpacking by zlib (RFC 1950, RFC 1951): the only file that knows it.
 * Unpacking has a limit, because a thousand bytes can be made to unpack into a million.
 */
#ifndef MB_FLATE_H
#define MB_FLATE_H

#include <markerbed/arena.h>

/* MB_REFUSED if the packed bytes are broken, cut short, or give more than max bytes; bytes behind
 * the end of the packed data are ignored. No more than about twice max is held at any time. */
MB_CHECK enum mb_rc mb_flate_unpack(mb_arena *arena, struct mb_str packed, size_t max,
                                    struct mb_str *out, struct mb_error *err);

/* Quick rather than small (level 1): what we pack is mostly base64, of which the coding of letters
 * alone wins back nearly all that can be won. */
struct mb_str mb_flate_pack(mb_arena *arena, struct mb_str plain);

#endif
