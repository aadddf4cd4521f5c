"""The job card: everything for one piece of work, cautions first, no estimate where the ride depends on a thread."""

from __future__ import annotations

import datetime as dt
from functools import cache
from typing import Any

import msgspec
import numpy as np
import pytest

from tests.answers.plain import TRADE, known
from wreckwright.answers.card_facts import (
    FASTENED_WITH,
    FIND_IT_NO_OTHER,
    NEVER_ESTIMATED,
    cautions_for,
    torques_for,
)
from wreckwright.answers.job_card import job_cards
from wreckwright.answers.plan_types import CardTorque, JobCard
from wreckwright.futures.draw import Drawn, draw
from wreckwright.plan.types import Course, Piece, Step
from wreckwright.trade.graph import opening_order

RECORD: dict[str, Any] = {
    "findings": [
        {"component": "front_wheel", "condition": "dent at the bead", "severity": 3},
        {"component": "rear_caliper", "severity": 3},
        {"component": "front_calipers", "severity": 2},
        {"component": "mirror_l", "missing": True},
        {"component": "radiator", "condition": "fins crushed"},
        {"component": "exhaust_can", "severity": 2},
    ],
    "parts": [
        {"id": "rim", "component": "front_wheel", "name": "Front rim", "state": "here", "last_return_on": "2026-12-04"},
        {"id": "core", "component": "radiator", "state": "ordered", "ordered_on": "2026-11-10"},
        {"id": "can", "component": "exhaust_can", "state": "here", "remedy": "pattern"},
    ],
    "jobs": [
        {"id": "valves", "name": "valve clearances", "kind": "check", "component": "top_end", "covers": ["tank_off"],
         "minutes": {"low": 90, "likely": 120, "high": 180}, "tools": ["feeler gauges"], "steps": ["cold engine"],
         "film": "the shims in their order", "keep": ["shims"]},
        {"id": "off", "name": "take the rack of lamps off", "kind": "strip", "stands_for": "radiator:carry_over",
         "state": "open", "done_minutes": 4, "started_at": "2026-11-19T20:00:00"},
        {"id": "tried", "name": "tried the rim", "kind": "check", "stands_for": "front_wheel:try_on",
         "state": "closed_up", "done_minutes": 9},
    ],
    "fastenings": [
        {"id": "axle", "where": "Front axle nut", "component": "front_axle", "thread": "M18", "target_nm": 72.0,
         "basis": "maker's manual, section 9"},
        {"id": "hanger", "where": "Silencer hanger", "component": "exhaust_can"},
        {"id": "pads", "where": "Caliper bolts", "component": "front_calipers"},
    ],
    "readings": [
        {"what": "run-out", "component": "front_wheel", "value": 1.6, "unit": "mm", "limit_high": 2.0,
         "uncertainty": 0.1},
        {"what": "axial run-out", "component": "front_wheel", "value": 0.9, "unit": "mm"},
    ],
    "loose_ends": [
        {"what": "bag", "words": "bag 7, front axle spacers", "work": "front_wheel"},
        {"what": "rags", "words": "inlets", "count": 2, "work": "job:valves"},
        {"what": "loose", "words": "fan screw", "work": "radiator", "closed": True},
    ],
    "covers_off": ["seat_off", "oil_drain"],
}
ESTIMATES = {
    name: CardTorque(where=name, nm=21.0, words="21 Nm", basis="estimate from the thread")
    for name in ("exhaust_can", "hanger", "front_calipers", "pads", "front_wheel", "front_axle", "rear_caliper")
}


@cache
def drawn() -> Drawn:
    return draw(known(**RECORD), TRADE, n=64)


@cache
def cards() -> dict[str, JobCard]:
    return {card.key: card for card in job_cards(drawn(), TRADE, torque_estimates=ESTIMATES)}


def test_a_card_for_each_job_look_and_test_and_for_nothing_else() -> None:
    compiled = drawn().compiled
    expected = [
        plan.key for plan, slot in zip(compiled.slots, compiled.rebuild.slots, strict=True)
        if slot.kind in ("job", "look", "gate") and not plan.is_lump
    ]
    assert list(cards()) == expected
    assert {card.kind for card in cards().values()} == {"job", "look", "gate"}
    assert any(slot.kind == "follow_up" for slot in compiled.rebuild.slots)


