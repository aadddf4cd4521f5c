"""The page that shows both sides when the same thing was changed meanwhile, and lets the owner choose."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from starlette.requests import Request
from starlette.responses import HTMLResponse

from wreckwright.acts.entry import money_text
from wreckwright.errors import ConflictError, FieldConflict, WreckwrightError
from wreckwright.papers.words import sentence
from wreckwright.web.posted import Posted
from wreckwright.web.render import render

OVER = "over"
LONGEST = 300


@dataclass(frozen=True)
class Side:
    """One thing that differs, in words."""

    name: str
    saw: str
    now: str
    wanted: str
    since: str


def conflict_page(request: Request, error: ConflictError, posted: Posted, status: int) -> HTMLResponse:
    """Both sides of `error`, and the form that was posted, ready to be sent over what stands there now."""
    uid = request.path_params.get("uid", "")
    currency = currency_of(request, uid)
    return render(
        request,
        "conflict.html",
        status,
        error=error,
        sides=tuple(side_of(conflict, currency) for conflict in error.conflicts),
        of_a_form=bool(uid),
        again=over_it(posted, error.conflicts, current_revs(request, uid)),
        settled=posted.get("op"),
        photographs=len(posted.files),
        back=f"/machine/{uid}" if uid else "/",
    )


def current_revs(request: Request, uid: str) -> dict[tuple[str, str], int]:
    """(kind, handle) -> revision, of all rows of a machine as they are now."""
    if not uid:
        return {}
    with request.app.state.store.reading() as reader:
        return {(row.key.kind, row.key.handle): row.rev for row in reader.rows(uid)}


def currency_of(request: Request, uid: str) -> str:
    """That of a machine's record; empty if there is none that can be read."""
    try:
        with request.app.state.store.reading() as reader:
            return str(reader.machine(uid).currency)
    except WreckwrightError:
        return ""


def over_it(
    posted: Posted, conflicts: tuple[FieldConflict, ...], revs: dict[tuple[str, str], int]
) -> tuple[tuple[str, str], ...]:
    """The posted fields, to be written over the rows as they are now; empty if a row is gone.

    The revisions that the form was made from stay in it, since they tell what of it was changed.

    >>> conflict = FieldConflict(kind="findings", handle="f1", field="severity", base=1, now=2, wanted=3)
    >>> over_it(Posted((("base", "4"), ("severity", "3")), ()), (conflict,), {("findings", "f1"): 6})
    (('base', '4'), ('severity', '3'), ('over', '6 findings f1'))
    """
    rows = dict.fromkeys((conflict.kind, conflict.handle) for conflict in conflicts)
    if not all(row in revs for row in rows):
        return ()
    fields = tuple((name, value) for name, value in posted.fields if name not in ("csrf", "op", OVER))
    return fields + tuple((OVER, f"{revs[row]} {row[0]} {row[1]}") for row in rows)


def side_of(conflict: FieldConflict, currency: str = "") -> Side:
    """A conflict in words; sums are those of `currency`, if that is known.

    >>> side_of(FieldConflict(kind="findings", handle="f1", field="severity", base=None, now=2, wanted=3)).saw
    'not written'
    >>> price = FieldConflict(kind="purchase", handle="purchase", field="price_minor", base=1, now=245000, wanted=3)
    >>> side_of(price, "EUR").now
    'EUR 2450'
    """
    name = conflict.field.replace("_minor", "").replace("_", " ") if conflict.field else "the whole entry"
    saw, now, wanted = (
        value_words(value, conflict.field, currency) for value in (conflict.base, conflict.now, conflict.wanted)
    )
    return Side(
        name=name,
        saw=saw,
        now=now,
        wanted=wanted,
        since=sentence(conflict.since) if conflict.since else "",
    )


def value_words(value: Any, field: str = "", currency: str = "") -> str:
    """A value of a record as it is read out, cut where it is very long."""
    if value is None:
        return "not written"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int) and field.endswith("_minor") and currency:
        # To the last cent: that may be all that differs.
        return f"{currency} {money_text(value, currency)}"
    if isinstance(value, dict):
        text = ", ".join(
            f"{key.removesuffix('_minor').replace('_', ' ')}: {value_words(part, key, currency)}"
            for key, part in value.items()
        )
    elif isinstance(value, (list, tuple)):
        text = ", ".join(value_words(part) for part in value) or "nothing"
    else:
        text = str(value)
    return text if len(text) <= LONGEST else text[:LONGEST] + " ..."
