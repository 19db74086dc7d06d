"""A real browser for tests: headless Chromium, spoken to over its own debugging protocol."""

from __future__ import annotations

import base64
import json
import shutil
import subprocess
import tempfile
import time
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from websockets.sync.client import ClientConnection, connect

from .closing import Closing

CHROMIUM = shutil.which("chromium") or "chromium"
_FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--remote-debugging-port=0", "--remote-allow-origins=*",
)  # fmt: skip
START_S, LOAD_S = 40.0, 20.0


class Page:
    """One page, opened at one width; what it complained of, and what it asked for."""

    def __init__(self, socket: ClientConnection) -> None:
        self._socket, self._number = socket, 0
        self.complaints: list[str] = []
        self.asked: list[str] = []

    def open(self, url: str, width: int, *, dark: bool = False) -> None:
        """Load it as a screen of that width would, and wait until it is drawn."""
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width, height=800, deviceScaleFactor=1, mobile=width < 700,
        )  # fmt: skip
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.call("Emulation.setEmulatedMedia", features=[scheme])
        self.call("Page.navigate", url=url)
        ends = time.monotonic() + LOAD_S
        while self.value("document.readyState") != "complete" or not self.asked:
            assert time.monotonic() < ends, "the page does not load"

    def value(self, expression: str) -> Any:
        """What an expression gives in the page."""
        answer = self.call("Runtime.evaluate", expression=expression, returnByValue=True)
        return answer["result"].get("value")

    def picture(self, path: Path) -> None:
        """The whole page as PNG."""
        answer = self.call("Page.captureScreenshot", format="png", captureBeyondViewport=True)
        path.write_bytes(base64.b64decode(answer["data"]))

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        self._number += 1
        self._socket.send(json.dumps({"id": self._number, "method": method, "params": params}))
        while True:
            said = json.loads(self._socket.recv(timeout=LOAD_S))
            if said.get("id") == self._number:
                assert "error" not in said, said
                return dict(said["result"])
            self._heard(said)

    def _heard(self, said: dict[str, Any]) -> None:
        method, params = said.get("method", ""), said.get("params", {})
        if method == "Log.entryAdded":
            self.complaints.append(str(params["entry"].get("text")))
        elif method == "Runtime.exceptionThrown":
            self.complaints.append(str(params["exceptionDetails"].get("text")))
        elif method == "Runtime.consoleAPICalled":
            self.complaints.append(f"console.{params.get('type')}")
        elif method == "Network.requestWillBeSent":
            self.asked.append(str(params["request"]["url"]))


class Browser(Closing):
    """Started for one test, ended with it."""

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(ignore_cleanup_errors=True)
        self._process = subprocess.Popen(
            [CHROMIUM, *_FLAGS, f"--user-data-dir={self._folder.name}", "about:blank"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        self._sockets = ExitStack()
        self._browser = self._connect()

    def _connect(self) -> ClientConnection:
        told = Path(self._folder.name) / "DevToolsActivePort"
        ends = time.monotonic() + START_S
        while not told.exists() or len(told.read_text().split()) < 2:
            assert self._process.poll() is None, "chromium ended at once"
            assert time.monotonic() < ends, "chromium does not start"
            time.sleep(0.05)
        self._port, path = told.read_text().split()[:2]
        return self._open(path)

    def _open(self, path: str) -> ClientConnection:
        url = f"ws://127.0.0.1:{self._port}{path}"
        return self._sockets.enter_context(connect(url, max_size=None, proxy=None))

    def page(self) -> Page:
        self._browser.send(
            json.dumps({"id": 1, "method": "Target.createTarget", "params": {"url": "about:blank"}})
        )
        while True:
            said = json.loads(self._browser.recv(timeout=LOAD_S))
            if said.get("id") == 1:
                return Page(self._open(f"/devtools/page/{said['result']['targetId']}"))

    def close(self) -> None:
        self._sockets.close()
        self._process.kill()
        self._process.wait(30)
        self._folder.cleanup()
