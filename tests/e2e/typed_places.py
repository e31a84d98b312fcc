#!/usr/bin/python3
"""Coordinates as people write them, typed for a site or a find or taken in from a table: kept word
for word, with latitude and longitude beside them, and how far off they may be by the point-radius
method, with its parts.

Outside: arithmetic of sixtieths; the transverse Mercator series of Snyder, USGS Professional Paper
1395 (1987), equations 8-9 and 8-10 (from memory); the precision of a point-radius by Chapman &
Wieczorek 2020 (one step in both directions); the datum's 5,359 m, the receiver's 30 and 100 m and
the headings' half-angles of the same; the National Map Accuracy Standards of 1947 (1/50 inch on a
sheet of 1:24,000); at a heading the radius of the Georeferencing Calculator Manual 2020, sqrt(D^2 +
D'^2 - 2 D D' cos h)."""

import json
import math
import pathlib
import sys

from _lab import Claims, Lab

BASE = {"countryCode": "US", "stateProvince": "Kansas", "county": "Gove", "placeHeldBackBy": "us"}
A, F = 6378137.0, 1 / 298.257223563
E2 = F * (2 - F)


def utm(lat, lon, middle):
    phi, k0, ep2 = math.radians(lat), 0.9996, E2 / (1 - E2)
    n = A / math.sqrt(1 - E2 * math.sin(phi) ** 2)
    t, c = math.tan(phi) ** 2, ep2 * math.cos(phi) ** 2
    a = math.radians(lon - middle) * math.cos(phi)
    m = A * ((1 - E2 / 4 - 3 * E2 ** 2 / 64 - 5 * E2 ** 3 / 256) * phi
             - (3 * E2 / 8 + 3 * E2 ** 2 / 32 + 45 * E2 ** 3 / 1024) * math.sin(2 * phi)
             + (15 * E2 ** 2 / 256 + 45 * E2 ** 3 / 1024) * math.sin(4 * phi)
             - 35 * E2 ** 3 / 3072 * math.sin(6 * phi))
    east = k0 * n * (a + (1 - t + c) * a ** 3 / 6
                     + (5 - 18 * t + t * t + 72 * c - 58 * ep2) * a ** 5 / 120)
    north = k0 * (m + n * math.tan(phi) * (a * a / 2 + (5 - t + 9 * c + 4 * c * c) * a ** 4 / 24))
    return 500000 + east, north


def step_m(lat, degrees):
    w = math.sqrt(1 - E2 * math.sin(math.radians(lat)) ** 2)
    return math.radians(degrees) * math.hypot(A * (1 - E2) / w ** 3,
                                              A / w * math.cos(math.radians(lat)))


def now(lab, number):
    fields = lab.ask("show", f"site/{number}")["now"]
    return {name: told["value"] for name, told in fields.items()}


def parts(fields):
    return {row["part"]: float(row["value"]) for row in fields.get("uncertaintyParts", [])}


def sites(claims, lab):
    """A place's radius holds how far it reaches: out of its parts or its outline."""
    lab.record("site", "site/EXT", siteName="h", verbatimCoordinates="38.7712 N 100.5134 W",
               geodeticDatum="EPSG:4326", coordinateSource="map", mapScale="1:24,000",
               uncertaintyParts="part:extent; value:0.1; unit:mi"
                                " | part:measuring; value:24; unit:m",
               **BASE)
    told = now(lab, "EXT")
    wanted = {"extent": 0.1, "measuring": 24.0, "map": 24000 / 50 * 0.0254,
              "precision": step_m(38.7712, 0.0001)}
    claims("a map's scale, an extent in miles, a reading of the map: all parts are listed",
           parts(told).keys() == wanted.keys()
           and all(abs(parts(told)[name] - wanted[name]) < 0.06 for name in wanted), parts(told))
    total = 160.9344 + 24 + wanted["map"] + wanted["precision"]
    claims("and add up", told["coordinateUncertaintyInMeters"] == str(round(total)),
           (told["coordinateUncertaintyInMeters"], total))
    square = {"type": "Polygon", "coordinates": [[[-100.52, 38.77], [-100.5, 38.77],
                                                 [-100.5, 38.78], [-100.52, 38.77]]]}
    lab.record("site", "site/OUT", siteName="i", decimalLatitude="38.77",
               decimalLongitude="-100.52", geodeticDatum="EPSG:4326", coordinateSource="survey",
               boundary=json.dumps(square), boundarySource="survey plat", **BASE)
    told = now(lab, "OUT")
    # 0.02 degrees of longitude and 0.01 of latitude at 38.77, flat
    per = step_m(38.77, 1)
    lat_m = math.radians(1) * A * (1 - E2) / (1 - E2 * math.sin(math.radians(38.77)) ** 2) ** 1.5
    lon_m = math.sqrt(per ** 2 - lat_m ** 2)
    claims("an outline tells the extent", abs(parts(told)["extent"]
                                              - math.hypot(0.02 * lon_m, 0.01 * lat_m)) < 2,
           parts(told))


