#!/usr/bin/python3
"""labels: every code is read back from a 300 dpi raster by zbarimg, down to labels of 25 mm; tags,
bench cards and the field card are read back by pdftotext."""
import re
import subprocess
import sys

from _lab import PROGRAM, Claims, Lab

claims = Claims()
LONG = "specimen/2031.Gannet-Flat_slab-0000000000000000000000000000000000000042"


def codes(lab, pdf, dpi=300):
    """What zbarimg reads, page by page."""
    subprocess.run(["pdftoppm", "-r", str(dpi), "-gray", pdf, lab.path("page")], check=True)
    out = []
    for page in sorted(lab.folder.glob("page*.pgm")):
        done = subprocess.run(["zbarimg", "-q", "--raw", "-Sdisable", "-Sqrcode.enable", page],
                              capture_output=True, text=True, check=False)
        out += done.stdout.split("\n")[:-1]
        page.unlink()
    return out


def code_at(lab, pdf, page, box, dpi=300):
    """The code of one label, as one holds it before a reader: box in mm."""
    x, y, w, h = (str(round(v * dpi / 25.4)) for v in box)
    subprocess.run(["pdftoppm", "-r", str(dpi), "-gray", "-f", str(page), "-l", str(page), "-x", x,
                    "-y", y, "-W", w, "-H", h, "-singlefile", pdf, lab.path("label")], check=True)
    done = subprocess.run(["zbarimg", "-q", "--raw", "-Sdisable", "-Sqrcode.enable",
                           lab.path("label.pgm")], capture_output=True, text=True, check=False)
    return done.stdout.rstrip("\n")


def text_of(pdf):
    return subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True,
                          check=True).stdout


def pages_of(pdf):
    info = subprocess.run(["pdfinfo", pdf], capture_output=True, text=True, check=True).stdout
    return int(re.search(r"Pages: *(\d+)", info)[1])


def letters_least(lab, pdf):
    """The smallest letters on the page, in points, as poppler sees them."""
    done = subprocess.run(["pdftohtml", "-xml", "-i", "-stdout", pdf], capture_output=True,
                          text=True, check=True)
    return min(int(n) for n in re.findall(r'<fontspec[^>]* size="(\d+)"', done.stdout))


def prepare(lab):
    lab.record("party", "party/P001", partyType="person", name="Ottoline Harrow", namedTo="anyone")
    lab.record("site", "site/S001", siteName="Hidden Gulch", countryCode="US",
               stateProvince="Kansas", county="Quillwort", decimalLatitude="not known",
               decimalLongitude="not known", coordinateSource="description",
               placeHeldBackBy="landowner", placeFinestAllowed="state")
    for n, subject in enumerate([f"specimen/26-{i:04d}" for i in range(1, 6)] + [LONG]):
        lab.record("collecting", subject, eventDate="2026-05-30", site="site/S001",
                   recordedBy="party/P001", permission="not needed", recordNumber=n,
                   verbatimIdentification=("crinoid slab" if n else "Crinoid plate with very many"
                                           " arms, Ολόκληρο κομμάτι, 海百合, and a long name"),
                   objectForm="slab", objectQuantity=n + 1, quantityHow="counted",
                   materialClass="invertebrate", horizon="not known", inPlace="in place",
                   remarks="worth 4,000 dollars")
    lab.record("placement", "place/F12", what="specimen/26-0001", date="2026-06-01",
               movedBy="party/P001", placeName="Flat 12, left bench")
    lab.record("claim", "specimen/26-0002", nature="landowner's share", status="open",
               date="2026-06-01", by="not known", byLabel="landowner", hold="do not alter")


SPECIMENS = [f"26-{i:04d}" for i in range(1, 6)]


def sheets(lab):
    known = lab.ask("labels", "--sheets")
    claims("some sheets are known by name", len(known) >= 8, known)
    for sheet in known:
        pdf = lab.path(f"{sheet['name']}.pdf")
        done = lab.run("labels", *SPECIMENS, "place/F12", "--sheet", sheet["name"], "--out", pdf)
        if not claims(f"{sheet['name']}", done.returncode == 0, done.stderr):
            continue
        want = [f"{lab.origin} specimen/{s}" for s in SPECIMENS] + [f"{lab.origin} place/F12"]
        got = codes(lab, pdf)
        claims(f"every code of {sheet['name']} is read", sorted(got) == sorted(want), got)
        text = text_of(pdf)
        claims(f"numbers stand in clear on {sheet['name']}", all(s in text for s in SPECIMENS),
               text)
        claims("and no place, person or price", not any(
            w in text for w in ("Hidden", "Quillwort", "Ottoline", "4,000")), text)
        claims("in letters of 4 points and more", letters_least(lab, pdf) >= 4,
               letters_least(lab, pdf))


