/* The members of an object in order of their names, for the reading, comparing and writing of JSON
 * alike: objects that strangers made may have very many members. */
#ifndef MB_JSON_MEMBERS_H
#define MB_JSON_MEMBERS_H

#include <markerbed/json.h>

/* Up to this many members, comparing each with each is quicker than sorting. */
enum { MB_JSON_MEMBERS_FEW = 32 };

/* All object->count members sorted by the bytes of their names; the array lives in the arena. */
const mb_json **mb_json_members_sort(mb_arena *arena, const mb_json *object);

#endif
