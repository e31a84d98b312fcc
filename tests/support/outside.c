#include "outside.h"

#include <criterion/criterion.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "buf.h"
#include "fileio.h"

#define OUTPUT_MAX (64u << 20)

static char folder[4096];

bool outside_has(const char *program)
{
    char command[200];

    snprintf(command, sizeof command, "command -v %s > /dev/null 2>&1", program);
    return system(command) == 0;
}

static const char *in_folder(void)
{
    const char *place = getenv("TMPDIR");

    if (!*folder) {
        snprintf(folder, sizeof folder, "%s/markerbed-outside-XXXXXX", place ? place : P_tmpdir);
        cr_assert_not_null(mkdtemp(folder));
    }
    return folder;
}

char *outside_path(mb_arena *arena, const char *name)
{
    return mb_path_join(arena, in_folder(), name);
}

char *outside_file(mb_arena *arena, const char *name, struct mb_str bytes)
{
    struct mb_error err = { 0 };
    char *path = outside_path(arena, name);

    cr_assert_eq(mb_file_write(path, bytes, 0644, &err), MB_OK, "%s", err.text);
    return path;
}

struct mb_str outside_read(mb_arena *arena, const char *name)
{
    struct mb_error err = { 0 };
    struct mb_str bytes = { 0 };

    cr_assert_eq(mb_file_read(arena, outside_path(arena, name), OUTPUT_MAX, &bytes, &err), MB_OK,
                 "%s", err.text);
    return bytes;
}

int outside_run(mb_arena *arena, struct mb_str *said, const char *format, ...)
{
    MB_BUF_AUTO struct mb_buf buf;
    char *command, *whole;
    va_list args;
    FILE *pipe;
    int status;

    va_start(args, format);
    command = mb_arena_vprintf(arena, format, args);
    va_end(args);
    whole = mb_arena_printf(arena, "cd '%s' && { %s; } 2>&1", in_folder(), command);
    mb_buf_init(&buf, OUTPUT_MAX);
    pipe = popen(whole, "r");
    cr_assert_not_null(pipe);
    for (;;) {
        char *room = mb_buf_room(&buf, 65536);
        size_t got = room ? fread(room, 1, 65536, pipe) : 0;

        if (got == 0)
            break;
        mb_buf_grew(&buf, got);
    }
    status = pclose(pipe);
    if (said)
        *said = mb_arena_str(arena, mb_buf_str(&buf));
    return WIFEXITED(status) ? WEXITSTATUS(status) : 255;
}

void outside_end(void)
{
    char command[4200];

    if (!*folder)
        return;
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    if (system(command) != 0)
        cr_log_warn("the test folder %s could not be removed", folder);
    *folder = 0;
}

bool outside_holds(struct mb_str text, const char *part)
{
    return memmem(text.at, text.len, part, strlen(part)) != NULL;
}
