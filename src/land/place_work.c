/*
 * A place worked out of what was written down of it: the point-radius method of georef.h, over the
 * words of a record (placework.h). What was typed stays; what is missing is said, and where
 * something is missing that the method needs, there is no radius.
 */
#include <markerbed/land.h>

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "date.h"
#include "decimal.h"
#include "offset.h"
#include "place_coord.h"
#include "placework.h"
#include "text.h"

struct working {
    mb_arena *arena;
    mb_earth *earth;
    const struct mb_place_words *words;
    struct mb_place_coord place;
    struct mb_georef_input in;
    mb_json *parts, *notes;
    double more_m;   /* typed parts that no formula holds */
    double around_m; /* a distance without a direction */
    bool missing;    /* something that the method needs */
};

static void note(struct working *w, const char *text)
{
    mb_json_add_text(w->arena, w->notes, text);
}

/* ---- what was typed as parts ---- */

static bool length_m(struct mb_str unit, double *metres)
{
    static const struct {
        const char *unit;
        double metres;
    } small[] = { { "mm", 0.001 }, { "cm", 0.01 }, { "in", 0.0254 } };

    for (size_t i = 0; i < 3; i++)
        if (mb_str_is(unit, small[i].unit)) {
            *metres = small[i].metres;
            return true;
        }
    return mb_georef_unit(unit, metres);
}

static bool has_part(const struct working *w, const char *name)
{
    MB_JSON_EACH(row, w->words->parts)
    {
        if (mb_json_text_is(mb_json_get(row, "part"), name))
            return true;
    }
    return false;
}

static enum mb_rc take_parts(struct working *w, struct mb_error *err)
{
    struct {
        const char *name;
        double *into;
    } places[] = { { "extent", &w->in.extent_m },     { "precision", &w->in.precision_m },
                   { "GPS", &w->in.gps_m },           { "map", &w->in.map_m },
                   { "measuring", &w->in.measuring_m }, { "datum", &w->in.datum_m },
                   { "distance", &w->more_m },        { "direction", &w->more_m } };

    MB_JSON_EACH(row, w->words->parts)
    {
        struct mb_str unit = mb_json_str(mb_json_get(row, "unit"));
        double value = mb_decimal_double(mb_json_str(mb_json_get(row, "value"))), metres;

        if (!length_m(unit, &metres))
            return mb_fail(err, MB_REFUSED,
                           "field uncertaintyParts: %.*s is no length; write each part in m, km,"
                           " ft or mi (a direction goes under fromFeature, as in 2.5 mi NE)",
                           MB_STR_ARG(unit));
        for (size_t i = 0; i < sizeof places / sizeof *places; i++)
            if (mb_json_text_is(mb_json_get(row, "part"), places[i].name))
                *places[i].into += value * metres;
        mb_json_add(w->parts, mb_json_copy(w->arena, row));
    }
    return MB_OK;
}

/* ---- how the coordinates were come by ---- */

static enum mb_rc take_map(struct working *w, struct mb_error *err)
{
    struct mb_str text = mb_str_trim(w->words->map_scale);
    char digits[16];
    size_t len = 0;
    double scale;

    if (!text.at)
        return MB_OK;
    if (mb_str_starts(text, "1:") || mb_str_starts(text, "1/"))
        text = (struct mb_str){ text.at + 2, text.len - 2 };
    for (size_t i = 0; i < text.len; i++) {
        if (isdigit((unsigned char)text.at[i]) && len < sizeof digits - 1)
            digits[len++] = text.at[i];
        else if (!strchr(", .'", text.at[i]))
            len = sizeof digits;
        if (len >= sizeof digits)
            break;
    }
    digits[len < sizeof digits ? len : 0] = '\0';
    scale = strtod(digits, NULL);
    if (!(scale >= 100 && scale <= 100e6))
        return mb_fail(err, MB_REFUSED,
                       "field mapScale: '%.*s' is no scale; write it like 1:24000",
                       MB_STR_ARG(w->words->map_scale));
    if (!has_part(w, "map"))
        w->in.map_m = mb_georef_map_m(scale);
    return MB_OK;
}

static void take_receiver(struct working *w, bool phone)
{
    struct mb_days days;
    bool known = w->words->day.at && mb_days_read(w->words->day, &days);
    int32_t day = phone ? INT32_MAX : known ? days.first : INT32_MIN;

    if (w->in.gps_m > 0)
        return;
    w->in.gps_m = mb_georef_gps_m(-1, day);
    note(w, mb_arena_printf(w->arena, "What the receiver showed is not recorded: %.0f m are taken"
                                      " for it (uncertaintyParts GPS: twice what it shows).",
                            w->in.gps_m));
}

