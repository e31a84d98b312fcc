#!/usr/bin/env python3
"""Sheets of what is long, odd or hostile: a name of 300 letters, 400 steps at the bench, names
written from right to left and in Chinese, photos that are cut short, lie about their size, or have
60 megapixels. What comes out is a good page or one clear sentence, in bounded memory.

A page is judged from outside: qpdf and Poppler read it (its fonts inside, no word beyond its edge,
no word on top of another), zbar finds the code on it as printed at 150 dpi, and Chromium the web
page at the width of a phone. And the same certificate printed again gives the same bytes.
"""
import base64
import hashlib
import html
import html.parser
import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile
import unicodedata

from _lab import PROGRAM, TOP, Claims, Lab
from odd_pictures import jpeg, png

sys.path.insert(0, str(TOP / "tests/verifiers"))
import browser

MEMORY_MOST_KIB = 128 << 10  # the budget of every command
PHONE_PX = 390


class Measured(Lab):
    """A lab whose commands are watched: the most memory that one of them took."""
    most_kib = 0

    def run(self, *words, typed=None):
        with tempfile.TemporaryFile("w+") as out, tempfile.TemporaryFile("w+") as err:
            command = [PROGRAM, "-L", self.ledger, *map(str, words)]
            child = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=out, stderr=err,
                                     env=self.env, cwd=self.folder)
            _, status, used = os.wait4(child.pid, 0)
            child.returncode = os.waitstatus_to_exitcode(status)
            Measured.most_kib = max(Measured.most_kib, used.ru_maxrss)
            out.seek(0)
            err.seek(0)
            return subprocess.CompletedProcess(command, child.returncode, out.read(), err.read())


def outside(*command):
    return subprocess.run(list(map(str, command)), capture_output=True, check=False)


# ---- a page, judged from outside ----

def boxes_of(pdf):
    """[(page's width and height, [(left, top, right, bottom, word)])]"""
    said = outside("pdftotext", "-bbox", pdf, "-").stdout.decode()
    for page in re.findall(r"<page .*?</page>", said, re.S):
        size = tuple(map(float, re.search(r'width="([\d.]+)" height="([\d.]+)"', page).groups()))
        words = [tuple(map(float, word[:4])) + (html.unescape(word[4]),) for word in re.findall(
            r'<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">(.*?)<',
            page)]
        yield size, words


def on_top(a, b):
    """Lines may touch; half a letter's height on top of another line is too much."""
    wide = min(a[2], b[2]) - max(a[0], b[0])
    high = min(a[3], b[3]) - max(a[1], b[1])
    return wide > 1 and high > 0.5 * min(a[3] - a[1], b[3] - b[1])


def check_page(claims, name, pdf):
    claims(f"{name}: qpdf finds nothing", outside("qpdf", "--check", pdf).returncode == 0)
    fonts = outside("pdffonts", pdf).stdout.decode().splitlines()[2:]
    embedded = [line.split()[-5] for line in fonts]
    claims(f"{name}: all fonts are inside", fonts and set(embedded) == {"yes"}, fonts)
    pages = list(boxes_of(pdf))
    claims(f"{name}: there are words on each page", pages and all(words for _, words in pages))
    for n, (size, words) in enumerate(pages):
        beyond = [w for w in words if w[0] < 20 or w[1] < 20 or w[2] > size[0] - 20
                  or w[3] > size[1] - 20]
        claims(f"{name}, page {n + 1}: nothing stands beyond the edge", not beyond, beyond[:5])
        words.sort(key=lambda w: w[1])
        covered = []
        for i, a in enumerate(words):
            for b in words[i + 1:]:
                if b[1] > a[3]:
                    break
                if on_top(a, b):
                    covered.append((a, b))
        claims(f"{name}, page {n + 1}: no word on top of another", not covered, covered[:5])
    return pages


def check_code(claims, name, pdf, certificate):
    leaf = hashlib.sha256(b"\0" + certificate["entries"][-1]["sd_jwt"].split("~")[0].encode())
    said = base64.urlsafe_b64encode(leaf.digest()).decode().rstrip("=")
    with tempfile.TemporaryDirectory() as folder:
        outside("pdftoppm", "-r", "150", "-gray", pdf, f"{folder}/page")
        codes = b"".join(outside("zbarimg", "-q", "--raw", page).stdout
                         for page in sorted(pathlib.Path(folder).iterdir())).decode()
    claims(f"{name}: the code reads at 150 dpi", said in codes, codes)


