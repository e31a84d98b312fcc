/* A certificate file taken apart: what its form must be, what has to come along, who sees what. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include "bundle.h"
#include "bytes_of.h"
#include "chain.h"
#include "sha256.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])
#define HASH "\"47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=\""
#define ONE "{\"index\":0,\"proof\":[],\"sd_jwt\":\"x~\"}"
#define TWO "{\"index\":3,\"proof\":[" HASH "],\"sd_jwt\":\"y~\"}"
#define HEAD "\"checkpoint\":\"c\\n\",\"format\":\"markerbed-certificate/1\",\"origin\":\"o\""
#define NAME "\"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855\""

static const struct {
    const char *json;
    const char *says; /* NULL: read */
} forms[] = {
    { "{" HEAD ",\"entries\":[" ONE "]}", NULL },
    { "{" HEAD ",\"entries\":[" ONE "," TWO "]}", NULL },
    { "{" HEAD ",\"entries\":[" ONE "],\"files\":{}}", NULL },
    { "{" HEAD ",\"entries\":[" ONE "],\"files\":{" NAME ":\"AAEC\"}}", NULL },
    { "{" HEAD ",\"entries\":[" ONE "],\"anchors\":[],\"foreign\":[]}", NULL },
    { "{" HEAD ",\"entries\":[" ONE "],\"anchors\":[{\"checkpoint\":\"c\",\"consistency\":[" HASH
      "]}]}",
      NULL },
    { "[]", "no certificate of the format" },
    { "\"markerbed-certificate/1\"", "no certificate of the format" },
    { "{\"format\":\"markerbed-certificate/x\"}", "no certificate of the format" },
    { "{\"format\":7}", "no certificate of the format" },
    { "{" HEAD "}", "other members than the format gives" },
    { "{" HEAD ",\"entries\":[" ONE "],\"more\":1}", "other members than the format gives" },
    { "{\"format\":\"markerbed-certificate/1\",\"origin\":\"o\",\"entries\":[" ONE "],\"x\":1}",
      "other members than the format gives" },
    { "{\"checkpoint\":7,\"format\":\"markerbed-certificate/1\",\"origin\":\"o\",\"entries\":[" ONE
      "]}",
      "other members than the format gives" },
    { "{" HEAD ",\"entries\":[]}", "holds no entries" },
    { "{" HEAD ",\"entries\":{}}", "holds no entries" },
    { "{" HEAD ",\"entries\":[7]}", "not index, sd_jwt and proof" },
    { "{" HEAD ",\"entries\":[{\"index\":0,\"proof\":[]}]}", "not index, sd_jwt and proof" },
    { "{" HEAD ",\"entries\":[{\"index\":0,\"proof\":[],\"sd_jwt\":\"x~\",\"more\":1}]}",
      "not index, sd_jwt and proof" },
    { "{" HEAD ",\"entries\":[{\"index\":\"0\",\"proof\":[],\"sd_jwt\":\"x~\"}]}",
      "not index, sd_jwt and proof" },
    { "{" HEAD ",\"entries\":[{\"index\":0,\"proof\":[],\"sd_jwt\":7}]}",
      "not index, sd_jwt and proof" },
    { "{" HEAD ",\"entries\":[" TWO "," ONE "]}", "not in rising order" },
    { "{" HEAD ",\"entries\":[" ONE "," ONE "]}", "not in rising order" },
    { "{" HEAD ",\"entries\":[{\"index\":0,\"proof\":{},\"sd_jwt\":\"x~\"}]}",
      "a proof is not a list" },
    { "{" HEAD ",\"entries\":[{\"index\":0,\"proof\":[7],\"sd_jwt\":\"x~\"}]}",
      "not 32 bytes of base64" },
    { "{" HEAD ",\"entries\":[{\"index\":0,\"proof\":[\"AAEC\"],\"sd_jwt\":\"x~\"}]}",
      "not 32 bytes of base64" },
    { "{" HEAD ",\"entries\":[" ONE "],\"files\":[]}", "'files' is not an object" },
    { "{" HEAD ",\"entries\":[" ONE "],\"files\":{" NAME ":7}}", "not base64" },
    { "{" HEAD ",\"entries\":[" ONE "],\"files\":{" NAME ":\"AAE\"}}", "not base64" },
    { "{" HEAD ",\"entries\":[" ONE "],\"files\":{\"abc\":\"AAEC\"}}", "not named by its hash" },
    { "{" HEAD ",\"entries\":[" ONE "],\"anchors\":{}}", "'anchors' is not a list" },
    { "{" HEAD ",\"entries\":[" ONE "],\"anchors\":[{\"checkpoint\":\"c\"}]}",
      "not checkpoint and consistency" },
    { "{" HEAD ",\"entries\":[" ONE "],\"anchors\":[{\"checkpoint\":\"c\",\"consistency\":7}]}",
      "a proof is not a list" },
    { "{" HEAD ",\"entries\":[" ONE "],\"foreign\":{}}", "'foreign' is not a list" },
    { "{" HEAD ",\"entries\":[" ONE "],\"foreign\":[0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0]}",
      "'foreign' is not a list of at most 16" },
};

