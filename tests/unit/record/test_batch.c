/* Many entries in one group, several writers at once, undoing. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "session.h"
#include "story.h"
#include "text.h"
#include "workbench.h"

static struct workbench b;

static void set_up(void)
{
    workbench_house(&b);
}

static void tear_down(void)
{
    workbench_done(&b);
}

TestSuite(batch, .init = set_up, .fini = tear_down);

#define SOUND "unknown-ledger"

static mb_batch *begin(const char *name)
{
    mb_batch *batch = NULL;

    cr_assert_eq(mb_batch_begin(b.ledger, b.arena, name, &batch, &b.err), MB_OK, "%s", b.err.text);
    return batch;
}

static enum mb_rc add(mb_batch *batch, const char *id, const char *date)
{
    return workbench_add(&b, batch, "finds.csv: line 12", "collecting", id, "fieldDay=D001",
                         "recordNumber=T-1", "verbatimIdentification=x", "objectQuantity=1",
                         "objectForm=slab", "quantityHow=counted", "materialClass=invertebrate",
                         "horizon=H-A", "inPlace=in place",
                         mb_arena_printf(b.arena, "eventDate=%s", date), NULL);
}

static void make(const char *name, int from, int to)
{
    mb_batch *batch = begin(name);

    for (int i = from; i < to; i++)
        cr_assert_eq(add(batch, mb_arena_printf(b.arena, "26-%04d", i), "2026-05-30"), MB_OK,
                     "%s", b.err.text);
    cr_assert_eq(mb_batch_end(batch, &b.err), MB_OK, "%s", b.err.text);
}

Test(batch, all_are_there_or_none)
{
    int64_t size = workbench_size(&b);
    mb_batch *batch = begin("evening");

    for (int i = 0; i < 20; i++)
        cr_assert_eq(add(batch, mb_arena_printf(b.arena, "26-%04d", i), "2026-05-30"), MB_OK);
    mb_batch_cancel(batch);
    cr_assert_eq(workbench_size(&b), size);
    cr_assert_eq(workbench_record(&b, "note", "specimen/26-0001", "text=x", NULL), MB_REFUSED,
                 "what was given up is not remembered");
    make("evening", 0, 20);
    cr_assert_eq(workbench_size(&b), size + 20);
    cr_assert_str_eq(workbench_field(&b, size + 7, "batch", NULL), "\"evening\"");
    cr_assert_str_eq(workbench_verify(&b), SOUND);
}

Test(batch, a_faulty_entry_leaves_it_as_it_was)
{
    int64_t size = workbench_size(&b);
    mb_batch *batch = begin("evening");

    cr_assert_eq(add(batch, "26-0001", "2026-05-30"), MB_OK);
    cr_assert_eq(add(batch, "26-0002", "2026-13-02"), MB_REFUSED);
    cr_assert_str_eq(b.err.text, "finds.csv: line 12: field eventDate: '2026-13-02' is no date;"
                                 " write 2026-05-02, 2026-05 or 2026");
    cr_assert_eq(add(batch, "26-0001", "2026-05-30"), MB_REFUSED, "its own entries count");
    cr_assert_eq(add(batch, "26-0002", "2026-05-31"), MB_OK, "%s", b.err.text);
    cr_assert_eq(mb_batch_end(batch, &b.err), MB_OK);
    cr_assert_eq(workbench_size(&b), size + 2);
    cr_assert_eq(mb_batch_end(batch, &b.err), MB_REFUSED);
    mb_batch_cancel(batch); /* does nothing any more */
    cr_assert_eq(workbench_size(&b), size + 2);
}

Test(batch, trying_adds_nothing_and_sees_what_was_added)
{
    int64_t size = workbench_size(&b);
    struct mb_typed typed[] = { { .name = "text", .value = "x" } };
    struct mb_recording note = { .kind = "note", .subject = "specimen/26-0001", .typed = typed,
                                 .count = 1 };
    mb_batch *batch = begin("evening");

    cr_assert_eq(mb_batch_try(batch, b.arena, &note, &b.out, &b.err), MB_REFUSED);
    cr_assert_eq(add(batch, "26-0001", "2026-05-30"), MB_OK);
    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_batch_try(batch, b.arena, &note, &b.out, &b.err), MB_OK, "%s", b.err.text);
    cr_assert(mb_json_text_is(mb_json_get(mb_json_get(b.out, "fields"), "batch"), "evening"));
    cr_assert_null(mb_json_get(b.out, "seq"));
    cr_assert_eq(mb_batch_end(batch, &b.err), MB_OK);
    cr_assert_eq(workbench_size(&b), size + 1);
}

/* An empty cell of a table is empty, not "as in the row above". */
Test(batch, nothing_is_filled_in_from_the_row_above)
{
    mb_batch *batch = begin("evening");

    cr_assert_eq(add(batch, "26-0001", "2026-05-30"), MB_OK);
    cr_assert_eq(workbench_add(&b, batch, "finds.csv: line 13", "collecting", "26-0002",
                               "fieldDay=D001", "recordNumber=T-2", "verbatimIdentification=x",
                               "objectQuantity=1", NULL),
                 MB_REFUSED);
    cr_assert(strstr(b.err.text, "line 13: still missing: horizon"), "%s", b.err.text);
    mb_batch_cancel(batch);
}

