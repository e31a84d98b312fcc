/* Putting right: corrections, voids, taking voids back. Read with story.h, as every reader does. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include "session.h"
#include "story.h"
#include "text.h"
#include "workbench.h"

static struct workbench b;
static int64_t find;

static void set_up(void)
{
    workbench_house(&b);
    find = workbench_must(&b, "collecting", "26-0115", "fieldDay=D001", "recordNumber=T-118",
                          "verbatimIdentification=crinoid slab", "objectQuantity=3",
                          "objectForm=slab", "quantityHow=counted", "materialClass=invertebrate",
                          "horizon=H-A", "inPlace=in place", "container=flat 3",
                          "individualCount=2", NULL);
}

static void tear_down(void)
{
    workbench_done(&b);
}

TestSuite(correct, .init = set_up, .fini = tear_down);

static const char *target(int64_t seq)
{
    return mb_arena_printf(b.arena, "target=#%lld", (long long)seq);
}

static const struct mb_told *told_of(int64_t seq)
{
    struct mb_entry entry = workbench_entry(&b, seq);
    mb_story *story = mb_story_new(b.arena);
    int64_t *seqs;
    size_t count;

    cr_assert_eq(mb_log_chain(b.ledger->log, b.arena, entry.sub, MB_NEVER, &seqs, &count, &b.err),
                 MB_OK);
    for (size_t i = 0; i < count; i++) {
        struct mb_entry *one = MB_NEW(b.arena, struct mb_entry);

        *one = workbench_entry(&b, seqs[i]);
        mb_story_add(story, one);
    }
    for (size_t i = 0; i < count; i++)
        if (mb_story_at(story, i)->entry->seq == seq)
            return mb_story_at(story, i);
    return NULL;
}

/* A field as it stands now. */
static const char *now(int64_t seq, const char *name)
{
    const mb_json *value = mb_told_field(told_of(seq), name, NULL, NULL);
    struct mb_str json;

    if (!value)
        return "";
    json = mb_json_write(b.arena, value);
    return mb_arena_copy(b.arena, json.at, json.len);
}

Test(correct, a_value_is_replaced_in_the_class_it_had)
{
    enum mb_class in;
    int64_t seq = workbench_must(&b, "correction", "26-0115", target(find), "action=change fields",
                                 "why=misread label", "objectQuantity=4", "container=flat 4",
                                 "recordNumber=T-181", NULL);

    workbench_field(&b, seq, "objectQuantity", &in);
    cr_assert_eq(in, MB_SALE);
    workbench_field(&b, seq, "container", &in);
    cr_assert_eq(in, MB_PRIVATE);
    workbench_field(&b, seq, "recordNumber", &in);
    cr_assert_eq(in, MB_SCIENCE);
    cr_assert_str_eq(workbench_field(&b, seq, "changesFacts", &in), "\"yes\"");
    cr_assert_eq(in, MB_OPEN);
    cr_assert_str_eq(workbench_field(&b, seq, "madeFrom", NULL), "",
                     "it would replace the target's");
    cr_assert_str_eq(now(find, "objectQuantity"), "4");
    cr_assert_str_eq(now(find, "container"), "\"flat 4\"");
    cr_assert_str_eq(now(find, "objectForm"), "\"slab\"");
    cr_assert_str_eq(workbench_field(&b, find, "objectQuantity", NULL), "3", "the old one stays");
}

Test(correct, a_slip_of_typing_changes_no_fact_unless_it_says_so)
{
    int64_t seq = workbench_must(&b, "correction", "26-0115", target(find), "action=change fields",
                                 "why=typing", "container=flat 4", NULL);

    cr_assert_str_eq(workbench_field(&b, seq, "changesFacts", NULL), "\"no\"");
    seq = workbench_must(&b, "correction", "26-0115", target(find), "action=change fields",
                         "why=typing", "changesFacts=yes", "container=flat 5", NULL);
    cr_assert_str_eq(workbench_field(&b, seq, "changesFacts", NULL), "\"yes\"");
}

