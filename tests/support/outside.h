/*
 * Programs from outside the project that judge what we made: run them, catch what they say.
 * A test folder of its own is made on the first call and removed by outside_end.
 */
#ifndef OUTSIDE_H
#define OUTSIDE_H

#include <stdbool.h>

#include <markerbed/arena.h>

/* Is the program on the path? */
bool outside_has(const char *program);
/* A file name in the test folder. */
char *outside_path(mb_arena *arena, const char *name);
/* Writes a file there and returns its name. */
char *outside_file(mb_arena *arena, const char *name, struct mb_str bytes);
struct mb_str outside_read(mb_arena *arena, const char *name);
/* Runs a shell command inside the test folder; its output and errors together in *said (may be
 * NULL); returns the exit code. */
int outside_run(mb_arena *arena, struct mb_str *said, const char *format, ...) MB_PRINTF(3, 4);
void outside_end(void);

bool outside_holds(struct mb_str text, const char *part);

#define OUTSIDE_NEEDS(program)                                                                  \
    do {                                                                                        \
        if (!outside_has(program))                                                              \
            cr_skip_test("%s is not installed, so this was not checked", program);              \
    } while (0)

#endif
