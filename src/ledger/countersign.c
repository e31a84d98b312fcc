#include "countersign.h"

#include <string.h>

#include "note.h"
#include "text.h"

static enum mb_rc bad(struct mb_error *err, const char *what)
{
    return mb_fail(err, MB_REFUSED, "%s", what);
}

static enum mb_rc part(mb_arena *arena, struct mb_str b64, const mb_json **out,
                       struct mb_error *err)
{
    char *bytes = mb_arena_get(arena, b64.len + 4);
    size_t len;

    if (!mb_b64u_read(b64, bytes, &len))
        return bad(err, "a part of it is not base64url");
    if (mb_json_read(arena, (struct mb_str){ bytes, len }, MB_JSON_STRICT, out, NULL)
        || !mb_json_is(*out, MB_JSON_OBJECT))
        return bad(err, "a part of it is no JSON object");
    return MB_OK;
}

static enum mb_rc read_header(const mb_json *header, struct mb_str *kid, struct mb_error *err)
{
    struct mb_str alg = mb_json_str(mb_json_get(header, "alg"));

    if (mb_json_get(header, "crit"))
        return mb_fail(err, MB_UNABLE, "it has a critical header that this program does not know");
    if (!alg.at)
        return bad(err, "its header names no algorithm");
    if (!mb_str_is(alg, "EdDSA") && !mb_str_is(alg, "Ed25519"))
        return mb_fail(err, MB_UNABLE, "it is signed with an algorithm unknown to this program");
    *kid = mb_json_str(mb_json_get(header, "kid"));
    if (header->count != 3 || !kid->at
        || !mb_json_text_is(mb_json_get(header, "typ"), MB_COUNTERSIGN_TYPE))
        return bad(err, "its header is not alg, kid and typ " MB_COUNTERSIGN_TYPE);
    return MB_OK;
}

static bool iss_ok(const struct mb_countersign *c)
{
    if (mb_str_starts(c->iss, "key/"))
        return c->iss.len == 4 + MB_THUMBPRINT_LEN
               && memcmp(c->iss.at + 4, c->kid, MB_THUMBPRINT_LEN) == 0;
    return c->iss.at && mb_origin_ok(c->iss);
}

static enum mb_rc read_payload(const mb_json *payload, struct mb_countersign *out,
                               struct mb_error *err)
{
    if (!mb_jwk_read(mb_json_get(payload, "jwk"), &out->key) || !mb_key_ok(&out->key))
        return bad(err, "the key inside it is no proper Ed25519 key");
    mb_thumbprint(&out->key, out->kid);
    out->iss = mb_json_str(mb_json_get(payload, "iss"));
    out->role = mb_json_str(mb_json_get(payload, "role"));
    out->iat = mb_json_int(mb_json_get(payload, "iat"), -1);
    if (payload->count != 6 || !iss_ok(out) || !out->role.at || out->iat < 0
        || !mb_b64u_read_exact(mb_json_str(mb_json_get(payload, "over")), out->over.b, 32)
        || !mb_b64u_read_exact(mb_json_str(mb_json_get(payload, "shown")), out->shown.b, 32))
        return bad(err, "it is not iat, iss, jwk, over, role and shown as the format has them");
    return MB_OK;
}

enum mb_rc mb_countersign_read(mb_arena *arena, struct mb_str jws, struct mb_countersign *out,
                               struct mb_error *err)
{
    struct mb_str header, rest, payload, sig, kid, signed_part;
    struct mb_countersign c = { 0 };
    const mb_json *json;
    struct mb_sig bytes;
    enum mb_rc rc;

