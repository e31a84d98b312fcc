#include <markerbed/show.h>

#include <string.h>

#include "command.h"
#include "lists.h"
#include "text.h"

const char *const list_names[] = { "specimens",   "lots",         "sites",      "horizons",
                                   "permissions", "parties",      "field-days", "dealings",
                                   "places",      "certificates", "keys",       "kinds",
                                   NULL };

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    const char *what = call->word_count > 0 ? call->words[0] : "specimens", *nearest;
    size_t count = 0;
    bool known = false;
    enum mb_rc rc;

    for (; list_names[count] != NULL; count++)
        known |= strcmp(list_names[count], what) == 0;
    if (known && call_has(call, "rebuild")) {
        rc = mb_views_rebuild(call->ledger, err);
        if (rc != MB_OK)
            return rc;
    }
    if (known)
        return mb_list_rows(call->ledger, call->arena, what, call_value(call, "as-of"),
                            &call->rows, err);
    nearest = mb_nearest(mb_str_of(what), list_names, count);
    return mb_fail(err, MB_REFUSED, "there is no list of \"%s\"; %s%s%s", what,
                   nearest ? "did you mean \"" : "\"markerbed list --help\" names them",
                   nearest ? nearest : "", nearest ? "\"?" : "");
}

static const char *const usage[] = { "[WHAT]", NULL };

static const struct option options[] = {
    { .name = "rebuild",
      .help = "first drop what was worked out of the entries and work it out again" },
    { 0 },
};

static const struct example examples[] = {
    { "All pieces, as they stood at the end of May",
      "markerbed -L lab list specimens --as-of 2026-05-31" },
    { "What can be recorded", "markerbed -L lab list kinds" },
    { 0 },
};

const struct command cmd_list = {
    .name = "list",
    .group = "Looking up",
    .line = "all specimens, lots, sites, parties and so on",
    .usage = usage,
    .about = "WHAT is one of specimens (if not said), lots, sites, horizons, permissions, parties,"
             " field-days, dealings, places, certificates, keys, kinds.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_LEDGER | TAKES_AS_OF,
    .words_max = 1,
    .words = OFFER_CHOICES,
    .run = run,
    .none = "There are none yet.",
};
