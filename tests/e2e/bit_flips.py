#!/usr/bin/python3
"""Each single bit of a small ledger's log, tree, disclosures and checkpoints, flipped, is noticed,
and the finding names the place.

The database is changed from outside, through Python's sqlite3 with its triggers taken away and put
back, and `markerbed verify` must find a fault each time. A flip may leave the alphabet of
base64url, or make a text that is no UTF-8: also a fault.

Inside `make check` a part of the bits is flipped: a sample with a fixed seed, spread evenly over
the columns; every bit of one leaf hash and of one node of the tree; one bit of every character of
one entry, of one entry's disclosures and of one checkpoint. With FULL=1 in the environment every
bit of all of them is flipped, on all cores (half an hour or more), and ONLY=node picks a table."""

import concurrent.futures
import os
import random
import re
import shutil
import sqlite3
import sys
import threading

from _lab import Claims, Lab

SAMPLE = 250
COLUMNS = [("log", "seq", "leaf"), ("log", "seq", "jws"), ("node", "at", "hash"),
           ("disclosures", "seq", "tail"), ("checkpoint", "size", "note")]
TEXTS = {"jws", "tail", "note"}


def fill(lab):
    """Thirteen entries of nine kinds."""
    lab.record("party", "party/P001", partyType="person", name="Ottoline Harrow", namedTo="buyers",
               neutralLabel="the lab's owner")
    lab.record("site", "site/S001", siteName="Sallow Draw", countryCode="US",
               stateProvince="Kansas", county="Gove", decimalLatitude="not known",
               decimalLongitude="not known", coordinateUncertaintyInMeters="not known",
               placeHeldBackBy="us")
    lab.record("collecting", "specimen/24-0001", recordNumber="T-1", site="site/S001",
               eventDate="2024-05-02", verbatimIdentification="crinoid", objectForm="lot",
               objectQuantity="4", quantityHow="counted", materialClass="invertebrate",
               horizon="not known", inPlace="in place", permission="not needed",
               purpose="not known", tools="not known")
    lab.record("preparation", "specimen/24-0001", preparationDate="2024-06-01",
               steps="method:airscribe", lostInWork="none")
    lab.record("correction", "specimen/24-0001", target="#5", action="change fields",
               why="typing", changesFacts="no", preparationDate="2024-06-02")
    lab.record("division", "specimen/24-0001", purpose="drawn from lot", remains="yes, smaller",
               into="specimen:specimen/24-0002; form:single; quantity:1; what:the best",
               remainder="3", consumed="0", sameIndividual="not known", date="2024-06-03")
    lab.do("sheet", "24-0002", "--to", "bearer", "--unmarked", "--out", lab.path("out"))
    lab.do("key", "checkpoint", "--why", "rotation")
    lab.record("note", "site/S001", text="the end")
    lab.record("note", "specimen/24-0002", text="and after it")


class Copy:
    """A copy of the ledger that is written to without asking."""

    def __init__(self, lab, folder):
        self.lab, self.folder = lab, folder
        shutil.copytree(lab.ledger, folder)
        self.db = sqlite3.connect(os.path.join(folder, "ledger.db"), isolation_level=None,
                                  check_same_thread=False)
        self.db.text_factory = bytes
        self.db.execute("PRAGMA journal_mode=DELETE")
        self.db.execute("PRAGMA synchronous=OFF")

    def put(self, table, key, column, row, value):
        """The triggers, which allow no change, are gone for as long as this takes."""
        self.db.execute("BEGIN")
        triggers = self.db.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'") \
            .fetchall()
        for name, _ in triggers:
            self.db.execute(f'DROP TRIGGER "{name.decode()}"')
        kind = "TEXT" if column in TEXTS else "BLOB"
        done = self.db.execute(f"UPDATE {table} SET {column} = CAST(? AS {kind}) WHERE {key} = ?",
                               (value, row))
        for _, sql in triggers:
            self.db.execute(sql.decode())
        self.db.execute("COMMIT")
        assert done.rowcount == 1

    def verify(self):
        return self.lab.run("verify", self.folder, "--no-views", "--json")


def all_bits(db, full_only=None):
    """(table, key, column, row, value, bit) of every bit there is."""
    for table, key, column in COLUMNS:
        for row, value in db.execute(f"SELECT {key}, {column} FROM {table}").fetchall():
            for bit in range(8 * len(value)):
                if not full_only or full_only == table:
                    yield table, key, column, row, value, bit


