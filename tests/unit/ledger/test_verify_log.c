/* A whole small ledger judged: whole, with any bit of it turned, and rewritten by its own keys. */
#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>

#include "bytes_of.h"
#include "plain_db.h"
#include "temp_ledger.h"
#include "text.h"
#include "verify_log.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

struct verdict {
    enum mb_rc rc;
    const char *names; /* of the findings, each once */
};

/* Judged as a stranger with the fingerprint would. What cannot even be opened is not well. */
static struct verdict judge(mb_arena *arena, const char *folder, const struct mb_hash *fingerprint)
{
    struct mb_trusted ledger = { MB_STR(TEMP_LEDGER_ORIGIN), *fingerprint };
    struct mb_trust trust = { &ledger, 1, NULL, 0 };
    struct mb_log_check check = {
        .arena = arena, .trust = &trust, .findings = mb_findings_new(arena, 20), .threads = 1
    };
    struct verdict v = { MB_OK, "" };
    struct mb_error err = { 0 };

    v.rc = mb_log_open(arena, folder, MB_LOG_READ, &check.log, &err);
    if (v.rc) {
        v.names = mb_arena_printf(arena, "not opened: %s", err.text);
        return v;
    }
    v.rc = mb_log_verify(&check, &err);
    if (!v.rc)
        v.rc = mb_findings_rc(check.findings);
    for (int id = 0; id < MB_FINDING_COUNT; id++)
        if (mb_findings_of(check.findings, (enum mb_finding_id)id))
            v.names = mb_arena_printf(arena, "%s%s%s", v.names, v.names[0] ? " " : "",
                                      mb_finding_kinds[id].name);
    mb_log_close(check.log);
    return v;
}

static void fill(struct temp_ledger *t)
{
    temp_ledger_new(t);
    temp_ledger_add(t, "party/P001", "party", "{\"sale\":{\"neutralLabel\":\"the lab\"}}");
    temp_ledger_begin(t);
    temp_ledger_put_by(
        t, t->owner, "specimen/26-0001", "collecting",
        "{\"open\":{\"objectForm\":\"slab\"},\"sale\":{\"eventDate\":\"2026-05-02\"}}");
    temp_ledger_put_by(
        t, t->preparator, "specimen/26-0001", "preparation",
        "{\"sale\":{\"preparationDate\":\"2026-05-03\"},\"private\":{\"hours\":\"2\"}}");
    temp_ledger_commit(t);
}

static struct mb_hash fingerprint_of(struct temp_ledger *t)
{
    return *mb_log_fingerprint(t->log);
}

Test(verify_log, a_whole_ledger_holds)
{
    struct temp_ledger t;
    struct mb_hash print, other;
    struct verdict v;

    fill(&t);
    print = other = fingerprint_of(&t);
    other.b[0] ^= 1;
    v = judge(t.arena, t.folder, &print);
    cr_expect_eq(v.rc, MB_OK, "%s", v.names);
    v = judge(t.arena, t.folder, &other);
    cr_expect_eq(v.rc, MB_NO);
    cr_expect(strstr(v.names, "other-fingerprint"), "%s", v.names);
    temp_ledger_done(&t);
}

/* Every bit of every enduring row, of an entry's text each fifth. The slow variant skips more. */
#ifdef MB_ARENA_EACH
#define SPARING 11
#else
#define SPARING 1
#endif
static const struct {
    const char *table, *key, *column;
} columns[] = {
    { "log", "seq", "leaf" },         { "log", "seq", "jws" },          { "node", "at", "hash" },
    { "disclosures", "seq", "tail" }, { "checkpoint", "size", "note" },
};

Test(verify_log, a_turned_bit_is_noticed_wherever_it_is, .timeout = 280)
{
    mb_arena *scratch = mb_arena_new();
    struct temp_ledger t;
    struct mb_hash print;
    struct sqlite3 *db;
    size_t turned = 0;

    fill(&t);
    print = fingerprint_of(&t);
    t.log = mb_log_close(t.log);
    db = plain_open(t.folder);
    plain_unguard(db);
    plain_run(db, "PRAGMA synchronous=OFF");
    for (size_t c = 0; c < COUNT(columns); c++) {
        const char *last =
            mb_arena_printf(t.arena, "SELECT max(%s) FROM %s", columns[c].key, columns[c].table);

        for (int64_t row = 0; row <= plain_number(db, last); row++) {
            const char *there = mb_arena_printf(t.arena, "SELECT count(*) FROM %s WHERE %s = %lld",
                                                columns[c].table, columns[c].key, (long long)row);
            size_t bits, step;

            if (!plain_number(db, there))
                continue;
            bits = plain_bits(db, columns[c].table, columns[c].key, row, columns[c].column);
            step = (c == 1 ? 5 : 1) * SPARING;
            for (size_t bit = (size_t)row % step; bit < bits; bit += step) {
                struct verdict v;

                plain_turn(db, columns[c].table, columns[c].key, row, columns[c].column, bit);
                v = judge(scratch, t.folder, &print);
                cr_expect_neq(v.rc, MB_OK, "%s.%s of row %lld, bit %zu", columns[c].table,
                              columns[c].column, (long long)row, bit);
                plain_turn(db, columns[c].table, columns[c].key, row, columns[c].column, bit);
                mb_arena_reset(scratch);
                turned++;
            }
        }
    }
    cr_expect_eq(judge(scratch, t.folder, &print).rc, MB_OK, "put back, it holds");
    cr_expect_gt(turned, 10000 / SPARING);
    plain_close(db);
    mb_arena_free(scratch);
    temp_ledger_done(&t);
}

