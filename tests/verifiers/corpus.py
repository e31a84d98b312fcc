#!/usr/bin/env python3
"""Certificates good, forged and odd, each with the verdict and the findings that it deserves.

    corpus.py DIR     writes DIR/<case>.json (or <case>.1.json, .2.json), .trust, and cases.json

Deterministic: fixed test keys, salts and times. Why each deserves its verdict is docs/format.md;
edge cases of Ed25519 are of the kinds that C2SP CCTV and "Taming the many EdDSAs" collect.
"""
import copy
import json
import pathlib
import sys
from corpus_entries import entry_cases
from corpus_files import file_cases
from corpus_foreign import foreign_cases
from corpus_keys import key_cases
from corpus_statement import statement_cases
from scenario import issue, story


def as_bytes(file):
    return file if isinstance(file, bytes) else json.dumps(file, ensure_ascii=False).encode()


class Corpus:
    def __init__(self):
        self.cases, self.base_ledger = [], story()
        self.trust = self.base_ledger.trust()
        self.base_file = issue()

    def base(self):
        return copy.deepcopy(self.base_file)

    def add(self, name, verdict, findings, *files, trust=None):
        """verdict: 0 holds, 1 does not hold, 2 no certificate, 3 could not be checked. `findings`
        are all that must be said; more may be. Behind a "!": what must not."""
        assert name not in [case["name"] for case in self.cases], name
        must, _, must_not = findings.partition("!")
        self.cases.append({"name": name, "exit": verdict, "findings": must.split(),
                           "not": must_not.split(),
                           "trust": self.trust if trust is None else trust,
                           "files": [as_bytes(file) for file in files]})

    def changed(self, name, verdict, findings, change):
        """The good file with a change made to it."""
        file = self.base()
        result = change(file)
        self.add(name, verdict, findings, file if result is None else result)


def make():
    corpus = Corpus()
    for cases in file_cases, entry_cases, key_cases, statement_cases, foreign_cases:
        cases(corpus)
    return corpus.cases


def write(folder):
    """Writes all of it; the cases, with paths in place of contents."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for case in make():
        names = [case["name"] + (".%d" % n if len(case["files"]) > 1 else "") + ".json"
                 for n in range(1, len(case["files"]) + 1)]
        for name, data in zip(names, case["files"]):
            (folder / name).write_bytes(data)
        trust = folder / (case["name"] + ".trust")
        trust.write_text(case["trust"])
        written.append({**case, "files": [str(folder / name) for name in names],
                        "trust": str(trust)})
    (folder / "cases.json").write_text(json.dumps(written, indent=1))
    return written


if __name__ == "__main__":
    print("%d cases" % len(write(pathlib.Path(sys.argv[1]))))
