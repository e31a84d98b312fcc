/* A ledger on disk as it may be met: attached files gone or changed, cut short, written to by
 * somebody else meanwhile, of a later version, with numbers that are none; by any number of hands.
 */
#include <criterion/criterion.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "fileio.h"
#include "forge.h"
#include "plain_db.h"
#include "sha256.h"
#include "temp_ledger.h"
#include "text.h"
#include "verify_log.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

static struct temp_ledger t;
static struct mb_hash print;

static void set_up(void)
{
    temp_ledger_new(&t);
    print = *mb_log_fingerprint(t.log);
}

static void tear_down(void)
{
    temp_ledger_done(&t);
}

TestSuite(verify_log_disk, .init = set_up, .fini = tear_down);

struct seen {
    struct mb_log_check check;
    const char *names; /* "rc name name", each once */
    uint64_t calls, last;
};

static void note(void *ctx, uint64_t done, uint64_t entries)
{
    struct seen *seen = ctx;

    cr_expect_geq(done, seen->last);
    cr_expect_leq(done, entries);
    seen->last = done;
    seen->calls++;
}

static struct seen *judge(unsigned threads)
{
    struct mb_trusted ledger = { MB_STR(TEMP_LEDGER_ORIGIN), print };
    struct mb_trust trust = { &ledger, 1, NULL, 0 };
    struct seen *seen = MB_NEW(t.arena, struct seen);
    struct mb_error err = { 0 };
    char *names;
    enum mb_rc rc;

    seen->check = (struct mb_log_check){ .arena = t.arena, .trust = &trust,
                                         .findings = mb_findings_new(t.arena, 0),
                                         .threads = threads, .progress = note, .ctx = seen };
    rc = mb_log_open(t.arena, t.folder, MB_LOG_CHECK, &seen->check.log, &err);
    if (rc) {
        seen->names = mb_arena_printf(t.arena, "not opened: %s", err.text);
        return seen;
    }
    rc = mb_log_verify(&seen->check, &err);
    names = mb_arena_printf(t.arena, "%d", rc ? rc : mb_findings_rc(seen->check.findings));
    for (int id = 0; id < MB_FINDING_COUNT; id++)
        if (mb_findings_of(seen->check.findings, (enum mb_finding_id)id))
            names = mb_arena_printf(t.arena, "%s %s", names, mb_finding_kinds[id].name);
    seen->names = names;
    mb_log_close(seen->check.log);
    return seen;
}

static const char *json_of(struct seen *seen)
{
    struct mb_str text = mb_json_write(t.arena, mb_findings_json(t.arena, seen->check.findings));

    return mb_arena_copy(t.arena, text.at, text.len);
}

static struct sqlite3 *opened(void)
{
    struct sqlite3 *db;

    t.log = mb_log_close(t.log);
    db = plain_open(t.folder);
    plain_unguard(db);
    return db;
}

/* ---- attached files ---- */

/* Puts a file into the ledger as storage.md says, and names it in an entry. */
static const char *attach(const char *bytes, size_t len, const char *subject)
{
    struct mb_hash hash = mb_sha256(bytes, len);
    char hex[MB_HEX_LEN(32) + 1];
    const char *folder = mb_path_join(t.arena, t.folder, "files"), *near, *path;

    mb_hex_write(hex, hash.b, 32);
    near = mb_arena_printf(t.arena, "%s/%.2s", folder, hex);
    path = mb_arena_printf(t.arena, "%s/%s", near, hex);
    mkdir(folder, 0755);
    mkdir(near, 0755);
    if (access(path, R_OK) != 0)
        cr_assert_eq(mb_file_write(path, (struct mb_str){ bytes, len }, 0644, NULL), MB_OK);
    temp_ledger_add(&t, subject, "note",
                    mb_arena_printf(t.arena,
                                    "{\"sale\":{\"photos\":[{\"file\":{\"file\":\"%s\","
                                    "\"bytes\":%zu},\"view\":\"front\"}]}}",
                                    hex, len));
    return path;
}

