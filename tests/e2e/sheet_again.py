#!/usr/bin/python3
"""sheet --again: the very same certificate out of the ledger, byte for byte.

- after kill -9 between the entry's commit and the file's getting its name (a small library, built
  here and put before libc, ends the process just there);
- for a bag, with photos, with a witness's word that came before it and one that came later;
- for a piece that came with another ledger's certificate;
- not where something that it showed was erased since: that is said, and nothing is written."""
import json
import os
import pathlib
import shutil
import signal
import subprocess
import sys

from _lab import PROGRAM, TOP, Claims, Lab

TEST = os.path.abspath(os.environ.get("MARKERBED_TEST", TOP / "build/debug/markerbed"))
claims = Claims()

KILLER = r"""
#define _GNU_SOURCE
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <unistd.h>
int open(const char *path, int flags, ...)
{
    va_list more;
    int mode;

    va_start(more, flags);
    mode = va_arg(more, int);
    va_end(more);
    if (strcmp(getenv("END_AT"), "open") == 0 && flags & O_CREAT && strstr(path, "/cut-"))
        kill(getpid(), SIGKILL);
    return (int)syscall(SYS_openat, AT_FDCWD, path, flags, mode);
}
int renameat2(int from, const char *old, int to, const char *new, unsigned flags)
{
    if (strcmp(getenv("END_AT"), "name") == 0 && strstr(new, ".certificate.json"))
        kill(getpid(), SIGKILL);
    return (int)syscall(SYS_renameat2, from, old, to, new, flags);
}
"""


class Aged(Lab):
    """A lab whose days the test counts."""

    day = "2031-06-01"

    def run(self, *words, typed=None):
        env = {**self.env, "MARKERBED_CLOCK": f"{self.day}T09:00:00Z"}
        return subprocess.run([TEST, "-L", self.ledger, *map(str, words)], text=True,
                              capture_output=True, env=env, cwd=self.folder, check=False,
                              stdin=subprocess.DEVNULL)


def people(lab):
    lab.record("party", "party/P001", partyType="person", name="Ottoline Harrow", namedTo="anyone")
    lab.record("party", "party/P006", partyType="person", name="Delphine Tessaly", namedTo="buyers",
               address="Ranch road 3")
    lab.record("site", "site/S001", siteName="Sallow Draw", siteType="outcrop", countryCode="US",
               stateProvince="Kansas", county="Gove", decimalLatitude="38.7712",
               decimalLongitude="-100.5134", geodeticDatum="EPSG:4326",
               coordinateSource="GPS receiver", coordinateUncertaintyInMeters="15 m",
               placeHeldBackBy="us", placeFinestAllowed="county")


def find(lab, number, **fields):
    lab.record("collecting", f"specimen/{number}", eventDate="2026-05-30", objectForm="slab",
               objectQuantity="1", materialClass="invertebrate",
               verbatimIdentification="crinoid slab", horizon="not known", inPlace="in place",
               quantityHow="counted", recordNumber=number, permission="not needed",
               site="site/S001", recordedBy="party/P006", **fields)


def same(lab, name, path, which=None):
    """--again writes what is in `path`."""
    out = lab.folder / "again"
    shutil.rmtree(out, ignore_errors=True)
    out.mkdir()
    done = lab.run("sheet", "--again", which or "26-0001", "--out", out / "x.json")
    made = out / "x.certificate.json"
    claims(name, done.returncode == 0 and made.read_bytes() == pathlib.Path(path).read_bytes(),
           done.stderr + done.stdout)
    claims(f"{name}: the pages too", (out / "x.pdf").exists() and (out / "x.html").exists())
    return done


def issued(lab, number, out, *more):
    lab.do("sheet", number, "--to", "bearer", "--unmarked", "--out", lab.folder / out, *more)
    return lab.folder / out / f"{number}.certificate.json"