    if (jws.len > MB_COUNTERSIGN_MAX || !mb_str_cut(jws, '.', &header, &rest)
        || !mb_str_cut(rest, '.', &payload, &sig)
        || !mb_b64u_read_exact(sig, bytes.b, sizeof bytes.b))
        return bad(err, "it is no compact JWS of an Ed25519 signature");
    signed_part = (struct mb_str){ jws.at, header.len + 1 + payload.len };
    rc = part(arena, header, &json, err);
    if (!rc)
        rc = read_header(json, &kid, err);
    if (!rc)
        rc = part(arena, payload, &json, err);
    if (!rc)
        rc = read_payload(json, &c, err);
    if (rc)
        return rc;
    if (!mb_str_is(kid, c.kid))
        return bad(err, "its header names another key than it carries");
    if (!mb_sig_ok(&c.key, signed_part, &bytes))
        return bad(err, "its signature does not fit");
    *out = c;
    return MB_OK;
}

static struct mb_str hash_text(mb_arena *arena, const struct mb_hash *hash)
{
    return mb_b64u(arena, hash->b, sizeof hash->b);
}

struct mb_str mb_countersign_write(mb_arena *arena, const struct mb_countersign *what,
                                   const mb_secret *secret)
{
    mb_json *header = mb_json_object(arena), *payload = mb_json_object(arena);
    const struct mb_key *key = mb_secret_key(secret);
    struct mb_str head, body, text, iss = what->iss;
    char kid[MB_THUMBPRINT_LEN + 1];
    struct mb_sig sig;

    mb_thumbprint(key, kid);
    if (!iss.at)
        iss = mb_str_of(mb_arena_printf(arena, "key/%s", kid));
    mb_json_put_text(arena, header, "alg", "EdDSA");
    mb_json_put_text(arena, header, "kid", kid);
    mb_json_put_text(arena, header, "typ", MB_COUNTERSIGN_TYPE);
    mb_json_put_int(arena, payload, "iat", what->iat);
    mb_json_put(arena, payload, "iss", mb_json_string_str(arena, iss));
    mb_json_put(arena, payload, "jwk", mb_jwk_make(arena, key));
    mb_json_put(arena, payload, "over",
                mb_json_string_str(arena, hash_text(arena, &what->over)));
    mb_json_put(arena, payload, "role", mb_json_string_str(arena, what->role));
    mb_json_put(arena, payload, "shown",
                mb_json_string_str(arena, hash_text(arena, &what->shown)));
    head = mb_json_write(arena, header);
    body = mb_json_write(arena, payload);
    head = mb_b64u(arena, head.at, head.len);
    body = mb_b64u(arena, body.at, body.len);
    text = mb_str_of(mb_arena_printf(arena, "%.*s.%.*s", MB_STR_ARG(head), MB_STR_ARG(body)));
    mb_sign(secret, text, &sig);
    return mb_str_of(mb_arena_printf(arena, "%.*s.%.*s", MB_STR_ARG(text),
                                     MB_STR_ARG(mb_b64u(arena, sig.b, sizeof sig.b))));
}

enum mb_rc mb_countersign_of(mb_arena *arena, const struct mb_entry *entry,
                             struct mb_countersign *out, struct mb_error *err)
{
    struct mb_str jws = mb_json_str(mb_entry_open(entry, "jws"));
    const mb_json *which = mb_json_get(mb_entry_open(entry, "whichEntry"), "entry");
    struct mb_hash over;
    enum mb_rc rc;

    if (!mb_str_is(entry->kind, "countersign")
        || (!jws.at && !mb_json_text_is(mb_entry_open(entry, "how"), "key")))
        return MB_NO;
    if (!jws.at || !mb_json_text_is(mb_entry_open(entry, "how"), "key"))
        return bad(err, "a signature by a key stands just where `how` is `key`");
    rc = mb_countersign_read(arena, jws, out, err);
    if (rc)
        return rc;
    if (!mb_b64u_read_exact(mb_json_str(which), over.b, sizeof over.b)
        || !mb_hash_equal(&over, &out->over))
        return bad(err, "it is over another entry than `whichEntry` names");
    if (!mb_str_equal(mb_json_str(mb_entry_open(entry, "role")), out->role))
        return bad(err, "it was signed in another role than the entry says");
    return MB_OK;
}
