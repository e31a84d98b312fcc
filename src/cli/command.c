#include "command.h"

#include <stdlib.h>
#include <string.h>

#include "fileio.h"
#include "text.h"

#define COMMAND(name) extern const struct command cmd_##name;
#include "commands.def"
#undef COMMAND

const struct command *const commands[] = {
#define COMMAND(name) &cmd_##name,
#include "commands.def"
#undef COMMAND
    NULL,
};

const struct command *command_find(const char *name)
{
    for (size_t i = 0; commands[i] != NULL; i++)
        if (strcmp(commands[i]->name, name) == 0)
            return commands[i];
    return NULL;
}

const char *call_value(const struct call *call, const char *option)
{
    for (size_t i = 0; i < call->given_count; i++)
        if (strcmp(call->given[i].option->name, option) == 0)
            return call->given[i].value;
    return NULL;
}

bool call_has(const struct call *call, const char *option)
{
    for (size_t i = 0; i < call->given_count; i++)
        if (strcmp(call->given[i].option->name, option) == 0)
            return true;
    return false;
}

const char *const *call_values(const struct call *call, const char *option, size_t *count)
{
    const char **values = MB_ARRAY(call->arena, call->given_count + 1, const char *);

    *count = 0;
    for (size_t i = 0; i < call->given_count; i++)
        if (strcmp(call->given[i].option->name, option) == 0)
            values[(*count)++] = call->given[i].value;
    return values;
}

bool call_json(const struct call *call)
{
    return call_has(call, "json");
}

const char *call_subject(const struct call *call, const char *kind, const char *word)
{
    return strchr(word, '/') != NULL ? word : mb_arena_printf(call->arena, "%s/%s", kind, word);
}

const char *call_folder(const struct call *call)
{
    const char *folder = call_value(call, "ledger");

    if (folder == NULL)
        folder = getenv("MARKERBED_LEDGER");
    if (folder != NULL && *folder != '\0')
        return folder;
    return mb_file_exists("ledger.db") ? "." : NULL;
}
