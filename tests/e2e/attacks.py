#!/usr/bin/env python3
"""Each attack made anew: those that somebody can try with the files of a real ledger (the demo's,
told here from an empty folder), and those of an insider who holds all keys (by the tests' own
writer). The program and the page in headless Chromium must both catch each by name; a page doctored
around a good file changes nothing of what is said of the file. Prints the table attack x verifier
x finding."""
import base64
import copy
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

from _lab import PROGRAM, TOP, Claims, unpack

sys.path.insert(0, str(TOP / "tests/verifiers"))
import browser
import corpus

DRAW = os.path.join(os.environ.get("BUILD_PROGRAMS", TOP / "build/release"), "tests/demo/draw")
claims = Claims()


class Scene:
    """The demo's folder, and what is tried on it: attacks are (name, files, findings)."""

    def __init__(self, folder):
        self.folder = pathlib.Path(folder)
        env = {k: v for k, v in os.environ.items() if not k.startswith("MARKERBED")}
        self.env = env
        done = subprocess.run(["bash", str(TOP / "tests/demo/story.sh")], env={
            **env, "MARKERBED": PROGRAM, "DRAW": DRAW, "DEMO_DIR": folder}, text=True,
            capture_output=True, check=False)
        if done.returncode:
            sys.exit("the demo does not come to its end: " + done.stdout[-500:] + done.stderr)
        self.trust = self.folder / "trust"
        self.good = self.folder / "buyer.certificate.json"
        self.made, self.attacks = 0, []

    def load(self, name="buyer"):
        return json.loads((self.folder / f"{name}.certificate.json").read_text())

    def write(self, content, ending="json"):
        self.made += 1
        path = self.folder / f"attack-{self.made}.{ending}"
        path.write_text(content if isinstance(content, str) else json.dumps(content))
        return path

    def do(self, *words, ledger="ledger"):
        done = subprocess.run([PROGRAM, "-L", self.folder / ledger, *map(str, words)], env={
            **self.env, "MARKERBED_KEY": "ottoline",
            "MARKERBED_PASSPHRASE_FILE": str(self.folder / "passphrases/ottoline")}, text=True,
            capture_output=True, cwd=self.folder, stdin=subprocess.DEVNULL, check=False)
        if done.returncode:
            sys.exit(f"{words}: {done.returncode} {done.stderr} {done.stdout}")

    def sheet(self, specimen, name, ledger="ledger"):
        path = self.folder / f"{name}.certificate.json"
        self.do("sheet", specimen, "--to", "bearer", "--out", path, "--key", "ottoline",
                ledger=ledger)
        return path

    def add(self, name, findings, *files):
        self.attacks.append((name, [str(f) for f in files], set(findings.split()), self.trust))

    def changed(self, name, findings, change, source="buyer"):
        file = self.load(source)
        before = json.dumps(file)
        result = change(file)
        claims(f"it is changed: {name}", result or json.dumps(file) != before)
        claims(f"in text too: {name}", result not in (before, json.dumps(file, ensure_ascii=False)))
        self.add(name, findings, self.write(file if result is None else result))


def payload(item):
    return json.loads(unpack(item["sd_jwt"].split("~")[0].split(".")[1]))


