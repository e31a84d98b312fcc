#include <markerbed/witness.h>

#include "command.h"
#include "fileio.h"
#include "text.h"
#include "wording.h"

enum { FILE_MODE = 0644, ANSWER_MAX = 1 << 20, CERTIFICATE_MAX = 64 << 20 };

static enum mb_rc read_since(const struct call *call, int64_t *out, struct mb_error *err)
{
    const char *text = call_value(call, "since");

    *out = text == NULL ? -1 : 0;
    for (const char *c = text; c != NULL && *c != '\0'; c++) {
        if (*c < '0' || *c > '9' || *out > INT64_MAX / 20)
            return mb_fail(err, MB_REFUSED, "--since %s: how many entries the witness has seen",
                           text);
        *out = *out * 10 + (*c - '0');
    }
    return MB_OK;
}

/* Writes one member of a result to a file, and says where. */
static enum mb_rc write_out(struct call *call, const char *member, const char *path,
                            struct mb_error *err)
{
    mb_json *result = mb_json_copy(call->arena, call->result);
    enum mb_rc rc = mb_file_create(path, mb_json_str(mb_json_get(call->result, member)), FILE_MODE,
                                   err);

    mb_json_put_text(call->arena, result, "path", path);
    call->result = result;
    return rc;
}

static enum mb_rc ask(struct call *call, struct mb_error *err)
{
    int64_t since;
    enum mb_rc rc = read_since(call, &since, err);

    if (rc == MB_OK)
        rc = mb_anchor_request(call->ledger, call->arena, call_value(call, "of"), since,
                               &call->result, err);
    return rc == MB_OK ? write_out(call, "request", call_value(call, "ask"), err) : rc;
}

static enum mb_rc carry(struct call *call, struct mb_error *err)
{
    const char *path = call_value(call, "out");
    struct mb_str bytes;
    enum mb_rc rc;

    if (path == NULL)
        return mb_fail(err, MB_REFUSED, "--carry needs --out: where the new file goes");
    rc = mb_file_read(call->arena, call_value(call, "carry"), CERTIFICATE_MAX, &bytes, err);
    if (rc == MB_OK)
        rc = mb_anchor_carry(call->ledger, call->arena, bytes, &call->result, err);
    return rc == MB_OK ? write_out(call, "file", path, err) : rc;
}

static enum mb_rc file(struct call *call, struct mb_error *err)
{
    struct mb_str bytes;
    enum mb_rc rc = mb_file_read(call->arena, call->words[0], ANSWER_MAX, &bytes, err);

    return rc == MB_OK ? mb_anchor_file(call->ledger, call->arena, bytes, &call->result, err) : rc;
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    const char *folder = call_folder(call);
    bool files = call->word_count > 0;
    enum mb_rc rc;

    if (files + call_has(call, "witness") + call_has(call, "ask") + call_has(call, "carry") > 1)
        return mb_fail(err, MB_REFUSED,
                       "one thing at a time: --witness, --ask, --carry, or an answer to file");
    if (folder == NULL)
        return mb_fail(err, MB_REFUSED,
                       "say which ledger: -L FOLDER before the command, or MARKERBED_LEDGER set to"
                       " its folder");
    /* no key is needed: what is filed was signed by the witness, and the log does not grow */
    rc = mb_ledger_open(call->arena, folder, files ? MB_WRITE : MB_READ, &call->ledger, err);
    if (rc != MB_OK)
        return rc;
    if (call_has(call, "witness"))
        return mb_anchor_witness(call->ledger, call->arena, call_value(call, "witness"),
                                 &call->result, err);
    if (call_has(call, "ask"))
        return ask(call, err);
    if (call_has(call, "carry"))
        return carry(call, err);
    return files ? file(call, err) : mb_anchor_list(call->ledger, call->arena, &call->result, err);
}

