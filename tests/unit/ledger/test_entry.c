/* Entries that are good: written, read again, shown in part. test_entry_malformed.c has the
 * others. */
#include <criterion/criterion.h>
#include <string.h>

#include "bytes_of.h"
#include "forge.h"
#include "merkle.h"
#include "sha256.h"
#include "temp_ledger.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

struct bench {
    mb_arena *arena;
    mb_secret *secret;
};

static struct bench set_up(void)
{
    return (struct bench){ mb_arena_new(), secret_of_seed(0x20) };
}

static void take_down(struct bench *b)
{
    mb_secret_free(b->secret);
    mb_arena_free(b->arena);
}

/* Writes an entry with these fields; *tail gets its disclosures. */
static struct mb_str written(struct bench *b, const char *fields, struct mb_str *tail)
{
    static const struct mb_hash prev = { { 1 } }, prior = { { 2 } };
    struct mb_draft draft = { .iss = MB_STR("ledger.example"),
                              .sub = "specimen/26-0001",
                              .kind = "collecting",
                              .iat = 1767225600,
                              .seq = 9,
                              .nth = 3,
                              .prev = &prev,
                              .prior = &prior };
    struct mb_error err = { 0 };
    struct mb_str jws;

    draft.fields = temp_fields(b->arena, fields, &draft.count);
    cr_assert_eq(mb_entry_write(b->arena, &draft, b->secret, &jws, tail, &err), MB_OK, "%s",
                 err.text);
    return jws;
}

static struct mb_entry read_back(struct bench *b, struct mb_str jws, struct mb_str tail)
{
    struct mb_error err = { 0 };
    struct mb_entry entry;

    cr_assert_eq(mb_entry_read_sd(b->arena,
                                  mb_str_of(mb_arena_printf(b->arena, "%.*s~%.*s", MB_STR_ARG(jws),
                                                            MB_STR_ARG(tail))),
                                  &entry, &err),
                 MB_OK, "%s", err.text);
    return entry;
}

static void field_is(struct bench *b, const struct mb_entry *entry, const char *name,
                     const char *json, enum mb_class class)
{
    enum mb_class in = MB_CLASS_COUNT;
    const mb_json *value = mb_entry_field(entry, name, &in);

    if (!json) {
        cr_expect_null(value, "%s", name);
        return;
    }
    cr_assert_not_null(value, "%s is not there", name);
    cr_expect(mb_str_is(mb_json_write(b->arena, value), json), "%s: %.*s", name,
              MB_STR_ARG(mb_json_write(b->arena, value)));
    cr_expect_eq(in, class, "%s", name);
}

static const char fields[] =
    "{\"open\":{\"objectForm\":\"slab\",\"count\":12,\"marks\":[],\"nothing\":null,\"yes\":true},"
    "\"sale\":{\"eventDate\":\"2026-05-02\",\"into*\":[{\"ref\":\"specimen/A\"},"
    "{\"ref\":\"specimen/B\"},{\"ref\":\"specimen/C\"}]},"
    "\"science\":{\"localityText\":\"gully \xE2\x80\x93 north\\nsecond line\"},"
    "\"land\":{\"permission\":{\"ref\":\"permission/L1\"}},"
    "\"private\":{\"hours\":\"12.50\"},\"own\":{\"to\":\"bearer\"}}";

