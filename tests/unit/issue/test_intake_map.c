/* What a map makes of the cells of a row, and what can be no map: docs/intake.md. */
#include <criterion/criterion.h>
#include <string.h>

#include <markerbed/intake.h>

#include "paper.h"
#include "text.h"
#include "workbench.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

static struct workbench b;

static void set_up(void)
{
    workbench_house(&b);
}

static void tear_down(void)
{
    workbench_done(&b);
}

TestSuite(intake_map, .init = set_up, .fini = tear_down);

static enum mb_rc take(const char *table, const char *map)
{
    struct mb_intake intake = { .path = paper_file(&b, "finds.csv", mb_str_of(table)),
                                .map_path = paper_file(&b, "finds.map.json", mb_str_of(map)) };

    b.err = (struct mb_error){ 0 };
    b.out = NULL;
    return mb_intake_file(b.ledger, b.arena, &intake, &b.out, &b.err);
}

/* The first fault's sentence. */
static const char *fault(void)
{
    const mb_json *row = mb_json_at(mb_json_get(b.out, "faults"), 0);
    const char *text = mb_json_cstr(b.arena, mb_json_get(row, "text"));

    return text ? text : "";
}

#define MAP(entries) "{\"format\":\"markerbed-map/1\",\"entries\":[" entries "]}"

#define NOTE(more) MAP("{\"kind\":\"note\",\"subject\":\"field-day/D001\"," more "}")

static const struct {
    const char *what, *map, *said;
} maps[] = {
    { "no JSON", "{", "line 1" },
    { "another format", "{\"format\":\"x\"}", "it is no map: its format is not markerbed-map/1" },
    { "no entries", "{\"format\":\"markerbed-map/1\"}", "the map has no list of entries" },
    { "a member misspelt", "{\"format\":\"markerbed-map/1\",\"entires\":[]}",
      "the map has no member 'entires' (did you mean 'entries'?)" },
    { "an entry's member misspelt", NOTE("\"feilds\":{}"),
      "an entry of the map has no member 'feilds' (did you mean 'fields'?)" },
    { "a kind misspelt", MAP("{\"kind\":\"notes\",\"subject\":\"site/S001\"}"),
      "there is no kind 'notes' (did you mean 'note'?)" },
    { "no kind", MAP("{\"subject\":\"site/S001\"}"), "an entry of the map names no kind" },
    { "no subject", MAP("{\"kind\":\"note\"}"),
      "the map gives something that is no text as a template" },
    { "a field misspelt", NOTE("\"fields\":{\"txt\":\"{name}\"}"),
      "kind note has no field 'txt' (did you mean 'text'?)" },
    { "rest to a field misspelt", NOTE("\"rest\":\"remark\""),
      "kind note has no field 'remark' (did you mean 'remarks'?)" },
    { "a column misspelt", NOTE("\"fields\":{\"text\":\"{nam}\"}"),
      "the table has no column 'nam' (did you mean 'name'?)" },
    { "a column unheard of", NOTE("\"fields\":{\"text\":\"{xylophone}\"}"),
      "the table has no column 'xylophone'" },
    { "a brace left open", NOTE("\"fields\":{\"text\":\"{name\"}"),
      "in '{name' a brace is opened and not closed" },
    { "another way to change a column", NOTE("\"fields\":{\"text\":\"{name|upper}\"}"),
      "'{name|upper}': the only way to change a column is |id" },
    { "a column misspelt in when", NOTE("\"when\":{\"column\":\"nam\"}"),
      "the table has no column 'nam' (did you mean 'name'?)" },
    { "when misspelt", NOTE("\"when\":{\"colum\":\"name\"}"),
      "when has no member 'colum' (did you mean 'column'?)" },
    { "when in no list", NOTE("\"when\":{\"column\":\"name\",\"in\":\"x\"}"),
      "when: in is a list of texts" },
    { "a translation into a number",
      NOTE("\"fields\":{\"text\":{\"from\":\"{name}\",\"values\":{\"a\":1}}}"),
      "field text: 'a' is translated into something that is no text" },
    { "else without values", NOTE("\"fields\":{\"text\":{\"from\":\"{name}\",\"else\":\"x\"}}"),
      "field text: values is" },
    { "a rule misspelt", NOTE("\"fields\":{\"text\":{\"frm\":\"{name}\"}}"),
      "a field of the map has no member 'frm' (did you mean 'from'?)" },
    { "a number as a template", NOTE("\"fields\":{\"text\":1}"),
      "the map gives something that is no text as a template" },
    { "fields in a list", NOTE("\"fields\":[]"), "fields is {\"field\":\"template\"}" },
};

Test(intake_map, a_map_that_cannot_be_is_refused_in_one_sentence)
{
    int64_t size = workbench_size(&b);

    for (size_t i = 0; i < COUNT(maps); i++) {
        cr_expect_eq(take("name,b\nx,y\n", maps[i].map), MB_REFUSED, "%s",
                     maps[i].what);
        cr_expect(strstr(b.err.text, maps[i].said), "%s: %s", maps[i].what, b.err.text);
        cr_expect(strstr(b.err.text, "finds.map.json"), "the file is named: %s", b.err.text);
        cr_expect_null(b.out, "%s", maps[i].what);
    }
    cr_expect_eq(workbench_size(&b), size);
}

