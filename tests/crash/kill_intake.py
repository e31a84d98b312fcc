#!/usr/bin/python3
"""kill -9 at random moments while entries are being recorded: nothing acknowledged is lost.

One process takes in a table of many rows (one transaction), another records single entries, and a
third is killed with them at a random moment. What a process had acknowledged - its exit code 0 and
the leaf hash that it printed - must be there afterwards, the ledger must verify, a table must be
there whole or not at all, and the next append must work. CRASH_RUNS in the environment says how
often (default 200; inside `make check` a short form runs)."""

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time

RUNS = int(os.environ.get("CRASH_RUNS", "200"))
ROWS = int(os.environ.get("CRASH_ROWS", "3000"))
SEED = int(os.environ.get("CRASH_SEED", str(random.randrange(10**9))))
PARTY = ("partyType=person", "name=Somebody", "namedTo=nobody")
PROGRAM = os.environ.get("MARKERBED", "build/markerbed")


class World:
    """One ledger in a temporary folder, and what it has acknowledged."""

    def __init__(self):
        self.folder = tempfile.mkdtemp(prefix="markerbed-crash-")
        self.ledger = os.path.join(self.folder, "ledger")
        self.passphrase = os.path.join(self.folder, "passphrase")
        with open(self.passphrase, "w", encoding="utf-8") as file:
            file.write("a passphrase for crashing\n")
        self.acknowledged = []  # (subject, leaf)
        self.tables = {}        # number of the table -> acknowledged or not

    def command(self, *words):
        return [PROGRAM, "-L", self.ledger, *words]

    def environment(self):
        return {**os.environ, "MARKERBED_PASSPHRASE_FILE": self.passphrase}

    def run(self, *words):
        return subprocess.run(self.command(*words), env=self.environment(), text=True,
                              capture_output=True, stdin=subprocess.DEVNULL, check=False)

    def start(self, *words):
        return subprocess.Popen(self.command(*words), env=self.environment(), text=True,
                                stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                                stdin=subprocess.DEVNULL)

    def table(self, number):
        path = os.path.join(self.folder, f"table-{number}.csv")
        with open(path, "w", encoding="utf-8") as file:
            file.write("kind,subject,partyType,name,namedTo\r\n")
            for row in range(ROWS):
                file.write(f"party,party/N{number}-{row},person,"
                           f"row {row} of table {number},nobody\r\n")
        return path


def must(result, what):
    if result.returncode != 0:
        sys.exit(f"{what}: exit {result.returncode}: {result.stderr.strip()}")
    return result


def found(world):
    must(world.run("found", "--origin", "crash.example", "--name", "Crash", "--label", "crash",
                   "--holder", "P001"), "found")
    must(world.run("record", "party", "party/P001", *PARTY), "party")


def one_run(world, number, rng):
    processes = [("table", world.start("intake", world.table(number), "--json"))]
    subject = f"party/S{number}"
    processes.append(("single", world.start("record", "party", subject, *PARTY, "--json")))
    deadline = time.monotonic() + rng.random() ** 2 * float(os.environ.get("CRASH_SPAN", "1.6"))
    while time.monotonic() < deadline and any(p.poll() is None for _, p in processes):
        time.sleep(0.001)
    for _, process in processes:
        if process.poll() is None and rng.random() < 0.9:
            process.send_signal(signal.SIGKILL)
    killed = 0
    for kind, process in processes:
        out, _ = process.communicate(timeout=120)
        killed += process.returncode == -signal.SIGKILL
        if kind == "table":
            world.tables[number] = process.returncode == 0
        elif process.returncode == 0:
            world.acknowledged.append((subject, json.loads(out)["leaf"]))
    return killed


def check(world, number):
    """What is there after the crash?"""
    faults = []
    result = world.run("verify", world.ledger, "--json", "--no-views")
    verdict = json.loads(result.stdout) if result.stdout else {}
    bad = [f for f in verdict.get("findings", []) if f["severity"] == "fault"]
    if result.returncode not in (0, 3) or bad:
        faults.append(f"verify: exit {result.returncode} {bad} {result.stderr.strip()}")
    rows = query(world, "SELECT seq, sub FROM v_entry")
    there = {sub: seq for seq, sub in rows}
    for subject, _ in world.acknowledged:
        if subject not in there:
            faults.append(f"acknowledged and gone: {subject}")
    for table, acknowledged in world.tables.items():
        count = sum(1 for sub in there if sub.startswith(f"party/N{table}-"))
        if count not in (0, ROWS) or (acknowledged and count != ROWS):
            faults.append(f"table {table}: {count} of {ROWS} rows, acknowledged {acknowledged}")
    appended = world.run("record", "party", f"party/A{number}", *PARTY, "--json")
    if appended.returncode != 0:
        faults.append(f"the next append: {appended.stderr.strip()}")
    else:
        world.acknowledged.append((f"party/A{number}", json.loads(appended.stdout)["leaf"]))
    return faults


def query(world, sql):
    result = must(world.run("query", sql, "--json"), "query")
    return json.loads(result.stdout)["rows"]


def main():
    rng = random.Random(SEED)
    world = World()
    killed = failed = 0
    try:
        found(world)
        for number in range(RUNS):
            killed += one_run(world, number, rng)
            faults = check(world, number)
            failed += bool(faults)
            for fault in faults:
                print(f"run {number}: {fault}")
            if number % 20 == 19:
                print(f"{number + 1} runs, {killed} processes killed, "
                      f"{len(world.acknowledged)} single entries and "
                      f"{sum(world.tables.values())} tables acknowledged", flush=True)
                # a fresh ledger now and then keeps the later runs as quick as the first
                shutil.rmtree(world.folder)
                world = World()
                found(world)
    finally:
        shutil.rmtree(world.folder, ignore_errors=True)
    print(f"seed {SEED}: {killed} processes killed in {RUNS} runs")
    print(f"{RUNS - failed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
