/*
 * The three numbers, never merged: of what is seen, of the skeleton or shell, and what was not
 * looked at. Measured shares are bars with their ranges; estimates are bands and nothing else.
 */
#include <string.h>

#include "decimal.h"
#include "sheet_drawing.h"
#include "sheet_page.h"
#include "text.h"
#include "words_rows.h"

enum sort { ORIGINAL, REPAIRED, MADE, UNJUDGED };

/* The rows of one individual, element and view, obtained in one way. */
struct group {
    const mb_json *first;
    bool one_figure;          /* all of them have a percentage and a range */
    double percent[4], low[4], high[4];
    size_t count[4];
    double of[MB_SUBSTANCES];
};

/* One that is none of the words counts as made up. */
static enum mb_substance substance_of(const mb_json *row)
{
    size_t at;

    if (mb_word_find(mb_json_str(mb_json_get(row, "substance")), "substance", mb_substance_words,
                     MB_SUBSTANCES, &at, NULL))
        return MB_SUBSTANCE_RESTORED;
    return (enum mb_substance)at;
}

static enum sort sort_of(const mb_json *row)
{
    const mb_json *substance = mb_json_get(row, "substance");

    if (mb_json_text_is(substance, "original"))
        return ORIGINAL;
    if (mb_json_text_is(substance, "repaired"))
        return REPAIRED;
    return mb_json_text_is(substance, "unexamined") ? UNJUDGED : MADE;
}

static bool same(const mb_json *a, const mb_json *b)
{
    static const char *const names[] = { "individual", "element", "view", "how" };

    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        struct mb_str x = mb_json_str(mb_json_get(a, names[i]));
        struct mb_str y = mb_json_str(mb_json_get(b, names[i]));

        if (!mb_str_equal(x, y))
            return false;
    }
    return true;
}

/* Per cent, 0 to 100. */
static bool number(const struct mb_page *page, const mb_json *row, const char *name, double *out)
{
    const char *text = mb_words_member(page->arena, row, name);

    if (!text)
        return false;
    *out = mb_decimal_double(mb_str_of(text));
    return *out >= 0 && *out <= 100; /* not so if it is no number */
}

static bool measured(const struct mb_page *page, const mb_json *row, double *percent, double *low,
                     double *high)
{
    if (mb_json_get(row, "band") || mb_json_text_is(mb_json_get(row, "how"), "estimate"))
        return false;
    if (!number(page, row, "percent", percent))
        return false;
    if (!number(page, row, "low", low) || !number(page, row, "high", high))
        *low = *high = *percent;
    return true;
}

static const char *shown(const struct mb_page *page, double percent)
{
    char *text = mb_arena_printf(page->arena, "%.1f", percent);
    size_t len = strlen(text);

    if (len > 2 && strcmp(text + len - 2, ".0") == 0)
        text[len - 2] = '\0';
    return text;
}

static void gather(const struct mb_page *page, const mb_json *rows, struct group *group)
{
    group->one_figure = true;
    MB_JSON_EACH(row, rows)
    {
        enum sort sort = sort_of(row);
        double percent, low, high;

        if (!same(row, group->first))
            continue;
        group->count[sort]++;
        if (!measured(page, row, &percent, &low, &high)) {
            group->one_figure = false;
            continue;
        }
        group->percent[sort] += percent;
        group->of[substance_of(row)] += percent;
        group->low[sort] += low;
        group->high[sort] += high;
    }
}

/*
 * Range of a sum of shares of one whole: not below the sum of the low ends, nor below what the high
 * ends of all others leave; likewise above. The truth of it follows from the ranges of the rows.
 */
static void range_of(const struct group *g, bool original, double *low, double *high)
{
    double mine_low = 0, mine_high = 0, others_low = 0, others_high = 0;

    for (int i = ORIGINAL; i <= UNJUDGED; i++) {
        bool mine = original ? i <= REPAIRED : i == MADE;

        *(mine ? &mine_low : &others_low) += g->low[i];
        *(mine ? &mine_high : &others_high) += g->high[i];
    }
    *low = mine_low > 100 - others_high ? mine_low : 100 - others_high;
    *high = mine_high < 100 - others_low ? mine_high : 100 - others_low;
}

static void stretch(struct mb_page_item *item, enum mb_substance substance, double percent)
{
    if (percent > 0 && item->stretch_count < MB_SUBSTANCES)
        item->stretches[item->stretch_count++] = (struct mb_page_stretch){ substance, percent };
}

