/* Many entries in one group. */
#include <markerbed/record.h>

#include <string.h>

#include "pairs.h"
#include "recorder.h"
#include "text.h"

enum { NAME_MOST = 200 };

struct mb_batch {
    mb_ledger *ledger;
    const char *name; /* NULL: entries that belong together and bear no name */
    bool open, broken;
};

enum mb_rc mb_batch_begin(mb_ledger *ledger, mb_arena *arena, const char *name, mb_batch **out,
                          struct mb_error *err)
{
    mb_batch *batch = MB_NEW(arena, mb_batch);
    struct mb_str text = mb_str_of(name);
    enum mb_rc rc;

    if (text.at && (text.len == 0 || text.len > NAME_MOST || !mb_text_allowed(text, false)))
        return mb_fail(err, MB_REFUSED, "the batch's name must be 1-%d characters of plain text",
                       NAME_MOST);
    rc = mb_session_begin(ledger, err);
    if (rc)
        return rc;
    *batch = (mb_batch){ .ledger = ledger, .open = true };
    if (name)
        batch->name = mb_arena_text(arena, name);
    *out = batch;
    return MB_OK;
}

static enum mb_rc check_open(const mb_batch *batch, struct mb_error *err)
{
    if (!batch->open)
        return mb_fail(err, MB_REFUSED, "the batch was ended already");
    if (batch->broken)
        return mb_fail(err, MB_UNABLE, "the batch failed before and cannot go on");
    return MB_OK;
}

static enum mb_rc check(mb_batch *batch, mb_arena *scratch, const struct mb_recording *what,
                        bool trying, struct mb_checked *checked, struct mb_error *err)
{
    struct mb_door_way way = { batch->name, trying };
    enum mb_rc rc = check_open(batch, err);

    if (!rc)
        rc = mb_door_check(batch->ledger, scratch, what, way, checked, err);
    if (rc)
        return rc;
    rc = mb_pairs_check(batch->ledger, scratch, checked, err);
    if (rc && what->where)
        mb_fail_where(err, "%s", what->where);
    return rc;
}

enum mb_rc mb_batch_add(mb_batch *batch, mb_arena *scratch, const struct mb_recording *what,
                        const mb_json **out, struct mb_error *err)
{
    int64_t before = mb_log_next_seq(batch->ledger->log);
    mb_json *also = mb_json_array(scratch);
    struct mb_checked checked;
    struct mb_entry entry;
    enum mb_rc rc = check(batch, scratch, what, false, &checked, err);

    if (rc)
        return rc;
    rc = mb_recorder_checked(batch->ledger, scratch, &checked, &entry, also, err);
    if (rc) {
        /* what was refused before anything was written leaves no trace; the rest cannot be undone
         * by halves */
        batch->broken = rc == MB_UNABLE || mb_log_next_seq(batch->ledger->log) != before;
        if (what->where)
            mb_fail_where(err, "%s", what->where);
        return rc;
    }
    if (out)
        *out = mb_recorder_answer(scratch, &checked, &entry, also);
    return MB_OK;
}

enum mb_rc mb_batch_try(mb_batch *batch, mb_arena *scratch, const struct mb_recording *what,
                        const mb_json **out, struct mb_error *err)
{
    struct mb_checked checked;
    enum mb_rc rc = check(batch, scratch, what, true, &checked, err);

    if (!rc && out)
        *out = mb_recorder_answer(scratch, &checked, NULL, NULL);
    return rc;
}

enum mb_rc mb_batch_end(mb_batch *batch, struct mb_error *err)
{
    enum mb_rc rc = check_open(batch, err);

    if (!rc) {
        batch->open = false;
        return mb_session_commit(batch->ledger, err);
    }
    mb_batch_cancel(batch);
    return rc;
}

void mb_batch_cancel(mb_batch *batch)
{
    if (batch && batch->open) {
        batch->open = false;
        mb_session_rollback(batch->ledger);
    }
}
