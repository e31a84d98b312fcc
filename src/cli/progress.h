/* How far long work is, on standard error: one line that is written over on a terminal, one line a
 * tenth elsewhere (with --progress). */
#ifndef MB_PROGRESS_H
#define MB_PROGRESS_H

#include <stdint.h>

#include "command.h"

struct progress {
    const char *what; /* "rows" */
    bool shown, terminal;
    int last; /* in thousandths on a terminal, else tenths */
};

void progress_begin(struct progress *progress, const struct call *call, const char *what);
/* all: 0 where it is not known. */
void progress_tell(struct progress *progress, uint64_t done, uint64_t all);
void progress_end(struct progress *progress);

#endif
