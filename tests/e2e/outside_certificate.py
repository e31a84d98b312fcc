#!/usr/bin/python3
"""Certificates that the program issues, judged by programs that share nothing with it: judge.py
(Python's hashlib and json, pyca/cryptography), openssl for one signature, and Go's x/mod for the
checkpoint and every inclusion proof. The other way round too: what judge.py refuses, ours refuses.
"""
import base64
import copy
import json
import os
import subprocess
import sys
import tempfile

import judge

MARKERBED = os.environ["MARKERBED"]
SUPPORT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "support")
ORIGIN = "ledger.harrowvane.example"
AUDIENCES = ("buyer", "institution", "auditor", "public")
ENTRIES = [
    ("party", "party/P001", {
        "partyType": "firm", "name": "Harrow & Vane Preparation", "namedTo": "anyone",
        "neutralLabel": "the lab", "madeFrom": "own observation"}),
    ("party", "party/P004", {
        "partyType": "person", "name": "Delphine Tessaly", "neutralLabel": "the landowner",
        "namedTo": "institutions and land managers only", "madeFrom": "own observation"}),
    ("site", "site/S001", {
        "siteName": "Sallow Draw", "countryCode": "US", "stateProvince": "Kansas",
        "county": "not known", "decimalLatitude": "38.94127", "decimalLongitude": "-100.21350",
        "geodeticDatum": "EPSG:4326", "coordinateSource": "GPS receiver",
        "coordinateUncertaintyInMeters": "12", "boundarySource": "GPS walk"}),
    ("collecting", "specimen/26-0001", {
        "eventDate": "2025-09-14", "site": "site/S001", "horizon": "not known",
        "inPlace": "in place", "recordedBy": ["party/P001"], "permission": "none",
        "purpose": "commercial", "tools": "hand tools", "recordNumber": "T-118",
        "objectForm": "slab", "objectQuantity": 1, "quantityHow": "counted",
        "materialClass": "invertebrate", "madeFrom": "own observation",
        "verbatimIdentification": "crinoid slab, three crowns – “Uintacrinus”?"}),
    ("note", "specimen/26-0001", {"text": "a label fell off\nand was found again"}),
]

passed = failed = 0


def claim(name, holds, said=""):
    global passed, failed
    if holds:
        passed += 1
    else:
        failed += 1
        print(f"not so: {name}\n    {said}")


def run(*command, **more):
    return subprocess.run(command, capture_output=True, text=True, stdin=subprocess.DEVNULL, **more)


def told(folder, *arguments):
    return run(MARKERBED, "-L", os.path.join(folder, "lab"), *arguments,
               env={**os.environ, "MARKERBED_PASSPHRASE_FILE": os.path.join(folder, "passphrase")})


def written(folder, bundle):
    path = os.path.join(folder, "changed.json")
    with open(path, "w", encoding="utf-8") as f:
        json.dump(bundle, f)
    return path


def ours(folder, bundle):
    """The exit code of our own verify."""
    trust = os.path.join(folder, "trust")
    return told(folder, "verify", written(folder, bundle), "--trust", trust).returncode


def theirs(folder, bundle):
    return run(sys.executable, judge.__file__, "certificate", written(folder, bundle)).returncode


def make_ledger(folder):
    with open(os.path.join(folder, "passphrase"), "w") as f:
        f.write("a passphrase for tests\n")
    said = told(folder, "found", "--origin", ORIGIN, "--name", "Harrow & Vane Preparation",
                "--label", "ottoline", "--holder", "P001", "--json")
    claim("a ledger is founded", said.returncode == 0, said.stderr)
    fingerprint = json.loads(said.stdout)["fingerprint"]
    with open(os.path.join(folder, "trust"), "w") as f:
        f.write(f"ledger {ORIGIN} {fingerprint}\n")
    with open(os.path.join(folder, "entries.json"), "w", encoding="utf-8") as f:
        json.dump([{"kind": k, "subject": s, "fields": v} for k, s, v in ENTRIES], f)
    said = told(folder, "record", "--from", os.path.join(folder, "entries.json"))
    claim("entries are recorded", said.returncode == 0, said.stderr)


def issue(folder, audience):
    out = os.path.join(folder, audience)
    said = told(folder, "sheet", "26-0001", "--to", "bearer", "--audience", audience, "--out", out,
                "--unmarked")
    claim(f"a sheet for {audience}", said.returncode == 0, said.stderr)
    path = os.path.join(out, "26-0001.certificate.json")
    with open(path, encoding="utf-8") as f:
        return path, json.load(f)