Test(verify_log_disk, attached_files_are_hashed_again)
{
    enum { LARGE = 3 << 20 };
    char *large = mb_arena_get(t.arena, LARGE);
    const char *a = attach("front", 5, "specimen/26-0001"), *b, *c;
    struct seen *seen;
    int fd;

    memset(large, 'x', LARGE);
    b = attach(large, LARGE, "specimen/26-0001");
    c = attach("back", 4, "specimen/26-0002");
    cr_assert_str_eq(attach("front", 5, "specimen/26-0002"), a, "one file, named twice");
    seen = judge(2);
    cr_expect_str_eq(seen->names, "0");
    cr_expect_eq(seen->check.attachments, 3, "each once: %llu",
                 (unsigned long long)seen->check.attachments);
    /* the last byte of a large one, and one that grew */
    fd = open(b, O_WRONLY);
    cr_assert_eq(pwrite(fd, "y", 1, LARGE - 1), 1);
    close(fd);
    cr_assert_eq(unlink(a), 0);
    seen = judge(2);
    cr_expect_str_eq(seen->names, "1 file-changed file-missing");
    cr_expect(strstr(json_of(seen), "\"seq\":3,"), "the first entry that names it: %s",
              json_of(seen));
    cr_expect(strstr(json_of(seen), "\"seq\":4,"), "%s", json_of(seen));
    fd = open(c, O_WRONLY | O_APPEND);
    cr_assert_eq(write(fd, ".", 1), 1);
    close(fd);
    seen = judge(1);
    cr_expect_eq(mb_findings_of(seen->check.findings, MB_F_FILE_CHANGED), 2);
}

/* A hostile ledger names what it likes: only a hash becomes part of a path, and only a plain file
 * is read. */
Test(verify_log_disk, no_other_file_of_the_machine_is_looked_at)
{
    static const char *const names[] = {
        "../../../../../../../../../../../../../../../../../etc//hostname",
        "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA",
        "/dev/zero///////////////////////////////////////////////////////",
    };
    const char *link = attach("front", 5, "specimen/26-0001");
    struct seen *seen;

    for (size_t i = 0; i < COUNT(names); i++) {
        cr_assert_eq(strlen(names[i]), 64);
        temp_ledger_add(&t, "specimen/26-0001", "note",
                        mb_arena_printf(t.arena,
                                        "{\"sale\":{\"photos\":[{\"file\":{\"file\":\"%s\"}}]}}",
                                        names[i]));
    }
    seen = judge(1);
    cr_expect_str_eq(seen->names, "0", "what is no hash names no file");
    cr_expect_eq(seen->check.attachments, 1);
    cr_assert_eq(unlink(link), 0);
    cr_assert_eq(symlink("/dev/zero", link), 0);
    cr_expect_str_eq(judge(1)->names, "1 file-missing");
    cr_assert_eq(unlink(link), 0);
    cr_assert_eq(mkfifo(link, 0600), 0);
    cr_expect_str_eq(judge(1)->names, "1 file-missing");
}

/* ---- any number of hands ---- */

static void fill(int count)
{
    temp_ledger_begin(&t);
    for (int i = 0; i < count; i++)
        temp_ledger_put_by(&t, i % 2 ? t.preparator : t.owner,
                           mb_arena_printf(t.arena, "specimen/26-%04d", i / 4),
                           i % 2 ? "preparation" : "note",
                           "{\"sale\":{\"eventDate\":\"2026-05-02\"},"
                           "\"private\":{\"remarks\":\"x\"}}");
    temp_ledger_commit(&t);
}

