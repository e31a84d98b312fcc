#include "landsql.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "area.h"
#include "attach.h"
#include "date.h"
#include "decimal.h"
#include "georef.h"
#include "sha256.h"
#include "text.h"

/* Areas are read once: so many are kept, and of so many bytes of GeoJSON together. */
enum { LIST_MOST = 1 << 16 /* bytes of a list of words */ };
enum { SLOTS = 16384, KEPT_MOST = 12000, BYTES_MOST = 24 << 20 };

struct kept {
    struct mb_str text;
    uint64_t hash;
    mb_area *area; /* NULL: it cannot be read */
    struct mb_polygon *outline; /* in degrees; none where the area is too large for plane_inside */
    size_t outline_count;
    double metres_x, metres_y; /* a degree is at least so long anywhere near it */
};

struct last {
    bool there, known;
    const struct kept *area;
    double lat, lon, radius;
    struct mb_area_answer answer;
};

struct mb_landsql {
    mb_db *db;
    mb_earth *earth;
    mb_geoms *geoms;
    struct kept *slots[SLOTS];
    const struct kept *newest; /* the last one asked for */
    size_t kept, bytes;
    struct last last;
    mb_arena *arena, *shifting, *reading, *pool;
    const char *folder;
    /* the last datum looked up */
    char datum_name[64];
    struct mb_datum datum;
    enum mb_rc datum_rc;
};

/* ---- areas ---- */

/* FNV-1a, 64 bits (Fowler, Noll, Vo). */
static uint64_t hash_of(struct mb_str text)
{
    uint64_t hash = 14695981039346656037u;

    for (size_t i = 0; i < text.len; i++)
        hash = (hash ^ (unsigned char)text.at[i]) * 1099511628211u;
    return hash;
}

static void forget_all(mb_landsql *sql)
{
    for (size_t i = 0; i < SLOTS; i++) {
        if (!sql->slots[i])
            continue;
        mb_area_free(sql->slots[i]->area);
        sql->slots[i] = NULL;
    }
    mb_arena_free(sql->pool);
    sql->pool = mb_arena_new();
    sql->kept = sql->bytes = 0;
    sql->newest = NULL;
    sql->last.there = false;
}

/* Numbers of a recorded geometry are texts (geovalue.h): they become numbers again. */
static void make_numbers(mb_json *value)
{
    if (value->type == MB_JSON_STRING && mb_decimal_ok(value->text))
        value->type = MB_JSON_NUMBER;
    for (mb_json *child = value->first; child; child = child->next)
        make_numbers(child);
}

mb_json *mb_land_shape(mb_arena *arena, struct mb_str text)
{
    mb_arena *scratch;
    const mb_json *read;
    mb_json *shape = NULL;

    if (!text.len || text.at[0] != '{')
        return NULL;
    scratch = mb_arena_new();
    if (mb_json_read(scratch, text, MB_JSON_PLAIN, &read, NULL) == MB_OK) {
        shape = mb_json_copy(arena, read);
        make_numbers(shape);
    }
    mb_arena_free(scratch);
    return shape;
}

/* An outline for the quick look, where a degree is about as long everywhere on the area. */
static void prepare_quick(mb_arena *arena, struct kept *kept)
{
    struct mb_box box;
    double far;

    if (!mb_area_bounds(kept->area, &box) || box.x_max - box.x_min > 1 || box.y_max - box.y_min > 1
        || box.x_max > 180)
        return;
    far = fmax(fabs(box.y_min), fabs(box.y_max));
    if (far > 80)
        return;
    mb_earth_degree(&mb_ellipsoid_wgs84, far, &kept->metres_y, &kept->metres_x);
    kept->metres_y = 110500; /* shorter than any on the ellipsoid (110,574 m at the equator) */
    kept->metres_x *= 0.999;
    mb_area_outline(arena, kept->area, &kept->outline, &kept->outline_count);
}

/* Is the point inside the ring (even-odd), and how near does the ring come, in metres at least? */
static bool look_at_ring(const struct kept *kept, const struct mb_ring *ring, double lon,
                         double lat, double *nearest)
{
    bool inside = false;

    for (size_t i = 0, j = ring->count - 1; i < ring->count; j = i++) {
        double ax = (ring->at[j].x - lon) * kept->metres_x;
        double ay = (ring->at[j].y - lat) * kept->metres_y;
        double dx = (ring->at[i].x - lon) * kept->metres_x - ax;
        double dy = (ring->at[i].y - lat) * kept->metres_y - ay;
        double length = dx * dx + dy * dy;
        double t = length > 0 ? fmin(1, fmax(0, -(ax * dx + ay * dy) / length)) : 0;

        *nearest = fmin(*nearest, hypot(ax + t * dx, ay + t * dy));
        if ((ay > 0) != (ay + dy > 0) && 0 < ax + dx * -ay / dy)
            inside = !inside;
    }
    return inside;
}

