"""Trips and calls, and what an answer is worth before money is spent."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.answers.plain import TRADE, known, trade
from wreckwright.answers.errands import NO, YES, errands, worth_of_knowing
from wreckwright.answers.plan_types import ErrandLine
from wreckwright.futures.draw import Drawn, draw, play
from wreckwright.futures.scene import Futures
from wreckwright.record.known import Known
from wreckwright.trade.types import Precondition

# ---- worth of knowing ----


def test_worth_by_hand() -> None:
    # 3 of 4 futures end in yes: carrying on is then worth 1,000, after a no -2,000; selling is always worth 100.
    # Without knowing: carry on, 0.75 * 1000 - 0.25 * 2000 = 250. Knowing: 0.75 * 1000 + 0.25 * 100 = 775.
    answer = np.tile([YES, YES, YES, YES, YES, YES, NO, NO], 10)
    worth = {
        "carry_on": np.where(answer == YES, 1000.0, -2000.0), "sell_as_it_stands": np.full(80, 100.0),
        "part_out": np.full(80, -50.0),
    }
    found = worth_of_knowing(worth, answer)  # type: ignore[arg-type]
    assert (found.worth_minor, found.now) == (525, "carry_on")
    assert found.changes == {NO: "sell_as_it_stands"} and found.chance == {YES: 0.75, NO: 0.25}


def test_an_answer_that_changes_nothing_is_worth_nothing() -> None:
    answer = np.tile([YES, NO], 50)
    worth = {"carry_on": np.where(answer == YES, 1000.0, 200.0), "sell_as_it_stands": np.full(100, 100.0)}
    found = worth_of_knowing(worth, answer)  # type: ignore[arg-type]
    assert (found.worth_minor, dict(found.changes)) == (0, {})


@given(st.integers(0, 2**32 - 1))
def test_knowing_costs_nothing_and_never_beats_seeing_all(seed: int) -> None:
    rng = np.random.default_rng(seed)
    worth = {name: rng.normal(0.0, 1000.0, 60) for name in ("carry_on", "sell_as_it_stands", "part_out")}
    found = worth_of_knowing(worth, rng.integers(0, 3, 60))  # type: ignore[arg-type]
    table = np.stack(list(worth.values()))
    assert 0 <= found.worth_minor <= table.max(axis=0).mean() - table.mean(axis=1).min() + 1


def test_noise_is_not_taken_for_worth() -> None:
    """Two options of equal worth and an answer that has nothing to do with either: chosen and valued on the same
    futures it would mostly seem to be worth something."""
    rng = np.random.default_rng(7)
    seen = []
    for _ in range(200):
        worth = {"carry_on": rng.normal(0.0, 1000.0, 200), "sell_as_it_stands": rng.normal(0.0, 1000.0, 200)}
        table = np.stack(list(worth.values()))
        answer = rng.integers(0, 2, 200)
        found = worth_of_knowing(worth, answer)  # type: ignore[arg-type]
        rosy = sum(table[:, answer == one].sum(axis=1).max() for one in (0, 1)) / 200 - table.mean(axis=1).max()
        seen.append((found.worth_minor, rosy))
    ours, rosy = np.asarray(seen).T
    # Independent: above 2 standard errors by chance is about 1 in 40.
    assert (rosy > 1.0).mean() > 0.3 and (ours > 0).mean() < 0.06


# ---- lines ----


def drawn_of(record: Known, n: int = 60) -> tuple[Futures, Drawn]:
    drawn = draw(record, TRADE, n=n)
    return play(drawn), drawn


def lines(**over: Any) -> tuple[ErrandLine, ...]:
    record = known(**over)
    futures, drawn = drawn_of(record)
    return errands(futures, drawn, TRADE)


ASKED = [{"template": name, "answer": "yes"} for name in ("papers", "key_turns", "chip_read", "numbers_belong")]


def test_only_what_is_asked_by_calling_and_was_not_asked_is_proposed() -> None:
    found = lines(gates=ASKED[:1])
    # Keys, lamp and numbers are looked at on the machine that stands here; the dealer is called about the unit.
    assert [(line.kind, line.gate, line.question) for line in found] == [
        ("call", "unit_learns", TRADE.gates["unit_learns"].question)]
    assert found[0].words == TRADE.checks["ask_unit_learns"].name
    assert found[0].worth.endswith(".") and found[0].worth_minor >= 0
    waits = [*ASKED, {"template": "unit_learns", "wait_days": 10}]
    assert lines(gates=waits) == ()
    lot = lines(purchase={"price_minor": 80000})
    assert {line.gate for line in lot} == {"papers", "key_turns", "chip_read", "unit_learns", "numbers_belong"}
    assert [line.worth_minor for line in lot] == sorted((line.worth_minor for line in lot), reverse=True)


ALL = [*ASKED, {"template": "unit_learns", "answer": "yes"}]


def test_the_supplier_is_called_when_the_day_has_passed() -> None:
    part = {"id": "p1", "component": "radiator", "name": "Radiator", "state": "ordered", "supplier": "Ledbrook",
            "promised_on": "2026-11-14"}
    (found,) = lines(gates=ALL, parts=[part])
    assert found.words == "Call Ledbrook about the radiator (promised for 2026-11-14, 6 days ago)"
    assert found.question.startswith("On which day does the radiator leave?") and found.part == "p1"
    assert lines(gates=ALL, parts=[part | {"promised_on": "2026-11-20"}]) == ()
    assert lines(gates=ALL, parts=[part | {"state": "here"}]) == ()
    # Without a word of the supplier: by what is usual for that kind of supply (9 in 10 days from the trade data).
    usual = TRADE.lead_classes["used_online"].p90_days
    assert 1 < usual < 60
    old = {key: value for key, value in part.items() if key != "promised_on"} | {"lead_class": "used_online"}
    (called,) = lines(gates=ALL, parts=[old | {"ordered_on": "2026-09-01"}])
    assert "ordered 80 days ago, 9 in 10 come within" in called.words
    assert lines(gates=ALL, parts=[old | {"ordered_on": "2026-11-19"}]) == ()


def test_own_errands_come_first_and_take_the_place_of_proposals() -> None:
    rows = [
        {"id": "e1", "kind": "call", "words": "The dealer, about the key", "gate": "unit_learns", "day": "2026-12-02"},
        {"id": "e2", "kind": "trip", "words": "To the sprayer", "day": "2026-11-28"},
        {"id": "e3", "kind": "call", "words": "Done already", "done": True},
    ]
    found = lines(gates=ASKED, errands=rows)
    assert [(line.handle, line.date) for line in found] == [("e2", "2026-11-28"), ("e1", "2026-12-02")]
    assert found[1].question == TRADE.gates["unit_learns"].question and found[1].worth
    assert (found[0].question, found[0].worth) == ("", "")


def test_a_trip_says_what_the_machine_must_be_able_to_do() -> None:
    rolls = Precondition(
        id="rolls", question="Does it roll?", job="hang in both wheels", minutes=40.0, components=("front_wheel",),
        basis="common practice",
    )
    rows = trade(preconditions={"rolls": rolls})
    trip = {"id": "e1", "kind": "trip", "words": "Inspection", "wants": ["rolls"]}

    def wants(*, open_keys: tuple[str, ...] = (), **over: Any) -> tuple[str, ...]:
        record = known(gates=ALL, errands=[trip], **over)
        futures, drawn = drawn_of(record)
        return errands(futures, drawn, rows, open_keys=open_keys)[0].wants

    assert wants(open_keys=("errand:e1:rolls",)) == ("Does it roll? Not yet: hang in both wheels (some 40 minutes).",)
    assert wants(findings=[{"component": "front_wheel"}]) == ("Does it roll? Not yet: first the front wheel.",)
    assert wants() == ("Does it roll? Nothing is known that keeps it from that.",)


def test_the_end_that_waits_for_it_is_told() -> None:
    part = {"id": "p1", "component": "radiator", "state": "ordered", "promised_on": "2026-11-14"}
    record = known(gates=ALL, parts=[part])
    futures, drawn = drawn_of(record)
    share = [0.0] * len(drawn.compiled.lines)
    index = next(i for i, line in enumerate(drawn.compiled.lines) if line.key == "radiator")
    share[index] = 0.31
    (found,) = errands(futures, drawn, TRADE, line_share=share)
    assert "the end waits for it last in about 3 in 10 futures" in found.worth
    assert "waits" not in errands(futures, drawn, TRADE)[0].worth


@pytest.mark.parametrize("n", [1, 2, 3])
def test_very_few_futures(n: int) -> None:
    futures, drawn = drawn_of(known(), n=n)
    assert all(line.worth_minor >= 0 for line in errands(futures, drawn, TRADE))
