/* The door: what is refused, in which words, and that nothing is changed by it; what passes. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

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

TestSuite(door, .init = set_up, .fini = tear_down);

enum { FIELDS = 12 };

struct refusal {
    const char *kind, *subject;
    const char *fields[FIELDS];
    const char *sentence;
};

/* What makes a find whole; a row's own fields go over these. */
static const char *const find_fields[] = {
    "fieldDay=D001",        "recordNumber=T-1",          "verbatimIdentification=fish",
    "objectForm=slab",      "objectQuantity=1",          "quantityHow=counted",
    "materialClass=vertebrate", "horizon=H-A",           "inPlace=in place",
};

static size_t name_len(const char *field)
{
    return (size_t)(strchr(field, '=') - field);
}

static struct mb_recording recording_of(const struct refusal *row)
{
    size_t most = FIELDS + sizeof find_fields / sizeof *find_fields;
    struct mb_typed *typed = MB_ARRAY(b.arena, most, struct mb_typed);
    const char *all[FIELDS + sizeof find_fields / sizeof *find_fields];
    bool find = strcmp(row->kind, "collecting") == 0;
    size_t count = 0, n = 0;

    while (count < FIELDS && row->fields[count]) {
        all[count] = row->fields[count];
        count++;
    }
    for (size_t i = 0; find && i < sizeof find_fields / sizeof *find_fields; i++) {
        bool given = false;

        for (size_t j = 0; j < count; j++)
            given |= name_len(all[j]) == name_len(find_fields[i])
                     && strncmp(all[j], find_fields[i], name_len(all[j])) == 0;
        if (!given)
            all[count++] = find_fields[i];
    }
    for (; n < count; n++)
        typed[n] = (struct mb_typed){ .name = mb_arena_copy(b.arena, all[n], name_len(all[n])),
                                      .value = all[n] + name_len(all[n]) + 1 };
    return (struct mb_recording){ .kind = row->kind, .subject = row->subject, .typed = typed,
                                  .count = count };
}

static const struct refusal refusals[] = {
#include "refusals.inc"
};

Test(door, refuses_nonsense_in_one_sentence_and_changes_nothing)
{
    int64_t size = workbench_size(&b);
    size_t wrong = 0;

    for (size_t i = 0; i < sizeof refusals / sizeof *refusals; i++) {
        struct mb_recording what = recording_of(&refusals[i]);
        struct mb_error err = { 0 };
        enum mb_rc rc = mb_record(b.ledger, b.arena, &what, &b.out, &err);

        if (rc != MB_REFUSED || strcmp(err.text, refusals[i].sentence) != 0) {
            fprintf(stderr, "row %zu (%s %s): %d\n  says   %s\n  wanted %s\n", i, refusals[i].kind,
                    refusals[i].subject, rc, err.text, refusals[i].sentence);
            wrong++;
        }
    }
    cr_assert_eq(wrong, 0);
    cr_assert_eq(workbench_size(&b), size);
}
