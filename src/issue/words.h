/* Recorded values in plain words, as paper prints them. */
#ifndef MB_WORDS_H
#define MB_WORDS_H

#include <markerbed/json.h>

/* One line of a statement: its value in words. Several facts are divided by line ends. */
char *mb_words_line(mb_arena *arena, const mb_json *line);
/* Any value: "12.50 kg", "not known", "a, b and c", rows as "key: value; ...". */
char *mb_words_value(mb_arena *arena, const mb_json *value);
/* "identifyingMarks" as "identifying marks". */
char *mb_words_name(mb_arena *arena, struct mb_str name);

#endif
