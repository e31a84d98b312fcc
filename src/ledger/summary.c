#include "summary.h"

#include "bundle.h"
#include "jws.h"
#include "note.h"
#include "text.h"

struct mb_str mb_summary_write(mb_arena *arena, const struct mb_summary *what,
                               const mb_secret *secret)
{
    mb_json *header = mb_json_object(arena), *payload = mb_json_object(arena);

    mb_json_put_text(arena, header, "alg", "EdDSA");
    mb_json_put_text(arena, header, "typ", MB_SUMMARY_TYPE);
    mb_json_put(arena, payload, "aud", mb_json_string_str(arena, what->audience));
    mb_json_put(arena, payload, "crt",
                mb_json_string_str(arena, mb_b64u(arena, what->crt.b, sizeof what->crt.b)));
    mb_json_put_int(arena, payload, "iat", what->iat);
    mb_json_put(arena, payload, "iss", mb_json_string_str(arena, what->iss));
    mb_json_put(arena, payload, "says", mb_json_copy(arena, what->says));
    mb_json_put(arena, payload, "sub", mb_json_string_str(arena, what->sub));
    return mb_jws_compact(arena, header, payload, secret);
}

static enum mb_rc read_header(const mb_json *header, struct mb_error *err)
{
    struct mb_str alg = mb_json_str(mb_json_get(header, "alg"));

    if (!header)
        return mb_fail(err, MB_REFUSED, "its header is no JSON object in base64url");
    if (mb_json_get(header, "crit"))
        return mb_fail(err, MB_UNABLE,
                       "it has a critical header that this program does not know");
    if (!alg.at || header->count != 2
        || !mb_json_text_is(mb_json_get(header, "typ"), MB_SUMMARY_TYPE))
        return mb_fail(err, MB_REFUSED, "its header is not alg and typ " MB_SUMMARY_TYPE);
    if (!mb_str_is(alg, "EdDSA") && !mb_str_is(alg, "Ed25519"))
        return mb_fail(err, MB_UNABLE, "it is signed with an algorithm unknown to this program");
    return MB_OK;
}

static bool says_ok(const mb_json *says)
{
    if (!mb_json_is(says, MB_JSON_ARRAY) || says->count > MB_SUMMARY_LINES)
        return false;
    MB_JSON_EACH(text, says)
    {
        if (!mb_json_str(text).at)
            return false;
    }
    return true;
}

static enum mb_rc read_payload(const mb_json *payload, struct mb_summary *out,
                               struct mb_error *err)
{
    enum mb_audience audience;

    if (!payload)
        return mb_fail(err, MB_REFUSED, "its payload is no JSON object in base64url");
    out->audience = mb_json_str(mb_json_get(payload, "aud"));
    out->iss = mb_json_str(mb_json_get(payload, "iss"));
    out->sub = mb_json_str(mb_json_get(payload, "sub"));
    out->iat = mb_json_int(mb_json_get(payload, "iat"), -1);
    out->says = mb_json_get(payload, "says");
    if (payload->count != 6 || !out->iss.at || !mb_origin_ok(out->iss) || !out->sub.at
        || !mb_is_specimen(out->sub) || !mb_subject_ok(out->sub) || out->iat < 0
        || !out->audience.at || !mb_audience_of(out->audience, &audience) || !says_ok(out->says)
        || !mb_b64u_read_exact(mb_json_str(mb_json_get(payload, "crt")), out->crt.b, 32))
        return mb_fail(err, MB_REFUSED,
                       "it is not aud, crt, iat, iss, says and sub as the format has them");
    return MB_OK;
}

enum mb_rc mb_summary_read(mb_arena *arena, struct mb_str jws, struct mb_summary *out,
                           struct mb_error *err)
{
    struct mb_str head, body, sig;
    enum mb_rc rc;

    if (jws.len > MB_SUMMARY_MAX || !mb_str_cut(jws, '.', &head, &body)
        || !mb_str_cut(body, '.', &body, &sig)
        || !mb_b64u_read_exact(sig, out->sig.b, sizeof out->sig.b))
        return mb_fail(err, MB_REFUSED, "it is no compact JWS of an Ed25519 signature");
    rc = read_header(mb_jws_part(arena, head), err);
    if (!rc)
        rc = read_payload(mb_jws_part(arena, body), out, err);
    out->signed_part = (struct mb_str){ jws.at, head.len + 1 + body.len };
    return rc;
}

bool mb_summary_signed_by(const struct mb_summary *summary, const struct mb_key *key)
{
    return mb_sig_ok(key, summary->signed_part, &summary->sig);
}