static void take_imagery(struct working *w)
{
    struct mb_days days;
    bool known = w->words->day.at && mb_days_read(w->words->day, &days);

    if (!(w->in.map_m > 0))
        w->in.map_m = mb_georef_imagery_m(known ? days.first : INT32_MIN);
}

static void take_source(struct working *w)
{
    struct mb_str source = w->words->source;
    bool measured = w->in.gps_m > 0 || w->in.map_m > 0;

    if (mb_str_is(source, "GPS receiver") || mb_str_is(source, "phone"))
        take_receiver(w, mb_str_is(source, "phone"));
    else if (mb_str_is(source, "imagery"))
        take_imagery(w);
    else if (mb_str_is(source, "survey") || measured)
        return;
    else {
        w->missing = true;
        note(w, mb_str_is(source, "map")
                    ? "No uncertainty is worked out: the scale of the map is not recorded"
                      " (mapScale=1:24000)."
                : mb_str_is(source, "description")
                    ? "No uncertainty is worked out: how well the described point is known is not"
                      " recorded (mapScale, or a part map or GPS of uncertaintyParts)."
                    : "No uncertainty is worked out: how the coordinates were come by is not"
                      " recorded (coordinateSource).");
    }
}

/* ---- how far it reaches ---- */

static void reach(struct working *w, const mb_json *value, double *farthest)
{
    struct mb_latlon corner;
    double m;

    if (!mb_json_is(value, MB_JSON_ARRAY) && !mb_json_is(value, MB_JSON_OBJECT))
        return;
    if (mb_json_is(value, MB_JSON_ARRAY) && value->count >= 2
        && value->first->type < MB_JSON_ARRAY) {
        corner.lon = strtod(mb_json_cstr(w->arena, value->first), NULL);
        corner.lat = strtod(mb_json_cstr(w->arena, value->first->next), NULL);
        if (!(fabs(corner.lat) <= 90) || !(fabs(corner.lon) <= 360))
            return;
        mb_earth_inverse(&mb_ellipsoid_wgs84, w->place.wgs84, corner, &m, NULL, NULL);
        *farthest = fmax(*farthest, m);
        return;
    }
    MB_JSON_EACH(child, value)
    {
        reach(w, child, farthest);
    }
}

static void take_extent(struct working *w)
{
    if (!w->words->wide || has_part(w, "extent"))
        return;
    reach(w, w->words->boundary, &w->in.extent_m);
    if (w->in.extent_m > 0)
        return;
    w->missing = true;
    note(w, "No uncertainty is worked out: how far the place reaches is not recorded (a part extent"
            " of uncertaintyParts, or a boundary).");
}

/* ---- from a feature ---- */

static enum mb_rc take_offset(struct working *w, struct mb_error *err)
{
    struct mb_offset offset;
    enum mb_rc rc;

    if (!w->words->from_feature.at)
        return MB_OK;
    rc = mb_offset_read(w->words->from_feature, &offset, err);
    if (rc) {
        mb_fail_where(err, "field fromFeature");
        return rc;
    }
    if (has_part(w, "distance") || has_part(w, "direction"))
        return mb_fail(err, MB_REFUSED,
                       "field uncertaintyParts: distance and direction are worked out from"
                       " fromFeature; leave one of the two out");
    w->in.form = offset.form;
    w->in.distance_m = offset.distance_m;
    w->in.distance_step_m = offset.step_m;
    w->in.azimuth = offset.azimuth;
    w->in.half_angle = offset.half_angle;
    w->in.north_m = offset.north_m;
    w->in.east_m = offset.east_m;
    if (offset.form == MB_GEOREF_POINT) {
        w->around_m = offset.distance_m + offset.step_m / 2;
        note(w, "Only the distance from the feature counts, not which way: the point is the"
                " feature's, and the circle is so wide.");
    } else if (w->words->latitude.at) {
        note(w, "Latitude and longitude stay as typed, as those of the place itself; only the"
                " uncertainty takes in the distance from the feature.");
    }
    return MB_OK;
}

/* ---- all of it ---- */

static enum mb_rc take_coordinates(struct working *w, struct mb_error *err)
{
    const struct mb_place_words *words = w->words;
    struct mb_str text = words->verbatim;
    mb_json *heard = mb_json_array(w->arena);
    enum mb_rc rc;

