/* One value at a time: what is typed against what is signed (the table in value.h). */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include "date.h"
#include "kinds.h"
#include "text.h"
#include "value.h"

static mb_arena *arena;
static const char *noted;

/* A ledger of four subjects and ten entries. */
static enum mb_rc find_ref(void *ctx, const struct mb_words *prefixes, struct mb_str text,
                           bool quiet, struct mb_str *subject, struct mb_error *err)
{
    static const char *const there[] = { "party/P001", "site/S001", "specimen/26-0115",
                                         "permission/L001" };

    (void)ctx;
    for (size_t p = 0; p < prefixes->count; p++)
        for (size_t i = 0; i < sizeof there / sizeof *there; i++) {
            const char *whole = mb_arena_printf(arena, "%s/%.*s", prefixes->at[p],
                                                MB_STR_ARG(text));

            if (strcasecmp(there[i], whole) == 0
                || (strlen(there[i]) == text.len
                    && strncasecmp(there[i], text.at, text.len) == 0)) {
                *subject = mb_str_of(there[i]);
                return MB_OK;
            }
        }
    return quiet ? MB_NO : mb_fail(err, MB_REFUSED, "unknown");
}

static enum mb_rc find_entry(void *ctx, struct mb_str text, struct mb_str *leaf,
                             struct mb_error *err)
{
    (void)ctx;
    (void)err;
    *leaf = text.at[0] == '#' ? MB_STR("AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA") : text;
    return MB_OK;
}

static enum mb_rc find_file(void *ctx, const struct mb_kind_field *field, struct mb_str path,
                            mb_json **value, struct mb_error *err)
{
    (void)ctx;
    (void)field;
    (void)err;
    *value = mb_json_object(arena);
    mb_json_put(arena, *value, "file", mb_json_string_str(arena, path));
    return MB_OK;
}

static void take_note(void *ctx, const char *sentence)
{
    (void)ctx;
    noted = sentence;
}

static struct mb_value_in in;

static void set_up(void)
{
    struct mb_error err = { 0 };

    arena = mb_arena_new();
    cr_assert_eq(mb_kinds_start(&err), MB_OK, "%s", err.text);
    in = (struct mb_value_in){ .arena = arena, .today = mb_day_number(2026, 6, 1),
                               .ref = find_ref, .entry = find_entry, .file = find_file,
                               .note = take_note };
    noted = NULL;
}

static void tear_down(void)
{
    mb_kinds_stop();
    mb_arena_free(arena);
}

TestSuite(value, .init = set_up, .fini = tear_down);

static const struct mb_kind_field *field_of(const char *kind, const char *name)
{
    const struct mb_kind *k = mb_kind_find(mb_str_of(kind));
    const struct mb_kind_field *f = k ? mb_kind_field(k, mb_str_of(name)) : NULL;

    cr_assert(f, "there is no %s.%s", kind, name);
    return f;
}

static const char *json_of(const mb_json *value)
{
    struct mb_str json = mb_json_write(arena, value);

    return mb_arena_copy(arena, json.at, json.len);
}

struct row {
    const char *kind, *field, *typed, *wire;
};

