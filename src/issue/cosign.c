/* A witness at work: what it is told, what it signs and what it refuses. */
#include <string.h>

#include "date.h"
#include "fileio.h"
#include "sha256.h"
#include "text.h"
#include "verify_bundle.h"
#include "witness_folder.h"

/* ---- being told of a ledger ---- */

static enum mb_rc know(mb_witness *witness, mb_arena *arena, struct mb_str origin,
                       const struct mb_vkey *vkey, mb_json *result, struct mb_error *err)
{
    enum mb_rc rc;

    if (mb_key_equal(&vkey->key, &witness->vkey.key))
        return mb_fail(err, MB_REFUSED,
                       "this is the witness's own key: a ledger and its witness never share one");
    if (!mb_key_ok(&vkey->key))
        return mb_fail(err, MB_REFUSED, "the key is not canonical or of small order");
    rc = mb_witness_logs_add(witness, origin, vkey, err);
    if (rc && rc != MB_NO)
        return rc;
    mb_json_put(arena, result, "origin", mb_json_string_str(arena, origin));
    mb_json_put_text(arena, result, "vkey", mb_vkey_write(arena, vkey));
    mb_json_put_bool(arena, result, "new", rc == MB_OK);
    return MB_OK;
}

/* The ledger's checkpoint key follows from a certificate that holds by itself. */
static enum mb_rc know_certificate(mb_witness *witness, mb_arena *arena, struct mb_str bytes,
                                   mb_json *result, struct mb_error *err)
{
    struct mb_trust trust = { 0 };
    struct mb_bundle bundle;
    struct mb_bundle_check check = { .arena = arena,
                                     .bundle = &bundle,
                                     .trust = &trust,
                                     .findings = mb_findings_new(arena, 1),
                                     .foreign_left = MB_FOREIGN_MAX };
    const struct mb_hash *print;
    const mb_json *json;
    size_t count;
    enum mb_rc rc = mb_json_read(arena, bytes, MB_JSON_STRICT, &json, err);

    if (!rc)
        rc = mb_bundle_read(arena, json, &bundle, err);
    if (rc)
        return rc;
    mb_bundle_verify(&check);
    if (mb_findings_count(check.findings, MB_FAULT) || check.newer
        || mb_keyring_checkpoint_count(check.ring) == 0)
        return mb_fail(err, MB_REFUSED,
                       "the certificate does not hold (`markerbed verify` says why), so it tells"
                       " nothing of the ledger's keys");
    count = mb_keyring_checkpoint_count(check.ring);
    print = &bundle.entries[0].entry.leaf;
    mb_json_put(arena, result, "fingerprintGrouped",
                mb_json_string_str(arena, mb_base32(arena, print->b, sizeof print->b, true)));
    return know(witness, arena, bundle.origin,
                &mb_keyring_checkpoint_at(check.ring, count - 1)->vkey, result, err);
}

enum mb_rc mb_witness_know(mb_witness *witness, mb_arena *arena, struct mb_str what,
                           const mb_json **out, struct mb_error *err)
{
    mb_json *result = mb_json_object(arena);
    struct mb_str text = mb_str_trim(what);
    struct mb_vkey vkey;
    enum mb_rc rc;

    if (text.len && text.at[0] == '{') {
        rc = know_certificate(witness, arena, what, result, err);
    } else {
        rc = mb_vkey_read(text, &vkey, err);
        if (!rc && vkey.type != MB_VKEY_LOG)
            rc = mb_fail(err, MB_REFUSED, "this is the key of a witness, not of a ledger");
        if (!rc)
            rc = know(witness, arena, vkey.name, &vkey, result, err);
    }
    if (!rc)
        *out = result;
    return rc;
}

/* ---- answering ---- */

struct answering {
    mb_witness *witness;
    mb_arena *arena;
    struct mb_str bytes;
    struct mb_witness_request request;
    struct mb_witness_seen seen;
    struct mb_str before; /* the checkpoint last cosigned */
    mb_json *result;
};

static void put_status(struct answering *a, int status, const char *body, const char *why)
{
    mb_json_put_int(a->arena, a->result, "status", status);
    mb_json_put_text(a->arena, a->result, "body", body);
    if (why)
        mb_json_put_text(a->arena, a->result, "why", why);
}

/* Of an origin that changed its key: the one that signed this note, else the last that is known. */
static enum mb_rc choose_key(struct answering *a, const struct mb_vkey **out, struct mb_error *err)
{
    struct mb_witness_log *logs;
    size_t count = 0;
    enum mb_rc rc = mb_witness_logs(a->witness, a->arena, &logs, &count, err);

