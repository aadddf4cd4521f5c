"""The one pair of hands: which evenings, who helps when, and whose turn it is."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wreckwright.acts.hands import HandsForm, change_hands, take_turn
from wreckwright.acts.plan_pages import hands_page
from wreckwright.errors import EntryError, WreckwrightError
from wreckwright.web.facts_fields import trouble
from wreckwright.web.forms import Form, answer, read_form
from wreckwright.web.guard import status_of
from wreckwright.web.render import render

SINGLE = "day_"
"""Begins the name of the field for a single day."""
HANDS = "/hands"


def hands(request: Request) -> Response:
    return form_page(request)


def form_page(request: Request, *, form: Form | None = None, error: WreckwrightError | None = None) -> Response:
    """The form as it stands, or as it was typed when something is wrong with it."""
    state = request.app.state
    with state.store.reading() as reader:
        page = hands_page(reader)
    typed: dict[str, Any] = {
        "week": page.typed.week,
        "days_off": page.typed.days_off,
        "helper_weekdays": page.typed.helper_weekdays,
        "helper_days": page.typed.helper_days,
        "single": {one.date: one.changed for one in page.days},
        "bases": {uid: str(rev) for uid, rev in page.base_revs.items()},
    }
    if form is not None:
        typed |= typed_in(form, typed)
    return render(
        request,
        "hands.html",
        status_of(error)[0] if error else 200,
        page=page,
        typed=typed,
        error=trouble(error) if error else None,
    )


def typed_in(form: Form, otherwise: dict[str, Any]) -> dict[str, Any]:
    """What was typed, by the names of `form_page`."""
    return {
        "week": all_of(form, "week") or otherwise["week"],
        "days_off": form.text("days_off"),
        "helper_weekdays": form.texts("helper_weekdays"),
        "helper_days": form.text("helper_days"),
        "single": otherwise["single"] | dict(single_days(form)),
        "bases": otherwise["bases"] | {uid: str(rev) for uid, rev in bases(form).items()},
    }


def all_of(form: Form, name: str) -> tuple[str, ...]:
    """All values of a field, the empty ones too."""
    return tuple(value.strip() for key, value in form.posted.fields if key == name)


def single_days(form: Form) -> tuple[tuple[str, str], ...]:
    """(day, minutes as typed) of the single days that the form shows."""
    return tuple(
        (key.removeprefix(SINGLE), value.strip()) for key, value in form.posted.fields if key.startswith(SINGLE)
    )


def bases(form: Form) -> dict[str, int]:
    """Machine -> revision of its calendar that the form was made from. Raises UsageError."""
    names = [key for key, _ in form.posted.fields if key.startswith("base_")]
    return {name.removeprefix("base_"): form.rev(name) for name in names}


def change(request: Request) -> Response:
    """Whatever is wrong, it comes back as it was typed."""
    form = read_form(request)
    wanted = HandsForm(
        week=all_of(form, "week") or None,
        days_off=form.text("days_off") if form.has("days_off") else None,
        changed=single_days(form),
        helper_weekdays=form.texts("helper_weekdays") if form.has("helper_weekdays") else None,
        helper_days=form.text("helper_days") if form.has("helper_days") else None,
    )
    try:
        told = change_hands(request.app.state.place, wanted, bases(form), form.sent)
    except EntryError as error:
        if request.headers.get("x-outbox"):
            raise
        return form_page(request, form=form, error=error)
    return answer(request, told, back=HANDS)


def turn(request: Request) -> Response:
    """A machine goes to another place in the line."""
    form = read_form(request)
    place = form.text("place")
    if not place.isdecimal() or len(place) > 3:
        raise EntryError(f"the place in the line is {place[:20]!r}", "a whole number", "1 goes first", field="place")
    told = take_turn(request.app.state.place, request.path_params["uid"], int(place), form.sent)
    return answer(request, told, back=HANDS)


routes: list[BaseRoute] = [
    Route("/hands", hands, methods=["GET"]),
    Route("/hands", change, methods=["POST"]),
    Route("/machine/{uid}/turn", turn, methods=["POST"]),
]
