/*
 * Memory that is freed all at once.
 *
 * One arena belongs to one command, request or test; whatever the library hands out lives in the
 * arena that the caller passed in and dies with it. There is no free for a single object.
 * Running out of memory ends the process: the ledger is transactional, so that is safe.
 */
#ifndef MARKERBED_ARENA_H
#define MARKERBED_ARENA_H

#include <stdarg.h>
#include <stddef.h>

#include <markerbed/error.h>

typedef struct mb_arena mb_arena;

/* A run of bytes that somebody else owns; text is UTF-8 without a terminating zero. */
struct mb_str {
    const char *at;
    size_t len;
};

#define MB_STR(literal) ((struct mb_str){ (literal), sizeof(literal) - 1 })
#define MB_STR_ARG(s) (int)(s).len, (s).at /* for "%.*s" */

mb_arena *mb_arena_new(void);
mb_arena *mb_arena_free(mb_arena *arena); /* accepts NULL, returns NULL */

/* Forgets every object but keeps the memory for the next round: for loops over many entries. */
void mb_arena_reset(mb_arena *arena);

/* Zeroed memory, aligned for any object. */
void *mb_arena_get(mb_arena *arena, size_t size);
/* Zeroed array; aborts if count * size overflows. */
void *mb_arena_array(mb_arena *arena, size_t count, size_t size);

/* Copies; the result has a terminating zero behind it. */
char *mb_arena_copy(mb_arena *arena, const char *text, size_t len);
char *mb_arena_text(mb_arena *arena, const char *text);
struct mb_str mb_arena_str(mb_arena *arena, struct mb_str s);
char *mb_arena_printf(mb_arena *arena, const char *format, ...) MB_PRINTF(2, 3);
char *mb_arena_vprintf(mb_arena *arena, const char *format, va_list args) MB_PRINTF(2, 0);

#define MB_NEW(arena, type) ((type *)mb_arena_get((arena), sizeof(type)))
#define MB_ARRAY(arena, count, type) ((type *)mb_arena_array((arena), (count), sizeof(type)))

#endif