    *out = NULL;
    for (size_t i = 0; !rc && i < count; i++) {
        if (!mb_str_equal(logs[i].origin, a->request.checkpoint.origin))
            continue;
        *out = &logs[i].vkey;
        if (mb_note_signed_by(&a->request.note, *out, NULL) == MB_NOTE_SIGNED)
            break;
    }
    return rc;
}

static enum mb_rc cosign(struct answering *a, const struct mb_vkey *vkey, struct mb_error *err)
{
    const struct mb_note *note = &a->request.note;
    int64_t now = mb_now();
    char *line = mb_note_cosign(a->arena, note->text, a->witness->vkey.name, a->witness->secret,
                                now);
    char *kept = mb_arena_printf(a->arena, "%.*s\n", MB_STR_ARG(note->text));
    enum mb_rc rc;

    for (size_t i = 0; i < note->count; i++)
        if (note->lines[i].id == vkey->id && mb_str_equal(note->lines[i].name, vkey->name))
            kept = mb_arena_printf(a->arena, "%s%.*s", kept, MB_STR_ARG(note->lines[i].line));
    kept = mb_arena_printf(a->arena, "%s%s", kept, line);
    rc = mb_witness_keep(a->witness, a->arena, a->request.checkpoint.origin, mb_str_of(kept), err);
    if (rc)
        return mb_fail(err, MB_UNABLE, "it could not be kept on disk, so nothing was signed");
    put_status(a, MB_WITNESS_SIGNS, line, NULL);
    mb_json_put_text(a->arena, a->result, "seenAt", mb_moment_write(a->arena, now));
    return MB_OK;
}

/* A checkpoint that the log itself signed and that goes back or aside is proof against it. */
static enum mb_rc refuse(struct answering *a, enum mb_witness_status status, const char *why,
                         struct mb_error *err)
{
    const struct mb_checkpoint *now = &a->request.checkpoint;
    bool older = status == MB_WITNESS_STALE && now->size < a->seen.size;
    const char *body = mb_arena_printf(a->arena, "%s\n", why);
    enum mb_rc rc = MB_OK;

    if (status == MB_WITNESS_STALE)
        body = mb_arena_printf(a->arena, "%llu\n", (unsigned long long)a->seen.size);
    if (older)
        why = mb_arena_printf(a->arena,
                              "this witness has seen %llu entries of %.*s, and is asked for %llu:"
                              " the ledger was put back to an older copy",
                              (unsigned long long)a->seen.size, MB_STR_ARG(now->origin),
                              (unsigned long long)now->size);
    put_status(a, status, body, why);
    if (a->before.at && (older || status == MB_WITNESS_FORKED)) {
        mb_json_put(a->arena, a->result, "seen", mb_json_string_str(a->arena, a->before));
        rc = mb_witness_keep_refused(a->witness, a->arena, a->bytes, err);
    }
    return rc ? rc : MB_NO;
}

static enum mb_rc answer_read(struct answering *a, struct mb_error *err)
{
    const struct mb_checkpoint *now = &a->request.checkpoint;
    const struct mb_vkey *vkey;
    struct mb_error why = { 0 };
    enum mb_witness_status status;
    int64_t when;
    enum mb_rc rc = choose_key(a, &vkey, err);

    mb_json_put(a->arena, a->result, "origin", mb_json_string_str(a->arena, now->origin));
    mb_json_put_int(a->arena, a->result, "size", (int64_t)now->size);
    if (!rc)
        rc = mb_witness_last(a->witness, a->arena, now->origin, &a->before, &a->seen, &when, err);
    if (rc)
        return rc;
    if (a->before.at)
        mb_json_put_int(a->arena, a->result, "seenSize", (int64_t)a->seen.size);
    status = mb_witness_judge(&a->request, now->origin, vkey, &a->seen, &why);
    return status == MB_WITNESS_SIGNS ? cosign(a, vkey, err)
                                      : refuse(a, status, mb_arena_text(a->arena, why.text), err);
}

enum mb_rc mb_witness_answer(mb_witness *witness, mb_arena *arena, struct mb_str request,
                             const mb_json **out, struct mb_error *err)
{
    struct answering a = { .witness = witness, .arena = arena, .bytes = request,
                           .result = mb_json_object(arena) };
    struct mb_error why = { 0 };
    enum mb_rc rc;

    if (!witness->secret)
        return mb_fail(err, MB_REFUSED, "the witness's key is not open: its passphrase first");
    if (mb_witness_request_read(arena, request, &a.request, &why)) {
        put_status(&a, MB_WITNESS_MALFORMED, mb_arena_printf(arena, "%s\n", why.text),
                   mb_arena_text(arena, why.text));
        rc = MB_NO;
    } else {
        rc = answer_read(&a, err);
    }
    if (rc == MB_OK || rc == MB_NO)
        *out = a.result;
    return rc;
}
