#!/usr/bin/python3
"""A verifier of entries and certificates that shares nothing with the program: written from the
format's description alone, on Python's own hashlib and json and on pyca/cryptography.

    judge.py entries FILE        one entry a line, "JWS~D1~...~Dn~", from entry 0 on without a gap
    judge.py certificate FILE    a certificate

Prints one line a fault and ends with 1 if there is any; else a line of what was looked at.
"""
import base64
import hashlib
import json
import re
import sys

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

CLASSES = ("sale", "science", "land", "private", "own")
SEEN_BY = {"public": (), "buyer": ("sale",), "institution": ("sale", "science", "land"),
           "auditor": ("sale", "land")}
SAFE = 2 ** 53 - 1


class Fault(Exception):
    pass


def must(holds, what):
    if not holds:
        raise Fault(what)


def sha256(data):
    return hashlib.sha256(data).digest()


def to_url(data):
    return base64.urlsafe_b64encode(data).decode().rstrip("=")


def from_url(text, length=None):
    must(re.fullmatch(r"[A-Za-z0-9_-]*", text), f"no base64url: {text[:40]}")
    data = base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
    must(to_url(data) == text, f"stray bits: {text[:40]}")
    must(length is None or len(data) == length, f"not {length} bytes: {text[:40]}")
    return data


def from_padded(text, length):
    data = base64.b64decode(text, validate=True)
    must(base64.b64encode(data).decode() == text and len(data) == length, f"no hash: {text[:50]}")
    return data


def once(pairs):
    names = [name for name, _ in pairs]
    must(len(set(names)) == len(names), "a member stands twice")
    return dict(pairs)


def no_float(text):
    raise Fault(f"the number {text}")


def integer(text):
    must(re.fullmatch(r"0|[1-9][0-9]*", text) and int(text) <= SAFE, f"the number {text}")
    return int(text)


def read_json(data):
    return json.loads(data.decode("utf-8"), object_pairs_hook=once, parse_float=no_float,
                      parse_int=integer, parse_constant=no_float)


def canonical(value):
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def leaf_hash(data):
    return sha256(b"\0" + data)


def node_hash(left, right):
    return sha256(b"\1" + left + right)


def thumbprint(x):
    return to_url(sha256(b'{"crv":"Ed25519","kty":"OKP","x":"' + x.encode() + b'"}'))


def verifies(key, signature, message):
    try:
        Ed25519PublicKey.from_public_bytes(key).verify(signature, message)
        return True
    except InvalidSignature:
        return False


class Entry:
    """One SD-JWT (RFC 9901) taken apart; .fields is name -> (class, value) of what can be seen."""

    def __init__(self, sd_jwt):
        must(sd_jwt.endswith("~"), "no ~ at the end")
        self.jws, *self.disclosures = sd_jwt[:-1].split("~")
        must(len(self.jws) <= 65535, "longer than 65,535 bytes")
        parts = self.jws.split(".")
        must(len(parts) == 3, "not three parts")
        self.signed = (parts[0] + "." + parts[1]).encode()
        self.signature = from_url(parts[2], 64)
        self.leaf = leaf_hash(self.jws.encode())
        header, payload = from_url(parts[0]), from_url(parts[1])
        self.header, self.payload = read_json(header), read_json(payload)
        must(canonical(self.header) == header, "the header has another order or blanks")
        must(canonical(self.payload) == payload, "the payload has another order or blanks")
        must(set(self.header) == {"alg", "kid", "typ"}, "header members")
        must(self.header["typ"] == "markerbed-entry+sd-jwt", "typ")
        must(self.header["alg"] in ("EdDSA", "Ed25519"), "alg")
        members = {"v", "iss", "iat", "seq", "sub", "nth", "kind", "_sd_alg", "body"}
        must(members <= set(self.payload) <= members | {"prev", "prior"}, "payload members")
        must(self.payload["v"] == 1 and self.payload["_sd_alg"] == "sha-256", "v or _sd_alg")
        must(("prev" in self.payload) == (self.seq > 0), "prev")
        must(("prior" in self.payload) == (self.nth > 0), "prior")
        self.slots, self.shown, self.fields = {}, {}, {}
        self.disclose()

    seq = property(lambda self: self.payload["seq"])
    nth = property(lambda self: self.payload["nth"])
    sub = property(lambda self: self.payload["sub"])
    kind = property(lambda self: self.payload["kind"])
    kid = property(lambda self: self.header["kid"])

    def slot(self, digest, cls, element):
        from_url(digest, 32)
        must(digest not in self.slots, "a digest stands twice")
        self.slots[digest] = (cls, element)

    def disclose(self):
        arrays = {}
        for text in self.disclosures:
            array = read_json(from_url(text))
            must(isinstance(array, list) and len(array) in (2, 3), "form of a disclosure")
            must(len(from_url(array[0])) >= 16, "a salt under 128 bits")
            digest = to_url(sha256(text.encode()))
            must(digest not in arrays, "a disclosure stands twice")
            arrays[digest] = array
        for name, value in self.payload["body"].items():
            if name in CLASSES:
                must(set(value) == {"_sd"} and value["_sd"] == sorted(set(value["_sd"])), name)
                for digest in value["_sd"]:
                    self.slot(digest, name, False)
        for name, value in self.payload["body"].items():
            if name not in CLASSES:
                self.fields[name] = ("open", self.opened(value, "open", arrays))
        for digest, (cls, element) in list(self.slots.items()):
            if digest in arrays and not element:
                _, name, value = arrays[digest]
                must(name not in self.fields and name not in CLASSES, f"{name} stands twice")
                self.shown[digest] = cls
                self.fields[name] = (cls, self.opened(value, cls, arrays))
        must(set(arrays) == set(self.shown), "a disclosure that the entry does not hold")

    def opened(self, value, cls, arrays):
        if not isinstance(value, list):
            return value
        out = []
        for item in value:
            if not (isinstance(item, dict) and set(item) == {"..."}):
                out.append(item)
                continue
            self.slot(item["..."], cls, True)
            if item["..."] in arrays:
                must(len(arrays[item["..."]]) == 2, "a list element with a name")
                self.shown[item["..."]] = cls
                out.append(arrays[item["..."]][1])
        return out

    def open(self, name):
        return self.payload["body"].get(name)


