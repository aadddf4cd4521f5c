"""What the command line asks and tells of the memory: loose ends, the hands."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from wreckwright.acts.checks import trade_data
from wreckwright.acts.find import Found
from wreckwright.acts.hands import HandsForm, change_hands, days_of
from wreckwright.acts.page_record import page_record
from wreckwright.acts.place import Place, memory
from wreckwright.acts.plan_now import loose_rows
from wreckwright.acts.plan_pages import hands_page
from wreckwright.acts.plan_shapes import HandsPage, LooseRow
from wreckwright.acts.sent import Sent
from wreckwright.acts.views import View
from wreckwright.acts.writes import Told
from wreckwright.errors import UsageError
from wreckwright.store.read import Reader


class LooseList(View, frozen=True, kw_only=True):
    """Loose ends that are not seen to."""

    loose: tuple[LooseRow, ...]
    """Oldest first."""


def in_memory(found: Found) -> str:
    """The machine that is meant. Raises UsageError for a record file: what is done is not written into files."""
    if not found.is_file:
        return found.uid
    raise UsageError(
        f"{found.path} is a record file, and what is done at the bench is kept in the memory",
        allowed="the nickname of a machine in the memory",
        do=f"load it (`wreckwright load {found.path}`), and name it by its nickname",
    )


def loose_list(place: Place, uid: str) -> LooseList:
    """Raises NotThere."""
    with memory(place).reading() as reader:
        return LooseList(loose=loose_rows(page_record(reader, trade_data(), uid)))


def hands(place: Place, *, today: dt.date | None = None) -> HandsPage:
    """Working time and turns of all machines that are bought. Raises NotThere if there is no memory."""
    with memory(place).reading() as reader:
        return _page(reader, today)


def tell_hands(
    place: Place, sent: Sent, *, week: str = "", off: Iterable[str] = (), on: Iterable[str] = (),
    evenings: Iterable[tuple[str, str]] = (), helper: Iterable[str] = (), alone: Iterable[str] = (),
) -> Told:
    """Add to what is known of the hands. `off`, `on`: days that become days off, or are none any more; `helper`,
    `alone`: the same of days with a helper; `evenings`: (day, minutes), with `usual` for minutes as on its weekday;
    `week`: seven times between commas, Monday first.

    Raises EntryError, NotThere.
    """
    with memory(place).reading() as reader:
        page = _page(reader, None)
    single = tuple((day, "" if minutes.strip().lower() == "usual" else minutes) for day, minutes in evenings)
    form = HandsForm(
        week=tuple(one.strip() for one in week.split(",")) if week.strip() else None,
        days_off=_days(page.typed.days_off, off, on, "off"),
        helper_days=_days(page.typed.helper_days, helper, alone, "helper"),
        changed=single or None,
    )
    return change_hands(place, form, page.base_revs, sent)


def _page(reader: Reader, today: dt.date | None) -> HandsPage:
    return hands_page(reader, today=(lambda: today) if today else dt.date.today)


def _days(now: str, more: Iterable[str], less: Iterable[str], field: str) -> str | None:
    """All days as typed; None if nothing is said of them."""
    added = [day for text in more for day in days_of(text, field)]
    gone = {day for text in less for day in days_of(text, field)}
    if not added and not gone:
        return None
    return "\n".join(day for day in dict.fromkeys([*days_of(now, field), *added]) if day not in gone)
