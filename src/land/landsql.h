/*
 * What rules may call in SQL. Any argument that is NULL, or that cannot be read, makes the answer
 * NULL: the record does not say.
 *
 *   place_side(area, lat, lon, datum, uncertainty_m)   inside, straddling or outside: the circle
 *   place_centre(...)   the same of the bare point
 *   place_share(...)    of the circle, inside, in whole per cent
 *   place_distance(...) metres from the point to the nearest edge
 *   place_surely(...)   1 where the circle is inside, and easily seen to be; 0 says nothing
 *       area is GeoJSON; another datum than WGS 84 is shifted, and what the shift leaves open is
 *       added to the radius (a datum not recorded: 5,359 m, see georef.h)
 *   area_side(inner, outer)   how one area lies to another: inside, straddling or outside
 *   day_first(date), day_last(date)   day numbers of a date as it is recorded: 2024-05 has 31 days
 *   micrograms(amount, unit)  exact; kg, g, mg, t, lb, oz, ton
 *   paper_state(hash)    of an attached file: whole, changed, or missing
 *   other_words(list, allowed)   the words of the first "; " list that are not in the second, ""
 *       where all are
 */
#ifndef MB_LANDSQL_H
#define MB_LANDSQL_H

#include <markerbed/json.h>

#include "db.h"

typedef struct mb_landsql mb_landsql;

/* Set up in a database until closed; the database must outlive it. folder: of the ledger. */
MB_CHECK enum mb_rc mb_landsql_open(mb_db *db, const char *folder, mb_landsql **out,
                                    struct mb_error *err);
mb_landsql *mb_landsql_close(mb_landsql *sql); /* accepts NULL, returns NULL */

/* A geometry as it is recorded (geovalue.h), as the GeoJSON that it was; NULL where it is none. */
mb_json *mb_land_shape(mb_arena *arena, struct mb_str text);
/* Micrograms of a mass; false for a unit that is none of mass, or an amount that is no decimal or
 * too large. Pounds and ounces are exact by the agreement of 1959. */
bool mb_land_micrograms(struct mb_str amount, struct mb_str unit, int64_t *micrograms);
/* A place on WGS 84 with what the shift leaves open; false where it cannot be told. */
bool mb_landsql_place(mb_landsql *sql, double lat, double lon, struct mb_str datum,
                      double *lat_out, double *lon_out, double *open_m);

#endif
