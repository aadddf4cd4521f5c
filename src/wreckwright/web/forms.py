"""From a posted form to what an act takes, and from what it told back to an answer.

A handler that takes a form is a plain function (it runs in a thread) and looks like this:

    def note(request: Request) -> Response:
        form = read_form(request)
        told = note_finding(place_of(request), uid, FindingForm(...), sent=form.sent)
        return answer(request, told, back=f"/machine/{uid}/findings")

The body was read and its token checked before the handler is called.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import parse_qsl, urlencode, urlsplit

from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from wreckwright.acts.sent import Sent
from wreckwright.errors import EntryError, UsageError
from wreckwright.web.posted import Posted

if TYPE_CHECKING:
    from wreckwright.acts.writes import Told

OP = re.compile(r"[0-9a-zA-Z_-]{8,64}")
NOT_HASHED = frozenset({"csrf", "op"})
OLDEST_DAYS = 60
"""A tap that waited longer than this on a telephone counts as told now."""


@dataclass(frozen=True)
class Form:
    """What was typed, chosen and photographed."""

    posted: Posted
    sent: Sent

    def text(self, name: str) -> str:
        """The trimmed value of a field; empty if it is not there."""
        return self.posted.get(name).strip()

    def texts(self, name: str) -> tuple[str, ...]:
        """All values of a field that may come several times, trimmed, the empty ones left out."""
        return tuple(value.strip() for key, value in self.posted.fields if key == name and value.strip())

    def has(self, name: str) -> bool:
        return any(key == name for key, _ in self.posted.fields)

    def rev(self, name: str = "base") -> int:
        """The revision of the row that the form was made from; 0: there was none. Raises UsageError."""
        value = self.text(name) or "0"
        if not value.isdecimal() or len(value) > 9:
            raise UsageError(
                f"the form names {value[:40]!r} as the state it was made from",
                "a whole number",
                "Open the page again and send it once more",
            )
        return int(value)

    def files(self, name: str = "photos") -> tuple[bytes, ...]:
        return tuple(data for key, data in self.posted.files if key == name)


def over_in(posted: Posted) -> dict[tuple[str, str], int]:
    """(kind, handle) -> revision, out of fields like `over` = `6 findings f1`. Raises UsageError.

    >>> over_in(Posted((("over", "6 findings f 1"),), ()))
    {('findings', 'f 1'): 6}
    """
    found = {}
    for value in (value for name, value in posted.fields if name == "over"):
        rev, _, row = value.partition(" ")
        kind, _, handle = row.partition(" ")
        if not (rev.isdecimal() and len(rev) <= 9 and kind and handle):
            raise UsageError(
                f"the form names {value[:40]!r} as what it is to be written over",
                "a revision, a kind of row and its handle",
                "Open the page again and send it once more",
            )
        found[kind, handle] = int(rev)
    return found


def read_form(request: Request) -> Form:
    """The form that was posted. Raises UsageError if its operation id cannot be one."""
    posted: Posted = request.state.posted
    op = posted.get("op")
    if op and not OP.fullmatch(op):
        raise UsageError(
            f"the form is marked {op[:40]!r}",
            "8 to 64 letters, digits, - and _",
            "Open the page again and send it once more",
        )
    sent = Sent(
        who=who_of(request),
        device=request.state.device,
        op=op,
        body_hash=body_hash(posted, request.url.path) if op else "",
        at=told_at(request, dt.datetime.now(dt.UTC)),
        over=over_in(posted),
    )
    return Form(posted, sent)


def body_hash(posted: Posted, path: str = "") -> str:
    """SHA-256 over the address, all fields but token and operation id, and the content of the files.

    >>> one = Posted((("op", "a"), ("what", "snag")), ())
    >>> body_hash(one) == body_hash(Posted((("what", "snag"), ("op", "b"), ("csrf", "c")), ()))
    True
    >>> body_hash(one) == body_hash(Posted((("what", "done"),), ()))
    False
    >>> body_hash(one, "/machine/1/tap") == body_hash(one, "/machine/2/tap")
    False
    """
    # By name: a browser and a script may send fields in another order; values of one name keep theirs.
    fields = sorted(
        ((name, value) for name, value in posted.fields if name not in NOT_HASHED), key=lambda pair: pair[0]
    )
    files = [(name, hashlib.sha256(data).hexdigest()) for name, data in posted.files]
    files.sort(key=lambda pair: pair[0])
    written = json.dumps([path, fields, files], ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(written.encode()).hexdigest()


def who_of(request: Request) -> str:
    """Who tells it, as the journal says it: the kind of device and the begin of its identity."""
    kind = "telephone" if "mobi" in request.headers.get("user-agent", "").lower() else "computer"
    return f"{kind} {request.state.device[:4]}"


def told_at(request: Request, now: dt.datetime) -> dt.datetime:
    """When it was told: now, less the time for which it was kept on the telephone (header `X-Kept-Ms`)."""
    kept_ms = request.headers.get("x-kept-ms", "")
    if not kept_ms.isdecimal() or len(kept_ms) > 12:
        return now
    kept = dt.timedelta(milliseconds=int(kept_ms))
    return now - kept if kept <= dt.timedelta(days=OLDEST_DAYS) else now


def keep_photos(request: Request, form: Form, name: str = "photos") -> tuple[str, ...]:
    """Keep the photographs of a form; their SHA-256 in the order in which they came.

    Raises EntryError for what is no photograph, StoreError when the disk is full.
    """
    from wreckwright.acts import photographs

    shas = [photographs.keep(request.app.state.place, data) for data in form.files(name)]
    return tuple(dict.fromkeys(shas))


def local_path(path: str, otherwise: str) -> str:
    """`path` if it is one of ours to go back to, without what was told there before; else `otherwise`.

    >>> local_path("/machine/1?told=ab&px=3", "/"), local_path("//evil.test/x", "/"), local_path("/a\\\\b", "/")
    ('/machine/1?px=3', '/', '/')
    """
    if not path.startswith("/") or path.startswith("//") or any(letter in path for letter in "\\\r\n\t"):
        return otherwise
    parts = urlsplit(path)
    query = urlencode([(name, value) for name, value in parse_qsl(parts.query) if name != "told"])
    return parts.path + ("?" + query if query else "") + ("#" + parts.fragment if parts.fragment else "")


def answer(request: Request, told: Told, back: str) -> Response:
    """What was done: as JSON to the outbox, else back to a page (the form's field `back`, or `back`) that says it."""
    if request.headers.get("x-outbox"):
        return JSONResponse(
            {"said": told.said, "change": told.change_id, "handle": told.handle, "replayed": told.replayed}
        )
    path = urlsplit(local_path(request.state.posted.get("back"), back))
    query = parse_qsl(path.query) + [("told", told.change_id or "none")]
    fragment = "#" + path.fragment if path.fragment else ""
    return RedirectResponse(f"{path.path}?{urlencode(query)}{fragment}", status_code=303)


def required(form: Form, name: str, *, allowed: str, do: str) -> str:
    """The value of a field that must be filled in. Raises EntryError."""
    value = form.text(name)
    if not value:
        raise EntryError(f"{name.replace('_', ' ')} is empty", allowed, do, field=name)
    return value
