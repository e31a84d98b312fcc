/* Fuzzing the JSON reader and writer: whatever is accepted is written canonically, read again and
 * must be the same; whatever is refused is refused in one clean sentence. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <markerbed/json.h>

#include "fuzz.h"
#include "text.h"

static void must(bool holds)
{
    if (!holds)
        abort();
}

static const mb_json *read_once(mb_arena *arena, struct mb_str text, enum mb_json_rules rules)
{
    struct mb_error err = { 0 };
    const mb_json *value = NULL;

    if (mb_json_read(arena, text, rules, &value, &err) == MB_OK) {
        must(value != NULL && err.code == MB_OK);
        return value;
    }
    must(value == NULL && err.code == MB_REFUSED && err.text[0] != '\0');
    must(mb_text_allowed(mb_str_of(err.text), false));
    return NULL;
}

static void round_trip(mb_arena *arena, const mb_json *value, enum mb_json_rules rules)
{
    struct mb_str canonical = mb_json_write(arena, value);
    const mb_json *again = read_once(arena, canonical, rules);
    const mb_json *pretty = read_once(arena, mb_json_write_pretty(arena, value), rules);

    must(again != NULL && mb_json_equal(value, again) && mb_json_equal(again, value));
    must(pretty != NULL && mb_json_equal(value, pretty));
    must(mb_str_equal(canonical, mb_json_write(arena, again)));
    must(mb_str_equal(canonical, mb_json_write(arena, mb_json_copy(arena, pretty))));
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t len)
{
    mb_arena *arena = mb_arena_new();
    struct mb_str text = { (const char *)bytes, len };
    const mb_json *strict = read_once(arena, text, MB_JSON_STRICT);
    const mb_json *plain = read_once(arena, text, MB_JSON_PLAIN);

    if (strict != NULL) {
        must(plain != NULL && mb_json_equal(strict, plain)); /* strict only ever refuses more */
        round_trip(arena, strict, MB_JSON_STRICT);
    }
    if (plain != NULL)
        round_trip(arena, plain, MB_JSON_PLAIN);
    mb_arena_free(arena);
    return 0;
}
