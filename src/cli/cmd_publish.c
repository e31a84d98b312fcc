#include <markerbed/witness.h>

#include "command.h"
#include "wording.h"

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    return mb_publish(call->ledger, call->arena, call->words[0], call_has(call, "entries"),
                      &call->result, err);
}

static void tell(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    int64_t withdrawn = mb_json_int(mb_json_get(call->result, "withdrawn"), 0);
    int64_t written = mb_json_int(mb_json_get(call->result, "written"), 0);

    if (call->result == NULL)
        return;
    screen_say(screen, GOOD, 0, "Published into %s: a checkpoint over %s entries; %s, %s.",
               wording_of(arena, call->result, "folder"), wording_of(arena, call->result, "size"),
               wording_count(arena, written, "file written", "files written"),
               wording_count(arena, withdrawn, "certificate withdrawn", "certificates withdrawn"));
    screen_say(screen, PLAIN, 0,
               call_has(call, "entries")
                   ? "The entries are there too, as they were signed: their open fields are for"
                     " everybody to read."
                   : "It tells how many entries there are, which keys sign, and which certificates"
                     " were withdrawn and why; nothing else of what the entries say.");
    screen_say(screen, PLAIN, 0, "Copy the folder to any web host, whole; index.html is for"
                                 " people.");
}

static const char *const usage[] = { "FOLDER [--entries]", NULL };

static const struct option options[] = {
    { .name = "entries",
      .help = "publish the signed entries too: fields that are open can be read by everybody, for"
              " ever" },
    { 0 },
};

static const struct example examples[] = {
    { "Once a week, before the folder is copied to the web host",
      "markerbed -L lab publish web/ledger" },
    { 0 },
};

const struct command cmd_publish = {
    .name = "publish",
    .group = "Giving away",
    .line = "static files by which strangers hold the ledger to its word",
    .usage = usage,
    .about =
        "Writes the newest checkpoint, the tree's hashes, the signed list of withdrawn"
        " certificates, the public keys, the page that checks certificates and a page for people."
        " Buyers check a certificate against a copy of it: `markerbed verify --published`. Your"
        " key signs the list.\n"
        "Only what is new is written, each file whole and the checkpoint last. A folder that holds"
        " a longer or another history of the ledger is left as it is (exit code 1): then this"
        " ledger is an older copy.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_KEY,
    .words_min = 1,
    .words_max = 1,
    .words = OFFER_FOLDERS,
    .run = run,
    .tell = tell,
};
