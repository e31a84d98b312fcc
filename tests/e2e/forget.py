#!/usr/bin/python3
"""forget: in two steps thirty days apart. What was erased is in no byte of the ledger and of a
scrubbed backup, in any of several encodings; everything given away before verifies as it did.

The thirty days pass on the clock of the test build (MARKERBED_CLOCK); the shipped program is shown
not to have it."""
import base64
import json
import os
import pathlib
import subprocess
import sys

from _lab import PROGRAM, TOP, Claims, Lab

TEST = os.path.abspath(os.environ.get("MARKERBED_TEST", TOP / "build/debug/markerbed"))
NAME = "Benedikta Quillfeather"
STREET = "Nine Thornapple Crescent"
LATITUDE, LOCALITY = "44.718231", "below the third fence of Harebell Gulch"
claims = Claims()


class Aged(Lab):
    """A lab whose days the test counts."""

    def __init__(self, origin):
        self.day = "2031-06-01"
        super().__init__(origin)

    def run(self, *words, typed=None, program=TEST, ledger=True):
        env = {**self.env, "MARKERBED_CLOCK": f"{self.day}T09:00:00Z"}
        named = ["-L", self.ledger] if ledger else []
        return subprocess.run([program, *named, *map(str, words)], text=True, capture_output=True,
                              env=env, cwd=self.folder, check=False, stdin=subprocess.DEVNULL)


