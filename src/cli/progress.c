#include "progress.h"

#include <inttypes.h>
#include <unistd.h>

void progress_begin(struct progress *progress, const struct call *call, const char *what)
{
    bool terminal = isatty(STDERR_FILENO) == 1;

    *progress = (struct progress){ what, terminal || call_has(call, "progress"), terminal, -1 };
}

void progress_tell(struct progress *progress, uint64_t done, uint64_t all)
{
    uint64_t steps = progress->terminal ? 1000 : 10;
    int now = all == 0 ? 0 : (int)(done * steps / all);

    if (!progress->shown || now == progress->last)
        return;
    progress->last = now;
    fprintf(stderr, "%s%" PRIu64 " of %" PRIu64 " %s%s", progress->terminal ? "\r" : "", done, all,
            progress->what, progress->terminal ? "\033[K" : "\n");
    fflush(stderr);
}

void progress_end(struct progress *progress)
{
    if (progress->shown && progress->terminal && progress->last >= 0)
        fprintf(stderr, "\r\033[K");
}