def the_machine_stops(lab, where):
    code = lab.folder / "killer.c"
    code.write_text(KILLER)
    subprocess.run(["cc", "-shared", "-fPIC", "-o", lab.folder / "killer.so", code], check=True)
    before = lab.entries()
    out = lab.folder / f"cut-{where}"
    done = subprocess.run([PROGRAM, "-L", lab.ledger, "sheet", "26-0001", "--to", "bearer",
                           "--unmarked", "--out", out], text=True, capture_output=True, check=False,
                          env={**lab.env, "LD_PRELOAD": str(lab.folder / "killer.so"),
                               "END_AT": where})
    claims(f"killed at its {where}", done.returncode == -signal.SIGKILL, done)
    claims("the certificate is recorded and its file is not there",
           lab.entries() == before + 1 and not list(out.glob("*.json")), lab.entries())
    got = lab.run("sheet", "--again", "26-0001", "--out", out)
    claims("made again", got.returncode == 0 and "the same to the byte" in got.stdout,
           got.stderr + got.stdout)
    held = lab.run("verify", out / "26-0001.certificate.json", out / "26-0001.pdf", "--trust",
                   lab.trust())
    claims("and it verifies, and so does its page", held.returncode == 0, held.stdout)
    claims("nothing was recorded by that", lab.entries() == before + 1)
    again = lab.run("sheet", "--again", "26-0001", "--out", out)
    claims("what is there is not written over", again.returncode == 2
           and "is there already" in again.stderr, again.stderr)


def refusals(lab):
    answer = json.loads(lab.run("sheet", "--again", "26-0001", "--out", lab.folder / "cut2",
                                "--json").stdout)["sheets"][0]
    claims("as data", answer["again"] is True and answer["specimens"] == ["specimen/26-0001"]
           and answer["audience"] == "buyer" and len(answer["id"]) == 43, answer)
    before = lab.entries()
    deep = lab.run("sheet", "26-0002", "--to", "bearer", "--unmarked", "--out",
                   lab.folder / "deep/x.json")
    claims("a folder that is not there is refused before anything is signed",
           deep.returncode == 2 and lab.entries() == before, deep.stderr)
    os.mkdir(lab.folder / "shut", 0o555)
    if os.geteuid():
        shut = lab.run("sheet", "--again", "26-0001", "--out", lab.folder / "shut")
        claims("a folder that cannot be written is said", shut.returncode == 2, shut.stderr)
    for words in (["sheet", "--again"], ["sheet", "--again", "26-0001", "26-0002"],
                  ["sheet", "--again", "26-0404"], ["sheet", "--again", "#3"]):
        refused = lab.run(*words)
        claims(f"{words[1:]} is refused in one sentence", refused.returncode == 2
               and len(refused.stderr.strip().splitlines()) <= 2, refused.stderr)


def with_everything(lab):
    page = lab.folder / "page.txt"
    page.write_text("a page of a field book\n")
    lab.record("document", "specimen/26-0001", docType="field notes", title="A page",
               docDate="2026-05-30", issuedBy="not known", attach=f"fileForScience={page}")
    plain = issued(lab, "26-0001", "plain", "--audience", "institution")
    beyond = issued(lab, "26-0001", "beyond", "--reveal", "recordNumber", "--withhold", "county",
                    "--because", "landowner's request")
    both = lab.folder / "both.certificate.json"
    lab.do("sheet", "26-0001", "26-0002", "--to", "P006", "--unmarked", "--together", "--out", both)
    lab.do("handover", "26-0001", "--to", "P001", "--out", lab.folder / "bag")
    bag = lab.folder / "bag/data/certificate.json"
    ids = {path: lab.ask("verify", path)["files"][0]["certificates"][-1]["id"]
           for path in (plain, beyond, both, bag)}
    witness(lab)
    early = issued(lab, "26-0001", "early")
    claims("it brings a witness's word along", "anchors" in json.loads(early.read_text()))
    witness(lab)  # that one is of later
    for path, name in ((plain, "an institution's, with its file"), (both, "two in one"),
                       (beyond, "shown and held back by name"), (bag, "a bag's")):
        same(lab, f"{name}, though a witness has signed since", path, ids[path])
    same(lab, "with a witness's word, and not with the later one", early)
    return plain, ids[plain]


