/* Corrections and voids, and what the entries say after them. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include "chain.h"
#include "story.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])
#define VOID "void: did not happen"
#define CHANGE "change fields"

/* The field of the entry at `index` as it stands: its value as JSON with the seq and class that say
 * so, or "-". */
static const char *stands(struct chain *c, const mb_story *story, size_t index, const char *name)
{
    enum mb_class in = MB_CLASS_COUNT;
    int64_t seq = -7;
    const mb_json *value = mb_told_field(mb_story_at(story, index), name, &seq, &in);
    struct mb_str json;

    if (!value)
        return "-";
    json = mb_json_write(c->arena, value);
    return mb_arena_printf(c->arena, "%.*s/%lld/%s", MB_STR_ARG(json), (long long)seq,
                           mb_class_name[in]);
}

static void voided(const mb_story *story, const char *seqs) /* "-" or the seq, for each entry */
{
    char text[200] = "", *at = text;

    for (size_t i = 0; i < mb_story_count(story); i++) {
        int64_t by = mb_story_at(story, i)->voided_by;

        at += by < 0 ? snprintf(at, 8, "%s-", i ? " " : "")
                     : snprintf(at, 8, "%s%lld", i ? " " : "", (long long)by);
    }
    cr_expect_str_eq(text, seqs);
}

Test(story, a_correction_replaces_what_it_names_and_leaves_the_rest)
{
    struct chain c;
    mb_story *story;
    const struct mb_entry *a, *b;

    chain_begin(&c);
    story = mb_story_new(c.arena);
    a = chain_add(&c, "specimen/A", "collecting",
                  "{\"open\":{\"objectForm\":\"slab\"},\"sale\":{\"eventDate\":\"2026-05-02\","
                  "\"inPlace\":\"loose\"}}",
                  NULL);
    mb_story_add(story, a);
    cr_expect_str_eq(stands(&c, story, 0, "eventDate"), "\"2026-05-02\"/0/sale");
    b = chain_correct(&c, a, CHANGE,
                      "{\"sale\":{\"eventDate\":\"2026-05-03\",\"why\":\"misread\","
                      "\"explanation\":\"the note says 3\",\"bed\":\"7\"}}",
                      NULL);
    mb_story_add(story, b);
    cr_expect_str_eq(stands(&c, story, 0, "eventDate"), "\"2026-05-03\"/1/sale");
    cr_expect_str_eq(stands(&c, story, 0, "inPlace"), "\"loose\"/0/sale");
    cr_expect_str_eq(stands(&c, story, 0, "objectForm"), "\"slab\"/0/open");
    cr_expect_str_eq(stands(&c, story, 0, "bed"), "\"7\"/1/sale"); /* what was not there is added */
    cr_expect_str_eq(stands(&c, story, 0, "why"), "-");            /* about the correction itself */
    cr_expect_str_eq(stands(&c, story, 0, "action"), "-");
    /* the newest counts, and a null takes away */
    mb_story_add(story,
                 chain_correct(&c, a, CHANGE, "{\"sale\":{\"eventDate\":\"2026-05-04\"}}", NULL));
    mb_story_add(story, chain_correct(&c, a, CHANGE, "{\"sale\":{\"inPlace\":null}}", NULL));
    cr_expect_str_eq(stands(&c, story, 0, "eventDate"), "\"2026-05-04\"/2/sale");
    cr_expect_str_eq(stands(&c, story, 0, "inPlace"), "-");
    voided(story, "- - - -");
    /* both stay visible */
    cr_expect_eq(mb_story_count(story), 4);
    cr_expect(mb_json_text_is(mb_entry_field(mb_story_at(story, 0)->entry, "eventDate", NULL),
                              "2026-05-02"));
    chain_end(&c);
}

/* Each step adds one entry about the entry of another step; then who is voided by whom, and what
 * the find date of the first entry is. */
struct step {
    int about; /* index of its target */
    bool voids;
    const char *date; /* a new one, or NULL */
};

