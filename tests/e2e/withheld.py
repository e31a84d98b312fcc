#!/usr/bin/python3
"""No withheld value leaves the ledger, in any encoding.

A ledger is filled with values that are easily told apart, among them what a camera wrote into a
photo, prices, addresses, a worker's health, the ground's outline. Certificates and sheets are
issued for each audience, and every exported byte is searched for every value that this audience
must not see: as it stands, in base64 (three alignments) and base64url, base32, hex, escaped for
JSON, XML, PDF and addresses, as UTF-16, and its SHA-256 (an unsalted hash of a guessable value is
that value); in unpacked PDF streams, in what base64 holds inside base64, in the text that the page
shows, and in its QR code. Each value is also searched where it may be seen, and must be found
there: a search that finds nothing proves nothing.

Photos: a JPEG by ITU-T T.81 with an Exif block (Exif 2.3) and a comment, a PNG by ISO/IEC 15948
with a text chunk, both written by hand below."""

import base64
import hashlib
import json
import os
import pathlib
import re
import struct
import subprocess
import sys
import urllib.parse
import zipfile
import zlib

from _lab import Claims, Lab

ALL = {"institution", "auditor", "buyer", "public"}
SCIENCE, LAND = {"institution"}, {"institution", "auditor"}

# value -> audiences that may see it
SECRETS = {
    "Hidden Heron Draw": SCIENCE,                # a site's name
    "38.7712345": SCIENCE,                       # latitude
    "38.7712": SCIENCE,                          # and what it begins with
    "-100.5134567": SCIENCE,                     # longitude
    "100.513": SCIENCE,
    "38.7719876": SCIENCE,                       # the find's own point
    "38 46 19.2 N 100 30 50.4 W": SCIENCE,       # and as it was written
    "0.25 mi N of the crooked silo": SCIENCE,    # and from a feature
    "-100.5991122": LAND,                        # a corner of the outline, on record for the land
    "Quillwort": LAND,                           # a county, where buyers are told the state alone
    "T9S R31W, by the leaning gate": LAND,       # a land description
    "under the second oxbow": SCIENCE,           # field notes
    "Zebulon Quiverfull": set(),                 # a collector named to nobody
    "Lane of the Nine Larks 7": set(),           # his address
    "z.quiverfull@larks.example": set(),
    "Wanda Overlook": LAND,                      # a landowner named to institutions
    "0471-0099-5512": LAND,                      # a permit number
    "her cut is thirty-seven": set(),            # the owner's share, in private remarks
    "label of uncle Ferdinand": SCIENCE,         # a verbatim label
    "kept behind the blue crate": set(),         # remarks
    "unseen shelf 12": set(),                    # a container
    "8765.43": set(),                            # a price
    "Ephraim Nightjar": set(),                   # a buyer named to nobody
    "eleven hours of vibration": set(),          # guard of a worker's health, in the mask's words
    "a crack that nobody asked about": set(),    # a note
    "my fence, my fossil": set(),                # a claimant's words
    "heron-draw-gate.jpg": SCIENCE,              # file names
    "heron-draw-north.png": SCIENCE,
    "GPSHIDDEN in the comment": SCIENCE,         # inside the photos, as they were taken
    "PNGHIDDEN in a chunk": SCIENCE,
    "gate with the name on it": LAND,            # a photo of the place; see FOUND
    "scan of the old tag": SCIENCE,              # a photo of the label
}
# Where it has to be found, if not wherever it may be: an auditor's file may leave the bytes of a
# photo out, and then says that they are not checked there.
FOUND = {"gate with the name on it": SCIENCE}
# A latitude of 38 degrees 46 minutes 16.32 seconds as Exif's rationals, little-endian.
GPS = struct.pack("<6I", 38, 1, 46, 1, 1632, 100)
MARKS = ["a mark like a question", "a second, like a comma", "a third, like nothing"]


# ---- photos ----

def jpeg(comment, gps=True):
    """Grey, 8 by 8: one block whose only code says that there is nothing in it."""
    def segment(marker, body):
        return bytes([0xFF, marker]) + struct.pack(">H", len(body) + 2) + body

    block = struct.pack("<2sHIH", b"II", 42, 8, 1) + struct.pack("<HHII", 0x8825, 4, 1, 26) \
        + struct.pack("<I", 0) + struct.pack("<H", 2) \
        + struct.pack("<HHI4s", 1, 2, 2, b"N\0\0\0") + struct.pack("<HHII", 2, 5, 3, 56) \
        + struct.pack("<I", 0) + GPS
    table = bytes([1] + 15 * [0] + [0])
    return b"\xff\xd8" + segment(0xE0, b"JFIF\0\1\1\0\0\1\0\1\0\0") \
        + (segment(0xE1, b"Exif\0\0" + block) if gps else b"") + segment(0xFE, comment) \
        + segment(0xDB, b"\0" + 64 * b"\1") + segment(0xC0, struct.pack(">BHHB3B", 8, 8, 8, 1, 1,
                                                                        0x11, 0)) \
        + segment(0xC4, b"\0" + table) + segment(0xC4, b"\x10" + table) \
        + segment(0xDA, b"\1\1\0\0\x3f\0") + b"\x3f" + b"\xff\xd9"