def test_minutes_are_those_that_were_drawn() -> None:
    # independent: quantiles of the column of worlds.minutes by numpy.
    compiled, minutes = drawn().compiled, drawn().worlds.minutes
    for at, plan in enumerate(compiled.slots):
        card = cards().get(plan.key)
        if card is not None:
            assert card.minutes.likely == np.median(minutes[:, at])
            assert card.minutes.low <= card.minutes.likely <= card.minutes.high
    wheel = cards()["front_wheel"]
    at = compiled.covers.index("front_wheel_out")
    shown = next(cover for cover in wheel.off if cover.id == "front_wheel_out")
    assert shown.minutes == np.median(minutes[:, len(compiled.slots) + at])


def test_the_heaviest_caution_goes_first() -> None:
    for card in cards().values():
        weights = [
            next((row.weight for row in TRADE.cautions.values() if row.text == said), 0) for said in card.cautions
        ]
        assert weights == sorted(weights, reverse=True), card.key
    # common practice: a brake job says that it is one, a job under the tank speaks of fuel.
    assert TRADE.cautions["brake_work"].text in cards()["rear_caliper"].cautions[:1]
    assert cards()["job:valves"].cautions[0] == TRADE.cautions["fuel_vapour"].text
    assert cautions_for(TRADE, {"grip_l"}) == ()


def test_covers_come_off_from_the_outside_and_go_on_the_other_way_round() -> None:
    card = cards()["front_wheel"]
    # hand-worked from the covers table.
    assert [cover.id for cover in card.off] == ["paddock_rear", "front_stand", "front_wheel_out"]
    assert [cover.id for cover in card.back_on] == ["front_wheel_out", "front_stand", "paddock_rear"]
    assert [cover.name for cover in card.back_on][0] == "Front wheel in"
    valves = cards()["job:valves"]
    assert [cover.id for cover in valves.off] == list(opening_order(TRADE.covers, ["tank_off"]))
    assert [cover.off_already for cover in valves.off] == [True, False, False]
    tank = valves.off[-1]
    assert any("fuel" in note for note in tank.notes) and tank.caution.startswith("Fuel vapour")
    assert valves.supports == ("clean padded stand",)


def test_a_card_of_the_owners_own_job_shows_what_is_written_there() -> None:
    card = cards()["job:valves"]
    assert (card.name, card.handle, card.state) == ("valve clearances", "valves", "can be done")
    assert card.tools == ("feeler gauges",) and card.steps == ("cold engine",)
    assert card.film == ("the shims in their order",) and card.keep == ("shims",)
    assert card.bags == ("2 rags to come out: inlets",)
    assert card.siblings == () and card.basis == "your own"


def test_a_row_that_stands_for_a_step_is_on_its_card() -> None:
    card = cards()["radiator:carry_over"]
    assert (card.handle, card.state, card.done_minutes) == ("off", "open", 4.0)
    assert dt.datetime.fromisoformat(card.began_at) == dt.datetime(2026, 11, 19, 20)
    assert card.bags == ()  # the screw has been seen to
    # hand-worked: the rim has been tried on, so that step has no card any more and counts as done.
    assert "front_wheel:try_on" not in cards()
    assert [(key, done) for key, _, done in cards()["front_wheel"].siblings] == [
        ("front_wheel:try_on", True), ("front_wheel:carry_over", False), ("front_wheel", False),
        ("front_wheel:test", False),
    ]


def test_states_say_whether_anything_holds_it_up() -> None:
    # hand-worked: the silencer is here and nothing comes before trying it on; the radiator is on its way.
    assert cards()["exhaust_can:try_on"].state == "can be done"
    assert cards()["radiator:try_on"].state == "not yet"
    assert cards()["exhaust_can"].state == "not yet"
    assert cards()["gate:fit_to_ride"].state == "not yet"
    assert "First: " in cards()["exhaust_can"].why


def test_parts_stand_there_with_their_state_and_last_day() -> None:
    part = cards()["front_wheel"].parts[0]
    assert (part.handle, part.name, part.state, part.last_return) == ("rim", "Front rim", "here", "2026-12-04")
    mirror = cards()["mirror_l:try_on"].parts[0]
    assert (mirror.handle, mirror.state) == ("", "not written down yet")


def test_one_figure_for_the_wrench_and_the_records_own_first() -> None:
    torques = cards()["front_wheel"].torques
    # hand-worked: the axle's figure is written down with its source; it goes back with the wheel.
    assert (torques[0].nm, torques[0].words, torques[0].basis) == (72.0, "72 Nm", "maker's manual, section 9")
    assert torques[0].where == "Front axle nut, M18"
    silencer = cards()["exhaust_can"].torques
    assert [torque.words for torque in silencer] == ["21 Nm"]
    assert silencer[0].basis == "estimate from the thread"
    bare = {card.key: card for card in job_cards(drawn(), TRADE)}
    assert bare["exhaust_can"].torques[0].nm is None
    assert "find the maker's figure" in bare["exhaust_can"].torques[0].words


