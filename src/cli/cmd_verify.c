#include <markerbed/verify.h>

#include <string.h>

#include "progress.h"
#include "statement_text.h"
#include "text.h"
#include "wording.h"

static void tell_progress(void *ctx, uint64_t done, uint64_t entries)
{
    progress_tell(ctx, done, entries);
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    const char *folder = call_folder(call);
    struct progress progress;
    struct mb_verify verify = { .paths = call->words,
                                .count = call->word_count,
                                .trust_path = call_value(call, "trust"),
                                .policy_path = call_value(call, "policy"),
                                .skip_views = call_has(call, "no-views"),
                                .progress = tell_progress,
                                .ctx = &progress };
    enum mb_rc rc;

    if (call_has(call, "page")) {
        call->result = mb_json_string_str(call->arena, mb_verify_page(call->arena));
        return MB_OK;
    }
    if (call->word_count == 0 && folder == NULL)
        return mb_fail(err, MB_REFUSED,
                       "name what to check: a certificate, a sheet (PDF), a checkpoint or the"
                       " folder of a ledger");
    if (call->word_count == 0) {
        verify.paths = &folder;
        verify.count = 1;
    }
    progress_begin(&progress, call, "entries");
    rc = mb_verify(call->arena, &verify, &call->result, err);
    progress_end(&progress);
    return rc;
}

/* ---- findings ---- */

static const struct {
    const char *severity, *word;
    enum style style;
} severities[] = {
    { "fault", "FAULT", BAD },
    { "unsure", "NOT CHECKED", DOUBT },
    { "remark", "Remark", PLAIN },
};
enum { SEVERITY_COUNT = sizeof severities / sizeof *severities };

static void tell_finding(const struct call *call, const struct screen *screen,
                         const mb_json *finding, size_t severity)
{
    mb_arena *arena = call->arena;
    const char *file = wording_of(arena, finding, "file"), *seq = wording_of(arena, finding, "seq");
    const char *subject = wording_of(arena, finding, "subject");
    const char *mend = wording_of(arena, finding, "mend");

    screen_say(screen, severities[severity].style, 0, "%s %s%s%s%s%s%s%s: %s",
               severities[severity].word, wording_of(arena, finding, "name"), file ? ", " : "",
               file ? file : "", subject ? ", " : "", subject ? subject : "",
               seq ? ", entry #" : "", seq ? seq : "", wording_of(arena, finding, "text"));
    if (mend != NULL && *mend != '\0')
        screen_say(screen, PLAIN, 4, "%s", mend);
}

/* What was not kept of the findings stands in a last row that has no name but a count. */
static void tell_findings(const struct call *call, const struct screen *screen)
{
    const mb_json *findings = mb_json_get(call->result, "findings");

    if (findings == NULL || findings->count == 0)
        return;
    screen_heading(screen, "What was found");
    for (size_t i = 0; i < SEVERITY_COUNT; i++)
        MB_JSON_EACH(finding, findings)
            if (mb_json_text_is(mb_json_get(finding, "severity"), severities[i].severity))
                tell_finding(call, screen, finding, i);
    MB_JSON_EACH(finding, findings)
        if (mb_json_get(finding, "severity") == NULL)
            screen_say(screen, PLAIN, 0, "And more: %s", wording(call->arena, finding));
}

/* ---- files ---- */

static const char *audience_words(mb_arena *arena, const char *audience)
{
    if (audience == NULL)
        return NULL;
    if (strcmp(audience, "public") == 0 || strcmp(audience, "auditor") == 0)
        return mb_arena_printf(arena, "%s; not a disclosure for a sale", audience);
    return audience;
}

static void tell_withheld(const struct call *call, const struct screen *screen,
                          const mb_json *withheld)
{
    mb_arena *arena = call->arena;

    if (withheld == NULL || withheld->count == 0)
        return;
    screen_say(screen, STRONG, 2, "What is held back here");
    MB_JSON_EACH(one, withheld) {
        const char *field = wording_of(arena, one, "field"), *in = wording_of(arena, one, "class");
        const char *subject = wording_of(arena, one, "subject");
        screen_say(screen, PLAIN, 4, "%s%s%s: %s", subject ? subject : "", subject ? ", " : "",
                   field ? field
                         : mb_arena_printf(arena, "a field of the class %s", in ? in : "unknown"),
                   wording_of(arena, one, "reason"));
    }
}

static void tell_certificate(const struct call *call, const struct screen *screen,
                             const mb_json *certificate)
{
    mb_arena *arena = call->arena;
    struct pairs pairs = { .arena = arena };
    const mb_json *own = mb_json_get(certificate, "own");

    pairs_add(&pairs, "Of", wording_of(arena, certificate, "subject"));
    pairs_add(&pairs, "Issued to", wording_of(arena, certificate, "to"));
    pairs_add(&pairs, "Issued to", wording_of(arena, own, "to"));
    pairs_add(&pairs, "Certificate", wording_of(arena, certificate, "id"));
    pairs_add(&pairs, "Certificate", wording_of(arena, certificate, "certificate"));
    pairs_print(screen, 2, &pairs);
    statement_print(screen, 2, "What follows from the entries",
                    mb_json_get(certificate, "statement"), STATEMENT_FOLLOWS);
    statement_print(screen, 2, "What the issuer alone says", mb_json_get(certificate, "statement"),
                    STATEMENT_STATED);
}

