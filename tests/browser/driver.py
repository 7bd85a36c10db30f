"""A real browser, steered over the WebDriver protocol (W3C recommendation) with nothing but the standard library."""

from __future__ import annotations

import base64
import json
import shutil
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

BROWSER = shutil.which("chromium") or shutil.which("google-chrome")
DRIVER = shutil.which("chromedriver")
PRESENT = BROWSER is not None and DRIVER is not None
ELEMENT = "element-6066-11e4-a52e-4f735466cecf"
"""The name under which the protocol hands out elements (WebDriver, section 11)."""

_FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
)


class Browser:
    """One window of a browser.

    Parameters
    ----------
    address : str
        Where the driver listens.
    capabilities : dict
        What the session should be like.
    """

    def __init__(self, address: str, capabilities: dict[str, Any]) -> None:
        self._session = f"{address}/session"
        made = self._call("POST", "", {"capabilities": {"alwaysMatch": capabilities}})
        self._session += f"/{made['sessionId']}"

    def _call(self, method: str, path: str, body: dict[str, Any] | None = None) -> Any:
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(self._session + path, data=data, method=method)
        request.add_header("Content-Type", "application/json")
        try:
            with urllib.request.urlopen(request, timeout=120) as answer:
                return json.load(answer)["value"]
        except urllib.error.HTTPError as refused:
            raise AssertionError(refused.read().decode()) from None

    def open(self, page: Path) -> None:
        """Open a file."""
        self._call("POST", "/url", {"url": page.as_uri()})

    def run(self, script: str, *arguments: Any) -> Any:
        """Run a script in the page; give what it returns."""
        return self._call("POST", "/execute/sync", {"script": script, "args": list(arguments)})

    def _find(self, query: str) -> str:
        found: dict[str, str] = self._call("POST", "/element", {"using": "css selector", "value": query})
        return found[ELEMENT]

    def type(self, query: str, text: str) -> None:
        """Type into a field, key by key, in place of what stands there."""
        element = self._find(query)
        self._call("POST", f"/element/{element}/clear", {})
        self._call("POST", f"/element/{element}/value", {"text": text})

    def press(self, text: str) -> None:
        """Press keys one by one, wherever the focus is."""
        strokes = [{"type": kind, "value": sign} for sign in text for kind in ("keyDown", "keyUp")]
        self._call("POST", "/actions", {"actions": [{"type": "key", "id": "keys", "actions": strokes}]})

    def paste(self, query: str, text: str) -> None:
        """Paste a text into a field, as from another program."""
        self.run(
            "const field = document.querySelector(arguments[0]), data = new DataTransfer(); field.focus();"
            "data.setData('text', arguments[1]);"
            "field.dispatchEvent(new ClipboardEvent('paste', "
            "{clipboardData: data, bubbles: true, cancelable: true}));",
            query,
            text,
        )

    def in_colours(self, scheme: str) -> None:
        """Show pages as somebody sees them who asked for `light` or `dark` ones."""
        self._devtools("Emulation.setEmulatedMedia", {"features": [{"name": "prefers-color-scheme", "value": scheme}]})

    def choose(self, query: str, value: str) -> None:
        """Choose from a drop-down as a person does: by a click on the choice."""
        self.click(f"{query} option[value='{value}']")

    def click(self, query: str) -> None:
        """Click on something."""
        self._call("POST", f"/element/{self._find(query)}/click", {})

    def point_at(self, query: str) -> None:
        """Move the pointer over the middle of an element."""
        origin = {ELEMENT: self._find(query)}
        move = {"type": "pointerMove", "duration": 0, "origin": origin, "x": 0, "y": 0}
        self._call("POST", "/actions", {"actions": [{"type": "pointer", "id": "mouse", "actions": [move]}]})

    def text(self, query: str) -> str:
        """Give the text that stands in an element."""
        return str(self.run("return document.querySelector(arguments[0]).textContent", query))

    def wait_for(self, query: str, *beginnings: str) -> None:
        """Wait until the text of an element begins with one of these."""
        for _ in range(100):
            if self.text(query).startswith(beginnings):
                return
            time.sleep(0.1)
        raise AssertionError(f"{query} says '{self.text(query)}', none of {beginnings}")

    def accept(self) -> None:
        """Say yes to the question that the page asks."""
        self._call("POST", "/alert/accept", {})

    def shoot(self, path: Path) -> None:
        """Save a picture of the whole page."""
        height = self.run("return document.documentElement.scrollHeight")
        width = self.run("return innerWidth")
        metrics = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
        self._devtools("Emulation.setDeviceMetricsOverride", metrics)
        path.write_bytes(base64.b64decode(self._call("GET", "/screenshot")))

    def printed(self, *, width_cm: float, height_cm: float) -> bytes:
        """Print the page to PDF on paper of that size, with the page's own margins."""
        body = {"page": {"width": width_cm, "height": height_cm}, "shrinkToFit": False}
        return base64.b64decode(self._call("POST", "/print", body))

    def as_printed(self, *, width: int) -> None:
        """Show the page as it is printed, on paper so many points wide."""
        metrics = {"width": width, "height": 1000, "deviceScaleFactor": 1, "mobile": False}
        self._devtools("Emulation.setDeviceMetricsOverride", metrics)
        self._devtools("Emulation.setEmulatedMedia", {"media": "print"})

    def before_each_page(self, script: str) -> None:
        """Run a script in every page opened from now on, before its own scripts."""
        self._devtools("Page.addScriptToEvaluateOnNewDocument", {"source": script})

    def _devtools(self, command: str, parameters: dict[str, Any]) -> None:
        self._call("POST", "/goog/cdp/execute", {"cmd": command, "params": parameters})

    def console(self) -> list[str]:
        """Give what the browser complained of since last asked."""
        return [str(line["message"]) for line in self._call("POST", "/se/log", {"type": "browser"})]

    def requested(self) -> list[str]:
        """Give the addresses that pages, but for the browser's own first one, have asked for since last asked."""
        events = [
            json.loads(line["message"])["message"] for line in self._call("POST", "/se/log", {"type": "performance"})
        ]
        return [
            str(event["params"]["request"]["url"])
            for event in events
            if event["method"] == "Network.requestWillBeSent"
            and not event["params"]["documentURL"].startswith("chrome:")
        ]

    def close(self) -> None:
        """End the session."""
        self._call("DELETE", "")