def encodings(secret):
    """A secret as it might lie about: plain, in UTF-16, in base64 at each of the three offsets,
    in hex, in JSON with escapes, in lower case as a search index has it."""
    raw = secret.encode()
    yield "plain", raw
    yield "small letters", secret.lower().encode()
    yield "UTF-16", secret.encode("utf-16-le")
    yield "hex", raw.hex().encode()
    yield "HEX", raw.hex().upper().encode()
    yield "reversed", raw[::-1]
    yield "JSON", "".join(f"\\u{ord(c):04x}" for c in secret).encode()
    for code, alphabet in ((base64.b64encode, "base64"), (base64.urlsafe_b64encode, "base64url")):
        for shift in range(3):
            whole = code(b"\0" * shift + raw + b"\0" * 3)
            # the letters that depend on the secret alone
            start, end = -(-shift * 8 // 6), (shift + len(raw)) * 8 // 6
            yield f"{alphabet} at {shift}", whole[start:end]


def words_of(secret):
    """A search index holds words, not sentences."""
    return [w for w in secret.split() if len(w) > 7]


def traces(folder, secrets):
    found = []
    for path in sorted(pathlib.Path(folder).rglob("*")):
        if not path.is_file():
            continue
        data = path.read_bytes()
        for secret in secrets:
            for name, form in encodings(secret):
                if form in data:
                    found.append(f"{path.name}: {secret!r} in {name}")
            for word in words_of(secret):
                if word.lower().encode() in data.lower():
                    found.append(f"{path.name}: the word {word!r}")
    return found


def prepare(lab):
    lab.record("party", "party/P001", partyType="person", name="Ottoline Harrow", namedTo="anyone")
    lab.record("party", "party/P006", partyType="person", name=NAME, namedTo="anyone",
               address=STREET, phone="+1 555 0142 778")
    lab.record("site", "site/S001", siteName=LOCALITY, siteType="outcrop", countryCode="US",
               stateProvince="Wyoming", county="Niobrara", verbatimLocality=LOCALITY,
               decimalLatitude=LATITUDE, decimalLongitude="-104.312764", geodeticDatum="EPSG:4326",
               coordinateSource="GPS receiver", coordinateUncertaintyInMeters="30 m",
               placeHeldBackBy="landowner", placeFinestAllowed="exact")
    photo = lab.folder / "gate.txt"
    photo.write_text(f"the gate {LOCALITY}\n")
    lab.record("document", "site/S001", docType="field notes", title="Way to it",
               docDate="2026-05-30", issuedBy="not known", attach=f"fileForScience={photo}")


def find(lab, number, **fields):
    lab.record("collecting", f"specimen/{number}", eventDate="2026-05-30", objectForm="slab",
               objectQuantity="1", materialClass="invertebrate",
               verbatimIdentification="crinoid slab",
               horizon="not known", inPlace="in place", quantityHow="counted", recordNumber=number,
               **{"permission": "not needed", "site": "site/S001", "recordedBy": "party/P006",
                  **fields})


def certificate(lab, number, audience="institution"):
    lab.do("sheet", number, "--to", "party/P001", "--audience", audience, "--out",
           lab.path(f"out-{audience}-{lab.day}"))
    return next(pathlib.Path(lab.path(f"out-{audience}-{lab.day}")).glob("*.json"))


def verifies(lab, path):
    done = lab.run("verify", path, "--trust", lab.trust(), "--json")
    return done.returncode == 0, done.stdout[-600:]


def two_steps(lab):
    lab.record("note", "specimen/26-0001", text=f"Ask {NAME} for the other half")
    early = certificate(lab, "26-0001")
    claims("the certificate holds the name", NAME in shown(early), early)
    seen = lab.ask("forget", "party/P006", "--field", "name", "--field", "address", "--ground",
                   "a person's request", "--preview")
    copies = {(c["kind"], c["field"]) for c in seen["copies"]}
    claims("a copy in a note is found", ("note", "text") in copies, copies)
    claims("and in what a certificate said", ("certificate", "statement") in copies, copies)
    claims("a preview records nothing", lab.ask("forget") == [])
    asked = lab.ask("forget", "party/P006", "--field", "name", "--field", "address", "--ground",
                    "a person's request", "--asked-by", "P006", "--copies")
    request = asked["request"]
    claims("due thirty days later", asked["due"][:10] == "2031-07-01", asked)
    refused = lab.run("forget", "--do", request)
    claims("not at once", refused.returncode == 2 and "2031-07-01" in refused.stderr, refused)
    lab.day = "2031-06-30"
    refused = lab.run("forget", "--do", request)
    claims("nor a day too early", refused.returncode == 2, refused)
    lab.day = "2031-07-01"
    hidden = lab.run("forget", "--do", request, program=PROGRAM)
    claims("the shipped program's clock is the machine's",
           "MARKERBED_CLOCK" not in subprocess.run(["strings", PROGRAM], text=True,
                                                   capture_output=True, check=True).stdout
           and hidden.returncode == 2, hidden)
    return request, early


def shown(path):
    text = path.read_text()
    out = []
    for entry in json.loads(text)["entries"]:
        for disclosure in entry["sd_jwt"].split("~")[1:-1]:
            out.append(base64.urlsafe_b64decode(disclosure + "==").decode())
    return "\n".join(out)


def refusals(lab, request):
    """Claims and reports."""
    before = lab.entries()
    lab.record("claim", "site/S001", nature="agency inquiry", status="open", date="2031-07-01",
               by="not known", byLabel="agency", hold="do not erase")
    refused = lab.run("forget", "--do", request)
    claims("refused under a claim", refused.returncode == 2 and "claim" in refused.stderr, refused)
    asked = lab.run("forget", "party/P006", "--field", "phone", "--ground", "a person's request")
    claims("asking too", asked.returncode == 2 and "claim" in asked.stderr, asked)
    claims("and nothing was recorded", lab.entries() == before + 1)
    leaf = lab.ask("show", "site/S001")["entries"][-1]["leaf"]
    lab.record("claim", "site/S001", nature="agency inquiry", status="settled", date="2031-07-01",
               by="not known", byLabel="agency", hold="none", concerns=leaf)
    lab.record("site", "site/S002", siteName="Other gulch", countryCode="US",
               stateProvince="Wyoming", county="Niobrara", coordinateSource="description",
               decimalLatitude="not known", decimalLongitude="not known",
               placeHeldBackBy="agency", placeFinestAllowed="county")
    lab.record("permission", "permission/A001", permissionType="agency permit",
               permitNumber="PA-26-017", grantor="party/P001", holder="party/P001",
               validFrom="2026-01-05", validUntil="2026-12-31", sites="site/S002",
               document="none", repository="party/P001", repositoryAcceptance="none")
    find(lab, "26-0002", permission="permission/A001", site="site/S002", recordedBy="party/P001")
    for who, field in (("specimen/26-0002", "eventDate"), ("specimen/26-0002", "recordedBy"),
                       ("site/S002", "siteName"), ("party/P001", "name"),
                       ("permission/A001", "permitNumber")):
        refused = lab.run("forget", who, "--field", field, "--ground", "kept long enough")
        claims(f"{field} of {who} rests under a permit",
               refused.returncode == 2 and "permit" in refused.stderr, refused)
    for words, told in ((("party/P006", "--field", "nothing"), "no field"),
                        (("party/P006", "--field", "name", "--ground", "a whim"), "a whim"),
                        (("specimen/26-0001", "--field", "objectForm"), "open"),
                        (("party/P999", "--field", "name"), "P999"),
                        (("key/abc", "--field", "holder"), "cannot be erased")):
        if "--ground" not in words:
            words = (*words, "--ground", "kept long enough")
        refused = lab.run("forget", *words)
        claims(f"refused: {words}", refused.returncode == 2 and told in refused.stderr, refused)
    claims("the wait is never shorter", lab.run("setting", "forgetAfterDays=7").returncode == 2)


def done(lab, request, early):
    lab.run("find", "Quillfeather")  # so that the search index holds the name
    plain_backup = lab.path("before")
    lab.do("backup", plain_backup)
    claims("the search would find it before", traces(plain_backup, [NAME, STREET]))
    said = lab.do("forget", "--do", request)
    claims("what is out there is told of", "backups made before" in said, said)
    claims("no byte of the ledger holds it", not traces(lab.ledger, [NAME, STREET]),
           traces(lab.ledger, [NAME, STREET]))
    made = lab.run("backup", lab.path("after"), "--scrub")
    claims("nor of a scrubbed backup", made.returncode == 0
           and not traces(lab.path("after"), [NAME, STREET]), made)
    holds, text = verifies(lab, lab.ledger)
    claims("the ledger verifies", holds, text)
    holds, text = verifies(lab, lab.path("after"))
    claims("the backup verifies", holds, text)
    holds, text = verifies(lab, early)
    claims("the earlier certificate verifies", holds, text)
    proof = lab.run("proof", "#2")
    claims("a proof still can be made", proof.returncode == 0, proof)
    story = lab.do("show", "party/P006")
    claims("show says erased", "erased by entry" in story and "a person's request" in story, story)
    claims("and finds the name no more", lab.run("find", "Quillfeather").returncode == 1)
    claims("no byte of the views either", not traces(lab.ledger, [NAME, STREET]),
           traces(lab.ledger, [NAME, STREET]))
    claims("once is enough", lab.run("forget", "--do", request).returncode == 2)
    later = certificate(lab, "26-0001")
    claims("a later certificate has it no more", NAME not in shown(later))
    holds, text = verifies(lab, later)
    claims("and holds", holds, text)
    pdf = next(later.parent.glob("*.pdf"))
    text = subprocess.run(["pdftotext", "-layout", pdf, "-"], text=True, capture_output=True,
                          check=True).stdout
    claims("its sheet prints that something was erased", "erased for good" in " ".join(text.split())
           and NAME not in text, text)


def place_closed(lab):
    kinds = lab.ask("show", "site/S001")["entries"]
    paper = next(e for e in kinds if e["kind"] == "document")
    field = next(k for k, v in paper["fields"].items() if isinstance(v, dict) and "file" in v)
    lab.record("note", "site/S001", text=f"Park {LOCALITY}")
    words = ["forget", "site/S001", "--ground", "gives a place away", "--copies"]
    for name in ("decimalLatitude", "decimalLongitude", "verbatimLocality", "siteName", field):
        words += ["--field", name]
    asked = lab.ask(*words)
    claims("the note goes too", any(c["field"] == "text" and c["taken"] for c in asked["copies"]),
           asked)
    claims("one file will go", len(asked["files"]) == 1, asked["files"])
    lab.day = "2031-08-15"
    lab.do("forget", "--do", asked["request"])
    secrets = [LATITUDE, LOCALITY, "Harebell"]
    claims("no byte of the place", not traces(lab.ledger, secrets), traces(lab.ledger, secrets))
    lab.do("show", "site/S001")
    lab.do("backup", lab.path("closed"), "--scrub")
    claims("nor in the backup", not traces(lab.path("closed"), secrets))
    holds, text = verifies(lab, lab.ledger)
    claims("and it verifies", holds, text)


def given_up(lab):
    asked = lab.ask("forget", "party/P006", "--field", "phone", "--ground", "a person's request")
    note = next(e for e in lab.ask("show", "party/P006")["entries"]
                if e["seq"] == asked["request"])
    lab.record("correction", "party/P006", target=note["leaf"], action="void (did not happen)",
               why="told wrong", changesFacts="no")
    lab.day = "2031-12-01"
    refused = lab.run("forget", "--do", asked["request"])
    claims("one that was struck out is not done",
           refused.returncode == 2 and "struck out" in refused.stderr, refused)
    path = pathlib.Path(lab.ledger, "forget.json")
    path.write_text(path.read_text().replace("a person's request", "court order"))
    refused = lab.run("forget", "--do", asked["request"])
    claims("nor one that was changed", refused.returncode == 2 and "changed" in refused.stderr,
           refused)


def main():
    with Aged("forget.example") as lab:
        prepare(lab)
        find(lab, "26-0001")
        request, early = two_steps(lab)
        refusals(lab, request)
        done(lab, request, early)
        place_closed(lab)
        given_up(lab)
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
