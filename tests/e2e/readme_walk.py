#!/usr/bin/env python3
"""README.md, and docs/checking.md behind it, typed in from top to bottom in an empty folder.

Each "$ " line in a fenced block is run, in order, in one shell. Each has to end as the page lets
the reader expect (0, unless a line "(exit code N)" stands under it), and what the page prints under
it has to be what the program prints. A line that is dots alone stands for any lines; days, hashes,
thumbprints and the fingerprint are each reader's own. "README_WALK_SHOW=1" prints what came out
too, for whoever mends a page.
"""
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
PAGES = ["README.md", "docs/checking.md"]
PROGRAM = Path(os.environ.get("MARKERBED", TOP / "build/markerbed")).resolve()
PRINT = r"(?:[a-z2-7]{4} ){12}[a-z2-7]{4}"
OWN = [  # what differs from reader to reader: fingerprint, envelope, hash, day
    (re.compile(r"(?:[a-z2-7]{4} ){12,14}[a-z2-7]{4}"), r"(?:[a-z2-7]{4} ){12,14}[a-z2-7]{4}"),
    (re.compile(r"[A-Za-z0-9_-]{43}(?![A-Za-z0-9_-])"), r"[A-Za-z0-9_-]{43}"),
    (re.compile(r"\d{4}-\d\d-\d\d"), r"\d{4}-\d\d-\d\d"),
]


def commands(text):
    """(line, command, lines printed under it, exit code) of each fenced block."""
    found, fenced, pending = [], False, None
    for number, line in enumerate(text.split("\n"), 1):
        if line.startswith("```"):
            fenced, pending = not fenced, None
        elif fenced and line.startswith("$ "):
            pending = [number, line[2:], [], 0]
            found.append(pending)
        elif fenced and pending:
            code = re.fullmatch(r"\(exit code (\d)\)", line)
            if pending[1].endswith("\\") and not pending[2]:
                pending[1] = pending[1][:-1].rstrip() + " " + line.strip()
            elif code:
                pending[3] = int(code.group(1))
            else:
                pending[2].append(line)
    return found


def pattern(lines):
    """What the printed lines allow."""
    parts = []
    for line in lines:
        if line == "…":
            parts.append(r"(?:.*\n)*?")
            continue
        quoted, at = "", 0
        while at < len(line):
            for own, allowed in OWN:
                m = own.match(line, at)
                if m:
                    quoted += allowed
                    at = m.end()
                    break
            else:
                quoted += re.escape(line[at])
                at += 1
        parts.append(quoted + r"\n")
    return re.compile("".join(parts))


def run(shell, command):
    """One command in the reader's shell: (what it printed, its exit code)."""
    shell.stdin.write(command + "\nprintf '\\n@@%d\\n' $?\n")
    shell.stdin.flush()
    out = ""
    while True:
        line = shell.stdout.readline()
        done = re.fullmatch(r"@@(\d+)\n", line)
        if done:
            return re.sub(r"\n\Z", "", out), int(done.group(1))
        if not line:
            return out, -1
        out += line


def walk(work):
    folder = Path(work)
    (folder / "docs").mkdir()
    shutil.copytree(TOP / "docs/walk", folder / "docs/walk")
    (folder / "build").mkdir()
    (folder / "build/markerbed").symlink_to(PROGRAM)
    kept = {name: value for name, value in os.environ.items() if not name.startswith("MARKERBED")}
    shell = subprocess.Popen(["bash"], cwd=folder, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                             stderr=subprocess.STDOUT, text=True,
                             env=dict(kept, HOME=str(folder), COLUMNS="80"))
    texts = {page: (TOP / page).read_text() for page in PAGES}
    shown = re.search(PRINT, texts[PAGES[0]]).group()
    own, passed, failed = shown, 0, 0
    for page, number, command, lines, code in [
            (page, *found) for page in PAGES for found in commands(texts[page])]:
        out, ended = run(shell, command.replace(shown, own))
        if "Its fingerprint" in out and own == shown:
            own = re.search(PRINT, out).group()
        if os.environ.get("README_WALK_SHOW"):
            print(f"$ {command}\n{out}({ended})\n")
        if ended == code and (not lines or pattern(lines).fullmatch(out)):
            passed += 1
            continue
        failed += 1
        print(f"{page}:{number}: {command}\n  ended with {ended}, not {code} as told, and printed\n"
              + "".join("    " + line + "\n" for line in out.split("\n")[:40]))
    shell.stdin.close()
    shell.wait()
    return passed, failed


def main():
    with tempfile.TemporaryDirectory() as work:
        passed, failed = walk(work)
    if passed + failed < 60:
        print(f"the pages have only {passed + failed} commands: its blocks are not read any more")
        failed += 1
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
