/* Coordinates as they were written, to what a record needs of them. */
#include <markerbed/land.h>

#include <math.h>

#include "georef.h"
#include "place_coord.h"
#include "text.h"

void mb_place_part(mb_arena *arena, mb_json *parts, const char *name, double metres)
{
    mb_json *one;

    if (!(metres > 0))
        return;
    one = mb_json_add(parts, mb_json_object(arena));
    mb_json_put_text(arena, one, "part", name);
    mb_json_put_text(arena, one, "value", mb_arena_printf(arena, "%.1f", fmax(metres, 0.1)));
    mb_json_put_text(arena, one, "unit", "m");
}

/* What the datum leaves open, and a note where that is much. */
static enum mb_rc shift(mb_arena *arena, mb_earth *earth, struct mb_place_coord *place,
                        mb_json *notes, struct mb_error *err)
{
    struct mb_shift shift;
    enum mb_rc rc = mb_earth_shift(earth, arena, place->datum.code, place->wgs84, &shift, err);

    if (rc)
        return rc;
    place->wgs84 = shift.to;
    place->datum_m = mb_georef_datum_m(&shift);
    if (shift.ballpark)
        mb_json_add_text(arena, notes,
                         mb_arena_printf(arena, "No shift from %s to WGS 84 is known for this"
                                                " place; up to %.0f m are left open.",
                                         place->datum.name, place->datum_m));
    else if (shift.grid_missing)
        mb_json_add_text(arena, notes,
                         mb_arena_printf(arena, "The shift from %s to WGS 84 is only approximate:"
                                                " the grid %s is not installed.", place->datum.name,
                                         shift.grids ? shift.grids : "for this place"));
    return MB_OK;
}

enum mb_rc mb_place_coord(mb_arena *arena, mb_earth *earth, struct mb_str text,
                          struct mb_str datum, struct mb_place_coord *out, mb_json *notes,
                          struct mb_error *err)
{
    struct mb_coord *at = &out->at;
    enum mb_rc rc = mb_coord_read(arena, text, at, err), known = MB_NO;

    if (rc)
        return rc;
    out->datum = (struct mb_datum){ .ellipsoid = mb_ellipsoid_wgs84 };
    out->datum_m = 0;
    out->datum_said = datum.at != NULL;
    if (datum.at)
        known = mb_earth_datum(earth, arena, datum, &out->datum, err);
    if (known != MB_OK && known != MB_NO)
        return known;
    out->datum_known = known == MB_OK;
    if (at->form == MB_COORD_UTM && !out->datum_known)
        return mb_fail(err, MB_REFUSED,
                       "a UTM position needs its datum: add geodeticDatum=EPSG:4326 (GPS, phones),"
                       " EPSG:4269 (NAD83) or EPSG:4267 (NAD27, old maps)");
    rc = mb_coord_utm(arena, earth, &out->datum.ellipsoid, at, err);
    if (rc)
        return rc;
    out->precision_m = at->form == MB_COORD_UTM
                           ? mb_georef_grid_m(at->precision_m)
                           : mb_georef_precision_m(&out->datum.ellipsoid, at->lat_deg,
                                                   at->precision_deg);
    out->wgs84 = (struct mb_latlon){ at->lat_deg, at->lon_deg };
    if (out->datum_known)
        return shift(arena, earth, out, notes, err);
    if (out->datum_said) {
        out->datum_m = MB_GEOREF_DATUM_UNKNOWN_M;
        mb_json_add_text(arena, notes, "The datum is not recorded: the place may be off by as much"
                                       " as 5,359 m for that alone.");
    }
    return MB_OK;
}

enum mb_rc mb_place_read(mb_arena *arena, const char *text, const char *datum,
                         const mb_json **out, struct mb_error *err)
{
    MB_EARTH_AUTO mb_earth *earth = NULL;
    mb_json *answer = mb_json_object(arena);
    mb_json *parts = mb_json_array(arena), *notes = mb_json_array(arena);
    struct mb_place_coord place;
    enum mb_rc rc = mb_earth_open(&earth, err);

    if (!rc)
        rc = mb_place_coord(arena, earth, mb_str_of(text), mb_str_of(datum), &place, notes, err);
    if (rc)
        return rc;
    mb_place_part(arena, parts, "precision", place.precision_m);
    mb_place_part(arena, parts, "datum", place.datum_m);
    mb_json_put_text(arena, answer, "decimalLatitude", place.at.lat);
    mb_json_put_text(arena, answer, "decimalLongitude", place.at.lon);
    mb_json_put_text(arena, answer, "precision", place.at.precision_text);
    if (place.at.reading)
        mb_json_put_text(arena, answer, "reading", place.at.reading);
    mb_json_put(arena, answer, "parts", parts);
    mb_json_put(arena, answer, "notes", notes);
    *out = answer;
    return MB_OK;
}
