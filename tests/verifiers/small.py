#!/usr/bin/env python3
"""A short verifier, from docs/format.md alone (s.: its sections); verify.py knows every odd case.
small.py TRUST FILE...: exit 0 each holds, 1 one does not, 3 not to the end, as with certificates
of other ledgers inside, which are verify.py's."""
import base64, hashlib, json, pathlib, sys
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey as PublicKey

CLASSES = "sale science land private own".split()
SEES = {"public": "", "buyer": "sale", "auditor": "sale land", "institution": "sale science land"}
OWN = """target action changesFacts why movedTo explanation explanationForSale explanationForScience
explanationForLand batch""".split()
NEVER = """founding checkpoint-key key-enrolment key-retirement certificate withdrawal countersign
division joining erasure""".split()
TABLE = (pathlib.Path(__file__).resolve().parents[2] / "schema/statement.json").read_bytes()
HIDDEN = object()  # s. 7: unknowable

def need(holds, name):
    if not holds: raise ValueError(name)
sha = lambda data: hashlib.sha256(data).digest()
b64u = lambda data: base64.urlsafe_b64encode(data).decode().rstrip("=")
summary = lambda hashes: b64u(sha("\n".join(sorted(hashes)).encode()))
def unb64u(text):
    data = base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
    need(b64u(data) == text, "malformed")
    return data
pairs = lambda items: need(len(dict(items)) == len(items), "malformed") or dict(items)
def read(text):  # s. 1, JSON
    return json.loads(text, object_pairs_hook=pairs, parse_float=lambda _: need(0, "malformed"))
def within(value, name):  # every value of a member of that name, at any depth
    if isinstance(value, (tuple, list, dict)):
        for key, part in value.items() if isinstance(value, dict) else enumerate(value):
            yield from [part] if key == name else ()
            yield from within(part, name)
flat = lambda values: [p for v in values for p in (flat(v) if isinstance(v, list) else [v])]
class Entry:  # s. 2
    def __init__(self, item):
        self.index, self.proof = item["index"], item["proof"]
        self.jws, *shown, end = item["sd_jwt"].split("~")
        head, body, signature = self.jws.split(".")
        self.says, self.signature = read(unb64u(body)), unb64u(signature)
        self.kid, self.leaf = read(unb64u(head))["kid"], sha(b"\0" + self.jws.encode())
        self.sub, self.kind, body = self.says["sub"], self.says["kind"], self.says["body"]
        need(self.says["v"] == 1 and self.says["_sd_alg"] == "sha-256", "unknown-version")
        need(end == "" and self.says["seq"] == self.index, "malformed")
        self.id, self.fields = b64u(self.leaf), {}
        self.shown = {b64u(sha(d.encode())): read(unb64u(d)) for d in shown}
        self.hidden = {d: c for c in CLASSES if c in body for d in body[c]["_sd"]}
        left, fields = dict(self.shown), [("open", n, body[n]) for n in set(body) - set(CLASSES)]
        fields += [(self.hidden.pop(d), *left.pop(d)[1:]) for d in set(self.hidden) & set(left)]
        for cls, name, value in fields:
            need(name not in self.fields, "malformed")
            if isinstance(value, list):  # elements may be salted one by one
                value = [part for v in value for part in (left.pop(v["..."], [0])[1:]
                         if isinstance(v, dict) and "..." in v else [v])]
            self.fields[name] = cls, value
        need(not left and all(len(d[0]) >= 22 for d in self.shown.values()), "stray-disclosure")
    get = lambda self, name: self.fields.get(name, (0, None))[1]
def root_of(node, at, size, proof):  # RFC 9162, 2.1.3, from the root down
    if size == 1:
        return node if not proof else None
    half, other = 1 << (size - 1).bit_length() - 1, base64.b64decode(proof[-1])
    if at < half:
        return sha(b"\1" + root_of(node, at, half, proof[:-1]) + other)
    return sha(b"\1" + other + root_of(node, at - half, size - half, proof[:-1]))