def with_files(scene):
    """What anybody can do to files that the real ledger issued."""
    whole = scene.load()
    last = {}
    for place, item in enumerate(whole["entries"]):
        last[payload(item)["sub"]] = place
    specimens = {payload(e)["sub"] for e in whole["entries"] if payload(e)["kind"]
                 == "certificate"}
    for sub, place in last.items():
        if sub in specimens:
            continue
        scene.changed(f"the tail of {sub} left out", "left-out",
                      lambda f, p=place: f["entries"].pop(p) and None)
    own = [i for i, e in enumerate(whole["entries"]) if payload(e)["sub"] in specimens]
    for place in own[:-1]:
        scene.changed(f"#{whole['entries'][place]['index']} of its own chain left out", "left-out",
                      lambda f, p=place: f["entries"].pop(p) and None)
    scene.changed("its chain cut short behind the find", "no-certificate", lambda f: f.update(
        entries=f["entries"][:own[1]]))
    scene.changed("a disclosure cut away", "cut-down", lambda f: cut(f, own[0]))
    scene.changed("a disclosure put in from another entry", "stray-disclosure", lambda f: graft(f))
    other = scene.load("fish")
    mine = payload(other["entries"][-1])["sub"]

    def replay(f):
        keep = [e for e in whole["entries"] if payload(e)["sub"] not in specimens]
        f["entries"] = sorted(keep + [e for e in f["entries"] if payload(e)["sub"] == mine
                                      and payload(e)["kind"] == "certificate"],
                              key=lambda e: e["index"])
    scene.changed("a certificate replayed for another specimen", "left-out", replay, "fish")
    later = (scene.folder / "published/checkpoint").read_text()
    scene.changed("an old certificate under today's checkpoint", "size-differs",
                  lambda f: f.update(checkpoint=later))
    gone = next((scene.folder / "withdrawn").glob("*.certificate.json"))
    withdrawn = json.loads(gone.read_text())
    withdrawn["checkpoint"] = later
    scene.add("a withdrawn certificate under today's checkpoint", "size-differs",
              scene.write(withdrawn))
    scene.add("a withdrawn certificate beside the newer one", "withdrawn", gone,
              scene.folder / "buyer.certificate.json")
    scene.changed("swapped picture bytes", "file-changed", lambda f: f["files"].update(
        {k: "AAAA" for k in list(f["files"])[:1]}))
    scene.changed("an entry twice", "malformed", lambda f: f["entries"].insert(
        3, copy.deepcopy(f["entries"][3])))
    scene.changed("entries in another order", "malformed", lambda f: f["entries"].reverse())
    scene.changed("a date set back", "broken-signature", lambda f: dated(f, own[0]))
    scene.changed("the certificate of another audience", "left-out", lambda f: f["entries"].append(
        next(e for e in scene.load("institution")["entries"][::-1])))
    scene.changed("bytes behind the value", "malformed", lambda f: json.dumps(f) + " {}")
    scene.changed("a number as 0e0", "malformed", lambda f: json.dumps(f).replace(
        '"index": 0', '"index": 0e0', 1))
    scene.changed("a name twice, once escaped", "malformed", lambda f: json.dumps(f).replace(
        '"origin"', '"o\\u0072igin":"x","origin"', 1))
    scene.changed("an invisible letter in a member's name", "malformed", lambda f: json.dumps(
        f, ensure_ascii=False).replace('"files"', '"files\u200b"', 1))
    anchored = json.loads((scene.folder / "buyer.witnessed.json").read_text())
    anchored["anchors"][0]["consistency"] = anchored["anchors"][0]["consistency"][:-1]
    scene.add("an anchor's proof cut", "forked", scene.write(anchored))


def cut(file, place):
    item = file["entries"][place]
    jws, first, *rest = item["sd_jwt"].split("~")
    item["sd_jwt"] = "~".join([jws, *rest])


def graft(file):
    with_some = [e for e in file["entries"] if e["sd_jwt"].count("~") > 2]
    with_some[0]["sd_jwt"] += with_some[1]["sd_jwt"].split("~")[1] + "~"


def dated(file, place):
    item = file["entries"][place]
    jws, rest = item["sd_jwt"].split("~", 1)
    head, body, signature = jws.split(".")
    said = json.loads(unpack(body))
    said["iat"] -= 86400
    body = base64.urlsafe_b64encode(json.dumps(said, separators=(",", ":"), sort_keys=True)
                                    .encode()).decode().rstrip("=")
    item["sd_jwt"] = f"{head}.{body}.{signature}~{rest}"


def with_the_ledger(scene):
    """Its holder tells two stories, goes back to a backup, or founds it anew."""
    shutil.copytree(scene.folder / "ledger", scene.folder / "copy")
    for ledger, text in (("ledger", "sold as it is"), ("copy", "never left the shelf")):
        scene.do("record", "note", "specimen/24-0115", f"text={text}", "--key", "ottoline",
                 ledger=ledger)
    first = scene.sheet("24-0115", "told-here")
    second = scene.sheet("24-0115", "told-there", ledger="copy")
    scene.add("two stories told to two people", "forked", first, second)
    shutil.rmtree(scene.folder / "copy")
    shutil.copytree(scene.folder / "ledger", scene.folder / "backup")
    before = scene.sheet("24-0117", "before-the-backup")
    shutil.rmtree(scene.folder / "ledger")
    shutil.move(scene.folder / "backup", scene.folder / "ledger")
    scene.do("record", "note", "specimen/24-0117", "text=another", "--key", "ottoline")
    after = scene.sheet("24-0117", "after-the-backup")
    scene.add("rolled back to a backup and written on", "forked", before, after)
    scene.do("found", "--origin", "ledger.harrowvane.example", "--name", "Harrow & Vane", "--label",
             "ottoline", "--holder", "P001", ledger="swapped")
    for kind, subject, fields in (
            ("party", "party/P001", ["partyType=person", "name=A B", "namedTo=anyone",
                                     "neutralLabel=the owner"]),
            ("arrival", "specimen/24-0115", [
                "receivedOn=2024-05-03", "receivedFrom=party/P001", "fromLabel=client",
                "reason=preparation", "owner=not known", "ownerShownBy=not asked",
                "objectForm=single", "objectQuantity=1", "materialClass=invertebrate",
                "verbatimLabel=none", "labelLink=no label", "labelPhotos=none",
                "earlierWork=not examined", "arrivedDamaged=no", "hazardsSeen=none",
                "countryOfDiscovery=US", "readBy=party/P001", "readingSure=guess"])):
        scene.do("record", kind, subject, *fields, "--key", "ottoline", ledger="swapped")
    path = scene.folder / "swapped.certificate.json"
    scene.do("sheet", "24-0115", "--to", "bearer", "--audience", "public", "--out", path, "--key",
             "ottoline", ledger="swapped")
    scene.add("a ledger of the same name with other keys", "other-fingerprint", path)
    graft_founding = scene.load()
    graft_founding["entries"][0] = json.loads(path.read_text())["entries"][0]
    scene.add("another founding in front of its entries", "broken-link",
              scene.write(graft_founding))


