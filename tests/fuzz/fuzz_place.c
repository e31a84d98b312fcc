/* Fuzzing the readers of short texts about place and time: whatever is accepted makes sense, and is
 * read the same again from what was written; whatever is refused is refused in one sentence. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "chrono.h"
#include "coord.h"
#include "datums.h"
#include "fuzz.h"
#include "georef.h"
#include "plss.h"
#include "text.h"

static void must(bool holds)
{
    if (!holds)
        abort();
}

static void refused(enum mb_rc rc, const struct mb_error *err)
{
    must(rc == MB_REFUSED && err->code == MB_REFUSED && err->text[0] != '\0');
    must(mb_text_allowed(mb_str_of(err->text), false));
}

static void coordinates(mb_arena *arena, mb_earth *earth, struct mb_str text)
{
    struct mb_error err = { 0 };
    struct mb_coord c, again;
    enum mb_rc rc = mb_coord_read(arena, text, &c, &err);
    if (rc != MB_OK) {
        refused(rc, &err);
        return;
    }
    if (c.form == MB_COORD_UTM) {
        must(c.zone >= 1 && c.zone <= 60 && c.precision_m > 0);
        must(c.easting_m >= 100000 && c.easting_m < 1000000 && c.northing_m <= 10000000);
        rc = mb_coord_utm(arena, earth, &mb_ellipsoid_wgs84, &c, &err);
        if (rc != MB_OK) {
            refused(rc, &err);
            return;
        }
        must(fabs(c.lat_deg) <= 90 && fabs(c.lon_deg) <= 180);
        return;
    }
    must(fabs(c.lat_deg) <= 90 && fabs(c.lon_deg) <= 180);
    must(c.precision_deg > 0 && c.precision_deg <= 1 && c.precision_text != NULL);
    rc = mb_coord_read(arena, mb_str_of(mb_arena_printf(arena, "%s, %s", c.lat, c.lon)), &again,
                       &err);
    must(rc == MB_OK && strcmp(c.lat, again.lat) == 0 && strcmp(c.lon, again.lon) == 0);
}

static void survey(mb_arena *arena, struct mb_str text)
{
    struct mb_error err = { 0 };
    struct mb_plss p, again;
    enum mb_rc rc = mb_plss_read(arena, text, &p, &err);
    if (rc != MB_OK) {
        refused(rc, &err);
        return;
    }
    p.meridian = NULL; /* an unknown one is any text */
    char *written = mb_plss_write(arena, &p);
    must(mb_plss_extent_m(&p) > 0);
    must(strlen(written) > MB_PLSS_TEXT_MAX ||
         mb_plss_read(arena, mb_str_of(written), &again, &err) == MB_OK);
    must(strlen(written) > MB_PLSS_TEXT_MAX || strcmp(written, mb_plss_write(arena, &again)) == 0);
}

static void times(mb_arena *arena, const mb_chrono *chart, struct mb_str text)
{
    struct mb_error err = { 0 };
    struct mb_chrono_span span;
    struct mb_str oldest, youngest;
    mb_str_cut(text, '|', &oldest, &youngest);
    enum mb_rc rc = mb_chrono_span(arena, chart, oldest, youngest, &span, &err);
    if (rc != MB_OK) {
        refused(rc, &err);
        return;
    }
    must(span.oldest.age.ma_nano >= span.youngest.age.ma_nano);
    must(span.oldest.unit != NULL && span.youngest.unit != NULL);
}

static void parts(mb_arena *arena, struct mb_str text)
{
    struct mb_error err = { 0 };
    double a, b;
    const char *code;
    if (mb_georef_step(text, &a))
        must(a > 0 && isfinite(a));
    if (mb_georef_unit(text, &a))
        must(a > 0);
    if (mb_georef_heading(text, &a, &b))
        must(a >= 0 && a < 360 && b > 0 && b <= 45);
    enum mb_rc rc = mb_datum_code(arena, text, &code, &err);
    if (rc == MB_OK)
        must(strncmp(code, "EPSG:", 5) == 0);
    else if (rc != MB_NO)
        refused(rc, &err);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t len)
{
    static mb_earth *earth;
    static mb_arena *kept;
    static mb_chrono *chart;
    if (!earth) {
        kept = mb_arena_new();
        must(mb_earth_open(&earth, NULL) == MB_OK && mb_chrono_open(kept, &chart, NULL) == MB_OK);
    }
    mb_arena *arena = mb_arena_new();
    struct mb_str text = { (const char *)bytes, len };
    coordinates(arena, earth, text);
    survey(arena, text);
    times(arena, chart, text);
    parts(arena, text);
    mb_arena_free(arena);
    return 0;
}
