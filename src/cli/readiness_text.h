/* What an institution would still miss, in words. */
#ifndef READINESS_TEXT_H
#define READINESS_TEXT_H

#include "command.h"

/* missing: as mb_readiness gives it. full: why it matters and the line to type too. */
void readiness_print(const struct screen *screen, mb_arena *arena, unsigned indent,
                     const mb_json *missing, bool full);

#endif
