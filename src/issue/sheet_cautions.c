/*
 * Cautions on a sheet: of what may be in the piece itself, for everybody who will handle it; of the
 * methods and materials that were used on it, for an institution, whose people will work on it
 * again.
 */
#include "cautions.h"
#include "sheet_page.h"
#include "text.h"

static void take_work(struct mb_cautions *cautions, const struct mb_told *told)
{
    const struct mb_kind *kind = mb_kind_find(told->entry->kind);

    if (!kind || (!mb_str_is(kind->name, "preparation") && !mb_str_is(kind->name, "making")))
        return;
    for (size_t i = 0; i < kind->count; i++) {
        const mb_json *value = mb_told_field(told, kind->fields[i].name.at, NULL, NULL);

        if (value)
            mb_cautions_value(cautions, &kind->fields[i], value);
    }
}

static void take_piece(struct mb_cautions *cautions, const struct mb_told *told)
{
    static const char *const names[] = { "hazards", "hazardsSeen" };

    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        mb_cautions_piece(cautions, mb_str_of(names[i]),
                          mb_told_field(told, names[i], NULL, NULL));
}

void mb_page_cautions(struct mb_page *page)
{
    const mb_story *story = mb_stories_of(page->check->stories, page->sub);
    struct mb_cautions cautions = mb_cautions_new(page->arena);

    for (size_t i = 0; story && i < mb_story_count(story); i++) {
        const struct mb_told *told = mb_story_at(story, i);

        if (told->voided_by >= 0 || told->entry->seq >= page->index)
            continue;
        take_piece(&cautions, told);
        if (page->check->audience == MB_INSTITUTION)
            take_work(&cautions, told);
    }
    if (cautions.list->count == 0)
        return;
    mb_page_add(page, MB_PAGE_GROUP)->text = "Take care";
    MB_JSON_EACH(one, cautions.list)
    {
        mb_page_say(page, mb_caution_words(page->arena, one));
    }
    mb_page_say(page, mb_cautions_sentence);
}
