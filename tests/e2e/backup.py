#!/usr/bin/python3
"""backup and restore: while others record, killed half-way, on a disk that takes no more, with
attachments and keys; what is brought back verifies and goes on."""
import hashlib
import os
import pathlib
import resource
import shutil
import signal
import subprocess
import sys
import time

from _lab import PROGRAM, Claims, Lab

PARTY = {"partyType": "person", "name": "Somebody", "namedTo": "nobody"}
claims = Claims()


def plain(lab, *words):
    """The program without a ledger named beforehand."""
    return subprocess.run([PROGRAM, *map(str, words)], text=True, capture_output=True, env=lab.env,
                          stdin=subprocess.DEVNULL, check=False)


def attachments(folder):
    return sorted(p for p in pathlib.Path(folder, "files").rglob("*") if p.is_file())


def holds(lab, folder):
    done = lab.run("verify", folder, "--trust", lab.trust(), "--json")
    return done.returncode == 0


def small_files_only(most):
    """No file of this process may grow past `most` bytes: a write fails, as on a full disk."""
    def limit():
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
    return limit


def prepare(lab):
    lab.record("party", "party/P001", **PARTY)
    for n in range(3):
        photo = lab.folder / f"paper-{n}.bin"
        photo.write_bytes(os.urandom(300_000 + n))
        lab.record("document", "party/P001", docType="letter", title=f"Paper {n}",
                   docDate="2026-01-05", issuedBy="not known", attach=f"file={photo}")


