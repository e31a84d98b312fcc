/* The rules K1-K8 of keyring.c, each kept and each broken. */
#include <criterion/criterion.h>
#include <string.h>

#include "bytes_of.h"
#include "forge.h"
#include "keyring.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])
#define ORIGIN "ledger.example"

/* Keys by a letter: the founder F, others A-E, checkpoint keys C0-C2 as c, d, e. */
static const struct {
    char letter;
    unsigned seed;
} key_seeds[] = { { 'F', 0x20 }, { 'A', 0x40 }, { 'B', 0x60 }, { 'C', 0x80 },
                  { 'D', 0xA0 }, { 'c', 0x00 }, { 'd', 0x10 }, { 'e', 0x30 } };

struct world {
    mb_arena *arena;
    mb_secret *secrets[COUNT(key_seeds)];
    mb_keyring *ring;
    mb_findings *findings;
    int64_t seq;
};

static struct world set_up(void)
{
    struct world w = { .arena = mb_arena_new() };

    for (size_t i = 0; i < COUNT(key_seeds); i++)
        w.secrets[i] = secret_of_seed(key_seeds[i].seed);
    w.ring = mb_keyring_new(w.arena);
    w.findings = mb_findings_new(w.arena, 0);
    return w;
}

static void take_down(struct world *w)
{
    for (size_t i = 0; i < COUNT(key_seeds); i++)
        mb_secret_free(w->secrets[i]);
    mb_arena_free(w->arena);
}

static const mb_secret *secret_of(const struct world *w, char letter)
{
    for (size_t i = 0; i < COUNT(key_seeds); i++)
        if (key_seeds[i].letter == letter)
            return w->secrets[i];
    cr_assert(false, "no key %c", letter);
    return NULL;
}

static const char *kid_of(struct world *w, char letter)
{
    char *kid = mb_arena_get(w->arena, MB_THUMBPRINT_LEN + 1);

    mb_thumbprint(mb_secret_key(secret_of(w, letter)), kid);
    return kid;
}

static const char *jwk_of(struct world *w, char letter)
{
    struct mb_str text =
        mb_json_write(w->arena, mb_jwk_make(w->arena, mb_secret_key(secret_of(w, letter))));

    return mb_arena_copy(w->arena, text.at, text.len);
}

static const char *vkey_named(struct world *w, const char *name, enum mb_vkey_type type,
                              char letter)
{
    struct mb_vkey vkey = mb_vkey_make(mb_str_of(name), type, mb_secret_key(secret_of(w, letter)));

    return mb_vkey_write(w->arena, &vkey);
}

static const char *vkey_of(struct world *w, char letter)
{
    return vkey_named(w, ORIGIN, MB_VKEY_LOG, letter);
}

/* Takes one entry and returns the names of the findings that it made, with blanks between. */
static const char *take(struct world *w, char signer, const char *sub, const char *kind,
                        const char *body)
{
    const char *payload =
        mb_arena_printf(w->arena,
                        "{\"_sd_alg\":\"sha-256\",\"body\":%s,\"iat\":1767225600,\"iss\":\"" ORIGIN
                        "\",\"kind\":\"%s\",\"nth\":0,\"seq\":%lld,\"sub\":\"%s\",\"v\":1}",
                        body, kind, (long long)w->seq++, sub);
    struct mb_str jws = forge_jws(w->arena, secret_of(w, signer),
                                  forge_header(w->arena, secret_of(w, signer)), mb_str_of(payload));
    mb_findings *findings = mb_findings_new(w->arena, 0);
    const char *names = "";
    struct mb_error err = { 0 };
    struct mb_entry entry;

    cr_assert_eq(mb_entry_read(w->arena, jws, &entry, &err), MB_OK, "%s: %s", payload, err.text);
    mb_keyring_take(w->ring, &entry, findings);
    for (const struct mb_finding *f = mb_findings_first(findings); f; f = f->next) {
        cr_expect_eq(f->seq, entry.seq);
        names = mb_arena_printf(w->arena, "%s%s%s", names, names[0] ? " " : "",
                                mb_finding_kinds[f->id].name);
    }
    return names;
}

