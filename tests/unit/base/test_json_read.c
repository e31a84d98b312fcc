#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include <markerbed/json.h>

#include "buf.h"
#include "text.h"

static enum mb_rc read_text(mb_arena *arena, const char *text, enum mb_json_rules rules,
                            const mb_json **out, struct mb_error *err)
{
    /* exactly as long as the text, so that a memory checker sees a look past its end */
    char *copy = mb_arena_get(arena, strlen(text));

    memcpy(copy, text, strlen(text));
    return mb_json_read(arena, (struct mb_str){ copy, strlen(text) }, rules, out, err);
}

/* Both: what RFC 8259 takes and refuses. Strict: the further rules of docs/format.md. */
static const struct {
    const char *text;
    bool plain, strict;
} syntax[] = {
    { "null", true, true },
    { "true", true, true },
    { "false", true, true },
    { "0", true, true },
    { "\"\"", true, true },
    { "[]", true, true },
    { "{}", true, true },
    { " \t\r\n[ 1 , 2 ] \n", true, true },
    { "{ \"a\" : [ { } , [ ] ] }", true, true },
    { "[[[[\"x\"]]]]", true, true },
    { "{\"a\":1,\"b\":1}", true, true },
    { "{\"a\":{\"a\":1}}", true, true },
    { "", false, false },
    { " ", false, false },
    { "nul", false, false },
    { "nulll", false, false },
    { "True", false, false },
    { "NaN", false, false },
    { "-Infinity", false, false },
    { "[", false, false },
    { "]", false, false },
    { "[1", false, false },
    { "[1,", false, false },
    { "[1,]", false, false },
    { "[,1]", false, false },
    { "[1 2]", false, false },
    { "[1,,2]", false, false },
    { "[1}", false, false },
    { "{", false, false },
    { "{\"a\"", false, false },
    { "{\"a\":", false, false },
    { "{\"a\":1", false, false },
    { "{\"a\":1,", false, false },
    { "{\"a\":1,}", false, false },
    { "{,\"a\":1}", false, false },
    { "{\"a\" 1}", false, false },
    { "{\"a\",1}", false, false },
    { "{a:1}", false, false },
    { "{'a':1}", false, false },
    { "{1:1}", false, false },
    { "{\"a\":1]", false, false },
    { "1 2", false, false },
    { "[] []", false, false },
    { "{}x", false, false },
    { "[1] // two", false, false },
    { "/* */ 1", false, false },
    { "\v1", false, false },
    { "\xc2\xa0[]", false, false }, /* a no-break space */
    /* numbers */
    { "9007199254740991", true, true },
    { "9007199254740992", true, false },
    { "123456789012345678901234567890", true, false },
    { "-1", true, false },
    { "-0", true, false },
    { "1.5", true, false },
    { "1.0", true, false },
    { "0.1e+10", true, false },
    { "1E5", true, false },
    { "1e-5", true, false },
    { "1e400", true, false },
    { "00", false, false },
    { "01", false, false },
    { "-01", false, false },
    { "-", false, false },
    { "+1", false, false },
    { "1.", false, false },
    { ".5", false, false },
    { "1.e5", false, false },
    { "1e", false, false },
    { "1e+", false, false },
    { "1e5.5", false, false },
    { "--1", false, false },
    { "1-1", false, false },
    { "0x1F", false, false },
    { "1_000", false, false },
    { "\xef\xbc\x91", false, false }, /* a full-width digit */
    /* texts */
    { "\"\\\"\\\\\\/\\n\\t\"", true, true },
    { "\"\\b\"", true, false },
    { "\"\\f\"", true, false },
    { "\"\\r\"", true, false },
    { "\"\\u0041\"", true, true },
    { "\"\\u000a\\u0009\"", true, true },
    { "\"\\u001b\"", true, false },
    { "\"\\u0000\"", false, false },
    { "\"\\uD83D\\uDE00\"", true, true },
    { "\"\\ud83d\"", false, false },
    { "\"\\ude00\"", false, false },
    { "\"\\ud83dx\"", false, false },
    { "\"\\ud83d\\u0041\"", false, false },
    { "\"\\ude00\\ud83d\"", false, false },
    { "\"\\ud83d\\ud83d\"", false, false },
    { "\"\\ude00\\ude00\"", false, false },
    { "\"\\ud83d\\ue000\"", false, false },
    { "\"\\udbff\\udfff\\ud800\\udc00\\ud7ff\\ue000\"", true, true },
    { "\"\\ud83d\\\"\"", false, false },
    { "\"\\u004\"", false, false },
    { "\"\\u00g1\"", false, false },
    { "\"\\u 041\"", false, false },
    { "\"\\U0041\"", false, false },
    { "\"\\x41\"", false, false },
    { "\"\\a\"", false, false },
    { "\"\\'\"", false, false },
    { "\"\\", false, false },
    { "\"\\\"", false, false },
    { "\"", false, false },
    { "\"abcdefgh", false, false },
    { "\"abc\ndefg\"", false, false },
    { "\"abc\tdefg\"", false, false },
    { "\"\x01\"", false, false },
    { "\"\x7f\"", true, false },
    { "\"\\u007f\"", true, false },
    { "\"\xc3\xa9\xe2\x82\xac\xf0\x9f\x98\x80\"", true, true },
    { "\"\xc2\x85\"", true, false },     /* U+0085, a C1 control */
    { "\"\xe2\x80\xae\"", true, false }, /* U+202E */
    { "\"\\u202e\"", true, false },
    { "\"\\u2066\"", true, false },
    { "\"\\u061C\"", true, false },
    { "\"\xe2\x80\xa8\"", true, true }, /* U+2028 is no control */
    { "\"\xff\"", false, false },
    { "\"\xc0\x80\"", false, false },
    { "\"\xed\xa0\xbd\xed\xb8\x80\"", false, false }, /* surrogates as UTF-8 */
    { "\"\xe2\x82\"", false, false },
    { "'a'", false, false },
    { "\xef\xbb\xbf{}", true, false }, /* byte order mark */
    { "\xef\xbb\xbf\xef\xbb\xbf{}", false, false },
    { "{\xef\xbb\xbf}", false, false },
    { "[\"a\",\n4\n,1,", false, false },
    /* names */
    { "{\"\":1}", true, false },
    { "{\"a b/c~\":1}", true, true },
    { "{\"\\u0061\":1}", true, true },
    { "{\"\xc3\xa9\":1}", true, false },
    { "{\"\\u00e9\":1}", true, false },
    { "{\"a\\n\":1}", true, false },
    { "{\"a\\t\":1}", true, false },
    { "{\"\x7f\":1}", true, false },
    { "{\"a\":1,\"a\":1}", false, false },
    { "{\"a\":1,\"\\u0061\":2}", false, false },
    { "[{\"a\":1,\"b\":2,\"a\":3}]", false, false },
};

