"""A ledger on all sorts of land, with a case for each answer of each rule of the audit. Numbers of
regulations stand beside their citation; who reads what the rules mean reads it here.

    build() gives the entries for `record --from`; EXPECTED names what each case is there for.
"""
import datetime
import functools

SQUARE = {"type": "Polygon", "coordinates": [[[-101.02, 38.90], [-101.00, 38.90], [-101.00, 38.92],
                                             [-101.02, 38.92], [-101.02, 38.90]]]}
PARCEL = {"type": "Polygon", "coordinates": [[[-101.01, 38.90], [-101.00, 38.90], [-101.00, 38.91],
                                             [-101.01, 38.91], [-101.01, 38.90]]]}
FAR = {"type": "Polygon", "coordinates": [[[-100.02, 38.90], [-100.00, 38.90], [-100.00, 38.92],
                                          [-100.02, 38.92], [-100.02, 38.90]]]}
INSIDE, EDGE, OUTSIDE = ("38.915", "-101.015"), ("38.915", "-101.0001"), ("38.915", "-100.90")

ENTRIES, EXPECTED = [], []


def put(kind, subject, **fields):
    ENTRIES.append({"kind": kind, "subject": subject, "fields": fields})


def expect(rule, where, answer, reason=None):
    """where: "specimen/X", "permission/X" or "site/X", looked at alone."""
    EXPECTED.append((rule, where, answer, reason))


def find(name, site="P", permission="LP", place=None, radius="5", **over):
    fields = {"eventDate": "2024-06-10", "site": f"site/{site}", "horizon": "not known",
              "inPlace": "in place", "recordedBy": "party/P001",
              "permission": f"permission/{permission}" if permission.isupper() else permission,
              "purpose": "personal", "tools": "hand tools", "recordNumber": "none",
              "verbatimIdentification": "a shell", "objectForm": "single", "objectQuantity": 1,
              "quantityHow": "counted", "materialClass": "invertebrate", "commonKind": "common",
              "mass": "1 kg", "massHow": "weighed", "massWithMatrix": "yes"}
    if place:
        fields.update(decimalLatitude=place[0], decimalLongitude=place[1],
                      geodeticDatum="EPSG:4326")
        if radius:
            fields["coordinateUncertaintyInMeters"] = radius
    fields.update(over)
    put("collecting", f"specimen/{name}",
        **{k: v for k, v in fields.items() if v is not None})
    return f"specimen/{name}"


def permission(name, site="P", **over):
    fields = {"permissionType": "landowner's consent", "grantor": "party/OWNER",
              "grantorCapacity": "owner", "holder": "party/P001", "signedOn": "2023-12-01",
              "validFrom": "2024-01-01", "validUntil": "2024-12-31", "sites": f"site/{site}",
              "area": "none", "materials": "any", "methods": "hand tools",
              "namedPersons": [{"party": "party/P002", "role": "crew", "alone": "yes"}],
              "supervisedAllowed": "yes", "saleAllowed": "yes", "titlePasses": "on collecting",
              "placeMayBePublished": "yes", "document": "none"}
    if fields["permissionType"] == "agency permit":
        fields["permitNumber"] = "1"
    fields.update(over)
    put("permission", f"permission/{name}", **{k: v for k, v in fields.items() if v is not None})
    return f"permission/{name}"


def site(name, category=None, boundary=None, area=None, country="US", **over):
    fields = {"siteName": f"Ground {name}", "countryCode": country, "siteType": "outcrop",
              "stateProvince": "Kansas", "county": "not known", "decimalLatitude": "not known",
              "decimalLongitude": "not known", "placeHeldBackBy": "nobody"}
    if boundary:
        fields.update(boundary=boundary, boundarySource="survey plat")
    put("site", f"site/{name}", **fields)
    if category:
        land = {"landCategory": category, "from": "1990-01-01", "surfaceOwner": "party/OWNER",
                "landManager": "not known", "fossilOwner": "party/OWNER", "mineralsSevered": "no",
                "landEvidence": "county record", "evidenceDate": "2023-01-01"}
        if category not in ("private", "private, minerals severed", "not known"):
            land.update(surfaceOwner="not known", fossilOwner="not known",
                        landManager="party/AGENCY", casualCollecting="by rule of the land")
        land.update(over)
        put("land-status", f"site/{name}", **{k: v for k, v in land.items() if v is not None})
    if area:
        put("land-status", f"site/{name}", landCategory="BLM", area=area, surfaceOwner="not known",
            landManager="party/AGENCY", fossilOwner="not known", mineralsSevered="no",
            landEvidence="agency map", evidenceDate="2023-01-01", casualCollecting="open",
            **{"from": "1990-01-01"})
    return f"site/{name}"


def custody(name, given="party/P001", taken="party/BUYER", on="2024-07-01", **over):
    fields = {"from": given, "to": taken, "fromLabel": "us", "toLabel": "private person",
              "handedOver": on, "received": on, "reason": "gift", "capacity": "owner",
              "acknowledged": "on paper by both", "receipt": "none", "fromCountry": "US",
              "toCountry": "US"}
    fields.update(over)
    put("custody", f"specimen/{name}", **fields)


