#include "anchors.h"

#include <string.h>

#include "bundle.h"
#include "date.h"
#include "fileio.h"
#include "sha256.h"
#include "text.h"
#include "witnessing.h"

enum { ANCHORS_MAX = 64, WITNESSES_MAX = 256, FILE_BYTES_MAX = 1 << 20, LOOK_BACK = 10000 };
static const char *const file_head =
    "# Witnesses that this ledger asks, in the words of C2SP tlog-policy.\n";

/* ---- the witnesses that are asked ---- */

struct known {
    struct mb_vkey vkeys[WITNESSES_MAX];
    size_t count;
    struct mb_str text; /* of the file */
};

static const char *file_of(const mb_ledger *ledger, mb_arena *arena)
{
    return mb_path_join(arena, mb_log_folder(ledger->log), "witnesses");
}

static enum mb_rc read_line(struct mb_str line, struct known *known, struct mb_error *err)
{
    struct mb_str word, name, rest;

    if (line.len == 0 || line.at[0] == '#')
        return MB_OK;
    if (known->count == WITNESSES_MAX)
        return mb_fail(err, MB_REFUSED, "more than %d witnesses", WITNESSES_MAX);
    if (!mb_str_cut(line, ' ', &word, &rest) || !mb_str_is(word, "witness")
        || !mb_str_cut(rest, ' ', &name, &rest))
        return mb_fail(err, MB_REFUSED, "it is not `witness NAME KEY`");
    return mb_vkey_read(rest, &known->vkeys[known->count++], err);
}

static enum mb_rc read_known(const mb_ledger *ledger, mb_arena *arena, struct known *out,
                             struct mb_error *err)
{
    const char *path = file_of(ledger, arena);
    struct mb_str rest, line;
    enum mb_rc rc = MB_OK;

    *out = (struct known){ .text = mb_str_of(file_head) };
    if (!mb_file_exists(path))
        return MB_OK;
    rc = mb_file_read(arena, path, FILE_BYTES_MAX, &out->text, err);
    rest = out->text;
    for (size_t number = 1; !rc && rest.len; number++) {
        mb_str_cut(rest, '\n', &line, &rest);
        rc = read_line(line, out, err);
        if (rc)
            mb_fail_where(err, "%s, line %zu", path, number);
    }
    return rc;
}

/* A key of the ledger's own people or checkpoints is nobody's witness. */
static enum mb_rc check_not_ours(mb_ledger *ledger, const struct mb_vkey *vkey,
                                 struct mb_error *err)
{
    const mb_keyring *ring;
    bool ours = false;
    enum mb_rc rc = mb_session_keys(ledger, &ring, err);

    if (rc)
        return rc;
    for (size_t i = 0; i < mb_keyring_count(ring); i++)
        ours = ours || mb_key_equal(&mb_keyring_at(ring, i)->key, &vkey->key);
    for (size_t i = 0; i < mb_keyring_checkpoint_count(ring); i++)
        ours = ours || mb_key_equal(&mb_keyring_checkpoint_at(ring, i)->vkey.key, &vkey->key);
    if (ours || !mb_key_ok(&vkey->key))
        return mb_fail(err, MB_REFUSED, "this is %s, which cannot witness",
                       ours ? "a key of the ledger itself" : "no proper key");
    return MB_OK;
}

