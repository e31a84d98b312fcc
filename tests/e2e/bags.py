#!/usr/bin/python3
"""The bags of the Library of Congress's conformance suite (RFC 8493 names it; CC0), through
`markerbed verify`. The suite is not part of the project: where ../shared/data does not hold it,
this test is skipped and says so; its bags of version 1.0 are in tests/unit/issue/test_bag_check.c.

A bag that holds and has no certificate of ours in it is "could not be checked" (3), one that does
not hold is 1, what is no bag at all is 2."""

import pathlib
import sys
import tarfile
import tempfile

from _lab import TOP, Claims, Lab

SUITE = TOP / "../shared/data/bagit-conformance.tar.gz"
# Bags that only a system can have whole where names are the same in capitals or in another Unicode
# form, or where a hidden file was not lost on the way: here a file of theirs is missing.
INCOMPLETE_HERE = {"duplicate-file-with-different-case", "special-system-files",
                   "same-filename-listed-twice-with-different-normalization"}
ODD = {"made-with-md5sum-tools", "relative-path", "same-filename-listed-twice-with-the-same-hash",
       "bag-with-leading-dot-slash-in-manifest"}


def due(case):
    if case.name == "missing-bagit.txt":
        return 2
    if case.parent.name == "valid":
        return 3
    if case.parent.name == "warning":
        return 1 if case.name in INCOMPLETE_HERE else 3
    return 1


def main():
    claims = Claims()
    if not SUITE.exists():
        print(f"skipped: {SUITE.name} is not here")
        return 77
    with tempfile.TemporaryDirectory() as folder, Lab("bags.example") as lab:
        with tarfile.open(SUITE) as suite:
            for member in suite:  # no filter="data": Debian 12's Python has none yet
                if (member.isfile() or member.isdir()) and ".." not in member.name.split("/"):
                    suite.extract(member, folder)
        cases = [case for case in sorted(pathlib.Path(folder).glob("v*/*/*")) if case.is_dir()]
        claims("all the bags of the suite", len(cases) == 46, len(cases))
        for case in cases:
            name = f"{case.parts[-3]} {case.parts[-2]} {case.name}"
            done = lab.run("verify", case)
            claims(f"{name}: exit {due(case)}", done.returncode == due(case),
                   (done.returncode, done.stdout, done.stderr))
            if case.name in ODD:
                claims(f"{name}: said to be odd",
                       "bag-odd" in done.stdout or "bag-broken" in done.stdout, done.stdout)
            if done.returncode == 1:
                claims(f"{name}: a file is named", "bag-broken: " in done.stdout, done.stdout)
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
