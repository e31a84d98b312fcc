#!/usr/bin/python3
"""markerbed section: a measured section from the record, drawn to scale.

Outside judges: heights and true thicknesses worked out by hand here (trigonometry, and the feet of
1959), the chart's ages as published, qpdf for the file, pdffonts for the fonts, pdftotext for the
words, and the pixels of the rendered page for the scale."""

import json
import math
import pathlib
import subprocess
import sys
import xml.dom.minidom

from _lab import Claims, Lab


def outside(*command):
    return subprocess.run(list(map(str, command)), capture_output=True, text=True, check=False)


def layer(lab, number, name, **more):
    lab.record("horizon", f"horizon/{number}", layerName=name, layerState="named",
               formation=more.pop("formation", "Niobrara Formation"), earliestStage="Santonian",
               latestStage="Santonian", howRecognised="not known",
               lithology=more.pop("lithology", "chalk"), **more)


def find(lab, number, **more):
    lab.record("collecting", f"specimen/{number}", eventDate="2026-05-02", site="site/S001",
               recordedBy="party/P001", permission="permission/L1", purpose="commercial",
               tools="hand tools", recordNumber=f"T-{number}", objectForm="slab",
               objectQuantity=1, quantityHow="counted", materialClass="invertebrate",
               verbatimIdentification="crinoid", fieldTreatment="not known",
               inPlace=more.pop("inPlace", "in place"), **more)


def story(lab):
    lab.record("party", "party/P001", partyType="person", name="Ottoline Harrow",
               namedTo="anyone")
    lab.record("site", "site/S001", siteName="Sallow Draw", countryCode="US",
               stateProvince="Kansas", county="Gove", decimalLatitude="38.7712",
               decimalLongitude="-100.5134", geodeticDatum="EPSG:4326",
               coordinateSource="GPS receiver", coordinateUncertaintyInMeters="15",
               placeHeldBackBy="us")
    lab.record("permission", "permission/L1", permissionType="own land", grantor="party/P001",
               holder="party/P001", validFrom="2020-01-01", validUntil="until ended",
               document="none")
    up = {"baseDatum": "base of the marker bed", "section": "site/S001"}
    layer(lab, "H-0", "lower shale", lithology="grey shale with bentonite", thickness="10 ft",
          baseHeight="-10 ft", formation="Carlile Shale", **up)
    layer(lab, "H-M", "marker bed", lithology="bentonite", thickness="20 cm", baseHeight="0 m",
          **up)
    layer(lab, "H-A", "crinoid layer", thickness="2 m", baseHeight="0.2 m",
          thicknessHow="along the ground", dip="30", dipDirection="90", slope="20",
          slopeDirection="90", **up)
    layer(lab, "H-L", "tooth lag", lithology="sandy lag", thickness="5 cm", baseHeight="1 m", **up)
    layer(lab, "H-T", "top sandstone", lithology="sandstone, yellow", thickness="1 m",
          baseHeight="2.5 m", **up)
    layer(lab, "H-X", "elsewhere", thickness="1 m", baseHeight="1 m", baseDatum="top of the hill",
          section="site/S001")
    layer(lab, "H-N", "no thickness")
    layer(lab, "H-S", "alone", thickness="0.35 m")
    find(lab, "26-1", horizon="horizon/H-A", heightAboveBase="40 cm",
         heightDatum="Base of the marker bed")
    find(lab, "26-2", horizon="horizon/H-A", heightAboveBase="40 cm",
         heightDatum="base of the marker bed")
    find(lab, "26-3", horizon="horizon/H-A", heightAboveBase="1.1 m", heightAboveBaseTo="1.5 m",
         heightDatum="base of the marker bed")
    find(lab, "26-4", horizon="horizon/H-T")
    find(lab, "26-5", horizon="horizon/H-A", inPlace="talus or dump", heightAboveBase="0.5 m",
         heightDatum="base of the marker bed")
    find(lab, "26-6", horizon="horizon/H-0", heightAboveBase="3 m", heightDatum="the road")
    find(lab, "26-7", horizon="horizon/H-T", heightAboveBase="40 m",
         heightDatum="base of the marker bed")


