#!/usr/bin/env python3
"""At a terminal: passphrases that are not shown, colour and NO_COLOR, wrapping at its width.

The terminal is a pty of the system. Widths of characters are checked against the East Asian Width
property (Unicode Standard Annex #11) as Python's unicodedata has it.
"""
import fcntl
import os
import pty
import re
import select
import signal
import struct
import subprocess
import sys
import tempfile
import termios
import time
import unicodedata

PROGRAM = os.environ["MARKERBED"]
PASSED, FAILED = [], []


def claim(name, holds, shown=""):
    (PASSED if holds else FAILED).append(name)
    if not holds:
        print(f"not so: {name}\n    {shown!r}")


def environment(**more):
    env = {k: v for k, v in os.environ.items()
           if not k.startswith("MARKERBED") and k not in ("NO_COLOR", "TERM")}
    env.update(TERM="xterm", **more)
    return env


class Terminal:
    """The program with a terminal of its own; `said` is all that appeared there."""

    def __init__(self, arguments, columns=80, env=None):
        self.said = ""
        self.process, self.fd = pty.fork()
        if self.process == 0:
            fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", 40, columns, 0, 0))
            os.execve(PROGRAM, ["markerbed", *arguments], env or environment())

    def read(self, seconds=0.2):
        ready, _, _ = select.select([self.fd], [], [], seconds)
        if not ready:
            return False
        try:
            data = os.read(self.fd, 65536)
        except OSError:
            return None
        self.said += data.decode("utf-8", "replace")
        return bool(data) or None

    def wait_for(self, text, seconds=20):
        end = time.monotonic() + seconds
        start = len(self.said)
        while text not in self.said[start:]:
            if self.read() is None or time.monotonic() > end:
                return False
        return True

    def echoes(self):
        return bool(termios.tcgetattr(self.fd)[3] & termios.ECHO)

    def until_silent(self, seconds=20):
        """Waits until the program has switched the echo off."""
        end = time.monotonic() + seconds
        while self.echoes() and time.monotonic() < end:
            time.sleep(0.01)
        return not self.echoes()

    def type(self, text):
        os.write(self.fd, text.encode() + b"\n")

    def end(self):
        """Its exit code; silent for half a minute, it is ended."""
        while (more := self.read(30)):
            pass
        if more is False:
            os.kill(self.process, signal.SIGKILL)
        code = os.waitstatus_to_exitcode(os.waitpid(self.process, 0)[1])
        os.close(self.fd)
        return code


def answer(terminal, prompt, text):
    claim(f"it asks: {prompt}", terminal.wait_for(prompt), terminal.said)
    claim(f"the echo is off: {prompt}", terminal.until_silent())
    terminal.type(text)


def check_passphrases(folder):
    found = ["-L", os.path.join(folder, "lab"), "found", "--origin", "ledger.harrowvane.example",
             "--name", "Harrow & Vane Preparation", "--holder", "P001"]
    t = Terminal(found)
    answer(t, "New passphrase for the key founder:", "chalk and shale")
    answer(t, "The same once more:", "chalk and shake")
    claim("two different passphrases are refused", t.end() == 2, t.said)
    claim("and nothing was made", not os.path.exists(os.path.join(folder, "lab", "ledger.db")))
    claim("what was typed was not shown", "chalk" not in t.said, t.said)

    t = Terminal(found)
    answer(t, "New passphrase for the key founder:", "chalk and shale")
    answer(t, "The same once more:", "chalk and shale")
    claim("founding succeeds", t.end() == 0, t.said)
    claim("what was typed was not shown", "chalk" not in t.said, t.said)

    record = ["-L", os.path.join(folder, "lab"), "record", "party", "party/P001",
              "partyType=person", "name=Ottoline Harrow", "namedTo=anyone",
              "neutralLabel=the owner"]
    t = Terminal(record)
    answer(t, "Passphrase:", "chalk and salt")
    answer(t, "Passphrase:", "chalk and shale")
    claim("a mistyped passphrase may be typed again", t.end() == 0, t.said)

    t = Terminal(record)
    claim("it asks again", t.wait_for("Passphrase:") and t.until_silent(), t.said)
    os.kill(t.process, signal.SIGTERM)
    end = time.monotonic() + 10
    while not t.echoes() and time.monotonic() < end:
        time.sleep(0.02)
    claim("stopped while asking, it leaves the echo on", t.echoes())
    claim("and dies of the signal", t.end() == -signal.SIGTERM, t.said)

    result = subprocess.run([PROGRAM, *record], env=environment(), stdin=subprocess.DEVNULL,
                            capture_output=True, text=True, start_new_session=True)
    claim("without a terminal it is refused", result.returncode == 2, result.stderr)
    claim("and says how else", "--passphrase-file" in result.stderr
          and "MARKERBED_PASSPHRASE_FILE" in result.stderr, result.stderr)
    for name in ("empty", "missing"):
        path = os.path.join(folder, name)
        if name == "empty":
            open(path, "w").close()
        result = subprocess.run([PROGRAM, *record, "--passphrase-file", path], env=environment(),
                                stdin=subprocess.DEVNULL, capture_output=True, text=True)
        claim(f"a passphrase file that is {name} is refused",
              result.returncode == 2 and path in result.stderr, result.stderr)