def find(lab, number, **fields):
    lab.record("collecting", f"specimen/{number}", eventDate="2026-05-02", site="site/S",
               horizon="not known", recordedBy="party/P001", permission="not needed",
               recordNumber="none", verbatimIdentification="crinoid", objectForm="single",
               objectQuantity="1", quantityHow="counted", materialClass="invertebrate",
               inPlace="in place", **fields)
    told = lab.ask("show", f"specimen/{number}")["now"]
    return {name: value["value"] for name, value in told.items()}


def finds(claims, lab):
    written = "45\u00b030'15\"N 101\u00b012'W"
    told = find(lab, "F1", verbatimCoordinates=written, geodeticDatum="EPSG:4326",
                coordinateSource="phone")
    claims("a find's coordinates are kept word for word", told["verbatimCoordinates"] == written,
           told)
    claims("in decimal degrees too", abs(float(told["decimalLatitude"]) - 45.5041667) < 6e-8
           and abs(float(told["decimalLongitude"]) + 101.2) < 6e-8, told)
    precision = step_m(45.504, 1 / 60)
    claims("the coarser of the two numbers counts, and the phone",
           told["coordinateUncertaintyInMeters"] == str(round(precision + 30))
           and abs(parts(told)["precision"] - precision) < 0.06 and parts(told)["GPS"] == 30, told)
    told = find(lab, "F2", verbatimCoordinates="14S 368000 4292000", geodeticDatum="EPSG:4326",
                coordinateSource="GPS receiver",
                uncertaintyParts="part:GPS; value:10; unit:m")
    claims("UTM, the receiver's figure typed",
           told["coordinateUncertaintyInMeters"] == "11" and parts(told)["GPS"] == 10, told)
    told = find(lab, "F3", verbatimCoordinates="45 30.25 N, 101 12.00 W",
                geodeticDatum="not recorded", coordinateSource="GPS receiver")
    total = step_m(45.504, 0.01 / 60) + 30 + 5359
    claims("degrees and decimal minutes on a datum that nobody wrote down",
           told["coordinateUncertaintyInMeters"] == str(round(total)), (told, total))
    told = find(lab, "F4", verbatimCoordinates="45.504, -101.2", geodeticDatum="EPSG:4326",
                coordinateSource="phone", coordinateUncertaintyInMeters="60")
    claims("a radius that was typed stays", told["coordinateUncertaintyInMeters"] == "60"
           and told["decimalLatitude"] == "45.504", told)
    told = find(lab, "F5", verbatimCoordinates="45.5041 N 101.2012 W", geodeticDatum="EPSG:4326",
                coordinateSource="map", mapScale="1:24000", fromFeature="2.5 mi NE of the windmill")
    d, q = 2.5 * 1609.344, 0.25 * 1609.344
    near = q + 24000 / 50 * 0.0254
    far = d + near
    total = math.sqrt(d * d + far * far - 2 * d * far * math.cos(math.radians(22.5))) \
        + step_m(45.5041, 0.0001)
    north = (float(told["decimalLatitude"]) - 45.5041) * math.radians(1) * A * (1 - E2) \
        / (1 - E2 * math.sin(math.radians(45.5041)) ** 2) ** 1.5
    claims("from a feature: the place is where the heading leads",
           abs(north - d * math.cos(math.radians(45))) < 0.1
           and float(told["decimalLongitude"]) > -101.2012, told)
    claims("and the radius is the heading's", told["coordinateUncertaintyInMeters"]
           == str(round(total)) and {"distance", "direction", "map", "precision"}
           == parts(told).keys(), (told, total))
    told = find(lab, "F6", verbatimCoordinates="45.5041 N 101.2012 W", geodeticDatum="EPSG:4326",
                coordinateSource="survey", fromFeature="3 km along the road north")
    claims("along a way: the circle is as wide as the way is long",
           told["decimalLatitude"] == "45.5041" and told["coordinateUncertaintyInMeters"]
           == str(round(3500 + step_m(45.5041, 0.0001))), told)
    bad = (("mapScale=one inch a mile", "mapScale"), ("fromFeature=near the mill", "fromFeature"),
           ("uncertaintyParts=part:GPS; value:3; unit:kg", "uncertaintyParts"),
           ("verbatimCoordinates=95 30 N 101 W", "verbatimCoordinates"))
    for typed, name in bad:
        fields = {"verbatimCoordinates": "45.5 N 101.2 W", "geodeticDatum": "EPSG:4326",
                  "eventDate": "2026-05-02", "site": "site/S", "horizon": "not known",
                  "recordedBy": "party/P001", "permission": "not needed", "recordNumber": "none",
                  "verbatimIdentification": "x", "objectForm": "single", "objectQuantity": "1",
                  "quantityHow": "counted", "materialClass": "invertebrate", "inPlace": "in place",
                  typed.split("=")[0]: typed.split("=", 1)[1]}
        done = lab.run("record", "collecting", "specimen/BAD",
                       *(f"{k}={v}" for k, v in fields.items()))
        claims(f"refused, in one sentence that names {name}", done.returncode == 2
               and name in done.stderr and done.stderr.count("\n") == 1, done.stderr)


