/* Coordinates as written, on their datum: what reading a place and working it out share. */
#ifndef MB_PLACE_COORD_H
#define MB_PLACE_COORD_H

#include <markerbed/json.h>

#include "coord.h"

struct mb_place_coord {
    struct mb_coord at;
    bool datum_said, datum_known; /* something was written of it; and it is a datum */
    struct mb_datum datum;        /* where it is not known: of WGS 84 */
    struct mb_latlon wgs84;
    double precision_m, datum_m;
};

/* datum: as recorded, .at NULL where nothing is. Adds to `notes` what a reader must know. */
MB_CHECK enum mb_rc mb_place_coord(mb_arena *arena, mb_earth *earth, struct mb_str text,
                                   struct mb_str datum, struct mb_place_coord *out,
                                   mb_json *notes, struct mb_error *err);
/* {"part","value","unit":"m"}; nothing for 0 metres. */
void mb_place_part(mb_arena *arena, mb_json *parts, const char *name, double metres);

#endif