Test(bundle, only_the_form_of_the_format_is_read)
{
    mb_arena *arena = mb_arena_new();
    char *path = mb_arena_text(arena, HASH);

    for (size_t i = 0; i < COUNT(forms); i++) {
        struct mb_error err = { 0 };
        struct mb_bundle bundle;
        const mb_json *json;
        enum mb_rc rc;

        cr_assert_eq(mb_json_read(arena, mb_str_of(forms[i].json), MB_JSON_STRICT, &json, &err),
                     MB_OK, "%s: %s", forms[i].json, err.text);
        rc = mb_bundle_read(arena, json, &bundle, &err);
        cr_expect_eq(rc, forms[i].says ? MB_REFUSED : MB_OK, "%s: %s", forms[i].json, err.text);
        cr_expect(!forms[i].says || strstr(err.text, forms[i].says), "%s: %s", forms[i].json,
                  err.text);
    }
    {
        struct mb_bundle bundle;
        const mb_json *json;

        cr_assert_eq(mb_json_read(arena, MB_STR("{\"format\":\"markerbed-certificate/2\"}"),
                                  MB_JSON_STRICT, &json, NULL),
                     MB_OK);
        cr_expect_eq(mb_bundle_read(arena, json, &bundle, NULL), MB_UNABLE, "a later version");
    }
    for (int nodes = 1; nodes <= 64; nodes++) { /* 63 hashes are a path through 2^63 entries */
        struct mb_bundle bundle;
        const mb_json *json;

        cr_assert_eq(mb_json_read(arena,
                                  mb_str_of(mb_arena_printf(arena,
                                                            "{" HEAD ",\"entries\":[{\"index\":0,"
                                                            "\"proof\":[%s],\"sd_jwt\":\"x\"}]}",
                                                            path)),
                                  MB_JSON_STRICT, &json, NULL),
                     MB_OK);
        cr_expect_eq(mb_bundle_read(arena, json, &bundle, NULL), nodes < 64 ? MB_OK : MB_REFUSED);
        path = mb_arena_printf(arena, "%s," HASH, path);
    }
    mb_arena_free(arena);
}

/* base64url(SHA-256(the hashes in base64url, sorted, joined with LF)); the three hashes below and
 * their digest were worked out with Python's hashlib. */
Test(bundle, a_set_has_one_digest_in_any_order)
{
    mb_arena *arena = mb_arena_new();
    struct mb_hash set[3] = { mb_sha256("a", 1), mb_sha256("b", 1), mb_sha256("c", 1) }, turned[3];

    cr_expect(
        mb_str_is(mb_digest_of_set(arena, set, 0), "47DEQpj8HBSa-_TImW-5JCeuQeRkm5NMpJWZG3hSuFU"));
    cr_expect(
        mb_str_is(mb_digest_of_set(arena, set, 1), "0ihmcVjiUUlKoFuRg6XQHAYgqteRhgFjx9VTzmSzX88"));
    cr_expect(
        mb_str_is(mb_digest_of_set(arena, set, 3), "WI0lPxtqEWgVkl_5E3xWXSOp9TlgHYkfSPB-7Bn6o78"));
    turned[0] = set[2], turned[1] = set[0], turned[2] = set[1];
    cr_expect(mb_str_equal(mb_digest_of_set(arena, turned, 3), mb_digest_of_set(arena, set, 3)));
    mb_arena_free(arena);
}

