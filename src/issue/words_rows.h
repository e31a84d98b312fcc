/* Rows of a statement's lines in plain words, one row a line of text. */
#ifndef MB_WORDS_ROWS_H
#define MB_WORDS_ROWS_H

#include <markerbed/json.h>

/* NULL if this line's rows have no words of their own. */
char *mb_words_rows(mb_arena *arena, struct mb_str name, const mb_json *rows);
/* A member of a row in words, or NULL. */
const char *mb_words_member(mb_arena *arena, const mb_json *row, const char *name);
/* "6.2 %, between 5.0 and 7.5", "under 5 %" of an estimate, "in places". Estimates never get a
 * figure, even if the row has one. */
char *mb_words_amount(mb_arena *arena, const mb_json *row);
/* "drawn on the photo", "counted at 100 points", "estimated by eye". */
char *mb_words_how(mb_arena *arena, const mb_json *row);

#endif
