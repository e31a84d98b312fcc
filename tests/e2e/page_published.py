#!/usr/bin/env python3
"""The page takes what a ledger publishes, and the witnesses that a reader asks for, along with the
certificate, and says what the program says of the whole folder: withdrawn or not, a list that is
older, changed, cut, of another ledger or signed by nobody, a checkpoint that tells another story, a
quorum reached, missed or forged. In headless Chromium, from a file."""
import base64
import json
import os
import pathlib
import re
import subprocess
import sys

from _lab import PROGRAM, TOP, Claims, Lab, unpack

sys.path.insert(0, str(TOP / "tests/verifiers"))
import browser

claims = Claims()


def pack(value):
    return base64.urlsafe_b64encode(json.dumps(value).encode()).decode().rstrip("=")


class House(Lab):
    def __init__(self, origin):
        super().__init__(origin)
        self.record("party", "party/P001", partyType="person", name="A B", namedTo="anyone",
                    neutralLabel="the owner")
        self.record("arrival", "specimen/24-0001", receivedOn="2024-05-03",
                    receivedFrom="party/P001", fromLabel="client", reason="preparation",
                    owner="not known", ownerShownBy="not asked", objectForm="single",
                    objectQuantity="1", materialClass="invertebrate", verbatimLabel="none",
                    labelLink="no label", labelPhotos="none", earlierWork="not examined",
                    arrivedDamaged="no", hazardsSeen="none", countryOfDiscovery="US",
                    readBy="party/P001", readingSure="guess")

    def sheet(self, name):
        path = self.path(f"{name}.certificate.json")
        self.do("sheet", "24-0001", "--to", "bearer", "--audience", "public", "--out", path)
        return path

    def cosign(self, *words):
        return subprocess.run([PROGRAM, "cosign", *map(str, words)], text=True, check=True,
                              capture_output=True, env=self.env, cwd=self.folder,
                              stdin=subprocess.DEVNULL).stdout

    def write(self, name, content):
        path = pathlib.Path(self.path(name))
        path.write_text(content if isinstance(content, str) else json.dumps(content))
        return str(path)


def open_page(lab):
    text, _ = browser.page_text(TOP / "schema", PROGRAM)
    return browser.Page(lab.write("page.html", text))


def page_says(page, name, deserved, must, *files, words=None):
    code, found = page.judge(files)
    claims(f"{name}: exit {deserved}, {' '.join(must)}", code == deserved and set(must) <= found,
           (code, found))
    if words:
        text = page.browser.run("return document.getElementById('result').innerText")
        claims(f"{name}: in words", words in text, text)
    return found


def lists(lab, page, first, trust):
    lab.do("publish", lab.path("web"))
    listed = lab.path("web/withdrawn.json")
    later = lab.sheet("later")
    page_says(page, "not withdrawn", 0, [], trust, first, listed, words="was held against it")
    found = page_says(page, "with the checkpoint too", 0, [], trust, first, listed,
                      lab.path("web/checkpoint"))
    claims("nothing of it is called unreadable", "published-unreadable" not in found, found)
    page_says(page, "a list older than the certificate", 3, ["published-unreadable"], trust, later,
              listed)
    identity = lab.ask("verify", first)["files"][0]["certificates"][0]["id"]
    lab.do("withdraw", identity, "--why", "error in facts")
    lab.do("publish", lab.path("web"))
    program = lab.run("verify", first, "--trust", trust, "--published", lab.path("web"))
    claims("the program says that it is withdrawn", program.returncode == 1, program.stdout)
    page_says(page, "withdrawn", 1, ["withdrawn"], trust, first, listed, words="error in facts")
    claims("it says that it no longer stands", "no longer stands" in page.browser.run(
        "return document.getElementById('result').innerText"))
    page_says(page, "withdrawn, of an unknown ledger", 1, ["withdrawn"], first, listed)
    page_says(page, "another certificate stands", 0, [], trust, later, listed)
    return listed


