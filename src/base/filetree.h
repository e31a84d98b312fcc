/* All that lies in a folder and below it, as it is on the disk: nothing is followed. */
#ifndef MB_FILETREE_H
#define MB_FILETREE_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/arena.h>

enum mb_leaf_kind { MB_LEAF_FILE, MB_LEAF_EMPTY_FOLDER, MB_LEAF_OTHER };

struct mb_leaf {
    const char *path; /* from the folder, divided by "/" */
    enum mb_leaf_kind kind; /* other: a link, a device, a pipe, a socket */
    int64_t bytes;
};

struct mb_leaves {
    struct mb_leaf *at; /* sorted by the bytes of their paths */
    size_t count;
};

/* MB_REFUSED where it is no folder, is nested deeper than 32 folders, or holds more than a million
 * things; MB_UNABLE where a part of it cannot be read. */
MB_CHECK enum mb_rc mb_filetree_list(mb_arena *arena, const char *folder, struct mb_leaves *out,
                                     struct mb_error *err);
/* Deletes a folder with all that is in it; says nothing of what cannot be deleted. */
void mb_filetree_delete(const char *folder);

#endif
