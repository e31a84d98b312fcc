#include "progress.h"

#include <inttypes.h>
#include <unistd.h>

void progress_begin(struct progress *progress, const struct call *call, const char *what)
{
    bool terminal = isatty(STDERR_FILENO) == 1;

    *progress = (struct progress){ what, terminal || call_has(call, "progress"), terminal, -1 };
}

/* How far, in thousandths on a terminal and tenths elsewhere; where the whole is not known, each
 * call is worth telling. */
static int step_of(const struct progress *progress, uint64_t done, uint64_t all)
{
    if (all == 0)
        return progress->last + 1;
    return (int)(done * (progress->terminal ? 1000 : 10) / all);
}

void progress_tell(struct progress *progress, uint64_t done, uint64_t all)
{
    int now = step_of(progress, done, all);

    if (!progress->shown || now == progress->last)
        return;
    progress->last = now;
    fprintf(stderr, "%s%" PRIu64, progress->terminal ? "\r" : "", done);
    if (all > 0)
        fprintf(stderr, " of %" PRIu64, all);
    fprintf(stderr, " %s%s", progress->what, progress->terminal ? "\033[K" : "\n");
    fflush(stderr);
}

void progress_end(struct progress *progress)
{
    if (progress->shown && progress->terminal && progress->last >= 0)
        fprintf(stderr, "\r\033[K");
}