def chosen(bits):
    rng = random.Random(4)
    out = {}
    for table, _, column in COLUMNS:
        mine = [b for b in bits if (b[0], b[2]) == (table, column)]
        shortest = min((len(b[4]), b[3]) for b in mine)[1]
        picked = rng.sample(mine, min(len(mine), SAMPLE // len(COLUMNS)))
        one = [b for b in mine if b[3] == shortest]
        if column in TEXTS:
            letter = {at: rng.randrange(8) for at in range(len(one[0][4]))}
            one = [b for b in one if b[5] % 8 == letter[b[5] // 8]]
        out.update({(table, column, b[3], b[5]): b for b in picked + one})
    return list(out.values())


def spans():
    """Which entries a stored node of the tree is over: nodes are kept as they become complete."""
    out = []
    for count in range(1, 1025):
        width = 2
        while count % width == 0:
            out.append((count - width, count - 1))
            width *= 2
    return out


SPANS = spans()


def place(table, row):
    """What a sentence says that names the place."""
    if table == "node":
        return r"entries %d to %d\b" % SPANS[row]
    if table == "checkpoint":
        return rf"(checkpoint at|The first) {row} entr"
    return rf"[Ee]ntry {row}\b"


def flip(value, bit):
    changed = bytearray(value)
    changed[bit // 8] ^= 1 << (bit % 8)
    return bytes(changed)


def try_bit(copy, target):
    """None where it is noticed, or what was answered."""
    table, key, column, row, value, bit = target
    copy.put(table, key, column, row, flip(value, bit))
    done = copy.verify()
    copy.put(table, key, column, row, value)
    if done.returncode == 1 and re.search(
            r'"severity": "fault"', done.stdout) and re.search(place(table, row), done.stdout):
        return None
    return f"exit {done.returncode} {done.stderr[:200]} " \
        + " ".join(re.findall(r'"text": "[^"]*"', done.stdout))


def flip_all(claims, lab, targets, workers):
    local, made = threading.local(), []

    def one(target):
        if not hasattr(local, "copy"):
            local.copy = Copy(lab, lab.path(f"copy-{threading.get_ident()}"))
            made.append(local.copy)
        return target, try_bit(local.copy, target)

    with concurrent.futures.ThreadPoolExecutor(workers) as pool:
        for n, (target, answer) in enumerate(pool.map(one, targets), 1):
            table, _, column, row, _, bit = target
            claims(f"{table}.{column} of {row}, bit {bit} is noticed", answer is None, answer)
            if n % 5000 == 0:
                print(f"{n} of {len(targets)} bits", flush=True)
    return made


def check_index(claims, lab, copy):
    """The index of subjects is no part of the log, and must agree with it all the same."""
    for column, value in (("kind", b"note"), ("iat", 5), ("seq", 4)):
        old = copy.db.execute(f"SELECT {column} FROM line WHERE sub = 'site/S001' AND nth = 0") \
            .fetchone()[0]
        change = f"UPDATE line SET {column} = ? WHERE sub = 'site/S001' AND nth = 0"
        copy.db.execute(change, (value.decode() if isinstance(value, bytes) else value,))
        claims(f"a changed {column} in the index is noticed", copy.verify().returncode == 1)
        copy.db.execute(change, (old.decode() if isinstance(old, bytes) else old,))


def main():
    claims = Claims()
    full = os.environ.get("FULL") == "1"
    with Lab("bits.example") as lab:
        fill(lab)
        before = lab.run("verify", lab.ledger, "--no-views")
        claims("untouched, only the ledger is unknown", before.returncode == 3, before.stdout)
        reading = Copy(lab, lab.path("reading"))
        bits = list(all_bits(reading.db, os.environ.get("ONLY") if full else None))
        targets = bits if full else chosen(bits)
        print(f"{len(targets)} of {len(bits)} bits, {lab.entries()} entries", flush=True)
        for copy in flip_all(claims, lab, targets, os.cpu_count() if full else 1):
            after = copy.verify()
            claims("with every bit put back all holds again", after.returncode == 3, after.stdout)
        check_index(claims, lab, reading)
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
