#!/usr/bin/env python3
"""Checks certificates; written from docs/format.md alone, whose sections it names (s.). strict.py
brings what the open standards say, entry.py section 2, keys.py 3 and 4, statement.py 5 and 7.

    verify.py [--trust FILE] [--table statement.json] FILE...

One line `name: text` for each finding, then the verdict. Exit: 0 holds, 1 does not hold, 2 no
certificate, 3 could not be checked to the end.
"""
import argparse
import base64
import pathlib
import re
import sys
from entry import Entry, anywhere
from countersign import countersigned
from keys import Keys
from statement import NOT_CORRECTED, Story, compare
from strict import Bad, Note, b64, consistent, included, need, read_json, sha256, unb64

AUDIENCES = {"public": (), "buyer": ("sale",), "auditor": ("sale", "land"),
             "institution": ("sale", "science", "land")}
KINDS = NOT_CORRECTED | set("""arrival claim collecting condition correction custody dealing
document field-day horizon identification land-status loss making measurement note numbering party
permission permission-change permission-report placement preparation relation site
title""".split())
REMARKS = {"unknown-kind", "file-not-here", "unwitnessed", "withdrawn", "countersign-unknown"}
UNSURE = {"unknown-version", "unknown-derivation", "unknown-change", "unknown-ledger",
          "foreign-missing"}
TABLE = pathlib.Path(__file__).resolve().parents[2] / "schema/statement.json"


def summary(hashes):
    return b64(sha256("\n".join(sorted(hashes)).encode()))


def fingerprint(leaf):
    return base64.b32encode(unb64(leaf)).decode().rstrip("=").lower()


class Check:
    """What is asked of all files together: the trust file, the table, and the findings."""

    def __init__(self, trust=None, table=None):
        self.findings, self.seen, self.certificates, self.withdrawn = [], {}, set(), set()
        self.signed_by, self.known_keys = [], []
        raw = pathlib.Path(table or TABLE).read_bytes()
        self.table, self.derivation = read_json(raw)["lines"], b64(sha256(raw))
        lines = pathlib.Path(trust).read_text().split("\n") if trust else []
        self.trust = [line.split()[1:] for line in lines if line.split()[:1] == ["ledger"]]
        self.trusted_keys = {line.split()[1] for line in lines if line.split()[:1] == ["key"]}

    def say(self, name, text):
        self.findings.append((name, text))

    def attempt(self, call, *args, where=""):
        """True, or False and a finding."""
        try:
            call(*args)
            return True
        except Bad as bad:
            self.say(bad.args[0], where + bad.args[1])
        except (AttributeError, KeyError, TypeError, ValueError):
            self.say("malformed", where + "a value of another type than the format gives")
        return False

    def see(self, place, what):
        """Two stories of one ledger: two entries at one place, or two roots of one size."""
        if self.seen.setdefault(place, what) != what:
            self.say("forked", "two stories of %s" % (place,))

    def verdict(self):
        names = {name for name, _ in self.findings} - REMARKS
        return (0, "holds") if not names else (3, "could not be checked") if names <= UNSURE else \
            (1, "does not hold")


