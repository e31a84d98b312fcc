#!/usr/bin/python3
"""Photos for a sale are kept without what a camera or editor wrote into them, pixels untouched.

exiftool fills JPEG, PNG and TIFF with all it can write, and says what is left of it; tiffcmp (from
libtiff) compares the pixels of a TIFF, Python's zlib those of a PNG; of a JPEG the coded data are
compared byte for byte. Both hashes stand in the record."""
import base64
import hashlib
import os
import pathlib
import re
import shutil
import struct
import subprocess
import sys
import zlib

from _lab import Claims, Lab

SECRETS = ["Heron Draw", "Quiverfull", "leaning gate", "Lensmaker 9000", "38.771234"]
claims = Claims()


def exif(*words):
    return subprocess.run(["exiftool", *map(str, words)], capture_output=True, text=True,
                          check=True).stdout


def fill(path, kind):
    """All sorts of metadata, by exiftool."""
    words = ["-overwrite_original", "-EXIF:GPSLatitude=38.771234", "-EXIF:GPSLatitudeRef=N",
             "-EXIF:GPSLongitude=100.513456", "-EXIF:GPSLongitudeRef=W",
             "-EXIF:Artist=Zebulon Quiverfull", "-EXIF:ImageDescription=by the leaning gate",
             "-EXIF:Model=Lensmaker 9000", "-EXIF:DateTimeOriginal=2024:05:02 10:11:12",
             "-EXIF:UserComment=Heron Draw", "-XMP:City=Heron Draw", "-XMP:Creator=Quiverfull",
             "-XMP:GPSLatitude=38.771234", "-EXIF:OwnerName=Zebulon Quiverfull"]
    if kind != "png":
        words += ["-IPTC:City=Heron Draw", "-IPTC:By-line=Quiverfull"]
    if kind == "jpg":
        words += ["-Comment=by the leaning gate", "-Photoshop:XResolution=72",
                  f"-ThumbnailImage<={path}.thumb"]
        shutil.copy(path, f"{path}.thumb")
    if kind == "png":
        words += ["-PNG:Comment=by the leaning gate", "-PNG:Author=Quiverfull"]
    exif(*words, path)


def jpeg_pixels(data):
    """The coded data of all scans and the tables they need, without APPn and comments."""
    out, pos = [], 2
    while pos < len(data):
        marker, length = data[pos + 1], struct.unpack(">H", data[pos + 2:pos + 4])[0]
        end = pos + 2 + length
        if marker == 0xDA:
            out.append(data[pos:data.rindex(b"\xff\xd9") + 2])
            break
        if not (0xE0 <= marker <= 0xEF or marker == 0xFE):
            out.append(data[pos:end])
        pos = end
    return b"".join(out)


def png_pixels(data):
    pos, packed = 8, b""
    while pos < len(data):
        length = struct.unpack(">I", data[pos:pos + 4])[0]
        if data[pos + 4:pos + 8] == b"IDAT":
            packed += data[pos + 8:pos + 8 + length]
        pos += 12 + length
    return zlib.decompress(packed)


def make_png(path):
    rows = b"".join(b"\0" + os.urandom(3 * 40) for _ in range(30))

    def chunk(name, body):
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I",
                                                                        zlib.crc32(name + body))
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", 40, 30, 8, 2, 0,
                                                                       0, 0))
                     + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b""))


def make_tiff(path, order, packed=False, pages=1):
    """Strips of ten rows, RGB; packed by deflate (compression 8) where asked."""
    out = bytearray((b"II" if order == "<" else b"MM") + struct.pack(order + "HI", 42, 0))
    link = 4
    for _ in range(pages):
        strips = [os.urandom(3 * 40 * 10) for _ in range(3)]
        strips = [zlib.compress(s) for s in strips] if packed else strips
        places = []
        for strip in strips:
            places.append(len(out))
            out += strip + b"\0" * (len(strip) & 1)
        at_places, at_bytes, at_bits = len(out), len(out) + 12, len(out) + 24
        out += struct.pack(order + "3I", *places) + struct.pack(order + "3I", *map(len, strips))
        out += struct.pack(order + "3H", 8, 8, 8) + b"\0\0"
        tags = [(256, 3, 1, 40), (257, 3, 1, 30), (258, 3, 3, at_bits),
                (259, 3, 1, 8 if packed else 1), (262, 3, 1, 2), (273, 4, 3, at_places),
                (274, 3, 1, 6), (277, 3, 1, 3), (278, 3, 1, 10), (279, 4, 3, at_bytes)]
        struct.pack_into(order + "I", out, link, len(out))
        out += struct.pack(order + "H", len(tags))
        for tag, kind, count, value in tags:
            out += struct.pack(order + "HHI", tag, kind, count)
            out += (struct.pack(order + "HH", value, 0) if kind == 3 and count == 1
                    else struct.pack(order + "I", value))
        link = len(out)
        out += b"\0\0\0\0"
    path.write_bytes(out)


def make_jpeg(lab, path):
    """poppler draws one from a page of our own."""
    lab.do("labels", "26-0001", "--out", lab.path("label.pdf"))
    subprocess.run(["pdftoppm", "-r", "60", "-jpeg", "-singlefile", lab.path("label.pdf"),
                    str(path.with_suffix(""))], check=True)
    path.with_suffix(".jpg").rename(path)


