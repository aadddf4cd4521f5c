"""The next step and tonight's list say the same where it is work; hand-worked from the record of each test."""

from __future__ import annotations

from typing import Any

import pytest
from msgspec.structs import replace

from tests.answers.plain import DAY, TRADE, known
from tests.answers.plain_plan import plain_planned
from tests.answers.test_next_step import ALL_ASKED, OUTSIDE, answers, doubt, gates
from tests.answers.test_tonight import evening as evening_by_hand
from tests.answers.test_tonight import gate, work
from wreckwright.answers.evening import evening
from wreckwright.answers.fit import fit
from wreckwright.answers.next_step import next_step
from wreckwright.answers.plan_types import Evening, EveningLoose
from wreckwright.answers.tonight import tonight
from wreckwright.answers.types import NextStep
from wreckwright.futures.draw import draw

WHEEL = {"id": "p1", "component": "front_wheel", "name": "Front rim, straight", "state": "here"}


def step(of: Evening | None, *, looks: tuple[str, ...] = (), choice: str = "carry_on", **over: Any) -> NextStep:
    record = known(**({"gates": ALL_ASKED} | over))
    weighed, most = answers()
    return next_step(
        record, TRADE, damage={}, cause_chance={}, bid=most, evening=of,
        verdict=replace(weighed, choice=choice, map_doubt=doubt(*looks) if looks else None),  # type: ignore[arg-type]
        fit=fit(record.machine, TRADE, damage={}, as_of=DAY),
    )


def test_work_is_what_stands_first_on_the_list() -> None:
    of = evening_by_hand(work("job:j2", 40.0, name="bleed it"), work("job:j1", 40.0, name="wash it"))
    jobs = [{"id": "j1", "name": "Wash it", "state": "open"}, {"id": "j2", "name": "Bleed it"}]
    found = step(of, jobs=jobs)
    assert (found.kind, found.key, found.words, found.minutes) == ("do", "job:j2", "Bleed it", 40.0)
    assert found.why == tonight(of, 2.0).entries[0].why
    # Without a list it is what it was, and has no key.
    alone = step(None, jobs=jobs)
    assert (alone.key, alone.words) == ("", "Wash it")


def test_a_part_that_is_here_is_fitted_by_the_list() -> None:
    of = evening_by_hand(work("front_wheel:try_on", 8.0, name="try on front wheel", part="p1"))
    found = step(of, parts=[WHEEL])
    assert (found.kind, found.key, found.words) == ("fit", "front_wheel:try_on", "Try on front wheel")


def test_a_test_on_the_list_is_a_look_at_its_question() -> None:
    of = evening_by_hand(gate(covers_on=("seat",)), covers=())
    found = step(of, gates=gates(*OUTSIDE, "straight", "runs"),
                 findings=[{"component": "top_end", "looked_fine": True}, {"component": "bottom_end",
                           "looked_fine": True}])
    assert (found.kind, found.key, found.gate) == ("look", "gate:turns", "turns")
    assert found.words == "Try it on the bench: Does it turn over?"


def test_asking_ordering_and_selling_stay_its_own() -> None:
    of = evening_by_hand(work("job:j1", name="wash it"))
    asked = step(of, gates=gates("key_turns", "chip_read"))
    assert (asked.kind, asked.key) == ("ask", "")
    wanted = step(of, parts=[{"component": "tyres", "name": "Tyres", "state": "wanted"}])
    assert (wanted.kind, wanted.words) == ("get", "Order: Tyres")
    assert step(of, choice="part_out", parts=[WHEEL]).kind == "sell"


def test_a_look_that_stands_on_the_list_has_its_key() -> None:
    record = gates(*OUTSIDE, "turns", "runs")
    plain = step(None, gates=record)
    assert plain.kind == "look" and plain.check == "sight_and_swing"
    of = evening_by_hand(work("look:sight_and_swing", kind="look"), work("job:j1"))
    assert step(of, gates=record) == replace(plain, key="look:sight_and_swing")
    assert step(evening_by_hand(work("job:j1")), gates=record) == plain


