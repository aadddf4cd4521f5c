"""All machines, a line each; and the beginning of a new one."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from wreckwright.acts.machines import MOST_PHOTOGRAPHS, NewMachine, new_machine
from wreckwright.acts.pages import class_choices, machines_page
from wreckwright.errors import NotThere, UsageError, WreckwrightError
from wreckwright.web.facts_fields import HITS, QUESTIONS, SEEN_IN, YES_NO, trouble
from wreckwright.web.forms import Form, answer, keep_photos, read_form
from wreckwright.web.guard import status_of
from wreckwright.web.render import render


def machines(request: Request) -> Response:
    """The machines; each of them is reckoned if it is not up to date."""
    state = request.app.state
    with state.store.reading() as reader:
        uids = [head.uid for head in reader.machines()]
    for uid in uids:
        state.reckoner.want(uid)
    with state.store.reading() as reader:
        page = machines_page(reader, state.trade, state.reckoner)
    return render(request, "machines.html", page=page)


def line(request: Request) -> Response:
    """The line of one machine, for the page that shows it already."""
    state, uid = request.app.state, request.path_params["uid"]
    if not request.headers.get("hx-request"):
        return RedirectResponse("/", status_code=303)
    state.reckoner.want(uid)
    with state.store.reading() as reader:
        lines = machines_page(reader, state.trade, state.reckoner).machines
    found = next((one for one in lines if one.uid == uid), None)
    if found is None:
        raise NotThere("this machine has been taken away", do="Look at the list of machines again")
    return render(request, "machine_line.html", line=found)


@dataclass(frozen=True, kw_only=True)
class Typed:
    """What stands in the form of a new machine."""

    machine_class: str = ""
    year: str = ""
    bought: str = "yes"
    seen_in: str = "walk_round"
    price: str = ""
    sound_value: str = ""
    what_hit: tuple[str, ...] = ("unknown",)
    kept: tuple[str, ...] = ()
    """Photographs that came with an earlier try, by their SHA-256."""
    key_starts_it: str = ""
    turns_over: str = ""
    papers_right: str = ""
    nickname: str = ""
    maker_and_model: str = ""
    currency: str = "EUR"

    def __getitem__(self, name: str) -> Any:
        return getattr(self, name)


def typed_in(form: Form, kept: tuple[str, ...]) -> Typed:
    texts = {one.name: form.text(one.name) for one in fields(Typed) if one.name not in ("what_hit", "kept")}
    return Typed(**texts, what_hit=form.texts("what_hit"), kept=kept)


def what_hit(chosen: tuple[str, ...]) -> tuple[str, ...]:
    """Whoever says what hit it leaves "don't know" ticked, which stood there to begin with.

    >>> what_hit(("left", "unknown")), what_hit(("unknown",))
    (('left',), ('unknown',))
    """
    named = tuple(one for one in chosen if one != "unknown")
    return named or chosen


def new(request: Request) -> Response:
    return new_page(request, Typed(currency=usual_currency(request)))


def new_page(request: Request, typed: Typed, error: WreckwrightError | None = None) -> Response:
    status = status_of(error)[0] if error else 200
    return render(
        request,
        "new.html",
        status,
        typed=typed,
        error=trouble(error) if error else None,
        classes=tuple((one.value, one.words) for one in class_choices(request.app.state.trade)),
        hits=HITS,
        questions=QUESTIONS,
        seen_in=SEEN_IN[:3],
        yes_no=YES_NO,
        most_photographs=MOST_PHOTOGRAPHS,
    )


def begin(request: Request) -> Response:
    """A new machine. Whatever is wrong, the form comes back as it was typed, its photographs kept."""
    form = read_form(request)
    kept = form.texts("kept")
    try:
        kept = tuple(dict.fromkeys((*kept, *keep_photos(request, form))))
        told = new_machine(
            request.app.state.place,
            NewMachine(
                machine_class=form.text("machine_class"),
                year=form.text("year"),
                price=form.text("price"),
                bought=form.text("bought") == "yes",
                seen_in=form.text("seen_in"),
                sound_value=form.text("sound_value"),
                what_hit=what_hit(form.texts("what_hit")),
                photographs=kept,
                key_starts_it=form.text("key_starts_it"),
                turns_over=form.text("turns_over"),
                papers_right=form.text("papers_right"),
                nickname=form.text("nickname"),
                currency=form.text("currency"),
                maker_and_model=form.text("maker_and_model"),
            ),
            form.sent,
        )
    except WreckwrightError as error:
        if request.headers.get("x-outbox") or isinstance(error, UsageError):
            raise
        return new_page(request, typed_in(form, kept[:MOST_PHOTOGRAPHS]), error)
    return answer(request, told, back=f"/machine/{told.uid}/walk")


def usual_currency(request: Request) -> str:
    """That of the machine that was begun last."""
    with request.app.state.store.reading() as reader:
        heads = reader.machines()
        return reader.machine(heads[-1].uid).currency if heads else "EUR"


routes: list[BaseRoute] = [
    Route("/", machines, methods=["GET"]),
    Route("/machine/{uid}/line", line, methods=["GET"]),
    Route("/new", new, methods=["GET"]),
    Route("/new", begin, methods=["POST"]),
]
