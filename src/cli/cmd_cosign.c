#include <markerbed/witness.h>

#include <signal.h>
#include <string.h>

#include "command.h"
#include "fileio.h"
#include "passphrase.h"
#include "text.h"
#include "wording.h"

enum { FILE_MODE = 0644, REQUEST_MAX = 4 << 20, CERTIFICATE_MAX = 64 << 20, PORT_MAX = 65535 };

#define NEW_FILE "new-passphrase-file"
#define NEW_VARIABLE "MARKERBED_NEW_PASSPHRASE_FILE"

static enum mb_rc unlock(struct call *call, mb_witness *witness, struct mb_error *err)
{
    struct mb_str passphrase;
    enum mb_rc rc = passphrase_from_file(call, "passphrase-file", "MARKERBED_PASSPHRASE_FILE",
                                         &passphrase, err);

    if (rc == MB_OK && passphrase.at == NULL)
        rc = passphrase_ask(call, "Passphrase of the witness", "passphrase-file",
                            "MARKERBED_PASSPHRASE_FILE", &passphrase, err);
    if (rc == MB_OK) {
        rc = mb_witness_unlock(witness, passphrase, err);
        passphrase_wipe(passphrase);
    }
    return rc == MB_NO ? MB_REFUSED : rc;
}

static enum mb_rc make(struct call *call, struct mb_error *err)
{
    struct mb_str passphrase;
    enum mb_rc rc = passphrase_new(call, "the witness", NEW_FILE, NEW_VARIABLE, &passphrase, err);

    if (rc == MB_OK) {
        rc = mb_witness_new(call->arena, call->words[0], call_value(call, "new"), passphrase,
                            &call->result, err);
        passphrase_wipe(passphrase);
    }
    return rc;
}

static enum mb_rc know(struct call *call, mb_witness *witness, struct mb_error *err)
{
    const char *what = call_value(call, "ledger-key");
    struct mb_str bytes = mb_str_of(what);
    enum mb_rc rc = MB_OK;

    if (strchr(what, '+') == NULL || mb_file_exists(what))
        rc = mb_file_read(call->arena, what, CERTIFICATE_MAX, &bytes, err);
    if (rc == MB_OK)
        rc = mb_witness_know(witness, call->arena, bytes, &call->result, err);
    return rc;
}

static enum mb_rc answer(struct call *call, mb_witness *witness, struct mb_error *err)
{
    const char *path = call_value(call, "out");
    struct mb_str bytes;
    mb_json *result;
    enum mb_rc rc = mb_file_read(call->arena, call->words[1], REQUEST_MAX, &bytes, err), kept;

    if (rc == MB_OK && path != NULL && mb_file_exists(path))
        return mb_fail(err, MB_REFUSED, "%s is there already; name another with --out", path);
    if (rc == MB_OK)
        rc = mb_witness_answer(witness, call->arena, bytes, &call->result, err);
    if (rc != MB_OK || path == NULL)
        return rc;
    kept = mb_file_create(path, mb_json_str(mb_json_get(call->result, "body")), FILE_MODE, err);
    if (kept != MB_OK)
        return kept;
    result = mb_json_copy(call->arena, call->result);
    mb_json_put_text(call->arena, result, "path", path);
    call->result = result;
    return rc;
}

static bool read_port(const char *text, unsigned *out)
{
    *out = 0;
    for (const char *c = text; *c != '\0'; c++) {
        if (*c < '0' || *c > '9' || *out > PORT_MAX)
            return false;
        *out = *out * 10 + (unsigned)(*c - '0');
    }
    return *text != '\0' && *out <= PORT_MAX;
}

/* Until it is told to end (Ctrl-C, or SIGTERM). */
static enum mb_rc serve(struct call *call, mb_witness *witness, struct mb_error *err)
{
    const char *address = call_value(call, "address");
    mb_witness_server *server;
    mb_json *result = mb_json_object(call->arena);
    unsigned port;
    sigset_t ends;
    int which;
    enum mb_rc rc;

    if (!read_port(call_value(call, "serve"), &port))
        return mb_fail(err, MB_REFUSED, "'%s' is no port: a number up to 65535, or 0 for any",
                       call_value(call, "serve"));
    sigemptyset(&ends);
    sigaddset(&ends, SIGINT);
    sigaddset(&ends, SIGTERM);
    pthread_sigmask(SIG_BLOCK, &ends, NULL); /* the server's threads too */
    rc = mb_witness_serve(witness, address != NULL ? address : "127.0.0.1", port, &server, err);
    if (rc != MB_OK)
        return rc;
    printf("Listening on http://%s:%u/add-checkpoint\n", address != NULL ? address : "127.0.0.1",
           mb_witness_serve_port(server));
    fflush(stdout);
    sigwait(&ends, &which);
    mb_witness_serve_end(server);
    mb_json_put_bool(call->arena, result, "ended", true);
    call->result = result;
    return MB_OK;
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    bool knows = call_has(call, "ledger-key"), serves = call_has(call, "serve");
    mb_witness *witness;
    enum mb_rc rc;

    if (call_has(call, "new") + knows + serves + (call->word_count == 2) > 1)
        return mb_fail(err, MB_REFUSED, "one thing at a time: --new, --ledger-key, --serve, or a"
                                        " request to answer");
    if (call_has(call, "new"))
        return make(call, err);
    rc = mb_witness_open(call->arena, call->words[0], &witness, err);
    if (rc != MB_OK)
        return rc;
    if (knows) {
        rc = know(call, witness, err);
    } else if (serves || call->word_count == 2) {
        rc = unlock(call, witness, err);
        if (rc == MB_OK)
            rc = serves ? serve(call, witness, err) : answer(call, witness, err);
    } else {
        rc = mb_witness_about(witness, call->arena, &call->result, err);
    }
    mb_witness_close(witness);
    return rc;
}