/* ---- what a file is changed to by hand ---- */

static const struct {
    const char *what, *sql;
    enum mb_rc rc;
    const char *found; /* among the findings */
} edits[] = {
    { "a field's content gone", "UPDATE disclosures SET tail = '' WHERE seq = 4", MB_NO,
      "disclosure-missing" },
    { "the row of it gone", "DELETE FROM disclosures WHERE seq = 4", MB_NO, "disclosure-missing" },
    { "contents swapped",
      "UPDATE disclosures SET tail = (SELECT tail FROM disclosures WHERE seq = 3)"
      " WHERE seq = 4",
      MB_NO, "stray-disclosure" },
    { "an entry gone", "DELETE FROM log WHERE seq = 4", MB_NO, "" },
    { "the last entry gone", "DELETE FROM log WHERE seq = 5; DELETE FROM disclosures WHERE seq = 5",
      MB_NO, "" },
    { "the founding gone", "DELETE FROM log WHERE seq = 0", MB_REFUSED, "not opened" },
    { "two entries in each other's place",
      "UPDATE log SET seq = 99 WHERE seq = 4; UPDATE log SET seq = 4 WHERE seq = 5;"
      "UPDATE log SET seq = 5 WHERE seq = 99",
      MB_NO, "" },
    { "one entry twice",
      "INSERT INTO log SELECT 6, leaf, jws FROM log WHERE seq = 5;"
      "INSERT INTO disclosures SELECT 6, tail FROM disclosures WHERE seq = 5",
      MB_NO, "malformed" },
    { "a node gone", "DELETE FROM node WHERE at = 2", MB_NO, "tree-differs" },
    { "the last node gone", "DELETE FROM node WHERE at = (SELECT max(at) FROM node)", MB_NO,
      "tree-differs" },
    { "a node too many", "INSERT INTO node SELECT max(at) + 1, zeroblob(32) FROM node", MB_NO,
      "tree-differs" },
    { "the newest checkpoint gone",
      "DELETE FROM checkpoint WHERE size = (SELECT max(size) FROM checkpoint)", MB_OK,
      "uncheckpointed" },
    { "all checkpoints gone", "DELETE FROM checkpoint", MB_OK, "uncheckpointed" },
    { "a checkpoint under another size", "UPDATE checkpoint SET size = 5 WHERE size = 4", MB_NO,
      "" },
    { "a checkpoint of more than there is",
      "UPDATE checkpoint SET size = 50 WHERE size = (SELECT max(size) FROM checkpoint)", MB_NO,
      "" },
    { "the index of subjects gone", "DELETE FROM line", MB_NO, "index-differs" },
    { "a subject too many", "INSERT INTO line VALUES ('specimen/X', 0, 3, 'note', 1)", MB_NO,
      "index-differs" },
    { "another kind in the index", "UPDATE line SET kind = 'note' WHERE seq = 4", MB_NO,
      "index-differs" },
    { "a table gone", "DROP TABLE node", MB_NO, "" },
};

Test(verify_log, what_is_changed_by_hand_is_found)
{
    for (size_t i = 0; i < COUNT(edits); i++) {
        struct temp_ledger t;
        struct mb_hash print;
        struct sqlite3 *db;
        struct verdict v;

        fill(&t);
        print = fingerprint_of(&t);
        t.log = mb_log_close(t.log);
        db = plain_open(t.folder);
        plain_unguard(db);
        cr_assert(plain_run(db, edits[i].sql), "%s", edits[i].sql);
        plain_close(db);
        v = judge(t.arena, t.folder, &print);
        cr_expect_eq(v.rc, edits[i].rc, "%s: %d %s", edits[i].what, v.rc, v.names);
        cr_expect(strstr(v.names, edits[i].found), "%s: %s", edits[i].what, v.names);
        temp_ledger_done(&t);
    }
}

/* ---- what its own keys sign and may not ---- */

