#include <criterion/criterion.h>
#include <malloc.h>
#include <stdalign.h>
#include <stdint.h>
#include <string.h>

#include <markerbed/arena.h>

Test(arena, objects_are_zeroed_aligned_and_apart_also_after_a_reset)
{
    mb_arena *arena = mb_arena_new();

    for (int round = 0; round < 3; round++) {
        unsigned char *object[600];
        for (size_t i = 0; i < 600; i++) {
            size_t size = i * 37 % 1500;
            object[i] = mb_arena_get(arena, size);
            cr_assert_eq((uintptr_t)object[i] % alignof(max_align_t), 0);
            for (size_t b = 0; b < size; b++)
                cr_assert_eq(object[i][b], 0);
            memset(object[i], (int)(i % 255 + 1), size);
            mb_arena_copy(arena, "odd", i % 4);
        }
        for (size_t i = 0; i < 600; i++)
            for (size_t b = 0; b < i * 37 % 1500; b++)
                cr_assert_eq(object[i][b], i % 255 + 1, "object %zu was written over", i);
        mb_arena_reset(arena);
    }
    cr_assert_null(mb_arena_free(arena));
    cr_assert_null(mb_arena_free(NULL));
}

Test(arena, copies_end_with_a_zero_and_printing_takes_any_length)
{
    mb_arena *arena = mb_arena_new();
    char *text = mb_arena_copy(arena, "ammonite", 4);

    cr_assert_str_eq(text, "ammo");
    cr_assert_str_eq(mb_arena_copy(arena, NULL, 0), "");
    cr_assert_str_eq(mb_arena_text(arena, "crinoid"), "crinoid");
    cr_assert_str_eq(mb_arena_str(arena, MB_STR("bed 4")).at, "bed 4");
    for (int width = 0; width < 3000; width += 13) {
        text = mb_arena_printf(arena, "%*s", width, "7");
        cr_assert_eq(strlen(text), width < 1 ? 1 : (size_t)width);
        cr_assert_str_eq(text + strlen(text) - 1, "7");
    }
    mb_arena_free(arena);
}

#ifndef MB_ARENA_EACH

static size_t in_use(void)
{
    struct mallinfo2 info = mallinfo2();

    return info.uordblks + info.hblkhd;
}

/* A loop over many entries must not keep what one very large entry needed. */
Test(arena, a_reset_keeps_little_and_reuses_it)
{
    size_t before = in_use(), kept, most = 0;
    mb_arena *arena = mb_arena_new();

    for (int i = 0; i < 64; i++)
        mb_arena_get(arena, 1 << 20);
    for (int i = 0; i < 100000; i++)
        mb_arena_get(arena, 500);
    mb_arena_get(arena, 20 << 20);
    mb_arena_reset(arena);
    kept = in_use() - before;
    cr_assert_leq(kept, 5 << 18, "%zu bytes kept", kept);
    for (int round = 0; round < 1000; round++) {
        for (int i = 0; i < 100; i++)
            mb_arena_get(arena, 2000);
        mb_arena_reset(arena);
        if (in_use() - before > most)
            most = in_use() - before;
    }
    cr_assert_leq(most, 5 << 19, "%zu bytes after many rounds", most);
    mb_arena_free(arena);
    cr_assert_leq(in_use(), before + 4096);
}

#endif
