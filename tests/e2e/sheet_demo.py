#!/usr/bin/python3
"""The demo's sheets. What a seller sees before signing is what the buyer will get: each is looked
at first and issued then, and the two are compared by Poppler's text of the pages and by Python's
own HTML reader. They may differ in the mark, in what names the certificate (its identity, the
code, the fingerprint), in the signature and in nothing else.

A preview leaves nothing in the ledger, and nothing of it can be taken for a certificate: no file
inside (pdfdetach), no code that reads (zbarimg), no script, no fingerprint.

The web pages are looked at in Chromium: on a phone they need not be pushed sideways, no letters are
too small, and printed they leave no page half white before a drawing."""

import base64
import hashlib
import html.parser
import pathlib
import re
import sqlite3
import subprocess
import sys
import tempfile

from _lab import TOP, Claims
from demo import play
from handover import Demo

sys.path.insert(0, str(TOP / "tests/verifiers"))
import browser  # noqa: E402

MARK = "PREVIEW, not signed"
SHEETS = [  # what is asked for, and the name of its files
    (["24-0125", "--to", "P005"], "24-0125"),
    (["24-0115", "--to", "P005", "--paper", "Letter"], "24-0115"),
    (["24-0117", "--to", "bearer", "--withhold", "stateProvince", "--because",
      "landowner's request"], "24-0117"),
    (["24-0141", "--to", "bearer"], "24-0141"),
    (["24-0300", "24-0301", "24-0302", "--together", "--to", "bearer", "--unmarked"],
     "24-0300-and-2-more"),
    (["24-0130", "--to", "P006", "--audience", "institution"], "24-0130"),
]
GROUPS = re.compile(r"\b(?:[a-z2-7]{4} ){12}[a-z2-7]{4}\b")


def outside(*command):
    return subprocess.run(list(map(str, command)), capture_output=True, check=False)


class Page(html.parser.HTMLParser):
    def __init__(self, text):
        super().__init__()
        self.inside, self.words, self.tags = None, [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.inside = tag
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        if self.inside not in ("script", "style", "title"):
            self.words.append(data)


def paper_text(pdf):
    text = outside("pdftotext", "-raw", pdf, "-").stdout.decode()
    return re.sub(r"\s+", " ", text)


def web_text(path):
    return re.sub(r"\s+", " ", " ".join(Page(path.read_text()).words))


def bare(text):
    """Without what is of a certificate, or of a preview, alone."""
    for pattern in (
            rf"{MARK} · \S+ · number \S+ · page \d+",
            r"\S+ · number \S+ · page \d+ · entry \d+ [\w-]{43}",
            r"Certificate [\w-]{43}, entry \d+",
            rf"{MARK}\. The code comes here\.",
            rf"{MARK}\. The fingerprint comes here, in groups of four letters\.",
            rf"({MARK}\. Signed until now|Signed) by:.*?(?=What can be worked out)",
            MARK, GROUPS.pattern):
        text = re.sub(pattern, " ", text)
    return re.sub(r"\s+", " ", text).strip()


def ledger_of(folder):
    """All files beside the database, and every row in it but of the views, which anybody who looks
    has brought up to date."""
    files = {path.relative_to(folder): hashlib.sha256(path.read_bytes()).hexdigest()
             for path in sorted((folder / "ledger").rglob("*"))
             if path.is_file() and not path.name.startswith("ledger.db")}
    db = sqlite3.connect(folder / "ledger/ledger.db")
    tables = [name for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'"
                                             " AND name NOT GLOB 'v_*' ORDER BY name")]
    rows = {table: db.execute(f"SELECT * FROM {table}").fetchall() for table in tables}
    db.close()
    return files, rows


def check_marked(claims, name, base):
    pdf, web = pathlib.Path(f"{base}.pdf"), pathlib.Path(f"{base}.html")
    claims(f"{name}: qpdf finds nothing", outside("qpdf", "--check", pdf).returncode == 0)
    pages = outside("pdftotext", "-raw", pdf, "-").stdout.decode().split("\f")[:-1]
    claims(f"{name}: every page is marked", pages and all(MARK in page for page in pages))
    claims(f"{name}: no certificate is inside",
           b"0 embedded" in outside("pdfdetach", "-list", pdf).stdout)
    claims(f"{name}: and no fingerprint", not GROUPS.search(paper_text(pdf)))
    with tempfile.TemporaryDirectory() as folder:
        outside("pdftoppm", "-r", "150", "-gray", pdf, f"{folder}/page")
        codes = outside("zbarimg", "-q", "--raw", *sorted(pathlib.Path(folder).iterdir()))
    claims(f"{name}: no code on it reads", codes.stdout == b"", codes.stdout)
    page = Page(web.read_text())
    claims(f"{name}: the web page is marked too", " ".join(page.words).count(MARK) >= 3)
    claims(f"{name}: nothing of a certificate is in it",
           not any(tag == "script" for tag, _ in page.tags)
           and not GROUPS.search(" ".join(page.words)))