static void tell_rows(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;

    if (call->result->count == 0)
        screen_say(screen, PLAIN, 0,
                   "No witness is asked yet. Somebody who makes one (`markerbed cosign`) tells you"
                   " its key; then `markerbed anchor --witness KEY`.");
    MB_JSON_EACH(row, call->result)
    {
        const char *name = wording_of(arena, row, "name"), *size = wording_of(arena, row, "size");

        if (name == NULL)
            screen_say(screen, GOOD, 0, "%s: %s saw %s entries at %s.",
                       mb_json_true(mb_json_get(row, "new")) ? "Filed" : "On file already",
                       wording_of(arena, row, "witness"), size,
                       wording_of(arena, row, "seenAt"));
        else if (size != NULL)
            screen_say(screen, PLAIN, 0, "%s saw %s entries at %s.", name, size,
                       wording_of(arena, row, "seenAt"));
        else
            screen_say(screen, PLAIN, 0, "%s has signed nothing yet.", name);
    }
}

static void tell(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    const char *path = wording_of(arena, call->result, "path");

    if (call_has(call, "witness")) {
        screen_say(screen, PLAIN, 0, "%s is %s.", wording_of(arena, call->result, "name"),
                   mb_json_true(mb_json_get(call->result, "new"))
                       ? "a witness that this ledger asks"
                       : "on the list already");
    } else if (call_has(call, "ask")) {
        screen_say(screen, PLAIN, 0, "A request for %s, from %s to %s entries: %s",
                   wording_of(arena, call->result, "witness"),
                   wording_of(arena, call->result, "from"),
                   wording_of(arena, call->result, "size"), path);
        screen_say(screen, PLAIN, 0,
                   "It tells the witness how many entries there are, and nothing of what they"
                   " say. File its answer with `markerbed anchor ANSWER`.");
    } else if (call_has(call, "carry")) {
        screen_say(screen, PLAIN, 0, "%s: the same certificate, with %s.", path,
                   wording_count(arena, mb_json_int(mb_json_get(call->result, "anchors"), 0),
                                 "cosigned checkpoint", "cosigned checkpoints"));
    } else {
        tell_rows(call, screen);
    }
}

static const char *const usage[] = { "", "--witness KEY", "--ask FILE [--of NAME] [--since N]",
                                     "ANSWER", "--carry CERTIFICATE --out FILE", NULL };

static const struct option options[] = {
    { .name = "witness",
      .value = "KEY",
      .help = "ask this witness from now on: the key that it told you (name+hash+base64)" },
    { .name = "ask",
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "write a request there, to be carried or mailed to the witness, or posted to a"
              " public one" },
    { .name = "of", .value = "NAME", .help = "which witness it is for, where there are several" },
    { .name = "since",
      .value = "N",
      .help = "how many entries the witness has seen, where it says another number than we know" },
    { .name = "carry",
      .value = "CERTIFICATE",
      .offer = OFFER_FILES,
      .help = "put the cosigned checkpoints into a certificate that was issued before" },
    { .name = "out",
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "where that certificate goes; it keeps its identity" },
    { 0 },
};

static const struct example examples[] = {
    { "A request for the museum's witness", "markerbed -L lab anchor --ask harrowvane.request" },
    { "Its answer is filed, and travels in every certificate from then on",
      "markerbed -L lab anchor harrowvane.answer" },
    { "A certificate that is out already",
      "markerbed -L lab anchor --carry 26-0115.certificate.json --out 26-0115.witnessed.json" },
    { 0 },
};

const struct command cmd_anchor = {
    .name = "anchor",
    .group = "Checking",
    .line = "have the ledger witnessed by others",
    .usage = usage,
    .about =
        "Without witnesses a ledger's dates are its own word. A witness that cosigns its"
        " checkpoints shows that what is in them existed by then, and that no other story was told"
        " to it."
        " Requests and answers are small files; by hand and by mail is as good as any way."
        " Without anything behind it, it lists the witnesses and what they saw. No key is needed.",
    .options = options,
    .examples = examples,
    .flags = NAMES_LEDGER,
    .words_max = 1,
    .words = OFFER_FILES,
    .run = run,
    .tell = tell,
};
