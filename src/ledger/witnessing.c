#include "witnessing.h"

#include <string.h>

#include "text.h"

enum { DIGITS_MAX = 18 }; /* below 2^63 */

static bool read_size(struct mb_str text, uint64_t *out)
{
    if (text.len == 0 || text.len > DIGITS_MAX || (text.at[0] == '0' && text.len > 1))
        return false;
    *out = 0;
    for (size_t i = 0; i < text.len; i++) {
        if (text.at[i] < '0' || text.at[i] > '9')
            return false;
        *out = *out * 10 + (uint64_t)(text.at[i] - '0');
    }
    return true;
}

enum mb_rc mb_witness_request_read(mb_arena *arena, struct mb_str bytes,
                                   struct mb_witness_request *out, struct mb_error *err)
{
    struct mb_witness_request request = { 0 };
    struct mb_str line, rest = bytes;
    enum mb_rc rc;

    if (bytes.len > MB_WITNESS_REQUEST_MAX)
        return mb_fail(err, MB_REFUSED, "the request is longer than %u bytes",
                       MB_WITNESS_REQUEST_MAX);
    if (!mb_str_cut(rest, '\n', &line, &rest) || !mb_str_starts(line, "old ")
        || !read_size((struct mb_str){ line.at + 4, line.len - 4 }, &request.size_old))
        return mb_fail(err, MB_REFUSED, "the request's first line is not 'old' and a size");
    for (;;) {
        if (!mb_str_cut(rest, '\n', &line, &rest))
            return mb_fail(err, MB_REFUSED, "the request has no blank line before the checkpoint");
        if (line.len == 0)
            break;
        if (request.path.count == MB_PROOF_NODES_MAX)
            return mb_fail(err, MB_REFUSED, "the request's proof has more than %d hashes",
                           MB_PROOF_NODES_MAX);
        if (!mb_b64_read_exact(line, request.path.node[request.path.count++].b,
                               sizeof(struct mb_hash)))
            return mb_fail(err, MB_REFUSED,
                           "line %zu of the request's hashes is not 32 bytes of base64",
                           request.path.count);
    }
    rc = mb_note_read(arena, rest, &request.note, err);
    if (!rc)
        rc = mb_checkpoint_read(request.note.text, &request.checkpoint, NULL, err);
    if (!rc)
        *out = request;
    return rc;
}

char *mb_witness_request_write(mb_arena *arena, uint64_t size_old, const struct mb_path *path,
                               struct mb_str checkpoint)
{
    char *lines = mb_arena_text(arena, "");
    char b64[MB_HASH_B64_LEN + 1];

    for (size_t i = 0; i < path->count; i++) {
        mb_b64_write(b64, path->node[i].b, sizeof path->node[i].b);
        lines = mb_arena_printf(arena, "%s%s\n", lines, b64);
    }
    return mb_arena_printf(arena, "old %llu\n%s\n%.*s", (unsigned long long)size_old, lines,
                           MB_STR_ARG(checkpoint));
}

static bool same_root(const struct mb_hash *a, const struct mb_hash *b)
{
    return memcmp(a->b, b->b, sizeof a->b) == 0;
}

/* Does the checkpoint follow from what was seen? */
static bool follows(const struct mb_witness_request *request, const struct mb_witness_seen *seen)
{
    const struct mb_checkpoint *now = &request->checkpoint;
    const struct mb_edge none = { 0 };
    const struct mb_hash empty = mb_edge_root(&none);

    if (now->size == 0 && !same_root(&now->root, &empty))
        return false;
    if (seen->size == 0)
        return request->path.count == 0;
    return mb_merkle_consistent(seen->size, now->size, &seen->root, &now->root, &request->path);
}

enum mb_witness_status mb_witness_judge(const struct mb_witness_request *request,
                                        struct mb_str origin, const struct mb_vkey *vkey,
                                        const struct mb_witness_seen *seen, struct mb_error *err)
{
    const struct mb_checkpoint *now = &request->checkpoint;
    enum mb_witness_status status = MB_WITNESS_SIGNS;

    if (!vkey || !mb_str_equal(now->origin, origin)) {
        mb_fail(err, MB_REFUSED, "this witness was not told of a log named %.*s",
                MB_STR_ARG(now->origin));
        status = MB_WITNESS_UNKNOWN;
    } else if (mb_note_signed_by(&request->note, vkey, NULL) != MB_NOTE_SIGNED) {
        mb_fail(err, MB_NO, "the checkpoint is not signed by the key of %.*s that is known here",
                MB_STR_ARG(origin));
        status = MB_WITNESS_UNSIGNED;
    } else if (request->size_old > now->size) {
        mb_fail(err, MB_REFUSED, "the request goes from size %llu back to %llu",
                (unsigned long long)request->size_old, (unsigned long long)now->size);
        status = MB_WITNESS_MALFORMED;
    } else if (request->size_old != seen->size) {
        mb_fail(err, MB_REFUSED, "this witness last saw size %llu: ask again from there",
                (unsigned long long)seen->size);
        status = MB_WITNESS_STALE;
    } else if (!follows(request, seen)) {
        mb_fail(err, MB_NO, "the checkpoint of size %llu does not follow from size %llu, seen"
                " before: two stories were told, or the proof is wrong",
                (unsigned long long)now->size, (unsigned long long)seen->size);
        status = MB_WITNESS_FORKED;
    }
    return status;
}