/* Surely inside, by a metre and more: edges are straight in degrees (area.h), and the distances
 * are taken shorter than they are. False says nothing. */
static bool plane_inside(const struct kept *kept, double lat, double lon, double radius)
{
    double nearest = INFINITY;
    bool inside = false;

    for (size_t p = 0; p < kept->outline_count; p++)
        for (size_t r = 0; r < kept->outline[p].count; r++)
            inside ^= look_at_ring(kept, &kept->outline[p].rings[r], lon, lat, &nearest);
    return inside && nearest > radius * 1.001 + 1;
}

static struct kept *read_area(mb_landsql *sql, struct mb_str text, uint64_t hash)
{
    struct kept *kept = MB_NEW(sql->pool, struct kept);
    const mb_json *value;

    *kept = (struct kept){ .text = mb_arena_str(sql->pool, text), .hash = hash };
    mb_arena_reset(sql->reading);
    value = mb_land_shape(sql->reading, text);
    if (value
        && mb_area_read(sql->pool, sql->earth, sql->geoms, value, &kept->area, NULL) != MB_OK)
        kept->area = NULL;
    if (kept->area)
        prepare_quick(sql->pool, kept);
    return kept;
}

static const struct kept *area_of(mb_landsql *sql, struct mb_str text)
{
    uint64_t hash;
    size_t at;

    if (sql->newest && mb_str_equal(sql->newest->text, text))
        return sql->newest;
    hash = hash_of(text);
    at = hash % SLOTS;
    for (; sql->slots[at]; at = (at + 1) % SLOTS)
        if (sql->slots[at]->hash == hash && mb_str_equal(sql->slots[at]->text, text))
            return sql->newest = sql->slots[at];
    if (sql->kept >= KEPT_MOST || sql->bytes + text.len > BYTES_MOST) {
        forget_all(sql);
        at = hash % SLOTS;
    }
    sql->slots[at] = read_area(sql, text, hash);
    sql->kept++;
    sql->bytes += text.len;
    return sql->newest = sql->slots[at];
}

/* ---- places ---- */

static enum mb_rc datum_of(mb_landsql *sql, struct mb_str name)
{
    if (name.len >= sizeof sql->datum_name)
        return MB_REFUSED;
    if (mb_str_is(name, sql->datum_name) && sql->datum_name[0])
        return sql->datum_rc;
    sql->datum_rc = mb_earth_datum(sql->earth, sql->arena, name, &sql->datum, NULL);
    memcpy(sql->datum_name, name.at, name.len);
    sql->datum_name[name.len] = '\0';
    return sql->datum_rc;
}

bool mb_landsql_place(mb_landsql *sql, double lat, double lon, struct mb_str datum,
                      double *lat_out, double *lon_out, double *open_m)
{
    struct mb_shift shift;
    enum mb_rc rc;

    *lat_out = lat;
    *lon_out = lon;
    *open_m = 0;
    if (fabs(lat) > 90 || fabs(lon) > 360)
        return false;
    if (mb_str_is(datum, "EPSG:4326"))
        return true;
    mb_arena_reset(sql->shifting);
    rc = datum.at ? datum_of(sql, datum) : MB_NO;
    if (rc == MB_NO) {
        *open_m = MB_GEOREF_DATUM_UNKNOWN_M;
        return true;
    }
    if (rc
        || mb_earth_shift(sql->earth, sql->shifting, sql->datum.code,
                          (struct mb_latlon){ lat, lon }, &shift, NULL))
        return false;
    *lat_out = shift.to.lat;
    *lon_out = shift.to.lon;
    *open_m = mb_georef_datum_m(&shift);
    return true;
}

static bool number(const mb_sql_call *call, int at, double *value)
{
    enum mb_col_type type = mb_arg_type(call, at);

    *value = mb_arg_double(call, at);
    return (type == MB_COL_INT || type == MB_COL_DOUBLE) && isfinite(*value);
}

static const struct mb_area_answer *answer_of(mb_landsql *sql, const mb_sql_call *call)
{
    struct last *last = &sql->last;
    const struct kept *area;
    double lat, lon, radius, open;

    if (mb_arg_type(call, 0) != MB_COL_TEXT || !number(call, 1, &lat) || !number(call, 2, &lon)
        || !number(call, 4, &radius))
        return NULL;
    if (!mb_landsql_place(sql, lat, lon, mb_arg_text(call, 3), &lat, &lon, &open))
        return NULL;
    radius += open;
    area = area_of(sql, mb_arg_text(call, 0));
    if (last->there && last->area == area && last->lat == lat && last->lon == lon
        && last->radius == radius)
        return last->known ? &last->answer : NULL;
    *last = (struct last){ .there = true, .area = area, .lat = lat, .lon = lon,
                           .radius = radius };
    last->known = area->area
                  && mb_area_place(area->area, (struct mb_latlon){ lat, lon }, radius,
                                   &last->answer, NULL)
                         == MB_OK;
    return last->known ? &last->answer : NULL;
}

