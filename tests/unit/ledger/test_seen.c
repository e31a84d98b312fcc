/* Texts met before. */
#include <criterion/criterion.h>

#include "seen.h"
#include "text.h"

enum { TEXTS = 20000 };

Test(seen, each_text_is_new_once_and_keeps_its_value)
{
    mb_arena *arena = mb_arena_new();
    struct mb_seen seen = { .arena = arena };
    bool known;

    for (int i = 0; i < TEXTS; i++) {
        const mb_json **value =
            mb_seen_at(&seen, mb_str_of(mb_arena_printf(arena, "party/P%d", i)), &known);

        cr_assert_not(known, "%d", i);
        cr_assert_null(*value);
        *value = mb_json_integer(arena, i);
    }
    for (int i = TEXTS; i-- > 0;) {
        const mb_json **value =
            mb_seen_at(&seen, mb_str_of(mb_arena_printf(arena, "party/P%d", i)), &known);

        cr_assert(known, "%d", i);
        cr_assert_eq(mb_json_int(*value, -1), i);
    }
    cr_assert_eq(seen.count, TEXTS);
    mb_seen_at(&seen, MB_STR(""), &known);
    cr_assert_not(known, "the empty text is one too");
    mb_seen_at(&seen, MB_STR(""), &known);
    cr_assert(known);
    mb_arena_free(arena);
}
