/*
 * GeoJSON as it is signed. Numbers in a ledger's JSON are whole (docs/format.md), so a geometry is
 * recorded as "decimalised GeoJSON": the geometry object of RFC 7946 with "type" and "coordinates"
 * (or "geometries") alone, in which every number is the text that it was written as:
 *
 *   {"coordinates":[[["-100.31","38.95"],["-100.29","38.95"],...]],"type":"Polygon"}
 *
 * Taking the quotation marks away gives back the GeoJSON that was brought, digit for digit.
 */
#ifndef MB_GEOVALUE_H
#define MB_GEOVALUE_H

#include <markerbed/json.h>

/*
 * From a geometry, a Feature with one, or a FeatureCollection of exactly one Feature; numbers may
 * be texts already. Checked here: the form, longitude -180..180 before latitude -90..90, rings of
 * four or more positions that end where they began, another coordinate system named (the crs of
 * 2008). An elevation may stand third. Whether outlines cross themselves is judged when they are
 * used.
 */
MB_CHECK enum mb_rc mb_geovalue_read(mb_arena *arena, const mb_json *given, mb_json **out,
                                     struct mb_error *err);

#endif
