#!/usr/bin/env python3
"""The code on a sheet, read off the paper by zbar at 150 dpi: origin, identity and a signed
summary, judged with Python's cryptography and with jose by the keys that the ledger publishes, from
section 9 of docs/format.md alone; as a link where an address is set; and what `verify --code` and
the page in Chromium say of good, foreign, torn and forged codes. Nothing is in it that the paper
does not print."""
import base64
import hashlib
import json
import os
import pathlib
import shutil
import subprocess
import sys

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from _lab import PROGRAM, TOP, Claims, Lab, unpack

sys.path.insert(0, str(TOP / "tests/verifiers"))
import browser

ORIGIN = "ledger.code.example"
ADDRESS = "https://code.example/verify.html"


def pack(data):
    return base64.urlsafe_b64encode(data).decode().rstrip("=")


def codes_of(pdf, dpi=150):
    """All codes on the pages, as zbar reads them."""
    folder = pdf.parent / "raster"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    subprocess.run(["pdftoppm", "-r", str(dpi), "-gray", "-png", pdf, folder / "page"], check=True)
    return [line for page in sorted(folder.iterdir()) for line in subprocess.run(
        ["zbarimg", "-q", "--raw", page], capture_output=True, text=True,
        check=False).stdout.splitlines()]


def identity(path):
    jws = json.loads(path.read_text())["entries"][-1]["sd_jwt"].split("~")[0]
    return pack(hashlib.sha256(b"\0" + jws.encode()).digest())


def name_it(lab, number, name):
    lab.record("identification", f"specimen/{number}", whatItIs="natural fossil",
               vernacularName="crinoid", scientificName=name, identifiedBy="P001",
               identifierTie="preparator", dateIdentified="2024-06-01", sure="likely",
               isAcceptedIdentification="yes", typeStatus="none", preservation="not known")


def story(lab):
    lab.record("party", "party/P001", partyType="person", name="Ada Bergstrom", namedTo="anyone",
               neutralLabel="the lab")
    for n, name in (("26-0001", "Uintacrinus socialis"), ("26-0002", "Xiphactinus audax")):
        lab.record("arrival", f"specimen/{n}", receivedOn="2024-05-03", receivedFrom="party/P001",
                   fromLabel="client", reason="preparation", owner="not known",
                   ownerShownBy="not asked", objectForm="single", objectQuantity="1",
                   materialClass="invertebrate", verbatimLabel="none", labelLink="no label",
                   labelPhotos="none", earlierWork="not examined", arrivedDamaged="no",
                   hazardsSeen="none", countryOfDiscovery="US", readBy="party/P001",
                   readingSure="guess")
        name_it(lab, n, name)


def issue(lab, specimen, name, *more):
    out = pathlib.Path(lab.path(f"{name}.pdf"))
    lab.do("sheet", specimen, "--to", "bearer", "--unmarked", "--out", out, *more)
    return out


def verify_code(lab, code, *paths):
    """(exit, verdict as data or None)"""
    done = subprocess.run([PROGRAM, "verify", "--json", "--trust", lab.path("trust"), *map(
        str, paths), "--code", code], capture_output=True, text=True, cwd=lab.folder, env=lab.env,
        check=False)
    answer = json.loads(done.stdout) if done.returncode != 2 else None
    return done.returncode, answer, done.stderr


# ---- what is in it ----

def check_good(claims, lab, pdf):
    certificate = pdf.with_suffix(".certificate.json")
    found = codes_of(pdf)
    claims("one code reads at 150 dpi", len(found) == 1, found)
    origin, name, jws = found[0].split(" ")
    claims("origin and identity", (origin, name) == (ORIGIN, identity(certificate)), found)
    head, body, signature = jws.split(".")
    claims("the header", json.loads(unpack(head)) == {"alg": "EdDSA",
                                                      "typ": "markerbed-summary+jwt"})
    payload = json.loads(unpack(body))
    entry = json.loads(certificate.read_text())["entries"][-1]["sd_jwt"].split("~")[0]
    own = json.loads(unpack(entry.split(".")[1]))
    says = payload.pop("says")
    claims("the payload says what the entry says", payload == {
        "aud": "buyer", "crt": name, "iat": own["iat"], "iss": ORIGIN, "sub": "specimen/26-0001"},
        payload)
    printed = " ".join(subprocess.run(["pdftotext", pdf, "-"], capture_output=True, text=True,
                                      check=True).stdout.split())
    claims("and in words what the paper prints", says and all(
        " ".join(text.split()) in printed for text in says), says)
    lab.do("publish", lab.path("web"))
    keys = json.loads(pathlib.Path(lab.path("web/keys.jwks")).read_text())["keys"]
    kid = json.loads(unpack(entry.split(".")[0]))["kid"]
    key = next(k for k in keys if k["kid"] == kid)
    try:
        Ed25519PublicKey.from_public_bytes(unpack(key["x"])).verify(
            unpack(signature), f"{head}.{body}".encode())
        good = True
    except InvalidSignature:
        good = False
    claims("signed by the published key of the certificate's signer (cryptography)", good)
    if shutil.which("node"):
        script = ("const jose = require('jose'); const [jws, jwk] = process.argv.slice(1);"
                  "jose.importJWK(JSON.parse(jwk), 'EdDSA').then((k) => jose.jwtVerify(jws, k,"
                  "{ typ: 'markerbed-summary+jwt', issuer: '%s', subject: 'specimen/26-0001' }))"
                  ".then(() => console.log('good'), (e) => console.log(e.message));" % ORIGIN)
        said = subprocess.run(["node", "-e", script, jws, json.dumps(key)], capture_output=True,
                              text=True, check=False, env={**os.environ, "NODE_PATH":
                                                           "/usr/share/nodejs"})
        claims("and for jose a proper JWT", said.stdout.strip() == "good", said)
    return found[0]


