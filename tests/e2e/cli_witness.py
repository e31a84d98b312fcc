"""Being a witness and having one, at the command line: by files, over HTTP (C2SP tlog-witness),
the reader's policy (C2SP tlog-policy), and a ledger that was put back or told two stories."""
import concurrent.futures
import hashlib
import json
import pathlib
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request

from _lab import PROGRAM, Claims, Lab

claims = Claims()


class Desk(Lab):
    """Its `cosign` is somebody else's business: no ledger is named to it."""

    def run(self, *words, typed=None):
        if words[0] != "cosign":
            return super().run(*words, typed=typed)
        return subprocess.run([PROGRAM, *map(str, words)], text=True, capture_output=True,
                              env=self.env, cwd=self.folder, check=False,
                              stdin=subprocess.DEVNULL)


NAME, SECOND = "witness.strandmuseum.example", "witness.quillpost.example"


def piece(lab, number):
    lab.record("arrival", f"specimen/{number}", receivedOn="2024-05-03", receivedFrom="party/P001",
               fromLabel="client", reason="preparation", owner="not known",
               ownerShownBy="not asked", objectForm="single", objectQuantity="1",
               materialClass="invertebrate", verbatimLabel="an old label", labelLink="same bag",
               labelPhotos="none", earlierWork="not examined", arrivedDamaged="no",
               hazardsSeen="none", countryOfDiscovery="US", readBy="party/P001",
               readingSure="guess")


def sheet(lab, number, out):
    lab.do("sheet", number, "--to", "bearer", "--audience", "public", "--out", lab.path(out))
    return str(next(pathlib.Path(lab.path(out)).glob("*.json")))


def ask(lab, out, *more):
    pathlib.Path(lab.path(out)).unlink(missing_ok=True)
    lab.do("anchor", "--ask", lab.path(out), *more)
    return lab.path(out)


def post(port, body, path="/add-checkpoint"):
    request = urllib.request.Request(f"http://127.0.0.1:{port}{path}", data=body)
    try:
        with urllib.request.urlopen(request, timeout=20) as answer:
            return answer.status, answer.headers["Content-Type"], answer.read()
    except urllib.error.HTTPError as answer:
        return answer.code, answer.headers["Content-Type"], answer.read()


def by_files(lab):
    lab.do("cosign", "watch", "--new", NAME, "--new-passphrase-file", lab.path("passphrase"))
    key = lab.ask("cosign", "watch")["vkey"]
    claims("the key has the standard's form for cosignatures", key.startswith(NAME + "+")
           and key.split("+", 2)[2].startswith("B"), key)
    claims("a second witness in one folder is refused", lab.run(
        "cosign", "watch", "--new", NAME, "--new-passphrase-file",
        lab.path("passphrase")).returncode == 2)
    claims("nobody to ask yet", "No witness is asked" in lab.do("anchor"))
    # golang.org/x/mod sumdb/note, note_test.go: a log's key (type 01)
    claims("a log's key is no witness", lab.run(
        "anchor", "--witness",
        "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW").returncode == 2)
    lab.do("anchor", "--witness", key)
    claims("and none twice", "already" in lab.do("anchor", "--witness", key))
    piece(lab, "24-0001")
    first = sheet(lab, "24-0001", "first")
    request = ask(lab, "request")
    text = pathlib.Path(request).read_text()
    claims("the request is the standard's", text.startswith("old 0\n\n" + lab.origin + "\n"), text)
    answer = lab.run("cosign", "watch", request)
    claims("a ledger nobody told of is refused (404)", answer.returncode == 1
           and "404" in answer.stdout, answer.stdout)
    told = lab.do("cosign", "watch", "--ledger-key", first)
    claims("it is told by a certificate, and shows the fingerprint", "fingerprint" in told, told)
    lab.do("cosign", "watch", request, "--out", lab.path("answer"))
    state = pathlib.Path(lab.path("watch")) / "seen" / hashlib.sha256(
        lab.origin.encode()).hexdigest()
    claims("what it saw is kept as the cosigned checkpoint",
           pathlib.Path(lab.path("answer")).read_text() in state.read_text())
    claims("the answer is filed", "Filed" in lab.do("anchor", lab.path("answer")))
    claims("once", "already" in lab.do("anchor", lab.path("answer")))
    pathlib.Path(lab.path("junk")).write_text("the checkpoint does not follow\n")
    claims("a refusal is no answer", lab.run("anchor", lab.path("junk")).returncode == 2)
    line = pathlib.Path(lab.path("answer")).read_text()
    pathlib.Path(lab.path("bent")).write_text(line[:-12] + "AAAA" + line[-8:])
    claims("a bent answer is not filed", lab.run("anchor", lab.path("bent")).returncode in (1, 2))
    return key, first


