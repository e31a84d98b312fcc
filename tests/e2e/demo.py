#!/usr/bin/python3
"""The demo's whole story, played into a folder of its own, and judged from outside.

- The log, read through Python's sqlite3 and base64: its size, its kinds, who signed.
- Each certificate by tests/verifiers/verify.py, which knows docs/format.md alone.
- Each PDF by qpdf (is it sound), pdfdetach (is the certificate inside, byte for byte), pdftotext
  (what a reader sees) and zbarimg (does the code hold the certificate's name).
- The photos for a buyer, by their markers: no Exif block is left in them.
- The shares on record, against the areas of the outlines as they were drawn (shoelace formula)."""

import base64
import collections
import csv
import hashlib
import json
import os
import pathlib
import re
import sqlite3
import subprocess
import sys
import tempfile

from _lab import PROGRAM, TOP, Claims, entries_of, unpack

sys.path.insert(0, str(TOP / "tests/verifiers"))
import verify  # noqa: E402

DRAW = pathlib.Path(os.environ.get("BUILD_PROGRAMS", TOP / "build/release")) / "tests/demo/draw"
AUDIENCES = {"buyer": "buyer", "fish": "buyer", "plate": "buyer", "lot": "buyer", "three": "buyer",
             "institution": "institution", "auditor": "auditor", "landowner": "auditor",
             "public": "public", "signed": "institution", "museum": "institution"}


def outside(*command):
    return subprocess.run(list(map(str, command)), capture_output=True, check=False)


def play(claims, folder):
    env = {k: v for k, v in os.environ.items() if not k.startswith("MARKERBED")}
    env.update(MARKERBED=PROGRAM, DRAW=str(DRAW), DEMO_DIR=str(folder))
    done = subprocess.run(["bash", str(TOP / "tests/demo/story.sh")], env=env, text=True,
                          capture_output=True, check=False)
    claims("the story comes to its end", done.returncode == 0, done.stdout[-1500:] + done.stderr)
    claims("and complains of nothing", done.stderr == "", done.stderr)
    closing = done.stdout.split("== What was made")[-1].rstrip().split("\n")[1:]
    claims("it ends in eleven lines at most that say where to look",
           5 <= len(closing) <= 11 and "buyer.pdf" in closing[-1], closing)
    return done.returncode == 0


# ---- the log ----

def kinds_of_log(folder):
    db = sqlite3.connect(folder / "ledger/ledger.db")
    out = collections.Counter()
    signers = collections.defaultdict(set)
    for (jws,) in db.execute("SELECT jws FROM log ORDER BY seq"):
        head, payload = (json.loads(unpack(part)) for part in jws.split(".")[:2])
        out[payload["kind"]] += 1
        signers[head["kid"]].add(payload["kind"])
    db.close()
    return out, signers


def check_log(claims, folder):
    kinds, signers = kinds_of_log(folder)
    known = {path.stem for path in (TOP / "schema/kinds").glob("*.json")} - {"common"}
    claims("there are 150 to 300 entries", 150 <= sum(kinds.values()) <= 300, kinds)
    # An erasure needs 30 days between the wish and the deed.
    claims("of every kind that there is", known - set(kinds) <= {"erasure"}, known - set(kinds))
    claims("three people signed", len(signers) == 3, signers)
    text = subprocess.run([PROGRAM, "-L", str(folder / "ledger"), "list", "lots"], text=True,
                          capture_output=True, check=False).stdout
    claims("the overdrawn lot is said to be so", re.search(r"24-0140.*overdrawn", text, re.S), text)
    text = (folder / "told/24-0115.txt").read_text()
    claims("what was withdrawn and struck out is still told",
           "withdrawn" in text and "struck out" in text, text[-500:])


# ---- certificates ----

def check_certificates(claims, folder):
    trust = str(folder / "trust")
    for name, audience in AUDIENCES.items():
        path = folder / f"{name}.certificate.json"
        certificate = json.loads(path.read_text())
        code, words, findings = verify.judge([str(path)], trust)
        claims(f"{name}: holds for a verifier written from the format's page alone", code == 0,
               (words, findings))
        claims(f"{name}: and without the trust file is of an unknown ledger",
               verify.judge([str(path)], None)[0] == 3)
        last, fields = list(entries_of(certificate))[-1]
        claims(f"{name}: is for the audience {audience}",
               last["kind"] == "certificate" and fields["audience"] == audience, fields)


