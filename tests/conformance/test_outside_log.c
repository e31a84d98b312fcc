/*
 * A ledger of 203 entries that we wrote, judged by programs that share nothing with ours:
 *   - /usr/bin/python3 with pyca/cryptography (tests/support/judge.py, written from the format's
 *     description alone): every signature, right, link, digest and the root;
 *   - openssl pkeyutl: one entry's signature;
 *   - Go's golang.org/x/mod sumdb/note and sumdb/tlog: the checkpoints, 203 inclusion proofs and
 *     growth proofs between all sizes that were signed.
 */
#include <criterion/criterion.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "buf.h"
#include "bytes_of.h"
#include "outside.h"
#include "temp_ledger.h"
#include "text.h"

enum { ENTRIES = 203, GROUP = 25 };

#define PYTHON "/usr/bin/python3"
#define GO "env GO111MODULE=off GOPATH=/usr/share/gocode GOCACHE=\"$PWD/cache\" GOFLAGS= go"

static const char *const bodies[] = {
    "{}",
    "{\"open\":{\"objectForm\":\"slab\",\"count\":12,\"yes\":true,\"none\":null}}",
    "{\"sale\":{\"eventDate\":\"2026-05-02\",\"site\":{\"ref\":\"site/S001\"}}}",
    "{\"open\":{\"a\":1},\"sale\":{\"b\":2},\"science\":{\"c\":[3]},\"land\":{\"d\":\"4\"},"
    "\"private\":{\"e\":{\"f\":5}},\"own\":{\"g\":6}}",
    "{\"sale\":{\"into*\":[{\"ref\":\"specimen/A\"},{\"ref\":\"specimen/B\"}],\"why\":\"sold\"}}",
    "{\"open\":{\"list*\":[\"x\",\"y\"]}}",
    "{\"science\":{\"locality\":\"d\xC3\xA9j\xC3\xA0 \xE2\x80\x93 \xE5\x8C\xBA \xF0\x9F\xA6\xB4 "
    "\\\"quoted\\\" \\\\ back\\nnext\\tline\"}}",
};

static void fill(struct temp_ledger *t)
{
    temp_ledger_new(t);
    while (mb_log_next_seq(t->log) < ENTRIES) {
        temp_ledger_begin(t);
        for (int i = 0; i < GROUP && mb_log_next_seq(t->log) < ENTRIES; i++) {
            int64_t seq = mb_log_next_seq(t->log);
            bool prepared = seq % 10 == 7;

            temp_ledger_put_by(t, prepared ? t->preparator : t->owner,
                               mb_arena_printf(t->arena, "specimen/26-%04d", (int)(seq % 40)),
                               prepared ? "preparation" : "note",
                               bodies[(size_t)seq % (sizeof bodies / sizeof *bodies)]);
        }
        temp_ledger_commit(t);
    }
}

static struct mb_entry entry_at(struct temp_ledger *t, int64_t seq)
{
    struct mb_error err = { 0 };
    struct mb_entry entry;

    cr_assert_eq(mb_log_entry(t->log, t->arena, seq, &entry, &err), MB_OK, "%s", err.text);
    return entry;
}

/* "JWS~D1~...~Dn~" of one entry; `show` false: nothing of it is shown. */
static void add_sd_jwt(struct mb_buf *buf, const struct mb_entry *e, bool show)
{
    mb_buf_printf(buf, "%.*s~", MB_STR_ARG(e->jws));
    for (size_t i = 0; show && i < e->disclosure_count; i++)
        mb_buf_printf(buf, "%.*s~", MB_STR_ARG(e->disclosures[i].text));
    mb_buf_add_char(buf, '\n');
}

static char *judge_path(mb_arena *arena, const char *name)
{
    char *here = realpath("tests/support", NULL), *path;

    cr_assert_not_null(here);
    path = mb_arena_printf(arena, "%s/%s", here, name);
    free(here);
    return path;
}

