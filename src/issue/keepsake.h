/* Bytes put into a file of their own for as long as it takes to attach them. */
#ifndef MB_KEEPSAKE_H
#define MB_KEEPSAKE_H

#include <markerbed/arena.h>

struct mb_keepsake {
    char *folder; /* NULL: nothing was made */
    const char *path;
};

/* Writes `bytes` as `name` into a new folder inside `folder`. MB_UNABLE where that cannot be. */
MB_CHECK enum mb_rc mb_keepsake_make(mb_arena *arena, const char *folder, const char *name,
                                     struct mb_str bytes, struct mb_keepsake *out,
                                     struct mb_error *err);
/* Takes both away again. */
void mb_keepsake_drop(struct mb_keepsake *kept);

#endif
