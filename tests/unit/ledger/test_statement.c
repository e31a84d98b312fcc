/* How statement lines follow from entries: each operation of the table, and what hidden fields do.
 * */
#include <criterion/criterion.h>
#include <string.h>

#include "asset.h"
#include "buf.h"
#include "chain.h"
#include "keyring.h"
#include "sha256.h"
#include "statement.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])
#define CHANGE "change fields"
#define VOID "void: did not happen"

/* Rules of a small table; each is asked alone. */
#define LATEST "\"op\":\"latest\",\"of\":[\"condition\"],\"class\":\"sale\",\"field\":\"care\""
#define FIRST "\"op\":\"first\",\"of\":[\"condition\"],\"class\":\"sale\",\"field\":\"care\""
#define ALL "\"op\":\"all\",\"of\":[\"condition\"],\"class\":\"sale\",\"field\":\"care\""
#define SUM "\"op\":\"sum\",\"of\":[\"condition\"],\"class\":\"sale\",\"field\":\"n\""
#define NUMBER "\"op\":\"count\",\"of\":[\"condition\",\"note\"]"
#define ROWS \
    "\"op\":\"rows\",\"of\":[\"condition\"],\"class\":\"sale\",\"columns\":[\"care\",\"n\"]"
#define ELSE LATEST ",\"else\":\"not examined\",\"unit\":\"%\""
#define FOLLOW                                                                                \
    "\"op\":\"latest\",\"of\":[\"site\"],\"class\":\"sale\",\"field\":\"county\",\"follow\":" \
    "{\"of\":[\"collecting\"],\"fields\":[\"site\",\"statedSite\"],\"class\":\"sale\"}"
#define PARTY \
    "\"op\":\"first\",\"of\":[\"collecting\"],\"class\":\"sale\",\"field\":\"by\",\"party\":true"

/* One step: subject, kind, fields, what is hidden of it; a kind of "correct N" or "void N" is about
 * the entry of that number. */
struct step {
    const char *sub, *kind, *fields, *hidden;
};

#define S "specimen/A"

