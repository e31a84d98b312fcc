#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include <markerbed/json.h>

#include "text.h"

static const mb_json *value_of(mb_arena *arena, const char *text)
{
    const mb_json *value = NULL;
    struct mb_error err = { 0 };

    cr_assert_eq(
        mb_json_read(arena, mb_str_of(mb_arena_text(arena, text)), MB_JSON_PLAIN, &value, &err),
        MB_OK, "%s: %s", text, err.text);
    return value;
}

Test(json_value, looking_at_what_is_not_there_or_of_another_type_answers_nothing)
{
    mb_arena *arena = mb_arena_new();
    const mb_json *text = value_of(arena, "\"7\""), *list = value_of(arena, "[7]");

    cr_assert_null(mb_json_get(NULL, "a"));
    cr_assert_null(mb_json_get(list, "a"));
    cr_assert_null(mb_json_get(value_of(arena, "{\"ab\":1}"), "a"));
    cr_assert_null(mb_json_at(NULL, 0));
    cr_assert_null(mb_json_at(value_of(arena, "{\"a\":1}"), 0));
    cr_assert_null(mb_json_at(list, 1));
    cr_assert_not(mb_json_is(NULL, MB_JSON_NULL));
    cr_assert_not(mb_json_text_is(NULL, ""));
    cr_assert_not(mb_json_text_is(list, "7"));
    cr_assert_null(mb_json_str(list).at);
    cr_assert_null(mb_json_cstr(arena, NULL));
    cr_assert_null(mb_json_cstr(arena, list));
    cr_assert_str_eq(mb_json_cstr(arena, text), "7");
    cr_assert_eq(mb_json_int(text, -5), -5);
    cr_assert_eq(mb_json_int(NULL, -5), -5);
    cr_assert_eq(mb_json_int(value_of(arena, "7.0"), -5), -5);
    cr_assert_not(mb_json_true(NULL) || mb_json_true(text));
    MB_JSON_EACH(child, (const mb_json *)NULL)
        cr_assert_fail("nothing has no children, but %p", (const void *)child);
    mb_arena_free(arena);
}

Test(json_value, equal_is_the_same_value_in_any_order_of_members)
{
    static const struct {
        const char *a, *b;
        bool equal;
    } cases[] = {
        { "{\"a\":1,\"b\":[1,2]}", "{ \"b\" : [1,2], \"a\" : 1 }", true },
        { "{\"a\":1}", "{\"a\":2}", false },
        { "{\"a\":1}", "{\"b\":1}", false },
        { "{\"a\":1}", "{\"a\":1,\"b\":1}", false },
        { "[1,2]", "[2,1]", false },
        { "[1]", "[1,1]", false },
        { "\"a\"", "\"\\u0061\"", true },
        { "\"1\"", "1", false },
        { "1.5", "1.50", false },
        { "-1.5", "-1.5", true },
        { "true", "false", false },
        { "null", "null", true },
        { "[]", "{}", false },
        { "{\"a\":{\"b\":null}}", "{\"a\":{\"b\":false}}", false },
    };
    mb_arena *arena = mb_arena_new();

    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const mb_json *a = value_of(arena, cases[i].a), *b = value_of(arena, cases[i].b);
        cr_assert_eq(mb_json_equal(a, b), cases[i].equal, "%s, %s", cases[i].a, cases[i].b);
        cr_assert_eq(mb_json_equal(b, a), cases[i].equal);
        cr_assert(mb_json_equal(a, mb_json_copy(arena, a)));
    }
    cr_assert(mb_json_equal(NULL, NULL));
    cr_assert_not(mb_json_equal(NULL, value_of(arena, "null")));
    mb_arena_free(arena);
}

Test(json_value, equal_takes_many_members_in_any_order)
{
    mb_arena *arena = mb_arena_new();
    mb_json *up = mb_json_object(arena), *down = mb_json_object(arena);
    char name[16];

    for (int i = 0; i < 2000; i++) {
        snprintf(name, sizeof name, "m%d", i);
        mb_json_put_int(arena, up, name, i);
        snprintf(name, sizeof name, "m%d", 1999 - i);
        mb_json_put_int(arena, down, name, 1999 - i);
    }
    cr_assert(mb_json_equal(up, down));
    mb_json_put_int(arena, down, "m1000", 7);
    cr_assert_not(mb_json_equal(up, down));
    mb_arena_free(arena);
}

Test(json_value, a_value_is_made_put_and_put_again_in_its_place)
{
    mb_arena *arena = mb_arena_new();
    mb_json *object = mb_json_object(arena), *list;
    char text[] = "chalk";

    cr_assert(mb_json_text_is(mb_json_put_text(arena, object, "rock", text), "chalk"));
    text[0] = 'X'; /* it was copied */
    mb_json_put_bool(arena, object, "bare", true);
    mb_json_put_int(arena, object, "count", 12);
    list = mb_json_put(arena, object, "list", mb_json_array(arena));
    mb_json_add_text(arena, list, "one");
    mb_json_add(list, mb_json_bool(arena, false));
    mb_json_add(list, mb_json_null(arena));
    mb_json_put_text(arena, object, "none", NULL);
    cr_assert(
        mb_json_equal(object, value_of(arena, "{\"rock\":\"chalk\",\"bare\":true,\"count\":12,"
                                              "\"list\":[\"one\",false,null],\"none\":null}")));
    mb_json_put_int(arena, object, "rock", 1); /* the first, a middle one, the last */
    mb_json_put_int(arena, object, "count", 2);
    mb_json_put_int(arena, object, "none", 3);
    mb_json_put_int(arena, object, "more", 4);
    cr_assert_eq(object->count, 6);
    cr_assert(
        mb_str_is(mb_json_write_pretty(arena, object),
                  "{\n  \"rock\": 1,\n  \"bare\": true,\n  \"count\": 2,\n  \"list\": [\n"
                  "    \"one\",\n    false,\n    null\n  ],\n  \"none\": 3,\n  \"more\": 4\n}"));
    mb_arena_free(arena);
}

Test(json_value, a_copy_stands_on_its_own)
{
    mb_arena *arena = mb_arena_new(), *other = mb_arena_new();
    char *text = mb_arena_text(arena, "{\"a\":[\"b\",1.50,{\"c\":\"\"}],\"d\":7}");
    const mb_json *value;
    mb_json *copy;

    cr_assert_eq(mb_json_read(arena, mb_str_of(text), MB_JSON_PLAIN, &value, NULL), MB_OK);
    copy = mb_json_copy(other, value);
    memset(text, '?', strlen(text));
    mb_arena_free(arena);
    cr_assert(mb_str_is(mb_json_write(other, copy), "{\"a\":[\"b\",1.50,{\"c\":\"\"}],\"d\":7}"));
    cr_assert_null(mb_json_copy(other, NULL));
    mb_arena_free(other);
}
