"""One machine: the answer in a sentence, the next thing to do, and what is ahead."""

from __future__ import annotations

from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from wreckwright.errors import NotThere
from wreckwright.papers.tables import foresight_csv
from wreckwright.web.conflict import current_revs
from wreckwright.web.forms import local_path, read_form
from wreckwright.web.machine_view import context_of, look_at, settled
from wreckwright.web.render import render


def machine(request: Request) -> Response:
    uid = request.path_params["uid"]
    page, record = look_at(request, uid)
    return render(request, "machine.html", **context_of(page, record, revs=current_revs(request, uid)))


def reckoning(request: Request) -> Response:
    """How far it is, for a page that shows the machine already; when it is done, all of the answers.

    `seen` in the query: the answers that the page shows; nothing is sent while they hold.
    """
    uid = request.path_params["uid"]
    if not request.headers.get("hx-request"):
        return RedirectResponse(home(uid), status_code=303)
    page, record = look_at(request, uid)
    reckoned, seen = page.reckoned, request.query_params.get("seen")
    context = context_of(page, record, revs=current_revs(request, uid))
    if not settled(reckoned) and seen is None:
        return render(request, "reckon_share.html", **context)
    if reckoned.state != "fresh":
        return aimed(render(request, "reckoned.html", **context, what="reckon.html"), "#reckon")
    if reckoned.answers is not None and seen == reckoned.answers.input_hash:
        return Response(status_code=204)
    return aimed(render(request, "reckoned.html", **context | {"oob": True}, what="answers.html"), "#answers")


def aimed(response: Response, target: str) -> Response:
    """Have the page put it there instead of where it was asked for."""
    response.headers["HX-Retarget"] = target
    response.headers["HX-Reswap"] = "outerHTML"
    return response


def stop(request: Request) -> Response:
    uid = request.path_params["uid"]
    there(request, uid)
    form = read_form(request)
    request.app.state.reckoner.stop(uid)
    return RedirectResponse(local_path(form.text("back"), home(uid)), status_code=303)


def again(request: Request) -> Response:
    uid = request.path_params["uid"]
    there(request, uid)
    form = read_form(request)
    request.app.state.reckoner.want(uid, first=True)
    return RedirectResponse(local_path(form.text("back"), home(uid)), status_code=303)


def there(request: Request, uid: str) -> None:
    """Raises NotThere."""
    with request.app.state.store.reading() as reader:
        reader.head(uid)


def csv_file(request: Request) -> Response:
    """The two distributions of the latest foresight."""
    uid = request.path_params["uid"]
    page, _ = look_at(request, uid)
    answers = page.reckoned.answers
    if answers is None:
        raise NotThere(
            f"{page.head.nickname} has no foresight yet",
            "a machine that has been reckoned",
            "Open the machine's page, and come back when it has been reckoned",
        )
    name = quote(f"{page.head.nickname} {answers.foresight.as_of}.csv", safe="")
    return Response(
        foresight_csv(answers.foresight),
        media_type="text/csv; charset=utf-8; header=present",
        headers={"content-disposition": f"attachment; filename*=UTF-8''{name}"},
    )


def home(uid: str) -> str:
    return f"/machine/{quote(uid, safe='')}"


routes: list[BaseRoute] = [
    Route("/machine/{uid}", machine, methods=["GET"]),
    Route("/machine/{uid}/reckon", reckoning, methods=["GET"]),
    Route("/machine/{uid}/reckon", again, methods=["POST"]),
    Route("/machine/{uid}/reckon/stop", stop, methods=["POST"]),
    Route("/machine/{uid}/foresight.csv", csv_file, methods=["GET"]),
]