static const struct tale {
    const char *what;
    const char *rule;
    struct step steps[6];
    const char *value; /* canonical JSON, NULL: no line */
    const char *from;  /* numbers of the entries cited */
} tales[] = {
    { "the latest",
      LATEST,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { S, "condition", "{\"sale\":{\"care\":\"b\"}}", NULL } },
      "\"b\"",
      "1" },
    { "the latest that has it",
      LATEST,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { S, "condition", "{\"sale\":{\"n\":1}}", NULL } },
      "\"a\"",
      "0" },
    { "of its kinds only",
      LATEST,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { S, "note", "{\"sale\":{\"care\":\"b\"}}", NULL } },
      "\"a\"",
      "0" },
    { "of its subject only",
      LATEST,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { "specimen/B", "condition", "{\"sale\":{\"care\":\"b\"}}", NULL } },
      "\"a\"",
      "0" },
    { "nothing recorded", LATEST, { { S, "note", "{}", NULL } }, NULL, NULL },
    { "the newest is kept back: an older one must not stand for it",
      LATEST,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { S, "condition", "{\"sale\":{\"care\":\"b\"}}", "care" } },
      NULL,
      NULL },
    { "something of its class is kept back: it could be the field",
      LATEST,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { S, "condition", "{\"sale\":{\"n\":1}}", "n" } },
      NULL,
      NULL },
    { "something of another class is kept back",
      LATEST,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { S, "condition", "{\"private\":{\"hours\":\"1\"}}", "hours" } },
      "\"a\"",
      "0" },
    { "the newest shown beside something kept back",
      LATEST,
      { { S, "condition", "{\"sale\":{\"care\":\"a\",\"n\":1}}", "n" } },
      "\"a\"",
      "0" },
    { "corrected",
      LATEST,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { S, "correct 0", "{\"sale\":{\"care\":\"b\"}}", NULL } },
      "\"b\"",
      "1" },
    { "another field corrected",
      LATEST,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { S, "correct 0", "{\"sale\":{\"n\":1}}", NULL } },
      "\"a\"",
      "0" },
    { "a correction that is kept back",
      LATEST,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { S, "correct 0", "{\"sale\":{\"care\":\"b\"}}", "care" } },
      NULL,
      NULL },
    { "a correction of another class that is kept back",
      LATEST,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { S, "correct 0", "{\"land\":{\"grantor\":\"b\"}}", "grantor" } },
      "\"a\"",
      "0" },
    { "a correction of an older entry that is kept back",
      LATEST,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { S, "condition", "{\"sale\":{\"care\":\"b\"}}", NULL },
        { S, "correct 0", "{\"sale\":{\"care\":\"c\"}}", "care" } },
      "\"b\"",
      "1" },
    { "a hidden correction that was voided",
      LATEST,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { S, "correct 0", "{\"sale\":{\"care\":\"b\"}}", "care" },
        { S, "void 1", "{}", NULL } },
      "\"a\"",
      "0" },
    { "taken away by a null: the one before it stands",
      LATEST,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { S, "condition", "{\"sale\":{\"care\":\"b\"}}", NULL },
        { S, "correct 1", "{\"sale\":{\"care\":null}}", NULL } },
      "\"a\"",
      "0" },
    { "voided",
      LATEST,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { S, "condition", "{\"sale\":{\"care\":\"b\"}}", NULL },
        { S, "void 1", "{}", NULL } },
      "\"a\"",
      "0" },
    { "the first",
      FIRST,
      { { S, "condition", "{\"sale\":{\"n\":1}}", NULL },
        { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { S, "condition", "{\"sale\":{\"care\":\"b\"}}", NULL } },
      "\"a\"",
      "1" },
    { "the first is kept back",
      FIRST,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", "care" },
        { S, "condition", "{\"sale\":{\"care\":\"b\"}}", NULL } },
      NULL,
      NULL },
    { "all, each once, lists opened",
      ALL,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { S, "condition", "{\"sale\":{\"care\":[\"b\",\"a\"]}}", NULL },
        { S, "condition", "{\"sale\":{\"n\":1}}", NULL },
        { S, "condition", "{\"sale\":{\"care\":\"c\"}}", NULL } },
      "[\"a\",\"b\",\"c\"]",
      "0 1 3" },
    { "all, one kept back",
      ALL,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { S, "condition", "{\"sale\":{\"care\":\"b\"}}", "care" } },
      NULL,
      NULL },
    { "all of none", ALL, { { S, "condition", "{}", NULL } }, NULL, NULL },
    { "sum",
      SUM,
      { { S, "condition", "{\"sale\":{\"n\":3}}", NULL },
        { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL },
        { S, "condition", "{\"sale\":{\"n\":4}}", NULL },
        { S, "correct 2", "{\"sale\":{\"n\":5}}", NULL } },
      "8",
      "0 3" },
    { "sum with one kept back",
      SUM,
      { { S, "condition", "{\"sale\":{\"n\":3}}", NULL },
        { S, "condition", "{\"sale\":{\"n\":4}}", "n" } },
      NULL,
      NULL },
    { "sum of what is no number",
      SUM,
      { { S, "condition", "{\"sale\":{\"n\":3}}", NULL },
        { S, "condition", "{\"sale\":{\"n\":\"4\"}}", NULL } },
      NULL,
      NULL },
    { "sum past 2^53-1",
      SUM,
      { { S, "condition", "{\"sale\":{\"n\":9007199254740991}}", NULL },
        { S, "condition", "{\"sale\":{\"n\":1}}", NULL } },
      NULL,
      NULL },
    { "count",
      NUMBER,
      { { S, "condition", "{\"sale\":{\"n\":3}}", "n" },
        { S, "note", "{}", NULL },
        { S, "title", "{}", NULL },
        { S, "note", "{}", NULL },
        { S, "void 3", "{}", NULL } },
      "2",
      "0 1" },
    { "count of none", NUMBER, { { S, "title", "{}", NULL } }, "0", "" },
    { "rows, what is kept back left out",
      ROWS,
      { { S, "condition", "{\"sale\":{\"care\":\"a\",\"n\":1}}", NULL },
        { S, "condition", "{\"sale\":{\"care\":\"b\",\"n\":2}}", "n" },
        { S, "correct 0", "{\"sale\":{\"n\":7}}", NULL } },
      "[{\"care\":\"a\",\"n\":7},{\"care\":\"b\"}]",
      "0 2 1" },
    { "rows of which nothing is shown",
      ROWS,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", "care" },
        { S, "condition", "{\"sale\":{\"care\":\"b\"}}", NULL } },
      "[{\"care\":\"b\"}]",
      "1" },
    { "never examined", ELSE, { { S, "note", "{}", NULL } }, "{\"answer\":\"not examined\"}", "" },
    { "examined, and the result kept back: nothing is said",
      ELSE,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", "care" } },
      NULL,
      NULL },
    { "examined, without that field", ELSE, { { S, "condition", "{}", NULL } }, NULL, NULL },
    { "examined once, and that voided",
      ELSE,
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL }, { S, "void 0", "{}", NULL } },
      "{\"answer\":\"not examined\"}",
      "" },
    { "followed to its site",
      FOLLOW,
      { { "site/S1", "site", "{\"sale\":{\"county\":\"x\"}}", NULL },
        { S, "collecting", "{\"sale\":{\"site\":{\"ref\":\"site/S1\"}}}", NULL },
        { "site/S1", "correct 0", "{\"sale\":{\"county\":\"y\"}}", NULL } },
      "\"y\"",
      "1 2" },
    { "followed by the second field that names one",
      FOLLOW,
      { { "site/S1", "site", "{\"sale\":{\"county\":\"x\"}}", NULL },
        { S, "collecting", "{\"sale\":{\"statedSite\":{\"ref\":\"site/S1\"}}}", NULL } },
      "\"x\"",
      "1 0" },
    { "the site is kept back",
      FOLLOW,
      { { "site/S1", "site", "{\"sale\":{\"county\":\"x\"}}", NULL },
        { S, "collecting", "{\"sale\":{\"site\":{\"ref\":\"site/S1\"}}}", "site" } },
      NULL,
      NULL },
    { "its entries are not there",
      FOLLOW,
      { { S, "collecting", "{\"sale\":{\"site\":{\"ref\":\"site/S9\"}}}", NULL } },
      NULL,
      NULL },
    { "a party by name",
      PARTY,
      { { "party/P1", "party",
          "{\"sale\":{\"neutralLabel\":\"the lab\"},\"science\":{\"name\":\"O. Harrow\"}}", NULL },
        { S, "collecting", "{\"sale\":{\"by\":{\"ref\":\"party/P1\"}}}", NULL } },
      "\"O. Harrow\"",
      "1 0" },
    { "a party by its neutral label where the name is not shown",
      PARTY,
      { { "party/P1", "party",
          "{\"sale\":{\"neutralLabel\":\"the lab\"},\"science\":{\"name\":\"O. Harrow\"}}",
          "name" },
        { S, "collecting", "{\"sale\":{\"by\":[{\"ref\":\"party/P1\"},{\"ref\":\"party/P2\"}]}}",
          NULL } },
      "[\"the lab\",{\"ref\":\"party/P2\"}]",
      "1 0" },
    { "a party renamed",
      PARTY,
      { { "party/P1", "party", "{\"sale\":{\"neutralLabel\":\"the lab\"}}", NULL },
        { "party/P1", "party", "{\"sale\":{\"neutralLabel\":\"the workshop\"}}", NULL },
        { S, "collecting", "{\"sale\":{\"by\":{\"ref\":\"party/P1\"}}}", NULL } },
      "\"the workshop\"",
      "2 1" },
    { "a party renamed, the new name kept back",
      PARTY,
      { { "party/P1", "party", "{\"sale\":{\"neutralLabel\":\"the lab\"}}", NULL },
        { "party/P1", "party", "{\"sale\":{\"neutralLabel\":\"the workshop\"}}", "neutralLabel" },
        { S, "collecting", "{\"sale\":{\"by\":{\"ref\":\"party/P1\"}}}", NULL } },
      "{\"ref\":\"party/P1\"}",
      "2" },
    { "attested lines follow from nothing",
      "\"op\":\"attested\"",
      { { S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL } },
      NULL,
      NULL },
};

