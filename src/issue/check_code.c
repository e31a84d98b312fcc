#include "check_code.h"

#include "date.h"
#include "text.h"

struct mb_code_check {
    mb_arena *arena;
    struct mb_code_said said;
    bool compared; /* there was a file, of whatever ledger */
    const char *path; /* of the one that holds its certificate, NULL: none does */
    const char *newer; /* why its summary cannot be read by this program, NULL: it can */
    bool fits;        /* and the summary is of its signer, and says the same */
};

enum mb_rc mb_code_begin(mb_arena *arena, const char *text, mb_code_check **out,
                         struct mb_error *err)
{
    mb_code_check *code = MB_NEW(arena, mb_code_check);
    struct mb_error why = { 0 };
    enum mb_rc rc;

    code->arena = arena;
    *out = code;
    rc = mb_code_read(arena, mb_str_of(text), &code->said, &why);
    if (rc == MB_REFUSED)
        return mb_fail(err, MB_REFUSED, "%s", why.text);
    if (rc) {
        code->newer = mb_arena_text(arena, why.text);
        code->said.summed = false;
    }
    return MB_OK;
}

static bool of_entry(const mb_code_check *code, const struct mb_entry *entry)
{
    return mb_str_is(entry->kind, "certificate") && mb_hash_equal(&entry->leaf, &code->said.id)
           && mb_str_equal(entry->iss, code->said.origin);
}

static void compare(mb_code_check *code, const char *path, const struct mb_entry *entry,
                    const mb_keyring *ring)
{
    const struct mb_summary *summary = &code->said.summary;
    const struct mb_ring_key *key = mb_keyring_find(ring, entry->kid);

    code->path = path;
    code->fits = code->said.summed && code->said.own && key && summary->iat == entry->iat
                 && mb_str_equal(summary->sub, entry->sub)
                 && mb_str_equal(summary->audience, mb_json_str(mb_entry_open(entry, "audience")))
                 && mb_summary_signed_by(summary, &key->key);
}

void mb_code_see_file(mb_code_check *code, const char *path, const struct mb_bundle_check *check)
{
    code->compared = true;
    for (size_t i = 0; i < check->certificate_count; i++)
        if (of_entry(code, &check->certificates[i]->entry))
            compare(code, path, &check->certificates[i]->entry, check->ring);
}

enum mb_rc mb_code_see_log(mb_code_check *code, const char *path, const struct mb_log_check *check,
                           struct mb_error *err)
{
    struct mb_entry entry;
    mb_stmt *stmt;
    bool row = false;
    int64_t seq = -1;
    enum mb_rc rc = mb_stmt_make(mb_log_db(check->log), "SELECT seq FROM log WHERE leaf = ?1",
                                 &stmt, err);

    code->compared = true;
    if (rc)
        return rc;
    mb_bind_blob(stmt, 1, code->said.id.b, sizeof code->said.id.b);
    rc = mb_stmt_step(stmt, &row, err);
    if (!rc && row)
        seq = mb_col_int(stmt, 0);
    mb_stmt_free(stmt);
    if (rc || seq < 0)
        return rc;
    rc = mb_log_entry(check->log, code->arena, seq, &entry, err);
    if (!rc && of_entry(code, &entry))
        compare(code, path, &entry, check->ring);
    return rc;
}

static const char *judge(const mb_code_check *code, mb_findings *findings)
{
    static const struct mb_str whole = { NULL, 0 };
    const struct mb_code_said *said = &code->said;

    if (code->compared && !code->path)
        mb_find(findings, MB_F_CODE_DIFFERS, whole, -1,
                "The code is of the certificate %.*s of %.*s, which is in none of these files.",
                MB_STR_ARG(mb_b64u(code->arena, said->id.b, sizeof said->id.b)),
                MB_STR_ARG(said->origin));
    if (code->newer)
        mb_find(findings, MB_F_UNKNOWN_VERSION, whole, -1, "Of the code on the paper: %s.",
                code->newer);
    if (!said->summed)
        return code->newer ? "not checked" : "none";
    if (!said->own)
        mb_find(findings, MB_F_CODE_DIFFERS, whole, -1,
                "The summary in the code is of another certificate than the code names.");
    else if (code->path && !code->fits)
        mb_find(findings, MB_F_CODE_DIFFERS, whole, -1,
                "The summary in the code is not what the certificate's signer signed of it.");
    return !said->own || (code->path && !code->fits) ? "does not fit"
           : code->path                              ? "fits"
                                                     : "not checked";
}

const mb_json *mb_code_end(mb_code_check *code, mb_findings *findings)
{
    const struct mb_code_said *said = &code->said;
    mb_arena *arena = code->arena;
    mb_json *out = mb_json_object(arena);

    mb_json_put(arena, out, "origin", mb_json_string_str(arena, said->origin));
    mb_json_put(arena, out, "certificate",
                mb_json_string_str(arena, mb_b64u(arena, said->id.b, sizeof said->id.b)));
    if (said->summed) {
        char *moment = mb_moment_write(arena, said->summary.iat);

        mb_json_put(arena, out, "subject", mb_json_string_str(arena, said->summary.sub));
        mb_json_put(arena, out, "audience", mb_json_string_str(arena, said->summary.audience));
        mb_json_put_text(arena, out, "issuedOn", mb_arena_copy(arena, moment, 10));
        mb_json_put(arena, out, "says", mb_json_copy(arena, said->summary.says));
    }
    mb_json_put_text(arena, out, "summary", judge(code, findings));
    if (code->path)
        mb_json_put_text(arena, out, "file", code->path);
    return out;
}

mb_json *mb_code_words(mb_arena *arena, enum mb_rc rc)
{
    mb_json *list = mb_json_array(arena);

    mb_json_add_text(arena, list, "Of the code on a sheet alone, without the file.");
    mb_json_add_text(arena, list,
                     rc == MB_NO ? "This does not hold: the parts of the code do not belong"
                                   " together."
                                 : "A claim until the file is checked: anybody can print a code.");
    mb_json_add_text(arena, list,
                     "Ask for the file that the sheet was printed from, and check both together:"
                     " markerbed verify FILE --code TEXT.");
    return list;
}
