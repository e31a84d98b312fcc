/*
 * Which picture stands at the head of a sheet: a photo of the piece, never of a label or a paper.
 * The newest look at its condition comes first, for that is what is sold.
 */
#include "picture.h"
#include "sheet_page.h"
#include "text.h"

/* The bytes of a file of the bundle that is a picture, {NULL, 0} if it is none or not there. */
static struct mb_str picture_of(const struct mb_page *page, struct mb_str sha256)
{
    const struct mb_bundle *bundle = page->check->bundle;
    struct mb_picture picture;

    for (size_t i = 0; sha256.at && i < bundle->file_count; i++)
        if (mb_str_equal(bundle->files[i].name, sha256)
            && !mb_picture_look(bundle->files[i].bytes, &picture, NULL))
            return bundle->files[i].bytes;
    return (struct mb_str){ NULL, 0 };
}

struct mb_str mb_page_picture(const struct mb_page *page, const mb_json *file)
{
    return picture_of(page, mb_json_str(mb_json_get(file, "file")));
}

/* Of one entry: the first that was taken with a scale, else the first. */
static struct mb_str photo_in(const struct mb_page *page, const struct mb_told *told)
{
    const mb_json *rows = mb_told_field(told, "photos", NULL, NULL);
    struct mb_str first = { NULL, 0 };

    if (!mb_json_is(rows, MB_JSON_ARRAY))
        return first;
    MB_JSON_EACH(row, rows)
    {
        struct mb_str bytes = mb_page_picture(page, mb_json_get(row, "file"));

        if (bytes.at && mb_json_get(row, "scaleBarMm"))
            return bytes;
        if (!first.at)
            first = bytes;
    }
    return first;
}

struct mb_str mb_page_photo(const struct mb_page *page)
{
    const mb_story *story = mb_stories_of(page->check->stories, page->sub);
    struct mb_str other = { NULL, 0 };

    for (size_t i = story ? mb_story_count(story) : 0; i-- > 0;) {
        const struct mb_told *told = mb_story_at(story, i);
        struct mb_str bytes;

        if (told->voided_by >= 0 || told->entry->seq >= page->index
            || mb_str_is(told->entry->kind, "document"))
            continue;
        bytes = photo_in(page, told);
        if (bytes.at && mb_str_is(told->entry->kind, "condition"))
            return bytes;
        if (!other.at)
            other = bytes;
    }
    return other;
}
