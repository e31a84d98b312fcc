#include <markerbed/receive.h>

#include "typing.h"
#include "verdict_text.h"
#include "wording.h"

/* To look signs nothing. */
static unsigned needs(const struct call *call)
{
    return call_has(call, "as") ? NEEDS_KEY : NEEDS_LEDGER;
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    struct typing typing = { .arena = call->arena };
    struct mb_receive receive = { .path = call->words[0],
                                  .trust_path = call_value(call, "trust"),
                                  .published = call_value(call, "published"),
                                  .accept_unknown = call_has(call, "accept-unknown") };
    const char *from = call_value(call, "from");
    enum mb_rc rc = typing_words(&typing, call, 1, err);

    if (rc != MB_OK)
        return rc;
    if (from != NULL)
        typing_put(&typing, "receivedFrom", call_subject(call, "party", from), NULL);
    receive.as = call_values(call, "as", &receive.as_count);
    receive.typed = typing.typed;
    receive.count = typing.count;
    if (receive.as_count == 0 && (typing.count > 0))
        return mb_fail(err, MB_REFUSED,
                       "say with --as under which number of yours it is to stand, or leave out"
                       " %s to look only", typing.typed[0].name);
    return mb_receive(call->ledger, call->arena, &receive, &call->result, err);
}

/* ---- in words ---- */

static void tell_already(const struct call *call, const struct screen *screen,
                         const mb_json *specimen, const mb_json *already)
{
    screen_say(screen, DOUBT, 0,
               "%s was received before: this very certificate is entry #%s of %s. Nothing was"
               " added.",
               wording_of(call->arena, specimen, "theirs"),
               wording_of(call->arena, already, "seq"),
               wording_of(call->arena, already, "subject"));
}

static void tell_offer(const struct call *call, const struct screen *screen)
{
    const mb_json *specimens = mb_json_get(call->result, "specimens");
    const char *as = "";

    MB_JSON_EACH(specimen, specimens) {
        const char *next = wording_of(call->arena, specimen, "proposed");
        const char *theirs = wording_of(call->arena, specimen, "theirs");

        as = specimens->count == 1
                 ? mb_arena_printf(call->arena, " --as %s", next ? next : "NUMBER")
                 : mb_arena_printf(call->arena, "%s --as %s=NUMBER", as, theirs);
    }
    screen_gap(screen);
    screen_say(screen, PLAIN, 0, "Nothing is recorded yet. To carry it on in this ledger:");
    screen_say(screen, PLAIN, 2, "markerbed receive %s%s --from PARTY reason=gift%s",
               call->words[0], as,
               mb_json_text_is(mb_json_get(call->result, "verdict"), "holds")
                   ? ""
                   : " --accept-unknown");
}

static void tell_refused(const struct call *call, const struct screen *screen)
{
    bool bad = mb_json_text_is(mb_json_get(call->result, "verdict"), "does not hold");

    screen_gap(screen);
    screen_say(screen, bad ? BAD : DOUBT, 0,
               bad ? "It was not received: what does not hold cannot be carried on. Nothing was"
                     " recorded."
                   : "It was not received, and nothing was recorded: it could not be checked to the"
                     " end. Compare the fingerprint above with the one the issuer gave you by"
                     " another way and put it into a trust file; or take it as it is with"
                     " --accept-unknown, which the record will not hide from a later reader.");
}

static void tell_arrivals(const struct call *call, const struct screen *screen,
                          const mb_json *arrivals)
{
    screen_gap(screen);
    MB_JSON_EACH(arrival, arrivals) {
        screen_say(screen, PLAIN, 0, "Received as %s, entry #%s.",
                   wording_of(call->arena, arrival, "subject"),
                   wording_of(call->arena, arrival, "seq"));
        MB_JSON_EACH(warning, mb_json_get(arrival, "warnings"))
            screen_say(screen, DOUBT, 0, "Please note: %s", wording(call->arena, warning));
    }
    screen_say(screen, PLAIN, 0,
               "Their certificate is kept whole, and goes along with every later one of ours, as"
               " far as its reader may see it. To strike it all out again:");
    screen_say(screen, PLAIN, 2, "markerbed record --undo \"%s\" --why \"...\"",
               wording_of(call->arena, call->result, "batch"));
}

