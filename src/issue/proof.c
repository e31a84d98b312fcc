/* A proof for one entry, in the form that others' programs read. */
#include <markerbed/witness.h>

#include "session.h"
#include "text.h"

enum { DIGITS_MAX = 15 }; /* below 2^53 */

static bool read_number(const char *text, int64_t *seq)
{
    struct mb_str digits = mb_str_of(text[0] == '#' ? text + 1 : text);

    if (digits.len == 0 || digits.len > DIGITS_MAX)
        return false;
    *seq = 0;
    for (size_t i = 0; i < digits.len; i++) {
        if (digits.at[i] < '0' || digits.at[i] > '9')
            return false;
        *seq = *seq * 10 + (digits.at[i] - '0');
    }
    return true;
}

static enum mb_rc find_leaf(mb_ledger *ledger, const struct mb_hash *leaf, const char *entry,
                            int64_t *seq, struct mb_error *err)
{
    mb_stmt *stmt;
    bool row = false;
    enum mb_rc rc = mb_stmt_make(mb_log_db(ledger->log), "SELECT seq FROM log WHERE leaf = ?1",
                                 &stmt, err);

    if (rc)
        return rc;
    mb_bind_blob(stmt, 1, leaf->b, sizeof leaf->b);
    rc = mb_stmt_step(stmt, &row, err);
    if (!rc && row)
        *seq = mb_col_int(stmt, 0);
    mb_stmt_free(stmt);
    if (!rc && !row)
        rc = mb_fail(err, MB_REFUSED, "this ledger has no entry with the leaf hash %s", entry);
    return rc;
}

static enum mb_rc find_entry(mb_ledger *ledger, const char *entry, int64_t *seq,
                             struct mb_error *err)
{
    struct mb_hash leaf;

    if (read_number(entry, seq))
        return MB_OK;
    if (mb_b64u_read_exact(mb_str_of(entry), leaf.b, sizeof leaf.b))
        return find_leaf(ledger, &leaf, entry, seq, err);
    return mb_fail(err, MB_REFUSED,
                   "'%s' names no entry: give its number like 12, or its leaf hash or a"
                   " certificate's identity, which are 43 characters",
                   entry);
}

enum mb_rc mb_proof(mb_ledger *ledger, mb_arena *arena, const char *entry, const mb_json **out,
                    struct mb_error *err)
{
    mb_json *result;
    struct mb_entry found;
    struct mb_path path;
    struct mb_str note;
    int64_t seq = 0, size = 0;
    enum mb_rc rc = find_entry(ledger, entry, &seq, err);

    if (!rc)
        rc = mb_log_entry(ledger->log, arena, seq, &found, err);
    if (rc)
        return rc;
    rc = mb_log_checkpoint(ledger->log, arena, 0, &note, &size, err);
    if (rc == MB_NO || (rc == MB_OK && size <= seq))
        return mb_fail(err, MB_UNABLE,
                       "no checkpoint was signed since entry %lld was recorded: record something"
                       " with a key that signs checkpoints, then ask again",
                       (long long)seq);
    if (!rc)
        rc = mb_log_prove(ledger->log, seq, size, &path, err);
    if (rc)
        return rc;
    result = mb_json_object(arena);
    mb_json_put_text(arena, result, "file",
                     mb_proof_write(arena, (uint64_t)seq, path.node, path.count, note));
    mb_json_put_int(arena, result, "seq", seq);
    mb_json_put(arena, result, "leaf",
                mb_json_string_str(arena, mb_b64u(arena, found.leaf.b, sizeof found.leaf.b)));
    mb_json_put(arena, result, "subject", mb_json_string_str(arena, found.sub));
    mb_json_put(arena, result, "kind", mb_json_string_str(arena, found.kind));
    mb_json_put_int(arena, result, "size", size);
    *out = result;
    return MB_OK;
}
