"""One pair of hands for all machines: the week, days off, single evenings, days with a helper, and whose turn it is.

What is written here goes into the calendars of all machines that are bought, as one change. Where their calendars
differ the form shows what binds the hands: a day off in one is a day off for all; the week is that of the first.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, get_args

from wreckwright.acts import entry
from wreckwright.acts.facts import WEEK
from wreckwright.acts.place import Place
from wreckwright.acts.sent import Sent
from wreckwright.acts.several import Several
from wreckwright.acts.shared_hands import all_machines
from wreckwright.acts.writes import AS_IT_WAS, Told, drafted, write
from wreckwright.errors import EntryError, NotThere
from wreckwright.plan.hands import in_turn
from wreckwright.record.faults import one_of, shown
from wreckwright.record.types import Machine, Weekday

if TYPE_CHECKING:
    from wreckwright.store.read import Reader
    from wreckwright.store.types import Draft

LONGEST_STRETCH_DAYS = 366
WEEKDAYS: tuple[str, ...] = get_args(Weekday)
Fields = Mapping[str, Any]
"""Fields of a calendar row, as plain values."""


@dataclass(frozen=True, kw_only=True)
class HandsForm:
    """Typed texts. None: the form does not show this field, and it stays as it is."""

    week: tuple[str, ...] | None = None
    """Seven times, Monday first; all empty: not known."""
    days_off: str | None = None
    """All days off, one a line or between commas; a stretch as `2026-12-24 to 2027-01-02`."""
    changed: tuple[tuple[str, str], ...] | None = None
    """(day, minutes): single days with other minutes than their weekday; no minutes: as its weekday again. Days that
    are not named stay as they are."""
    helper_weekdays: tuple[str, ...] | None = None
    """`monday`, ..."""
    helper_days: str | None = None
    """As `days_off`."""


def change_hands(place: Place, form: HandsForm, base_revs: Mapping[str, int], sent: Sent) -> Told:
    """Write down when the hands are there. `base_revs`: machine -> revision of its calendar when the form was made.

    What the form shows and nobody edited stays as it is in each machine. Raises EntryError, ConflictError, and NotThere
    if no machine is bought. The machine told is the first in line.
    """
    wanted, single = _fields(form), _single(form)

    def draft(reader: Reader) -> Draft:
        bought = in_line(reader)
        if not bought:
            raise NotThere(
                "no machine is bought", allowed="working time, once there is a machine to work on",
                do="write the price down of one that is bought first",
            )
        seen = [_as_seen(reader, uid, base_revs.get(uid, 0)) for uid, _ in bought]
        before = shared(seen)
        edited = {name: value for name, value in wanted.items() if not _same(name, value, before[name])}
        days = {day: minutes for day, minutes in single.items() if minutes != before["changed"].get(day)}
        if not edited and not days:
            return drafted(bought[0][0], AS_IT_WAS, "", [])
        several = Several(reader, sent)
        for (uid, _), calendar in zip(bought, seen, strict=True):
            fields = dict(edited)
            if days:
                fields["changed"] = _changed(calendar, days)
            several.put(uid, "calendar", "calendar", fields, base_rev=base_revs.get(uid))
        said = f"Hands: {_said(edited, days)}"
        return drafted(bought[0][0], said, "", several.writes())

    # Revisions to be written over are named by kind and handle, which are the same for the calendars of all machines.
    return write(place, draft, replace(sent, over={}))


def take_turn(place: Place, uid: str, place_in_line: int, sent: Sent) -> Told:
    """Put a machine at this place in the line, from 1; the others keep their order. Raises NotThere, EntryError."""

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        line = in_line(reader)
        if all(one != uid for one, _ in line):
            raise EntryError(
                f"{machine.nickname} is not bought", allowed="a machine that is bought",
                do="a lot has no turn: nobody can work on it yet", field="uid",
            )
        if not 1 <= place_in_line <= len(line):
            raise EntryError(
                f"turn: {place_in_line}", allowed=f"1 to {len(line)}", do="1 goes first", field="turn"
            )
        others = [one for one in line if one[0] != uid]
        others.insert(place_in_line - 1, (uid, machine))
        several = Several(reader, sent)
        for turn, (other, known) in enumerate(others, start=1):
            if known.turn != turn:
                several.put(other, "machine", "machine", {"turn": turn})
        writes = several.writes()
        said = f"{machine.nickname} goes {_ordinal(place_in_line)}" if writes else AS_IT_WAS
        return drafted(uid, said, "", writes)

    return write(place, draft, sent)


def in_line(reader: Reader) -> list[tuple[str, Machine]]:
    """Machines that are bought, in their turn; those whose record cannot be read are left out."""
    found = [(uid, machine) for uid, machine in all_machines(reader) if machine.purchase.bought]
    machines = dict(found)
    return [(uid, machines[uid]) for uid in in_turn(found)]


def shared(calendars: Sequence[Fields]) -> dict[str, Any]:
    """What binds the one pair of hands, of the calendars of all machines in their turn.

    The week of the first that has one; all days off and all helper days of any; of single days the fewest minutes, as
    a mapping.

    >>> one, two = {"days_off": ["2026-12-24"]}, {"weekday_minutes": [60, 0, 0, 0, 0, 0, 0]}
    >>> both = shared([one, two])
    >>> both["days_off"], both["weekday_minutes"][0], both["changed"]
    (['2026-12-24'], 60, {})
    """
    changed: dict[str, int] = {}
    for calendar in calendars:
        for day in calendar.get("changed", ()):
            changed[day["date"]] = min(day["minutes"], changed.get(day["date"], 1440))

    def all_of(name: str) -> list[str]:
        return sorted({value for calendar in calendars for value in calendar.get(name, ())})

    weeks = (calendar.get("weekday_minutes") for calendar in calendars)
    return {
        "weekday_minutes": next((week for week in weeks if week), None),
        "days_off": all_of("days_off"),
        "helper_weekdays": sorted(all_of("helper_weekdays"), key=WEEKDAYS.index),
        "helper_days": all_of("helper_days"),
        "changed": changed,
    }


def days_of(text: str, field: str) -> list[str]:
    """Days as typed, between commas or on lines, with stretches; ISO, in order, each once. Raises EntryError.

    >>> days_of("2026-12-24 to 2026-12-26, 3 Jan 2027", "days_off")
    ['2026-12-24', '2026-12-25', '2026-12-26', '2027-01-03']
    """
    found: set[dt.date] = set()
    for piece in re.split(r"[\n;]|,(?!\s*\d{4}(?!-))", text):
        if not piece.strip():
            continue
        ends = re.split(r"\s+(?:to|until|-|\u2013)\s+", piece.strip())
        if len(ends) > 2:
            raise EntryError(
                f"{field}: {shown(piece.strip()[:60])} has more than two ends",
                allowed="one day, or a stretch like 2026-12-24 to 2027-01-02", do="write each on its own line",
                field=field,
            )
        read = [entry.day(end, field) for end in ends]
        first, last = read[0], read[-1]
        assert first is not None and last is not None
        if not 0 <= (last - first).days < LONGEST_STRETCH_DAYS:
            raise EntryError(
                f"{field}: {first} to {last}", allowed="a stretch that ends after it begins, of a year at most",
                do="check the two days", field=field,
            )
        found.update(first + dt.timedelta(days=one) for one in range((last - first).days + 1))
    return [one.isoformat() for one in sorted(found)]


def days_text(days: Iterable[str]) -> str:
    """ISO days as they are typed, a stretch of three or more as one line; `days_of` reads them back.

    >>> print(days_text(["2026-12-24", "2026-12-25", "2026-12-26", "2027-01-03"]))
    2026-12-24 to 2026-12-26
    2027-01-03
    """
    lines: list[str] = []
    stretch: list[dt.date] = []

    def out() -> None:
        if len(stretch) > 2:
            lines.append(f"{stretch[0]} to {stretch[-1]}")
        else:
            lines.extend(map(str, stretch))

    for day in sorted(map(dt.date.fromisoformat, days)):
        if stretch and (day - stretch[-1]).days != 1:
            out()
            stretch = []
        stretch.append(day)
    out()
    return "\n".join(lines)


def _fields(form: HandsForm) -> dict[str, Any]:
    """The fields of a calendar that the form speaks of, but for single days."""
    fields: dict[str, Any] = {}
    if form.week is not None:
        fields["weekday_minutes"] = _week(form.week)
    for name in ("days_off", "helper_days"):
        text = getattr(form, name)
        if text is not None:
            fields[name] = days_of(text, name) or None
    if form.helper_weekdays is not None:
        chosen = set(filter(None, form.helper_weekdays))
        for one in chosen.difference(WEEKDAYS):
            raise EntryError(
                f"helper_weekdays: found {shown(one)}", allowed=one_of(WEEKDAYS), do="choose from these",
                field="helper_weekdays",
            )
        fields["helper_weekdays"] = sorted(chosen, key=WEEKDAYS.index) or None
    return fields


def _week(typed: tuple[str, ...]) -> list[int] | None:
    if len(typed) != len(WEEK):
        raise EntryError(
            f"week: {len(typed)} times", allowed="seven, Monday first", do="give one for each day of the week",
            field="week",
        )
    read = [entry.minutes(text, name) for text, name in zip(typed, WEEK, strict=True)]
    if all(one is None for one in read):
        return None
    if not any(read):
        raise EntryError(
            "week: 0 on every day", allowed="at least one day with work on it",
            do="type the time of at least one day, or leave all empty if it is not known", field="week",
        )
    return [one or 0 for one in read]


def _single(form: HandsForm) -> dict[str, int | None]:
    """ISO day -> minutes of that single day; None: as its weekday."""
    found: dict[str, int | None] = {}
    for typed, text in form.changed or ():
        day = entry.day(typed, "changed")
        if day is None:
            if text.strip():
                raise EntryError(
                    f"changed: {shown(text.strip())} for no day", allowed="a day and its minutes", do="name the day",
                    field="changed",
                )
            continue
        found[day.isoformat()] = entry.minutes(text, f"minutes on {day}")
    return found


def _changed(calendar: Fields, days: Mapping[str, int | None]) -> list[dict[str, Any]] | None:
    merged = {one["date"]: one["minutes"] for one in calendar.get("changed", ())} | dict(days)
    rows = [{"date": day, "minutes": minutes} for day, minutes in sorted(merged.items()) if minutes is not None]
    return rows or None


def _as_seen(reader: Reader, uid: str, base_rev: int) -> Fields:
    """A calendar as it was when the form was made; where that revision is not known, as it stands."""
    from wreckwright.store.types import RowKey

    key = RowKey(machine=uid, kind="calendar", handle="calendar")
    found = next((image.after for image, _ in reader.history(key) if image.rev == base_rev), None)
    if found is not None:
        return found
    stored = reader.row(key)
    return stored.fields if stored else {}


def _same(name: str, value: Any, before: Any) -> bool:
    from wreckwright.store.rows import same

    return same(value or None, before or None)


_WORDS = {
    "weekday_minutes": "the week", "days_off": "days off", "helper_weekdays": "weekdays with a helper",
    "helper_days": "days with a helper",
}


def _said(edited: Fields, days: Mapping[str, int | None]) -> str:
    said = [_WORDS[name] for name in edited]
    said += [f"{day} {'as usual' if minutes is None else f'{minutes} min'}" for day, minutes in sorted(days.items())]
    return ", ".join(said)


def _ordinal(number: int) -> str:
    return {1: "first", 2: "second", 3: "third"}.get(number, f"as number {number}")
