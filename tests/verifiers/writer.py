"""A ledger writer for tests, made from docs/format.md with fixed test keys: it writes proper
entries and certificates, and through its hooks whatever a hostile issuer could write and sign."""
import base64
import hashlib
import json
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from entry import Entry
from statement import Story
from strict import Bad, b64, read_json, sha256, unb64
from verify import AUDIENCES, TABLE, fingerprint, summary

ORIGIN = "ledger.harrowvane.example"
SEEDS = {"checkpoint": bytes(range(32)), "owner": bytes(range(32, 64)),
         "spare": bytes(range(64, 96)), "preparator": bytes(range(96, 128))}
TABLE_LINES = read_json(TABLE.read_bytes())["lines"]
DERIVATION = b64(sha256(TABLE.read_bytes()))
NOON = 1767225600


class Each(list):
    """A list whose elements are salted one by one."""


def secret(name):
    return Ed25519PrivateKey.from_private_bytes(SEEDS.get(name)
                                                or sha256(b"test key " + name.encode()))


def public(name):
    return secret(name).public_key().public_bytes(serialization.Encoding.Raw,
                                                  serialization.PublicFormat.Raw)


def jwk_of(raw):
    return {"crv": "Ed25519", "kty": "OKP", "x": b64(raw)}


def thumb(raw):
    return b64(sha256(b'{"crv":"Ed25519","kty":"OKP","x":"%s"}' % b64(raw).encode()))


def key_id(origin, raw, kind=b"\1"):
    return sha256(origin.encode() + b"\n" + kind + raw)[:4]


def vkey(origin, raw, kind=b"\1"):
    return "%s+%s+%s" % (origin, key_id(origin, raw, kind).hex(), b64(kind + raw, False))


def dumps(value):
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def node(left, right):
    return sha256(b"\1" + left + right)


def root_of(leaves):
    if len(leaves) < 2:
        return leaves[0] if leaves else sha256(b"")
    k = 1 << (len(leaves) - 1).bit_length() - 1
    return node(root_of(leaves[:k]), root_of(leaves[k:]))


def path_of(index, leaves):
    if len(leaves) < 2:
        return []
    k = 1 << (len(leaves) - 1).bit_length() - 1
    if index < k:
        return path_of(index, leaves[:k]) + [root_of(leaves[k:])]
    return path_of(index - k, leaves[k:]) + [root_of(leaves[:k])]


def consistency(m, leaves, whole=True):
    if m == len(leaves):
        return [] if whole else [root_of(leaves)]
    k = 1 << (len(leaves) - 1).bit_length() - 1
    if m <= k:
        return consistency(m, leaves[:k], whole) + [root_of(leaves[k:])]
    return consistency(m - k, leaves[k:], False) + [root_of(leaves[:k])]


def identity_signature(name, message):
    """A signature whose R is the identity, which only the holder of the key can make."""
    half = hashlib.sha512(secret(name).private_bytes(
        serialization.Encoding.Raw, serialization.PrivateFormat.Raw,
        serialization.NoEncryption())).digest()[:32]
    scalar = int.from_bytes(half, "little") & (1 << 254) - 8 | 1 << 254
    order = 2**252 + 27742317777372353535851937790883648493
    r = b"\1" + bytes(31)
    h = int.from_bytes(hashlib.sha512(r + public(name) + message).digest(), "little")
    return r + (h * scalar % order).to_bytes(32, "little")


def founding_fields(origin):
    return {"origin": origin, "name": "Harrow & Vane Preparation",
            "checkpointKey": vkey(origin, public("checkpoint")), "jwk": jwk_of(public("owner"))}


