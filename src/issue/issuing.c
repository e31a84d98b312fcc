#include "issuing.h"

#include "buf.h"
#include "bundle.h"
#include "enclose.h"
#include "log.h"
#include "showing.h"
#include "text.h"

/* around what is counted: of an entry, of the whole */
enum { ENTRY_FRAME = 64, ROOM_FOR_REST = 16 << 10 };
/* where the files themselves travel beside it: one large photo, or a small one of each piece */
enum { FEW = 4, ROOM_FOR_VIEWS = 8 << 20, ROOM_FOR_MANY_VIEWS = 2 << 20 };

/* ---- what comes along ---- */

/* What the file has room for beside its entries and their proofs, before it is recorded that it was
 * made. 0: none. */
static size_t room_for_files(const struct mb_issuing *is, int64_t before)
{
    size_t size = ROOM_FOR_REST, proof = 0;

    if (is->foreign.list)
        size += mb_json_write(is->arena, is->foreign.list).len;
    for (int64_t n = before; n > 0; n /= 2)
        proof += sizeof "\"\"," + MB_B64_LEN(sizeof(struct mb_hash));
    for (size_t i = 0; i < is->closure.count; i++)
        size += is->closure.entries[i].sd_jwt.len + proof + ENTRY_FRAME;
    for (size_t i = 0; i < is->issue->count; i++)
        size += 2 * mb_json_write(is->arena, is->statements[i]).len + MB_ENTRY_MAX + proof;
    return size < MB_BUNDLE_MAX ? (MB_BUNDLE_MAX - size) / 4 * 3 : 0;
}

enum mb_rc mb_issuing_enclose(struct mb_issuing *is, int64_t before, struct mb_error *err)
{
    size_t room;
    enum mb_rc rc = mb_foreign_gather(is->ledger, is->arena, &is->closure, is->audience, is->issue,
                                      is->warnings, &is->foreign, err);

    if (rc)
        return rc;
    room = room_for_files(is, before);
    if (is->issue->files_beside) {
        size_t most = is->issue->count <= FEW ? ROOM_FOR_VIEWS : ROOM_FOR_MANY_VIEWS;

        room = room < most ? room : most;
    }
    if (room == 0)
        return mb_fail(err, MB_REFUSED,
                       "the certificate would be longer than 64 MiB: issue it for fewer specimens");
    is->files = mb_enclose_files(is->ledger, is->arena, &is->closure, is->audience, room,
                                 is->issue->files_beside, is->warnings);
    return MB_OK;
}

/* ---- what is kept of the making ---- */

static struct mb_field private_field(const char *name, const mb_json *value)
{
    return (struct mb_field){ name, MB_PRIVATE, value, false, { NULL, 0 } };
}

/* The digests of fields that were shown by request alone, their class not being the reader's. */
static mb_json *revealed(const struct mb_issuing *is)
{
    const struct mb_showing showing = { .audience = is->audience, .issue = is->issue };
    mb_json *list = mb_json_array(is->arena);

    for (size_t i = 0; is->issue->reveal_count && i < is->closure.count; i++) {
        const struct mb_entry *entry = &is->closure.entries[i].shown;

        for (size_t j = 0; j < entry->disclosure_count; j++) {
            const struct mb_disclosure *d = &entry->disclosures[j];

            if (d->slot >= 0 && !entry->slots[d->slot].element
                && !mb_audience_sees(is->audience, entry->slots[d->slot].in)
                && mb_showing_reveals(&showing, d->name))
                mb_json_add(list, mb_json_string_str(is->arena,
                                                     mb_b64u(is->arena, d->digest.b, 32)));
        }
    }
    return list;
}

void mb_issuing_keep(const struct mb_issuing *is, struct mb_field *fields, size_t *count)
{
    mb_json *shown = revealed(is), *withholding = mb_json_array(is->arena), *witnessed;

    for (size_t i = 0; i < is->issue->withhold_count; i++)
        mb_json_add_text(is->arena, withholding, is->issue->withhold[i].field);
    witnessed = mb_cosigned_digests(is->arena, &is->cosigned);
    if (shown->count)
        fields[(*count)++] = private_field("revealed", shown);
    if (withholding->count)
        fields[(*count)++] = private_field("withholding", withholding);
    if (is->issue->files_beside)
        fields[(*count)++] = private_field("filesBeside", mb_json_string(is->arena, "yes"));
    if (witnessed->count)
        fields[(*count)++] = private_field("witnessed", witnessed);
}

/* ---- what it counts ---- */

struct mb_str mb_issuing_held(const struct mb_issuing *is)
{
    struct mb_hash *leaves = MB_ARRAY(is->arena, is->closure.count + 1, struct mb_hash);

    for (size_t i = 0; i < is->closure.count; i++)
        leaves[i] = is->closure.entries[i].stored.leaf;
    return mb_digest_of_set(is->arena, leaves, is->closure.count);
}

struct mb_str mb_issuing_shown(const struct mb_issuing *is, const struct mb_hash *own,
                               size_t own_count)
{
    size_t count = own_count + is->foreign.count, n = 0;
    struct mb_hash *digests;

    for (size_t i = 0; i < is->closure.count; i++)
        count += is->closure.entries[i].shown.disclosure_count;
    digests = MB_ARRAY(is->arena, count + 1, struct mb_hash);
    for (size_t i = 0; i < is->foreign.count; i++)
        digests[n++] = is->foreign.digests[i];
    for (size_t i = 0; i < is->closure.count; i++)
        for (size_t j = 0; j < is->closure.entries[i].shown.disclosure_count; j++)
            digests[n++] = is->closure.entries[i].shown.disclosures[j].digest;
    for (size_t i = 0; i < own_count; i++)
        digests[n++] = own[i];
    return mb_digest_of_set(is->arena, digests, n);
}