def title(name, given="nobody before", taken="party/P001", on="2024-06-10", **over):
    fields = {"from": given, "to": taken, "fromLabel": "nobody before" if given == "nobody before"
              else "us", "toLabel": "us" if taken == "party/P001" else "private person", "date": on,
              "manner": "found on own land", "basis": "none", "conditions": "none",
              "burdens": "none stated", "acknowledged": "on paper by both", "receipt": "none"}
    fields.update(over)
    put("title", f"specimen/{name}", **fields)


def arrival(name, **over):
    fields = {"receivedOn": "2024-04-11", "receivedFrom": "party/CLIENT", "fromLabel": "client",
              "reason": "preparation", "owner": "party/CLIENT", "ownerShownBy": "own word",
              "objectForm": "slab", "objectQuantity": 1, "materialClass": "invertebrate",
              "verbatimLabel": "Chalk, 1974", "labelPhotos": "none", "labelLink":
              "tied or glued on", "statedLocality": "Chalk", "readBy": "party/P001",
              "readingSure": "sure", "countryOfDiscovery": "US", "earlierWork": "none seen",
              "arrivedDamaged": "no", "hazardsSeen": "none"}
    fields.update(over)
    put("arrival", f"specimen/{name}", **{k: v for k, v in fields.items() if v is not None})
    return f"specimen/{name}"


def house():
    for name, role in (("P002", "crew"), ("P003", "guest"), ("OWNER", "landowner"),
                       ("BUYER", "buyer"), ("CLIENT", "client"), ("DIGGER", "digger")):
        put("party", f"party/{name}", partyType="person", name=f"Quite {role}", namedTo="anyone",
            neutralLabel="somebody")
    put("party", "party/AGENCY", partyType="agency", name="Field office", namedTo="anyone",
        neutralLabel="an agency")
    put("party", "party/MUSEUM", partyType="museum", name="A museum", namedTo="anyone",
        neutralLabel="a museum")
    for name in ("H1", "H2"):
        put("horizon", f"horizon/{name}", layerName=f"bed {name}", layerState="named",
            formation="Niobrara", lithology="chalk", howRecognised="not known",
            earliestStage="not known", latestStage="not known")
    site("P", "private", boundary=SQUARE)
    permission("LP", area=SQUARE, materials="invertebrate | plant")


def land():
    expect("01", find("C01F"), "fits")
    site("NONE")
    expect("01", find("C01U", site="NONE", permission="none"), "cannot tell",
           "no land record of that day")
    site("UNK", "not known")
    expect("01", find("C01K", site="UNK", permission="none"), "cannot tell", "category not known")
    site("WORD", "private", landEvidence="owner's word")
    find("C02W", site="WORD", permission="LW")
    permission("LW", site="WORD")
    expect("02", "site/WORD", "does not fit", "by word only")
    expect("02", "site/P", "fits")
    site("UNDATED", "private", evidenceDate="not known")
    permission("LUD", site="UNDATED")
    find("C02U", site="UNDATED", permission="LUD")
    expect("02", "site/UNDATED", "cannot tell", "evidence not dated")
    expect("03", "specimen/C01F", "fits")
    site("BLM", "BLM", casualCollecting="open")
    expect("03", find("C03N", site="BLM", permission="none"), "does not fit", "none named")
    expect("03", find("C03P", permission="none"), "does not fit", "none named")
    expect("03", find("C03U", site="BLM", permission="not known"), "cannot tell",
           "permission not known")
    expect("03", find("C03C", site="BLM", permission="not needed"), "fits")
    permission("LSPOKEN", permissionType="spoken consent")
    expect("03", find("C03S", permission="LSPOKEN"), "does not fit", "spoken only")


def days():
    expect("04", "specimen/C01F", "fits")
    expect("04", find("C04L", eventDate="2024-12-31"), "fits")
    expect("04", find("C04O", eventDate="2025-01-01"), "does not fit", "outside its days")
    expect("04", find("C04M", eventDate="2025"), "does not fit", "outside its days")
    expect("04", find("C04B", eventDate="2024-12-30/2025-01-02"), "cannot tell",
           "partly outside its days")
    expect("04", find("C04E", eventDate="2024-05"), "fits")
    permission("LEXT")
    put("permission-change", "permission/LEXT", what="extended", newValidUntil="2025-06-30",
        by="party/OWNER", document="none", **{"from": "2024-12-01"})
    expect("04", find("C04X", permission="LEXT", eventDate="2025-03-01"), "fits")
    permission("LEARLY")
    put("permission-change", "permission/LEARLY", what="ended early", by="party/OWNER",
        document="none", newValidUntil="2024-05-31", **{"from": "2024-05-20"})
    expect("04", find("C04Y", permission="LEARLY"), "does not fit", "outside its days")
    permission("LSUS")
    put("permission-change", "permission/LSUS", what="suspended", by="party/OWNER",
        document="none", until="2024-06-20", **{"from": "2024-06-05"})
    expect("05", find("C05S", permission="LSUS"), "does not fit", "while it was stopped")
    expect("05", find("C05F", permission="LSUS", eventDate="2024-06-21"), "fits")
    expect("05", find("C05B", permission="LSUS", eventDate="2024-06"), "cannot tell",
           "partly while it was stopped")
    permission("LREV")
    put("permission-change", "permission/LREV", what="revoked", by="party/OWNER",
        document="none", **{"from": "2024-06-10"})
    expect("05", find("C05R", permission="LREV"), "does not fit", "while it was stopped")


