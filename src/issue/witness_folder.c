#include "witness_folder.h"

#include <errno.h>
#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include "date.h"
#include "fileio.h"
#include "sha256.h"
#include "text.h"

enum { LOGS_MAX = 1 << 20, PUBLIC_MODE = 0644, FOLDER_MODE = 0755 };

static const char *part(mb_arena *arena, const char *folder, const char *name)
{
    return mb_path_join(arena, folder, name);
}

const char *mb_witness_origin_hex(mb_arena *arena, struct mb_str origin)
{
    struct mb_hash hash = mb_sha256_str(origin);
    char *hex = mb_arena_get(arena, MB_HEX_LEN(sizeof hash.b) + 1);

    mb_hex_write(hex, hash.b, sizeof hash.b);
    return hex;
}

static mb_json *about(mb_arena *arena, const char *folder, const struct mb_vkey *vkey)
{
    mb_json *out = mb_json_object(arena);

    mb_json_put(arena, out, "name", mb_json_string_str(arena, vkey->name));
    mb_json_put_text(arena, out, "vkey", mb_vkey_write(arena, vkey));
    mb_json_put_text(arena, out, "folder", folder);
    return out;
}

enum mb_rc mb_witness_new(mb_arena *arena, const char *folder, const char *name,
                          struct mb_str passphrase, const mb_json **out, struct mb_error *err)
{
    mb_secret *secret;
    struct mb_vkey vkey;
    const char *text;
    enum mb_rc rc;

    if (!mb_origin_ok(mb_str_of(name)))
        return mb_fail(err, MB_REFUSED,
                       "'%s' is no name for a witness: printable letters without blank or +, like"
                       " witness.quillpost.example",
                       name);
    if (mb_file_exists(part(arena, folder, "witness"))
        || mb_file_exists(part(arena, folder, "ledger.db")))
        return mb_fail(err, MB_REFUSED,
                       "'%s' holds a %s already; a witness has a folder of its own", folder,
                       mb_file_exists(part(arena, folder, "witness")) ? "witness" : "ledger");
    rc = mb_folder_make(folder, FOLDER_MODE, err);
    if (rc)
        return rc;
    secret = mb_secret_new();
    vkey = mb_vkey_make(mb_str_of(name), MB_VKEY_WITNESS, mb_secret_key(secret));
    rc = mb_keyfile_write(arena, folder, "witness", secret, passphrase, err);
    mb_secret_free(secret);
    text = mb_arena_printf(arena, "%s\n", mb_vkey_write(arena, &vkey));
    if (!rc) /* last: a folder with this file is a witness */
        rc = mb_file_create(part(arena, folder, "witness"), mb_str_of(text), PUBLIC_MODE, err);
    if (!rc)
        *out = about(arena, folder, &vkey);
    return rc;
}

static enum mb_rc take_lock(mb_witness *witness, struct mb_error *err)
{
    const char *path = part(witness->arena, witness->folder, "lock");

    witness->lock = open(path, O_RDWR | O_CREAT | O_CLOEXEC, PUBLIC_MODE);
    if (witness->lock < 0)
        return mb_fail(err, MB_UNABLE, "cannot lock the witness's folder (%s): %m", path);
    if (flock(witness->lock, LOCK_EX | LOCK_NB) == 0)
        return MB_OK;
    return mb_fail(err, MB_UNABLE,
                   errno == EWOULDBLOCK
                       ? "another program has the witness in '%s' open: wait until it is done"
                       : "cannot lock the witness's folder '%s'",
                   witness->folder);
}

enum mb_rc mb_witness_open(mb_arena *arena, const char *folder, mb_witness **out,
                           struct mb_error *err)
{
    mb_witness *witness = MB_NEW(arena, mb_witness);
    const char *path = part(arena, folder, "witness");
    struct mb_str text;
    enum mb_rc rc;