/* ---- the file ---- */

static enum mb_rc add_entry(struct mb_issuing *is, mb_json *entries, int64_t seq, int64_t size,
                            struct mb_str sd_jwt, struct mb_error *err)
{
    mb_json *item = mb_json_object(is->arena), *proof = mb_json_array(is->arena);
    struct mb_path path;
    enum mb_rc rc = mb_log_prove(is->ledger->log, seq, size, &path, err);

    if (rc)
        return rc;
    for (size_t i = 0; i < path.count; i++)
        mb_json_add(proof, mb_json_string_str(is->arena, mb_b64(is->arena, path.node[i].b, 32)));
    mb_json_put_int(is->arena, item, "index", seq);
    mb_json_put(is->arena, item, "sd_jwt", mb_json_string_str(is->arena, sd_jwt));
    mb_json_put(is->arena, item, "proof", proof);
    mb_json_add(entries, item);
    return MB_OK;
}

/* A certificate's own fields are shown in its own file; what it keeps of its making is not. */
static struct mb_str own_sd_jwt(mb_arena *arena, const struct mb_entry *entry)
{
    MB_BUF_AUTO struct mb_buf text = { 0 };

    mb_buf_init(&text, MB_BUNDLE_MAX);
    mb_buf_add_str(&text, entry->jws);
    mb_buf_add_char(&text, '~');
    for (size_t i = 0; i < entry->disclosure_count; i++) {
        const struct mb_disclosure *d = &entry->disclosures[i];

        if (d->slot >= 0 && entry->slots[d->slot].in == MB_OWN)
            mb_buf_printf(&text, "%.*s~", MB_STR_ARG(d->text));
    }
    return mb_arena_str(arena, mb_buf_str(&text));
}

enum mb_rc mb_issuing_file(struct mb_issuing *is, struct mb_str *out, struct mb_error *err)
{
    mb_arena *arena = is->arena;
    int64_t size = is->certificates[is->issue->count - 1].seq + 1;
    mb_json *file = mb_json_object(arena), *entries = mb_json_array(arena), *anchors = NULL;
    struct mb_str note;
    enum mb_rc rc = mb_log_checkpoint(is->ledger->log, arena, size, &note, NULL, err);

    if (rc == MB_NO)
        return mb_fail(err, MB_UNABLE, "the certificate was recorded but its checkpoint is gone");
    for (size_t i = 0; !rc && i < is->closure.count; i++)
        rc = add_entry(is, entries, is->closure.entries[i].seq, size,
                       is->closure.entries[i].sd_jwt, err);
    for (size_t i = 0; !rc && i < is->issue->count; i++)
        rc = add_entry(is, entries, is->certificates[i].seq, size,
                       own_sd_jwt(arena, &is->certificates[i]), err);
    if (!rc)
        rc = mb_anchors_make(is->ledger, arena, size, &is->cosigned, &anchors, err);
    if (rc)
        return rc;
    mb_json_put_text(arena, file, "format", MB_BUNDLE_FORMAT);
    mb_json_put(arena, file, "origin",
                mb_json_string_str(arena, mb_log_origin(is->ledger->log)));
    mb_json_put(arena, file, "checkpoint", mb_json_string_str(arena, note));
    mb_json_put(arena, file, "entries", entries);
    if (is->files)
        mb_json_put(arena, file, "files", is->files);
    if (anchors)
        mb_json_put(arena, file, "anchors", anchors);
    if (is->foreign.list)
        mb_json_put(arena, file, "foreign", is->foreign.list);
    *out = mb_json_write(arena, file);
    return MB_OK;
}

/* ---- one that was issued ---- */

enum mb_rc mb_issuing_find(mb_ledger *ledger, mb_arena *arena, const char *id,
                           struct mb_entry *out, struct mb_error *err)
{
    struct mb_hash leaf;
    mb_stmt *stmt;
    int64_t seq = -1;
    bool row = false;
    enum mb_rc rc;

    if (!mb_b64u_read_exact(mb_str_of(id), leaf.b, sizeof leaf.b))
        return mb_fail(err, MB_REFUSED,
                       "'%s' is neither a file that is there nor what a sheet is known as, the 43"
                       " characters printed on it",
                       id);
    rc = mb_stmt_make(mb_log_db(ledger->log),
                      "SELECT l.seq FROM line n JOIN log l ON l.seq = n.seq"
                      " WHERE n.kind = 'certificate' AND l.leaf = ?1",
                      &stmt, err);
    if (rc)
        return rc;
    mb_bind_blob(stmt, 1, leaf.b, sizeof leaf.b);
    rc = mb_stmt_step(stmt, &row, err);
    if (!rc && row)
        seq = mb_col_int(stmt, 0);
    mb_stmt_free(stmt);
    if (!rc && seq < 0)
        rc = mb_fail(err, MB_REFUSED, "this ledger issued no certificate %s", id);
    return rc ? rc : mb_log_entry(ledger->log, arena, seq, out, err);
}