Test(entry, what_is_written_is_read)
{
    struct bench b = set_up();
    struct mb_str tail, jws = written(&b, fields, &tail);
    struct mb_entry e = read_back(&b, jws, tail);
    struct mb_hash leaf = mb_leaf_hash(jws);

    cr_expect(mb_str_is(e.iss, "ledger.example") && mb_str_is(e.sub, "specimen/26-0001"));
    cr_expect(mb_str_is(e.kind, "collecting"));
    cr_expect(e.iat == 1767225600 && e.seq == 9 && e.nth == 3 && e.has_prev && e.has_prior);
    cr_expect(e.prev.b[0] == 1 && e.prior.b[0] == 2);
    cr_expect(mb_hash_equal(&e.leaf, &leaf));
    cr_expect_eq(e.disclosure_count, 9);
    cr_expect_eq(e.slot_count, 9);
    field_is(&b, &e, "objectForm", "\"slab\"", MB_OPEN);
    field_is(&b, &e, "count", "12", MB_OPEN);
    field_is(&b, &e, "marks", "[]", MB_OPEN);
    field_is(&b, &e, "nothing", "null", MB_OPEN);
    field_is(&b, &e, "yes", "true", MB_OPEN);
    field_is(&b, &e, "eventDate", "\"2026-05-02\"", MB_SALE);
    field_is(&b, &e, "into",
             "[{\"ref\":\"specimen/A\"},{\"ref\":\"specimen/B\"},{\"ref\":\"specimen/C\"}]",
             MB_SALE);
    field_is(&b, &e, "localityText", "\"gully \xE2\x80\x93 north\\nsecond line\"", MB_SCIENCE);
    field_is(&b, &e, "permission", "{\"ref\":\"permission/L1\"}", MB_LAND);
    field_is(&b, &e, "hours", "\"12.50\"", MB_PRIVATE);
    field_is(&b, &e, "to", "\"bearer\"", MB_OWN);
    field_is(&b, &e, "absent", NULL, MB_OPEN);
    field_is(&b, &e, "sale", NULL, MB_OPEN); /* a class is no field */
    cr_expect_null(mb_entry_open(&e, "eventDate"));
    cr_expect(mb_entry_signed_by(&e, mb_secret_key(b.secret)));
    take_down(&b);
}

/* RFC 9901 sections 4.2.3 and 4.2.4, and section 9.3 for the salts. */
Test(entry, the_writing_keeps_to_the_form)
{
    struct bench b = set_up();
    struct mb_str tail, tail2, jws = written(&b, fields, &tail), text;
    struct mb_entry e = read_back(&b, jws, tail);

    /* another writing of the same has other salts, and nothing else that differs but digests */
    cr_expect_not(mb_str_equal(jws, written(&b, fields, &tail2)));
    cr_expect_not(mb_str_equal(tail, tail2));
    for (size_t i = 0; i < e.disclosure_count; i++) {
        uint8_t salt[16];

        cr_expect(mb_b64u_read_exact(e.disclosures[i].salt, salt, sizeof salt));
        for (size_t j = 0; j < i; j++)
            cr_expect_not(mb_str_equal(e.disclosures[i].salt, e.disclosures[j].salt));
    }
    text = mb_json_write(b.arena, e.body);
    cr_expect_null(memmem(text.at, text.len, "2026-05-02", 10), "a hidden value in the body");
    cr_expect_null(memmem(text.at, text.len, "eventDate", 9), "a hidden name in the body");
    cr_expect_not_null(memmem(text.at, text.len, "slab", 4));
    text = mb_json_write(b.arena, mb_json_get(e.body, "sale"));
    cr_expect(mb_str_starts(text, "{\"_sd\":[\""));
    take_down(&b);
}

static struct mb_str only(struct bench *b, struct mb_str tail, const struct mb_entry *e,
                          const char *const *names)
{
    char *kept = mb_arena_text(b->arena, "");

    (void)tail;
    for (size_t i = 0; i < e->disclosure_count; i++)
        for (const char *const *name = names; *name; name++) {
            struct mb_str value = mb_json_write(b->arena, e->disclosures[i].value);

            if (mb_str_is(e->disclosures[i].name, *name)
                || (!e->disclosures[i].name.at && strstr(*name, "specimen/")
                    && memmem(value.at, value.len, *name, strlen(*name))))
                kept =
                    mb_arena_printf(b->arena, "%s%.*s~", kept, MB_STR_ARG(e->disclosures[i].text));
        }
    return mb_str_of(kept);
}