static const char *found(struct world *w)
{
    return take(w, 'F', "ledger", "founding",
                mb_arena_printf(w->arena,
                                "{\"checkpointKey\":\"%s\",\"jwk\":%s,\"name\":\"N\","
                                "\"origin\":\"" ORIGIN "\"}",
                                vkey_of(w, 'c'), jwk_of(w, 'F')));
}

static const char *enrol(struct world *w, char by, char key, const char *may)
{
    return take(w, by, mb_arena_printf(w->arena, "key/%s", kid_of(w, key)), "key-enrolment",
                mb_arena_printf(w->arena,
                                "{\"holder\":{\"ref\":\"party/P1\"},\"jwk\":%s,\"may\":%s}",
                                jwk_of(w, key), may));
}

static const char *retire(struct world *w, char by, char key, const char *body)
{
    return take(w, by, mb_arena_printf(w->arena, "key/%s", kid_of(w, key)), "key-retirement", body);
}

static const char *rotate(struct world *w, char by, char key, const char *why)
{
    return take(w, by, "ledger", "checkpoint-key",
                mb_arena_printf(w->arena, "{\"checkpointKey\":\"%s\",\"why\":\"%s\"}",
                                vkey_of(w, key), why));
}

static const char *record(struct world *w, char by, const char *kind)
{
    return take(w, by, "specimen/X", kind, "{}");
}

#define EXPECT(call, names) cr_expect_str_eq(call, names)

Test(keyring, k1_a_ledger_is_founded_once_by_its_own_key)
{
    struct world w = set_up();
    static const struct {
        const char *sub, *body; /* @ the founder's jwk, # its vkey */
        const char *names;
    } bad[] = {
        { "ledger", "{\"checkpointKey\":\"#\",\"jwk\":@,\"origin\":\"other.example\"}",
          "bad-founding key-unknown" },
        { "ledger", "{\"checkpointKey\":\"#\",\"jwk\":@}", "bad-founding key-unknown" },
        { "ledger", "{\"checkpointKey\":\"#\",\"origin\":\"ledger.example\"}",
          "bad-founding key-unknown" },
        { "ledger", "{\"checkpointKey\":\"#\",\"jwk\":\"x\",\"origin\":\"ledger.example\"}",
          "bad-founding key-unknown" },
        { "party/P1", "{\"checkpointKey\":\"#\",\"jwk\":@,\"origin\":\"ledger.example\"}",
          "bad-founding key-unknown" },
        { "ledger", "{\"jwk\":@,\"origin\":\"ledger.example\"}", "key-refused" },
        { "ledger", "{\"checkpointKey\":\"nonsense\",\"jwk\":@,\"origin\":\"ledger.example\"}",
          "key-refused" },
    };

    EXPECT(found(&w), "");
    cr_assert_eq(mb_keyring_count(w.ring), 1);
    cr_expect(mb_keyring_at(w.ring, 0)->founding);
    EXPECT(record(&w, 'F', "collecting"), "");
    EXPECT(record(&w, 'F', "a-kind-of-later"), ""); /* the founding key may do everything */
    EXPECT(found(&w), "second-founding");
    cr_expect_eq(mb_keyring_count(w.ring), 1);
    take_down(&w);

    w = set_up(); /* entry 0 is something else */
    EXPECT(record(&w, 'F', "collecting"), "bad-founding key-unknown");
    EXPECT(found(&w), "second-founding key-unknown"); /* too late */
    take_down(&w);

    w = set_up(); /* signed by another key than the one it names */
    EXPECT(take(&w, 'A', "ledger", "founding",
                mb_arena_printf(w.arena,
                                "{\"checkpointKey\":\"%s\",\"jwk\":%s,\"origin\":\"" ORIGIN "\"}",
                                vkey_of(&w, 'c'), jwk_of(&w, 'F'))),
           "key-unknown");
    take_down(&w);

    for (size_t i = 0; i < COUNT(bad); i++) {
        const char *body;
        char *text;

        w = set_up();
        text = mb_arena_text(w.arena, "");
        for (body = bad[i].body; *body; body++)
            text = *body == '@'   ? mb_arena_printf(w.arena, "%s%s", text, jwk_of(&w, 'F'))
                   : *body == '#' ? mb_arena_printf(w.arena, "%s%s", text, vkey_of(&w, 'c'))
                                  : mb_arena_printf(w.arena, "%s%c", text, *body);
        EXPECT(take(&w, 'F', bad[i].sub, "founding", text), bad[i].names);
        take_down(&w);
    }
}

