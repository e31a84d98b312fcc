/*
 * A witness's own folder: its key, the logs it was told of, and what it last signed for each.
 *
 *   witness              the vkey that others know it by, and its name
 *   keys/                its key, sealed as people's keys are
 *   logs                 lines "log ORIGIN VKEY"; several keys for an origin that changed its key
 *   seen/HEX             for each origin (SHA-256 of its name) the last checkpoint that was
 *                        cosigned, as C2SP tlog-witness publishes it; its own cosignature guards it
 *   refused/HEX          requests that showed two stories, kept as proof
 *   lock                 held by the one program that uses the folder
 */
#ifndef MB_WITNESS_FOLDER_H
#define MB_WITNESS_FOLDER_H

#include <markerbed/witness.h>

#include "keyfile.h"
#include "witnessing.h"

struct mb_witness {
    mb_arena *arena; /* lives as long as it is open */
    const char *folder;
    struct mb_vkey vkey;
    mb_secret *secret; /* NULL until unlocked */
    int lock;
};

struct mb_witness_log {
    struct mb_str origin;
    struct mb_vkey vkey;
};

MB_CHECK enum mb_rc mb_witness_logs(const mb_witness *witness, mb_arena *arena,
                                    struct mb_witness_log **out, size_t *count,
                                    struct mb_error *err);
/* Adds a line to `logs`; MB_NO if it is there. */
MB_CHECK enum mb_rc mb_witness_logs_add(mb_witness *witness, struct mb_str origin,
                                        const struct mb_vkey *vkey, struct mb_error *err);
/* The checkpoint last cosigned for this origin, {NULL, 0} if there is none. MB_UNABLE if what is
 * there is not what this witness signed. */
MB_CHECK enum mb_rc mb_witness_last(const mb_witness *witness, mb_arena *arena,
                                    struct mb_str origin, struct mb_str *note,
                                    struct mb_witness_seen *seen, int64_t *when,
                                    struct mb_error *err);
/* Durable when it returns. */
MB_CHECK enum mb_rc mb_witness_keep(mb_witness *witness, mb_arena *arena, struct mb_str origin,
                                    struct mb_str note, struct mb_error *err);
MB_CHECK enum mb_rc mb_witness_keep_refused(mb_witness *witness, mb_arena *arena,
                                            struct mb_str request, struct mb_error *err);
/* Name under seen/ and of the standard's monitoring address. */
const char *mb_witness_origin_hex(mb_arena *arena, struct mb_str origin);

#endif