def people():
    expect("06", find("C06N", recordedBy="party/P002"), "fits")
    permission("LALONE", supervisedAllowed="no", namedPersons=None)
    expect("06", find("C06X", permission="LALONE", recordedBy="party/P003"), "does not fit",
           "not named")
    expect("06", find("C06U", recordedBy="party/P003"), "cannot tell",
           "who was present is not on record")
    put("field-day", "field-day/D1", eventDate="2024-06-10", site="site/P",
        permission="permission/LP", recordedBy="party/P003",
        present=[{"party": "party/P003", "role": "supervised", "supervisedBy": "party/P001"},
                 {"party": "party/P001", "role": "named"}], purpose="personal", tools="hand tools")
    expect("06", find("C06S", recordedBy="party/P003", fieldDay="field-day/D1"), "fits")


def places():
    expect("07", find("C07F", place=INSIDE), "fits")
    expect("07", find("C07O", place=OUTSIDE), "does not fit", "outside")
    expect("07", find("C07S", place=EDGE, radius="40"), "cannot tell", "straddling")
    expect("07", find("C07U", place=INSIDE, radius=None,
                      coordinateUncertaintyInMeters="not known"), "cannot tell",
           "no uncertainty on record")
    site("BARE", "private")
    permission("LBARE", site="BARE")
    expect("07", find("C07A", site="BARE", permission="LBARE", place=INSIDE), "cannot tell",
           "no area on record")
    expect("07", find("C07W", site="BARE"), "does not fit", "another site")
    # NAD27 moves a place by tens of metres here (EPSG operations for the conterminous states)
    expect("07", find("C07D", place=INSIDE, geodeticDatum="EPSG:4267"), "fits")
    permission("LNARROW", area=SQUARE)
    put("permission-change", "permission/LNARROW", what="narrowed", newArea=FAR,
        newValue="the far cut alone", by="party/OWNER",
        document="none", **{"from": "2024-06-01"})
    expect("07", find("C07N", permission="LNARROW", place=INSIDE), "does not fit", "outside")
    expect("07", find("C07B", permission="LNARROW", place=INSIDE, eventDate="2024-05-10"), "fits")
    site("PAR", "private", area=PARCEL, boundary=SQUARE)
    permission("LPAR", site="PAR")
    expect("08", find("C08F", site="PAR", permission="LPAR", place=("38.918", "-101.018")), "fits")
    expect("08", find("C08O", site="PAR", permission="LPAR", place=("38.905", "-101.005")),
           "does not fit", "on it")
    expect("08", find("C08T", site="PAR", permission="LPAR", place=("38.9101", "-101.005"),
                      radius="60"), "cannot tell", "touches it")


def what_and_how():
    expect("09", find("C09F", materialClass="plant"), "fits")
    expect("09", find("C09V", materialClass="vertebrate"), "does not fit", "another material")
    expect("09", find("C09U", materialClass="not known"), "cannot tell", "class not known")
    permission("LBEDS", beds="horizon/H1")
    expect("09", find("C09B", permission="LBEDS", horizon="horizon/H1"), "fits")
    expect("09", find("C09L", permission="LBEDS", horizon="horizon/H2"), "does not fit",
           "another layer")
    expect("09", find("C09N", permission="LBEDS"), "cannot tell", "layer not known")
    expect("10", find("C10F", tools="surface | hand tools"), "fits")
    expect("10", find("C10P", tools="powered hand tools"), "does not fit", "another tool")
    expect("10", find("C10U", tools="not known"), "cannot tell", "tools not known")
    # 43 CFR 49.810(a)(5): hand tools without a motor
    expect("10", find("C10C", site="BLM", permission="not needed", tools="powered hand tools"),
           "does not fit", "power in casual collecting")


def casual(name, kind="casual-use allowance", where="BLM", **over):
    fields = {"permissionType": kind, "grantor": "party/AGENCY",
              "grantorCapacity": "agency officer", "holder": "party/P001",
              "signedOn": "does not apply", "namedPersons": None, "methods":
              "surface | hand tools", "saleAllowed": "no", "titlePasses": "not stated",
              "supervisedAllowed": "not stated"}
    fields.update(over)
    return permission(name, site=where, **fields)