def near(got, wanted):
    return abs(got - wanted) < 1e-6


def check_heights(claims, told):
    # uphill in the direction of the dip: L sin(dip + slope), from trigonometry
    true = 2 * math.sin(math.radians(50))
    wanted = [("H-0", -3.048, 0), ("H-M", 0, 0.2), ("H-A", 0.2, 1), ("H-L", 1, 1.05),
              ("H-A", 1.05, 0.2 + true), (None, 0.2 + true, 2.5), ("H-T", 2.5, 3.5)]
    got = [(u.get("horizon", "")[8:] or None, u["base"], u["top"]) for u in told["units"]]
    claims("the layers are stacked as worked out by hand: a thin one inside a thick one, a hole",
           len(got) == len(wanted) and all(a[0] == b[0] and near(a[1], b[1]) and near(a[2], b[2])
                                           for a, b in zip(got, wanted)), got)
    by = {u.get("horizon"): u for u in told["units"]}
    claims("rock is told by its noun", by["horizon/H-0"]["pattern"] == "shale"
           and by["horizon/H-T"]["pattern"] == "sandstone"
           and by["horizon/H-L"]["pattern"] == "conglomerate"
           and by[None]["pattern"] == "not recorded", by)
    # International Chronostratigraphic Chart v2024-12: base 85.7 +/- 0.2, top 83.6 +/- 0.2 Ma
    claims("ages are in words, by the chart", by["horizon/H-A"]["age"]
           == "Santonian, 85.7 \u00b1 0.2 Ma to 83.6 \u00b1 0.2 Ma", by["horizon/H-A"])
    claims("how the true thickness was come by is told", "1.53 m" in by["horizon/H-A"]["how"])


def check_finds(claims, told):
    finds = {tuple(f["subjects"]): f for f in told["finds"]}
    same = finds.get(("specimen/26-1", "specimen/26-2"))
    claims("finds of one height stand together", same and near(same["from"], 0.4), finds)
    span = finds.get(("specimen/26-3",))
    claims("a range of heights", span and near(span["from"], 1.1) and near(span["to"], 1.5))
    claims("a find without a height is somewhere in its layer",
           finds[("specimen/26-4",)].get("somewhereIn") == "horizon/H-T")
    claims("so is one measured from another datum",
           finds[("specimen/26-6",)].get("somewhereIn") == "horizon/H-0")
    notes = " ".join(told["notes"])
    claims("loose finds are at no level, and that is said",
           "Not found in place" in notes and "26-5" in notes
           and not any("specimen/26-5" in f["subjects"] for f in told["finds"]), notes)
    claims("a height outside the section is said", "outside" in notes and "26-7" in notes, notes)
    claims("a layer of another datum is said", "H-X" in notes, notes)