Test(batch, corrections_and_divisions_carry_its_name)
{
    int64_t find, seq;
    mb_batch *batch = begin("evening");

    cr_assert_eq(add(batch, "26-0001", "2026-05-30"), MB_OK);
    find = mb_json_int(mb_json_get(b.out, "seq"), -1);
    cr_assert_eq(workbench_add(&b, batch, NULL, "correction", "specimen/26-0001",
                               mb_arena_printf(b.arena, "target=#%lld", (long long)find),
                               "action=change fields", "why=typing", "objectQuantity=2", NULL),
                 MB_OK, "%s", b.err.text);
    cr_assert_eq(workbench_add(&b, batch, NULL, "division", "26-0001", "purpose=cut",
                               "remains=no, used up",
                               "into=specimen:26-0002; form:slab; quantity:1", "consumed=0",
                               "sameIndividual=yes", NULL),
                 MB_OK, "%s", b.err.text);
    cr_assert_eq(mb_batch_end(batch, &b.err), MB_OK);
    for (seq = find; seq < find + 4; seq++)
        cr_assert_str_eq(workbench_field(&b, seq, "batch", NULL), "\"evening\"", "entry %d",
                         (int)seq);
}

Test(batch, a_batch_without_a_name_puts_none_in)
{
    mb_batch *batch = begin(NULL);

    cr_assert_eq(add(batch, "26-0001", "2026-05-30"), MB_OK);
    cr_assert_str_eq(mb_json_get(mb_json_get(b.out, "fields"), "batch") ? "there" : "", "");
    cr_assert_eq(mb_batch_end(batch, &b.err), MB_OK);
}

/* ---- undoing ---- */

static size_t standing(const char *subject)
{
    mb_story *story = mb_story_new(b.arena);
    size_t count, stand = 0;
    int64_t *seqs;

    cr_assert_eq(mb_log_chain(b.ledger->log, b.arena, mb_str_of(subject), MB_NEVER, &seqs, &count,
                              &b.err),
                 MB_OK);
    for (size_t i = 0; i < count; i++) {
        struct mb_entry *entry = MB_NEW(b.arena, struct mb_entry);

        *entry = workbench_entry(&b, seqs[i]);
        mb_story_add(story, entry);
    }
    for (size_t i = 0; i < count; i++)
        stand += mb_story_at(story, i)->voided_by < 0
                 && mb_str_is(mb_story_at(story, i)->entry->kind, "collecting");
    return stand;
}

static enum mb_rc undo(const char *batch, const char *why)
{
    b.err = (struct mb_error){ 0 };
    return mb_batch_undo(b.ledger, b.arena, batch, why, &b.out, &b.err);
}

Test(batch, a_whole_evening_is_undone_and_can_be_taken_back)
{
    int64_t size;

    make("evening", 0, 10);
    make("evening 2", 10, 12);
    size = workbench_size(&b);
    cr_assert_eq(undo("evening", "wrong sheet was read in"), MB_OK, "%s", b.err.text);
    cr_assert_eq(mb_json_int(mb_json_get(b.out, "voided"), -1), 10);
    cr_assert_eq(mb_json_get(b.out, "entries")->count, 10);
    cr_assert_eq(workbench_size(&b), size + 10);
    cr_assert_str_eq(workbench_field(&b, size, "action", NULL), "\"void (did not happen)\"");
    cr_assert_str_eq(workbench_field(&b, size, "explanation", NULL),
                     "\"wrong sheet was read in\"");
    cr_assert_str_eq(workbench_field(&b, size, "why", NULL), "\"typing\"");
    cr_assert_eq(standing("specimen/26-0003"), 0);
    cr_assert_eq(standing("specimen/26-0011"), 1, "of another batch");
    cr_assert_eq(undo("evening", "typing"), MB_OK);
    cr_assert_eq(mb_json_int(mb_json_get(b.out, "voided"), -1), 0, "they are void already");
    cr_assert_eq(mb_json_get(b.out, "kept")->count, 10);
    cr_assert_eq(undo("undo of evening", "told wrong"), MB_OK, "%s", b.err.text);
    cr_assert_eq(mb_json_int(mb_json_get(b.out, "voided"), -1), 10);
    cr_assert_eq(standing("specimen/26-0003"), 1);
    cr_assert_str_eq(workbench_verify(&b), SOUND);
}

/* A slip in a note of ours changes no fact that a paper rests on. */
Test(batch, undoing_a_note_changes_no_facts)
{
    mb_batch *batch = begin("evening");
    int64_t size;
    int yes = 0;

    cr_assert_eq(add(batch, "26-0001", "2026-05-30"), MB_OK);
    cr_assert_eq(workbench_add(&b, batch, NULL, "note", "specimen/26-0001", "text=lent the saw",
                               NULL),
                 MB_OK, "%s", b.err.text);
    cr_assert_eq(mb_batch_end(batch, &b.err), MB_OK);
    size = workbench_size(&b);
    cr_assert_eq(undo("evening", "typing"), MB_OK, "%s", b.err.text);
    cr_assert_eq(workbench_size(&b), size + 2);
    for (int64_t seq = size; seq < size + 2; seq++)
        yes += strcmp(workbench_field(&b, seq, "changesFacts", NULL), "\"yes\"") == 0;
    cr_assert_eq(yes, 1, "of the find alone");
}