# What only somebody can sign who holds the ledger's keys.
INSIDERS = {
    "an entry dated back": "entry-clock-backwards",
    "a field for the buyer withheld by the issuer": "withheld-unsaid-sale",
    "a key that enrols itself": "enrols-itself",
    "a second founding": "second-founding",
    "an unknown kind that changes things": "kind-unknown-changes",
}


def with_all_keys(scene):
    cases = {case["name"]: case for case in corpus.write(scene.folder / "corpus")}
    for attack, name in INSIDERS.items():
        case = next(c for n, c in cases.items() if n == name or n.endswith("-" + name))
        scene.attacks.append((attack, case["files"], set(case["findings"]), case["trust"]))


def by_program(files, trust):
    done = subprocess.run([PROGRAM, "verify", "--json", "--trust", trust, *files], text=True,
                          capture_output=True, check=False)
    answer = json.loads(done.stdout) if done.returncode in (0, 1, 3) else {"findings": []}
    return done.returncode, {finding["name"] for finding in answer["findings"] if "name" in finding}


def doctored(scene, page):
    """The file inside is good, and everything around it lies."""
    sheet = (scene.folder / "buyer.html").read_text()
    lie = re.sub(r"<h1>.*?</h1>", "<h1>A complete skeleton, wholly original</h1>", sheet, count=1)
    claims("the page is doctored", lie != sheet)
    path = scene.write(lie, "html")
    done = subprocess.run([PROGRAM, "verify", "--trust", scene.trust, path], text=True,
                          capture_output=True, check=False)
    said = " ".join(done.stdout.split())
    claims("program: the page was not checked, and is to be compared", "not what the page shows:"
           " compare it" in said and "wholly original" not in said, said[:500])
    rows = [("program", "says to compare")]
    if page:
        code, _ = page.judge([scene.trust, path])
        text = page.browser.run("return document.getElementById('result').innerText")
        claims("page: the page was not checked, and is to be compared", code == 0 and
               "not what the page shows" in text and "wholly original" not in text, text[:500])
        rows.append(("page", "says to compare"))
    return rows


def judge(scene, page):
    print("==== Attacks, made anew")
    print("%-58s  %-10s %-10s found" % ("attack", "markerbed", "page"))
    for name, files, findings, trust in scene.attacks:
        cells, said = [], []
        for verifier in ("program", "page") if page else ("program",):
            code, found = by_program(files, trust) if verifier == "program" else page.judge(
                [trust, *files])
            remark = findings == {"withdrawn"}
            caught = findings <= found and (code in (1, 3) or remark)
            claims(f"{verifier}: {name}", caught, (code, found, findings))
            cells.append("caught" if caught else "NOT CAUGHT")
            said.append(found)
        print("%-58s  %-10s %-10s %s" % (name, cells[0], cells[1] if page else "-",
                                         " ".join(sorted(findings))))
    print("%-58s  %-10s %-10s %s" % ("a doctored page around a good file", *(
        [cell for _, cell in doctored(scene, page)] + ["-"])[:2], "(a sentence)"))
    print("====")


def main():
    page = None
    with tempfile.TemporaryDirectory() as folder:
        scene = Scene(folder)
        code, found = by_program([scene.good], scene.trust)
        claims("untouched it holds", code == 0, found)
        with_files(scene)
        with_the_ledger(scene)
        with_all_keys(scene)
        if browser.there():
            text, _ = browser.page_text(TOP / "schema", PROGRAM)
            page = browser.Page(scene.write(text, "html"))
        else:
            print("no chromium here: the page is not asked")
        try:
            judge(scene, page)
        finally:
            if page:
                page.browser.close()
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
