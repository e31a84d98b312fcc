/*
 * A crew of threads that works through numbered pieces of one job while the caller does something
 * else: mb_crew_start, then mb_crew_wait. One job at a time.
 */
#ifndef MB_CREW_H
#define MB_CREW_H

#include <markerbed/arena.h>

typedef struct mb_crew mb_crew;
typedef void mb_crew_piece(void *job, size_t piece);

unsigned mb_cores(void);
MB_CHECK enum mb_rc mb_crew_new(mb_arena *arena, unsigned threads, mb_crew **out,
                                struct mb_error *err);
void mb_crew_start(mb_crew *crew, mb_crew_piece *work, void *job, size_t pieces);
void mb_crew_wait(mb_crew *crew);
mb_crew *mb_crew_end(mb_crew *crew); /* waits, ends the threads; accepts NULL */

#endif
