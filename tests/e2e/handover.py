#!/usr/bin/python3
"""Bags for an institution, out of the demo's ledger, judged from outside.

- The bag by sha256sum and sha512sum alone (RFC 8493's manifests are their format), its tag files
  line by line; its packs by unzip, bsdtar and Python's zipfile and tarfile.
- Every single change of one file, in all the bag: refused, with the file named.
- The Darwin Core Archive by xml.etree, xmllint and csv, against the text guide of TDWG
  (2023-09-13): the form of meta.xml, every term and row type against the list of published terms
  in schema/vocab/dwc-terms.tsv, every row's reference to the core, and its cells against the
  certificate as tests read it without the program.
- Papers by pdftotext: no word of money in a form; a draft is marked so; no deed of gift for a find
  from federal land.
- Killed half-way: nothing that bears the bag's name."""

import csv
import hashlib
import json
import os
import pathlib
import re
import shutil
import signal
import subprocess
import sys
import tarfile
import tempfile
import time
import xml.etree.ElementTree as xml
import zipfile

from _lab import PROGRAM, TOP, Claims, entries_of
from demo import play

MONEY = re.compile(r"\b(price|value|worth|tax|dollar|USD|apprais\w*|deduct\w*|cost)\b", re.I)
TEXT = "{http://rs.tdwg.org/dwc/text/}"
ROW_TYPES = {  # of the extensions in GBIF's registry and the classes of Darwin Core
    "http://rs.tdwg.org/dwc/terms/Occurrence", "http://rs.tdwg.org/dwc/terms/Identification",
    "http://rs.tdwg.org/dwc/terms/MeasurementOrFact", "http://rs.tdwg.org/ac/terms/Multimedia",
    "http://rs.tdwg.org/dwc/terms/ResourceRelationship",
    "http://data.ggbn.org/schemas/ggbn/terms/Permit",
    "http://data.ggbn.org/schemas/ggbn/terms/Preparation",
    "http://data.ggbn.org/schemas/ggbn/terms/Preservation",
    "http://data.ggbn.org/schemas/ggbn/terms/Loan"}
# The categories of Object ID (1997), and the minimum that Spectrum 5 asks on entry; what it asks on
# exit is from memory. Money is left out of both on purpose.
OBJECT_ID = ["Photographs", "Type of object", "Materials and techniques", "Measurements",
             "Inscriptions and markings", "Distinguishing features", "Title", "Subject",
             "Date or period", "Maker", "Short description"]
ON_ENTRY = ["Number given on entry", "Owner by the record", "Address of the owner",
            "Handed over by", "Day", "Reason", "How it came in", "What it is", "Pieces counted",
            "Return by", "To be kept secret", "Pests", "Terms handed out", "Signatures"]
ON_EXIT = ["Number of this exit", "Reason", "Day", "Destination", "Carrier", "Allowed by",
           "Taken by", "Condition before leaving", "Place in the store changed", "Signatures"]
NEEDED = {"MeasurementOrFact": ["measurementType"], "Multimedia": ["identifier"],
          "ResourceRelationship": ["resourceID", "relatedResourceID"],
          "Permit": ["permitType", "permitStatus"],
          "Preparation": ["preparationType", "preparationDate"],
          "Preservation": ["preservationType"]}


class Demo:
    def __init__(self, folder):
        self.folder = folder
        self.env = {k: v for k, v in os.environ.items() if not k.startswith("MARKERBED")}
        self.env.update(MARKERBED_KEY="ottoline", MARKERBED_LEDGER="ledger",
                        MARKERBED_PASSPHRASE_FILE="passphrases/ottoline",
                        TMPDIR=str(folder / "scratch"))

    def run(self, *words):
        return subprocess.run([PROGRAM, *map(str, words)], text=True, capture_output=True,
                              env=self.env, cwd=self.folder, stdin=subprocess.DEVNULL,
                              check=False)

    def ask(self, *words):
        done = self.run(*words, "--json")
        if not done.stdout:
            sys.exit(f"{words}: exit {done.returncode}: {done.stderr}")
        return json.loads(done.stdout)

    def size(self):
        return self.ask("verify", "ledger", "--no-views")["files"][0]["entries"]


def outside(*command, cwd=None):
    return subprocess.run(list(map(str, command)), capture_output=True, cwd=cwd, check=False)


