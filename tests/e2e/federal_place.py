#!/usr/bin/python3
"""Finds on federal land: finer than the state their place leaves only for the agency and its
repository, until a release by the agency is on record (16 USC 470aaa-8; 43 CFR 49.25; 36 CFR
291.22(a)(2)(iv)). Files are read here without the program's help."""

import base64
import json
import pathlib
import subprocess
import sys

from _lab import TOP, Claims, Lab, entries_of, shown_by_subject

sys.path.insert(0, str(TOP / "tests/verifiers"))
import verify  # noqa: E402
from withheld import GPS, jpeg  # noqa: E402

SQUARE = json.dumps({"type": "Polygon", "coordinates": [[
    [-104.91, 43.20], [-104.89, 43.20], [-104.89, 43.22], [-104.91, 43.22], [-104.91, 43.20]]]})
# words and figures of the record that place the find
PLACING = ("43 12 39.96", "dry well", "43.2107", "104.9022", "43.2111", "104.9011", "43.20",
           "43.22", "Gannet Flat", "Converse", "northern field office",
           "east of the stock tank", "two gullies up")


def story(lab):
    pathlib.Path(lab.path("skull.jpg")).write_bytes(jpeg(b"skull"))
    for number, kind, name in (("P001", "person", "Ottoline Harrow"), ("P006", "museum",
                               "Western Strand Museum"), ("P009", "agency", "A field office"),
                               ("P012", "museum", "Another museum"),
                               ("P013", "agency", "Another agency")):
        lab.record("party", f"party/{number}", partyType=kind, name=name, namedTo="anyone",
                   neutralLabel="somebody")
    for site, name, category in (("S4", "Gannet Flat", "BLM"), ("S1", "Sallow Draw", "private")):
        lab.record("site", f"site/{site}", siteName=name, countryCode="US",
                   stateProvince="Wyoming", county="Converse", decimalLatitude="43.2107",
                   decimalLongitude="-104.9022", geodeticDatum="EPSG:4326",
                   coordinateSource="GPS receiver", coordinateUncertaintyInMeters="10",
                   placeHeldBackBy="agency", administrativeUnit="the northern field office",
                   placeFinestAllowed="exact", boundary=SQUARE, boundarySource="survey plat",
                   verbatimLocality="two gullies up")
        lab.record("land-status", f"site/{site}", landCategory=category, **{
            "from": "1950", "surfaceOwner": "not known", "fossilOwner": "not known",
            "mineralsSevered": "not known", "landEvidence": "agency map", "area": SQUARE,
            "evidenceDate": "2023-05-20", "landManager": "party/P009", "casualCollecting": "open"})
        lab.record("permission", f"permission/L{site}", permissionType="agency permit",
                   permitNumber="GF-1", grantor="party/P009", grantorCapacity="agency officer",
                   holder="party/P001", signedOn="2024-03-04", validFrom="2024-04-01",
                   validUntil="2024-10-31", sites=f"site/{site}", area=SQUARE,
                   areaText="east of the stock tank", materials="vertebrate", methods="hand tools",
                   saleAllowed="no", titlePasses="never", repository="party/P006",
                   repositoryAcceptance="not known", document="none")
        lab.record("collecting", f"specimen/{site}-1", eventDate="2024-07-08", site=f"site/{site}",
                   horizon="not known", inPlace="in place", recordedBy="party/P001",
                   permission=f"permission/L{site}", purpose="research", tools="hand tools",
                   recordNumber="none", verbatimIdentification="mosasaur skull",
                   objectForm="single", objectQuantity="1", quantityHow="counted",
                   materialClass="vertebrate", decimalLatitude="43.2111",
                   decimalLongitude="-104.9011", geodeticDatum="EPSG:4326",
                   coordinateUncertaintyInMeters="5", fieldNotes="two gullies up",
                   verbatimCoordinates="43 12 39.96 N 104 54 03.96 W",
                   fromFeature="0.5 mi N of the dry well", coordinateSource="survey",
                   photos="file:skull.jpg; view:front", attach=lab.path("skull.jpg"))