static const struct mb_entry *told(struct chain *c, const struct step *step,
                                   const struct mb_entry *const *before)
{
    if (strncmp(step->kind, "correct ", 8) == 0)
        return chain_correct(c, before[step->kind[8] - '0'], CHANGE, step->fields, step->hidden);
    if (strncmp(step->kind, "void ", 5) == 0)
        return chain_correct(c, before[step->kind[5] - '0'], VOID, step->fields, step->hidden);
    return chain_add(c, step->sub, step->kind, step->fields, step->hidden);
}

static const mb_json *table_of(mb_arena *arena, const char *rule)
{
    const mb_json *table;
    struct mb_error err = { 0 };

    cr_assert_eq(
        mb_json_read(
            arena, mb_str_of(mb_arena_printf(arena, "{\"lines\":[{\"name\":\"line\",%s}]}", rule)),
            MB_JSON_STRICT, &table, &err),
        MB_OK, "%s", err.text);
    return table;
}

static void one_tale(const struct tale *tale)
{
    const struct mb_entry *entries[COUNT(tale->steps)];
    mb_json *want = NULL, *lines, *from;
    struct mb_str cited, one;
    mb_stories *stories;
    struct chain c;
    size_t n = 0;

    chain_begin(&c);
    stories = mb_stories_new(c.arena);
    for (; n < COUNT(tale->steps) && tale->steps[n].kind; n++) {
        entries[n] = told(&c, &tale->steps[n], entries);
        mb_stories_add(stories, entries[n]);
    }
    lines =
        mb_statement_lines(c.arena, table_of(c.arena, tale->rule), stories, MB_STR(S), MB_NEVER);
    if (tale->value) {
        const mb_json *value;

        want = mb_json_object(c.arena);
        mb_json_put_text(c.arena, want, "name", "line");
        cr_assert_eq(mb_json_read(c.arena, mb_str_of(tale->value), MB_JSON_STRICT, &value, NULL),
                     MB_OK);
        mb_json_put(c.arena, want, "value", mb_json_copy(c.arena, value));
        from = mb_json_put(c.arena, want, "from", mb_json_array(c.arena));
        for (cited = mb_str_of(tale->from); cited.len;) {
            mb_str_cut(cited, ' ', &one, &cited);
            mb_json_add_text(c.arena, from, chain_leaf(&c, entries[one.at[0] - '0']));
        }
    }
    cr_expect_eq(lines->count, want ? 1 : 0, "%s", tale->what);
    cr_expect(mb_json_equal(mb_json_at(lines, 0), want), "%s: %.*s", tale->what,
              MB_STR_ARG(mb_json_write(c.arena, lines)));
    chain_end(&c);
}

