"""What the pages of doing have in common: their part that is brought up to date by itself, their hours, their keys."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import quote, urlencode

from starlette.requests import Request
from starlette.responses import Response

from wreckwright.acts import entry
from wreckwright.errors import EntryError
from wreckwright.web.pages_machine import aimed
from wreckwright.web.render import render

if TYPE_CHECKING:
    from wreckwright.acts.page_shapes import Head
    from wreckwright.acts.plan_shapes import Standing
    from wreckwright.web.forms import Form

USUAL_HOURS = 2.0
HOURS_OFFERED = (0.5, 1.0, 2.0, 3.0, 4.0)
MOST_HOURS = 24.0


def machine_at(uid: str) -> str:
    return f"/machine/{quote(uid, safe='')}"


def card_at(uid: str, key: str) -> str:
    """
    >>> card_at("1", "front_wheel:try_on")
    '/machine/1/card/front_wheel%3Atry_on'
    """
    return f"{machine_at(uid)}/card/{quote(key, safe='')}"


def tonight_at(uid: str) -> str:
    return f"{machine_at(uid)}/tonight"


def order_at(uid: str) -> str:
    return f"{machine_at(uid)}/order"


def with_query(address: str, **query: object) -> str:
    """
    >>> with_query("/tonight", hours="2", seen="")
    '/tonight?hours=2'
    """
    given = {name: value for name, value in query.items() if value not in ("", None)}
    return f"{address}?{urlencode(given)}" if given else address


def hours_words(hours: float) -> str:
    """An evening as one says it.

    >>> hours_words(0.5), hours_words(1.0), hours_words(2.25)
    ('½ h', '1 h', '2¼ h')
    >>> hours_words(0.1), hours_words(0.0), hours_words(1.4)
    ('6 min', 'no time', '1 h 24 min')
    """
    whole, minutes = divmod(round(hours * 60), 60)
    if not whole and not minutes:
        return "no time"
    quarter = {0: "", 15: "¼", 30: "½", 45: "¾"}.get(minutes)
    if quarter is not None:
        return f"{whole or ''}{quarter} h"
    return f"{whole} h {minutes} min" if whole else f"{minutes} min"


def hours_of(request: Request) -> float:
    """The hours that the address names (0 to 24, a comma or a point), else the usual ones. Raises EntryError."""
    text = request.query_params.get("hours", "").strip()
    if not text:
        return USUAL_HOURS
    try:
        hours = float(text.replace(",", "."))
    except ValueError:
        hours = -1.0
    if not 0.0 <= hours <= MOST_HOURS:
        raise EntryError(
            f"the evening is to have {text[:20]!r} hours",
            "0 to 24, such as 2 or 1.5",
            "Say how long you have tonight",
            field="hours",
        )
    return hours


def minutes_of(form: Form, name: str = "minutes") -> int | None:
    """Whole minutes that were typed, as 40 or 1 h 30; None: nothing was. Raises EntryError."""
    return entry.minutes(form.text(name), name)


def shown_hash(request: Request, uid: str) -> str:
    """Names the answers that a page shows now; empty: there are none."""
    answers = request.app.state.reckoner.look(uid).answers
    return answers.input_hash if answers else ""


def part_or_page(
    request: Request, whole: str, part: str, /, *, head: Head, standing: Standing, at: str, **context: Any
) -> Response:
    """The page; or for a page that asks by itself (`part` in the query) only what it lacks.

    While it is reckoned that is how far it is; then `part`, once. `at` is the address of the page with its query; a
    page that shows answers that hold asks with `seen`, and is answered by nothing while they do.
    """
    seen = request.query_params.get("seen")
    now = shown_hash(request, head.uid)
    joined = at + ("&" if "?" in at else "?")
    given: dict[str, Any] = {
        "machine": head,
        "head": head,
        "uid": head.uid,
        "standing": standing,
        "at": at,
        "part_at": f"{joined}part=1",
        "seen_at": f"{joined}part=1&seen={now}",
        "hours_words": hours_words,
    } | context
    if not (request.headers.get("hx-request") and request.query_params.get("part")):
        return render(request, whole, **given)
    if standing.state in ("running", "waiting") and seen is None:
        return render(request, "plan_share.html", **given)
    if standing.state != "fresh":
        return aimed(render(request, "plan_reckon.html", **given), "#reckon")
    if seen is not None and seen == now:
        return Response(status_code=204)
    return aimed(render(request, part, **given), "#plan")