class Keys:
    """Who may sign what, as the entries say it (only what this judge needs of it)."""

    def __init__(self):
        self.keys, self.checkpoints = {}, []

    def take(self, e):
        if e.kind == "founding":
            must(e.seq == 0 and e.sub == "ledger" and e.open("origin") == e.payload["iss"],
                 "founding")
            self.add(e, None)
            self.checkpoints.append((e.seq, e.open("checkpointKey")))
        must(e.kid in self.keys, f"entry {e.seq}: unknown key")
        key, may, retired = self.keys[e.kid]
        must(retired is None, f"entry {e.seq}: retired key")
        enrols = may is None or "enrol" in may
        about_keys = e.kind in ("key-enrolment", "key-retirement", "checkpoint-key")
        own = e.kind == "key-retirement" and e.sub == "key/" + e.kid
        must(own or (enrols if about_keys else may is None or e.kind in may),
             f"entry {e.seq}: no right to {e.kind}")
        must(verifies(key, e.signature, e.signed), f"entry {e.seq}: signature")
        if e.kind == "key-enrolment":
            must(e.sub == "key/" + thumbprint(e.open("jwk")["x"]), "enrolled under another name")
            self.add(e, e.open("may"))
        elif e.kind == "key-retirement":
            self.keys[e.sub[4:]][2] = e.seq
        elif e.kind == "checkpoint-key":
            self.checkpoints.append((e.seq, e.open("checkpointKey")))

    def add(self, e, may):
        jwk = e.open("jwk")
        must(set(jwk) == {"crv", "kty", "x"} and jwk["kty"] == "OKP", "jwk")
        self.keys[thumbprint(jwk["x"])] = [from_url(jwk["x"], 32), may, None]

    def checkpoint_key(self, size):
        return [vkey for seq, vkey in self.checkpoints if seq < size][-1]


def read_checkpoint(note, vkey):
    """(origin, size, root) of a C2SP checkpoint that this key signed."""
    text, _, lines = note.rpartition("\n\n")
    text += "\n"
    name, hexid, key = vkey.split("+", 2)
    key = base64.b64decode(key, validate=True)
    must(key[0] == 1 and len(key) == 33, "vkey")
    must(sha256(name.encode() + b"\n" + key)[:4].hex() == hexid, "the hash of the vkey")
    signed = False
    for line in lines.strip("\n").split("\n"):
        dash, who, sig = line.split(" ")
        sig = base64.b64decode(sig, validate=True)
        if dash == "\u2014" and who == name and sig[:4].hex() == hexid:
            must(verifies(key[1:], sig[4:], text.encode()), "the checkpoint's signature")
            signed = True
    must(signed, "the checkpoint is not signed by the key in force")
    origin, size, root = text.rstrip("\n").split("\n")
    must(origin == name and str(int(size)) == size, "the checkpoint's lines")
    return origin, int(size), from_padded(root, 32)


def root_of(leaves):
    """RFC 6962 section 2.1, as it is defined."""
    if not leaves:
        return sha256(b"")
    if len(leaves) == 1:
        return leaves[0]
    k = 1
    while 2 * k < len(leaves):
        k *= 2
    return node_hash(root_of(leaves[:k]), root_of(leaves[k:]))