class Ledger:
    def __init__(self, origin=ORIGIN, salts=""):
        self.origin, self.salts = origin, salts
        self.entries, self.tips, self.count, self.clock, self.files = [], {}, 0, NOON, {}
        self.checkpoint_keys = ["checkpoint"]

    # ---- entries ----

    def salt(self):
        self.count += 1
        return b64(sha256(("%s %s %d" % (self.origin, self.salts, self.count)).encode())[:16])

    def disclose(self, parts, cls, out, hook):
        raw = dumps(parts)
        raw = hook(raw) if hook else raw
        text = b64(raw if isinstance(raw, bytes) else raw.encode())
        digest = b64(sha256(text.encode()))
        out.append({"digest": digest, "text": text, "cls": cls,
                    "name": parts[1] if len(parts) == 3 else None})
        return digest

    def body(self, fields, classes, out, hook, salt):
        def value_of(value, cls):
            if isinstance(value, Each):
                return [{"...": self.disclose([salt(), v], cls, out, hook)} for v in value]
            return value
        body = {name: value_of(value, "open") for name, value in fields.items()}
        for cls, named in classes.items():
            body[cls] = {"_sd": sorted(self.disclose([salt(), name, value_of(value, cls)], cls, out,
                                                     hook) for name, value in named.items())}
        return body

    def record(self, sub, kind, fields=None, by="owner", header=None, payload=None, text=None,
               header_text=None, sign=None, disclosure=None, salt=None, seconds=1, **classes):
        """header, payload: change the object; *_text, disclosure: change its JSON; sign: bytes of
        the signed part to a signature."""
        out, seq, nth = [], len(self.entries), len(self.tips.get(sub, []))
        self.clock += seconds
        load = {"v": 1, "_sd_alg": "sha-256", "iss": self.origin, "iat": self.clock, "seq": seq,
                "sub": sub, "nth": nth, "kind": kind,
                "body": self.body(fields or {}, classes, out, disclosure, salt or self.salt)}
        if seq:
            load["prev"] = b64(self.entries[-1]["leaf"])
        if nth:
            load["prior"] = b64(self.tips[sub][-1]["leaf"])
        head = {"alg": "EdDSA", "kid": thumb(public(by)), "typ": "markerbed-entry+sd-jwt"}
        for change, what in (header, head), (payload, load):
            if change:
                change(what)
        parts = []
        for change, what in (header_text, head), (text, load):
            raw = change(dumps(what)) if change else dumps(what)
            parts.append(b64(raw if isinstance(raw, bytes) else raw.encode()))
        signed = ".".join(parts).encode()
        jws = signed.decode() + "." + b64((sign or secret(by).sign)(signed))
        entry = {"seq": seq, "sub": sub, "kind": kind, "jws": jws,
                 "leaf": sha256(b"\0" + jws.encode()), "disclosures": out}
        self.entries.append(entry)
        self.tips.setdefault(sub, []).append(entry)
        return entry

    def found(self, **hooks):
        fields = hooks.pop("fields", None) or founding_fields(self.origin)
        return self.record("ledger", "founding", fields, **hooks)

    def enrol(self, name, may, raw=None, by="owner", holder="party/P001", **hooks):
        raw = raw or public(name)
        return self.record("key/" + thumb(raw), "key-enrolment",
                           {"jwk": jwk_of(raw), "holder": {"ref": holder}, "may": may}, by, **hooks)

    def retire(self, name, by="owner", **fields):
        return self.record("key/" + thumb(public(name)), "key-retirement",
                           {"why": "no longer used", **fields}, by)

    def rotate(self, name, why="rotation", by="owner", raw=None):
        entry = self.record("ledger", "checkpoint-key", {
            "checkpointKey": vkey(self.origin, raw or public(name)), "why": why}, by)
        self.checkpoint_keys.append(name)
        return entry

    # ---- checkpoints and files ----

    def leaves(self, size=None):
        return [e["leaf"] for e in self.entries[:size]]

    def note(self, size=None, keys=None, origin=None, root=None, shown=None):
        size = len(self.entries) if size is None else size
        root = root or root_of(self.leaves(size))
        text = "%s\n%s\n%s\n" % (origin or self.origin, size if shown is None else shown,
                                 b64(root, False))
        return text + "\n" + "".join(self.line(key,
                                               text) for key in keys or self.checkpoint_keys[-1:])

    def line(self, key, text, origin=None):
        origin = origin or self.origin
        return "\u2014 %s %s\n" % (origin, b64(
            key_id(origin, public(key)) + secret(key).sign(text.encode()), False))

    def item(self, entry, shown, size):
        return {"index": entry["seq"], "proof": [b64(h, False) for h in
                                                 path_of(entry["seq"], self.leaves(size))],
                "sd_jwt": "~".join([entry["jws"]] + [d["text"] for d in shown]) + "~"}

    def anchor(self, size, of, **how):
        low, high = sorted((size, of))
        return {"checkpoint": self.note(size, **how), "consistency": [
            b64(h, False) for h in consistency(low, self.leaves(high))]}

    def statement(self, items, specimen):
        try:
            entries = [Entry(item, self.origin) for item in items]
            return Story(entries, len(self.entries)).lines(TABLE_LINES, specimen)
        except (AttributeError, Bad, KeyError, TypeError):
            return []

    def certify(self, specimens=("specimen/HV-26-0001",), audience="buyer", hide=(), reveal=(),
                withhold=(), said=True, lines=None, leave=("specimen/HV-26-0002",), cut=None,
                fields=None, to="bearer", foreign=None, keep=None, own=None, by="owner", **hooks):
        """Issues a certificate. hide: names of fields not shown, without a word; withhold: said."""
        classes = AUDIENCES[audience]
        chosen = [e for e in self.entries if e["sub"] not in leave and (not keep or keep(e))]

        def shown_of(entry):
            return [d for d in entry["disclosures"]
                    if (d["cls"] in classes or d["cls"] == "open" or d["name"] in reveal)
                    and d["name"] not in hide and d["name"] not in withhold
                    and not (cut and cut(entry, d))]
        size = len(self.entries)
        items = [self.item(e, shown_of(e), size) for e in chosen]
        listed = [{"digest": d["digest"], "reason": "landowner's request"} for e in chosen
                  for d in e["disclosures"] if d["name"] in withhold and said]
        outs, bodies = [], []
        for specimen in specimens:
            worked_out = self.statement(items, specimen)
            worked_out = lines(worked_out) if lines else worked_out
            out = []
            bodies.append(self.body({}, {"own": {"to": to, "statement": {"lines": worked_out},
                                                 **(own or {})}}, out, None, self.salt))
            outs.append(out)
        inner = [b64(sha256(d.encode())) for f in foreign or [] for d in all_disclosures(f)]
        open_fields = {
            "audience": audience, "derivation": DERIVATION, "withheld": listed,
            "held": summary(b64(e["leaf"]) for e in chosen),
            "shown": summary([d["digest"] for e in chosen for d in shown_of(e)] + inner
                             + [d["digest"] for out in outs for d in out]), **(fields or {})}
        last = []
        for specimen, body, out in zip(specimens, bodies, outs):
            entry = self.record(specimen, "certificate", {**open_fields, **body}, by, **hooks)
            entry["disclosures"] = out
            last.append(entry)
        size = len(self.entries)
        file = {"format": "markerbed-certificate/1", "origin": self.origin,
                "checkpoint": self.note(),
                "entries": [self.item(e, shown_of(e), size) for e in chosen]
                + [self.item(e, e["disclosures"], size) for e in last]}
        named = {name: content for name, content in self.files.items()
                 if any('"%s"' % name in unb64(d["text"]).decode("utf-8", "replace")
                        for e in chosen for d in shown_of(e))}
        if named:
            file["files"] = {n: base64.b64encode(c).decode() for n, c in named.items()}
        if foreign:
            file["foreign"] = foreign
        return file

    def fingerprint(self):
        return fingerprint(b64(self.entries[0]["leaf"]))

    def trust(self):
        return "ledger %s %s\n" % (self.origin, self.fingerprint())


def all_disclosures(file):
    return [d for e in file["entries"] for d in e["sd_jwt"].split("~")[1:-1]] + [
        d for other in file.get("foreign", []) for d in all_disclosures(other)]
