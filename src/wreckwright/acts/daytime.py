"""What is for the daytime, over all machines: calls for the lunch break, and errands that can share one trip."""

from __future__ import annotations

from collections.abc import Iterable

from wreckwright.acts.plan_shapes import Daytime, DaytimeLine, Trip
from wreckwright.answers.plan_types import RunningOrder
from wreckwright.record.types import Machine


def daytime(machines: Iterable[tuple[str, Machine, RunningOrder | None]]) -> Daytime:
    """Calls, what they are worth first; trips by their day, those without one last.

    `machines`: uid, record and the latest running order; what the record says is done since is left out.
    """
    calls: list[DaytimeLine] = []
    trips: dict[str, list[DaytimeLine]] = {}
    for uid, machine, order in machines:
        done = {errand.id for errand in machine.errands if errand.done}
        for line in order.errands if order is not None else ():
            if line.handle in done:
                continue
            made = DaytimeLine(
                uid=uid, nickname=machine.nickname, words=line.words, question=line.question, worth=line.worth,
                worth_minor=line.worth_minor, currency=machine.currency, wants=line.wants,
            )
            if line.kind == "call":
                calls.append(made)
            else:
                trips.setdefault(line.date, []).append(made)
    calls.sort(key=lambda one: -one.worth_minor)
    dated = sorted(day for day in trips if day)
    found = [Trip(day=day, lines=tuple(trips[day])) for day in (*dated, "") if day in trips]
    return Daytime(calls=tuple(calls), trips=tuple(found), goes_along=bool(dated) and "" in trips)
