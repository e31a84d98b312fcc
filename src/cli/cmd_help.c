#include "help.h"

#include "kind_form.h"
#include "text.h"

static const struct command *asked_for(const struct call *call)
{
    const char *name = call->word_count > 0 ? call->words[0] : "help";

    if (call->word_count > 1)
        name = mb_arena_printf(call->arena, "%s %s", name, call->words[1]);
    return command_find(name);
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    const char *names[64], *nearest;
    size_t count = 0;

    if (call->word_count == 0 || asked_for(call) != NULL
        || kind_list(call->arena, call->words[0]) != NULL) {
        call->result = mb_json_null(call->arena);
        return MB_OK;
    }
    for (size_t i = 0; commands[i] != NULL && count < 64; i++)
        if (!(commands[i]->flags & HIDDEN))
            names[count++] = commands[i]->name;
    nearest = mb_nearest(mb_str_of(call->words[0]), names, count);
    return mb_fail(err, MB_REFUSED, "there is no command \"%s\"; %s%s%s", call->words[0],
                   nearest ? "did you mean \"" : "\"markerbed help\" lists them",
                   nearest ? nearest : "", nearest ? "\"?" : "");
}

static void tell(const struct call *call, const struct screen *screen)
{
    if (call->word_count == 0)
        help_overview(screen);
    else if (asked_for(call) != NULL)
        help_command(screen, asked_for(call));
    else
        kind_list_print(screen, kind_list(call->arena, call->words[0]));
}

static const char *const usage[] = { "[COMMAND]", "LIST", NULL };
static const struct example examples[] = {
    { "How a find is written down", "markerbed help record" },
    { "The words for what is done at the bench", "markerbed help prep-method" },
    { 0 },
};

const struct command cmd_help = {
    .name = "help",
    .group = "This program",
    .line = "what the commands are, and more of each",
    .usage = usage,
    .about =
        "Without a command: all of them in a few words each. LIST is one of the lists of words that"
        " fields take; the help of a kind names it.",
    .examples = examples,
    .flags = PRINTS_NO_JSON,
    .words_max = 2,
    .words = OFFER_CHOICES,
    .run = run,
    .tell = tell,
};
