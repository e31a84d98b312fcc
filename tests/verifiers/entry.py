"""One entry with what is shown of it: docs/format.md section 2."""
import re
from strict import b64, need, read_json, sha256, unb64

CLASSES = ("sale", "science", "land", "private", "own")
SUBJECT = re.compile(r"ledger|key/[\w-]{43}|(?!key/)[a-z-]+/[A-Za-z0-9][A-Za-z0-9._-]{0,63}", re.A)
MEMBERS = {"v", "_sd_alg", "iss", "iat", "seq", "sub", "nth", "kind", "body"}


def anywhere(value, name):
    """What stands under this member name, however deep in a value."""
    if isinstance(value, dict) and name in value:
        yield value[name]
    if isinstance(value, (dict, list)):
        for part in value.values() if isinstance(value, dict) else value:
            yield from anywhere(part, name)


def thumbprint(jwk):
    need(isinstance(jwk, dict) and set(jwk) == {"kty", "crv", "x"} and jwk["kty"] == "OKP"
         and jwk["crv"] == "Ed25519" and re.fullmatch(r"[\w-]{43}", jwk["x"], re.A)
         and len(unb64(jwk["x"])) == 32, "no Ed25519 JWK", "key-refused")
    return b64(sha256(b'{"crv":"Ed25519","kty":"OKP","x":"%s"}' % jwk["x"].encode()))


class Entry:
    """index, leaf (b64u), sub, kind ...; fields {name: (class, value)} as far as they are shown;
    hidden {digest: class} of the others; digests of all disclosures; salts."""

    def __init__(self, item, origin):
        need(isinstance(item, dict) and set(item) == {"index", "sd_jwt", "proof"}
             and type(item["index"]) is int and isinstance(item["sd_jwt"], str)
             and isinstance(item["proof"], list), "an entry has index, sd_jwt and proof")
        self.jws, *disclosures = item["sd_jwt"].split("~")
        need(disclosures and disclosures.pop() == "" and len(self.jws) < 65536, "no JWS~D~...~")
        self.index, self.proof, parts = item["index"], item["proof"], self.jws.split(".")
        need(len(parts) == 3, "a JWS has three parts")
        self.signature, self.leaf = unb64(parts[2], size=64), b64(sha256(b"\0" + self.jws.encode()))
        header, payload = read_json(unb64(parts[0])), read_json(unb64(parts[1]))
        need(isinstance(header, dict) and isinstance(payload, dict), "header and payload: objects")
        need("crit" not in header, "crit", "unknown-version")
        self.known_word(header, "alg", ("EdDSA", "Ed25519"))
        need(set(header) == {"alg", "kid", "typ"} and header["typ"] == "markerbed-entry+sd-jwt",
             "the header is not alg, kid and typ")
        self.kid = header["kid"]
        unb64(self.kid, size=32)
        self.known_word(payload, "v", (1,))
        self.known_word(payload, "_sd_alg", ("sha-256",))
        links = payload.keys() & {"prev", "prior"}
        need(set(payload) == MEMBERS | links, "the payload has other members")
        for link in links:
            unb64(payload[link], size=32)
        later = {link for link, at in (("prev", "seq"), ("prior", "nth")) if payload[at] != 0}
        need(links == later,
             "prev or prior stands where it may not, or is missing", "broken-link")
        self.iss, self.iat, self.sub = payload["iss"], payload["iat"], payload["sub"]
        self.nth, self.kind, self.prev = payload["nth"], payload["kind"], payload.get("prev")
        self.prior = payload.get("prior")
        need(all(type(payload[n]) is int for n in ("iat", "nth", "seq")), "iat, nth, seq: integers")
        need(payload["seq"] == self.index, "seq is not the index")
        need(isinstance(self.sub, str) and SUBJECT.fullmatch(self.sub), "sub is no subject")
        need(isinstance(self.kind, str) and re.fullmatch("[a-z-]{2,40}", self.kind), "kind")
        need(self.iss == origin, "the entry is of %r" % (self.iss,), "wrong-origin")
        need(isinstance(payload["body"], dict), "body is no object")
        self.read_body(payload["body"], disclosures)

    @staticmethod
    def known_word(where, name, known):
        need(type(where.get(name)) is type(known[0]), "no proper " + name)
        need(where[name] in known, "%s %s" % (name, where[name]), "unknown-version")

    def open(self, name, otherwise=None):
        """An open field, if it is there and of the type of `otherwise`."""
        cls, value = self.fields.get(name, (None, None))
        good = cls == "open" and (otherwise is None or isinstance(value, type(otherwise)))
        return value if good else otherwise

    def read_body(self, body, disclosures):
        self.fields, self.hidden, self.digests, self.salts = {}, {}, [], []
        for name, value in body.items():
            if name in CLASSES:
                need(isinstance(value, dict) and set(value) == {"_sd"} and value["_sd"]
                     and isinstance(value["_sd"], list), "a class is {_sd:[...]}")
                for digest in value["_sd"]:
                    unb64(digest, size=32)
                need(value["_sd"] == sorted(set(value["_sd"])), "_sd is not sorted")
                need(not self.hidden.keys() & set(value["_sd"]), "a digest stands twice")
                self.hidden.update(dict.fromkeys(value["_sd"], name))
        self.known, self.waiting = set(self.hidden), {}
        for text in disclosures:
            need(len(text) <= 1 << 20, "a disclosure is too long")
            digest, parts = b64(sha256(text.encode())), read_json(unb64(text))
            need(digest not in self.waiting, "a disclosure is given twice")
            need(isinstance(parts, list) and len(parts) in (2, 3)
                 and all(isinstance(part, str) for part in parts[:-1]), "no disclosure")
            need(len(parts[0]) >= 22, "a salt is shorter than 22", "weak-salt")
            self.waiting[digest] = parts
            self.digests.append(digest)
            self.salts.append(parts[0])
        for name, value in body.items():
            if name not in CLASSES:
                self.add_field(name, "open", value)
        for digest in [d for d in self.waiting if d in self.hidden]:
            parts = self.waiting.pop(digest)
            need(len(parts) == 3, "a field's disclosure is [salt, name, value]")
            self.add_field(parts[1], self.hidden.pop(digest), parts[2])
        need(not self.waiting, "a disclosure fits no digest", "stray-disclosure")

    def add_field(self, name, cls, value):
        need(re.fullmatch("[ -~]+", name), "a name is not printable ASCII")
        need(name not in CLASSES + ("open", "_sd", "..."), "a field named " + name)
        need(name not in self.fields, "two fields are named " + name)
        if isinstance(value, list):
            value = [part for item in value for part in self.element(item)]
        need(not [*anywhere(value, "_sd"), *anywhere(value, "...")], "_sd or ... in a value")
        self.fields[name] = cls, value

    def element(self, item):
        """[it], or where it is salted by itself, [what its disclosure says] or []."""
        if not isinstance(item, dict) or set(item) != {"..."}:
            return [item]
        digest = item["..."]
        unb64(digest, size=32)
        need(digest not in self.known, "a digest stands twice")
        self.known.add(digest)
        parts = self.waiting.pop(digest, None)
        need(parts is None or len(parts) == 2, "an element's disclosure is [salt, value]")
        return [] if parts is None else parts[1:]
