#!/usr/bin/python3
"""No withheld value leaves the ledger, in any encoding.

A ledger is filled with values that are easily told apart, a photograph with a comment of its camera
among them; certificates and sheets are issued for each audience, and every exported byte is
searched for every value that this audience must not see: as it stands, in base64 (three alignments)
and base64url, in hex, JSON-escaped, as UTF-16, in unpacked PDF streams and in attached files. The
institution's file shows that the search finds what is there."""

import base64
import json
import os
import re
import struct
import subprocess
import sys
import tempfile
import zlib

PROGRAM = os.path.abspath(os.environ.get("MARKERBED", "build/markerbed"))

# value -> audiences that may see it
SECRETS = {
    "Hidden Heron Draw": {"institution"},            # a site's name, science
    "38.7712345": {"institution"},                   # latitude, science
    "-100.5134567": {"institution"},                 # longitude, science
    "Zebulon Quiverfull": set(),                     # a party named to nobody
    "Lane of the Nine Larks 7": set(),               # an address, private
    "Wanda Overlook": {"institution", "auditor"},    # a landowner named to institutions
    "0471-0099-5512": {"institution", "auditor"},    # a permit number, land
    "label of uncle Ferdinand": {"institution"},     # a verbatim label, science
    "kept behind the blue crate": set(),             # remarks, private
    "Quillwort": {"institution"},                    # a county, where the place is told by state
    "heron-draw-gate.png": {"institution"},          # the name of a photograph's file
    "GPSHIDDEN": {"institution"},                    # inside the photograph's tags
    "unseen shelf 12": set(),                        # a container, private
}


def run(folder, *words, check=True):
    environment = {**os.environ, "MARKERBED_PASSPHRASE_FILE": os.path.join(folder, "passphrase")}
    result = subprocess.run([PROGRAM, "-L", os.path.join(folder, "ledger"), *words], text=True,
                            capture_output=True, env=environment, stdin=subprocess.DEVNULL,
                            check=False)
    if check and result.returncode:
        sys.exit(f"{words[:3]}: {result.stderr.strip()}")
    return result


def chunk(name, data):
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def photograph(path):
    """A sound PNG (ISO/IEC 15948) of 64 by 64 grey pixels, with a text chunk as a camera leaves."""
    pixels = b"".join(b"\0" + bytes((x * y) % 251 for x in range(64)) for y in range(64))
    with open(path, "wb") as file:
        file.write(b"\x89PNG\r\n\x1a\n"
                   + chunk(b"IHDR", struct.pack(">IIBBBBB", 64, 64, 8, 0, 0, 0, 0))
                   + chunk(b"tEXt", b"Comment\0GPSHIDDEN") + chunk(b"IDAT", zlib.compress(pixels))
                   + chunk(b"IEND", b""))


