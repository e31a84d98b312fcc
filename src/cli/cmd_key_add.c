#include "passphrase.h"

#include <string.h>

#include "text.h"
#include "wording.h"

#define NEW_FILE "new-passphrase-file"
#define NEW_VARIABLE "MARKERBED_NEW_PASSPHRASE_FILE"

enum { RIGHTS_MAX = 256 };

/* A key that comes back from its envelope needs no other to sign. */
static unsigned needs(const struct call *call)
{
    return call_has(call, "envelope") ? NEEDS_LEDGER : NEEDS_KEY;
}

/* "--may a,b --may c" */
static const char *const *rights(const struct call *call, size_t *count)
{
    size_t given;
    const char *const *values = call_values(call, "may", &given);
    const char **may = MB_ARRAY(call->arena, RIGHTS_MAX, const char *);

    *count = 0;
    for (size_t i = 0; i < given; i++) {
        struct mb_str one, rest = mb_str_of(values[i]);
        do {
            mb_str_cut(rest, ',', &one, &rest);
            one = mb_str_trim(one);
            if (one.len > 0 && *count < RIGHTS_MAX)
                may[(*count)++] = mb_arena_copy(call->arena, one.at, one.len);
        } while (rest.len > 0);
    }
    return may;
}

static enum mb_rc read_envelope(const struct call *call, struct mb_str *out, struct mb_error *err)
{
    const char *path = call_value(call, "envelope");

    *out = (struct mb_str){ NULL, 0 };
    if (path == NULL)
        return MB_OK;
    if (strcmp(path, "-") == 0)
        return passphrase_ask(call, "What the envelope says", "envelope", NULL, out, err);
    return passphrase_from_file(call, "envelope", "", out, err);
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    struct mb_key_adding adding = { .label = call->words[0],
                                    .holder = call_value(call, "holder"),
                                    .signs_checkpoints = call_has(call, "checkpoints") };
    enum mb_rc rc = read_envelope(call, &adding.envelope, err);

    if (rc != MB_OK)
        return rc;
    adding.may = rights(call, &adding.may_count);
    if (adding.envelope.at == NULL && (adding.holder == NULL || adding.may_count == 0))
        return mb_fail(err, MB_REFUSED,
                       "key add needs --holder PARTY (whose key it is) and --may KINDS (what it may"
                       " record, or everything)");
    rc = passphrase_new(call, mb_arena_printf(call->arena, "the key %s", adding.label), NEW_FILE,
                        NEW_VARIABLE, &adding.passphrase, err);
    if (rc == MB_OK)
        rc = mb_key_add(call->ledger, call->arena, &adding, &call->result, err);
    passphrase_wipe(adding.passphrase);
    passphrase_wipe(adding.envelope);
    return rc;
}

static void tell(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    const char *entry = wording_of(arena, call->result, "entry");

    if (entry != NULL)
        screen_say(screen, PLAIN, 0, "Enrolled the key %s as entry #%s.",
                   wording_of(arena, call->result, "label"), entry);
    else
        screen_say(screen, PLAIN, 0, "The key from the envelope is here again, as %s.",
                   wording_of(arena, call->result, "label"));
    screen_say(screen, PLAIN, 0, "Its thumbprint: %s", wording_of(arena, call->result, "kid"));
}

static const char *const usage[] = { "LABEL --holder PARTY --may KIND[,KIND ...]",
                                     "LABEL --envelope FILE", NULL };

static const struct option options[] = {
    { .name = "holder", .value = "PARTY", .help = "whose key it is, like party/P002" },
    { .name = "may",
      .value = "KINDS",
      .many = true,
      .help = "what it may record: kinds divided by commas, everything, and enrol to let in other"
              " keys" },
    { .name = "checkpoints",
      .help = "it may sign the ledger's checkpoints too, which issuing a sheet needs; what other"
              " keys record stands under the next checkpoint" },
    { .name = "envelope",
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "bring back the key that this text from an envelope stands for; - to type it" },
    { .name = NEW_FILE,
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "the new key's passphrase is the first line of this file; else " NEW_VARIABLE
              " names it, else it is asked for" },
    { 0 },
};

static const struct example examples[] = {
    { "The preparator gets a key for the work at the bench",
      "markerbed -L lab key add teodor --holder P002 --may preparation,condition,note" },
    { "The first key is lost: the one in the envelope comes back",
      "markerbed -L lab key add ottoline2 --envelope -" },
    { 0 },
};

const struct command cmd_key_add = {
    .name = "key add",
    .group = "The ledger and its keys",
    .line = "let somebody in: a new key, or one back from its envelope",
    .usage = usage,
    .about =
        "Each person has a key of their own, so that it is known who wrote what. It is signed in"
        " by a key that may enrol others (your passphrase), and sealed under a passphrase of"
        " its own (theirs).",
    .options = options,
    .examples = examples,
    .flags = NEEDS_KEY,
    .needs = needs,
    .words_min = 1,
    .words_max = 1,
    .run = run,
    .tell = tell,
};
