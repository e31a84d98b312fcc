/* Coordinates as they were written, to what a record needs of them. */
#include <markerbed/land.h>

#include <math.h>

#include "coord.h"
#include "georef.h"
#include "text.h"

static void put_part(mb_arena *arena, mb_json *parts, const char *name, double metres)
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
static enum mb_rc datum_part(mb_arena *arena, mb_earth *earth, const struct mb_datum *datum,
                             const struct mb_coord *at, mb_json *parts, mb_json *notes,
                             struct mb_error *err)
{
    struct mb_shift shift;
    enum mb_rc rc = mb_earth_shift(earth, arena, datum->code,
                                   (struct mb_latlon){ at->lat_deg, at->lon_deg }, &shift, err);

    if (rc)
        return rc;
    put_part(arena, parts, "datum", mb_georef_datum_m(&shift));
    if (shift.ballpark)
        mb_json_add_text(arena, notes,
                         mb_arena_printf(arena, "No shift from %s to WGS 84 is known for this"
                                                " place; up to %.0f m are left open.", datum->name,
                                         mb_georef_datum_m(&shift)));
    else if (shift.grid_missing)
        mb_json_add_text(arena, notes,
                         mb_arena_printf(arena, "The shift from %s to WGS 84 is only approximate:"
                                                " the grid %s is not installed.", datum->name,
                                         shift.grids ? shift.grids : "for this place"));
    return MB_OK;
}

static enum mb_rc read_place(mb_arena *arena, mb_earth *earth, struct mb_coord *at,
                             const char *datum, mb_json *parts, mb_json *notes,
                             struct mb_error *err)
{
    struct mb_datum known = { .ellipsoid = mb_ellipsoid_wgs84 };
    enum mb_rc rc = datum ? mb_earth_datum(earth, arena, mb_str_of(datum), &known, err) : MB_NO;

    if (rc != MB_OK && rc != MB_NO)
        return rc;
    if (at->form == MB_COORD_UTM && rc == MB_NO)
        return mb_fail(err, MB_REFUSED,
                       "a UTM position needs its datum: add geodeticDatum=EPSG:4326 (GPS, phones),"
                       " EPSG:4269 (NAD83) or EPSG:4267 (NAD27, old maps)");
    if (mb_coord_utm(arena, earth, &known.ellipsoid, at, err))
        return err->code;
    put_part(arena, parts, "precision",
             at->form == MB_COORD_UTM
                 ? mb_georef_grid_m(at->precision_m)
                 : mb_georef_precision_m(&known.ellipsoid, at->lat_deg, at->precision_deg));
    if (rc == MB_OK)
        return datum_part(arena, earth, &known, at, parts, notes, err);
    if (!datum)
        return MB_OK;
    put_part(arena, parts, "datum", MB_GEOREF_DATUM_UNKNOWN_M);
    mb_json_add_text(arena, notes, "The datum is not recorded: the place may be off by as much as"
                                   " 5,359 m for that alone.");
    return MB_OK;
}

enum mb_rc mb_place_read(mb_arena *arena, const char *text, const char *datum,
                         const mb_json **out, struct mb_error *err)
{
    MB_EARTH_AUTO mb_earth *earth = NULL;
    mb_json *answer = mb_json_object(arena);
    mb_json *parts = mb_json_array(arena), *notes = mb_json_array(arena);
    struct mb_coord at;
    enum mb_rc rc = mb_coord_read(arena, mb_str_of(text), &at, err);

    if (!rc)
        rc = mb_earth_open(&earth, err);
    if (!rc)
        rc = read_place(arena, earth, &at, datum, parts, notes, err);
    if (rc)
        return rc;
    mb_json_put_text(arena, answer, "decimalLatitude", at.lat);
    mb_json_put_text(arena, answer, "decimalLongitude", at.lon);
    mb_json_put_text(arena, answer, "precision", at.precision_text);
    if (at.reading)
        mb_json_put_text(arena, answer, "reading", at.reading);
    mb_json_put(arena, answer, "parts", parts);
    mb_json_put(arena, answer, "notes", notes);
    *out = answer;
    return MB_OK;
}