def witness(lab):
    watch = lab.folder / "watch"
    if not watch.exists():
        subprocess.run([PROGRAM, "cosign", watch, "--new", "witness.strandmuseum.example",
                        "--new-passphrase-file", lab.folder / "passphrase"], check=True,
                       env=lab.env, stdout=subprocess.DEVNULL)
        key = json.loads(subprocess.run([PROGRAM, "cosign", watch, "--json"], check=True,
                                        env=lab.env, stdout=subprocess.PIPE).stdout)["vkey"]
        lab.do("anchor", "--witness", key)
        subprocess.run([PROGRAM, "cosign", watch, "--ledger-key",
                        lab.folder / "plain/26-0001.certificate.json"], check=True, env=lab.env,
                       stdout=subprocess.DEVNULL)
    for path in (lab.folder / "request", lab.folder / "answer"):
        path.unlink(missing_ok=True)
    lab.do("anchor", "--ask", lab.folder / "request")
    subprocess.run([PROGRAM, "cosign", watch, lab.folder / "request", "--out",
                    lab.folder / "answer"], check=True, env=lab.env, stdout=subprocess.DEVNULL)
    lab.do("anchor", lab.folder / "answer")


def a_file_is_gone(lab, path, which):
    stored = next(p for p in (pathlib.Path(lab.ledger) / "files").rglob("*") if p.is_file())
    stored.chmod(0o644)
    kept = stored.read_bytes()
    stored.unlink()
    out = lab.folder / "gone"
    out.mkdir()
    done = lab.run("sheet", "--again", which, "--out", out / "x.json")
    claims("a lost attachment is said, and the rest is made", done.returncode == 0
           and "is not in the ledger any more" in done.stdout
           and "the same to the byte" not in done.stdout, done.stdout + done.stderr)
    stored.write_bytes(kept)
    same(lab, "with the attachment back", path, which)


def carried_on(lab):
    with Lab("museum.strand.example") as museum:
        museum.record("party", "party/P001", partyType="person", name="Ambrose Quill",
                      namedTo="anyone")
        museum.record("party", "party/P002", partyType="firm", name="A lab", namedTo="anyone")
        museum.do("receive", lab.folder / "bag", "--trust", lab.trust(), "--as", "WS-31", "--from",
                  "P002", "reason=gift")
        path = issued(museum, "WS-31", "theirs", "--withhold", "county", "--because",
                      "landowner's request")
        claims("another ledger's certificate is inside",
               len(json.loads(path.read_text())["foreign"]) == 1)
        same(museum, "with another ledger's certificate inside", path, "WS-31")


def erased_since():
    with Aged("aged.example") as lab:
        people(lab)
        find(lab, "26-0001")
        find(lab, "26-0002")
        path = issued(lab, "26-0001", "old", "--audience", "institution")
        same(lab, "before anything is erased", path)
        lab.do("forget", "site/S001", "--field", "siteName", "--ground", "gives a place away")
        request = lab.ask("forget")[0]["request"]
        lab.day = "2031-07-02"
        lab.do("forget", "--do", request)
        late = lab.run("sheet", "--again", "26-0001", "--out", lab.folder / "late")
        claims("erased since: it is said, with the entry", late.returncode == 3
               and "were erased since (#" in late.stderr, late.stderr)
        claims("and nothing is written", not list((lab.folder / "late").glob("*")))
        new = issued(lab, "26-0001", "new", "--audience", "institution")
        same(lab, "one issued after the erasure", new)


with Lab("again.example") as desk:
    people(desk)
    find(desk, "26-0001")
    find(desk, "26-0002")
    the_machine_stops(desk, "open")
    the_machine_stops(desk, "name")
    refusals(desk)
    a_file_is_gone(desk, *with_everything(desk))
    carried_on(desk)
erased_since()
sys.exit(claims.end())