def black_rows(lab, pdf):
    """y in mm of the rows of pixels that are dark all across the column's middle."""
    outside("pdftoppm", "-r", "254", "-f", "1", "-l", "1", "-gray", pdf, lab.path("page"))
    page = next(pathlib.Path(lab.path("")).glob("page-*.pgm")).read_bytes()
    parts = page.split(b"\n", 3)
    wide, _ = map(int, parts[1].split())
    dots = parts[3]
    left, right = 300, 580  # 30 to 58 mm: inside the column
    return [y / 10 for y in range(len(dots) // wide)
            if max(dots[y * wide + left:y * wide + right]) < 128]


def check_paper(claims, lab):
    pdf, svg = lab.path("s.pdf"), lab.path("s.svg")
    told = lab.do("section", "H-A", "--pdf", pdf, "--svg", svg)
    scale = float(json.loads(lab.do("section", "H-A", "--json", "--pdf", lab.path("2.pdf")))
                  ["scale"].split()[-1])
    claims("it says where the drawing is", "s.pdf" in told and "s.svg" in told, told)
    claims("the scale is 1, 2 or 5 times a power of ten", str(int(scale)).strip("0") in "125",
           scale)
    claims("qpdf finds the file sound", outside("qpdf", "--check", pdf).returncode == 0)
    fonts = outside("pdffonts", pdf).stdout.splitlines()[2:]
    claims("all fonts are embedded", fonts and all(" yes " in line for line in fonts), fonts)
    text = outside("pdftotext", "-layout", pdf, "-").stdout
    for words in ("Sallow Draw", "base of the marker bed", "crinoid layer", "26-1, 26-2",
                  "Santonian", "chronostratigraphic chart, version 2024-12", "conglomerate",
                  "Not found in place", "nothing recorded", f"1 : {scale:g}"):
        claims(f"the page has the words: {words}", words in text, text)
    info = outside("pdfinfo", pdf).stdout
    claims("title and language", "Measured section: Sallow Draw" in info, info)
    rows = black_rows(lab, pdf)
    # frames of the beds: top of the section, and each boundary below it, in mm by the scale
    top = rows[0] if rows else 0
    for level in (2.5, 1.05, 1.0, 0.2, 0, -3.048):
        mm = top + (3.5 - level) * 1000 / scale
        claims(f"the boundary at {level} m lies where the scale puts it",
               any(abs(mm - y) < 0.25 for y in rows), (mm, rows[:400:10]))
    xml.dom.minidom.parse(svg)
    claims("the SVG is well-formed, one page wide",
           'width="595' in pathlib.Path(svg).read_text()[:400])
    again = lab.run("section", "H-A", "--pdf", pdf)
    claims("a file that is there is not overwritten", again.returncode == 2, again.stderr)


def check_many(claims, lab):
    """More layers and finds than lines on a page."""
    rows = []
    for n in range(120):
        rows.append({"kind": "horizon", "subject": f"horizon/Z{n}", "fields": {
            "layerName": f"thin bed {n}", "layerState": "named", "formation": "not known",
            "earliestStage": "not known", "latestStage": "not known", "howRecognised": "not known",
            "lithology": "marl", "thickness": "7 cm", "baseHeight": f"{n * 7} cm",
            "baseDatum": "road", "section": "site/S001"}})
        rows.append({"kind": "collecting", "subject": f"specimen/Z{n}", "fields": {
            "eventDate": "2026-05-02", "site": "site/S001", "recordedBy": "party/P001",
            "permission": "permission/L1", "purpose": "commercial", "tools": "hand tools",
            "recordNumber": "none", "objectForm": "slab", "objectQuantity": 1,
            "quantityHow": "counted", "materialClass": "invertebrate",
            "verbatimIdentification": "not known", "horizon": f"horizon/Z{n}",
            "inPlace": "in place", "heightAboveBase": f"{n * 7 + 1} cm", "heightDatum": "road"}})
    pathlib.Path(lab.path("many.json")).write_text(json.dumps(rows))
    lab.do("record", "--from", lab.path("many.json"))
    pdf = lab.path("many.pdf")
    lab.do("section", "Z7", "--pdf", pdf, "--paper", "Letter")
    text = outside("pdftotext", "-layout", pdf, "-").stdout
    claims("every layer and every find is on paper",
           all(f"(Z{n})" in text for n in range(120))
           and all(f" Z{n}\n" in text for n in range(120)), text[:600])
    claims("over several pages", int(outside("pdfinfo", pdf).stdout.split("Pages:")[1].split()[0])
           > 3)


def main():
    claims = Claims()
    with Lab("section.example") as lab:
        story(lab)
        told = lab.ask("section", "H-A")
        check_heights(claims, told)
        check_finds(claims, told)
        check_paper(claims, lab)
        alone = lab.ask("section", "H-S")
        claims("a layer without a height stands alone, from its base", len(alone["units"]) == 1
               and alone["units"][0]["base"] == 0 and near(alone["units"][0]["top"], 0.35), alone)
        for what, words in (("H-N", "no thickness"), ("H-Q", "no layer")):
            refused = lab.run("section", what)
            claims(f"refused: {words}", refused.returncode == 2 and words in refused.stderr
                   and refused.stderr.count("\n") == 1, refused.stderr)
        layer(lab, "H-B", "not enough", thickness="1 m", thicknessHow="along the ground")
        refused = lab.run("section", "H-B")
        claims("a line along the ground needs its angles", refused.returncode == 2
               and "slopeDirection" in refused.stderr, refused.stderr)
        check_many(claims, lab)
    sys.exit(claims.end())


main()
