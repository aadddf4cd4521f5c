"""Several machines, one pair of hands: who goes first, whose evenings are whose, and what is taken already.

All machines are worked on by one person. So a day off in one record is a day off for all, a changed evening is changed
for all, and help comes to all; only the week is each machine's own, because somebody may want to keep Saturdays for one
of them. On every evening the machines take their turns: each begins where those before it have ended. What is booked
this way is minutes at the beginning of an evening (`booked` of `futures.calendar`).

Light: the pages ask it without the numeric libraries.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING

import msgspec

from wreckwright.record.types import Calendar, ChangedDay, Machine, Weekday

if TYPE_CHECKING:
    from wreckwright.plan.types import Course

Named = tuple[str, Machine]
"""uid and record."""


def in_turn(machines: Iterable[Named]) -> tuple[str, ...]:
    """The uids in the order in which the machines are worked on: by `Machine.turn`, those without one last; equal ones
    as they stand.

    >>> def machine(turn: int | None) -> Machine:
    ...     return Machine(nickname="it", machine_class="middle", year=2012, turn=turn)
    >>> in_turn([("a", machine(None)), ("b", machine(2)), ("c", machine(1)), ("d", machine(2))])
    ('c', 'b', 'd', 'a')
    """
    return tuple(uid for uid, _ in sorted(machines, key=lambda named: (named[1].turn is None, named[1].turn or 0)))


def shared_calendar(
    machines: Iterable[Named], *, weeks: Mapping[str, Sequence[int]] = MappingProxyType({})
) -> dict[str, Calendar]:
    """The calendar that each machine is planned on when all are worked on by one person; by uid.

    - Days off: those of all records.
    - Changed evenings: those of all records, and where two say something else of one evening the fewer minutes. A
      record that does not name the evening itself is also held to its own week: an evening made longer for one machine
      is not longer for another.
    - Helper days and weekdays: those of all records.
    - Week, attendance: its own.

    `weeks`: seven planned minutes, Monday first, of machines whose record gives no week (what is reckoned with
    instead). Where nothing is known of a week, the changed evening stands.
    """
    kept = list(machines)
    days_off = frozenset(day for _, machine in kept for day in machine.calendar.days_off)
    fewest: dict[dt.date, int] = {}
    for _, machine in kept:
        for day in machine.calendar.changed:
            fewest[day.date] = min(day.minutes, fewest.get(day.date, day.minutes))
    helper_days = frozenset(day for _, machine in kept for day in machine.calendar.helper_days)
    weekdays = _in_week_order(name for _, machine in kept for name in machine.calendar.helper_weekdays)
    shared = {}
    for uid, machine in kept:
        own, week = {day.date for day in machine.calendar.changed}, machine.calendar.weekday_minutes or weeks.get(uid)
        changed = []
        for date, minutes in sorted(fewest.items()):
            if date in days_off:
                continue
            if date not in own and week is not None:
                minutes = min(minutes, week[date.weekday()])
            changed.append(ChangedDay(date=date, minutes=minutes))
        shared[uid] = msgspec.structs.replace(
            machine.calendar,
            days_off=tuple(sorted(days_off)),
            changed=tuple(changed),
            helper_days=tuple(sorted(helper_days)),
            helper_weekdays=weekdays,
        )
    return shared


def booked_of(
    courses: Sequence[Course], begin: dt.date, *, attendance_permille: Sequence[int] = ()
) -> dict[dt.date, int]:
    """Planned minutes at the beginning of each evening that `courses` take; evenings without any are left out.

    `begin`: the date of day 0 of all of them. A machine that comes after all of these begins its evening there.
    `attendance_permille`: by course, the share of planned minutes with which it was laid out (1..1000; left out: all
    are worked). A course is written in minutes really worked; 60 of them at half the attendance take 120 planned ones,
    or the minutes that are lost on average would be given to the next machine.

    >>> from wreckwright.plan.types import Course, Piece, Step
    >>> step = Step(key="front_wheel", kind="job", stage=0, day=2, pieces=(Piece(day=0, from_minute=0, to_minute=90),
    ...     Piece(day=2, from_minute=0, to_minute=20)))
    >>> booked_of([Course(steps=(step,), finish_day=2)], dt.date(2026, 1, 5))
    {datetime.date(2026, 1, 5): 90, datetime.date(2026, 1, 7): 20}
    """
    booked: dict[dt.date, int] = {}
    for place, course in enumerate(courses):
        share = attendance_permille[place] if place < len(attendance_permille) else 1000
        taken: dict[int, tuple[int, int]] = {}
        for piece in (piece for step in course.steps for piece in step.pieces):
            first, last = taken.get(piece.day, (piece.from_minute, piece.to_minute))
            taken[piece.day] = min(first, piece.from_minute), max(last, piece.to_minute)
        for day, (first, last) in taken.items():
            date = begin + dt.timedelta(days=day)
            booked[date] = max(first - (first - last) * 1000 // share, booked.get(date, 0))
    return {date: booked[date] for date in sorted(booked) if booked[date]}


def _in_week_order(names: Iterable[Weekday]) -> tuple[Weekday, ...]:
    named = frozenset(names)
    week: tuple[Weekday, ...] = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
    return tuple(name for name in week if name in named)