Test(correct, a_field_can_be_taken_away)
{
    int64_t seq = workbench_must(&b, "correction", "26-0115", target(find), "action=change fields",
                                 "why=typing", "individualCount=(remove)", NULL);

    cr_assert_str_eq(workbench_field(&b, seq, "individualCount", NULL), "null");
    cr_assert_str_eq(now(find, "individualCount"), "");
    cr_assert_eq(workbench_record(&b, "correction", "26-0115", target(find),
                                  "action=change fields", "why=typing",
                                  "individualCount=(remove)", NULL),
                 MB_REFUSED, "it is gone already");
}

Test(correct, the_newest_correction_counts_and_one_can_be_voided)
{
    int64_t first, second;

    first = workbench_must(&b, "correction", "26-0115", target(find), "action=change fields",
                           "why=typing", "objectQuantity=4", NULL);
    second = workbench_must(&b, "correction", "26-0115", target(find), "action=change fields",
                            "why=typing", "objectQuantity=5", NULL);
    cr_assert_str_eq(now(find, "objectQuantity"), "5");
    workbench_must(&b, "correction", "26-0115", target(second), "action=void (did not happen)",
                   "why=typing", NULL);
    cr_assert_str_eq(now(find, "objectQuantity"), "4");
    cr_assert_eq(workbench_record(&b, "correction", "26-0115", target(first),
                                  "action=change fields", "why=typing", "objectQuantity=6", NULL),
                 MB_REFUSED);
    cr_assert(strstr(b.err.text, "is itself a correction: void it"), "%s", b.err.text);
}

Test(correct, a_void_can_be_taken_back)
{
    int64_t seq = workbench_must(&b, "correction", "26-0115", target(find),
                                 "action=void (wrong specimen)", "why=wrong piece",
                                 "movedTo=not known", "explanation=I mixed up the bags", NULL);

    cr_assert_eq(told_of(find)->voided_by, seq);
    cr_assert_eq(workbench_record(&b, "correction", "26-0115", target(find),
                                  "action=void (double)", "why=typing", NULL),
                 MB_REFUSED);
    cr_assert(strstr(b.err.text, "was voided by"), "%s", b.err.text);
    workbench_must(&b, "correction", "26-0115", target(seq), "action=void (did not happen)",
                   "why=told wrong", NULL);
    cr_assert_eq(told_of(find)->voided_by, -1);
}

Test(correct, some_kinds_stand_as_they_are)
{
    int64_t seq = workbench_must(&b, "division", "26-0115", "purpose=cut", "remains=no, used up",
                                 "into=specimen:26-0116; form:slab; quantity:1", "consumed=0",
                                 "sameIndividual=yes", NULL);

    cr_assert_eq(workbench_record(&b, "correction", "26-0115", target(seq),
                                  "action=void (did not happen)", "why=typing", NULL),
                 MB_REFUSED);
    cr_assert(strstr(b.err.text, "is a division, and those stand as they are"), "%s", b.err.text);
}

Test(correct, the_hash_names_the_target_too_and_references_are_checked)
{
    struct mb_entry entry = workbench_entry(&b, find);
    struct mb_str leaf = mb_b64u(b.arena, entry.leaf.b, sizeof entry.leaf.b);

    cr_assert_eq(workbench_record(&b, "correction", "26-0115",
                                  mb_arena_printf(b.arena, "target=%.*s", MB_STR_ARG(leaf)),
                                  "action=change fields", "why=new evidence", "horizon=H-B", NULL),
                 MB_REFUSED);
    cr_assert_str_eq(b.err.text, "field horizon: unknown horizon/H-B (did you mean H-A?); if it is"
                                 " new, record horizon first");
    workbench_must(&b, "correction", "26-0115",
                   mb_arena_printf(b.arena, "target=%.*s", MB_STR_ARG(leaf)),
                   "action=change fields", "why=new evidence", "horizon=not known", NULL);
    cr_assert_str_eq(now(find, "horizon"), "{\"answer\":\"not known\"}");
    cr_assert_str_eq(workbench_verify(&b), "unknown-ledger");
}

Test(correct, saying_the_same_again_is_pointed_out)
{
    const mb_json *warnings;

    workbench_must(&b, "correction", "26-0115", target(find), "action=change fields",
                   "why=typing", "objectQuantity=3", NULL);
    warnings = mb_json_get(b.out, "warnings");
    cr_assert_eq(warnings->count, 1);
    cr_assert_str_eq(mb_json_cstr(b.arena, warnings->first),
                     "field objectQuantity says so already");
}