Test(batch, undoing_leaves_what_stands_as_it_is)
{
    mb_batch *batch = begin("evening");

    cr_assert_eq(add(batch, "26-0001", "2026-05-30"), MB_OK);
    cr_assert_eq(workbench_add(&b, batch, NULL, "division", "26-0001", "purpose=cut",
                               "remains=no, used up",
                               "into=specimen:26-0002; form:slab; quantity:1", "consumed=0",
                               "sameIndividual=yes", NULL),
                 MB_OK);
    cr_assert_eq(mb_batch_end(batch, &b.err), MB_OK);
    cr_assert_eq(undo("evening", "typing"), MB_OK);
    cr_assert_eq(mb_json_int(mb_json_get(b.out, "voided"), -1), 1);
    cr_assert_eq(mb_json_get(b.out, "kept")->count, 2);
    cr_assert(mb_json_text_is(mb_json_get(mb_json_get(b.out, "kept")->first, "kind"),
                              "division"));
}

Test(batch, undoing_one_that_never_was_is_refused)
{
    int64_t size = workbench_size(&b);

    make("evening", 0, 1);
    cr_assert_eq(undo("evenin", "typing"), MB_REFUSED);
    cr_assert_str_eq(b.err.text, "no entry was recorded in a batch 'evenin'");
    cr_assert_eq(undo("", "typing"), MB_REFUSED);
    cr_assert_eq(workbench_size(&b), size + 1);
}

/* A batch with a name of every length modulo three: base64 has no favourite. */
Test(batch, names_of_all_lengths_are_found_again)
{
    static const char *const names[] = { "a", "ab", "abc", "gr\xc3\xbc\xc3\x9f \"x\" \\" };

    for (int i = 0; i < 4; i++) {
        make(names[i], i, i + 1);
        cr_assert_eq(undo(names[i], "typing"), MB_OK, "%s", b.err.text);
        cr_assert_eq(mb_json_int(mb_json_get(b.out, "voided"), -1), 1, "%s", names[i]);
    }
}

/* ---- several at once ---- */

enum { WRITERS = 3, EACH = 15, GROUP = 5 };

/* A writer of its own, as another program would be: opens, unlocks, records singly and in
 * groups. */
static int writer(int number)
{
    struct workbench own = { .arena = mb_arena_new(), .folder = b.folder };

    if (mb_ledger_open(own.arena, own.folder, MB_WRITE, &own.ledger, &own.err)
        || mb_ledger_unlock(own.ledger, NULL, MB_STR(WORKBENCH_PASSPHRASE), &own.err))
        return 1;
    for (int i = 0; i < EACH; i++) {
        const char *note = mb_arena_printf(own.arena, "text=writer %d, %d", number, i);
        mb_batch *batch;

        if (workbench_record(&own, "note", "party/P001", note, NULL))
            return 2;
        if (i % GROUP)
            continue;
        if (mb_batch_begin(own.ledger, own.arena, "group", &batch, &own.err))
            return 3;
        for (int j = 0; j < GROUP; j++)
            if (workbench_add(&own, batch, NULL, "note", "party/P002", note, NULL))
                return 4;
        if (mb_batch_end(batch, &own.err))
            return 5;
    }
    /* all want the same number; one gets it */
    if (workbench_record(&own, "making", "26-9999", "what=cast", "takenFrom=a slab elsewhere",
                         "material=plaster", "consent=none", NULL)
        && !strstr(own.err.text, "recorded already"))
        return 6;
    mb_ledger_close(own.ledger);
    mb_arena_free(own.arena);
    return 0;
}

Test(batch, several_writers_lose_nothing_and_fork_nothing)
{
    int64_t size = workbench_size(&b), seq, nth;
    pid_t children[WRITERS];

    b.ledger = mb_ledger_close(b.ledger);
    for (int i = 0; i < WRITERS; i++) {
        children[i] = fork();
        if (children[i] == 0)
            _exit(writer(i));
    }
    for (int i = 0; i < WRITERS; i++) {
        int status = -1;

        cr_assert_eq(waitpid(children[i], &status, 0), children[i]);
        cr_expect(WIFEXITED(status) && WEXITSTATUS(status) == 0, "writer %d ended with %d", i,
                  status >> 8);
    }
    workbench_reopen(&b, NULL);
    cr_assert_eq(workbench_size(&b), size + WRITERS * (EACH + EACH / GROUP * GROUP) + 1);
    cr_assert_eq(mb_log_head(b.ledger->log, b.arena, MB_STR("party/P001"), MB_NEVER, &seq, &nth,
                             NULL, &b.err),
                 MB_OK);
    cr_assert_eq(nth, WRITERS * EACH);
    cr_assert_str_eq(workbench_verify(&b), SOUND);
}
