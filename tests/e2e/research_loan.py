#!/usr/bin/python3
"""Research use, from end to end: thirty-six specimens lent at once and received in the borrower's
own ledger, three sectioned with consent, results and publication joined, a holotype named later;
and an old label kept letter by letter beside what somebody made of it. Names are invented."""

import json
import sys

from _lab import Claims, Lab, TOP, entries_of

sys.path.insert(0, str(TOP / "tests/verifiers"))
import verify  # noqa: E402

NUMBERS = [f"26-{n:04d}" for n in range(501, 537)]
LABEL = "Inoceramus w. fish?, Sallow Dr. ½ mi N, 6/71 – coll. “H. & V.” [sic]"


def founded(lab, name, other):
    lab.record("party", "party/P001", partyType="firm", name=name, namedTo="anyone",
               neutralLabel="us")
    lab.record("party", "party/P002", partyType="museum", name=other, namedTo="anyone",
               neutralLabel="the other side")


def a_season(lab):
    lab.record("site", "site/S001", siteName="Sallow Draw", countryCode="US",
               stateProvince="Kansas", county="not known", decimalLatitude="38.94127",
               decimalLongitude="-100.21350", geodeticDatum="EPSG:4326",
               coordinateSource="GPS receiver", coordinateUncertaintyInMeters="12")
    lab.record("permission", "permission/L001", permissionType="own land", grantor="party/P001",
               holder="party/P001", validFrom="2020-01-01", validUntil="until ended",
               sites="site/S001", document="none")
    lab.record("field-day", "field-day/D012", eventDate="2025-05-02", site="site/S001",
               permission="permission/L001", recordedBy="party/P001",
               present="party:party/P001; role:named", purpose="research",
               tools="hand tools")
    many(lab, "season.json", [
        ("collecting", number, {
            "fieldDay": "field-day/D012", "recordNumber": f"T-{number}",
            "verbatimIdentification": "stemless crinoid", "objectForm": "slab",
            "objectQuantity": 1, "quantityHow": "counted", "materialClass": "invertebrate",
            "horizon": "not known", "inPlace": "in place"}) for number in NUMBERS])


def many(lab, name, entries):
    """All or none: a batch."""
    path = lab.folder / name
    path.write_text(json.dumps([{"kind": kind, "subject": f"specimen/{number}", "fields": fields}
                                for kind, number, fields in entries]))
    lab.do("record", "--from", path)


def lent(claims, lab):
    lab.record("dealing", "dealing/D001", type="loan out",
               parties="party:party/P001; role:lender | party:party/P002; role:borrower",
               opened="2025-09-01", dueBack="2027-08-31",
               specimens=" | ".join(f"specimen/{n}" for n in NUMBERS), signedPaper="none")
    many(lab, "loan.json", [
        ("custody", number, {
            "dealing": "dealing/D001", "from": "party/P001", "to": "party/P002",
            "fromLabel": "us", "toLabel": "museum", "handedOver": "2025-09-01",
            "received": "2025-09-03", "reason": "loan", "capacity": "borrower",
            "acknowledged": "one side only", "fromCountry": "US", "toCountry": "US"})
        for number in NUMBERS])
    out = lab.do("query", "SELECT count(*) FROM v_custody WHERE reason = 'loan'")
    claims("thirty-six are lent, each with its own entry", "36" in out, out)
    last = lab.ask("show", NUMBERS[-1])["entries"][-1]["fields"]
    claims("the loan says when they are due back", last["dueBack"] == "2027-08-31", last)