static const struct {
    const char *what;
    struct step steps[7];
    size_t count;
    const char *voided, *date;
} tales[] = {
    { "void", { { 0, 1, NULL } }, 1, "1 -", "\"day0\"/0/sale" },
    { "void of a void", { { 0, 1, NULL }, { 1, 1, NULL } }, 2, "- 2 -", "\"day0\"/0/sale" },
    { "void of a void of a void",
      { { 0, 1, NULL }, { 1, 1, NULL }, { 2, 1, NULL } },
      3,
      "1 - 3 -",
      "\"day0\"/0/sale" },
    { "voided twice, the first counts",
      { { 0, 1, NULL }, { 0, 1, NULL } },
      2,
      "1 - -",
      "\"day0\"/0/sale" },
    { "voided twice, the first void voided: the second still voids",
      { { 0, 1, NULL }, { 0, 1, NULL }, { 1, 1, NULL } },
      3,
      "2 3 - -",
      "\"day0\"/0/sale" },
    { "correction voided", { { 0, 0, "day1" }, { 1, 1, NULL } }, 2, "- 2 -", "\"day0\"/0/sale" },
    { "correction voided, and that void voided: its change is back",
      { { 0, 0, "day1" }, { 1, 1, NULL }, { 2, 1, NULL } },
      3,
      "- - 3 -",
      "\"day1\"/1/sale" },
    { "the newer of two corrections voided: the older counts",
      { { 0, 0, "day1" }, { 0, 0, "day2" }, { 2, 1, NULL } },
      3,
      "- - 3 -",
      "\"day1\"/1/sale" },
    { "the older of two corrections voided",
      { { 0, 0, "day1" }, { 0, 0, "day2" }, { 1, 1, NULL } },
      3,
      "- 3 - -",
      "\"day2\"/2/sale" },
    { "the older one brought back stays behind the newer",
      { { 0, 0, "day1" }, { 0, 0, "day2" }, { 1, 1, NULL }, { 3, 1, NULL } },
      4,
      "- - - 4 -",
      "\"day2\"/2/sale" },
    { "correction of a correction changes nothing",
      { { 0, 0, "day1" }, { 1, 0, "day2" } },
      2,
      "- - -",
      "\"day1\"/1/sale" },
    { "correction of a void changes nothing",
      { { 0, 1, NULL }, { 1, 0, "day2" } },
      2,
      "1 - -",
      "\"day0\"/0/sale" },
    { "correction of what is voided",
      { { 0, 1, NULL }, { 0, 0, "day1" } },
      2,
      "1 - -",
      "\"day1\"/2/sale" },
    { "correction taken back by a voided void that was voided",
      { { 0, 0, "day1" }, { 1, 1, NULL }, { 2, 1, NULL }, { 3, 1, NULL } },
      4,
      "- 2 - 4 -",
      "\"day0\"/0/sale" },
};

Test(story, voids_undo_what_they_are_about_and_can_be_undone)
{
    for (size_t i = 0; i < COUNT(tales); i++)
        for (int asked = 0; asked < 2; asked++) { /* asked once at the end, or after every step */
            const struct mb_entry *entries[8];
            struct chain c;
            mb_story *story;

            chain_begin(&c);
            story = mb_story_new(c.arena);
            entries[0] = chain_add(&c, "specimen/A", "collecting",
                                   "{\"sale\":{\"eventDate\":\"day0\"}}", NULL);
            mb_story_add(story, entries[0]);
            for (size_t s = 0; s < tales[i].count; s++) {
                const struct step *step = &tales[i].steps[s];

                entries[s + 1] = chain_correct(
                    &c, entries[step->about], step->voids ? VOID : CHANGE,
                    step->date
                        ? mb_arena_printf(c.arena, "{\"sale\":{\"eventDate\":\"%s\"}}", step->date)
                        : "{}",
                    NULL);
                mb_story_add(story, entries[s + 1]);
                if (asked)
                    cr_assert_not_null(mb_story_at(story, s));
            }
            voided(story, tales[i].voided);
            cr_expect_str_eq(stands(&c, story, 0, "eventDate"), tales[i].date, "%s", tales[i].what);
            chain_end(&c);
        }
}