def check_again(claims, lab, name, base):
    for ending in ("pdf", "html"):
        again = [pathlib.Path(lab.path(f"{name}-again-{n}.{ending}")) for n in (1, 2)]
        for path in again:
            lab.do("sheet", "--reprint", f"{base}.certificate.json", "--key", "one", "--out",
                   path)
        made = [path.read_bytes() for path in (pathlib.Path(f"{base}.{ending}"), *again)]
        claims(f"{name}: {ending} printed again is the same to the byte",
               made[0] == made[1] == made[2], list(map(len, made)))
        for path in again:
            path.unlink()


def check_sheet(claims, lab, name, *more):
    """Issues a sheet and has it judged; its pages, and its text in one line."""
    out = pathlib.Path(lab.path("out"))
    lab.do("sheet", name, "--to", "bearer", "--out", out, *more)
    base = out / name
    certificate = json.loads(pathlib.Path(f"{base}.certificate.json").read_text())
    pages = check_page(claims, name, f"{base}.pdf")
    check_code(claims, name, f"{base}.pdf", certificate)
    check_again(claims, lab, name, base)
    verdict = lab.run("verify", "--trust", lab.trust(), f"{base}.pdf", f"{base}.html",
                      f"{base}.certificate.json")
    claims(f"{name}: it verifies", verdict.returncode == 0, verdict.stdout + verdict.stderr)
    text = outside("pdftotext", "-raw", f"{base}.pdf", "-").stdout.decode()
    return pages, re.sub(r"\s+", " ", unicodedata.normalize("NFKC", text))


# ---- what is recorded ----

LONG_WORD = "Pneumono" + "ultramicroscopicsilico" * 13 + "koniosis"
LONG_WORDS = " ".join(["crinoid", "with", "arms"] * 20)[:300]
NAMES = {"P002": "مريم بنت الحسن العتيبي", "P003": "王小明", "P004": "שרה בת־דוד",
         "P005": "Zoë 𝔄stra Ñandú ﬁeld"}


def record_people(lab):
    lab.record("party", "party/P001", partyType="person", name="Ada Fold", namedTo="anyone")
    for party, name in NAMES.items():
        lab.record("party", f"party/{party}", partyType="person", name=name, namedTo="anyone")


def record_site(lab):
    lab.record("site", "site/S001", siteName="Heron Draw", countryCode="US",
               stateProvince="Kansas", county="Gove", decimalLatitude="not known",
               decimalLongitude="not known", coordinateUncertaintyInMeters="not known",
               placeHeldBackBy="us")


def record_find(lab, piece, finder="party/P001", words="crinoid slab"):
    lab.record("collecting", f"specimen/{piece}", recordNumber=f"F-{piece}", recordedBy=finder,
               site="site/S001", eventDate="2024-05-02", verbatimIdentification=words,
               objectForm="slab", objectQuantity="1", quantityHow="counted",
               materialClass="invertebrate", horizon="not known", inPlace="in place",
               permission="not needed", purpose="not known", tools="not known")


def record_look(lab, piece, marks="rust spot", photos=(), **more):
    photo = [f"; photo:{path}" for path in photos] + [""] * 3
    lab.record("condition", f"specimen/{piece}", examinedOn="2024-07-02", examinedBy="party/P001",
               examinerTie="did the work", occasion="for sale", means="eye", notExamined="back",
               form="natural", frame="shares do not apply", joins="none", rock="none",
               identifyingMarks=" | ".join(f"mark:{marks} {n + 1}; where:front{photo[n]}"
                                           for n in range(3)),
               dimensions="which:length; value:90; unit:mm", mass="0.4 kg", stability="none seen",
               hazards="not examined", shares="not examined", surfaces="not examined",
               numberOnObject=piece, **more)


def write(lab, name, data):
    pathlib.Path(lab.path(name)).write_bytes(data)
    return lab.path(name)


def attach_photo(lab, piece, path):
    return lab.run("record", "note", f"specimen/{piece}", "text=its photo",
                   f"photos=file:{path}; view:front; occasion:for sale; scaleBarMm:50")


# ---- cases ----

def check_long(claims, lab):
    claims("the names are as long as they should be", len(LONG_WORD) > 290
           and len(LONG_WORDS) == 300)
    for piece, words in (("long", LONG_WORDS), ("word", LONG_WORD)):
        record_find(lab, piece, words=words)
        record_look(lab, piece, marks=words)
        claims("a photo", attach_photo(lab, piece, write(lab, "plain.jpg",
                                                         jpeg(800, 600))).returncode == 0)
        _, text = check_sheet(claims, lab, piece)
        first = words.split()[0].lower()
        claims(f"{piece}: it stands in the title, among what is recorded, in three marks",
               text.replace(" ", "").lower().count(first) == 5 * words.lower().count(first), text)


