/* What mb_entry_read and mb_entry_disclose refuse: hostile headers, payloads, bodies and
 * disclosures, each properly signed, each with the sentence that it gets. */
#include <criterion/criterion.h>
#include <string.h>

#include "bytes_of.h"
#include "forge.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])
#define BAD "the entry is malformed: "
#define MEMBERS BAD "its payload does not have the members that the format asks for"
#define HEADER BAD "its header is not alg, kid and typ"
#define DIGESTS BAD "the digests of its body are not sorted, or one stands twice"
#define CLASS BAD "a class of its body is not a list of digests"
#define PLACE BAD "its body uses '_sd' or '...' where it may not stand"
#define DPLACE BAD "a disclosure has no salt, or uses '_sd' or '...' where it may not stand"
#define DNAME BAD "a disclosure has no proper name"
#define DFORM BAD "a disclosure is not [salt, name, value] or [salt, value]"
#define NUMBERS "numbers here are whole, from 0 to 9007199254740991"
#define H1 "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"
#define H2 "BAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"
#define H3 "CAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"

struct bench {
    mb_arena *arena;
    mb_secret *secret;
    char kid[MB_THUMBPRINT_LEN + 1];
};

static struct bench set_up(void)
{
    struct bench b = { mb_arena_new(), secret_of_seed(0x20), "" };

    mb_thumbprint(mb_secret_key(b.secret), b.kid);
    return b;
}

static void take_down(struct bench *b)
{
    mb_secret_free(b->secret);
    mb_arena_free(b->arena);
}

static void refused(enum mb_rc rc, const struct mb_error *err, enum mb_rc want, const char *part,
                    const char *what)
{
    cr_expect_eq(rc, want, "%s: %d", what, rc);
    cr_expect(strstr(err->text, part), "%s: \"%s\"", what, err->text);
    cr_expect(mb_text_allowed(mb_str_of(err->text), false));
}

/* ---- the compact form ---- */

static struct mb_str good_jws(struct bench *b, const char *body)
{
    return forge_jws(b->arena, b->secret, forge_header(b->arena, b->secret),
                     mb_str_of(forge_payload(b->arena, body)));
}

Test(entry_malformed, the_compact_form)
{
    static const struct {
        const char *what, *text, *says; /* %1 header, %2 payload, %3 signature of a good one */
    } cases[] = {
        { "nothing", "", "not header.payload.signature" },
        { "one part", "%1", "not header.payload.signature" },
        { "two parts", "%1.%2", "not header.payload.signature" },
        { "no signature", "%1.%2.", "signature is not 64 bytes" },
        { "four parts", "%1.%2.%3.", "signature is not 64 bytes" },
        { "five parts", "%1.%2.%3.%3.%3", "signature is not 64 bytes" },
        { "a signature cut", "%1.%2.AAAA", "signature is not 64 bytes" },
        { "a signature too long", "%1.%2.%3A", "signature is not 64 bytes" },
        { "a padded signature", "%1.%2.%3==", "signature is not 64 bytes" },
        { "a line end behind", "%1.%2.%3\n", "signature is not 64 bytes" },
        { "a blank in front", " %1.%2.%3", "its header is not base64url" },
        { "a padded header", "%1=.%2.%3", "its header is not base64url" },
        { "a padded payload", "%1.%2=.%3", "its payload is not base64url" },
        { "an empty header", ".%2.%3", "the entry's header: line 1, column 1: " },
        { "an empty payload", "%1..%3", "the entry's payload: line 1, column 1: " },
        { "a plus in the header", "+%1.%2.%3", "its header is not base64url" },
        { "a slash in the payload", "%1.%2/.%3", "its payload is not base64url" },
        { "stray bits in the header", "e31.%2.%3", "its header is not base64url" },
        { "a header that is no object", "IngiIA.%2.%3", "names no algorithm" },
        { "a payload that is no object", "%1.IngiIA.%3", "it has no version" },
    };
    struct bench b = set_up();
    struct mb_str part[3], rest = good_jws(&b, "{}");
    struct mb_entry entry;

    mb_str_cut(rest, '.', &part[0], &rest);
    mb_str_cut(rest, '.', &part[1], &part[2]);
    for (size_t i = 0; i < COUNT(cases); i++) {
        struct mb_error err = { 0 };
        char *text = mb_arena_text(b.arena, "");

        for (const char *p = cases[i].text; *p; p++) {
            if (*p == '%') {
                const struct mb_str *s = &part[*++p - '1'];

                text = mb_arena_printf(b.arena, "%s%.*s", text, MB_STR_ARG(*s));
            } else {
                text = mb_arena_printf(b.arena, "%s%c", text, *p);
            }
        }
        refused(mb_entry_read(b.arena, mb_str_of(text), &entry, &err), &err, MB_REFUSED,
                cases[i].says, cases[i].what);
    }
    take_down(&b);
}

