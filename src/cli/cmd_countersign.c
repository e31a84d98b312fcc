#include <markerbed/countersigning.h>

#include <string.h>

#include "fileio.h"
#include "passphrase.h"
#include "text.h"
#include "typing.h"
#include "wording.h"

enum { FILE_MODE = 0644, SIGNATURE_MAX = 64 << 10 };

#define NEW_FILE "new-passphrase-file"
#define NEW_VARIABLE "MARKERBED_NEW_PASSPHRASE_FILE"

/* What the word names: a specimen to ask about, a signature to record, or a file to sign. */
enum task { ASK, RECORD, SIGN };

static enum task task_of(const struct call *call)
{
    struct mb_str bytes;

    if (call_has(call, "request"))
        return ASK;
    if (!mb_file_read(call->arena, call->words[0], SIGNATURE_MAX, &bytes, NULL)
        && mb_is_countersignature(bytes))
        return RECORD;
    return SIGN;
}

static unsigned needs(const struct call *call)
{
    if (call_has(call, "request"))
        return NEEDS_LEDGER;
    if (call_has(call, "own-key"))
        return TAKES_PASSPHRASE;
    return call_has(call, "look") ? NAMES_LEDGER : NEEDS_KEY;
}

/* ---- files ---- */

/* --out, or the specimen's number with an ending. MB_REFUSED where it is there already. */
static enum mb_rc choose_file(const struct call *call, const char *subject, const char *ending,
                              const char **path, struct mb_error *err)
{
    const char *id = strchr(subject, '/');

    *path = call_value(call, "out");
    if (*path == NULL)
        *path = mb_arena_printf(call->arena, "%s.%s", id ? id + 1 : subject, ending);
    if (mb_file_exists(*path))
        return mb_fail(err, MB_REFUSED,
                       "%s is there already; move it away, or choose another name with --out",
                       *path);
    return MB_OK;
}

/* The text goes into a file, the rest is answered, with the file's name. */
static enum mb_rc write_out(struct call *call, const mb_json *told, const char *member,
                            const char *ending, struct mb_error *err)
{
    const char *text = wording_of(call->arena, told, member);
    const char *subject = wording_of(call->arena, told, "subject"), *path;
    mb_json *result = mb_json_copy(call->arena, told);
    enum mb_rc rc = choose_file(call, subject, ending, &path, err);

    if (rc == MB_OK)
        rc = mb_file_create(path, mb_str_of(mb_arena_printf(call->arena, "%s\n", text)), FILE_MODE,
                            err);
    if (rc != MB_OK)
        return rc;
    mb_json_put_text(call->arena, result, "written", path);
    call->result = result;
    return MB_OK;
}

/* ---- the three ---- */

static enum mb_rc ask(struct call *call, struct mb_error *err)
{
    const mb_json *told;
    enum mb_rc rc = mb_countersign_request(call->ledger, call->arena, call->words[0],
                                           call_value(call, "entry"), &told, err);

    return rc == MB_OK ? write_out(call, told, "file", "handover.json", err) : rc;
}

static enum mb_rc record(struct call *call, struct mb_error *err)
{
    struct typing typing = { .arena = call->arena };
    const char *by = call_value(call, "by");
    enum mb_rc rc = typing_words(&typing, call, 1, err);

    if (rc == MB_OK && by != NULL)
        typing_put(&typing, "by", call_subject(call, "party", by), NULL);
    if (rc == MB_OK && typing_get(&typing, "by") == NULL)
        rc = mb_fail(err, MB_REFUSED, "say with --by who signed it, as you know them: --by P006");
    if (rc == MB_OK)
        rc = mb_countersign_record(call->ledger, call->arena, call->words[0], typing.typed,
                                   typing.count, &call->result, err);
    return rc;
}

/* A key of their own is opened by its passphrase, or made with a new one. */
static enum mb_rc own_passphrase(const struct call *call, const char *folder, struct mb_str *out,
                                 struct mb_error *err)
{
    enum mb_rc rc;

    if (!mb_countersign_has_key(call->arena, folder))
        return passphrase_new(call, "the key of your own", NEW_FILE, NEW_VARIABLE, out, err);
    rc = passphrase_from_file(call, "passphrase-file", "MARKERBED_PASSPHRASE_FILE", out, err);
    if (rc == MB_OK && out->at == NULL)
        rc = passphrase_ask(call, "Passphrase of the key of your own", "passphrase-file",
                            "MARKERBED_PASSPHRASE_FILE", out, err);
    return rc;
}