/* 1 where the circle is surely and easily seen inside; else 0, which says nothing. */
static void place_surely(void *ctx, mb_sql_call *call)
{
    mb_landsql *sql = ctx;
    double lat, lon, radius;

    mb_give_int(call, mb_arg_type(call, 0) == MB_COL_TEXT && number(call, 1, &lat)
                          && number(call, 2, &lon) && number(call, 4, &radius) && radius >= 0
                          && mb_str_is(mb_arg_text(call, 3), "EPSG:4326")
                          && plane_inside(area_of(sql, mb_arg_text(call, 0)), lat, lon, radius));
}

static void place_side(void *ctx, mb_sql_call *call)
{
    const struct mb_area_answer *answer = answer_of(ctx, call);

    if (answer)
        mb_give_constant(call, mb_area_side_word(answer->side));
    else
        mb_give_null(call);
}

static void place_centre(void *ctx, mb_sql_call *call)
{
    const struct mb_area_answer *answer = answer_of(ctx, call);

    if (answer)
        mb_give_constant(call, mb_area_side_word(answer->centre));
    else
        mb_give_null(call);
}

static void place_share(void *ctx, mb_sql_call *call)
{
    const struct mb_area_answer *answer = answer_of(ctx, call);

    if (answer)
        mb_give_int(call, (int64_t)floor(100 * answer->share + 0.5));
    else
        mb_give_null(call);
}

static void place_distance(void *ctx, mb_sql_call *call)
{
    const struct mb_area_answer *answer = answer_of(ctx, call);

    if (answer)
        mb_give_double(call, answer->distance_m);
    else
        mb_give_null(call);
}

static void area_side(void *ctx, mb_sql_call *call)
{
    mb_landsql *sql = ctx;
    const struct kept *inner, *outer;
    mb_arena *arena;
    mb_area *both = NULL;

    mb_give_null(call);
    if (mb_arg_type(call, 0) != MB_COL_TEXT || mb_arg_type(call, 1) != MB_COL_TEXT)
        return;
    outer = area_of(sql, mb_arg_text(call, 1));
    inner = area_of(sql, mb_arg_text(call, 0));
    if (!sql->kept || !inner->area || outer != area_of(sql, mb_arg_text(call, 1)) || !outer->area)
        return;
    arena = mb_arena_new();
    if (mb_area_intersection(arena, inner->area, outer->area, &both, NULL) == MB_OK) {
        double share = mb_area_empty(both) ? 0 : mb_area_m2(both) / mb_area_m2(inner->area);

        mb_give_constant(call, share > 1 - 1e-6   ? "inside"
                               : share < 1e-6 ? "outside"
                                              : "straddling");
    }
    mb_area_free(both);
    mb_arena_free(arena);
}

/* ---- masses and lists ---- */

bool mb_land_micrograms(struct mb_str amount, struct mb_str unit, int64_t *micrograms)
{
    static const struct {
        const char *unit;
        int64_t micrograms;
    } units[] = { { "kg", 1000000000 },   { "g", 1000000 },      { "mg", 1000 },
                  { "t", 1000000000000 }, { "lb", 453592370 },   { "ton", 907184740000 } };
    int64_t nano;

    if (!mb_decimal_nano(amount, &nano))
        return false;
    if (mb_str_is(unit, "oz")) { /* 28349523.125 micrograms */
        __int128 eighths = (__int128)nano * 226796185;

        *micrograms = (int64_t)(eighths / 8000000000);
        return eighths / 8000000000 <= INT64_MAX;
    }
    for (size_t i = 0; i < sizeof units / sizeof *units; i++) {
        __int128 all = (__int128)nano * units[i].micrograms / 1000000000;

        if (!mb_str_is(unit, units[i].unit))
            continue;
        *micrograms = (int64_t)all;
        return all <= INT64_MAX / 1024 && all >= 0;
    }
    return false;
}

static void micrograms(void *ctx, mb_sql_call *call)
{
    int64_t value;

    (void)ctx;
    if (mb_land_micrograms(mb_arg_text(call, 0), mb_arg_text(call, 1), &value))
        mb_give_int(call, value);
    else
        mb_give_null(call);
}

static void give_day(mb_sql_call *call, bool first)
{
    struct mb_days days;

    if (mb_arg_text(call, 0).at && mb_days_read(mb_arg_text(call, 0), &days))
        mb_give_int(call, first ? days.first : days.last);
    else
        mb_give_null(call);
}