Test(keyring, k2_a_key_is_enrolled_by_one_that_may)
{
    struct world w = set_up();
    const struct mb_ring_key *key;

    found(&w);
    EXPECT(enrol(&w, 'F', 'A', "[\"enrol\"]"), "");
    EXPECT(enrol(&w, 'A', 'B', "[\"preparation\",\"condition\"]"),
           ""); /* by an enrolled enroller */
    key = mb_keyring_find(w.ring, mb_str_of(kid_of(&w, 'B')));
    cr_assert_not_null(key);
    cr_expect(key->enrolled == 2 && key->retired == MB_NEVER && !key->enrols && !key->founding);
    cr_expect(mb_str_is(key->holder, "party/P1"));
    cr_expect_eq(key->enrolled_by, 1);

    EXPECT(record(&w, 'B', "preparation"), "");
    EXPECT(record(&w, 'B', "condition"), "");
    EXPECT(record(&w, 'B', "identification"), "key-without-right");
    EXPECT(record(&w, 'A', "preparation"),
           "key-without-right"); /* enrolling is no right to record */
    EXPECT(record(&w, 'C', "preparation"), "key-unknown");
    EXPECT(enrol(&w, 'B', 'C', "[\"enrol\"]"), "key-without-right enrol-right");
    cr_expect_null(mb_keyring_find(w.ring, mb_str_of(kid_of(&w, 'C'))));
    EXPECT(record(&w, 'C', "preparation"), "key-unknown");                 /* it did not count */
    EXPECT(enrol(&w, 'C', 'C', "[\"enrol\"]"), "key-unknown enrol-right"); /* by itself */
    cr_expect_null(mb_keyring_find(w.ring, mb_str_of(kid_of(&w, 'C'))));

    /* a right that names the kinds about keys is none: only `enrol` is */
    EXPECT(enrol(&w, 'F', 'C', "[\"key-enrolment\",\"key-retirement\",\"checkpoint-key\"]"), "");
    EXPECT(enrol(&w, 'C', 'D', "[]"), "key-without-right enrol-right");
    EXPECT(rotate(&w, 'C', 'd', "routine"), "key-without-right enrol-right");
    EXPECT(retire(&w, 'C', 'B', "{}"), "key-without-right enrol-right");
    take_down(&w);
}