/* A list whose elements are salted one by one, in a class and in clear, shown in part. */
Test(entry, a_list_is_shown_in_part)
{
    static const struct {
        const char *show[4];
        const char *into, *also; /* NULL: not there */
    } cases[] = {
        { { "into", "specimen/A", "specimen/B" },
          "[{\"ref\":\"specimen/A\"},{\"ref\":\"specimen/B\"}]",
          "[\"x\",\"y\"]" },
        { { "into", "specimen/B" }, "[{\"ref\":\"specimen/B\"}]", "[\"x\",\"y\"]" },
        { { "into" }, "[]", "[\"x\",\"y\"]" },
        { { "specimen/B" }, NULL, "[\"x\",\"y\"]" },
        { { NULL }, NULL, "[\"x\",\"y\"]" },
        { { "specimen/X" }, NULL, "[\"x\",{\"ref\":\"specimen/X\"},\"y\"]" },
        { { "specimen/X", "into", "specimen/A" },
          "[{\"ref\":\"specimen/A\"}]",
          "[\"x\",{\"ref\":\"specimen/X\"},\"y\"]" },
    };
    struct bench b = set_up();
    const char *x =
        forge_disclosure(b.arena, "[\"salt-salt-salt-salt-10\",{\"ref\":\"specimen/X\"}]");
    const char *l1 =
        forge_disclosure(b.arena, "[\"salt-salt-salt-salt-11\",{\"ref\":\"specimen/A\"}]");
    const char *l2 =
        forge_disclosure(b.arena, "[\"salt-salt-salt-salt-12\",{\"ref\":\"specimen/B\"}]");
    const char *into = forge_disclosure(
        b.arena, mb_arena_printf(b.arena,
                                 "[\"salt-salt-salt-salt-13\",\"into\",[{\"...\":\"%s\"},"
                                 "{\"...\":\"%s\"}]]",
                                 forge_digest(b.arena, l1), forge_digest(b.arena, l2)));
    struct mb_str jws = forge_jws(
        b.arena, b.secret, forge_header(b.arena, b.secret),
        mb_str_of(forge_payload(
            b.arena,
            mb_arena_printf(b.arena, "{\"also\":[\"x\",{\"...\":\"%s\"},\"y\"],\"sale\":%s}",
                            forge_digest(b.arena, x), forge_class(b.arena, into, NULL)))));
    struct mb_str all = mb_str_of(mb_arena_printf(b.arena, "%s~%s~%s~%s~", l2, into, x, l1));
    struct mb_entry whole = read_back(&b, jws, all), bare;

    cr_expect_eq(whole.slot_count, 4);
    field_is(&b, &whole, "into", "[{\"ref\":\"specimen/A\"},{\"ref\":\"specimen/B\"}]", MB_SALE);
    for (size_t i = 0; i < COUNT(cases); i++) {
        struct mb_entry e = read_back(&b, jws, only(&b, all, &whole, cases[i].show));

        field_is(&b, &e, "into", cases[i].into, MB_SALE);
        field_is(&b, &e, "also", cases[i].also, MB_OPEN);
        /* an element whose list is not shown is in no place: RFC 9901 section 7.1 step 5 */
        for (size_t j = 0; j < e.disclosure_count; j++)
            cr_expect_eq(e.disclosures[j].slot < 0,
                         !e.disclosures[j].name.at && !cases[i].into && i == 3, "case %zu", i);
    }
    /* the same without any reading of disclosures, as a key ring reads entries */
    cr_assert_eq(mb_entry_read(b.arena, jws, &bare, NULL), MB_OK);
    field_is(&b, &bare, "also", "[\"x\",\"y\"]", MB_OPEN);
    take_down(&b);
}

struct seen {
    mb_arena *arena;
    char *text;
};

static void see(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in)
{
    struct seen *seen = ctx;
    struct mb_str json = mb_json_write(seen->arena, value);

    seen->text = mb_arena_printf(seen->arena, "%s%.*s/%s=%.*s;", seen->text, MB_STR_ARG(name),
                                 mb_class_name[in], MB_STR_ARG(json));
}

