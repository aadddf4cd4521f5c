"""Facts that every mechanic takes for granted, on the plans themselves: records in which they matter are planned, and
the steps are read off the calendar in the order in which they stand.

Expected: common practice. What lies open at each step is replayed here from the movements of the covers alone.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cache

import pytest

from tests.futures.made_known import AS_OF, SLID, TRADE, known
from wreckwright.futures.draw import Drawn, draw
from wreckwright.plan.check import check
from wreckwright.plan.make import planned
from wreckwright.plan.types import Course
from wreckwright.record.file import read_record
from wreckwright.record.pace import way_of
from wreckwright.record.resolve import resolve
from wreckwright.trade.mirror import mirror_trade
from wreckwright.trade.steps import steps_of

N_FUTURES = 60

HEAD = """
nickname = "Teasel"
machine_class = "tourer"
year = 2019
what_hit = "right"
purchase = { bought = true, price_minor = 210000 }
market = { sound_value_minor = 640000 }
"""
ENGINE = HEAD + """
findings = ["engine mounts bent", "swingarm bent", "front brake lever snapped"]
remedies = [{ component = "engine_mounts", remedy = "REMEDY" }]
"""
LEVERS = HEAD + """
findings = [
  "front brake lever snapped", "clutch lever snapped", "clutch perch cracked", "handlebar bent", "shift lever bent",
  "brake pedal bent", "left rearset cracked",
]
"""
LAMP = HEAD + """
findings = ["headlight smashed", { component = "cowl_bracket", missing = true }]
remedies = [{ component = "headlamp", remedy = "used" }, { component = "cowl_bracket", remedy = "leave" }]
"""
NO_LAMP = HEAD + """
findings = [{ component = "cowl_bracket", missing = true }]
remedies = [{ component = "cowl_bracket", remedy = "leave" }]
"""
CABLES = HEAD + """
findings = ["control cables frayed", "handlebar bent", "throttle grip torn"]
remedies = [{ component = "control_cables", remedy = "REMEDY" }]
"""
FRONT_END = HEAD + """
findings = [
  "left fork tube bent", "right fork tube bent", "top clamp bent", "front rim dinged", "front axle bent",
  "front brake discs warped", "front mudguard cracked", "handlebar bent", "front master cylinder leaks",
  "right mirror gone", "front calipers stuck", "radiator holed", "water pump cover cracked", "coolant hoses split",
]
"""
RECORDS = {
    "slid": SLID, "engine": ENGINE.replace("REMEDY", "genuine"), "engine mended": ENGINE.replace("REMEDY", "repair"),
    "levers": LEVERS, "lamp": LAMP, "cables": CABLES.replace("REMEDY", "genuine"),
    "cables cleaned": CABLES.replace("REMEDY", "repair"), "front end": FRONT_END,
    "helper": SLID + '[calendar]\nhelper_weekdays = ["saturday"]\n',
    "front end mirrored": "mirrored = true\n" + FRONT_END,
}


@dataclass(frozen=True)
class Real:
    """A record as it is really planned."""

    drawn: Drawn
    course: Course

    @property
    def keys(self) -> list[str]:
        return [step.key for step in self.course.steps]

    def place(self, key: str) -> int:
        return self.keys.index(key)

    def off_during(self, key: str) -> frozenset[str]:
        """Covers that are off when this step is done."""
        off = set(self.drawn.known.machine.covers_off)
        for one in self.keys[: self.place(key)]:
            head, _, cover = one.partition(":")
            if head == "off":
                off.add(cover)
            elif head == "on":
                off.remove(cover)
        return frozenset(off)

    def group(self, component: str) -> list[str]:
        """Keys of the steps of one component, in the order in which they are done."""
        return [key for key in self.keys if key.partition(":")[0] == component]


@cache
def real(name: str) -> Real:
    machine = read_record(RECORDS[name].encode(), name="teasel.toml")
    trade = mirror_trade(TRADE) if machine.mirrored else TRADE
    drawn = draw(resolve(machine, trade, as_of=AS_OF), trade, n=N_FUTURES)
    plan = planned(drawn)
    assert check(plan.problem_usual, plan.course) == []
    assert plan.course.finish_day is not None
    return Real(drawn, plan.course)


# ---- facts of one component ----


@pytest.mark.parametrize("name", ["engine", "engine mended"])
def test_the_engine_is_supported_before_a_mount_bolt_comes_out(name: str) -> None:
    plan = real(name)
    steps = [key for key in plan.group("engine_mounts") if not key.endswith(":try_on")]
    assert steps == ["engine_mounts", "engine_mounts:test"]
    for key in steps:
        assert "engine_support" in plan.off_during(key), key
    assert plan.place("off:engine_support") < plan.place("engine_mounts") < plan.place("on:engine_support")


def test_the_engine_is_supported_before_the_swingarm_pivot_comes_out() -> None:
    plan = real("engine")
    assert "swingarm_out" in plan.off_during("swingarm")
    assert plan.place("off:engine_support") < plan.place("off:swingarm_out")
    assert plan.place("on:swingarm_out") < plan.place("on:engine_support")


@pytest.mark.parametrize("lever", ["lever_brake_front", "lever_clutch", "shift_lever", "brake_pedal"])
def test_a_lever_is_not_fitted_before_its_bush_and_pieces_are_in_it(lever: str) -> None:
    steps = real("levers").group(lever)
    assert steps.index(f"{lever}:try_on") < steps.index(f"{lever}:carry_over") < steps.index(lever)


def test_a_lamp_is_not_fitted_before_its_mount_even_if_the_missing_mount_was_to_be_left() -> None:
    plan = real("lamp")
    assert plan.place("cowl_bracket") < plan.place("headlamp")
    # With nothing to be fitted on it the owner's word stands.
    left = draw(known(NO_LAMP), TRADE, n=20)
    assert not [slot.key for slot in left.compiled.slots if slot.key.startswith("cowl_bracket")]


def test_a_cable_is_lubricated_until_it_shows_at_the_far_end_before_it_is_refitted() -> None:
    bought, cleaned = real("cables"), real("cables cleaned")
    steps = bought.group("control_cables")
    assert steps.index("control_cables:lubricate") < steps.index("control_cables")
    assert steps.index("control_cables") < steps.index("control_cables:adjust") < steps.index("control_cables:test")
    # Cleaned and used again: the mending is the lubricating.
    assert cleaned.place("control_cables") < cleaned.place("control_cables:fit_back")
    (words,) = [step.words for step in steps_of(TRADE, "control_cables", "mend") if step.step == "mend"]
    assert "lubricate" in words and "far end" in words


def test_brakes_are_bled_before_they_are_to_hold_pressure() -> None:
    plan = real("front end")
    for brake in ("master_cyl_front", "front_calipers"):
        steps = plan.group(brake)
        main, bleed, hold = (steps.index(key) for key in (brake, f"{brake}:bleed", f"{brake}:test"))
        assert main < bleed < hold


def test_the_engine_is_first_started_on_a_day_on_which_somebody_helps() -> None:
    # The stop switch is held by a second person; on weekdays nobody is there.
    plan = real("helper")
    start = next(step for step in plan.course.steps if step.key == "gate:runs")
    assert (AS_OF + dt.timedelta(days=start.pieces[0].day)).weekday() == 5
    others = {(AS_OF + dt.timedelta(days=piece.day)).weekday() for step in plan.course.steps for piece in step.pieces}
    assert others > {5}


# ---- laws of every plan ----


@pytest.mark.parametrize("name", RECORDS)
def test_the_steps_of_a_remedy_are_done_in_their_order(name: str) -> None:
    """Only the taking off of the old part and the trying on of the new one may change places."""
    plan = real(name)
    needs = {slot.key: slot.need for slot in plan.drawn.compiled.slots if slot.need is not None and slot.need.step}
    components = {need.component for need in needs.values()}
    assert len(components) >= 2
    for component in components:
        done = [needs[key] for key in plan.group(component)]
        written = [step.step for step in steps_of(TRADE, component, way_of(done[0].remedy))]
        steps = [need.step for need in done]
        assert set(steps) <= set(written)
        first = [step for step in ("try_on", "strip") if step in steps]
        assert set(steps[: len(first)]) == set(first), component
        assert steps[len(first) :] == sorted(steps[len(first) :], key=written.index), component


def fitting(plan: Real, component: str) -> str:
    """The step after which a component is on the machine: of a mended one the fitting back, where it was taken off."""
    back = f"{component}:fit_back"
    return back if back in plan.keys else component


@pytest.mark.parametrize("name", RECORDS)
def test_nothing_is_fitted_before_that_which_it_is_mounted_on(name: str) -> None:
    plan = real(name)
    mounts = (mirror_trade(TRADE) if plan.drawn.known.machine.mirrored else TRADE).mounted_on
    jobs = {step.key for step in plan.course.steps if step.kind == "job"}
    for component, row in mounts.items():
        for mount in row.mounts:
            if component in jobs and mount in jobs:
                later, earlier = fitting(plan, component), fitting(plan, mount)
                assert plan.place(earlier) < plan.place(later), f"{later} before {earlier}"


@pytest.mark.parametrize("name", RECORDS)
def test_nothing_is_done_behind_a_cover_that_is_on_and_nothing_is_left_off(name: str) -> None:
    plan = real(name)
    slots = {slot.key: n for n, slot in enumerate(plan.drawn.compiled.slots)}
    covers = plan.drawn.compiled.covers
    for step in plan.course.steps:
        if step.kind == "job":
            wanted = plan.drawn.compiled.rebuild.slots[slots[step.key]].covers
            assert {covers[x] for x in wanted} <= plan.off_during(step.key), step.key
    last = plan.keys[-1]
    assert last == "gate:fit_to_ride"
    assert plan.off_during(last) == frozenset()
