/* What is to be recorded, on its way from words, a file or a talk to the library. */
#ifndef MB_TYPING_H
#define MB_TYPING_H

#include <markerbed/record.h>

#include "command.h"

struct typing {
    mb_arena *arena;
    const char *kind, *subject, *where;
    struct mb_typed *typed;
    size_t count, room;
    const char **attach;
    size_t attach_count, attach_room;
};

void typing_put(struct typing *typing, const char *name, const char *value,
                const mb_json *value_json); /* one of the two; a name put again is replaced */
void typing_drop(struct typing *typing, const char *name);
const struct mb_typed *typing_get(const struct typing *typing, const char *name);
void typing_attach(struct typing *typing, const char *file);
struct mb_recording typing_recording(const struct typing *typing);

/* The words "name=value" from number `from` on, and the --attach options. */
MB_CHECK enum mb_rc typing_words(struct typing *typing, const struct call *call, size_t from,
                                 struct mb_error *err);
/* Coordinates in another form than decimal degrees, before a talk asks for those: typing_place.c.
 */
MB_CHECK enum mb_rc typing_place(struct typing *typing, struct mb_error *err);
/* {"kind","subject","fields":{...},"attach":[...]} of a file. */
MB_CHECK enum mb_rc typing_item(struct typing *typing, const mb_json *item, struct mb_error *err);

#endif