def table(claims, lab):
    head = ("specimen,day,where,datum,source\n"
            "T1,2026-05-03,\"45\u00b030'15\"\"N 101\u00b012'08\"\"W\",EPSG:4326,phone\n"
            "T2,2026-05-03,14T 328000 5041000,EPSG:4326,GPS receiver\n")
    pathlib.Path(lab.path("finds.csv")).write_text(head, encoding="utf-8")
    rule = {"format": "markerbed-map/1",
            "entries": [{"kind": "collecting", "subject": "specimen/{specimen}", "fields": {
                "eventDate": "{day}", "site": "site/S", "horizon": "not known",
                "recordedBy": "party/P001", "permission": "not needed", "recordNumber": "none",
                "verbatimIdentification": "x", "objectForm": "single", "objectQuantity": "1",
                "quantityHow": "counted", "materialClass": "invertebrate", "inPlace": "in place",
                "verbatimCoordinates": "{where}", "geodeticDatum": "{datum}",
                "coordinateSource": "{source}"}}]}
    pathlib.Path(lab.path("finds.map.json")).write_text(json.dumps(rule))
    lab.do("intake", lab.path("finds.csv"), "--map", lab.path("finds.map.json"))
    told = {n: {k: v["value"] for k, v in lab.ask("show", f"specimen/{n}")["now"].items()}
            for n in ("T1", "T2")}
    claims("a column of a table may hold them too",
           abs(float(told["T1"]["decimalLongitude"]) + (101 + 12 / 60 + 8 / 3600)) < 6e-8
           and told["T1"]["coordinateUncertaintyInMeters"]
           == str(round(step_m(45.504, 1 / 3600) + 30)), told["T1"])
    claims("UTM in the next row", told["T2"]["decimalLatitude"].startswith("45.5")
           and told["T2"]["verbatimCoordinates"] == "14T 328000 5041000", told["T2"])


