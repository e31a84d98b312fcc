#include "geojson.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "text.h"

struct reading {
    mb_arena *arena;
    mb_geoms *geoms;
    mb_geom **parts;
    size_t count, room;
    size_t corners;
    double middle; /* longitude of the middle of the first part */
    struct mb_error *err;
};

/* ---- positions ------------------------------------------------------------------------------- */

static bool number(mb_arena *arena, const mb_json *value, double *out)
{
    if (mb_json_is(value, MB_JSON_INTEGER)) {
        *out = (double)value->integer;
        return true;
    }
    if (!mb_json_is(value, MB_JSON_NUMBER))
        return false;
    *out = strtod(mb_arena_copy(arena, value->text.at, value->text.len), NULL);
    return isfinite(*out);
}

static enum mb_rc read_position(struct reading *r, const mb_json *value, struct mb_xy *out)
{
    if (!mb_json_is(value, MB_JSON_ARRAY) || value->count < 2 ||
        !number(r->arena, mb_json_at(value, 0), &out->x) ||
        !number(r->arena, mb_json_at(value, 1), &out->y))
        return mb_fail(r->err, MB_REFUSED, "must be [longitude, latitude], two numbers");
    if (fabs(out->y) > 90 && fabs(out->x) <= 90)
        return mb_fail(r->err, MB_REFUSED,
                       "latitude %.10g is past the pole; GeoJSON writes the longitude first",
                       out->y);
    if (fabs(out->y) > 90)
        return mb_fail(r->err, MB_REFUSED,
                       "latitude %.10g is past the pole; coordinates must be degrees on WGS 84",
                       out->y);
    if (fabs(out->x) > 360)
        return mb_fail(r->err, MB_REFUSED,
                       "longitude %.10g is past 180; coordinates must be degrees on WGS 84",
                       out->x);
    return MB_OK;
}

/* Takes the longitude to within 180 degrees of the one before. */
static double follow(double lon, double before)
{
    while (lon - before > 180)
        lon -= 360;
    while (lon - before < -180)
        lon += 360;
    return lon;
}

/* Says in which ring an error happened. */
static enum mb_rc in_ring(struct reading *r, enum mb_rc rc, size_t ring)
{
    if (rc != MB_OK && ring == 0)
        mb_fail_where(r->err, "outer line");
    else if (rc != MB_OK)
        mb_fail_where(r->err, "hole %zu", ring);
    return rc;
}

static enum mb_rc read_ring(struct reading *r, const mb_json *value, struct mb_ring *out)
{
    if (!mb_json_is(value, MB_JSON_ARRAY))
        return mb_fail(r->err, MB_REFUSED, "must be a list of positions");
    if (value->count < 4)
        return mb_fail(r->err, MB_REFUSED,
                       "has %u positions; it needs at least four, the last like the first",
                       (unsigned int)value->count);
    r->corners += value->count;
    if (r->corners > MB_GEOJSON_CORNERS_MAX)
        return mb_fail(r->err, MB_REFUSED, "the boundary has more than %d corners; simplify it",
                       MB_GEOJSON_CORNERS_MAX);
    struct mb_xy *at = MB_ARRAY(r->arena, value->count, struct mb_xy);
    size_t i = 0;
    MB_JSON_EACH(position, value)
    {
        enum mb_rc rc = read_position(r, position, &at[i]);
        if (rc != MB_OK) {
            mb_fail_where(r->err, "position %zu", i + 1);
            return rc;
        }
        if (i > 0)
            at[i].x = follow(at[i].x, at[i - 1].x);
        i++;
    }
    struct mb_xy last = at[i - 1];
    if (last.y == at[0].y && fabs(last.x - at[0].x) == 360)
        return mb_fail(r->err, MB_REFUSED,
                       "goes round a pole; cut the area at the meridian of 180 degrees");
    if (last.x != at[0].x || last.y != at[0].y)
        return mb_fail(r->err, MB_REFUSED,
                       "does not end where it began; repeat its first position at the end");
    *out = (struct mb_ring){ at, i };
    return MB_OK;
}

/* ---- polygons -------------------------------------------------------------------------------- */

static double middle(const struct mb_ring *ring)
{
    double low = ring->at[0].x, high = low;
    for (size_t i = 1; i < ring->count; i++) {
        low = fmin(low, ring->at[i].x);
        high = fmax(high, ring->at[i].x);
    }
    return (low + high) / 2;
}

/* Turns the ring by whole circles so that its middle is near the given longitude. */
static void bring(mb_arena *arena, struct mb_ring *ring, double near)
{
    double turn = 360 * round((near - middle(ring)) / 360);
    if (turn == 0)
        return;
    struct mb_xy *at = MB_ARRAY(arena, ring->count, struct mb_xy);
    for (size_t i = 0; i < ring->count; i++)
        at[i] = (struct mb_xy){ ring->at[i].x + turn, ring->at[i].y };
    ring->at = at;
}

static enum mb_rc unsound(struct reading *r, const struct mb_geom_fault *fault)
{
    if (!fault->has_place)
        return mb_fail(r->err, MB_REFUSED, "it %s", fault->words);
    return mb_fail(r->err, MB_REFUSED, "it %s at latitude %.9g, longitude %.9g", fault->words,
                   fault->at.y, remainder(fault->at.x, 360));
}

static void add_part(struct reading *r, mb_geom *part)
{
    if (r->count == r->room) {
        size_t room = r->room ? 2 * r->room : 8;
        mb_geom **parts = MB_ARRAY(r->arena, room, mb_geom *);
        if (r->count)
            memcpy(parts, r->parts, r->count * sizeof *parts);
        r->parts = parts;
        r->room = room;
    }
    r->parts[r->count++] = part;
}

