"""Cases about the file: what is in it, what was cut, swapped or added, and how its JSON is
written."""
import base64
import copy
import hashlib
import json
from scenario import OTHER, PHOTO, SLAB, collect, issue, leaf, ref, story
from strict import b64, sha256, unb64
from writer import Each, Ledger, founding_fields, key_id, public, secret, thumb

ALL = ("public", "buyer", "institution", "auditor")


def position(file, sub, last=True, kind=None):
    """Where a subject's last (or first) entry stands in the file."""
    found = [i for i, e in enumerate(file["entries"]) if payload_of(e)["sub"] == sub
             and (kind is None or payload_of(e)["kind"] == kind)]
    return found[-1 if last else 0]


def payload_of(item):
    return json.loads(unb64(item["sd_jwt"].split("~")[0].split(".")[1]))


def shown(item):
    return item["sd_jwt"].split("~")[1:-1]


def drop(sub, last=True, kind=None):
    return lambda file: file["entries"].pop(position(file, sub, last, kind)) and None


def in_disclosures(file, sub, change, kind=None):
    item = file["entries"][position(file, sub, False, kind)]
    parts = item["sd_jwt"].split("~")
    parts[1:-1] = change(parts[1:-1])
    item["sd_jwt"] = "~".join(parts)


def in_jws(file, change, at=5):
    item = file["entries"][at]
    jws, rest = item["sd_jwt"].split("~", 1)
    item["sd_jwt"] = ".".join(change(jws.split("."))) + "~" + rest


def flip(text, at):
    """Another letter there, of the same alphabet."""
    return text[:at] + ("A" if text[at] != "A" else "B") + text[at + 1:]


def stray_bits(text):
    """The last letter with an unused bit set."""
    alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"
    return text[:-1] + alphabet[alphabet.index(text[-1]) | 1]


def good_files(c):
    for audience in ALL:
        c.add("good-" + audience, 0, "", issue(audience=audience))
    c.add("good-unknown-ledger", 3, "unknown-ledger", c.base(), trust="")
    c.add("good-other-ledger-trusted", 3, "unknown-ledger", c.base(), trust="ledger x.example "
          + c.trust.split()[2] + "\n")
    c.add("other-fingerprint", 1, "other-fingerprint", c.base(),
          trust="ledger ledger.harrowvane.example " + "a" * 51 + "q\n")
    c.add("good-withheld", 0, "", issue(withhold=("county",)))
    c.add("good-private-revealed", 0, "", issue(reveal=("recordNumber", "siteName", "namedTo")))
    c.add("good-element-left-out", 0, "", issue(cut=lambda e, d: d["name"] is None and "P002" in
                                                unb64(d["text"]).decode()))
    c.add("good-made-out", 0, "", issue(to=ref("party/P004")))
    c.add("good-pretty-printed", 0, "", json.dumps(c.base(), indent=2).encode())
    c.add("good-two-specimens", 0, "",
          story(later=lambda l: collect(l, "specimen/HV-26-0003")).certify(
        (SLAB, "specimen/HV-26-0003")))
    c.add("good-later-certificate", 0, "", twice())
    c.add("good-photograph-not-here", 0, "file-not-here", without_files(c.base()))

    def divide(ledger):
        parent = ledger.record(OTHER, "division", {"side": "divided"}, sale={
            "into": Each([{"specimen": ref(SLAB)}, {"specimen": ref("specimen/HV-26-0009")}])})
        ledger.record("specimen/HV-26-0008", "division", {
            "side": "came out", "outOf": {"entry": leaf(parent)}, "objectForm": "single"},
            sale={"parent": ref(OTHER)})
    child = dict(specimens=("specimen/HV-26-0008",), leave=(SLAB,))
    c.add("good-division", 0, "", story(later=divide).certify(**child))
    c.add("division-parent-missing", 1, "subject-missing", story(later=divide).certify(
        specimens=("specimen/HV-26-0008",), leave=(SLAB, OTHER)))
    c.add("good-division-parent-private", 0, "", story(later=divide).certify(
        specimens=("specimen/HV-26-0008",), leave=(SLAB, OTHER), withhold=("parent",)))

    def join(ledger):
        ledger.record("specimen/HV-26-0007", "joining", {"side": "whole"}, sale={
            "parts": Each([ref(OTHER), ref(SLAB)])})
    c.add("good-joining", 0, "", story(later=join).certify(("specimen/HV-26-0007",), leave=()))
    c.add("joining-part-missing", 1, "subject-missing",
          story(later=join).certify(("specimen/HV-26-0007",)))

    def erase(ledger):
        site = ledger.tips["site/S001"][0]
        ledger.record("site/S001", "erasure", {
            "target": {"entry": leaf(site)}, "ground": "landowner's request",
            "digests": [d["digest"] for d in site["disclosures"] if d["name"] == "county"]})
    c.add("good-erased", 0, "", issue(later=erase, hide=("county",)))
    c.add("erased-for-another-subject", 1, "withheld-from-audience", issue(later=lambda l: l.record(
        "party/P001", "erasure", {"target": {"entry": leaf(l.tips["site/S001"][0])}, "digests": [
            d["digest"] for d in l.tips["site/S001"][0]["disclosures"]], "ground": "x"}),
        hide=("county",)))