def audited(claims, lab):
    """What the datum leaves open counts once: it is in the radius, and is not added again."""
    rows = lab.ask("query", "SELECT sub, uncertainty_m, radius_m FROM v_find WHERE sub ="
                            " 'specimen/F3'")["rows"]
    claims("the datum's part stands apart", abs(rows[0][1] - rows[0][2] - 5359) < 1e-6, rows)
    points = [p for s in lab.ask("audit", "--specimen", "F3")["sites"] for p in s["points"]]
    claims("and is added once in the audit",
           [round(p["uncertaintyM"]) for p in points if p["subject"] == "specimen/F3"]
           == [round(rows[0][1])], points)


def descriptions(claims, lab):
    """Township, range and section: read beside the words, which stay; nothing is refused. Sizes by
    43 U.S.C. 751-753: a section is 640 acres, halved and quartered."""
    written = "NE\u00bcSW\u00bc Section 14, Township 12 South, Range 31 West, 6th P.M."
    site = dict(BASE, siteName="k", decimalLatitude="not known", decimalLongitude="not known")
    done = lab.do("record", "site", "site/LAND", f"legalDescription={written}",
                  *(f"{k}={v}" for k, v in site.items()))
    claims("how it was read is said at once, and that no survey grid is shipped",
           "T. 12 S., R. 31 W., sec. 14, NE1/4 SW1/4" in " ".join(done.split())
           and "No survey grid" in " ".join(done.split()), done)
    told = lab.ask("show", "site/LAND")
    claims("the words are kept", told["now"]["legalDescription"]["value"] == written, told["now"])
    land = told["landDescription"]
    claims("township, range, section, parts, meridian, nominal size",
           (land["township"], land["range"], land["sections"], land["parts"], land["nominalAcres"])
           == ("T. 12 S.", "R. 31 W.", "14", "NE1/4 SW1/4", "40")
           and land["meridian"] == "Sixth Principal Meridian" and "caution" in land, land)
    shown = " ".join(lab.do("show", "site/LAND").split())
    claims("show tells it in words", "read as: T. 12 S., R. 31 W., sec. 14" in shown
           and "No survey grid" in shown, shown[-600:])
    lab.record("site", "site/LOT", legalDescription="parcel 0471-22", **dict(site, siteName="l"))
    claims("a parcel number is kept as it is", lab.ask("show", "site/LOT")["now"]
           ["legalDescription"]["value"] == "parcel 0471-22")
    rows = lab.ask("query", "SELECT land_township, land_range, land_sections, land_parts,"
                            " land_acres FROM v_site WHERE sub IN ('site/LAND', 'site/LOT')"
                            " ORDER BY sub")["rows"]
    claims("columns of the views", rows == [["T. 12 S.", "R. 31 W.", "14", "NE1/4 SW1/4", "40"],
                                            [None] * 5], rows)
    for number, fits in (("LAND", 1), ("LOT", 0)):
        told = lab.ask("audit", "--site", number)
        rule = next(r for r in told["rules"] if r["id"] == "43")
        found = [f for f in told["findings"] if f["rule"] == "43"]
        claims(f"the audit of {number}: a note where it was not read",
               rule["fits"] == fits and len(found) == 1 - fits
               and all(f["severity"] == "note" for f in found), (rule, found))
        claims(f"the audit of {number} tells the description",
               "landRead" in told["sites"][0], told["sites"])