def limits():
    def limit(amount, per, unit="lb", whose="each person"):
        return [{"amount": amount, "unit": unit, "per": per, "whose": whose}]

    # 43 CFR 49.810(a)(2): 25 pounds per person per day, no yearly cap
    casual("CASA", limits=limit("25", "day"))
    for n, mass in enumerate(("12.5 lb", "12.5 lb")):
        find(f"C11A{n}", site="BLM", permission="CASA", mass=mass, recordedBy="party/DIGGER")
    expect("11", "permission/CASA", "fits")
    casual("CASB", limits=limit("25", "day"))
    for n, mass in enumerate(("12.5 lb", "12.6 lb")):
        find(f"C11B{n}", site="BLM", permission="CASB", mass=mass, recordedBy="party/P002")
    expect("11", "permission/CASB", "does not fit", "over the limit")
    casual("CASC", limits=limit("25", "day"))
    find("C11C", site="BLM", permission="CASC", mass="not known", massHow=None,
         recordedBy="party/P003")
    expect("11", "permission/CASC", "cannot tell", "a quantity is missing")
    # 43 CFR 3622.4(a)(1): 25 pounds and one piece a day, 250 pounds a year
    site("WOOD", "BLM", casualCollecting="open")
    wood = {"kind": "free-use allowance", "where": "WOOD"}
    log = {"site": "WOOD", "materialClass": "petrified wood", "recordedBy": "party/OWNER"}
    casual("WOODA", limits=limit("25", "day"), **wood)
    find("C11W0", permission="WOODA", mass="40 lb", **log)
    find("C11W1", permission="WOODA", mass="25 lb", **log)
    expect("11", "permission/WOODA", "fits")
    casual("WOODB", limits=limit("25", "day"), **wood)
    log["recordedBy"] = "party/CLIENT"
    find("C11W2", permission="WOODB", mass="40 lb", **log)
    find("C11W3", permission="WOODB", mass="25.1 lb", **log)
    expect("11", "permission/WOODB", "does not fit", "over the limit")
    casual("WOODC", limits=limit("250", "year"), **wood)
    log["recordedBy"] = "party/BUYER"
    for day in range(1, 11):
        find(f"C11Y{day}", permission="WOODC", mass="25 lb", eventDate=f"2024-03-{day:02}", **log)
    expect("11", "permission/WOODC", "fits")
    find("C11Y11", permission="WOODC", mass="0.1 lb", eventDate="2024-09-01", **log)
    EXPECTED[-1] = ("11", "permission/WOODC", "does not fit", "over the limit")
    # 36 CFR 291.5, from memory: 100 pounds a year on National Forest land
    site("FOREST", "National Forest", casualCollecting="open")
    for name, mass, answer in (("FORA", "25 lb", "fits"), ("FORB", "25.1 lb", "does not fit")):
        person = "party/MUSEUM" if name == "FORA" else "party/AGENCY"
        for day in range(1, 5):
            find(f"C11{name}{day}", site="FOREST", permission="not needed", recordedBy=person,
                 mass="25 lb" if day < 4 else mass, eventDate=f"2024-03-{day:02}")
        expect("11", f"specimen/C11{name}4", answer)
    permission("LPIECE", limits=limit("10", "in all", "piece", "all together"))
    find("C11P", permission="LPIECE", objectForm="lot", objectQuantity=11)
    expect("11", "permission/LPIECE", "does not fit", "over the limit")
    expect("12", "specimen/C11W0", "fits")
    casual("WOODE", limits=limit("25", "day"), **wood)
    expect("12", find("C12O", permission="WOODE", mass="251 lb", eventDate="2024-10-01",
                      site="WOOD", materialClass="petrified wood"), "does not fit", "over 250 lb")
    expect("12", find("C12U", permission="WOODE", mass="not known", massHow=None, site="WOOD",
                      materialClass="petrified wood", eventDate="2024-10-02"), "cannot tell",
           "mass not on record")


def casual_scope():
    expect("13", find("C13F", site="BLM", permission="not needed", eventDate="2024-02-01"), "fits")
    expect("13", find("C13V", site="BLM", permission="not needed", materialClass="vertebrate",
                      eventDate="2024-02-02"), "does not fit", "vertebrate")
    expect("13", find("C13R", site="BLM", permission="not needed", purpose="research",
                      eventDate="2024-02-03"), "does not fit", "not for oneself")
    expect("13", find("C13U", site="BLM", permission="not needed", commonKind="not judged",
                      eventDate="2024-02-04"), "cannot tell", "not judged whether common")
    expect("14", "specimen/C13F", "fits")
    site("PARK", "National Park")
    expect("14", find("C14P", site="PARK", permission="not needed"), "does not fit", "closed land")
    site("SHUT", "BLM", casualCollecting="open",
         closures=[{"what": "the whole site", "from": "2024-06-01", "until": "2024-06-30"}])
    expect("14", find("C14S", site="SHUT", permission="not needed"), "does not fit",
           "closed that day")
    expect("14", find("C14T", site="SHUT", permission="not needed", eventDate="2024-07-01"),
           "fits")
    site("OTHER", "other federal", casualCollecting="not known")
    expect("14", find("C14U", site="OTHER", permission="not needed"), "cannot tell",
           "not on record whether open")
    site("BOR", "Reclamation")
    expect("14", find("C14B", site="BOR", permission="not needed"), "does not fit", "closed land")