def twice():
    ledger = story()
    ledger.certify(audience="public")
    return ledger.certify()


def without_files(file):
    del file["files"]
    return file


def left_out_and_cut(c):
    for name, sub, kind in (
            ("specimen-first", SLAB, "collecting"), ("specimen-middle", SLAB, "condition"),
            ("specimen-correction", SLAB, "correction")):
        c.changed("left-out-" + name, 1, "left-out hole-in-chain", drop(SLAB, False, kind))
    for name, sub in (("site", "site/S001"), ("horizon", "horizon/H-A"),
                      ("permission", "permission/L2"), ("party", "party/P001")):
        c.changed("left-out-%s-tail" % name, 1, "left-out", drop(sub))
    c.changed("left-out-site-head", 1, "left-out hole-in-chain", drop("site/S001", False))
    c.changed("left-out-key-of-signer", 1, "left-out key-unknown", drop("key/" + kid("preparator")))
    c.changed("left-out-founding", 1, "left-out bad-founding", drop("ledger"))
    c.changed("certificate-cut-off", 1, "no-certificate", lambda f: f["entries"].pop() and None)
    c.changed("entry-put-in", 1, "left-out", lambda f: put_in(c, f))
    c.add("never-held-site", 1, "subject-missing", issue(leave=(OTHER, "site/S001")))
    c.add("never-held-party", 1, "subject-missing", issue(leave=(OTHER, "party/P002")))
    c.add("never-held-grantor", 1, "subject-missing",
          issue(audience="auditor", leave=(OTHER, "party/P003")))
    c.add("good-grantor-not-shown", 0, "", issue(leave=(OTHER, "party/P003")))
    c.add("never-held-buyer", 1, "subject-missing",
          issue(to=ref("party/P004"), leave=(OTHER, "party/P004")))
    c.changed("disclosure-cut", 1, "cut-down withheld-from-audience",
              lambda f: in_disclosures(f, "site/S001", lambda d: d[1:]))
    c.changed("disclosure-element-cut", 1, "cut-down", lambda f: in_disclosures(
        f, SLAB, lambda d: [x for x in d if b"party/P002" not in unb64(x)]))
    c.changed("disclosure-stray", 1, "stray-disclosure", lambda f: in_disclosures(
        f, "site/S001", lambda d: d + [b64(b'["AAAAAAAAAAAAAAAAAAAAAA","county","Trego"]')]))
    c.changed("disclosure-changed", 1, "stray-disclosure", lambda f: in_disclosures(
        f, "site/S001", lambda d: [b64(unb64(x).replace(b"Gove", b"Gope")) for x in d]))
    c.changed("disclosure-of-another-entry", 1, "stray-disclosure", lambda f: in_disclosures(
        f, "horizon/H-A", lambda d: d + shown(f["entries"][position(f, "site/S001", False)])))
    c.changed("disclosure-twice", 1, "malformed",
              lambda f: in_disclosures(f, "site/S001", lambda d: d + d[:1]))
    c.changed("disclosure-order-turned", 0, "",
              lambda f: in_disclosures(f, "site/S001", lambda d: d[::-1]))
    c.changed("disclosure-extra-shown", 1, "cut-down", lambda f: in_disclosures(
        f, "site/S001", lambda d: d + [x["text"] for x in c.base_ledger.tips["site/S001"][0][
            "disclosures"] if x["name"] == "siteName"]))
    c.changed("no-tilde", 1, "malformed", lambda f: f["entries"][0].update(
        sd_jwt=f["entries"][0]["sd_jwt"].rstrip("~")))
    c.add("withheld-unsaid-sale", 1, "withheld-from-audience", issue(hide=("county",)))
    c.add("withheld-unsaid-in-an-old-entry", 1, "withheld-from-audience",
          issue(hide=("formation",)))
    c.add("withheld-unsaid-land", 1, "withheld-from-audience",
          issue(audience="auditor", hide=("grantor",)))
    c.add("withheld-unsaid-statement", 1, "cut-down withheld-from-audience", cut_own())
    c.add("held-wrong", 1, "left-out", issue(fields={"held": b64(bytes(32))}))
    c.add("shown-wrong", 1, "cut-down", issue(fields={"shown": b64(bytes(32))}))
    c.add("audience-unknown", 1, "malformed", issue(fields={"audience": "everybody"}))
    c.add("certificate-on-a-site", 1, "no-certificate", issue(specimens=("site/S001",)))