/* Words and forms of the kinds under schema/kinds; wire forms as docs/format.md has them. */
static const struct row rows[] = {
    { "note", "text", "  two pieces ", "\"two pieces\"" },
    { "note", "text", "a\r\nb", "\"a\\nb\"" },
    { "note", "text", "[sic] {x}", "\"[sic] {x}\"" },
    { "collecting", "eventDate", "2026-05-02", "\"2026-05-02\"" },
    { "collecting", "eventDate", "2026-05", "\"2026-05\"" },
    { "collecting", "eventDate", "2026", "\"2026\"" },
    { "collecting", "eventDate", "2026-06-02", "\"2026-06-02\"" },
    { "preparation", "preparationDate", "2026-05-18/2026-05-20", "\"2026-05-18/2026-05-20\"" },
    { "permission", "validUntil", "2031-12-31", "\"2031-12-31\"" },
    { "permission", "validUntil", "until ended", "\"until ended\"" },
    { "collecting", "mass", "12.50 kg", "{\"unit\":\"kg\",\"value\":\"12.50\"}" },
    { "collecting", "mass", "12.50LB", "{\"unit\":\"lb\",\"value\":\"12.50\"}" },
    { "collecting", "mass", "not known", "{\"answer\":\"not known\"}" },
    { "collecting", "mass", "Not Known", "{\"answer\":\"not known\"}" },
    { "collecting", "decimalLatitude", "-38.94130", "\"-38.94130\"" },
    { "collecting", "decimalLatitude", "38.9 degree", "\"38.9\"" },
    { "collecting", "heightAboveBase", "-0.40 m", "{\"unit\":\"m\",\"value\":\"-0.40\"}" },
    { "title", "price", "2800 usd", "{\"unit\":\"USD\",\"value\":\"2800\"}" },
    { "title", "part", "1/3", "\"1/3\"" },
    { "title", "part", "all", "\"all\"" },
    { "collecting", "objectQuantity", "240", "240" },
    { "collecting", "objectQuantity", "0", "0" },
    { "collecting", "objectQuantity", "9007199254740991", "9007199254740991" },
    { "collecting", "inPlace", "In Place", "\"in place\"" },
    { "collecting", "inPlace", "not known", "\"not known\"" },
    { "collecting", "geodeticDatum", "not recorded", "\"not recorded\"" },
    { "collecting", "geodeticDatum", "NAD27", "\"EPSG:4267\"" },
    { "site", "countryCode", "us", "\"US\"" },
    { "site", "countryCode", "andorra", "\"AD\"" },
    { "collecting", "site", "s001", "{\"ref\":\"site/S001\"}" },
    { "collecting", "site", "site/S001", "{\"ref\":\"site/S001\"}" },
    { "collecting", "permission", "not needed", "\"not needed\"" },
    { "collecting", "permission", "none", "{\"answer\":\"none\"}" },
    { "collecting", "permission", "L001", "{\"ref\":\"permission/L001\"}" },
    { "collecting", "recordedBy", "P001", "[{\"ref\":\"party/P001\"}]" },
    { "collecting", "recordedBy", "P001|party/p001",
      "[{\"ref\":\"party/P001\"},{\"ref\":\"party/P001\"}]" },
    { "collecting", "recordedBy", "[\"P001\"]", "[{\"ref\":\"party/P001\"}]" },
    { "preparation", "preparedBy", "earlier hand, not known", "\"earlier hand, not known\"" },
    { "relation", "other", "26-0115", "{\"ref\":\"specimen/26-0115\"}" },
    { "relation", "other", "26-0999", "\"26-0999\"" },
    { "relation", "other", "in a museum drawer", "\"in a museum drawer\"" },
    { "site", "siteHazards", "loose rock | a|b", "[\"loose rock\",\"a|b\"]" },
    { "condition", "notExamined", "nothing", "\"nothing\"" },
    { "condition", "notExamined", "reverse | under the mount",
      "[\"reverse\",\"under the mount\"]" },
    { "collecting", "source", "Field book 3, page 41", "\"Field book 3, page 41\"" },
    { "collecting", "source", "#7",
      "{\"entry\":\"AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA\"}" },
    { "preparation", "steps",
      "method:airabrasive; medium:dolomite powder; grainUm:40; pressure:2.5 bar; where:arms"
      " | method:needle",
      "[{\"grainUm\":\"40\",\"medium\":\"dolomite powder\",\"method\":\"airabrasive\","
      "\"pressure\":{\"unit\":\"bar\",\"value\":\"2.5\"},\"where\":\"arms\"},"
      "{\"method\":\"needle\"}]" },
    { "preparation", "steps", "[{\"method\":\"needle\",\"grainUm\":40,\"where\":null}]",
      "[{\"grainUm\":\"40\",\"method\":\"needle\"}]" },
    { "preparation", "steps", "{\"method\":\"needle\"}", "[{\"method\":\"needle\"}]" },
    { "preparation", "steps", "method:needle; where:a:b", "[{\"method\":\"needle\","
                                                         "\"where\":\"a:b\"}]" },
    { "document", "doi", "https://doi.org/10.1000/182", "\"10.1000/182\"" },
    { "document", "doi", "doi:10.1000/182", "\"10.1000/182\"" },
    { "identification", "scientificName", "Uintacrinus cf. socialis",
      "\"Uintacrinus cf. socialis\"" },
    { "identification", "scientificName", "\"Ichthyosaurus\" n. sp.",
      "\"\\\"Ichthyosaurus\\\" n. sp.\"" },
    { "document", "file", "permit.pdf", "{\"file\":\"permit.pdf\"}" },
    { "document", "file", "none", "{\"answer\":\"none\"}" },
    { "site", "boundary",
      "{\"type\":\"Feature\",\"properties\":{\"name\":\"x\"},\"geometry\":{\"type\":\"Polygon\","
      "\"coordinates\":[[[-100.31,38.950],[-100.29,38.95],[-100.29,38.96],[-100.310,38.95]]]}}",
      "{\"coordinates\":[[[\"-100.31\",\"38.950\"],[\"-100.29\",\"38.95\"],[\"-100.29\","
      "\"38.96\"],[\"-100.310\",\"38.95\"]]],\"type\":\"Polygon\"}" },
    { "site", "boundary", "{\"type\":\"Point\",\"coordinates\":[1,2,300.5]}",
      "{\"coordinates\":[\"1\",\"2\",\"300.5\"],\"type\":\"Point\"}" },
    { "site", "boundary",
      "{\"type\":\"GeometryCollection\",\"geometries\":[{\"type\":\"MultiPoint\","
      "\"coordinates\":[[0,0],[1,-1]]}]}",
      "{\"geometries\":[{\"coordinates\":[[\"0\",\"0\"],[\"1\",\"-1\"]],\"type\":\"MultiPoint\"}],"
      "\"type\":\"GeometryCollection\"}" },
};

