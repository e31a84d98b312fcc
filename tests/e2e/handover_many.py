#!/usr/bin/python3
"""Many pieces and photos in one bag: memory, time against sha512sum on the same bytes, and that a
stranger's tools accept it. Thirty specimens and a hundred photos here; five hundred and two
thousand in tests/bench/scale_handover.py.

Photos are PNGs (ISO/IEC 15948) of noise, which no packing makes smaller."""

import json
import os
import struct
import subprocess
import sys
import time
import zlib

from _lab import PROGRAM, Claims, Lab


def chunk(kind, body):
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def noise(side_px):
    """side_px x side_px x 3 bytes, stored."""
    rows = b"".join(b"\0" + os.urandom(3 * side_px) for _ in range(side_px))
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", side_px, side_px, 8, 2,
                                                              0, 0, 0))
            + chunk(b"IDAT", zlib.compress(rows, 0)) + chunk(b"IEND", b""))


def settle(lab):
    lab.record("party", "party/P001", partyType="person", name="A B", namedTo="anyone",
               neutralLabel="us", role="collector")
    lab.record("party", "party/P002", partyType="museum", name="The Museum", namedTo="anyone",
               neutralLabel="museum", role="museum staff")
    lab.record("site", "site/S1", siteName="Draw", countryCode="US", stateProvince="Kansas",
               county="Gove", siteType="outcrop", decimalLatitude="38.7712",
               decimalLongitude="-100.5134", geodeticDatum="EPSG:4326",
               coordinateSource="GPS receiver", coordinateUncertaintyInMeters="15")
    lab.record("land-status", "site/S1", landCategory="private", **{"from": "1998"},
               surfaceOwner="party/P001", fossilOwner="party/P001", mineralsSevered="no",
               landEvidence="county record", evidenceDate="2024-01-09")
    lab.record("horizon", "horizon/H1", layerName="layer", layerState="named",
               formation="Niobrara Formation", earliestStage="Santonian",
               latestStage="Santonian", lithology="chalk", howRecognised="rusty streaks")


def fill(lab, specimens, photos, side_px):
    entries = []
    per = photos // specimens
    for i in range(specimens):
        names = []
        for k in range(per + (i < photos - per * specimens)):
            path = lab.folder / f"{i}-{k}.png"
            path.write_bytes(noise(side_px))
            names.append({"file": str(path), "view": "front", "scaleBarMm": "50"})
        entries.append({"kind": "collecting", "subject": f"specimen/M-{i:04}", "fields": {
            "eventDate": "2024-05-02", "site": "site/S1", "horizon": "horizon/H1",
            "recordedBy": "party/P001", "permission": "not needed", "purpose": "research",
            "tools": "hand tools", "recordNumber": f"T-{i}", "objectForm": "slab",
            "objectQuantity": 1, "quantityHow": "counted", "materialClass": "invertebrate",
            "verbatimIdentification": "crinoid", "inPlace": "in place", "photos": names}})
    (lab.folder / "finds.json").write_text(json.dumps(entries))
    lab.do("record", "--from", lab.path("finds.json"))
    for path in lab.folder.glob("*.png"):
        path.unlink()


def timed(*command, env=None, cwd=None):
    """Seconds, peak memory in MiB, and what came of it."""
    before = time.monotonic()
    with subprocess.Popen(list(map(str, command)), env=env, cwd=cwd, text=True,
                          stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                          stderr=subprocess.STDOUT) as running:
        said = running.stdout.read()
        _, status, used = os.wait4(running.pid, 0)
        running.returncode = os.waitstatus_to_exitcode(status)
    return time.monotonic() - before, used.ru_maxrss / 1024, running.returncode, said


def run(specimens, photos, side_px, memory_max, ratio_max):
    claims = Claims()
    with Lab("many.example") as lab:
        settle(lab)
        fill(lab, specimens, photos, side_px)
        names = [f"M-{i:04}" for i in range(specimens)]
        seconds, memory, code, said = timed(
            PROGRAM, "-L", lab.ledger, "handover", *names, "--to", "P002", "--out", "bag",
            env=lab.env, cwd=lab.folder)
        claims("it is made", code == 0, said[-1500:])
        bag = lab.folder / "bag"
        size = sum(p.stat().st_size for p in bag.rglob("*") if p.is_file())
        hashing, _, code, told = timed("sha512sum", "-c", "--quiet", "manifest-sha512.txt",
                                       cwd=bag)
        claims("sha512sum -c", code == 0, told)
        checking, check_memory, code, told = timed(
            PROGRAM, "verify", "--trust", lab.trust(), bag, env=lab.env)
        claims("verify: it holds", code == 0, told[-800:])
        claims("as many attachments as photos",
               sum(1 for _ in (bag / "data/attachments").rglob("*.png")) == photos)
        print(f"{specimens} specimens, {photos} photos, {size / 1e6:.0f} MB: made in"
              f" {seconds:.1f} s and {memory:.0f} MiB, checked in {checking:.1f} s and"
              f" {check_memory:.0f} MiB; sha512sum on the same bytes {hashing:.1f} s:"
              f" {seconds / hashing:.1f} and {checking / hashing:.1f} times that")
        claims(f"making it takes at most {memory_max} MiB", memory <= memory_max, memory)
        claims("checking it too", check_memory <= memory_max, check_memory)
        claims(f"making it takes at most {ratio_max} times sha512sum",
               seconds <= ratio_max * hashing, (seconds, hashing))
    return claims.end()


if __name__ == "__main__":
    sys.exit(run(30, 100, 300, 112, 40))