Test(outside_log, python_agrees_on_every_entry)
{
    struct temp_ledger t;
    struct mb_str said;
    struct mb_hash root;
    char hex[65], *changed;

    OUTSIDE_NEEDS(PYTHON);
    fill(&t);
    for (int show = 0; show < 2; show++) {
        MB_BUF_AUTO struct mb_buf buf;
        size_t disclosures = 0;

        mb_buf_init(&buf, 16u << 20);
        for (int64_t seq = 0; seq < ENTRIES; seq++) {
            struct mb_entry e = entry_at(&t, seq);

            add_sd_jwt(&buf, &e, show);
            disclosures += show ? e.disclosure_count : 0;
        }
        cr_assert_eq(mb_log_root(t.log, ENTRIES, &root, NULL), MB_OK);
        mb_hex_write(hex, root.b, sizeof root.b);
        outside_file(t.arena, "entries", mb_buf_str(&buf));
        cr_expect_eq(outside_run(t.arena, &said, PYTHON " %s entries entries",
                                 judge_path(t.arena, "judge.py")),
                     0, "%.*s", MB_STR_ARG(said));
        cr_expect(
            mb_str_is(said, mb_arena_printf(t.arena, "%d %zu %s\n", ENTRIES, disclosures, hex)),
            "%.*s", MB_STR_ARG(said));
        /* and it is no judge that says yes to all: a letter changed in the middle */
        changed = mb_arena_copy(t.arena, buf.at, buf.len);
        changed[buf.len / 2] = changed[buf.len / 2] == 'A' ? 'B' : 'A';
        outside_file(t.arena, "entries", mb_str_of(changed));
        cr_expect_eq(outside_run(t.arena, &said, PYTHON " %s entries entries",
                                 judge_path(t.arena, "judge.py")),
                     1);
        cr_expect(mb_str_starts(said, "fault: "), "%.*s", MB_STR_ARG(said));
    }
    outside_end();
    temp_ledger_done(&t);
}

/* The published certificate as well: this judge and ours must be of one mind about it. */
Test(outside_log, python_agrees_on_the_first_certificate)
{
    mb_arena *arena = mb_arena_new();
    struct mb_str said, text = file_of_tree(arena, "tests/fixtures/first.certificate.json");

    OUTSIDE_NEEDS(PYTHON);
    outside_file(arena, "certificate.json", text);
    cr_expect_eq(outside_run(arena, &said, PYTHON " %s certificate certificate.json",
                             judge_path(arena, "judge.py")),
                 0);
    cr_expect(mb_str_is(said, "9 9 buyer\n"), "%.*s", MB_STR_ARG(said));
    outside_end();
    mb_arena_free(arena);
}

/* SubjectPublicKeyInfo of an Ed25519 key: RFC 8410 section 4. */
static const char spki[] = "\x30\x2a\x30\x05\x06\x03\x2b\x65\x70\x03\x21\x00";

Test(outside_log, openssl_agrees_on_a_signature)
{
    struct temp_ledger t;
    struct mb_entry e;
    struct mb_str said;
    char der[44], changed[64];

    OUTSIDE_NEEDS("openssl");
    temp_ledger_new(&t);
    e = temp_ledger_add(&t, "specimen/26-0001", "note", bodies[3]);
    memcpy(der, spki, 12);
    memcpy(der + 12, mb_secret_key(t.owner)->b, 32);
    memcpy(changed, e.sig.b, 64);
    changed[5] ^= 1;
    outside_file(t.arena, "key.der", (struct mb_str){ der, sizeof der });
    outside_file(t.arena, "signed", e.signed_part);
    outside_file(t.arena, "good", (struct mb_str){ (const char *)e.sig.b, 64 });
    outside_file(t.arena, "bad", (struct mb_str){ changed, 64 });
#define PKEYUTL "openssl pkeyutl -verify -pubin -inkey key.der -keyform DER -rawin -in signed"
    cr_expect_eq(outside_run(t.arena, &said, PKEYUTL " -sigfile good"), 0, "%.*s",
                 MB_STR_ARG(said));
    cr_expect(outside_holds(said, "Signature Verified Successfully"), "%.*s", MB_STR_ARG(said));
    cr_expect_neq(outside_run(t.arena, &said, PKEYUTL " -sigfile bad"), 0);
    outside_end();
    temp_ledger_done(&t);
}

static void add_64(mb_arena *arena, struct mb_buf *buf, const void *bytes, size_t len)
{
    mb_buf_printf(buf, " %.*s", MB_STR_ARG(mb_b64(arena, bytes, len)));
}

static void add_path(mb_arena *arena, struct mb_buf *buf, const struct mb_path *path)
{
    for (size_t i = 0; i < path->count; i++)
        add_64(arena, buf, path->node[i].b, 32);
    mb_buf_add_char(buf, '\n');
}

