/* What ties a sheet to the stone in front of its reader: marks, size, mass, number. */
#include <string.h>

#include "sheet_page.h"
#include "text.h"
#include "ties.h"
#include "words_rows.h"

/* What of it is not there: said of every sheet, and no sheet for a sale goes out so unsaid. */
static void tied(struct mb_page *page)
{
    const char *missing = mb_ties_missing(page->arena, page->lines, page->photo.at != NULL);

    if (!missing)
        return;
    mb_page_stress(page,
                   mb_arena_printf(page->arena,
                                   "This paper could belong to another piece: the record does not"
                                   " show %s. Ask for them, and find them on the stone.",
                                   missing));
}

/* The newest weighing that was recorded by itself, and was not before the last examination. */
static const mb_json *weighed_since(const struct mb_page *page, const mb_json *rows)
{
    const char *examined = mb_page_said(page, "examinedOn");
    const mb_json *newest = NULL;

    if (!mb_json_is(rows, MB_JSON_ARRAY))
        return NULL;
    MB_JSON_EACH(row, rows)
    {
        const char *on = mb_words_member(page->arena, row, "on");

        if (mb_json_text_is(mb_json_get(row, "what"), "mass")
            && (!examined || (on && strcmp(on, examined) >= 0)))
            newest = row;
    }
    return newest;
}

static void masses(struct mb_page *page)
{
    const mb_json *rows = mb_json_get(mb_page_line(page, "measurements"), "value");
    const mb_json *newest = weighed_since(page, rows);
    const char *before = mb_page_said(page, "mass");

    if (newest) {
        mb_page_pair(page, "Mass",
                     mb_arena_printf(page->arena, "%s %s, weighed %s",
                                     mb_words_member(page->arena, newest, "value"),
                                     mb_words_member(page->arena, newest, "unit"),
                                     mb_words_member(page->arena, newest, "on")));
        if (before)
            mb_page_pair(page, "Mass at the last examination", before);
    } else {
        mb_page_pairs(page, "mass");
    }
    if (mb_json_is(rows, MB_JSON_ARRAY) && rows->count)
        mb_page_pair(page, "All measurements by day", mb_page_said(page, "measurements"));
}

static void pictures_of_marks(struct mb_page *page, const mb_json *marks)
{
    size_t n = 0;

    if (!mb_json_is(marks, MB_JSON_ARRAY))
        return;
    MB_JSON_EACH(row, marks)
    {
        struct mb_str bytes = mb_page_picture(page, mb_json_get(row, "photo"));
        struct mb_page_item *item;

        n++;
        if (!bytes.at)
            continue;
        item = mb_page_add(page, MB_PAGE_PICTURE);
        item->label = mb_arena_printf(page->arena, "Mark %zu", n);
        item->bytes = bytes;
    }
}

void mb_page_piece(struct mb_page *page)
{
    const mb_json *marks = mb_json_get(mb_page_line(page, "identifyingMarks"), "value");
    bool lot = mb_page_rows(page, "lotSummary");
    size_t n = 0;

    mb_page_section(page, "That this is the piece");
    if (lot)
        mb_page_say(page, "This sheet is for a lot. It does not identify a single piece.");
    MB_JSON_EACH(row, marks)
    {
        mb_json *line = mb_json_array(page->arena);

        if (!mb_json_is(marks, MB_JSON_ARRAY))
            break;
        mb_json_add(line, mb_json_copy(page->arena, row));
        mb_page_pair(page, mb_arena_printf(page->arena, "Mark %zu", ++n),
                     mb_words_rows(page->arena, MB_STR("identifyingMarks"), line));
    }
    page->marks = n;
    pictures_of_marks(page, marks);
    mb_page_pairs(page, "dimensions");
    masses(page);
    mb_page_pairs(page, "numberOnObject");
    tied(page);
    if (n > 0)
        mb_page_say(page, "Find each mark on the stone in front of you, and measure it. If one"
                          " does not fit, this paper may belong to another piece.");
}
