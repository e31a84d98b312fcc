#include "command.h"

#include <errno.h>
#include <stdlib.h>

#include "wording.h"

static enum mb_rc entry_number(const char *text, int64_t *number, struct mb_error *err)
{
    char *end;

    *number = -1;
    if (text == NULL)
        return MB_OK;
    if (*text == '#')
        text++;
    errno = 0;
    *number = strtoll(text, &end, 10);
    if (errno != 0 || end == text || *end != '\0' || *number < 0)
        return mb_fail(err, MB_REFUSED,
                       "--suspect-from needs the number of an entry, like 412, not"
                       " \"%s\"",
                       text);
    return MB_OK;
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    const char *why = call_value(call, "why");
    int64_t suspect_from;
    enum mb_rc rc = entry_number(call_value(call, "suspect-from"), &suspect_from, err);

    if (rc != MB_OK)
        return rc;
    if (why == NULL)
        return mb_fail(err, MB_REFUSED, "say with --why why the key is retired, like --why left");
    return mb_key_retire(call->ledger, call->arena, call->words[0], why, suspect_from,
                         &call->result, err);
}

static void tell(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    int64_t suspect = mb_json_int(mb_json_get(call->result, "suspect"), 0);

    screen_say(screen, PLAIN, 0, "Retired by entry #%s, for good: %s",
               wording_of(arena, call->result, "entry"), wording_of(arena, call->result, "kid"));
    screen_say(screen, PLAIN, 0, "What it signed before stays valid%s.",
               suspect > 0 ? ", but for what is in doubt" : "");
    if (suspect > 0)
        screen_say(screen, DOUBT, 0, "In doubt from now on: %s. Nothing is removed.",
                   wording_count(arena, suspect, "entry", "entries"));
}

static const char *const usage[] = { "KEY --why WHY [--suspect-from ENTRY]", NULL };

static const struct option options[] = {
    { .name = "why",
      .value = "WHY",
      .help = "left, no longer used, replaced by a newer key, lost, or suspected copied" },
    { .name = "suspect-from",
      .value = "ENTRY",
      .help = "if others may have used it: the first entry that may not be its holder's" },
    { 0 },
};

static const struct example examples[] = {
    { "Somebody leaves the lab", "markerbed -L lab key retire wren --why left" },
    { "A laptop was stolen",
      "markerbed -L lab key retire teodor --why \"suspected copied\" --suspect-from 412" },
    { 0 },
};

const struct command cmd_key_retire = {
    .name = "key retire",
    .group = "The ledger and its keys",
    .line = "end a key for good",
    .usage = usage,
    .about =
        "KEY is the key's label, or the beginning of its thumbprint. It is signed by that key"
        " itself, or by one that may enrol others. The last key that may enrol others cannot be"
        " retired.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_KEY,
    .words_min = 1,
    .words_max = 1,
    .run = run,
    .tell = tell,
};