def owners():
    expect("15", "permission/LP", "fits")
    expect("15", permission("LWRONG", grantor="party/CLIENT"), "does not fit",
           "neither owner nor manager")
    site("NOOWN", "private", surfaceOwner="not known", fossilOwner="not known")
    expect("15", permission("LNOOWN", site="NOOWN"), "cannot tell", "owner not on record")
    for name, owner, answer in (("SEVA", "party/OWNER", "fits"),
                                ("SEVB", "not known", "cannot tell")):
        site(name, "private, minerals severed", mineralsSevered="yes", fossilOwner=owner)
        permission(f"L{name}", site=name)
        find(f"C16{name}", site=name, permission=f"L{name}")
        expect("16", f"site/{name}", answer)
    expect("17", "specimen/C01F", "fits")
    permission("LREL", titlePasses="on the owner's release")
    expect("17", find("C17W", permission="LREL"), "does not fit", "waiting")
    expect("17", find("C17G", permission="LREL"), "does not fit", "no release, and it left us")
    custody("C17G", taken="party/BUYER")
    expect("17", find("C17T", permission="LREL"), "fits")
    title("C17T", given="party/OWNER", manner="landowner's release", fromLabel="landowner")
    permission("LTUNK", titlePasses="not stated")
    expect("17", find("C17U", permission="LTUNK"), "cannot tell",
           "how title passes is not on record")


def federal():
    permission("LAG", site="BLM", permissionType="agency permit", permitNumber="A-1",
               grantor="party/AGENCY", grantorCapacity="agency officer", saleAllowed="no",
               titlePasses="never", repository="party/MUSEUM", repositoryAcceptance="not known",
               reportsDue=[{"what": "yearly report", "dueOn": "2024-12-31",
                            "to": "party/AGENCY"}])
    agency = {"site": "BLM", "permission": "LAG", "purpose": "research",
              "materialClass": "vertebrate"}
    expect("18", find("C18F", **agency), "fits")
    title("C18F", taken="party/AGENCY", manner="stays with the agency",
          toLabel="the public (agency)")
    expect("18", find("C18X", **agency), "does not fit", "title to somebody else")
    title("C18X", manner="passed under the permission")
    expect("19", find("C19F", eventDate="2024-06-11"), "fits")
    title("C19F", manner="passed under the permission")
    title("C19F", given="party/P001", taken="party/BUYER", on="2024-07-01", manner="sale")
    expect("19", find("C19B", site="BLM", permission="not needed", eventDate="2024-02-05"),
           "does not fit", "from federal land")
    title("C19B", given="party/P001", taken="party/BUYER", on="2024-07-01", manner="sale")
    expect("19", find("C19P", site="PAR", permission="LPAR"), "cannot tell",
           "perhaps federal land")
    title("C19P", given="party/P001", taken="party/BUYER", on="2024-07-01", manner="sale")
    # what comes out of a find is from the same land
    find("C19L", site="BLM", permission="not needed", objectForm="lot", objectQuantity=9,
         eventDate="2024-02-06")
    put("division", "specimen/C19L", purpose="drawn from lot", remains="yes, smaller",
        into="specimen:specimen/C19C; form:lot; quantity:3; what:three of it", remainder=6,
        consumed=0, sameIndividual="does not apply", doneBy="party/P001", date="2024-07-01")
    title("C19C", given="party/P001", taken="party/BUYER", on="2024-07-02", manner="sale")
    expect("19", "specimen/C19C", "does not fit", "from federal land")
    # a piece that came in, and is said to be from such land
    expect("19", arrival("C19A", statedSite="site/BLM", reason="consignment"), "does not fit",
           "its label says federal land")
    custody("C19A", taken="party/BUYER", reason="sale")
    expect("20", "specimen/C19F", "fits")
    permission("LNOSALE", saleAllowed="no")
    expect("20", find("C20X", permission="LNOSALE"), "does not fit", "the permission says no sale")
    title("C20X", given="party/P001", taken="party/BUYER", on="2024-07-01", manner="sale")
    permission("LSUNK", saleAllowed="not stated")
    expect("20", find("C20U", permission="LSUNK"), "cannot tell", "not stated")
    title("C20U", given="party/P001", taken="party/BUYER", on="2024-07-01", manner="sale")
    expect("21", find("C21F", **agency), "fits")
    custody("C21F", taken="party/MUSEUM", toLabel="museum", reason="return", capacity="keeper")
    expect("21", find("C21N", **agency), "does not fit", "not there yet")
    expect("21", find("C21E", **agency), "does not fit", "elsewhere")
    custody("C21E", taken="party/BUYER")
    permission("LNOEND", site="BLM", permissionType="agency permit", permitNumber="A-2",
               grantor="party/AGENCY", grantorCapacity="agency officer",
               repository="party/MUSEUM", repositoryAcceptance="not known",
               validUntil="until ended")
    expect("21", find("C21U", site="BLM", permission="LNOEND"), "cannot tell", "not there yet")