static size_t add_checkpoints(struct temp_ledger *t, struct mb_buf *buf, int64_t *sizes)
{
    size_t count = 0;

    for (int64_t size = 1; size <= ENTRIES; size++) {
        struct mb_str note;
        char *forged;

        if (mb_log_checkpoint(t->log, t->arena, size, &note, NULL, NULL))
            continue;
        sizes[count++] = size;
        mb_buf_add_text(buf, "note");
        add_64(t->arena, buf, note.at, note.len);
        forged = mb_arena_copy(t->arena, note.at, note.len);
        forged[strcspn(forged, "\n") + 1]++;
        mb_buf_add_text(buf, "\nforged");
        add_64(t->arena, buf, forged, note.len);
        mb_buf_add_char(buf, '\n');
    }
    return count;
}

static void add_proofs(struct temp_ledger *t, struct mb_buf *buf, const int64_t *sizes,
                       size_t count)
{
    struct mb_hash root, old;
    struct mb_path path;

    for (int64_t seq = 0; seq < ENTRIES; seq++) {
        struct mb_entry e = entry_at(t, seq);

        mb_buf_add_text(buf, "entry");
        add_64(t->arena, buf, e.jws.at, e.jws.len);
        mb_buf_add_char(buf, '\n');
    }
    cr_assert_eq(mb_log_root(t->log, ENTRIES, &root, NULL), MB_OK);
    for (int64_t seq = 0; seq < ENTRIES; seq++) {
        cr_assert_eq(mb_log_prove(t->log, seq, ENTRIES, &path, NULL), MB_OK);
        mb_buf_printf(buf, "record %lld %d", (long long)seq, ENTRIES);
        add_64(t->arena, buf, root.b, 32);
        add_path(t->arena, buf, &path);
    }
    for (size_t i = 0; i < count; i++)
        for (size_t j = i; j < count; j++) {
            cr_assert_eq(mb_log_root(t->log, sizes[i], &old, NULL), MB_OK);
            cr_assert_eq(mb_log_root(t->log, sizes[j], &root, NULL), MB_OK);
            cr_assert_eq(mb_log_prove_growth(t->log, sizes[i], sizes[j], &path, NULL), MB_OK);
            mb_buf_printf(buf, "grown %lld %lld", (long long)sizes[i], (long long)sizes[j]);
            add_64(t->arena, buf, old.b, 32);
            add_64(t->arena, buf, root.b, 32);
            add_path(t->arena, buf, &path);
        }
}

Test(outside_log, go_agrees_on_checkpoints_and_proofs, .timeout = 240)
{
    MB_BUF_AUTO struct mb_buf buf;
    int64_t sizes[ENTRIES];
    struct temp_ledger t;
    struct mb_vkey vkey;
    struct mb_str said;
    size_t count;
    char *spoilt, *at;

    OUTSIDE_NEEDS("go");
    fill(&t);
    vkey = mb_vkey_make(mb_log_origin(t.log), MB_VKEY_LOG, mb_secret_key(t.checkpoint));
    mb_buf_init(&buf, 64u << 20);
    mb_buf_printf(&buf, "vkey %s\n", mb_vkey_write(t.arena, &vkey));
    count = add_checkpoints(&t, &buf, sizes);
    add_proofs(&t, &buf, sizes, count);
    outside_file(t.arena, "log", mb_buf_str(&buf));
    cr_expect_eq(outside_run(t.arena, &said, GO " build -o judge %s && ./judge log",
                             judge_path(t.arena, "judge_log.go")),
                 0, "%.*s", MB_STR_ARG(said));
    cr_expect(
        mb_str_is(said, mb_arena_printf(t.arena,
                                        "%zu notes, %zu forged, %d entries, %d records, "
                                        "%zu grown\n",
                                        count, count, ENTRIES, ENTRIES, count * (count + 1) / 2)),
        "%.*s", MB_STR_ARG(said));
    /* and it refuses a proof for another entry */
    spoilt = mb_arena_copy(t.arena, buf.at, buf.len);
    at = strstr(spoilt, "\nrecord 100 ");
    at[9] = '7';
    outside_file(t.arena, "log", mb_str_of(spoilt));
    cr_expect_eq(outside_run(t.arena, &said, "./judge log"), 1);
    cr_expect(mb_str_starts(said, "does not hold: record 170 "), "%.*s", MB_STR_ARG(said));
    outside_end();
    temp_ledger_done(&t);
}
