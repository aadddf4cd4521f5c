"""The heap: what was told in passing with one tap, and what each of it means."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wreckwright.acts.heap import As, Decision, decide
from wreckwright.acts.pages import Choice, HeapPage, TapRow, heap_page
from wreckwright.acts.writes import tap
from wreckwright.web.forms import answer, keep_photos, read_form
from wreckwright.web.pages_findings import SEVERITIES, severity_of
from wreckwright.web.render import render


@dataclass(frozen=True)
class Way:
    """One thing that a tap may mean, as a form: what it is called, its button, and what it asks for."""

    as_: As
    words: str
    button: str
    asks: tuple[str, ...] = ()
    """Of `parts`, `jobs` (one of those that are open), `words`, `component`, `severity`, `note`."""


_FINDING = Way("finding", "It is a finding", "Note the finding", ("words", "component", "severity"))
_PART_HERE = Way("part_here", "A part that was waited for is here", "It is here", ("parts",))
_PART_FITTED = Way("part_fitted", "A part is fitted", "It is fitted", ("parts",))
_PART_WRONG = Way("part_wrong", "A part is the wrong one, or does not fit", "It is wrong", ("parts",))
_NEW_PART = Way("new_part_here", "A part that stands in no list yet is here", "Write it down", ("words", "component"))
_JOB_CLOSED = Way("job_closed", "A job of the list is closed up", "Closed up", ("jobs",))
_NOTE = Way("note", "Just a note", "Keep the note", ("note",))
WAYS: dict[str, tuple[Way, ...]] = {
    "snag": (
        _FINDING,
        _PART_WRONG,
        Way("new_job", "A job to be done", "Write down the job", ("words", "component")),
        _NOTE,
    ),
    "arrived": (_PART_HERE, _NEW_PART, _NOTE),
    "done": (
        _JOB_CLOSED,
        _PART_FITTED,
        Way("new_job", "A job that stood in no list, done and closed up", "Write it down", ("words", "component")),
        _NOTE,
    ),
    "left_loose": (
        Way("loose_end", "It comes first next time", "Do not let me forget it", ("words",)),
        Way("new_job", "A job: fasten it", "Write down the job", ("words", "component")),
        _FINDING,
        _NOTE,
    ),
    "bag": (
        Way("loose_end", "It comes first next time, until it is emptied", "Do not let me forget it", ("words",)),
        Way("note", "Where the bag is kept, and what is in it", "Keep the note", ("note",)),
        Way("new_job", "A job: put it back on", "Write down the job", ("words", "component")),
    ),
}
"""What each of the five taps may mean, the likeliest first."""

_SHORTEST_WORD = 2
"""Words of so many letters or fewer say nothing of which part is meant."""


def heap(request: Request) -> Response:
    """All that is not sorted out, one of it open: that named by `tap` in the query, else the newest."""
    with request.app.state.store.reading() as reader:
        page = heap_page(reader, request.app.state.trade, request.path_params["uid"])
    taps = tuple(reversed(page.taps))
    now = next((one for one in taps if one.handle == request.query_params.get("tap")), taps[0] if taps else None)
    parts, part = likeliest(page.open_parts, now.note if now else "")
    jobs, job = likeliest(page.open_jobs, now.note if now else "")
    return render(
        request,
        "heap.html",
        page=page,
        address=heap_address(page.head.uid),
        now=now,
        ways=ways_of(now, page) if now else (),
        others=tuple(one for one in taps if one is not now),
        severities=SEVERITIES,
        parts=parts,
        part=part,
        jobs=jobs,
        job=job,
        components=[(one.value, one.words) for one in page.components],
    )


def ways_of(row: TapRow, page: HeapPage) -> tuple[Way, ...]:
    """The ways that are open: nothing is asked of part lines or jobs that are not there."""
    there = {"parts": bool(page.open_parts), "jobs": bool(page.open_jobs)}
    return tuple(way for way in WAYS[row.what] if all(there.get(asked, True) for asked in way.asks))


def likeliest(options: Sequence[Choice], note: str) -> tuple[list[tuple[str, str]], str]:
    """The options as (value, words), first what shares most words with the note; and the one to be chosen beforehand.

    None is where no words are shared, unless there is only one.

    >>> options = [Choice(value="p1", words="Rim (here)"), Choice(value="p2", words="Pump cover (ordered)")]
    >>> likeliest(options, "the pump cover is here")
    ([('p2', 'Pump cover (ordered)'), ('p1', 'Rim (here)')], 'p2')
    >>> likeliest(options, "")[1]
    ''
    """
    said = _words(note)
    shared = {one.value: len(said & _words(one.words.rpartition(" (")[0] or one.words)) for one in options}
    ranked = sorted(options, key=lambda one: -shared[one.value])
    known = ranked and (len(ranked) == 1 or shared[ranked[0].value] > 0)
    return [(one.value, one.words) for one in ranked], ranked[0].value if known else ""


def _words(text: str) -> set[str]:
    return {word for word in re.findall(r"\w+", text.casefold()) if len(word) > _SHORTEST_WORD}


def sort(request: Request) -> Response:
    """What one tap means."""
    uid, handle = request.path_params["uid"], request.path_params["handle"]
    form = read_form(request)
    decision = Decision(
        # Whatever else was sent is refused in words by the act.
        as_=cast(As, form.text("as")),
        target=form.text("target"),
        component=form.text("component"),
        what=form.text("what"),
        severity=severity_of(form),
        note=form.text("note"),
    )
    told = decide(request.app.state.place, uid, handle, form.rev(), decision, form.sent)
    return answer(request, told, back=heap_address(uid))


def tell(request: Request) -> Response:
    """One of the five taps."""
    uid = request.path_params["uid"]
    form = read_form(request)
    told = tap(
        request.app.state.place, uid, form.text("what"), form.text("note"), keep_photos(request, form), form.sent
    )
    return answer(request, told, back=f"/machine/{quote(uid, safe='')}")


def heap_address(uid: str) -> str:
    return f"/machine/{quote(uid, safe='')}/heap"


routes: list[BaseRoute] = [
    Route("/machine/{uid}/heap", heap, methods=["GET"]),
    Route("/machine/{uid}/heap/{handle}", sort, methods=["POST"]),
    Route("/machine/{uid}/tap", tell, methods=["POST"]),
]