/* ---- the header ---- */

static const struct {
    const char *header; /* @ is the key's thumbprint */
    enum mb_rc rc;
    const char *says;
} headers[] = {
    { "{}", MB_REFUSED, BAD "its header names no algorithm" },
    { "[]", MB_REFUSED, BAD "its header names no algorithm" },
    { "{\"alg\":7,\"kid\":\"@\",\"typ\":\"markerbed-entry+sd-jwt\"}", MB_REFUSED,
      BAD "its header names no algorithm" },
    { "{\"alg\":\"none\",\"kid\":\"@\",\"typ\":\"markerbed-entry+sd-jwt\"}", MB_UNABLE,
      "the entry is signed with 'none', not with Ed25519" },
    { "{\"alg\":\"ES256\",\"kid\":\"@\",\"typ\":\"markerbed-entry+sd-jwt\"}", MB_UNABLE,
      "the entry is signed with 'ES256', not with Ed25519" },
    { "{\"alg\":\"eddsa\",\"kid\":\"@\",\"typ\":\"markerbed-entry+sd-jwt\"}", MB_UNABLE,
      "the entry is signed with 'eddsa', not with Ed25519" },
    { "{\"alg\":\"HS256\",\"kid\":\"@\",\"typ\":\"markerbed-entry+sd-jwt\"}", MB_UNABLE,
      "the entry is signed with 'HS256', not with Ed25519" },
    { "{\"alg\":\"EdDSA\",\"crit\":[\"exp\"],\"exp\":1,\"kid\":\"@\","
      "\"typ\":\"markerbed-entry+sd-jwt\"}",
      MB_UNABLE, "the entry's header asks for an extension ('crit')" },
    { "{\"alg\":\"EdDSA\",\"crit\":[],\"kid\":\"@\",\"typ\":\"markerbed-entry+sd-jwt\"}", MB_UNABLE,
      "the entry's header asks for an extension ('crit')" },
    { "{\"alg\":\"EdDSA\",\"kid\":\"@\"}", MB_REFUSED, "its header's typ is not" },
    { "{\"alg\":\"EdDSA\",\"kid\":\"@\",\"typ\":\"JWT\"}", MB_REFUSED,
      "its header's typ is not markerbed-entry+sd-jwt" },
    { "{\"alg\":\"EdDSA\",\"kid\":\"@\",\"typ\":\"Markerbed-entry+sd-jwt\"}", MB_REFUSED,
      "its header's typ is not" },
    { "{\"alg\":\"EdDSA\",\"kid\":\"@\",\"typ\":\"markerbed-countersign+jwt\"}", MB_REFUSED,
      "its header's typ is not" },
    { "{\"alg\":\"EdDSA\",\"kid\":\"@\",\"typ\":[\"markerbed-entry+sd-jwt\"]}", MB_REFUSED,
      "its header's typ is not" },
    { "{\"alg\":\"EdDSA\",\"typ\":\"markerbed-entry+sd-jwt\"}", MB_REFUSED, HEADER },
    { "{\"alg\":\"EdDSA\",\"kid\":\"\",\"typ\":\"markerbed-entry+sd-jwt\"}", MB_REFUSED, HEADER },
    { "{\"alg\":\"EdDSA\",\"kid\":7,\"typ\":\"markerbed-entry+sd-jwt\"}", MB_REFUSED, HEADER },
    { "{\"alg\":\"EdDSA\",\"kid\":\"@A\",\"typ\":\"markerbed-entry+sd-jwt\"}", MB_REFUSED, HEADER },
    { "{\"alg\":\"EdDSA\",\"kid\":\"AkXIZFzonb59ZmGwyKgi3H3BwMi6amevqdKQiLZhdt\\n\","
      "\"typ\":\"markerbed-entry+sd-jwt\"}",
      MB_REFUSED, HEADER },
    { "{\"alg\":\"EdDSA\",\"kid\":\"AkXIZFzonb59ZmGwyKgi3H3BwMi6amevqdKQiLZhdtd\","
      "\"typ\":\"markerbed-entry+sd-jwt\"}",
      MB_REFUSED, HEADER }, /* stray bits */
    { "{\"alg\":\"EdDSA\",\"jwk\":{},\"kid\":\"@\",\"typ\":\"markerbed-entry+sd-jwt\"}", MB_REFUSED,
      HEADER },
    { "{\"alg\":\"EdDSA\",\"b64\":false,\"kid\":\"@\",\"typ\":\"markerbed-entry+sd-jwt\"}",
      MB_REFUSED, HEADER },
    { "{\"alg\":\"EdDSA\",\"alg\":\"EdDSA\",\"kid\":\"@\",\"typ\":\"markerbed-entry+sd-jwt\"}",
      MB_REFUSED, "the entry's header: line 1, column 16: the member \"alg\" stands twice" },
    { "{\"alg\":\"EdDSA\",\"\\u0061lg\":\"none\",\"kid\":\"@\","
      "\"typ\":\"markerbed-entry+sd-jwt\"}",
      MB_REFUSED, "the member \"alg\" stands twice" },
    { "{\"alg\":\"EdDSA\",\"kid\":\"@\",\"typ\":\"markerbed-entry+sd-jwt\"}x", MB_REFUSED,
      "the entry's header: " },
};

