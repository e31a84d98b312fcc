/* Which texts were met before, and what each stands for. Nobody who makes a file can make this
 * slow: places follow from SHA-256. */
#ifndef MB_SEEN_H
#define MB_SEEN_H

#include <markerbed/json.h>

#include "sha256.h"

struct mb_seen_text {
    struct mb_hash digest;
    const mb_json *value;
    bool there;
};

/* Empty: { .arena = arena }. */
struct mb_seen {
    mb_arena *arena;
    struct mb_seen_text *texts; /* at most half full */
    size_t room, count;
};

/* The place of a text: its value is NULL when it is met for the first time, and may be set. Lasts
 * until the next call. *known tells whether it was met before. */
const mb_json **mb_seen_at(struct mb_seen *seen, struct mb_str text, bool *known);

#endif
