"""A headless Chromium, driven over WebDriver (W3C) with nothing but the standard library."""
import base64
import contextlib
import http.client
import json
import os
import re
import shutil
import socket
import subprocess
import tempfile
import time

ELEMENT = "element-6066-11e4-a52e-4f735466cecf"
ARGUMENTS = ["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run",
             "--disable-background-networking", "--disable-component-update", "--disable-sync",
             "--disable-dev-shm-usage", "--host-resolver-rules=MAP * ~NOTFOUND"]


def there():
    return shutil.which("chromium") and shutil.which("chromedriver")


class Browser:
    def __init__(self, width=1000, height=1400):
        # A short folder: Chromium makes a socket below TMPDIR, and the path of a socket may not be
        # longer than 107 bytes.
        self.folder = tempfile.mkdtemp(prefix="markerbed-browser-", dir="/tmp")
        with contextlib.closing(socket.socket()) as one:
            one.bind(("127.0.0.1", 0))
            self.port = one.getsockname()[1]
        env = {**os.environ, "HOME": self.folder, "TMPDIR": self.folder}
        self.driver = subprocess.Popen(["chromedriver", "--port=%d" % self.port, "--silent"],
                                       env=env,
                                       stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        self.base, options = "", {"binary": shutil.which("chromium"), "args": ARGUMENTS + [
            "--user-data-dir=" + self.folder + "/profile", "--window-size=%d,%d" % (width, height)]}
        for _ in range(100):
            with contextlib.suppress(OSError):
                self.call("GET", "/status")
                break
            time.sleep(0.1)
        answer = self.call("POST", "/session", {"capabilities": {"alwaysMatch": {
            "goog:chromeOptions": options}}})
        self.base = "/session/" + answer["sessionId"]

    def call(self, method, path, body=None):
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
        connection.request(method, self.base + path, json.dumps(body) if body is not None else None,
                           {"Content-Type": "application/json"})
        value = json.loads(connection.getresponse().read())["value"]
        connection.close()
        if isinstance(value, dict) and "error" in value:
            raise RuntimeError(value["message"].split("\n")[0])
        return value

    def open(self, url):
        self.call("POST", "/url", {"url": url})

    def run(self, script, *arguments):
        return self.call("POST", "/execute/sync", {"script": script, "args": list(arguments)})

    def find(self, selector):
        found = self.call("POST", "/element", {"using": "css selector", "value": selector})
        return found[ELEMENT]

    def type(self, selector, text):
        self.call("POST", "/element/%s/value" % self.find(selector), {"text": text})

    def screen(self, path):
        """The whole page, however long."""
        size = self.run("return [window.outerWidth, document.documentElement.scrollHeight]")
        before = self.call("GET", "/window/rect")
        self.call("POST", "/window/rect",
                  {"width": before["width"], "height": min(size[1] + 150, 8000)})
        with open(path, "wb") as out:
            out.write(base64.b64decode(self.call("GET", "/screenshot")))
        self.call("POST", "/window/rect", {"width": before["width"], "height": before["height"]})

    def close(self):
        with contextlib.suppress(Exception):
            self.call("DELETE", "")
        self.driver.terminate()
        self.driver.wait()
        shutil.rmtree(self.folder, ignore_errors=True)


class Page:
    """The page that checks certificates, opened from a file."""

    def __init__(self, path, **size):
        self.browser = Browser(**size)
        self.browser.open("file://" + str(path))

    def judge(self, paths, fingerprint="", code=""):
        """(exit, findings), as a person would ask for them: by choosing files."""
        browser = self.browser
        browser.run("document.getElementById('files').value = ''; chosen = [];"
                    "delete document.body.dataset.exit;"
                    "document.getElementById('fingerprint').value = arguments[0];"
                    "document.getElementById('code').value = arguments[1];", fingerprint, code)
        if paths:
            browser.type("#files", "\n".join(map(str, paths)))
        else:
            browser.run("run()")
        return self.answer()

    def answer(self):
        """What the page says of what it was given last, as soon as it has said it."""
        browser = self.browser
        for _ in range(6000):
            found = browser.run("const d = document.body.dataset;"
                                "return d.exit === undefined ? null : [d.exit, d.findings || ''];")
            if found:
                return int(found[0]), set(found[1].split())
            time.sleep(0.005)
        raise RuntimeError("no answer from the page")


def page_text(schema, program):
    """The page as the program prints it; as the files under schema/ give it, where the program has
    no such command yet. A placeholder {{path}} stands for the file of that path."""
    joined = re.sub(r"\{\{([a-z/.]+)\}\}", lambda m: (schema / m[1]).read_text(),
                    (schema / "page/verify.html").read_text())
    done = subprocess.run([program, "verify", "--page"], capture_output=True, timeout=60)
    printed = done.stdout.decode()
    if done.returncode == 0:
        assert printed == joined, "the program prints another page than schema/page gives"
        return printed, "printed by the program"
    return joined, "joined from schema/page (the program does not print it)"