def png(comment):
    def chunk(name, data):
        return struct.pack(">I", len(data)) + name + data \
            + struct.pack(">I", zlib.crc32(name + data))

    pixels = b"".join(b"\0" + bytes((x * y) % 251 for x in range(64)) for y in range(64))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", 64, 64, 8, 0, 0, 0, 0)) \
        + chunk(b"tEXt", b"Comment\0" + comment) + chunk(b"IDAT", zlib.compress(pixels)) \
        + chunk(b"IEND", b"")


# ---- a ledger full of secrets ----

def fill_land(lab):
    lab.record("party", "party/P001", partyType="person", name="Open Person", namedTo="anyone",
               neutralLabel="the lab")
    lab.record("party", "party/P002", partyType="person", name="Zebulon Quiverfull",
               namedTo="nobody", neutralLabel="a collector", address="Lane of the Nine Larks 7",
               mail="z.quiverfull@larks.example")
    lab.record("party", "party/P003", partyType="person", name="Wanda Overlook",
               namedTo="institutions and land managers only", neutralLabel="a landowner")
    lab.record("party", "party/P004", partyType="person", name="Ephraim Nightjar",
               namedTo="nobody", neutralLabel="a private person")
    outline = {"type": "Polygon", "coordinates": [[
        [-100.5991122, 38.7], [-100.4, 38.7], [-100.4, 38.9], [-100.5991122, 38.7]]]}
    lab.record("site", "site/S001", siteName="Hidden Heron Draw", countryCode="US",
               stateProvince="Kansas", county="Quillwort", decimalLatitude="38.7712345",
               decimalLongitude="-100.5134567", geodeticDatum="EPSG:4326",
               coordinateSource="GPS receiver", coordinateUncertaintyInMeters="15",
               boundary=json.dumps(outline), boundarySource="lease map",
               legalDescription="T9S R31W, by the leaning gate", placeHeldBackBy="landowner",
               placeFinestAllowed="state")
    lab.record("permission", "permission/L1", permissionType="agency permit",
               permitNumber="0471-0099-5512", grantor="party/P003", holder="party/P001",
               validFrom="2024-01-01", validUntil="2024-12-31", document="none",
               repository="party/P001", repositoryAcceptance="none",
               remarks="her cut is thirty-seven")
    lab.record("field-day", "field-day/D001", eventDate="2024-05-02", site="site/S001",
               permission="permission/L1", present="party:party/P002; role:guest",
               purpose="research", tools="hand tools", recordedBy="party/P002")