enum mb_rc mb_anchor_witness(mb_ledger *ledger, mb_arena *arena, const char *vkey,
                             const mb_json **out, struct mb_error *err)
{
    struct known *known = MB_NEW(arena, struct known);
    mb_json *result = mb_json_object(arena);
    struct mb_vkey read;
    bool fresh = true;
    enum mb_rc rc = mb_vkey_read(mb_str_trim(mb_str_of(vkey)), &read, err);

    if (!rc && read.type != MB_VKEY_WITNESS)
        rc = mb_fail(err, MB_REFUSED, "this is the key of a ledger, not of a witness");
    if (!rc)
        rc = check_not_ours(ledger, &read, err);
    if (!rc)
        rc = read_known(ledger, arena, known, err);
    if (rc)
        return rc;
    for (size_t i = 0; i < known->count; i++)
        fresh = fresh && !mb_key_equal(&known->vkeys[i].key, &read.key);
    if (fresh)
        rc = mb_file_write(file_of(ledger, arena),
                           mb_str_of(mb_arena_printf(arena, "%.*switness %.*s %s\n",
                                                     MB_STR_ARG(known->text),
                                                     MB_STR_ARG(read.name),
                                                     mb_vkey_write(arena, &read))),
                           0644, err);
    mb_json_put(arena, result, "name", mb_json_string_str(arena, read.name));
    mb_json_put_text(arena, result, "vkey", mb_vkey_write(arena, &read));
    mb_json_put_bool(arena, result, "new", fresh);
    *out = result;
    return rc;
}

/* ---- what they signed ---- */

static struct mb_str with_line(mb_arena *arena, struct mb_str note, struct mb_str line)
{
    return mb_str_of(mb_arena_printf(arena, "%.*s%.*s", MB_STR_ARG(note), MB_STR_ARG(line)));
}

/* "— NAME BASE64\n": by whom. */
static bool line_head(mb_arena *arena, struct mb_str line, struct mb_cosigned *out)
{
    struct mb_note note;
    struct mb_str bytes = with_line(arena, MB_STR("x\n\n"), line);

    if (mb_note_read(arena, bytes, &note, NULL) || note.count != 1)
        return false;
    out->line = line;
    out->name = note.lines[0].name;
    out->id = note.lines[0].id;
    return true;
}

/* All cosignatures on file, smallest tree first. */
static enum mb_rc read_cosigned(mb_ledger *ledger, mb_arena *arena, struct mb_cosigned **out,
                                size_t *count, struct mb_error *err)
{
    size_t room = 64;
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc = mb_stmt_make(mb_log_db(ledger->log),
                                 "SELECT size, line FROM cosignature ORDER BY size, line", &stmt,
                                 err);

    *out = MB_ARRAY(arena, room, struct mb_cosigned);
    *count = 0;
    if (rc)
        return rc;
    while (!(rc = mb_stmt_step(stmt, &row, err)) && row) {
        struct mb_cosigned one = { .size = mb_col_int(stmt, 0) };

        if (!line_head(arena, mb_arena_str(arena, mb_col_text(stmt, 1)), &one))
            continue;
        if (*count == room) {
            struct mb_cosigned *more = MB_ARRAY(arena, room *= 2, struct mb_cosigned);

            memcpy(more, *out, *count * sizeof *more);
            *out = more;
        }
        (*out)[(*count)++] = one;
    }
    mb_stmt_free(stmt);
    return rc;
}

static bool by_same(const struct mb_cosigned *a, const struct mb_cosigned *b)
{
    return a->id == b->id && mb_str_equal(a->name, b->name);
}

/* The last line of this witness below `size`, or the first from there on? */
static bool wanted(const struct mb_cosigned *all, size_t count, size_t i, int64_t size)
{
    for (size_t j = 0; j < count; j++) {
        if (j == i || !by_same(&all[i], &all[j]))
            continue;
        if (all[i].size < size ? all[j].size < size && j > i : all[j].size >= size && j < i)
            return false;
    }
    return true;
}

