#include <markerbed/backup.h>

#include "command.h"
#include "wording.h"

/* To scrub the ledger itself it must be writable; no key is needed for that. */
static enum mb_rc run(struct call *call, struct mb_error *err)
{
    struct mb_backup backup = { .to = call->words[0],
                                .with_keys = call_has(call, "with-keys"),
                                .scrub = call_has(call, "scrub") };
    const char *folder = call_folder(call);
    enum mb_rc rc;

    if (folder == NULL)
        return mb_fail(err, MB_REFUSED,
                       "say which ledger: -L FOLDER before the command, or MARKERBED_LEDGER set to"
                       " its folder");
    rc = mb_ledger_open(call->arena, folder, backup.scrub ? MB_WRITE : MB_READ, &call->ledger,
                        err);
    return rc ? rc : mb_backup_make(call->ledger, call->arena, &backup, &call->result, err);
}

static void tell(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    const mb_json *result = call->result, *damaged = mb_json_get(result, "damaged");
    int64_t keys = mb_json_int(mb_json_get(result, "keys"), 0);

    screen_say(screen, PLAIN, 0, "%s holds %s and %s (%s), as of %s.",
               wording_of(arena, result, "to"),
               wording_count(arena, mb_json_int(mb_json_get(result, "entries"), 0), "entry",
                             "entries"),
               wording_count(arena, mb_json_int(mb_json_get(result, "files"), 0), "attached file",
                             "attached files"),
               wording_count(arena, mb_json_int(mb_json_get(result, "bytes"), 0), "byte", "bytes"),
               wording_of(arena, result, "madeAt"));
    if (keys)
        screen_say(screen, PLAIN, 0,
                   "%s in it, sealed: who has it and a passphrase can sign in your name.",
                   wording_count(arena, keys, "key file is", "key files are"));
    else
        screen_say(screen, PLAIN, 0,
                   "No keys are in it: keep the envelope, or make one --with-keys and lock it"
                   " away.");
    if (mb_json_true(mb_json_get(result, "scrubbed")))
        screen_say(screen, PLAIN, 0,
                   "What was erased is in neither file any more. Older backups still have it.");
    MB_JSON_EACH(hash, damaged)
        screen_say(screen, BAD, 0, "Left out, for it is not the file that was attached: %s",
                   wording(arena, hash));
}

static const char *const usage[] = { "FOLDER [--scrub] [--with-keys]", NULL };

static const struct option options[] = {
    { .name = "scrub",
      .help = "leave behind all that was erased: the ledger's own file is written anew, and the"
              " backup holds neither views nor defaults" },
    { .name = "with-keys", .help = "copy the sealed keys too" },
    { 0 },
};

static const struct example examples[] = {
    { "A copy on another disk", "markerbed -L lab backup /media/disk/lab-2026-05-02" },
    { 0 },
};

const struct command cmd_backup = {
    .name = "backup",
    .group = "Looking after",
    .line = "copy a ledger while others record in it",
    .usage = usage,
    .about =
        "FOLDER is made; it must not be there yet. It holds the ledger as of one moment, its"
        " attached files, each compared with its hash, and your defaults. It can be looked at and"
        " verified, but nothing can be recorded in it. It appears whole or not at all.",
    .options = options,
    .examples = examples,
    .flags = NAMES_LEDGER,
    .words_min = 1,
    .words_max = 1,
    .words = OFFER_FOLDERS,
    .run = run,
    .tell = tell,
};
