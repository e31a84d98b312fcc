/*
 * A command is one file cmd_x.c with one constant struct command. Help, the man page, completion
 * and the reading of options all come from these tables; commands.def names them in the order of
 * help.
 *
 * main.c opens the ledger, asks for the passphrase, prints what a command left in call->result (as
 * JSON, or by its `tell`), prints the error and picks the exit code. A command prints nothing
 * itself but questions and progress.
 */
#ifndef MB_COMMAND_H
#define MB_COMMAND_H

#include <markerbed/show.h>

#include "screen.h"

#define PROGRAM_VERSION "0.1"
#define PROGRAM_DAY "2026-05-02" /* of the man page */

struct call;

/* What completion offers for a value or word. */
enum offer { OFFER_NOTHING, OFFER_FILES, OFFER_FOLDERS, OFFER_CHOICES };

struct option {
    const char *name;  /* without the dashes; NULL ends a table */
    char letter;       /* 0: none */
    const char *value; /* what stands for its value in help; NULL: a switch */
    bool many;         /* may be given more than once */
    enum offer offer;
    const char *const *choices; /* NULL-ended; others are refused with the nearest */
    const char *help;
};

enum {
    NEEDS_LEDGER = 1 << 0, /* opened for reading */
    NEEDS_KEY = 1 << 1,    /* opened for writing, with a key to sign */
    NAMES_LEDGER = 1 << 2, /* takes -L, but opens nothing beforehand */
    TAKES_AS_OF = 1 << 3,
    TAKES_PROGRESS = 1 << 4,
    TAKES_PASSPHRASE = 1 << 5, /* takes --passphrase-file, but opens nothing beforehand */
    PRINTS_NO_JSON = 1 << 6,
    HIDDEN = 1 << 7
};

struct example {
    const char *what; /* one sentence without a full stop */
    const char *line; /* as typed in a shell; a backslash continues it */
};

struct command {
    const char *name;         /* "show", "key add" */
    const char *group;        /* the heading it stands under in help; a closed list, see help.c */
    const char *line;         /* what it does, in a few words */
    const char *const *usage; /* words behind the name, one string a form; NULL-ended */
    const char *about;        /* paragraphs divided by a line end */
    const struct option *options;   /* its own, ended by a NULL name; may be NULL */
    const struct example *examples; /* ended by a NULL line */
    unsigned flags;
    /* Flags that depend on what was given; NULL: `flags`. */
    unsigned (*needs)(const struct call *call);
    size_t words_min, words_max;
    enum offer words; /* what completion offers for its words; choices: see completion.c */
    enum mb_rc (*run)(struct call *call, struct mb_error *err);
    /* Help on the words behind --help, as in "record collecting --help"; false: the usual help. */
    bool (*explain)(const struct call *call, const struct screen *screen);
    /* The result in words; of rows, what is said behind them, their number in `result`. */
    void (*tell)(const struct call *call, const struct screen *screen);
    const char *none; /* said in place of a table without rows; NULL: its head alone */
};

struct given {
    const struct option *option;
    const char *value; /* NULL for a switch */
};

struct call {
    const struct command *command;
    mb_arena *arena;
    mb_ledger *ledger; /* open as the command's flags ask for */
    const char *const *words;
    size_t word_count;
    const struct given *given; /* in the order they were given */
    size_t given_count;
    const mb_json *result; /* left by the command, printed by main.c */
    mb_rows *rows;         /* or these, printed while the ledger is open */
};

/* All commands, hidden ones too, in the order of help; NULL-ended. */
extern const struct command *const commands[];
/* By name; NULL if there is none. */
const struct command *command_find(const char *name);

/* The value of an option, NULL if it was not given. */
const char *call_value(const struct call *call, const char *option);
bool call_has(const struct call *call, const char *option);
/* All values of one that may be given more than once. */
const char *const *call_values(const struct call *call, const char *option, size_t *count);
/* True if the result is to be printed as JSON. */
bool call_json(const struct call *call);
/* "kind/ID" as it is, "ID" with the kind put before. */
const char *call_subject(const struct call *call, const char *kind, const char *word);
/* -L, or MARKERBED_LEDGER, or the folder we stand in if it holds a ledger; NULL if none of them. */
const char *call_folder(const struct call *call);

#endif