def policy(lab, key, quorum="quorum all-of-them"):
    path = pathlib.Path(lab.path("policy"))
    path.write_text(f"# whose word counts\nwitness museum {key}\ngroup all-of-them all museum\n"
                    f"{quorum}\n")
    return str(path)


def by_policy(lab, key, first):
    trust, asked = lab.trust(), policy(lab, key)
    got = lab.ask("verify", lab.ledger, "--trust", trust, "--policy", asked)
    claims("the ledger itself: it existed by, and who says so", got["verdict"] == "holds"
           and got["files"][0]["witnessed"]["quorum"]
           and any(words.startswith("It existed by") for words in got["words"]), got)
    got = lab.run("verify", first, "--trust", trust, "--policy", asked)
    claims("a certificate older than any witness does not reach the quorum", got.returncode == 3
           and "no-quorum" in got.stdout and "unwitnessed" in got.stdout, got.stdout)
    claims("without a policy the same holds, unwitnessed",
           lab.run("verify", first, "--trust", trust).returncode == 0)
    lab.do("anchor", "--carry", first, "--out", lab.path("carried.json"))
    got = lab.ask("verify", lab.path("carried.json"), "--trust", trust, "--policy", asked)
    seen = got["files"][0]["witnessed"]
    claims("carried: it existed by, and who says so", got["verdict"] == "holds" and seen["quorum"]
           and seen["witnesses"][0]["name"] == "museum" and "existedBy" in seen, got)
    claims("its identity stays", got["files"][0]["certificates"]
           == lab.ask("verify", first)["files"][0]["certificates"])
    piece(lab, "24-0002")
    later = json.loads(pathlib.Path(sheet(lab, "24-0002", "later")).read_text())
    claims("later certificates bring the cosigned checkpoint along", len(later["anchors"]) == 1
           and NAME in later["anchors"][0]["checkpoint"])
    got = lab.ask("verify", sheet(lab, "24-0002", "later2"), "--trust", trust, "--policy", asked)
    claims("which speaks for the earlier part alone", got["files"][0]["witnessed"]["earlier"]
           and not got["files"][0]["witnessed"]["quorum"], got)
    got = lab.run("verify", lab.ledger, "--trust", trust, "--policy", asked)
    claims("so it is of the ledger that went on", got.returncode == 3 and "no-quorum" in got.stdout
           and "entries of its ledger existed by" in " ".join(got.stdout.split()), got.stdout)
    bent = json.loads(pathlib.Path(lab.path("carried.json")).read_text())
    note = bent["anchors"][0]["checkpoint"].rstrip("\n")
    bent["anchors"][0]["checkpoint"] = note[:-8] + ("AAAA" if note[-8:-4] != "AAAA" else "BBBB") \
        + note[-4:] + "\n"
    pathlib.Path(lab.path("bent.json")).write_text(json.dumps(bent))
    got = lab.run("verify", lab.path("bent.json"), "--trust", trust, "--policy", asked)
    claims("a bent cosignature is a finding", got.returncode == 1
           and "cosignature-forged" in got.stdout, got.stdout)
    for words, why in (("quorum nobody", "no line above names"), ("", "no quorum line"),
                       ("quorum none\nquorum none", "already"), ("hello", "begins with")):
        got = lab.run("verify", first, "--policy", policy(lab, key, words))
        claims(f"a policy with '{words}' is refused with its line", got.returncode == 2
               and why in got.stderr, got.stderr)
    claims("quorum none asks for nothing", lab.run(
        "verify", first, "--trust", trust, "--policy",
        policy(lab, key, "quorum none")).returncode == 0)


