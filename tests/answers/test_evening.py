"""What tonight's list is made from, read off real machines; expected entries are hand-worked from the record."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pytest

from tests.answers.plain import TRADE, known
from tests.answers.plain_plan import plain_planned
from wreckwright.answers.evening import evening
from wreckwright.answers.plan_types import Evening, EveningWork
from wreckwright.answers.tonight import tonight
from wreckwright.futures.draw import Drawn, draw
from wreckwright.futures.looks import opening_of
from wreckwright.plan.make import Planned

OUTSIDE = [{"template": name, "answer": "yes"}
           for name in ("papers", "key_turns", "chip_read", "unit_learns", "numbers_belong")]


def made(**over: Any) -> tuple[Drawn, Planned]:
    drawn = draw(known(**({"gates": OUTSIDE} | over)), TRADE, n=40)
    return drawn, plain_planned(drawn)


def evening_of(*, date: dt.date | None = None, helper_here: bool | None = None, **over: Any) -> Evening:
    drawn, planned = made(**over)
    return evening(drawn, planned, TRADE, date=date, helper_here=helper_here)


def works(found: Evening) -> dict[str, EveningWork]:
    return {one.key: one for one in found.works}


WHEEL = {"id": "p1", "component": "front_wheel", "name": "Front rim", "state": "here", "last_return_on": "2026-12-05"}


def test_a_part_that_is_here_is_tried_on_and_the_rest_follows() -> None:
    found = works(evening_of(findings=[{"component": "front_wheel"}], parts=[WHEEL]))
    try_on, fit = found["front_wheel:try_on"], found["front_wheel"]
    assert (try_on.ready, try_on.part, try_on.last_return, try_on.waits_for) == (True, "p1", "2026-12-05", "")
    assert not try_on.may_split
    assert "front_wheel:try_on" in fit.after and fit.ready and fit.part == ""
    assert set(fit.covers) == opening_of(TRADE, TRADE.components["front_wheel"].covers)
    # The wheel is no question of the engine turning; before the road test it is.
    assert not fit.for_gate and found["gate:fit_to_ride"].for_gate
    ride = found["gate:fit_to_ride"]
    assert ride.covers_on and set(fit.after) < set(ride.after)


def test_what_has_not_come_is_not_ready_and_says_so() -> None:
    ordered = WHEEL | {"state": "ordered", "ordered_on": "2026-11-18"}
    here = evening_of(findings=[{"component": "front_wheel"}], parts=[ordered])
    one = works(here)["front_wheel:try_on"]
    assert (one.ready, one.part) == (False, "")
    assert one.waits_for == "the front rim (ordered on 2026-11-18)"
    assert here.next_arrival.startswith("Front rim, usually by ")
    # On a day by which it is usually there it may be planned with.
    late = evening_of(findings=[{"component": "front_wheel"}], parts=[ordered], date=dt.date(2027, 11, 20))
    assert works(late)["front_wheel:try_on"].ready and late.date == "2027-11-20"
    wanted = works(evening_of(findings=[{"component": "front_wheel"}]))["front_wheel:try_on"]
    # A wheel is money that a bent frame makes worth little.
    assert not wanted.ready
    assert wanted.waits_for == f"the front wheel (held back until '{TRADE.gates['straight'].question}')"


def test_own_jobs_as_they_are_written() -> None:
    jobs = [
        {"id": "j1", "name": "Valves", "state": "open", "minutes": {"low": 90, "likely": 130, "high": 220},
         "before_gate": "turns", "may_split": False, "film": "the shims", "cure_days": 2},
        {"id": "j2", "name": "Wash", "after": ["j1"], "helper": True},
    ]
    found = works(evening_of(jobs=jobs))
    first, second = found["job:j1"], found["job:j2"]
    assert first.begun and first.for_gate and first.film == "the shims" and first.cure_days == 2
    assert not first.may_split and second.may_split and not second.begun
    assert second.after == ("job:j1",) and second.helper
    assert "job:j1" in found["gate:turns"].after and "job:j2" not in found["gate:turns"].after
    # Two days of curing and the hour of the wash come after it at least.
    assert first.tail_minutes > second.tail_minutes


def test_helpers() -> None:
    jobs = [{"id": "j1", "name": "Swing arm", "helper": True}]
    unsaid = evening_of(jobs=jobs)
    assert unsaid.helper_here and not unsaid.help_known
    calendar = {"helper_weekdays": ["saturday"]}
    friday = evening_of(jobs=jobs, calendar=calendar)
    saturday = evening_of(jobs=jobs, calendar=calendar, date=dt.date(2026, 11, 21))
    # The as-of date, 20 November 2026, is a Friday.
    assert (friday.helper_here, friday.help_known, saturday.helper_here) == (False, True, True)
    assert evening_of(jobs=jobs, calendar=calendar, helper_here=True).helper_here


def test_the_calendar_of_the_day() -> None:
    week = {"weekday_minutes": [0, 0, 0, 0, 90, 0, 0]}
    assert evening_of(calendar=week).planned_minutes == 90
    assert evening_of(calendar=week | {"days_off": ["2026-11-20"]}).planned_minutes == 0
    assert evening_of(calendar=week, date=dt.date(2026, 11, 21)).planned_minutes == 0


def test_covers_stand_after_those_they_lie_under_and_know_what_is_off() -> None:
    found = evening_of(findings=[{"component": "radiator"}], covers_off=["tank_off"])
    seen: set[str] = set()
    for cover in found.covers:
        assert seen.issuperset(cover.under)
        seen.add(cover.id)
    off = {cover.id for cover in found.covers if cover.off}
    assert off == opening_of(TRADE, ("tank_off",)) & seen
    assert all(cover.minutes_off > 0.0 and cover.minutes_on > 0.0 for cover in found.covers)


def test_loose_ends_that_are_open() -> None:
    ends = [{"id": "l1", "what": "rags", "count": 2}, {"id": "l2", "what": "bag", "words": "mirror screws"},
            {"id": "l3", "what": "loose", "words": "stem", "closed": True}]
    found = evening_of(loose_ends=ends).loose
    assert [(one.handle, one.what, one.words, one.count) for one in found] == [
        ("l1", "rags", "rags in ports", 2), ("l2", "bag", "mirror screws", 1)]


def test_nobody_rides_or_starts_before_its_time() -> None:
    asked = [*OUTSIDE, *({"template": name, "answer": "yes"} for name in ("turns", "straight", "runs"))]
    found = works(evening_of(gates=asked))["gate:fit_to_ride"]
    assert not found.ready
    assert found.waits_for == f"{len(TRADE.fit_items)} headings of the fit-to-ride list to be proved"
    proofs = [{"item": name, "how": "by hand", "second_person": "Wren"} for name in TRADE.fit_items]
    assert works(evening_of(gates=asked, proofs=proofs))["gate:fit_to_ride"].ready
    wet = evening_of(gates=asked[:-1], what_hit=["water"])
    start = works(wet)["gate:runs"]
    assert not start.ready and start.waits_for.startswith("a look without which nobody starts it (")
    assert works(evening_of(gates=asked[:-1]))["gate:runs"].ready


def test_a_question_answered_no_is_gone_round_first() -> None:
    found = works(evening_of(gates=[*OUTSIDE, {"template": "turns", "answer": "no"}]))
    way = found["way:turns:0"]
    assert way.name == TRADE.gates["turns"].ways_round[0].name and way.ready and way.minutes > 0.0
    assert "way:turns:0" in found["gate:turns"].after
    assert "way:turns:0" not in works(evening_of())


def test_looks_say_what_they_would_show_and_calls_are_no_evenings_work() -> None:
    drawn, planned = made()
    found = works(evening(drawn, planned, TRADE))
    looks = {key.removeprefix("look:"): one for key, one in found.items() if one.kind == "look"}
    taken = {work.key for work in planned.problem_usual.works if work.kind == "look"}
    calls = {key for key in taken if "telephone" in TRADE.checks[key.removeprefix("look:")].tools}
    assert looks and {f"look:{name}" for name in looks} == taken - calls
    for name, one in looks.items():
        seen = {entry.component: entry.sensitivity * drawn.chance.get(entry.component, 0.0)
                for entry in TRADE.checks[name].detects if entry.component not in drawn.known.absent}
        if one.shows:
            # Independent: the largest product of chance and sensitivity of the trade data's own rows.
            best = max(seen.values())
            names = {TRADE.components[c].name_uk.lower() for c, value in seen.items() if value >= 0.999 * best}
            shown, chance = one.shows.removeprefix("a fault of the ").rsplit(" (", 1)
            assert shown.lower() in names and chance.endswith(", trade judgement)")
        else:
            assert not seen or max(seen.values()) == 0.0


def test_late_and_alone() -> None:
    text = TRADE.cautions["late_or_alone"].text
    found = works(evening_of(findings=[{"component": "front_calipers"}, {"component": "screen", "severity": 2}],
                             remedies=[{"component": "front_calipers", "remedy": "genuine"}]))
    assert found["front_calipers"].late == text and found["front_calipers:try_on"].late == ""
    assert found["screen"].late == ""
    # It comes off behind the lifted front.
    fork = works(evening_of(findings=[{"component": "fork_tube_l"}]))["fork_tube_l"]
    assert "front_stand" in fork.covers and fork.alone == text and text not in fork.caution
    opened = works(evening_of(findings=[{"component": "fork_tube_l"}],
                              covers_off=sorted(opening_of(TRADE, TRADE.components["fork_tube_l"].covers))))
    assert opened["fork_tube_l"].alone == ""


def test_the_spread_is_that_of_the_futures() -> None:
    drawn, planned = made(findings=[{"component": "radiator"}])
    found = works(evening(drawn, planned, TRADE))["radiator"]
    index = next(i for i, plan in enumerate(drawn.compiled.slots) if plan.key == "radiator")
    minutes = drawn.worlds.minutes[:, index].astype(float)
    # Independent: numpy on the draws themselves.
    assert found.log_sd == pytest.approx(float(np.std(np.log(minutes[minutes > 0]))))
    assert found.minutes == pytest.approx(float(np.rint(np.median(minutes))))


def test_every_entry_of_the_list_can_be_done() -> None:
    drawn, planned = made(
        findings=[{"component": "front_wheel"}, {"component": "radiator"}], parts=[WHEEL],
        jobs=[{"id": "j1", "name": "Valves", "before_gate": "turns"}],
    )
    made_from = evening(drawn, planned, TRADE)
    by_key = works(made_from)
    assert "lump" not in by_key
    for hours in (0.5, 2.0, 6.0, 12.0):
        found = tonight(made_from, hours)
        done: set[str] = set()
        for entry in found.entries:
            assert by_key[entry.key].ready
            assert set(by_key[entry.key].after) & by_key.keys() <= done
            done.add(entry.key)
    # The rough look at the next question, then what has arrived.
    keys = [entry.key for entry in tonight(made_from, 2.0).entries]
    assert keys[:2] == ["look:turn_rear_wheel", "front_wheel:try_on"]


def test_a_question_that_was_answered_no_wants_no_first_answer() -> None:
    def first(**over: Any) -> tuple[str, bool]:
        found = evening_of(**over)
        return tonight(found, 2.0).entries[0].key, any(work.rough for work in found.works)

    assert first() == ("look:turn_rear_wheel", True)
    no = first(gates=[{"id": "g1", "template": "turns", "answer": "no"}])
    assert no == ("way:turns:0", False)
