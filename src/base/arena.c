#include <markerbed/arena.h>

#include <stdalign.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Running out of memory ends the process (see the header). */
static void *get_memory(size_t size)
{
    void *memory = malloc(size);

    if (memory == NULL)
        abort();
    return memory;
}

#ifdef MB_ARENA_EACH

/* For memory checkers: every object is an allocation of its own, so that reading or writing past
 * its end, or after a reset, is seen. */
struct mb_arena {
    void **object;
    size_t count, room;
};

mb_arena *mb_arena_new(void)
{
    mb_arena *arena = get_memory(sizeof *arena);

    *arena = (mb_arena){ 0 };
    return arena;
}

void mb_arena_reset(mb_arena *arena)
{
    for (size_t i = 0; i < arena->count; i++)
        free(arena->object[i]);
    arena->count = 0;
}

mb_arena *mb_arena_free(mb_arena *arena)
{
    if (arena != NULL) {
        mb_arena_reset(arena);
        free(arena->object);
        free(arena);
    }
    return NULL;
}

static void *take(mb_arena *arena, size_t size, size_t align)
{
    (void)align; /* malloc aligns for anything */
    if (arena->count == arena->room) {
        arena->room = arena->room == 0 ? 64 : arena->room * 2;
        arena->object = realloc(arena->object, arena->room * sizeof *arena->object);
        if (arena->object == NULL)
            abort();
    }
    return arena->object[arena->count++] = get_memory(size);
}

#else

enum { CHUNK_FIRST = 16 << 10, CHUNK_MOST = 1 << 20, KEPT_MOST = 1 << 20 };

struct chunk {
    struct chunk *next;
    size_t room; /* bytes behind this head */
    alignas(max_align_t) char bytes[];
};

/* Chunks up to `current` are in use, those behind it are left over from before a reset. */
struct mb_arena {
    char *at, *end; /* what is free in the current chunk */
    struct chunk *first, *current;
    size_t next_room;
};

static struct chunk *chunk_new(size_t room)
{
    struct chunk *chunk;

    if (room > SIZE_MAX / 2)
        abort();
    chunk = get_memory(sizeof *chunk + room);
    chunk->next = NULL;
    chunk->room = room;
    return chunk;
}

static void use_chunk(mb_arena *arena, struct chunk *chunk)
{
    arena->current = chunk;
    arena->at = chunk->bytes;
    arena->end = chunk->bytes + chunk->room;
}

mb_arena *mb_arena_new(void)
{
    mb_arena *arena = get_memory(sizeof *arena);

    arena->first = chunk_new(CHUNK_FIRST - sizeof(struct chunk));
    arena->next_room = 2 * CHUNK_FIRST;
    use_chunk(arena, arena->first);
    return arena;
}

static void free_chunks(struct chunk *chunk)
{
    while (chunk != NULL) {
        struct chunk *next = chunk->next;
        free(chunk);
        chunk = next;
    }
}

mb_arena *mb_arena_free(mb_arena *arena)
{
    if (arena != NULL) {
        free_chunks(arena->first);
        free(arena);
    }
    return NULL;
}

/* The first chunk always stays; others stay while they are not much memory together, so that one
 * large entry does not hold its memory for the rest of a long run. */
void mb_arena_reset(mb_arena *arena)
{
    struct chunk *last = arena->first;
    size_t kept = last->room;

    for (struct chunk *chunk = last->next; chunk != NULL;) {
        struct chunk *next = chunk->next;
        if (kept + chunk->room <= KEPT_MOST) {
            kept += chunk->room;
            last->next = chunk;
            last = chunk;
        } else {
            free(chunk);
        }
        chunk = next;
    }
    last->next = NULL;
    use_chunk(arena, arena->first);
}

static __attribute__((noinline)) void *take_from_next(mb_arena *arena, size_t size)
{
    struct chunk *chunk = arena->current->next;
    void *memory;

    if (chunk == NULL || chunk->room < size) {
        size_t room = arena->next_room - sizeof(struct chunk);
        struct chunk *made = chunk_new(room < size ? size : room);
        if (arena->next_room < CHUNK_MOST)
            arena->next_room *= 2;
        made->next = chunk;
        arena->current->next = made;
        chunk = made;
    }
    use_chunk(arena, chunk);
    memory = arena->at;
    arena->at += size;
    return memory;
}

static inline void *take(mb_arena *arena, size_t size, size_t align)
{
    size_t skip = (size_t)(-(uintptr_t)arena->at) & (align - 1);
    size_t left = (size_t)(arena->end - arena->at);
    char *memory;

    if (skip > left || size > left - skip)
        return take_from_next(arena, size);
    memory = arena->at + skip;
    arena->at = memory + size;
    return memory;
}

#endif

void *mb_arena_get(mb_arena *arena, size_t size)
{
    return memset(take(arena, size, alignof(max_align_t)), 0, size);
}

void *mb_arena_array(mb_arena *arena, size_t count, size_t size)
{
    size_t bytes;

    if (__builtin_mul_overflow(count, size, &bytes))
        abort();
    return mb_arena_get(arena, bytes);
}

char *mb_arena_copy(mb_arena *arena, const char *text, size_t len)
{
    char *copy;

    if (len == SIZE_MAX)
        abort();
    copy = take(arena, len + 1, 1);
    if (len > 0)
        memcpy(copy, text, len);
    copy[len] = '\0';
    return copy;
}

char *mb_arena_text(mb_arena *arena, const char *text)
{
    return mb_arena_copy(arena, text, strlen(text));
}

struct mb_str mb_arena_str(mb_arena *arena, struct mb_str s)
{
    return (struct mb_str){ mb_arena_copy(arena, s.at, s.len), s.len };
}

char *mb_arena_printf(mb_arena *arena, const char *format, ...)
{
    va_list args;
    char *text;

    va_start(args, format);
    text = mb_arena_vprintf(arena, format, args);
    va_end(args);
    return text;
}

char *mb_arena_vprintf(mb_arena *arena, const char *format, va_list args)
{
    char few[256];
    va_list again;
    char *text;
    int len;

    va_copy(again, args);
    len = vsnprintf(few, sizeof few, format, args);
    if (len < 0)
        abort();
    if ((size_t)len < sizeof few) {
        text = mb_arena_copy(arena, few, (size_t)len);
    } else {
        text = take(arena, (size_t)len + 1, 1);
        vsnprintf(text, (size_t)len + 1, format, again);
    }
    va_end(again);
    return text;
}
