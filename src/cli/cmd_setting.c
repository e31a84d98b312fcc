#include <markerbed/record.h>

#include <string.h>

#include "command.h"
#include "text.h"
#include "wording.h"

/* With --key the default is that key's holder's, so the key must be open to know whose it is. */
static unsigned needs(const struct call *call)
{
    return call_has(call, "key") ? NEEDS_KEY : NEEDS_LEDGER;
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    mb_json *set = mb_json_object(call->arena), *result = mb_json_object(call->arena);

    for (size_t i = 0; i < call->word_count; i++) {
        struct mb_str name, value;
        const char *field;
        enum mb_rc rc;

        if (!mb_str_cut(mb_str_of(call->words[i]), '=', &name, &value))
            return mb_fail(err, MB_REFUSED,
                           "\"%s\" is no FIELD=VALUE, like fieldDay=field-day/D012",
                           call->words[i]);
        field = mb_arena_copy(call->arena, name.at, name.len);
        rc = mb_setting(call->ledger, call->arena, field, value.len > 0 ? value.at : NULL, err);
        if (rc != MB_OK)
            return rc;
        mb_json_put(call->arena, set, field, mb_json_string_str(call->arena, value));
    }
    mb_json_put(call->arena, result, "set", set);
    call->result = result;
    return MB_OK;
}

static void tell(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;

    MB_JSON_EACH(one, mb_json_get(call->result, "set")) {
        const char *value = wording(arena, one);
        const char *name = mb_arena_copy(arena, one->name.at, one->name.len);
        if (*value != '\0')
            screen_say(screen, PLAIN, 0, "From now on %s is %s unless you say otherwise.", name,
                       value);
        else
            screen_say(screen, PLAIN, 0, "%s is not filled in by itself any more.", name);
    }
}

static const char *const usage[] = { "FIELD=VALUE ...", NULL };

static const struct example examples[] = {
    { "Today's finds all come from one day in the field",
      "markerbed -L lab setting fieldDay=field-day/D012" },
    { "And no more", "markerbed -L lab setting fieldDay=" },
    { 0 },
};

const struct command cmd_setting = {
    .name = "setting",
    .group = "Writing down",
    .line = "what is to be filled in for you by itself",
    .usage = usage,
    .about = "Your own defaults for the fields of what you record. They stand beside the ledger and"
             " are no part of it; what they fill in is shown, and written into each entry.",
    .examples = examples,
    .flags = NEEDS_KEY,
    .needs = needs,
    .words_min = 1,
    .words_max = 100,
    .run = run,
    .tell = tell,
};
