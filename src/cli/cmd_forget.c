#include <markerbed/forget.h>

#include <string.h>

#include "command.h"
#include "wording.h"

/* ---- running ---- */

static enum mb_rc do_one(struct call *call, struct mb_error *err)
{
    const char *text = call_value(call, "do");
    int64_t number = 0;

    text += *text == '#';
    if (*text == '\0' || strlen(text) > 15 || text[strspn(text, "0123456789")] != '\0')
        return mb_fail(err, MB_REFUSED, "'%s' is no request; see them with `markerbed forget`",
                       call_value(call, "do"));
    for (; *text != '\0'; text++)
        number = number * 10 + (*text - '0');
    return mb_forget_do(call->ledger, call->arena, number, &call->result, err);
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    struct mb_forget forget = { .entry = call_value(call, "entry"),
                                .ground = call_value(call, "ground"),
                                .asked_by = call_value(call, "asked-by"),
                                .copies = call_has(call, "copies"),
                                .preview = call_has(call, "preview") };

    if (call_has(call, "loose")) {
        if (call->word_count || call_has(call, "do"))
            return mb_fail(err, MB_REFUSED, "--loose stands alone, or with --preview");
        return mb_forget_loose(call->ledger, call->arena, forget.preview, &call->result, err);
    }
    if (call_has(call, "do")) {
        if (call->word_count)
            return mb_fail(err, MB_REFUSED, "--do takes the number of a request and nothing else");
        return do_one(call, err);
    }
    if (call->word_count == 0)
        return mb_forget_list(call->ledger, call->arena, &call->result, err);
    if (forget.ground == NULL)
        return mb_fail(err, MB_REFUSED,
                       "say with --ground why, like --ground \"a person's request\"");
    forget.subject = call_subject(call, "specimen", call->words[0]);
    forget.fields = call_values(call, "field", &forget.field_count);
    forget.also = call_values(call, "also", &forget.also_count);
    return mb_forget_ask(call->ledger, call->arena, &forget, &call->result, err);
}

static unsigned needs(const struct call *call)
{
    return call_has(call, "preview")
                   || (call->word_count == 0 && !call_has(call, "do") && !call_has(call, "loose"))
               ? NEEDS_LEDGER
               : NEEDS_KEY;
}

/* ---- telling ---- */

static void tell_list(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;

    if (call->result->count == 0)
        screen_say(screen, PLAIN, 0, "Nothing is waiting to be erased.");
    MB_JSON_EACH(one, call->result)
        screen_say(screen, PLAIN, 0, "#%s: %s of %s, on the ground of %s, asked at %s; %s%s.",
                   wording_of(arena, one, "request"),
                   wording_count(arena, mb_json_int(mb_json_get(one, "fields"), 0), "field",
                                 "fields"),
                   wording_of(arena, one, "subject"), wording_of(arena, one, "ground"),
                   wording_of(arena, one, "asked"),
                   mb_json_true(mb_json_get(one, "struckOut")) ? "struck out since"
                   : mb_json_true(mb_json_get(one, "ready"))   ? "can be done since "
                                                               : "can be done from ",
                   mb_json_true(mb_json_get(one, "struckOut")) ? ""
                                                               : wording_of(arena, one, "due"));
}

static void tell_done(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;

    screen_say(screen, PLAIN, 0, "Erased: %s%s%s. Recorded by entry %s.",
               wording_count(arena, mb_json_int(mb_json_get(call->result, "fields"), 0), "field",
                             "fields"),
               mb_json_int(mb_json_get(call->result, "files"), 0) ? " and " : "",
               mb_json_int(mb_json_get(call->result, "files"), 0)
                   ? wording_count(arena, mb_json_int(mb_json_get(call->result, "files"), 0),
                                   "attached file", "attached files")
                   : "",
               wording(arena, mb_json_get(call->result, "entries")));
    screen_say(screen, PLAIN, 0,
               "Certificates, sheets and backups made before still have it: throw old backups away"
               " and make a new one with \"markerbed backup --scrub\". The disk itself may keep"
               " what was overwritten until it is used again.");
}

static void tell_copy(const struct call *call, const struct screen *screen, const mb_json *copy)
{
    mb_arena *arena = call->arena;
    const char *kept = wording_of(arena, copy, "kept");

    screen_say(screen, PLAIN, 2, "#%s:%s (%s, %s) %s%s%s%s", wording_of(arena, copy, "seq"),
               wording_of(arena, copy, "field"), wording_of(arena, copy, "kind"),
               wording_of(arena, copy, "subject"),
               mb_json_text_is(mb_json_get(copy, "how"), "the same") ? "is the same"
                                                                     : "has it in it",
               mb_json_true(mb_json_get(copy, "taken")) ? ": will be erased too" : ": stays",
               kept ? ", for " : "", kept ? kept : "");
}