static enum mb_rc sign(struct call *call, struct mb_error *err)
{
    struct mb_countersign_wish wish = { .path = call->words[0],
                                        .entry = call_value(call, "entry"),
                                        .role = call_value(call, "role"),
                                        .trust_path = call_value(call, "trust"),
                                        .own_folder = call_value(call, "own-key"),
                                        .look = true };
    const mb_json *told;
    const char *path;
    enum mb_rc rc = mb_countersign_sign(call->ledger, call->arena, &wish, &told, err);

    if (rc != MB_OK || call_has(call, "look")) {
        call->result = rc == MB_OK ? told : NULL;
        return rc;
    }
    rc = choose_file(call, wording_of(call->arena, told, "subject"), "countersign", &path, err);
    if (rc == MB_OK && wish.own_folder != NULL)
        rc = own_passphrase(call, wish.own_folder, &wish.own_passphrase, err);
    wish.look = false;
    if (rc == MB_OK)
        rc = mb_countersign_sign(call->ledger, call->arena, &wish, &told, err);
    passphrase_wipe(wish.own_passphrase);
    return rc == MB_OK ? write_out(call, told, "jws", "countersign", err) : rc;
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    if (call->word_count > 1 && task_of(call) != RECORD)
        return mb_fail(err, MB_REFUSED, "there is nothing to say behind it: leave out \"%s\"",
                       call->words[1]);
    switch (task_of(call)) {
    case ASK:
        return ask(call, err);
    case RECORD:
        return record(call, err);
    default:
        return sign(call, err);
    }
}

/* ---- in words ---- */

static void tell_entry(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    struct pairs pairs = { .arena = arena };
    const mb_json *trusted = mb_json_get(call->result, "trusted");

    screen_say(screen, STRONG, 0, "Entry #%s of %s, %s: %s", wording_of(arena, call->result, "seq"),
               wording_of(arena, call->result, "origin"),
               wording_of(arena, call->result, "subject"), wording_of(arena, call->result, "line"));
    MB_JSON_EACH(field, mb_json_get(call->result, "fields"))
        pairs_add(&pairs, wording_name(arena, field->name), wording(arena, field));
    pairs_print(screen, 2, &pairs);
    if (trusted != NULL && !mb_json_true(trusted))
        screen_say(screen, DOUBT, 0,
                   "Your trust file does not name that ledger: be sure that you know whose it is.");
}

static void tell_signed(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    const char *written = wording_of(arena, call->result, "written");

    tell_entry(call, screen);
    screen_gap(screen);
    if (written == NULL) {
        screen_say(screen, PLAIN, 0,
                   "Nothing is signed yet. Your signature as %s would stand under just this.",
                   wording_of(arena, call->result, "role"));
        return;
    }
    if (mb_json_true(mb_json_get(call->result, "made")))
        screen_say(screen, PLAIN, 0,
                   "A key of your own was made in %s, sealed under your passphrase: keep the"
                   " folder, and tell its thumbprint to whoever has to know it.",
                   call_value(call, "own-key"));
    screen_say(screen, GOOD, 0, "Signed as %s with the key %s.",
               wording_of(arena, call->result, "role"), wording_of(arena, call->result, "kid"));
    screen_say(screen, PLAIN, 2, "%s", written);
    screen_say(screen, PLAIN, 0, "Send that file back. The other side records it with");
    screen_say(screen, PLAIN, 2, "markerbed countersign %s --by PARTY", written);
}

static void tell_asked(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    const char *written = wording_of(arena, call->result, "written");

    screen_say(screen, PLAIN, 0, "For the other side to sign, entry #%s of %s: %s",
               wording_of(arena, call->result, "seq"), wording_of(arena, call->result, "subject"),
               wording_of(arena, call->result, "line"));
    screen_say(screen, PLAIN, 2, "%s", written);
    screen_say(screen, PLAIN, 0,
               "They sign it with their own ledger (markerbed -L THEIRS countersign %s), or here"
               " with a key of their own (--own-key FOLDER). Without a key, a paper that both sign"
               " counts too: record countersign with a scan.",
               written);
}

