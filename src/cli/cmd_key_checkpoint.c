#include "command.h"

#include "wording.h"

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    const char *why = call_value(call, "why");

    return mb_key_checkpoint(call->ledger, call->arena, why != NULL ? why : "rotation",
                             &call->result, err);
}

static void tell(const struct call *call, const struct screen *screen)
{
    screen_say(screen, PLAIN, 0, "A new checkpoint key is in force from entry #%s on:",
               wording_of(call->arena, call->result, "entry"));
    screen_say(screen, PLAIN, 2, "%s", wording_of(call->arena, call->result, "checkpointKey"));
}

static const char *const usage[] = { "[--why WHY]", NULL };

static const struct option options[] = {
    { .name = "why",
      .value = "WHY",
      .help = "rotation (else), or that the old one is lost or was copied" },
    { 0 },
};

static const struct example examples[] = {
    { "Once a year", "markerbed -L lab key checkpoint --why rotation" },
    { 0 },
};

const struct command cmd_key_checkpoint = {
    .name = "key checkpoint",
    .group = "The ledger and its keys",
    .line = "change the key that signs the ledger's checkpoints",
    .usage = usage,
    .about =
        "The old and the new one sign the next checkpoint together, unless the old one is lost."
        " Strangers follow the change by the ledger's own entries; its fingerprint stays the"
        " same.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_KEY,
    .run = run,
    .tell = tell,
};
