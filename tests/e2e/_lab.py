"""For the Python scripts beside it: a ledger in a folder of its own, and claims that are counted.

    claims = Claims()
    with Lab("quiet.example") as lab:
        lab.record("party", "party/P001", partyType="person", name="A B", namedTo="anyone")
        claims("it verifies", lab.run("verify", lab.ledger).returncode == 3)
    sys.exit(claims.end())
"""
import base64
import json
import os
import pathlib
import subprocess
import sys
import tempfile

TOP = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = os.path.abspath(os.environ.get("MARKERBED", TOP / "build/markerbed"))
CLASSES = ("sale", "science", "land", "private", "own")


class Claims:
    def __init__(self):
        self.passed = self.failed = 0

    def __call__(self, name, holds, shown=""):
        self.passed += bool(holds)
        self.failed += not holds
        if not holds:
            print(f"not so: {name}\n    {str(shown)[:1000]}", flush=True)
        return holds

    def end(self):
        print(f"{self.passed} passed, {self.failed} failed")
        return 1 if self.failed or not self.passed else 0


class Lab:
    """A founded ledger, whose passphrase the program finds by itself."""

    def __init__(self, origin):
        self.temporary = tempfile.TemporaryDirectory()
        self.folder = pathlib.Path(self.temporary.name)
        self.ledger = str(self.folder / "ledger")
        self.origin = origin
        (self.folder / "passphrase").write_text("an old road through the shale\n")
        self.env = {k: v for k, v in os.environ.items() if not k.startswith("MARKERBED")}
        self.env["MARKERBED_PASSPHRASE_FILE"] = str(self.folder / "passphrase")
        self.do("found", "--origin", origin, "--name", "A lab", "--label", "one", "--holder",
                "P001")

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.temporary.cleanup()

    def path(self, name):
        return str(self.folder / name)

    def run(self, *words, typed=None):
        return subprocess.run([PROGRAM, "-L", self.ledger, *map(str, words)], text=True,
                              capture_output=True, env=self.env, cwd=self.folder, check=False,
                              **({"input": typed} if typed is not None
                                 else {"stdin": subprocess.DEVNULL}))

    def do(self, *words, typed=None):
        """What the command printed; the whole test ends where it does not succeed."""
        done = self.run(*words, typed=typed)
        if done.returncode:
            sys.exit(f"{' '.join(map(str, words[:4]))}: exit {done.returncode}: {done.stderr}"
                     f"{done.stdout[-2000:]}")
        return done.stdout

    def ask(self, *words):
        """The answer as data, whatever the exit code."""
        return json.loads(self.run(*words, "--json").stdout)

    def record(self, kind, subject, **fields):
        attach = fields.pop("attach", None)
        self.do("record", kind, subject, *(f"{k}={v}" for k, v in fields.items()),
                *(["--attach", attach] if attach else []))

    def entries(self):
        return self.ask("verify", self.ledger, "--no-views")["files"][0]["entries"]

    def trust(self):
        """A trust file that names this ledger."""
        about = self.ask("verify", self.ledger, "--no-views")["files"][0]
        path = self.folder / "trust"
        path.write_text(f"ledger {self.origin} {about['fingerprint']}\n")
        return str(path)


def unpack(text):
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


def entries_of(certificate):
    """(payload, {field: value} of what is open or shown) of each entry of a certificate, read
    without the program's help."""
    for entry in certificate["entries"]:
        jws, *disclosures = entry["sd_jwt"].split("~")
        payload = json.loads(unpack(jws.split(".")[1]))
        fields = {k: v for k, v in payload["body"].items() if k not in CLASSES}
        for disclosure in disclosures[:-1]:
            parts = json.loads(unpack(disclosure))
            if len(parts) == 3:
                fields[parts[1]] = parts[2]
        yield payload, fields


def shown_by_subject(certificate):
    """{subject: {field: value}}, later entries over earlier ones."""
    out = {}
    for payload, fields in entries_of(certificate):
        out.setdefault(payload["sub"], {}).update(fields)
    return out