signed = lambda key, made, text: PublicKey.from_public_bytes(key).verify(made, text.encode())
class Keys:  # s. 4
    people, checkpoint = None, None
    def take(self, e):
        jwk, keeping = e.get("jwk"), e.kind in ("key-enrolment", "key-retirement", "checkpoint-key")
        need((e.kind == "founding") == (e.index == 0), "second-founding")
        if not self.people:
            self.people = {e.kid: {"key": unb64u(jwk["x"]), "may": None}}
        signer = self.people.get(e.kid)
        need(signer and "over" not in signer, "key-unknown")
        signed(signer["key"], e.signature, e.jws.rpartition(".")[0])
        may, own = signer["may"], e.kind == "key-retirement" and e.sub == "key/" + e.kid
        need(may is None or own or ("enrol" if keeping else e.kind) in may, "key-without-right")
        if e.kind == "key-enrolment":
            need(e.sub == "key/" + b64u(sha(json.dumps(jwk, sort_keys=True, separators=(
                ",", ":")).encode())) and e.sub[4:] not in self.people, "key-refused")
            self.people[e.sub[4:]] = {"key": unb64u(jwk["x"]), "may": e.get("may")}
        if e.kind == "key-retirement":
            self.people[e.sub[4:]]["over"] = need(e.get("suspectFrom") is None, "key-suspect")
        self.checkpoint = e.get("checkpointKey") if e.sub == "ledger" else self.checkpoint
    def root(self, note, origin, size):  # s. 3: signed by the key in force
        text, lines = note.rsplit("\n\n", 1)
        (name, number, key), root = self.checkpoint.split("+", 2), text.split("\n")[2:]
        need(text.split("\n")[:2] == [origin, str(size)] and len(root) == 1, "size-differs")
        data = [base64.b64decode(line.split(" ")[2]) for line in lines.split("\n") if name in line]
        data = [d[4:] for d in data if d[:4].hex() == number]
        signed(base64.b64decode(key)[1:], data[0], text + "\n")
        return base64.b64decode(root[0])
class Story:  # s. 5 and 7
    def __init__(self, entries):
        at, self.void, self.fixes = {e.id: e for e in entries}, set(), {}
        self.entries = list(at.values())
        for e in [e for e in self.entries if e.kind == "correction"][::-1]:
            to = at.get((e.get("target") or {}).get("entry"))
            if e.id in self.void or not to or to.sub != e.sub or to.kind in NEVER:
                continue
            voids = e.get("action").startswith("void")
            self.void.update([to.id] if voids else [])
            self.fixes.setdefault(to.id, []).extend([] if voids or to.kind == e.kind else [e])
    def of(self, sub, kinds):
        return [e for e in self.entries if (e.sub == sub and e.kind in kinds) > (e.id in self.void)]
    def value(self, e, cls, name):
        fixes = self.fixes.get(e.id, [])
        if any(cls in f.hidden.values() for f in fixes): return HIDDEN
        said = [f for f in fixes + [e] if f.fields.get(name, ("",))[0] in (cls, "open")
                and (f is e or name not in OWN)][:1]
        found = [(f.get(name), f.id) for f in said if f is e or f.get(name) is not None]
        return found[0] if found else HIDDEN if cls in e.hidden.values() else None
    def first(self, entries, cls, name):
        found = [v for v in (self.value(e, cls, name) for e in entries) if v][:1]
        return found[0] if found and found[0] is not HIDDEN else None
    def named(self, value, used):
        if isinstance(value, list):
            return [self.named(part, used) for part in value]
        party = self.of(value.get("ref") if isinstance(value, dict) else None, ["party"])[::-1]
        said = self.first(party, "science", "name") or self.first(party, "sale", "neutralLabel")
        used += said[1:] if said else []
        return said[0] if said else value
    def work_out(self, row, es):
        op, cls, columns = row["op"], row.get("class"), row.get("columns", [row.get("field")])
        if op == "count": return len(es), [e.id for e in es]
        if op in ("first", "latest"):
            said = self.first(es[::-1] if op == "latest" else es, cls, row["field"])
            return said and (said[0], [said[1]])
        found = [(e, {c: self.value(e, cls, c) for c in columns}) for e in es]
        if op == "rows":
            found = [(e, {c: v for c, v in r.items() if v not in (None, HIDDEN)}) for e, r in found]
            used = [i for e, r in found if r for i in [*(v[1] for v in r.values()), e.id]]
            return used and ([{c: v[0] for c, v in r.items()} for _, r in found if r], used)
        said = [v for _, r in found for v in r.values() if v]
        if not said or HIDDEN in said or op == "sum" and any(type(v[0]) is not int for v in said):
            return None
        each = {json.dumps(v, sort_keys=True): v for v in flat(v[0] for v in said)}
        return sum(v[0] for v in said) if op == "sum" else [*each.values()], [v[1] for v in said]
    def line(self, row, sub):
        how, known = row.get("follow"), {e.sub for e in self.entries}
        to = [({"ref": sub}, None)] if not how else [
            self.first(self.of(sub, how["of"])[::-1], how["class"], n) for n in how["fields"]]
        to = [v for v in to if v and isinstance(v[0], dict) and v[0].get("ref") in known][:1]
        es = self.of(to[0][0]["ref"], row["of"]) if to else []
        found = to and self.work_out(row, es)
        if not found and (not to or "else" not in row or es):
            return None
        value, used = found or ({"answer": row["else"]}, [])
        used = [i for i in [to[0][1], *used] if i]
        value = self.named(value, used) if row.get("party") and found else value
        unit = {} if isinstance(value, dict) and "answer" in value else {"unit": row.get("unit")}
        return {"name": row["name"], "value": value, "from": [*dict.fromkeys(used)],
                **(unit if "unit" in row else {})}
