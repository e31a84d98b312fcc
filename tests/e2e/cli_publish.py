"""What is published: the tiles are read back by golang.org/x/mod's own tile reader, the keys by
python3-cryptography; and a certificate is held against it."""
import base64
import json
import os
import pathlib
import shutil
import subprocess
import sys

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from _lab import TOP, Claims, Lab, unpack

claims = Claims()
GO = {**os.environ, "GO111MODULE": "off", "GOPATH": "/usr/share/gocode", "GOFLAGS": ""}
IN_BULK = 300  # entries, so that there is a full tile and a second level


class Desk(Lab):
    """Somebody else's `cosign` is told of no ledger."""

    def cosign(self, *words):
        program = os.path.abspath(os.environ.get("MARKERBED", TOP / "build/markerbed"))
        return subprocess.run([program, "cosign", *map(str, words)], text=True, check=True,
                              capture_output=True, env=self.env, cwd=self.folder,
                              stdin=subprocess.DEVNULL).stdout


def piece(lab, number):
    lab.record("arrival", f"specimen/{number}", receivedOn="2024-05-03", receivedFrom="party/P001",
               fromLabel="client", reason="preparation", owner="not known",
               ownerShownBy="not asked", objectForm="single", objectQuantity="1",
               materialClass="invertebrate", verbatimLabel="a label nobody else may read",
               labelLink="same bag", labelPhotos="none", earlierWork="not examined",
               arrivedDamaged="no", hazardsSeen="none", countryOfDiscovery="US",
               readBy="party/P001", readingSure="guess")


def sheet(lab, number, out):
    lab.do("sheet", number, "--to", "bearer", "--audience", "public", "--out", lab.path(out))
    return str(next(pathlib.Path(lab.path(out)).glob("*.json")))


def checkpoint_key(certificate):
    entry = json.loads(pathlib.Path(certificate).read_text())["entries"][0]["sd_jwt"]
    return json.loads(unpack(entry.split(".")[1]))["body"]["checkpointKey"]


def judged(lab, *more):
    return subprocess.run([lab.path("judge"), *map(str, more)], text=True, check=False,
                          capture_output=True, cwd=lab.folder, env=GO)


def files(lab, where="web"):
    folder = pathlib.Path(lab.path(where))
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def first_time(lab, certificate):
    lab.do("publish", lab.path("web"))
    made = files(lab)
    size = int(made["checkpoint"].decode().split("\n")[1])
    claims("the files are those that were promised", {
        "checkpoint", "withdrawn.json", "keys.jwks", "verify.html", "index.html",
        f"tile/0/000.p/{size}"} == set(made), sorted(made))
    claims("no entry is among them", not any(b"a label nobody" in data or b"arrival" in data
                                             for name, data in made.items()
                                             if name not in ("verify.html",)))
    got = judged(lab, "web", checkpoint_key(certificate))
    claims("x/mod reads the tiles back", got.stdout.strip() == str(size), got.stdout + got.stderr)
    for jwk in json.loads(made["keys.jwks"])["keys"]:
        claims("a JWKS of Ed25519 keys", jwk["kty"] == "OKP" and jwk["crv"] == "Ed25519"
               and Ed25519PublicKey.from_public_bytes(unpack(jwk["x"])), jwk)
    listed = json.loads(made["withdrawn.json"])["list"]
    header, payload, signature = listed.split(".")
    signer = {k["kid"]: k for k in json.loads(made["keys.jwks"])["keys"]}[
        json.loads(unpack(header))["kid"]]
    Ed25519PublicKey.from_public_bytes(unpack(signer["x"])).verify(
        unpack(signature), f"{header}.{payload}".encode())
    claims("the list is signed by a key in force and is dated",
           json.loads(unpack(payload))["iat"] > 1_700_000_000)
    shutil.copy(lab.path("web/checkpoint"), lab.path("first-checkpoint"))


def grown(lab, certificate):
    batch = [{"kind": "note", "subject": "specimen/24-0001", "fields": {"text": f"shelf {i}"}}
             for i in range(IN_BULK)]
    pathlib.Path(lab.path("batch.json")).write_text(json.dumps(batch))
    lab.do("record", "--from", lab.path("batch.json"))
    before = {name: os.stat(lab.path("web/" + name)).st_mtime_ns for name in files(lab)}
    lab.do("publish", lab.path("web"), "--entries")
    made = files(lab)
    size = int(made["checkpoint"].decode().split("\n")[1])
    claims("a full tile, the rest, and a second level", {
        "tile/0/000", f"tile/0/001.p/{size - 256}", "tile/1/000.p/1", "tile/entries/000",
        f"tile/entries/001.p/{size - 256}"} <= set(made), sorted(made))
    claims("what had not changed was not written again", all(
        os.stat(lab.path("web/" + name)).st_mtime_ns == when for name, when in before.items()
        if name.startswith("tile/") or name in ("verify.html", "keys.jwks")))
    got = judged(lab, "web", checkpoint_key(certificate), "-old", "first-checkpoint", "-entries")
    claims("x/mod: tiles, entries, and it goes on from the first", got.stdout.strip() == str(size),
           got.stdout + got.stderr)
    data = bytearray(pathlib.Path(lab.path("web/tile/0/000")).read_bytes())
    shutil.copytree(lab.path("web"), lab.path("bent"))
    data[5] ^= 1
    pathlib.Path(lab.path("bent/tile/0/000")).write_bytes(data)
    claims("and it would notice one bit", judged(lab, "bent", checkpoint_key(
        certificate)).returncode == 1)
    return size


