#!/usr/bin/env python3
"""Runs what the Makefile built, says how each part went, and ends on "N passed, N failed".

    run_tests.py [--build DIR] [--jobs N] check|test|cov|crash|scale [part of a name ...]

What is run (a suite takes some of these):
  tool         tidy, the kinds, the headers: one test each
  criterion    tests/unit/*/test_*.c and tests/conformance/test_*.c, as built in a variant; each
               Test() counts. A program that ran no test, leaked or did not end failed.
  replay       the kept inputs of each fuzz harness, in the asan variant
  script       tests/e2e/*.sh and *.py: exit 0 passed, 77 skipped, anything else failed. One whose
               output ends on a line "N passed, N failed[, N skipped]" counts that many; what it
               prints between "==== NAME" and "====" is shown at the end.
               Scripts named in tests/e2e/ASAN run once more with the asan program. A name that
               begins with "_" is a part of other scripts; Python finds tests/support too.

Each runs in the top folder, with a TMPDIR and HOME of its own, no standard input, and
  MARKERBED       the program to test
  MARKERBED_TEST  the debug variant of it, whose clock MARKERBED_CLOCK can set
  BUILD, BUILD_PROGRAMS  the build folder; in it the variant's folder with programs under tests/
"""
import argparse
import concurrent.futures
import glob
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
PYTHON = "/usr/bin/python3"
CLOSING = re.compile(r"^(\d+) passed, (\d+) failed(?:, (\d+) skipped)?$")
SYNTHESIS = re.compile(
    r"Synthesis: Tested: (\d+) \| Passing: (\d+) \| Failing: (\d+) \| Crashing: (\d+)")
CRITERION_SKIP = re.compile(r"^\[SKIP\]", re.M)
SANITIZER = re.compile(r"ERROR: (Address|Leak)Sanitizer|LeakSanitizer: detected|: runtime error: ")
TAIL_LINES = 60
SECONDS_MAX = {"tool": 120, "criterion": 300, "replay": 300, "script": 600, "scale": 7200}


class Job:
    """One program to run, and what became of it."""

    def __init__(self, name, form, variant, command):
        self.name, self.form, self.variant, self.command = name, form, variant, command
        self.passed = self.failed = self.skipped = 0
        self.seconds = 0.0
        self.said = ""  # why it failed, or what was skipped
        self.log = None

    @property
    def key(self):
        return f"{self.name}.{self.variant}" if self.variant else self.name


def tools(build):
    jobs = [Job("tools/tidy", "tool", "", [PYTHON, "tests/tools/tidy.py"])]
    if (TOP / "tests/tools/check_kinds.py").exists():
        jobs.append(Job("tools/check_kinds", "tool", "", [PYTHON, "tests/tools/check_kinds.py"]))
    for target in ("check-headers", "check-symbols"):
        jobs.append(Job(f"tools/{target}", "tool", "",
                        ["make", "-s", "VARIANT=release", f"BUILD={build}", target]))
    return jobs


def criterion(build, variant):
    sources = sorted(glob.glob("tests/unit/*/test_*.c") + glob.glob("tests/conformance/test_*.c"))
    return [Job(s[len("tests/"):-2], "criterion", variant,
                [f"{build}/{variant}/{s[:-2]}", "-j1", "--verbose"]) for s in sources]


def replays(build):
    jobs = []
    for source in sorted(glob.glob("tests/fuzz/fuzz_*.c")):
        name = Path(source).stem[len("fuzz_"):]
        jobs.append(Job(f"fuzz/replay_{name}", "replay", "asan",
                        [f"{build}/asan/tests/fuzz/replay_{name}", f"tests/fuzz/corpus/{name}"]))
    return jobs


def scripts(pattern, variant, only=None, form="script"):
    jobs = []
    for path in sorted(glob.glob(pattern + ".sh") + glob.glob(pattern + ".py")):
        if Path(path).name[0] != "_" and (only is None or Path(path).name in only):
            shell = ["bash"] if path.endswith(".sh") else [PYTHON]
            jobs.append(Job(path[len("tests/"):], form, variant, shell + [path]))
    return jobs