Test(entry, every_field_that_is_shown_is_told_once)
{
    struct bench b = set_up();
    struct mb_str tail, jws = written(&b,
                                      "{\"open\":{\"b\":1,\"l*\":[5]},\"sale\":{\"c\":2},"
                                      "\"private\":{\"d\":[3]}}",
                                      &tail);
    struct mb_entry e = read_back(&b, jws, tail);
    struct seen seen = { b.arena, mb_arena_text(b.arena, "") };

    mb_entry_fields(&e, see, &seen);
    cr_expect_str_eq(seen.text, "b/open=1;l/open=[5];c/sale=2;d/private=[3];");
    e = read_back(&b, jws, (struct mb_str){ "", 0 });
    seen.text = mb_arena_text(b.arena, "");
    mb_entry_fields(&e, see, &seen);
    cr_expect_str_eq(seen.text, "b/open=1;l/open=[];");
    take_down(&b);
}

/* Digests without a disclosure are decoys for all that a reader can tell (RFC 9901 section 4.2.5).
 * */
Test(entry, what_has_no_slot_is_kept_for_the_verifier)
{
    struct bench b = set_up();
    const char *stray = forge_disclosure(b.arena, "[\"salt-salt-salt-salt-00\",\"price\",\"1\"]");
    struct mb_str tail, jws = written(&b, "{\"private\":{\"hours\":\"3\"}}", &tail);
    struct mb_entry e =
        read_back(&b, jws, mb_str_of(mb_arena_printf(b.arena, "%s~%.*s", stray, MB_STR_ARG(tail))));

    cr_expect_eq(e.disclosures[0].slot, -1);
    cr_expect_geq(e.disclosures[1].slot, 0);
    field_is(&b, &e, "price", NULL, MB_PRIVATE);
    field_is(&b, &e, "hours", "\"3\"", MB_PRIVATE);
    take_down(&b);
}

/* RFC 9864 names the algorithm Ed25519, RFC 8037 EdDSA: both are read. */
Test(entry, either_name_of_the_algorithm_is_read)
{
    static const char *const names[] = { "EdDSA", "Ed25519" };
    struct bench b = set_up();
    char kid[MB_THUMBPRINT_LEN + 1];

    mb_thumbprint(mb_secret_key(b.secret), kid);
    for (size_t i = 0; i < COUNT(names); i++) {
        struct mb_entry e;
        struct mb_str jws =
            forge_jws(b.arena, b.secret,
                      mb_arena_printf(b.arena, "{\"alg\":\"%s\",\"kid\":\"%s\",\"typ\":\"%s\"}",
                                      names[i], kid, MB_ENTRY_TYPE),
                      mb_str_of(forge_payload(b.arena, "{}")));

        cr_expect_eq(mb_entry_read(b.arena, jws, &e, NULL), MB_OK, "%s", names[i]);
        cr_expect(mb_entry_signed_by(&e, mb_secret_key(b.secret)));
        cr_expect(mb_str_is(e.kid, kid));
    }
    take_down(&b);
}

/* Any bit of the text that is signed, or of the signature, makes another entry or none. */
Test(entry, a_turned_bit_is_noticed)
{
    struct bench b = set_up();
    struct mb_str tail, jws = written(&b, "{\"open\":{\"a\":1}}", &tail);
    mb_arena *scratch = mb_arena_new();

    for (size_t bit = 0; bit < 8 * jws.len; bit++) {
        char *changed = mb_arena_copy(scratch, jws.at, jws.len);
        struct mb_entry e;

        changed[bit / 8] = (char)(changed[bit / 8] ^ 1 << bit % 8);
        if (!mb_entry_read(scratch, (struct mb_str){ changed, jws.len }, &e, NULL))
            cr_expect_not(mb_entry_signed_by(&e, mb_secret_key(b.secret)), "bit %zu", bit);
        mb_arena_reset(scratch);
    }
    mb_arena_free(scratch);
    take_down(&b);
}

