"""The job card: one piece of work under five heads, its taps, and what is told when it goes wrong."""

from __future__ import annotations

import datetime as dt
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from wreckwright.acts import doing
from wreckwright.acts.edit_job import JobForm, change_job
from wreckwright.acts.plan_pages import card_page
from wreckwright.acts.snags import choose_remedy, remedies_on_offer, snag
from wreckwright.errors import EntryError, NotThere, RecordError, UsageError, WreckwrightError
from wreckwright.web.forms import Form, answer, keep_photos, read_form
from wreckwright.web.guard import status_of
from wreckwright.web.plan_view import card_at, minutes_of, order_at, part_or_page, with_query

if TYPE_CHECKING:
    from wreckwright.acts.plan_shapes import CardPage, RemedyOffer
    from wreckwright.record.types import Machine

JUST_NOW = dt.timedelta(hours=12)
"""For so long a card asks what is to be done about something that went wrong at it."""
LISTS = ("covers", "after", "parts")
"""Fields of the form that hold several values."""
PART_KINDS = ("does_not_fit", "arrived_wrong")
"""Snags that are about a part line."""


def card(request: Request) -> Response:
    try:
        return card_answer(request)
    except NotThere:
        told = request.query_params.get("told")
        if not told:
            raise
        # The job was taken back from its own card: what was done is said where all work stands.
        uid = request.path_params["uid"]
        return RedirectResponse(with_query(order_at(uid), told=told), status_code=303)


def card_answer(
    request: Request, *, typed: dict[str, Any] | None = None, error: WreckwrightError | None = None
) -> Response:
    """The card, with what was typed into its form when something is wrong with it."""
    uid, key = request.path_params["uid"], request.path_params["key"]
    state = request.app.state
    state.reckoner.want(uid)
    with state.store.reading() as reader:
        page = card_page(reader, state.trade, state.reckoner, uid, key)
        machine = None if page.head.problems else reader.machine(uid)
    kind, _, target = key.partition(":")
    response = part_or_page(
        request,
        "card.html",
        "card_part.html",
        head=page.head,
        standing=page.standing,
        at=card_at(uid, key),
        page=page,
        typed={one: getattr(page.typed, one) for one in page.typed.__struct_fields__} | (typed or {}),
        error=error,
        to_choose=to_choose(request, page, machine) if machine else (),
        went_wrong=bool(request.query_params.get("wrong")),
        gate=target if kind == "gate" else "",
        look=target if kind == "look" else "",
    )
    if error is not None:
        response.status_code = status_of(error)[0]
    return response


def to_choose(request: Request, page: CardPage, machine: Machine) -> tuple[tuple[str, tuple[RemedyOffer, ...]], ...]:
    """What went wrong at this work just now and nobody has decided about: (words, what can be done about it)."""
    since = dt.datetime.now(dt.UTC) - JUST_NOW

    def fresh(at: dt.datetime | None) -> bool:
        return at is not None and at.astimezone(dt.UTC) >= since

    component = page.card.component if page.card else page.key.partition(":")[0]
    decided = {one.component: one.at.astimezone(dt.UTC) for one in machine.remedies if one.at is not None}
    asked = [
        (one.id, one.condition or ("it is missing" if one.missing else one.what))
        for one in machine.findings
        if fresh(one.at)
        and not one.looked_fine
        and (one.component == component or (one.check and one.check == page.key.removeprefix("look:")))
        and not (one.at and decided.get(one.component, since) >= one.at.astimezone(dt.UTC))
    ]
    waited = next((job.parts for job in machine.jobs if job.id == page.handle), ())
    asked += [
        (one.id, one.name)
        for one in machine.parts
        if one.id in waited and fresh(one.at) and one.state == "wanted" and one.remedy is None
    ]
    found = [(words, remedies_on_offer(request.app.state.place, page.head.uid, handle)) for handle, words in asked]
    # Of a piece that snapped both the finding and its line tell; it is asked about once.
    once = {offers[0].component: (named(words, offers[0]), offers) for words, offers in reversed(found) if offers}
    return tuple(reversed(once.values()))


