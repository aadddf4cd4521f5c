"""The journal of a machine, and taking changes back."""

from __future__ import annotations

from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from wreckwright.acts.pages import changes_page
from wreckwright.acts.writes import undo_change
from wreckwright.errors import NotThere
from wreckwright.web.forms import answer, read_form, required
from wreckwright.web.render import render

SHOWN, MOST = 50, 2000


def changes(request: Request) -> Response:
    """The last changes; with `all` in the query as many as are kept handy."""
    limit = MOST if "all" in request.query_params else SHOWN
    with request.app.state.store.reading() as reader:
        page = changes_page(reader, request.app.state.trade, request.path_params["uid"], limit=limit)
    return render(request, "changes.html", page=page, head=page.head, more=len(page.changes) == limit < MOST)


def undo(request: Request) -> Response:
    """Take a change back. If there is no such machine any more then, go to the list of machines."""
    form = read_form(request)
    change = required(form, "change", allowed="the id of a change", do="Take it back from the page of changes")
    told = undo_change(request.app.state.place, change, form.sent)
    if not request.headers.get("x-outbox") and not is_there(request, told.uid):
        return RedirectResponse(f"/?told={quote(told.change_id or 'none')}", status_code=303)
    return answer(request, told, back=f"/machine/{told.uid}/changes")


def is_there(request: Request, uid: str) -> bool:
    try:
        with request.app.state.store.reading() as reader:
            reader.head(uid)
    except NotThere:
        return False
    return True


routes: list[BaseRoute] = [
    Route("/machine/{uid}/changes", changes, methods=["GET"]),
    Route("/undo", undo, methods=["POST"]),
]
