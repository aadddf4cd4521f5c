"""Calls and trips over all machines (hand-worked)."""

from __future__ import annotations

from msgspec.structs import replace

from tests.papers.made_up_plan import running_order
from wreckwright.acts.daytime import daytime
from wreckwright.answers.plan_types import ErrandLine, RunningOrder
from wreckwright.record.types import Errand, Machine


def machine(name: str, *errands: Errand) -> Machine:
    return Machine(nickname=name, machine_class="naked", year=2016, errands=errands)


def line(words: str, kind: str = "call", *, worth: int = 0, date: str = "", handle: str = "") -> ErrandLine:
    return ErrandLine(
        handle=handle, kind=kind, words=words, question="?", worth="", worth_minor=worth, date=date,  # type: ignore[arg-type]
    )


def of(*lines: ErrandLine) -> RunningOrder:
    return replace(running_order(), errands=lines)


def test_calls_by_worth_and_trips_of_one_day_together() -> None:
    sorrel = of(line("ring the bank", worth=500), line("to the painter", "trip", date="2026-12-03"))
    bramble = of(
        line("ring the dealer", worth=9000), line("to the welder", "trip", date="2026-12-03"),
        line("weigh it", "trip"), line("to the tester", "trip", date="2026-11-30"),
    )
    found = daytime([("s", machine("Sorrel"), sorrel), ("b", machine("Bramble"), bramble), ("n", machine("New"), None)])
    assert [(one.nickname, one.words) for one in found.calls] == [
        ("Bramble", "ring the dealer"), ("Sorrel", "ring the bank")]
    assert [(trip.day, [one.words for one in trip.lines]) for trip in found.trips] == [
        ("2026-11-30", ["to the tester"]), ("2026-12-03", ["to the painter", "to the welder"]), ("", ["weigh it"])]
    assert found.goes_along


def test_what_is_done_since_is_left_out_and_nothing_goes_along_on_no_trip() -> None:
    kept = of(line("ring the bank", handle="e1"), line("weigh it", "trip", handle="e2"))
    done = machine("Sorrel", Errand(id="e1", kind="call", words="ring the bank", done=True))
    found = daytime([("s", done, kept)])
    assert found.calls == () and [trip.day for trip in found.trips] == [""] and not found.goes_along