def judge_by_python(folder, audience, path, bundle):
    said = run(sys.executable, judge.__file__, "certificate", path)
    claim(f"judge.py agrees, {audience}", said.returncode == 0, said.stdout)
    claim(f"and for that audience, {audience}",
          said.stdout.split()[-1:] == [audience], said.stdout)
    claim(f"our verify agrees, {audience}", ours(folder, bundle) == 0)


def mutants(bundle):
    """(what, changed file): each must be refused by both."""
    last = bundle["entries"][-1]["sd_jwt"]
    shown = next(i for i, e in enumerate(bundle["entries"]) if e["sd_jwt"].count("~") > 1)
    for what, change in {
        "an entry left out": lambda b: b["entries"].pop(2),
        "a disclosure left out": lambda b: b["entries"][shown].update(
            sd_jwt="~".join(b["entries"][shown]["sd_jwt"].split("~")[:1] + [""])),
        "a disclosure more": lambda b: b["entries"][shown].update(
            sd_jwt=b["entries"][shown]["sd_jwt"] + base64.urlsafe_b64encode(
                b'["AAAAAAAAAAAAAAAAAAAAAA","price","1"]').decode().rstrip("=") + "~"),
        "a signature changed": lambda b: b["entries"][-1].update(
            sd_jwt=last.replace(".", ".A", 2).replace(".A", ".", 1)),
        "another proof": lambda b: b["entries"][1].update(proof=b["entries"][2]["proof"]),
        "another size": lambda b: b.update(checkpoint=b["checkpoint"].replace("\n", "\n1", 1)),
        "another origin": lambda b: b.update(origin="other.example"),
        "an attachment swapped": lambda b: b.update(files={"0" * 64: "AAEC"}),
    }.items():
        changed = copy.deepcopy(bundle)
        change(changed)
        yield what, changed


def judge_by_openssl(folder, bundle):
    keys = {}
    for item in bundle["entries"]:
        entry = judge.Entry(item["sd_jwt"])
        if entry.open("jwk"):
            keys[judge.thumbprint(entry.open("jwk")["x"])] = judge.from_url(entry.open("jwk")["x"])
    entry = judge.Entry(bundle["entries"][-1]["sd_jwt"])
    for name, data in (("key.der", bytes.fromhex("302a300506032b6570032100") + keys[entry.kid]),
                       ("signed", entry.signed), ("signature", entry.signature)):
        with open(os.path.join(folder, name), "wb") as f:
            f.write(data)
    said = run("openssl", "pkeyutl", "-verify", "-pubin", "-inkey", "key.der", "-keyform", "DER",
               "-rawin", "-in", "signed", "-sigfile", "signature", cwd=folder)
    claim("openssl agrees on the certificate's signature", said.returncode == 0, said.stdout)


def judge_by_go(folder, bundle):
    """Every inclusion proof of the file, under its checkpoint."""
    founding = judge.Entry(bundle["entries"][0]["sd_jwt"])
    origin, size, root = judge.read_checkpoint(bundle["checkpoint"], founding.open("checkpointKey"))
    note = base64.b64encode(bundle["checkpoint"].encode()).decode()
    lines = [f"vkey {founding.open('checkpointKey')}", f"note {note}"]
    leaves = {e["index"]: e["sd_jwt"].split("~")[0].encode() for e in bundle["entries"]}
    for index in range(size):  # entries that are not in the file stand as anything
        lines.append("entry " + base64.b64encode(leaves.get(index, b"not here")).decode())
    for e in bundle["entries"]:
        lines.append(" ".join(["record", str(e["index"]), str(size),
                               base64.b64encode(root).decode(), *e["proof"]]))
    with open(os.path.join(folder, "log"), "w") as f:
        f.write("\n".join(lines) + "\n")
    go = run("go", "run", os.path.join(SUPPORT, "judge_log.go"), os.path.join(folder, "log"),
             env={**os.environ, "GO111MODULE": "off", "GOPATH": "/usr/share/gocode", "GOFLAGS": "",
                  "GOCACHE": os.path.join(folder, "gocache")})
    claim("Go's x/mod agrees on checkpoint and proofs",
          go.stdout == f"1 notes, 0 forged, {size} entries, {len(leaves)} records, 0 grown\n",
          go.stdout + go.stderr)
    claim("of our origin", origin == ORIGIN)


def main():
    with tempfile.TemporaryDirectory() as folder:
        make_ledger(folder)
        for audience in AUDIENCES:
            path, bundle = issue(folder, audience)
            judge_by_python(folder, audience, path, bundle)
            if audience == "buyer":
                judge_by_openssl(folder, bundle)
                judge_by_go(folder, bundle)
                for what, changed in mutants(bundle):
                    claim(f"judge.py refuses {what}", theirs(folder, changed) == 1)
                    claim(f"our verify refuses {what}", ours(folder, changed) in (1, 2))
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
