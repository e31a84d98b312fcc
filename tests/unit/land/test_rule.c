/* Rules as files: ours are all readable; what a user's file lacks is said. */
#include <criterion/criterion.h>
#include <string.h>

#include "fileio.h"
#include "rule.h"
#include "temp_folder.h"
#include "text.h"

static mb_arena *arena;

static void setup(void)
{
    arena = mb_arena_new();
}

static void teardown(void)
{
    mb_arena_free(arena);
}

TestSuite(rule, .init = setup, .fini = teardown);

Test(rule, ours_are_42_in_the_order_of_their_numbers)
{
    struct mb_rules rules = { 0 };
    struct mb_error err = { 0 };
    int number = 0;

    cr_assert_eq(mb_rules_built_in(arena, &rules, &err), MB_OK, "%s", err.text);
    for (const struct mb_rule *rule = rules.first; rule; rule = rule->next) {
        cr_expect_str_eq(rule->id, mb_arena_printf(arena, "%02d", ++number));
        cr_expect(*rule->mend && *rule->written_down && rule->query.len, "%s", rule->id);
        cr_expect(!rule->own);
        cr_expect(!rule->checked || !*rule->citation || strcmp(rule->confidence, "read") == 0);
    }
    cr_expect_eq(rules.count, 43);
}

static const char *refusal(const char *text)
{
    static struct mb_error err;
    const char *folder = temp_folder_new(arena);
    struct mb_rules rules = { 0 };

    err = (struct mb_error){ 0 };
    cr_assert_eq(mb_file_write(mb_path_join(arena, folder, "a.json"), mb_str_of(text), 0600, NULL),
                 MB_OK);
    cr_expect_eq(mb_rules_folder(arena, folder, &rules, &err), MB_REFUSED, "%s", text);
    temp_folder_remove(folder);
    return err.text;
}

Test(rule, what_a_file_lacks_is_said)
{
    static const char *const cases[][2] = {
        { "{", "line 1" },
        { "{}", "\"id\"" },
        { "{\"id\":\"a\"}", "\"title\"" },
        { "{\"id\":\"a\",\"title\":\"t\",\"severity\":\"dire\"}", "'dire'" },
        { "{\"id\":\"a\",\"title\":\"t\",\"severity\":\"gap\"}", "\"query\"" },
        { "{\"id\":\"a\",\"title\":\"t\",\"severity\":\"gap\",\"query\":\"SELECT 1\","
          "\"effective\":\"soon\"}",
          "'soon'" },
        { "{\"id\":\"a\",\"title\":\"t\",\"severity\":\"gap\",\"query\":\"SELECT 1\","
          "\"confidence\":\"sure\"}",
          "'sure'" },
        { "{\"id\":\"a\",\"title\":\"t\",\"severity\":\"gap\",\"query\":\"SELECT 1\","
          "\"acts\":[\"eating\"]}",
          "'eating'" },
    };

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const char *said = refusal(cases[i][0]);

        cr_expect(strstr(said, cases[i][1]) && strstr(said, "a.json"), "%s: %s", cases[i][0], said);
    }
}

Test(rule, severities_have_words_and_an_order)
{
    cr_expect_eq(mb_weight_read(MB_STR("bar")), MB_BAR);
    cr_expect_eq(mb_weight_read(MB_STR("Bar")), MB_WEIGHTLESS);
    cr_expect(MB_NOTE < MB_GAP && MB_GAP < MB_CONFLICT && MB_CONFLICT < MB_BAR);
    cr_expect_str_eq(mb_weight_word(MB_CONFLICT), "conflict");
}