def kid(name):
    return thumb(public(name))


def put_in(c, file):
    """The unrelated specimen's entry, with its own right proof."""
    ledger = story()
    ledger.certify()
    entry = ledger.tips[OTHER][0]
    place = [e["index"] for e in file["entries"]].index(entry["seq"] - 1) + 1
    file["entries"].insert(place, ledger.item(entry, [], len(ledger.entries)))


def cut_own():
    file = issue()
    item = file["entries"][-1]
    item["sd_jwt"] = item["sd_jwt"].split("~")[0] + "~"
    return file


def swapped(c):
    def other_leaf(f):
        f["entries"][4]["proof"], f["entries"][5]["proof"] = (f["entries"][5]["proof"],
                                                              f["entries"][4]["proof"])

    def note(**how):
        return lambda f: f.update(checkpoint=certified().note(**how))
    c.changed("proof-of-another-leaf", 1, "not-in-tree", other_leaf)
    c.changed("proof-short", 1, "not-in-tree", lambda f: f["entries"][3]["proof"].pop() and None)
    c.changed("proof-long", 1, "not-in-tree", lambda f: f["entries"][3]["proof"].append(
        base64.b64encode(bytes(32)).decode()))
    c.changed("checkpoint-other-root", 1, "not-in-tree", note(root=sha256(b"another history")))
    c.changed("checkpoint-smaller", 1, "size-differs", note(size=20))
    c.changed("checkpoint-dressed-as-fresh", 1, "size-differs", lambda f: fresh(f))
    c.add("withdrawn-and-proved-anew", 1, "size-differs", reproved())
    c.changed("checkpoint-of-another-ledger", 1, "wrong-origin",
              note(origin="ledger.other.example"))
    c.changed("checkpoint-text-changed", 1, "checkpoint-forged", lambda f: f.update(
        checkpoint=f["checkpoint"].replace("\n%d\n" % (f["entries"][-1]["index"] + 1), "\n999\n")))
    c.changed("checkpoint-by-a-stranger", 1, "checkpoint-key", note(keys=["stranger"]))
    c.changed("checkpoint-by-the-founder", 1, "checkpoint-key", note(keys=["owner"]))
    c.changed("checkpoint-unknown-line-too", 0, "", note(keys=["checkpoint", "stranger"]))
    c.changed("checkpoint-known-line-again-and-forged", 0, "", lambda f: f.update(
        checkpoint=f["checkpoint"] + forged_line(f["checkpoint"])))
    c.changed("checkpoint-forged-line-before-the-good", 1, "checkpoint-forged", lambda f: f.update(
        checkpoint=f["checkpoint"].replace("\n\n", "\n\n" + forged_line(f["checkpoint"]))))
    c.changed("checkpoint-cosigned-line", 0, "", lambda f: f.update(
        checkpoint=f["checkpoint"] + cosigned_line()))
    c.changed("checkpoint-without-signature", 1, "malformed", lambda f: f.update(
        checkpoint=f["checkpoint"].split("\u2014")[0]))
    c.changed("checkpoint-extension-line", 1, "malformed", lambda f: f.update(
        checkpoint=f["checkpoint"].replace("\n\n", "\nextra\n\n")))
    c.changed("checkpoint-size-with-a-zero", 1, "malformed", lambda f: f.update(
        checkpoint="\n".join(line.zfill(4) if line.isdigit() else line
                             for line in f["checkpoint"].split("\n"))))
    c.changed("checkpoint-root-urlsafe", 1, "malformed", lambda f: f.update(
        checkpoint=f["checkpoint"].replace("=\n\n", "\n\n")))
    c.changed("index-doubled", 1, "malformed", lambda f: f["entries"].insert(
        3, copy.deepcopy(f["entries"][2])))
    c.changed("index-shifted", 1, "malformed", lambda f: f["entries"][4].update(
        index=f["entries"][4]["index"] + 100))
    c.changed("entries-turned", 1, "malformed", lambda f: f["entries"].reverse())
    c.changed("file-of-another-ledger", 1, "wrong-origin", lambda f: f.update(
        origin="ledger.other.example"))
    c.add("replayed-for-another-specimen", 1, "left-out hole-in-chain", replayed())

    def attach(f, content):
        f["files"][list(f["files"])[0]] = base64.b64encode(content).decode()
    c.changed("attachment-changed", 1, "file-changed", lambda f: attach(f, PHOTO + b"!"))
    c.changed("attachment-unasked", 1, "file-unasked", lambda f: f["files"].update(
        {hashlib.sha256(b"x").hexdigest(): base64.b64encode(b"x").decode()}))
    c.changed("attachment-not-named-by-hash", 1, "malformed", lambda f: f["files"].update(
        {"photo.jpg": base64.b64encode(b"x").decode()}))