def reports():
    def report(name, filed="2024-12-01", reported=1, held=0):
        fields = {"filedOn": filed, "to": "party/AGENCY", "specimensReported": reported,
                  "specimensDeposited": 1, "specimensDestroyed": 0, "specimensHeld": held,
                  "document": "none", "covers": [{"from": "2024-01-01", "until": "2024-12-31"}]}
        put("permission-report", f"permission/{name}", **fields)

    for name in ("RA", "RB", "RC"):
        permission(name, reportsDue=[{"what": "yearly report", "dueOn": "2024-12-31",
                                      "to": "party/AGENCY"}])
        find(f"C22{name}", permission=name)
    report("RA")
    report("RC", reported=2)
    expect("22", "permission/RA", "fits")
    expect("22", "permission/RB", "does not fit", "not filed")
    expect("23", "permission/RA", "fits")
    expect("23", "permission/RC", "does not fit", "the report does not add up")


def chains():
    def twice(name, left, came, second=None):
        find(name)
        custody(name, taken="party/CLIENT", on="2024-07-01")
        custody(name, given=second or "party/CLIENT", taken="party/BUYER", handedOver=left,
                received=came, on=left)

    twice("C24F", "2024-08-01", "2024-08-03")
    expect("24", "specimen/C24F", "fits")
    twice("C24L", "2024-08-01", "2024-12-03")
    expect("24", "specimen/C24L", "does not fit", "long on the road")
    expect("25", "specimen/C19F", "fits")
    expect("25", find("C25X"), "does not fit", "parts do not make one")
    title("C25X", taken="party/P001", part="1/2", manner="passed under the permission")
    title("C25X", taken="party/BUYER", part="1/4", manner="passed under the permission")
    expect("26", "specimen/C24F", "fits")
    twice("C26X", "2024-08-01", "2024-08-03", second="party/OWNER")
    expect("26", "specimen/C26X", "does not fit", "did not have it")
    expect("27", "specimen/C24F", "fits")
    expect("27", find("C27X"), "does not fit", "handed over")
    custody("C27X", acknowledged="one side only")
    find("C28F")
    custody("C28F", reason="loan", capacity="borrower", dueBack="2024-09-01")
    custody("C28F", given="party/BUYER", taken="party/P001", on="2024-08-20", reason="return",
            capacity="owner")
    expect("28", "specimen/C28F", "fits")
    find("C28X")
    custody("C28X", reason="loan", capacity="borrower", dueBack="2024-09-01")
    expect("28", "specimen/C28X", "does not fit", "still out")


def borders():
    expect("29", "specimen/C24F", "fits")
    expect("29", find("C29X"), "does not fit", "no paper")
    custody("C29X", toCountry="DE", borderPapers="none")
    expect("29", find("C29U"), "cannot tell", "country not known")
    custody("C29U", toCountry="not known")
    # State Council Decree 580, in force since 2011-01-01: export needs approval
    for name, left, answer in (("C30X", "2015-03", "does not fit"), ("C30U", "not known",
                                                                     "cannot tell")):
        expect("30", arrival(name, countryOfDiscovery="CN", leftThatCountryOn=left,
                             exportPaper="none seen"), answer)
    # Regulation (EU) 2019/880, from 2025-06-28, 18,000 euro
    for name, value, answer in (("C31X", "20000 EUR", "does not fit"),
                                ("C31U", "not known", "cannot tell")):
        expect("31", find(name), answer)
        custody(name, on="2025-09-01", toCountry="DE", borderPapers="none", declaredValue=value)
    expect("31", find("C31F"), "fits")
    custody("C31F", on="2025-09-01", toCountry="DE", borderPapers="none",
            declaredValue="20000 EUR")
    put("document", "specimen/C31F", docType="importer statement", title="Statement",
        docDate="2025-08-30", issuedBy="not known", file="none")


def claims_and_losses():
    expect("32", find("C32X"), "does not fit", "open")
    put("claim", "specimen/C32X", nature="ownership", status="open", date="2024-08-01",
        by="party/CLIENT", byLabel="client", hold="do not move")
    expect("32", find("C32F"), "fits")
    put("claim", "specimen/C32F", nature="ownership", status="rejected", date="2024-08-01",
        by="party/CLIENT", byLabel="client", hold="none")
    expect("33", find("C33F"), "fits")
    put("loss", "specimen/C33F", nature="missing", date="2024-09-01", quantity=1,
        inWhoseCare="party/P001")
    expect("33", find("C33X"), "does not fit", "after the loss")
    put("loss", "specimen/C33X", nature="stolen", date="2024-09-01", quantity=1,
        inWhoseCare="party/P001")
    custody("C33X", on="2024-10-01")
    for name, consent, answer in (("C34X", "none", "does not fit"),
                                  ("C34U", "not known", "cannot tell"),
                                  ("C34F", "owner's own", "fits")):
        expect("34", arrival(name), answer)
        put("making", f"specimen/{name}K", what="cast", takenFrom=f"specimen/{name}", number=1,
            runSize=1, material="polyester resin", madeBy="party/P001", date="2024-08-13",
            consent=consent)