def test_nobody_waits_or_proves_while_something_can_be_done() -> None:
    ordered = [{"component": "water_pump", "state": "ordered"}]
    assert step(None, parts=ordered).kind == "wait"
    found = step(evening_by_hand(work("job:j1", name="wash it")), parts=ordered)
    assert (found.kind, found.key) == ("do", "job:j1")
    assert step(evening_by_hand(work("job:j1", ready=False)), parts=ordered).kind == "wait"
    assert step(None).kind == "prove" and step(evening_by_hand()).kind == "prove"


def test_work_that_cannot_be_begun_is_passed_over() -> None:
    jobs = [{"id": "j1", "name": "Wash it", "state": "open"}]
    of = evening_by_hand(work("job:j1", name="wash it", helper=True))
    assert step(of, jobs=jobs).kind == "prove"


def test_loose_ends_and_what_may_be_wet_are_told_first() -> None:
    loose = (EveningLoose(handle="l1", what="rags", words="two rags in the ports", count=2),)
    of = evening_by_hand(work("job:j1", name="wash it", caution="Not on hot iron."), loose=loose)
    jobs = [{"id": "j1", "name": "Wash it"}]
    assert step(of, jobs=jobs).cautions == (
        "First see to what was left loose: two rags in the ports", "Not on hot iron")
    wet = step(of, jobs=jobs, what_hit=["water"])
    assert wet.cautions[0] == TRADE.cautions["flood_electric"].text


def test_a_way_round_that_is_bought_is_not_on_the_list() -> None:
    no = [*gates(*OUTSIDE[1:]), *gates("papers", answer="no"), *gates("turns", "straight", "runs")]
    found = step(evening_by_hand(work("job:j1")), gates=no)
    assert (found.kind, found.gate, found.key) == ("do", "papers", "")
    turns = [*gates(*OUTSIDE), *gates("turns", answer="no"), *gates("straight", "runs")]
    listed = step(evening_by_hand(work("way:turns:0", name="free it"), work("job:j1")), gates=turns)
    assert (listed.key, listed.words) == ("way:turns:0", "Free it")


RECORDS: tuple[dict[str, Any], ...] = (
    {"gates": ALL_ASKED, "parts": [WHEEL], "findings": [{"component": "front_wheel"}]},
    {"gates": ALL_ASKED, "jobs": [{"id": "j1", "name": "Valves", "state": "open"}, {"id": "j2", "name": "Wash"}]},
    {"gates": gates(*OUTSIDE, "straight"), "findings": [
        {"component": "top_end", "looked_fine": True}, {"component": "bottom_end", "looked_fine": True},
        {"component": "steering_stop"}], "remedies": [{"component": "steering_stop", "remedy": "repair"}]},
    {"gates": [*gates(*OUTSIDE), *gates("turns", answer="no")]},
    {"gates": ALL_ASKED, "findings": [{"component": "steering_stop"}], "jobs": [
        {"name": "Weld it", "component": "steering_stop", "kind": "repair"}]},
    {"gates": ALL_ASKED, "parts": [WHEEL], "calendar": {"days_off": ["2026-11-20"]}},
)


@pytest.mark.parametrize("number", range(len(RECORDS)))
def test_the_two_never_contradict_each_other(number: int) -> None:
    record = known(**RECORDS[number])
    drawn = draw(record, TRADE, n=40)
    of = evening(drawn, plain_planned(drawn), TRADE)
    found = step(of, **RECORDS[number])
    first = tonight(of, of.planned_minutes / 60.0 or 2.0).entries
    if found.kind in ("do", "fit") or (found.kind == "look" and found.gate and not found.check):
        assert found.key == first[0].key and first[0].name.casefold() in found.words.casefold()
    else:
        assert found.kind in ("ask", "look", "get", "sell", "prove")
