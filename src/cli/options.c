#include "options.h"

#include <string.h>

#include "codec.h"
#include "text.h"

const struct option common_options[] = {
    { .name = "ledger",
      .letter = 'L',
      .value = "FOLDER",
      .offer = OFFER_FOLDERS,
      .help = "which ledger; else MARKERBED_LEDGER, else the folder you stand in" },
    { .name = "key",
      .value = "LABEL",
      .help = "which key signs, if there are several here; else MARKERBED_KEY" },
    { .name = "passphrase-file",
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "the key's passphrase is the first line of this file; else"
              " MARKERBED_PASSPHRASE_FILE names it, else it is asked for" },
    { .name = "clock-is-right",
      .help = "this machine's clock is right although it is far from the last entry" },
    { .name = "as-of",
      .value = "WHEN",
      .help = "as it stood at the end of a day (2026-05-02), or after entry #1234" },
    { .name = "progress", .help = "say how far it is, also where no terminal is watching" },
    { .name = "json", .help = "print the result as JSON" },
    { .name = "help", .letter = 'h', .help = "this text" },
    { .name = "version", .help = "which version this is" },
    { 0 },
};

enum { ALL_OPTIONS_MAX = 64 };

bool option_is_common(const struct option *option)
{
    for (const struct option *o = common_options; o->name != NULL; o++)
        if (o == option)
            return true;
    return false;
}

bool command_takes(const struct command *command, const struct option *option)
{
    const unsigned ledger = NEEDS_LEDGER | NEEDS_KEY | NAMES_LEDGER;
    static const struct {
        const char *name;
        unsigned flags;
    } wanted[] = {
        { "ledger", ledger },
        { "key", NEEDS_KEY },
        { "passphrase-file", NEEDS_KEY | TAKES_PASSPHRASE },
        { "clock-is-right", NEEDS_KEY },
        { "as-of", TAKES_AS_OF },
        { "progress", TAKES_PROGRESS },
    };

    if (strcmp(option->name, "version") == 0)
        return false;
    if (strcmp(option->name, "json") == 0)
        return !(command->flags & PRINTS_NO_JSON);
    for (size_t i = 0; i < sizeof wanted / sizeof *wanted; i++)
        if (strcmp(option->name, wanted[i].name) == 0)
            return (command->flags & wanted[i].flags) != 0;
    return true;
}

/* ---- what was given ---- */

struct reading {
    struct call *call;
    char **at; /* the next argument; the last is NULL */
    const char **words;
    struct given *given;
    bool only_words; /* after "--" */
    struct mb_error *err;
};

static const struct option *find_in(const struct option *table, struct mb_str name, char letter)
{
    for (const struct option *o = table; o != NULL && o->name != NULL; o++)
        if (name.at != NULL ? mb_str_is(name, o->name) : o->letter == letter && letter != 0)
            return o;
    return NULL;
}

/* A command's own option hides a common one of the same name. */
static const struct option *find_option(const struct call *call, struct mb_str name, char letter)
{
    const struct option *option = NULL;

    if (call->command != NULL)
        option = find_in(call->command->options, name, letter);
    return option != NULL ? option : find_in(common_options, name, letter);
}

static const char *called(const struct call *call)
{
    return call->command == NULL ? "markerbed" : call->command->name;
}

static enum mb_rc unknown_option(struct reading *r, struct mb_str name)
{
    const char *allowed[ALL_OPTIONS_MAX], *nearest;
    const struct command *command = r->call->command;
    size_t count = 0;

    for (const struct option *o = command ? command->options : NULL; o && o->name; o++)
        if (count < ALL_OPTIONS_MAX)
            allowed[count++] = o->name;
    for (const struct option *o = common_options; o->name != NULL; o++)
        if (count < ALL_OPTIONS_MAX && (command == NULL || command_takes(command, o)))
            allowed[count++] = o->name;
    nearest = mb_nearest(name, allowed, count);
    if (nearest != NULL)
        return mb_fail(r->err, MB_REFUSED, "%s has no option --%.*s; did you mean --%s?",
                       called(r->call), MB_STR_ARG(name), nearest);
    return mb_fail(
        r->err, MB_REFUSED, "%s has no option --%.*s; \"markerbed %s%s--help\" lists what it has",
        called(r->call), MB_STR_ARG(name), command ? command->name : "", command ? " " : "");
}

