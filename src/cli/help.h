/* Help, out of the tables of commands. */
#ifndef MB_HELP_H
#define MB_HELP_H

#include "command.h"

/* All commands in their groups, and the options that are the same everywhere. */
void help_overview(const struct screen *screen);
void help_command(const struct screen *screen, const struct command *command);

/* "-L, --ledger FOLDER" */
const char *help_option_form(mb_arena *arena, const struct option *option);
/* The option's help with its choices behind it. */
const char *help_option_text(mb_arena *arena, const struct option *option);
extern const char *const help_exit_codes[4];

#endif
