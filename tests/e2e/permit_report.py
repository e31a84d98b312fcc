#!/usr/bin/python3
"""audit --report: what an agency asks for, of one permit or of its own land, read with pdftotext.

What has to stand in a permit's report: 36 CFR 291.17 (2015-05-18; read in an unofficial copy)."""

import json
import pathlib
import re
import subprocess
import sys

from _lab import Claims, Lab

ASKED = ("Permittee", "Permit number", "Report of", "Project and methods", "Field days and crew",
         "Results", "Geology and stratigraphy", "Impacts and mitigation", "Literature",
         "Associated records", "Repository", "Accession, catalogue and other numbers", "Specimens",
         "Field number", "Places, with map and datum", "Administrative area", "Taxon",
         "Where they are, how many, in what condition", "care")


def put(kind, subject, **fields):
    return {"kind": kind, "subject": subject, "fields": fields}


def site(number, name, manager):
    return [put("site", f"site/{number}", siteName=name, countryCode="US",
                stateProvince="Wyoming", county="not known", decimalLatitude="43.2107",
                decimalLongitude="-104.9022", geodeticDatum="EPSG:4326",
                coordinateSource="GPS receiver", coordinateUncertaintyInMeters="10",
                administrativeUnit="the northern field office", placeHeldBackBy="agency"),
            put("land-status", f"site/{number}", landCategory="BLM", landManager=f"party/{manager}",
                casualCollecting="open", surfaceOwner="not known", fossilOwner="not known",
                mineralsSevered="not known", landEvidence="agency map", evidenceDate="2023-05-20",
                **{"from": "1950"})]


def find(number, **over):
    fields = dict(eventDate="2024-07-08", site="site/S4", horizon="horizon/H", inPlace="in place",
                  recordedBy="party/P001", permission="permission/L4", purpose="research",
                  tools="hand tools", recordNumber=f"T-{number}",
                  verbatimIdentification="mosasaur bone", objectForm="lot", objectQuantity="7",
                  quantityHow="counted", materialClass="vertebrate")
    return put("collecting", f"specimen/{number}", **{**fields, **over})


def story():
    out = []
    for number, kind, name, named in (
            ("P001", "person", "Ottoline Harrow", "anyone"), ("P002", "person", "Silent Buyer",
                                                              "nobody"),
            ("P006", "museum", "Western Strand Museum", "anyone"),
            ("P009", "agency", "Northern office", "anyone"),
            ("P010", "agency", "Southern office", "anyone")):
        out.append(put("party", f"party/{number}", partyType=kind, name=name, namedTo=named,
                       neutralLabel="a private person"))
    out += site("S4", "Gannet Flat", "P009") + site("S5", "Long Table", "P010")
    out.append(put("horizon", "horizon/H", layerName="grey shale", layerState="named",
                   formation="Pierre Shale", earliestStage="Campanian", latestStage="Campanian",
                   lithology="shale", howRecognised="second bentonite"))
    for number, place, agency in (("L4", "S4", "P009"), ("L5", "S5", "P010")):
        out.append(put("permission", f"permission/{number}", permissionType="agency permit",
                       permitNumber=f"GF-{number}", grantor=f"party/{agency}",
                       grantorCapacity="agency officer", holder="party/P001",
                       signedOn="2024-03-04", validFrom="2024-04-01", validUntil="2025-10-31",
                       sites=f"site/{place}", area="not known", materials="vertebrate",
                       methods="hand tools", saleAllowed="no", titlePasses="never",
                       repository="party/P006", repositoryAcceptance="not known", document="none"))
    out += [find("26-1"), find("26-2", objectForm="single", objectQuantity="1"),
            find("26-3", eventDate="2025-05-05"),
            find("26-9", site="site/S5", permission="permission/L5"),
            find("26-8", objectQuantity="3")]
    out.append(put("division", "specimen/26-1", purpose="drawn from lot", remains="yes, smaller",
                   into="specimen:specimen/26-11; form:lot; quantity:2; what:vertebrae",
                   remainder="5", consumed="0", sameIndividual="does not apply",
                   doneBy="party/P001", date="2024-08-20"))
    out.append(put("loss", "specimen/26-2", nature="stolen", date="2024-09-01", quantity="1"))
    out.append(put("custody", "specimen/26-11", **{"from": "party/P001"}, to="party/P006",
                   fromLabel="us", toLabel="museum", handedOver="2024-09-02",
                   received="2024-09-02", reason="loan", capacity="keeper",
                   acknowledged="one side only", receipt="none", fromCountry="US", toCountry="US",
                   dueBack="2030-01-01"))
    out.append(put("custody", "specimen/26-3", **{"from": "party/P001"}, to="party/P002",
                   fromLabel="us", toLabel="private person", handedOver="2025-09-02",
                   received="2025-09-02", reason="storage", capacity="keeper",
                   acknowledged="one side only", receipt="none", fromCountry="US",
                   toCountry="US"))
    return out


