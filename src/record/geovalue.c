#include "geovalue.h"

#include <string.h>

#include "decimal.h"
#include "text.h"

enum { POSITIONS_MOST = 50000, NESTED_MOST = 3 };

struct geo {
    mb_arena *arena;
    size_t positions;
    struct mb_error *err;
};

static struct mb_str number_of(struct geo *geo, const mb_json *value)
{
    if (mb_json_is(value, MB_JSON_INTEGER))
        return mb_str_of(mb_arena_printf(geo->arena, "%lld", (long long)value->integer));
    if (mb_json_is(value, MB_JSON_NUMBER) || mb_json_is(value, MB_JSON_STRING))
        return value->text;
    return (struct mb_str){ NULL, 0 };
}

static bool within(struct mb_str number, const char *least, const char *most)
{
    return mb_decimal_compare(number, mb_str_of(least)) >= 0
           && mb_decimal_compare(number, mb_str_of(most)) <= 0;
}

static mb_json *position(struct geo *geo, const mb_json *given)
{
    mb_json *out = mb_json_array(geo->arena);
    size_t at = 0;

    if (!mb_json_is(given, MB_JSON_ARRAY) || given->count < 2 || given->count > 3
        || ++geo->positions > POSITIONS_MOST) {
        mb_fail(geo->err, MB_REFUSED,
                geo->positions > POSITIONS_MOST
                    ? "the outline has more than %d corners; thin it out"
                    : "a position is [longitude, latitude] (at most %d of them)",
                POSITIONS_MOST);
        return NULL;
    }
    MB_JSON_EACH(value, given)
    {
        struct mb_str number = number_of(geo, value);

        if (!number.at || !mb_decimal_ok(number)) {
            mb_fail(geo->err, MB_REFUSED,
                    "corner %zu: '%.*s' is no plain decimal; write degrees like -100.31",
                    geo->positions, MB_STR_ARG(number));
            return NULL;
        }
        if (at < 2 && !within(number, at ? "-90" : "-180", at ? "90" : "180")) {
            mb_fail(geo->err, MB_REFUSED,
                    "corner %zu: %s %.*s cannot be; the order is longitude, latitude",
                    geo->positions, at ? "latitude" : "longitude", MB_STR_ARG(number));
            return NULL;
        }
        mb_json_add(out, mb_json_string_str(geo->arena, number));
        at++;
    }
    return out;
}

static bool same_place(const mb_json *a, const mb_json *b)
{
    return mb_decimal_compare(a->first->text, b->first->text) == 0
           && mb_decimal_compare(a->first->next->text, b->first->next->text) == 0;
}

static mb_json *nested(struct geo *geo, const mb_json *given, int depth, bool rings);

static mb_json *positions(struct geo *geo, const mb_json *given, bool ring)
{
    mb_json *out = nested(geo, given, 0, false);

    if (!out || !ring)
        return out;
    if (out->count < 4 || !same_place(out->first, out->last)) {
        mb_fail(geo->err, MB_REFUSED,
                out->count < 4 ? "a ring has at least four positions, the last as the first"
                               : "a ring does not end where it began; repeat its first corner");
        return NULL;
    }
    return out;
}

/* Arrays of arrays down to lists of positions (depth 0: the list itself). */
static mb_json *nested(struct geo *geo, const mb_json *given, int depth, bool rings)
{
    mb_json *out = mb_json_array(geo->arena);

    if (!mb_json_is(given, MB_JSON_ARRAY) || given->count == 0) {
        mb_fail(geo->err, MB_REFUSED, "its coordinates are not as its type asks for");
        return NULL;
    }
    MB_JSON_EACH(child, given)
    {
        mb_json *part = depth == 0 ? position(geo, child)
                        : depth == 1 ? positions(geo, child, rings)
                                     : nested(geo, child, depth - 1, rings);

        if (!part)
            return NULL;
        mb_json_add(out, part);
    }
    return out;
}

static mb_json *geometry(struct geo *geo, const mb_json *given, int level);

static mb_json *collection(struct geo *geo, const mb_json *given, int level)
{
    const mb_json *parts = mb_json_get(given, "geometries");
    mb_json *out = mb_json_object(geo->arena), *list = mb_json_array(geo->arena);

    if (!mb_json_is(parts, MB_JSON_ARRAY) || parts->count == 0 || level > NESTED_MOST) {
        mb_fail(geo->err, MB_REFUSED, "its geometries are missing, empty or nested too deeply");
        return NULL;
    }
    MB_JSON_EACH(part, parts)
    {
        mb_json *one = geometry(geo, part, level + 1);

        if (!one)
            return NULL;
        mb_json_add(list, one);
    }
    mb_json_put(geo->arena, out, "geometries", list);
    mb_json_put_text(geo->arena, out, "type", "GeometryCollection");
    return out;
}

static mb_json *geometry(struct geo *geo, const mb_json *given, int level)
{
    static const struct {
        const char *type;
        int depth;
        bool rings;
    } types[] = {
        { "Point", -1, false },          { "MultiPoint", 0, false }, { "LineString", 0, false },
        { "MultiLineString", 1, false }, { "Polygon", 1, true },     { "MultiPolygon", 2, true },
    };
    const mb_json *type = mb_json_get(given, "type"), *at = mb_json_get(given, "coordinates");

    if (mb_json_text_is(type, "GeometryCollection"))
        return collection(geo, given, level);
    for (size_t i = 0; i < sizeof types / sizeof *types; i++) {
        mb_json *out, *coordinates;

        if (!mb_json_text_is(type, types[i].type))
            continue;
        coordinates = types[i].depth < 0 ? position(geo, at)
                                         : nested(geo, at, types[i].depth, types[i].rings);
        if (!coordinates)
            return NULL;
        out = mb_json_object(geo->arena);
        mb_json_put(geo->arena, out, "coordinates", coordinates);
        mb_json_put_text(geo->arena, out, "type", types[i].type);
        return out;
    }
    mb_fail(geo->err, MB_REFUSED,
            "it is no GeoJSON geometry; bring a Polygon or another of RFC 7946");
    return NULL;
}

enum mb_rc mb_geovalue_read(mb_arena *arena, const mb_json *given, mb_json **out,
                            struct mb_error *err)
{
    struct geo geo = { arena, 0, err };
    mb_json *made;

    if (mb_json_get(given, "crs"))
        return mb_fail(err, MB_REFUSED, "it names another coordinate system; save it as WGS 84,"
                                        " which RFC 7946 asks for");
    if (mb_json_text_is(mb_json_get(given, "type"), "FeatureCollection")) {
        const mb_json *features = mb_json_get(given, "features");

        if (!features || features->count != 1)
            return mb_fail(err, MB_REFUSED, "the file holds %u features; keep the one that is"
                                            " meant", features ? features->count : 0);
        given = features->first;
    }
    if (mb_json_text_is(mb_json_get(given, "type"), "Feature"))
        given = mb_json_get(given, "geometry");
    made = geometry(&geo, given, 0);
    if (!made)
        return MB_REFUSED;
    *out = made;
    return MB_OK;
}
