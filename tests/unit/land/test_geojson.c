/* What RFC 7946 asks of a polygon, what readers should tolerate, and what is refused and where. */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "geojson.h"
#include "text.h"

#define SQUARE "[[0,0],[1,0],[1,1],[0,1],[0,0]]"

static enum mb_rc read(mb_arena *arena, mb_geoms *geoms, const char *text, mb_geom **out,
                       struct mb_error *err)
{
    const mb_json *value;
    enum mb_rc rc = mb_json_read(arena, mb_str_of(text), MB_JSON_PLAIN, &value, err);
    cr_assert_eq(rc, MB_OK, "%s: %s", text, err->text);
    return mb_geojson_read(arena, geoms, value, out, err);
}

/* Areas in square degrees, x and y taken as a plane: only the shape is looked at here. */
Test(geojson, what_is_taken)
{
    static const struct {
        const char *text;
        double area, x_min, x_max;
    } cases[] = {
        { "{\"type\":\"Polygon\",\"coordinates\":[" SQUARE "]}", 1, 0, 1 },
        /* clockwise; a height; integers, decimals and exponents */
        { "{\"type\":\"Polygon\",\"coordinates\":[[[0,0,12],[0,1.0],[1e0,1],[1,0],[-0,0]]]}", 1, 0,
          1 },
        /* repeated positions */
        { "{\"type\":\"Polygon\",\"coordinates\":[[[0,0],[0,0],[1,0],[1,1],[1,1],[0,1],[0,0]]]}", 1,
          0, 1 },
        /* a hole that runs the same way as the outer line */
        { "{\"type\":\"Polygon\",\"coordinates\":[[[0,0],[4,0],[4,4],[0,4],[0,0]],"
          "[[1,1],[2,1],[2,2],[1,2],[1,1]]]}",
          15, 0, 4 },
        /* two parts; two that overlap count once; two that share an edge become one */
        { "{\"type\":\"MultiPolygon\",\"coordinates\":[[" SQUARE
          "],[[[2,0],[3,0],[3,1],[2,1],[2,0]]]]}",
          2, 0, 3 },
        { "{\"type\":\"MultiPolygon\",\"coordinates\":[[" SQUARE "],[" SQUARE "]]}", 1, 0, 1 },
        { "{\"type\":\"GeometryCollection\",\"geometries\":[{\"type\":\"Polygon\",\"coordinates\":"
          "[" SQUARE
          "]},{\"type\":\"Polygon\",\"coordinates\":[[[1,0],[2,0],[2,1],[1,1],[1,0]]]}]}",
          2, 0, 2 },
        { "{\"type\":\"Feature\",\"properties\":null,\"geometry\":{\"type\":\"Polygon\","
          "\"coordinates\":[" SQUARE "]}}",
          1, 0, 1 },
        { "{\"type\":\"FeatureCollection\",\"features\":[{\"type\":\"Feature\",\"geometry\":"
          "{\"type\":\"Polygon\",\"coordinates\":[" SQUARE "]}}]}",
          1, 0, 1 },
        { "{\"type\":\"Polygon\",\"crs\":{\"type\":\"name\",\"properties\":{\"name\":"
          "\"urn:ogc:def:crs:OGC:1.3:CRS84\"}},\"coordinates\":[" SQUARE "]}",
          1, 0, 1 },
        /* section 3.1.9: cut at the antimeridian, and its own example of a ring that is not */
        { "{\"type\":\"MultiPolygon\",\"coordinates\":[[[[180,40],[180,50],[170,50],[170,40],[180,"
          "40]]],"
          "[[[-170,40],[-170,50],[-180,50],[-180,40],[-170,40]]]]}",
          200, 170, 190 },
        { "{\"type\":\"Polygon\",\"coordinates\":[[[170,40],[-170,40],[-170,50],[170,50],[170,40]]]"
          "}",
          200, 170, 190 },
        /* a ring across it with a hole on the other side of it */
        { "{\"type\":\"Polygon\",\"coordinates\":[[[-179,0],[-179,2],[179,2],[179,0],[-179,0]],"
          "[[179.5,1],[179.6,1],[179.6,1.5],[179.5,1.5],[179.5,1]]]}",
          4 - 0.05, -181, -179 },
    };
    mb_arena *arena = mb_arena_new();
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_error err = { 0 };
        mb_geom *shape;
        struct mb_box box;
        cr_assert_eq(read(arena, geoms, cases[i].text, &shape, &err), MB_OK, "case %zu: %s", i,
                     err.text);
        cr_assert_float_eq(mb_geom_area(shape), cases[i].area, 1e-9, "case %zu: %g", i,
                           mb_geom_area(shape));
        cr_assert(mb_geom_bounds(shape, &box));
        cr_assert_float_eq(box.x_min, cases[i].x_min, 1e-9, "case %zu: %g", i, box.x_min);
        cr_assert_float_eq(box.x_max, cases[i].x_max, 1e-9, "case %zu: %g", i, box.x_max);
    }
    mb_arena_free(arena);
}

