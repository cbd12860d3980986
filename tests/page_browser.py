"""A headless browser driven over a pipe with the DevTools protocol: no port, no driver program, no package.

Chromium (or a browser built on it) is looked for on PATH. Where it is missing, root on a Debian machine installs it
with apt-get; where that is not possible either, CI fails and anybody else's tests are skipped.
"""

from __future__ import annotations

import base64
import fcntl
import json
import os
import selectors
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
PATIENCE = 60.0  # [s] for one answer: machines under load are slow
INSTALL = 900.0  # [s]
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage",
    "--hide-scrollbars", "--mute-audio", "--remote-debugging-pipe",
)  # fmt: skip
# the browser reads commands from descriptor 3 and answers on 4
LAUNCH = (
    "import os, sys; os.dup2(int(sys.argv[1]), 3); os.dup2(int(sys.argv[2]), 4); os.execv(sys.argv[3], sys.argv[3:])"
)


class MissingError(Exception):
    """No browser, and none to be had; says why."""


def find_browser() -> str:
    """Path of a browser; installs one where it may. Raises MissingError."""
    found = _on_path()
    if found is not None:
        return found
    lock = Path(tempfile.gettempdir()) / "fitment-tests-browser.lock"
    with lock.open("w") as handle:  # two test workers must not install at once
        fcntl.flock(handle, fcntl.LOCK_EX)
        found = _on_path()
        if found is None:
            _install()
            found = _on_path()
    if found is None:
        raise MissingError(f"apt-get installed no {' or '.join(NAMES)}")
    return found


def _on_path() -> str | None:
    return next((path for path in map(shutil.which, NAMES) if path), None)


def _install() -> None:
    if os.geteuid() != 0 or shutil.which("apt-get") is None:
        raise MissingError("none of " + ", ".join(NAMES) + " is on PATH; install Debian's chromium or run as root")
    quiet = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
    wait = ["-o", "DPkg::Lock::Timeout=300"]  # somebody else may be installing
    for arguments in (["update"], ["install", "-y", "--no-install-recommends", "chromium"]):
        command = ["apt-get", *wait, *arguments]
        try:
            done = subprocess.run(command, env=quiet, capture_output=True, text=True, timeout=INSTALL, check=False)
        except subprocess.TimeoutExpired:
            raise MissingError(f"{' '.join(command)} took more than {INSTALL:.0f} s") from None
        if done.returncode:
            raise MissingError(f"{' '.join(command)} failed: {done.stderr.strip()[-500:]}")


class Browser:
    """One browser process; pages are opened in it one after another."""

    def __init__(self, path: str, folder: Path) -> None:
        here, there = [_high(os.pipe()) for _ in range(2)]
        self._write, self._read = here[1], there[0]
        arguments = [
            sys.executable,
            "-c",
            LAUNCH,
            str(here[0]),
            str(there[1]),
            path,
            *FLAGS,
            f"--user-data-dir={folder}",
        ]
        self._log = (folder.parent / f"{folder.name}.log").open("wb")
        self._process = subprocess.Popen(
            [*arguments, "about:blank"], pass_fds=(here[0], there[1]), stdin=subprocess.DEVNULL,
            stdout=self._log, stderr=self._log,
        )  # fmt: skip
        os.close(here[0])
        os.close(there[1])
        self._rest, self._id = b"", 0
        self.events: list[dict[str, Any]] = []
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._read, selectors.EVENT_READ)

    def close(self) -> None:
        """End the process that was started here."""
        try:
            self.call("Browser.close")
            self._process.wait(20)
        except Exception:
            self._process.kill()
            self._process.wait(20)
        finally:
            self._selector.close()
            os.close(self._write)
            os.close(self._read)
            self._log.close()

    def call(self, method: str, session: str | None = None, **parameters: Any) -> dict[str, Any]:
        """One command and its result; what happens meanwhile is kept in `events`."""
        self._id += 1
        message: dict[str, Any] = {"id": self._id, "method": method, "params": parameters}
        if session is not None:
            message["sessionId"] = session
        data = json.dumps(message).encode() + b"\0"
        while data:
            data = data[os.write(self._write, data) :]
        ends = time.monotonic() + PATIENCE
        while True:
            answer = self._next(ends)
            if answer.get("id") == self._id:
                if "error" in answer:
                    raise RuntimeError(f"{method}: {answer['error']}")
                return dict(answer["result"])

    def listen(self, seconds: float) -> None:
        """Gather what happens for a while."""
        ends = time.monotonic() + seconds
        while time.monotonic() < ends:
            try:
                self._next(ends)
            except TimeoutError:
                return

    def _next(self, ends: float) -> dict[str, Any]:
        while b"\0" not in self._rest:
            if not self._selector.select(max(ends - time.monotonic(), 0.0)):
                raise TimeoutError("the browser does not answer")
            piece = os.read(self._read, 1 << 20)
            if not piece:
                raise RuntimeError("the browser ended")
            self._rest += piece
        message, self._rest = self._rest.split(b"\0", 1)
        found: dict[str, Any] = json.loads(message)
        if "method" in found:
            self.events.append(found)
        return found

    def open(self, url: str, *, width: int = 1200, height: int = 900, media: dict[str, str] | None = None) -> Page:
        """A fresh page at a size [px], with media features such as prefers-color-scheme."""
        return Page(self, url, width, height, media or {})