Test(entry_malformed, the_header)
{
    struct bench b = set_up();
    struct mb_entry entry;

    for (size_t i = 0; i < COUNT(headers); i++) {
        const char *at = strchr(headers[i].header, '@');
        const char *header = at ? mb_arena_printf(b.arena, "%.*s%s%s",
                                                  (int)(at - headers[i].header), headers[i].header,
                                                  b.kid, at + 1)
                                : headers[i].header;
        struct mb_error err = { 0 };
        struct mb_str jws =
            forge_jws(b.arena, b.secret, header, mb_str_of(forge_payload(b.arena, "{}")));

        refused(mb_entry_read(b.arena, jws, &entry, &err), &err, headers[i].rc, headers[i].says,
                header);
    }
    take_down(&b);
}

/* ---- the payload: a good one with one member written otherwise, added or left out ---- */

static const struct {
    const char *from, *to;
    enum mb_rc rc;
    const char *says;
} payloads[] = {
    { "\"v\":1", "\"v\":2", MB_UNABLE, "the entry is of version 2; this program knows version 1" },
    { "\"v\":1", "\"v\":0", MB_UNABLE, "of version 0" },
    { "\"v\":1", "\"v\":9007199254740991", MB_UNABLE, "of version 9007199254740991" },
    { "\"v\":1", "\"v\":9007199254740992", MB_REFUSED, NUMBERS },
    { "\"v\":1", "\"v\":\"1\"", MB_REFUSED, BAD "it has no version" },
    { "\"v\":1", "\"w\":1", MB_REFUSED, BAD "it has no version" },
    { "\"v\":1", "\"v\":1.0", MB_REFUSED, NUMBERS },
    { "\"v\":1", "\"v\":1e0", MB_REFUSED, NUMBERS },
    { "\"v\":1", "\"v\":01", MB_REFUSED, NUMBERS },
    { "\"v\":1", "\"v\":1,\"x\":1", MB_REFUSED, MEMBERS },
    { "\"v\":1", "\"v\":1,\"exp\":1", MB_REFUSED, MEMBERS },
    { "\"v\":1", "\"_sd\":[],\"v\":1", MB_REFUSED, MEMBERS },
    { "\"v\":1", "\"v\":1,\"v\":1", MB_REFUSED, "\"v\" stands twice" },
    { "\"_sd_alg\":\"sha-256\",", "", MB_REFUSED, MEMBERS },
    { "\"sha-256\"", "\"sha-512\"", MB_UNABLE, "the entry's digests are not SHA-256" },
    { "\"sha-256\"", "\"SHA-256\"", MB_UNABLE, "the entry's digests are not SHA-256" },
    { "\"sha-256\"", "256", MB_REFUSED, MEMBERS },
    { "\"sha-256\"", "null", MB_REFUSED, MEMBERS },
    { "\"iat\":1767225600", "\"iat\":-1", MB_REFUSED, NUMBERS },
    { "\"iat\":1767225600", "\"iat\":-0", MB_REFUSED, NUMBERS },
    { "\"iat\":1767225600", "\"iat\":1e9", MB_REFUSED, NUMBERS },
    { "\"iat\":1767225600", "\"iat\":1767225600.0", MB_REFUSED, NUMBERS },
    { "\"iat\":1767225600", "\"iat\":\"1767225600\"", MB_REFUSED, MEMBERS },
    { "\"iat\":1767225600", "\"iat\":true", MB_REFUSED, MEMBERS },
    { "\"iat\":1767225600,", "", MB_REFUSED, MEMBERS },
    { "\"iss\":\"ledger.example\",", "", MB_REFUSED, MEMBERS },
    { "\"ledger.example\"", "\"\"", MB_REFUSED, MEMBERS },
    { "\"ledger.example\"", "\"ledger example\"", MB_REFUSED, MEMBERS },
    { "\"ledger.example\"", "\"ledger+example\"", MB_REFUSED, MEMBERS },
    { "\"ledger.example\"",
      "\"l\xC3\xA9"
      "dger\"",
      MB_REFUSED, MEMBERS },
    { "\"ledger.example\"", "\"a\\nb\"", MB_REFUSED, MEMBERS },
    { "\"kind\":\"party\",", "", MB_REFUSED, MEMBERS },
    { "\"kind\":\"party\"", "\"kind\":\"Party\"", MB_REFUSED, MEMBERS },
    { "\"kind\":\"party\"", "\"kind\":\"p\"", MB_REFUSED, MEMBERS },
    { "\"kind\":\"party\"", "\"kind\":\"party/x\"", MB_REFUSED, MEMBERS },
    { "\"kind\":\"party\"", "\"kind\":\"a.json\"", MB_REFUSED, MEMBERS },
    { "\"kind\":\"party\"", "\"kind\":\"abcdefghijabcdefghijabcdefghijabcdefghija\"", MB_REFUSED,
      MEMBERS },
    { "\"kind\":\"party\"", "\"kind\":null", MB_REFUSED, MEMBERS },
    { "\"nth\":0", "\"nth\":\"0\"", MB_REFUSED, MEMBERS },
    { "\"nth\":0,", "", MB_REFUSED, MEMBERS },
    { "\"seq\":7,", "", MB_REFUSED, MEMBERS },
    { "\"seq\":7", "\"seq\":[7]", MB_REFUSED, MEMBERS },
    { "\"seq\":7", "\"seq\":00", MB_REFUSED, NUMBERS },
    { "\"prev\":\"FzvaGhyH5-QLHYXyf9-VCi4PtLrU3qROnMsSzrmYaCQ\"", "\"prev\":\"\"", MB_REFUSED,
      BAD "a link to an earlier entry is not 32 bytes of base64url" },
    { "\"prev\":\"FzvaGhyH5-QLHYXyf9-VCi4PtLrU3qROnMsSzrmYaCQ\"", "\"prev\":null", MB_REFUSED,
      "a link to an earlier entry" },
    { "OnMsSzrmYaCQ\"", "OnMsSzrmYaCR\"", MB_REFUSED, "a link to an earlier entry" }, /* stray */
    { "OnMsSzrmYaCQ\"", "OnMsSzrmYaCQ=\"", MB_REFUSED, "a link to an earlier entry" },
    { "5-QLHY", "5+QLHY", MB_REFUSED, "a link to an earlier entry" },
    { "\"nth\":0", "\"nth\":0,\"prior\":\"FzvaGhyH5\"", MB_REFUSED, "a link to an earlier entry" },
    { "\"party/P001\"", "\"\"", MB_REFUSED, MEMBERS },
    { "\"party/P001\"", "\"party\"", MB_REFUSED, MEMBERS },
    { "\"party/P001\"", "\"party/\"", MB_REFUSED, MEMBERS },
    { "\"party/P001\"", "\"/P001\"", MB_REFUSED, MEMBERS },
    { "\"party/P001\"", "\"party/.P001\"", MB_REFUSED, MEMBERS },
    { "\"party/P001\"", "\"party/P 1\"", MB_REFUSED, MEMBERS },
    { "\"party/P001\"", "\"party/P/1\"", MB_REFUSED, MEMBERS },
    { "\"party/P001\"", "\"party/../x\"", MB_REFUSED, MEMBERS },
    { "\"party/P001\"", "\"Party/P001\"", MB_REFUSED, MEMBERS },
    { "\"party/P001\"", "\"ledger/x y\"", MB_REFUSED, MEMBERS },
    { "\"party/P001\"", "\"party/\xC3\x9F\"", MB_REFUSED, MEMBERS },
    { "\"party/P001\"",
      "\"party/aaaaaaaaaabbbbbbbbbbccccccccccddddddddddeeeeeeeeeeffffffffff01234\"", MB_REFUSED,
      MEMBERS },
    { "\"party/P001\"", "\"key/P001\"", MB_REFUSED, MEMBERS },
    { "\"party/P001\"", "\"key/" H1 "A\"", MB_REFUSED, MEMBERS },
    { "\"party/P001\"", "\"key/AkXIZFzonb59ZmGwyKgi3H3BwMi6amevqdKQiLZhdtd\"", MB_REFUSED,
      MEMBERS },
    { "\"sub\":\"party/P001\",", "", MB_REFUSED, MEMBERS },
    { "\"body\":{},", "", MB_REFUSED, MEMBERS },
    { "\"body\":{}", "\"body\":[]", MB_REFUSED, BAD "it has no body" },
    { "\"body\":{}", "\"body\":null", MB_REFUSED, BAD "it has no body" },
    { "\"v\":1}", "\"v\":1", MB_REFUSED, "the entry's payload: line 1, column " },
    { "\"v\":1}", "\"v\":1}}", MB_REFUSED, "the entry's payload: line 1, column " },
    { "{\"_sd_alg\"", "\xEF\xBB\xBF{\"_sd_alg\"", MB_REFUSED, "byte order mark" },
};