static enum mb_rc add_anchor(mb_ledger *ledger, mb_arena *arena, mb_json *list, int64_t size,
                             int64_t anchor, struct mb_str lines, struct mb_error *err)
{
    mb_json *row = mb_json_object(arena), *proof = mb_json_array(arena);
    struct mb_path path;
    struct mb_str note;
    enum mb_rc rc = mb_log_checkpoint(ledger->log, arena, anchor, &note, NULL, err);

    if (rc == MB_NO)
        return mb_fail(err, MB_UNABLE, "the checkpoint over %lld entries, which is cosigned, is"
                       " gone",
                       (long long)anchor);
    if (!rc)
        rc = mb_log_prove_growth(ledger->log, anchor < size ? anchor : size,
                                 anchor < size ? size : anchor, &path, err);
    if (rc)
        return rc;
    for (size_t i = 0; i < path.count; i++)
        mb_json_add(proof, mb_json_string_str(arena, mb_b64(arena, path.node[i].b, 32)));
    mb_json_put(arena, row, "checkpoint",
                mb_json_string_str(arena, with_line(arena, note, lines)));
    mb_json_put(arena, row, "consistency", proof);
    mb_json_add(list, row);
    return MB_OK;
}

enum mb_rc mb_anchors_choose(mb_ledger *ledger, mb_arena *arena, int64_t size,
                             struct mb_cosigned_lines *out, struct mb_error *err)
{
    struct mb_cosigned *all;
    size_t count;
    enum mb_rc rc = read_cosigned(ledger, arena, &all, &count, err);

    *out = (struct mb_cosigned_lines){ NULL, 0 };
    if (rc)
        return rc;
    out->at = MB_ARRAY(arena, count + 1, struct mb_cosigned);
    for (size_t i = 0; i < count; i++)
        if (wanted(all, count, i, size))
            out->at[out->count++] = all[i];
    return MB_OK;
}

static struct mb_str digest_of(mb_arena *arena, const struct mb_cosigned *line)
{
    struct mb_hash digest = mb_sha256_str(line->line);

    return mb_b64u(arena, digest.b, sizeof digest.b);
}

mb_json *mb_cosigned_digests(mb_arena *arena, const struct mb_cosigned_lines *lines)
{
    mb_json *list = mb_json_array(arena);

    for (size_t i = 0; i < lines->count; i++)
        mb_json_add(list, mb_json_string_str(arena, digest_of(arena, &lines->at[i])));
    return list;
}

enum mb_rc mb_anchors_recall(mb_ledger *ledger, mb_arena *arena, const mb_json *digests,
                             struct mb_cosigned_lines *out, struct mb_error *err)
{
    struct mb_cosigned *all;
    size_t count;
    enum mb_rc rc = read_cosigned(ledger, arena, &all, &count, err);

    *out = (struct mb_cosigned_lines){ NULL, 0 };
    if (rc)
        return rc;
    out->at = MB_ARRAY(arena, count + 1, struct mb_cosigned);
    for (size_t i = 0; i < count; i++) {
        struct mb_str own = digest_of(arena, &all[i]);

        MB_JSON_EACH(digest, digests)
        {
            if (mb_str_equal(mb_json_str(digest), own))
                out->at[out->count++] = all[i];
        }
    }
    return MB_OK;
}

enum mb_rc mb_anchors_make(mb_ledger *ledger, mb_arena *arena, int64_t size,
                           const struct mb_cosigned_lines *from, mb_json **out,
                           struct mb_error *err)
{
    mb_json *list = mb_json_array(arena);
    enum mb_rc rc = MB_OK;

    *out = NULL;
    for (size_t i = 0; !rc && i < from->count && list->count < ANCHORS_MAX;) {
        struct mb_str lines = { "", 0 };
        int64_t at = from->at[i].size;

        for (; i < from->count && from->at[i].size == at; i++)
            lines = with_line(arena, lines, from->at[i].line);
        rc = add_anchor(ledger, arena, list, size, at, lines, err);
    }
    if (!rc && list->count)
        *out = list;
    return rc;
}

/* ---- asking ---- */