def test_no_estimate_for_brakes_steering_axles_and_wheels() -> None:
    # brakes, steering, axles and wheels take the maker's figure, whatever estimate is handed in.
    assert NEVER_ESTIMATED >= {"brakes", "steering", "axles", "wheels"}
    for card in cards().values():
        component = TRADE.components.get(card.component)
        for torque in card.torques:
            if component is not None and component.fit_to_ride in NEVER_ESTIMATED:
                assert torque.basis != "estimate from the thread", card.key
    caliper = cards()["front_calipers:fit_back"].torques
    assert {torque.words for torque in caliper} == {FIND_IT_NO_OTHER}
    assert caliper[0].where == "Caliper bolts"


@pytest.mark.parametrize("component", sorted(TRADE.components))
def test_ride_critical_threads_never_get_an_estimate(component: str) -> None:
    estimate = CardTorque(where="x", nm=10.0, words="10 Nm", basis="estimate")
    found = torques_for(known(), TRADE, [component], {component: estimate})
    critical = TRADE.components[component].fit_to_ride in NEVER_ESTIMATED
    assert [torque.nm for torque in found] == [None if critical else 10.0]


def test_threads_behind_covers_are_of_components_the_ride_depends_on() -> None:
    for cover, components in FASTENED_WITH.items():
        assert cover in TRADE.covers
        for component in components:
            assert TRADE.components[component].fit_to_ride in NEVER_ESTIMATED


def test_limits_come_from_readings_and_checks() -> None:
    limits = {limit.what: limit.words for limit in cards()["front_wheel:test"].limits}
    # hand-worked.
    assert limits["run-out"] == "at most 2 mm; last read 1.6 ± 0.1 mm"
    assert limits["axial run-out"].endswith("no limit written down: find the maker's figure before you judge it")
    passes = TRADE.checks["wheel_runout"].passes_when
    assert any(passes[1:] in words for words in limits.values())
    look = next(card for card in cards().values() if card.kind == "look")
    check = TRADE.checks[look.key.removeprefix("look:")]
    assert [limit.what for limit in look.limits] == [check.name]


def test_what_else_can_be_done_while_it_is_open() -> None:
    for card in cards().values():
        here = {cover.id for cover in card.off}
        for key, _ in card.while_open:
            other = cards()[key]
            assert key != card.key and {cover.id for cover in other.off} <= here and other.off
            assert key.partition(":")[0] != card.key.partition(":")[0] or key.startswith(("job:", "look:"))
    opened = {key for key, _ in cards()["front_wheel"].while_open}
    assert "rear_caliper:fit_back" in opened  # the rear stands on the paddock stand for both


def test_guards_of_a_test_are_looked_at_first_and_the_first_start_takes_two() -> None:
    card = cards()["gate:runs"]
    assert card.look_first == TRADE.gates["runs"].guards
    assert card.helper and not cards()["gate:straight"].helper
    # hand-worked: of what must be on, the oil has been drained; the seat may stay off.
    assert [cover.id for cover in card.back_on] == ["oil_drain"]
    assert card.back_on[0].name == "New filter on, oil filled" and "fill again: engine oil" in card.back_on[0].notes
    assert not card.may_split
    headings = [line.split(":")[0] for line in cards()["gate:fit_to_ride"].steps]
    assert headings == [item.name for item in TRADE.fit_items.values()]


def test_keep_and_renew_stand_where_they_are_needed() -> None:
    assert cards()["front_wheel:carry_over"].keep == TRADE.carry_overs["front_wheel"].pieces
    assert cards()["front_wheel"].keep == ()
    assert cards()["front_wheel"].renew == TRADE.renew_withs["front_wheel"].pieces
    # a mirror's pieces are moved over in the same step in which it is fitted.
    assert cards()["mirror_l"].keep == TRADE.carry_overs["mirror_l"].pieces


def test_why_names_the_finding_and_the_turn() -> None:
    assert cards()["front_wheel"].why.startswith("Found bad: dent at the bead.")
    assert cards()["mirror_l"].why.startswith("Found missing")
    piece = Piece(day=3, from_minute=0, to_minute=20)
    course = Course(steps=(Step(key="front_wheel", kind="job", stage=0, pieces=(piece,), day=3),), finish_day=9)
    card = next(card for card in job_cards(drawn(), TRADE, course=course) if card.key == "front_wheel")
    assert card.why.endswith("2026-11-23.")


def test_cards_can_be_written_and_read_again() -> None:
    for card in cards().values():
        assert msgspec.json.decode(msgspec.json.encode(card), type=JobCard) == card
