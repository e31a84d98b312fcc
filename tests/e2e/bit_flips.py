#!/usr/bin/python3
"""Each single bit of a small ledger's log, tree, disclosures and checkpoints, flipped, is noticed.

The database is changed from outside, through Python's sqlite3 with the triggers taken away, and
`markerbed verify` must find a fault each time. Inside `make check` a sample of the bits is flipped,
spread evenly over every column with a fixed seed; FULL=1 in the environment flips every one (some
hours)."""

import json
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile

PROGRAM = os.path.abspath(os.environ.get("MARKERBED", "build/markerbed"))
SAMPLE = int(os.environ.get("BIT_SAMPLE", "400"))
COLUMNS = [("log", "seq", "leaf"), ("log", "seq", "jws"), ("node", "at", "hash"),
           ("disclosures", "seq", "tail"), ("checkpoint", "size", "note")]


def run(folder, *words):
    environment = {**os.environ, "MARKERBED_PASSPHRASE_FILE": os.path.join(folder, "passphrase")}
    return subprocess.run([PROGRAM, "-L", os.path.join(folder, "ledger"), *words], text=True,
                          capture_output=True, env=environment, stdin=subprocess.DEVNULL,
                          check=False)


def fill(folder):
    with open(os.path.join(folder, "passphrase"), "w", encoding="utf-8") as file:
        file.write("every bit of it\n")
    steps = [
        ("found", "--origin", "bits.example", "--name", "Bits", "--label", "b", "--holder", "P001"),
        ("record", "party", "party/P001", "partyType=person", "name=Ottoline Harrow",
         "namedTo=buyers"),
        ("record", "site", "site/S001", "siteName=Sallow Draw", "countryCode=US",
         "stateProvince=Kansas", "county=Gove", "decimalLatitude=38.7712",
         "decimalLongitude=-100.5134", "geodeticDatum=EPSG:4326", "coordinateSource=GPS receiver",
         "coordinateUncertaintyInMeters=15", "placeHeldBackBy=us"),
        ("record", "collecting", "specimen/26-0001", "recordNumber=T-1", "site=site/S001",
         "eventDate=2026-05-02", "verbatimIdentification=crinoid", "objectForm=slab",
         "objectQuantity=1", "quantityHow=counted", "materialClass=invertebrate",
         "horizon=not known", "inPlace=in place", "permission=not needed",
         "purpose=not known", "tools=not known"),
        ("record", "preparation", "specimen/26-0001", "steps=method:airscribe", "lostInWork=none"),
        ("record", "note", "specimen/26-0001", "text=looked at again"),
        ("sheet", "26-0001", "--to", "bearer", "--out", os.path.join(folder, "out")),
        ("record", "note", "site/S001", "text=the end"),
    ]
    for step in steps:
        result = run(folder, *step)
        if result.returncode:
            sys.exit(f"{step[:2]}: {result.stderr}")


def open_raw(path):
    db = sqlite3.connect(path, isolation_level=None)
    db.text_factory = bytes
    db.execute("PRAGMA journal_mode=DELETE")
    db.execute("PRAGMA synchronous=OFF")
    for (name,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'").fetchall():
        db.execute(f'DROP TRIGGER "{name.decode()}"')
    return db


def all_bits(db):
    for table, key, column in COLUMNS:
        for row, value in db.execute(f"SELECT {key}, {column} FROM {table}").fetchall():
            for bit in range(8 * len(value)):
                yield table, key, column, row, value, bit


def chosen(bits):
    if os.environ.get("FULL") == "1":
        return bits
    rng = random.Random(4)
    out = []
    for table, _, column in COLUMNS:
        mine = [b for b in bits if b[0] == table and b[2] == column]
        out += rng.sample(mine, min(len(mine), SAMPLE // len(COLUMNS)))
    return out


def put(db, table, key, column, row, value):
    kind = "TEXT" if column in ("jws", "tail", "note") else "BLOB"
    db.execute(f"UPDATE {table} SET {column} = CAST(? AS {kind}) WHERE {key} = ?", (value, row))


def flip(value, bit):
    changed = bytearray(value)
    changed[bit // 8] ^= 1 << (bit % 8)
    return bytes(changed)


def main():
    passed = failed = 0
    with tempfile.TemporaryDirectory() as folder:
        fill(folder)
        before = run(folder, "verify", os.path.join(folder, "ledger"), "--no-views")
        if before.returncode != 3:
            sys.exit(f"the untouched ledger: exit {before.returncode} {before.stdout}")
        copy = os.path.join(folder, "copy")
        shutil.copytree(os.path.join(folder, "ledger"), copy)
        db = open_raw(os.path.join(copy, "ledger.db"))
        bits = list(all_bits(db))
        for table, key, column, row, value, bit in chosen(bits):
            put(db, table, key, column, row, flip(value, bit))
            result = run(folder, "verify", copy, "--no-views", "--json")
            put(db, table, key, column, row, value)
            try:
                findings = json.loads(result.stdout)["findings"]
            except ValueError:
                findings = []
            # a founding that cannot be read leaves nothing to be opened as a ledger
            noticed = (result.returncode == 1 and any(f["severity"] == "fault" for f in findings)) \
                or (result.returncode in (2, 3) and table == "log" and row == 0
                    and "never founded" in result.stderr)
            passed += noticed
            failed += not noticed
            if not noticed:
                print(f"FAILED: {table}.{column} of {row}, bit {bit}: exit {result.returncode} "
                      f"{[f['name'] for f in findings]} {result.stderr.strip()[:200]}")
        after = run(folder, "verify", copy, "--no-views")
        failed += after.returncode != 3
        print(f"{len(bits)} bits in all")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