static void tell(const struct call *call, const struct screen *screen)
{
    const mb_json *arrivals = mb_json_get(call->result, "arrivals");
    const mb_json *specimens = mb_json_get(call->result, "specimens");
    bool bad = mb_json_text_is(mb_json_get(call->result, "verdict"), "does not hold");
    bool open = bad;

    verdict_print(call, screen, call->result);
    verdict_print_file(call, screen, mb_json_get(call->result, "file"));
    MB_JSON_EACH(specimen, specimens) {
        const mb_json *already = mb_json_get(specimen, "already");

        open = open || already == NULL;
        if (already != NULL)
            tell_already(call, screen, specimen, already);
    }
    if (arrivals != NULL)
        tell_arrivals(call, screen, arrivals);
    else if (open && (bad || call_has(call, "as")))
        tell_refused(call, screen);
    else if (open)
        tell_offer(call, screen);
}

static const char *const usage[] = {
    "FILE [--trust FILE]",
    "FILE --as NUMBER --from PARTY reason=REASON [FIELD=VALUE ...]",
    NULL,
};

static const struct option options[] = {
    { .name = "as",
      .value = "[THEIRS=]NUMBER",
      .many = true,
      .help = "the number that the piece gets with you; # stands for the next free one, as in"
              " 26-####. For several pieces say --as THEIRS=NUMBER for each" },
    { .name = "from", .value = "PARTY", .help = "who brought or sent it: receivedFrom" },
    { .name = "trust",
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "the ledgers that you know, one a line: ledger ORIGIN FINGERPRINT" },
    { .name = "published",
      .value = "FOLDER",
      .offer = OFFER_FILES,
      .help = "hold it against this copy of what its ledger has published: what was withdrawn since"
              " is not taken" },
    { .name = "accept-unknown",
      .help = "take it although your trust file does not name its ledger" },
    { 0 },
};

static const struct example examples[] = {
    { "What is it? Looked at and checked, nothing recorded",
      "markerbed -L museum receive 24-0130.certificate.json --trust known-ledgers" },
    { "Carried on under a number of your own",
      "markerbed -L museum receive 24-0130.certificate.json --trust known-ledgers \\\n"
      "    --as WS-2024-031 --from P002 reason=gift owner=party/P001" },
    { 0 },
};

const struct command cmd_receive = {
    .name = "receive",
    .group = "Giving away",
    .line = "take in a certificate of another ledger, and carry its story on",
    .usage = usage,
    .about =
        "FILE is a certificate or a sheet (PDF, web page) that another ledger issued, or a bag"
        " (a folder, .zip or .tar.gz) with one inside. It is checked first; what does not hold"
        " is not taken. Then an arrival is recorded under a number of yours: it names the other"
        " ledger, its checkpoint and the certificate, which is kept whole. Later certificates of"
        " the piece carry it along, as far as their readers may see it, and a check of them"
        " checks both ledgers. What the piece is you say again in your own words (record"
        " identification, condition, ...); what they say of it stays theirs.\n"
        "Without --as it is looked at, and nothing is recorded. Receiving a certificate again"
        " says so and adds nothing. Exit code 1: it does not hold. 3: it could not be checked to"
        " the end, as with a ledger that your trust file does not name; say --accept-unknown to"
        " take it.",
    .options = options,
    .examples = examples,
    .needs = needs,
    .flags = NEEDS_KEY,
    .words_min = 1,
    .words_max = 1000,
    .words = OFFER_FILES,
    .run = run,
    .tell = tell,
};
