/*
 * Coordinates as people write them, kept word for word and understood beside that.
 *
 * Degrees: 47.2050, -107.0900 · N47.2050 W107.0900 · 47.2050° N 107.0900° W · 47°12'18"N
 * 107°05'24"W · 47 12.305 N, 107 05.40 W · 47d12m18s N 107d05m24s W · lat 47.205 lon -107.09.
 * Letters or words (N, north) before or after the numbers, signs, any of the usual marks for
 * degrees, minutes and seconds, or blanks or colons in their place. Without letters the latitude
 * comes first.
 * Grid: 13T 492000 5228000 · zone 13 north, 492000 mE 5228000 mN · UTM 13N E 492000 N 5228000.
 * The zone carries a hemisphere or the latitude band. A single S is the band S (32 to 40 degrees
 * north) where the northing lies in it, else the southern hemisphere; `reading` says which.
 *
 * Precision is what was written: the last digit of the coarser of the two numbers, the whole step
 * and not half of it, as the georeferencing guides count it (see georef.h).
 *
 * Refused, in one sentence: decimal commas, a sign together with a letter, longitude before
 * latitude without letters, 60 minutes, more than two numbers, a datum in the text.
 */
#ifndef MB_COORD_H
#define MB_COORD_H

#include <stdbool.h>

#include "earth.h"

enum mb_coord_form {
    MB_COORD_DECIMAL, /* decimal degrees */
    MB_COORD_MINUTES, /* degrees and (decimal) minutes */
    MB_COORD_SECONDS, /* degrees, minutes and (decimal) seconds */
    MB_COORD_UTM
};

#define MB_COORD_TEXT_MAX 200

/* Texts live in the arena. For UTM lat and lon are empty until mb_coord_utm. */
struct mb_coord {
    enum mb_coord_form form;
    const char *verbatim;
    /* Decimal degrees: exactly the digits that were written where those were decimal degrees, else
     * rounded to 7 places (9 if finer than 0.001 second). */
    const char *lat, *lon;
    double lat_deg, lon_deg;
    double precision_deg;       /* one unit of the last digit; 0 for UTM */
    const char *precision_text; /* "0.0001 degree", "1 minute", "0.1 second", "1 m" */
    bool maybe_padded;          /* both end in three or more zeros: the zeros may be filling */
    const char *reading;        /* what was taken for granted in reading, else NULL */
    /* UTM only */
    int zone;
    bool south;
    char band; /* C..X, or 0 if none was written */
    const char *easting, *northing;
    double easting_m, northing_m;
    double precision_m; /* one unit of the last digit; 0 for degrees */
};

/* MB_REFUSED with one sentence that quotes the text and says how to mend it. */
MB_CHECK enum mb_rc mb_coord_read(mb_arena *arena, struct mb_str text, struct mb_coord *out,
                                  struct mb_error *err);
/* Fills lat and lon of a UTM position, on the same datum, whose ellipsoid e is. MB_REFUSED if the
 * position is not in the band that was written. Does nothing for degrees. */
MB_CHECK enum mb_rc mb_coord_utm(mb_arena *arena, mb_earth *earth, const struct mb_ellipsoid *e,
                                 struct mb_coord *coord, struct mb_error *err);
/* Latitudes of a UTM band letter, south and north edge; false if it is none. X reaches to 84. */
bool mb_coord_band(char band, double *south, double *north);

#endif