def asan_scripts():
    try:
        lines = Path("tests/e2e/ASAN").read_text().split("\n")
    except FileNotFoundError:
        return []
    names = {line.split("#")[0].strip() for line in lines} - {""}
    jobs = scripts("tests/e2e/*", "asan", names)
    for name in sorted(names - {Path(job.name).name for job in jobs}):
        sys.exit(f"tests/e2e/ASAN names {name}, which is not in tests/e2e")
    return jobs


def choose(suite, build):
    if suite == "check":
        return (tools(build) + criterion(build, "asan") + criterion(build, "debug")
                + replays(build) + scripts("tests/e2e/*", "release") + asan_scripts())
    if suite == "test":
        return criterion(build, "debug")
    if suite == "cov":
        return criterion(build, "cov")
    if suite == "crash":
        return scripts("tests/crash/*", "debug", form="scale")
    programs = [Job(s[len("tests/"):-2], "scale", "release", [f"{build}/release/{s[:-2]}"])
                for s in sorted(glob.glob("tests/bench/scale_*.c"))]
    return programs + scripts("tests/bench/scale_*", "release", form="scale")


def environment(job, build, scratch):
    env = {k: v for k, v in os.environ.items()
           if not k.startswith(("MAKE", "MFLAGS", "MARKERBED", "XDG_")) and k != "LANGUAGE"}
    env.update(
        LC_ALL="C.UTF-8", HOME=str(scratch / "home"), TMPDIR=str(scratch / "tmp"),
        BUILD=str(build), BUILD_PROGRAMS=str(build / (job.variant or "release")),
        MARKERBED=str(build / (job.variant or "release") / "markerbed"),
        MARKERBED_TEST=str(build / "debug" / "markerbed"),
        ASAN_OPTIONS="abort_on_error=1:detect_leaks=1:strict_string_checks=1",
        LSAN_OPTIONS=f"suppressions={TOP}/tests/support/lsan.supp:print_suppressions=0",
        UBSAN_OPTIONS="print_stacktrace=1",
        PYTHONPATH=str(TOP / "tests/support"), PYTHONDONTWRITEBYTECODE="1")
    for folder in ("home", "tmp"):
        (scratch / folder).mkdir(parents=True)
    return env


RUNNING = set()
LOCK = threading.Lock()


def stop_group(process):
    try:
        os.killpg(process.pid, signal.SIGKILL)
    except ProcessLookupError:
        pass


def run_to_end(job, env, log):
    """Exit code, or None if it was still running at the limit. What it started dies with it."""
    with open(log, "wb") as out:
        process = subprocess.Popen(job.command, stdin=subprocess.DEVNULL, stdout=out,
                                   stderr=subprocess.STDOUT, env=env, start_new_session=True)
        with LOCK:
            RUNNING.add(process)
        try:
            return process.wait(SECONDS_MAX[job.form])
        except subprocess.TimeoutExpired:
            return None
        finally:
            stop_group(process)
            process.wait()
            with LOCK:
                RUNNING.discard(process)


def count_criterion(job, code, text):
    found = SYNTHESIS.findall(text)
    job.skipped = len(CRITERION_SKIP.findall(text))
    if not found:
        job.failed, job.said = 1, f"did not reach its end ({ended(code)})"
        return
    tested, passing, _, _ = map(int, found[-1])
    job.passed, job.failed = passing, tested - passing
    if job.failed:
        job.said = f"{job.failed} of {tested} tests failed"
    elif tested + job.skipped == 0:
        job.failed, job.said = 1, "ran no test"
    elif code != 0 or SANITIZER.search(text):
        job.failed, job.said = 1, f"every test passed, yet {ended(code)}"


def count_script(job, code, text):
    lines = text.rstrip().split("\n")
    closing = CLOSING.match(lines[-1]) if job.form in ("script", "scale") else None
    if code == 77:
        job.skipped, job.said = 1, "skipped: " + lines[-1][:100]
    elif closing and code is not None:
        job.passed, job.failed, job.skipped = (int(n or 0) for n in closing.groups())
        if code != 0 and not job.failed:
            job.failed = 1
        if code == 0 and job.failed == job.passed == job.skipped == 0:
            job.failed, job.said = 1, "ran no test"
    elif code == 0:
        job.passed = 1
    else:
        job.failed = 1
    if code == 0 and job.failed and not job.said:
        job.said = "exited 0 though it counted failures"
    if job.variant == "asan" and not job.failed and SANITIZER.search(text):
        job.failed, job.said = 1, "the sanitizer spoke up"
    if job.failed and not job.said:
        job.said = ended(code)