static void day_first(void *ctx, mb_sql_call *call)
{
    (void)ctx;
    give_day(call, true);
}

static void day_last(void *ctx, mb_sql_call *call)
{
    (void)ctx;
    give_day(call, false);
}

/* Any file that is named by its SHA-256 (attach.h) is read again and hashed. */
static void paper_state(void *ctx, mb_sql_call *call)
{
    mb_landsql *sql = ctx;
    struct mb_str hex = mb_arg_text(call, 0);
    char part[1 << 14];
    char name[65] = "";
    struct mb_hash hash;
    mb_hasher *hasher;
    const char *path;
    size_t len;
    FILE *file;

    mb_give_null(call);
    if (hex.len != 64)
        return;
    mb_arena_reset(sql->shifting);
    path = mb_attach_path(sql->shifting, sql->folder,
                          mb_arena_copy(sql->shifting, hex.at, hex.len));
    file = fopen(path, "rb");
    if (!file) {
        mb_give_constant(call, "missing");
        return;
    }
    hasher = mb_hasher_new();
    while ((len = fread(part, 1, sizeof part, file)) > 0)
        mb_hasher_add(hasher, part, len);
    fclose(file);
    hash = mb_hasher_end(hasher);
    mb_hex_write(name, hash.b, sizeof hash.b);
    mb_give_constant(call, mb_str_is(hex, name) ? "whole" : "changed");
}

/* The next word of a list divided by "; ". */
static bool next_word(struct mb_str *list, struct mb_str *word)
{
    struct mb_str rest;

    while (list->len) {
        mb_str_cut(*list, ';', word, &rest);
        *list = rest;
        *word = mb_str_trim(*word);
        if (word->len)
            return true;
    }
    return false;
}

static bool has_word(struct mb_str list, struct mb_str word)
{
    struct mb_str other;

    while (next_word(&list, &other))
        if (other.len == word.len && strncasecmp(other.at, word.at, word.len) == 0)
            return true;
    return false;
}

static void other_words(void *ctx, mb_sql_call *call)
{
    struct mb_str list = mb_arg_text(call, 0), allowed = mb_arg_text(call, 1), word;
    mb_arena *arena;
    char *out;

    (void)ctx;
    mb_give_null(call);
    if (!list.at || !allowed.at || list.len > LIST_MOST || allowed.len > LIST_MOST)
        return;
    arena = mb_arena_new();
    out = mb_arena_text(arena, "");
    while (next_word(&list, &word))
        if (!has_word(allowed, word))
            out = mb_arena_printf(arena, "%s%s%.*s", out, *out ? ", " : "", MB_STR_ARG(word));
    mb_give_text(call, mb_str_of(out));
    mb_arena_free(arena);
}

/* ---- set up ---- */

static const struct {
    const char *name;
    int args;
    mb_sql_function *does;
} functions[] = {
    { "place_side", 5, place_side },         { "place_centre", 5, place_centre },
    { "place_share", 5, place_share },       { "place_distance", 5, place_distance },
    { "place_surely", 5, place_surely },
    { "area_side", 2, area_side },           { "micrograms", 2, micrograms },
    { "other_words", 2, other_words },       { "paper_state", 1, paper_state },
    { "day_first", 1, day_first },           { "day_last", 1, day_last },
};

enum mb_rc mb_landsql_open(mb_db *db, const char *folder, mb_landsql **out,
                           struct mb_error *err)
{
    mb_arena *arena = mb_arena_new();
    mb_landsql *sql = MB_NEW(arena, mb_landsql);
    enum mb_rc rc;

    sql->arena = arena;
    sql->db = db;
    sql->folder = mb_arena_text(arena, folder);
    sql->shifting = mb_arena_new();
    sql->reading = mb_arena_new();
    sql->pool = mb_arena_new();
    sql->geoms = mb_geoms_open();
    rc = mb_earth_open(&sql->earth, err);
    for (size_t i = 0; !rc && i < sizeof functions / sizeof *functions; i++)
        rc = mb_db_function(db, functions[i].name, functions[i].args, functions[i].does, sql, err);
    if (rc)
        sql = mb_landsql_close(sql);
    *out = sql;
    return rc;
}

mb_landsql *mb_landsql_close(mb_landsql *sql)
{
    if (!sql)
        return NULL;
    for (size_t i = 0; i < sizeof functions / sizeof *functions; i++)
        if (mb_db_function(sql->db, functions[i].name, functions[i].args, NULL, NULL, NULL))
            break; /* the database is being closed: nobody calls them any more */
    forget_all(sql);
    mb_arena_free(sql->pool);
    mb_arena_free(sql->reading);
    mb_geoms_close(sql->geoms);
    mb_earth_close(sql->earth);
    mb_arena_free(sql->shifting);
    mb_arena_free(sql->arena);
    return NULL;
}
