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

/* Judged as a stranger with the fingerprint would; what cannot even be opened is not well either. */
static struct verdict judge(mb_arena *arena, const char *folder, const struct mb_hash *fingerprint)
{
    struct mb_trusted ledger = { MB_STR(TEMP_LEDGER_ORIGIN), *fingerprint };
    struct mb_trust trust = { &ledger, 1 };
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

/* Every bit of every enduring row. `step` skips some where a row is long and the rest is alike. */
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
            step = c == 1 ? 5 : 1; /* an entry's text is long: each fifth bit, all bits in turn */
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
    cr_expect_gt(turned, 10000);
    plain_close(db);
    mb_arena_free(scratch);
    temp_ledger_done(&t);
}