def main():
    claims = Claims()
    with Lab("places.example") as lab:
        written = "38\u00b0 46' 16.3\" N, 100\u00b0 30' 48.2\" W"
        lab.record("site", "site/DMS", siteName="a", verbatimCoordinates=written,
                   geodeticDatum="EPSG:4326", coordinateSource="map", **BASE)
        told = now(lab, "DMS")
        claims("degrees, minutes, seconds are kept word for word",
               told["verbatimCoordinates"] == written, told)
        claims("and stand beside as decimal degrees",
               abs(float(told["decimalLatitude"]) - (38 + 46 / 60 + 16.3 / 3600)) < 6e-8
               and abs(float(told["decimalLongitude"]) + (100 + 30 / 60 + 48.2 / 3600)) < 6e-8,
               told)
        claims("a tenth of a second is what they leave open",
               abs(parts(told)["precision"] - step_m(38.77, 0.1 / 3600)) < 0.06, parts(told))
        lab.record("site", "site/DDM", siteName="b",
                   verbatimCoordinates="38 46.272 N 100 30.804 W", geodeticDatum="not recorded",
                   coordinateSource="map", **BASE)
        told = now(lab, "DDM")
        claims("decimal minutes", abs(float(told["decimalLatitude"]) - (38 + 46.272 / 60)) < 6e-8
               and abs(float(told["decimalLongitude"]) + (100 + 30.804 / 60)) < 6e-8, told)
        claims("a datum that nobody wrote down is a part of its own",
               parts(told)["datum"] == 5359, parts(told))
        done = lab.run("record", "site", "site/DD2", "siteName=c", "geodeticDatum=not recorded",
                       "verbatimCoordinates=38 46.272 N 100 30.804 W", "coordinateSource=map",
                       *(f"{k}={v}" for k, v in BASE.items()))
        claims("and is said", "datum is not recorded" in done.stdout and "5,359" in done.stdout,
               done.stdout)
        entry = {"kind": "site", "subject": "site/UTM", "fields": dict(
            BASE, siteName="d", verbatimCoordinates="14S 368000 4292000",
            geodeticDatum="EPSG:4326", coordinateSource="GPS receiver")}
        pathlib.Path(lab.path("utm.json")).write_text(json.dumps([entry]))
        lab.do("record", "--from", lab.path("utm.json"))
        told = now(lab, "UTM")
        east, north = utm(float(told["decimalLatitude"]), float(told["decimalLongitude"]), -99)
        claims("UTM, out of a file", abs(east - 368000) < 0.1 and abs(north - 4292000) < 0.1,
               (east, north))
        claims("whole metres: half a cell's diagonal, and a receiver of which no more is known",
               parts(told) == {"precision": 0.7, "GPS": 100.0}, parts(told))
        claims("no radius of a place whose reach nobody wrote down",
               told["coordinateUncertaintyInMeters"] == {"answer": "not known"}, told)
        lab.record("site", "site/OWN", siteName="e", verbatimCoordinates="38 46 N 100 30 W",
                   decimalLatitude="38.77", decimalLongitude="-100.5", geodeticDatum="EPSG:4326",
                   coordinateSource="map", **BASE)
        claims("figures that were typed stay", now(lab, "OWN")["decimalLatitude"] == "38.77")
        for text, datum, why in (("38\u00b0 61' N 100\u00b0 30' W", "EPSG:4326", "60 minutes"),
                                 ("14S 368000 4292000", None, "a grid without a datum"),
                                 ("by the old windmill", "EPSG:4326", "no coordinates"),
                                 ("38 46 N 100 30 W", "EPSG:9", "a datum that is none")):
            done = lab.run("record", "site", "site/BAD", "siteName=f",
                           f"verbatimCoordinates={text}", "coordinateSource=map",
                           *([f"geodeticDatum={datum}"] if datum else []),
                           *(f"{k}={v}" for k, v in BASE.items()))
            claims(f"refused, in one sentence: {why}", done.returncode == 2
                   and done.stderr.count("\n") == 1, done.stderr)
        sites(claims, lab)
        lab.record("site", "site/S", siteName="g", verbatimCoordinates="38 46 N 100 30 W",
                   geodeticDatum="EPSG:4326", coordinateSource="map", **BASE)
        lab.record("party", "party/P001", partyType="person", name="A B", namedTo="anyone")
        finds(claims, lab)
        descriptions(claims, lab)
        table(claims, lab)
        audited(claims, lab)
    sys.exit(claims.end())


if __name__ == "__main__":
    main()