def ended(code):
    if code is None:
        return "still running at the time limit"
    return f"killed by signal {-code}" if code < 0 else f"exit {code}"


def run(job, build):
    scratch = build / "test-tmp" / job.key.replace("/", "-")
    job.log = build / "test-logs" / (job.key.replace("/", "-") + ".log")
    shutil.rmtree(scratch, ignore_errors=True)
    start = time.monotonic()
    try:
        code = run_to_end(job, environment(job, build, scratch), job.log)
        text = re.sub(r"\x1b\[[0-9;]*m", "", job.log.read_text(errors="replace"))
        (count_criterion if job.form == "criterion" else count_script)(job, code, text)
    except OSError as e:
        job.failed, job.said = 1, f"could not be run: {e}"
        job.log.write_text(job.said + "\n")
    job.seconds = time.monotonic() - start
    if not job.failed:
        shutil.rmtree(scratch, ignore_errors=True)
    return job


def row(job):
    counts = f"{job.passed} passed"
    if job.failed:
        counts += f", {job.failed} FAILED"
    if job.skipped:
        counts += f", {job.skipped} skipped"
    note = f"  {job.said}" if job.said else ""
    return f"{job.name:<44} {job.variant:<8} {job.seconds:7.2f} s  {counts}{note}"


def run_all(jobs, build, workers):
    """Longest first, as the last run had it, so that the end is not spent on one."""
    logs = build / "test-logs"
    logs.mkdir(parents=True, exist_ok=True)
    known = logs / "seconds.json"
    try:
        seconds = json.loads(known.read_text())
    except (OSError, ValueError):
        seconds = {}
    order = sorted(jobs, key=lambda j: -seconds.get(j.key, 1e9 if j.form == "script" else 5))
    with concurrent.futures.ThreadPoolExecutor(workers) as pool:
        for done in concurrent.futures.as_completed(pool.submit(run, j, build) for j in order):
            job = done.result()
            seconds[job.key] = round(job.seconds, 2)
            print(("FAIL  " if job.failed else "  ok  ") + job.key, flush=True)
    known.write_text(json.dumps(seconds, indent=1, sort_keys=True))


def show_tables(jobs):
    """What a script asks to be seen in every run, between lines "==== NAME" and "====": a table."""
    for job in jobs:
        text = job.log.read_text(errors="replace") if job.log and job.form == "script" else ""
        for name, table in re.findall(r"^==== ([^\n]+)\n(.*?)^====$", text, re.M | re.S):
            print(f"\n{name} ({job.key})\n{table.rstrip()}")


def report(jobs):
    bad = [job for job in jobs if job.failed]
    show_tables(jobs)
    for job in bad:
        lines = job.log.read_text(errors="replace").rstrip().split("\n")
        print(f"\n---- {job.key}: {job.said}; the end of {os.path.relpath(job.log)}:")
        print("\n".join(lines[-TAIL_LINES:]))
    print("\n" + "\n".join(row(job) for job in jobs))
    if bad:
        print("\nFailed: " + ", ".join(job.key for job in bad))
    passed, failed, skipped = (sum(getattr(job, what) for job in jobs)
                               for what in ("passed", "failed", "skipped"))
    print(f"\n{passed} passed, {failed} failed" + (f", {skipped} skipped" if skipped else ""))
    return 1 if failed or passed == 0 else 0


def stopped(number, _frame):
    with LOCK:
        for process in RUNNING:
            stop_group(process)
    os._exit(128 + number)


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--build", default="build")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("suite", choices=["check", "test", "cov", "crash", "scale"])
    parser.add_argument("only", nargs="*", help="run what has one of these in its name")
    args = parser.parse_args()
    os.chdir(TOP)
    build = Path(args.build).resolve()
    signal.signal(signal.SIGINT, stopped)
    signal.signal(signal.SIGTERM, stopped)
    jobs = [j for j in choose(args.suite, build)
            if not args.only or any(part in j.key for part in args.only)]
    if not jobs:
        print("There is no such test." if args.only else "There are no tests here yet.")
        print("\n0 passed, 0 failed")
        return 1
    run_all(jobs, build, args.jobs)
    return report(jobs)


if __name__ == "__main__":
    sys.exit(main())