Test(value, is_signed_as_the_table_says)
{
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const struct mb_kind_field *field = field_of(rows[i].kind, rows[i].field);
        struct mb_error err = { 0 };
        mb_json *value = NULL;
        enum mb_rc rc = mb_value_read(&in, field, mb_str_of(rows[i].typed), &value, &err);

        cr_expect_eq(rc, MB_OK, "row %zu (%s): %s", i, rows[i].typed, err.text);
        if (!rc)
            cr_expect_str_eq(json_of(value), rows[i].wire, "row %zu (%s): %s", i, rows[i].typed,
                             json_of(value));
    }
}

Test(value, typed_again_from_what_is_signed_is_the_same)
{
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const struct mb_kind_field *field = field_of(rows[i].kind, rows[i].field);
        mb_json *value, *again;
        struct mb_error err = { 0 };

        if (field->type == MB_V_FILE)
            continue; /* a path leads to a file, and the file to its hash, not back */
        cr_assert_eq(mb_value_read(&in, field, mb_str_of(rows[i].typed), &value, &err), MB_OK);
        cr_expect_eq(mb_value_read(&in, field, mb_str_of(mb_value_text(arena, value)), &again,
                                   &err),
                     MB_OK, "row %zu: '%s': %s", i, mb_value_text(arena, value), err.text);
        cr_expect(mb_json_equal(value, again), "row %zu: '%s'", i, mb_value_text(arena, value));
        err = (struct mb_error){ 0 };
        cr_expect_eq(mb_value_take(&in, field, value, &again, &err), MB_OK, "row %zu as JSON: %s",
                     i, err.text);
        cr_expect(mb_json_equal(value, again), "row %zu as JSON: %s", i, json_of(again));
    }
}