Test(entry_malformed, the_payload)
{
    struct bench b = set_up();
    const char *good = forge_payload(b.arena, "{}");
    struct mb_entry entry;

    cr_assert_eq(mb_entry_read(b.arena, good_jws(&b, "{}"), &entry, NULL), MB_OK);
    for (size_t i = 0; i < COUNT(payloads); i++) {
        const char *at = strstr(good, payloads[i].from);
        struct mb_error err = { 0 };
        const char *text;

        cr_assert_not_null(at, "%s", payloads[i].from);
        text = mb_arena_printf(b.arena, "%.*s%s%s", (int)(at - good), good, payloads[i].to,
                               at + strlen(payloads[i].from));
        refused(mb_entry_read(
                    b.arena,
                    forge_jws(b.arena, b.secret, forge_header(b.arena, b.secret), mb_str_of(text)),
                    &entry, &err),
                &err, payloads[i].rc, payloads[i].says, payloads[i].to);
    }
    take_down(&b);
}

/* ---- the body ---- */

static const struct {
    const char *body, *says;
} bodies[] = {
    { "{\"open\":{\"_sd\":[\"" H1 "\"]}}", BAD "its body has a class 'open'" },
    { "{\"open\":1}", BAD "its body has a class 'open'" },
    { "{\"sale\":{\"_sd\":[]}}", CLASS },
    { "{\"sale\":{}}", CLASS },
    { "{\"sale\":[\"" H1 "\"]}", CLASS },
    { "{\"sale\":\"" H1 "\"}", CLASS },
    { "{\"sale\":null}", CLASS },
    { "{\"sale\":{\"_sd\":\"" H1 "\"}}", CLASS },
    { "{\"sale\":{\"_sd\":[\"" H1 "\"],\"name\":\"x\"}}", CLASS },
    { "{\"sale\":{\"_sd\":{\"a\":\"" H1 "\"}}}", CLASS },
    { "{\"sale\":{\"...\":\"" H1 "\"}}", CLASS },
    { "{\"sale\":{\"_sd\":[7]}}", BAD "a digest of its body is not 32 bytes of base64url" },
    { "{\"sale\":{\"_sd\":[\"\"]}}", BAD "a digest of its body is not 32 bytes of base64url" },
    { "{\"sale\":{\"_sd\":[\"" H1 "=\"]}}", BAD "a digest of its body is not 32 bytes of" },
    { "{\"sale\":{\"_sd\":[\"AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAB\"]}}", /* stray bits */
      BAD "a digest of its body is not 32 bytes of base64url" },
    { "{\"sale\":{\"_sd\":[{\"_sd\":[\"" H1 "\"]}]}}", BAD "a digest of its body is not 32 bytes" },
    { "{\"sale\":{\"_sd\":[\"" H2 "\",\"" H1 "\"]}}", DIGESTS },
    { "{\"sale\":{\"_sd\":[\"" H1 "\",\"" H3 "\",\"" H2 "\"]}}", DIGESTS },
    { "{\"sale\":{\"_sd\":[\"" H1 "\",\"" H1 "\"]}}", DIGESTS },
    { "{\"land\":{\"_sd\":[\"" H1 "\"]},\"sale\":{\"_sd\":[\"" H1 "\"]}}",
      BAD "a digest of its body stands twice" },
    { "{\"list\":[{\"...\":\"" H1 "\"},{\"...\":\"" H1 "\"}]}",
      BAD "a digest of its body stands twice" },
    { "{\"list\":[{\"...\":\"" H1 "\"}],\"own\":{\"_sd\":[\"" H1 "\"]}}",
      BAD "a digest of its body stands twice" },
    { "{\"_sd\":[\"" H1 "\"]}", PLACE },
    { "{\"...\":\"" H1 "\"}", PLACE },
    { "{\"field\":{\"_sd\":[\"" H1 "\"]}}", PLACE },
    { "{\"field\":{\"a\":{\"_sd\":[]}}}", PLACE },
    { "{\"field\":{\"...\":\"" H1 "\"}}", PLACE },
    { "{\"field\":{\"a\":[{\"...\":\"" H1 "\"}]}}", PLACE },
    { "{\"list\":[[{\"...\":\"" H1 "\"}]]}", PLACE },
    { "{\"list\":[{\"a\":1,\"...\":\"" H1 "\"}]}", PLACE },
    { "{\"list\":[{\"_sd\":[\"" H1 "\"]}]}", PLACE },
    { "{\"list\":[{\"...\":7}]}", PLACE },
    { "{\"list\":[{\"...\":\"" H1 "A\"}]}", PLACE },
    { "{\"list\":[{\"...\":{\"...\":\"" H1 "\"}}]}", PLACE },
    { "{\"list\":[{\"...\":\"" H1 "\"},{\"a\":{\"...\":\"" H2 "\"}}]}", PLACE },
    { "{\"Sale\":{\"_sd\":[\"" H1 "\"]}}", PLACE },
    { "{\"secret\":{\"_sd\":[\"" H1 "\"]}}", PLACE },
    { "{\"a\":1,\"a\":1}", "\"a\" stands twice" },
    { "{\"sale\":{\"_sd\":[\"" H1 "\"]},\"sale\":{\"_sd\":[\"" H2 "\"]}}",
      "\"sale\" stands twice" },
    { "{\"a\":{\"b\":1,\"b\":2}}", "\"b\" stands twice" },
    { "{\"\":1}", "the name of a member is empty" },
    { "{\"stra\xC3\x9F"
      "e\":1}",
      "names of members are printable ASCII" },
    { "{\"a\\u0000\":1}", "U+0000" },
    { "{\"a\":-1}", NUMBERS },
    { "{\"a\":-0}", NUMBERS },
    { "{\"a\":1.0}", NUMBERS },
    { "{\"a\":1e3}", NUMBERS },
    { "{\"a\":1E3}", NUMBERS },
    { "{\"a\":9007199254740992}", NUMBERS },
    { "{\"a\":00}", NUMBERS },
    { "{\"a\":NaN}", "should stand here" },
    { "{\"a\":'x'}", "should stand here" },
    { "{\"a\":\"\\u0007\"}", "U+0007" },
    { "{\"a\":\"\\u007f\"}", "U+007F" },
    { "{\"a\":\"\xC2\x85\"}", "U+0085" },
    { "{\"a\":\"\\u202e\"}", "U+202E" },
    { "{\"a\":\"\xE2\x80\xAE\"}", "U+202E" },
    { "{\"a\":\"\xE2\x81\xA6\"}", "U+2066" },
    { "{\"a\":\"\xE2\x80\x8F\"}", "U+200F" },
    { "{\"a\":\"\xD8\x9C\"}", "U+061C" },
    { "{\"a\":\"\\ud800\"}", "half of a surrogate pair" },
    { "{\"a\":\"\xFF\"}", "not UTF-8" },
    { "{\"a\":\"\xC0\xAF\"}", "not UTF-8" },
    { "{\"a\":\"b\nc\"}", "U+000A" },
    { "{\"a\":[1,]}", "should stand here" },
    { "{\"a\":[[[[[[[[[[[[[[[1]]]]]]]]]]]]]]]}", "nested deeper than the 16 levels" },
};

