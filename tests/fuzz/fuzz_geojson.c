/* Fuzzing boundaries: whatever GeoJSON is accepted has an area, a middle that can be asked about,
 * and outlines that are sound; whatever is refused is refused in one clean sentence. */
#include <math.h>
#include <stdlib.h>

#include "area.h"
#include "fuzz.h"
#include "text.h"

static void must(bool holds)
{
    if (!holds)
        abort();
}

static void refused(enum mb_rc rc, const struct mb_error *err)
{
    must((rc == MB_REFUSED || rc == MB_UNABLE) && err->code == rc && err->text[0] != '\0');
    must(mb_text_allowed(mb_str_of(err->text), false));
}

static void ask(mb_arena *arena, mb_geoms *geoms, const mb_area *area)
{
    struct mb_error err = { 0 };
    struct mb_area_answer out;
    struct mb_polygon *list;
    size_t count;
    must(mb_area_m2(area) >= 0 && mb_area_m2(area) < 5.2e14);
    enum mb_rc rc = mb_area_place(area, mb_area_middle(area), 1000, &out, &err);
    if (rc != MB_OK) {
        refused(rc, &err);
        return;
    }
    must(out.share >= 0 && out.share <= 1 && out.distance_m >= 0);
    must(out.side != MB_AREA_INSIDE || (out.share > 0.999 && out.distance_m > 1000));
    must(out.side != MB_AREA_OUTSIDE || (out.share < 0.001 && out.distance_m > 1000));
    mb_area_outline(arena, area, &list, &count);
    must(count > 0);
    for (size_t i = 0; i < count; i++) {
        mb_geom *again;
        must(mb_geom_polygon(geoms, list[i].rings, list[i].count, &again, NULL, NULL) == MB_OK);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t len)
{
    static mb_earth *earth;
    if (!earth)
        must(mb_earth_open(&earth, NULL) == MB_OK);
    mb_arena *arena = mb_arena_new();
    mb_geoms *geoms = mb_geoms_open();
    struct mb_error err = { 0 };
    const mb_json *value;
    mb_area *area = NULL;
    struct mb_str text = { (const char *)bytes, len };
    if (mb_json_read(arena, text, MB_JSON_PLAIN, &value, &err) == MB_OK) {
        enum mb_rc rc = mb_area_read(arena, earth, geoms, value, &area, &err);
        if (rc == MB_OK)
            ask(arena, geoms, area);
        else
            refused(rc, &err);
    }
    mb_area_free(area);
    mb_geoms_close(geoms);
    mb_arena_free(arena);
    return 0;
}
