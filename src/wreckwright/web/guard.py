"""The one place where errors become pages, fragments or JSON. No traceback gets past it.

400  the call is wrong, or no form at all      409  changed meanwhile; an operation came again with something else in it
403  not let in, or a form without its token   413  too much at once
404  not there                                 422  cannot be understood
500  a fault of the program                    503  the database is busy, full or cannot be used; try again
"""

from __future__ import annotations

import re
import sys
import traceback
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from os import environ
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from wreckwright.acts.checks import trade_data
from wreckwright.acts.place import NoMemory
from wreckwright.errors import (
    ConflictError,
    EntryError,
    NotThere,
    OperationError,
    RecordError,
    StoreError,
    UsageError,
    WreckwrightError,
)
from wreckwright.settings import TRACE_VARIABLE
from wreckwright.web.conflict import conflict_page
from wreckwright.web.posted import Garbled, TooLarge
from wreckwright.web.render import bare_page, render
from wreckwright.web.security import NotAllowed, NotPaired, StaleToken

STATUS: tuple[tuple[type[WreckwrightError], int, str], ...] = (
    (StaleToken, 403, "stale token"),
    (NotPaired, 403, "not paired"),
    (NotAllowed, 403, "not allowed"),
    # The pages have made a memory: it is there again when its disk is, and what waits on a telephone is for then.
    (NoMemory, 503, "store"),
    (NotThere, 404, "not there"),
    (ConflictError, 409, "conflict"),
    (OperationError, 409, "operation"),
    (TooLarge, 413, "too large"),
    (Garbled, 400, "garbled"),
    (UsageError, 400, "usage"),
    (StoreError, 503, "store"),
    (WreckwrightError, 422, "entry"),
)
"""First match counts: error -> status code and the word for it in JSON."""

HIDDEN = frozenset({"csrf", "op", "back"})
"""Fields of a form that are made anew when it is shown again."""


@dataclass(frozen=True)
class Shown:
    """An error as a page shows it."""

    what: str
    allowed: str
    do: str


class Fault(WreckwrightError):
    """Stands for whatever was raised by a fault of the program. Answered with 500."""


def status_of(error: WreckwrightError) -> tuple[int, str]:
    """Status code and kind of an error.

    >>> status_of(NotThere("no such machine")), status_of(Fault("sorry"))
    ((404, 'not there'), (500, 'fault'))
    """
    if isinstance(error, Fault):
        return 500, "fault"
    return next((code, kind) for type_, code, kind in STATUS if isinstance(error, type_))


def as_ours(error: Exception) -> WreckwrightError:
    """The error in our words, whatever it was; the trace of a fault goes to the error stream if it was asked for."""
    if isinstance(error, WreckwrightError):
        return error
    if isinstance(error, HTTPException) and error.status_code == 404:
        return NotThere("there is no page at this address", do="Go back to the machines")
    if isinstance(error, HTTPException) and error.status_code < 500:
        return UsageError(
            f"this address does not take that ({error.status_code})",
            "pages are read, forms are sent",
            "Go back to the machines",
        )
    if environ.get(TRACE_VARIABLE):
        print("".join(traceback.format_exception(error)), file=sys.stderr)
    said = " ".join(str(error).split())[:300]
    return Fault(
        f"this is a fault of the program, not of your record ({type(error).__name__}{': ' + said if said else ''})",
        "Nothing was changed by what you just did",
        f"Go back and try again. To see where it happened, start the workbench with {TRACE_VARIABLE}=1",
    )


def answer_error(request: Request, error: Exception) -> Response:
    """The answer to a request that failed; reads the store for the frame of the page, so run it in a thread."""
    ours = as_ours(error)
    status, kind = status_of(ours)
    if isinstance(error, HTTPException):
        status = error.status_code
    answer = _answer(request, ours, status, kind)
    if isinstance(ours, TooLarge):
        # Whoever still sends is not listened to any more.
        answer.headers["connection"] = "close"
    return answer


def _answer(request: Request, ours: WreckwrightError, status: int, kind: str) -> Response:
    if request.headers.get("x-outbox"):
        return JSONResponse(
            {**asdict(in_words(ours)), "kind": kind, **_more(ours)}, status_code=status
        )
    try:
        return _page(request, ours, status)
    except Exception as second:
        # The page itself needs the store: when that is what failed, say it without.
        if environ.get(TRACE_VARIABLE):
            print("".join(traceback.format_exception(second)), file=sys.stderr)
        return bare_page(ours, status)


def in_words(error: WreckwrightError) -> Shown:
    """An error without the ids of components that stand in brackets behind their names: nobody types them on a page.

    >>> in_words(EntryError("no part", "nearest is Radiator (radiator) (as drawn)", field="what")).allowed
    'nearest is Radiator (as drawn)'
    """
    known = trade_data().components
    return Shown(
        *(
            re.sub(r" \((\w+)\)", lambda found: "" if found[1] in known else found[0], words)
            for words in (error.what, error.allowed, error.do)
        )
    )


def _more(error: WreckwrightError) -> Mapping[str, Any]:
    return {"field": error.field} if isinstance(error, EntryError) else {}


def _page(request: Request, error: WreckwrightError, status: int) -> HTMLResponse:
    if not hasattr(request.state, "device"):
        return bare_page(error, status)
    if request.headers.get("hx-request"):
        return render(request, "refused.html", status, error=in_words(error))
    posted = getattr(request.state, "posted", None)
    if isinstance(error, ConflictError) and posted is not None:
        return conflict_page(request, error, posted, status)
    kept: tuple[tuple[str, str], ...] = ()
    if posted is not None and not request.state.elsewhere:
        kept = tuple((name, value) for name, value in posted.fields if name not in HIDDEN)
    return render(
        request,
        "error.html",
        status,
        error=in_words(error),
        problems=error.problems if isinstance(error, RecordError) else (),
        kept=kept,
        wrong=error.field if isinstance(error, EntryError) else "",
        photographs=len(posted.files) if posted is not None else 0,
        apology=isinstance(error, Fault),
    )


class Guard:
    """Outermost but for headers and compression: whatever is raised inside becomes an answer."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        begun = False

        async def watching(message: Message) -> None:
            nonlocal begun
            begun = begun or message["type"] == "http.response.start"
            await send(message)

        try:
            await self.app(scope, receive, watching)
        except ClientDisconnect:
            return
        except Exception as error:
            if begun:
                # Half an answer is out: nothing can be said any more, so the connection ends.
                as_ours(error)
                return
            answer = await run_in_threadpool(answer_error, Request(scope, receive), error)
            await answer(scope, receive, send)
