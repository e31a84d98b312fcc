/* L4: several processes write at once; none loses, none forks. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "merkle.h"
#include "temp_ledger.h"
#include "text.h"

enum { WRITERS = 4, EACH = 50 };

/* One writer: its own connection, each entry a group of its own, every second with a checkpoint. A
 * line "seq writer number" on the pipe for each entry that was acknowledged. */
static void write_alone(const struct temp_ledger *parent, int writer, int pipe_end)
{
    struct temp_ledger t = *parent;
    const mb_secret *keys[] = { parent->checkpoint };
    struct mb_error err = { 0 };

    t.arena = mb_arena_new();
    if (mb_log_open(t.arena, t.folder, MB_LOG_WRITE, &t.log, &err))
        _exit(2);
    for (int i = 0; i < EACH; i++) {
        const char *own = mb_arena_printf(t.arena, "specimen/W%d", writer);
        const char *line;
        int64_t seq;

        if (mb_log_begin(t.log, &err))
            _exit(3);
        seq = mb_log_next_seq(t.log);
        if (temp_ledger_put(
                &t, i % 2 ? own : "specimen/shared", "note",
                mb_arena_printf(t.arena, "{\"open\":{\"writer\":%d,\"number\":%d}}", writer, i),
                &err)
            || mb_log_commit(t.log, keys, (size_t)(i % 2), &err))
            _exit(4);
        line = mb_arena_printf(t.arena, "%lld %d %d\n", (long long)seq, writer, i);
        if (write(pipe_end, line, strlen(line)) < 0)
            _exit(5);
    }
    mb_log_close(t.log);
    _exit(0);
}

static void check_acknowledged(struct temp_ledger *t, FILE *acknowledged, int *count)
{
    long long seq;
    int writer, number;

    for (*count = 0; fscanf(acknowledged, "%lld %d %d", &seq, &writer, &number) == 3; ++*count) {
        struct mb_entry e;

        cr_assert_eq(mb_log_entry(t->log, t->arena, seq, &e, NULL), MB_OK);
        cr_expect_eq(mb_json_int(mb_entry_open(&e, "writer"), -1), writer);
        cr_expect_eq(mb_json_int(mb_entry_open(&e, "number"), -1), number);
    }
}

static void check_links(struct temp_ledger *t, int64_t size)
{
    struct mb_hash before = { { 0 } }, root;
    struct mb_edge edge = { 0 };
    int64_t shared = 0, own[WRITERS] = { 0 };

    for (int64_t seq = 0; seq < size; seq++) {
        struct mb_entry e;

        cr_assert_eq(mb_log_entry(t->log, t->arena, seq, &e, NULL), MB_OK);
        cr_expect_eq(e.seq, seq);
        cr_expect(seq == 0 || mb_hash_equal(&e.prev, &before));
        cr_expect(mb_entry_signed_by(&e, mb_secret_key(t->owner)));
        if (mb_str_is(e.sub, "specimen/shared"))
            cr_expect_eq(e.nth, shared++);
        else if (mb_str_starts(e.sub, "specimen/W"))
            cr_expect_eq(e.nth, own[e.sub.at[10] - '0']++);
        before = e.leaf;
        cr_assert_eq(mb_edge_push(&edge, &e.leaf, NULL, NULL, NULL), MB_OK);
    }
    cr_expect_eq(shared, WRITERS * EACH / 2);
    for (int i = 0; i < WRITERS; i++)
        cr_expect_eq(own[i], EACH / 2);
    before = mb_edge_root(&edge);
    cr_assert_eq(mb_log_root(t->log, size, &root, NULL), MB_OK);
    cr_expect(mb_hash_equal(&root, &before), "the stored tree is that of the entries");
}

/* Every checkpoint that anybody signed is of this one history. */
static void check_checkpoints(struct temp_ledger *t, int64_t size)
{
    int signed_count = 0;

    for (int64_t n = 1; n <= size; n++) {
        struct mb_checkpoint checkpoint;
        struct mb_hash root;
        struct mb_note note;
        struct mb_str bytes;
        enum mb_rc rc = mb_log_checkpoint(t->log, t->arena, n, &bytes, NULL, NULL);

        if (rc == MB_NO)
            continue;
        cr_assert_eq(rc, MB_OK);
        cr_assert_eq(mb_note_read(t->arena, bytes, &note, NULL), MB_OK);
        cr_assert_eq(mb_checkpoint_read(note.text, &checkpoint, NULL, NULL), MB_OK);
        cr_assert_eq(mb_log_root(t->log, n, &root, NULL), MB_OK);
        cr_expect(checkpoint.size == (uint64_t)n && mb_hash_equal(&checkpoint.root, &root));
        signed_count++;
    }
    cr_expect_eq(signed_count, 1 + WRITERS * EACH / 2);
}

Test(log_writers, four_processes_lose_nothing_and_fork_nothing)
{
    struct temp_ledger t;
    int ends[2], status, acknowledged;
    int64_t size;

    temp_ledger_new(&t);
    t.log = mb_log_close(t.log);
    cr_assert_eq(pipe(ends), 0);
    for (int i = 0; i < WRITERS; i++) {
        pid_t child = fork();

        cr_assert_geq(child, 0);
        if (child == 0)
            write_alone(&t, i, ends[1]);
    }
    close(ends[1]);
    cr_assert_eq(mb_log_open(t.arena, t.folder, MB_LOG_READ, &t.log, NULL), MB_OK);
    {
        FILE *lines = fdopen(ends[0], "r");

        check_acknowledged(&t, lines,
                           &acknowledged); /* each as soon as it is told, read by another */
        fclose(lines);
    }
    for (int i = 0; i < WRITERS; i++) {
        cr_assert_geq(wait(&status), 0);
        cr_expect(WIFEXITED(status) && WEXITSTATUS(status) == 0, "a writer ended with %d", status);
    }
    cr_expect_eq(acknowledged, WRITERS * EACH);
    cr_assert_eq(mb_log_size(t.log, &size, NULL), MB_OK);
    cr_expect_eq(size, 3 + WRITERS * EACH);
    check_links(&t, size);
    check_checkpoints(&t, size);
    temp_ledger_done(&t);
}
