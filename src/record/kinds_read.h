/* Reading schema/kinds and schema/vocab into the table of kinds.c. */
#ifndef MB_KINDS_READ_H
#define MB_KINDS_READ_H

#include "kinds.h"

struct mb_kinds_table {
    mb_arena *arena; /* NULL until it is read */
    struct mb_kind *kinds; /* by name */
    size_t count;
};

/* On failure the table holds an arena that the caller frees. */
MB_CHECK enum mb_rc mb_kinds_read(struct mb_kinds_table *table, struct mb_error *err);

#endif
