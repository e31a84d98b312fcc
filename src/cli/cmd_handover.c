#include <markerbed/handover.h>

#include <string.h>

#include "command.h"
#include "readiness_text.h"
#include "text.h"
#include "withholding.h"
#include "wording.h"

static unsigned needs(const struct call *call)
{
    return call_has(call, "preview") ? NEEDS_LEDGER : NEEDS_KEY;
}

/* --out is the bag's own name. */
static const char *bag_folder(const struct call *call)
{
    const char *out = call_value(call, "out");
    const char *first = call->words[0], *slash = strrchr(first, '/');
    const char *name = mb_arena_printf(call->arena, "handover-%s%s", slash ? slash + 1 : first,
                                       call->word_count > 1
                                           ? mb_arena_printf(call->arena, "-and-%zu-more",
                                                             call->word_count - 1)
                                           : "");

    return out != NULL ? out : name;
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    const char **specimens = MB_ARRAY(call->arena, call->word_count + 1, const char *);
    struct mb_handover handover = { .specimens = specimens,
                                    .count = call->word_count,
                                    .to = call_value(call, "to"),
                                    .as = call_value(call, "as"),
                                    .pack = call_value(call, "pack"),
                                    .paper = call_value(call, "paper"),
                                    .preview = call_has(call, "preview") };
    enum mb_rc rc = withholding_read(call, &handover.withhold, &handover.withhold_count, err);

    if (rc != MB_OK)
        return rc;
    for (size_t i = 0; i < call->word_count; i++)
        specimens[i] = call_subject(call, "specimen", call->words[i]);
    handover.folder = bag_folder(call);
    return mb_handover_make(call->ledger, call->arena, &handover, &call->result, err);
}

/* ---- telling ---- */

static void tell_missing(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;

    screen_heading(screen, "What an institution would still miss, most important first");
    MB_JSON_EACH(one, mb_json_get(call->result, "readiness")) {
        const mb_json *missing = mb_json_get(one, "missing");

        screen_say(screen, STRONG, 0, "%s%s", wording_of(arena, one, "specimen"),
                   missing->count > 0 ? "" : ": nothing that is asked for here");
        readiness_print(screen, arena, 2, missing, true);
    }
}

static void tell_points(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;

    screen_heading(screen, "What the registrar will ask");
    MB_JSON_EACH(one, mb_json_get(call->result, "points"))
        screen_say(screen, mb_json_true(mb_json_get(one, "open")) ? DOUBT : PLAIN, 0,
                   "%s. %s: %s. %s", wording_of(arena, one, "point"),
                   wording_of(arena, one, "title"),
                   mb_json_true(mb_json_get(one, "open")) ? "open" : "answered",
                   wording_of(arena, one, "text"));
}

static void tell_bag(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    const char *pack = wording_of(arena, call->result, "pack");

    screen_say(screen, STRONG, 0, "Handed over as entry #%s: %s",
               wording_of(arena, call->result, "seq"),
               wording_of(arena, call->result, "specimens"));
    screen_say(screen, PLAIN, 2, "%s: %s files, %s bytes", wording_of(arena, call->result, "bag"),
               wording_of(arena, call->result, "files"), wording_of(arena, call->result, "bytes"));
    if (pack != NULL)
        screen_say(screen, PLAIN, 2, "%s", pack);
    screen_say(screen, PLAIN, 2, "known as %s", wording_of(arena, call->result, "certificate"));
}

static void tell(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    bool made = mb_json_get(call->result, "bag") != NULL;
    const char *why = wording_of(arena, call->result, "formWhy");

    if (made)
        tell_bag(call, screen);
    else
        screen_say(screen, STRONG, 0, "Preview, nothing is signed or written: %s",
                   wording_of(arena, call->result, "specimens"));
    screen_say(screen, PLAIN, 2, "Form to sign: %s%s%s", wording_of(arena, call->result, "form"),
               why != NULL ? "; " : "", why != NULL ? why : "");
    MB_JSON_EACH(warning, mb_json_get(call->result, "warnings"))
        screen_say(screen, DOUBT, 2, "Please note: %s", wording(arena, warning));
    tell_missing(call, screen);
    tell_points(call, screen);
    if (!made)
        return;
    screen_heading(screen, "Next");
    screen_say(screen, PLAIN, 0, "When the piece leaves your hands, write it down:"
                                 " markerbed record custody SPECIMEN --ask; and where it changes"
                                 " owner: markerbed record title SPECIMEN --ask.");
}

static const char *const usage[] = {
    "SPECIMEN ... --to PARTY [--as gift|loan|deposit] [--out FOLDER] [--pack tar.gz|zip]",
    "SPECIMEN ... --preview",
    NULL,
};

static const char *const ways[] = { "gift", "loan", "deposit", NULL };
static const char *const packs[] = { "tar.gz", "zip", NULL };
static const char *const papers[] = { "A4", "Letter", NULL };

static const struct option options[] = {
    { .name = "to", .value = "PARTY", .help = "the institution that receives it" },
    { .name = "as",
      .value = "WAY",
      .offer = OFFER_CHOICES,
      .choices = ways,
      .help = "which form to fill in; else by the dealing on record, the land and the title" },
    { .name = "preview",
      .help = "what is still missing and what the registrar will ask; signs and writes nothing" },
    { .name = "out",
      .value = "FOLDER",
      .offer = OFFER_FOLDERS,
      .help = "the bag's own name; handover-SPECIMEN here if not said" },
    { .name = "withhold",
      .value = "FIELD",
      .many = true,
      .help = "hold a field back that the institution may see; it is said that one is held back" },
    { .name = "because",
      .value = "WHY",
      .many = true,
      .help = "behind --withhold: why, in the words of the list that a wrong one prints, such as"
              " landowner's request" },
    { .name = "pack",
      .value = "FORM",
      .offer = OFFER_CHOICES,
      .choices = packs,
      .help = "also as one file to send, beside the bag" },
    { .name = "paper",
      .value = "PAPER",
      .offer = OFFER_CHOICES,
      .choices = papers,
      .help = "of the printed papers; A4 if not said" },
    { 0 },
};

static const struct example examples[] = {
    { "What the museum would still miss", "markerbed -L lab handover 26-0130 --preview" },
    { "The bag, and a zip of it to send",
      "markerbed -L lab handover 26-0130 --to P006 --out handover-skull --pack zip" },
    { 0 },
};

const struct command cmd_handover = {
    .name = "handover",
    .group = "Giving away",
    .line = "a bag for an institution: record, files, tables, forms",
    .usage = usage,
    .about =
        "Writes a folder that any archive's tools can check (a BagIt bag): the signed record for"
        " an institution with place, layer and permission, every photo and paper at full size,"
        " the same data as tables (Darwin Core), the record on paper, receipts, a draft form to"
        " sign, and a README that answers what a registrar asks or says what is open. The folder"
        " gets its name only when it is whole.\n"
        "A find from federal or tribal land never gets a deed of gift. Forms are drafts, not for"
        " signing before counsel; they speak of no money. Nothing here is legal advice.\n"
        "It does not record that the piece changed hands: do that when it does, with record"
        " custody and record title.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_KEY,
    .needs = needs,
    .words_min = 1,
    .words_max = 500,
    .run = run,
    .tell = tell,
};