def papers():
    expect("36", "permission/LP", "does not fit", "no paper attached")
    expect("36", permission("LDUNK", document="not known"), "cannot tell", "not known")
    expect("37", arrival("C37F"), "fits")
    expect("37", arrival("C37X", labelLink="loose in the box"), "does not fit", "a loose label")
    expect("37", arrival("C37U", labelLink="not examined"), "cannot tell",
           "how the label hangs is not on record")
    expect("38", "specimen/C01F", "does not fit", "recorded late")
    expect("38", find("C38F", eventDate=datetime.date.today().isoformat()), "fits")
    for name, keeper in (("C40F", "party/MUSEUM"), ("C40X", "party/P001")):
        find(name)
        title(name, taken=keeper, manner="passed under the permission",
              toLabel="museum" if keeper == "party/MUSEUM" else "us")
        put("identification", f"specimen/{name}", whatItIs="natural fossil",
            vernacularName="ammonite", scientificName="Prionocyclus hyatti",
            preservation="internal mould", identifiedBy="party/P001", identifierTie="seller",
            dateIdentified="2024-09-17", sure="sure", isAcceptedIdentification="yes",
            typeStatus="holotype", typifiedName="not known")
    expect("40", "specimen/C40F", "fits")
    expect("40", "specimen/C40X", "does not fit", "not with an institution")
    expect("41", "specimen/C19L", "fits")
    find("C41X", objectForm="lot", objectQuantity=3)
    put("division", "specimen/C41X", purpose="drawn from lot", remains="yes, smaller",
        into="specimen:specimen/C41C; form:lot; quantity:5; what:five of three",
        remainder="not known", consumed=0, sameIndividual="does not apply", doneBy="party/P001",
        date="2024-07-01")
    expect("41", "specimen/C41X", "does not fit", "overdrawn")
    for name in ("C42A", "C42B", "C42C", "C42D"):
        find(name)
    for whole, part, why, how, answer in (
            ("C42A", "C42B", "placed together", "same layer, placed together", "does not fit"),
            ("C42C", "C42D", "refit", "found together", "fits")):
        put("joining", f"specimen/{whole}", parts=f"specimen/{part}", why=why,
            sameIndividual="no" if why != "refit" else "yes", association=how,
            doneBy="party/P001", date="2024-08-19", removable="yes")
        expect("42", f"specimen/{whole}", answer)


def both_sides():
    """Where something is missing, or a day falls on both sides: never "fits"."""
    agency = {"site": "BLM", "permission": "LAG", "purpose": "research",
              "materialClass": "vertebrate"}
    expect("18", find("C18U", **agency), "cannot tell", "to whom is not on record")
    title("C18U", taken="not known", manner="not known", toLabel="not named to us")
    expect("18", find("C18R", **agency), "fits")
    title("C18R", manner="passed under the permission")
    put("document", "specimen/C18R", docType="agency release", title="Release", file="none",
        docDate="2024-07-01", issuedBy="party/AGENCY")
    # 16 USC 470aaa-5 came into force on 2009-03-30: a sale of "2009" lies on both sides of it
    expect("19", find("C19Y", site="BLM", permission="not needed", eventDate="2008-05-01"),
           "cannot tell", "day of the sale not exact")
    title("C19Y", given="party/P001", taken="party/BUYER", on="2009", manner="sale")
    expect("19", find("C19Z", site="BLM", permission="not needed", eventDate="2008-05-02"),
           "does not apply")
    title("C19Z", given="party/P001", taken="party/BUYER", on="2009-03-29", manner="sale")
    expect("19", find("C19W", site="BLM", permission="not needed", eventDate="2008-05-03"),
           "does not fit", "possessed before the law")
    title("C19W", given="party/P001", taken="party/BUYER", on="2009-03-30", manner="sale")

    permission("RD", reportsDue=[{"what": "yearly report", "dueOn": "2024-12-15",
                                  "to": "party/AGENCY"}])
    find("C22RD", permission="RD")
    find("C22RE", permission="RD", eventDate="2024-11-28/2024-12-02")
    put("permission-report", "permission/RD", filedOn="2024-12", to="party/AGENCY",
        specimensReported=2, specimensDeposited=2, specimensDestroyed=0, specimensHeld=0,
        document="none", covers=[{"from": "2024-01-01", "until": "2024-11-30"}])
    expect("22", "permission/RD", "cannot tell", "day not known")
    expect("23", "permission/RD", "cannot tell", "finds partly in that time")
    expect("22", permission("RF", reportsDue=[{"what": "last report", "dueOn": "2999-12-31",
                                               "to": "party/AGENCY"}]), "does not apply")

    expect("26", find("C26U"), "cannot tell", "giver not known")
    title("C26U", given="not known", taken="party/BUYER", manner="not known")
    expect("27", find("C27R"), "does not fit", "refused")
    custody("C27R", acknowledged="refused")
    find("C28U")
    custody("C28U", reason="loan", capacity="borrower", dueBack="2024-09-15")
    custody("C28U", given="party/BUYER", taken="party/P001", on="2024-09", reason="return",
            capacity="owner")
    expect("28", "specimen/C28U", "cannot tell", "the day of return is not exact")
    expect("28", find("C28N"), "does not apply")
    custody("C28N", reason="loan", capacity="borrower", dueBack="2999-01-01")


