#include "docs.h"

#include <string.h>

#include "help.h"
#include "options.h"
#include "text.h"

enum { LINE_MAX_COLUMNS = 76 };

struct page {
    struct mb_buf *buf;
    mb_arena *arena;
};

/* Text as roff takes it: no escape, no request at the beginning of a line, hyphens that stay. */
static const char *escaped(mb_arena *arena, struct mb_str text)
{
    char *out = mb_arena_array(arena, 3 * text.len + 3, 1), *to = out;

    if (text.len > 0 && (text.at[0] == '.' || text.at[0] == '\'')) {
        *to++ = '\\';
        *to++ = '&';
    }
    for (size_t i = 0; i < text.len; i++) {
        if (text.at[i] == '\\' || text.at[i] == '-')
            *to++ = '\\';
        *to++ = text.at[i] == '\\' ? 'e' : text.at[i];
    }
    return out;
}

/* Where a sentence ends: a new line begins behind it, so that roff sets the space. */
static size_t sentence_len(struct mb_str text)
{
    for (size_t i = 0; i + 2 < text.len; i++)
        if (strchr(".?!", text.at[i]) != NULL && text.at[i + 1] == ' '
            && ((text.at[i + 2] >= 'A' && text.at[i + 2] <= 'Z') || text.at[i + 2] == '"'))
            return i + 1;
    return text.len;
}

static void put_paragraph(const struct page *page, struct mb_str text)
{
    while (text.len > 0) {
        size_t len = sentence_len(text);
        struct lines lines =
            screen_wrap(page->arena, (struct mb_str){ text.at, len }, LINE_MAX_COLUMNS, false);
        for (size_t i = 0; i < lines.count; i++)
            mb_buf_printf(page->buf, "%s\n", escaped(page->arena, lines.at[i]));
        text.at += len;
        text.len -= len;
        text = mb_str_trim(text);
    }
}

static void put_text(const struct page *page, const char *text)
{
    struct mb_str paragraph, rest = mb_str_of(text);
    bool more = true;

    while (more) {
        more = mb_str_cut(rest, '\n', &paragraph, &rest);
        put_paragraph(page, paragraph);
        if (more)
            mb_buf_add_text(page->buf, ".Pp\n");
    }
}

/* In quotation marks, a word is never taken for a macro. */
static void put_quoted(const struct page *page, const char *text)
{
    const char *clean = escaped(page->arena, mb_str_of(text));

    mb_buf_add_char(page->buf, '"');
    for (; *clean != '\0'; clean++) {
        if (*clean == '"')
            mb_buf_add_char(page->buf, '"');
        mb_buf_add_char(page->buf, *clean);
    }
    mb_buf_add_char(page->buf, '"');
}

static void put_option(const struct page *page, const struct option *option)
{
    mb_buf_add_text(page->buf, ".It ");
    if (option->letter != 0)
        mb_buf_printf(page->buf, "Fl %c , ", option->letter);
    mb_buf_printf(page->buf, "Fl Fl %s", escaped(page->arena, mb_str_of(option->name)));
    if (option->value != NULL) {
        mb_buf_add_text(page->buf, " Ar ");
        put_quoted(page, option->value);
    }
    mb_buf_add_char(page->buf, '\n');
    put_text(page, mb_arena_printf(page->arena, "%s.", help_option_text(page->arena, option)));
}

static void put_options(const struct page *page, const struct option *table)
{
    if (table == NULL || table->name == NULL)
        return;
    mb_buf_add_text(page->buf, ".Bl -tag -width Ds\n");
    for (const struct option *o = table; o->name != NULL; o++)
        put_option(page, o);
    mb_buf_add_text(page->buf, ".El\n");
}

static void put_common(const struct page *page, const struct command *command)
{
    mb_buf_add_text(page->buf, ".Pp\nBesides it takes\n");
    for (const struct option *o = common_options; o->name != NULL; o++)
        if (command_takes(command, o) && strcmp(o->name, "help") != 0)
            mb_buf_printf(page->buf, ".Fl Fl %s ,\n", escaped(page->arena, mb_str_of(o->name)));
    mb_buf_add_text(page->buf, "and\n.Fl Fl help .\n");
}

static void put_examples(const struct page *page, const struct command *command, bool first)
{
    for (const struct example *e = command->examples; e->line != NULL; e++) {
        struct mb_str line, rest = mb_str_of(e->line);

        if (!first)
            mb_buf_add_text(page->buf, ".Pp\n");
        first = false;
        put_text(page, mb_arena_printf(page->arena, "%s:", e->what));
        mb_buf_add_text(page->buf, ".Bd -literal -offset indent\n");
        do {
            mb_str_cut(rest, '\n', &line, &rest);
            mb_buf_printf(page->buf, "%s\n", escaped(page->arena, line));
        } while (rest.len > 0);
        mb_buf_add_text(page->buf, ".Ed\n");
    }
}