Test(verify_log_disk, the_answer_is_the_same_by_any_number_of_threads, .timeout = 120)
{
    static const unsigned threads[] = { 1, 2, 5, 0 };
    const char *first = NULL;
    struct sqlite3 *db;

    fill(3300); /* more than three batches */
    for (size_t i = 0; i < COUNT(threads); i++) {
        struct seen *seen = judge(threads[i]);

        cr_expect_str_eq(seen->names, "0", "%u threads", threads[i]);
        cr_expect_eq(seen->check.entries, 3303);
        cr_expect_eq(seen->check.disclosures, 2 * 3300);
        cr_expect_eq(seen->check.checkpoint_size, 3303);
        cr_expect_geq(seen->calls, 3);
        cr_expect_eq(seen->last, 3303, "it says when it is done");
    }
    db = opened();
    for (int row = 40; row < 3300; row += 500)
        plain_turn(db, "log", "seq", row, "jws", 999);
    plain_turn(db, "node", "at", 2000, "hash", 3);
    plain_turn(db, "disclosures", "seq", 1500, "tail", 77);
    plain_close(db);
    for (size_t i = 0; i < COUNT(threads); i++) {
        const char *found = json_of(judge(threads[i]));

        if (!first)
            first = found;
        cr_expect_str_eq(found, first, "%u threads", threads[i]);
        for (int row = 40; row < 3300; row += 500)
            cr_expect(strstr(found, mb_arena_printf(t.arena, "\"seq\":%d,", row)),
                      "entry %d is named", row);
    }
}

/* ---- written to meanwhile ---- */

/* Another process appends as fast as it can: each look is at one moment, and holds. */
Test(verify_log_disk, a_ledger_may_be_written_to_while_it_is_judged, .timeout = 120)
{
    int rounds = 0, status = 0;
    uint64_t before = 0;
    pid_t writer;

    fill(500);
    t.log = mb_log_close(t.log);
    writer = fork();
    if (writer == 0) {
        struct mb_error err = { 0 };

        if (mb_log_open(t.arena, t.folder, MB_LOG_WRITE, &t.log, &err))
            _exit(2);
        for (int i = 0; i < 120; i++)
            temp_ledger_add(&t, mb_arena_printf(t.arena, "specimen/27-%04d", i), "note",
                            "{\"private\":{\"remarks\":\"x\"}}");
        mb_log_close(t.log);
        _exit(0);
    }
    while (waitpid(writer, &status, WNOHANG) == 0) {
        struct seen *seen = judge(2);

        cr_expect_str_eq(seen->names, "0");
        cr_expect_geq(seen->check.entries, before);
        before = seen->check.entries;
        rounds++;
    }
    cr_expect(WIFEXITED(status) && WEXITSTATUS(status) == 0);
    cr_expect_geq(rounds, 2);
    cr_expect_eq(judge(2)->check.entries, 623);
}

/* ---- cut short ---- */

Test(verify_log_disk, a_database_cut_short_is_found_at_any_length, .timeout = 120)
{
    const char *path = mb_path_join(t.arena, t.folder, "ledger.db");
    struct mb_str whole;
    struct sqlite3 *db;

    fill(200);
    db = opened();
    cr_assert(plain_run(db, "PRAGMA wal_checkpoint(TRUNCATE)"));
    plain_close(db);
    cr_assert_eq(mb_file_read(t.arena, path, 64u << 20, &whole, NULL), MB_OK);
    for (size_t cut = 1; cut < 40; cut++) {
        size_t len = whole.len * (40 - cut) / 40;
        const char *names;

        if (cut % 2)
            len -= len % 4096; /* at a page's end */
        cr_assert_eq(mb_file_write(path, (struct mb_str){ whole.at, len }, 0600, NULL), MB_OK);
        unlink(mb_arena_printf(t.arena, "%s-wal", path));
        unlink(mb_arena_printf(t.arena, "%s-shm", path));
        names = judge(2)->names;
        cr_expect(names[0] == '1' || strncmp(names, "not opened: ", 12) == 0,
                  "%zu of %zu bytes: %s", len, whole.len, names);
    }
    cr_assert_eq(mb_file_write(path, whole, 0600, NULL), MB_OK);
    cr_expect_str_eq(judge(2)->names, "0", "put back, it holds");
}