Test(entry, what_grows_too_long_is_not_written)
{
    struct bench b = set_up();
    char *text = mb_arena_get(b.arena, 2u << 20);
    mb_json *value;
    struct mb_field field = { .name = "a", .in = MB_OPEN };
    struct mb_draft draft = {
        .iss = MB_STR("l"), .sub = "ledger", .kind = "note", .fields = &field, .count = 1
    };
    struct mb_error err = { 0 };
    struct mb_str jws, tail;

    memset(text, 'x', (1u << 20));
    value = mb_json_string_str(b.arena, (struct mb_str){ text, 60000 });
    field.value = value;
    cr_expect_eq(mb_entry_write(b.arena, &draft, b.secret, &jws, &tail, &err), MB_REFUSED);
    cr_expect(strstr(err.text, "more than 65,535: divide it into several"), "%s", err.text);
    field.in = MB_SALE;
    err = (struct mb_error){ 0 };
    cr_expect_eq(mb_entry_write(b.arena, &draft, b.secret, &jws, &tail, &err), MB_OK);
    field.value = mb_json_string_str(b.arena, (struct mb_str){ text, 1u << 20 });
    cr_expect_eq(mb_entry_write(b.arena, &draft, b.secret, &jws, &tail, &err), MB_REFUSED);
    cr_expect_str_eq(err.text, "one field is longer than 1 MiB; attach it as a file");
    take_down(&b);
}

Test(entry, subjects_references_and_classes_are_told_apart)
{
    static const struct {
        const char *subject;
        bool ok;
    } subjects[] = {
        { "ledger", true },
        { "party/P001", true },
        { "field-day/2026-05-02", true },
        { "site/a", true },
        { "specimen/A.b_c-9", true },
        { "key/AkXIZFzonb59ZmGwyKgi3H3BwMi6amevqdKQiLZhdtc", true },
        { "Ledger", false },
        { "ledger/", false },
        { "", false },
        { "party", false },
        { "party/", false },
        { "/x", false },
        { "party/-x", false },
        { "party/a b", false },
        { "party/a/b", false },
        { "key/abc", false },
        { "p/x", false },
        { "5/x", false },
    };
    static const struct {
        const char *json, *ref;
    } refs[] = {
        { "{\"ref\":\"site/S1\"}", "site/S1" },
        { "{\"ref\":\"\"}", "" },
        { "{\"ref\":7}", NULL },
        { "{\"ref\":\"site/S1\",\"note\":\"x\"}", NULL },
        { "{\"Ref\":\"site/S1\"}", NULL },
        { "{}", NULL },
        { "[\"ref\"]", NULL },
        { "\"site/S1\"", NULL },
    };
    mb_arena *arena = mb_arena_new();
    enum mb_class in;

    for (size_t i = 0; i < COUNT(subjects); i++)
        cr_expect_eq(mb_subject_ok(mb_str_of(subjects[i].subject)), subjects[i].ok, "%s",
                     subjects[i].subject);
    for (size_t i = 0; i < COUNT(refs); i++) {
        const mb_json *json;

        cr_assert_eq(mb_json_read(arena, mb_str_of(refs[i].json), MB_JSON_STRICT, &json, NULL),
                     MB_OK);
        cr_expect(mb_str_equal(mb_ref_of(json), mb_str_of(refs[i].ref)), "%s", refs[i].json);
    }
    cr_expect_null(mb_ref_of(NULL).at);
    for (int i = 0; i < MB_CLASS_COUNT; i++)
        cr_expect(mb_class_of(mb_str_of(mb_class_name[i]), &in) && (int)in == i);
    cr_expect_not(mb_class_of(MB_STR("Sale"), &in));
    cr_expect_not(mb_class_of((struct mb_str){ NULL, 0 }, &in));
    mb_arena_free(arena);
}