static void put_command(const struct page *page, const struct command *command)
{
    mb_buf_printf(page->buf, ".Ss %s\n", command->name);
    mb_buf_add_text(page->buf, ".Bd -literal -offset indent -compact\n");
    for (size_t i = 0; command->usage[i] != NULL; i++) {
        const char *form =
            mb_arena_printf(page->arena, "markerbed %s %s", command->name, command->usage[i]);
        mb_buf_printf(page->buf, "%s\n", escaped(page->arena, mb_str_trim(mb_str_of(form))));
    }
    mb_buf_add_text(page->buf, ".Ed\n.Pp\n");
    put_text(page, command->about);
    put_options(page, command->options);
    put_common(page, command);
}

static void put_tagged(const struct page *page, const char *macro, const char *tag,
                       const char *text)
{
    mb_buf_printf(page->buf, ".It %s ", macro);
    put_quoted(page, tag);
    mb_buf_add_char(page->buf, '\n');
    put_text(page, text);
}

static void put_environment(const struct page *page)
{
    static const char *const variables[][2] = {
        { "MARKERBED_LEDGER", "The folder of the ledger, where -L is not given." },
        { "MARKERBED_KEY", "The label of the key to sign with, where --key is not given." },
        { "MARKERBED_PASSPHRASE_FILE",
          "A file whose first line is the passphrase, where --passphrase-file is not given." },
        { "MARKERBED_NEW_PASSPHRASE_FILE", "The same for the passphrase of a key being added." },
        { "NO_COLOR", "If it is set and not empty, nothing is coloured." },
    };

    mb_buf_add_text(page->buf, ".Sh ENVIRONMENT\n.Bl -tag -width Ds\n");
    for (size_t i = 0; i < sizeof variables / sizeof *variables; i++)
        put_tagged(page, "Ev", variables[i][0], variables[i][1]);
    mb_buf_add_text(page->buf, ".El\n");
}

static void put_files(const struct page *page)
{
    static const char *const files[][2] = {
        { "ledger.db", "In the ledger's folder: the log, and views that can be made again." },
        { "files/", "There: the attached photos and papers, named by their SHA-256." },
        { "keys/", "There: secret keys, each sealed under its holder's passphrase." },
        { "settings.json", "There: your own defaults; no part of the ledger." },
    };

    mb_buf_add_text(page->buf, ".Sh FILES\n.Bl -tag -width Ds\n");
    for (size_t i = 0; i < sizeof files / sizeof *files; i++)
        put_tagged(page, "Pa", files[i][0], files[i][1]);
    mb_buf_add_text(page->buf, ".El\n");
}

static void put_exit_codes(const struct page *page)
{
    mb_buf_add_text(page->buf, ".Sh EXIT STATUS\n.Bl -tag -width Ds\n");
    for (int i = 0; i < 4; i++)
        mb_buf_printf(page->buf, ".It %d\n%c%s.\n", i, help_exit_codes[i][0] - 'a' + 'A',
                      help_exit_codes[i] + 1);
    mb_buf_add_text(page->buf, ".El\n");
}

/* "2026-05-02" as mdoc wants it. */
static const char *day_of_page(mb_arena *arena)
{
    static const char *const months[] = { "January",   "February", "March",    "April",
                                          "May",       "June",     "July",     "August",
                                          "September", "October",  "November", "December" };
    const char *day = PROGRAM_DAY;
    int month = (day[5] - '0') * 10 + day[6] - '0', date = (day[8] - '0') * 10 + day[9] - '0';

    return mb_arena_printf(arena, "%s %d, %.4s", months[month - 1], date, day);
}

enum mb_rc docs_manual(struct mb_buf *buf, mb_arena *arena, struct mb_error *err)
{
    struct page page = { buf, arena };

    mb_buf_printf(buf,
                  ".\\\" Made by \"markerbed docs\" out of the program's own tables.\n"
                  ".Dd %s\n.Dt MARKERBED 1\n.Os\n.Sh NAME\n.Nm markerbed\n"
                  ".Nd ledger of where fossils come from, with signed records\n",
                  day_of_page(arena));
    mb_buf_add_text(buf, ".Sh SYNOPSIS\n.Nm\n.Op Fl L Ar ledger\n.Ar command ...\n");
    mb_buf_add_text(buf, ".Sh DESCRIPTION\n.Nm\nkeeps the story of fossils: where each was found"
                         " and by what right,\nwhat was done to it since, who held it and who"
                         " owned it.\nWhat is written down is signed and never changed, and a"
                         " stranger can check it.\n");
    mb_buf_add_text(buf, ".Pp\nThe options that are the same everywhere:\n");
    put_options(&page, common_options);
    mb_buf_add_text(buf, ".Sh COMMANDS\n");
    for (size_t i = 0; commands[i] != NULL; i++)
        if (!(commands[i]->flags & HIDDEN))
            put_command(&page, commands[i]);
    put_environment(&page);
    put_files(&page);
    put_exit_codes(&page);
    mb_buf_add_text(buf, ".Sh EXAMPLES\n");
    for (size_t i = 0; commands[i] != NULL; i++)
        if (!(commands[i]->flags & HIDDEN))
            put_examples(&page, commands[i], i == 0);
    if (!mb_buf_ok(buf))
        return mb_fail(err, MB_UNABLE, "the man page grew too long");
    return MB_OK;
}
