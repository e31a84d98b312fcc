#!/usr/bin/env python3
"""The page that checks certificates, in headless Firefox, opened from a file and without a network:
good, forged, withheld and of an unknown ledger; as JSON, PDF and HTML; and every case of the
corpus, as in Chromium. Skipped where there is no Firefox: the checks need none."""
import json
import os
import pathlib
import subprocess
import sys
import tempfile

TOP = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(TOP / "tests/verifiers"))
sys.path.insert(0, str(TOP / "tests/e2e"))
import browser  # noqa: E402
import corpus  # noqa: E402
import firefox  # noqa: E402
from _lab import PROGRAM, Claims  # noqa: E402
from corpus_files import flip, in_jws  # noqa: E402
from scenario import issue, story  # noqa: E402

claims = Claims()


def sheets(page, folder):
    ledger = story()
    trust, good = folder / "known.trust", folder / "good.json"
    trust.write_text(ledger.trust())
    good.write_text(json.dumps(ledger.certify()))
    forged = issue()
    in_jws(forged, lambda p: p[:2] + [flip(p[2], 3)])
    (folder / "forged.json").write_text(json.dumps(forged))
    (folder / "withheld.json").write_text(json.dumps(issue(withhold=("county",))))
    for ending in "pdf", "html":
        subprocess.run([PROGRAM, "sheet", "--reprint", good, "--out", folder / f"sheet.{ending}"],
                       check=True, capture_output=True)
    for name, files, code, words in (
            ("good", [trust, good], 0, "Everything in this file fits"),
            ("a PDF sheet", [trust, folder / "sheet.pdf"], 0, "compare the page"),
            ("an HTML sheet", [trust, folder / "sheet.html"], 0, "not what the page shows"),
            ("forged", [trust, folder / "forged.json"], 1, "This file does not hold"),
            ("withheld", [trust, folder / "withheld.json"], 0, "landowner's request"),
            ("of an unknown ledger", [good], 3, "now compare the fingerprint")):
        found, said = page.judge(files)
        text = page.browser.run("return document.getElementById('result').innerText")
        claims(f"{name}: exit {code}", found == code, (found, said))
        claims(f"{name}: {words}", words in text, text)
        if os.environ.get("PAGES"):
            page.browser.screen(os.path.join(os.environ["PAGES"], f"firefox-{name}.png"))
    claims("nothing was asked of a network", page.browser.run(
        "return performance.getEntriesByType('resource').length") == 0)
    page.browser.call("WebDriver:SetWindowRect", {"width": 500, "height": 900})
    claims("no sideways scrolling on a phone", page.browser.run(
        "return document.documentElement.scrollWidth <= innerWidth"))


def main():
    if not firefox.program():
        print("no Firefox here: the page is not opened in it")
        return 77
    with tempfile.TemporaryDirectory(dir="/tmp") as name:
        folder = pathlib.Path(name)
        text, _ = browser.page_text(TOP / "schema", PROGRAM)
        (folder / "page.html").write_text(text)
        page = firefox.FirefoxPage(folder / "page.html")
        try:
            print(page.browser.run("return navigator.userAgent"))
            sheets(page, folder)
            for case in corpus.write(folder / "corpus"):
                found, said = page.judge([case["trust"], *case["files"]])
                claims(f"{case['name']}: {case['exit']}", found == case["exit"]
                       and set(case["findings"]) <= said and not said & set(case["not"]),
                       (found, said))
        finally:
            page.browser.close()
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