def words_of(pdf):
    return re.sub(r"\s+", " ", outside("pdftotext", "-layout", pdf, "-").stdout.decode())


def files_of(folder):
    return sorted(str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file())


# ---- the bag ----

def check_bag(claims, bag):
    for name in ("manifest-sha256.txt", "tagmanifest-sha256.txt"):
        done = outside("sha256sum", "-c", "--strict", name, cwd=bag)
        claims(f"sha256sum -c {name}", done.returncode == 0, done.stdout + done.stderr)
    for name in ("manifest-sha512.txt", "tagmanifest-sha512.txt"):
        done = outside("sha512sum", "-c", "--strict", name, cwd=bag)
        claims(f"sha512sum -c {name}", done.returncode == 0, done.stdout + done.stderr)
    payload = [f for f in files_of(bag) if f.startswith("data/")]
    for kind in ("sha256", "sha512"):
        listed = [line.split("  ", 1)[1] for line in
                  (bag / f"manifest-{kind}.txt").read_text().splitlines()]
        claims(f"manifest-{kind} names every payload file once, sorted", listed == payload)
        tags = [line.split("  ", 1)[1] for line in
                (bag / f"tagmanifest-{kind}.txt").read_text().splitlines()]
        claims(f"tagmanifest-{kind} names every other file", tags == [
            "bag-info.txt", "bagit.txt", "manifest-sha256.txt", "manifest-sha512.txt"], tags)
    claims("bagit.txt, byte for byte", (bag / "bagit.txt").read_bytes()
           == b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")
    info = (bag / "bag-info.txt").read_text()
    size = sum((bag / f).stat().st_size for f in payload)
    claims("Payload-Oxum", f"\nPayload-Oxum: {size}.{len(payload)}\n" in info, info)
    for label in ("Source-Organization", "Contact-Name", "External-Description", "Bagging-Date",
                  "External-Identifier", "Bag-Size", "Bag-Count", "Internal-Sender-Identifier",
                  "Internal-Sender-Description"):
        claims(f"bag-info has {label}", re.search(f"^{label}: \\S", info, re.M), info)
    claims("no line of it over 79 characters but what cannot be broken",
           all(len(line) <= 79 or " " not in line[1:].split(": ", 1)[-1]
               for line in info.splitlines()), info)


def check_packs(claims, bag, pack):
    names = [f"{bag.name}/{f}" for f in files_of(bag)]
    done = outside("bsdtar", "-tf", pack)
    claims(f"bsdtar lists {pack.name}", sorted(done.stdout.decode().split()) == names,
           done.stdout + done.stderr)
    if pack.suffix == ".zip":
        done = outside("unzip", "-tq", pack)
        claims("unzip -t", done.returncode == 0, done.stdout)
        with zipfile.ZipFile(pack) as packed:
            claims("zipfile: sound", packed.testzip() is None)
            claims("zipfile: the same bytes", all(packed.read(n) == (bag.parent / n).read_bytes()
                                                  for n in packed.namelist()))
            claims("zipfile: the same names", sorted(packed.namelist()) == names)
    else:
        with tarfile.open(pack) as packed:
            claims("tarfile: the same bytes", all(
                packed.extractfile(m).read() == (bag.parent / m.name).read_bytes()
                for m in packed.getmembers()))
            claims("tarfile: nobody's name, no rights beyond", all(
                m.uid == 0 and not m.uname and m.mode == 0o644 for m in packed.getmembers()))


def check_packed(claims, demo, pack):
    """The pack as it is, bent, cut short, and packs that are made to do harm."""
    done = demo.run("verify", "--trust", "trust", pack)
    claims(f"verify {pack.name}: it holds as it is", done.returncode == 0, done.stdout)
    whole = pack.read_bytes()
    bad = demo.folder / f"bad-{pack.name}"
    for what, data in (("cut short", whole[:len(whole) // 2]),
                       ("bent", whole[:len(whole) // 3] + bytes([whole[len(whole) // 3] ^ 4])
                        + whole[len(whole) // 3 + 1:])):
        bad.write_bytes(data)
        done = demo.run("verify", "--trust", "trust", bad)
        claims(f"{pack.name} {what}: it does not hold", done.returncode in (1, 2),
               done.stdout + done.stderr)
    bad.unlink()
    for name in ("../out.txt", "/out-of-the-bag.txt", "bag/../../out.txt", "~/out.txt",
                 "bag\\..\\out.txt"):
        with zipfile.ZipFile(bad, "w") as packed:
            packed.writestr("bag/bagit.txt", "BagIt-Version: 1.0\n")
            packed.writestr(zipfile.ZipInfo(name), "x")
        done = demo.run("verify", bad)
        claims(f"a pack with {name}: refused", done.returncode == 2, done.stdout + done.stderr)
    with tarfile.open(bad, "w:gz") as packed:
        link = tarfile.TarInfo("bag/link")
        link.type, link.linkname = tarfile.SYMTYPE, "/etc"
        packed.addfile(link)
    done = demo.run("verify", bad)
    claims("a pack with a link: refused", done.returncode == 2 and "bag/link" in done.stderr,
           done.stderr)
    with zipfile.ZipFile(bad, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("bag/data/zeros", bytes(200 << 20))
    done = demo.run("verify", bad)
    claims("a small pack that swells: refused", done.returncode == 2 and "more than" in done.stderr,
           done.stderr)
    with zipfile.ZipFile(bad, "w") as packed:
        packed.writestr("hello.txt", "hello")
    done = demo.run("verify", bad)
    claims("a pack with no bag: refused", done.returncode == 2 and "no bag" in done.stderr)
    bad.unlink()
    left = list((demo.folder / "scratch").iterdir())
    claims("what was unpacked is gone again", not left, left)


def refused(demo, bag, name):
    done = demo.run("verify", "--trust", "trust", bag)
    told = re.sub(r"\s+", "", done.stdout)
    return done.returncode == 1 and re.sub(r"\s+", "", name) in told, done.stdout[:800]


def check_mutations(claims, demo, bag):
    copy = bag.parent / "copy"
    shutil.copytree(bag, copy)
    for name in files_of(copy):
        path = copy / name
        whole = path.read_bytes()
        changed = bytearray(whole)
        changed[len(changed) // 2] ^= 1
        if name == "bagit.txt":
            changed = whole.replace(b"UTF-8", b"utf-8")
        path.write_bytes(changed)
        claims(f"{name} changed: refused and named", *refused(demo, copy, name))
        if name == "bagit.txt":
            path.write_bytes(whole)
            continue
        path.unlink()
        claims(f"{name} deleted: refused and named", *refused(demo, copy, name))
        path.with_name("renamed.x").write_bytes(whole)
        claims(f"{name} renamed: refused and named", *refused(demo, copy, name))
        path.with_name("renamed.x").unlink()
        path.write_bytes(whole + b"\n")
        claims(f"{name} longer by a line end: refused and named", *refused(demo, copy, name))
        path.write_bytes(whole)
    for name in ("extra.txt", "data/extra.txt", "data/forms/extra.pdf", "tagmanifest-md5.txt",
                 "metadata/extra.xml", "fetch.txt"):
        path = copy / name
        path.parent.mkdir(exist_ok=True)
        path.write_text("d41d8cd98f00b204e9800998ecf8427e  bagit.txt\n")
        claims(f"{name} added: refused and named", *refused(demo, copy, name))
        path.unlink()
    (copy / "data/link").symlink_to("README.txt")
    claims("a link added: refused and named", *refused(demo, copy, "data/link"))
    (copy / "data/link").unlink()
    (copy / "metadata").rmdir()
    done = demo.run("verify", "--trust", "trust", copy)
    claims("put back as it was, it holds again", done.returncode == 0, done.stdout)
    lines = (copy / "tagmanifest-sha256.txt").read_text()
    for what, text in (("in capitals", lines.upper().replace("BAG-INFO.TXT", "bag-info.txt")),
                       ("a line less", "".join(lines.splitlines(True)[1:]))):
        (copy / "tagmanifest-sha256.txt").write_text(text)
        claims(f"a tag manifest {what}", *refused(demo, copy, "tagmanifest-sha256.txt"))
    shutil.rmtree(copy)


# ---- Darwin Core ----

def terms_of():
    rows = csv.reader((line for line in (TOP / "schema/vocab/dwc-terms.tsv").open()
                       if not line.startswith("#")), delimiter="\t", quoting=csv.QUOTE_NONE)
    head = next(rows)
    return {row[head.index("iri")] for row in rows}


def read_table(folder, part):
    """Rows as {term: cell}, as the text guide says, and by which column they are tied."""
    def unescape(text):
        return text.encode().decode("unicode_escape")
    name = part.find(f"{TEXT}files/{TEXT}location").text
    lines = (folder / name).read_text(encoding=part.get("encoding")).split(
        unescape(part.get("linesTerminatedBy")))
    lines = lines[int(part.get("ignoreHeaderLines")):]
    key = part.find(f"{TEXT}id") if part.find(f"{TEXT}id") is not None \
        else part.find(f"{TEXT}coreid")
    fields = [(int(f.get("index")), f.get("term").rsplit("/", 1)[1])
              for f in part.findall(f"{TEXT}field")]
    rows = []
    for line in filter(None, lines):
        cells = line.split(unescape(part.get("fieldsTerminatedBy")))
        rows.append(({t: cells[i] for i, t in fields}, cells[int(key.get("index"))], len(cells)))
    return rows, len(fields) + 1


def check_form(claims, folder):
    claims("meta.xml and eml.xml are sound", outside(
        "xmllint", "--noout", folder / "meta.xml", folder / "eml.xml").returncode == 0)
    archive = xml.parse(folder / "meta.xml").getroot()
    claims("one core first, then extensions", archive.tag == f"{TEXT}archive" and [
        part.tag for part in archive] == [f"{TEXT}core"] + [f"{TEXT}extension"] * (
            len(archive) - 1))
    claims("its metadata is there", (folder / archive.get("metadata")).exists())
    known = terms_of()
    for part in archive:
        tags = [child.tag.removeprefix(TEXT) for child in part]
        kind = "id" if part.tag == f"{TEXT}core" else "coreid"
        claims(f"{part.get('rowType')}: files, {kind}, fields, in this order",
               tags[:2] == ["files", kind] and set(tags[2:]) == {"field"}, tags)
        claims("its row type is a published one", part.get("rowType") in ROW_TYPES)
        terms = [f.get("term") for f in part.findall(f"{TEXT}field")]
        claims("each of its terms is a published one, once",
               set(terms) <= known and len(set(terms)) == len(terms), set(terms) - known)
    eml = xml.parse(folder / "eml.xml").getroot()
    claims("eml.xml: the elements that the profile needs, in its order", [
        e.tag for e in eml.find("dataset")] == [
            "alternateIdentifier", "title", "creator", "metadataProvider", "pubDate", "language",
            "abstract", "contact"])
    return archive


def check_tables(claims, folder, archive, specimens):
    core, wide = read_table(folder, archive[0])
    ids = [row[1] for row in core]
    claims("one core row a specimen", sorted(i.rsplit("/", 1)[1] for i in ids)
           == sorted(specimens) and len(set(ids)) == len(ids), ids)
    tables = {"Occurrence": [row[0] for row in core]}
    for part in archive[1:]:
        name = part.get("rowType").rsplit("/", 1)[1]
        rows, columns = read_table(folder, part)
        tables[name] = [row[0] for row in rows]
        claims(f"{name}: every row belongs to a row of the core",
               rows and all(row[1] in ids for row in rows))
        claims(f"{name}: every row has all columns", all(row[2] == columns for row in rows))
        claims(f"{name}: what the extension needs is there", all(
            row.get(term) for row in tables[name] for term in NEEDED.get(name, [])))
    claims("the core has all columns", all(row[2] == wide for row in core))
    for row in tables["Occurrence"]:
        claims("basisOfRecord is of the standard's words",
               row["basisOfRecord"] in ("FossilSpecimen", "MaterialEntity"), row)
        claims("uncertainty is never 0", row.get("coordinateUncertaintyInMeters") not in
               ("0", "0.0"), row)
    return tables


def check_against_certificate(claims, data, tables):
    """Cells against what the certificate shows, as Python reads it."""
    certificate = json.loads((data / "certificate.json").read_text())
    shown = {}
    for payload, fields in entries_of(certificate):
        shown.setdefault(payload["sub"], {}).setdefault(payload["kind"], {}).update(fields)
    for row in tables["Occurrence"]:
        number = row["occurrenceID"].rsplit("/", 1)[1]
        find = shown[f"specimen/{number}"]["collecting"]
        site = shown[find["site"]["ref"]]["site"]
        layer = shown[find["horizon"]["ref"]]["horizon"]
        for term, value in (("eventDate", find["eventDate"]),
                            ("recordNumber", find["recordNumber"]),
                            ("decimalLatitude", site["decimalLatitude"]),
                            ("decimalLongitude", site["decimalLongitude"]),
                            ("geodeticDatum", site["geodeticDatum"]),
                            ("coordinateUncertaintyInMeters",
                             site["coordinateUncertaintyInMeters"]),
                            ("locality", site["siteName"]), ("countryCode", site["countryCode"]),
                            ("formation", layer["formation"]),
                            ("earliestAgeOrLowestStage", layer["earliestStage"])):
            claims(f"{number}: {term} is what was recorded", row[term] == str(value),
                   (row[term], value))
        names = [shown[p["ref"]]["party"].get("name") for p in find["recordedBy"]]
        claims(f"{number}: collectors by name", row["recordedBy"] == " | ".join(names), names)
    for row in tables["Multimedia"]:
        path = (data / "darwin-core" / row["identifier"]).resolve()
        claims(f"{row['identifier']} is there and hashes", path.exists() and hashlib.sha256(
            path.read_bytes()).hexdigest() == row["hashValue"])


def check_archive(claims, data, specimens):
    archive = check_form(claims, data / "darwin-core")
    tables = check_tables(claims, data / "darwin-core", archive, specimens)
    check_against_certificate(claims, data, tables)
    with zipfile.ZipFile(data / "darwin-core.zip") as packed:
        claims("the archive's zip has the same files, at its root",
               {n: packed.read(n) for n in packed.namelist()} == {
                   f: (data / "darwin-core" / f).read_bytes()
                   for f in files_of(data / "darwin-core")})


# ---- papers ----

def check_papers(claims, data, form, specimens):
    forms = sorted(p.name for p in (data / "forms").iterdir())
    claims(f"forms: receipts and {form}", forms == sorted(
        ["entry-receipt.pdf", "exit-receipt.pdf", form]), forms)
    for name in forms:
        text = words_of(data / "forms" / name) if name.endswith(".pdf") \
            else (data / "forms" / name).read_text()
        claims(f"{name}: no word of money", not MONEY.search(text), MONEY.findall(text))
        if "draft" in name:
            claims(f"{name}: marked as a draft", "DRAFT, not for signing before counsel" in text)
        if name.endswith(".pdf"):
            claims(f"{name}: every piece by its number", all(s in text for s in specimens))
            claims(f"{name}: sound", outside("qpdf", "--check", data / "forms" / name)
                   .returncode == 0)
    readme = (data / "README.txt").read_text()
    points = re.findall(r"^ *(\d+)\. .*: (OPEN|answered)$", readme, re.M)
    claims("the README answers 22 points or names them open",
           [int(n) for n, _ in points] == list(range(1, 23)), points)
    claims("no line of it is over 80 characters", all(len(line) <= 80
                                                      for line in readme.split("\n")))
    claims("the sheet has the certificate inside, byte for byte", b"certificate.json" in outside(
        "pdfdetach", "-list", data / "sheet.pdf").stdout)
    record = words_of(data / "record.pdf")
    for words in OBJECT_ID:
        claims(f"record.pdf, object identification: {words}", words in record)
    for name, lines in (("entry", ON_ENTRY), ("exit", ON_EXIT)):
        text = words_of(data / f"forms/{name}-receipt.pdf")
        for words in lines:
            claims(f"{name} receipt: {words}", words in text, text)
        claims(f"{name} receipt: no names of fields", "where:" not in text, text)
    claims("record.pdf: a statement is what the sheet is, and not printed as data",
           "as its sheet prints it" in record and "name: whatItIs" not in record)
    for words in ("Every entry about this piece", "Materials in it", "Cautions",
                  "The place and its land", "The layer", "The permission and its papers"):
        claims(f"record.pdf: {words}", words in record)


def check_skull(claims, demo):
    """A find from federal land, with the museum."""
    before = demo.size()
    preview = demo.ask("handover", "24-0130", "--preview")
    claims("a preview says what is open", len(preview["points"]) == 22 and any(
        p["open"] for p in preview["points"]))
    claims("and what is missing, the most important first", [
        m["rank"] for m in preview["readiness"][0]["missing"]] == sorted(
            m["rank"] for m in preview["readiness"][0]["missing"]))
    done = demo.run("handover", "24-0130", "--to", "P006", "--as", "gift", "--out", "no")
    claims("a deed of gift is refused", done.returncode == 2 and "no deed of gift" in done.stderr,
           done.stderr)
    claims("nothing was recorded or written", demo.size() == before
           and not (demo.folder / "no").exists())
    made = demo.ask("handover", "24-0130", "--to", "P006", "--out", "skull", "--pack", "zip")
    bag = demo.folder / "skull"
    claims("a deposit, by land and dealing", made["form"] == "deposit", made)
    claims("one entry was recorded, of the kind certificate", demo.size() == before + 1)
    done = demo.run("verify", "--trust", "trust", "skull")
    claims("verify: it holds", done.returncode == 0, done.stdout)
    told = demo.ask("verify", "--trust", "trust", "skull")
    about = told["files"][0]
    claims("every attachment that it shows is in it",
           about["attachmentsShown"] == about["attachmentsHere"] > 0, about)
    claims("none is said to be missing", not any(
        f["name"].startswith(("bag-", "file-")) for f in told["findings"]), told["findings"])
    check_bag(claims, bag)
    check_packs(claims, bag, demo.folder / "skull.zip")
    check_packed(claims, demo, demo.folder / "skull.zip")
    check_archive(claims, bag / "data", ["24-0130"])
    check_papers(claims, bag / "data", "repository-receipt-draft.pdf", ["24-0130"])
    claims("no deed of gift anywhere in it", not any(
        "deed" in f for f in files_of(bag)) and "Deed of gift" not in words_of(
            bag / "data/record.pdf"))
    done = demo.run("handover", "24-0130", "--to", "P006", "--out", "skull")
    claims("never written over", done.returncode == 2 and "is there already" in done.stderr)
    check_mutations(claims, demo, bag)


def check_gift(claims, demo):
    made = demo.ask("handover", "24-0115", "24-0117", "--to", "P006", "--as", "gift", "--out",
                    "gift", "--pack", "tar.gz", "--paper", "Letter")
    bag = demo.folder / "gift"
    claims("a gift from private land", made["form"] == "gift", made)
    check_bag(claims, bag)
    check_packs(claims, bag, demo.folder / "gift.tar.gz")
    check_packed(claims, demo, demo.folder / "gift.tar.gz")
    check_archive(claims, bag / "data", ["24-0115", "24-0117"])
    check_papers(claims, bag / "data", "deed-of-gift-draft.pdf", ["24-0115", "24-0117"])
    done = demo.run("measure", next((bag / "data/measurements").rglob("*.json")))
    claims("its outlines can be measured again", done.returncode == 0, done.stderr)
    photos = [f for f in files_of(bag / "data/attachments") if f.endswith(".jpg")]
    stored = {p.name for p in (demo.folder / "ledger/files").rglob("*") if p.is_file()}
    claims("photos at full size, byte for byte", photos and all(hashlib.sha256(
        (bag / "data/attachments" / f).read_bytes()).hexdigest() in stored for f in photos))


def check_killed(claims, demo):
    """Whenever it is killed, nothing has the bag's name but a whole bag."""
    cut = 0
    for turn in range(12):
        bag = demo.folder / f"cut-{turn}"
        command = [PROGRAM, "handover", "24-0130", "24-0115", "--to", "P006", "--out", bag.name]
        with subprocess.Popen(command, env=demo.env, cwd=demo.folder,
                              stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as running:
            time.sleep(0.06 + 0.03 * turn)
            running.send_signal(signal.SIGKILL)
        if bag.exists():
            done = demo.run("verify", "--trust", "trust", bag.name)
            claims(f"killed at turn {turn}: whole", done.returncode == 0, done.stdout)
        else:
            cut += 1
            left = list(demo.folder.glob(f".cut-{turn}.*"))
            claims(f"killed at turn {turn}: what is left says that it is unfinished",
                   all("unfinished" in p.name for p in left), left)
            claims(f"killed at turn {turn}: and is no bag for any tool",
                   all(not (p / "bagit.txt").exists() or (p / "tagmanifest-sha512.txt").exists()
                       for p in left))
    claims("some were cut short", cut > 0)
    claims("the ledger holds", demo.run("verify", "--trust", "trust", "ledger").returncode == 0)


def main():
    claims = Claims()
    with tempfile.TemporaryDirectory() as name:
        demo = Demo(pathlib.Path(name))
        if play(claims, demo.folder):
            (demo.folder / "scratch").mkdir()
            check_skull(claims, demo)
            check_gift(claims, demo)
            check_killed(claims, demo)
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