Test(json_read, the_syntax_of_rfc_8259_and_the_narrower_rules_of_the_format)
{
    mb_arena *arena = mb_arena_new();

    for (size_t i = 0; i < sizeof syntax / sizeof syntax[0]; i++) {
        for (int strict = 0; strict < 2; strict++) {
            bool wanted = strict ? syntax[i].strict : syntax[i].plain;
            struct mb_error err = { 0 };
            const mb_json *value = NULL;
            enum mb_rc rc = read_text(arena, syntax[i].text,
                                      strict ? MB_JSON_STRICT : MB_JSON_PLAIN, &value, &err);
            cr_assert_eq(rc, wanted ? MB_OK : MB_REFUSED, "%s %s: %s", strict ? "strict" : "plain",
                         syntax[i].text, err.text);
            cr_assert_eq(value != NULL, wanted);
            if (!wanted) {
                cr_assert(mb_str_starts(mb_str_of(err.text), "line "), "%s", err.text);
                cr_assert(mb_text_allowed(mb_str_of(err.text), false));
            }
        }
        mb_arena_reset(arena);
    }
    mb_arena_free(arena);
}

Test(json_read, a_value_is_what_was_written)
{
    static const char text[] =
        "{\"i\":42,\"n\":-1.50e1,\"big\":9007199254740992,\"s\":\"a\\u00e9\\ud83d"
        "\\ude00\\n\",\"l\":[true,false,null,\"plain\"],\"o\":{}}";
    mb_arena *arena = mb_arena_new();
    const mb_json *value, *list;

    cr_assert_eq(mb_json_read(arena, MB_STR(text), MB_JSON_PLAIN, &value, NULL), MB_OK);
    cr_assert(value->type == MB_JSON_OBJECT && value->count == 6);
    cr_assert(mb_str_is(value->first->name, "i") && mb_str_is(value->last->name, "o"));
    cr_assert_eq(mb_json_int(mb_json_get(value, "i"), -1), 42);
    cr_assert_eq(mb_json_get(value, "n")->type, MB_JSON_NUMBER);
    cr_assert(mb_str_is(mb_json_get(value, "n")->text, "-1.50e1"));
    cr_assert_eq(mb_json_get(value, "big")->type, MB_JSON_NUMBER);
    cr_assert(mb_json_text_is(mb_json_get(value, "s"), "a\xc3\xa9\xf0\x9f\x98\x80\n"));
    list = mb_json_get(value, "l");
    cr_assert(list->type == MB_JSON_ARRAY && list->count == 4);
    cr_assert(mb_json_true(mb_json_at(list, 0)) && mb_json_is(mb_json_at(list, 1), MB_JSON_FALSE));
    cr_assert(mb_json_is(mb_json_at(list, 2), MB_JSON_NULL) && mb_json_at(list, 4) == NULL);
    cr_assert(mb_json_get(value, "o")->count == 0);
    /* what needed no change was not copied */
    cr_assert(mb_json_at(list, 3)->text.at > text
              && mb_json_at(list, 3)->text.at < strchr(text, '\0'));
    mb_arena_free(arena);
}