@contextmanager
def browser(*, folder: Path, width: int) -> Iterator[Browser]:
    """Start a browser whose window, or phone, is `width` wide and whose downloads go to `folder`."""
    assert DRIVER is not None
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    profile = folder / "profile"
    driver = subprocess.Popen([DRIVER, f"--port={port}"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        _wait_for(port)
        options: dict[str, Any] = {
            "binary": BROWSER,
            "args": [*_FLAGS, f"--user-data-dir={profile}", f"--window-size={max(width, 500)},900"],
            "prefs": {"download.default_directory": str(folder), "download.prompt_for_download": False},
        }
        if width < 500:
            options["mobileEmulation"] = {
                "deviceMetrics": {"width": width, "height": 740, "pixelRatio": 1, "touch": True, "mobile": True}
            }
        logs = {"browser": "ALL", "performance": "ALL"}
        # half a minute (the script timeout of W3C WebDriver) is too short for a long form on a busy machine
        capabilities = {"browserName": "chrome", "goog:chromeOptions": options, "goog:loggingPrefs": logs}
        capabilities["timeouts"] = {"script": 110_000}
        opened = Browser(f"http://127.0.0.1:{port}", capabilities)
        try:
            yield opened
        finally:
            opened.close()
    finally:
        driver.terminate()
        driver.wait(timeout=30)


def _wait_for(port: int) -> None:
    for _ in range(200):
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
        except OSError:
            time.sleep(0.1)
        else:
            return
    raise AssertionError("the driver does not answer")


def downloaded(folder: Path, pattern: str) -> Path:
    """Wait for a file to be saved whole."""
    for _ in range(200):
        found = [path for path in folder.glob(pattern) if path.suffix != ".crdownload" and path.stat().st_size]
        if found:
            return found[0]
        time.sleep(0.1)
    raise AssertionError(f"nothing was saved as {pattern}: {sorted(path.name for path in folder.iterdir())}")
