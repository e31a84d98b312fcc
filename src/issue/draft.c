#include "draft.h"

#include "bundle.h"
#include "date.h"
#include "session.h"
#include "text.h"

struct mb_draft_file {
    mb_ledger *ledger;
    mb_arena *arena;
    mb_json *entries;
};

mb_draft_file *mb_draft_begin(mb_ledger *ledger, mb_arena *arena)
{
    mb_draft_file *file = MB_NEW(arena, mb_draft_file);

    *file = (mb_draft_file){ ledger, arena, mb_json_array(arena) };
    return file;
}

void mb_draft_add(mb_draft_file *file, int64_t seq, struct mb_str sd_jwt)
{
    mb_json *item = mb_json_add(file->entries, mb_json_object(file->arena));

    mb_json_put_int(file->arena, item, "index", seq);
    mb_json_put(file->arena, item, "sd_jwt", mb_json_string_str(file->arena, sd_jwt));
    mb_json_put(file->arena, item, "proof", mb_json_array(file->arena));
}

enum mb_rc mb_draft_certificate(mb_draft_file *file, int64_t seq, struct mb_str subject,
                                const struct mb_field *fields, size_t count, struct mb_error *err)
{
    static const struct mb_hash none;
    struct mb_draft draft = { .iss = mb_log_origin(file->ledger->log),
                              .kind = "certificate",
                              .iat = mb_now(),
                              .seq = seq,
                              .prev = &none,
                              .prior = &none,
                              .fields = fields,
                              .count = count };
    struct mb_str jws, tail, sub;
    int64_t seq_prior;
    mb_secret *forgotten;
    enum mb_rc rc = mb_log_head(file->ledger->log, file->arena, subject, MB_NEVER, &seq_prior,
                                &draft.nth, &sub, err);

    if (rc)
        return rc;
    draft.sub = mb_arena_copy(file->arena, sub.at, sub.len);
    draft.nth++;
    forgotten = mb_secret_new();
    rc = mb_entry_write(file->arena, &draft, forgotten, &jws, &tail, err);
    mb_secret_free(forgotten);
    if (!rc)
        mb_draft_add(file, seq,
                     mb_str_of(mb_arena_printf(file->arena, "%.*s~%.*s", MB_STR_ARG(jws),
                                               MB_STR_ARG(tail))));
    return rc;
}

const mb_json *mb_draft_end(mb_draft_file *file, mb_json *files, mb_json *foreign)
{
    mb_arena *arena = file->arena;
    mb_json *out = mb_json_object(arena);

    mb_json_put_text(arena, out, "format", MB_BUNDLE_FORMAT);
    mb_json_put(arena, out, "origin",
                mb_json_string_str(arena, mb_log_origin(file->ledger->log)));
    mb_json_put_text(arena, out, "checkpoint", "none: a preview");
    mb_json_put(arena, out, "entries", file->entries);
    if (files)
        mb_json_put(arena, out, "files", files);
    if (foreign)
        mb_json_put(arena, out, "foreign", foreign);
    return out;
}