    witness->arena = arena;
    witness->folder = mb_arena_text(arena, folder);
    witness->lock = -1;
    if (!mb_file_exists(path))
        return mb_fail(err, MB_REFUSED,
                       "there is no witness in '%s'; make one with `markerbed cosign %s --new"
                       " NAME`",
                       folder, folder);
    rc = take_lock(witness, err);
    if (!rc)
        rc = mb_file_read(arena, path, LOGS_MAX, &text, err);
    if (!rc) {
        rc = mb_vkey_read(mb_str_trim(text), &witness->vkey, err);
        if (rc)
            mb_fail_where(err, "%s", path);
    }
    if (rc)
        mb_witness_close(witness);
    else
        *out = witness;
    return rc;
}

enum mb_rc mb_witness_unlock(mb_witness *witness, struct mb_str passphrase, struct mb_error *err)
{
    struct mb_keyfile file;
    enum mb_rc rc = mb_keyfile_find(witness->arena, witness->folder, NULL, &file, err);

    if (!rc)
        rc = mb_keyfile_open(witness->arena, &file, passphrase, &witness->secret, err);
    if (!rc && !mb_key_equal(mb_secret_key(witness->secret), &witness->vkey.key)) {
        witness->secret = mb_secret_free(witness->secret);
        rc = mb_fail(err, MB_UNABLE, "the key in '%s' is not the one that the witness is known by",
                     witness->folder);
    }
    return rc;
}

mb_witness *mb_witness_close(mb_witness *witness)
{
    if (witness) {
        witness->secret = mb_secret_free(witness->secret);
        if (witness->lock >= 0)
            close(witness->lock);
        witness->lock = -1;
    }
    return NULL;
}

/* ---- the logs it was told of ---- */

static bool read_log(struct mb_str line, struct mb_witness_log *out)
{
    struct mb_str word, rest;

    return mb_str_cut(line, ' ', &word, &rest) && mb_str_is(word, "log")
           && mb_str_cut(rest, ' ', &out->origin, &rest)
           && mb_vkey_read(rest, &out->vkey, NULL) == MB_OK;
}

static enum mb_rc logs_text(const mb_witness *witness, mb_arena *arena, struct mb_str *out,
                            struct mb_error *err)
{
    const char *path = part(arena, witness->folder, "logs");

    *out = MB_STR("");
    return mb_file_exists(path) ? mb_file_read(arena, path, LOGS_MAX, out, err) : MB_OK;
}

enum mb_rc mb_witness_logs(const mb_witness *witness, mb_arena *arena, struct mb_witness_log **out,
                           size_t *count, struct mb_error *err)
{
    struct mb_str text, line;
    size_t room = 1;
    enum mb_rc rc = logs_text(witness, arena, &text, err);

    if (rc)
        return rc;
    for (size_t i = 0; i < text.len; i++)
        room += text.at[i] == '\n';
    *out = MB_ARRAY(arena, room, struct mb_witness_log);
    *count = 0;
    for (size_t number = 1; text.len; number++) {
        mb_str_cut(text, '\n', &line, &text);
        if (line.len == 0 || line.at[0] == '#')
            continue;
        if (!read_log(line, &(*out)[*count]))
            return mb_fail(err, MB_UNABLE, "%s/logs: line %zu is not `log ORIGIN KEY`",
                           witness->folder, number);
        (*count)++;
    }
    return MB_OK;
}

enum mb_rc mb_witness_logs_add(mb_witness *witness, struct mb_str origin,
                               const struct mb_vkey *vkey, struct mb_error *err)
{
    mb_arena *arena = witness->arena;
    struct mb_witness_log *logs;
    struct mb_str text;
    size_t count;
    enum mb_rc rc = mb_witness_logs(witness, arena, &logs, &count, err);

    if (!rc)
        rc = logs_text(witness, arena, &text, err);
    if (rc)
        return rc;
    for (size_t i = 0; i < count; i++)
        if (mb_str_equal(logs[i].origin, origin) && mb_key_equal(&logs[i].vkey.key, &vkey->key))
            return MB_NO;
    text = mb_str_of(mb_arena_printf(arena, "%.*slog %.*s %s\n", MB_STR_ARG(text),
                                     MB_STR_ARG(origin), mb_vkey_write(arena, vkey)));
    return mb_file_write(part(arena, witness->folder, "logs"), text, PUBLIC_MODE, err);
}

