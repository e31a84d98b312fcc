/* Printing rows as they come, in little memory however many there are. */
#ifndef MB_ROWS_PRINT_H
#define MB_ROWS_PRINT_H

#include "command.h"

/* A table whose columns are as wide as its first thousand rows want; with --json
 * {"columns":[...],"rows":[[...],...]}, a row a line. Where reading fails half way, what was read
 * is printed, and the JSON ends on a member "stopped" with the sentence. *count: rows printed. */
MB_CHECK enum mb_rc rows_print(const struct call *call, int64_t *count, struct mb_error *err);

#endif
