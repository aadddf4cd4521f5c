"""What is known of a machine as a whole: the form that changes it."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wreckwright.acts.facts import Facts, facts_of
from wreckwright.acts.pages import FactsPage, facts_page
from wreckwright.acts.writes import change_facts
from wreckwright.errors import EntryError, NicknameTaken, RecordError, WreckwrightError
from wreckwright.web.facts_fields import FIELDS, SECTIONS, WEEK, guesses_by_field, trouble
from wreckwright.web.forms import Form, answer, read_form
from wreckwright.web.guard import status_of
from wreckwright.web.pages_machines import what_hit
from wreckwright.web.render import render

Typed = dict[str, Any]
"""Name of a field -> what stands in it: a text, or a tuple of texts."""
FLAGS = ("bought", "at_auction", "mirrored")


def facts(request: Request) -> Response:
    uid = request.path_params["uid"]
    with request.app.state.store.reading() as reader:
        known = facts_of(reader.machine(uid))
        page = facts_page(reader, request.app.state.trade, uid)
    typed = {name: as_typed(getattr(known, name)) for name in FIELDS}
    return form_page(request, page, typed, {kind: str(rev) for kind, rev in page.revs.items()})


def as_typed(value: Any) -> Any:
    """
    >>> as_typed(True), as_typed(("left",)), as_typed("2016")
    ('yes', ('left',), '2016')
    """
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else value


def form_page(
    request: Request, page: FactsPage, typed: Typed, bases: dict[str, str], error: WreckwrightError | None = None
) -> Response:
    """The form as it stands, or as it was typed when something is wrong with it."""
    return render(
        request,
        "facts.html",
        status_of(error)[0] if error else 200,
        page=page,
        head=page.head,
        sections=SECTIONS,
        typed=typed,
        bases=bases,
        listed=choices(page, typed),
        taken=guesses_by_field(page.rests_on),
        week=WEEK,
        error=trouble(error) if error else None,
        wrong=trouble(error).field if error else "",
        problems=error.problems if isinstance(error, RecordError) and len(error.problems) > 1 else (),
    )


def choices(page: FactsPage, typed: Typed) -> dict[str, tuple[tuple[str, str], ...]]:
    """Options of the lists that come from the trade data; what stands in the record is always among them."""
    known = {"machine_class": page.classes, "brand": page.brands}
    made = {}
    for name, options in known.items():
        pairs = tuple((one.value, one.words) for one in options)
        if typed[name] and typed[name] not in dict(pairs):
            pairs = ((typed[name], typed[name]), *pairs)
        made[name] = pairs
    return made


def change(request: Request) -> Response:
    """Only fields that the form shows are changed; whatever is wrong, it comes back as it was typed."""
    uid, form = request.path_params["uid"], read_form(request)
    bases = {name.removeprefix("base_"): value for name, value in form.posted.fields if name.startswith("base_")}
    base_revs = {kind: form.rev(f"base_{kind}") for kind in bases}
    try:
        told = change_facts(request.app.state.place, uid, base_revs, facts_in(form), form.sent)
    except (EntryError, NicknameTaken, RecordError) as error:
        if request.headers.get("x-outbox"):
            raise
        with request.app.state.store.reading() as reader:
            known = facts_of(reader.machine(uid))
            page = facts_page(reader, request.app.state.trade, uid)
        typed = {name: as_typed(getattr(known, name)) for name in FIELDS} | typed_in(form)
        return form_page(request, page, typed, {kind: str(rev) for kind, rev in page.revs.items()} | bases, error)
    return answer(request, told, back=f"/machine/{uid}/facts")


def typed_in(form: Form) -> Typed:
    """What was typed into the fields that the form has."""
    typed: Typed = {}
    for name in FIELDS:
        if not form.has(name):
            continue
        if FIELDS[name].kind == "week":
            typed[name] = tuple(value.strip() for key, value in form.posted.fields if key == name)
        else:
            typed[name] = form.texts(name) if FIELDS[name].kind == "some_of" else form.text(name)
    return typed


def facts_in(form: Form) -> Facts:
    """The same for the act that writes it down; what the form does not have stays as it is."""
    typed = typed_in(form)
    for name in FLAGS:
        if name in typed:
            typed[name] = typed[name] == "yes"
    if "what_hit" in typed:
        typed["what_hit"] = what_hit(typed["what_hit"])
    return Facts(**{one.name: typed[one.name] for one in fields(Facts) if one.name in typed})


routes: list[BaseRoute] = [
    Route("/machine/{uid}/facts", facts, methods=["GET"]),
    Route("/machine/{uid}/facts", change, methods=["POST"]),
]