/* The text of the note that a row gives; "(none)" if it gives no entry, "" for no text. */
static const struct {
    const char *what, *rule, *row, *text;
} rules[] = {
    { "a constant", "\"fields\":{\"text\":\"seen\"}", "x,y", "\"seen\"" },
    { "words around columns", "\"fields\":{\"text\":\"{a}, then {b}.\"}", "x,y", "\"x, then y.\"" },
    { "one column empty", "\"fields\":{\"text\":\"{a}/{b}\"}", "x,", "\"x/\"" },
    { "blanks around a cell are none of it", "\"fields\":{\"text\":\"<{a}>\"}", "  x ,y",
      "\"<x>\"" },
    { "translated", "\"fields\":{\"text\":{\"from\":\"{a}\",\"values\":{\"x\":\"ex\"}}}", "x,y",
      "\"ex\"" },
    { "not listed stays", "\"fields\":{\"text\":{\"from\":\"{a}\",\"values\":{\"z\":\"ex\"}}}",
      "x,y", "\"x\"" },
    { "else", "\"fields\":{\"text\":{\"from\":\"{a}\",\"values\":{\"z\":\"q\"},\"else\":\"?\"}}",
      "x,y", "\"?\"" },
    { "an empty cell has a translation of its own",
      "\"fields\":{\"text\":{\"from\":\"{a}\",\"values\":{\"\":\"nothing there\"}}}", ",y",
      "\"nothing there\"" },
    { "rest", "\"fields\":{\"text\":\"{a}\"},\"rest\":\"remarks\"", "x,y", "\"x\"" },
    { "when", "\"fields\":{\"text\":\"{a}\"},\"when\":{\"column\":\"b\"}", "x,", "(none)" },
    { "when there", "\"fields\":{\"text\":\"{a}\"},\"when\":{\"column\":\"b\"}", "x,y", "\"x\"" },
    { "when in", "\"fields\":{\"text\":\"{a}\"},\"when\":{\"column\":\"b\",\"in\":[\"q\",\"y\"]}",
      "x,y", "\"x\"" },
    { "when not in", "\"fields\":{\"text\":\"{a}\"},\"when\":{\"column\":\"b\",\"in\":[\"q\"]}",
      "x,y", "(none)" },
    { "when empty is in", "\"fields\":{\"text\":\"{a}\"},\"when\":{\"column\":\"b\",\"in\":[\"\"]}",
      "x,", "\"x\"" },
};

Test(intake_map, a_map_says_what_becomes_of_each_cell)
{
    for (size_t i = 0; i < COUNT(rules); i++) {
        const char *id = mb_arena_printf(b.arena, "R%02zu", i);
        const char *map = mb_arena_printf(
            b.arena, MAP("{\"kind\":\"note\",\"subject\":\"party/%s\",%s}"), id, rules[i].rule);
        const char *text;
        int64_t size;

        workbench_must(&b, "party", id, "partyType=firm", "name=A firm", "namedTo=anyone", NULL);
        size = workbench_size(&b);
        cr_assert_eq(take(mb_arena_printf(b.arena, "a,b\n%s\n", rules[i].row),
                          map),
                     MB_OK, "%s: %s %s", rules[i].what, b.err.text, fault());
        text = workbench_size(&b) == size ? "(none)" : workbench_field(&b, size, "text", NULL);
        cr_expect_str_eq(text, rules[i].text, "%s", rules[i].what);
        if (strcmp(rules[i].what, "rest") == 0)
            cr_expect_str_eq(workbench_field(&b, size, "remarks", NULL), "\"b: y\"");
    }
}

/* Cells that differ never become one ID, and one that is an ID stays as it is. */
Test(intake_map, an_id_is_made_of_any_cell)
{
    static const char *const cells[] = { "A-1", "A/1", "A 1", "A\\1", "\xC3\xA4-1", "A_1", "A.1",
                                         "a very long number indeed, longer than forty letters 1",
                                         "a very long number indeed, longer than forty letters 2" };
    const char *table = "a\n", *seen = "";
    int64_t size;

    for (size_t i = 0; i < COUNT(cells); i++)
        table = mb_arena_printf(b.arena, "%s\"%s\"\n", table, cells[i]);
    size = workbench_size(&b);
    cr_assert_eq(take(table, MAP("{\"kind\":\"party\",\"subject\":\"party/X{a|id}\","
                                 "\"fields\":{\"partyType\":\"firm\",\"name\":\"{a}\","
                                 "\"namedTo\":\"anyone\"}}")),
                 MB_OK, "%s", fault());
    cr_expect_eq(workbench_size(&b), size + (int64_t)COUNT(cells));
    for (size_t i = 0; i < COUNT(cells); i++) {
        struct mb_str sub = workbench_entry(&b, size + (int64_t)i).sub;
        const char *id = mb_arena_printf(b.arena, "[%.*s]", MB_STR_ARG(sub));

        cr_expect_null(strstr(seen, id), "%s", id);
        seen = mb_arena_printf(b.arena, "%s%s", seen, id);
    }
    cr_expect(strstr(seen, "[party/XA-1][") && strstr(seen, "[party/XA_1]")
                  && strstr(seen, "[party/XA.1]"),
              "%s", seen);
}

/* A row that is refused does not take with it what later rows of the same site need. */