def held_against(lab, certificate):
    trust = lab.trust()
    got = lab.ask("verify", certificate, "--trust", trust, "--published", lab.path("web"))
    claims("it goes on from the certificate and does not withdraw it", got["verdict"] == "holds"
           and got["files"][0]["published"]["goesOn"]
           and not got["files"][0]["published"]["withdrawn"], got)
    got = lab.run("verify", certificate, "--trust", trust, "--published", lab.path("bent"))
    claims("bent tiles are named", got.returncode == 1 and "published-differs" in got.stdout,
           got.stdout)
    shutil.copytree(lab.path("web"), lab.path("holed"))
    shutil.rmtree(lab.path("holed/tile/0"))
    got = lab.run("verify", certificate, "--trust", trust, "--published", lab.path("holed"))
    claims("missing ones are not checked", got.returncode == 3
           and "published-unreadable" in got.stdout, got.stdout)
    later = sheet(lab, "24-0001", "later")
    got = lab.run("verify", later, "--trust", trust, "--published", lab.path("web"))
    claims("a folder older than the certificate says nothing", got.returncode == 1
           and "rolled-back" in got.stdout, got.stdout)


def withdrawn(lab, certificate):
    trust = lab.trust()
    named = lab.ask("verify", certificate)["files"][0]["certificates"][0]["id"]
    lab.do("withdraw", named, "--why", "error in facts")
    claims("before it is published nobody can know", lab.run(
        "verify", certificate, "--trust", trust, "--published", lab.path("web")).returncode == 0)
    lab.do("publish", lab.path("web"))
    got = lab.run("verify", certificate, "--trust", trust, "--published", lab.path("web"))
    claims("then it is withdrawn, and why", got.returncode == 1 and "withdrawn" in got.stdout
           and "error in facts" in got.stdout, got.stdout)
    claims("people read it too", named in pathlib.Path(lab.path("web/index.html")).read_text())
    file = pathlib.Path(lab.path("web/withdrawn.json"))
    whole = json.loads(file.read_text())
    cut = {**whole, "entries": whole["entries"][:-1]}
    file.write_text(json.dumps(cut))
    got = lab.run("verify", certificate, "--trust", trust, "--published", lab.path("web"))
    claims("a withdrawal cut out of the list is noticed", got.returncode == 1
           and "published-forged" in got.stdout, got.stdout)
    header, payload, signature = whole["list"].split(".")
    empty = {**json.loads(unpack(payload)), "withdrawn": []}
    bent = base64.urlsafe_b64encode(json.dumps(empty).encode()).decode().rstrip("=")
    file.write_text(json.dumps({**cut, "list": f"{header}.{bent}.{signature}"}))
    got = lab.run("verify", certificate, "--trust", trust, "--published", lab.path("web"))
    claims("so is one with a list made to fit", got.returncode == 1
           and "published-forged" in got.stdout, got.stdout)
    file.write_text(json.dumps(whole))


def witnessed(lab, certificate):
    env_pass = lab.path("passphrase")
    lab.cosign("watch", "--new", "witness.example", "--new-passphrase-file", env_pass)
    key = json.loads(lab.cosign("watch", "--json"))["vkey"]
    lab.cosign("watch", "--ledger-key", certificate)
    lab.do("anchor", "--witness", key)
    lab.do("anchor", "--ask", lab.path("request"))
    lab.cosign("watch", "request", "--out", "answer")
    lab.do("anchor", lab.path("answer"))
    lab.do("publish", lab.path("web"))
    got = judged(lab, "web", checkpoint_key(certificate), "-witness", key)
    claims("x/mod opens the published checkpoint with the witness's key",
           got.returncode == 0 and int(got.stdout.split()[1]) > 1_700_000_000,
           got.stdout + got.stderr)
    pathlib.Path(lab.path("policy")).write_text(f"witness w {key}\nquorum w\n")
    got = lab.ask("verify", certificate, "--trust", lab.trust(), "--published", lab.path("web"),
                  "--policy", lab.path("policy"))
    claims("a published cosignature dates the certificate", got["files"][0]["witnessed"]["quorum"],
           got)


def other_histories(lab):
    with Desk("other.example") as other:
        other.record("party", "party/P001", partyType="person", name="A B", namedTo="anyone",
                     neutralLabel="the owner")
        claims("another ledger's folder is left alone", other.run(
            "publish", lab.path("web")).returncode == 2)
    before = files(lab)
    shutil.rmtree(lab.ledger)
    shutil.copytree(lab.path("backup"), lab.ledger)
    got = lab.run("publish", lab.path("web"))
    claims("an older copy does not publish over a newer", got.returncode == 1
           and "older copy" in got.stderr and files(lab) == before, got.stderr)


subprocess.run(["go", "version"], check=True, capture_output=True)
with Desk("ledger.harrowvane.example") as the_lab:
    subprocess.run(["go", "build", "-o", the_lab.path("judge"),
                    str(TOP / "tests/support/judge_tiles.go")], check=True, env={
                        **GO, "GOCACHE": the_lab.path("go-cache"), "HOME": the_lab.path("")})
    the_lab.record("party", "party/P001", partyType="person", name="Ottoline Harrow",
                   namedTo="anyone", neutralLabel="the owner of the lab")
    piece(the_lab, "24-0001")
    the_certificate = sheet(the_lab, "24-0001", "first")
    first_time(the_lab, the_certificate)
    shutil.copytree(the_lab.ledger, the_lab.path("backup"))
    grown(the_lab, the_certificate)
    held_against(the_lab, the_certificate)
    withdrawn(the_lab, the_certificate)
    witnessed(the_lab, the_certificate)
    other_histories(the_lab)
sys.exit(claims.end())