def check_again(claims, lab, pdf):
    certificate = pdf.with_suffix(".certificate.json")
    for ending in (".pdf", ".html"):
        path = pathlib.Path(lab.path("again" + ending))
        lab.do("sheet", "--reprint", certificate, "--key", "one", "--out", path)
        claims(f"{ending} printed again with the key is the same to the byte",
               path.read_bytes() == pdf.with_suffix(ending).read_bytes())
    bare = pathlib.Path(lab.path("bare.pdf"))
    lab.do("sheet", "--reprint", certificate, "--out", bare)
    claims("without a key it names the certificate and no more",
           codes_of(bare) == [f"{ORIGIN} {identity(certificate)}"], codes_of(bare))


# ---- as a link ----

def check_link(claims, lab):
    before = pathlib.Path(lab.ledger, "settings.json").read_text()
    for wrong in ("code.example", "ftp://code.example/", "https://code.example/#a", "https://",
                  "https://a b", "https://code.example/" + 100 * "x", 'https://code.example/"'):
        done = lab.run("setting", f"checkAddress={wrong}")
        claims(f"the address {wrong[:30]!r} is refused in a sentence", done.returncode == 2
               and "address of a page that checks" in done.stderr, done.stderr)
    claims("and nothing changed", pathlib.Path(lab.ledger, "settings.json").read_text() == before)
    lab.do("setting", f"checkAddress={ADDRESS}")
    pdf = issue(lab, "26-0002", "linked")
    link = codes_of(pdf)[0]
    origin, name, jws = link.removeprefix(ADDRESS + "#").split("~")
    claims("the code is a link with all of it behind #", link.startswith(ADDRESS + "#")
           and (origin, name) == (ORIGIN, identity(pdf.with_suffix(".certificate.json")))
           and jws.count(".") == 2, link)
    lab.do("setting", "checkAddress=" + "https://" + 80 * "a" + ".example/")
    long = codes_of(issue(lab, "26-0002", "long"))[0]
    claims("a long address leaves less to say, and still reads", len(long) <= 586
           and long.startswith("https://aaaa"), (len(long), long))
    lab.do("setting", "checkAddress=")
    return link, pdf


def check_room(claims):
    """What does not fit is left out: first the words, then all of the summary."""
    for length, summed in ((90, True), (150, False)):
        with Lab("l" * (length - 8) + ".example") as lab:
            story(lab)
            pdf = issue(lab, "26-0001", "long")
            parts = codes_of(pdf)[0].split(" ")
            claims(f"of a ledger with a name of {length} letters",
                   parts[:2] == [lab.origin, identity(pdf.with_suffix(".certificate.json"))]
                   and len(parts) == 2 + summed, parts)
            claims("its summary has no words", not summed or json.loads(
                unpack(parts[2].split(".")[1]))["says"] == [], parts)


# ---- what is said of it ----

def bent(code, change=None, header=None, key=None):
    """The code with its summary changed, signed by another key or left unsigned anew."""
    origin, name, jws = code.split(" ")
    head, body, signature = jws.split(".")
    if change:
        payload = json.loads(unpack(body))
        change(payload)
        body = pack(json.dumps(payload).encode())
    if header:
        head = pack(json.dumps(header).encode())
    if key:
        signature = pack(key.sign(f"{head}.{body}".encode()))
    return f"{origin} {name} {head}.{body}.{signature}"