def fill(folder):
    with open(os.path.join(folder, "passphrase"), "w", encoding="utf-8") as file:
        file.write("nobody is to know\n")
    run(folder, "found", "--origin", "quiet.example", "--name", "Quiet", "--label", "q", "--holder",
        "P001")
    run(folder, "record", "party", "party/P001", "partyType=person", "name=Open Person",
        "namedTo=anyone")
    run(folder, "record", "party", "party/P002", "partyType=person", "name=Zebulon Quiverfull",
        "namedTo=nobody", "address=Lane of the Nine Larks 7")
    run(folder, "record", "party", "party/P003", "partyType=person", "name=Wanda Overlook",
        "namedTo=institutions and land managers only", "neutralLabel=a landowner")
    run(folder, "record", "site", "site/S001", "siteName=Hidden Heron Draw", "countryCode=US",
        "stateProvince=Kansas", "county=Quillwort", "decimalLatitude=38.7712345",
        "decimalLongitude=-100.5134567", "geodeticDatum=EPSG:4326",
        "coordinateSource=GPS receiver", "coordinateUncertaintyInMeters=15",
        "placeHeldBackBy=landowner", "placeFinestAllowed=state")
    run(folder, "record", "permission", "permission/L1", "permissionType=agency permit",
        "permitNumber=0471-0099-5512", "grantor=party/P003", "holder=party/P001",
        "validFrom=2026-01-01", "validUntil=2026-12-31", "document=none",
        "repository=party/P001", "repositoryAcceptance=none")
    run(folder, "record", "field-day", "field-day/D001", "eventDate=2026-05-02", "site=site/S001",
        "permission=permission/L1", "present=party:party/P002; role:guest", "purpose=research",
        "tools=hand tools", "recordedBy=party/P002")
    path = os.path.join(folder, "heron-draw-gate.png")
    photograph(path)
    run(folder, "record", "collecting", "specimen/26-0001", "fieldDay=field-day/D001",
        "recordNumber=T-1", "verbatimIdentification=crinoid", "objectForm=slab",
        "objectQuantity=1", "quantityHow=counted", "materialClass=invertebrate",
        "horizon=not known", "inPlace=in place", "remarks=kept behind the blue crate",
        "container=unseen shelf 12", "--attach", path)
    run(folder, "record", "arrival", "specimen/26-0002", "receivedOn=2026-05-03",
        "receivedFrom=party/P002", "fromLabel=client", "reason=preparation", "owner=not known",
        "ownerShownBy=not asked", "objectForm=single", "objectQuantity=1",
        "materialClass=invertebrate", "verbatimLabel=label of uncle Ferdinand",
        "labelLink=same bag", "labelPhotos=none", "earlierWork=not examined",
        "arrivedDamaged=no", "hazardsSeen=none", "countryOfDiscovery=US", "readBy=party/P001",
        "readingSure=guess", "statedSite=site/S001")


def encodings(value):
    raw = value.encode()
    yield raw
    yield raw.hex().encode()
    yield raw.hex().upper().encode()
    yield value.encode("utf-16-le")
    yield value.encode("utf-16-be")
    yield json.dumps(value)[1:-1].encode()
    for shift in range(3):
        padded = b"\0" * shift + raw
        coded = base64.b64encode(padded)
        core = coded[(8 * shift + 5) // 6:len(coded) - (4 if len(padded) % 3 else 0)]
        if len(core) >= 6:
            yield core
            yield core.replace(b"+", b"-").replace(b"/", b"_")


def layers(data, depth=0):
    """The bytes, and what is packed inside them."""
    yield data
    if depth == 3:
        return
    for match in re.finditer(rb"stream\r?\n(.*?)\r?\n?endstream", data, re.S):
        try:
            yield from layers(zlib.decompress(match.group(1)), depth + 1)
        except zlib.error:
            pass
    for text in re.findall(rb"[A-Za-z0-9_+/-]{24,}={0,2}", data):
        for decode in (base64.urlsafe_b64decode, base64.b64decode):
            try:
                yield decode(text.rstrip(b"=") + b"=" * (-len(text.rstrip(b"=")) % 4))
            except ValueError:
                pass


def seen_in(data, value):
    forms = set(encodings(value))
    return any(form in layer for layer in layers(data) for form in forms)


def main():
    passed = failed = found = 0
    with tempfile.TemporaryDirectory() as folder:
        fill(folder)
        for audience in ("institution", "auditor", "buyer", "public"):
            for piece in ("26-0001", "26-0002"):
                out = os.path.join(folder, f"{audience}-{piece}")
                run(folder, "sheet", piece, "--to", "bearer", "--audience", audience, "--out", out)
                for name in sorted(os.listdir(out)):
                    with open(os.path.join(out, name), "rb") as file:
                        data = file.read()
                    for value, may in SECRETS.items():
                        there = seen_in(data, value)
                        found += there
                        if there and audience not in may:
                            failed += 1
                            print(f"FAILED: {audience}, {name}: holds '{value}'")
                        else:
                            passed += 1
                    if audience == "institution":
                        wanted = "Hidden Heron Draw"
                        passed += seen_in(data, wanted)
                        failed += not seen_in(data, wanted)
    if found < 10:
        failed += 1
        print(f"FAILED: the search finds too little where it should: {found}")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