Test(entry_malformed, the_body)
{
    struct bench b = set_up();
    struct mb_entry entry;

    for (size_t i = 0; i < COUNT(bodies); i++) {
        struct mb_error err = { 0 };

        refused(mb_entry_read(b.arena, good_jws(&b, bodies[i].body), &entry, &err), &err,
                MB_REFUSED, bodies[i].says, bodies[i].body);
    }
    take_down(&b);
}

/* ---- disclosures: their digests stand in class sale, so that only their form can be wrong ---- */

static const struct {
    const char *first, *second; /* the JSON of one or two */
    const char *says;
} shown[] = {
    { "", NULL, "a disclosure of the entry: line 1, column 1: " },
    { "{}", NULL, DFORM },
    { "\"x\"", NULL, DFORM },
    { "[]", NULL, DFORM },
    { "[\"salt-salt-salt-salt-00\"]", NULL, DFORM },
    { "[\"salt-salt-salt-salt-00\",\"a\",1,2]", NULL, DFORM },
    { "[\"salt-salt-salt-salt-00\",\"\",1]", NULL, DNAME },
    { "[\"salt-salt-salt-salt-00\",7,1]", NULL, DNAME },
    { "[\"salt-salt-salt-salt-00\",null,1]", NULL, DNAME },
    { "[\"salt-salt-salt-salt-00\",\"_sd\",1]", NULL, DNAME },
    { "[\"salt-salt-salt-salt-00\",\"...\",1]", NULL, DNAME },
    { "[\"salt-salt-salt-salt-00\",\"land\",1]", NULL, DNAME },
    { "[\"salt-salt-salt-salt-00\",\"open\",1]", NULL, DNAME },
    { "[\"salt-salt-salt-salt-00\",\"own\",{\"_sd\":[\"" H1 "\"]}]", NULL, DNAME },
    { "[\"salt-salt-salt-salt-00\",\"stra\xC3\x9F"
      "e\",1]",
      NULL, DNAME },
    { "[\"salt-salt-salt-salt-00\",\"a\\nb\",1]", NULL, DNAME },
    { "[\"\",\"a\",1]", NULL, DPLACE },
    { "[7,\"a\",1]", NULL, DPLACE },
    { "[null,\"a\",1]", NULL, DPLACE },
    { "[\"salt-salt-salt-salt-00\",\"a\",{\"_sd\":[\"" H1 "\"]}]", NULL, DPLACE },
    { "[\"salt-salt-salt-salt-00\",\"a\",{\"b\":{\"_sd\":[\"" H1 "\"]}}]", NULL, DPLACE },
    { "[\"salt-salt-salt-salt-00\",\"a\",{\"...\":\"" H1 "\"}]", NULL, DPLACE },
    { "[\"salt-salt-salt-salt-00\",\"a\",[[{\"...\":\"" H1 "\"}]]]", NULL, DPLACE },
    { "[\"salt-salt-salt-salt-00\",\"a\",[{\"...\":\"short\"}]]", NULL, DPLACE },
    { "[\"salt-salt-salt-salt-00\",\"a\",[{\"...\":\"" H1 "\"},{\"...\":\"" H1 "\"}]]", NULL,
      "a disclosure stands twice or in a place of another shape" },
    { "[\"salt-salt-salt-salt-00\",\"a\",-1]", NULL, NUMBERS },
    { "[\"salt-salt-salt-salt-00\",\"a\",-0]", NULL, NUMBERS },
    { "[\"salt-salt-salt-salt-00\",\"a\",1.0]", NULL, NUMBERS },
    { "[\"salt-salt-salt-salt-00\",\"a\",1e3]", NULL, NUMBERS },
    { "[\"salt-salt-salt-salt-00\",\"a\",{\"b\":1,\"b\":1}]", NULL, "\"b\" stands twice" },
    { "[\"salt-salt-salt-salt-00\",\"a\",\"\\u202e\"]", NULL, "U+202E" },
    { "[\"salt-salt-salt-salt-00\",\"a\",\"\xC2\x9B"
      "31m\"]",
      NULL, "U+009B" },
    { "[\"salt-salt-salt-salt-00\",\"a\",[[[[[[[[[[[[[[[[1]]]]]]]]]]]]]]]]]", NULL,
      "nested deeper than the 16 levels" },
    { "[\"salt-salt-salt-salt-00\",\"a\",1] x", NULL, "a disclosure of the entry: line 1" },
    /* of the shape of a list element, in a class */
    { "[\"salt-salt-salt-salt-00\",1]", NULL,
      NULL /* of no use, and to be found by the verifier: its slot stays -1 */ },
    /* two of them */
    { "[\"salt-salt-salt-salt-00\",\"a\",1]", "[\"salt-salt-salt-salt-01\",\"a\",2]",
      BAD "two of its fields have the same name" },
    { "[\"salt-salt-salt-salt-00\",\"name\",1]", NULL, BAD "two of its fields have the same name" },
};

