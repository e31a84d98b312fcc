#!/usr/bin/env python3
"""The page that checks certificates, in headless Chromium, opened from a file and without a
network:
sheets as PDF (the program's own, and as qpdf writes them anew) and HTML, the fingerprint, keyboard,
large print, contrast, and a browser that lacks Ed25519. What the page says of the corpus is in
verifiers_agree.py."""
import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile

TOP = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(TOP / "tests/verifiers"))
import browser  # noqa: E402
from corpus_files import in_jws, flip  # noqa: E402
from corpus_keys import founding  # noqa: E402
from scenario import issue, story  # noqa: E402

PROGRAM = os.environ.get("MARKERBED", str(TOP / "build/markerbed"))
COUNT = {True: 0, False: 0}


def claim(text, fact, more=""):
    COUNT[bool(fact)] += 1
    if not fact:
        print("FAILED: %s %s" % (text, more))


class Bench:
    """The page, a folder, and the files that all parts use."""

    def __init__(self, folder):
        self.folder = pathlib.Path(folder)
        text, how = browser.page_text(TOP / "schema", PROGRAM)
        print("the page:", how)
        self.page = browser.Page(self.write("page.html", text))
        self.run = self.page.browser.run
        self.ledger = story()
        self.trust = self.write("known.trust", self.ledger.trust())
        self.good = self.write("good.json", json.dumps(self.ledger.certify()))
        forged = issue()
        in_jws(forged, lambda p: p[:2] + [flip(p[2], 3)])
        self.forged = self.write("forged.json", json.dumps(forged))

    def write(self, name, content):
        path = self.folder / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    def judge(self, *paths, fingerprint=""):
        return self.page.judge(paths, fingerprint)

    def text(self):
        return self.run("return document.getElementById('result').innerText")

    def program(self, path):
        return subprocess.run([PROGRAM, "verify", "--json", "--trust", self.trust, path],
                              capture_output=True).returncode


def qpdf(*words):
    done = subprocess.run(["qpdf", *map(str, words)], capture_output=True)
    assert done.returncode in (0, 3), done.stderr.decode()


def papers(bench):
    sheet = bench.folder / "sheet.pdf"
    done = subprocess.run([PROGRAM, "sheet", "--reprint", bench.good, "--out", sheet],
                          capture_output=True)
    claim("the program prints the sheet", done.returncode == 0, done.stderr.decode())
    if done.returncode:
        qpdf("--empty", sheet, "--add-attachment", bench.good, "--filename=certificate.json", "--")
    ways = {"as printed": [], "objects packed": ["--object-streams=generate"],
            "nothing packed": ["--object-streams=disable", "--stream-data=uncompress"],
            "for reading by eye": ["--qdf"], "linearized": ["--linearize"]}
    for name, how in ways.items():
        again = bench.folder / "again.pdf"
        qpdf(sheet, again, *how)
        found = bench.judge(bench.trust, again)[0]
        claim("PDF, " + name, found == 0 == bench.program(again), found)
        claim("and the page is to be compared", "compare the page" in bench.text())
    other, bare = bench.folder / "other.pdf", bench.folder / "bare.pdf"
    qpdf(sheet, bare, "--remove-attachment=certificate.json")
    qpdf(bare, other, "--add-attachment", bench.forged, "--filename=certificate.json", "--")
    claim("PDF with a forged certificate", bench.judge(bench.trust, other)[0] == 1
          == bench.program(other))
    qpdf(sheet, other, "--add-attachment", bench.forged, "--key=second",
         "--filename=certificate.json", "--")
    claim("PDF with two different certificates", bench.judge(bench.trust, other)[0] == 2
          == bench.program(other), bench.program(other))
    claim("PDF without one", bench.judge(bench.trust, bare)[0] == 2 == bench.program(bare))
    qpdf(sheet, other, "--encrypt", "a", "b", "256", "--")
    claim("encrypted PDF", bench.judge(bench.trust, other)[0] == 2 == bench.program(other))
    cut = bench.write("cut.pdf", sheet.read_bytes()[:2000])
    claim("PDF cut short", bench.judge(bench.trust, cut)[0] == 2 == bench.program(cut))


