"""The invented story that the corpus is made from: one slab with its site, horizon, permission,
people, preparation and examination, and what else a case asks for."""
import hashlib
from strict import b64
from writer import Each, Ledger

SLAB, OTHER = "specimen/HV-26-0001", "specimen/HV-26-0002"
PHOTO = b"not really a photograph, but its bytes are checked like one\n"


def ref(sub):
    return {"ref": sub}


def people(ledger):
    for number, label, name, to in (
            ("P001", "the lab", "Ottoline Harrow", "anyone"),
            ("P002", "a preparator", "Teodor Vane", "buyers"),
            ("P003", "the ranch", "Delphine Tessaly", "nobody"),
            ("P004", "the buyer", "Priya Lindqvist", "nobody")):
        ledger.record("party/" + number, "party", sale={"neutralLabel": label, "madeFrom":
                                                        "memory"},
                      science={"name": name, "partyType": "person"}, private={"namedTo": to})


def places(ledger):
    ledger.record("site/S001", "site", {"countryCode": "US"}, sale={
        "stateProvince": "Kansas", "county": "Gove", "placeHeldBackBy": "landowner",
        "coarsePlace": "38.9 N 100.5 W, half a degree"}, science={
        "siteName": "Tessaly Ranch cut", "decimalLatitude": "38.91234",
        "decimalLongitude": "-100.51234"}, land={"legalDescription": "section 9"})
    ledger.record("site/S001", "land-status", sale={"landCategory": ["private", "split estate"]},
                  land={"surfaceOwner": ref("party/P003"), "fossilOwner": ref("party/P003")})
    ledger.record("site/S001", "land-status", sale={"landCategory": "private"},
                  land={"surfaceOwner": ref("party/P003")})
    ledger.record("horizon/H-A", "horizon", sale={"formation": "Niobrara", "earliestStage":
                                                  "Santonian"},
                  science={"member": "Smoky Hill"})
    ledger.record("permission/L2", "permission", sale={"permissionType": "lease", "saleAllowed":
                                                       "yes"},
                  land={"grantor": ref("party/P003"), "holder": ref("party/P001")})


def collect(ledger, sub=SLAB, **more):
    return ledger.record(sub, "collecting", {"objectForm": "slab"}, sale={
        "site": ref("site/S001"), "horizon": ref("horizon/H-A"), "permission": ref("permission/L2"),
        "eventDate": "2025-09-14", "recordedBy": Each([ref("party/P001"), ref("party/P002")]),
        "objectQuantity": 1, "inPlace": "in place", **more}, science={"recordNumber": "T-14"})


def work(ledger, sub=SLAB):
    name = hashlib.sha256(PHOTO).hexdigest()
    ledger.files[name] = PHOTO
    first = ledger.record(sub, "identification", {"whatItIs": "crinoid", "vernacularName":
                                                  "sea lily",
                                                  "scientificName": "Uintacrinus sp."},
                          sale={"identifiedBy": ref("party/P001"), "sure": "likely"})
    ledger.record(sub, "preparation", by="preparator", sale={
        "preparationDate": "2025-11-02/2025-11-20", "whose": "ours",
        "steps": [{"method": "air abrasion", "hours": "12.5"}]}, private={"notes": "cold bench"})
    wrong = ledger.record(sub, "preparation", by="preparator",
                          sale={"preparationDate": "2025-11-21"})
    ledger.record(sub, "condition", by="preparator", sale={
        "examinedOn": "2025-12-01", "means": ["lens", "long-wave UV"],
        "notExamined": {"answer": "none"},
        "shares": [{"percent": "91.0", "substance": "original"},
                   {"percent": "9.0", "substance": "restored"}],
        "dimensions": {"value": "41.5", "unit": "cm"}, "views": [{"file": name, "side": "front"}]},
        science={"thinSection": "none"})
    ledger.record(sub, "correction", {"target": {"entry": leaf(first)}, "action": "change fields",
                                      "changesFacts": "yes", "why": "new evidence",
                                      "scientificName": "Uintacrinus socialis"},
                                      sale={"sure": "sure"})
    ledger.record(sub, "correction", {"target": {"entry": leaf(wrong)}, "action": "void (double)",
                                      "changesFacts": "yes", "why": "typing"}, by="owner")


def leaf(entry):
    return b64(entry["leaf"])


def story(early=None, later=None, salts="", ledger=None, **founding):
    ledger = ledger or Ledger(salts=salts)
    ledger.found(**founding)
    ledger.enrol("spare", ["enrol"])
    ledger.enrol("preparator", ["preparation", "condition"], holder="party/P002")
    if early:
        early(ledger)
    people(ledger)
    places(ledger)
    collect(ledger)
    ledger.record(OTHER, "collecting", {"objectForm": "single"}, sale={"eventDate": "2025-09-15"})
    work(ledger)
    if later:
        later(ledger)
    return ledger


def issue(early=None, later=None, founding=None, salts="", **how):
    return story(early, later, salts, **(founding or {})).certify(**how)
