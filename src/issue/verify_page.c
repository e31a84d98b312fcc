/* The page that checks certificates in a browser: its parts, embedded from schema/page, in one. */
#include <markerbed/verify.h>

#include <stdint.h>
#include <string.h>

#include "asset.h"
#include "buf.h"
#include "text.h"

#define PAGE_MAX (8u << 20)

struct mb_str mb_verify_page(mb_arena *arena)
{
    const struct mb_asset *frame = mb_asset_find("page/verify.html");
    struct mb_str rest = { frame->data, frame->size }, plain, path;
    MB_BUF_AUTO struct mb_buf page = { 0 };
    const char *mark;

    mb_buf_init(&page, PAGE_MAX);
    while ((mark = memmem(rest.at, rest.len, "{{", 2)) != NULL) {
        const struct mb_asset *part = NULL;

        plain = (struct mb_str){ rest.at, (size_t)(mark - rest.at) };
        path = (struct mb_str){ mark + 2, rest.len - plain.len - 2 };
        mb_str_cut(path, '}', &path, &rest);
        part = mb_asset_find(mb_arena_copy(arena, path.at, path.len));
        mb_buf_add_str(&page, plain);
        if (part)
            mb_buf_add(&page, part->data, part->size);
        rest = (struct mb_str){ rest.at + 1, rest.len - 1 }; /* the second brace */
    }
    mb_buf_add_str(&page, rest);
    return (struct mb_str){ mb_arena_copy(arena, page.at, page.len), page.len };
}