/* The largest tree that this witness signed, 0 if none, and when. */
static int64_t last_size(mb_ledger *ledger, mb_arena *arena, const struct mb_vkey *vkey,
                         const struct mb_cosigned *all, size_t count, int64_t *when)
{
    for (size_t i = count; i-- > 0;) {
        struct mb_str text;
        struct mb_note note;

        if (all[i].id != vkey->id || !mb_str_equal(all[i].name, vkey->name))
            continue;
        if (mb_log_checkpoint(ledger->log, arena, all[i].size, &text, NULL, NULL) == MB_OK
            && mb_note_read(arena, with_line(arena, text, all[i].line), &note, NULL) == MB_OK
            && mb_note_signed_by(&note, vkey, when) == MB_NOTE_SIGNED)
            return all[i].size;
    }
    return 0;
}

enum mb_rc mb_anchor_list(mb_ledger *ledger, mb_arena *arena, const mb_json **out,
                          struct mb_error *err)
{
    struct known *known = MB_NEW(arena, struct known);
    mb_json *list = mb_json_array(arena);
    struct mb_cosigned *all;
    size_t count;
    enum mb_rc rc = read_known(ledger, arena, known, err);

    if (!rc)
        rc = read_cosigned(ledger, arena, &all, &count, err);
    for (size_t i = 0; !rc && i < known->count; i++) {
        mb_json *row = mb_json_add(list, mb_json_object(arena));
        int64_t when = 0;
        int64_t size = last_size(ledger, arena, &known->vkeys[i], all, count, &when);

        mb_json_put(arena, row, "name", mb_json_string_str(arena, known->vkeys[i].name));
        mb_json_put_text(arena, row, "vkey", mb_vkey_write(arena, &known->vkeys[i]));
        if (size == 0)
            continue;
        mb_json_put_int(arena, row, "size", size);
        mb_json_put_text(arena, row, "seenAt", mb_moment_write(arena, when));
    }
    if (!rc)
        *out = list;
    return rc;
}

static enum mb_rc find_known(const struct known *known, const char *name,
                             const struct mb_vkey **out, struct mb_error *err)
{
    for (size_t i = 0; i < known->count; i++)
        if (name ? mb_str_is(known->vkeys[i].name, name) : known->count == 1) {
            *out = &known->vkeys[i];
            return MB_OK;
        }
    if (known->count == 0)
        return mb_fail(err, MB_REFUSED,
                       "this ledger asks no witness yet: `markerbed anchor --witness KEY` first");
    return mb_fail(err, MB_REFUSED, "%s%s%s; `markerbed anchor` lists those that are asked",
                   name ? "no witness is called '" : "say which witness it is for: there are more"
                                                     " than one",
                   name ? name : "", name ? "'" : "");
}

enum mb_rc mb_anchor_request(mb_ledger *ledger, mb_arena *arena, const char *witness,
                             int64_t since, const mb_json **out, struct mb_error *err)
{
    struct known *known = MB_NEW(arena, struct known);
    const struct mb_vkey *vkey = NULL;
    mb_json *result = mb_json_object(arena);
    struct mb_path path = { 0 };
    struct mb_cosigned *all;
    struct mb_str note;
    int64_t size = 0, when;
    size_t count;
    enum mb_rc rc = read_known(ledger, arena, known, err);

    if (!rc)
        rc = find_known(known, witness, &vkey, err);
    if (!rc)
        rc = mb_log_checkpoint(ledger->log, arena, 0, &note, &size, err);
    if (rc == MB_NO)
        return mb_fail(err, MB_UNABLE, "no checkpoint is signed yet");
    if (!rc)
        rc = read_cosigned(ledger, arena, &all, &count, err);
    if (rc)
        return rc;
    if (since < 0)
        since = last_size(ledger, arena, vkey, all, count, &when);
    if (since > size)
        return mb_fail(err, MB_REFUSED,
                       "the newest signed checkpoint covers %lld entries, fewer than %lld: if the"
                       " witness has seen more, this ledger is an older copy",
                       (long long)size, (long long)since);
    if (since > 0)
        rc = mb_log_prove_growth(ledger->log, since, size, &path, err);
    if (rc)
        return rc;
    mb_json_put_text(arena, result, "request",
                     mb_witness_request_write(arena, (uint64_t)since, &path, note));
    mb_json_put(arena, result, "witness", mb_json_string_str(arena, vkey->name));
    mb_json_put_int(arena, result, "from", since);
    mb_json_put_int(arena, result, "size", size);
    *out = result;
    return MB_OK;
}