def own_measures(lab):
    for label, page in (("25x25", "210x297"), ("25x18", "100x60"), ("40x30", "215.9x279.4"),
                        ("60x15", "70x200")):
        pdf = lab.path(f"own-{label}.pdf")
        done = lab.run("labels", *SPECIMENS, "--sheet", page, "--label", label, "--margin", "5x5",
                       "--gap", "2x2", "--out", pdf)
        if claims(f"labels of {label}", done.returncode == 0, done.stderr):
            claims(f"are read at {label}", len(codes(lab, pdf)) == 5, codes(lab, pdf))
    pdf = lab.path("long.pdf")
    done = lab.run("labels", LONG, "--sheet", "210x297", "--label", "50x30", "--out", pdf)
    claims("a long number", done.returncode == 0 and codes(lab, pdf) == [f"{lab.origin} {LONG}"],
           done)
    claims("is there in clear, over lines", LONG[9:] in "".join(text_of(pdf).split()),
           text_of(pdf))
    for words, told in (
            (["26-0001", "--sheet", "A4-1000"], "no sheet"),
            (["26-0001", "--sheet", "210x297", "--label", "300x20"], "does not fit"),
            (["26-0001", "--sheet", "210x297", "--label", "10x5"], "too small"),
            ([LONG, "--sheet", "210x297", "--label", "25x8"], "needs"),
            (["26-0001", "--sheet", "210x297", "--label", "wide"], "two measures"),
            (["26-0001", "--skip", "24"], "fewer"), (["26-0009"], "26-0009"), ([], "name"),
            (["site/S001"], "site/S001"), (["--tags", "none"], "numbered")):
        done = lab.run("labels", *words, "--out", lab.path("refused.pdf"))
        claims(f"refused: {words}", done.returncode == 2 and told in done.stderr
               and not (lab.folder / "refused.pdf").exists(), done)


def tags(lab):
    pdf = lab.path("tags.pdf")
    lab.do("labels", "--tags", "WC-0098", "--count", "30", "--skip", "5", "--out", pdf)
    # 3 across and 8 down, 70 x 37 mm
    got = [code_at(lab, pdf, 1 + n // 24, (n % 3 * 70, 0.5 + n % 24 // 3 * 37, 70, 37))
           for n in range(5, 35)]
    claims("tags count on, with their width kept",
           got == [f"{lab.origin} tag WC-{n:04d}" for n in range(98, 128)],
           got)
    claims("on two sheets, for five were gone", pages_of(pdf) == 2)
    claims("with lines to fill in", "In place?" in text_of(pdf), text_of(pdf))


def cards(lab):
    pdf = lab.path("bench.pdf")
    lab.do("labels", *SPECIMENS, "--bench-card", "--out", pdf)
    pages = text_of(pdf).split("\f")
    claims("a card each", pages_of(pdf) == 5 and len(codes(lab, pdf, 150)) == 5)
    claims("where it lies", "F12" in pages[0], pages[0])
    claims("an open claim is a task", "do not alter" in pages[1] and "do not alter" not in pages[2],
           pages[1])
    claims("what is missing too", "no condition is on record" in pages[2])
    one = " ".join(pages[2].split())
    claims("and what the record does not say yet",
           "Not on record yet, of the identity: Name, Three marks, Size, Picture with a scale"
           in one, one)
    claims("tasks are no entries: there is room to write them by hand",
           all("To do, written by hand" in page for page in pages[:5]), pages[0])
    claims("and the caution that every rock needs", "silica dust" in pages[2], pages[2])
    for paper in ("A4", "Letter"):
        pdf = lab.path(f"card-{paper}.pdf")
        done = subprocess.run([PROGRAM, "labels", "--field-card", "--paper", paper, "--out", pdf],
                              capture_output=True, text=True, env=lab.env, check=False)
        claims(f"the field card on {paper} is one page", done.returncode == 0
               and pages_of(pdf) == 1, done.stderr)
        text = " ".join(text_of(pdf).split())
        claims("it asks for what counts", all(w in text.lower() for w in (
            "permission", "number", "datum", "uncertainty", "layer", "in place", "scale", "glue",
            "land manager")), text)
    done = subprocess.run(["pdffonts", lab.path("card-A4.pdf")], capture_output=True, text=True,
                          check=True).stdout
    claims("all fonts are inside", all(line.split()[-5] == "yes" for line in
                                       done.splitlines()[2:]), done)


def main():
    with Lab("ledger.harrowvane.example") as lab:
        prepare(lab)
        sheets(lab)
        own_measures(lab)
        tags(lab)
        cards(lab)
        if len(sys.argv) > 1:
            subprocess.run(["cp", "-r", str(lab.folder), sys.argv[1]], check=True)
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
