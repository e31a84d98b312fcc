#include "ties.h"

#include "text.h"

enum { MARKS = 3, MISSING_MAX = 5 };

static const mb_json *value_of(const mb_json *lines, const char *name)
{
    MB_JSON_EACH(line, lines)
    {
        if (mb_json_text_is(mb_json_get(line, "name"), name))
            return mb_json_get(line, "value");
    }
    return NULL;
}

static bool has_rows(const mb_json *value, uint32_t needed)
{
    return mb_json_is(value, MB_JSON_ARRAY) && value->count >= needed;
}

/* A word that says something: no answer such as "not examined". */
static bool is_told(const mb_json *value)
{
    struct mb_str text = mb_json_str(value);

    if (mb_json_is(value, MB_JSON_OBJECT))
        return mb_json_get(value, "value") != NULL;
    return text.len > 0 && !mb_str_is(text, "none");
}

/* Was it measured in one of these ways? What was struck out is no line any more. */
static bool is_measured(const mb_json *lines, const char *const *ways, size_t count)
{
    const mb_json *rows = value_of(lines, "measurements");

    if (!mb_json_is(rows, MB_JSON_ARRAY))
        return false;
    MB_JSON_EACH(row, rows)
    {
        for (size_t i = 0; i < count; i++)
            if (mb_json_text_is(mb_json_get(row, "what"), ways[i]))
                return true;
    }
    return false;
}

static bool has_size(const mb_json *lines)
{
    static const char *const ways[] = { "length",       "width",       "height", "thickness",
                                        "diameter",     "crown height", "crown width",
                                        "slant height" };

    return has_rows(value_of(lines, "dimensions"), 1)
           || is_measured(lines, ways, sizeof ways / sizeof *ways);
}

static bool has_mass(const mb_json *lines)
{
    static const char *const ways[] = { "mass" };

    return is_told(value_of(lines, "mass")) || is_measured(lines, ways, 1);
}

const char *mb_ties_missing(mb_arena *arena, const mb_json *lines, bool pictured)
{
    const char *missing[MISSING_MAX];
    size_t count = 0;
    char *out = NULL;

    if (has_rows(value_of(lines, "lotSummary"), 1)
        || mb_json_text_is(value_of(lines, "objectForm"), "lot"))
        return NULL;
    if (!has_rows(value_of(lines, "identifyingMarks"), MARKS))
        missing[count++] = "three marks that identify it";
    if (!has_size(lines))
        missing[count++] = "its size";
    if (!has_mass(lines))
        missing[count++] = "its mass";
    if (!is_told(value_of(lines, "numberOnObject")))
        missing[count++] = "the number written on it";
    if (!pictured)
        missing[count++] = "a photo of it";
    for (size_t i = 0; i < count; i++)
        out = mb_arena_printf(arena, "%s%s%s", out ? out : "",
                              i == 0 ? "" : i + 1 == count ? " and " : ", ", missing[i]);
    return out;
}
