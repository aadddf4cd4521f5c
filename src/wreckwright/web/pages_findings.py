"""Findings: the list, one more in plain words, and one to be changed or taken away."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wreckwright.acts.pages import Choice, finding_page, findings_page
from wreckwright.acts.writes import FindingForm, change_finding, note_finding, remove_row
from wreckwright.errors import EntryError
from wreckwright.web.forms import Form, answer, keep_photos, read_form
from wreckwright.web.guard import in_words
from wreckwright.web.render import render

State = Literal["bad", "missing", "fine"]
STATES: tuple[tuple[State, str], ...] = (("bad", "Bad"), ("missing", "Missing"), ("fine", "Looked at, and fine"))
SEVERITIES = (("1", "Looks: only its looks suffer"), ("2", "Works badly"), ("3", "Can hurt: somebody can be hurt"))
USUAL_SEVERITY = "2"
SURE = (("0.95", "Sure: it is work to be done"), ("0.5", "A suspicion: to be looked at once more"))
"""What the form offers; a record may hold any figure between."""
WAS = "_was"
"""Ends the name of a hidden field that says what the form showed, so that what nobody touched is not written."""


@dataclass(frozen=True, kw_only=True)
class Typed:
    """What stands in the form for one more."""

    what: str = ""
    component: str = ""
    state: str = ""
    severity: str = ""
    evidence: str = ""
    kept: tuple[str, ...] = ()
    """Photographs that came with it, by their hashes; they need not be chosen again."""
    settles: str = ""
    """Operations of the notes that were asked back, between spaces: this one takes their place in the outbox."""


def typed_in(form: Form, kept: tuple[str, ...]) -> Typed:
    return Typed(
        what=form.text("what"), component=form.text("component"), state=form.text("state"),
        severity=form.text("severity"), evidence=form.text("evidence"), kept=kept,
        settles=f"{form.text('settles')} {form.sent.op}".strip(),
    )


def findings(request: Request) -> Response:
    """The list, and a form for one more; in the query `component` is the part that it is of."""
    return _list(request, Typed(component=request.query_params.get("component", "")), None)


def note(request: Request) -> Response:
    """One more, from here or from a station of the walk-round (which names itself in `back`)."""
    uid = request.path_params["uid"]
    form = read_form(request)
    state = state_of(form)
    kept = form.texts("kept")
    try:
        kept = tuple(dict.fromkeys((*kept, *keep_photos(request, form))))
        told = note_finding(
            request.app.state.place,
            uid,
            FindingForm(
                what=form.text("what") or None,
                component=form.text("component") or None,
                condition=form.text("condition") or None,
                state=state,
                severity=severity_of(form) if state != "fine" else None,
                evidence=form.text("evidence") or None,
                photos=kept or None,
            ),
            form.sent,
        )
    except EntryError as error:
        # Asked back with what was typed still there; the outbox keeps it itself.
        if request.headers.get("x-outbox") or request.headers.get("hx-request") or form.text("back"):
            raise
        return _list(request, typed_in(form, kept), error)
    return answer(request, told, back=f"{findings_address(uid)}#{told.handle}")


def finding(request: Request) -> Response:
    """One finding with a form to change it."""
    uid, handle = request.path_params["uid"], request.path_params["handle"]
    with request.app.state.store.reading() as reader:
        page = finding_page(reader, request.app.state.trade, uid, handle)
    return render(
        request,
        "finding.html",
        page=page,
        row=page.finding,
        address=f"{findings_address(uid)}/{quote(handle, safe='')}",
        states=STATES,
        severities=SEVERITIES,
        sure=SURE,
        sure_now=SURE[1][0] if page.finding.suspicion else SURE[0][0],
        was=WAS,
        components=[(one.value, one.words) for one in page.components],
    )


def change(request: Request) -> Response:
    """What was touched in the form of a finding."""
    uid, handle = request.path_params["uid"], request.path_params["handle"]
    form = read_form(request)
    kept = form.texts("photo")
    photos = (*kept, *keep_photos(request, form))
    told = change_finding(
        request.app.state.place,
        uid,
        handle,
        form.rev(),
        FindingForm(
            what=touched(form, "what"),
            component=touched(form, "component"),
            condition=touched(form, "condition"),
            state=state_of(form) if touched(form, "state") else None,
            severity=severity_of(form) if touched(form, "severity") else None,
            sure=sure_of(form) if touched(form, "sure") else None,
            evidence=touched(form, "evidence"),
            photos=None if photos == form.texts("photo" + WAS) else photos,
        ),
        form.sent,
    )
    return answer(request, told, back=f"{findings_address(uid)}#{handle}")


def remove(request: Request) -> Response:
    uid, handle = request.path_params["uid"], request.path_params["handle"]
    form = read_form(request)
    told = remove_row(request.app.state.place, uid, "findings", handle, form.rev(), form.sent)
    return answer(request, told, back=findings_address(uid))


def findings_address(uid: str) -> str:
    return f"/machine/{quote(uid, safe='')}/findings"


def touched(form: Form, name: str) -> str | None:
    """What was typed; None if the form does not have this field, or it says what it said when it was shown."""
    if not form.has(name) or form.text(name) == form.text(name + WAS):
        return None
    return form.text(name)


def state_of(form: Form) -> State | None:
    """Raises EntryError."""
    return next((value for value, _ in STATES if value == chosen(form, "state", dict(STATES))), None)


def severity_of(form: Form) -> int | None:
    """Raises EntryError."""
    value = chosen(form, "severity", dict(SEVERITIES))
    return int(value) if value else None


def sure_of(form: Form) -> float | None:
    """Raises EntryError."""
    value = chosen(form, "sure", dict(SURE))
    return float(value) if value else None


def chosen(form: Form, name: str, options: Mapping[str, str]) -> str:
    """The value of a field that offers a few; empty if it is not there. Raises EntryError."""
    value = form.text(name)
    if value and value not in options:
        raise EntryError(
            f"{name} is {value[:40]!r}", f"one of {', '.join(options)}", "Choose one of the lines", field=name
        )
    return value


def _list(request: Request, typed: Typed, error: EntryError | None) -> Response:
    with request.app.state.store.reading() as reader:
        page = findings_page(reader, request.app.state.trade, request.path_params["uid"])
    return render(
        request,
        "findings.html",
        422 if error else 200,
        page=page,
        address=findings_address(page.head.uid),
        typed=typed,
        error=in_words(error) if error else None,
        wrong=error.field if error else "",
        states=STATES,
        severities=SEVERITIES,
        components=[(one.value, one.words) for one in page.components],
        nearest=nearest(page.components, error),
    )


def nearest(components: Iterable[Choice], error: EntryError | None) -> list[tuple[str, str]]:
    """The components that an error names (by their ids in brackets), to be chosen with one tap."""
    allowed = error.allowed if error else ""
    return [(one.value, one.words) for one in components if f"({one.value})" in allowed]


routes: list[BaseRoute] = [
    Route("/machine/{uid}/findings", findings, methods=["GET"]),
    Route("/machine/{uid}/findings", note, methods=["POST"]),
    Route("/machine/{uid}/findings/{handle}", finding, methods=["GET"]),
    Route("/machine/{uid}/findings/{handle}", change, methods=["POST"]),
    Route("/machine/{uid}/findings/{handle}/remove", remove, methods=["POST"]),
]