Test(keyring, k2_and_k8_an_enrolment_names_a_proper_key_and_its_own)
{
    static const struct {
        const char *x; /* of the jwk */
        const char *sub, *may, *names;
    } bad[] = {
        /* small order, order 8; mixed order; y = p: RFC 8032 section 5.1.3 and speccheck */
        { "AQAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA", NULL, "[]", "key-refused" },
        { "xxdqcD1N2E-6PAt2DRBnDyogU_osOczGTsf9d5KsA_o", NULL, "[]", "key-refused" },
        { "zbJnzkDFzUUwb6XS8pcxRZOH2_nrkzt71a7Zp2W4jU0", NULL, "[]", "key-refused" },
        { "7f_______________________________________38", NULL, "[]", "key-refused" },
        { NULL, "key/AkXIZFzonb59ZmGwyKgi3H3BwMi6amevqdKQiLZhdtc", "[]", "key-refused" },
        { NULL, "party/P1", "[]", "key-refused" },
        { NULL, "ledger", "[]", "key-refused" },
        { NULL, NULL, "\"enrol\"", "key-refused" },
        { NULL, NULL, "null", "key-refused" },
    };
    struct world w = set_up();

    found(&w);
    for (size_t i = 0; i < COUNT(bad); i++) {
        const char *x = bad[i].x ? bad[i].x : NULL;
        const char *jwk =
            x ? mb_arena_printf(w.arena, "{\"crv\":\"Ed25519\",\"kty\":\"OKP\",\"x\":\"%s\"}", x)
              : jwk_of(&w, 'D');
        const char *sub = bad[i].sub;
        struct mb_key key;

        if (!sub) {
            char kid[MB_THUMBPRINT_LEN + 1];

            if (!x)
                key = *mb_secret_key(secret_of(&w, 'D'));
            else
                cr_assert(mb_b64u_read_exact(mb_str_of(x), key.b, 32));
            mb_thumbprint(&key, kid);
            sub = mb_arena_printf(w.arena, "key/%s", kid);
        }
        EXPECT(take(&w, 'F', sub, "key-enrolment",
                    mb_arena_printf(w.arena, "{\"jwk\":%s,\"may\":%s}", jwk, bad[i].may)),
               bad[i].names);
    }
    cr_expect_eq(mb_keyring_count(w.ring), 1);
    take_down(&w);
}

Test(keyring, k3_a_retirement_is_final)
{
    struct world w = set_up();

    found(&w);
    enrol(&w, 'F', 'A', "[\"enrol\"]");
    enrol(&w, 'F', 'B', "[\"preparation\"]");
    enrol(&w, 'F', 'C', "[\"preparation\"]");
    EXPECT(retire(&w, 'C', 'B', "{}"),
           "key-without-right enrol-right"); /* another's, no enroller */
    EXPECT(record(&w, 'B', "preparation"), "");
    EXPECT(retire(&w, 'B', 'B', "{}"), ""); /* its own */
    EXPECT(record(&w, 'B', "preparation"), "key-retired");
    EXPECT(retire(&w, 'B', 'B', "{}"), "key-retired enrol-right");
    EXPECT(retire(&w, 'A', 'B', "{}"), "key-refused");               /* no longer in force */
    EXPECT(enrol(&w, 'A', 'B', "[\"preparation\"]"), "key-doubled"); /* nor ever again */
    EXPECT(record(&w, 'B', "preparation"), "key-retired");
    EXPECT(retire(&w, 'A', 'C', "{}"), ""); /* by an enroller */
    EXPECT(record(&w, 'C', "preparation"), "key-retired");
    EXPECT(retire(&w, 'A', 'D', "{}"), "key-refused"); /* never enrolled */
    EXPECT(retire(&w, 'A', 'F', "{}"), ""); /* even the founding key, while A may enrol */
    EXPECT(record(&w, 'F', "collecting"), "key-retired");
    EXPECT(enrol(&w, 'F', 'D', "[]"), "key-retired enrol-right");
    EXPECT(take(&w, 'A', "party/P1", "key-retirement", "{}"), "key-refused");
    take_down(&w);
}

Test(keyring, k4_the_last_enroller_stays)
{
    struct world w = set_up();

    found(&w);
    EXPECT(retire(&w, 'F', 'F', "{}"), "last-enroller");
    EXPECT(record(&w, 'F', "collecting"), "");
    enrol(&w, 'F', 'B', "[\"preparation\"]");
    EXPECT(retire(&w, 'F', 'F', "{}"), "last-enroller"); /* B may not enrol */
    enrol(&w, 'F', 'A', "[\"enrol\"]");
    EXPECT(retire(&w, 'F', 'F', "{}"), "");
    EXPECT(retire(&w, 'A', 'A', "{}"), "last-enroller");
    EXPECT(enrol(&w, 'A', 'C', "[\"enrol\"]"), "");
    EXPECT(retire(&w, 'A', 'A', "{}"), "");
    EXPECT(enrol(&w, 'C', 'D', "[]"), "");
    take_down(&w);
}

