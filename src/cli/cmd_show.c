#include <markerbed/audit.h>
#include <markerbed/handover.h>
#include <markerbed/receive.h>
#include <markerbed/record.h>
#include <markerbed/show.h>

#include <string.h>

#include "audit_text.h"
#include "command.h"
#include "readiness_text.h"
#include "story_text.h"
#include "wording.h"

/* What the record shows of land and permission goes with a specimen's story. */
static enum mb_rc add_standing(struct call *call, const char *subject, struct mb_error *err)
{
    mb_json *story = mb_json_copy(call->arena, call->result);
    const mb_json *standing;
    enum mb_rc rc = mb_standing(call->ledger, call->arena, subject, call_value(call, "as-of"),
                                &standing, err);

    if (rc != MB_OK)
        return rc;
    mb_json_put(call->arena, story, "standing", mb_json_copy(call->arena, standing));
    call->result = story;
    return MB_OK;
}

/* So does what an institution would still miss; a story that was cut off by --as-of has none. */
static void add_missing(struct call *call, const char *subject)
{
    mb_json *story = mb_json_copy(call->arena, call->result);
    struct mb_error ignored = { 0 };
    const mb_json *missing;

    if (call_value(call, "as-of") != NULL
        || mb_readiness(call->ledger, call->arena, subject, &missing, &ignored) != MB_OK)
        return;
    mb_json_put(call->arena, story, "missing", mb_json_copy(call->arena, missing));
    call->result = story;
}

/* Its years in other ledgers, and on whose word its handovers stand. */
static void add_before(struct call *call, const char *subject)
{
    mb_json *story = mb_json_copy(call->arena, call->result);
    struct mb_error ignored = { 0 };
    const mb_json *told;

    if (call_value(call, "as-of") != NULL
        || mb_before(call->ledger, call->arena, subject, &told, &ignored) != MB_OK)
        return;
    MB_JSON_EACH(part, told)
        mb_json_put_str(call->arena, story, part->name, mb_json_copy(call->arena, part));
    call->result = story;
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    const char *subject = strcmp(call->words[0], "ledger") == 0
                              ? "ledger"
                              : call_subject(call, "specimen", call->words[0]);

    enum mb_rc rc = mb_show(call->ledger, call->arena, subject, call_value(call, "as-of"),
                            &call->result, err);

    if (rc == MB_OK && strncmp(subject, "specimen/", 9) == 0)
        rc = add_standing(call, subject, err);
    if (rc == MB_OK && strncmp(subject, "specimen/", 9) == 0)
        add_missing(call, subject);
    if (rc == MB_OK && strncmp(subject, "specimen/", 9) == 0)
        add_before(call, subject);
    return rc;
}

static void tell_missing(const struct call *call, const struct screen *screen)
{
    const mb_json *missing = mb_json_get(call->result, "missing");

    if (missing == NULL || missing->count == 0)
        return;
    screen_heading(screen, "What an institution would still miss");
    readiness_print(screen, call->arena, 2, missing, call_has(call, "full"));
    if (!call_has(call, "full"))
        screen_say(screen, PLAIN, 2, "How to fill it: markerbed handover %s --preview",
                   call->words[0]);
}

static void tell_before(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;

    MB_JSON_EACH(one, mb_json_get(call->result, "before")) {
        screen_heading(screen, mb_arena_printf(arena, "Its story before: from the ledger %s",
                                               wording_of(arena, one, "origin")));
        screen_say(screen, FAINT, 2, "%s, there %s, until %.10s; certificate %s",
                   wording_of(arena, one, "name"), wording_of(arena, one, "subject"),
                   wording_of(arena, one, "recordedAt"), wording_of(arena, one, "certificate"));
        MB_JSON_EACH(entry, mb_json_get(one, "entries")) {
            bool voided = mb_json_get(entry, "voided") != NULL;

            screen_say(screen, voided ? STRUCK : PLAIN, 2, "#%s %.10s %s%s",
                       wording_of(arena, entry, "seq"), wording_of(arena, entry, "recordedAt"),
                       wording_of(arena, entry, "line"), voided ? " (struck out)" : "");
        }
    }
}

static void tell_sides(const struct call *call, const struct screen *screen)
{
    const mb_json *sides = mb_json_get(call->result, "sides");
    mb_arena *arena = call->arena;

    if (sides == NULL || sides->count == 0)
        return;
    screen_heading(screen, "Whose word its handovers are");
    MB_JSON_EACH(one, sides) {
        const char *by = wording_of(arena, one, "by"), *in = wording_of(arena, one, "signedIn");

        screen_say(screen, PLAIN, 2, "#%s %s: %s%s%s%s%s", wording_of(arena, one, "seq"),
                   wording_of(arena, one, "line"), wording_of(arena, one, "sides"),
                   by ? " of the other side, " : "", by ? by : "", in ? ", entry #" : "",
                   in ? in : "");
    }
}

static void tell(const struct call *call, const struct screen *screen)
{
    const char *as_of = call_value(call, "as-of");
    struct story_text text = { .screen = screen,
                               .story = call->result,
                               .full = call_has(call, "full") };
    struct mb_error ignored = { 0 };

    if (mb_kinds(call->arena, &text.kinds, &ignored) != MB_OK)
        text.kinds = NULL;
    screen_say(screen, STRONG, 0, "%s%s%s", wording_of(call->arena, call->result, "subject"),
               as_of ? ", as it stood " : "", as_of ? as_of : "");
    story_print_now(&text);
    story_print_entries(&text);
    tell_before(call, screen);
    story_print_list(&text, mb_json_get(call->result, "holders"), "Who had it in hand");
    story_print_list(&text, mb_json_get(call->result, "owners"), "Who owned it");
    tell_sides(call, screen);
    story_print_account(&text);
    if (mb_json_get(call->result, "standing")) {
        screen_heading(screen, "What the record shows of land and permission");
        standing_tell(screen, 2, mb_json_get(call->result, "standing"));
    }
    tell_missing(call, screen);
    story_print_list(&text, mb_json_get(call->result, "warnings"), "Please note");
}

static const char *const usage[] = { "SUBJECT", NULL };

static const struct option options[] = {
    { .name = "full", .help = "with every field of every entry, as it was recorded" },
    { 0 },
};

static const struct example examples[] = {
    { "The story of one slab", "markerbed -L lab show 26-0115" },
    { "A place, with all that was said of it", "markerbed -L lab show site/S002 --full" },
    { 0 },
};

const struct command cmd_show = {
    .name = "show",
    .group = "Looking up",
    .line = "the story of one subject",
    .usage = usage,
    .about = "What it is, what was written down about it and when, who had it and who owned it,"
             " where the pieces went, and what an institution would still miss."
             " What was corrected or struck out stays visible and is marked."
             " A number alone means a specimen; others are written with their kind, like"
             " site/S002.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_LEDGER | TAKES_AS_OF,
    .words_min = 1,
    .words_max = 1,
    .run = run,
    .tell = tell,
};