def check_marks(claims, lab):
    """Three photographed marks, one upright: each is shown, and no word lies below a picture."""
    sizes = ((640, 480), (480, 640), (1000, 300))
    record_find(lab, "marks")
    record_look(lab, "marks", photos=[write(lab, f"mark{n}.jpg", jpeg(*size))
                                      for n, size in enumerate(sizes)])
    attach_photo(lab, "marks", write(lab, "plain.jpg", jpeg(800, 600)))
    _, text = check_sheet(claims, lab, "marks")
    listed = outside("pdfimages", "-list", lab.path("out/marks.pdf")).stdout.decode()
    web = pathlib.Path(lab.path("out/marks.html")).read_text()
    claims("each mark's photo is printed", all(re.search(rf"image +{w} +{h} ", listed)
                                               for w, h in sizes), listed)
    claims("and on the web page", web.count('class="mark"') == 3 and web.count("<figcaption>") == 3)
    claims("none is said to be without a photo", "no photo of it" not in text, text)


def check_steps(claims, lab):
    record_find(lab, "steps")
    record_look(lab, "steps")
    attach_photo(lab, "steps", write(lab, "plain.jpg", jpeg(800, 600)))
    script = [{"kind": "preparation", "subject": "specimen/steps",
               "fields": {"steps": [{"method": "airscribe", "where": f"square {sitting}-{n} ."}
                                    for n in range(10)],
                          "lostInWork": "none", "preparedBy": "party/P001",
                          "preparationDate": f"2024-06-{1 + sitting % 28:02}"}}
              for sitting in range(40)]
    path = write(lab, "steps.json", json.dumps(script).encode())
    lab.do("record", "--from", path)
    pages, text = check_sheet(claims, lab, "steps")
    missing = [f"square {s}-{n} ." for s in range(40) for n in range(10)
               if f"square {s}-{n} ." not in text]
    claims("400 steps are all printed", not missing, missing[:5])
    full = [max(word[3] for word in words if word[3] < size[1] - 70) / size[1]
            for size, words in pages[1:-1]]
    claims("on pages that are full", full and min(full) > 0.75, full)
    one = [{"kind": "preparation", "subject": "specimen/once",
            "fields": {**script[0]["fields"],
                       "steps": [{"method": "airscribe", "where": f"square {n} ."}
                                 for n in range(400)]}}]
    record_find(lab, "once")
    said = lab.run("record", "--from", write(lab, "once.json", json.dumps(one).encode()))
    if said.returncode == 0:
        _, text = check_sheet(claims, lab, "once", "--unmarked")
        claims("400 steps of one sitting too", all(f"square {n} ." in text for n in range(400)))
    else:
        claims("400 steps of one sitting: one clear sentence",
               said.returncode == 2 and len(said.stderr.strip().splitlines()) == 1, said.stderr)


def check_scripts(claims, lab):
    for n, (party, name) in enumerate(NAMES.items()):
        piece = f"name-{n}"
        record_find(lab, piece, f"party/{party}")
        _, text = check_sheet(claims, lab, piece, "--unmarked")
        letters = set(unicodedata.normalize("NFKC", name)) - set(" ־")
        claims(f"{piece}: {name} is on it, or it says that letters could not be printed",
               letters <= set(text) or "no font for them" in text, letters - set(text))
        page = pathlib.Path(lab.path(f"out/{piece}.html")).read_text()
        claims(f"{piece}: {name} is on the web page", name in page)


class Tags(html.parser.HTMLParser):
    """Which elements and attributes a page has, and its text."""

    def __init__(self):
        super().__init__()
        self.met, self.text = set(), ""

    def handle_starttag(self, tag, attributes):
        self.met |= {tag} | {name for name, _ in attributes}

    def handle_data(self, data):
        self.text += data


def check_markup(claims, lab):
    """Words that look like markup are words, on the page and in its drawing."""
    words = 'slab <u onclick="x">one</u> & "two" &lt \'three\' </title></svg><blink>'
    record_find(lab, "markup", words=words)
    record_look(lab, "markup", marks=words)
    attach_photo(lab, "markup", write(lab, "plain.jpg", jpeg(800, 600)))
    check_sheet(claims, lab, "markup")
    page = Tags()
    page.feed(pathlib.Path(lab.path("out/markup.html")).read_text())
    claims("no word of it became markup", not page.met & {"u", "blink", "onclick"}, page.met)
    claims("and all of it is read", " ".join(page.text.split()).count(words) >= 2, page.text[:400])