def bent_lists(lab, page, first, trust, listed):
    whole = json.loads(pathlib.Path(listed).read_text())
    head, body, signature = whole["list"].split(".")
    payload = json.loads(unpack(body))
    cut = {**whole, "entries": whole["entries"][:-1]}
    fit = f"{head}.{pack({**payload, 'withdrawn': []})}.{signature}"
    for name, bent in (
            ("the withdrawal cut out", cut),
            ("and the list made to fit", {**cut, "list": fit}),
            ("of another size", {**whole, "list": f"{head}.{pack({**payload, 'size': 1})}."
                                 f"{signature}"}),
            ("a member more", {**whole, "x": 1}),
            ("no list", {k: v for k, v in whole.items() if k != "list"}),
            ("another root", {**whole, "checkpoint": re.sub(
                "\n[A-Za-z0-9+/]{3}", "\nAAA", whole["checkpoint"], count=1)}),
            ("an entry changed", {**whole, "entries": [{**whole["entries"][0], "sd_jwt": whole[
                "entries"][0]["sd_jwt"][:-9] + "AAAAAAAA~"}, *whole["entries"][1:]]})):
        page_says(page, f"a list with {name}", 1, ["published-forged"], trust, first,
                  lab.write("bent.json", bent))
        kept = pathlib.Path(listed).read_text()
        pathlib.Path(listed).write_text(json.dumps(bent))
        done = lab.run("verify", first, "--trust", trust, "--published", lab.path("web"))
        claims(f"and the program on {name}", done.returncode in (1, 3), done.stdout)
        pathlib.Path(listed).write_text(kept)
    with House("ledger.page.example") as other:
        other.do("publish", other.path("web"))
        page_says(page, "the list of a ledger of the same name", 1, ["other-fingerprint"], trust,
                  first, other.path("web/withdrawn.json"))
        found = page_says(page, "and its checkpoint", 1, [], trust, first,
                          other.path("web/checkpoint"))
        claims("which no key of the file signed", found & {"checkpoint-key", "forked",
                                                           "checkpoint-forged",
                                                           "published-unreadable"}, found)
    page_says(page, "a checkpoint of an unknown ledger", 3, ["published-unreadable"], trust, first,
              lab.write("stray", "else.example\n5\n" + 43 * "A" + "=\n\n\u2014 else.example "
                        + base64.b64encode(bytes(68)).decode() + "\n"))


def inside(lab, page, first, trust, listed):
    """Another house received two of its certificates, of which one is withdrawn."""
    stands = lab.sheet("stands")
    lab.do("publish", lab.path("web"))
    with Lab("ledger.house.example") as house:
        house.record("party", "party/P001", partyType="person", name="C D", namedTo="anyone",
                     neutralLabel="us")
        both = house.trust()
        with open(both, "a", encoding="utf-8") as file:
            file.write(pathlib.Path(trust).read_text())
        for number, file in (("M-1", first), ("M-2", stands)):
            house.do("receive", file, "--trust", both, "--as", number, "--from", "P001",
                     "reason=gift", "objectQuantity=1")
        for numbers, deserved, words in (
                (["M-1"], 1, "withdrew the certificate that the piece came with"),
                (["M-2"], 0, "was held against its certificate inside"),
                (["M-1", "M-2"], 1, "withdrew the certificate that the piece came with"),
                (["M-2", "M-1"], 1, "withdrew the certificate that the piece came with")):
            path = house.path("-".join(numbers) + ".certificate.json")
            house.do("sheet", *numbers, *(["--together"] if len(numbers) > 1 else []), "--to",
                     "bearer", "--audience", "public", "--out", path)
            page_says(page, f"inside {numbers}", deserved, ["withdrawn"] if deserved else [], both,
                      path, listed, words=words)
            claims(f"inside {numbers}: whose it is, is said", (
                "What this goes on from no longer stands" in page.browser.run(
                    "return document.getElementById('result').innerText")) == bool(deserved))
            done = house.run("verify", path, "--trust", both, "--published", lab.path("web"))
            claims(f"the program agrees on {numbers}", done.returncode == deserved
                   and ("goes on from no longer stands" in done.stdout) == bool(deserved),
                   done.stdout)