def included(index, size, leaf, path, root):
    """RFC 9162 section 2.1.3.2."""
    if index >= size:
        return False
    fn, sn, r = index, size - 1, leaf
    for p in path:
        if sn == 0:
            return False
        if fn & 1 or fn == sn:
            r = node_hash(p, r)
            while not fn & 1 and fn:
                fn, sn = fn >> 1, sn >> 1
        else:
            r = node_hash(r, p)
        fn, sn = fn >> 1, sn >> 1
    return sn == 0 and r == root


def chains(entries):
    """Each subject's chain whole, each link the hash of the entry before."""
    heads, by_seq = {}, {}
    for e in entries:
        before = heads.get(e.sub)
        must(e.nth == (before.nth + 1 if before else 0), f"entry {e.seq}: a hole before it")
        must(not before or from_url(e.payload["prior"]) == before.leaf, f"entry {e.seq}: prior")
        if e.seq - 1 in by_seq:
            must(from_url(e.payload["prev"]) == by_seq[e.seq - 1].leaf, f"entry {e.seq}: prev")
        heads[e.sub], by_seq[e.seq] = e, e
    times = [e.payload["iat"] for e in entries]
    must(times == sorted(times), "the clock runs backwards")


def digest_of_set(hashes):
    return to_url(sha256("\n".join(sorted(to_url(h) for h in hashes)).encode()))


def judge_entries(path):
    with open(path, encoding="utf-8") as lines:
        entries = [Entry(line.rstrip("\n")) for line in lines]
    keys = Keys()
    must([e.seq for e in entries] == list(range(len(entries))), "the numbers of the entries")
    for e in entries:
        keys.take(e)
    chains(entries)
    shown = sum(len(e.shown) for e in entries)
    print(len(entries), shown, root_of([e.leaf for e in entries]).hex())


def judge_certificate(path):
    with open(path, "rb") as f:
        bundle = read_json(f.read())
    must({"format", "origin", "checkpoint", "entries"} <= set(bundle)
         <= {"format", "origin", "checkpoint", "entries", "files", "anchors", "foreign"}, "members")
    must(bundle["format"] == "markerbed-certificate/1", "format")
    entries, keys = [], Keys()
    for item in bundle["entries"]:
        must(set(item) == {"index", "sd_jwt", "proof"}, "members of an entry")
        e = Entry(item["sd_jwt"])
        must(e.seq == item["index"] and e.payload["iss"] == bundle["origin"], "index or iss")
        keys.take(e)
        entries.append(e)
    must(all(a.seq < b.seq for a, b in zip(entries, entries[1:])), "order")
    chains(entries)
    last = entries[-1]
    origin, size, root = read_checkpoint(bundle["checkpoint"], keys.checkpoint_key(last.seq + 1))
    must(origin == bundle["origin"] and size == last.seq + 1, "the checkpoint's origin or size")
    for e, item in zip(entries, bundle["entries"]):
        path = [from_padded(h, 32) for h in item["proof"]]
        must(included(e.seq, size, e.leaf, path, root), f"entry {e.seq} is not in the tree")
    own = 1
    while own < len(entries) and entries[-own - 1].kind == "certificate" \
            and entries[-own - 1].seq == last.seq - own \
            and entries[-own - 1].open("held") == last.open("held"):
        own += 1
    must(last.kind == "certificate" and last.sub.startswith("specimen/"), "no certificate")
    judge_whole(bundle, entries, own)
    for name, data in bundle.get("files", {}).items():
        must(sha256(base64.b64decode(data, validate=True)).hex() == name, f"file {name}")
    print(len(entries), sum(len(e.shown) for e in entries), last.open("audience"))


def judge_whole(bundle, entries, own):
    """held, shown, and that nothing of the audience is kept back in silence."""
    last = entries[-1]
    must(last.open("held") == digest_of_set([e.leaf for e in entries[:-own]]), "held")
    digests = [sha256(d.encode()) for e in entries for d in e.disclosures]
    for inner in bundle.get("foreign", []):
        digests += [sha256(d.encode()) for item in inner["entries"]
                    for d in item["sd_jwt"].split("~")[1:-1]]
    must(last.open("shown") == digest_of_set(digests), "shown")
    withheld = {w["digest"] for e in entries[-own:] for w in e.open("withheld")}
    erased = {d for e in entries if e.kind == "erasure" for d in e.open("digests")}
    for e in entries:
        sees = SEEN_BY[last.open("audience")] + (("own",) if e in entries[-own:] else ())
        for digest, (cls, element) in e.slots.items():
            must(element or cls not in sees or digest in e.shown or digest in withheld
                 or digest in erased, f"entry {e.seq} keeps back something of class {cls}")


def main():
    form, path = sys.argv[1:]
    try:
        {"entries": judge_entries, "certificate": judge_certificate}[form](path)
    except (Fault, ValueError, KeyError, TypeError, AttributeError) as e:
        print(f"fault: {type(e).__name__}: {e}")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
