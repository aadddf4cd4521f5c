"""The five taps at the foot of pages that belong to no machine: the form names the machine."""

from __future__ import annotations

from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from wreckwright.errors import EntryError
from wreckwright.web.forms import read_form


def tap(request: Request) -> Response:
    """Hand the tap on, as it is, to the machine it is about."""
    uid = read_form(request).text("machine")
    if not uid:
        raise EntryError("no machine is chosen", "one of your machines", "Choose the machine", field="machine")
    return RedirectResponse(f"/machine/{quote(uid, safe='')}/tap", status_code=307)


routes: list[BaseRoute] = [Route("/tap", tap, methods=["POST"])]
