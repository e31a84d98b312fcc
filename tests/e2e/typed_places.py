#!/usr/bin/python3
"""Coordinates as people write them, typed for a site: kept word for word, with latitude and
longitude beside them and what the numbers and the datum leave open.

Outside: arithmetic of sixtieths; the transverse Mercator series of Snyder, USGS Professional Paper
1395 (1987), equations 8-9 and 8-10 (from memory); the precision of a point-radius by Chapman &
Wieczorek 2020 (one step in both directions); the datum's 5,359 m of the same."""

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
        claims("and is said", "datum is not recorded" in done.stderr and "5,359" in done.stderr,
               done.stderr)
        entry = {"kind": "site", "subject": "site/UTM", "fields": dict(
            BASE, siteName="d", verbatimCoordinates="14S 368000 4292000",
            geodeticDatum="EPSG:4326", coordinateSource="GPS receiver")}
        pathlib.Path(lab.path("utm.json")).write_text(json.dumps([entry]))
        lab.do("record", "--from", lab.path("utm.json"))
        told = now(lab, "UTM")
        east, north = utm(float(told["decimalLatitude"]), float(told["decimalLongitude"]), -99)
        claims("UTM, out of a file", abs(east - 368000) < 0.1 and abs(north - 4292000) < 0.1,
               (east, north))
        claims("whole metres: half a cell's diagonal", parts(told) == {"precision": 0.7},
               parts(told))
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
    sys.exit(claims.end())


main()
