/* Findings: kept, counted, told; what they quote is made harmless. */
#include <criterion/criterion.h>
#include <string.h>

#include "finding.h"
#include "text.h"

static const struct mb_str none = { NULL, 0 };

Test(finding, the_gravest_decides)
{
    mb_arena *arena = mb_arena_new();
    mb_findings *f = mb_findings_new(arena, 0);

    cr_expect_eq(mb_findings_rc(f), MB_OK);
    mb_find(f, MB_F_NO_VIEW, none, -1, "a remark");
    cr_expect_eq(mb_findings_rc(f), MB_OK);
    mb_find(f, MB_F_UNKNOWN_LEDGER, none, -1, "unsure");
    cr_expect_eq(mb_findings_rc(f), MB_UNABLE);
    mb_find(f, MB_F_LEFT_OUT, MB_STR("specimen/A"), 7, "a fault in %s", "it");
    cr_expect_eq(mb_findings_rc(f), MB_NO);
    cr_expect_eq(mb_findings_count(f, MB_FAULT), 1);
    cr_expect_eq(mb_findings_count(f, MB_UNSURE), 1);
    cr_expect_eq(mb_findings_count(f, MB_REMARK), 1);
    cr_expect_eq(mb_findings_of(f, MB_F_LEFT_OUT), 1);
    mb_arena_free(arena);
}

Test(finding, only_so_many_of_a_name_are_kept_and_all_are_counted)
{
    mb_arena *arena = mb_arena_new();
    mb_findings *f = mb_findings_new(arena, 3);
    mb_json *rows;

    mb_findings_in_file(f, "a.json");
    for (int i = 0; i < 100; i++)
        mb_find(f, MB_F_NOT_IN_TREE, MB_STR("specimen/A"), i, "entry %d", i);
    mb_findings_in_file(f, "b.json");
    mb_find(f, MB_F_LEFT_OUT, none, -1, "one more");
    cr_expect_eq(mb_findings_count(f, MB_FAULT), 101);
    cr_expect_eq(mb_findings_of(f, MB_F_NOT_IN_TREE), 100);
    rows = mb_findings_json(arena, f);
    cr_assert_eq(rows->count, 4);
    cr_expect(mb_json_text_is(mb_json_get(mb_json_at(rows, 0), "file"), "a.json"));
    cr_expect(mb_json_text_is(mb_json_get(mb_json_at(rows, 0), "subject"), "specimen/A"));
    cr_expect(mb_json_text_is(mb_json_get(mb_json_at(rows, 2), "text"), "entry 2"));
    cr_expect_eq(mb_json_int(mb_json_get(mb_json_at(rows, 2), "seq"), -1), 2);
    cr_expect(mb_json_text_is(mb_json_get(mb_json_at(rows, 3), "name"), "left-out"));
    cr_expect(mb_json_text_is(mb_json_get(mb_json_at(rows, 3), "severity"), "fault"));
    cr_expect(mb_json_text_is(mb_json_get(mb_json_at(rows, 3), "file"), "b.json"));
    cr_expect_null(mb_json_get(mb_json_at(rows, 3), "seq"));
    cr_expect_null(mb_json_get(mb_json_at(rows, 3), "subject"));
    mb_arena_free(arena);
}

/* A file's own words must not look like the program's: no line ends, no escapes, no turned text. */
Test(finding, what_is_quoted_cannot_pose_as_the_verdict)
{
    mb_arena *arena = mb_arena_new();
    mb_findings *f = mb_findings_new(arena, 0);
    char *lengthy = mb_arena_get(arena, 100001);
    const char *text;

    mb_find(f, MB_F_UNKNOWN_DERIVATION, none, -1, "made by %s",
            "x\nholds: yes\x1b[2J \xE2\x80\xAE"
            "d");
    text = mb_findings_first(f)->text;
    cr_expect_str_eq(text, "made by x?holds: yes?[2J ?d");
    memset(lengthy, 'n', 100000);
    mb_find(f, MB_F_STRAY_DISCLOSURE, none, -1, "the field '%s'", lengthy);
    cr_expect_leq(strlen(mb_findings_first(f)->next->text), 1000);
    mb_arena_free(arena);
}

Test(finding, the_list_is_well_made)
{
    for (int i = 0; i < MB_FINDING_COUNT; i++) {
        const struct mb_finding_kind *kind = &mb_finding_kinds[i];

        cr_expect(kind->name && kind->means && kind->mend);
        cr_expect(kind->severity <= MB_REMARK);
        cr_expect_eq(strspn(kind->name, "abcdefghijklmnopqrstuvwxyz-"), strlen(kind->name));
        cr_expect(strchr(".", kind->means[strlen(kind->means) - 1]), "%s", kind->name);
        cr_expect(strchr(".", kind->mend[strlen(kind->mend) - 1]), "%s", kind->name);
        for (int j = 0; j < i; j++)
            cr_expect_str_neq(kind->name, mb_finding_kinds[j].name);
    }
}