/* ---- filing what was answered ---- */

/* Which of the ledger's checkpoints the line signs, newest first. */
static enum mb_rc find_signed(mb_ledger *ledger, mb_arena *arena, const struct known *known,
                              struct mb_cosigned *line, int64_t *when, struct mb_error *err)
{
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc = mb_stmt_make(mb_log_db(ledger->log),
                                 "SELECT size, note FROM checkpoint ORDER BY size DESC LIMIT ?1",
                                 &stmt, err);

    if (rc)
        return rc;
    mb_bind_int(stmt, 1, LOOK_BACK);
    while (!(rc = mb_stmt_step(stmt, &row, err)) && row && !line->size) {
        mb_arena *scratch = mb_arena_new();
        struct mb_note note;

        if (mb_note_read(scratch, with_line(scratch, mb_col_text(stmt, 1), line->line), &note,
                         NULL) == MB_OK)
            for (size_t i = 0; i < known->count && !line->size; i++)
                if (mb_note_signed_by(&note, &known->vkeys[i], when) == MB_NOTE_SIGNED)
                    line->size = mb_col_int(stmt, 0);
        mb_arena_free(scratch);
    }
    mb_stmt_free(stmt);
    (void)arena;
    if (!rc && !line->size)
        rc = mb_fail(err, MB_NO,
                     "the line by '%.*s' is no cosignature of a checkpoint of this ledger by a"
                     " witness that it asks; nothing was filed",
                     MB_STR_ARG(line->name));
    return rc;
}

static enum mb_rc insert(mb_ledger *ledger, const struct mb_cosigned *line, struct mb_error *err)
{
    mb_db *db = mb_log_db(ledger->log);
    mb_stmt *stmt;
    enum mb_rc rc;

    mb_db_grant(db, MB_MAY_APPEND);
    rc = mb_db_begin(db, err);
    if (!rc)
        rc = mb_stmt_make(db, "INSERT INTO cosignature (size, line) VALUES (?1, ?2)", &stmt, err);
    if (!rc) {
        mb_bind_int(stmt, 1, line->size);
        mb_bind_text(stmt, 2, line->line);
        rc = mb_stmt_do(stmt, err);
        mb_stmt_free(stmt);
    }
    if (!rc)
        rc = mb_db_commit(db, err);
    if (rc)
        mb_db_rollback(db);
    mb_db_grant(db, 0);
    return rc;
}

static enum mb_rc file_line(mb_ledger *ledger, mb_arena *arena, const struct known *known,
                            struct mb_cosigned *line, mb_json *list, struct mb_error *err)
{
    mb_json *row = mb_json_object(arena);
    struct mb_cosigned *all;
    size_t count;
    bool fresh = true;
    int64_t when = 0;
    enum mb_rc rc = find_signed(ledger, arena, known, line, &when, err);

    if (!rc)
        rc = read_cosigned(ledger, arena, &all, &count, err);
    for (size_t i = 0; !rc && i < count; i++)
        fresh = fresh && !(all[i].size == line->size && mb_str_equal(all[i].line, line->line));
    if (!rc && fresh)
        rc = insert(ledger, line, err);
    if (rc)
        return rc;
    mb_json_put(arena, row, "witness", mb_json_string_str(arena, line->name));
    mb_json_put_int(arena, row, "size", line->size);
    mb_json_put_text(arena, row, "seenAt", mb_moment_write(arena, when));
    mb_json_put_bool(arena, row, "new", fresh);
    mb_json_add(list, row);
    return MB_OK;
}

