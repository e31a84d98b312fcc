/* What a check found, in words: for verify and receive. */
#ifndef MB_VERDICT_TEXT_H
#define MB_VERDICT_TEXT_H

#include "command.h"

/* {"verdict","words","findings"} of verify.h. */
void verdict_print(const struct call *call, const struct screen *screen, const mb_json *result);
/* One of its files, with the certificates of other ledgers inside it. */
void verdict_print_file(const struct call *call, const struct screen *screen,
                        const mb_json *file);
/* What the code on a sheet says; NULL: nothing was asked. */
void verdict_print_code(const struct screen *screen, const mb_json *code, mb_arena *arena);

#endif
