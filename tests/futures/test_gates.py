"""Which questions stand for a machine."""

from __future__ import annotations

import pytest

from tests.futures.made_known import SLID, TRADE, known
from wreckwright.futures.draw import draw
from wreckwright.futures.gates import PAIRING_CHANCE, GateNeed, gates_of

KEY_QUESTIONS = {"key_turns", "chip_read", "unit_learns", "numbers_belong"}


def ids(text: str = SLID, *, extra: str = "") -> tuple[list[str], list[str]]:
    bench, outside = gates_of(known(text, extra=extra), TRADE)
    return [gate.id for gate in bench], [gate.id for gate in outside]


def test_sinking_questions_come_before_the_first_start_and_the_road_test_is_last() -> None:
    bench, outside = ids()
    assert bench == ["turns", "straight", "runs", "fit_to_ride"]
    assert set(outside) == KEY_QUESTIONS | {"papers"}


def test_what_is_answered_with_yes_is_asked_no_more() -> None:
    bench, outside = ids(extra='turns_over = "yes"\nkey_starts_it = "yes"\npapers_right = "yes"\n')
    assert "turns" not in bench
    # A key that starts it says nothing about numbers that belong together.
    assert set(outside) == {"numbers_belong"}


def test_the_road_test_is_never_answered_beforehand() -> None:
    text = SLID + '\n[[gates]]\nid = "road"\ntemplate = "fit_to_ride"\nanswer = "yes"\n'
    assert ids(text)[0][-1] == "fit_to_ride"


def test_an_owners_chance_replaces_the_map_behind_the_question() -> None:
    text = SLID + '\n[[gates]]\nid = "head"\ntemplate = "straight"\nchance_yes = 0.7\n'
    straight = next(gate for gate in gates_of(known(text), TRADE)[0] if gate.id == "straight")
    assert straight.chance_yes == 0.7
    assert straight.fails_with == ()


def test_own_gates_stand_between_the_sinking_questions_and_the_first_start() -> None:
    text = SLID + (
        '\n[[gates]]\nid = "squeeze"\nquestion = "Is there compression?"\nkind = "bench"\nchance_yes = 0.6\n'
        'ways_round = [{ name = "used barrel", chance = 0.8, price_minor = 22000, wait_days = 20, minutes = 240 }]\n'
    )
    bench, _ = gates_of(known(text), TRADE)
    names = [gate.id for gate in bench]
    assert names.index("straight") < names.index("squeeze") < names.index("runs")
    own = bench[names.index("squeeze")]
    assert own.ways[0].price_minor == (22000.0, 22000.0, 22000.0)
    assert own.ways[0].wait_days == 20


def test_a_date_for_an_outside_answer_counts_from_the_as_of_day() -> None:
    text = SLID + '\n[[gates]]\nid = "bank"\ntemplate = "papers"\nexpected_on = 2026-12-04\n'
    papers = next(gate for gate in gates_of(known(text), TRADE)[1] if gate.id == "papers")
    assert papers.wait_days == 14.0  # hand-worked: 20 November to 4 December


def test_ways_round_are_priced_by_step_of_the_sound_value() -> None:
    # hand-worked: sound value x share of the step x factor of the way
    record = known()
    straight = next(gate for gate in gates_of(record, TRADE)[0] if gate.id == "straight")
    row = TRADE.gates["straight"].ways_round[0]
    share = TRADE.price_steps[row.price_step].new_share_of_sound_value.mid
    assert straight.ways[0].price_minor[1] == record.sound_value_minor[1] * share * row.price_factor


def test_what_has_been_put_right_no_longer_fails_the_question() -> None:
    text = SLID.replace('"front rim dinged"', '"frame head bent"')
    job = '\n[[jobs]]\nname = "pulled"\nkind = "repair"\nstate = "closed_up"\ncomponent = "frame_head"\n'
    mended = text + job

    def straight(record: str) -> tuple[str, ...]:
        return next(gate for gate in gates_of(known(record), TRADE)[0] if gate.id == "straight").fails_with

    assert straight(text) == ("frame_head", "frame_spars")
    assert straight(mended) == ("frame_spars",)


def test_a_road_test_not_passed_yet_is_still_open() -> None:
    text = SLID + '\n[[gates]]\nid = "road"\ntemplate = "fit_to_ride"\nanswer = "no"\n'
    assert not gates_of(known(text), TRADE)[0][-1].answered_no


KEY = '\n[[parts]]\nid = "key"\ncomponent = "immobiliser"\nremedy = "genuine"\nstate = "{}"\n'
STARTS = 'key_starts_it = "yes"\n'


def chip(text: str) -> GateNeed | None:
    return next((gate for gate in gates_of(known(text), TRADE)[1] if gate.id == "chip_read"), None)


@pytest.mark.parametrize("state", ["wanted", "ordered", "here"])
def test_a_coded_key_that_comes_must_still_be_paired_and_that_can_fail(state: str) -> None:
    # common practice: the answer held for the old key
    assert chip(STARTS + SLID) is None
    gate = chip(STARTS + SLID + KEY.format(state))
    assert gate is not None
    # What is bought replaces what was bad: pairing decides, not the map of damage.
    assert (gate.fails_with, gate.chance_yes, gate.answered_no) == ((), PAIRING_CHANCE, False)
    assert gate.ways


def test_a_key_that_has_been_fitted_may_still_not_be_taught() -> None:
    text = SLID.replace('"right mirror gone"', '{ component = "immobiliser" }')
    gate = chip(text + KEY.format("fitted"))
    assert gate is not None
    assert gate.chance_yes == PAIRING_CHANCE
    # Once it is answered with the new key it is asked no more.
    assert chip(text + KEY.format("fitted") + '[[gates]]\ntemplate = "chip_read"\nanswer = "yes"\n') is None


def test_a_key_fitted_at_the_bench_is_not_taught_before_it_is_paired() -> None:
    # common practice: the yes was the old key's; it counts again when the new one has been paired
    text = STARTS + SLID + KEY.format("fitted")
    row = '\n[[jobs]]\nid = "{}"\nname = "key"\nstate = "closed_up"\nstands_for = "{}"\n'
    assert chip(text) is None
    fitted = text + row.format("a", "immobiliser") + 'component = "immobiliser"\n'
    gate = chip(fitted)
    assert gate is not None
    assert (gate.fails_with, gate.chance_yes, gate.answered_no) == ((), PAIRING_CHANCE, False)
    assert chip(fitted + row.format("b", "immobiliser:pair")) is None
    assert chip(text + row.format("a", "part:key")) is not None
    assert chip(text + row.format("a", "part:key") + row.format("b", "part:key:pair")) is None


def test_a_no_of_the_old_key_is_no_answer_for_the_new_one() -> None:
    no = '[[gates]]\ntemplate = "chip_read"\nanswer = "no"\n'
    old, new = chip(SLID + "\n" + no), chip(SLID + KEY.format("here") + no)
    assert old is not None and old.answered_no
    assert new is not None and not new.answered_no


def test_the_first_start_waits_for_pairing_and_some_futures_end_in_a_no() -> None:
    drawn = draw(known(STARTS + SLID + KEY.format("here")), TRADE, n=2000)
    column = [gate.id for gate in drawn.compiled.outside].index("chip_read")
    # independent: binomial, within 5 standard errors
    assert abs(drawn.worlds.outside_ok[:, column].mean() - PAIRING_CHANCE) < 5 * (0.85 * 0.15 / 2000) ** 0.5
    start = next(i for i, plan in enumerate(drawn.compiled.slots) if plan.key == "gate:runs")
    assert column in drawn.compiled.rebuild.slots[start].outside
