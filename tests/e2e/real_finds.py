#!/usr/bin/python3
"""Three thousand published fossil occurrences, as messy as they are, through a map written for
their table: to specimens, sites and horizons, and on to certificates that verify.

The table is a random part of the Paleobiology Database (CC BY 4.0, as packaged by palaeoverse). It
is not part of the project: where ../shared/data is not there, this test is skipped and says so.
What the ledger says afterwards is held against the table as Python's csv module reads it."""

import base64
import csv
import gzip
import io
import json
import os
import random
import subprocess
import sys
import tempfile

DATA = "../shared/data/fossil-finds.csv.gz"
MAP = os.path.abspath("tests/fixtures/fossil-finds.map.json")
PROGRAM = os.path.abspath(os.environ.get("MARKERBED", "build/markerbed"))


class Judge:
    def __init__(self):
        self.passed = self.failed = 0

    def is_true(self, what, truth, detail=""):
        self.passed += bool(truth)
        self.failed += not truth
        if not truth:
            print(f"FAILED: {what} {detail}")


def run(folder, *words):
    environment = {**os.environ, "MARKERBED_PASSPHRASE_FILE": os.path.join(folder, "passphrase")}
    return subprocess.run([PROGRAM, "-L", os.path.join(folder, "ledger"), *words], text=True,
                          capture_output=True, env=environment, stdin=subprocess.DEVNULL,
                          check=False)


def answer(result):
    return json.loads(result.stdout)


def found(folder):
    with open(os.path.join(folder, "passphrase"), "w", encoding="utf-8") as file:
        file.write("some fossils of the world\n")
    run(folder, "found", "--origin", "finds.example", "--name", "Finds", "--label", "f", "--holder",
        "P001")
    run(folder, "record", "party", "party/P001", "partyType=person", "name=Somebody Else",
        "namedTo=buyers")


def take_in(judge, folder, path, rows):
    result = run(folder, "intake", path, "--map", MAP, "--json")
    judge.is_true("the table is taken in", result.returncode == 0, result.stderr[:400])
    taken = answer(result)
    judge.is_true("every row is read", taken["rows"] == len(rows), taken["rows"])
    sites = {row["collection_no"] for row in rows}
    judge.is_true("specimens as in the table", taken["kinds"].get("arrival") == len(rows))
    judge.is_true("sites as in the table", taken["kinds"].get("site") == len(sites))
    judge.is_true("horizons as in the table", taken["kinds"].get("horizon") == len(sites))
    again = answer(run(folder, "intake", path, "--map", MAP, "--json"))
    judge.is_true("a second time adds nothing", again["entries"] == 0, again["entries"])
    judge.is_true("and says so", again["already"] == len(rows), again["already"])


def shown_fields(certificate):
    """{subject: {field: value}} of a certificate, read without the program's help."""
    out = {}
    for entry in certificate["entries"]:
        jws, *disclosures = entry["sd_jwt"].split("~")
        payload = json.loads(unpack(jws.split(".")[1]))
        fields = out.setdefault(payload["sub"], {})
        fields.update({k: v for k, v in payload["body"].items() if k not in
                       ("sale", "science", "land", "private", "own")})
        for disclosure in disclosures[:-1]:
            parts = json.loads(unpack(disclosure))
            if len(parts) == 3:
                fields[parts[1]] = parts[2]
    return out


def unpack(text):
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4)).decode()


def compare(judge, row, fields):
    """Cell by cell: what is mapped, and the rest word for word."""
    piece = fields[f"specimen/O{row['occurrence_no']}"]
    site = fields[f"site/C{row['collection_no']}"]
    horizon = fields[f"horizon/C{row['collection_no']}"]
    same = piece["statedIdentification"] == row["identified_name"].strip()
    same &= piece["objectQuantity"] == int(row["abund_value"].strip() or 1)
    same &= site["decimalLatitude"] == row["lat"].strip()
    same &= site["decimalLongitude"] == row["lng"].strip()
    same &= site["siteName"] == row["collection_name"].strip()
    if row["formation"].strip():
        same &= horizon["formation"] == row["formation"].strip()
    kept = piece["verbatimLabel"]
    used = {"occurrence_no", "collection_no", "identified_name", "abund_value", "cc", "lat", "lng",
            "collection_name", "formation", "stratgroup", "member", "zone", "early_interval",
            "late_interval", "lithology1", "phylum"}
    for column, cell in row.items():
        if column not in used and cell.strip():
            same &= f"{column}: {cell.strip()}" in kept
    judge.is_true(f"occurrence {row['occurrence_no']} says what the table says", same)


def certify(judge, folder, rows):
    rng = random.Random(11)
    for n, row in enumerate(rng.sample(rows, 50)):
        piece = f"O{row['occurrence_no']}"
        audience = ("institution", "buyer", "public", "auditor")[n % 4] if n >= 30 \
            else "institution"
        out = os.path.join(folder, f"made-{n}")
        result = run(folder, "sheet", piece, "--to", "bearer", "--audience", audience, "--out", out)
        judge.is_true(f"a sheet of {piece}", result.returncode == 0, result.stderr[:300])
        path = os.path.join(out, f"{piece}.certificate.json")
        checked = run(folder, "verify", "--trust", os.path.join(folder, "trust"), path)
        judge.is_true(f"{piece} for {audience} verifies", checked.returncode == 0,
                      checked.stdout[:300])
        if audience == "institution":
            with open(path, encoding="utf-8") as file:
                compare(judge, row, shown_fields(json.load(file)))


def main():
    if not os.path.exists(DATA):
        print("skipped: ../shared/data/fossil-finds.csv.gz is not there")
        return 77
    with gzip.open(DATA, "rt", encoding="utf-8", newline="") as file:
        text = file.read()
    rows = list(csv.DictReader(io.StringIO(text)))
    judge = Judge()
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "finds.csv")
        with open(path, "w", encoding="utf-8", newline="") as file:
            file.write(text)
        found(folder)
        about = answer(run(folder, "verify", os.path.join(folder, "ledger"), "--json"))
        with open(os.path.join(folder, "trust"), "w", encoding="utf-8") as file:
            file.write(f"ledger finds.example {about['files'][0]['fingerprint']}\n")
        take_in(judge, folder, path, rows)
        certify(judge, folder, rows)
        whole = run(folder, "verify", "--trust", os.path.join(folder, "trust"),
                    os.path.join(folder, "ledger"))
        judge.is_true("the whole ledger verifies", whole.returncode == 0, whole.stdout[:400])
    print(f"{judge.passed} passed, {judge.failed} failed")
    return 1 if judge.failed else 0


if __name__ == "__main__":
    sys.exit(main())