def witnesses(lab, page, trust):
    phrase = lab.path("passphrase")
    keys = []
    for name in ("one", "two"):
        lab.cosign(name, "--new", f"{name}.example", "--new-passphrase-file", phrase)
        keys.append(json.loads(lab.cosign(name, "--json"))["vkey"])
    certificate = lab.sheet("witnessed")
    lab.cosign("one", "--ledger-key", certificate)
    lab.do("anchor", "--witness", keys[0])
    lab.do("anchor", "--ask", lab.path("request"))
    lab.cosign("one", lab.path("request"), "--out", lab.path("answer"))
    lab.do("anchor", lab.path("answer"))
    carried = lab.path("carried.json")
    lab.do("anchor", "--carry", certificate, "--out", carried)
    one, two = (f"witness {n} {k}\n" for n, k in zip("ab", keys))
    for name, text, deserved, findings in (
            ("one asked for", one + "quorum a\n", 0, []),
            ("any of two", one + two + "group g any a b\nquorum g\n", 0, []),
            ("one of two", "# who counts\n\n" + one + two + "group g 1 a b\nquorum g\n", 0, []),
            ("all of two", one + two + "group g all a b\nquorum g\n", 3, ["no-quorum"]),
            ("the other one", two + "quorum b\n", 3, ["no-quorum"]),
            ("none", "quorum none\n", 0, []),
            ("no quorum line", one, 2, []),
            ("a name that is none", one + "quorum c\n", 2, []),
            ("one name twice", one + one + "quorum a\n", 2, []),
            ("a damaged key", one[:-3] + "AA\nquorum a\n", 2, []),
            ("an unknown word", one + "witnesses a\nquorum a\n", 2, []),
            ("two of one", one + "group g 2 a\nquorum g\n", 2, [])):
        path = lab.write("policy", text)
        found = page_says(page, f"policy, {name}", deserved, findings, trust, carried, path)
        if deserved != 2:
            claims(f"{name}: unwitnessed or not", ("unwitnessed" in found)
                   == (deserved != 0 or name == "none"), found)
        done = lab.run("verify", carried, "--trust", trust, "--policy", path)
        claims(f"the program agrees: {name}", done.returncode == deserved, done.stderr
               + done.stdout[:500])
    file = json.loads(pathlib.Path(carried).read_text())
    forged = 0
    for part in [file, *file.get("anchors", [])]:
        lines = part["checkpoint"].split("\n")
        for i, line in enumerate(lines):
            if line.startswith("\u2014 one.example "):
                raw = bytearray(base64.b64decode(line.split(" ")[2]))
                raw[20] ^= 1
                lines[i] = "\u2014 one.example " + base64.b64encode(raw).decode()
                forged += 1
        part["checkpoint"] = "\n".join(lines)
    path, policy = lab.write("forged.json", file), lab.write("policy", one + "quorum a\n")
    claims("there is a cosignature to forge", forged)
    page_says(page, "a forged cosignature", 1, ["cosignature-forged"], trust, path, policy)
    done = lab.run("verify", path, "--trust", trust, "--policy", policy)
    claims("the program on a forged cosignature", done.returncode == 1
           and "cosignature-forged" in done.stdout, done.stdout)
    page_says(page, "in words", 0, [], trust, carried, policy, words="It existed by ")


def main():
    if not browser.there():
        print("no chromium here")
        return 77
    with House("ledger.page.example") as lab:
        page = open_page(lab)
        try:
            first, trust = lab.sheet("first"), lab.trust()
            listed = lists(lab, page, first, trust)
            bent_lists(lab, page, first, trust, listed)
            inside(lab, page, first, trust, listed)
            witnesses(lab, page, trust)
            if os.environ.get("PAGES"):
                page.judge([trust, first, listed])
                page.browser.screen(os.environ["PAGES"])
        finally:
            page.browser.close()
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
