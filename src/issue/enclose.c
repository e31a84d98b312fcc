#include "enclose.h"

#include "fileio.h"
#include "picture.h"
#include "text.h"
#include "verify_log.h"

#define ENCLOSED_MAX (MB_BUNDLE_MAX / 2) /* base64 makes a third more of it */

struct gathering {
    mb_ledger *ledger;
    mb_arena *arena;
    enum mb_audience audience;
    mb_json *files;
    size_t total;
};

static bool may_go(const struct gathering *g, struct mb_str bytes)
{
    struct mb_picture picture;

    return g->audience == MB_INSTITUTION
           || (mb_picture_look(bytes, &picture, NULL) == MB_OK && !picture.metadata);
}

static void take_file(void *ctx, struct mb_str sha256)
{
    struct gathering *g = ctx;
    const char *folder = mb_path_join(g->arena, mb_log_folder(g->ledger->log), "files");
    const char *path =
        mb_arena_printf(g->arena, "%s/%.2s/%.*s", folder, sha256.at, MB_STR_ARG(sha256));
    struct mb_str bytes;

    if (mb_json_get_str(g->files, sha256)
        || mb_file_read(g->arena, path, ENCLOSED_MAX, &bytes, NULL) || !may_go(g, bytes)
        || g->total + bytes.len > ENCLOSED_MAX)
        return;
    g->total += bytes.len;
    mb_json_put_str(g->arena, g->files, sha256,
                    mb_json_string_str(g->arena, mb_b64(g->arena, bytes.at, bytes.len)));
}

enum mb_rc mb_enclose_files(mb_ledger *ledger, mb_arena *arena, const struct mb_closure *closure,
                            enum mb_audience audience, mb_json **out, struct mb_error *err)
{
    struct gathering g = { ledger, arena, audience, mb_json_object(arena), 0 };

    (void)err;
    for (size_t i = 0; i < closure->count; i++)
        for (size_t j = 0; j < closure->entries[i].shown.disclosure_count; j++)
            mb_value_files(closure->entries[i].shown.disclosures[j].value, take_file, &g);
    *out = g.files->count ? g.files : NULL;
    return MB_OK;
}
