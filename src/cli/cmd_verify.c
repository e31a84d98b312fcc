#include <markerbed/verify.h>

#include <stdlib.h>
#include <string.h>

#include "progress.h"
#include "text.h"
#include "verdict_text.h"
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
                                .scratch = getenv("TMPDIR"),
                                .trust_path = call_value(call, "trust"),
                                .policy_path = call_value(call, "policy"),
                                .published = call_value(call, "published"),
                                .code = call_value(call, "code"),
                                .skip_views = call_has(call, "no-views"),
                                .progress = tell_progress,
                                .ctx = &progress };
    enum mb_rc rc;

    if (call_has(call, "page")) {
        call->result = mb_json_string_str(call->arena, mb_verify_page(call->arena));
        return MB_OK;
    }
    if (call->word_count == 0 && folder == NULL && verify.code == NULL)
        return mb_fail(err, MB_REFUSED,
                       "name what to check: a certificate, a sheet (PDF), a checkpoint or the"
                       " folder of a ledger");
    if (call->word_count == 0 && verify.code == NULL) {
        verify.paths = &folder;
        verify.count = 1;
    }
    progress_begin(&progress, call, "entries");
    rc = mb_verify(call->arena, &verify, &call->result, err);
    progress_end(&progress);
    return rc;
}

static void tell(const struct call *call, const struct screen *screen)
{
    struct mb_str page = mb_json_str(call->result);

    if (page.at) {
        fwrite(page.at, 1, page.len, screen->to); /* main.c looks whether it was written */
        return;
    }
    verdict_print(call, screen, call->result);
    verdict_print_code(screen, mb_json_get(call->result, "code"), call->arena);
    MB_JSON_EACH(file, mb_json_get(call->result, "files"))
        verdict_print_file(call, screen, file);
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
    { .name = "published",
      .value = "FOLDER",
      .offer = OFFER_FOLDERS,
      .help = "hold certificates against this copy of what their ledger has published: it must go"
              " on from them and must not withdraw them" },
    { .name = "code",
      .value = "TEXT",
      .help = "what the code on a sheet says, as a scanner gives it: held against the files, and"
              " without one shown as the claim that it is" },
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
    { "Does this paper belong to this file?",
      "markerbed verify 26-0115.certificate.json --code \"$(zbarimg -q --raw scan.png)\"" },
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
