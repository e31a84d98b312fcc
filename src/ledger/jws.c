#include "jws.h"

#include <string.h>

#include "text.h"

static struct mb_str base64url(mb_arena *arena, const mb_json *json)
{
    struct mb_str text = mb_json_write(arena, json);

    return mb_b64u(arena, text.at, text.len);
}

struct mb_str mb_jws_compact(mb_arena *arena, const mb_json *header, const mb_json *payload,
                             const mb_secret *secret)
{
    struct mb_str head = base64url(arena, header), body = base64url(arena, payload), text;
    struct mb_sig sig;

    text = mb_str_of(mb_arena_printf(arena, "%.*s.%.*s", MB_STR_ARG(head), MB_STR_ARG(body)));
    mb_sign(secret, text, &sig);
    return mb_str_of(mb_arena_printf(arena, "%.*s.%.*s", MB_STR_ARG(text),
                                     MB_STR_ARG(mb_b64u(arena, sig.b, sizeof sig.b))));
}

struct mb_str mb_jws_sign(mb_arena *arena, const char *typ, const mb_json *payload,
                          const mb_secret *secret)
{
    mb_json *header = mb_json_object(arena);
    char kid[MB_THUMBPRINT_LEN + 1];

    mb_thumbprint(mb_secret_key(secret), kid);
    mb_json_put_text(arena, header, "alg", "EdDSA");
    mb_json_put_text(arena, header, "kid", kid);
    mb_json_put_text(arena, header, "typ", typ);
    return mb_jws_compact(arena, header, payload, secret);
}

const mb_json *mb_jws_part(mb_arena *arena, struct mb_str b64)
{
    char *bytes = mb_arena_get(arena, b64.len + 4);
    struct mb_str text = { bytes, 0 };
    const mb_json *json;

    if (!mb_b64u_read(b64, bytes, &text.len)
        || mb_json_read(arena, text, MB_JSON_STRICT, &json, NULL)
        || !mb_json_is(json, MB_JSON_OBJECT))
        return NULL;
    return json;
}

enum mb_rc mb_jws_read(mb_arena *arena, struct mb_str text, const char *typ, struct mb_jws *out,
                       struct mb_error *err)
{
    struct mb_str head, body, sig;
    struct mb_jws jws;
    const mb_json *header;

    if (!mb_str_cut(text, '.', &head, &body) || !mb_str_cut(body, '.', &body, &sig)
        || !mb_b64u_read_exact(sig, jws.sig.b, sizeof jws.sig.b))
        return mb_fail(err, MB_REFUSED, "it is no compact JWS");
    header = mb_jws_part(arena, head);
    jws.payload = mb_jws_part(arena, body);
    jws.kid = mb_json_str(mb_json_get(header, "kid"));
    jws.signed_part = (struct mb_str){ text.at, text.len - sig.len - 1 };
    if (!header || header->count != 3 || !jws.kid.at || !jws.payload
        || !mb_json_text_is(mb_json_get(header, "typ"), typ)
        || !(mb_json_text_is(mb_json_get(header, "alg"), "EdDSA")
             || mb_json_text_is(mb_json_get(header, "alg"), "Ed25519")))
        return mb_fail(err, MB_REFUSED, "it is no JWS of the type %s", typ);
    *out = jws;
    return MB_OK;
}
