"""A generated ledger of many finds on many sites under many permissions, with faults planted in it
whose place is known, and an audit of it: all of them found, none else.

The cases of _land.py are planted too, one or more for each rule. What is planted among the many is
drawn by a fixed sequence, so that every run plants the same."""
import csv
import datetime
import json
import os
import random
import sqlite3
import subprocess
import time

import _land
from _lab import PROGRAM, Lab

HEAD = ["kind", "subject", "eventDate", "site", "horizon", "inPlace", "recordedBy", "permission",
        "purpose", "tools", "recordNumber", "verbatimIdentification", "objectForm",
        "objectQuantity", "quantityHow", "materialClass", "commonKind", "mass", "massHow",
        "massWithMatrix", "decimalLatitude", "decimalLongitude", "geodeticDatum",
        "coordinateUncertaintyInMeters"]
FAULTS = {"day": ("04", "conflict"), "place": ("07", "conflict"), "edge": ("07", "gap"),
          "material": ("09", "conflict"), "tool": ("10", "conflict"), "person": ("06", "conflict"),
          "none": ("03", "gap"), "site": ("07", "conflict")}


def square(n):
    """A field of its own for each site, two hundredths of a degree wide, on a grid."""
    west, south = -104 + 0.03 * (n % 60), 38 + 0.03 * (n // 60)
    return west, south, {"type": "Polygon", "coordinates": [
        [[round(west, 4), round(south, 4)], [round(west + 0.02, 4), round(south, 4)],
         [round(west + 0.02, 4), round(south + 0.02, 4)], [round(west, 4), round(south + 0.02, 4)],
         [round(west, 4), round(south, 4)]]]}


def grounds(sites, permissions):
    out = []
    for n in range(sites):
        area = square(n)[2]
        out.append({"kind": "site", "subject": f"site/G{n}", "fields": {
            "siteName": f"Field {n}", "countryCode": "US", "stateProvince": "Kansas",
            "county": "not known", "siteType": "outcrop", "decimalLatitude": "not known",
            "decimalLongitude": "not known", "boundary": area, "boundarySource": "survey plat",
            "placeHeldBackBy": "nobody"}})
        out.append({"kind": "land-status", "subject": f"site/G{n}", "fields": {
            "landCategory": "private", "from": "1990-01-01", "surfaceOwner": "party/P001",
            "landManager": "not known", "fossilOwner": "party/P001", "mineralsSevered": "no",
            "landEvidence": "county record", "evidenceDate": "2023-01-01"}})
    for n in range(permissions):
        fields = {"permissionType": "own land", "grantor": "party/P001",
                  "grantorCapacity": "owner", "holder": "party/P001",
                  "signedOn": "does not apply", "validFrom": "2000-01-01",
                  "validUntil": "until ended", "sites": f"site/G{n % sites}",
                  "area": square(n % sites)[2] if n % 2 else "none",
                  "materials": "invertebrate", "methods": "hand tools",
                  "supervisedAllowed": "no", "saleAllowed": "yes", "titlePasses": "on collecting",
                  "placeMayBePublished": "yes", "document": "none"}
        if n % 10 == 3:  # its day is planted: it began tomorrow
            fields["validFrom"] = str(datetime.date.today() + datetime.timedelta(1))
        out.append({"kind": "permission", "subject": f"permission/Q{n}", "fields": fields})
    return out


def finds(count, sites, permissions, every):
    """Rows of finds, and the findings that they must make."""
    dice = random.Random(20260502)
    today = datetime.date.today()
    planted = set()
    for i in range(count):
        n = i % permissions
        while n % 10 == 3:
            n = (n + 1) % permissions
        west, south, _ = square(n % sites)
        row = {"kind": "collecting", "subject": f"specimen/F{i}",
               "eventDate": str(today - datetime.timedelta(dice.randrange(1, 20))),
               "site": f"site/G{n % sites}", "horizon": "not known", "inPlace": "in place",
               "recordedBy": "party/P001", "permission": f"permission/Q{n}",
               "purpose": "personal", "tools": "hand tools", "recordNumber": "none",
               "verbatimIdentification": "a shell", "objectForm": "single", "objectQuantity": "1",
               "quantityHow": "counted", "materialClass": "invertebrate", "commonKind": "common",
               "mass": "0.2 kg", "massHow": "weighed", "massWithMatrix": "no",
               "decimalLatitude": f"{south + 0.002 + 0.016 * dice.random():.5f}",
               "decimalLongitude": f"{west + 0.002 + 0.016 * dice.random():.5f}",
               "geodeticDatum": "EPSG:4326", "coordinateUncertaintyInMeters": "20"}
        if i % every == every - 1:
            fault = list(FAULTS)[i // every % len(FAULTS)]
            plant(row, fault, west, south, sites, permissions, n)
            planted.add((FAULTS[fault][0], row["subject"], FAULTS[fault][1]))
        yield row, planted
    yield None, planted


def plant(row, fault, west, south, sites, permissions, n):
    if fault == "day":
        row["permission"] = f"permission/Q{n - n % 10 + 3}"
        other = (n - n % 10 + 3) % sites
        west, south, _ = square(other)
        row.update(site=f"site/G{other}", decimalLatitude=f"{south + 0.01:.5f}",
                   decimalLongitude=f"{west + 0.01:.5f}")
    elif fault == "place":
        row["decimalLatitude"] = f"{south - 0.004:.5f}"
    elif fault == "edge":
        row["decimalLatitude"] = f"{south + 0.0001:.5f}"
    elif fault == "material":
        row["materialClass"] = "vertebrate"
    elif fault == "tool":
        row["tools"] = "powered hand tools"
    elif fault == "person":
        row["recordedBy"] = "party/P002"
    elif fault == "none":
        row.update(permission="none", recordedBy="party/P002")
    elif fault == "site":
        row.update(decimalLatitude="", decimalLongitude="", geodeticDatum="",
                   coordinateUncertaintyInMeters="", site=f"site/G{(n + 1) % sites}")


def fill(lab, count, sites, permissions, every):
    """Records it all; the findings that are planted among the many."""
    lab.record("party", "party/P001", partyType="person", name="A B", namedTo="anyone",
               neutralLabel="the lab")
    (lab.folder / "cases.json").write_text(json.dumps(_land.build()))
    lab.do("record", "--from", lab.path("cases.json"))
    everything = grounds(sites, permissions)
    for at in range(0, len(everything), 2000):
        (lab.folder / "grounds.json").write_text(json.dumps(everything[at:at + 2000]))
        lab.do("record", "--from", lab.path("grounds.json"))
    planted = set()
    with open(lab.path("finds.csv"), "w", newline="", encoding="utf-8") as file:
        out = csv.DictWriter(file, HEAD)
        out.writeheader()
        for row, planted in finds(count, sites, permissions, every):
            if row:
                out.writerow(row)
    lab.do("intake", lab.path("finds.csv"))
    os.unlink(lab.path("finds.csv"))
    return planted


def read_all(lab):
    """Seconds of one scan by SQLite alone of every row and column of the views that rules read."""
    db = sqlite3.connect(f"file:{lab.ledger}/ledger.db?mode=ro", uri=True)
    tables = [name for (name,) in db.execute(
        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name IN ('v_find', 'v_collector',"
        " 'v_specimen', 'v_entry', 'v_site', 'v_land', 'v_permission', 'v_permission_site',"
        " 'v_custody', 'v_title', 'v_holder', 'v_owner', 'v_division', 'v_link')")]
    began = time.monotonic()
    for table in tables:
        columns = [row[1] for row in db.execute(f"PRAGMA table_info({table})")]
        db.execute("SELECT " + ", ".join(f"sum(length({c}))" for c in columns)
                   + f" FROM {table}").fetchall()
    took = time.monotonic() - began
    db.close()
    return took


def audit(lab):
    """What was told, seconds, and kibibytes at most."""
    began = time.monotonic()
    run = subprocess.Popen([PROGRAM, "-L", lab.ledger, "audit", "--json"], env=lab.env,
                           stdout=subprocess.PIPE)
    text = run.stdout.read()
    _, _, usage = os.wait4(run.pid, 0)
    run.returncode = 0
    return json.loads(text), time.monotonic() - began, usage.ru_maxrss


def findings_of(told):
    return {(f["rule"], subject, f["severity"]) for f in told["findings"]
            for subject in f.get("subjects", [f["subject"]])}


def judge(claims, count, sites, permissions, every):
    with Lab("small.example") as lab:
        lab.record("party", "party/P001", partyType="person", name="A B", namedTo="anyone",
                   neutralLabel="the lab")
        (lab.folder / "cases.json").write_text(json.dumps(_land.build()))
        lab.do("record", "--from", lab.path("cases.json"))
        cases = findings_of(audit(lab)[0])
    with Lab("many.example") as lab:
        planted = fill(lab, count, sites, permissions, every)
        audit(lab)  # brings the views up to date
        told, seconds, kib = audit(lab)
        scan = min(read_all(lab) for _ in range(2))
    found = findings_of(told)
    claims(f"all {len(planted)} planted faults are found", planted <= found,
           sorted(planted - found)[:10])
    claims("and those of the cases, as in a ledger of their own", cases <= found,
           sorted(cases - found)[:10])
    claims("none else", found <= planted | cases, sorted(found - planted - cases)[:10])
    asked = next(r for r in told["rules"] if r["id"] == "04")["applied"]
    print(f"{count} finds, {sites} sites, {permissions} permissions: audit {seconds:.2f} s,"
          f" {seconds / scan:.1f} x a scan of the same rows ({scan:.2f} s), {kib / 1024:.0f} MiB;"
          f" rule 04 applied to {asked}")
    return seconds / scan, kib / 1024
