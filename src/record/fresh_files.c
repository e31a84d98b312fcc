#include "fresh_files.h"

#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "log.h"
#include "text.h"
#include "verify_log.h"

enum mb_rc mb_fresh_store(mb_ledger *ledger, const struct mb_attached *attached,
                          struct mb_error *err)
{
    mb_arena *scratch = mb_arena_new();
    const char *folder = mb_log_folder(ledger->log);
    struct mb_fresh_file *file;
    struct stat about;
    bool there = stat(mb_attach_path(scratch, folder, attached->hex), &about) == 0;
    int64_t size = 0;
    enum mb_rc rc = MB_OK;

    mb_arena_free(scratch);
    if (mb_log_in_group(ledger->log))
        size = mb_log_group_start(ledger->log);
    else
        rc = mb_log_size(ledger->log, &size, err);
    if (!rc)
        rc = mb_attach_store(folder, attached, err);
    if (rc || there)
        return rc;
    file = MB_NEW(ledger->arena, struct mb_fresh_file);
    memcpy(file->hex, attached->hex, sizeof file->hex);
    file->since = size;
    file->next = ledger->fresh;
    ledger->fresh = file;
    return MB_OK;
}

void mb_fresh_keep(mb_ledger *ledger, const struct mb_attached *files)
{
    for (const struct mb_attached *f = files; f; f = f->next)
        for (struct mb_fresh_file *file = ledger->fresh; file; file = file->next)
            file->kept = file->kept || strcmp(file->hex, f->hex) == 0;
}

struct looking {
    struct mb_fresh_file *fresh;
    int64_t seq;
};

/* Settled from now on, so not taken away. */
static void note_named(void *ctx, struct mb_str hex)
{
    struct looking *looking = ctx;

    for (struct mb_fresh_file *file = looking->fresh; file; file = file->next)
        if (looking->seq >= file->since && mb_str_is(hex, file->hex))
            file->hex[0] = '\0';
}

static enum mb_rc cross_out(void *ctx, const struct mb_entry *entry, struct mb_error *err)
{
    struct looking *looking = ctx;

    (void)err;
    looking->seq = entry->seq;
    for (size_t i = 0; i < entry->disclosure_count; i++)
        mb_value_files(entry->disclosures[i].value, note_named, looking);
    return MB_OK;
}

static void take_away(mb_ledger *ledger, bool kept_too)
{
    mb_arena *scratch = mb_arena_new();
    struct mb_fresh_file **at = &ledger->fresh;

    while (*at) {
        struct mb_fresh_file *file = *at;

        if (file->kept && !kept_too) {
            at = &file->next;
            continue;
        }
        if (file->hex[0])
            unlink(mb_attach_path(scratch, mb_log_folder(ledger->log), file->hex));
        *at = file->next;
    }
    mb_arena_free(scratch);
}

void mb_fresh_drop(mb_ledger *ledger, bool kept_too)
{
    struct looking looking = { .fresh = ledger->fresh };
    bool ours = mb_log_in_group(ledger->log), any = false;
    int64_t from = MB_NEVER;

    for (const struct mb_fresh_file *file = ledger->fresh; file; file = file->next) {
        any = any || kept_too || !file->kept;
        from = file->since < from ? file->since : from;
    }
    if (!any)
        return;
    if (ours || mb_log_begin(ledger->log, NULL) == MB_OK) {
        if (mb_log_each(ledger->log, from, mb_log_group_start(ledger->log), cross_out, &looking,
                        NULL) == MB_OK)
            take_away(ledger, kept_too);
        if (!ours)
            mb_log_rollback(ledger->log);
    }
}

void mb_fresh_settle(mb_ledger *ledger)
{
    ledger->fresh = NULL;
}