def check_photos(claims, lab):
    whole = jpeg(4000, 3000)
    bad = {
        "cut.jpg": whole[:len(whole) // 3],
        "lie.jpg": jpeg(64, 64, said=(60000, 60000)),
        "lie.png": png(64, 64, said=(60000, 60000)),
        "short.png": png(640, 64, said=(640, 640)),
        "cut.png": png(640, 640)[:-40],
        "huge.png": png(10000, 6000),
        "empty.jpg": b"",
    }
    record_find(lab, "photo")
    record_look(lab, "photo")
    for name, data in bad.items():
        before = lab.entries()
        said = attach_photo(lab, "photo", write(lab, name, data))
        lines = said.stderr.strip().splitlines()
        if said.returncode == 0:
            claims(f"{name}: taken, and so on a sheet", False)
        claims(f"{name}: refused in one sentence that names it",
               said.returncode == 2 and len(lines) == 1 and name in lines[0], said.stderr)
        claims(f"{name}: nothing was recorded", lab.entries() == before)
    record_find(lab, "large")
    record_look(lab, "large")
    said = attach_photo(lab, "large", write(lab, "large.jpg", jpeg(10000, 6000)))
    claims("a photo of 60 megapixels is taken", said.returncode == 0, said.stderr)
    check_sheet(claims, lab, "large")
    images = outside("pdfimages", "-list", lab.path("out/large.pdf")).stdout.decode()
    claims("and printed as it is", re.search(r"image +10000 +6000 ", images), images)


def check_regions(claims, lab):
    """100 x 100 squares of 6 x 6 in cells of 10 x 10: 18 % of each of two substances."""
    regions = [{"substance": ("filled", "restored")[n % 2],
                "outline": [[x, y], [x + 6, y], [x + 6, y + 6], [x, y + 6]]}
               for n in range(10000) for x, y in [(n % 100 * 10 + 2, n // 100 * 10 + 2)]]
    view = {"name": "front", "lineWidthPx": 1, "regions": regions,
            "specimens": [{"uncovered": "original",
                           "outline": [[0, 0], [1000, 0], [1000, 1000], [0, 1000]]}]}
    drawn = {"format": "markerbed-outlines/1", "notExamined": ["reverse"], "views": [view]}
    path = write(lab, "many.json", json.dumps(drawn).encode())
    said = lab.run("measure", path, "--overlay", "many.png", "--json")
    shares = {row["substance"]: row["percent"]
              for row in json.loads(said.stdout or "{}")["files"][0]["shares"]}
    claims("10,000 regions are measured and drawn", said.returncode == 0
           and shares == {"original": "64.0", "filled": "18.0", "restored": "18.0"}, shares)
    claims("into a picture", pathlib.Path(lab.path("many.png")).read_bytes()[:4] == b"\x89PNG")
    said = lab.run("measure", path, "--overlay", "many.png")
    claims("one that is there already is not written over, and nothing is measured for it",
           said.returncode == 2 and "exists already" in said.stderr, said.stderr)
    regions[0]["outline"] = [[n % 997, n // 997] for n in range(100001)]
    said = lab.run("measure", write(lab, "corners.json", json.dumps(drawn).encode()))
    claims("more corners than memory is for: one sentence", said.returncode == 2
           and len(said.stderr.strip().splitlines()) == 1 and "100000 corners" in said.stderr,
           said.stderr)
    said = lab.run("measure", write(lab, "values.json", b'{"format":[' + b"1," * 1000001 + b"1]}"))
    claims("more values too", said.returncode == 2 and "1000000 values" in said.stderr,
           said.stderr)


def check_web(claims, lab):
    if not browser.there():
        print("not looked at: the web page, for there is no Chromium here")
        return
    view = browser.Browser(width=PHONE_PX, height=800)
    try:
        for piece in ("long", "steps", "name-0", "large"):
            view.open(f"file://{lab.path(f'out/{piece}.html')}")
            wide, seen = view.run("return [document.documentElement.scrollWidth,"
                                  " document.documentElement.clientWidth]")
            claims(f"{piece}: a phone need not be pushed sideways", wide <= seen, (wide, seen))
            size = view.run("return parseFloat(getComputedStyle(document.querySelector('dd'))"
                            ".fontSize)")
            claims(f"{piece}: letters are large enough", size >= 16, size)
    finally:
        view.close()


def main():
    claims = Claims()
    with Measured("hostile.example") as lab:
        record_people(lab)
        record_site(lab)
        check_long(claims, lab)
        check_marks(claims, lab)
        check_steps(claims, lab)
        check_scripts(claims, lab)
        check_markup(claims, lab)
        check_photos(claims, lab)
        check_regions(claims, lab)
        check_web(claims, lab)
    claims(f"no command took more than {MEMORY_MOST_KIB >> 10} MiB",
           0 < Measured.most_kib <= MEMORY_MOST_KIB, f"{Measured.most_kib >> 10} MiB")
    print(f"most memory of one command: {Measured.most_kib >> 10} MiB")
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
