"""The workbench as an ASGI application."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wreckwright.acts.checks import trade_data
from wreckwright.acts.place import Memory, Place, open_memory, quiet
from wreckwright.errors import WreckwrightError
from wreckwright.web import (
    bar,
    pages_bid,
    pages_card,
    pages_changes,
    pages_facts,
    pages_findings,
    pages_hands,
    pages_heap,
    pages_machine,
    pages_machines,
    pages_order,
    pages_pictures,
    pages_step,
    pages_tonight,
    pages_walk,
)
from wreckwright.web.guard import Guard, answer_error
from wreckwright.web.render import environment
from wreckwright.web.security import LOOPBACK, Gate, SafeHeaders, Seal
from wreckwright.web.statics import Statics

if TYPE_CHECKING:
    from collections.abc import Callable

    from wreckwright.acts.reckon import Reckoner

PAGES = (
    pages_machines,
    pages_machine,
    pages_step,
    pages_bid,
    pages_facts,
    pages_changes,
    pages_walk,
    pages_findings,
    pages_heap,
    pages_pictures,
    pages_tonight,
    pages_order,
    pages_card,
    pages_hands,
)


def page_routes() -> list[BaseRoute]:
    """The routes of all page modules."""
    return [route for page in PAGES for route in page.routes]


def create_app(
    place: Place,
    *,
    reckoner: Reckoner,
    pairing_key: str | None = None,
    hosts: tuple[str, ...] = LOOPBACK,
    tell: Callable[[str], None] = quiet,
) -> Starlette:
    """The application over one data folder.

    `hosts` are the names under which it may be asked for; with a `pairing_key` also any address in figures, and only
    devices that once came with the key. `tell` is called with words when the memory had to be brought up to date. The
    caller closes the `reckoner`. What handlers find in `request.app.state`: `place`, `store`, `reckoner`, `trade`.

    Raises StoreError.
    """
    open_memory(place, tell=tell)
    statics = Statics.load()
    app = Starlette(
        routes=[Route("/static/{name}", statics.answer), *bar.routes, *page_routes()],
        middleware=[
            Middleware(SafeHeaders),
            Middleware(GZipMiddleware, minimum_size=500, compresslevel=6),
            Middleware(Guard),
            Middleware(Gate, seal=Seal(place.secret), hosts=hosts, pairing_key=pairing_key),
        ],
        exception_handlers={HTTPException: _refused, WreckwrightError: _refused},
    )
    app.state.place, app.state.store, app.state.reckoner = place, Memory(place), reckoner
    app.state.trade, app.state.statics, app.state.templates = trade_data(), statics, environment()
    return app


async def _refused(request: Request, error: Exception) -> Response:
    return await run_in_threadpool(answer_error, request, error)
