#!/usr/bin/env python3
"""Every verifier gives every case of the corpus the verdict, and the findings, that it deserves.

The corpus is written anew by tests/verifiers/corpus.py into $BUILD/corpus; what each case deserves
is said there. The verifiers: tests/verifiers/verify.py, written from docs/format.md alone; the
program ($MARKERBED verify --json); and the page, opened from a file in headless Chromium, which is
given the files as a person would choose them. Prints the table case x verifier.
"""
import concurrent.futures
import json
import os
import pathlib
import subprocess
import sys

TOP = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(TOP / "tests/verifiers"))
import browser  # noqa: E402
import corpus  # noqa: E402
import verify  # noqa: E402

FOLDER = pathlib.Path(os.environ.get("BUILD", TOP / "build")) / "corpus"
PROGRAM = os.environ.get("MARKERBED", str(TOP / "build/markerbed"))
WORDS = {0: "holds", 1: "does not hold", 2: "no certificate", 3: "not checked"}

# Where a verifier may say something else, and why. None is known today.
DIFFERENCES = {}  # (verifier, case): (exit code, reason)


def by_python(case):
    code, _, findings = verify.judge(case["files"], case["trust"])
    return code, {name for name, _ in findings}


def by_program(case):
    done = subprocess.run([PROGRAM, "verify", "--json", "--trust", case["trust"], *case["files"]],
                          capture_output=True, timeout=120)
    findings = set()
    if done.returncode in (0, 1, 3):
        answer = json.loads(done.stdout)
        findings = {finding["name"] for finding in answer.get("result", answer)["findings"]}
    return done.returncode, findings


class ByPage:
    def __init__(self):
        text, how = browser.page_text(TOP / "schema", PROGRAM)
        path = FOLDER / "verify.html"
        path.write_text(text)
        print("the page:", how)
        self.page = browser.Page(path.resolve())

    def __call__(self, case):
        return self.page.judge([os.path.abspath(f) for f in [case["trust"], *case["files"]]])


def judged(name, run, case):
    """A cell of the table, and what is wrong with it."""
    code, findings = run(case)
    deserved, _ = DIFFERENCES.get((name, case["name"]), (case["exit"], ""))
    missing = set(case["findings"]) - findings
    cell = WORDS.get(code, "crashed: %d" % code)
    if code != deserved:
        return cell, "%s says %s (%s)" % (name, cell, " ".join(sorted(findings)))
    if missing and deserved == case["exit"]:
        return cell, "%s does not find %s" % (name, " ".join(sorted(missing)))
    if findings & set(case["not"]):
        return cell, "%s says %s" % (name, " ".join(sorted(findings & set(case["not"]))))
    return cell, None


def table(cases, verifiers):
    """The rows: each a list of judged()."""
    with concurrent.futures.ThreadPoolExecutor(len(verifiers)) as pool:
        columns = [pool.submit(lambda n=name, r=run: [judged(n, r, case) for case in cases])
                   for name, run in verifiers.items()]
        return list(zip(*(column.result() for column in columns)))


def show(cases, rows, verifiers):
    width, failed = max(len(case["name"]) for case in cases), 0
    print("==== The corpus, verifier by verifier")
    print("%-*s  %-14s" % (width, "case", "deserves"), *("%-14s" % name for name in verifiers))
    for case, row in zip(cases, rows):
        print("%-*s  %-14s" % (width, case["name"], WORDS[case["exit"]]),
              *("%-14s" % cell for cell, _ in row))
        wrong = [text for _, text in row if text]
        print("".join("    WRONG: %s\n" % text for text in wrong), end="")
        failed += bool(wrong)
    print("====")
    return failed


# What somebody would try first, and the case of the corpus that tries it.
ATTACKS = {
    "two stories told to two people": "forked-two-stories",
    "a ledger put back and written anew": "rolled-back-and-written-anew",
    "a ledger of the same name with other keys": "swapped-ledger-of-the-same-name",
    "an entry dated back": "entry-clock-backwards",
    "a chain cut short": "left-out-specimen-first",
    "a certificate replayed for another specimen": "replayed-for-another-specimen",
    "the tail of a chain left out": "left-out-site-tail",
    "a disclosure cut away": "disclosure-cut",
    "a withdrawn certificate proved anew under today's checkpoint": "withdrawn-and-proved-anew",
    "a field for the buyer withheld by the issuer": "withheld-unsaid-sale",
    "a key that enrols itself": "enrols-itself",
    "a second founding": "second-founding",
    "an unknown kind that changes things": "kind-unknown-changes",
}


def show_attacks(cases, rows, verifiers):
    """False if one of them is not in the corpus, or is taken for good."""
    whole, found = True, {case["name"]: (case, row) for case, row in zip(cases, rows)}
    print("==== Attacks")
    print("%-62s  %s" % ("attack", "  ".join("%-14s" % name for name in verifiers)), "found")
    for attack, name in ATTACKS.items():
        names = [full for full in found if full == name or full.endswith("-" + name)]
        case, row = found[names[0]] if names else ({"exit": 0, "findings": []}, [])
        whole = whole and case["exit"] != 0 and bool(case["findings"])
        print("%-62s  %s" % (attack, "  ".join("%-14s" % cell for cell, _ in row)),
              " ".join(case["findings"]) or "NOT IN THE CORPUS")
    print("====")
    return whole


def main():
    known = {path.stem for path in (TOP / "schema/kinds").glob("*.json")} - {"common"}
    same_kinds = known == verify.KINDS
    if not same_kinds:
        print("WRONG: the kinds differ:", known ^ verify.KINDS)
    cases = corpus.write(FOLDER)
    verifiers = {"python": by_python, "markerbed": by_program}
    if browser.there():
        verifiers["page"] = ByPage()
    else:
        print("no chromium here: the page is not asked")
    try:
        rows = table(cases, verifiers)
        failed = show(cases, rows, verifiers) + (not same_kinds)
        failed += not show_attacks(cases, rows, verifiers)
    finally:
        if "page" in verifiers:
            verifiers["page"].page.browser.close()
    print("%d passed, %d failed%s" % (len(cases) + 2 - failed, failed,
                                      "" if "page" in verifiers else ", 1 skipped"))
    return failed > 0


if __name__ == "__main__":
    sys.exit(main())
