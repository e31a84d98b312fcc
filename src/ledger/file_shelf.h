/* What lies in a ledger's folder of attached files, files/ab/<sha256>, whoever names it. */
#ifndef MB_FILE_SHELF_H
#define MB_FILE_SHELF_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/error.h>
#include <markerbed/json.h>

struct mb_shelved {
    const char *name; /* 64 hex digits; of a part, as it is called */
    const char *path;
    int64_t bytes, changed_s; /* when it was last written */
    bool part;                /* left by a process that was stopped while it copied */
    bool named;               /* for the caller to mark */
};

struct mb_shelf {
    struct mb_shelved *files; /* sorted by name */
    size_t count;
};

/* No folder is no file. MB_UNABLE where it cannot be read. Anything else that lies there is passed
 * over. */
MB_CHECK enum mb_rc mb_shelf_read(mb_arena *arena, const char *ledger_folder, struct mb_shelf *out,
                                  struct mb_error *err);
/* The file of this name, parts apart; NULL if it is not there. */
struct mb_shelved *mb_shelf_find(const struct mb_shelf *shelf, struct mb_str name);

#endif