class Certificate:
    """s. 6. `inner`: it stands in another's `foreign`, which may show less of it."""

    def __init__(self, data, check, inner=False):
        need(isinstance(data, dict) and data.get("format") == "markerbed-certificate/1"
             and {"format", "origin", "checkpoint", "entries"} <= set(data)
             and set(data) <= {"format", "origin", "checkpoint", "entries", "files", "anchors",
                               "foreign"} and isinstance(data["entries"], list)
             and re.fullmatch("[!-*,-~]{1,255}", data["origin"]), "the members of the file")
        self.data, self.check, self.inner, self.origin = data, check, inner, data["origin"]
        self.entries, self.inside, before = [], [], len(check.findings)
        for place, item in enumerate(data["entries"]):
            check.attempt(lambda: self.entries.append(Entry(item, self.origin)),
                          where="entry at place %d: " % place)
        need(self.entries, "there is no entry")
        rising = all(a.index < b.index for a, b in zip(self.entries, self.entries[1:]))
        need(rising, "the entries do not rise")
        if len(check.findings) > before:
            return  # what could not be read cannot be checked further
        self.keys, self.end = Keys(check.say), self.entries[-1].index + 1
        self.fingerprint = fingerprint(self.entries[0].leaf)
        self.by_leaf, self.chains = {e.leaf: e for e in self.entries}, {}
        for entry in self.entries:
            self.chains.setdefault(entry.sub, []).append(entry)
            signed_well = check.attempt(self.keys.take, entry, where="entry %d: " % entry.index)
            self.look(entry, signed_well)
        self.keys.suspects(self.entries)
        for step in self.tree, self.links, self.certified, self.countersigned:
            check.attempt(step)
        if self.group:
            for step in (self.foreign, self.sums, self.needs, self.audience, self.files, self.salts,
                         self.statements, self.anchors):
                check.attempt(step)
        check.attempt(self.known)

    def look(self, entry, signed_well):
        if entry.kind not in KINDS:
            self.check.say("unknown-kind", entry.kind)
            if entry.open("changes") is True:
                self.check.say("unknown-change", entry.kind)
        if entry.kind == "withdrawal" and signed_well:
            self.check.withdrawn.add((self.fingerprint, entry.open("which", {}).get("entry")))
        for place in (str(entry.index), entry.sub + " %d" % entry.nth) if signed_well else ():
            self.check.see((self.origin, self.fingerprint, place), entry.leaf)

    def tree(self):
        self.note = Note(self.data.get("checkpoint"))
        if self.check.attempt(self.keys.check, self.note, self.origin):
            self.check.see((self.origin, self.fingerprint, self.note.size), b64(self.note.root))
        need(self.note.size == self.end, "size %d" % self.note.size, "size-differs")
        for entry in self.entries:
            self.check.attempt(included, unb64(entry.leaf), entry.index, self.end, entry.proof,
                               self.note.root, where="entry %d: " % entry.index)

    def links(self):
        for a, b in zip(self.entries, self.entries[1:]):
            if b.iat < a.iat:
                self.check.say("clock-backwards", "entry %d" % b.index)
            if b.index == a.index + 1 and b.prev != a.leaf:
                self.check.say("broken-link", "prev of entry %d" % b.index)
        for sub, chain in self.chains.items():
            for nth, entry in enumerate(chain):
                need(entry.nth == nth, "%s, before entry %d" % (sub, entry.index), "hole-in-chain")
                if nth and entry.prior != chain[nth - 1].leaf:
                    self.check.say("broken-link", "prior of entry %d" % entry.index)

    def certified(self):
        """The certificate entries at the end, one for each specimen."""
        self.group, last = [], self.entries[-1]
        for entry in self.entries[::-1]:
            like = all(entry.open(n) == last.open(n) for n in ("held", "shown", "audience"))
            if (entry.kind != "certificate" or not entry.sub.startswith("specimen/") or not like
                    or entry.index != self.end - 1 - len(self.group)
                    or entry.sub in [other.sub for other in self.group]):
                break
            self.group.insert(0, entry)
        need(self.group, "the last entry is no certificate", "no-certificate")
        for entry in self.group:
            self.check.certificates.add((self.fingerprint, entry.leaf))
            need(entry.open("audience") in AUDIENCES and isinstance(entry.open("withheld"), list)
                 and all(isinstance(entry.open(n), str) for n in ("held", "shown", "derivation")),
                 "an open field of the certificate entry")

    def disclosures(self):
        return [d for e in self.entries for d in e.digests] + [
            d for other in self.inside for d in other.disclosures()]

    def sums(self):
        held = [e.leaf for e in self.entries if e not in self.group]
        need(self.group[0].open("held") == summary(held), "entries are missing", "left-out")
        need(self.inner or self.group[0].open("shown") == summary(self.disclosures()),
             "disclosures are missing", "cut-down")

    def needs(self):
        """Rules 2 to 4 of s. 6.2, from the specimens on."""
        waiting, done = [entry.sub for entry in self.group] + ["ledger"], set()
        while waiting:
            sub = waiting.pop()
            if sub not in done and sub not in self.chains:
                self.check.say("subject-missing", str(sub))
            for entry in self.chains.get(sub, ()) if sub not in done else ():
                waiting += self.asks_for(entry)
            done.add(sub)

    def asks_for(self, entry):
        word, shown = entry.sub.split("/")[0], {n: value for n, (_, value) in entry.fields.items()}
        names = ("surfaceOwner", "fossilOwner", "landManager", "grantor")
        if word in ("site", "permission"):
            return list(anywhere([shown.get(name) for name in names], "ref"))
        if word != "specimen":
            return []
        asked = [ref for ref in anywhere(list(shown.values()), "ref")
                 if not str(ref).startswith(("specimen/", "key/")) and ref != "ledger"]
        if entry.kind == "division" and entry.nth == 0 and "parent" in shown:
            parent = shown["parent"].get("ref")
            division = self.by_leaf.get(entry.open("outOf", {}).get("entry"))
            found = division and division.sub == parent and division.kind == "division"
            need(found, "the division of %s" % parent, "subject-missing")
            asked.append(parent)
        if entry.kind == "joining":
            asked += anywhere(shown.get("parts"), "ref")
        return asked

    def audience(self):
        excused = {}
        for entry in self.entries:
            if entry in self.group:
                excused.setdefault("", set()).update(anywhere(entry.open("withheld"), "digest"))
            if entry.kind == "erasure":
                excused.setdefault(entry.sub, set()).update(entry.open("digests", []))
        classes = () if self.inner else AUDIENCES[self.group[0].open("audience")]
        for entry in self.entries:
            for digest, cls in entry.hidden.items():
                asked = cls in classes or cls == "own" and entry in self.group and not self.inner
                if asked and digest not in excused.get("", set()) | excused.get(entry.sub, set()):
                    self.check.say("withheld-from-audience", "entry %d, %s" % (entry.index, cls))

    def files(self):
        files = self.data.get("files", {})
        named = {f for e in self.entries for _, v in e.fields.values() for f in anywhere(v, "file")
                 if isinstance(f, str)}  # a column may be called file, and hold one
        need(isinstance(files, dict), "files is no object")
        for name, content in files.items():
            need(re.fullmatch("[0-9a-f]{64}", name), "a file is named by its SHA-256")
            if sha256(unb64(content, False)).hex() != name:
                self.check.say("file-changed", name)
            if name not in named:
                self.check.say("file-unasked", name)
        for name in named - files.keys():
            self.check.say("file-not-here", str(name))

    def salts(self):
        salts = [salt for entry in self.entries for salt in entry.salts]
        need(len(salts) == len(set(salts)), "two disclosures have one salt", "repeated-salt")

    def statements(self):
        for entry in self.group if not self.inner else ():
            need(entry.open("derivation") == self.check.derivation,
                 "another table made the statement", "unknown-derivation")
            value = entry.fields.get("statement", ("own", {"lines": []}))[1]
            need(isinstance(value, dict) and set(value) == {"lines"}
                 and isinstance(value["lines"], list), "a statement is {lines:[...]}")
            worked_out = Story(self.entries, entry.index).lines(self.check.table, entry.sub)
            for finding in compare(value["lines"], worked_out, self.check.table):
                self.check.say(*finding)

    def anchors(self):
        for anchor in self.data.get("anchors", []):
            need(isinstance(anchor, dict) and set(anchor) == {"checkpoint", "consistency"},
                 "an anchor has checkpoint and consistency")
            note = Note(anchor["checkpoint"])
            if self.keys.check(note, self.origin, self.end):
                consistent(*sorted((note, self.note), key=lambda n: n.size), anchor["consistency"])

    def countersigned(self):
        for entry in self.entries:
            if entry.kind == "countersign":
                self.check.attempt(self.take_countersign, entry)

    def take_countersign(self, entry):
        signed = countersigned(entry)
        if signed:
            over = self.by_leaf.get(signed["over"])
            need(over and over.sub == entry.sub and over.index < entry.index,
                 "entry %d is over no entry before it" % entry.index, "countersign-broken")
            self.check.signed_by.append((self, signed))

    def evidence(self):
        return [(row.get("origin"), row.get("entry")) for e in self.entries
                if e.kind == "arrival" for row in e.open("foreignEvidence", [])]

    def all_inside(self):
        for other in self.inside:
            yield other
            yield from other.all_inside()

    def foreign(self):
        evidence = self.evidence()
        for data in self.data.get("foreign", []):
            other = Certificate(data, self.check, inner=True)
            self.inside.append(other)
            named = any((other.origin, e.leaf) in evidence for e in other.group)
            need(named, "no arrival names the foreign certificate", "file-unasked")
        everything = [self, *self.all_inside()]
        need(len(everything) <= 17, "more than 16 foreign certificates")
        if self.inner:
            return
        leaves = [other.group[-1].leaf for other in everything if other.group]
        need(len(leaves) == len(set(leaves)), "a certificate stands twice in the file")
        here = {(other.origin, e.leaf) for other in everything[1:] for e in other.group}
        for other in everything:
            for row in other.evidence():
                if row not in here:
                    self.check.say("foreign-missing", "a certificate of %s" % row[0])

    def known(self):
        mine = self.fingerprint
        wanted = [line[1] for line in self.check.trust if line[0] == self.origin]
        self.check.say("unwitnessed", "the ledger's own word, unwitnessed")
        need(self.entries[0].index == 0, "entry 0 is not in the file", "bad-founding")
        need(wanted, "%s: compare the fingerprint %s" % (self.origin, mine), "unknown-ledger")
        need(mine in wanted, "%s has the fingerprint %s" % (self.origin, mine), "other-fingerprint")
        iats = {e.index: e.iat for e in self.entries}
        self.check.known_keys += [
            (kid, self.origin, mine, iats.get(key["until"]))
            for kid, key in self.keys.people.items() if key["doubt"] is None]