static const char *signer_words(mb_arena *arena, const mb_json *signer)
{
    const char *holder = wording_of(arena, signer, "holder");
    const char *retired = wording_of(arena, signer, "retired");
    int64_t entries = mb_json_int(mb_json_get(signer, "entries"), 0);

    return mb_arena_printf(arena, "%s: %s, with the key %s%s%s", holder ? holder : "unknown",
                           wording_count(arena, entries, "entry", "entries"),
                           wording_of(arena, signer, "kid"),
                           retired ? ", retired later by entry #" : "", retired ? retired : "");
}

static void tell_file(const struct call *call, const struct screen *screen, const mb_json *file)
{
    mb_arena *arena = call->arena;
    struct pairs pairs = { .arena = arena };
    const char *what = wording_of(arena, file, "what"), *path = wording_of(arena, file, "path");
    const mb_json *trusted = mb_json_get(file, "trusted");
    const mb_json *certificates = mb_json_get(file, "certificates");

    screen_heading(screen, mb_arena_printf(arena, "%s: %s", path ? path : "", what ? what : ""));
    pairs_add(&pairs, "Ledger", wording_of(arena, file, "origin"));
    pairs_add(&pairs, "Fingerprint", wording_of(arena, file, "fingerprintGrouped"));
    if (trusted != NULL)
        pairs_add(&pairs, "Known here",
                  mb_json_true(trusted) ? "yes, your trust file names it"
                                        : "no: compare the fingerprint with the one that the issuer"
                                          " gave you by another way");
    pairs_add(&pairs, "Made for", audience_words(arena, wording_of(arena, file, "audience")));
    pairs_add(&pairs, "Entries", wording_of(arena, file, "entries"));
    pairs_add(&pairs, "Recorded until", wording_of(arena, file, "recordedAt"));
    MB_JSON_EACH(signer, mb_json_get(file, "signers"))
        pairs_add(&pairs, "Signed by", signer_words(arena, signer));
    pairs_print(screen, 2, &pairs);
    MB_JSON_EACH(certificate, certificates)
        tell_certificate(call, screen, certificate);
    if (certificates == NULL)
        tell_certificate(call, screen, file);
    tell_withheld(call, screen, mb_json_get(file, "withheld"));
}

static void tell(const struct call *call, const struct screen *screen)
{
    const mb_json *verdict = mb_json_get(call->result, "verdict");
    enum style style = mb_json_text_is(verdict, "holds")           ? GOOD
                       : mb_json_text_is(verdict, "does not hold") ? BAD
                                                                   : DOUBT;
    const mb_json *words = mb_json_get(call->result, "words");
    struct mb_str page = mb_json_str(call->result);

    if (page.at) {
        fwrite(page.at, 1, page.len, screen->to); /* main.c looks whether it was written */
        return;
    }
    MB_JSON_EACH(word, words)
        screen_say(screen, word == mb_json_at(words, 1) ? style : PLAIN, 0, "%s",
                   wording(call->arena, word));
    tell_findings(call, screen);
    MB_JSON_EACH(file, mb_json_get(call->result, "files"))
        tell_file(call, screen, file);
}

static const char *const usage[] = { "[FILE ...]", NULL };

static const struct option options[] = {
    { .name = "trust",
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "the ledgers that you know, one a line: ledger ORIGIN FINGERPRINT" },
    { .name = "policy",
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "the witnesses whose word counts, and how many of them you ask for, as a C2SP"
              " tlog-policy: witness NAME KEY, group, quorum" },
    { .name = "page",
      .help =
          "print the page that does the same in a browser, offline: one HTML file to give away" },
    { .name = "no-views", .help = "of a ledger: do not compare the views with the entries" },
    { 0 },
};

static const struct example examples[] = {
    { "A sheet that came with a purchase", "markerbed verify 26-0115.pdf --trust known-ledgers" },
    { "Two files of one ledger against each other",
      "markerbed verify 26-0115.certificate.json 26-0240.certificate.json" },
    { "Our own ledger, all of it", "markerbed -L lab verify" },
    { "A page to give to buyers on a memory stick", "markerbed verify --page > verify.html" },
    { 0 },
};

const struct command cmd_verify = {
    .name = "verify",
    .group = "Checking",
    .line = "check certificates, sheets, checkpoints or a whole ledger",
    .usage = usage,
    .about =
        "Needs no ledger at hand and no network. It checks that the signatures and chains hold,"
        " that nothing was left out or changed after signing, and that several files do not"
        " tell two stories. It cannot test whether what was written down is true. Without a"
        " file it checks the ledger itself.\n"
        "Exit code 0: all holds, and your trust file names the ledger. 1: something does not"
        " hold. 3: nothing is wrong, but it could not be checked to the end, as with a ledger"
        " that your trust file does not name.",
    .options = options,
    .examples = examples,
    .flags = NAMES_LEDGER | TAKES_PROGRESS,
    .words_max = 1000,
    .words = OFFER_FILES,
    .run = run,
    .tell = tell,
};