def while_recording(lab):
    table = lab.folder / "many.csv"
    table.write_text("kind,subject,partyType,name,namedTo\r\n" + "".join(
        f"party,party/N{n},person,row {n},nobody\r\n" for n in range(2000)))
    # one long group and, beside it, one entry after the other
    writers = [subprocess.Popen([PROGRAM, "-L", lab.ledger, "intake", str(table)], env=lab.env,
                                stdout=subprocess.DEVNULL),
               subprocess.Popen(["bash", "-c", 'for n in $(seq 12); do "$0" -L "$1" record note '
                                 'party/P001 "text=word $n" || exit 1; done', PROGRAM, lab.ledger],
                                env=lab.env, stdout=subprocess.DEVNULL)]
    sizes, n = [], 0
    while any(w.poll() is None for w in writers) and n < 60:
        done = lab.run("backup", lab.path(f"live-{n}"), "--json")
        claims(f"backup {n} beside the writers", done.returncode == 0, done.stderr)
        n += 1
    claims("both writers ended well", [w.wait() for w in writers] == [0, 0])
    claims("several backups were made meanwhile", n >= 3, n)
    for i in {0, n // 2, n - 1}:
        claims(f"backup {i} verifies", holds(lab, lab.path(f"live-{i}")))
        sizes.append(lab.ask("verify", lab.path(f"live-{i}"), "--no-views")["files"][0]["entries"])
    claims("they are of different moments", len(set(sizes)) > 1, sizes)
    for i in range(n):
        shutil.rmtree(lab.path(f"live-{i}"))


def whole(lab):
    done = lab.run("backup", lab.path("b1"), "--json")
    claims("a backup", done.returncode == 0, done.stderr)
    b1 = lab.folder / "b1"
    claims("no keys are in it", not (b1 / "keys").exists())
    claims("the same attachments",
           [p.read_bytes() for p in attachments(lab.ledger)] == [p.read_bytes() for p in
                                                                 attachments(b1)])
    claims("each under its own hash", all(hashlib.sha256(p.read_bytes()).hexdigest() == p.name
                                          for p in attachments(b1)) and len(attachments(b1)) == 3)
    claims("it verifies as it lies", holds(lab, b1))
    story = plain(lab, "-L", b1, "show", "party/P001").stdout
    claims("one may look into it", "Paper 1" in story, story)
    lab.do("backup", lab.path("b2"), "--with-keys")
    claims("with keys where asked", len(list((lab.folder / "b2" / "keys").iterdir())) == 2,
           list((lab.folder / "b2").iterdir()))
    secret = list((lab.folder / "b2" / "keys").glob("*.key"))[0].stat()
    claims("which nobody else reads", secret.st_mode & 0o077 == 0, oct(secret.st_mode))
    refused = plain(lab, "-L", lab.path("b2"), "record", "note", "party/P001", "text=here")
    claims("nothing is recorded in a backup",
           refused.returncode == 2 and "restore" in refused.stderr, refused.stderr)
    again = lab.run("backup", lab.path("b1"))
    claims("never over another", again.returncode == 2 and "there already" in again.stderr, again)
    nowhere = lab.run("backup", lab.path("no/where"))
    claims("nor into nowhere", nowhere.returncode == 2 and "cannot make" in nowhere.stderr, nowhere)


def brought_back(lab):
    done = plain(lab, "restore", lab.path("b2"), lab.path("again"))
    claims("it comes back", done.returncode == 0, done.stderr)
    claims("with the warning", "two stories" in done.stdout, done.stdout)
    claims("and verifies", holds(lab, lab.path("again")))
    done = plain(lab, "-L", lab.path("again"), "record", "note", "party/P001", "text=it goes on")
    claims("and goes on", done.returncode == 0 and holds(lab, lab.path("again")), done)
    over = plain(lab, "restore", lab.path("b2"), lab.ledger)
    claims("never over a ledger", over.returncode == 2 and "there already" in over.stderr, over)
    none = plain(lab, "restore", lab.ledger, lab.path("other"))
    claims("only from a backup", none.returncode == 2 and "no backup" in none.stderr, none)

    damaged = lab.folder / "damaged"
    shutil.copytree(lab.folder / "b1", damaged)
    paper = attachments(damaged)[0]
    paper.chmod(0o644)
    paper.write_bytes(paper.read_bytes()[:-1] + b"x")
    done = plain(lab, "restore", damaged, lab.path("fromdamaged"))
    claims("a changed attachment is found", done.returncode == 1 and paper.name in done.stdout,
           done.stdout + done.stderr)
    claims("and nothing restored", not os.path.exists(lab.path("fromdamaged"))
           and not os.path.exists(lab.path("fromdamaged.part")))
    done = plain(lab, "restore", damaged, lab.path("fromdamaged"), "--even-damaged")
    claims("unless one insists", done.returncode == 1 and os.path.exists(lab.path("fromdamaged")))
    shutil.copytree(lab.folder / "b1", lab.folder / "flipped")
    db = lab.folder / "flipped" / "ledger.db"
    data = bytearray(db.read_bytes())
    at = data.index(b"eyJ")  # the first signed text in the file
    data[at + 40] ^= 1
    db.write_bytes(data)
    done = plain(lab, "restore", lab.folder / "flipped", lab.path("fromflipped"))
    claims("a flipped bit in the log too", done.returncode in (1, 3)
           and not os.path.exists(lab.path("fromflipped")), done)


def damaged_at_home(lab):
    """An attachment of the ledger itself went bad: the backup says so and leaves it out."""
    home = lab.folder / "home"
    plain(lab, "restore", lab.path("b2"), home)
    paper = attachments(home)[0]
    paper.chmod(0o644)
    paper.write_bytes(b"other")
    done = plain(lab, "-L", home, "backup", lab.path("b3"))
    claims("a bad attachment is told of", done.returncode == 1 and paper.name in done.stdout, done)
    claims("and left out", len(attachments(lab.path("b3"))) == 2)


def disk_full(lab):
    for most, what in ((20_000, "the database"), (250_000, "an attachment")):
        done = subprocess.run([PROGRAM, "-L", lab.ledger, "backup", lab.path("full")], env=lab.env,
                              preexec_fn=small_files_only(most), capture_output=True, text=True,
                              check=False)
        claims(f"no room for {what}", done.returncode == 3 and done.stderr.count("\n") == 1, done)
        claims(f"and nothing is left after {what}",
               not [p for p in os.listdir(lab.folder) if p.startswith("full")])
    done = subprocess.run([PROGRAM, "restore", lab.path("b2"), lab.path("full")], env=lab.env,
                          preexec_fn=small_files_only(20_000), capture_output=True, text=True,
                          check=False)
    claims("no room to restore", done.returncode == 3
           and not [p for p in os.listdir(lab.folder) if p.startswith("full")], done)


def killed(lab):
    """At any moment: there is a whole backup under its name, or none."""
    took = time.monotonic()
    lab.do("backup", lab.path("timed"))
    took = time.monotonic() - took
    kills = 0
    for n in range(15):
        name = lab.path("killed")
        process = subprocess.Popen([PROGRAM, "-L", lab.ledger, "backup", name], env=lab.env,
                                   stdout=subprocess.DEVNULL)
        time.sleep(took * n / 15)
        process.kill()
        kills += process.wait() == -signal.SIGKILL
        if os.path.exists(name):
            claims(f"kill {n}: what is there is whole", holds(lab, name))
            shutil.rmtree(name)
    claims("most were killed half-way", kills > 5, kills)
    done = lab.run("backup", lab.path("killed"))
    claims("the next one clears away what was left", done.returncode == 0
           and not os.path.exists(lab.path("killed.part")), done)


def main():
    with Lab("backup.example") as lab:
        prepare(lab)
        whole(lab)
        brought_back(lab)
        damaged_at_home(lab)
        disk_full(lab)
        killed(lab)
        while_recording(lab)
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
