#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "lithology.h"
#include "section_record.h"
#include "text.h"

/* The international foot of 1959 is 0.3048 m. */
Test(section_record, metres)
{
    cr_assert(fabs(mb_section_metres(MB_STR("-40 cm")) + 0.4) < 1e-12);
    cr_assert(fabs(mb_section_metres(MB_STR("10 ft")) - 3.048) < 1e-12);
    cr_assert(mb_section_metres(MB_STR("0.35 m")) == 0.35);
    cr_assert(isnan(mb_section_metres(MB_STR("2"))));
    cr_assert(isnan(mb_section_metres(MB_STR("2 miles"))));
    cr_assert(isnan(mb_section_metres(MB_STR(""))));
}

static void is_stack(const struct mb_layer *layers, size_t count, const char *wanted)
{
    mb_arena *arena = mb_arena_new();
    struct mb_stack stack;
    const char *got = "";

    mb_section_stack(arena, layers, count, &stack);
    for (size_t i = 0; i < stack.count; i++)
        got = mb_arena_printf(arena, "%s%s %g-%g;", got,
                              stack.layer_of[i] ? stack.layer_of[i]->name : "?",
                              stack.beds[i].base_m, stack.beds[i].top_m);
    cr_assert_str_eq(got, wanted);
    mb_arena_free(arena);
}

/* Drawn on paper beforehand. */
Test(section_record, stacks)
{
    const struct mb_layer a = { .name = "a", .base_m = 0, .thick_m = 4 };
    const struct mb_layer b = { .name = "b", .base_m = 1, .thick_m = 1 };
    const struct mb_layer c = { .name = "c", .base_m = 6, .thick_m = 1 };
    const struct mb_layer d = { .name = "d", .base_m = 3.5, .thick_m = 2 };

    is_stack((struct mb_layer[]){ a }, 1, "a 0-4;");
    is_stack((struct mb_layer[]){ a, b }, 2, "a 0-1;b 1-2;a 2-4;");
    is_stack((struct mb_layer[]){ c, a }, 2, "a 0-4;? 4-6;c 6-7;");
    is_stack((struct mb_layer[]){ d, a, c }, 3, "a 0-3.5;d 3.5-5.5;? 5.5-6;c 6-7;");
    is_stack(NULL, 0, "");
}

Test(section_record, rocks_by_their_noun)
{
    static const struct {
        const char *words;
        enum mb_lithology is;
    } cases[] = { { "chalk", MB_LITHO_CHALK },
                  { "chalky limestone", MB_LITHO_LIMESTONE },
                  { "grey sandy shale with bentonite", MB_LITHO_SHALE },
                  { "Sandstone, shale partings", MB_LITHO_SANDSTONE },
                  { "white bentonite", MB_LITHO_ASH },
                  { "washed out", MB_LITHO_UNKNOWN },
                  { "not known", MB_LITHO_ABSENT },
                  { "", MB_LITHO_ABSENT },
                  { "shale and limestone", MB_LITHO_SHALE },
                  { "clay-ironstone", MB_LITHO_IRONSTONE } };

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        cr_expect_eq(mb_lithology_of(mb_str_of(cases[i].words)), cases[i].is, "%s",
                     cases[i].words);
    for (int i = 0; i < MB_LITHO_COUNT; i++)
        cr_expect_eq(mb_lithology_read(mb_str_of(mb_lithology_word[i])), (enum mb_lithology)i);
}
