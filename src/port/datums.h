/*
 * Names that people write for a datum, and the EPSG code of latitude and longitude on it. Names are
 * compared without capitals, blanks and punctuation. Codes: EPSG Geodetic Parameter Register (the
 * tests compare each with the register that PROJ brings).
 */
#ifndef MB_DATUMS_H
#define MB_DATUMS_H

#include <markerbed/arena.h>

struct mb_datum_name {
    const char *plain; /* letters and digits only, capitals */
    const char *code;
};
extern const struct mb_datum_name mb_datum_names[];
extern const size_t mb_datum_name_count;

/* "NAD 27" or "epsg:4267" gives EPSG:4267. MB_NO if the text says that it is not known;
 * MB_REFUSED, with the nearest name, for any other. */
MB_CHECK enum mb_rc mb_datum_code(mb_arena *arena, struct mb_str text, const char **code,
                                  struct mb_error *err);

#endif