static void sum_bar(struct mb_page *page, const struct group *g, bool original)
{
    double at = original ? g->percent[ORIGINAL] + g->percent[REPAIRED] : g->percent[MADE];
    struct mb_page_item *item;
    double low, high;
    char *text;

    range_of(g, original, &low, &high);
    low = low > at || low < 0 ? at : low;
    high = high < at || high > 100 ? at : high;
    text = low < high ? mb_arena_printf(page->arena, "%s %%, between %s and %s", shown(page, at),
                                        shown(page, low), shown(page, high))
                      : mb_arena_printf(page->arena, "%s %%, nothing else was marked",
                                        shown(page, at));
    if (original && g->count[REPAIRED])
        text = mb_arena_printf(page->arena,
                               "%s: %s\u00A0%% never off (solid), %s\u00A0%% broken off and set"
                               " back (slanted lines)",
                               text, shown(page, g->percent[ORIGINAL]),
                               shown(page, g->percent[REPAIRED]));
    item = mb_page_add(page, MB_PAGE_BAR);
    item->label = original ? MB_PAGE_ORIGINAL : "Not original in all";
    item->text = text;
    item->strong = true;
    item->at = at;
    item->low = low;
    item->high = high;
    for (unsigned i = 0; i < MB_SUBSTANCES; i++) {
        enum mb_sum sum = mb_substance_sum((enum mb_substance)i);

        if (sum == (original ? MB_SUM_ORIGINAL : MB_SUM_NOT_ORIGINAL))
            stretch(item, (enum mb_substance)i, g->of[i]);
    }
}

static void band_of(const mb_json *row, double *low, double *high)
{
    static const struct {
        const char *band;
        double low, high;
    } bands[] = {
        { "none seen", 0, 0 }, { "under 5", 0, 5 },    { "5-10", 5, 10 },
        { "10-25", 10, 25 },   { "25-50", 25, 50 },    { "over 50", 50, 100 },
    };

    *low = *high = 0;
    for (size_t i = 0; i < sizeof bands / sizeof *bands; i++) {
        if (mb_json_text_is(mb_json_get(row, "band"), bands[i].band)) {
            *low = bands[i].low;
            *high = bands[i].high;
        }
    }
}

static const char *label_of(const struct mb_page *page, const mb_json *row)
{
    static const struct {
        const char *substance, *label;
    } labels[] = {
        { "original", "Original, never off" },
        { "repaired", "Original, set back" },
        { "filled", "Filled: losses closed" },
        { "restored", "Restored: shape made by hand" },
        { "replica", "Replica: cast, print or mirrored" },
        { "foreign", "Foreign: real, of another individual" },
        { "unexamined", "Seen, but not judged" },
    };
    const char *substance = mb_words_member(page->arena, row, "substance");

    for (size_t i = 0; substance && i < sizeof labels / sizeof *labels; i++)
        if (strcmp(substance, labels[i].substance) == 0)
            return labels[i].label;
    return substance ? substance : "not named";
}

static void row_bar(struct mb_page *page, const mb_json *row)
{
    struct mb_page_item *item = mb_page_add(page, MB_PAGE_BAR);

    item->label = label_of(page, row);
    item->text = mb_words_amount(page->arena, row);
    if (measured(page, row, &item->at, &item->low, &item->high)) {
        stretch(item, substance_of(row), item->at);
        return;
    }
    item->at = -1;
    band_of(row, &item->low, &item->high);
}

/* "Individual A, crown, as seen in the view front; drawn on the photo and measured" */
static const char *heading(const struct mb_page *page, const mb_json *row)
{
    const char *individual = mb_words_member(page->arena, row, "individual");
    const char *element = mb_words_member(page->arena, row, "element");
    const char *view = mb_words_member(page->arena, row, "view");
    char *out = mb_arena_text(page->arena, "");

    if (individual)
        out = mb_arena_printf(page->arena, "Individual %s, ", individual);
    if (element)
        out = mb_arena_printf(page->arena, "%s%s, ", out, element);
    out = mb_arena_printf(page->arena, "%s%s%s: %s", out,
                          view ? "as seen from " : "view not named", view ? view : "",
                          mb_words_how(page->arena, row));
    if (*out >= 'a' && *out <= 'z')
        *out = (char)(*out - 'a' + 'A');
    return out;
}

