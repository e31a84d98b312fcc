#include "second_reader.h"

#include <string.h>

#include "buf.h"
#include "crew.h"

enum { AT_ONCE = 64, HEAP = 64, TEXTS_MAX = 256 << 20 };

struct item {
    size_t jws_at, jws_len, tail_len; /* in the heap's texts; the tail stands behind the JWS */
};

/* Entries handed over together: one heap is read while the next is being filled. */
struct heap {
    struct mb_buf texts;
    struct item items[HEAP];
    size_t count;
};

struct mb_second {
    mb_arena *arena;   /* of the object itself */
    mb_arena *scratch; /* of the entries being read, by whichever thread reads */
    mb_crew *crew;     /* NULL until a group is long */
    struct heap heaps[2];
    size_t filling;    /* which heap */
    size_t group;      /* entries handed over in this group */
    bool reading;      /* the crew is at work on the other heap */
    struct mb_error fault; /* first refusal of the crew's */
};

mb_second *mb_second_new(void)
{
    mb_arena *arena = mb_arena_new();
    mb_second *second = MB_NEW(arena, mb_second);

    second->arena = arena;
    second->scratch = mb_arena_new();
    for (size_t i = 0; i < 2; i++)
        mb_buf_init(&second->heaps[i].texts, TEXTS_MAX);
    return second;
}

mb_second *mb_second_free(mb_second *second)
{
    if (!second)
        return NULL;
    mb_crew_end(second->crew);
    for (size_t i = 0; i < 2; i++)
        mb_buf_done(&second->heaps[i].texts);
    mb_arena_free(second->scratch);
    mb_arena_free(second->arena);
    return NULL;
}

static enum mb_rc read_one(mb_second *second, struct mb_str jws, struct mb_str tail,
                           struct mb_error *err)
{
    struct mb_entry entry;
    enum mb_rc rc;

    mb_arena_reset(second->scratch);
    rc = mb_entry_read(second->scratch, jws, &entry, err);
    return rc ? rc : mb_entry_disclose(second->scratch, &entry, tail, err);
}

static void read_heap(void *job, size_t piece)
{
    mb_second *second = job;
    struct heap *heap = &second->heaps[1 - second->filling];

    (void)piece;
    for (size_t i = 0; i < heap->count && !second->fault.code; i++) {
        const struct item *item = &heap->items[i];
        const char *at = heap->texts.at + item->jws_at;
        enum mb_rc rc = read_one(second, (struct mb_str){ at, item->jws_len },
                                 (struct mb_str){ at + item->jws_len, item->tail_len },
                                 &second->fault);

        if (rc && !second->fault.code)
            second->fault.code = rc;
    }
}

static enum mb_rc settle(mb_second *second, struct mb_error *err)
{
    if (second->reading)
        mb_crew_wait(second->crew);
    second->reading = false;
    if (!second->fault.code)
        return MB_OK;
    return mb_fail(err, second->fault.code, "%s", second->fault.text);
}

/* The full heap goes to the crew, the one it has done is filled anew. */
static enum mb_rc turn(mb_second *second, struct mb_error *err)
{
    enum mb_rc rc = settle(second, err);

    if (!rc && !second->crew)
        rc = mb_crew_new(second->arena, 1, &second->crew, err);
    if (rc)
        return rc;
    second->filling = 1 - second->filling;
    second->heaps[second->filling].count = 0;
    mb_buf_clear(&second->heaps[second->filling].texts);
    second->reading = true;
    mb_crew_start(second->crew, read_heap, second, 1);
    return MB_OK;
}

enum mb_rc mb_second_read(mb_second *second, struct mb_str jws, struct mb_str tail,
                          struct mb_error *err)
{
    struct heap *heap = &second->heaps[second->filling];

    if (second->group++ < AT_ONCE)
        return read_one(second, jws, tail, err);
    heap->items[heap->count++] = (struct item){ heap->texts.len, jws.len, tail.len };
    mb_buf_add_str(&heap->texts, jws);
    mb_buf_add_str(&heap->texts, tail);
    if (!mb_buf_ok(&heap->texts))
        return mb_fail(err, MB_REFUSED, "the entries of this group are too large to be read back");
    return heap->count == HEAP ? turn(second, err) : MB_OK;
}

void mb_second_forget(mb_second *second)
{
    if (second->reading)
        mb_crew_wait(second->crew);
    second->reading = false;
    second->group = 0;
    second->fault = (struct mb_error){ .code = MB_OK };
    for (size_t i = 0; i < 2; i++) {
        second->heaps[i].count = 0;
        mb_buf_clear(&second->heaps[i].texts);
    }
}

enum mb_rc mb_second_end(mb_second *second, struct mb_error *err)
{
    enum mb_rc rc = MB_OK;

    if (second->heaps[second->filling].count)
        rc = turn(second, err);
    if (!rc)
        rc = settle(second, err);
    mb_second_forget(second);
    return rc;
}
