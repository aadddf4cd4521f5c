"""Tonight: what was left loose, then the one next thing, then what else there is time for."""

from __future__ import annotations

import datetime as dt

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wreckwright.acts.loose_ends import close, leave
from wreckwright.acts.plan_pages import tonight_all, tonight_page
from wreckwright.errors import EntryError
from wreckwright.web.forms import answer, keep_photos, read_form
from wreckwright.web.plan_view import HOURS_OFFERED, hours_of, hours_words, part_or_page, tonight_at, with_query
from wreckwright.web.render import render

MOST_LEFT = 1000


def tonight(request: Request) -> Response:
    uid, hours = request.path_params["uid"], hours_of(request)
    state = request.app.state
    state.reckoner.want(uid)
    with state.store.reading() as reader:
        page = tonight_page(reader, state.trade, state.reckoner, uid, hours=hours, today=dt.date.today)
    return part_or_page(
        request,
        "tonight.html",
        "tonight_part.html",
        head=page.head,
        standing=page.standing,
        at=with_query(tonight_at(uid), hours=request.query_params.get("hours", "")),
        page=page,
        hours_at=tonight_at(uid),
        hours_offered=HOURS_OFFERED,
    )


def all_of_them(request: Request) -> Response:
    """Every machine in its turn: what one leaves of the evening goes to the next."""
    hours = hours_of(request)
    state = request.app.state
    with state.store.reading() as reader:
        page = tonight_all(reader, state.trade, state.reckoner, hours=hours)
    for one in page.machines:
        state.reckoner.want(one.uid)
    return render(
        request,
        "tonight_all.html",
        page=page,
        at=with_query("/tonight", hours=request.query_params.get("hours", "")),
        hours_at="/tonight",
        hours_offered=HOURS_OFFERED,
        hours_words=hours_words,
    )


def leave_loose(request: Request) -> Response:
    """Something is left for next time."""
    uid, form = request.path_params["uid"], read_form(request)
    told = leave(
        request.app.state.place,
        uid,
        form.text("what"),
        form.text("note"),
        form.text("work"),
        count_of(form.text("count")),
        keep_photos(request, form),
        form.sent,
    )
    return answer(request, told, back=tonight_at(uid))


def count_of(text: str) -> int:
    """How many; nothing typed is one. Raises EntryError.

    >>> count_of(""), count_of("3")
    (1, 3)
    """
    if text and (not text.isdecimal() or len(text) > 4 or not 1 <= int(text) <= MOST_LEFT):
        raise EntryError(
            f"how many is {text[:20]!r}", f"a whole number from 1 to {MOST_LEFT}", "Count them again", field="count"
        )
    return int(text or 1)


def seen_to(request: Request) -> Response:
    """A loose end is none any more."""
    uid, form = request.path_params["uid"], read_form(request)
    told = close(request.app.state.place, uid, request.path_params["handle"], form.sent)
    return answer(request, told, back=tonight_at(uid))


routes: list[BaseRoute] = [
    Route("/tonight", all_of_them, methods=["GET"]),
    Route("/machine/{uid}/tonight", tonight, methods=["GET"]),
    Route("/machine/{uid}/loose", leave_loose, methods=["POST"]),
    Route("/machine/{uid}/loose/{handle}/close", seen_to, methods=["POST"]),
]