def _high(pair: tuple[int, int]) -> tuple[int, int]:
    """The same pipe on descriptors well above those that the browser expects."""
    high = [fcntl.fcntl(end, fcntl.F_DUPFD_CLOEXEC, 20) for end in pair]
    for end in pair:
        os.close(end)
    return high[0], high[1]


class Page:
    """One open page."""

    def __init__(self, browser: Browser, url: str, width: int, height: int, media: dict[str, str]) -> None:
        self.browser = browser
        browser.events.clear()
        self.target = browser.call("Target.createTarget", url="about:blank")["targetId"]
        self.session = browser.call("Target.attachToTarget", targetId=self.target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.call(f"{domain}.enable")
        self.call(
            "Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=width < 600
        )
        self.call("Emulation.setEmulatedMedia", features=[{"name": k, "value": v} for k, v in media.items()])
        self.call("Page.navigate", url=url)
        self.wait("document.readyState === 'complete'")

    def close(self) -> None:
        self.browser.call("Target.closeTarget", targetId=self.target)

    def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        return self.browser.call(method, self.session, **parameters)

    def run(self, script: str) -> Any:
        """The value of an expression in the page; a promise is awaited."""
        found = self.call("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in found:
            raise RuntimeError(f"{script}: {found['exceptionDetails']}")
        return found["result"].get("value")

    def wait(self, condition: str) -> None:
        """Until an expression is true."""
        self.until(lambda: bool(self.run(condition)), condition)

    def until(self, holds: Callable[[], bool], what: str) -> None:
        ends = time.monotonic() + PATIENCE
        while not holds():
            if time.monotonic() > ends:
                raise TimeoutError(f"never came: {what}")
            self.browser.listen(0.02)

    def key(self, key: str) -> None:
        """Press and release one key where the focus is."""
        codes = {
            "ArrowRight": 39,
            "ArrowLeft": 37,
            "ArrowUp": 38,
            "ArrowDown": 40,
            "Home": 36,
            "End": 35,
            "PageUp": 33,
            "PageDown": 34,
            "Tab": 9,
            "Enter": 13,
            "Escape": 27,
        }
        for kind in ("keyDown", "keyUp"):
            text = {"text": "\r"} if key == "Enter" and kind == "keyDown" else {}
            self.call("Input.dispatchKeyEvent", type=kind, key=key, code=key, windowsVirtualKeyCode=codes[key], **text)

    def click(self, selector: str) -> None:
        """A click with the mouse in the middle of an element."""
        x, y = self.run(
            f"(() => {{const e = document.querySelector({json.dumps(selector)}); e.scrollIntoView({{block: 'center', "
            "behavior: 'instant'}); const b = e.getBoundingClientRect(); "
            "return [b.x + b.width / 2, b.y + b.height / 2]; })()"
        )
        for kind in ("mousePressed", "mouseReleased"):
            self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)

    def happened(self, method: str) -> list[dict[str, Any]]:
        """What the browser told of one kind."""
        return [each["params"] for each in self.browser.events if each["method"] == method]

    def errors(self) -> list[str]:
        """Errors and warnings that the browser reported."""
        entries = [each["entry"] for each in self.happened("Log.entryAdded")]
        thrown = [str(each["exceptionDetails"]) for each in self.happened("Runtime.exceptionThrown")]
        return [entry["text"] for entry in entries if entry["level"] in ("error", "warning")] + thrown

    def mouse(self, kind: str, x: float, y: float) -> None:
        """One event of the left button; kind: Pressed, Moved, Released."""
        how = {"button": "left", "buttons": int(kind != "Released"), "clickCount": int(kind != "Moved")}
        self.call("Input.dispatchMouseEvent", type=f"mouse{kind}", x=x, y=y, **how)

    def touch(self, kind: str, *at: float) -> None:
        """One event of one finger; kind: Start, Move, End (which is nowhere)."""
        points = [{"x": at[0], "y": at[1]}] if at else []
        self.call("Input.dispatchTouchEvent", type=f"touch{kind}", touchPoints=points)

    def screenshot(self, path: Path, *, whole: bool = False) -> None:
        found = self.call("Page.captureScreenshot", captureBeyondViewport=whole)
        path.write_bytes(base64.b64decode(found["data"]))

    def pdf(self, path: Path) -> None:
        path.write_bytes(
            base64.b64decode(self.call("Page.printToPDF", printBackground=False, preferCSSPageSize=True)["data"])
        )