Test(entry_malformed, the_disclosures)
{
    struct bench b = set_up();

    for (size_t i = 0; i < COUNT(shown); i++) {
        const char *first = forge_disclosure(b.arena, shown[i].first);
        const char *second = shown[i].second ? forge_disclosure(b.arena, shown[i].second) : NULL;
        const char *body = mb_arena_printf(b.arena, "{\"name\":\"in clear\",\"sale\":%s}",
                                           forge_class(b.arena, first, second, NULL));
        const char *tail = second ? mb_arena_printf(b.arena, "%s~%s~", first, second)
                                  : mb_arena_printf(b.arena, "%s~", first);
        struct mb_error err = { 0 };
        struct mb_entry entry;
        enum mb_rc rc;

        cr_assert_eq(mb_entry_read(b.arena, good_jws(&b, body), &entry, &err), MB_OK, "%s",
                     err.text);
        rc = mb_entry_disclose(b.arena, &entry, mb_str_of(tail), &err);
        if (shown[i].says) {
            refused(rc, &err, MB_REFUSED, shown[i].says, shown[i].first);
        } else {
            cr_expect_eq(rc, MB_REFUSED, "%s", shown[i].first);
            refused(rc, &err, MB_REFUSED, "place of another shape", shown[i].first);
        }
    }
    take_down(&b);
}