def over_http(lab):
    env = dict(lab.env)
    with subprocess.Popen([PROGRAM, "cosign", "watch", "--serve", "0"], stdout=subprocess.PIPE,
                          text=True, env=env, cwd=lab.folder) as server:
        try:
            where = server.stdout.readline().strip()
            claims("it listens on this machine alone", "http://127.0.0.1:" in where, where)
            port = int(where.rsplit(":", 1)[1].split("/")[0])
            claims("a second program is kept out while it serves", lab.run(
                "cosign", "watch", ask(lab, "second")).returncode == 3)
            body = pathlib.Path(ask(lab, "http")).read_bytes()
            last = int(body.split(b"\n")[0].split()[1])
            status, kind, said = post(port, body)
            claims("200 and one line", status == 200 and said.count(b"\n") == 1
                   and said.startswith("— ".encode() + NAME.encode()), (status, said))
            pathlib.Path(lab.path("http-answer")).write_bytes(said)
            claims("which is filed", "Filed" in lab.do("anchor", lab.path("http-answer")))
            status, kind, said = post(port, body)
            claims("409 with the size, where the old size is not the last seen", status == 409
                   and kind == "text/x.tlog.size" and int(said) > last, (status, kind, said))
            size = int(said)
            wrong = b"old %d\n" % size + body.split(b"\n", 1)[1]
            claims("422 for a proof that does not fit", post(port, wrong)[0] == 422)
            claims("400 for a size that goes back",
                   post(port, b"old %d\n" % (size + 5) + body.split(b"\n", 1)[1])[0] == 400)
            claims("400 for what is no request", post(port, b"hello\n")[0] == 400)
            claims("404 for another ledger", post(port, body.replace(
                lab.origin.encode(), b"other.example"))[0] == 404)
            text, signature = body.rsplit(b"\n\n", 1)
            claims("403 without the log's signature", post(port, text + b"\n\n" + signature.replace(
                signature[-20:-8], b"AAAAAAAAAAAA"))[0] == 403)
            claims("an endless body is cut off", post(port, b"x" * (3 << 20))[0] == 413)
            claims("what is not there", post(port, b"", "/nothing")[0] == 405)
            hexed = hashlib.sha256(lab.origin.encode()).hexdigest()
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/{hexed}/checkpoint") as got:
                text = got.read().decode()
            claims("the cosigned checkpoint is given", text.split("\n")[:2]
                   == [lab.origin, str(size)] and NAME in text, text)
        finally:
            server.send_signal(signal.SIGTERM)
        claims("it ends when it is told to", server.wait(20) == 0)


def serving(lab):
    server = subprocess.Popen([PROGRAM, "cosign", "watch", "--serve", "0"], stdout=subprocess.PIPE,
                              text=True, env=dict(lab.env), cwd=lab.folder)
    return server, int(server.stdout.readline().strip().rsplit(":", 1)[1].split("/")[0])


def hold(port, text):
    """A client that begins and does not go on."""
    line = socket.create_connection(("127.0.0.1", port), 30)
    line.sendall(text)
    return line


def under_load(lab):
    """Many at once, some that never end, and a stroke of the axe behind the answer."""
    piece(lab, "24-0009")
    body = pathlib.Path(ask(lab, "many")).read_bytes()
    head = b"POST /add-checkpoint HTTP/1.1\r\nHost: x\r\n"
    server, port = serving(lab)
    slow = [hold(port, text) for text in (
        b"POST /add-ch", head, head + b"Content-Length: 500\r\n\r\nold 1",
        head + b"Content-Length: 99999999999\r\n\r\n",
        head + b"Transfer-Encoding: chunked\r\n\r\n5\r\nold 1\r\n")]
    try:
        with concurrent.futures.ThreadPoolExecutor(12) as pool:
            began = time.monotonic()
            got = list(pool.map(lambda _: post(port, body), range(24)))
            took = time.monotonic() - began
        kinds = [status for status, _, _ in got]
        claims("of many that ask the same at once one is served", kinds.count(200) == 1
               and kinds.count(409) == 23, kinds)
        claims("all others are told the same size", len({said for status, _, said in got
                                                         if status == 409}) == 1, got)
        claims("those that never end hold nobody up", took < 10, took)
    finally:
        server.kill()
        server.wait()
        for line in slow:
            line.close()
    pathlib.Path(lab.path("many-answer")).write_bytes(next(s for k, _, s in got if k == 200))
    lab.do("anchor", lab.path("many-answer"))
    server, port = serving(lab)
    try:
        status, kind, said = post(port, body)
        claims("what it answered before it was killed, it knows afterwards", status == 409
               and kind == "text/x.tlog.size" and said == next(
                   s for k, _, s in got if k == 409), (status, said))
    finally:
        server.terminate()
        server.wait(20)