def named(words: str, offer: RemedyOffer) -> str:
    """What is asked about, with its name where the words do not say it."""
    name = offer.component_name
    return words if name.casefold() in words.casefold() else f"{name}: {words}"


def start(request: Request) -> Response:
    """Somebody is at it from now on."""
    uid, key = request.path_params["uid"], request.path_params["key"]
    told = doing.start(request.app.state.place, uid, key, read_form(request).sent)
    return answer(request, told, back=card_at(uid, key))


def stop(request: Request) -> Response:
    """Left for later."""
    uid, key, form = request.path_params["uid"], request.path_params["key"], read_form(request)
    told = doing.stop(request.app.state.place, uid, key, minutes_of(form), form.sent)
    return answer(request, told, back=card_at(uid, key))


def done(request: Request) -> Response:
    uid, key, form = request.path_params["uid"], request.path_params["key"], read_form(request)
    told = doing.done(
        request.app.state.place, uid, key, minutes_of(form), form.sent, closed_up=form.text("closed_up") == "yes"
    )
    return answer(request, told, back=card_at(uid, key))


def cover(request: Request) -> Response:
    """A cover came off, or is on again."""
    uid, form = request.path_params["uid"], read_form(request)
    off = form.text("off")
    if off not in ("yes", "no"):
        raise UsageError(f"whether it is off is {off[:20]!r}", "yes or no", "Open the page again and send it once more")
    told = doing.cover(request.app.state.place, uid, request.path_params["cover"], off == "yes", form.sent)
    return answer(request, told, back=f"/machine/{uid}/tonight")


def went_wrong(request: Request) -> Response:
    """One of the snags."""
    uid, key, form = request.path_params["uid"], request.path_params["key"], read_form(request)
    kind = form.text("kind")
    told = snag(
        request.app.state.place,
        uid,
        key,
        kind,
        form.sent,
        piece=form.text("part") if kind in PART_KINDS else form.text("piece") or form.text("one_of"),
        note=form.text("note"),
        photos=keep_photos(request, form),
        minutes=minutes_of(form),
    )
    return answer(request, told, back=card_at(uid, key))


def remedy(request: Request) -> Response:
    """What is done about it."""
    uid, form = request.path_params["uid"], read_form(request)
    told = choose_remedy(request.app.state.place, uid, form.text("component"), form.text("remedy"), form.sent)
    return answer(request, told, back=f"/machine/{uid}/order")


def edit(request: Request) -> Response:
    """Whatever is wrong, it comes back as it was typed."""
    uid, key, form = request.path_params["uid"], request.path_params["key"], read_form(request)
    typed = typed_in(form)
    try:
        told = change_job(request.app.state.place, uid, key, form.rev(), JobForm(**typed), form.sent)
    except (EntryError, RecordError) as error:
        if request.headers.get("x-outbox"):
            raise
        return card_answer(request, typed=typed, error=error)
    return answer(request, told, back=card_at(uid, key))


def typed_in(form: Form) -> dict[str, Any]:
    """What was typed into the fields that the form has."""
    return {
        one.name: form.texts(one.name) if one.name in LISTS else form.text(one.name)
        for one in fields(JobForm)
        if form.has(one.name)
    }


routes: list[BaseRoute] = [
    Route("/machine/{uid}/card/{key}", card, methods=["GET"]),
    Route("/machine/{uid}/card/{key}/start", start, methods=["POST"]),
    Route("/machine/{uid}/card/{key}/stop", stop, methods=["POST"]),
    Route("/machine/{uid}/card/{key}/done", done, methods=["POST"]),
    Route("/machine/{uid}/card/{key}/snag", went_wrong, methods=["POST"]),
    Route("/machine/{uid}/card/{key}/edit", edit, methods=["POST"]),
    Route("/machine/{uid}/cover/{cover}", cover, methods=["POST"]),
    Route("/machine/{uid}/remedy", remedy, methods=["POST"]),
]
