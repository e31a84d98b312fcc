/* Attached files that no entry names: left where a recording was cut short. Taken away while the
 * ledger is held, so that nobody is just about to name one. */
#include <markerbed/forget.h>

#include "file_shelf.h"
#include "fileio.h"
#include "session.h"
#include "text.h"
#include "verify_log.h"

static void mark(void *ctx, struct mb_str hex)
{
    struct mb_shelved *file = mb_shelf_find(ctx, hex);

    if (file)
        file->named = true;
}

static enum mb_rc mark_named(void *ctx, const struct mb_entry *entry, struct mb_error *err)
{
    (void)err;
    for (size_t i = 0; i < entry->disclosure_count; i++)
        mb_value_files(entry->disclosures[i].value, mark, ctx);
    return MB_OK;
}

static enum mb_rc take_away(mb_arena *arena, const struct mb_shelf *shelf, bool preview,
                            const mb_json **out, struct mb_error *err)
{
    mb_json *answer = mb_json_object(arena), *list = mb_json_array(arena);
    int64_t bytes = 0;

    for (size_t i = 0; i < shelf->count; i++) {
        const struct mb_shelved *file = &shelf->files[i];
        mb_json *row;
        int left;

        if (file->named)
            continue;
        left = preview ? 0 : mb_part_remove(file->path);
        if (left < 0)
            return mb_fail(err, MB_UNABLE, "%s could not be removed: %m", file->path);
        if (left) /* it is just being copied in */
            continue;
        row = mb_json_add(list, mb_json_object(arena));
        mb_json_put_text(arena, row, "file", file->name);
        mb_json_put_int(arena, row, "bytes", file->bytes);
        bytes += file->bytes;
    }
    mb_json_put(arena, answer, "loose", list);
    mb_json_put_int(arena, answer, "bytes", bytes);
    mb_json_put_bool(arena, answer, "removed", !preview);
    *out = answer;
    return MB_OK;
}

enum mb_rc mb_forget_loose(mb_ledger *ledger, mb_arena *arena, bool preview, const mb_json **out,
                           struct mb_error *err)
{
    struct mb_shelf shelf;
    enum mb_rc rc = preview ? MB_OK : mb_session_begin(ledger, err);

    if (rc)
        return rc;
    rc = mb_shelf_read(arena, mb_log_folder(ledger->log), &shelf, err);
    if (!rc) /* an entry that cannot be read may name any of them, so then none goes */
        rc = mb_log_each(ledger->log, 0, MB_NEVER, mark_named, &shelf, err);
    if (!rc)
        rc = take_away(arena, &shelf, preview, out, err);
    if (!preview)
        mb_session_rollback(ledger);
    return rc;
}
