/*
 * Boundaries as people bring them: GeoJSON (RFC 7946) in degrees on WGS 84, longitude first.
 *
 * Taken: Polygon, MultiPolygon, GeometryCollection of these, a Feature with one of these, and a
 * FeatureCollection of exactly one Feature. Tolerated: either winding (section 3.1.6 asks for the
 * right-hand rule, readers should not refuse), a third number (height, passed over), repeated
 * positions, parts that overlap or share an edge. Refused, with the place: rings that do not end
 * where they began, outlines that cross themselves, holes outside, latitude and longitude in the
 * wrong order, another coordinate system.
 *
 * Across the antimeridian: a part cut there (section 3.1.9) and a ring that simply jumps from 179
 * to -179 both give one piece; longitudes then run on past 180. An edge between two positions
 * more than 180 degrees apart is read as the short way. A ring round a pole is refused.
 */
#ifndef MB_GEOJSON_H
#define MB_GEOJSON_H

#include <markerbed/json.h>

#include "geom.h"

#define MB_GEOJSON_CORNERS_MAX 500000

/* All parts as one shape with x = longitude, y = latitude, in degrees; never empty. */
MB_CHECK enum mb_rc mb_geojson_read(mb_arena *arena, mb_geoms *geoms, const mb_json *value,
                                    mb_geom **out, struct mb_error *err);

#endif
