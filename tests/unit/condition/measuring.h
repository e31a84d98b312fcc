/* For the tests of measuring: from a text to its result in one call. */
#ifndef MEASURING_H
#define MEASURING_H

#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include <markerbed/json.h>

#include "measure.h"
#include "text.h"

static inline enum mb_rc try_text(mb_arena *arena, const char *text,
                                  const struct mb_outlines_given *given,
                                  const struct mb_measured **out, struct mb_error *err)
{
    const struct mb_outlines *outlines;
    enum mb_rc rc = mb_outlines_read(arena, "drawing", mb_str_of(text), given, &outlines, err);

    return rc == MB_OK ? mb_measure(arena, outlines, out, err) : rc;
}

static inline const struct mb_measured *measure_text(mb_arena *arena, const char *text,
                                                     const struct mb_outlines_given *given)
{
    struct mb_error err = { .code = MB_OK };
    const struct mb_measured *out = NULL;

    cr_assert_eq(try_text(arena, text, given, &out, &err), MB_OK, "%s", err.text);
    return out;
}

/* The sentence of a refusal. */
static inline const char *refusal(mb_arena *arena, const char *text,
                                  const struct mb_outlines_given *given)
{
    struct mb_error err = { .code = MB_OK };
    const struct mb_measured *out = NULL;
    enum mb_rc rc = try_text(arena, text, given, &out, &err);

    cr_assert_eq(rc, MB_REFUSED, "code %d: %s", rc, err.text);
    return mb_arena_text(arena, err.text);
}

static inline void says(const char *sentence, const char *part)
{
    cr_assert_not_null(strstr(sentence, part), "\"%s\" does not say \"%s\"", sentence, part);
    cr_assert_null(strchr(sentence, '\n'), "more than one line");
}

/* A JSON file with one view, whose members are given. */
static inline const char *one_view(mb_arena *arena, const char *members)
{
    return mb_arena_printf(arena,
                           "{\"format\":\"markerbed-outlines/1\",\"notExamined\":[\"reverse\"],"
                           "\"views\":[{\"name\":\"front\",%s}]}",
                           members);
}

#define GIVEN_ALL                                                                     \
    (&(struct mb_outlines_given){ .view = "front",                                    \
                                  .not_examined = (const char *const[]){ "nothing" }, \
                                  .not_examined_count = 1,                            \
                                  .line_px = 1 })

#endif