/* A checkpoint of `size`, signed by the keys of these letters. */
static struct mb_note checkpoint(struct world *w, uint64_t size, const char *letters)
{
    struct mb_checkpoint c = { .origin = MB_STR(ORIGIN), .size = size };
    char *text = mb_checkpoint_text(w->arena, &c), *bytes = mb_arena_printf(w->arena, "%s\n", text);
    struct mb_note note;

    for (; *letters; letters++)
        bytes = mb_arena_printf(
            w->arena, "%s%s", bytes,
            mb_note_sign(w->arena, mb_str_of(text), MB_STR(ORIGIN), secret_of(w, *letters)));
    cr_assert_eq(mb_note_read(w->arena, mb_str_of(bytes), &note, NULL), MB_OK);
    return note;
}

static bool signed_rightly(struct world *w, uint64_t size, const char *letters, uint64_t before)
{
    struct mb_note note = checkpoint(w, size, letters);
    const char *why = NULL;
    bool ok = mb_keyring_checkpoint_ok(w->ring, &note, size, before, &why);

    cr_expect(ok || why);
    return ok;
}

Test(keyring, k5_a_checkpoint_key_is_in_force_behind_its_entry)
{
    struct world w = set_up();

    found(&w); /* entry 0: c */
    enrol(&w, 'F', 'A', "[\"enrol\"]");
    enrol(&w, 'F', 'B', "[\"preparation\"]");
    cr_expect(signed_rightly(&w, 3, "c", 3));
    cr_expect_not(signed_rightly(&w, 3, "d", 3));
    cr_expect_not(signed_rightly(&w, 0, "c", 0)); /* of a time before the ledger */
    EXPECT(rotate(&w, 'B', 'd', "routine"), "key-without-right enrol-right"); /* 3 */
    cr_expect_eq(mb_keyring_checkpoint_count(w.ring), 1);
    EXPECT(rotate(&w, 'A', 'd', "routine"), ""); /* 4 */
    cr_expect_eq(mb_keyring_checkpoint_count(w.ring), 2);
    cr_expect(signed_rightly(&w, 4, "c", 4)); /* the key of that size, for ever */
    cr_expect_not(signed_rightly(&w, 4, "d", 4));
    cr_expect(signed_rightly(&w, 5, "d", 5));
    cr_expect_not(signed_rightly(&w, 5, "c", 5));
    cr_expect(signed_rightly(&w, 5, "dc", 4)); /* the first after the change: both */
    cr_expect(signed_rightly(&w, 5, "cd", 4));
    cr_expect_not(signed_rightly(&w, 5, "d", 4));
    cr_expect_not(signed_rightly(&w, 5, "c", 4));
    EXPECT(rotate(&w, 'F', 'e', "lost"), "");    /* 5 */
    cr_expect(signed_rightly(&w, 6, "e", 5)); /* the old one cannot sign */
    cr_expect_not(signed_rightly(&w, 6, "d", 5));
    cr_expect(signed_rightly(&w, 5, "d", 5));
    cr_expect(signed_rightly(&w, 1000, "e", 1000));
    take_down(&w);

    w = set_up();
    found(&w);
    EXPECT(rotate(&w, 'F', 'd', "stolen"), "");
    cr_expect(signed_rightly(&w, 2, "d", 1));
    take_down(&w);
}