enum mb_rc mb_anchor_file(mb_ledger *ledger, mb_arena *arena, struct mb_str answer,
                          const mb_json **out, struct mb_error *err)
{
    struct known *known = MB_NEW(arena, struct known);
    mb_json *list = mb_json_array(arena);
    struct mb_str rest = answer;
    enum mb_rc rc = read_known(ledger, arena, known, err);

    while (!rc && rest.len) {
        struct mb_cosigned line = { 0 };
        const char *end = memchr(rest.at, '\n', rest.len);
        size_t len = end ? (size_t)(end - rest.at) + 1 : rest.len;

        if (!line_head(arena, (struct mb_str){ rest.at, len }, &line))
            return mb_fail(err, MB_REFUSED,
                           "this is no answer of a witness: each line begins with a dash, a name"
                           " and a signature. What else a witness wrote is why it refused");
        rest.at += len;
        rest.len -= len;
        rc = file_line(ledger, arena, known, &line, list, err);
    }
    if (!rc && list->count == 0)
        rc = mb_fail(err, MB_REFUSED, "the answer is empty");
    if (!rc)
        *out = list;
    return rc;
}

/* ---- into a certificate that is out already ---- */

static enum mb_rc check_ours(mb_ledger *ledger, mb_arena *arena, const struct mb_bundle *bundle,
                             int64_t *size, struct mb_error *err)
{
    struct mb_checkpoint checkpoint;
    struct mb_entry founding;
    struct mb_note note;
    struct mb_hash root;
    int64_t here = 0;
    enum mb_rc rc = mb_note_read(arena, bundle->note, &note, err);

    if (!rc)
        rc = mb_checkpoint_read(note.text, &checkpoint, NULL, err);
    if (!rc)
        rc = mb_entry_read_sd(arena, bundle->entries[0].sd_jwt, &founding, err);
    if (!rc)
        rc = mb_log_size(ledger->log, &here, err);
    if (rc)
        return rc;
    *size = (int64_t)checkpoint.size;
    if (*size > 0 && *size <= here)
        rc = mb_log_root(ledger->log, *size, &root, err);
    if (rc)
        return rc;
    if (*size < 1 || *size > here || !mb_hash_equal(&root, &checkpoint.root)
        || !mb_hash_equal(&founding.leaf, mb_log_fingerprint(ledger->log)))
        return mb_fail(err, MB_NO, "this certificate is not of this ledger as it stands here");
    return MB_OK;
}

enum mb_rc mb_anchor_carry(mb_ledger *ledger, mb_arena *arena, struct mb_str certificate,
                           const mb_json **out, struct mb_error *err)
{
    mb_json *result = mb_json_object(arena), *file, *anchors;
    struct mb_cosigned_lines lines;
    struct mb_bundle bundle;
    const mb_json *json;
    int64_t size = 0;
    enum mb_rc rc = mb_json_read(arena, certificate, MB_JSON_STRICT, &json, err);

    if (!rc)
        rc = mb_bundle_read(arena, json, &bundle, err);
    if (!rc)
        rc = check_ours(ledger, arena, &bundle, &size, err);
    if (!rc)
        rc = mb_anchors_choose(ledger, arena, size, &lines, err);
    if (!rc)
        rc = mb_anchors_make(ledger, arena, size, &lines, &anchors, err);
    if (rc)
        return rc;
    if (!anchors)
        return mb_fail(err, MB_UNABLE, "no witness has signed a checkpoint of this ledger yet");
    file = mb_json_copy(arena, json);
    mb_json_put_int(arena, result, "anchors", anchors->count);
    mb_json_put(arena, file, "anchors", anchors);
    mb_json_put(arena, result, "file", mb_json_string_str(arena, mb_json_write(arena, file)));
    *out = result;
    return MB_OK;
}