static const char *jwk_text(mb_arena *arena, const mb_secret *secret)
{
    struct mb_str text = mb_json_write(arena, mb_jwk_make(arena, mb_secret_key(secret)));

    return mb_arena_copy(arena, text.at, text.len);
}

static const char *key_subject(mb_arena *arena, const mb_secret *secret)
{
    char kid[MB_THUMBPRINT_LEN + 1];

    mb_thumbprint(mb_secret_key(secret), kid);
    return mb_arena_printf(arena, "key/%s", kid);
}

static void by_nobody(struct temp_ledger *t, const mb_secret *other)
{
    temp_ledger_put_by(t, other, "specimen/26-0001", "note", "{}");
}

static void without_right(struct temp_ledger *t, const mb_secret *other)
{
    (void)other;
    temp_ledger_put_by(t, t->preparator, "specimen/26-0001", "identification", "{}");
}

static void enrolled_without_right(struct temp_ledger *t, const mb_secret *other)
{
    temp_ledger_put_by(t, t->preparator, key_subject(t->arena, other), "key-enrolment",
                       mb_arena_printf(t->arena, "{\"open\":{\"jwk\":%s,\"may\":[\"enrol\"]}}",
                                       jwk_text(t->arena, other)));
}

static void after_retirement(struct temp_ledger *t, const mb_secret *other)
{
    (void)other;
    temp_ledger_put_by(t, t->owner, key_subject(t->arena, t->preparator), "key-retirement", "{}");
    temp_ledger_put_by(t, t->preparator, "specimen/26-0001", "preparation", "{}");
}

static void in_doubt(struct temp_ledger *t, const mb_secret *other)
{
    (void)other;
    temp_ledger_put_by(t, t->owner, key_subject(t->arena, t->preparator), "key-retirement",
                       "{\"open\":{\"suspectFrom\":5}}");
}

static void founded_twice(struct temp_ledger *t, const mb_secret *other)
{
    (void)other;
    temp_ledger_put_by(t, t->owner, "ledger", "founding", "{}");
}

static void both_enrollers_retired(struct temp_ledger *t, const mb_secret *other)
{
    (void)other;
    temp_ledger_put_by(t, t->owner, key_subject(t->arena, t->owner), "key-retirement", "{}");
    temp_ledger_put_by(t, t->spare, key_subject(t->arena, t->spare), "key-retirement", "{}");
}

static void checkpoint_key_elsewhere(struct temp_ledger *t, const mb_secret *other)
{
    struct mb_vkey vkey =
        mb_vkey_make(MB_STR(TEMP_LEDGER_ORIGIN), MB_VKEY_LOG, mb_secret_key(other));

    temp_ledger_put_by(t, t->owner, "specimen/26-0001", "checkpoint-key",
                       mb_arena_printf(t->arena, "{\"open\":{\"checkpointKey\":\"%s\"}}",
                                       mb_vkey_write(t->arena, &vkey)));
}

static void rotated(struct temp_ledger *t, const mb_secret *other)
{
    struct mb_vkey vkey =
        mb_vkey_make(MB_STR(TEMP_LEDGER_ORIGIN), MB_VKEY_LOG, mb_secret_key(other));

    temp_ledger_put_by(t, t->owner, "ledger", "checkpoint-key",
                       mb_arena_printf(t->arena,
                                       "{\"open\":{\"checkpointKey\":\"%s\",\"why\":"
                                       "\"routine\"}}",
                                       mb_vkey_write(t->arena, &vkey)));
}

static void rotated_twice(struct temp_ledger *t, const mb_secret *other)
{
    mb_secret *third = secret_of_seed(0x91);

    rotated(t, third);
    rotated(t, other);
    mb_secret_free(third);
}

static void of_an_unknown_kind(struct temp_ledger *t, const mb_secret *other)
{
    (void)other;
    temp_ledger_put_by(t, t->owner, "specimen/26-0001", "a-kind-of-later", "{\"open\":{\"a\":1}}");
}

static void of_an_unknown_kind_that_changes(struct temp_ledger *t, const mb_secret *other)
{
    (void)other;
    temp_ledger_put_by(t, t->owner, "specimen/26-0001", "a-kind-of-later",
                       "{\"open\":{\"changes\":true}}");
}

static void nothing_wrong(struct temp_ledger *t, const mb_secret *other)
{
    (void)other;
    temp_ledger_put_by(t, t->preparator, "specimen/26-0001", "condition", "{}");
}