def small(folder, *paths, trust="trust"):
    return outside(sys.executable, TOP / "tests/verifiers/small.py", folder / trust, *paths)


def check_small(claims, folder):
    """The verifier in under 200 lines, from the format's page alone: all that was issued holds for
    it, nothing that was changed in one place does."""
    lines = (TOP / "tests/verifiers/small.py").read_text().count("\n")
    claims("the small verifier has under 200 lines", lines < 200, lines)
    issued = [*folder.glob("*.certificate.json"), *folder.glob("withdrawn/*.certificate.json"),
              folder / "buyer.witnessed.json"]
    for path in issued:
        if "foreign" in json.loads(path.read_text()):
            claims(f"{path.name}: small says that it cannot check others' certificates",
                   small(folder, path).returncode == 3)
            continue
        done = small(folder, path)
        claims(f"{path.name}: holds for the small verifier", done.returncode == 0, done.stdout)
    raw = (folder / "buyer.certificate.json").read_text()
    (folder / "nobody").write_text("")
    claims("of an unknown ledger it does not say so", small(
        folder, folder / "buyer.certificate.json", trust="nobody").returncode == 3)
    whole = json.loads(raw)
    for name, change in (
            ("an entry left out", lambda c: c["entries"].pop(len(c["entries"]) // 2)),
            ("a disclosure cut away", lambda c: c["entries"][-1].update(
                sd_jwt=re.sub("~[^~]+~$", "~", c["entries"][-1]["sd_jwt"]))),
            ("another root", lambda c: c.update(checkpoint=re.sub(
                "\n[A-Za-z0-9+/]{3}", "\nAAA", c["checkpoint"], count=1))),
            ("a proof bent", lambda c: c["entries"][3]["proof"].reverse()),
            ("a photo changed", lambda c: c["files"].update(
                {k: "AAAA" for k in list(c["files"])[:1]})),
            ("a signature bent", lambda c: c["entries"][5].update(
                sd_jwt=c["entries"][5]["sd_jwt"].replace("~", "A~", 1)))):
        bent = json.loads(raw)
        change(bent)
        (folder / "bent.json").write_text(json.dumps(bent))
        claims(f"{name} does not hold for it", bent != whole and small(
            folder, folder / "bent.json").returncode == 1, name)


def check_witnessed(claims, folder):
    published = folder / "published"
    index = (published / "index.html").read_text()
    claims("what is published names the one that was replaced", "replaced by a newer one" in index
           and "withdrawn.json" in index)
    hidden = ("Oduya", "Tessaly Ranch", "Lindqvist", "38.9")
    claims("and nothing else of what the entries say", not any(
        word.encode() in path.read_bytes() for word in hidden for path in published.rglob("*")
        if path.is_file() and path.name != "verify.html"))


def check_buyer(claims, folder):
    certificate = json.loads((folder / "buyer.certificate.json").read_text())
    looks = [fields for payload, fields in entries_of(certificate)
             if payload["kind"] == "condition" and fields.get("occasion") == "for sale"]
    claims("the buyer's file has one look for the sale", len(looks) == 1, len(looks))
    look = looks[0]
    claims("with three marks, a size and a mass",
           len(look["identifyingMarks"]) == 3 and len(look["dimensions"]) == 3
           and look["mass"] == {"value": "6.85", "unit": "kg"}, look)
    photo = look["photos"][0]
    data = base64.b64decode(certificate["files"][photo["file"]["file"]])
    claims("and a photo with a scale, inside the file",
           photo["scaleBarMm"] and data[:3] == b"\xff\xd8\xff"
           and hashlib.sha256(data).hexdigest() == photo["file"]["file"], photo)
    taken = (folder / "photos/slab.jpg").read_bytes()
    claims("whose camera wrote a position into it", b"Exif\0\0" in taken and b"Sallow" in taken)
    claims("that is no longer there", b"Exif" not in data and b"Sallow" not in data)
    check_shares(claims, folder, look)


def area(corners):
    """Shoelace formula."""
    return abs(sum(a[0] * b[1] - b[0] * a[1]
                   for a, b in zip(corners, corners[1:] + corners[:1]))) / 2


def check_shares(claims, folder, look):
    view = json.loads((folder / "photos/slab.outlines.json").read_text())["views"][0]
    for specimen in view["specimens"]:
        label, whole = specimen["individual"], area(specimen["outline"])
        shares = collections.Counter()
        for region in view["regions"]:
            if region["individual"] == label:
                shares[region["substance"]] += 100 * area(region["outline"]) / whole
        shares["original"] = 100 - sum(shares.values())
        said = {row["substance"]: row for row in look["shares"] if row["individual"] == label}
        claims(f"individual {label}: what was drawn is what is told", set(said) == set(shares),
               (said, shares))
        for substance, row in said.items():
            claims(f"individual {label}: {substance}",
                   abs(float(row["percent"]) - shares[substance]) <= 0.1
                   and float(row["low"]) <= shares[substance] <= float(row["high"]),
                   (row, shares[substance]))


def check_plate(claims, folder):
    """The slab measured from both faces, out of the buyer's own file: every share by the corners of
    the outlines that travel in it (shoelace formula), views put together by area."""
    certificate = json.loads((folder / "plate.certificate.json").read_text())
    texts = [base64.b64decode(text) for text in certificate["files"].values()]
    drawn = [json.loads(text) for text in texts if b'"markerbed-outlines/1"' in text]
    claims("the outlines travel with the sheet", len(drawn) == 1)
    areas, wholes = collections.defaultdict(collections.Counter), collections.Counter()
    for view in drawn[0]["views"]:
        mm2 = (view["scaleBar"]["mm"] / view["scaleBar"]["px"]) ** 2
        for seen in (view["name"], "front, back"):
            for region in view["regions"]:
                areas[seen][region["substance"]] += mm2 * area(region["outline"])
            wholes[seen] += sum(mm2 * area(one["outline"]) for one in view["specimens"])
    looks = [fields for _, fields in entries_of(certificate)
             if "shares" in fields and "outlines" in fields]
    claims("two views, and what they are together", set(areas) == {"front", "back", "front, back"})
    claims("five substances beside the original", len(areas["front, back"]) == 5)
    for row in looks[-1]["shares"]:
        seen, substance = row["view"], row["substance"]
        known = areas[seen][substance] if substance != "original" else (
            wholes[seen] - sum(areas[seen].values()))
        known *= 100 / wholes[seen]
        claims(f"{seen}: {substance}", abs(float(row["percent"]) - known) <= 0.1
               and float(row["low"]) <= known <= float(row["high"]), (row, known))
    page = (folder / "plate.html").read_text()
    claims("both views are drawn on the page", page.count('class="drawing"') == 2)


# ---- the audit ----

# The honest trouble of the story, and what the record does not say: rule, subject, severity. What
# was recorded years after it happened (38) stands once for each kind of entry.
TROUBLE = {
    ("04", "specimen/24-0117", "conflict"),  # dug the day after the lease ran out
    ("41", "specimen/24-0140", "conflict"),  # the bucket that gave out more than it held
    ("03", "specimen/24-0119", "gap"),       # a find of 2009, on a spoken word
    ("07", "specimen/24-0131", "gap"),       # the place by the east fence
    ("09", "specimen/24-0119", "gap"),
    ("10", "specimen/24-0119", "gap"),
    ("11", "permission/L006", "gap"),        # 43.5 lb of wood in three pieces, two weighed together
    ("17", "specimen/24-0119", "gap"),
    ("17", "specimen/24-0140", "gap"),       # and all of the quarry: how title passes is not stated
    ("20", "specimen/24-0117", "gap"),       # a sale on conditions
    ("20", "specimen/24-0141", "gap"),       # and three more sheets, of the quarry
    ("27", "specimen/24-0130", "gap"),       # the museum did not sign yet
    ("27", "specimen/24-0115", "gap"),       # nor did the buyer, for the title
    ("36", "permission/L003", "gap"),
    ("36", "permission/L002", "gap"),        # the extension is not on paper
    ("36", "specimen/24-0118", "gap"),       # what the guest signed was not scanned
    ("37", "specimen/24-0201", "gap"),       # "Montana, 1974 (?)"
    ("02", "site/S002", "note"),
    ("17", "specimen/24-0131", "note"),
    ("27", "specimen/24-0201", "note"),
    ("27", "specimen/24-0115", "note"),
    ("42", "specimen/24-0115", "note"),      # two crowns placed together
}


def check_audit(claims, folder):
    audit = json.loads((folder / "audit.json").read_text())
    found = {(f["rule"], f["subject"], f["severity"]) for f in audit["findings"]
             if f["rule"] != "38"}
    claims("the audit finds the honest trouble of the story", TROUBLE <= found, TROUBLE - found)
    claims("and none else", found <= TROUBLE, found - TROUBLE)
    late = [f for f in audit["findings"] if f["rule"] == "38"]
    claims("what was recorded late is a note", late and all(f["severity"] == "note" for f in late))
    claims("every rule counts what it was asked of", all(
        r["applied"] == r["fits"] + r["doesNotFit"] + r["cannotTell"] for r in audit["rules"]))
    rows = list(csv.DictReader((folder / "audit.csv").read_text().splitlines()))
    claims("the spreadsheet has the same", [(r["rule"], r["subject"]) for r in rows]
           == [(f["rule"], f["subject"]) for f in audit["findings"]], len(rows))
    paper = re.sub(r"\s+", "", outside("pdftotext", "-raw", folder / "audit.pdf", "-").stdout
                   .decode())
    claims("and the paper has every one", all(re.sub(r"\s+", "", f["sentence"]) in paper
                                              for f in audit["findings"]))
    wood = next(a for a in audit["accounts"] if a["permission"] == "permission/L006")
    claims("the wood of the day is added up: 14.5 + 29 lb",
           wood["limits"][0]["sums"][0]["sum"] == 43.5 and wood["limits"][0]["plusPiece"], wood)
    text = (folder / "told/casual").read_text()
    claims("the sheet of the casual find was refused in one sentence, by rule 19",
           "rule 19" in text and len(text.splitlines()) == 1, text)
    claims("and no certificate of it for a buyer is on record", not any(
        payload["sub"] == "specimen/24-0150" and fields["audience"] == "buyer"
        for path in folder.glob("*.certificate.json")
        for payload, fields in entries_of(json.loads(path.read_text()))
        if payload["kind"] == "certificate"))
    for name in AUDIENCES:
        last = list(entries_of(json.loads((folder / f"{name}.certificate.json").read_text())))[-1]
        lines = [line for line in last[1]["statement"]["lines"] if line["name"] == "standing"]
        claims(f"{name}: says its standing, act by act, as the issuer's own word",
               len(lines) == 1 and lines[0]["attested"] is True and all(
                   f"{act}: " in lines[0]["value"]
                   for act in ("collecting", "keeping", "selling", "moving abroad")), lines)
    claims("the fish is in question for the day after the lease",
           "selling: in question (04 day-outside" in standing_of(folder, "fish"))
    claims("the tray of teeth is only incomplete", "collecting: incomplete" in
           standing_of(folder, "lot"), standing_of(folder, "lot"))
    theirs = json.loads((folder / "museum.certificate.json").read_text())["foreign"][0]
    places = [field for payload, fields in entries_of(theirs) if payload["sub"] == "site/S004"
              for field in ("siteName", "county", "decimalLatitude", "locality") if field in fields]
    claims("a place on federal land does not go on with another ledger's certificate", not places,
           places)
    claims("what the museum did not find itself it does not call shown", all(
        f"{act}: incomplete (00 found-elsewhere" in standing_of(folder, "museum")
        for act in ("collecting", "selling", "moving abroad")), standing_of(folder, "museum"))


def standing_of(folder, name):
    last = list(entries_of(json.loads((folder / f"{name}.certificate.json").read_text())))[-1]
    return next(line["value"] for line in last[1]["statement"]["lines"]
                if line["name"] == "standing")


# ---- paper ----

# What a reader must not miss: the parent's record, doubt in the name, what was struck out, earlier
# sheets and what became of them, a mass taken again, whose land in words, limits for an auditor.
SAID = {
    "lot": ("This piece came out of 24-0140", "As recorded of 24-0140", "Carlile Shale"),
    "plate": ("What was drawn and measured", "front 30.6 %; back 69.4 %", "View: back.",
              "foreign: 2.3 % (1.8–2.8 %)", "join through rock: 1"),
    "fish": ("Xiphactinus cf. audax", "was struck out, being about another specimen"),
    "buyer": ("It was withdrawn on", "replaced by a newer one", "mass 6.91 kg"),
    "auditor": ("Bureau of Land Management (United States)", "at most 25 lb per day, each person",
                "Mass as collected 0.41 kg", "In force until"),
}


def check_sheets(claims, folder):
    for name in AUDIENCES:
        pdf, raw = folder / f"{name}.pdf", (folder / f"{name}.certificate.json").read_bytes()
        claims(f"{name}.pdf is sound", outside("qpdf", "--check", pdf).returncode == 0)
        inside = folder / "inside.json"
        outside("pdfdetach", "-savefile", "certificate.json", "-o", inside, pdf)
        claims(f"{name}.pdf has the certificate inside", inside.read_bytes() == raw)
        inside.unlink()
        text = re.sub(r"\s+", " ", outside("pdftotext", "-layout", pdf, "-").stdout.decode())
        for word in ("authentic", "guarantee", "genuine", "legal"):
            claims(f"{name}.pdf does not say {word}", word not in text.lower())
        certificate = json.loads(raw)
        piece = list(entries_of(certificate))[-1][0]["sub"].split("/")[1]
        claims(f"{name}.pdf says which piece", piece in text, text[:300])
        leaf = hashlib.sha256(b"\0" + certificate["entries"][-1]["sd_jwt"].split("~")[0].encode())
        code = base64.urlsafe_b64encode(leaf.digest()).decode().rstrip("=")
        outside("pdftoppm", "-r", "150", "-png", pdf, folder / f"{name}.page")
        pages = sorted(folder.glob(f"{name}.page*"))
        codes = b"".join(outside("zbarimg", "-q", "--raw", page).stdout for page in pages).decode()
        claims(f"{name}.pdf: its code names the certificate", code in codes, (code, codes))
    for name, said in SAID.items():
        text = re.sub(r"\s+", " ", outside("pdftotext", "-layout", folder / f"{name}.pdf",
                                           "-").stdout.decode())
        for words in said:
            claims(f"{name}.pdf says: {words}", words in text, text)
    text = outside("pdftotext", "-layout", folder / "public.pdf", "-").stdout.decode()
    claims("the public sheet says that it is none for a sale", "not a disclosure for a sale" in
           re.sub(r"\s+", " ", text), text[:400])


# ---- the museum ----

def check_museum(claims, folder):
    """The skull's story runs through two ledgers, and its handover is two-sided."""
    path = folder / "museum.certificate.json"
    outer = json.loads(path.read_text())
    inner = json.loads((folder / "signed.certificate.json").read_text())
    claims("the museum's certificate carries the lab's, entry by entry",
           [one["sd_jwt"].split("~")[0] for one in outer["foreign"][0]["entries"]]
           == [one["sd_jwt"].split("~")[0] for one in inner["entries"]])
    leaf = hashlib.sha256(b"\0" + inner["entries"][-1]["sd_jwt"].split("~")[0].encode()).digest()
    arrival = [fields for payload, fields in entries_of(outer) if payload["kind"] == "arrival"][0]
    row = arrival["foreignEvidence"][0]
    claims("its arrival names that certificate, its ledger and its size",
           (row["origin"], row["entry"], row["size"])
           == ("ledger.harrowvane.example", base64.urlsafe_b64encode(leaf).rstrip(b"=").decode(),
               inner["entries"][-1]["index"] + 1), row)
    kinds = [payload["kind"] for payload, _ in entries_of(outer["foreign"][0])]
    claims("the story inside begins in the field", "collecting" in kinds and "site" in kinds, kinds)
    trust = (folder / "trust").read_text()
    claims("two ledgers are trusted", trust.count("\nledger ") == 2, trust)
    _, _, findings = verify.judge([str(path)], str(folder / "trust"))
    claims("the museum's key is known: the handover is two-sided",
           "countersign-unknown" not in dict(findings), findings)
    _, _, findings = verify.judge([str(folder / "signed.certificate.json")], str(folder / "trust"))
    claims("which the lab's certificate alone cannot show",
           "countersign-unknown" in dict(findings), findings)
    told = subprocess.run([PROGRAM, "verify", "--json", "--trust", str(folder / "trust"),
                           str(path)], capture_output=True, check=False)
    result = json.loads(told.stdout)
    claims("verify says so", told.returncode == 0
           and "through all of its ledgers" in " ".join(result["words"])
           and [one["known"] for one in result["files"][0]["countersigned"]] == [True], result)
    half = folder / "half-trust"
    half.write_text("".join(line for line in trust.splitlines(True) if "harrowvane" not in line))
    claims("who knows the museum alone is told that the rest could not be checked",
           verify.judge([str(path)], str(half))[0] == 3)


def main():
    if not DRAW.exists():
        print(f"{DRAW} is not built: make demo-programs")
        return 1
    claims = Claims()
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        if play(claims, folder):
            check_log(claims, folder)
            check_certificates(claims, folder)
            check_small(claims, folder)
            check_witnessed(claims, folder)
            check_buyer(claims, folder)
            check_audit(claims, folder)
            check_sheets(claims, folder)
            check_plate(claims, folder)
            check_museum(claims, folder)
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