/* ---- numbers that are none ---- */

static const struct {
    const char *what, *sql, *found;
} numbers[] = {
    { "an entry far out", "INSERT INTO log SELECT 4611686018427387904, leaf, jws FROM log"
                          " WHERE seq = 5",
      "hole-in-chain" },
    { "a checkpoint far out", "UPDATE checkpoint SET size = 9223372036854775807"
                              " WHERE size = (SELECT max(size) FROM checkpoint)",
      "rolled-back" },
    { "a node far out", "INSERT INTO node VALUES (9223372036854775807, zeroblob(32))",
      "tree-differs" },
    { "the newest entry moved up", "UPDATE log SET seq = seq + 1 WHERE seq = 5", "hole-in-chain" },
};

Test(verify_log_disk, a_number_that_is_none_is_a_finding_and_costs_nothing)
{
    fill(3);
    for (size_t i = 0; i < COUNT(numbers); i++) {
        struct temp_ledger again;
        struct sqlite3 *db;
        const char *names;

        temp_ledger_new(&again);
        temp_ledger_done(&t);
        t = again;
        print = *mb_log_fingerprint(t.log);
        fill(3);
        db = opened();
        cr_assert(plain_run(db, numbers[i].sql), "%s", numbers[i].sql);
        plain_close(db);
        names = judge(1)->names;
        cr_expect(names[0] == '1' && strstr(names, numbers[i].found), "%s: %s", numbers[i].what,
                  names);
    }
}

/* ---- of a later version ---- */

/* What a newer program wrote is not held against the ledger: what follows from it we cannot know.
 */
Test(verify_log_disk, entries_of_a_later_version_leave_the_answer_open)
{
    struct mb_hash leaf;
    struct mb_str jws, prior;
    const char *payload;
    struct sqlite3 *db;
    struct mb_entry last;
    char hex[MB_HEX_LEN(32) + 1];

    fill(3);
    cr_assert_eq(mb_log_entry(t.log, t.arena, 5, &last, NULL), MB_OK);
    prior = mb_b64u(t.arena, last.leaf.b, 32);
    payload = mb_arena_printf(t.arena,
                              "{\"_sd_alg\":\"sha-256\",\"body\":{},\"iat\":%lld,\"iss\":\"%s\","
                              "\"kind\":\"note\",\"nth\":3,\"prev\":\"%.*s\",\"prior\":\"%.*s\","
                              "\"seq\":6,\"sub\":\"specimen/26-0000\",\"v\":2}",
                              (long long)last.iat, TEMP_LEDGER_ORIGIN, MB_STR_ARG(prior),
                              MB_STR_ARG(prior));
    jws = forge_jws(t.arena, t.owner, forge_header(t.arena, t.owner), mb_str_of(payload));
    leaf = mb_leaf_hash(jws);
    mb_hex_write(hex, leaf.b, 32);
    db = opened();
    cr_assert(plain_run(db, mb_arena_printf(t.arena,
                                            "INSERT INTO log VALUES (6, x'%s', '%.*s');"
                                            "INSERT INTO disclosures VALUES (6, '')",
                                            hex, MB_STR_ARG(jws))));
    plain_close(db);
    {
        struct seen *seen = judge(1);

        /* node 6 completes nothing; the index of the newer entry is not ours to judge */
        cr_expect_str_eq(seen->names, "3 uncheckpointed unknown-version", "%s", json_of(seen));
    }
    /* but a bit turned in front of it is still found */
    db = plain_open(t.folder);
    plain_turn(db, "log", "seq", 4, "jws", 999);
    plain_close(db);
    cr_expect_eq(judge(1)->names[0], '1');
}
