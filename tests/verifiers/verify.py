#!/usr/bin/env python3
"""Checks certificates; written from docs/format.md alone, whose sections it names (s.). strict.py
brings what the open standards say, entry.py section 2, statement.py section 7.

    verify.py [--trust FILE] [--table statement.json] FILE...

One line `name: text` for each finding, then the verdict. Exit: 0 holds, 1 does not hold, 2 no
certificate, 3 could not be checked to the end.
"""
import argparse
import base64
import pathlib
import sys
from entry import Entry, anywhere, thumbprint
from statement import NOT_CORRECTED, Story, compare
from strict import (Bad, Note, b64, consistent, good_key, included, need, read_json, read_vkey,
                    sha256, signed, unb64)

AUDIENCES = {"public": {"open"}, "buyer": {"sale"}, "auditor": {"sale", "land"},
             "institution": {"sale", "science", "land"}}
ENROLLING = ("key-enrolment", "key-retirement", "checkpoint-key")
KINDS = NOT_CORRECTED | set("""arrival claim collecting condition correction custody dealing document
field-day horizon identification land-status loss making measurement note numbering party permission
permission-change permission-report placement preparation relation site title""".split())
REMARKS = {"unknown-kind", "file-not-here", "unwitnessed", "withdrawn"}
UNSURE = {"unknown-version", "unknown-derivation", "unknown-change", "unknown-ledger"}


class Keys:
    """s. 4: who may sign what, entry by entry."""

    def __init__(self, say):
        self.say, self.people, self.checkpoint = say, {}, []

    def may_enrol(self, key):
        return key["may"] is None or "enrol" in key["may"]

    def fresh(self, raw):
        need(good_key(raw), "the key is no good point", "key-refused")
        used = [key["raw"] for key in self.people.values()] + [key[2] for key in self.checkpoint]
        need(raw not in used, "the key serves already", "key-doubled")

    def enrol(self, entry, may):
        thumb = thumbprint(entry.open("jwk"))
        raw = unb64(entry.open("jwk")["x"])
        self.fresh(raw)
        need(may is None or entry.sub == "key/" + thumb, "the key has another name", "key-refused")
        self.people[thumb] = {"raw": raw, "may": may, "by": entry.kid, "since": entry.index,
                              "until": None, "doubt": None}

    def add_checkpoint_key(self, entry):
        key_id, raw = read_vkey(entry.open("checkpointKey"), entry.iss)
        self.fresh(raw)
        self.checkpoint.append((entry.index, key_id, raw, entry.open("why")))

    def take(self, entry):
        """True if the entry is well signed; what it says of keys is put in force if it may."""
        if (entry.index == 0) != (entry.kind == "founding"):
            raise Bad("second-founding" if entry.index else "bad-founding", "founding is entry 0")
        if entry.index == 0:
            need(entry.sub == "ledger" and entry.open("origin") == entry.iss
                 and isinstance(entry.open("name"), str), "sub, origin or name", "bad-founding")
            self.enrol(entry, None)
            self.add_checkpoint_key(entry)
        signer = self.people.get(entry.kid)
        need(signer, "signed by a key that nobody enrolled before it", "key-unknown")
        need(signed(signer["raw"], entry.signature, entry.jws.rpartition(".")[0].encode()),
             "the signature does not fit", "broken-signature")
        if signer["until"] is not None:
            self.say("key-retired", "entry %d: its key was retired before" % entry.index)
        elif entry.kind in ENROLLING:
            self.change(entry, signer)
        elif signer["may"] is not None and entry.kind not in signer["may"]:
            self.say("key-without-right", "entry %d: %s" % (entry.index, entry.kind))

    def change(self, entry, signer):
        own = entry.kind == "key-retirement" and entry.sub == "key/" + entry.kid
        need(own or self.may_enrol(signer), "its signer may not enrol", "enrol-right")
        if entry.kind == "key-enrolment":
            may = entry.open("may")
            need(isinstance(may, list) and all(isinstance(m, str) for m in may)
                 and isinstance(entry.open("holder", {}).get("ref"), str), "may or holder")
            self.enrol(entry, may)
        elif entry.kind == "checkpoint-key":
            need(entry.sub == "ledger", "on ledger")
            self.add_checkpoint_key(entry)
        else:
            key = self.people.get(entry.sub[4:])
            need(key and key["until"] is None, "no key in force is retired", "enrol-right")
            left = [k for k in self.people.values() if k["until"] is None and self.may_enrol(k)]
            need(left != [key], "it is the last that may enrol", "last-enroller")
            key.update(until=entry.index, doubt=entry.open("suspectFrom"))

    def suspects(self, entries):
        """K6: entries in doubt, and so those of keys that were enrolled in doubt."""
        for thumb, key in self.people.items():  # a key stands behind the one that enrolled it
            by = self.people.get(key["by"], {}).get("doubt")
            if by is not None and key["since"] >= by and key["by"] != thumb:
                key["doubt"] = 0
        for entry in entries:
            key = self.people.get(entry.kid, {"doubt": None})
            if key["doubt"] is not None and entry.index >= key["doubt"] != entry.index + 1 \
                    and key["until"] != entry.index:
                self.say("key-suspect", "entry %d" % entry.index)
