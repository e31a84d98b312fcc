/* A crew works through every piece of a job once, whatever the number of hands. */
#include <criterion/criterion.h>
#include <pthread.h>
#include <stdatomic.h>
#include <unistd.h>

#include "crew.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])
enum { PIECES = 2000 };

struct job {
    atomic_int done[PIECES];
    atomic_int at_once, most_at_once;
    unsigned slow_us;
};

static void work(void *ctx, size_t piece)
{
    struct job *job = ctx;
    int now = atomic_fetch_add(&job->at_once, 1) + 1, most = atomic_load(&job->most_at_once);

    while (now > most && !atomic_compare_exchange_weak(&job->most_at_once, &most, now))
        ;
    if (job->slow_us)
        usleep(job->slow_us);
    atomic_fetch_add(&job->done[piece], 1);
    atomic_fetch_sub(&job->at_once, 1);
}

static void expect_once(struct job *job, size_t pieces, unsigned threads)
{
    size_t wrong = 0;

    for (size_t i = 0; i < PIECES; i++)
        wrong += atomic_load(&job->done[i]) != (i < pieces);
    cr_expect_eq(wrong, 0, "%zu pieces by %u threads: %zu not done just once", pieces, threads,
                 wrong);
    cr_expect_eq(atomic_load(&job->at_once), 0, "waiting waits for all");
    cr_expect_leq(atomic_load(&job->most_at_once), (int)threads);
}

Test(crew, every_piece_is_done_once, .timeout = 60)
{
    static const unsigned threads[] = { 1, 2, 5, 64 };
    static const size_t pieces[] = { 0, 1, 2, 3, 63, 64, 65, PIECES };

    for (size_t t = 0; t < COUNT(threads); t++) {
        mb_arena *arena = mb_arena_new();
        struct mb_error err = { 0 };
        mb_crew *crew;

        cr_assert_eq(mb_crew_new(arena, threads[t], &crew, &err), MB_OK, "%s", err.text);
        for (size_t p = 0; p < COUNT(pieces); p++) {
            struct job *job = MB_NEW(arena, struct job);

            mb_crew_start(crew, work, job, pieces[p]);
            mb_crew_wait(crew);
            expect_once(job, pieces[p], threads[t]);
        }
        cr_expect_null(mb_crew_end(crew));
        mb_arena_free(arena);
    }
}

Test(crew, the_caller_goes_on_meanwhile_and_many_hands_work_at_once, .timeout = 60)
{
    mb_arena *arena = mb_arena_new();
    struct job *job = MB_NEW(arena, struct job);
    struct mb_error err = { 0 };
    mb_crew *crew;

    job->slow_us = 20000;
    cr_assert_eq(mb_crew_new(arena, 4, &crew, &err), MB_OK, "%s", err.text);
    mb_crew_start(crew, work, job, 16);
    cr_expect_lt(atomic_load(&job->done[15]), 1, "starting does not wait");
    mb_crew_wait(crew);
    expect_once(job, 16, 4);
    cr_expect_geq(atomic_load(&job->most_at_once), 2);
    mb_crew_wait(crew); /* nothing to wait for */
    mb_crew_end(crew);
    mb_arena_free(arena);
}

Test(crew, ending_waits_for_what_was_begun, .timeout = 60)
{
    for (int round = 0; round < 50; round++) {
        mb_arena *arena = mb_arena_new();
        struct job *job = MB_NEW(arena, struct job);
        mb_crew *crew;

        job->slow_us = 200;
        cr_assert_eq(mb_crew_new(arena, 3, &crew, NULL), MB_OK);
        mb_crew_start(crew, work, job, 20);
        mb_crew_end(crew);
        expect_once(job, 20, 3);
        mb_arena_free(arena);
    }
    cr_expect_null(mb_crew_end(NULL));
}

Test(crew, there_is_a_core_at_least)
{
    cr_expect_geq(mb_cores(), 1);
    cr_expect_leq(mb_cores(), 64);
    cr_expect_leq((long)mb_cores(), sysconf(_SC_NPROCESSORS_CONF));
}
