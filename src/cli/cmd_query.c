#include <markerbed/show.h>

#include <string.h>

#include "command.h"
#include "fileio.h"
#include "text.h"
#include "wording.h"

enum { QUERY_MAX = 1 << 20 };

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    struct mb_str sql = mb_str_of(call->words[0]);

    if (strcmp(call->words[0], "-") == 0) {
        enum mb_rc rc = mb_file_read(call->arena, "-", QUERY_MAX, &sql, err);
        if (rc != MB_OK)
            return rc;
    }
    return mb_query_rows(call->ledger, call->arena, sql, call_value(call, "as-of"), &call->rows,
                         err);
}

static void tell(const struct call *call, const struct screen *screen)
{
    screen_say(screen, FAINT, 0, "(%s)",
               wording_count(call->arena, mb_json_int(mb_json_get(call->result, "count"), 0),
                             "row", "rows"));
}

static const char *const usage[] = { "SQL", NULL };

static const struct example examples[] = {
    { "How many pieces of each form",
      "markerbed -L lab query \"SELECT object_form, count(*) FROM v_specimen GROUP BY 1\"" },
    { 0 },
};

const struct command cmd_query = {
    .name = "query",
    .group = "Looking up",
    .line = "ask in SQL, read only",
    .usage = usage,
    .about = "One SELECT over the views that docs/views.md describes; it cannot change anything. - "
             "reads it from standard input.",
    .examples = examples,
    .flags = NEEDS_LEDGER | TAKES_AS_OF,
    .words_min = 1,
    .words_max = 1,
    .run = run,
    .tell = tell,
};
