#include "placework.h"

#include "text.h"

static bool index_of(const struct mb_checking *c, const char *name, size_t *at)
{
    const struct mb_kind_field *field = mb_kind_field(c->kind, mb_str_of(name));

    if (field)
        *at = (size_t)(field - c->kind->fields);
    return field != NULL;
}

/* What was typed or filled in and is no answer ("not known"). */
static const mb_json *value_of(const struct mb_checking *c, const char *name)
{
    size_t at;

    if (!index_of(c, name, &at) || !c->values[at] || mb_answer_of(c->values[at]).at)
        return NULL;
    return c->values[at];
}

static bool settled(const struct mb_checking *c, const char *name)
{
    size_t at;

    return index_of(c, name, &at) && c->settled[at];
}

static struct mb_str words_of(const struct mb_checking *c, const char *name)
{
    return mb_json_str(value_of(c, name));
}

bool mb_placework_due(const struct mb_checking *c)
{
    static const char *const reasons[] = { "verbatimCoordinates", "uncertaintyParts", "mapScale",
                                           "fromFeature" };
    bool site = mb_str_is(c->kind->name, "site");

    if (!c->ledger->place_work || (!site && !mb_str_is(c->kind->name, "collecting")))
        return false;
    for (size_t i = 0; i < sizeof reasons / sizeof *reasons; i++)
        if (value_of(c, reasons[i]))
            return true;
    return site && value_of(c, "decimalLatitude") && !settled(c, "coordinateUncertaintyInMeters");
}

/* Puts what was worked out in place of what was filled in; what was typed stays. */
static enum mb_rc put(struct mb_checking *c, const char *name, const mb_json *value, bool always,
                      struct mb_error *err)
{
    const struct mb_kind_field *field = mb_kind_field(c->kind, mb_str_of(name));
    mb_json *taken;
    size_t at;
    enum mb_rc rc;

    if (!value || !index_of(c, name, &at) || (c->settled[at] && !always))
        return MB_OK;
    rc = mb_value_take(&c->in, field, value, &taken, err);
    if (rc) {
        mb_fail_where(err, "field %s", name);
        return rc;
    }
    c->values[at] = taken;
    c->settled[at] = true;
    mb_json_put(c->arena, c->filled, name, mb_json_copy(c->arena, taken));
    return MB_OK;
}

enum mb_rc mb_placework(struct mb_checking *c, struct mb_error *err)
{
    bool site = mb_str_is(c->kind->name, "site");
    bool typed = settled(c, "decimalLatitude") || settled(c, "decimalLongitude");
    struct mb_place_words words = {
        .verbatim = words_of(c, "verbatimCoordinates"),
        .datum = words_of(c, "geodeticDatum"),
        .source = words_of(c, "coordinateSource"),
        .day = words_of(c, site ? "georeferencedDate" : "eventDate"),
        .from_feature = words_of(c, "fromFeature"),
        .map_scale = words_of(c, "mapScale"),
        .parts = value_of(c, "uncertaintyParts"),
        .boundary = value_of(c, "boundary"),
        .wide = site,
    };
    const mb_json *out;
    enum mb_rc rc;

    if (typed) {
        words.latitude = words_of(c, "decimalLatitude");
        words.longitude = words_of(c, "decimalLongitude");
        if (!words.latitude.at || !words.longitude.at)
            return MB_OK; /* not known, and said so; or one of the two, which is refused later */
    } else if (!words.verbatim.at) {
        return MB_OK;
    }
    rc = c->ledger->place_work(c->arena, &words, &out, err);
    if (!rc)
        rc = put(c, "decimalLatitude", mb_json_get(out, "decimalLatitude"), false, err);
    if (!rc)
        rc = put(c, "decimalLongitude", mb_json_get(out, "decimalLongitude"), false, err);
    if (!rc && mb_json_get(out, "uncertaintyParts")->count)
        rc = put(c, "uncertaintyParts", mb_json_get(out, "uncertaintyParts"), true, err);
    if (rc)
        return rc;
    MB_JSON_EACH(note, mb_json_get(out, "notes"))
    {
        mb_checking_warn(c, "%.*s", MB_STR_ARG(note->text));
    }
    if (settled(c, "coordinateUncertaintyInMeters"))
        return MB_OK;
    return put(c, "coordinateUncertaintyInMeters",
               mb_json_get(out, "coordinateUncertaintyInMeters"), false, err);
}
