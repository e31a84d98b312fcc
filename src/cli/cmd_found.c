#include "passphrase.h"

#include <string.h>
#include <unistd.h>

#include "talk.h"
#include "text.h"
#include "wording.h"

/* Where a person sits at the terminal, what was not given is asked for. */
static const char *given_or_asked(const struct call *call, struct talk *talk, const char *option,
                                  const char *question, struct mb_error *err)
{
    const char *value = call_value(call, option);

    if (value != NULL && *value != '\0')
        return value;
    if (value == NULL && isatty(STDIN_FILENO)) {
        value = talk_ask(talk, question);
        if (*value != '\0')
            return value;
    }
    mb_fail(err, MB_REFUSED, "found needs --%s; \"markerbed found --help\" says what it is",
            option);
    return NULL;
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    const char *label = call_value(call, "label");
    struct mb_founding founding = { .folder = call_value(call, "ledger"),
                                    .key_label = label != NULL ? label : "founder",
                                    .holder_id = call_value(call, "holder") };
    struct talk talk;
    enum mb_rc rc;

    if (founding.folder == NULL)
        founding.folder = call_folder(call);
    if (founding.folder == NULL)
        return mb_fail(err, MB_REFUSED, "say with -L which folder is to become the ledger");
    talk_begin(&talk, call);
    founding.origin = given_or_asked(call, &talk, "origin",
                                     "Name of the ledger, like ledger.harrowvane.example:", err);
    if (founding.origin == NULL)
        return MB_REFUSED;
    founding.name = given_or_asked(call, &talk, "name", "Name of your firm:", err);
    if (founding.name == NULL)
        return MB_REFUSED;
    rc = passphrase_new(call, mb_arena_printf(call->arena, "the key %s", founding.key_label),
                        "passphrase-file", "MARKERBED_PASSPHRASE_FILE", &founding.passphrase, err);
    if (rc != MB_OK)
        return rc;
    rc = mb_ledger_found(call->arena, &founding, &call->result, err);
    passphrase_wipe(founding.passphrase);
    return rc;
}

static void tell(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    const mb_json *result = call->result;

    screen_say(screen, PLAIN, 0, "Founded the ledger %s.", wording_of(arena, result, "origin"));
    screen_heading(screen, "Its fingerprint");
    screen_say(screen, PLAIN, 2, "%s", wording_of(arena, result, "fingerprintGrouped"));
    screen_say(screen, PLAIN, 0,
               "Print it on your papers and tell it to whoever asks: by it a stranger knows that a"
               " file is yours.");
    screen_heading(screen, "For the envelope");
    screen_say(screen, STRONG, 2, "%s", wording_of(arena, result, "envelope"));
    screen_say(screen, PLAIN, 0,
               "This is a second key that may let in others. It stands nowhere on the disk and is"
               " shown only now. Write it down or print it, lock it away from this machine, and"
               " clear this screen. Without it and without the first key nobody can ever add a key"
               " again; whoever has it can.");
    screen_heading(screen, "Keys");
    screen_say(screen, PLAIN, 2, "here      %s", wording_of(arena, result, "founder"));
    screen_say(screen, PLAIN, 2, "envelope  %s", wording_of(arena, result, "second"));
}

static const char *const usage[] = { "--origin NAME --name FIRM [--label LABEL] [--holder PARTY]",
                                     NULL };

static const struct option options[] = {
    { .name = "origin",
      .value = "NAME",
      .help = "what the ledger is called for ever: a name of your own, best one under a domain that"
              " you hold" },
    { .name = "name", .value = "FIRM", .help = "your firm's name; it stands in every file" },
    { .name = "label",
      .value = "LABEL",
      .help = "what the first key is called; founder if not said" },
    { .name = "holder",
      .value = "PARTY",
      .help = "your own number as a person or firm, like party/P001" },
    { 0 },
};

static const struct example examples[] = {
    { "The lab of two benches begins",
      "markerbed -L lab found --origin ledger.harrowvane.example \\\n"
      "    --name \"Harrow & Vane Preparation\" --label ottoline --holder P001" },
    { 0 },
};

const struct command cmd_found = {
    .name = "found",
    .group = "The ledger and its keys",
    .line = "begin a ledger",
    .usage = usage,
    .about = "Makes the folder, the first key, and a second one that goes into an envelope. --label"
             " says what the first key is called (else founder). The passphrase is asked for twice;"
             " it has at least 8 characters, and nobody can recover it.",
    .options = options,
    .examples = examples,
    .flags = NAMES_LEDGER | TAKES_PASSPHRASE,
    .run = run,
    .tell = tell,
};