def pages(bench):
    data = bench.good.read_text().replace("<", "\\u003c")
    script = '<script type="application/json" id="certificate">%s</script>' % data
    html = "<!doctype html><html><body><h1>A slab, wholly original</h1>%s</body></html>"
    page = bench.write("sheet.html", html % script)
    claim("HTML sheet", bench.judge(bench.trust, page)[0] == 0)
    claim("what the sheet shows is to be compared", "not what the page shows" in bench.text())
    claim("and is not believed", "wholly original" not in bench.text())
    claim("HTML with two",
          bench.judge(bench.trust, bench.write("two.html", html % (script * 2)))[0] == 2)
    claim("HTML without", bench.judge(bench.trust, bench.write("none.html", html % ""))[0] == 2)
    name = "<img src=x onerror='document.title=1'><script>document.title=2</script>"
    ledger = story(**founding(name=name))
    evil = bench.write("evil.json", json.dumps(ledger.certify()))
    bench.judge(bench.write("evil.trust", ledger.trust()), evil)
    claim("markup in a file is shown as text", name in bench.text()
          and bench.run("return document.title") not in ("1", "2")
          and not bench.run("return document.querySelector('#result script, #result img')"))


def fingerprints(bench):
    whole = bench.ledger.fingerprint()
    typed = " ".join(whole[i:i + 4].upper() for i in range(0, 52, 4))
    claim("unknown ledger", bench.judge(bench.good)[0] == 3)
    claim("it shows the fingerprint in groups", typed.lower() in bench.text())
    claim("the fingerprint typed in groups", bench.judge(bench.good, fingerprint=typed)[0] == 0)
    claim("another fingerprint", bench.judge(bench.good, fingerprint=whole[1:] + "a")
          == (1, {"other-fingerprint", "unwitnessed"}))
    bench.judge(bench.good)
    bench.page.browser.type("#fingerprint", typed)
    bench.run("return new Promise((done) => setTimeout(done, 1500))")
    claim("typing it after the file", bench.run("return document.body.dataset.exit") == "0")
    claim("two files at once", bench.judge(bench.trust, bench.good, bench.forged)[0] == 1)


def what_is_said(bench):
    bench.judge(bench.trust, bench.write("w.json", json.dumps(issue(withhold=("county",)))))
    claim("what is withheld, and why", "landowner's request" in bench.text())
    bench.judge(bench.trust, bench.write("p.json", json.dumps(issue(audience="public"))))
    claim("a public file is none for a sale", "not a disclosure for a sale" in bench.text())
    bench.judge(bench.trust, bench.write("a.json", json.dumps(issue(lines=lambda ls: ls + [
        {"name": "standing", "value": "no question known", "attested": True}]))))
    said = bench.text()
    claim("what is only attested", re.search("What the issuer only says.*no question known", said,
                                             re.S))
    claim("who signed, by the name shown", "a preparator (party/P002): signed 3" in said)
    claim("as of a day", "As of 2026-01-01; says nothing of later." in said)
    claim("unwitnessed", "the ledger's own word" in said)
    for forbidden in "authentic", "guaranteed", "legal find":
        claim("never " + forbidden, forbidden not in said.lower())


def press(driver, keys):
    driver.call("POST", "/actions", {"actions": [{"type": "key", "id": "keyboard", "actions": [
        {"type": kind, "value": key} for key in keys for kind in ("keyDown", "keyUp")]}]})


def walk(bench):
    """From the top of the page, with the keyboard alone: each field in its order, seen where it is,
    a fingerprint typed in, and the result read out."""
    run, driver = bench.run, bench.page.browser
    driver.open("file://" + str(bench.folder / "page.html"))
    driver.type("#files", str(bench.good))  # the file dialog itself is the browser's
    for _ in range(400):
        if run("return document.body.dataset.exit"):
            break
        run("return new Promise((done) => setTimeout(done, 10))")
    claim("the result has the focus, so that it is read next",
          run("return document.activeElement.id") == "result")
    claim("it is a region of its own with a name, and polite", run("""const r =
        document.getElementById('result'); return r.ariaLive === 'polite' && r.ariaLabel !== ''
        && r.tagName === 'SECTION' && r.querySelector('h2').id === 'verdict'"""))
    run("document.activeElement.blur(); window.getSelection().collapse(document.body, 0);")
    reached, outlines = [], []
    for _ in range(3):
        press(driver, "\ue004")
        reached.append(run("return document.activeElement.id"))
        outlines.append(run("const s = getComputedStyle(document.activeElement);"
                            "return s.outlineStyle === 'solid' ? parseFloat(s.outlineWidth) : 0"))
    claim("Tab reaches the fields in their order", reached == ["files", "fingerprint", "code"],
          reached)
    claim("and shows where it is", min(outlines) >= 2, outlines)
    driver.call("POST", "/actions", {"actions": [{"type": "key", "id": "keyboard", "actions": [
        {"type": "keyDown", "value": "\ue008"}, {"type": "keyDown", "value": "\ue004"},
        {"type": "keyUp", "value": "\ue004"}, {"type": "keyUp", "value": "\ue008"}]}]})
    press(driver, bench.ledger.fingerprint())
    run("return new Promise((done) => setTimeout(done, 1500))")
    claim("a fingerprint typed there is taken", run("return document.body.dataset.exit") == "0")
    claim("each field says what it is for", run("""return [...document.querySelectorAll('input')]
        .every((i) => document.getElementById(i.getAttribute('aria-describedby')))"""))
    claim("signs are hidden from who listens, pictures have words", run(
        "return [...document.querySelectorAll('.sign')].every((s) => s.ariaHidden === 'true')"
        " && [...document.querySelectorAll('img')].every((i) => i.alt !== '')"))


