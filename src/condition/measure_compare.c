/* Recorded rows against what their outlines give. */
#include "measure.h"

#include <math.h>
#include <string.h>

#include "drawnum.h"
#include "text.h"

/* One list of rows: what a row is known by, and what was measured of it. */
struct rows {
    const char *name;
    const char *const *key;
    const char *const *numbers; /* within one unit of the first place behind the point */
    bool others; /* rows may be recorded that nobody drew */
};

static const char *const share_key[] = {
    "individual", "element", "view", "substance", "how", NULL
};
static const char *const surface_key[] = { "individual", "element", "view", "surface",
                                           "on",         "how",     NULL };
static const char *const join_key[] = { "through", "cause", "adhesive", NULL };
static const char *const share_numbers[] = { "percent", "low", "high", "n", NULL };
static const char *const join_numbers[] = { "count", "lengthMm", "widestGapMm", NULL };

static bool is_estimate(const mb_json *row)
{
    return mb_json_text_is(mb_json_get(row, "how"), mb_how_words[MB_HOW_ESTIMATE]);
}

/* Of the only one, nobody writes down which it is. */
static struct mb_str word_of(const mb_json *row, const char *name)
{
    const mb_json *value = mb_json_get(row, name);

    return !value && strcmp(name, "individual") == 0 ? MB_STR(MB_OUTLINE_SPECIMEN)
                                                     : mb_json_str(value);
}

static bool same_word(const mb_json *a, const mb_json *b, const char *name)
{
    struct mb_str left = word_of(a, name), right = word_of(b, name);

    return left.len == right.len && (left.len == 0 || memcmp(left.at, right.at, left.len) == 0);
}

static const mb_json *find(const mb_json *list, const mb_json *row, const char *const *key)
{
    MB_JSON_EACH(other, list) {
        bool same = true;

        for (size_t i = 0; key[i] && same; i++)
            same = same_word(row, other, key[i]);
        if (same)
            return other;
    }
    return NULL;
}

/* A member as a number, written as a decimal text or as an integer; NaN if it is not there. */
static double number(const mb_json *row, const char *name)
{
    const mb_json *value = mb_json_get(row, name);
    double number;

    if (mb_json_is(value, MB_JSON_INTEGER))
        return (double)value->integer;
    return mb_drawnum_read(mb_json_str(value), &number) ? number : NAN;
}

static const char *describe(mb_arena *arena, const mb_json *row, const char *const *key)
{
    const char *text = "";

    for (size_t i = 0; key[i]; i++) {
        struct mb_str word = mb_json_str(mb_json_get(row, key[i]));

        if (word.len > 0)
            text = mb_arena_printf(arena, "%s%s%.*s", text, *text ? ", " : "", MB_STR_ARG(word));
    }
    return text;
}

static bool is_count(const char *name)
{
    return strcmp(name, "n") == 0 || strcmp(name, "count") == 0;
}

static enum mb_rc compare_row(mb_arena *arena, const struct rows *rows, const mb_json *recorded,
                              const mb_json *measured, struct mb_error *err)
{
    for (size_t i = 0; rows->numbers[i]; i++) {
        const char *name = rows->numbers[i];
        double was = number(recorded, name), is = number(measured, name);

        if (isnan(was) && isnan(is))
            continue;
        /* NaN compares as no match, which is right: one has the number, the other not. */
        if (!(fabs(was - is) <= (is_count(name) ? 0 : 0.1 + 1e-9)))
            return mb_fail(err, MB_NO, "%s (%s): %s is recorded as %s, the outlines give %s",
                           rows->name, describe(arena, recorded, rows->key), name,
                           isnan(was) ? "nothing" : mb_arena_printf(arena, "%.10g", was),
                           isnan(is) ? "nothing" : mb_arena_printf(arena, "%.10g", is));
    }
    return MB_OK;
}

static enum mb_rc compare_rows(mb_arena *arena, const struct rows *rows, const mb_json *recorded,
                               const mb_json *measured, struct mb_error *err)
{
    MB_JSON_EACH(row, recorded) {
        const mb_json *other = is_estimate(row) ? NULL : find(measured, row, rows->key);
        enum mb_rc rc = MB_OK;

        if (is_estimate(row) || (!other && rows->others))
            continue;
        if (!other)
            return mb_fail(err, MB_NO, "%s (%s) is recorded, but the outlines do not give it",
                           rows->name, describe(arena, row, rows->key));
        rc = compare_row(arena, rows, row, other, err);
        if (rc != MB_OK)
            return rc;
    }
    MB_JSON_EACH(row, measured) {
        if (!is_estimate(row) && !find(recorded, row, rows->key))
            return mb_fail(err, MB_NO, "%s (%s) is given by the outlines, but not recorded",
                           rows->name, describe(arena, row, rows->key));
    }
    return MB_OK;
}

enum mb_rc mb_measure_compare(mb_arena *arena, const struct mb_measured *measured,
                              const mb_json *shares, const mb_json *surfaces, const mb_json *joins,
                              struct mb_error *err)
{
    static const struct rows of_shares = { "shares", share_key, share_numbers, false };
    static const struct rows of_surfaces = { "surfaces", surface_key, share_numbers,
                                             false };
    static const struct rows of_joins = { "joins", join_key, join_numbers, true };
    const mb_json *all = mb_measure_json(arena, measured);
    enum mb_rc rc = compare_rows(arena, &of_shares, shares, mb_json_get(all, "shares"), err);

    if (rc == MB_OK)
        rc = compare_rows(arena, &of_surfaces, surfaces, mb_json_get(all, "surfaces"), err);
    if (rc == MB_OK)
        rc = compare_rows(arena, &of_joins, joins, mb_json_get(all, "joins"), err);
    return rc;
}
