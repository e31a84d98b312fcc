/*
 * What a witness does with a request, after C2SP tlog-witness v1.0.0 (add-checkpoint): reading the
 * request's bytes and judging them. Pure: keeping what was seen, and syncing it before the answer
 * goes out, is the caller's, and so is the clock.
 */
#ifndef MB_WITNESSING_H
#define MB_WITNESSING_H

#include "merkle.h"
#include "note.h"

#define MB_WITNESS_REQUEST_MAX (MB_NOTE_MAX + (64u << 10))

/* "old SIZE", the consistency proof's hashes, a blank line, the checkpoint. */
struct mb_witness_request {
    uint64_t size_old;
    struct mb_path path;
    struct mb_note note;
    struct mb_checkpoint checkpoint;
};

/* The standard's status codes. */
enum mb_witness_status {
    MB_WITNESS_SIGNS = 200,
    MB_WITNESS_MALFORMED = 400, /* the old size is past the checkpoint's; or no proper request */
    MB_WITNESS_UNSIGNED = 403,  /* not signed by the log's key */
    MB_WITNESS_UNKNOWN = 404,   /* a log that this witness was not told of */
    MB_WITNESS_STALE = 409,     /* the old size is not the one last seen */
    MB_WITNESS_FORKED = 422     /* what is claimed does not follow from what was seen */
};

/* What was last cosigned for a log; size 0 (root not looked at): nothing yet. */
struct mb_witness_seen {
    uint64_t size;
    struct mb_hash root;
};

/* MB_REFUSED (400) with what is wrong. Points into bytes. */
MB_CHECK enum mb_rc mb_witness_request_read(mb_arena *arena, struct mb_str bytes,
                                            struct mb_witness_request *out, struct mb_error *err);
char *mb_witness_request_write(mb_arena *arena, uint64_t size_old, const struct mb_path *path,
                               struct mb_str checkpoint);

/* For a log of this origin, known by this key (NULL: the witness knows no such log). All but
 * MB_WITNESS_SIGNS leave a sentence in err. */
enum mb_witness_status mb_witness_judge(const struct mb_witness_request *request,
                                        struct mb_str origin, const struct mb_vkey *vkey,
                                        const struct mb_witness_seen *seen, struct mb_error *err);

#endif
