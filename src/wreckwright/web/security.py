"""Who may ask, and how that is known: signed devices, tokens, host names, headers.

A device (one browser on one telephone or computer) carries a cookie signed with the secret of the data folder, and
every form carries a token made from the same secret. Both therefore hold after a restart: a tap that waited on a
telephone while the workbench was down is taken when it comes.
"""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import re
import secrets
from urllib.parse import urlencode

import anyio
from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from wreckwright.errors import WreckwrightError
from wreckwright.web.posted import read_posted

COOKIE = "device"
"""Begins the name of the cookie; the rest tells one data folder from another, see `Seal.suffix`."""
COOKIE_SECONDS = 365 * 24 * 3600
TOKEN_FIELD, TOKEN_HEADER = "csrf", "x-csrf"
PAIR_FIELD = "pair"
LOOPBACK = ("127.0.0.1", "localhost", "::1")
KEY_LETTERS = "23456789abcdefghjkmnpqrstuvwxyz"
"""Letters that cannot be taken for one another when a key is typed from one screen into another."""
KEY_LENGTH = 12
WRONG_KEY_WAIT_S = 0.5

HEADERS = {
    "content-security-policy": "; ".join(
        (
            "default-src 'self'",
            "img-src 'self' blob: data:",
            "object-src 'none'",
            "base-uri 'none'",
            "frame-ancestors 'none'",
            "form-action 'self'",
        )
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
}

_DEVICE = re.compile(r"[0-9a-f]{16}")


class NotAllowed(WreckwrightError):
    """The request comes from where none may come, or without what proves that it was meant. Answered with 403."""

    kind = "not allowed"


class NotPaired(NotAllowed):
    """This device has not been let in."""

    kind = "not paired"


class StaleToken(NotAllowed):
    """The form carries no token of this device: it is from another device, or from before the cookie was lost."""

    kind = "stale token"


def new_device() -> str:
    """A fresh identity for a browser: 16 hexadecimal digits.

    >>> len(new_device())
    16
    """
    return secrets.token_hex(8)


def new_pairing_key() -> str:
    """A key to let a telephone in, short enough to be typed: 12 letters, some 59 bits.

    >>> len(new_pairing_key())
    12
    """
    return "".join(secrets.choice(KEY_LETTERS) for _ in range(KEY_LENGTH))


class Seal:
    """Signs with the secret of the data folder.

    >>> seal = Seal(b"s" * 32)
    >>> cookie = seal.cookie("00112233aabbccdd")
    >>> seal.device(cookie)
    '00112233aabbccdd'
    >>> seal.device(cookie[:-1] + "x") is None
    True
    """

    def __init__(self, secret: bytes) -> None:
        if len(secret) < 16:
            raise ValueError("a secret of fewer than 16 bytes protects nothing")
        self._secret = secret
        # A browser gives a cookie to every port of a host. Were all called the same, the pages of the demo and one's
        # own, open at the same time, would take each other's device away.
        self.suffix = self._sign("cookies")[:8]
        """Ends the names of the cookies of this data folder."""
        self.cookie_name = f"{COOKIE}_{self.suffix}"

    def _sign(self, text: str) -> str:
        return hmac.new(self._secret, text.encode(), hashlib.sha256).hexdigest()[:32]

    def cookie(self, device: str) -> str:
        return f"{device}.{self._sign('device:' + device)}"

    def device(self, cookie: str) -> str | None:
        """The device that this cookie names, or None if we did not sign it."""
        device, _, signature = cookie.partition(".")
        if not _DEVICE.fullmatch(device) or not _same(signature, self._sign("device:" + device)):
            return None
        return device

    def token(self, device: str) -> str:
        """What every form of this device carries; the same for as long as the secret is."""
        return self._sign("csrf:" + device)


def _same(left: str, right: str) -> bool:
    return hmac.compare_digest(left.encode("utf-8", "replace"), right.encode("utf-8", "replace"))


def host_of(header: str) -> str:
    """The name in a Host header, without its port, in small letters.

    >>> host_of("LocalHost:8642"), host_of("[::1]:8642"), host_of("192.168.1.5")
    ('localhost', '::1', '192.168.1.5')
    """
    name = header.strip().lower()
    if name.startswith("["):
        return name[1:].partition("]")[0]
    return name.partition(":")[0]


def is_address(name: str) -> bool:
    """Is it an address in figures? No page elsewhere can make such a name point to us, as it can one in letters."""
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


class SafeHeaders:
    """Gives every answer the headers that bound what a browser does with it, and a new device its cookie."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                # What is known of a machine stays in no store between us and the reader.
                headers.setdefault("cache-control", "no-store")
                # Set here, outside all else, so that also the page of an error reaches a device that is known from now.
                cookie = scope.get("state", {}).get("new_cookie")
                if cookie:
                    headers.append("set-cookie", cookie)
            await send(message)

        await self.app(scope, receive, with_headers)


class Gate:
    """Lets a request through, or raises NotAllowed.

    What it leaves for those behind it in the state of the request: `device`, `csrf`, `cookie_suffix` (ends the names of
    all cookies), and for a POST `posted`: the fields and files, read and bounded, their token checked. So no page can
    forget to check.
    """

    def __init__(self, app: ASGIApp, *, seal: Seal, hosts: tuple[str, ...], pairing_key: str | None) -> None:
        self.app = app
        self.seal = seal
        self.hosts = frozenset(host.lower() for host in hosts)
        self.pairing_key = pairing_key

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request = Request(scope, receive)
        self._check_host(request.headers)
        known = self.seal.device(request.cookies.get(self.seal.cookie_name, ""))
        if self.pairing_key is not None:
            if PAIR_FIELD in request.query_params:
                await self._pair(request, known, send)
                return
            if known is None:
                raise NotPaired(
                    "this device has not been let in",
                    "devices that have opened the link with the pairing key",
                    "On the computer that runs the workbench, read the link it printed, and open that one here",
                )
        device = known or new_device()
        request.state.device = device
        request.state.csrf = self.seal.token(device)
        request.state.cookie_suffix = self.seal.suffix
        if known is None and not request.url.path.startswith("/static/"):
            self._give_cookie(request, device)
        if request.method == "POST":
            await self._check_post(request, device)
        elif request.method not in ("GET", "HEAD"):
            raise HTTPException(405)
        await self.app(scope, receive, send)

    def _check_host(self, headers: Headers) -> None:
        host = host_of(headers.get("host", ""))
        if host in self.hosts or (self.pairing_key is not None and is_address(host)):
            return
        raise NotAllowed(
            f"the workbench was asked for under the name {host[:80]!r}",
            "names of this computer: " + ", ".join(sorted(self.hosts)),
            "Open the address that was printed when the workbench was started",
        )

    async def _pair(self, request: Request, known: str | None, send: Send) -> None:
        assert self.pairing_key is not None
        if not _same(request.query_params[PAIR_FIELD].strip().lower(), self.pairing_key):
            await anyio.sleep(WRONG_KEY_WAIT_S)
            raise NotPaired(
                "the pairing key in this link is not the one of today",
                "the key that was printed when the workbench was started",
                "Read the link on that computer again; a new key is made with every start",
            )
        # Sent on without the key, so that it stays in no history.
        others = [(name, value) for name, value in request.query_params.multi_items() if name != PAIR_FIELD]
        path = "/" + request.url.path.lstrip("/")
        answer = RedirectResponse(f"{path}?{urlencode(others)}" if others else path, status_code=303)
        if known is None:
            self._give_cookie(request, new_device())
        await answer(request.scope, request.receive, send)

    async def _check_post(self, request: Request, device: str) -> None:
        elsewhere = request.headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none")
        request.state.elsewhere = elsewhere
        posted = await read_posted(request)
        request.state.posted = posted
        token = request.headers.get(TOKEN_HEADER) or posted.get(TOKEN_FIELD)
        if elsewhere or not _same(token, self.seal.token(device)):
            raise StaleToken(
                "this form was not made for this device" if token else "this form carries no token",
                "forms of the workbench, sent from where they were opened",
                "Open the page again and send it once more",
            )

    def _give_cookie(self, request: Request, device: str) -> None:
        named = f"{self.seal.cookie_name}={self.seal.cookie(device)}"
        request.state.new_cookie = f"{named}; Path=/; Max-Age={COOKIE_SECONDS}; HttpOnly; SameSite=Lax"