def cases(lab, code, link, good, other, linked):
    origin, name, jws = code.split(" ")
    stranger = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
    head = {"alg": "EdDSA", "typ": "markerbed-summary+jwt"}
    small = base64.urlsafe_b64encode(bytes([1]) + bytes(63)).decode().rstrip("=")
    wrong = {"code-differs"}
    return (
        ("the code and its file", code, [good], 0, set()),
        ("with blanks around", f"  {code}\n", [good], 0, set()),
        ("without a summary", f"{origin} {name}", [good], 0, set()),
        ("a link", link, [linked], 0, set()),
        ("its PDF", code, [good.with_suffix("").with_suffix(".pdf")], 0, set()),
        ("the ledger itself", code, [lab.ledger], 0, set()),
        ("among several files", code, [good, other], 0, set()),
        ("alone", code, [], 3, set()),
        ("a link alone", link, [], 3, set()),
        ("without summary, alone", f"{origin} {name}", [], 3, set()),
        ("of another file", code, [other], 1, wrong),
        ("without summary, of another file", f"{origin} {name}", [other], 1, wrong),
        ("of another origin", code.replace(ORIGIN, "ledger.else.example", 1), [good], 1, wrong),
        ("torn: another identity", f"{origin} {identity(other)} {jws}", [other], 1, wrong),
        ("torn, alone", f"{origin} {identity(other)} {jws}", [], 1, wrong),
        ("other words", bent(code, lambda p: p.update(says=["Wholly original"])), [good], 1, wrong),
        ("signed by a stranger", bent(code, key=stranger), [good], 1, wrong),
        ("for another audience", bent(code, lambda p: p.update(aud="institution")), [good], 1,
         wrong),
        ("an identity signature", code[:code.rindex(".") + 1] + small, [good], 1, wrong),
        ("alg none", bent(code, header={**head, "alg": "none"}), [good], 3, set()),
        ("crit", bent(code, header={**head, "crit": ["x"]}), [good], 3, set()),
        ("of another type", bent(code, header={**head, "typ": "markerbed-entry+sd-jwt"}), [good], 2,
         None),
        ("another member", bent(code, lambda p: p.update(exp=1)), [good], 2, None),
        ("no list", bent(code, lambda p: p.update(says="x")), [good], 2, None),
        ("a site's", bent(code, lambda p: p.update(sub="site/S001")), [good], 2, None),
        ("a control letter", bent(code, lambda p: p.update(says=["a\u202eb"])), [good], 2, None),
        ("stray bits in the identity", f"{origin} {name[:-1]}{chr(ord(name[-1]) + 1)}", [good], 2,
         None),
        ("no code", "hello", [good], 2, None),
        ("nothing", " ", [good], 2, None),
        ("an address without it", ADDRESS, [], 2, None),
    )


def check_program(claims, lab, table):
    for name, code, files, deserved, findings in table:
        found, answer, stderr = verify_code(lab, code, *files)
        said = {f["name"] for f in answer["findings"]} if answer else set()
        claims(f"program, {name}: exit {deserved}", found == deserved, (found, stderr, said))
        if findings is not None:
            claims(f"program, {name}: by name", ("code-differs" in said) == bool(findings), said)
        claims(f"program, {name}: a sentence", deserved != 2 or stderr.strip(), stderr)
    _, answer, _ = verify_code(lab, table[7][1])
    claims("alone it is called a claim", "claim until the file is checked" in answer["words"][1],
           answer)


def check_page(claims, lab, table):
    if not browser.there():
        print("no chromium here: the page is not asked")
        return
    path = pathlib.Path(lab.path("verify.html"))
    path.write_text(subprocess.run([PROGRAM, "verify", "--page"], capture_output=True, text=True,
                                   check=True).stdout)
    page = browser.Page(path)
    run = page.browser.run
    try:
        for name, code, files, deserved, findings in table:
            if not code.strip() or lab.ledger in files:
                continue
            files = [lab.path("trust"), *files] if files else []
            found, said = page.judge(files, code=code)
            claims(f"page, {name}: exit {deserved}", found == deserved, (found, said))
            if findings is not None:
                claims(f"page, {name}: by name", ("code-differs" in said) == bool(findings), said)
        code, link = table[7][1], table[8][1]
        page.judge([], code=code)
        text = run("return document.getElementById('result').innerText")
        claims("the page calls it a claim", "claim until that file is checked" in text
               and "26-0001" in text and "Uintacrinus socialis" in text, text)
        page.browser.open("about:blank")
        page.browser.open(f"file://{path}#{link.split('#')[1]}")
        claims("a link opens on the claim", page.answer()[0] == 3 and "26-0002" in run(
            "return document.getElementById('result').innerText"))
        html = table[0][2][0].with_suffix("").with_suffix(".html")
        page.browser.call("POST", "/window/rect", {"width": 500, "height": 900})
        page.browser.open(f"file://{html}")
        page.browser.screen(lab.path("web.png"))
        seen = subprocess.run(["zbarimg", "-q", "--raw", lab.path("web.png")], capture_output=True,
                              text=True, check=False).stdout
        claims("the code on the web page reads off a phone's screen", code in seen, seen)
    finally:
        page.browser.close()


def main():
    claims = Claims()
    with Lab(ORIGIN) as lab:
        story(lab)
        lab.trust()
        pdf = issue(lab, "26-0001", "good")
        code = check_good(claims, lab, pdf)
        check_again(claims, lab, pdf)
        link, linked = check_link(claims, lab)
        other = issue(lab, "26-0001", "other")
        table = cases(lab, code, link, *(p.with_suffix(".certificate.json")
                                         for p in (pdf, other, linked)))
        check_program(claims, lab, table)
        check_page(claims, lab, table)
    check_room(claims)
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
