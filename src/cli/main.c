/* The program: opens what a command needs, runs it, prints what it left, picks the exit code. */
#include <markerbed/land.h>

#include <errno.h>
#include <fcntl.h>
#include <locale.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "fileio.h"
#include "help.h"
#include "options.h"
#include "passphrase.h"
#include "rows_print.h"
#include "text.h"

/* If somebody started us with a standard file closed, the next file opened would take its number,
 * and what we print would land in it. Held open the wrong way round, each use fails as it ought. */
static void hold_standard_files(void)
{
    static const int ways[3] = { O_WRONLY, O_RDONLY, O_RDWR };

    for (int fd = 0; fd < 3; fd++)
        if (fcntl(fd, F_GETFD) < 0 && open("/dev/null", ways[fd]) != fd)
            _exit(MB_UNABLE);
}

static enum mb_rc open_ledger(struct call *call, unsigned flags, struct mb_error *err)
{
    const char *folder = call_folder(call);
    enum mb_rc rc;

    if (!(flags & (NEEDS_LEDGER | NEEDS_KEY)))
        return MB_OK;
    if (folder == NULL)
        return mb_fail(err, MB_REFUSED,
                       "say which ledger: -L FOLDER before the command, or MARKERBED_LEDGER set to"
                       " its folder");
    rc = mb_ledger_open(call->arena, folder, flags & NEEDS_KEY ? MB_WRITE : MB_READ, &call->ledger,
                        err);
    if (rc != MB_OK)
        return rc;
    mb_land_join(call->ledger);
    if (call_has(call, "clock-is-right"))
        mb_ledger_confirm_clock(call->ledger);
    return flags & NEEDS_KEY ? passphrase_unlock(call, err) : MB_OK;
}

static enum mb_rc print_rows(struct call *call, struct mb_error *err)
{
    mb_json *result = mb_json_object(call->arena);
    struct screen screen;
    int64_t count;
    enum mb_rc rc = rows_print(call, &count, err);

    if (rc == MB_OK && call->command->tell != NULL && !call_json(call)) {
        mb_json_put_int(call->arena, result, "count", count);
        call->result = result;
        screen_open(&screen, stdout, call->arena);
        call->command->tell(call, &screen);
        call->result = NULL;
    }
    return rc;
}

static enum mb_rc run_command(struct call *call, struct mb_error *err)
{
    const struct command *command = call->command;
    unsigned flags = command->needs != NULL ? command->needs(call) : command->flags;
    enum mb_rc rc = mb_start(err);

    if (rc == MB_OK)
        rc = open_ledger(call, flags, err);
    if (rc == MB_OK)
        rc = command->run(call, err);
    if (rc == MB_OK && call->rows != NULL)
        rc = print_rows(call, err);
    call->rows = mb_rows_close(call->rows);
    call->ledger = mb_ledger_close(call->ledger);
    return rc;
}

static void print_result(const struct call *call)
{
    struct screen screen;

    if (call->result == NULL)
        return;
    if (call_json(call)) {
        struct mb_str text = mb_json_write_pretty(call->arena, call->result);
        fwrite(text.at, 1, text.len, stdout);
        if (text.len == 0 || text.at[text.len - 1] != '\n')
            fputc('\n', stdout);
        return;
    }
    screen_open(&screen, stdout, call->arena);
    if (call->command->tell != NULL)
        call->command->tell(call, &screen);
}

static enum mb_rc explain(const struct call *call, const struct screen *screen,
                          struct mb_error *err)
{
    const struct command *command = call->command;
    enum mb_rc rc = MB_OK;

    if (command->explain != NULL && call->word_count > 0) {
        rc = mb_start(err);
        if (rc != MB_OK || command->explain(call, screen))
            return rc;
    }
    help_command(screen, command);
    return rc;
}

static enum mb_rc serve(struct call *call, struct mb_error *err)
{
    struct screen screen;
    enum mb_rc rc;

    screen_open(&screen, stdout, call->arena);
    if (call_has(call, "version")) {
        printf("markerbed %s\n", PROGRAM_VERSION);
        return MB_OK;
    }
    if (call_has(call, "help") && call->command != NULL)
        return explain(call, &screen, err);
    if (call->command == NULL && !call_has(call, "help")) {
        screen_open(&screen, stderr, call->arena);
        help_overview(&screen);
        return MB_REFUSED;
    }
    if (call->command == NULL) {
        help_overview(&screen);
        return MB_OK;
    }
    rc = run_command(call, err);
    print_result(call);
    return rc;
}

/* What was printed must have arrived: a full disk or closed pipe is no success. */
static enum mb_rc end_output(enum mb_rc rc, struct mb_error *err)
{
    bool failed = ferror(stdout) != 0;

    errno = 0;
    if (fclose(stdout) != 0)
        failed = true;
    if (!failed || rc == MB_REFUSED || rc == MB_UNABLE)
        return rc;
    return mb_fail(err, MB_UNABLE, "what there was to say could not be written%s%s",
                   errno != 0 ? ": " : "", errno != 0 ? strerror(errno) : "");
}

int main(int argc, char **argv)
{
    struct mb_error err = { 0 };
    struct call call = { 0 };
    enum mb_rc rc;

    hold_standard_files();
    setlocale(LC_CTYPE, "C.UTF-8"); /* for the width of characters alone */
    call.arena = mb_arena_new();
    rc = options_read(&call, argc, argv, &err);
    if (rc == MB_OK)
        rc = serve(&call, &err);
    rc = end_output(rc, &err);
    if (err.code != MB_OK)
        fprintf(stderr, "markerbed: %s\n", err.text);
    mb_stop();
    mb_arena_free(call.arena);
    return (int)rc;
}