Test(statement, each_line_follows_as_its_rule_says)
{
    for (size_t i = 0; i < COUNT(tales); i++)
        one_tale(&tales[i]);
}

/* As many as a disclosure can hold: whoever makes a file must not be able to make its reading
 * endless. */
Test(statement, a_list_as_long_as_a_disclosure_can_be_is_told_at_once, .timeout = 60)
{
    enum { VALUES = 100000 };
    struct chain c;
    mb_stories *stories;
    const mb_json *lines;
    struct mb_buf fields;

    chain_begin(&c);
    stories = mb_stories_new(c.arena);
    mb_buf_init(&fields, 1 << 20);
    mb_buf_add_text(&fields, "{\"sale\":{\"care\":[");
    for (int i = 0; i < VALUES; i++)
        mb_buf_printf(&fields, "%d,", i);
    mb_buf_add_text(&fields, "0]}}");
    mb_stories_add(stories, chain_add(&c, S, "condition",
                                      mb_arena_copy(c.arena, mb_buf_str(&fields).at,
                                                    mb_buf_str(&fields).len),
                                      NULL));
    mb_buf_done(&fields);
    lines = mb_statement_lines(c.arena, table_of(c.arena, ALL), stories, MB_STR(S), MB_NEVER);
    cr_assert_eq(mb_json_get(mb_json_at(lines, 0), "value")->count, VALUES);
    chain_end(&c);
}

