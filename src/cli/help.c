#include "help.h"

#include <string.h>

#include "options.h"
#include "text.h"

const char *const help_exit_codes[4] = {
    [MB_OK] = "done, or: yes",
    [MB_NO] = "checked, and it is not so",
    [MB_REFUSED] = "wrong use or refused input; nothing was changed",
    [MB_UNABLE] = "could not do it, or could not check it",
};

enum { HANG = 26 };

const char *help_option_form(mb_arena *arena, const struct option *option)
{
    const char *text = option->letter == 0
                           ? mb_arena_printf(arena, "--%s", option->name)
                           : mb_arena_printf(arena, "-%c, --%s", option->letter, option->name);

    return option->value == NULL ? text : mb_arena_printf(arena, "%s %s", text, option->value);
}

const char *help_option_text(mb_arena *arena, const struct option *option)
{
    const char *text = option->help;

    for (size_t i = 0; option->choices != NULL && option->choices[i] != NULL; i++)
        text =
            mb_arena_printf(arena, "%s%s%s", text, i == 0 ? "; one of " : ", ", option->choices[i]);
    if (option->many)
        text = mb_arena_printf(arena, "%s; may be given several times", text);
    return text;
}

static void options(const struct screen *screen, const struct command *command)
{
    const struct option *own = command != NULL ? command->options : NULL;

    screen_heading(screen, "Options");
    for (const struct option *o = own; o != NULL && o->name != NULL; o++)
        screen_item(screen, PLAIN, 2, HANG, help_option_form(screen->arena, o),
                    mb_str_of(help_option_text(screen->arena, o)));
    for (const struct option *o = common_options; o->name != NULL; o++)
        if (command == NULL || command_takes(command, o))
            screen_item(screen, PLAIN, 2, HANG, help_option_form(screen->arena, o),
                        mb_str_of(help_option_text(screen->arena, o)));
}

void help_overview(const struct screen *screen)
{
    const char *group = "";

    screen_say(screen, PLAIN, 0,
               "markerbed keeps the story of fossils: where each was found and by what right, what"
               " was done to it since, who held and who owned it. What is written down is signed"
               " and never changed, and a stranger can check it.");
    screen_gap(screen);
    screen_say(screen, PLAIN, 2, "markerbed [-L LEDGER] COMMAND ...");
    for (size_t i = 0; commands[i] != NULL; i++) {
        if (commands[i]->flags & HIDDEN)
            continue;
        if (strcmp(group, commands[i]->group) != 0)
            screen_heading(screen, commands[i]->group);
        group = commands[i]->group;
        screen_item(screen, PLAIN, 2, HANG - 8, commands[i]->name, mb_str_of(commands[i]->line));
    }
    options(screen, NULL);
    screen_heading(screen, "Exit codes");
    for (int i = 0; i < 4; i++)
        screen_say(screen, PLAIN, 2, "%d  %s", i, help_exit_codes[i]);
    screen_gap(screen);
    screen_say(screen, PLAIN, 0,
               "\"markerbed COMMAND --help\" tells more of one command, with examples.");
}

void help_command(const struct screen *screen, const struct command *command)
{
    bool ledger = (command->flags & (NEEDS_LEDGER | NEEDS_KEY | NAMES_LEDGER)) != 0, more;
    struct mb_str paragraph, rest;

    screen_say(screen, STRONG, 0, "markerbed %s: %s", command->name, command->line);
    screen_gap(screen);
    for (size_t i = 0; command->usage[i] != NULL; i++)
        screen_item(
            screen, PLAIN, 2, 12, "markerbed",
            mb_str_of(mb_arena_printf(screen->arena, "%s%s %s", ledger ? "[-L LEDGER] " : "",
                                      command->name, command->usage[i])));
    for (more = true, rest = mb_str_of(command->about); more;) {
        more = mb_str_cut(rest, '\n', &paragraph, &rest);
        screen_gap(screen);
        screen_say(screen, PLAIN, 0, "%.*s", MB_STR_ARG(paragraph));
    }
    options(screen, command);
    screen_heading(screen, "Examples");
    for (const struct example *e = command->examples; e->line != NULL; e++) {
        struct mb_str line;
        rest = mb_str_of(e->line);
        screen_say(screen, PLAIN, 2, "%s:", e->what);
        do { /* not wrapped: to be copied as it stands */
            mb_str_cut(rest, '\n', &line, &rest);
            fprintf(screen->to, "    %.*s\n", MB_STR_ARG(line));
        } while (rest.len > 0);
    }
}
