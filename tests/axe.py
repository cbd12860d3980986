"""axe-core, which finds faults of accessibility in a page: fetched with npm into a temporary folder, kept nowhere else.

Where it is not to be had, CI fails and anybody else's tests are skipped.
"""

from __future__ import annotations

import fcntl
import json
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any

from page_browser import MissingError, Page

VERSION = "4.14.1"
INSTALL = 120.0  # [s]


def axe_source() -> str:
    """The script of axe-core; fetches it once. Raises MissingError."""
    folder = Path(tempfile.gettempdir()) / f"fitment-tests-axe-{VERSION}"
    folder.mkdir(exist_ok=True)
    script = folder / "node_modules" / "axe-core" / "axe.min.js"
    with (folder / "lock").open("w") as handle:  # two test workers must not fetch at once
        fcntl.flock(handle, fcntl.LOCK_EX)
        if not script.exists():
            _fetch(folder)
    return script.read_text(encoding="utf-8")


def _fetch(folder: Path) -> None:
    npm = shutil.which("npm")
    if npm is None:
        raise MissingError("npm is not on PATH, which fetches axe-core")
    quiet = ["--no-save", "--ignore-scripts", "--no-audit", "--no-fund"]
    command = [npm, "install", "--prefix", str(folder), *quiet, f"axe-core@{VERSION}"]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=INSTALL, check=False)
    except subprocess.TimeoutExpired:
        raise MissingError(f"{' '.join(command)} took more than {INSTALL:.0f} s") from None
    if done.returncode:
        raise MissingError(f"{' '.join(command)} failed: {done.stderr.strip()[-500:]}")


def findings(page: Page, source: str) -> list[tuple[str, str]]:
    """Rules that a page breaks, each with the element that breaks it; by all of axe-core's rules, good practice too."""
    page.run(f"{source}; true")
    report: list[dict[str, Any]] = page.run(
        "axe.run(document, {resultTypes: ['violations']}).then((r) => r.violations)"
    )
    return [(each["id"], json.dumps(node["target"])) for each in report for node in each["nodes"]]