def check_one(claims, demo, words, name):
    before = ledger_of(demo.folder)
    done = demo.run("sheet", *words, "--preview", "--out", "looking")
    claims(f"{name}: a preview", done.returncode == 0, done.stderr)
    claims(f"{name}: it says where the page is in one line",
           f"looking/{name}.preview.pdf" in re.sub(r"\s+", " ", done.stdout), done.stdout[-500:])
    claims(f"{name}: nothing of the ledger has changed",
           ledger_of(demo.folder) == before and len(before[1]["log"]) > 200)
    again = demo.run("sheet", *words, "--preview", "--out", "looking")
    claims(f"{name}: looked at again, it is written over", again.returncode == 0, again.stderr)
    seen = demo.folder / "looking" / f"{name}.preview"
    check_marked(claims, name, seen)
    done = demo.run("sheet", *words, "--out", "signed")
    claims(f"{name}: issued", done.returncode == 0, done.stderr)
    issued = demo.folder / "signed" / name
    for ending, read in (("pdf", paper_text), ("html", web_text)):
        looked_at = bare(read(pathlib.Path(f"{seen}.{ending}")))
        signed = bare(read(pathlib.Path(f"{issued}.{ending}")))
        at = next((n for n, (a, b) in enumerate(zip(looked_at, signed)) if a != b), 0)
        claims(f"{name}.{ending}: what was seen is what is signed",
               looked_at == signed and len(signed) > 1000,
               (looked_at[at - 60:at + 60], signed[at - 60:at + 60]))


def check_refused(claims, demo):
    """What would be refused is seen all the same; what a rule bars is not."""
    done = demo.run("sheet", "24-0300", "--to", "bearer", "--preview", "--out", "looking")
    claims("a sheet that lacks what ties it to the piece: it says so",
           done.returncode == 0 and "would not be issued like this" in
           re.sub(r"\s+", " ", done.stdout), done.stdout[-500:])
    done = demo.run("sheet", "24-0150", "--to", "bearer", "--preview", "--out", "looking")
    claims("a casual find from public land: no preview of a sale either", done.returncode == 2)
    claims("and none is left", not (demo.folder / "looking/24-0150.preview.pdf").exists())
    done = demo.run("sheet", "24-0117", "--preview", "--out", "photos/plate-front.jpg/x")
    claims("a folder that cannot be: refused", done.returncode in (2, 3), done.stderr)
    for key in ("MARKERBED_KEY", "MARKERBED_PASSPHRASE_FILE"):
        demo.env.pop(key)
    done = demo.run("sheet", "24-0117", "--preview", "--out", "keyless")
    claims("no key is asked for", done.returncode == 0, done.stderr)


def reach_of(raster):
    """How far down a page (a PGM of Poppler's, without comments) anything is printed, 0 to 1."""
    _, wide, high, _, pixels = re.match(rb"(P5)\s+(\d+)\s+(\d+)\s+(\d+)\s(.*)", raster,
                                        re.S).groups()
    wide, high = int(wide), int(high)
    rows = [y for y in range(high) if min(pixels[y * wide:(y + 1) * wide]) < 200]
    return (max(rows) + 1) / high if rows else 0


def check_printed(claims, view, folder, name):
    pdf = folder / f"{name}.web.pdf"
    pdf.write_bytes(base64.b64decode(view.call("POST", "/print", {})))
    outside("pdftoppm", "-r", "25", "-gray", pdf, folder / f"{name}.web")
    reaches = [reach_of(page.read_bytes()) for page in sorted(folder.glob(f"{name}.web-*.pgm"))]
    texts = outside("pdftotext", "-raw", pdf, "-").stdout.decode().split("\f")
    short = [reach for reach, text in zip(reaches, texts)
             if reach < 0.6 and not re.search(r"Certificate [\w-]{43}, entry \d+", text)]
    claims(f"{name}.html printed: no page but the last of a piece is left half white",
           reaches and not short, reaches)


def check_web(claims, demo):
    if not browser.there():
        print("not looked at: the web pages, for there is no Chromium here")
        return
    view = browser.Browser(width=390, height=800)
    try:
        for _, name in SHEETS:
            view.open(f"file://{demo.folder}/signed/{name}.html")
            wide, seen, small = view.run(
                "return [document.documentElement.scrollWidth,"
                " document.documentElement.clientWidth,"
                " Math.min(...[...document.querySelectorAll('dd,dt,p,li,td,th,figcaption')]"
                ".map(e => parseFloat(getComputedStyle(e).fontSize)))]")
            claims(f"{name}.html: a phone need not be pushed sideways", wide <= seen, (wide, seen))
            claims(f"{name}.html: no letters below 10 points", small >= 10 * 96 / 72, small)
            marks = view.run("return [...document.querySelectorAll('img.mark')]"
                             ".map(e => e.getBoundingClientRect().width)")
            claims(f"{name}.html: photos of marks are as wide as the phone",
                   all(mark > 300 for mark in marks)
                   and (len(marks) == 3 or name.startswith("24-03") or name == "24-0130"), marks)
            check_printed(claims, view, demo.folder, name)
    finally:
        view.close()


def main():
    claims = Claims()
    with tempfile.TemporaryDirectory() as temporary:
        folder = pathlib.Path(temporary)
        (folder / "demo").mkdir()
        if play(claims, folder / "demo"):
            demo = Demo(folder / "demo")
            (demo.folder / "scratch").mkdir(exist_ok=True)
            for words, name in SHEETS:
                check_one(claims, demo, words, name)
            check_web(claims, demo)
            check_refused(claims, demo)
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
