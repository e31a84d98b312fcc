#include <markerbed/show.h>

#include <errno.h>
#include <stdlib.h>

#include "command.h"
#include "text.h"
#include "wording.h"

enum { MOST_USUAL = 20, MOST_MAX = 100000 };

static enum mb_rc how_many(const char *text, size_t *most, struct mb_error *err)
{
    char *end;
    long number;

    *most = MOST_USUAL;
    if (text == NULL)
        return MB_OK;
    errno = 0;
    number = strtol(text, &end, 10);
    if (errno != 0 || end == text || *end != '\0' || number < 1 || number > MOST_MAX)
        return mb_fail(err, MB_REFUSED, "--most needs a number from 1 to %d, not \"%s\"", MOST_MAX,
                       text);
    *most = (size_t)number;
    return MB_OK;
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    const char *words = "";
    size_t most;
    enum mb_rc rc = how_many(call_value(call, "most"), &most, err);

    if (rc != MB_OK)
        return rc;
    for (size_t i = 0; i < call->word_count; i++)
        words = mb_arena_printf(call->arena, "%s%s%s", words, i > 0 ? " " : "", call->words[i]);
    rc = mb_find_words(call->ledger, call->arena, words, most, call_value(call, "as-of"),
                       &call->result, err);
    return rc == MB_OK && call->result->count == 0 ? MB_NO : rc;
}

static void tell(const struct call *call, const struct screen *screen)
{
    mb_arena *arena = call->arena;
    mb_json *table = mb_json_object(arena), *columns = mb_json_array(arena);
    mb_json *rows = mb_json_array(arena);

    if (call->result->count == 0) {
        screen_say(screen, PLAIN, 0, "Nothing was found.");
        return;
    }
    mb_json_add_text(arena, columns, "Subject");
    mb_json_add_text(arena, columns, "What it says");
    mb_json_add_text(arena, columns, "Entry");
    MB_JSON_EACH(hit, call->result) {
        mb_json *row = mb_json_add(rows, mb_json_array(arena));
        const char *line = wording_of(arena, hit, "line"), *kind = wording_of(arena, hit, "kind");
        mb_json_add_text(arena, row, wording_of(arena, hit, "subject"));
        mb_json_add_text(arena, row, line && *line ? line : kind);
        mb_json_add_text(arena, row, mb_arena_printf(arena, "#%s", wording_of(arena, hit, "seq")));
    }
    mb_json_put(arena, table, "columns", columns);
    mb_json_put(arena, table, "rows", rows);
    screen_table(screen, table);
}

static const char *const usage[] = { "WORDS ...", NULL };

static const struct option options[] = {
    { .name = "most", .value = "NUMBER", .help = "how many to print, 20 if not said" },
    { 0 },
};

static const struct example examples[] = {
    { "Everything about crinoids from the chalk", "markerbed -L lab find crinoid chalk" },
    { 0 },
};

const struct command cmd_find = {
    .name = "find",
    .group = "Looking up",
    .line = "search in all that was written down",
    .usage = usage,
    .about = "Finds the entries that hold all the words, the best first. Exit code 1 if there are"
             " none.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_LEDGER | TAKES_AS_OF,
    .words_min = 1,
    .words_max = 100,
    .run = run,
    .tell = tell,
};