def counted_on_both():
    expect("33", find("C33U"), "cannot tell", "before or after is not on record")
    custody("C33U", on="2024-09-20")
    put("loss", "specimen/C33U", nature="stolen", date="2024-09", quantity=1,
        inWhoseCare="party/P001")
    expect("33", find("C33B"), "fits")
    custody("C33B", on="2024-08-31")
    put("loss", "specimen/C33B", nature="stolen", date="2024-09", quantity=1,
        inWhoseCare="party/P001")
    expect("38", find("C38U", madeFrom="own observation"), "does not fit")
    put("preparation", "specimen/C38U", preparationDate="not known", preparedBy="party/P001",
        whose="our work", steps="method:airscribe", lostInWork="none")
    expect("38", "specimen/C38D", "cannot tell", "day not known")
    find("C38D", eventDate=datetime.date.today().isoformat())
    put("preparation", "specimen/C38D", preparationDate="not known", preparedBy="party/P001",
        whose="our work", steps="method:airscribe", lostInWork="none")

    find("C40U")
    title("C40U", taken="not known", manner="not known", toLabel="not named to us")
    put("identification", "specimen/C40U", whatItIs="natural fossil",
        vernacularName="ammonite", scientificName="Prionocyclus hyatti",
        preservation="internal mould", identifiedBy="party/P001", identifierTie="seller",
        dateIdentified="2024-09-17", sure="sure", isAcceptedIdentification="yes",
        typeStatus="paratype", typifiedName="not known")
    expect("40", "specimen/C40U", "cannot tell", "owner not on record")
    find("C41U", objectForm="lot", objectQuantity=9)
    put("division", "specimen/C41U", purpose="drawn from lot", remains="yes, smaller",
        into="specimen:specimen/C41D; form:lot; quantity:5; what:five of nine",
        remainder="not known", consumed=0, sameIndividual="does not apply", doneBy="party/P001",
        date="2024-07-01")
    expect("41", "specimen/C41U", "cannot tell", "what is left was not counted")
    find("C42E")
    find("C42F")
    put("joining", "specimen/C42E", parts="specimen/C42F", why="slab rebuilt",
        sameIndividual="not known", association="not known", doneBy="party/P001",
        date="2024-08-19", removable="yes")
    expect("42", "specimen/C42E", "cannot tell", "not on record")


def paper_abroad():
    """A country's own export paper, named on the arrival, and a day before its law."""
    put("document", "specimen/C01F", docType="export", title="Export approval",
        docDate="2015-02-01", issuedBy="not known", file="none")
    expect("30", arrival("C30F", countryOfDiscovery="CN", leftThatCountryOn="2015-03",
                         exportPaper="#PAPER"), "fits")
    expect("30", arrival("C30B", countryOfDiscovery="CN", leftThatCountryOn="1982-12/2011-02",
                         exportPaper="none seen"), "cannot tell")


def of_none():
    """A piece and a place of which most rules have nothing to ask."""
    put("site", "site/MUTE", siteName="Ground MUTE", countryCode="CA", siteType="outcrop",
        stateProvince="Alberta", county="not known", decimalLatitude="not known",
        decimalLongitude="not known", placeHeldBackBy="nobody")
    asked = {"01", "03", "38"}
    mute = find("MUTE", site="MUTE", permission="none", mass=None, massHow=None,
                massWithMatrix=None)
    for number in range(1, 44):
        if f"{number:02}" not in asked:
            expect(f"{number:02}", mute, "does not apply")
    for number in asked:
        expect(number, "site/MUTE2", "does not apply")
    site("MUTE2")
    expect("43", "site/WORDS", "fits")
    put("site", "site/WORDS", siteName="Ground", countryCode="US", stateProvince="Kansas",
        county="not known", decimalLatitude="not known", decimalLongitude="not known",
        placeHeldBackBy="nobody", legalDescription="T12S R31W S14 NESW")
    expect("43", "site/PARCEL", "does not fit", "kept as written")
    put("site", "site/PARCEL", siteName="Ground", countryCode="US", stateProvince="Kansas",
        county="not known", decimalLatitude="not known", decimalLongitude="not known",
        placeHeldBackBy="nobody", legalDescription="parcel 77")


@functools.cache
def build():
    """All entries, in the order in which they can be recorded."""
    for part in (house, land, days, people, places, what_and_how, limits, casual_scope, owners,
                 federal, reports, chains, borders, claims_and_losses, papers, both_sides,
                 counted_on_both, paper_abroad, of_none):
        part()
    order = ("party", "horizon", "site", "land-status", "permission", "permission-change",
             "field-day")
    sorted_out = ([e for kind in order for e in ENTRIES if e["kind"] == kind]
                  + [e for e in ENTRIES if e["kind"] not in order])
    # the paper is named by its number: entry 0 is the founding, and P001 stands before ours
    number = 2 + next(i for i, e in enumerate(sorted_out) if e["fields"].get("docType") == "export")
    for e in sorted_out:
        if e["fields"].get("exportPaper") == "#PAPER":
            e["fields"]["exportPaper"] = f"#{number}"
    return sorted_out
