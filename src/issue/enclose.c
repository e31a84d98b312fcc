#include "enclose.h"

#include "fileio.h"
#include "picture.h"
#include "remeasure.h"
#include "text.h"
#include "verify_log.h"

enum { OUTLINES_MAX = 256 << 10 };

struct gathering {
    mb_ledger *ledger;
    mb_arena *arena;
    enum mb_audience audience;
    const struct mb_entry *entry; /* in hand */
    mb_json *files, *looked_at, *warnings;
    bool views_only;
    struct mb_str viewed; /* the last specimen that a view of was taken */
    size_t room;
};

bool mb_enclose_may_go(enum mb_audience audience, struct mb_str bytes)
{
    struct mb_picture picture;

    return audience == MB_INSTITUTION || mb_are_written_outlines(bytes)
           || (mb_picture_look(bytes, &picture, NULL) == MB_OK && !picture.metadata);
}

/* One picture of each specimen, the first that goes in, and what its shares come from. */
static void take_view(struct gathering *g, struct mb_str sha256, const char *path)
{
    bool view = mb_is_specimen(g->entry->sub) && !mb_str_equal(g->viewed, g->entry->sub);
    size_t most = view || g->room < OUTLINES_MAX ? g->room : OUTLINES_MAX;
    mb_arena *scratch = mb_arena_new();
    struct mb_picture picture;
    struct mb_str bytes;

    if (!mb_file_read(scratch, path, most, &bytes, NULL)
        && ((view && !mb_picture_look(bytes, &picture, NULL))
            || mb_are_written_outlines(bytes))) {
        if (!mb_are_written_outlines(bytes))
            g->viewed = g->entry->sub;
        g->room -= bytes.len;
        mb_json_put_str(g->arena, g->files, sha256,
                        mb_json_string_str(g->arena, mb_b64(g->arena, bytes.at, bytes.len)));
    }
    mb_arena_free(scratch);
}

static void say(struct gathering *g, struct mb_str sha256, const char *why)
{
    mb_json_add_text(g->arena, g->warnings,
                     mb_arena_printf(g->arena, "A file of entry %lld (%.12s…) %s.",
                                     (long long)g->entry->seq, sha256.at, why));
}

static void take_file(void *ctx, struct mb_str sha256)
{
    struct gathering *g = ctx;
    const char *path = mb_arena_printf(g->arena, "%s/files/%.2s/%.*s",
                                       mb_log_folder(g->ledger->log), sha256.at,
                                       MB_STR_ARG(sha256));
    struct mb_str bytes;

    if (mb_json_get_str(g->looked_at, sha256))
        return;
    mb_json_put_str(g->arena, g->looked_at, sha256, mb_json_null(g->arena));
    if (g->views_only)
        take_view(g, sha256, path);
    else if (!mb_file_exists(path))
        say(g, sha256, "is not in the ledger any more and cannot come along");
    else if (mb_file_read(g->arena, path, g->room, &bytes, NULL))
        say(g, sha256, "is too large to come along; hand it over beside the certificate");
    else if (mb_enclose_may_go(g->audience, bytes)) {
        g->room -= bytes.len;
        mb_json_put_str(g->arena, g->files, sha256,
                        mb_json_string_str(g->arena, mb_b64(g->arena, bytes.at, bytes.len)));
    }
}

mb_json *mb_enclose_files(mb_ledger *ledger, mb_arena *arena, const struct mb_closure *closure,
                          enum mb_audience audience, size_t room, bool views_only,
                          mb_json *warnings)
{
    struct gathering g = { .ledger = ledger,
                           .arena = arena,
                           .audience = audience,
                           .files = mb_json_object(arena),
                           .looked_at = mb_json_object(arena),
                           .warnings = warnings,
                           .views_only = views_only,
                           .room = room };

    for (size_t i = 0; i < closure->count; i++) {
        g.entry = &closure->entries[i].stored;
        for (size_t j = 0; j < closure->entries[i].shown.disclosure_count; j++)
            mb_value_files(closure->entries[i].shown.disclosures[j].value, take_file, &g);
    }
    return g.files->count ? g.files : NULL;
}
