#include "keepsake.h"

#include <stdlib.h>
#include <unistd.h>

#include "fileio.h"

enum mb_rc mb_keepsake_make(mb_arena *arena, const char *folder, const char *name,
                            struct mb_str bytes, struct mb_keepsake *out, struct mb_error *err)
{
    char *made = mb_arena_printf(arena, "%s/receiving.XXXXXX", folder);
    enum mb_rc rc;

    *out = (struct mb_keepsake){ NULL, NULL };
    if (!mkdtemp(made))
        return mb_fail(err, MB_UNABLE, "cannot write into %s: %m", folder);
    out->folder = made;
    out->path = mb_path_join(arena, made, name);
    rc = mb_file_create(out->path, bytes, 0600, err);
    if (rc)
        mb_keepsake_drop(out);
    return rc;
}

void mb_keepsake_drop(struct mb_keepsake *kept)
{
    if (!kept->folder)
        return;
    unlink(kept->path);
    rmdir(kept->folder);
    kept->folder = NULL;
}