Test(geojson, what_is_refused_and_where)
{
    static const struct {
        const char *text, *words;
    } cases[] = {
        { "7", "a GeoJSON object" },
        { "{\"type\":7}", "a GeoJSON object" },
        { "{\"type\":\"Point\",\"coordinates\":[0,0]}", "cannot be a Point" },
        { "{\"type\":\"GeometryCollection\",\"geometries\":[{\"type\":\"LineString\","
          "\"coordinates\":[[0,0],[1,1]]}]}",
          "cannot be a LineString" },
        { "{\"type\":\"MultiPolygon\",\"coordinates\":[]}", "holds no polygon" },
        { "{\"type\":\"Polygon\",\"coordinates\":[]}", "list of rings" },
        { "{\"type\":\"Polygon\",\"coordinates\":[[[0,0],[1,0],[0,0]]]}", "at least four" },
        { "{\"type\":\"Polygon\",\"coordinates\":[[[0,0],[1,0],[1,1],[0,1]]]}",
          "outer line: does not end where it began" },
        { "{\"type\":\"Polygon\",\"coordinates\":[[[0,0],[1,0],[1,\"1\"],[0,1],[0,0]]]}",
          "outer line: position 3: must be [longitude, latitude]" },
        { "{\"type\":\"Polygon\",\"coordinates\":[[[47.2,-107.1],[47.2,-107],[47.3,-107],[47.2,-"
          "107.1]]]}",
          "longitude first" },
        { "{\"type\":\"Polygon\",\"coordinates\":[[[492000,5228000],[493000,5228000],[493000,"
          "5229000],"
          "[492000,5228000]]]}",
          "degrees on WGS 84" },
        { "{\"type\":\"Polygon\",\"coordinates\":[[[0,0],[2,2],[2,0],[0,2],[0,0]]]}",
          "crosses itself at latitude 1, longitude 1" },
        { "{\"type\":\"Polygon\",\"coordinates\":[[[179,0],[-179,2],[-179,0],[179,2],[179,0]]]}",
          "crosses itself at latitude 1, longitude 180" },
        { "{\"type\":\"Polygon\",\"coordinates\":[" SQUARE ",[[5,5],[6,5],[6,6],[5,5]]]}",
          "hole outside" },
        { "{\"type\":\"Polygon\",\"coordinates\":[" SQUARE ",[[5,5],[6,5],[6,6],[5,6]]]}",
          "hole 1: does not end" },
        { "{\"type\":\"MultiPolygon\",\"coordinates\":[[" SQUARE
          "],[[[0,0],[1,1],[1,0],[0,1],[0,0]]]]}",
          "polygon 2: it crosses itself at latitude 0.5" },
        { "{\"type\":\"Polygon\",\"coordinates\":[[[0,80],[90,80],[180,80],[-90,80],[0,80]]]}",
          "pole" },
        { "{\"type\":\"FeatureCollection\",\"features\":[{},{}]}", "holds 2 features" },
        { "{\"type\":\"FeatureCollection\"}", "holds 0 features" },
        { "{\"type\":\"Polygon\",\"crs\":{\"type\":\"name\",\"properties\":{\"name\":"
          "\"urn:ogc:def:crs:EPSG::4267\"}},\"coordinates\":[" SQUARE "]}",
          "EPSG::4267" },
    };
    mb_arena *arena = mb_arena_new();
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_error err = { 0 };
        mb_geom *shape = NULL;
        cr_assert_eq(read(arena, geoms, cases[i].text, &shape, &err), MB_REFUSED, "case %zu", i);
        cr_assert_null(shape);
        cr_assert(strstr(err.text, cases[i].words), "case %zu: %s", i, err.text);
        cr_assert_null(strchr(err.text, '\n'));
    }
    mb_arena_free(arena);
}