def position_in(certificate):
    """Do the files that travel along have what the camera wrote of the place?"""
    return any(GPS in base64.b64decode(data) for data in certificate.get("files", {}).values())


def issue(claims, lab, specimen, to, audience, *more):
    out = lab.path(f"{len(list(lab.folder.iterdir()))}.certificate.json")
    lab.do("sheet", specimen, "--to", to, "--audience", audience, "--out", out, *more)
    certificate = json.loads(pathlib.Path(out).read_text())
    code, words, findings = verify.judge([out], lab.trust())
    claims(f"{specimen} for {to}, {audience}: a stranger's verifier finds it whole", code == 0,
           (words, findings))
    told = json.dumps([fields for _, fields in entries_of(certificate)])
    return certificate, [word for word in PLACING if word in told], out


def kept_back(certificate):
    return [row["reason"] for payload, fields in entries_of(certificate)
            if payload["kind"] == "certificate" for row in fields["withheld"]]


def main():
    claims = Claims()
    with Lab("federal.example") as lab:
        story(lab)
        for to, audience in (("bearer", "public"), ("P012", "institution"), ("bearer", "auditor"),
                             ("P013", "auditor"), ("bearer", "institution")):
            certificate, placed, out = issue(claims, lab, "S4-1", to, audience)
            claims(f"{to}, {audience}: nothing finer than the state", not placed, placed)
            claims(f"{to}, {audience}: nor in a photo", not position_in(certificate))
            claims(f"{to}, {audience}: a photo as it was taken is not named",
                   "photosAsTaken" not in shown_by_subject(certificate).get("specimen/S4-1", {}))
            shown = shown_by_subject(certificate)
            claims(f"{to}, {audience}: the state is there", audience == "public" or
                   shown.get("site/S4", {}).get("stateProvince") == "Wyoming", shown)
            if audience != "public":
                claims(f"{to}, {audience}: what was kept back is said, and for whom",
                       "agency's request" in kept_back(certificate), kept_back(certificate))
            paper = subprocess.run(["pdftotext", out.replace(".certificate.json", ".pdf"), "-"],
                                   capture_output=True, text=True, check=False).stdout
            claims(f"{to}, {audience}: nor on the paper",
                   paper and not [word for word in PLACING if word in paper], paper[:200])
        certificate, placed, _ = issue(claims, lab, "S4-1", "P012", "institution", "--reveal",
                                       "decimalLatitude")
        claims("revealing by name does not get round it", not placed, placed)
        for to, audience in (("P009", "auditor"), ("P006", "institution")):
            certificate, placed, _ = issue(claims, lab, "S4-1", to, audience)
            claims(f"{to}, the {audience}: the agency and its repository see the place",
                   {"43.22", "Converse", "east of the stock tank"} <= set(placed), placed)
            claims(f"{to}: and in the photo as it was taken, where it sees that",
                   (audience == "auditor") != ("photosAsTaken" in shown_by_subject(
                       certificate)["specimen/S4-1"]))
            # a land auditor's classes have areas and no points; an institution's have both
            claims(f"{to}: and points, where its audience has them", (audience == "auditor")
                   != ({"43.2107", "43.2111", "Gannet Flat",
                               "43 12 39.96", "dry well"} <= set(placed)), placed)
        _, placed, _ = issue(claims, lab, "S1-1", "P012", "institution")
        claims("land that is not federal goes by its own wishes", "43.2107" in placed, placed)
        lab.record("document", "site/S4", docType="agency release", title="Release of the place",
                   docDate="2025-01-09", issuedBy="party/P009", file="none", originalKept="folder")
        _, placed, _ = issue(claims, lab, "S4-1", "P012", "institution")
        claims("after the agency's release another museum sees it too", "43.2107" in placed, placed)
    sys.exit(claims.end())


main()
