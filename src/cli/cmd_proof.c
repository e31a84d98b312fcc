#include <markerbed/witness.h>

#include "command.h"
#include "fileio.h"
#include "wording.h"

enum { FILE_MODE = 0644 };

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    const mb_json *proof;
    const char *path = call_value(call, "out");
    mb_json *result;
    enum mb_rc rc = mb_proof(call->ledger, call->arena, call->words[0], &proof, err);

    if (rc != MB_OK)
        return rc;
    if (path == NULL)
        path = mb_arena_printf(call->arena, "entry-%lld.tlog-proof",
                               (long long)mb_json_int(mb_json_get(proof, "seq"), 0));
    rc = mb_file_create(path, mb_json_str(mb_json_get(proof, "file")), FILE_MODE, err);
    if (rc != MB_OK)
        return rc;
    result = mb_json_copy(call->arena, proof);
    mb_json_put_text(call->arena, result, "path", path);
    call->result = result;
    return MB_OK;
}

static void tell(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;

    screen_say(screen, STRONG, 0, "Proof for entry #%s (%s, %s): %s",
               wording_of(arena, call->result, "seq"), wording_of(arena, call->result, "kind"),
               wording_of(arena, call->result, "subject"), wording_of(arena, call->result, "path"));
    screen_say(screen, PLAIN, 2, "under the checkpoint of %s entries",
               wording_of(arena, call->result, "size"));
    screen_say(screen, PLAIN, 2, "leaf hash %s", wording_of(arena, call->result, "leaf"));
    screen_say(screen, PLAIN, 0,
               "It shows that the ledger signed for this entry's place; it holds nothing of what"
               " the entry says, and says nothing of whether that is so.");
}

static const char *const usage[] = { "ENTRY [--out FILE]", NULL };

static const struct option options[] = {
    { .name = "out",
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "where the proof goes; else entry-N.tlog-proof, here" },
    { 0 },
};

static const struct example examples[] = {
    { "For entry 12", "markerbed -L lab proof 12" },
    { 0 },
};

const struct command cmd_proof = {
    .name = "proof",
    .group = "Checking",
    .line = "write a proof that an entry is in the log",
    .usage = usage,
    .about = "ENTRY is its number, its leaf hash, or the long word that a certificate is known by."
             " The file is a C2SP tlog-proof, which any program for such logs can check; who checks"
             " it needs the signed entry itself from a certificate."
             " An existing file is never written over.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_LEDGER,
    .words_min = 1,
    .words_max = 1,
    .run = run,
    .tell = tell,
};