/* ---- in words ---- */

static void tell_answer(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    const char *why = wording_of(arena, call->result, "why");
    const char *path = wording_of(arena, call->result, "path");
    const char *seen = wording_of(arena, call->result, "seen");

    if (why == NULL) {
        screen_say(screen, GOOD, 0, "Cosigned: %s, %s entries.",
                   wording_of(arena, call->result, "origin"),
                   wording_of(arena, call->result, "size"));
        if (path != NULL)
            screen_say(screen, PLAIN, 0, "The answer for the ledger's owner: %s", path);
        else
            fputs(wording_of(arena, call->result, "body"), screen->to);
        return;
    }
    screen_say(screen, BAD, 0, "Not cosigned (%s): %s.", wording_of(arena, call->result, "status"),
               why);
    if (seen == NULL)
        return;
    screen_say(screen, STRONG, 0, "What this witness signed before");
    fprintf(screen->to, "%s", seen);
    screen_say(screen, PLAIN, 0,
               "The request is kept in the witness's folder (refused): the ledger signed both.");
}

static void tell_about(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    const mb_json *ledgers = mb_json_get(call->result, "ledgers");

    screen_say(screen, STRONG, 0, "Witness %s", wording_of(arena, call->result, "name"));
    screen_say(screen, PLAIN, 2, "known by the key %s", wording_of(arena, call->result, "vkey"));
    MB_JSON_EACH(row, ledgers)
    {
        const char *size = wording_of(arena, row, "size");

        screen_say(screen, PLAIN, 2, "%s: %s%s%s", wording_of(arena, row, "origin"),
                   size != NULL ? size : "nothing signed yet",
                   size != NULL ? " entries, seen " : "",
                   size != NULL ? wording_of(arena, row, "seenAt") : "");
    }
    if (mb_json_get(call->result, "ledgers") == NULL)
        screen_say(screen, PLAIN, 0,
                   "Give the key to those whose ledgers it is to witness. It watches no ledger"
                   " until it is told of one: `markerbed cosign FOLDER --ledger-key KEY`.");
}

static void tell(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    const char *print = wording_of(arena, call->result, "fingerprintGrouped");

    if (call_has(call, "serve")) {
        screen_say(screen, PLAIN, 0, "Ended.");
    } else if (call_has(call, "ledger-key")) {
        screen_say(screen, PLAIN, 0, "%s the ledger %s.",
                   mb_json_true(mb_json_get(call->result, "new")) ? "It will witness"
                                                                  : "It knew already of",
                   wording_of(arena, call->result, "origin"));
        screen_say(screen, PLAIN, 2, "by the key %s", wording_of(arena, call->result, "vkey"));
        if (print != NULL)
            screen_say(screen, PLAIN, 2,
                       "fingerprint %s: compare it with the one the issuer gave you by another"
                       " way",
                       print);
    } else if (mb_json_get(call->result, "status") != NULL) {
        tell_answer(call, screen);
    } else {
        tell_about(call, screen);
    }
}

static const char *const usage[] = { "FOLDER --new NAME", "FOLDER --ledger-key KEY",
                                     "FOLDER REQUEST [--out FILE]", "FOLDER --serve PORT",
                                     "FOLDER", NULL };

static const struct option options[] = {
    { .name = "new", .value = "NAME", .help = "make a witness that is known by this name for ever,"
                                              " like witness.quillpost.example" },
    { .name = "ledger-key",
      .value = "KEY",
      .offer = OFFER_FILES,
      .help = "witness this ledger from now on: its checkpoint key, or a certificate of it" },
    { .name = "out",
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "where the answer goes; else it is shown" },
    { .name = "serve",
      .value = "PORT",
      .help = "answer over HTTP until stopped (C2SP tlog-witness); 0 takes any free port" },
    { .name = "address",
      .value = "NUMBERS",
      .help = "listen there instead of on this machine alone (127.0.0.1)" },
    { .name = NEW_FILE,
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "the new key's passphrase is the first line of this file; else " NEW_VARIABLE
              " names it, else it is asked for" },
    { 0 },
};

static const struct example examples[] = {
    { "A museum becomes a witness", "markerbed cosign watch --new witness.strandmuseum.example" },
    { "It is told of a ledger, by a sheet's certificate",
      "markerbed cosign watch --ledger-key 26-0115.certificate.json" },
    { "It answers a request that came by mail",
      "markerbed cosign watch harrowvane.request --out harrowvane.answer" },
    { 0 },
};

const struct command cmd_cosign = {
    .name = "cosign",
    .group = "Checking",
    .line = "be a witness for other people's ledgers",
    .usage = usage,
    .about =
        "A witness signs, with the time, that it saw a ledger's checkpoint and that it goes on from"
        " the one before. It keeps what it last saw in a folder of its own, written to disk before"
        " it answers, and refuses a ledger that was put back to an older copy or that tells two"
        " stories. It learns how many entries a ledger has, and nothing of what they say.\n"
        "Exit code 1: refused, with the reason and what it saw before.",
    .options = options,
    .examples = examples,
    .flags = TAKES_PASSPHRASE,
    .words_min = 1,
    .words_max = 2,
    .words = OFFER_FILES,
    .run = run,
    .tell = tell,
};
