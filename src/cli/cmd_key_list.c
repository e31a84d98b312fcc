#include "command.h"

#include "wording.h"

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    return mb_key_list(call->ledger, call->arena, &call->result, err);
}

static const char *state(const struct call *call, const mb_json *key)
{
    mb_arena *arena = call->arena;
    const char *retired = wording_of(arena, key, "retired");
    const char *suspect = wording_of(arena, key, "suspectFrom");

    if (retired == NULL)
        return "in use";
    if (suspect == NULL)
        return mb_arena_printf(arena, "retired by entry #%s", retired);
    return mb_arena_printf(arena, "retired by entry #%s; in doubt from entry #%s", retired,
                           suspect);
}

static void tell(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    bool first = true;

    MB_JSON_EACH(key, call->result) {
        struct pairs pairs = { .arena = arena };
        const char *label = wording_of(arena, key, "label");
        const char *enrolled = wording_of(arena, key, "enrolled");

        if (!first)
            screen_gap(screen);
        first = false;
        screen_say(screen, STRONG, 0, "%s", label && *label ? label : "(not on this machine)");
        pairs_add(&pairs, "Thumbprint", wording_of(arena, key, "kid"));
        pairs_add(&pairs, "Holder", wording_of(arena, key, "holder"));
        pairs_add(&pairs, "May record", wording_of(arena, key, "may"));
        pairs_add(&pairs, "Enrolled",
                  enrolled ? mb_arena_printf(arena, "by entry #%s", enrolled) : NULL);
        pairs_add(&pairs, "State", state(call, key));
        pairs_add(&pairs, "Here",
                  mb_json_true(mb_json_get(key, "here")) ? "yes, sealed under its passphrase"
                                                         : "no");
        pairs_print(screen, 2, &pairs);
    }
}

static const char *const usage[] = { "", NULL };

static const struct example examples[] = {
    { "Who may write here", "markerbed -L lab key list" },
    { 0 },
};

const struct command cmd_key_list = {
    .name = "key list",
    .group = "The ledger and its keys",
    .line = "who may record what",
    .usage = usage,
    .about = "All keys that were ever enrolled, with what each may record.",
    .examples = examples,
    .flags = NEEDS_LEDGER,
    .run = run,
    .tell = tell,
};