def check_questions(folder):
    """Founding without a word of syntax."""
    t = Terminal(["-L", os.path.join(folder, "asked"), "found"])
    claim("found asks for the ledger's name", t.wait_for("ledger.harrowvane.example:"), t.said)
    t.type("ledger.harrowvane.example")
    claim("found asks for the firm", t.wait_for("Name of your firm:"), t.said)
    t.type("Harrow & Vane Preparation")
    answer(t, "New passphrase for the key founder:", "chalk and shale")
    answer(t, "The same once more:", "chalk and shale")
    claim("founding by questions succeeds", t.end() == 0, t.said)


def check_verdict(folder):
    """The verdict is coloured on a terminal, and its words are the same without."""
    lab = os.path.join(folder, "asked")
    t = Terminal(["verify", lab])
    claim("an unknown ledger: could not be checked", t.end() == 3, t.said)
    claim("the verdict is coloured", "\033[33m" in t.said, t.said)
    bare = re.sub("\033\\[[0-9;]*m", "", t.said)
    plain = Terminal(["verify", lab], env=environment(NO_COLOR="1"))
    plain.end()
    claim("and its words are the same without colour", bare == plain.said, (bare, plain.said))


def check_table(folder):
    """Columns stand below each other, whatever the width of their characters."""
    lab, secret = os.path.join(folder, "asked"), os.path.join(folder, "pass")
    with open(secret, "w") as out:
        out.write("chalk and shale\n")
    env = environment(MARKERBED_PASSPHRASE_FILE=secret, MARKERBED_LEDGER=lab)
    for number, name in enumerate(("\u83ca\u77f3\u6a19\u672c\u5ba4", "Zo\u00eb \u00c5s",
                                   "Z\u0065\u0301lie", "Wren Castellane"), 1):
        result = subprocess.run(
            [PROGRAM, "record", "party", f"party/P{number:03}", "partyType=person",
             f"name={name}", "namedTo=anyone", f"neutralLabel=party {number}"],
            env=env, stdin=subprocess.DEVNULL, capture_output=True, text=True)
        claim(f"a party called {name} is recorded", result.returncode == 0, result.stderr)
    out = subprocess.run([PROGRAM, "list", "parties"], env=env, capture_output=True,
                         text=True).stdout
    starts = set()
    for line in out.splitlines():
        at = line.find("party ")
        if at > 0:
            starts.add(columns_of(line[:at]))
    claim("the next column begins at one place", len(starts) == 1 and out.count("party ") == 4,
          out)


def check_colour():
    t = Terminal(["help", "record"])
    claim("help succeeds", t.end() == 0, t.said)
    claim("headings stand out on a terminal", "\033[1m" in t.said, t.said[:200])
    plain = Terminal(["help", "record"], env=environment(NO_COLOR="1"))
    plain.end()
    claim("NO_COLOR is honoured", "\033" not in plain.said, plain.said[:200])
    bare = t.said.replace("\033[1m", "").replace("\033[0m", "")
    claim("colour is never the only sign", bare == plain.said, (bare[:300], plain.said[:300]))
    empty = Terminal(["help", "record"], env=environment(NO_COLOR=""))
    empty.end()
    claim("an empty NO_COLOR says nothing (no-color.org)", "\033[1m" in empty.said)
    dumb = Terminal(["help", "record"], env={**environment(), "TERM": "dumb"})
    dumb.end()
    claim("a dumb terminal gets no colour", "\033" not in dumb.said)


def columns_of(text):
    return sum(0 if unicodedata.combining(c) else
               2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text)


def check_width():
    for columns in (60, 120):
        t = Terminal(["--help"], columns, environment(NO_COLOR="1"))
        t.end()
        widest = max(map(columns_of, t.said.split("\r\n")))
        claim(f"text fits {columns} columns", columns - 20 < widest <= columns, widest)


def main():
    with tempfile.TemporaryDirectory() as folder:
        check_passphrases(folder)
        check_questions(folder)
        check_verdict(folder)
        check_table(folder)
    check_colour()
    check_width()
    print(f"{len(PASSED)} passed, {len(FAILED)} failed")
    return 1 if FAILED else 0


if __name__ == "__main__":
    sys.exit(main())
