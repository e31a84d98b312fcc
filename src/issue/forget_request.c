#include "forget_request.h"

#include <string.h>

#include "fileio.h"
#include "settings.h"
#include "sha256.h"
#include "tale.h"
#include "text.h"

#define FORMAT "markerbed-forget/1"
enum { FILE_MOST = 16 << 20, SECONDS_A_DAY = 86400, DIGITS_MOST = 4 };

static const char *path_of(mb_ledger *ledger, mb_arena *arena)
{
    return mb_path_join(arena, mb_log_folder(ledger->log), "forget.json");
}

enum mb_rc mb_requests_read(mb_ledger *ledger, mb_arena *arena, struct mb_request **out,
                            struct mb_error *err)
{
    const char *path = path_of(ledger, arena);
    struct mb_request **end = out;
    const mb_json *all;
    struct mb_str bytes;
    enum mb_rc rc;

    *out = NULL;
    if (!mb_file_exists(path))
        return MB_OK;
    rc = mb_file_read(arena, path, FILE_MOST, &bytes, err);
    if (!rc)
        rc = mb_json_read(arena, bytes, MB_JSON_STRICT, &all, err);
    if (!rc && !mb_json_text_is(mb_json_get(all, "format"), FORMAT))
        rc = mb_fail(err, MB_REFUSED, "these are no requests of this program; move the file away");
    if (rc) {
        mb_fail_where(err, "%s", path);
        return rc;
    }
    MB_JSON_EACH(one, mb_json_get(all, "requests"))
    {
        struct mb_request *request = MB_NEW(arena, struct mb_request);

        *request = (struct mb_request){ .note = mb_json_int(mb_json_get(one, "note"), -1),
                                        .leaf = mb_json_str(mb_json_get(one, "leaf")),
                                        .what = mb_json_get(one, "what") };
        *end = request;
        end = &request->next;
    }
    return MB_OK;
}

enum mb_rc mb_requests_write(mb_ledger *ledger, mb_arena *arena,
                             const struct mb_request *requests, struct mb_error *err)
{
    mb_json *all = mb_json_object(arena), *list = mb_json_array(arena);

    for (; requests; requests = requests->next) {
        mb_json *one = mb_json_add(list, mb_json_object(arena));

        mb_json_put_int(arena, one, "note", requests->note);
        mb_json_put(arena, one, "leaf", mb_json_string_str(arena, requests->leaf));
        mb_json_put(arena, one, "what", mb_json_copy(arena, requests->what));
    }
    mb_json_put_text(arena, all, "format", FORMAT);
    mb_json_put(arena, all, "requests", list);
    return mb_file_write(path_of(ledger, arena), mb_json_write_pretty(arena, all), 0644, err);
}

struct mb_str mb_request_print(mb_arena *arena, const mb_json *what)
{
    struct mb_hash hash = mb_sha256_str(mb_json_write(arena, what));

    return mb_b64u(arena, hash.b, sizeof hash.b);
}

enum mb_rc mb_request_asked(mb_ledger *ledger, mb_arena *arena, const struct mb_request *request,
                            struct mb_asked *out, struct mb_error *err)
{
    struct mb_str print = mb_request_print(arena, request->what), text;
    struct mb_entry note;
    struct mb_tale tale;
    enum mb_rc rc = mb_log_entry(ledger->log, arena, request->note, &note, err);

    if (rc)
        return rc;
    text = mb_json_str(mb_entry_field(&note, "text", NULL));
    if (!mb_str_is(note.kind, "note")
        || !mb_str_equal(request->leaf, mb_b64u(arena, note.leaf.b, sizeof note.leaf.b))
        || !text.at || !memmem(text.at, text.len, print.at, print.len))
        return mb_fail(err, MB_REFUSED,
                       "request #%lld is not the one that the note of that number tells of;"
                       " forget.json was changed: ask again",
                       (long long)request->note);
    rc = mb_forget_days(ledger, arena, &out->days, err);
    if (!rc)
        rc = mb_tale_read(ledger->log, arena, note.sub, MB_NEVER, &tale, err);
    if (rc)
        return rc;
    /* the longer of what held when it was asked and what holds now */
    if (mb_json_int(mb_json_get(request->what, "days"), 0) > out->days)
        out->days = mb_json_int(mb_json_get(request->what, "days"), 0);
    out->at = note.iat;
    out->due = note.iat + out->days * SECONDS_A_DAY;
    out->subject = mb_arena_copy(arena, note.sub.at, note.sub.len);
    out->struck_out = false;
    for (size_t i = 0; i < tale.count; i++)
        if (tale.entries[i].seq == note.seq)
            out->struck_out = mb_tale_at(&tale, i)->voided_by >= 0;
    return MB_OK;
}

enum mb_rc mb_forget_days(mb_ledger *ledger, mb_arena *arena, int64_t *days, struct mb_error *err)
{
    const mb_json *settings = NULL;
    struct mb_str text;
    enum mb_rc rc = mb_settings_read(ledger, arena, &settings, err);

    *days = MB_FORGET_DAYS_MIN;
    if (rc)
        return rc;
    text = mb_settings_of(ledger, settings, MB_STR("forgetAfterDays"));
    if (text.len > 0 && text.len <= DIGITS_MOST) {
        int64_t number = 0;

        for (size_t i = 0; i < text.len; i++)
            number = text.at[i] >= '0' && text.at[i] <= '9' && number >= 0
                         ? number * 10 + (text.at[i] - '0')
                         : -1;
        if (number > *days && number <= MB_FORGET_DAYS_MAX)
            *days = number;
    }
    return MB_OK;
}