static enum mb_rc read_polygon(struct reading *r, const mb_json *value)
{
    if (!mb_json_is(value, MB_JSON_ARRAY) || value->count == 0)
        return mb_fail(r->err, MB_REFUSED, "must be a list of rings, the outer line first");
    struct mb_ring *rings = MB_ARRAY(r->arena, value->count, struct mb_ring);
    size_t count = 0;
    MB_JSON_EACH(ring, value)
    {
        enum mb_rc rc = in_ring(r, read_ring(r, ring, &rings[count]), count);
        if (rc != MB_OK)
            return rc;
        count++;
    }
    if (r->count == 0)
        r->middle = remainder(middle(&rings[0]), 360);
    bring(r->arena, &rings[0], r->middle);
    for (size_t i = 1; i < count; i++)
        bring(r->arena, &rings[i], middle(&rings[0]));
    struct mb_geom_fault fault;
    mb_geom *part;
    struct mb_error own = { 0 };
    enum mb_rc rc = mb_geom_polygon(r->geoms, rings, count, &part, &fault, &own);
    if (rc == MB_REFUSED)
        return unsound(r, &fault);
    if (rc != MB_OK)
        return mb_fail(r->err, rc, "%s", own.text);
    add_part(r, part);
    return MB_OK;
}

static enum mb_rc read_geometry(struct reading *r, const mb_json *value);

static enum mb_rc read_list(struct reading *r, const mb_json *list, const char *what,
                            enum mb_rc (*read)(struct reading *, const mb_json *))
{
    size_t i = 0;
    if (!mb_json_is(list, MB_JSON_ARRAY) || list->count == 0)
        return mb_fail(r->err, MB_REFUSED, "the boundary holds no polygon");
    MB_JSON_EACH(part, list)
    {
        enum mb_rc rc = read(r, part);
        i++;
        if (rc != MB_OK && list->count > 1)
            mb_fail_where(r->err, "%s %zu", what, i);
        if (rc != MB_OK)
            return rc;
    }
    return MB_OK;
}

static enum mb_rc read_features(struct reading *r, const mb_json *list)
{
    if (mb_json_is(list, MB_JSON_ARRAY) && list->count == 1)
        return read_geometry(r, mb_json_at(list, 0));
    return mb_fail(r->err, MB_REFUSED,
                   "the file holds %u features; bring the one that is meant as a file of its own",
                   list ? (unsigned int)list->count : 0u);
}

static enum mb_rc read_geometry(struct reading *r, const mb_json *value)
{
    const mb_json *type = mb_json_get(value, "type");
    const mb_json *coordinates = mb_json_get(value, "coordinates");
    if (mb_json_text_is(type, "Polygon"))
        return read_polygon(r, coordinates);
    if (mb_json_text_is(type, "MultiPolygon"))
        return read_list(r, coordinates, "polygon", read_polygon);
    if (mb_json_text_is(type, "GeometryCollection"))
        return read_list(r, mb_json_get(value, "geometries"), "geometry", read_geometry);
    if (mb_json_text_is(type, "Feature"))
        return read_geometry(r, mb_json_get(value, "geometry"));
    if (mb_json_text_is(type, "FeatureCollection"))
        return read_features(r, mb_json_get(value, "features"));
    struct mb_str name = mb_json_str(type);
    if (!name.at)
        return mb_fail(r->err, MB_REFUSED,
                       "a boundary is a GeoJSON object with \"type\" Polygon or MultiPolygon");
    return mb_fail(r->err, MB_REFUSED,
                   "a boundary cannot be a %.*s; allowed are Polygon, MultiPolygon and a "
                   "GeometryCollection of these",
                   MB_STR_ARG(name));
}

/* RFC 7946 took the crs member out; files of the form before it may still name another datum. */
static enum mb_rc check_crs(const mb_json *value, struct mb_error *err)
{
    const mb_json *crs = mb_json_get(value, "crs");
    if (!crs || mb_json_is(crs, MB_JSON_NULL))
        return MB_OK;
    struct mb_str name = mb_json_str(mb_json_get(mb_json_get(crs, "properties"), "name"));
    static const char *const wgs84[] = { "urn:ogc:def:crs:OGC:1.3:CRS84",
                                         "urn:ogc:def:crs:OGC::CRS84", "OGC:CRS84",
                                         "urn:ogc:def:crs:EPSG::4326", "EPSG:4326" };
    for (size_t i = 0; i < sizeof wgs84 / sizeof *wgs84; i++)
        if (name.at && mb_str_is(name, wgs84[i]))
            return MB_OK;
    return mb_fail(err, MB_REFUSED,
                   "the boundary names the coordinate system \"%.*s\"; GeoJSON is degrees of "
                   "longitude and latitude on WGS 84 (RFC 7946), so convert it first",
                   (int)name.len, name.at ? name.at : "");
}

enum mb_rc mb_geojson_read(mb_arena *arena, mb_geoms *geoms, const mb_json *value, mb_geom **out,
                           struct mb_error *err)
{
    struct reading r = { .arena = arena, .geoms = geoms, .err = err };
    enum mb_rc rc = check_crs(value, err);
    if (rc == MB_OK)
        rc = read_geometry(&r, value);
    if (rc == MB_OK)
        rc = mb_geom_union(geoms, r.parts, r.count, out, err);
    for (size_t i = 0; i < r.count; i++)
        mb_geom_free(r.parts[i]);
    return rc;
}
