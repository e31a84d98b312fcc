#!/usr/bin/python3
"""Every case of the corpus, its entries judged by jose (Debian's node-jose) and Node's SHA-256:
signatures, thumbprints, disclosures. It must take what holds and refuse what is broken there, but
for the differences that are named here."""
import json
import os
import pathlib
import subprocess
import sys

TOP = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(TOP / "tests/verifiers"))
import corpus  # noqa: E402

FOLDER = pathlib.Path(os.environ.get("BUILD", TOP / "build")) / "corpus-entries"
OF_ENTRIES = {"broken-signature", "stray-disclosure"}

# Where jose 4.11 says something else than the format, and why.
DIFFERENCES = {
    "entry-alg-ed25519": "it does not know the name of RFC 9864, only RFC 8037's EdDSA",
    "key-signature-r-is-the-identity": "its library lets such a signature pass (docs/format.md K8)",
}


def judged(paths):
    done = subprocess.run(
        ["node", str(TOP / "tests/support/judge_entries.js"), *paths], text=True, check=True,
        capture_output=True, env={**os.environ, "NODE_PATH": "/usr/share/nodejs"})
    return [json.loads(line) for line in done.stdout.splitlines()]


def main():
    cases = [case for case in corpus.write(FOLDER) if len(case["files"]) == 1]
    good = failed = broken = entries = 0
    for case, found in zip(cases, judged([case["files"][0] for case in cases])):
        wrong = set(found["wrong"])
        entries += found["entries"]
        asked = OF_ENTRIES & set(case["findings"])
        if case["exit"] == 0:
            good += 1
            said = bool(wrong) != (case["name"] in DIFFERENCES)
        elif asked:
            broken += 1
            said = not wrong != (case["name"] in DIFFERENCES)
        else:
            continue
        if said:
            failed += 1
            print("not so: %s (%s): jose says %s" % (case["name"], " ".join(asked) or "good",
                                                     " ".join(sorted(wrong)) or "all is well"))
    for name, why in DIFFERENCES.items():
        print("known: %s: %s" % (name, why))
    print("%d cases that hold, %d broken in an entry, %d entries" % (good, broken, entries))
    print("%d passed, %d failed" % (good + broken - failed, failed))
    return failed > 0 or not good or not broken


if __name__ == "__main__":
    sys.exit(main())
