#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include <markerbed/json.h>

#include "text.h"

/* Published test data of RFC 8785 (cyberphone/json-canonicalization, testdata), as far as it needs
 * no binary floating point; `weird` without its one name past U+FFFF, because names are sorted by
 * bytes here and by UTF-16 units there, which only differ past U+FFFF. */
static const struct {
    const char *name, *input, *output;
} published[] = {
    { "arrays", "[\n  56,\n  {\n    \"d\": true,\n    \"10\": null,\n    \"1\": [ ]\n  }\n]\n",
      "[56,{\"1\":[],\"10\":null,\"d\":true}]" },
    { "french",
      "{\n  \"peach\": \"This sorting order\",\n  \"p\xc3\xa9"
      "ch\xc3\xa9\": \"is wrong according to French\",\n"
      "  \"p\xc3\xaa"
      "che\": \"but canonicalization MUST\",\n  \"sin\":   \"ignore locale\"\n}",
      "{\"peach\":\"This sorting order\",\"p\xc3\xa9"
      "ch\xc3\xa9\":\"is wrong according to French\",\"p\xc3\xaa"
      "che\":\"but canonicalization MUST\",\"sin\":\"ignore locale\"}" },
    { "structures, 56.0 taken as 56",
      "{\n  \"1\": {\"f\": {\"f\": \"hi\",\"F\": 5} ,\"\\n\": 56},\n  \"10\": { },\n"
      "  \"\": \"empty\",\n  \"a\": { },\n  \"111\": [ {\"e\": \"yes\",\"E\": \"no\" } ],\n"
      "  \"A\": { }\n}",
      "{\"\":\"empty\",\"1\":{\"\\n\":56,\"f\":{\"F\":5,\"f\":\"hi\"}},\"10\":{},"
      "\"111\":[{\"E\":\"no\",\"e\":\"yes\"}],\"A\":{},\"a\":{}}" },
    { "unicode", "{\n  \"Unnormalized Unicode\":\"A\\u030a\"\n}",
      "{\"Unnormalized Unicode\":\"A\xcc\x8a\"}" },
    { "values, without the numbers",
      "{\n  \"string\": \"\\u20ac$\\u000F\\u000aA'\\u0042\\u0022\\u005c\\\\\\\"\\/\",\n"
      "  \"literals\": [null, true, false]\n}",
      "{\"literals\":[null,true,false],"
      "\"string\":\"\xe2\x82\xac$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"}" },
    { "weird",
      "{\n  \"\\u20ac\": \"Euro Sign\",\n  \"\\r\": \"Carriage Return\",\n"
      "  \"\\u000a\": \"Newline\",\n  \"1\": \"One\",\n  \"\\u0080\": \"Control\\u007f\",\n"
      "  \"\\u00f6\": \"Latin Small Letter O With Diaeresis\",\n"
      "  \"\\ufb33\": \"Hebrew Letter Dalet With Dagesh\",\n"
      "  \"</script>\": \"Browser Challenge\"\n}",
      "{\"\\n\":\"Newline\",\"\\r\":\"Carriage Return\",\"1\":\"One\","
      "\"</script>\":\"Browser Challenge\",\"\xc2\x80\":\"Control\x7f\","
      "\"\xc3\xb6\":\"Latin Small Letter O With Diaeresis\",\"\xe2\x82\xac\":\"Euro Sign\","
      "\"\xef\xac\xb3\":\"Hebrew Letter Dalet With Dagesh\"}" },
};

Test(json_write, the_published_canonical_forms_come_out)
{
    mb_arena *arena = mb_arena_new();

    for (size_t i = 0; i < sizeof published / sizeof published[0]; i++) {
        const mb_json *value;
        struct mb_str text;
        cr_assert_eq(
            mb_json_read(arena, mb_str_of(published[i].input), MB_JSON_PLAIN, &value, NULL), MB_OK);
        text = mb_json_write(arena, value);
        cr_assert(mb_str_is(text, published[i].output), "%s: %s", published[i].name, text.at);
    }
    mb_arena_free(arena);
}

/* RFC 8785 section 3.2.2.2 */
Test(json_write, only_quotation_mark_backslash_and_controls_are_escaped)
{
    mb_arena *arena = mb_arena_new();

    for (unsigned code = 0; code < 0x80; code++) {
        char byte = (char)code, expected[16];
        const char *short_form = code != 0 ? strchr("\bb\tt\nn\ff\rr\"\"\\\\", byte) : NULL;
        struct mb_str text =
            mb_json_write(arena, mb_json_string_str(arena, (struct mb_str){ &byte, 1 }));
        if (strchr("\b\t\n\f\r\"\\", byte) != NULL && code != 0)
            snprintf(expected, sizeof expected, "\"\\%c\"", short_form[1]);
        else if (code < 0x20)
            snprintf(expected, sizeof expected, "\"\\u%04x\"", code);
        else
            snprintf(expected, sizeof expected, "\"%c\"", byte);
        cr_assert(mb_str_is(text, expected), "%02x: %s", code, text.at);
    }
    mb_arena_free(arena);
}

Test(json_write, numbers_come_out_as_whole_numbers_or_as_they_were_written)
{
    static const int64_t numbers[] = { 0, 7, 10, MB_JSON_INTEGER_MAX, -1, INT64_MAX, INT64_MIN };
    mb_arena *arena = mb_arena_new();
    const mb_json *value;

    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
        char expected[32];
        snprintf(expected, sizeof expected, "%lld", (long long)numbers[i]);
        cr_assert(mb_str_is(mb_json_write(arena, mb_json_integer(arena, numbers[i])), expected));
    }
    cr_assert_eq(mb_json_read(arena, MB_STR("[12.50, -0, 1E30]"), MB_JSON_PLAIN, &value, NULL),
                 MB_OK);
    cr_assert(mb_str_is(mb_json_write(arena, value), "[12.50,-0,1E30]"));
    cr_assert(mb_str_is(mb_json_write(arena, NULL), "null"));
    mb_arena_free(arena);
}

Test(json_write, for_people_it_is_indented_and_keeps_the_order)
{
    mb_arena *arena = mb_arena_new();
    const mb_json *value, *again;
    struct mb_str text;

    cr_assert_eq(mb_json_read(arena, MB_STR("{\"b\":[1,{\"z\":[],\"y\":{}}],\"a\":\"x\"}"),
                              MB_JSON_STRICT, &value, NULL),
                 MB_OK);
    text = mb_json_write_pretty(arena, value);
    cr_assert(mb_str_is(text, "{\n  \"b\": [\n    1,\n    {\n      \"z\": [],\n      \"y\": {}\n"
                              "    }\n  ],\n  \"a\": \"x\"\n}"),
              "%s", text.at);
    cr_assert_eq(mb_json_read(arena, text, MB_JSON_STRICT, &again, NULL), MB_OK);
    cr_assert(mb_json_equal(value, again));
    mb_arena_free(arena);
}
