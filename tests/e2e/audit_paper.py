#!/usr/bin/python3
"""The audit on paper, read as a land manager would who has nothing else of ours.

Outside judges: qpdf for the file, pdffonts for the fonts, pdftotext for the words, the pixels of
the rendered map for its scale, against the lengths of a degree on the ellipsoid (worked out here
from the radii of curvature; WGS 84: a = 6378137 m, f = 1/298.257223563, NIMA TR8350.2)."""

import json
import math
import pathlib
import re
import subprocess
import sys

import _land
from _lab import Claims, Lab

NEVER = r"\b(illegal\w*|unlawful\w*|lawful\w*|trespass\w*|theft|complian\w*|violat\w*|cleared|" \
        r"authentic\w*|guarantee\w*|legal advice)\b"


def outside(*command):
    return subprocess.run(list(map(str, command)), capture_output=True, text=True,
                          errors="replace", check=False)


def words(pdf):
    return outside("pdftotext", "-raw", pdf, "-").stdout


def bare(text):
    return re.sub(r"\s+", "", text)


def sound(claims, pdf, name):
    claims(f"{name}: qpdf finds it sound", outside("qpdf", "--check", pdf).returncode == 0)
    fonts = outside("pdffonts", pdf).stdout.splitlines()[2:]
    claims(f"{name}: all fonts are embedded",
           fonts and all(line.split()[-5] == "yes" for line in fonts), fonts)
    info = outside("pdfinfo", pdf).stdout
    claims(f"{name}: it has a title", re.search(r"Title: +\w", info), info)
    root = outside("qpdf", "--qdf", "--object-streams=disable", pdf, "-").stdout
    claims(f"{name}: and says its language", "/Lang (en)" in root)


def check_words(claims, lab, pdf):
    audit = lab.ask("audit")
    text = words(pdf)
    flat = bare(text)
    # the foot of a page may stand between two rows, never within one
    for part in ("sentence", "mend"):
        missing = [f[part] for f in audit["findings"] if bare(f[part]) not in flat]
        claims(f"each finding's {part} is on paper", not missing, missing[:2])
    lost = [s for f in audit["findings"] for s in f["entries"]
            if not re.search(rf"#{s}\b", text)]
    claims("and each entry behind it", not lost, lost[:5])
    cited = [r for r in audit["rules"] if r["citation"]]
    claims("each rule with its citation", cited and all(bare(r["citation"]) in flat
                                                        for r in cited))
    unread = [r for r in cited if not r["checkedAgainstText"]]
    claims("what was not checked against the text says so, once a rule at least",
           len(re.findall("notcheckedagainstthetext", flat)) >= len(unread), len(unread))
    claims("it opens as it must", bare(audit["opening"]) in flat[:400])
    claims("with its cautions", all(bare(c) in flat for c in audit["cautions"]))
    claims("it says what was asked and what could not be told",
           bare(f"{sum(r['cannotTell'] for r in audit['rules'])} could not be told") in flat)
    claims("no word of law that the record cannot know", not re.search(NEVER, text, re.I),
           re.findall(NEVER, text, re.I)[:3])
    for account in audit["accounts"]:
        for limit in account["limits"]:
            for row in limit["sums"]:
                for addend in row["addends"]:
                    claims("each addend stands in its account",
                           f"(#{addend['seq']})" in text, addend)
    days = {d["day"] for p in audit["timeline"] for d in p["days"]}
    claims("each day of collecting stands at its permission", all(f"{d} (" in text for d in days),
           days)


def degree_m(lat):
    """Metres of a degree of latitude and of longitude."""
    a, f = 6378137.0, 1 / 298.257223563
    e2 = f * (2 - f)
    w = math.sqrt(1 - e2 * math.sin(math.radians(lat)) ** 2)
    return (math.radians(1) * a * (1 - e2) / w ** 3,
            math.radians(1) * a / w * math.cos(math.radians(lat)))


def dark_runs(line):
    """Middles of the runs of dark pixels, in mm at 254 dpi."""
    out, start = [], None
    for x, value in enumerate(list(line) + [255]):
        if value < 90 and start is None:
            start = x
        elif value >= 90 and start is not None:
            out.append((start + x) / 20)
            start = None
    return out


