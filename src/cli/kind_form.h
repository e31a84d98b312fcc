/* A kind's fields in words: how each is written and when it is needed. */
#ifndef MB_KIND_FORM_H
#define MB_KIND_FORM_H

#include "screen.h"

/* How a field is written. `page`: for docs/kinds.md, which has the lists of words at its end; else
 * the words of a short list are named. */
const char *kind_form(mb_arena *arena, const mb_json *field, bool page);
/* "yes", "an answer", when it is needed, or "". */
const char *kind_needed(mb_arena *arena, const mb_json *field);
/* A kind with all its fields, for `markerbed record KIND --help`. */
void kind_print(const struct screen *screen, const mb_json *kinds, const mb_json *kind);

/* A list of words that fields take, by its name; NULL if there is none. */
const mb_json *kind_list(mb_arena *arena, const char *name);
void kind_list_print(const struct screen *screen, const mb_json *list);

#endif