def borrowed(claims, lab, university, trust):
    lab.do("sheet", *NUMBERS, "--together", "--to", "P002", "--audience", "institution", "--out",
           lab.path("loan.certificate.json"))
    numbers = [word for n in NUMBERS for word in ("--as", f"{n}=U-{n}")]
    university.do("receive", lab.path("loan.certificate.json"), "--trust", trust, "--from", "P002",
                  *numbers, "reason=loan")
    arrivals = university.do("query", "SELECT count(*) FROM v_arrival")
    claims("the borrower's ledger has all thirty-six, from one certificate", "36" in arrivals,
           arrivals)
    again = university.ask("receive", lab.path("loan.certificate.json"), "--trust", trust,
                           "--from", "P002", *numbers, "reason=loan")
    claims("and takes none twice", "arrivals" not in again.get("result", again), again)
    university.do("sheet", *[f"U-{n}" for n in NUMBERS], "--together", "--to", "bearer",
                  "--audience", "institution", "--out", university.path("all.certificate.json"))
    file = json.loads((university.folder / "all.certificate.json").read_text())
    claims("its certificate of all carries the lender's once", len(file["foreign"]) == 1)


def sectioned(claims, lab):
    """Three are cut, each by consent; the sections keep their ties."""
    consent_file = lab.folder / "consent.txt"
    consent_file.write_text("Sections of three of the thirty-six may be made.\n")
    for number in NUMBERS[:3]:
        said = lab.ask("record", "document", f"specimen/{number}", "docType=consent",
                       "title=Consent to sections", "docDate=2026-01-10", "issuedBy=party/P001",
                       f"file={consent_file}")
        seq = said.get("result", said)["seq"]
        lab.do("record", "division", f"specimen/{number}", "purpose=section made",
               "remains=yes, smaller", "remainder=1", "consumed=0", "sameIndividual=yes",
               "doneBy=party/P002", "date=2026-02-02", f"consent=#{seq}",
               f"into=specimen:specimen/{number}-s1; form:single; quantity:1; what:thin section")
    bare = lab.run("record", "division", f"specimen/{NUMBERS[3]}", "purpose=section made",
                   "remains=yes, smaller", "remainder=1", "consumed=0", "sameIndividual=yes",
                   "doneBy=party/P002", "date=2026-02-02",
                   f"into=specimen:specimen/{NUMBERS[3]}-s1; form:single; quantity:1; what:section")
    claims("a section without a word on consent is refused", bare.returncode == 2
           and "consent" in bare.stderr, bare.stderr)


def published(claims, lab):
    for number in NUMBERS[:3]:
        lab.record("document", f"specimen/{number}", docType="publication",
                   title="Arm growth in a stemless crinoid", docDate="2026-06",
                   issuedBy="party/P002", role="sampled", fileForSale="none",
                   doi="10.5555/western-strand.26.6")
    holotype = NUMBERS[0]
    lab.record("identification", f"specimen/{holotype}", whatItIs="natural fossil",
               vernacularName="crinoid", scientificName="Uintacrinus sallowensis",
               preservation="original mineral kept", identifierTie="publication", sure="sure",
               identifiedBy="party/P002", dateIdentified="2026-06-20", typeStatus="holotype",
               typifiedName="Uintacrinus sallowensis")
    for one, other in (NUMBERS[:2], NUMBERS[1::-1]):
        lab.record("relation", f"specimen/{one}", other=f"specimen/{other}",
                   relation="counterpart of", statedBy="party/P002", otherHeldBy="museum")
    back = lab.ask("show", NUMBERS[1])["entries"]
    claims("a counterpart's tie stands in both chains",
           [e["fields"]["other"] for e in back if e["kind"] == "relation"]
           == [{"ref": f"specimen/{holotype}"}], [e["kind"] for e in back])