static const struct {
    const char *what;
    void (*add)(struct temp_ledger *t, const mb_secret *other);
    const char *sign; /* the keys that sign the checkpoint: c the ledger's, o another, t a third */
    enum mb_rc rc;
    const char *found;
} deeds[] = {
    { "nothing", nothing_wrong, "c", MB_OK, "" },
    { "signed by nobody known", by_nobody, "c", MB_NO, "key-unknown" },
    { "without the right", without_right, "c", MB_NO, "key-without-right" },
    { "enrolled without the right", enrolled_without_right, "c", MB_NO, "enrol-right" },
    { "signed after retirement", after_retirement, "c", MB_NO, "key-retired" },
    { "a key in doubt", in_doubt, "c", MB_NO, "key-suspect" },
    { "founded twice", founded_twice, "c", MB_NO, "second-founding" },
    { "the last enroller retired", both_enrollers_retired, "c", MB_NO, "last-enroller" },
    { "a checkpoint key off the ledger's chain", checkpoint_key_elsewhere, "c", MB_NO,
      "key-refused" },
    { "a checkpoint by another key", nothing_wrong, "o", MB_NO, "checkpoint-key" },
    { "a checkpoint by two", nothing_wrong, "oc", MB_OK, "" },
    { "changed keys, both sign", rotated, "oc", MB_OK, "" },
    { "changed keys, the new one alone signs", rotated, "o", MB_NO, "checkpoint-key" },
    { "changed keys, the old one alone signs", rotated, "c", MB_NO, "checkpoint-key" },
    { "changed keys twice, the newest and the oldest sign", rotated_twice, "oc", MB_NO,
      "checkpoint-key" },
    { "changed keys twice, the newest and the one between sign", rotated_twice, "ot", MB_NO,
      "checkpoint-key" },
    { "changed keys twice, all sign", rotated_twice, "otc", MB_OK, "" },
    { "an unknown kind", of_an_unknown_kind, "c", MB_OK, "unknown-kind" },
    { "an unknown kind that changes something", of_an_unknown_kind_that_changes, "c", MB_UNABLE,
      "unknown-change" },
};

Test(verify_log, what_its_own_keys_may_not_is_found)
{
    mb_secret *other = secret_of_seed(0x90), *third = secret_of_seed(0x91);

    for (size_t i = 0; i < COUNT(deeds); i++) {
        const mb_secret *keys[3];
        struct mb_error err = { 0 };
        struct temp_ledger t;
        struct mb_hash print;
        struct verdict v;
        size_t n = 0;

        fill(&t);
        print = fingerprint_of(&t);
        temp_ledger_begin(&t);
        deeds[i].add(&t, other);
        for (const char *s = deeds[i].sign; *s; s++)
            keys[n++] = *s == 'c' ? t.checkpoint : *s == 't' ? third : other;
        cr_assert_eq(mb_log_commit(t.log, keys, n, &err), MB_OK, "%s", err.text);
        v = judge(t.arena, t.folder, &print);
        cr_expect_eq(v.rc, deeds[i].rc, "%s: %d %s", deeds[i].what, v.rc, v.names);
        cr_expect(strstr(v.names, deeds[i].found), "%s: %s", deeds[i].what, v.names);
        temp_ledger_done(&t);
    }
    mb_secret_free(third);
    mb_secret_free(other);
}

/* A field erased by an entry that says so is no fault; one more erased than it says is. */
Test(verify_log, an_erasure_explains_what_is_gone)
{
    for (int more = 0; more < 2; more++) {
        struct temp_ledger t;
        struct mb_entry e;
        struct mb_hash print;
        struct sqlite3 *db;
        struct verdict v;
        struct mb_str digest, leaf;

        fill(&t);
        print = fingerprint_of(&t);
        cr_assert_eq(mb_log_entry(t.log, t.arena, 5, &e, NULL), MB_OK);
        cr_assert_eq(e.disclosure_count, 2);
        digest = mb_b64u(t.arena, e.disclosures[0].digest.b, 32);
        leaf = mb_b64u(t.arena, e.leaf.b, 32);
        temp_ledger_add(&t, "specimen/26-0001", "erasure",
                        mb_arena_printf(t.arena,
                                        "{\"open\":{\"target\":{\"entry\":\"%.*s\"},\"digests\":"
                                        "[\"%.*s\"],\"ground\":\"a person asked\"}}",
                                        MB_STR_ARG(leaf), MB_STR_ARG(digest)));
        db = plain_open(t.folder);
        cr_assert(plain_run(
            db, mb_arena_printf(t.arena, "UPDATE disclosures SET tail = '%.*s' WHERE seq = 5",
                                more ? 0 : (int)e.disclosures[1].text.len + 1,
                                e.disclosures[1].text.at)));
        plain_close(db);
        v = judge(t.arena, t.folder, &print);
        cr_expect_eq(v.rc, more ? MB_NO : MB_OK, "%s", v.names);
        cr_expect(strstr(v.names, "erased"), "%s", v.names);
        cr_expect_eq(strstr(v.names, "disclosure-missing") != NULL, more, "%s", v.names);
        temp_ledger_done(&t);
    }
}
