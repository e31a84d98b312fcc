#!/usr/bin/python3
"""Attached files that no entry names: none is left by a refusal; one that kill -9 leaves (between
the copying and the commit, by a small library built here and put before libc) is named by verify,
which holds all the same, and is removed by one documented step, which never takes one that an entry
names, however many record meanwhile."""
import fcntl
import hashlib
import os
import pathlib
import signal
import subprocess
import sys
import threading
import time

from _lab import PROGRAM, Claims, Lab

claims = Claims()

KILLER = r"""
#define _GNU_SOURCE
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/syscall.h>
#include <unistd.h>
static void end_at_wal(int fd)
{
    char link[64], path[4096];
    ssize_t len;

    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    len = readlink(link, path, sizeof path - 1);
    path[len < 0 ? 0 : len] = 0;
    if (strstr(path, "ledger.db-wal"))
        kill(getpid(), SIGKILL);
}
int fsync(int fd) { end_at_wal(fd); return (int)syscall(SYS_fsync, fd); }
int fdatasync(int fd) { end_at_wal(fd); return (int)syscall(SYS_fdatasync, fd); }
"""


def files(lab):
    return sorted(p for p in (pathlib.Path(lab.ledger) / "files").rglob("*") if p.is_file())


def photo(lab, text):
    path = lab.folder / f"{text}.txt"
    path.write_text(text + "\n")
    return path


def note(lab, path):
    return lab.run("record", "note", "party/P001", "text=x", "--attach", f"placePhotos={path}")


def loose_names(lab):
    answer = lab.ask("verify", lab.ledger, "--no-views")
    return sorted(f["text"].split()[-1].rstrip(".") for f in answer["findings"]
                  if f["name"] == "file-loose")


def killed(lab):
    (lab.folder / "killer.c").write_text(KILLER)
    subprocess.run(["cc", "-shared", "-fPIC", "-o", lab.folder / "killer.so",
                    lab.folder / "killer.c"], check=True)
    before = lab.entries()
    path = photo(lab, "cut short")
    done = subprocess.run([PROGRAM, "-L", lab.ledger, "record", "note", "party/P001", "text=x",
                           "--attach", f"placePhotos={path}"], capture_output=True, text=True,
                          env={**lab.env, "LD_PRELOAD": str(lab.folder / "killer.so")}, check=False)
    claims("it was killed at the commit", done.returncode == -signal.SIGKILL, done)
    claims("nothing is recorded, and the file lies there",
           lab.entries() == before and len(files(lab)) == 1, files(lab))
    part = files(lab)[0].with_name(f".{'ab' * 32}-4711.part")
    part.write_text("half a pho")
    time.sleep(1.1)
    name = hashlib.sha256(path.read_bytes()).hexdigest()
    claims("verify names both", loose_names(lab) == sorted([name, part.name]), loose_names(lab))
    whole = lab.run("verify", lab.ledger, "--trust", lab.trust())
    claims("and holds all the same", whole.returncode == 0, whole.stdout)
    kept = photo(lab, "a page that stays")
    claims("another file is recorded", note(lab, kept).returncode == 0)
    with open(part, "rb") as held:  # as whoever is just copying it in does
        fcntl.flock(held, fcntl.LOCK_EX)
        busy = part.with_name(f".{'cd' * 32}-4712.part")
        busy.write_text("the other half")
        done = lab.run("forget", "--loose")
        claims("one that is being written stays", done.returncode == 0 and part.exists()
               and not busy.exists() and not (part.parent / name).exists(), done.stdout)
    (part.parent / name).write_bytes(path.read_bytes())
    look = lab.run("forget", "--loose", "--preview")
    claims("a preview only looks", look.returncode == 0 and "would be removed" in look.stdout
           and len(files(lab)) == 3, look.stdout + look.stderr)
    done = lab.run("forget", "--loose")
    claims("one step removes them", done.returncode == 0 and "2 files" in done.stdout
           and name in done.stdout, done.stdout + done.stderr)
    claims("and not what an entry names", [f.name for f in files(lab)]
           == [hashlib.sha256(kept.read_bytes()).hexdigest()], files(lab))
    claims("nothing more to do", "named by an entry" in lab.do("forget", "--loose"))
    claims("as data", lab.ask("forget", "--loose") == {"bytes": 0, "loose": [], "removed": True})
    claims("verify has nothing to say any more", loose_names(lab) == [], loose_names(lab))
    claims("it stands alone", lab.run("forget", "party/P001", "--loose").returncode == 2)


def refused(lab):
    have = files(lab)
    path = photo(lab, "of a refused one")
    for words in (["record", "note", "party/P001", "--attach", f"placePhotos={path}"],
                  ["record", "note", "party/P404", "text=x", "--attach", f"placePhotos={path}"],
                  ["record", "note", "party/P001", "text=x", "colour=red", "--attach",
                   f"placePhotos={path}"]):
        done = lab.run(*words)
        claims(f"refused: {words[2:4]}", done.returncode == 2, done.stderr)
    claims("no file is left by any of them", files(lab) == have, files(lab))


def all_at_once(lab):
    """Many record the same photos and others of their own while loose files are removed."""
    shared = photo(lab, "shared by many")
    wrong = []

    def clean():
        for _ in range(6):
            done = lab.run("forget", "--loose")
            if done.returncode:
                wrong.append(done.stderr)

    def write(number):
        for turn in range(3):
            for path in (shared, photo(lab, f"own {number} {turn}")):
                done = note(lab, path)
                if done.returncode:
                    wrong.append(done.stderr)
                done = lab.run("record", "note", "party/P404", "text=x", "--attach",
                               f"placePhotos={path}")
                if done.returncode != 2:
                    wrong.append(done.stdout + done.stderr)

    threads = [threading.Thread(target=clean)] + [threading.Thread(target=write, args=(n,))
                                                  for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    claims("all were recorded", not wrong, wrong)
    whole = lab.run("verify", lab.ledger, "--trust", lab.trust())
    claims("every file that an entry names is there", whole.returncode == 0, whole.stdout)
    claims("13 of them", len(files(lab)) == 1 + 1 + 12, files(lab))


with Lab("loose.example") as desk:
    desk.record("party", "party/P001", partyType="person", name="Ottoline Harrow",
                namedTo="anyone")
    killed(desk)
    refused(desk)
    all_at_once(desk)
sys.exit(claims.end())
