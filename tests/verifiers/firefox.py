"""A headless Firefox, driven over its own Marionette protocol with nothing but the standard library
(there is no driver for it among Debian 12's packages). FIREFOX names the program; else it is
`firefox-esr`, or `firefox`."""
import base64
import contextlib
import json
import os
import shutil
import socket
import subprocess
import tempfile
import time

from browser import ELEMENT, Page

PREFERENCES = {
    "app.normandy.enabled": False, "app.update.enabled": False, "network.proxy.type": 1,
    "browser.shell.checkDefaultBrowser": False, "datareporting.policy.dataSubmissionEnabled": False,
    "network.captive-portal-service.enabled": False, "network.connectivity-service.enabled": False,
    "network.proxy.http": "127.0.0.1", "network.proxy.http_port": 9,
    "network.proxy.ssl": "127.0.0.1", "network.proxy.ssl_port": 9,
    "services.settings.server": "data:,", "toolkit.telemetry.enabled": False,
}


def program():
    return shutil.which(os.environ.get("FIREFOX", "firefox-esr")) or shutil.which("firefox")


class Firefox:
    def __init__(self, width=1000, height=1400):
        self.folder = tempfile.mkdtemp(prefix="markerbed-firefox-", dir="/tmp")
        with contextlib.closing(socket.socket()) as one:
            one.bind(("127.0.0.1", 0))
            port = one.getsockname()[1]
        preferences = {**PREFERENCES, "marionette.port": port}
        with open(os.path.join(self.folder, "user.js"), "w", encoding="ascii") as out:
            out.writelines("user_pref(%s, %s);\n" % (json.dumps(n), json.dumps(v))
                           for n, v in preferences.items())
        self.process = subprocess.Popen(
            [program(), "--headless", "--no-remote", "--profile", self.folder, "--marionette"],
            env={**os.environ, "HOME": self.folder}, stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL)
        self.count, self.socket = 0, None
        for _ in range(300):
            with contextlib.suppress(OSError):
                self.socket = socket.create_connection(("127.0.0.1", port), 120)
                break
            time.sleep(0.1)
        self.stream = self.socket.makefile("rb")
        self.read()
        self.call("WebDriver:NewSession")
        self.call("WebDriver:SetWindowRect", {"width": width, "height": height})

    def read(self):
        size = b""
        while not size.endswith(b":"):
            size += self.stream.read(1)
        return json.loads(self.stream.read(int(size[:-1])))

    def call(self, name, arguments=None):
        self.count += 1
        text = json.dumps([0, self.count, name, arguments or {}]).encode()
        self.socket.sendall(b"%d:%s" % (len(text), text))
        _, _, error, value = self.read()
        if error:
            raise RuntimeError(error["message"])
        return value

    def open(self, url):
        self.call("WebDriver:Navigate", {"url": url})

    def run(self, script, *arguments):
        return self.call("WebDriver:ExecuteScript",
                         {"script": script, "args": list(arguments), "sandbox": None})["value"]

    def type(self, selector, text):
        found = self.call("WebDriver:FindElement", {"using": "css selector", "value": selector})
        self.call("WebDriver:ElementSendKeys", {"id": found["value"][ELEMENT], "text": text})

    def screen(self, path):
        with open(path, "wb") as out:
            out.write(base64.b64decode(self.call("WebDriver:TakeScreenshot", {"full": True})[
                "value"]))

    def close(self):
        with contextlib.suppress(Exception):
            self.call("Marionette:Quit", {"flags": ["eForceQuit"]})
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.process.wait(10)
        self.process.kill()
        self.process.wait()
        shutil.rmtree(self.folder, ignore_errors=True)


class FirefoxPage(Page):
    def __init__(self, path):
        self.browser = Firefox()
        self.browser.open("file://" + str(path))
