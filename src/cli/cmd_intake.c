#include <markerbed/intake.h>

#include "progress.h"
#include "text.h"
#include "wording.h"

static void tell_progress(void *ctx, size_t done, size_t rows)
{
    progress_tell(ctx, done, rows);
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    struct progress progress;
    struct mb_intake intake = { .path = call->words[0],
                                .map_path = call_value(call, "map"),
                                .dry_run = call_has(call, "dry-run"),
                                .split = call_has(call, "split"),
                                .progress = tell_progress,
                                .ctx = &progress };
    enum mb_rc rc;

    if (call_has(call, "all-faults"))
        intake.most_faults = SIZE_MAX;
    progress_begin(&progress, call, "rows");
    rc = mb_intake_file(call->ledger, call->arena, &intake, &call->result, err);
    progress_end(&progress);
    return rc;
}

/* With file, line, column and value in front, unless the sentence has them already. */
static const char *fault_text(const struct call *call, const mb_json *fault)
{
    mb_arena *arena = call->arena;
    const char *text = wording_of(arena, fault, "text"), *value = wording_of(arena, fault, "value");
    const char *column = wording_of(arena, fault, "column");

    if (text == NULL || mb_str_starts(mb_str_of(text), call->words[0]))
        return text != NULL ? text : "";
    return mb_arena_printf(arena, "line %s%s%s%s%s%s: %s", wording_of(arena, fault, "line"),
                           column && *column ? ", column " : "", column ? column : "",
                           value && *value ? ", \"" : "", value ? value : "",
                           value && *value ? "\"" : "", text);
}

static void tell_faults(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    const mb_json *faults = mb_json_get(call->result, "faults");
    int64_t all = mb_json_int(mb_json_get(call->result, "faultsInAll"), 0);

    MB_JSON_EACH(fault, faults)
        screen_say(screen, BAD, 0, "%s", fault_text(call, fault));
    if (faults != NULL && all > (int64_t)faults->count)
        screen_say(screen, BAD, 0, "And %s more; --all-faults tells them all.",
                   wording_number(arena, all - (int64_t)faults->count));
}

static void tell_kinds(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    struct pairs pairs = { .arena = arena };

    MB_JSON_EACH(kind, mb_json_get(call->result, "kinds"))
        pairs_add(&pairs, mb_arena_copy(arena, kind->name.at, kind->name.len),
                  wording_number(arena, mb_json_int(kind, 0)));
    pairs_print(screen, 2, &pairs);
}

static void tell_split(const struct call *call, const struct screen *screen)
{
    const char *good = wording_of(call->arena, call->result, "good");
    const char *faulty = wording_of(call->arena, call->result, "faulty");

    if (good != NULL)
        screen_say(screen, PLAIN, 0, "The good rows are in %s.", good);
    if (faulty != NULL)
        screen_say(screen, PLAIN, 0, "The faulty rows are in %s.", faulty);
}

static void tell(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    const mb_json *result = call->result;
    int64_t rows = mb_json_int(mb_json_get(result, "rows"), 0);
    int64_t entries = mb_json_int(mb_json_get(result, "entries"), 0);
    int64_t already = mb_json_int(mb_json_get(result, "already"), 0);
    int64_t faults = mb_json_int(mb_json_get(result, "faultsInAll"), 0);
    bool only_looked = call_has(call, "dry-run") || call_has(call, "split") || faults > 0;
    const char *batch = wording_of(arena, result, "batch");

    tell_faults(call, screen);
    screen_say(screen, PLAIN, 0, "%s read%s%s.", wording_count(arena, rows, "row", "rows"),
               faults > 0 ? ", with faults: " : "",
               faults > 0 ? wording_number(arena, faults) : "");
    if (already > 0)
        screen_say(screen, PLAIN, 0,
                   "Already in the ledger from an earlier run, and not taken again: %s.",
                   wording_count(arena, already, "row", "rows"));
    if (faults > 0)
        screen_say(screen, STRONG, 0, "Nothing was recorded.");
    else if (entries == 0)
        screen_say(screen, PLAIN, 0, "There is nothing to record.");
    else
        screen_say(screen, PLAIN, 0, "%s %s:", only_looked ? "This would record" : "Recorded",
                   wording_count(arena, entries, "entry", "entries"));
    if (faults == 0)
        tell_kinds(call, screen);
    tell_split(call, screen);
    if (!only_looked && entries > 0 && batch != NULL) {
        screen_say(screen, PLAIN, 0, "To strike it all out again:");
        screen_say(screen, PLAIN, 2, "markerbed record --undo \"%s\" --why \"...\"", batch);
    }
}

static const char *const usage[] = { "FILE.csv [--map MAP] [--dry-run | --split]", NULL };

static const struct option options[] = {
    { .name = "map",
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "which column is which field; without it the columns bear the fields' names" },
    { .name = "dry-run", .help = "look at every row, say what would be recorded, record nothing" },
    { .name = "split",
      .help = "write the good and the faulty rows into two files beside it, record nothing" },
    { .name = "all-faults", .help = "tell every fault, not only the first hundred" },
    { 0 },
};

static const struct example examples[] = {
    { "First look, then take",
      "markerbed -L lab intake old-finds.csv --map old-finds.map --dry-run\n"
      "markerbed -L lab intake old-finds.csv --map old-finds.map" },
    { 0 },
};

const struct command cmd_intake = {
    .name = "intake",
    .group = "Writing down",
    .line = "many entries from a spreadsheet",
    .usage = usage,
    .about =
        "Takes a CSV file as spreadsheets save it; - is standard input. All rows are recorded or"
        " none: every faulty row is told in one pass. A map says which column is which field, and"
        " can keep the columns that no field takes, word for word. Running the same file twice adds"
        " nothing and says so. docs/intake.md shows how a map is written.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_KEY | TAKES_PROGRESS,
    .words_min = 1,
    .words_max = 1,
    .words = OFFER_FILES,
    .run = run,
    .tell = tell,
};