def stored(lab, name):
    """What the ledger keeps of an attached photo: (cleaned copy, as taken)."""
    lab.do("record", "note", "specimen/26-0001", f"text=with {name}", "--attach", lab.path(name))
    fields = lab.ask("show", "26-0001")["entries"][-1]["fields"]

    def at(value):
        return pathlib.Path(lab.ledger, "files", value["file"][:2], value["file"])

    clean = at(fields["photos"][0]["file"])
    taken = [at(v.get("file", v) if isinstance(v.get("file"), dict) else v)
             for v in fields.get("photosAsTaken", [])]
    return clean, taken


def says_nothing(name, data):
    raw = data.read_bytes()
    left = [s for s in SECRETS if s.encode() in raw or base64.b64encode(s.encode())[:-4] in raw]
    claims(f"{name}: no secret in its bytes", not left, left)
    tags = exif("-a", "-G1", "-s", "-u", data)
    groups = "GPS|XMP|IPTC|ExifIFD|Photoshop|MakerNotes|PNG"
    if not name.endswith(".tif"):  # there it is the second page
        groups += "|IFD1"
    kept = [line for line in tags.splitlines() if re.match(rf"\[({groups})", line)
        and not re.search(r"ImageWidth|ImageHeight|BitDepth|ColorType|Compression|Filter|Interlace",
                          line)]
    claims(f"{name}: exiftool finds nothing of it", not kept, kept)


def one(lab, name, same_pixels):
    path = pathlib.Path(lab.path(name))
    clean, taken = stored(lab, name)
    claims(f"{name}: exiftool did write into it", any(s.encode() in path.read_bytes()
                                                      for s in SECRETS))
    says_nothing(name, clean)
    claims(f"{name}: pixels as they were", same_pixels(path, clean))
    claims(f"{name}: both hashes are in the record", len(taken) == 1
           and taken[0].read_bytes() == path.read_bytes()
           and hashlib.sha256(path.read_bytes()).hexdigest() == taken[0].name)
    before = exif("-s3", "-n", "-Orientation", path).strip()
    after = exif("-s3", "-n", "-Orientation", clean).strip()
    claims(f"{name}: it stands upright as before", (before or "1") == (after or "1"),
           (before, after))


def tiff_same(a, b):
    return subprocess.run(["tiffcmp", "-t", a, b], capture_output=True, check=False).returncode == 0


def with_thumbnail(lab):
    """A JFIF segment that carries a small picture of its own (JFIF 1.02)."""
    data = pathlib.Path(lab.path("plain.jpg")).read_bytes()
    length = struct.unpack(">H", data[4:6])[0]
    claims("the sample begins with JFIF", data[6:11] == b"JFIF\0")
    thumb = b"Heron Draw seen"  # five pixels of three bytes
    head = data[6:4 + length - 2] + bytes([5, 1]) + thumb
    pathlib.Path(lab.path("thumb.jpg")).write_bytes(
        b"\xff\xd8\xff\xe0" + struct.pack(">H", len(head) + 2) + head + data[4 + length:])
    clean, _ = stored(lab, "thumb.jpg")
    says_nothing("thumb.jpg", clean)
    claims("a small picture in JFIF goes, the picture stays",
           jpeg_pixels(clean.read_bytes()) == jpeg_pixels(data))


def refused(lab):
    tiff = pathlib.Path(lab.path("II.tif")).read_bytes()
    jpeg = bytearray(tiff)
    at = jpeg.index(struct.pack("<HHI", 259, 3, 1)) + 8
    jpeg[at] = 7
    for name, data in (("cut.tif", tiff[:200]), ("jpeg.tif", jpeg),
                       ("big.tif", b"II\x2b\0" + tiff[4:])):
        pathlib.Path(lab.path(name)).write_bytes(data)
        before = lab.entries(), len(list(pathlib.Path(lab.ledger, "files").rglob("*")))
        done = lab.run("record", "note", "specimen/26-0001", "text=x", "--attach", lab.path(name))
        sort = "not a picture" if name == "big.tif" and done.returncode == 0 else "refused"
        claims(f"{name} is refused, or no photo", sort == "not a picture"
               or (done.returncode == 2 and name in done.stderr and (
                   lab.entries(), len(list(pathlib.Path(lab.ledger, "files").rglob("*"))))
                   == before), done)


def main():
    with Lab("photos.example") as lab:
        lab.record("party", "party/P001", partyType="person", name="A B", namedTo="anyone")
        lab.record("arrival", "specimen/26-0001", receivedOn="2026-05-03",
                   receivedFrom="party/P001", fromLabel="client", reason="preparation",
                   owner="not known", ownerShownBy="not asked", objectForm="single",
                   objectQuantity="1",
                   materialClass="invertebrate", verbatimLabel="none", labelLink="no label",
                   earlierWork="not examined", arrivedDamaged="no", hazardsSeen="none",
                   countryOfDiscovery="not known", readingSure="sure", readBy="party/P001")
        folder = lab.folder
        make_jpeg(lab, folder / "plain.jpg")
        shutil.copy(folder / "plain.jpg", folder / "photo.jpg")
        make_png(folder / "photo.png")
        make_tiff(folder / "II.tif", "<")
        make_tiff(folder / "MM.tif", ">", packed=True)
        make_tiff(folder / "two.tif", "<", pages=2)
        for name in ("photo.jpg", "photo.png", "II.tif", "MM.tif", "two.tif"):
            fill(folder / name, name[-3:])
        one(lab, "photo.jpg", lambda a, b: jpeg_pixels(a.read_bytes())
            == jpeg_pixels(b.read_bytes()))
        one(lab, "photo.png", lambda a, b: png_pixels(a.read_bytes())
            == png_pixels(b.read_bytes()))
        for name in ("II.tif", "MM.tif", "two.tif"):
            one(lab, name, tiff_same)
        with_thumbnail(lab)
        refused(lab)
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