def report(claims, lab, *words):
    pdf = lab.path(f"{len(list(lab.folder.iterdir()))}.pdf")
    done = lab.run("audit", *words, "--report", pdf)
    claims(f"{words}: made", done.returncode in (0, 1) and pathlib.Path(pdf).exists(), done.stderr)
    claims(f"{words}: qpdf finds it sound",
           subprocess.run(["qpdf", "--check", pdf], capture_output=True, check=False).returncode
           == 0)
    return subprocess.run(["pdftotext", "-raw", pdf, "-"], capture_output=True, text=True,
                          check=False).stdout


def counts(text):
    part = text.split("Count of pieces")[1].split("Moved, and to whom")[0]
    return [int(n) for n in re.findall(r" (\d+)$", part, re.M)]


def main():
    claims = Claims()
    with Lab("permit.example") as lab:
        pathlib.Path(lab.path("s.json")).write_text(json.dumps(story()))
        lab.do("record", "--from", lab.path("s.json"))
        struck = [e for e in lab.ask("show", "26-8")["entries"] if e["kind"] == "collecting"][0]
        lab.record("correction", "specimen/26-8", target=f"#{struck['seq']}",
                   action="void (double)", why="told wrong", changesFacts="yes")
        text = report(claims, lab, "--permission", "L4")
        for words in ASKED:
            claims(f"the permit's report has: {words}", words in text, text[:300])
        for words in ("Ottoline Harrow", "GF-L4", "Western Strand Museum", "T-26-1", "26-11",
                      "Pierre Shale", "EPSG:4326", "43.2107", "stolen", "void (double)",
                      "told wrong", "drawn from lot", "to be added by hand", "291.17"):
            claims(f"and says: {words}", words in text, text)
        # 36 CFR 291.17 has the items (a) to (x); (n) is the list of specimens, (w) where they are
        items = dict(re.findall(r"^\(([a-x])\) (.*)$", text, re.M))
        claims("each item stands with its letter", sorted(items)
               == [chr(c) for c in range(ord("a"), ord("x") + 1)], items)
        claims("in the order of the regulation", items["n"].startswith("Specimens")
               and items["w"].startswith("Where they are") and items["b"].endswith("GF-L4"), items)
        claims("an item that the record does not give says so",
               all("not on the record" in items[c] for c in "ltv"), items)
        claims("who wants to be named to nobody is not", "Silent Buyer" not in text
               and "a private person" in text)
        # by hand: 7 + 1 + 7 collected; 2 with the museum; 1 stolen; 5 + 7 elsewhere
        claims("the pieces add up", counts(text) == [15, 2, 0, 1, 12], counts(text))
        claims("nothing of another permit is in it", "26-9" not in text and "GF-L5" not in text)
        year = report(claims, lab, "--permission", "L4", "--from", "2024-01-01", "--until",
                      "2024-12-31")
        claims("a year's report has that year's finds", "26-3" not in year and "26-1" in year)
        claims("and says that others were left out",
               "finds under this permission on other days" in year.replace("\n", " "), year[-800:])
        land = report(claims, lab, "--agency", "P009")
        claims("an agency gets its own land: lots, divided pieces, losses, what was struck out",
               all(w in land for w in ("26-1", "26-11", "stolen", "void (double)", "26-3")), land)
        claims("and nothing of another's", "26-9" not in land and "Long Table" not in land
               and "GF-L5" not in land)
        claims("what was left out is named by category", "finds on other land" in land, land[-600:])
        moved = report(claims, lab, "--agency", "P009", "--from", "2025-09-01", "--until",
                       "2025-09-30")
        claims("a find counts by the day it was moved, too", "26-3" in moved and "T-26-1" not in
               moved, re.findall(r".*26-.*", moved))
        scope = lab.ask("audit", "--agency", "P009")
        claims("the audit itself is limited to that land", {s["site"] for s in scope["sites"]}
               == {"site/S4"} and scope["scope"] == {"agency": "party/P009"}
               and scope["leftOut"], (scope["sites"], scope["scope"]))
        for words in (("--report", "x.pdf"), ("--permission", "L9", "--report", "x.pdf"),
                      ("--agency", "P077", "--report", "x.pdf")):
            done = lab.run("audit", *words)
            claims(f"{words} is refused", done.returncode == 2
                   and not pathlib.Path(lab.path("x.pdf")).exists(), done.stderr)
    sys.exit(claims.end())


main()