def check(data, trust):  # s. 6
    need(data["format"] == "markerbed-certificate/1" and "foreign" not in data, "unknown-version")
    es, keys, chains, table = [Entry(i) for i in data["entries"]], Keys(), {}, read(TABLE)["lines"]
    last, size = es[-1], es[-1].index + 1
    for e in es:
        keys.take(e)
        chains.setdefault(e.sub, []).append(e)
        need(e.get("changes") is not True, "unknown-change")
    root = keys.root(data["checkpoint"], data["origin"], size)
    need(all(root_of(e.leaf, e.index, size, e.proof) == root for e in es), "not-in-tree")
    need(all(e.says["nth"] == n and (not n or e.says["prior"] == chain[n - 1].id)
             for chain in chains.values() for n, e in enumerate(chain)), "hole-in-chain")
    need(all(a.index < b.index and a.says["iat"] <= b.says["iat"] and (a.index + 1 < b.index
             or b.says["prev"] == a.id) for a, b in zip(es, es[1:])), "broken-link")
    group = [e for n, e in enumerate(es) if e.index + len(es) - n == size and all(
        o.kind == "certificate" and o.get("held") == last.get("held") for o in es[n:])]
    need(group and last.get("held") == summary(e.id for e in es if e not in group), "left-out")
    need(last.get("shown") == summary(d for e in es for d in e.shown), "cut-down")
    excused = [*(d for e in group for d in within(e.get("withheld"), "digest")),
               *(d for e in es if e.kind == "erasure" for d in e.get("digests"))]
    sees, files = SEES[last.get("audience")].split(), data.get("files", {}).items()
    need(all(d in excused or c not in sees and (c != "own" or e not in group)
             for e in es for d, c in e.hidden.items()), "withheld-from-audience")
    need(all(ref in chains or ref.startswith(("specimen/", "key/")) for e in es for s in group
             if e.sub == s.sub for v in e.fields.values() for ref in within(v, "ref")),
         "subject-missing")
    need(all(sha(base64.b64decode(f)).hex() == n for n, f in files), "file-changed")
    for e in group:
        need(e.get("derivation") == b64u(sha(TABLE)), "unknown-derivation")
        story = Story(o for o in es if o.index < e.index)
        lines = [story.line(row, e.sub) for row in table if row["op"] != "attested"]
        said = [line for line in e.get("statement")["lines"] if not line.get("attested")]
        need([line for line in lines if line] == said, "statement-differs")
    print32 = base64.b32encode(es[0].leaf).decode().rstrip("=").lower()
    need(["ledger", data["origin"], print32] in trust, "unknown-ledger")
def main(trust, *files):
    code, known = 0, [line.split()[:3] for line in pathlib.Path(trust).read_text().split("\n")]
    for path in files:
        try:
            print(path, check(read(pathlib.Path(path).read_bytes()), known) or "holds")
        except Exception as bad:  # whatever goes wrong, the file does not hold
            print(path, repr(bad)[:200])
            code = 3 if "'unknown-" in repr(bad) and code != 1 else 1
    return code
if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