Test(json_read, a_refusal_names_line_and_column)
{
    static const struct {
        const char *text, *place, *part;
    } cases[] = {
        { "{\"a\":1.5}", "line 1, column 6: ", "whole" },
        { "{\n  \"a\": tru\n}", "line 2, column 8: ", "a value" },
        { "{\"\xc3\xa9\xe2\x82\xac\": [1,]}", "line 1, column 11: ", "a value" },
        { "[1,\n\n2", "line 3, column 2: ", "the text ends here" },
        { "{\"one\":1,\n\"one\":2}", "line 2, column 1: ", "\"one\" stands twice" },
        { "[\"abc\\q\"]", "line 1, column 6: ", "no such escape" },
        { "[\"a\nb\"]", "line 1, column 4: ", "line end" },
        { "{} {}", "line 1, column 4: ", "remove what follows" },
        { "[\"\xff\"]", "line 1, column 3: ", "UTF-8" },
        { "[\"never", "line 1, column 2: ", "never closed" },
    };
    mb_arena *arena = mb_arena_new();

    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        enum mb_json_rules rules = i == 0 ? MB_JSON_STRICT : MB_JSON_PLAIN;
        struct mb_error err = { 0 };
        const mb_json *value;
        cr_assert_eq(read_text(arena, cases[i].text, rules, &value, &err), MB_REFUSED);
        cr_assert(mb_str_starts(mb_str_of(err.text), cases[i].place), "%s: %s", cases[i].text,
                  err.text);
        cr_assert_not_null(strstr(err.text, cases[i].part), "%s", err.text);
    }
    mb_arena_free(arena);
}

Test(json_read, nesting_ends_at_16_or_200_levels_whatever_is_nested)
{
    enum { MANY = 1000000 };
    mb_arena *arena = mb_arena_new();
    char *text = mb_arena_get(arena, 5 * MANY);
    const mb_json *value;

    for (int strict = 0; strict < 2; strict++) {
        enum mb_json_rules rules = strict ? MB_JSON_STRICT : MB_JSON_PLAIN;
        size_t most = strict ? 16 : 200;
        for (size_t depth = most; depth <= most + 1; depth++) {
            enum mb_rc wanted = depth == most ? MB_OK : MB_REFUSED;
            memset(text, '[', depth);
            memset(text + depth, ']', depth);
            cr_assert_eq(
                mb_json_read(arena, (struct mb_str){ text, 2 * depth }, rules, &value, NULL),
                wanted);
            for (size_t i = 0; i < depth; i++)
                memcpy(text + 5 * i, "{\"a\":", 5);
            memcpy(text + 5 * depth - 5, "{", 1);
            memset(text + 5 * depth - 4, '}', depth);
            cr_assert_eq(
                mb_json_read(arena, (struct mb_str){ text, 6 * depth - 4 }, rules, &value, NULL),
                wanted);
        }
        memset(text, '[', MANY);
        cr_assert_eq(mb_json_read(arena, (struct mb_str){ text, MANY }, rules, &value, NULL),
                     MB_REFUSED);
    }
    cr_assert_eq(mb_json_read(arena, MB_STR("[[],[],[],[],[],[],[],[],[],[],[],[],[],[],[],[],[]]"),
                              MB_JSON_STRICT, &value, NULL),
                 MB_OK, "siblings are not levels");
    mb_arena_free(arena);
}

/* {"m0":0, ... } with `count` names in no order, one a line, and on the last line the twin's. */
static struct mb_str many_members(struct mb_buf *buf, size_t count, size_t twin)
{
    mb_buf_clear(buf);
    mb_buf_add_char(buf, '{');
    for (size_t i = 0; i < count; i++)
        mb_buf_printf(buf, "\"m%zu\":0,\n", i * 7919 % count);
    mb_buf_printf(buf, "\"m%zu\":0}", twin);
    return mb_buf_str(buf);
}

/* With comparing each with each, 300000 members would take minutes. */
Test(json_read, a_name_that_stands_twice_is_found_among_few_and_among_very_many, .timeout = 60)
{
    static const size_t counts[] = { 1, 2, 31, 32, 33, 34, 100, 300000 };
    mb_arena *arena = mb_arena_new();
    MB_BUF_AUTO struct mb_buf buf;

    mb_buf_init(&buf, SIZE_MAX);
    for (size_t i = 0; i < sizeof counts / sizeof counts[0]; i++) {
        size_t count = counts[i];
        char place[32];
        size_t twins[] = { 0, count / 2, count - 1, count };
        for (size_t t = 0; t < 4; t++) {
            struct mb_str text = many_members(&buf, count, twins[t]);
            struct mb_error err = { 0 };
            const mb_json *value;
            enum mb_rc rc = mb_json_read(arena, text, MB_JSON_STRICT, &value, &err);
            cr_assert_eq(rc, twins[t] < count ? MB_REFUSED : MB_OK, "%zu members", count);
            if (rc == MB_OK)
                continue;
            snprintf(place, sizeof place, "line %zu, ", count + 1);
            cr_assert(mb_str_starts(mb_str_of(err.text), place), "%s", err.text);
            cr_assert_not_null(strstr(err.text, "twice"));
        }
        mb_arena_reset(arena);
    }
    mb_arena_free(arena);
}