/* Nobody gets rid of the oldest key's word by changing twice before anything is signed. */
Test(keyring, k5_several_changes_before_one_checkpoint)
{
    static const struct {
        const char *first, *second, *signers;
        uint64_t before;
        bool good;
    } cases[] = {
        { "routine", "routine", "edc", 1, true },  { "routine", "routine", "ed", 1, false },
        { "routine", "routine", "ec", 1, false },  { "routine", "routine", "e", 1, false },
        { "routine", "routine", "dc", 1, false },  { "routine", "routine", "ed", 2, true },
        { "routine", "routine", "e", 2, false },   { "routine", "routine", "e", 3, true },
        { "lost", "routine", "ed", 1, true },      { "lost", "routine", "e", 1, false },
        { "routine", "stolen", "e", 1, true },     { "routine", "stolen", "d", 1, false },
    };

    for (size_t i = 0; i < COUNT(cases); i++) {
        struct world w = set_up();

        found(&w);                                        /* 0: c */
        EXPECT(rotate(&w, 'F', 'd', cases[i].first), ""); /* 1 */
        EXPECT(rotate(&w, 'F', 'e', cases[i].second), ""); /* 2 */
        cr_expect_eq(signed_rightly(&w, 3, cases[i].signers, cases[i].before), cases[i].good,
                     "%s, %s: %s from %llu on", cases[i].first, cases[i].second, cases[i].signers,
                     (unsigned long long)cases[i].before);
        take_down(&w);
    }
}

Test(keyring, k5_what_is_no_checkpoint_key_of_this_ledger)
{
    struct world w = set_up();
    const char *good = vkey_of(&w, 'd');
    const struct {
        const char *sub, *vkey, *names;
    } cases[] = {
        { "ledger", "", "key-refused" },
        { "ledger", "nonsense", "key-refused" },
        { "ledger", vkey_named(&w, "other.example", MB_VKEY_LOG, 'd'), "key-refused" },
        { "ledger", vkey_named(&w, ORIGIN, MB_VKEY_WITNESS, 'd'), "key-refused" },
        /* small order: 32 zero bytes, with the hash that such a key has */
        { "ledger", "ledger.example+a59de7db+AQAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA",
          "key-refused" },
        { "specimen/X", good,
          "key-refused" }, /* off the ledger's own chain, no file would show it */
        { "party/P1", good, "key-refused" },
        { "ledger", good, "" },
    };

    found(&w);
    for (size_t i = 0; i < COUNT(cases); i++)
        EXPECT(take(&w, 'F', cases[i].sub, "checkpoint-key",
                    mb_arena_printf(w.arena, "{\"checkpointKey\":\"%s\",\"why\":\"routine\"}",
                                    cases[i].vkey)),
               cases[i].names);
    EXPECT(take(&w, 'F', "ledger", "checkpoint-key", "{}"), "key-refused");
    cr_expect_eq(mb_keyring_checkpoint_count(w.ring), 2);
    take_down(&w);
}

static bool suspect(struct world *w, char letter, int64_t seq)
{
    return mb_keyring_suspects(w->ring, mb_str_of(kid_of(w, letter)), seq);
}