Test(story, some_kinds_are_never_corrected)
{
    static const char *const final[] = { "founding",       "checkpoint-key", "key-enrolment",
                                         "key-retirement", "certificate",    "withdrawal",
                                         "countersign",    "division",       "joining",
                                         "erasure" };
    static const char *const other[] = { "collecting", "party",           "site",         "note",
                                         "correction", "a-kind-of-later", "certificates", "" };

    for (size_t i = 0; i < COUNT(final); i++) {
        const struct mb_entry *a;
        struct chain c;
        mb_story *story;

        chain_begin(&c);
        story = mb_story_new(c.arena);
        cr_expect(mb_kind_is_final(mb_str_of(final[i])));
        a = chain_add(&c, "specimen/A", final[i], "{\"sale\":{\"date\":\"1\"}}", NULL);
        mb_story_add(story, a);
        mb_story_add(story, chain_correct(&c, a, VOID, "{}", NULL));
        mb_story_add(story, chain_correct(&c, a, CHANGE, "{\"sale\":{\"date\":\"2\"}}", NULL));
        voided(story, "- - -");
        cr_expect_str_eq(stands(&c, story, 0, "date"), "\"1\"/0/sale", "%s", final[i]);
        chain_end(&c);
    }
    for (size_t i = 0; i < COUNT(other); i++)
        cr_expect_not(mb_kind_is_final(mb_str_of(other[i])), "%s", other[i]);
}

/* A correction whose target is not an earlier entry of the same subject is about nothing. */
Test(story, a_correction_of_something_else_is_about_nothing)
{
    static const char *const targets[] = {
        "{\"entry\":\"AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA\"}",
        "{\"entry\":\"short\"}",
        "{\"entry\":7}",
        "{}",
        "\"text\"",
        "null",
    };
    struct chain c;
    mb_story *story;
    const struct mb_entry *a, *b;

    chain_begin(&c);
    story = mb_story_new(c.arena);
    a = chain_add(&c, "specimen/A", "note", "{\"sale\":{\"text\":\"1\"}}", NULL);
    b = chain_add(&c, "specimen/B", "note", "{\"sale\":{\"text\":\"1\"}}", NULL);
    mb_story_add(story, a);
    for (size_t i = 0; i < COUNT(targets); i++)
        mb_story_add(
            story,
            chain_add(&c, "specimen/A", "correction",
                      mb_arena_printf(c.arena, "{\"open\":{\"target\":%s,\"action\":\"" VOID "\"}}",
                                      targets[i]),
                      NULL));
    mb_story_add(story, chain_correct(&c, b, VOID, "{}", NULL)); /* on B's own chain, shown here */
    voided(story, "- - - - - - - -");
    cr_expect_str_eq(stands(&c, story, 0, "text"), "\"1\"/0/sale");
    chain_end(&c);
}

/* A value that is not shown replaces nothing that can be seen; statement.c makes sure that the old
 * one is not taken for the present one. */
Test(story, a_hidden_correction_is_not_told)
{
    struct chain c;
    mb_story *story;
    const struct mb_entry *a;

    chain_begin(&c);
    story = mb_story_new(c.arena);
    a = chain_add(&c, "site/S1", "site", "{\"sale\":{\"county\":\"x\"}}", NULL);
    mb_story_add(story, a);
    mb_story_add(story, chain_correct(&c, a, CHANGE, "{\"sale\":{\"county\":\"y\"}}", "county"));
    cr_expect_str_eq(stands(&c, story, 0, "county"), "\"x\"/0/sale");
    chain_end(&c);
}

Test(story, a_long_story_is_told_quickly)
{
    enum { N = 4000 };
    struct chain c;
    mb_story *story;
    const struct mb_entry *a;

    chain_begin(&c);
    story = mb_story_new(c.arena);
    a = chain_add(&c, "specimen/A", "note", "{\"sale\":{\"text\":\"0\"}}", NULL);
    mb_story_add(story, a);
    for (int i = 1; i <= N; i++)
        mb_story_add(story, chain_correct(&c, a, CHANGE, "{\"sale\":{\"text\":\"n\"}}", NULL));
    cr_expect_eq(mb_story_count(story), N + 1);
    cr_expect_str_eq(stands(&c, story, 0, "text"), "\"n\"/4000/sale");
    chain_end(&c);
}
