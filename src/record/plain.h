/* Recorded values and entries in plain words, for lists and search. */
#ifndef MB_PLAIN_H
#define MB_PLAIN_H

#include "date.h"
#include "story.h"

/* "12.50 kg", "site/S001", "not known", "a | b". */
char *mb_plain_value(mb_arena *arena, const mb_json *value);
/* One line: "Found in the field: T-118; crinoid slab; slab". */
char *mb_plain_line(mb_arena *arena, const struct mb_told *told);
/* The day on which it happened, as written; NULL if the entry names none. */
const char *mb_plain_day(mb_arena *arena, const struct mb_told *told, struct mb_days *days);

#endif