static void collect(void *ctx, struct mb_str subject)
{
    char **text = ctx;

    *text += snprintf(*text, 60, " %.*s", MB_STR_ARG(subject));
}

Test(bundle, what_an_entry_names_comes_along)
{
    static const struct {
        const char *sub, *kind, *fields, *hidden, *needs;
    } cases[] = {
        { "specimen/A", "collecting",
          "{\"open\":{\"a\":{\"ref\":\"site/S1\"}},\"sale\":{\"by\":[{\"ref\":\"party/P1\"},"
          "{\"ref\":\"party/P2\"}],\"rows\":[{\"what\":\"x\",\"who\":{\"ref\":\"party/P3\"}}]}}",
          NULL, " site/S1 party/P1 party/P2 party/P3" },
        { "specimen/A", "collecting",
          "{\"sale\":{\"by\":{\"ref\":\"party/P1\"},\"site\":{\"ref\":\"site/S1\"}}}", "by",
          " site/S1" },
        { "specimen/A", "division",
          "{\"sale\":{\"into\":[{\"ref\":\"specimen/B\"},{\"ref\":\"key/"
          "x\"},{\"ref\":\"ledger\"}]}}",
          NULL, "" },
        { "specimen/A", "note", "{\"sale\":{\"a\":{\"ref\":\"site/S1\",\"more\":1}}}", NULL, "" },
        /* of what came along, only the land owner and the grantor come too */
        { "site/S1", "land-status",
          "{\"sale\":{\"surfaceOwner\":{\"ref\":\"party/P1\"},\"fossilOwner\":{\"ref\":\"party/"
          "P2\"},"
          "\"landManager\":{\"ref\":\"party/P3\"},\"other\":{\"ref\":\"party/P4\"}}}",
          NULL, " party/P1 party/P2 party/P3" },
        { "permission/L1", "permission",
          "{\"sale\":{\"grantor\":{\"ref\":\"party/P1\"},\"holder\":{\"ref\":\"party/P2\"}}}", NULL,
          " party/P1" },
        { "party/P1", "party", "{\"sale\":{\"grantor\":{\"ref\":\"party/P9\"}}}", NULL, "" },
        { "horizon/H1", "horizon", "{\"sale\":{\"a\":{\"ref\":\"party/P9\"}}}", NULL, "" },
    };
    struct chain c;

    chain_begin(&c);
    for (size_t i = 0; i < COUNT(cases); i++) {
        char room[300] = "", *text = room;
        const struct mb_entry *e =
            chain_add(&c, cases[i].sub, cases[i].kind, cases[i].fields, cases[i].hidden);

        mb_entry_needs(e, mb_is_specimen(e->sub), collect, &text);
        cr_expect_str_eq(room, cases[i].needs, "%s: %s", cases[i].fields, room);
    }
    chain_end(&c);
}

/* design: buyer = open+sale; institution = open+sale+science+land; auditor = open+sale+land; public
 * = open; private and own are nobody's by class */
Test(bundle, each_audience_sees_its_classes)
{
    static const struct {
        const char *name;
        const char *sees; /* o s c l p w for the six classes */
    } audiences[] = {
        { "public", "o-----" },
        { "buyer", "os----" },
        { "institution", "oscl--" },
        { "auditor", "os-l--" },
    };
    enum mb_audience audience;

    for (size_t i = 0; i < COUNT(audiences); i++) {
        cr_assert(mb_audience_of(mb_str_of(audiences[i].name), &audience));
        cr_expect_str_eq(mb_audience_name[audience], audiences[i].name);
        for (int in = 0; in < MB_CLASS_COUNT; in++)
            cr_expect_eq(mb_audience_sees(audience, (enum mb_class)in),
                         audiences[i].sees[in] != '-', "%s, %s", audiences[i].name,
                         mb_class_name[in]);
    }
    cr_expect_not(mb_audience_of(MB_STR("Buyer"), &audience));
    cr_expect_not(mb_audience_of((struct mb_str){ NULL, 0 }, &audience));
}