static void print_group(struct mb_page *page, const mb_json *rows, const mb_json *first)
{
    struct group group = { .first = first };

    gather(page, rows, &group);
    mb_page_add(page, MB_PAGE_GROUP)->text = heading(page, first);
    if (group.one_figure)
        sum_bar(page, &group, true);
    if (group.one_figure && group.count[MADE] > 1)
        sum_bar(page, &group, false);
    MB_JSON_EACH(row, rows)
    {
        bool told = sort_of(row) <= REPAIRED && group.one_figure;

        if (same(row, first) && !told)
            row_bar(page, row);
    }
}

static bool seen_before(const mb_json *rows, const mb_json *row)
{
    MB_JSON_EACH(other, rows)
    {
        if (other == row)
            return false;
        if (same(other, row))
            return true;
    }
    return false;
}

static void surface_shares(struct mb_page *page)
{
    const mb_json *rows = mb_json_get(mb_page_line(page, "shares"), "value");

    if (!mb_json_is(rows, MB_JSON_ARRAY) || rows->count == 0) {
        if (!mb_page_rows(page, "lotSummary"))
            mb_page_say(page, mb_page_line(page, "examinedOn") && rows
                                      && !mb_json_text_is(mb_json_get(rows, "answer"),
                                                          "not examined")
                                  ? "Shares of the surface were not taken."
                                  : "Nobody has recorded how much is original. Ask.");
        return;
    }
    mb_page_say(page, "100 % is the visible surface of the fossil itself, in the views named: not"
                      " the rock, not the inside, and not what is missing and was not replaced.");
    MB_JSON_EACH(row, rows)
    {
        if (!seen_before(rows, row))
            print_group(page, rows, row);
    }
    mb_page_say(page, "The range does not cover work that could not be seen. Photos are flat: steep"
                      " surfaces count less.");
    mb_page_drawings(page);
}

/* ---- of the skeleton or shell ---- */

static void elements(struct mb_page *page)
{
    static const char *const names[] = { "region", "expected", "originalWhole", "originalPart",
                                         "made", "absent" };
    static const char *const heads[] = { "Region", "There should be", "Original, whole",
                                         "Original in part", "Made", "Absent" };
    const size_t columns = sizeof names / sizeof *names;
    const mb_json *rows = mb_json_get(mb_page_line(page, "elementsCount"), "value");
    struct mb_page_item *item;
    const char **at;

    if (!mb_json_is(rows, MB_JSON_ARRAY) || rows->count == 0)
        return;
    mb_page_add(page, MB_PAGE_GROUP)->text = "Of the skeleton or shell: parts counted";
    item = mb_page_add(page, MB_PAGE_TABLE);
    item->columns = columns;
    item->rows = rows->count + 1;
    at = MB_ARRAY(page->arena, columns * item->rows, const char *);
    item->cells = at;
    for (size_t i = 0; i < columns; i++)
        *at++ = heads[i];
    MB_JSON_EACH(row, rows)
    {
        for (size_t i = 0; i < columns; i++) {
            const char *text = mb_words_member(page->arena, row, names[i]);

            *at++ = text ? text : "not given";
        }
    }
    mb_page_pairs(page, "elementScheme");
}

static void lot(struct mb_page *page)
{
    const mb_json *rows = mb_json_get(mb_page_line(page, "lotSummary"), "value");

    if (!mb_json_is(rows, MB_JSON_ARRAY))
        return;
    mb_page_say(page, "A lot has no percentages. The pieces, by class:");
    MB_JSON_EACH(row, rows)
    {
        const char *label = mb_words_member(page->arena, row, "pieceClass");
        const char *count = mb_words_member(page->arena, row, "count");

        mb_page_pair(page, label ? label : "not named", count ? count : "not given");
    }
    mb_page_pairs(page, "lotExamined");
}

void mb_page_shares(struct mb_page *page)
{
    if (page->cast) {
        mb_page_section(page, "How it was looked at");
        mb_page_say(page, "Shares do not apply to a cast or copy.");
    } else {
        mb_page_section(page, "How much is original");
        surface_shares(page);
        elements(page);
        lot(page);
    }
    if (mb_json_text_is(mb_json_get(mb_json_get(mb_page_line(page, "examinedOn"), "value"),
                                    "answer"),
                        "not examined")) {
        mb_page_say(page, "No examination of it is on record: nothing here was looked at.");
        return;
    }
    mb_page_add(page, MB_PAGE_GROUP)->text = "What was not looked at, and who looked";
    mb_page_pairs(page, "notExamined examinedOn examinerTie means frame");
}
