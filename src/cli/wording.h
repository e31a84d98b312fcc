/* JSON values in the words that a person reads. */
#ifndef MB_WORDING_H
#define MB_WORDING_H

#include <markerbed/json.h>

/* A value as one line: texts as they are, references by what they name, decimals with their unit,
 * lists divided by "; ". */
const char *wording(mb_arena *arena, const mb_json *value);
/* A member of an object, NULL if it is not there. */
const char *wording_of(mb_arena *arena, const mb_json *object, const char *name);
/* 1234567 as 1,234,567 */
const char *wording_number(mb_arena *arena, int64_t number);
/* "1 row", "2 rows" */
const char *wording_count(mb_arena *arena, int64_t count, const char *one, const char *many);
/* Seconds as "2026-05-02 14:00 UTC"; texts as they are. */
const char *wording_moment(mb_arena *arena, const mb_json *moment);
/* "a", "a or b", "a, b or c" */
const char *wording_choices(mb_arena *arena, const mb_json *choices);
/* "coordinateUncertaintyInMeters" as "coordinate uncertainty in meters" */
const char *wording_name(mb_arena *arena, struct mb_str name);

#endif