def carried_on(claims, lab, university, trust):
    """The holotype's newer certificate joins the older one in the borrower's ledger."""
    holotype = NUMBERS[0]
    lab.do("sheet", holotype, "--to", "P002", "--audience", "institution", "--out",
           lab.path("holotype.certificate.json"))
    lab.do("sheet", f"{holotype}-s1", "--to", "P002", "--audience", "institution", "--out",
           lab.path("section.certificate.json"))
    for name in "holotype", "section":
        code, _, findings = verify.judge([lab.path(f"{name}.certificate.json")], trust)
        claims(f"{name}: holds for an outsider", code == 0, findings)
    section = json.loads((lab.folder / "section.certificate.json").read_text())
    subjects = {payload["sub"] for payload, _ in entries_of(section)}
    claims("the section brings the whole piece's story", f"specimen/{holotype}" in subjects,
           subjects)
    university.do("receive", lab.path("holotype.certificate.json"), "--trust", trust, "--from",
                  "P002", "--as", f"U-{holotype}", "reason=loan")
    university.do("sheet", f"U-{holotype}", "--to", "bearer", "--audience", "institution", "--out",
                  university.path("u.certificate.json"))
    path = university.path("u.certificate.json")
    code, _, findings = verify.judge([path], trust)
    claims("the borrower's certificate holds through both ledgers", code == 0, findings)
    file = json.loads((university.folder / "u.certificate.json").read_text())
    inner = [fields for one in file["foreign"] for payload, fields in entries_of(one)
             if payload["kind"] == "identification"]
    claims("and names the holotype", [f["typeStatus"] for f in inner] == ["holotype"], inner)
    kinds = [payload["kind"] for one in file["foreign"] for payload, _ in entries_of(one)]
    claims("with its section, consent and publication",
           {"division", "document"} <= set(kinds), kinds)


def old_label(claims, lab, trust):
    """What the label says stands beside what was made of it, and by whom."""
    lab.record("arrival", "specimen/26-0900", receivedFrom="party/P002", fromLabel="client",
               reason="identification", owner="party/P002", objectForm="slab", objectQuantity="1",
               materialClass="invertebrate", verbatimLabel=LABEL, labelLink="tied or glued on",
               labelPhotos="none", statedSite="site/S001", statedLocality="Sallow Draw, north",
               statedDate="June 1971", readBy="party/P001", readingSure="likely",
               earlierWork="not examined", hazardsSeen="none", countryOfDiscovery="US")
    shown = lab.ask("show", "26-0900")["entries"][0]
    claims("the label is kept letter by letter", shown["fields"]["verbatimLabel"] == LABEL, shown)
    claims("beside the reading, with who read it and how sure",
           shown["fields"]["statedSite"] == {"ref": "site/S001"}
           and shown["fields"]["readBy"] == {"ref": "party/P001"}
           and shown["fields"]["readingSure"] == "likely", shown["fields"])
    nobody = lab.run("record", "arrival", "specimen/26-0901", "receivedFrom=party/P002",
                     "fromLabel=client", "reason=identification", "owner=party/P002",
                     "objectForm=slab", "objectQuantity=1", "materialClass=invertebrate",
                     "verbatimLabel=none", "labelLink=no label", "statedSite=site/S001",
                     "readBy=(remove)", "earlierWork=not examined", "hazardsSeen=none",
                     "countryOfDiscovery=US")
    claims("a reading needs to say how sure it is", nobody.returncode == 2
           and "read" in nobody.stderr, nobody.stderr)
    lab.record("correction", "specimen/26-0900", target=f"#{shown['seq']}",
               action="change fields", why="misread label", changesFacts="yes",
               readingSure="guess")
    lab.do("sheet", "26-0900", "--to", "P002", "--audience", "institution", "--out",
           lab.path("label.certificate.json"))
    code, _, findings = verify.judge([lab.path("label.certificate.json")], trust)
    claims("its certificate holds", code == 0, findings)
    file = json.loads((lab.folder / "label.certificate.json").read_text())
    arrival = [fields for payload, fields in entries_of(file) if payload["kind"] == "arrival"][0]
    claims("a corrected reading leaves the label as it was",
           arrival["verbatimLabel"] == LABEL, arrival)


def main():
    claims = Claims()
    with Lab("ledger.harrowvane.example") as lab, Lab("ledger.college.example") as university:
        founded(lab, "Harrow & Vane Preparation", "The College")
        founded(university, "The College", "Harrow & Vane Preparation")
        trust = lab.path("trust")
        with open(trust, "w", encoding="utf-8") as file:
            for one in lab, university:
                about = one.ask("verify")["files"][0]
                file.write(f"ledger {one.origin} {about['fingerprint']}\n")
        a_season(lab)
        lent(claims, lab)
        borrowed(claims, lab, university, trust)
        sectioned(claims, lab)
        published(claims, lab)
        carried_on(claims, lab, university, trust)
        old_label(claims, lab, trust)
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