Test(keyring, k6_doubt_reaches_back_and_down)
{
    struct world w = set_up();

    found(&w);                                          /* 0 */
    enrol(&w, 'F', 'A', "[\"enrol\",\"preparation\"]"); /* 1 */
    enrol(&w, 'A', 'B', "[\"enrol\",\"preparation\"]"); /* 2, before the doubt */
    record(&w, 'A', "preparation");                     /* 3 */
    record(&w, 'A', "preparation");                     /* 4: from here on */
    enrol(&w, 'A', 'C', "[\"enrol\",\"preparation\"]"); /* 5 */
    enrol(&w, 'C', 'D', "[\"preparation\"]");           /* 6 */
    cr_expect_not(mb_keyring_any_suspect(w.ring));
    EXPECT(retire(&w, 'F', 'A', "{\"suspectFrom\":4}"), ""); /* 7 */
    cr_expect(mb_keyring_any_suspect(w.ring));
    cr_expect_not(suspect(&w, 'A', 3));
    cr_expect(suspect(&w, 'A', 4));
    cr_expect(suspect(&w, 'A', 5));
    cr_expect_not(suspect(&w, 'B', 6)); /* enrolled before */
    cr_expect(suspect(&w, 'C', 6));
    cr_expect(suspect(&w, 'C', 100));
    cr_expect(suspect(&w, 'D', 100)); /* by a key that was enrolled in doubt */
    cr_expect_not(suspect(&w, 'F', 100));
    cr_expect_not(mb_keyring_suspects(w.ring, MB_STR("nobody"), 100));
    take_down(&w);

    w = set_up(); /* a key that says it of itself: the retirement is not one of the doubtful ones */
    found(&w);
    enrol(&w, 'F', 'A', "[\"preparation\"]");
    record(&w, 'A', "preparation");                          /* 2 */
    EXPECT(retire(&w, 'A', 'A', "{\"suspectFrom\":2}"), ""); /* 3 */
    cr_expect(suspect(&w, 'A', 2));
    cr_expect_not(suspect(&w, 'A', 3));
    take_down(&w);

    w = set_up(); /* no number: everything is in doubt */
    found(&w);
    enrol(&w, 'F', 'A', "[\"preparation\"]");
    retire(&w, 'F', 'A', "{\"suspectFrom\":\"2\"}");
    cr_expect(suspect(&w, 'A', 1));
    take_down(&w);
}

Test(keyring, k7_no_key_serves_twice)
{
    struct world w = set_up();

    EXPECT(take(&w, 'F', "ledger", "founding",
                mb_arena_printf(w.arena,
                                "{\"checkpointKey\":\"%s\",\"jwk\":%s,\"origin\":\"" ORIGIN "\"}",
                                vkey_of(&w, 'F'), jwk_of(&w, 'F'))),
           "key-doubled");
    take_down(&w);

    w = set_up();
    found(&w);
    EXPECT(enrol(&w, 'F', 'F', "[]"), "key-doubled");
    EXPECT(enrol(&w, 'F', 'c', "[]"), "key-doubled"); /* the checkpoint's for a person */
    EXPECT(enrol(&w, 'F', 'A', "[]"), "");
    EXPECT(enrol(&w, 'F', 'A', "[\"enrol\"]"), "key-doubled"); /* no rights by a second enrolment */
    EXPECT(enrol(&w, 'A', 'B', "[]"), "key-without-right enrol-right");
    EXPECT(rotate(&w, 'F', 'A', "routine"), "key-doubled"); /* a person's for the checkpoint */
    EXPECT(rotate(&w, 'F', 'c', "routine"), "key-doubled"); /* the same again */
    EXPECT(rotate(&w, 'F', 'd', "routine"), "");
    EXPECT(rotate(&w, 'F', 'c', "routine"), "key-doubled"); /* an old one again */
    EXPECT(enrol(&w, 'F', 'd', "[]"), "key-doubled");
    take_down(&w);
}

Test(keyring, many_keys_are_kept)
{
    struct world w = set_up();

    found(&w);
    for (unsigned i = 0; i < 60; i++) {
        mb_secret *secret = secret_of_seed(100 + i);
        char kid[MB_THUMBPRINT_LEN + 1];
        struct mb_str jwk;

        mb_thumbprint(mb_secret_key(secret), kid);
        jwk = mb_json_write(w.arena, mb_jwk_make(w.arena, mb_secret_key(secret)));
        EXPECT(take(&w, 'F', mb_arena_printf(w.arena, "key/%s", kid), "key-enrolment",
                    mb_arena_printf(w.arena, "{\"jwk\":%.*s,\"may\":[\"note\"]}", MB_STR_ARG(jwk))),
               "");
        cr_expect_not_null(mb_keyring_find(w.ring, mb_str_of(kid)));
        mb_secret_free(secret);
    }
    cr_expect_eq(mb_keyring_count(w.ring), 61);
    EXPECT(record(&w, 'F', "note"), "");
    take_down(&w);
}
