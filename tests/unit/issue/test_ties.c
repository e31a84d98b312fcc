/* What ties a paper to its piece: what is missing is told, in the order of looking for it. */
#include <criterion/criterion.h>

#include <markerbed/json.h>

#include "text.h"
#include "ties.h"

#define ALL                                                                                        \
    "{\"name\":\"identifyingMarks\",\"value\":[{\"mark\":\"a\"},{\"mark\":\"b\"},"                 \
    "{\"mark\":\"c\"}]}"

static const struct {
    const char *lines;
    bool pictured;
    const char *missing; /* NULL: nothing */
} cases[] = {
    { "", false,
      "three marks that identify it, its size, its mass, the number written on it and a photo of"
      " it" },
    { ALL ",{\"name\":\"dimensions\",\"value\":[{\"which\":\"width\",\"value\":\"219\","
          "\"unit\":\"mm\"}]},{\"name\":\"mass\",\"value\":\"6.85\",\"unit\":\"kg\"},"
          "{\"name\":\"numberOnObject\",\"value\":\"24-0115, ink\"}",
      true, NULL },
    /* measured on another day counts as well */
    { ALL ",{\"name\":\"measurements\",\"value\":[{\"what\":\"mass\",\"value\":\"1\"},"
          "{\"what\":\"length\",\"value\":\"2\"}]},"
          "{\"name\":\"numberOnObject\",\"value\":\"24-0115, ink\"}",
      true, NULL },
    { ALL ",{\"name\":\"measurements\",\"value\":[{\"what\":\"angle\",\"value\":\"1\"}]},"
          "{\"name\":\"numberOnObject\",\"value\":\"7\"}",
      true, "its size and its mass" },
    /* "not examined" is no answer to a buyer, and two marks are not three */
    { "{\"name\":\"identifyingMarks\",\"value\":[{\"mark\":\"a\"},{\"mark\":\"b\"}]},"
      "{\"name\":\"dimensions\",\"value\":{\"answer\":\"not examined\"}},"
      "{\"name\":\"mass\",\"value\":{\"value\":\"3.4\",\"unit\":\"kg\"}},"
      "{\"name\":\"numberOnObject\",\"value\":\"none\"}",
      true, "three marks that identify it, its size and the number written on it" },
    { "{\"name\":\"mass\",\"value\":{\"answer\":\"not examined\"}},"
      "{\"name\":\"dimensions\",\"value\":[]}",
      true,
      "three marks that identify it, its size, its mass and the number written on it" },
    /* a lot is no single piece */
    { "{\"name\":\"objectForm\",\"value\":\"lot\"}", false, NULL },
    { "{\"name\":\"lotSummary\",\"value\":[{\"count\":\"3\"}]}", false, NULL },
};

Test(ties, what_is_missing_is_told)
{
    mb_arena *arena = mb_arena_new();

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const char *text = mb_arena_printf(arena, "[%s]", cases[i].lines), *missing;
        const mb_json *lines;
        struct mb_error err = { 0 };

        cr_assert_eq(mb_json_read(arena, mb_str_of(text), MB_JSON_STRICT, &lines, &err), MB_OK,
                     "%s", err.text);
        missing = mb_ties_missing(arena, lines, cases[i].pictured);
        if (cases[i].missing)
            cr_expect_str_eq(missing ? missing : "", cases[i].missing, "case %zu", i);
        else
            cr_expect_null(missing, "case %zu: %s", i, missing);
    }
    mb_arena_free(arena);
}
