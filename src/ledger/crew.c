#include "crew.h"

#include <pthread.h>
#include <stdbool.h>
#include <unistd.h>

struct mb_crew {
    pthread_mutex_t lock;
    pthread_cond_t work_there, all_done;
    pthread_t *threads;
    unsigned count;
    mb_crew_piece *work;
    void *job;
    size_t next, pieces, unfinished;
    bool ending;
};

unsigned mb_cores(void)
{
    long cores = sysconf(_SC_NPROCESSORS_ONLN);

    return cores < 1 ? 1 : cores > 64 ? 64 : (unsigned)cores;
}

static void *thread_main(void *ctx)
{
    mb_crew *crew = ctx;

    pthread_mutex_lock(&crew->lock);
    for (;;) {
        size_t piece;

        while (!crew->ending && crew->next == crew->pieces)
            pthread_cond_wait(&crew->work_there, &crew->lock);
        if (crew->ending)
            break;
        piece = crew->next++;
        pthread_mutex_unlock(&crew->lock);
        crew->work(crew->job, piece);
        pthread_mutex_lock(&crew->lock);
        if (--crew->unfinished == 0)
            pthread_cond_signal(&crew->all_done);
    }
    pthread_mutex_unlock(&crew->lock);
    return NULL;
}

enum mb_rc mb_crew_new(mb_arena *arena, unsigned threads, mb_crew **out, struct mb_error *err)
{
    mb_crew *crew = MB_NEW(arena, mb_crew);

    pthread_mutex_init(&crew->lock, NULL);
    pthread_cond_init(&crew->work_there, NULL);
    pthread_cond_init(&crew->all_done, NULL);
    crew->threads = MB_ARRAY(arena, threads, pthread_t);
    for (; crew->count < threads; crew->count++)
        if (pthread_create(&crew->threads[crew->count], NULL, thread_main, crew) != 0)
            break;
    if (crew->count == 0) {
        mb_crew_end(crew);
        return mb_fail(err, MB_UNABLE, "no thread can be started on this machine");
    }
    *out = crew;
    return MB_OK;
}

void mb_crew_start(mb_crew *crew, mb_crew_piece *work, void *job, size_t pieces)
{
    pthread_mutex_lock(&crew->lock);
    crew->work = work;
    crew->job = job;
    crew->next = 0;
    crew->pieces = crew->unfinished = pieces;
    pthread_cond_broadcast(&crew->work_there);
    pthread_mutex_unlock(&crew->lock);
}

void mb_crew_wait(mb_crew *crew)
{
    pthread_mutex_lock(&crew->lock);
    while (crew->unfinished)
        pthread_cond_wait(&crew->all_done, &crew->lock);
    pthread_mutex_unlock(&crew->lock);
}

mb_crew *mb_crew_end(mb_crew *crew)
{
    if (!crew)
        return NULL;
    mb_crew_wait(crew);
    pthread_mutex_lock(&crew->lock);
    crew->ending = true;
    pthread_cond_broadcast(&crew->work_there);
    pthread_mutex_unlock(&crew->lock);
    for (unsigned i = 0; i < crew->count; i++)
        pthread_join(crew->threads[i], NULL);
    pthread_cond_destroy(&crew->work_there);
    pthread_cond_destroy(&crew->all_done);
    pthread_mutex_destroy(&crew->lock);
    return NULL;
}
