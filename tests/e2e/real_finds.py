#!/usr/bin/python3
"""Three thousand published fossil occurrences, as messy as they are, through a map written for
their table: to specimens, sites and horizons, and on to certificates and sheets that verify.

The table is a random part of the Paleobiology Database (CC BY 4.0, as packaged by palaeoverse). It
is not part of the project: where ../shared/data is not there, this test is skipped and says so.
What the ledger says afterwards is held against the table as Python's csv module reads it, cell by
cell, through certificates that are read without the program's help."""

import csv
import gzip
import io
import json
import pathlib
import random
import sys

from _lab import TOP, Claims, Lab, shown_by_subject

DATA = TOP / "../shared/data/fossil-finds.csv.gz"
MAP = TOP / "tests/fixtures/fossil-finds.map.json"

# column -> (subject, field) where the map puts a cell as it stands
CELLS = {
    "identified_name": [("specimen", "statedIdentification"),
                        ("specimen", "verbatimIdentification")],
    "accepted_name": [("specimen", "scientificName")],
    "collection_name": [("site", "siteName"), ("specimen", "statedLocality")],
    "lat": [("site", "decimalLatitude")], "lng": [("site", "decimalLongitude")],
    "formation": [("horizon", "formation")], "stratgroup": [("horizon", "group")],
    "member": [("horizon", "member")], "zone": [("horizon", "zone")],
    "lithology1": [("horizon", "lithology")],
}
# Columns that give an answer or a word of a list; and the numbers that make the subjects.
MAPPED = {"abund_value", "phylum", "cc", "early_interval", "late_interval", "accepted_rank",
          "pres_mode", "occurrence_no", "collection_no"}


def as_trimmed(text):
    """A cell as a person would read it: without blanks at its ends."""
    return text.strip()


def take_in(claims, lab, path, rows):
    dry = lab.ask("intake", path, "--map", MAP, "--dry-run")
    before = lab.entries()
    taken = lab.ask("intake", path, "--map", MAP)
    sites = {row["collection_no"] for row in rows}
    claims("every row is read", taken["rows"] == len(rows), taken["rows"])
    claims("the dry run said so before", dry["kinds"] == taken["kinds"], (dry, taken["kinds"]))
    claims("specimens as in the table", taken["kinds"].get("arrival") == len(rows))
    claims("sites as in the table", taken["kinds"].get("site") == len(sites), len(sites))
    claims("horizons as in the table", taken["kinds"].get("horizon") == len(sites))
    claims("each accepted name is an identification", taken["kinds"].get("identification")
           == sum(bool(row["accepted_name"].strip()) for row in rows), taken["kinds"])
    claims("the log holds them", lab.entries() - before == sum(taken["kinds"].values()))
    again = lab.ask("intake", path, "--map", MAP)
    claims("a second time adds nothing", again["entries"] == 0, again["entries"])
    claims("and says so", again["already"] == len(rows), again["already"])
    for what, count in (("specimens", len(rows)), ("sites", len(sites)), ("horizons", len(sites))):
        listed = lab.ask("list", what)
        listed = listed if isinstance(listed, list) else listed.get("rows", listed.get(what))
        claims(f"list {what} lists {count}", len(listed) == count, str(listed)[:300])


def expected_quantity(row):
    return int(row["abund_value"].strip() or 1)


def compare(claims, row, shown):
    """Cell by cell: what the map puts somewhere, and the rest word for word in the label."""
    at = {"specimen": shown[f"specimen/O{row['occurrence_no']}"],
          "site": shown[f"site/C{row['collection_no']}"],
          "horizon": shown[f"horizon/C{row['collection_no']}"]}
    name = f"occurrence {row['occurrence_no']}"
    for column, places in CELLS.items():
        for kind, field in places:
            cell, value = as_trimmed(row[column]), at[kind].get(field)
            claims(f"{name}: {column} is {field}",
                   value == cell if cell else value in (None, {"answer": "not known"}),
                   (cell, value))
    claims(f"{name}: pieces", at["specimen"]["objectQuantity"] == expected_quantity(row),
           at["specimen"])
    claims(f"{name}: form", at["specimen"]["objectForm"]
           == ("single" if expected_quantity(row) == 1 else "lot"))
    kept = at["specimen"].get("verbatimLabel")
    kept = kept.split("\n") if isinstance(kept, str) else []
    rest = [f"{column}: {as_trimmed(cell)}" for column, cell in row.items()
            if column not in CELLS and column not in MAPPED and cell.strip()]
    claims(f"{name}: every other cell is kept, word for word", kept == rest, (kept, rest))


def certify(claims, lab, rows):
    rng, trust = random.Random(11), lab.trust()
    for n, row in enumerate(rng.sample(rows, 50)):
        piece = f"O{row['occurrence_no']}"
        out = pathlib.Path(lab.path(f"made-{n}"))
        lab.do("sheet", piece, "--to", "bearer", "--audience", "institution", "--out", out)
        made = out / f"{piece}.certificate.json"
        compare(claims, row, shown_by_subject(json.loads(made.read_text())))
        files = [made, out / f"{piece}.pdf"]
        if n % 5 == 0:
            for audience in ("buyer", "auditor", "public"):
                lab.do("sheet", piece, "--to", "bearer", "--unmarked", "--audience", audience,
                       "--out", out / audience)
                files.append(out / audience / f"{piece}.certificate.json")
        checked = lab.run("verify", "--trust", trust, *files)
        claims(f"{piece}: its files verify", checked.returncode == 0, checked.stdout)
        if n == 0:
            claims("without the trust file it is an unknown ledger",
                   lab.run("verify", made).returncode == 3)
    whole = lab.run("verify", "--trust", trust, lab.ledger)
    claims("the whole ledger verifies, views and all", whole.returncode == 0, whole.stdout)


def main():
    if not DATA.exists():
        print("skipped: ../shared/data/fossil-finds.csv.gz is not there")
        return 77
    with gzip.open(DATA, "rt", encoding="utf-8", newline="") as file:
        text = file.read()
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    claims = Claims()
    with Lab("finds.example") as lab:
        path = pathlib.Path(lab.path("finds.csv"))
        path.write_text(text, encoding="utf-8", newline="")
        take_in(claims, lab, path, rows)
        certify(claims, lab, rows)
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