static void tell_recorded(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    const char *already = wording_of(arena, call->result, "already");

    if (already != NULL)
        screen_say(screen, DOUBT, 0,
                   "That signature stands in entry #%s already. Nothing was added.", already);
    else
        screen_say(screen, PLAIN, 0, "Recorded as entry #%s: entry #%s (%s of %s) is signed by the"
                                     " other side as %s.",
                   wording_of(arena, call->result, "seq"), wording_of(arena, call->result, "over"),
                   wording_of(arena, call->result, "overKind"),
                   wording_of(arena, call->result, "subject"),
                   wording_of(arena, call->result, "role"));
    screen_say(screen, PLAIN, 0,
               "A reader counts it as two-sided if they know that key: from a certificate of the"
               " other ledger, or from a line in their trust file:");
    screen_say(screen, PLAIN, 2, "key %s", wording_of(arena, call->result, "kid"));
}

static void tell(const struct call *call, const struct screen *screen)
{
    if (mb_json_get(call->result, "overKind") != NULL)
        tell_recorded(call, screen);
    else if (call_has(call, "request"))
        tell_asked(call, screen);
    else
        tell_signed(call, screen);
}

static const char *const usage[] = {
    "--request SPECIMEN [--entry NUMBER]",
    "FILE [--role ROLE] [--entry NUMBER] [--own-key FOLDER]",
    "SIGNATURE --by PARTY [FIELD=VALUE ...]",
    NULL,
};

static const struct option options[] = {
    { .name = "request",
      .help = "write the newest handover or change of owner into a file for the other side" },
    { .name = "entry",
      .value = "NUMBER",
      .help = "another entry of the specimen, by its number or leaf hash" },
    { .name = "role",
      .value = "ROLE",
      .help = "in what part you sign: receiver (if not said), giver, owner, landowner,"
              " institution, agency, witness" },
    { .name = "own-key",
      .value = "FOLDER",
      .offer = OFFER_FOLDERS,
      .help = "sign with a key that belongs to no ledger; it is made there, if there is none" },
    { .name = "by", .value = "PARTY", .help = "of a signature: who signed, as you know them" },
    { .name = "look", .help = "show what would be signed, and sign nothing" },
    { .name = "trust",
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "the ledgers that you know, one a line: ledger ORIGIN FINGERPRINT" },
    { .name = "out",
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "the file to write; else it is named by the specimen, here" },
    { .name = NEW_FILE,
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "the passphrase of a new key is the first line of this file; else " NEW_VARIABLE
              " names it, else it is asked for" },
    { 0 },
};

static const struct example examples[] = {
    { "The lab asks the museum to sign for the skull",
      "markerbed -L lab countersign --request 24-0130" },
    { "The museum looks, and signs",
      "markerbed -L museum countersign 24-0130.handover.json --look\n"
      "markerbed -L museum countersign 24-0130.handover.json" },
    { "Or it signs out of the certificate that it got",
      "markerbed -L museum countersign 24-0130.certificate.json --trust known-ledgers" },
    { "The lab records the signature",
      "markerbed -L lab countersign 24-0130.countersign --by P006" },
    { 0 },
};

const struct command cmd_countersign = {
    .name = "countersign",
    .group = "Giving away",
    .line = "sign for what was handed over; ask for it; record it",
    .usage = usage,
    .about =
        "A handover that one side alone writes down is that side's word. The other side makes"
        " it two-sided: it signs the entry with a key of its own, on its machine with its"
        " ledger, or on the giver's with a key in a folder that it keeps. What it signs is the"
        " entry, word for word, and nothing else. The giver records the signature, and every"
        " later certificate carries it.\n"
        "FILE is a request, or a certificate or sheet that holds the entry; SIGNATURE is what"
        " came back. Ranchers and dealers hold no keys: a paper that both signed, scanned,"
        " counts too and is said to be paper (record countersign \"how=paper with both"
        " signatures\").",
    .options = options,
    .examples = examples,
    .flags = NEEDS_KEY | TAKES_PASSPHRASE,
    .needs = needs,
    .words_min = 1,
    .words_max = 1000,
    .words = OFFER_FILES,
    .run = run,
    .tell = tell,
};
