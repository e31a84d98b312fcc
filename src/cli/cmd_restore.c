#include <markerbed/backup.h>

#include "command.h"
#include "wording.h"

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    return mb_backup_restore(call->arena, call->words[0], call->words[1],
                             call_has(call, "even-damaged"), &call->result, err);
}

static void tell_findings(const struct call *call, const struct screen *screen)
{
    MB_JSON_EACH(finding, mb_json_get(call->result, "findings"))
        if (mb_json_text_is(mb_json_get(finding, "severity"), "fault"))
            screen_say(screen, BAD, 0, "%s: %s", wording_of(call->arena, finding, "name"),
                       wording_of(call->arena, finding, "text"));
}

static void tell(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    const mb_json *result = call->result;

    tell_findings(call, screen);
    if (!mb_json_true(mb_json_get(result, "restored"))) {
        screen_say(screen, BAD, 0,
                   "Nothing was restored: what the backup holds does not hold. Try an older one,"
                   " or bring back what there is with --even-damaged.");
        return;
    }
    screen_say(screen, PLAIN, 0,
               "%s is the ledger %s again, with %s and %s; all of it was checked.",
               wording_of(arena, result, "to"), wording_of(arena, result, "origin"),
               wording_count(arena, mb_json_int(mb_json_get(result, "entries"), 0), "entry",
                             "entries"),
               wording_count(arena, mb_json_int(mb_json_get(result, "files"), 0), "attached file",
                             "attached files"));
    screen_say(screen, STRONG, 0,
               "Before you record in it: was anything recorded after %s, and shown to anybody (a"
               " sheet, a certificate, a checkpoint)? Then entries with the same numbers would"
               " tell two stories, and whoever has the newer one can prove it. Bring back the"
               " newest backup that you have, and look for the newer ledger first.",
               wording_of(arena, result, "madeAt"));
    if (mb_json_int(mb_json_get(result, "keys"), 0) == 0)
        screen_say(screen, PLAIN, 0,
                   "No keys were in the backup: \"markerbed key add\" brings one back from its"
                   " envelope.");
}

static const char *const usage[] = { "BACKUP FOLDER [--even-damaged]", NULL };

static const struct option options[] = {
    { .name = "even-damaged", .help = "bring it back although something in it does not hold" },
    { 0 },
};

static const struct example examples[] = {
    { "From the other disk", "markerbed restore /media/disk/lab-2026-05-02 lab" },
    { 0 },
};

const struct command cmd_restore = {
    .name = "restore",
    .group = "Looking after",
    .line = "bring a ledger back from a backup",
    .usage = usage,
    .about =
        "FOLDER is made; nothing is ever written over. All that is brought back is verified"
        " first.\n"
        "A ledger brought back to an older state forks if the newer one was shown to anybody:"
        " entries that follow take numbers which were given already.",
    .options = options,
    .examples = examples,
    .words_min = 2,
    .words_max = 2,
    .words = OFFER_FOLDERS,
    .run = run,
    .tell = tell,
};
