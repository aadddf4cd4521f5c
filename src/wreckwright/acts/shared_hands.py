"""One pair of hands for all machines: what a machine is planned on beside its own record."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec

from wreckwright.acts.place import Place, memory
from wreckwright.acts.reckon_cache import AnswerCache
from wreckwright.errors import RecordError
from wreckwright.plan.hands import in_turn, shared_calendar
from wreckwright.record.types import Machine

if TYPE_CHECKING:
    from wreckwright.answers.plan_types import RunningOrder
    from wreckwright.store.read import Reader

Kept = Sequence[tuple[str, Machine]]
"""(uid, record) of all machines whose rows can be read, in the order of the list."""


@dataclass(frozen=True, kw_only=True)
class Shared:
    machine: Machine
    """The record with the calendar that all machines share."""
    booked: Mapping[dt.date, int]
    """Minutes of each evening that machines with an earlier turn take."""


def shared_hands(place: Place, uid: str, *, plan: Callable[[Shared], RunningOrder | None] | None = None) -> Shared:
    """What a machine in the memory is planned on. Raises NotThere, RecordError, StoreError.

    `plan`: makes the running order of a machine that goes first and has none yet; without it such a machine takes
    nothing.
    """
    with memory(place).reading() as reader:
        machine = reader.machine(uid)
        kept = all_machines(reader)
    cache, records = AnswerCache(place.answers), dict(kept)
    orders: dict[str, RunningOrder | None] = {}

    def order_of(other: str) -> RunningOrder | None:
        if other not in orders:
            orders[other] = latest_order(cache, other)
            if orders[other] is None and plan is not None:
                orders[other] = plan(share(other, records[other], kept, order_of=order_of))
        return orders[other]

    return share(uid, machine, kept, order_of=order_of)


def all_machines(reader: Reader) -> Kept:
    found = []
    for head in reader.machines():
        try:
            found.append((head.uid, reader.machine(head.uid)))
        except RecordError:
            # Its own page says what is wrong with it; it cannot hold up the others.
            continue
    return tuple(found)


def latest_order(cache: AnswerCache, uid: str) -> RunningOrder | None:
    kept = cache.kept(uid)
    return kept[0].running_order if kept else None


def share(
    uid: str, machine: Machine, kept: Kept, *, order_of: Callable[[str], RunningOrder | None]
) -> Shared:
    """`kept`: all machines; that of `uid` is replaced by `machine`. `order_of`: uid -> its latest running order.

    Only machines that are bought are worked on; one that is not goes last, as if it were bought after all others.
    """
    others = [(other, record) for other, record in kept if other != uid and record.purchase.bought]
    if not machine.purchase.bought:
        line = (*in_turn(others), uid)
    else:
        places = [other for other, _ in kept]
        mine = places.index(uid) if uid in places else len(places)
        before = [pair for pair in others if places.index(pair[0]) < mine]
        after = [pair for pair in others if places.index(pair[0]) > mine]
        line = in_turn([*before, (uid, machine), *after])
    calendar = shared_calendar([(uid, machine), *others])[uid]
    booked: dict[dt.date, int] = {}
    for other in line[: line.index(uid)]:
        order = order_of(other)
        for date, _, to_minute in order.booked if order is not None else ():
            day = dt.date.fromisoformat(date)
            booked[day] = max(booked.get(day, 0), to_minute)
    return Shared(machine=msgspec.structs.replace(machine, calendar=calendar), booked=booked)