def check_map(claims, lab):
    """A site of its own: a square, a hole in it, a parcel, one point with a circle of 250 m."""
    square = [[-101.02, 38.90], [-101.00, 38.90], [-101.00, 38.92], [-101.02, 38.92],
              [-101.02, 38.90]]
    half = [[-101.01, 38.90], [-101.00, 38.90], [-101.00, 38.905], [-101.01, 38.905],
            [-101.01, 38.90]]
    lab.record("site", "site/MAP", siteName="Long Table", countryCode="US",
               stateProvince="Kansas", county="Gove", decimalLatitude="38.91",
               decimalLongitude="-101.01", geodeticDatum="EPSG:4326",
               coordinateSource="GPS receiver",
               coordinateUncertaintyInMeters="15", placeHeldBackBy="us",
               boundary=json.dumps({"type": "Polygon", "coordinates": [square]}),
               boundarySource="parcel map")
    for category, area in (("private", None), ("BLM", half)):
        more = {"area": json.dumps({"type": "Polygon", "coordinates": [area]}),
                "landManager": "not known", "casualCollecting": "not known"} if area else {}
        lab.record("land-status", "site/MAP", **{
            "landCategory": category, "from": "1990", "surfaceOwner": "not known",
            "fossilOwner": "not known", "mineralsSevered": "not known",
            "landEvidence": "agency map", "evidenceDate": "2020-01-01", **more})
    lab.record("collecting", "specimen/M-1", eventDate="2024-06-10", site="site/MAP",
               horizon="not known", inPlace="in place", recordedBy="party/P001",
               permission="none", purpose="personal", tools="hand tools", recordNumber="none",
               verbatimIdentification="a shell", objectForm="single", objectQuantity="1",
               quantityHow="counted", materialClass="invertebrate", decimalLatitude="38.913",
               decimalLongitude="-101.012", geodeticDatum="EPSG:4326",
               coordinateUncertaintyInMeters="250")
    pdf = lab.path("map.pdf")
    lab.run("audit", "--site", "MAP", "--pdf", pdf)
    sound(claims, pdf, "one site")
    text = words(pdf)
    for part in ("Boundaries as entered, from: parcel map; no survey was made", "land: BLM",
                 "boundary of the site", "within 250 m", "WGS 84, equal area, north up",
                 "What was left out"):
        claims(f"the map says: {part}", bare(part) in bare(text), text[-1500:])
    pages = text.split("\f")
    page = next(n for n, t in enumerate(pages, 1) if "boundary of the site" in t)
    scale = int(re.search(r"scale 1 : (\d+)", pages[page - 1]).group(1))
    outside("pdftoppm", "-r", "254", "-f", page, "-l", page, "-gray", pdf, lab.path("map"))
    image = next(pathlib.Path(lab.path("")).glob("map-*.pgm")).read_bytes().split(b"\n", 3)
    wide, high = map(int, image[1].split())
    rows = [image[3][y * wide:(y + 1) * wide] for y in range(high)]
    north_m, east_m = degree_m(38.91)
    width, height = 0.02 * east_m * 1000 / scale, 0.02 * north_m * 1000 / scale
    # the frame of the map is the outermost line; the boundary lies inside it
    hits = 0
    for row in rows[::10]:
        runs = dark_runs(row)
        hits += any(abs(b - a - width) < 0.35 for a in runs for b in runs)
    claims(f"the square is as wide as 1 : {scale} makes it, {width:.1f} mm", hits >= 10, hits)
    hits = 0
    for x in range(400, wide - 400, 10):
        runs = dark_runs(bytes(row[x] for row in rows))
        hits += any(abs(b - a - height) < 0.35 for a in runs for b in runs)
    claims(f"and as high, {height:.1f} mm", hits >= 10, hits)


def check_long(claims):
    """Hundreds of findings of one rule go on over the pages, none cut or lost."""
    with Lab("long.example") as lab:
        lab.record("party", "party/P001", partyType="person", name="A B", namedTo="anyone")
        lab.record("site", "site/S1", siteName="The cut", countryCode="US",
                   stateProvince="Kansas", county="not known", placeHeldBackBy="us",
                   decimalLatitude="not known", decimalLongitude="not known")
        lab.record("permission", "permission/L1", permissionType="lease", grantor="party/P001",
                   holder="party/P001", validFrom="2024-01-01", validUntil="2024-02-01",
                   signedOn="2023-12-01", document="none")
        finds = [{"kind": "collecting", "subject": f"specimen/F{n}", "fields": {
            "eventDate": "2024-06-10", "site": "site/S1", "horizon": "not known",
            "inPlace": "in place", "recordedBy": "party/P001", "permission": "permission/L1",
            "purpose": "personal", "tools": "hand tools", "recordNumber": "none",
            "verbatimIdentification": "a shell", "objectForm": "single", "objectQuantity": 1,
            "quantityHow": "counted", "materialClass": "invertebrate"}} for n in range(400)]
        pathlib.Path(lab.path("f.json")).write_text(json.dumps(finds))
        lab.do("record", "--from", lab.path("f.json"))
        pdf = lab.path("long.pdf")
        lab.run("audit", "--pdf", pdf, "--paper", "Letter")
        sound(claims, pdf, "many findings")
        text = words(pdf)
        told = set(re.findall(r"shows F(\d+) collected on", " ".join(text.split())))
        claims("all 400 finds of another day are on paper", len(told) == 400, len(told))
        claims("over many pages, each with its number",
               re.search(r"page 12\b", text) is not None)
        claims("with the heading of the table again on each", text.count("What the record shows")
               >= 8, text.count("What the record shows"))


def main():
    claims = Claims()
    with Lab("paper.example") as lab:
        empty = lab.path("empty.pdf")
        lab.run("audit", "--pdf", empty)
        claims("an empty ledger says that nothing was found among nothing",
               bare("There are no findings among them") in bare(words(empty)), words(empty))
        lab.record("party", "party/P001", partyType="person", name="A B", namedTo="anyone",
                   neutralLabel="the lab")
        pathlib.Path(lab.path("cases.json")).write_text(json.dumps(_land.build()))
        lab.do("record", "--from", lab.path("cases.json"))
        pdf = lab.path("a.pdf")
        done = lab.run("audit", "--pdf", pdf)
        claims("it ends with 1 where there are conflicts", done.returncode == 1, done.stderr)
        claims("and warns its maker before it saves", "may have to be handed over" in done.stderr)
        claims("nobody else can read the file", pathlib.Path(pdf).stat().st_mode & 0o77 == 0)
        sound(claims, pdf, "all rules")
        check_words(claims, lab, pdf)
        again = lab.run("audit", "--pdf", pdf)
        claims("a file that is there is not written over", again.returncode == 2
               and "there already" in again.stderr, again.stderr)
        check_map(claims, lab)
    check_long(claims)
    sys.exit(claims.end())


main()