def hands_and_eyes(bench):
    run, driver = bench.run, bench.page.browser
    run("document.activeElement.blur(); window.focus(); document.body.focus();")
    walk(bench)
    claim("each field has its label", run("""return [...document.querySelectorAll('input')].every(
        (i) => i.labels.length || document.getElementById(i.getAttribute('aria-labelledby')))"""))
    claim("the result is announced",
          run("return document.getElementById('result').ariaLive") == "polite")
    claim("headings go down one step at a time", run("""let last = 0;
        return [...document.querySelectorAll('h1, h2, h3')].every((h) => {
        const good = +h.tagName[1] <= last + 1; last = +h.tagName[1]; return good; })"""))
    claim("nothing was asked of a network",
          run("return performance.getEntriesByType('resource').length") == 0)
    for scheme in "light", "dark":
        driver.call("POST", "/goog/cdp/execute", {"cmd": "Emulation.setEmulatedMedia", "params": {
            "features": [{"name": "prefers-color-scheme", "value": scheme}]}})
        for what, path in (("good", bench.good), ("forged", bench.forged)):
            bench.judge(bench.trust, path)
            worst = min(run(CONTRAST))
            claim("contrast of %s in %s at least 4.5 (WCAG 2 1.4.3)" % (what, scheme),
                  worst >= 4.5, worst)
    for width in 640, 320:  # 1280 at 200 and at 400 %: WCAG 2 1.4.10
        driver.call("POST", "/goog/cdp/execute",
                    {"cmd": "Emulation.setDeviceMetricsOverride", "params": {
            "width": width, "height": 800, "deviceScaleFactor": 1, "mobile": False}})
        claim("no sideways scrolling at %d" % width,
              run("return document.documentElement.scrollWidth") <= width)


CONTRAST = """
const numbers = (c) => c.match(/[0-9.]+/g).map(Number);
const light = (c) => numbers(c).slice(0, 3).map((v) => v / 255).map((v) => v <= 0.03928 ? v / 12.92
    : ((v + 0.055) / 1.055) ** 2.4).reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
const behind = (e) => {
    for (; e; e = e.parentElement) { const c = getComputedStyle(e).backgroundColor;
    if ((numbers(c)[3] ?? 1) > 0) return c; } return "rgb(255,255,255)"; };
return [...document.querySelectorAll("body *")].filter((e) => e.offsetParent
    && [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim())).map((e) => {
    const a = light(getComputedStyle(e).color), b = light(behind(e));
    return (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05); });
"""


def old_browser(bench):
    bench.run("""window.kept = crypto.subtle.importKey;
        crypto.subtle.importKey = () => Promise.reject(
        new DOMException('Unrecognized name', 'NotSupportedError'));""")
    claim("without Ed25519 it cannot be checked", bench.judge(bench.good)[0] == 3)
    claim("and it says what to do", "Use a newer browser" in bench.text())
    bench.run("crypto.subtle.importKey = window.kept;")


def words():
    data = json.loads((TOP / "schema/page/words.json").read_text())
    severity, listed = None, {}
    for line in (TOP / "docs/findings.md").read_text().split("\n"):
        heading = re.match(r"## (\w+)", line)
        row = re.match(r"\| `(.+?)` \| (.*) \| (.*) \|$", line)
        severity = heading[1] if heading else severity
        if row:
            listed[row[1]] = {"severity": severity, "means": row[2], "mend": row[3]}
    for name, finding in data["findings"].items():
        claim("the words of " + name, listed.get(name) == finding, listed.get(name))
    used = "".join(path.read_text() for path in (TOP / "schema/page").iterdir()
                   if path.suffix in (".js", ".html"))
    for name in data["words"]:
        family = re.sub(r"(?:-\w+|\d)$", "", name)
        claim("%s is used" % name, '"%s' % family in used, name)


def main():
    if not browser.there():
        print("no chromium here")
        return 77
    words()
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(folder)
        try:
            for part in papers, pages, fingerprints, what_is_said, old_browser, hands_and_eyes:
                part(bench)
        finally:
            bench.page.browser.close()
    print("%d passed, %d failed" % (COUNT[True], COUNT[False]))
    return COUNT[False] > 0


if __name__ == "__main__":
    sys.exit(main())