static enum mb_rc check_choice(struct reading *r, const struct option *option, const char *value)
{
    mb_arena *arena = r->call->arena;
    const char *list = "", *nearest;
    size_t count = 0;

    if (option->choices == NULL)
        return MB_OK;
    for (; option->choices[count] != NULL; count++) {
        if (strcmp(option->choices[count], value) == 0)
            return MB_OK;
        list =
            mb_arena_printf(arena, "%s%s%s", list, count == 0 ? "" : ", ", option->choices[count]);
    }
    nearest = mb_nearest(mb_str_of(value), option->choices, count);
    return mb_fail(r->err, MB_REFUSED, "--%s takes one of %s, not \"%s\"%s%s%s", option->name, list,
                   value, nearest ? "; did you mean " : "", nearest ? nearest : "",
                   nearest ? "?" : "");
}

static enum mb_rc take_option(struct reading *r, const struct option *option, const char *value)
{
    struct call *call = r->call;

    if (option->value == NULL && value != NULL)
        return mb_fail(r->err, MB_REFUSED, "--%s is a switch and takes no value", option->name);
    if (option->value != NULL && value == NULL) {
        if (*r->at == NULL)
            return mb_fail(r->err, MB_REFUSED, "--%s needs %s behind it", option->name,
                           option->value);
        value = *r->at++;
    }
    for (size_t i = 0; i < call->given_count && !option->many; i++)
        if (call->given[i].option == option)
            return mb_fail(r->err, MB_REFUSED, "--%s is given twice; give it once", option->name);
    if (value != NULL && check_choice(r, option, value) != MB_OK)
        return MB_REFUSED;
    r->given[call->given_count++] = (struct given){ option, value };
    return MB_OK;
}

static enum mb_rc read_long(struct reading *r, const char *text)
{
    struct mb_str name, value;
    bool has_value = mb_str_cut(mb_str_of(text), '=', &name, &value);
    const struct option *option = find_option(r->call, name, 0);

    if (option == NULL)
        return unknown_option(r, name);
    return take_option(r, option, has_value ? value.at : NULL);
}

/* -L DIR, -LDIR; -h. Switches are not bundled: there is only one. */
static enum mb_rc read_short(struct reading *r, const char *text)
{
    const struct option *option = find_option(r->call, (struct mb_str){ NULL, 0 }, *text);
    const char *value = text[1] != '\0' ? text + 1 : NULL;

    if (option == NULL)
        return mb_fail(r->err, MB_REFUSED,
                       "%s has no option -%s; \"markerbed %s%s--help\" lists what it has",
                       called(r->call), text, r->call->command ? r->call->command->name : "",
                       r->call->command ? " " : "");
    return take_option(r, option, value);
}

/* ---- which command ---- */

static enum mb_rc unknown_command(struct reading *r, const char *word)
{
    const char *allowed[ALL_OPTIONS_MAX], *nearest;
    size_t count = 0;

    for (size_t i = 0; commands[i] != NULL; i++) {
        struct mb_str first, rest;
        if (commands[i]->flags & HIDDEN)
            continue;
        mb_str_cut(mb_str_of(commands[i]->name), ' ', &first, &rest);
        if (count < ALL_OPTIONS_MAX)
            allowed[count++] = mb_arena_copy(r->call->arena, first.at, first.len);
    }
    nearest = mb_nearest(mb_str_of(word), allowed, count);
    if (nearest != NULL)
        return mb_fail(r->err, MB_REFUSED, "there is no command \"%s\"; did you mean \"%s\"?", word,
                       nearest);
    return mb_fail(r->err, MB_REFUSED,
                   "there is no command \"%s\"; \"markerbed --help\" lists them", word);
}