Test(entry_malformed, the_tail)
{
    struct bench b = set_up();
    const char *d = forge_disclosure(b.arena, "[\"salt-salt-salt-salt-00\",\"a\",1]");
    const char *e = forge_disclosure(b.arena, "[\"salt-salt-salt-salt-01\",2]");
    const char *body = mb_arena_printf(b.arena, "{\"list\":[{\"...\":\"%s\"}],\"sale\":%s}",
                                       forge_digest(b.arena, e), forge_class(b.arena, d, NULL));
    struct mb_str jws = good_jws(&b, body);
    const struct {
        const char *what, *tail, *says;
    } cases[] = {
        { "the last ~ missing", d, BAD "its disclosures do not end with '~'" },
        { "a key-binding JWT behind", mb_arena_printf(b.arena, "%s~e30.e30.AAAA", d),
          BAD "its disclosures do not end with '~'" },
        { "the same twice", mb_arena_printf(b.arena, "%s~%s~", d, d),
          BAD "a disclosure stands twice or in a place of another shape" },
        { "an element twice", mb_arena_printf(b.arena, "%s~%s~", e, e),
          BAD "a disclosure stands twice or in a place of another shape" },
        { "an empty one", mb_arena_printf(b.arena, "%s~~", d), "a disclosure of the entry: " },
        { "nothing but ~", "~", "a disclosure of the entry: " },
        { "padded", mb_arena_printf(b.arena, "%s=~", d), BAD "a disclosure is not base64url" },
        { "a line end", mb_arena_printf(b.arena, "%s\n~", d), BAD "a disclosure is not base64url" },
        { "a star", mb_arena_printf(b.arena, "%s*~", d), BAD "a disclosure is not base64url" },
    };
    struct mb_entry entry;
    struct mb_error err = { 0 };

    for (size_t i = 0; i < COUNT(cases); i++) {
        struct mb_error e1 = { 0 };

        cr_assert_eq(mb_entry_read(b.arena, jws, &entry, &e1), MB_OK, "%s", e1.text);
        refused(mb_entry_disclose(b.arena, &entry, mb_str_of(cases[i].tail), &e1), &e1, MB_REFUSED,
                cases[i].says, cases[i].what);
    }
    refused(mb_entry_read_sd(b.arena, jws, &entry, &err), &err, MB_REFUSED,
            BAD "there is no '~' behind its signature", "no ~ at all");
    take_down(&b);
}