def rolled_back(lab):
    """The folder is put back to an older copy and goes on from there: two stories."""
    newer = sheet(lab, "24-0002", "newer")
    lab.do("cosign", "watch", ask(lab, "before"), "--out", lab.path("before-answer"))
    lab.do("anchor", lab.path("before-answer"))
    seen = lab.ask("anchor")[0]["size"]
    shutil.rmtree(lab.ledger)
    shutil.copytree(lab.path("backup"), lab.ledger)
    got = lab.ask("cosign", "watch", ask(lab, "old", "--since", 0))
    claims("an older copy is refused and said to be one", got["status"] == 409
           and "older copy" in got["why"] and got["seenSize"] == seen and "seen" in got, got)
    while lab.entries() < seen:
        lab.record("note", "specimen/24-0001", text="something else")
    same = sheet(lab, "24-0001", "same")
    other = lab.ask("cosign", "watch", ask(lab, "fork", "--since", 0))
    request = pathlib.Path(lab.path("fork")).read_text().split("\n", 1)[1]
    pathlib.Path(lab.path("fork2")).write_text(f"old {seen}\n" + request)
    got = lab.run("cosign", "watch", lab.path("fork2"))
    claims("a second story is refused (422), and the first shown", got.returncode == 1
           and "422" in got.stdout and "What this witness signed before" in got.stdout, got.stdout)
    claims("and kept as proof", any((pathlib.Path(lab.path("watch")) / "refused").iterdir()))
    claims("409 where the size is wrong too", other["status"] == 409, other)
    got = lab.run("verify", newer, same)
    claims("two certificates alone prove it", got.returncode == 1 and "forked" in got.stdout,
           got.stdout)
    got = lab.run("verify", newer, lab.ledger)
    claims("so does a certificate against the ledger", got.returncode == 1
           and ("forked" in got.stdout or "rolled-back" in got.stdout), got.stdout)
    seen_note = next((pathlib.Path(lab.path("watch")) / "seen").iterdir())
    got = lab.run("verify", seen_note, same, lab.ledger)
    claims("and the witness's own checkpoint", got.returncode == 1 and "forked" in got.stdout,
           got.stdout)


def damaged_state(lab):
    seen = next((pathlib.Path(lab.path("watch")) / "seen").iterdir())
    text = seen.read_text()
    lines = text.split("\n")
    lines[1] = str(int(lines[1]) - 1)
    seen.write_text("\n".join(lines))
    got = lab.run("cosign", "watch", lab.path("request"))
    claims("a changed memory is noticed, and nothing signed", got.returncode == 3
           and "not what this witness signed" in got.stderr, got.stderr)
    seen.write_text(text)
    claims("a wrong passphrase is refused", subprocess.run(
        [PROGRAM, "cosign", "watch", "request"], cwd=lab.folder, capture_output=True, check=False,
        env={**lab.env, "MARKERBED_PASSPHRASE_FILE": lab.path("junk")}).returncode == 2)


with Desk("ledger.harrowvane.example") as the_lab:
    the_lab.record("party", "party/P001", partyType="person", name="Ottoline Harrow",
                   namedTo="anyone", neutralLabel="the owner of the lab")
    the_key, the_first = by_files(the_lab)
    shutil.copytree(the_lab.ledger, the_lab.path("backup"))
    by_policy(the_lab, the_key, the_first)
    over_http(the_lab)
    under_load(the_lab)
    rolled_back(the_lab)
    damaged_state(the_lab)
sys.exit(claims.end())