def is_known(check, certificate, signed):
    """s. 5: by a key that is trusted, or stands in another ledger that is."""
    if signed["kid"] in certificate.keys.people:
        return False
    return signed["kid"] in check.trusted_keys or any(
        kid == signed["kid"] and mine != certificate.fingerprint
        and (until is None or signed["iat"] <= until)
        and (signed["iss"].startswith("key/") or signed["iss"] == origin)
        for kid, origin, mine, until in check.known_keys)


def check_file(raw, check):
    data = read_json(raw)
    need("format" in data, "not a certificate", "refused")
    version = re.fullmatch("markerbed-certificate/[0-9]+", str(data.get("format")))
    need(not version or version[0][-2:] == "/1", "another version", "unknown-version")
    Certificate(data, check)


def judge(paths, trust=None, table=None):
    """(exit code, verdict, findings) over all files together."""
    check = Check(trust, table)
    for path in paths:
        raw = pathlib.Path(path).read_bytes()
        if len(raw) > 64 << 20 or not raw.lstrip(b" \t\r\n").startswith(b"{"):
            check.say("refused", "%s is no certificate, or larger than 64 MiB" % path)
        else:
            check.attempt(check_file, raw, check, where="%s: " % path)
    for _, leaf in check.certificates & check.withdrawn:
        check.say("withdrawn", leaf)
    for certificate, signed in check.signed_by:
        if not is_known(check, certificate, signed):
            check.say("countersign-unknown", "by the key " + signed["kid"])
    if "refused" in [name for name, _ in check.findings]:
        return 2, "no certificate", check.findings
    return *check.verdict(), check.findings


def main():
    options = argparse.ArgumentParser()
    options.add_argument("--trust")
    options.add_argument("--table")
    options.add_argument("files", nargs="+")
    options = options.parse_args()
    code, verdict, findings = judge(options.files, options.trust, options.table)
    for name, text in findings:
        print("%s: %s" % (name, text))
    print("verdict: " + verdict)
    return code


if __name__ == "__main__":
    sys.exit(main())
