#include <markerbed/certificate.h>
#include <markerbed/verify.h>

#include "command.h"
#include "fileio.h"
#include "wording.h"

/* The leaf hash that a certificate file or sheet is known by. */
static const char *id_in_file(const struct call *call, const char *path, struct mb_error *err)
{
    struct mb_verify verify = { .paths = &path, .count = 1, .skip_views = true };
    const mb_json *result = NULL, *file, *certificate;
    const char *id;
    enum mb_rc rc = mb_verify(call->arena, &verify, &result, err);

    if (rc == MB_REFUSED || result == NULL)
        return NULL;
    file = mb_json_at(mb_json_get(result, "files"), 0);
    certificate = mb_json_at(mb_json_get(file, "certificates"), 0);
    id = wording_of(call->arena, certificate, "id");
    if (id == NULL)
        id = wording_of(call->arena, file, "certificate");
    if (id == NULL)
        mb_fail(err, MB_REFUSED, "there is no certificate in %s", path);
    return id;
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    const char *id = call->words[0], *why = call_value(call, "why");

    if (why == NULL)
        return mb_fail(
            err, MB_REFUSED,
            "say with --why why it is withdrawn, like --why \"replaced by a newer one\"");
    if (mb_file_exists(id)) {
        id = id_in_file(call, id, err);
        if (id == NULL)
            return err->code != MB_OK ? err->code : MB_REFUSED;
    }
    return mb_certificate_withdraw(call->ledger, call->arena, id, why, &call->result, err);
}

static void tell(const struct call *call, const struct screen *screen)
{
    screen_say(screen, PLAIN, 0, "Withdrawn by entry #%s: %s.",
               wording_of(call->arena, call->result, "seq"), call_value(call, "why"));
    screen_say(screen, PLAIN, 0,
               "The files that are out there do not know of it. Tell whoever holds one.");
}

static const char *const usage[] = { "CERTIFICATE --why WHY", NULL };

static const struct option options[] = {
    { .name = "why",
      .value = "WHY",
      .help = "replaced by a newer one, sale undone, error in facts, not as described, reported"
              " stolen, or seller's request" },
    { 0 },
};

static const struct example examples[] = {
    { "A newer one takes its place",
      "markerbed -L lab withdraw 26-0115.certificate.json --why \"replaced by a newer one\"" },
    { 0 },
};

const struct command cmd_withdraw = {
    .name = "withdraw",
    .group = "Giving away",
    .line = "withdraw a certificate",
    .usage = usage,
    .about =
        "CERTIFICATE is the file or sheet, or the long word that it is known by. The withdrawal"
        " stands in the specimen's story for ever, and in every later certificate of it.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_KEY,
    .words_min = 1,
    .words_max = 1,
    .words = OFFER_FILES,
    .run = run,
    .tell = tell,
};
