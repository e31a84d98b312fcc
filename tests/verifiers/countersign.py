"""The other side's signature over an entry: docs/format.md section 5."""
import re
from entry import thumbprint
from strict import Bad, good_key, need, read_json, signed, unb64

BROKEN = "countersign-broken"


def countersigned(entry):
    """What was signed, with the thumbprint as `kid`; None where the entry holds a paper or a
    message. Bad, where it does not fit."""
    jws = entry.open("jws")
    if jws is None and entry.open("how") != "key":
        return None
    need(isinstance(jws, str) and entry.open("how") == "key", "jws and how", BROKEN)
    try:
        payload = read(jws)
    except Bad as bad:
        name = bad.args[0] if bad.args[0] == "unknown-version" else BROKEN
        raise Bad(name, "entry %d: %s" % (entry.index, bad.args[1])) from None
    need(entry.open("whichEntry", {}).get("entry") == payload["over"], "over another", BROKEN)
    need(entry.open("role") == payload["role"], "in another role", BROKEN)
    return payload


def read(jws):
    parts = jws.split(".")
    need(len(jws) <= 4096 and len(parts) == 3, "no compact JWS")
    signature, header, payload = unb64(parts[2], size=64), *map(read_json, map(unb64, parts[:2]))
    need(isinstance(header, dict) and isinstance(payload, dict), "header and payload: objects")
    need("crit" not in header, "crit", "unknown-version")
    need(isinstance(header.get("alg"), str), "no alg")
    need(header["alg"] in ("EdDSA", "Ed25519"), header["alg"], "unknown-version")
    need(set(header) == {"alg", "kid", "typ"} and header["typ"] == "markerbed-countersign+jwt",
         "its header")
    need(set(payload) == {"iat", "iss", "jwk", "over", "role", "shown"}, "its members")
    kid, raw = thumbprint(payload["jwk"]), unb64(payload["jwk"]["x"])
    need(good_key(raw) and header["kid"] == kid, "its key")
    unb64(payload["over"], size=32)
    unb64(payload["shown"], size=32)
    iss = payload["iss"]
    need(isinstance(payload["role"], str) and type(payload["iat"]) is int and isinstance(iss, str)
         and re.fullmatch("[!-*,-~]{1,255}", iss), "iat, iss or role")
    need(not iss.startswith("key/") or iss == "key/" + kid, "iss names another key")
    need(signed(raw, signature, jws.rpartition(".")[0].encode()), "the signature does not fit")
    return {**payload, "kid": kid}