/* For "key": what may stand behind it, NULL if no command begins so. */
static const char *parts_of(mb_arena *arena, const char *word, const char **parts, size_t *count)
{
    const char *list = NULL;

    for (size_t i = 0; commands[i] != NULL; i++) {
        struct mb_str first, rest;
        if (!mb_str_cut(mb_str_of(commands[i]->name), ' ', &first, &rest)
            || !mb_str_is(first, word))
            continue;
        if (*count < ALL_OPTIONS_MAX)
            parts[(*count)++] = rest.at;
        list = list == NULL ? rest.at : mb_arena_printf(arena, "%s, %s", list, rest.at);
    }
    return list;
}

static enum mb_rc read_second(struct reading *r, const char *first, const char *list,
                              const char *const *parts, size_t count)
{
    const char *second = *r->at, *nearest;

    if (second == NULL || *second == '-')
        return mb_fail(r->err, MB_REFUSED, "\"%s\" needs one of these behind it: %s", first, list);
    r->call->command = command_find(mb_arena_printf(r->call->arena, "%s %s", first, second));
    if (r->call->command != NULL) {
        r->at++;
        return MB_OK;
    }
    nearest = mb_nearest(mb_str_of(second), parts, count);
    return mb_fail(r->err, MB_REFUSED, "\"%s\" has no \"%s\", but: %s%s%s%s", first, second, list,
                   nearest ? "; did you mean " : "", nearest ? nearest : "", nearest ? "?" : "");
}

static enum mb_rc read_command(struct reading *r, const char *word)
{
    const char *parts[ALL_OPTIONS_MAX], *list;
    size_t count = 0;

    r->call->command = strchr(word, ' ') == NULL ? command_find(word) : NULL;
    if (r->call->command != NULL)
        return MB_OK;
    list = parts_of(r->call->arena, word, parts, &count);
    return list != NULL ? read_second(r, word, list, parts, count) : unknown_command(r, word);
}

/* ---- all together ---- */

/* One certificate's name in 64 begins with a hyphen, and is no option for it. */
static bool is_identity(const char *text)
{
    uint8_t leaf[32];

    return mb_b64u_read_exact(mb_str_of(text), leaf, sizeof leaf);
}

static enum mb_rc read_one(struct reading *r)
{
    const char *text = *r->at++;

    if (!r->only_words && text[0] == '-' && text[1] != '\0'
        && !(r->call->command != NULL && is_identity(text))) {
        if (strcmp(text, "--") == 0) {
            r->only_words = true;
            return MB_OK;
        }
        return text[1] == '-' ? read_long(r, text + 2) : read_short(r, text + 1);
    }
    if (r->call->command == NULL)
        return read_command(r, text);
    r->words[r->call->word_count++] = text;
    return MB_OK;
}

static enum mb_rc check_taken(const struct call *call, struct mb_error *err)
{
    for (size_t i = 0; i < call->given_count; i++)
        if (option_is_common(call->given[i].option)
            && !command_takes(call->command, call->given[i].option))
            return mb_fail(err, MB_REFUSED, "%s takes no --%s", call->command->name,
                           call->given[i].option->name);
    return MB_OK;
}

static enum mb_rc check_words(const struct call *call, struct mb_error *err)
{
    const struct command *command = call->command;

    if (call->word_count < command->words_min)
        return mb_fail(err, MB_REFUSED, "too little behind \"%s\": it is used as markerbed %s %s",
                       command->name, command->name, command->usage[0]);
    if (call->word_count > command->words_max)
        return mb_fail(
            err, MB_REFUSED,
            "\"%s\" is too much behind \"%s\"; put quotation marks around what has blanks",
            call->words[command->words_max], command->name);
    return MB_OK;
}

enum mb_rc options_read(struct call *call, int argc, char **argv, struct mb_error *err)
{
    size_t room = (size_t)argc + 1;
    struct reading r = { .call = call, .at = argv + (argc > 0), .err = err };

    r.words = MB_ARRAY(call->arena, room, const char *);
    r.given = MB_ARRAY(call->arena, room, struct given);
    call->words = r.words;
    call->given = r.given;
    while (*r.at != NULL) {
        enum mb_rc rc = read_one(&r);
        if (rc != MB_OK)
            return rc;
    }
    if (call->command == NULL || call_has(call, "help"))
        return MB_OK;
    if (check_taken(call, err) != MB_OK)
        return MB_REFUSED;
    return check_words(call, err);
}