def certified():
    ledger = story()
    ledger.certify()
    return ledger


def fresh(file):
    ledger = certified()
    ledger.record(OTHER, "note", sale={"text": "later"})
    file["checkpoint"] = ledger.note()


def forged_line(note):
    name, sig = note.rstrip("\n").split("\n")[-1].split(" ")[1:]
    raw = bytearray(base64.b64decode(sig))
    raw[40] ^= 1
    return "\u2014 %s %s\n" % (name, base64.b64encode(raw).decode())


def cosigned_line():
    ledger = certified()
    text = ledger.note().split("\n\n")[0] + "\n"
    signature = secret("witness").sign(b"cosignature/v1\ntime 1767300000\n" + text.encode())
    raw = key_id("witness.example/w1", public("witness"), b"\4") + (1767300000).to_bytes(8, "big")
    return "\u2014 witness.example/w1 %s\n" % base64.b64encode(raw + signature).decode()


def replayed():
    """The chain of one specimen under the certificate of another."""
    ledger = story()
    file = ledger.certify((OTHER,), leave=())
    file["entries"] = [e for e in file["entries"] if payload_of(e)["sub"] != OTHER
                       or payload_of(e)["kind"] == "certificate"]
    return file


def json_of_the_file(c):
    raw = json.dumps(c.base(), ensure_ascii=False)

    def written(name, exit, old, new, findings="malformed"):
        assert raw.count(old) >= 1, old
        c.add("file-json-" + name, exit, findings, raw.replace(old, new, 1).encode())
    written("member-twice", 1, '{"format"', '{"origin":"x","format"')
    written("member-twice-by-escape", 1, '{"format"', '{"o\\u0072igin":"x","format"')
    written("member-unknown", 1, '{"format"', '{"note":"hello","format"')
    written("entry-member-unknown", 1, '{"index": 0', '{"extra":1,"index": 0')
    written("number-minus-zero", 1, '{"index": 0', '{"index": -0')
    written("number-fraction", 1, '{"index": 0', '{"index": 0.0')
    written("number-exponent", 1, '{"index": 1,', '{"index": 1e0,')
    written("number-leading-zero", 1, '{"index": 1,', '{"index": 01,')
    written("number-too-large", 1, '{"index": 0', '{"index": 9007199254740992')
    written("number-as-text", 1, '{"index": 0', '{"index": "0"')
    written("trailing-comma", 1, '"}}', '",}}')
    written("not-closed", 1, raw[-4:], raw[-4:-1])
    written("surrogate-alone", 1, '"files": {', '"files": {"\\ud800": "",')
    written("bidi", 1, '"files": {', '"files": {"\u202e": "",')
    written("nul", 1, '"files": {', '"files": {"\\u0000": "",')
    written("delete", 1, '"files": {', '"files": {"\u007f": "",')
    written("nan", 1, '{"index": 0', '{"index": NaN')
    written("other-version", 3, "markerbed-certificate/1", "markerbed-certificate/2",
            "unknown-version")
    written("other-format", 1, "markerbed-certificate/1", "markerbed-bill/1")
    written("no-entries", 1, raw[raw.index('"entries": ['):raw.index('], "files"')], '"entries": [')
    c.add("file-json-bytes-behind", 1, "malformed", raw.encode() + b" {}")
    c.add("file-json-white-space-behind", 0, "", raw.encode() + b"\n\n")
    c.add("file-json-bad-utf8", 1, "malformed",
          raw.encode().replace(b'"origin": "', b'"origin": "\xff'))
    c.add("file-json-surrogate-bytes", 1, "malformed",
          raw.encode().replace(b'"origin": "', b'"origin": "\xed\xa0\x80'))
    c.add("file-json-byte-order-mark", 2, "", b"\xef\xbb\xbf" + raw.encode())
    c.add("file-json-nested-17", 1, "malformed", raw.replace(
        '{"format"', '{"x":%s,"format"' % ("[" * 16 + "]" * 16), 1).encode())
    c.add("file-json-nested-100000", 1, "malformed", raw.replace(
        '{"format"', '{"x":%s,"format"' % ("[" * 100000), 1).encode())
    c.add("file-is-an-empty-object", 2, "", b"{}")
    c.add("file-is-empty", 2, "", b"")
    c.add("file-is-something-else", 2, "", b"\x89PNG\r\n\x1a\n")
    c.add("file-too-large", 2, "", b" " * (64 << 20) + raw.encode())