static void tell_asked(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    const mb_json *result = call->result, *copies = mb_json_get(result, "copies");
    const char *request = wording_of(arena, result, "request");

    screen_heading(screen, request ? "Asked to be erased" : "Would be erased");
    MB_JSON_EACH(field, mb_json_get(result, "fields"))
        screen_say(screen, PLAIN, 2, "%s of %s (entry #%s, %s)", wording_of(arena, field, "field"),
                   wording_of(arena, field, "subject"), wording_of(arena, field, "seq"),
                   wording_of(arena, field, "kind"));
    if (copies != NULL && copies->count > 0) {
        screen_heading(screen, "Where it stands too");
        MB_JSON_EACH(copy, copies)
            tell_copy(call, screen, copy);
        screen_say(screen, PLAIN, 0,
                   "--copies takes all of them, --also #14:text one. A whole field goes, whatever"
                   " else stands in it.");
    }
    if (mb_json_true(mb_json_get(result, "defaults")))
        screen_say(screen, DOUBT, 0,
                   "One of your own defaults has it too; see \"markerbed setting\".");
    screen_gap(screen);
    if (request)
        screen_say(screen, PLAIN, 0,
                   "Nothing is erased yet. From %s on: markerbed forget --do %s. To give it up,"
                   " strike entry #%s out.",
                   wording_of(arena, result, "due"), request, request);
    screen_say(screen, STRONG, 0,
               "If there is any dispute, inquiry or court matter, or one may come: ask a licensed"
               " lawyer first. What was given away already keeps what it has.");
}

static void tell_loose(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    const mb_json *loose = mb_json_get(call->result, "loose");
    bool removed = mb_json_true(mb_json_get(call->result, "removed"));

    if (loose->count == 0) {
        screen_say(screen, PLAIN, 0, "Every attached file is named by an entry.");
        return;
    }
    screen_say(screen, PLAIN, 0, "%s that no entry names %s:",
               wording_count(arena, (int64_t)loose->count, "file", "files"),
               removed ? "removed" : "would be removed");
    MB_JSON_EACH(one, loose)
        screen_say(screen, PLAIN, 2, "%s, %s", wording_of(arena, one, "file"),
                   wording_count(arena, mb_json_int(mb_json_get(one, "bytes"), 0), "byte",
                                 "bytes"));
}

static void tell(const struct call *call, const struct screen *screen)
{
    if (mb_json_get(call->result, "loose"))
        tell_loose(call, screen);
    else if (mb_json_is(call->result, MB_JSON_ARRAY))
        tell_list(call, screen);
    else if (call_has(call, "do"))
        tell_done(call, screen);
    else
        tell_asked(call, screen);
}

static const char *const usage[] = {
    "SUBJECT --field NAME ... --ground GROUND [--entry ENTRY] [--copies]",
    "--do REQUEST",
    "--loose [--preview]",
    "",
    NULL,
};

static const struct option options[] = {
    { .name = "field", .value = "NAME", .many = true, .help = "a field that is to be erased" },
    { .name = "ground",
      .value = "GROUND",
      .help = "a person's request, landowner's request, agency's request, court order, recorded by"
              " mistake, gives a place away, worker's health, or kept long enough" },
    { .name = "entry",
      .value = "ENTRY",
      .help = "only in this entry, by its number (#12) or leaf hash; else in all of the subject" },
    { .name = "asked-by", .value = "PARTY", .help = "who asked" },
    { .name = "copies", .help = "everywhere else too where the same is found" },
    { .name = "also",
      .value = "ENTRY:FIELD",
      .many = true,
      .help = "this copy too, as --preview names it, like #14:text" },
    { .name = "preview", .help = "only look what would be erased" },
    { .name = "loose",
      .help = "remove attached files that no entry names, as are left where a recording was cut"
              " short" },
    { .name = "do", .value = "REQUEST", .help = "the second step: erase what was asked" },
    { 0 },
};

static const struct example examples[] = {
    { "Somebody asks that their name and address be forgotten",
      "markerbed -L lab forget party/P006 --field address --field phone \\\n"
      "    --ground \"a person's request\" --preview" },
    { "What is waiting", "markerbed -L lab forget" },
    { 0 },
};

const struct command cmd_forget = {
    .name = "forget",
    .group = "Looking after",
    .line = "erase what was recorded in chosen fields, in two steps",
    .usage = usage,
    .about =
        "The first step writes down what is asked; the second, at least 30 days later (setting"
        " forgetAfterDays, which may be longer), erases it for good. That it was there, and on what"
        " ground it was erased, stays; everything given away before verifies as it did.\n"
        "Refused while a claim is open that asks that nothing be erased, and for what a permit's"
        " report rests on.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_KEY,
    .needs = needs,
    .words_max = 1,
    .run = run,
    .tell = tell,
};