/* 65,535 bytes are read, one more is not; a disclosure may have 1 MiB. */
Test(entry_malformed, the_limits_are_where_they_are_said_to_be)
{
    struct bench b = set_up();
    size_t bare = good_jws(&b, "{\"a\":\"\"}").len;
    char *text = mb_arena_get(b.arena, 2u << 20);
    size_t fill = (MB_ENTRY_MAX - bare) * 3 / 4 - 4;
    struct mb_str jws = { NULL, 0 }, before = { NULL, 0 };
    struct mb_entry entry;
    struct mb_error err = { 0 };

    memset(text, 'x', (2u << 20) - 1);
    while (jws.len <= MB_ENTRY_MAX) {
        before = jws;
        jws = good_jws(&b, mb_arena_printf(b.arena, "{\"a\":\"%.*s\"}", (int)++fill, text));
    }
    cr_assert(before.at);
    cr_expect_eq(mb_entry_read(b.arena, before, &entry, &err), MB_OK, "%s", err.text);
    cr_expect_geq(before.len, MB_ENTRY_MAX - 2);
    refused(mb_entry_read(b.arena, jws, &entry, &err), &err, MB_REFUSED,
            BAD "it is longer than 65,535 bytes", "an entry");

    for (int over = 0; over < 2; over++) {
        /* 786,432 bytes of JSON are 1,048,576 characters */
        const char *json = mb_arena_printf(b.arena, "[\"salt-salt-salt-salt-00\",\"a\",\"%.*s\"]",
                                           786432 - 33 + over, text);
        const char *d = forge_disclosure(b.arena, json);

        cr_assert_eq(mb_entry_read(b.arena,
                                   good_jws(&b, mb_arena_printf(b.arena, "{\"sale\":%s}",
                                                                forge_class(b.arena, d, NULL))),
                                   &entry, NULL),
                     MB_OK);
        err = (struct mb_error){ 0 };
        if (over)
            refused(mb_entry_disclose(b.arena, &entry,
                                      mb_str_of(mb_arena_printf(b.arena, "%s~", d)), &err),
                    &err, MB_REFUSED, BAD "a disclosure is longer than 1 MiB", "a disclosure");
        else
            cr_expect_eq(mb_entry_disclose(b.arena, &entry,
                                           mb_str_of(mb_arena_printf(b.arena, "%s~", d)), &err),
                         MB_OK, "%zu: %s", strlen(d), err.text);
    }
    take_down(&b);
}