def base64_attacks(c):
    c.changed("base64-signature-stray-bits", 1, "malformed",
              lambda f: in_jws(f, lambda p: p[:2] + [stray_bits(p[2])]))
    c.changed("base64-signature-padded", 1, "malformed",
              lambda f: in_jws(f, lambda p: p[:2] + [p[2] + "=="]))
    c.changed("base64-signature-short", 1, "malformed",
              lambda f: in_jws(f, lambda p: p[:2] + [p[2][:-2]]))
    c.changed("base64-payload-line-end", 1, "malformed",
              lambda f: in_jws(f, lambda p: [p[0], p[1][:40] + "\n" + p[1][40:], p[2]]))
    c.changed("base64-payload-other-alphabet", 1, "malformed",
              lambda f: in_jws(f, lambda p: [p[0], p[1][:40] + "+" + p[1][41:], p[2]]))
    c.changed("base64-header-blank", 1, "malformed",
              lambda f: in_jws(f, lambda p: [p[0] + " "] + p[1:]))
    c.changed("jws-four-parts", 1, "malformed", lambda f: in_jws(f, lambda p: p + ["AA"]))
    c.changed("signature-broken", 1, "broken-signature",
              lambda f: in_jws(f, lambda p: p[:2] + [flip(p[2], 3)]))
    c.changed("signature-s-broken", 1, "broken-signature",
              lambda f: in_jws(f, lambda p: p[:2] + [flip(p[2], 70)]))
    c.changed("payload-changed", 1, "broken-signature", lambda f: in_jws(f, lambda p: [
        p[0], b64(unb64(p[1]).replace(b'"kind":"party"', b'"kind":"partx"')
                  .replace(b'"iat":17', b'"iat":16')), p[2]]))
    c.changed("base64-proof-stray-bits", 1, "malformed",
              lambda f: f["entries"][2]["proof"].__setitem__(
        0, stray_std(f["entries"][2]["proof"][0])))
    c.changed("base64-proof-unpadded", 1, "malformed",
              lambda f: f["entries"][2]["proof"].__setitem__(
        0, f["entries"][2]["proof"][0].rstrip("=")))
    c.changed("base64-proof-31-bytes", 1, "malformed",
              lambda f: f["entries"][2]["proof"].__setitem__(
        0, base64.b64encode(bytes(31)).decode()))
    c.changed("base64-proof-line-end", 1, "malformed",
              lambda f: f["entries"][2]["proof"].__setitem__(
        0, f["entries"][2]["proof"][0] + "\n"))
    c.changed("base64-attachment-line-end", 1, "malformed", lambda f: f["files"].update(
        {k: v[:8] + "\n" + v[8:] for k, v in f["files"].items()}))
    c.changed("base64-checkpoint-stray-bits", 1, "malformed", lambda f: f.update(
        checkpoint=stray_note(f["checkpoint"])))


def stray_std(text):
    alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/"
    body = text.rstrip("=")
    return body[:-1] + alphabet[alphabet.index(body[-1]) | 1] + "=" * (len(text) - len(body))


def stray_note(note):
    lines = note.split("\n")
    lines[2] = stray_std(lines[2])
    return "\n".join(lines)


