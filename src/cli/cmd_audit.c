#include <markerbed/audit.h>

#include <string.h>

#include "command.h"
#include "text.h"
#include "wording.h"

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    struct mb_audit_ask ask = {
        .site = call_value(call, "site"),
        .permission = call_value(call, "permission"),
        .specimen = call_value(call, "specimen"),
        .party = call_value(call, "party"),
        .from = call_value(call, "from"),
        .until = call_value(call, "until"),
        .as_of = call_value(call, "as-of"),
        .rules = call_value(call, "rules"),
        .standing = call_has(call, "standing"),
    };

    return mb_audit(call->ledger, call->arena, &ask, &call->result, err);
}

static void tell(const struct call *call, const struct screen *screen)
{
    MB_JSON_EACH (f, mb_json_get(call->result, "findings")) {
        struct mb_str severity = mb_json_str(mb_json_get(f, "severity"));
        struct mb_str sentence = mb_json_str(mb_json_get(f, "sentence"));

        screen_say(screen, PLAIN, 2, "%.*s: %.*s", MB_STR_ARG(severity), MB_STR_ARG(sentence));
    }
}

static const struct option options[] = {
    { "site", 0, "SITE", false, OFFER_NOTHING, NULL, "only what was found at one site" },
    { "permission", 0, "ID", false, OFFER_NOTHING, NULL, "only what was found under one" },
    { "specimen", 0, "ID", false, OFFER_NOTHING, NULL, "only one piece and what it came out of" },
    { "party", 0, "ID", false, OFFER_NOTHING, NULL,
      "only what somebody collected, held, owned or gave permission for" },
    { "from", 0, "DAY", false, OFFER_NOTHING, NULL,
      "only what was collected, moved or sold on that day or later" },
    { "until", 0, "DAY", false, OFFER_NOTHING, NULL, "the same, on that day or earlier" },
    { "rules", 0, "FOLDER", false, OFFER_FOLDERS, NULL, "own rules too: docs/rules.md" },
    { "standing", 0, NULL, false, OFFER_NOTHING, NULL,
      "tell the standing of each piece, however many" },
    { 0 },
};

static const char *const usage[] = { "", NULL };

static const struct example examples[] = {
    { "Everything that is recorded", "markerbed -L lab audit" },
    { "One site, for a landowner, as data", "markerbed -L lab audit --site S002 --json" },
    { 0 },
};

const struct command cmd_audit = {
    .name = "audit",
    .group = "Looking up",
    .line = "land and permission: what the record shows, and what not",
    .usage = usage,
    .about = "Asks each rule of each find, permission and transfer it applies to, and tells what"
             " does not fit and what cannot be told.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_LEDGER | TAKES_AS_OF,
    .run = run,
    .tell = tell,
};