Test(value, in_json_may_be_a_number_yes_or_no)
{
    static const struct row given[] = {
        { "collecting", "objectQuantity", "240", "240" },
        { "collecting", "recordNumber", "118", "\"118\"" },
        { "collecting", "decimalLatitude", "38.94", "\"38.94\"" },
        { "collecting", "massWithMatrix", "true", "\"yes\"" },
        { "collecting", "mass", "{\"value\":\"1.0\",\"unit\":\"kg\"}",
          "{\"unit\":\"kg\",\"value\":\"1.0\"}" },
        { "collecting", "mass", "{\"answer\":\"not known\"}", "{\"answer\":\"not known\"}" },
    };

    for (size_t i = 0; i < sizeof given / sizeof *given; i++) {
        const mb_json *json;
        mb_json *value;
        struct mb_error err = { 0 };

        cr_assert_eq(mb_json_read(arena, mb_str_of(given[i].typed), MB_JSON_PLAIN, &json, &err),
                     MB_OK);
        cr_expect_eq(mb_value_take(&in, field_of(given[i].kind, given[i].field), json, &value,
                                   &err),
                     MB_OK, "row %zu: %s", i, err.text);
        cr_expect_str_eq(json_of(value), given[i].wire);
    }
}

Test(value, in_json_of_another_shape_is_refused)
{
    static const char *const given[][3] = {
        { "collecting", "mass", "{\"value\":\"1.0\"}" },
        { "collecting", "mass", "{\"answer\":\"none\"}" },
        { "collecting", "objectQuantity", "[1]" },
        { "collecting", "objectQuantity", "null" },
        { "collecting", "objectQuantity", "1.5" },
        { "collecting", "objectQuantity", "-1" },
        { "collecting", "recordedBy", "[]" },
        { "collecting", "fieldTreatment", "[]" },
        { "collecting", "fieldTreatment", "[[]]" },
        { "site", "boundary", "{\"type\":\"Polygon\",\"coordinates\":[]}" },
        { "site", "boundary", "{\"type\":\"Point\",\"coordinates\":[1e2,0]}" },
        { "site", "boundary", "{\"type\":\"Point\",\"coordinates\":[181,0]}" },
        { "site", "boundary", "{\"type\":\"Point\",\"coordinates\":[0,0],\"crs\":{}}" },
        { "site", "boundary", "{\"type\":\"FeatureCollection\",\"features\":[]}" },
    };

    for (size_t i = 0; i < sizeof given / sizeof *given; i++) {
        const mb_json *json;
        mb_json *value;
        struct mb_error err = { 0 };

        cr_assert_eq(mb_json_read(arena, mb_str_of(given[i][2]), MB_JSON_PLAIN, &json, &err),
                     MB_OK);
        cr_expect_eq(mb_value_take(&in, field_of(given[i][0], given[i][1]), json, &value, &err),
                     MB_REFUSED, "row %zu: %s passed", i, given[i][2]);
        cr_expect_gt(strlen(err.text), 5);
    }
}

Test(value, that_looks_like_a_word_of_the_list_is_taken_and_pointed_out)
{
    struct mb_error err = { 0 };
    mb_json *value;

    cr_assert_eq(mb_value_read(&in, field_of("measurement", "what"), MB_STR("lenght"), &value,
                               &err),
                 MB_OK);
    cr_assert_str_eq(json_of(value), "\"lenght\"");
    cr_assert_str_eq(noted, "field what: 'lenght' was taken as your own word; the list has"
                            " 'length'");
}

Test(value, too_long_a_text_is_refused)
{
    struct mb_error err = { 0 };
    char *text = mb_arena_get(arena, MB_VALUE_TEXT_MAX + 2);
    mb_json *value;

    memset(text, 'a', MB_VALUE_TEXT_MAX + 1);
    cr_assert_eq(mb_value_read(&in, field_of("note", "text"), mb_str_of(text), &value, &err),
                 MB_REFUSED);
    text[MB_VALUE_TEXT_MAX] = '\0';
    err = (struct mb_error){ 0 };
    cr_assert_eq(mb_value_read(&in, field_of("note", "text"), mb_str_of(text), &value, &err),
                 MB_OK);
}