def several_files(c):
    a = issue(later=lambda l: l.record("party/P001", "note", sale={"text": "one story"}))
    b = issue(later=lambda l: l.record("party/P001", "note", sale={"text": "another story"}))
    c.add("forked-two-stories", 1, "forked", a, b)
    chain_a = issue(later=lambda l: collect(l, OTHER, inPlace="float below its bed"))
    chain_b = story(later=lambda l: (l.record("party/P001", "note", sale={"text": "x"}),
                                     collect(l, OTHER, inPlace="in place"))).certify(leave=())
    c.add("forked-one-place-of-a-subject", 1, "forked", story(later=lambda l: collect(
        l, OTHER, inPlace="float below its bed")).certify(leave=()), chain_b)
    c.add("two-files-of-one-ledger", 0, "", issue(), story().certify(audience="buyer"))
    ledger = story()
    first = ledger.certify()
    second = ledger.certify(fields={"replaces": {"entry": leaf(ledger.entries[-1])}})
    c.add("an-older-and-a-newer-certificate", 0, "", first, second)
    c.add("forked-same-size-other-root", 1, "forked", chain_a, issue(
        later=lambda l: collect(l, OTHER, inPlace="talus or dump")))
    c.add("swapped-ledger-of-the-same-name", 1, "other-fingerprint",
          story(fields=impostor()).certify())
    c.add("a-ledger-and-another-of-its-name", 1, "other-fingerprint", c.base(),
          story(fields=impostor()).certify())
    c.add("rolled-back-and-written-anew", 1, "forked", twice(), issue(
        later=lambda l: l.record(SLAB, "note", sale={"text": "after the backup was put back"})))
    withdrawn, newer = withdrawn_and_newer()
    c.add("withdrawn-says-a-newer-file", 0, "withdrawn", withdrawn, newer)
    other = Ledger("ledger.western-strand.example")
    c.add("two-ledgers", 0, "", c.base(), story(ledger=other).certify(),
          trust=c.trust + other.trust())


def impostor():
    """The founding of somebody else's ledger that bears the same name."""
    ledger = Ledger()
    return {**founding_fields(ledger.origin), "name": "Harrow & Vane"}


def withdrawn_and_newer():
    ledger = story()
    first = ledger.certify()
    ledger.record(SLAB, "withdrawal", {"which": {"entry": leaf(ledger.entries[-1])},
                                       "why": "not as described"})
    return first, ledger.certify()


def reproved():
    """An old certificate with proofs, and a checkpoint, of today."""
    ledger = story()
    ledger.certify()
    last = len(ledger.entries)
    ledger.record(SLAB, "withdrawal", {"which": {"entry": leaf(ledger.entries[-1])},
                                       "why": "not as described"})
    old = issue()
    for item in old["entries"]:
        item["proof"] = ledger.item(ledger.entries[item["index"]], [], last + 1)["proof"]
    old["checkpoint"] = ledger.note()
    return old


def anchored(c):
    def with_anchor(size, change=None, later=None, **how):
        ledger = story(later=later)
        file = ledger.certify()
        of = len(ledger.entries)
        for n in range(5):
            ledger.record(OTHER, "note", sale={"text": "later %d" % n})
        file["anchors"] = [ledger.anchor(size, of, **how)]
        if change:
            change(file["anchors"][0])
        return file
    for size in 1, 8, 13, 20:
        c.add("good-anchor-at-%d" % size, 0, "", with_anchor(size))
    end = len(certified().entries)
    c.add("good-anchor-of-the-same-size", 0, "", with_anchor(end))
    c.add("good-anchor-later", 0, "", with_anchor(end + 3))
    c.add("anchor-of-another-history", 1, "forked", with_anchor(13, root=sha256(b"another")))
    c.add("anchor-later-of-another-history", 1, "forked",
          with_anchor(end + 3, root=sha256(b"another")))
    c.add("anchor-by-a-stranger", 1, "checkpoint-key", with_anchor(13, keys=["stranger"]))
    c.add("good-anchor-later-by-a-later-key", 0, "", with_anchor(end + 3, keys=["stranger"]))
    c.add("anchor-of-another-ledger", 1, "wrong-origin",
          with_anchor(13, origin="ledger.other.example"))
    c.add("anchor-proof-cut", 1, "forked",
          with_anchor(13, lambda a: a["consistency"].pop() and None))
    c.add("anchor-text-changed", 1, "checkpoint-forged", with_anchor(13, lambda a: a.update(
        checkpoint=a["checkpoint"].replace("\n13\n", "\n12\n"))))


def file_cases(c):
    for cases in (good_files, left_out_and_cut, swapped, json_of_the_file, base64_attacks,
                  several_files, anchored):
        cases(c)
