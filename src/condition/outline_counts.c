/* Point counts and estimates of the JSON form. */
#include "outline_reading.h"

#include <string.h>

#include "text.h"

/* "counts": {"original": 88, "filled": 12} */
static enum mb_rc read_hits(struct mb_reading *r, const mb_json *value, struct mb_count *count)
{
    size_t found;

    if (!mb_json_is(value, MB_JSON_OBJECT))
        return mb_fail(r->err, MB_REFUSED, "'counts' is no object in braces");
    MB_JSON_EACH(hits, value) {
        int64_t number = mb_json_int(hits, -1);
        enum mb_rc rc = mb_word_find(hits->name, "the substance", mb_substance_words, MB_SUBSTANCES,
                                     &found, r->err);
        if (rc != MB_OK)
            return rc;
        if (number < 0)
            return mb_fail(r->err, MB_REFUSED, "the count of %s is no whole number",
                           mb_substance_words[found]);
        rc = mb_outlines_points(r->all, (uint64_t)number, r->err);
        if (rc != MB_OK)
            return rc;
        count->hits[found] += (uint64_t)number;
        count->total += (uint64_t)number;
    }
    return MB_OK;
}

/* "at": [[x, y, "original"], ...] */
static enum mb_rc read_spots(struct mb_reading *r, const mb_json *value, struct mb_count *count)
{
    struct mb_xy *at;
    uint8_t *substance;
    size_t used = 0, found;
    enum mb_rc rc;

    if (!mb_json_is(value, MB_JSON_ARRAY))
        return mb_fail(r->err, MB_REFUSED, "'at' is no list of [x, y, \"substance\"]");
    rc = mb_outlines_points(r->all, value->count, r->err);
    if (rc != MB_OK)
        return rc;
    at = MB_ARRAY(r->arena, value->count, struct mb_xy);
    substance = MB_ARRAY(r->arena, value->count, uint8_t);
    MB_JSON_EACH(spot, value) {
        const mb_json *word = mb_json_at(spot, 2);

        rc = mb_reading_xy(r, spot, &at[used]);
        if (rc == MB_OK && (spot->count != 3 || !mb_json_is(word, MB_JSON_STRING)))
            rc = mb_fail(r->err, MB_REFUSED, "it is not written as [x, y, \"substance\"]");
        if (rc == MB_OK)
            rc = mb_word_find(word->text, "the substance", mb_substance_words, MB_SUBSTANCES,
                              &found, r->err);
        if (rc != MB_OK) {
            mb_fail_where(r->err, "point %zu", used + 1);
            return rc;
        }
        substance[used++] = (uint8_t)found;
        count->hits[found]++;
        count->total++;
    }
    count->at = at;
    count->substance = substance;
    count->at_count = used;
    return MB_OK;
}

enum mb_rc mb_reading_count(struct mb_reading *r, const mb_json *value, size_t number)
{
    static const char *const names[] = { "individual", "element", "layout",
                                         "areaMm2",    "counts",  "at" };
    struct mb_count *count;
    const mb_json *hits = mb_json_get(value, "counts"), *at = mb_json_get(value, "at");
    size_t layout;
    enum mb_rc rc = mb_outlines_add_count(r->arena, r->all, r->view, &count, r->err);

    if (rc == MB_OK)
        rc = mb_field_members(r, value, "it", names, MB_COUNT_OF(names));
    if (rc == MB_OK)
        rc = mb_reading_owner(r, value, &count->individual, &count->element);
    if (rc == MB_OK)
        rc = mb_field_decimal(r, value, "areaMm2", &count->area_mm2);
    if (rc == MB_OK && mb_json_get(value, "layout")) {
        rc = mb_field_word(r, value, "layout", mb_layout_words, MB_LAYOUTS, &layout);
        if (rc == MB_OK)
            count->layout = mb_layout_words[layout];
    }
    if (rc == MB_OK && !hits == !at)
        rc = mb_fail(r->err, MB_REFUSED, "it must have either 'counts' or 'at', and not both");
    if (rc == MB_OK)
        rc = hits ? read_hits(r, hits, count) : read_spots(r, at, count);
    if (rc == MB_OK)
        count->where = mb_reading_place(r, "point count", number, NULL);
    return rc;
}

/* Bands as people write them: "5-10", "5-10 %", with any dash. */
static enum mb_rc take_band(struct mb_reading *r, const mb_json *value, enum mb_band *out)
{
    struct mb_str text = mb_json_str(mb_json_get(value, "band"));
    char plain[32];
    size_t len = 0, found;
    enum mb_rc rc;

    for (size_t i = 0; i < text.len && len < sizeof plain - 1; i++) {
        if (text.len - i >= 3 && memcmp(text.at + i, "\xE2\x80\x93", 3) == 0) {
            plain[len++] = '-';
            i += 2;
        } else if (text.at[i] != '%') {
            plain[len++] = text.at[i];
        }
    }
    rc = mb_word_find(mb_str_trim((struct mb_str){ plain, len }), "the band", mb_band_words,
                      MB_BANDS, &found, r->err);
    if (rc == MB_OK)
        *out = (enum mb_band)found;
    return rc;
}

static enum mb_rc read_extent(struct mb_reading *r, const mb_json *value, struct mb_estimate *one)
{
    size_t found = 0;
    enum mb_rc rc;

    if (mb_json_get(value, "band"))
        return mb_fail(r->err, MB_REFUSED, "an estimate of a surface has an 'extent', no 'band'");
    rc = mb_field_word(r, value, "surface", mb_surface_words, MB_SURFACES, &found);
    one->surface = (enum mb_surface)found;
    if (rc == MB_OK)
        rc = mb_field_word(r, value, "extent", mb_extent_words, MB_EXTENTS, &found);
    one->extent = (enum mb_extent)found;
    return rc;
}

enum mb_rc mb_reading_estimate(struct mb_reading *r, const mb_json *value, size_t number)
{
    static const char *const names[] = { "individual", "element", "substance",
                                         "band",       "surface", "extent" };
    struct mb_estimate *one;
    size_t found = 0;
    enum mb_rc rc = mb_outlines_add_estimate(r->arena, r->all, r->view, &one, r->err);

    (void)number;
    if (rc == MB_OK)
        rc = mb_field_members(r, value, "it", names, MB_COUNT_OF(names));
    if (rc == MB_OK)
        rc = mb_reading_owner(r, value, &one->individual, &one->element);
    if (rc != MB_OK)
        return rc;
    one->of_surface = mb_json_get(value, "surface") != NULL;
    one->on_substance = one->of_surface && mb_json_get(value, "substance");
    if (!one->of_surface || one->on_substance)
        rc = mb_field_word(r, value, "substance", mb_substance_words, MB_SUBSTANCES, &found);
    one->substance = (enum mb_substance)found;
    if (rc == MB_OK && one->of_surface)
        return read_extent(r, value, one);
    if (rc == MB_OK && mb_json_get(value, "extent"))
        rc = mb_fail(r->err, MB_REFUSED, "an estimate of a substance has a 'band', no 'extent'");
    return rc == MB_OK ? take_band(r, value, &one->band) : rc;
}