    if (words->latitude.at) {
        /* what was written tells the precision, if it is the same place and can be read */
        struct mb_place_coord written;

        text = mb_str_of(mb_arena_printf(w->arena, "%.*s, %.*s", MB_STR_ARG(words->latitude),
                                         MB_STR_ARG(words->longitude)));
        rc = mb_place_coord(w->arena, w->earth, text, words->datum, &w->place, w->notes, err);
        if (!rc && words->verbatim.at && !words->from_feature.at
            && mb_place_coord(w->arena, w->earth, words->verbatim, words->datum, &written, heard,
                              NULL) == MB_OK)
            w->place.precision_m = fmax(w->place.precision_m, written.precision_m);
        return rc;
    }
    rc = mb_place_coord(w->arena, w->earth, text, words->datum, &w->place, w->notes, err);
    if (rc)
        mb_fail_where(err, "field verbatimCoordinates");
    else if (w->place.at.reading)
        note(w, mb_arena_printf(w->arena, "The coordinates are read so: %s.",
                                w->place.at.reading));
    return rc;
}

static void list_parts(struct working *w, const struct mb_georef *done)
{
    for (size_t i = 0; i < done->count; i++) {
        const char *name = done->parts[i].name;

        if (strcmp(name, "offset") == 0)
            name = "distance";
        if (!has_part(w, name))
            mb_place_part(w->arena, w->parts, name, done->parts[i].metres);
    }
    mb_place_part(w->arena, w->parts, "distance", w->around_m);
}

static const char *said(struct working *w, int64_t total)
{
    const char *list = "";

    MB_JSON_EACH(row, w->parts)
    {
        list = mb_arena_printf(w->arena, "%s%s%s %s %s", list, *list ? ", " : "",
                               mb_json_cstr(w->arena, mb_json_get(row, "part")),
                               mb_json_cstr(w->arena, mb_json_get(row, "value")),
                               mb_json_cstr(w->arena, mb_json_get(row, "unit")));
    }
    return mb_arena_printf(w->arena, "By the point-radius method the place lies within %lld m: %s.",
                           (long long)total, list);
}

static void answer(struct working *w, const struct mb_georef *done, mb_json *out)
{
    bool moved = w->in.form == MB_GEOREF_HEADING || w->in.form == MB_GEOREF_OFFSETS;
    int64_t total = mb_georef_whole_m(done->uncertainty_m + w->more_m + w->around_m);

    if (!w->words->latitude.at) {
        mb_json_put_text(w->arena, out, "decimalLatitude",
                         moved ? mb_arena_printf(w->arena, "%.7f", done->at.lat)
                               : w->place.at.lat);
        mb_json_put_text(w->arena, out, "decimalLongitude",
                         moved ? mb_arena_printf(w->arena, "%.7f", done->at.lon)
                               : w->place.at.lon);
    }
    list_parts(w, done);
    if (!w->missing) {
        mb_json_put_text(w->arena, out, "coordinateUncertaintyInMeters",
                         mb_arena_printf(w->arena, "%lld", (long long)total));
        note(w, said(w, total));
    }
    mb_json_put(w->arena, out, "uncertaintyParts", w->parts);
    mb_json_put(w->arena, out, "notes", w->notes);
}

static enum mb_rc work(mb_arena *arena, const struct mb_place_words *words, const mb_json **out,
                       struct mb_error *err)
{
    MB_EARTH_AUTO mb_earth *earth = NULL;
    struct working w = { .arena = arena,
                         .words = words,
                         .parts = mb_json_array(arena),
                         .notes = mb_json_array(arena) };
    struct mb_georef done;
    mb_json *all = mb_json_object(arena);
    enum mb_rc rc = mb_earth_open(&earth, err);

    w.earth = earth;
    if (!rc)
        rc = take_coordinates(&w, err);
    if (!rc)
        rc = take_parts(&w, err);
    if (!rc)
        rc = take_map(&w, err);
    if (!rc)
        rc = take_offset(&w, err);
    if (rc)
        return rc;
    w.in.at = (struct mb_latlon){ w.place.at.lat_deg, w.place.at.lon_deg };
    w.in.ellipsoid = &w.place.datum.ellipsoid;
    if (!has_part(&w, "precision"))
        w.in.precision_m = w.place.precision_m;
    if (!has_part(&w, "datum"))
        w.in.datum_m = w.place.datum_m;
    w.missing = !w.place.datum_said && !has_part(&w, "datum");
    take_source(&w);
    take_extent(&w);
    rc = mb_georef_compute(&w.in, &done, err);
    if (rc)
        return rc;
    answer(&w, &done, all);
    *out = all;
    return MB_OK;
}

void mb_land_join(mb_ledger *ledger)
{
    ledger->place_work = work;
}