def fill_pieces(lab):
    photos = {"heron-draw-gate.jpg": jpeg(b"GPSHIDDEN in the comment"),
              "heron-draw-north.png": png(b"PNGHIDDEN in a chunk"),
              "place.jpg": jpeg(b"gate with the name on it", gps=False),
              "tag.jpg": jpeg(b"scan of the old tag", gps=False)}
    for name, data in photos.items():
        pathlib.Path(lab.path(name)).write_bytes(data)
    lab.do("record", "collecting", "specimen/24-0001", "fieldDay=field-day/D001",
           "recordNumber=T-1", "verbatimIdentification=crinoid", "objectForm=slab",
           "objectQuantity=1", "quantityHow=counted", "materialClass=invertebrate",
           "horizon=not known", "inPlace=in place", "remarks=kept behind the blue crate",
           "container=unseen shelf 12", "fieldNotes=under the second oxbow",
           "decimalLatitude=38.7719876", "decimalLongitude=-100.5139876",
           "geodeticDatum=EPSG:4326", "coordinateUncertaintyInMeters=8",
           "verbatimCoordinates=38 46 19.2 N 100 30 50.4 W", "coordinateSource=survey",
           "fromFeature=0.25 mi N of the crooked silo",
           "placePhotos=file:place.jpg; view:as found", "--attach", "heron-draw-gate.jpg",
           "--attach", "heron-draw-north.png")
    lab.record("preparation", "specimen/24-0001", preparationDate="2024-06-01",
               preparedBy="party/P001", steps="method:airscribe", lostInWork="none",
               guard="party:party/P001; triggerMinutes:660; mask:eleven hours of vibration")
    lab.record("note", "specimen/24-0001", text="a crack that nobody asked about")
    lab.record("claim", "specimen/24-0001", nature="landowner's share", status="settled",
               date="2024-07-01", by="party/P003", byLabel="landowner", hold="none",
               words="my fence, my fossil")
    lab.record("condition", "specimen/24-0001", examinedOn="2024-07-02", examinedBy="party/P001",
               examinerTie="did the work", occasion="for sale", means="eye", notExamined="back",
               form="natural", frame="shares do not apply", joins="none", rock="none",
               identifyingMarks=" | ".join(f"mark:{m}; where:front" for m in MARKS),
               dimensions="which:length; value:90; unit:mm", mass="0.4 kg", stability="none seen",
               hazards="not examined", shares="not examined", surfaces="not examined")
    lab.do("record", "title", "specimen/24-0001", "from=party/P001", "to=party/P004",
           "fromLabel=us", "toLabel=private person", "date=2024-08-01", "manner=sale",
           "basis=none", "conditions=none", "burdens=none stated", "price=8765.43 USD",
           "acknowledged=one side only")
    lab.record("arrival", "specimen/24-0002", receivedOn="2024-05-03", receivedFrom="party/P002",
               fromLabel="client", reason="preparation", owner="not known",
               ownerShownBy="not asked", objectForm="single", objectQuantity="1",
               materialClass="invertebrate", verbatimLabel="label of uncle Ferdinand",
               labelLink="same bag", labelPhotos="file:tag.jpg; side:front",
               earlierWork="not examined", arrivedDamaged="no", hazardsSeen="none",
               countryOfDiscovery="US", readBy="party/P001", readingSure="guess",
               statedSite="site/S001")
    return photos


# ---- looking ----

