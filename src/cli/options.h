/* Reading the words behind the program's name. */
#ifndef MB_OPTIONS_H
#define MB_OPTIONS_H

#include "command.h"

/* Options that are the same everywhere; which of them a command takes follows from its flags. */
extern const struct option common_options[];
bool option_is_common(const struct option *option);
bool command_takes(const struct command *command, const struct option *option);

/* Finds the command and its options and words. call->command stays NULL where none was named.
 * MB_REFUSED with one sentence for anything that is unknown, missing, double or too much; nothing
 * is said of missing words if --help was given. */
MB_CHECK enum mb_rc options_read(struct call *call, int argc, char **argv, struct mb_error *err);

#endif