/* A unit stands beside a value and not beside an answer; entries from `before` on say nothing. */
Test(statement, units_and_the_end_of_the_story)
{
    struct chain c;
    mb_stories *stories;
    const mb_json *lines;

    chain_begin(&c);
    stories = mb_stories_new(c.arena);
    mb_stories_add(stories, chain_add(&c, S, "condition", "{\"sale\":{\"care\":\"a\"}}", NULL));
    mb_stories_add(stories, chain_add(&c, S, "condition", "{\"sale\":{\"care\":\"b\"}}", NULL));
    lines = mb_statement_lines(c.arena, table_of(c.arena, ELSE), stories, MB_STR(S), 1);
    cr_expect(mb_json_text_is(mb_json_get(mb_json_at(lines, 0), "value"), "a"));
    cr_expect(mb_json_text_is(mb_json_get(mb_json_at(lines, 0), "unit"), "%"));
    lines = mb_statement_lines(c.arena, table_of(c.arena, ELSE), stories, MB_STR(S), 0);
    cr_expect_null(mb_json_get(mb_json_at(lines, 0), "unit"));
    cr_expect_eq(mb_statement_lines(c.arena, table_of(c.arena, ELSE), stories,
                                    MB_STR("specimen/unknown"), MB_NEVER)
                     ->count,
                 0);
    cr_expect_eq(mb_stories_count(stories), 1);
    cr_expect(mb_str_is(mb_stories_subject(stories, 0), S));
    chain_end(&c);
}

/* schema/statement.json: found by its digest, each name once, only known operations. */
Test(statement, the_released_table_is_well_made)
{
    static const char *const operations[] = { "latest", "first", "all",     "count",
                                              "sum",    "rows",  "attested" };
    mb_arena *arena = mb_arena_new();
    const struct mb_asset *asset = mb_asset_find("statement.json");
    struct mb_hash digest = mb_sha256(asset->data, asset->size);
    struct mb_str current = mb_statement_current(arena);
    const mb_json *table = mb_statement_table(arena, current), *lines;

    cr_expect(mb_str_equal(current, mb_b64u(arena, digest.b, sizeof digest.b)));
    cr_assert_not_null(table);
    cr_expect_null(
        mb_statement_table(arena, MB_STR("VQYWsZICa11ViPyLjO2O6iRg4mXVKBH2e1mhS0xDjQw")));
    cr_expect_null(mb_statement_table(arena, MB_STR("../statement")));
    cr_expect_null(mb_statement_table(arena, (struct mb_str){ NULL, 0 }));
    lines = mb_json_get(table, "lines");
    cr_assert_gt(lines->count, 20);
    MB_JSON_EACH(rule, lines) {
        struct mb_str name = mb_json_str(mb_json_get(rule, "name"));
        bool known = false;
        enum mb_class in;

        for (size_t i = 0; i < COUNT(operations); i++)
            known = known || mb_json_text_is(mb_json_get(rule, "op"), operations[i]);
        cr_expect(known, "%.*s", MB_STR_ARG(name));
        MB_JSON_EACH(other, lines) {
            cr_expect(other == rule
                          || !mb_json_text_is(mb_json_get(other, "name"),
                                              mb_json_cstr(arena, mb_json_get(rule, "name"))),
                      "%.*s stands twice", MB_STR_ARG(name));
        }
        cr_expect(!mb_json_get(rule, "class")
                      || mb_class_of(mb_json_str(mb_json_get(rule, "class")), &in),
                  "%.*s", MB_STR_ARG(name));
        cr_expect(!mb_str_equal(mb_statement_title(table, name), name)
                      || mb_json_get(rule, "title") == NULL,
                  "%.*s has no title of its own", MB_STR_ARG(name));
        cr_expect_eq(mb_statement_may_attest(table, name),
                     mb_str_is(name, "standing") || mb_str_is(name, "coarsePlaceHolds"));
    }
    cr_expect_not(mb_statement_may_attest(table, MB_STR("shares")));
    cr_expect_not(mb_statement_may_attest(table, MB_STR("no such line")));
    cr_expect(mb_str_is(mb_statement_title(table, MB_STR("no such line")), "no such line"));
    mb_arena_free(arena);
}