def base64_core(raw, shift):
    """The letters that stand in base64 for these bytes alone, whatever stands around them."""
    padded = b"\0" * shift + raw
    coded = base64.b64encode(padded)
    return coded[(8 * shift + 5) // 6:len(coded) - (4 if len(padded) % 3 else 0)]


def encodings(raw):
    text = raw.decode("latin-1")
    yield raw
    for number in (raw.hex(), base64.b32encode(raw).decode().rstrip("=")[:-1]):
        yield number.lower().encode()
        yield number.upper().encode()
    for shift in range(3):
        core = base64_core(raw, shift)
        if len(core) >= 6:
            yield core
            yield core.replace(b"+", b"-").replace(b"/", b"_")
    if raw.isascii():
        yield text.encode("utf-16-le")
        yield text.encode("utf-16-be")
        yield json.dumps(text)[1:-1].encode()
        yield urllib.parse.quote(text).encode()
        yield text.replace("'", "&apos;").encode()
        yield re.sub(r"([()\\])", r"\\\1", text).encode()


def forms_of(raw):
    digest = hashlib.sha256(raw).digest()
    return {form for value in (raw, digest) for form in encodings(value)}


PACKED = re.compile(rb"[A-Za-z0-9_+/-]{16,}={0,2}")


def layers(data, depth=0):
    """The bytes, and what is packed inside them, and inside that."""
    yield data
    if depth == 4:
        return
    for match in re.finditer(rb"stream\r?\n(.*?)\r?\n?endstream", data, re.S):
        try:
            yield from layers(zlib.decompress(match.group(1)), depth + 1)
        except zlib.error:
            pass
    for text in PACKED.findall(data):
        bare = text.rstrip(b"=").replace(b"-", b"+").replace(b"_", b"/")
        try:
            inner = base64.b64decode(bare + b"=" * (-len(bare) % 4))
        except ValueError:
            continue
        yield inner
        if len(inner) > 24:
            yield from layers(inner, depth + 1)


def outside(*command):
    return subprocess.run(command, capture_output=True, check=False).stdout


def page(path):
    """What a reader of the sheet sees: its text, its codes, and its file taken apart by qpdf."""
    flat = re.sub(rb"\s+", b" ", outside("pdftotext", "-layout", path, "-"))
    outside("pdftoppm", "-r", "150", "-png", path, path + ".page")
    codes = b"".join(outside("zbarimg", "-q", "--raw", os.path.join(os.path.dirname(path), name))
                     for name in sorted(os.listdir(os.path.dirname(path)))
                     if name.startswith(os.path.basename(path) + ".page"))
    return flat + codes, outside("qpdf", "--qdf", "--object-streams=disable", path, "-"), codes


def everything(claims, folder):
    """All bytes of all files of an export, taken apart."""
    pieces = []
    for name in sorted(os.listdir(folder)):
        path = os.path.join(folder, name)
        pieces.append(pathlib.Path(path).read_bytes())
        if name.endswith(".pdf"):
            text, plain, codes = page(path)
            claims(f"the page of {name} can be read", len(text) > 500, text)
            claims(f"and its code too", len(codes) > 20, codes)
            pieces += [text, plain]
    return b"\n\0\n".join(layer for piece in pieces for layer in layers(piece))


def check(claims, lab, photos):
    unseen = {value: forms_of(value.encode()) for value in SECRETS}
    found = {value: set() for value in SECRETS}
    taken = {name: forms_of(data) for name, data in photos.items()}
    for audience in sorted(ALL):
        for piece in ("24-0001", "24-0002"):
            out = lab.path(f"{audience}-{piece}")
            lab.do("sheet", piece, "--to", "party/P004", "--audience", audience, "--out", out,
                   "--unmarked")
            data = everything(claims, out)
            for value, forms in unseen.items():
                there = any(form in data for form in forms)
                if there:
                    found[value].add(audience)
                if audience not in SECRETS[value]:
                    claims(f"{audience}, {piece}: '{value}' is not in it", not there,
                           [form for form in forms if form in data])
            if audience != "institution":
                claims(f"{audience}, {piece}: no position of a camera", GPS not in data)
                for name in ("heron-draw-gate.jpg", "heron-draw-north.png", "tag.jpg"):
                    claims(f"{audience}, {piece}: {name} as it was taken, or its hash",
                           not any(form in data for form in taken[name]))
            elif piece == "24-0001":
                claims("the institution has the camera's position", GPS in data)
    for value, may in SECRETS.items():
        claims(f"'{value}' is found where it is to be seen: {sorted(may)}",
               FOUND.get(value, may) <= found[value], found[value])


def check_wishes(claims, lab):
    """Held back by name, and shown by name."""
    lab.do("sheet", "24-0001", "--to", "bearer", "--unmarked", "--withhold", "stateProvince",
           "--because", "landowner's request", "--out", lab.path("held"))
    data = everything(claims, lab.path("held"))
    claims("a field held back by name is not in it",
           not any(form in data for form in forms_of(b"Kansas")))
    lab.do("sheet", "24-0001", "--to", "bearer", "--unmarked", "--reveal", "price",
           "--out", lab.path("shown"))
    claims("a price that is shown by name is in it",
           b"8765.43" in everything(claims, lab.path("shown")))


def bag(lab, name, *more):
    """Every file of a bag for an institution, taken apart; its packed table too."""
    folder = pathlib.Path(lab.path(name))
    lab.do("handover", "24-0001", "--to", "party/P004", "--out", str(folder), *more)
    data = []
    for path in sorted(p for p in folder.rglob("*") if p.is_file()):
        data.append(path.read_bytes())
        if path.suffix == ".pdf":
            data += page(str(path))[:2]
        if path.suffix == ".zip":
            with zipfile.ZipFile(path) as packed:
                data += [packed.read(name) for name in packed.namelist()]
    return b"\n\0\n".join(layer for piece in data for layer in layers(piece))


POINTS = {"38.7712345": "decimalLatitude", "-100.5134567": "decimalLongitude",
          "38.7719876": "decimalLatitude", "38 46 19.2 N 100 30 50.4 W": "verbatimCoordinates",
          "0.25 mi N of the crooked silo": "fromFeature"}


def check_bags(claims, lab):
    """Of a place that is held back even from an institution nothing is in the bag: not in its
    tables and papers, and not in what a camera wrote into the photos."""
    open_bag = bag(lab, "open-bag")
    for value in POINTS:
        claims(f"an institution's bag has '{value}'",
               any(form in open_bag for form in forms_of(value.encode())))
    claims("and the camera's position", GPS in open_bag)
    held = bag(lab, "held-bag", *(word for field in sorted(set(POINTS.values()))
                                  for word in ("--withhold", field)),
               "--because", "landowner's request")
    for value in POINTS:
        claims(f"held back, '{value}' is not in it",
               not any(form in held for form in forms_of(value.encode())))
    claims("nor the camera's position", GPS not in held)
    refused = lab.run("handover", "24-0001", "--to", "party/P004", "--withhold", "county",
                      "--out", lab.path("no-bag"))
    claims("without a reason it is refused", refused.returncode == 2
           and "--because" in refused.stderr, refused.stderr)
    claims("and nothing is made", not os.path.exists(lab.path("no-bag")))


def main():
    claims = Claims()
    with Lab("quiet.example") as lab:
        fill_land(lab)
        photos = fill_pieces(lab)
        check(claims, lab, photos)
        check_wishes(claims, lab)
        check_bags(claims, lab)
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
