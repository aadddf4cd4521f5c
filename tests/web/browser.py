"""A telephone and a desk for the tests: one Chromium, watched so that nothing goes wrong unseen."""

from __future__ import annotations

import os
import re
import shutil
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

import pytest
import uvicorn
from starlette.applications import Starlette

from wreckwright.web.server import listen

CHROMIUM = os.environ.get("WRECKWRIGHT_CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
PLAIN_HOST = "garage.test"
"""Stands for an address in the network, without https: there a page is no secure context."""
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    f"--host-resolver-rules=MAP {PLAIN_HOST} 127.0.0.1",
)
PHONE: dict[str, Any] = {
    "viewport": {"width": 360, "height": 800},
    "device_scale_factor": 2,
    "has_touch": True,
    "is_mobile": True,
    "user_agent": "Mozilla/5.0 (Linux; Android 14) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/150 Mobile Safari",
}
DESK: dict[str, Any] = {"viewport": {"width": 1280, "height": 800}}
PATIENCE_MS = 15_000
OURS = frozenset({"127.0.0.1", PLAIN_HOST})


def missing() -> str:
    """What has to be installed before a browser test can run; empty: nothing."""
    try:
        import playwright.sync_api  # noqa: F401
    except ImportError:
        return "the package playwright is missing: install requirements-test.txt"
    if not os.access(CHROMIUM, os.X_OK):
        return f"there is no Chromium at {CHROMIUM}: install it (Debian: apt-get install chromium fonts-dejavu-core)"
    return ""


def need_browser() -> None:
    """Skip, and in an unattended run fail, when there is no browser."""
    why = missing()
    if not why:
        return
    if os.environ.get("CI", "").lower() in ("true", "1"):
        pytest.fail(why, pytrace=False)
    pytest.skip(why)


@dataclass
class Watch:
    """What went wrong on a page: errors of scripts, of the console, requests that leave this computer."""

    faults: list[str] = field(default_factory=list)
    allowed: list[str] = field(default_factory=list)

    def allow(self, pattern: str) -> None:
        """From now on faults that contain this pattern are expected."""
        self.allowed.append(pattern)

    def outage(self) -> None:
        """The server will not answer for a while: the browser says so on its console."""
        self.allow(r"Failed to load resource: net::ERR_")
        # A part of the page that was to be brought up to date, and was not.
        self.allow(r"console: htmx:(sendError|afterRequest|timeout|sendAbort)")

    def see(self, page: Any) -> None:
        page.on("pageerror", lambda error: self.faults.append(f"script: {error}"))
        page.on("console", lambda message: self._console(message))
        page.on("request", lambda request: self._request(request.url))

    def _console(self, message: Any) -> None:
        if message.type in ("error", "warning"):
            self.faults.append(f"console: {message.text} ({message.location.get('url', '')})")

    def _request(self, url: str) -> None:
        parts = urlsplit(url)
        if parts.scheme in ("http", "https", "ws", "wss") and parts.hostname not in OURS:
            self.faults.append(f"left this computer: {url}")

    def unexpected(self) -> list[str]:
        return [fault for fault in self.faults if not any(re.search(pattern, fault) for pattern in self.allowed)]


@dataclass(frozen=True)
class Live:
    """A workbench that answers on this computer."""

    app: Starlette
    port: int

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def plain_url(self) -> str:
        return f"http://{PLAIN_HOST}:{self.port}"


@contextmanager
def running(app: Starlette) -> Iterator[Live]:
    """Serve `app` from a thread, on a port of its own, until the block ends."""
    bound = listen("127.0.0.1", 0)
    server = uvicorn.Server(
        uvicorn.Config(app, log_config=None, access_log=False, lifespan="off", timeout_graceful_shutdown=1)
    )
    thread = threading.Thread(target=server.run, kwargs={"sockets": [bound]}, daemon=True)
    thread.start()
    wait_for(lambda: server.started, what="the server has started")
    try:
        yield Live(app, bound.getsockname()[1])
    finally:
        server.should_exit = True
        thread.join(10)
        bound.close()


def wait_for(happened: Any, *, what: str, seconds: float = 15.0) -> Any:
    """Ask again and again until `happened()` is true; its value. Fails after `seconds`."""
    until = time.monotonic() + seconds
    while True:
        value = happened()
        if value:
            return value
        if time.monotonic() > until:
            pytest.fail(f"waited {seconds:.0f} s in vain until {what}; last seen: {value!r}")
        time.sleep(0.02)


SMALL_CONTROLS = """() => {
  const found = [];
  const seen = (element) => element.checkVisibility({ opacityProperty: false, visibilityProperty: true });
  for (const element of document.querySelectorAll(
      'a[href], button, input:not([type=hidden]), select, textarea, summary, [role=button], [role=link]')) {
    if (!seen(element)) continue;
    // A tick or a dot is hit through its label.
    const target = element.matches('[type=radio], [type=checkbox]') ? element.closest('label') || element : element;
    const box = target.getBoundingClientRect();
    if (box.right <= 0) continue;
    if (box.width < 47.9 || box.height < 47.9) {
      found.push(`${element.outerHTML.slice(0, 90)}: ${box.width.toFixed(1)} x ${box.height.toFixed(1)}`);
    }
  }
  return found;
}"""
"""Controls that can be seen and are less than 48 CSS pixels wide or high."""

SIDEWAYS = """() => ({ page: document.documentElement.scrollWidth, screen: document.documentElement.clientWidth })"""

SMALL_LETTERS = """() => {
  const found = new Set();
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const element = walker.currentNode.parentElement;
    if (!walker.currentNode.textContent.trim() || !element.checkVisibility() || element.closest('svg')) continue;
    const size = parseFloat(getComputedStyle(element).fontSize);
    if (size < 16) found.add(`${size} px: ${walker.currentNode.textContent.trim().slice(0, 40)}`);
  }
  return [...found];
}"""


def violations(page: Any, *, only: tuple[str, ...] = ()) -> list[str]:
    """What axe finds wrong on a page (WCAG 2 A and AA, and its best practice), one line a rule."""
    from axe_playwright_python.sync_playwright import Axe

    options = {"runOnly": {"type": "rule", "values": list(only)}} if only else {}
    found = Axe().run(page, options=options | {"resultTypes": ["violations"]}).response["violations"]
    return [
        f"{one['id']} ({one['impact']}): {one['help']}: " + "; ".join(node["html"][:120] for node in one["nodes"][:3])
        for one in found
    ]