/* ---- what it saw ---- */

static const char *seen_path(const mb_witness *witness, mb_arena *arena, struct mb_str origin)
{
    return part(arena, part(arena, witness->folder, "seen"),
                mb_witness_origin_hex(arena, origin));
}

enum mb_rc mb_witness_last(const mb_witness *witness, mb_arena *arena, struct mb_str origin,
                           struct mb_str *note, struct mb_witness_seen *seen, int64_t *when,
                           struct mb_error *err)
{
    const char *path = seen_path(witness, arena, origin);
    struct mb_checkpoint checkpoint;
    struct mb_note read;
    enum mb_rc rc;

    *note = (struct mb_str){ NULL, 0 };
    *seen = (struct mb_witness_seen){ 0 };
    if (!mb_file_exists(path))
        return MB_OK;
    rc = mb_file_read(arena, path, MB_NOTE_MAX, note, err);
    if (!rc && (mb_note_read(arena, *note, &read, NULL)
                || mb_checkpoint_read(read.text, &checkpoint, NULL, NULL)
                || !mb_str_equal(checkpoint.origin, origin)
                || mb_note_signed_by(&read, &witness->vkey, when) != MB_NOTE_SIGNED))
        rc = mb_fail(err, MB_UNABLE,
                     "%s is not what this witness signed: it was changed or is damaged, and"
                     " without it nothing can be signed for %.*s",
                     path, MB_STR_ARG(origin));
    if (!rc) {
        seen->size = checkpoint.size;
        seen->root = checkpoint.root;
    }
    return rc;
}

enum mb_rc mb_witness_keep(mb_witness *witness, mb_arena *arena, struct mb_str origin,
                           struct mb_str note, struct mb_error *err)
{
    enum mb_rc rc = mb_folder_make(part(arena, witness->folder, "seen"), FOLDER_MODE, err);

    if (!rc)
        rc = mb_file_write(seen_path(witness, arena, origin), note, PUBLIC_MODE, err);
    return rc;
}

enum mb_rc mb_witness_keep_refused(mb_witness *witness, mb_arena *arena, struct mb_str request,
                                   struct mb_error *err)
{
    const char *folder = part(arena, witness->folder, "refused");
    const char *path = part(arena, folder, mb_witness_origin_hex(arena, request));
    enum mb_rc rc = mb_folder_make(folder, FOLDER_MODE, err);

    return rc || mb_file_exists(path) ? rc : mb_file_write(path, request, PUBLIC_MODE, err);
}

enum mb_rc mb_witness_about(mb_witness *witness, mb_arena *arena, const mb_json **out,
                            struct mb_error *err)
{
    mb_json *result = about(arena, witness->folder, &witness->vkey);
    mb_json *list = mb_json_array(arena);
    struct mb_witness_log *logs;
    size_t count = 0;
    enum mb_rc rc = mb_witness_logs(witness, arena, &logs, &count, err);

    for (size_t i = 0; !rc && i < count; i++) {
        mb_json *row = mb_json_add(list, mb_json_object(arena));
        struct mb_witness_seen seen;
        struct mb_str note;
        int64_t when = 0;

        mb_json_put(arena, row, "origin", mb_json_string_str(arena, logs[i].origin));
        mb_json_put_text(arena, row, "vkey", mb_vkey_write(arena, &logs[i].vkey));
        rc = mb_witness_last(witness, arena, logs[i].origin, &note, &seen, &when, err);
        if (rc || !note.at)
            continue;
        mb_json_put_int(arena, row, "size", (int64_t)seen.size);
        mb_json_put(arena, row, "root",
                    mb_json_string_str(arena, mb_b64(arena, seen.root.b, sizeof seen.root.b)));
        mb_json_put_text(arena, row, "seenAt", mb_moment_write(arena, when));
    }
    mb_json_put(arena, result, "ledgers", list);
    if (!rc)
        *out = result;
    return rc;
}
