"""From a record to played futures: what stays the same, what follows what."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest

from tests.futures.made_known import SLID, TRADE, known
from wreckwright.futures.draw import Drawn, draw, play, unmentioned
from wreckwright.futures.policy import check_policy
from wreckwright.futures.rebuild import FINISHED, GATE_NO, Played, Worlds
from wreckwright.futures.start_policy import gate_index
from wreckwright.futures.worlds import check_worlds

N = 600


@pytest.fixture(scope="module")
def drawn() -> Drawn:
    return draw(known(), TRADE, n=N)


def same(one: Worlds | Played, other: Worlds | Played, *, first: int) -> None:
    for field in fields(one):
        a, b = getattr(one, field.name), getattr(other, field.name)
        if isinstance(a, np.ndarray):
            assert np.array_equal(a[:first], b[:first]), field.name


def test_same_record_same_bytes(drawn: Drawn) -> None:
    again = draw(known(), TRADE, n=N)
    same(drawn.worlds, again.worlds, first=N)
    same(play(drawn).played, play(again).played, first=N)


def test_the_first_futures_of_many_are_the_few(drawn: Drawn) -> None:
    few = draw(known(), TRADE, n=150)
    same(drawn.worlds, few.worlds, first=150)
    assert np.array_equal(drawn.market.sale_minor[:150], few.market.sale_minor)


def test_another_seed_is_another_world(drawn: Drawn) -> None:
    other = draw(known(extra="seed = 2\n"), TRADE, n=N)
    assert not np.array_equal(drawn.worlds.minutes[:, 0], other.worlds.minutes[:, 0])


def test_one_more_finding_leaves_all_other_draws_untouched(drawn: Drawn) -> None:
    """What belongs to another component (minutes, price, wait, wrong part) is drawn from its own stream."""
    more = draw(
        known(SLID.replace('"front rim dinged"', '"front rim dinged", "left fork tube bent"')), TRADE, n=N
    )
    assert "fork_tube_l" in {need.key for need in more.needs.known}
    before = {plan.key: index for index, plan in enumerate(drawn.compiled.slots)}
    after = {plan.key: index for index, plan in enumerate(more.compiled.slots)}
    shared = [key for key in before if key in after and key not in ("lump", "fork_tube_l")]
    assert len(shared) > 40
    for key in shared:
        assert np.array_equal(drawn.worlds.minutes[:, before[key]], more.worlds.minutes[:, after[key]]), key
        assert np.array_equal(drawn.worlds.slot_minor[:, before[key]], more.worlds.slot_minor[:, after[key]]), key
    lines_before = {part.key: index for index, part in enumerate(drawn.compiled.lines)}
    lines_after = {part.key: index for index, part in enumerate(more.compiled.lines)}
    shared_lines = [key for key in lines_before if key in lines_after]
    assert len(shared_lines) > 30
    for key in shared_lines:
        a, b = lines_before[key], lines_after[key]
        width = min(len(drawn.compiled.lines[a].supplies), len(more.compiled.lines[b].supplies))
        for name in ("lead_days", "price_minor", "wrong", "second_lead_days", "wrong_minor"):
            one, other = getattr(drawn.worlds, name), getattr(more.worlds, name)
            assert np.array_equal(one[:, a, :width], other[:, b, :width]), (key, name)


def test_worlds_and_policy_keep_the_rules(drawn: Drawn) -> None:
    futures = play(drawn)
    check_worlds(drawn.compiled.rebuild, drawn.worlds)
    assert check_policy(drawn.compiled.rebuild, futures.policy) == []


def test_hidden_parts_are_bad_as_often_as_is_shown(drawn: Drawn) -> None:
    # independent: frequency within 4.5 standard errors of the shown chance, for every gate and its components
    worlds = drawn.worlds
    for stage, gate in enumerate(drawn.compiled.bench):
        if gate.fails_with:
            sound = worlds.gate_ok[:, stage].mean()
            assert sound <= 1.0 - max(drawn.chance[c] for c in gate.fails_with) + 4.5 * np.sqrt(0.25 / N)


def test_finished_means_every_gate_passed_and_all_work_that_stops_a_ride_done(drawn: Drawn) -> None:
    played = play(drawn).played
    finished = played.status == FINISHED
    assert 0.2 < finished.mean() < 0.99
    assert (played.gate_day[finished] >= 0).all()
    assert (np.diff(played.gate_day[finished], axis=1) >= 0).all()
    for index, slot in enumerate(drawn.compiled.rebuild.slots):
        if slot.kind == "job" and slot.essential:
            assert played.done[finished, index].all(), slot.name
    assert not (played.gate_day[:, -1][~finished] >= 0).any()


def test_a_part_held_until_a_gate_is_never_ordered_before_it() -> None:
    text = SLID + (
        '\n[[gates]]\nid = "head"\ntemplate = "straight"\n'
        '\n[[parts]]\nid = "rim"\ncomponent = "front_wheel"\nremedy = "used"\nprice_minor = 19500\n'
        'held_until_gate = "head"\n'
    )
    drawn = draw(known(text), TRADE, n=N)
    futures = play(drawn)
    line = next(index for index, part in enumerate(drawn.compiled.lines) if part.key == "front_wheel")
    gate = gate_index(drawn.compiled, drawn.known, "head")
    assert gate is not None
    assert futures.policy.line_trigger[line] == gate
    ordered = futures.played.order_day[:, line]
    passed = futures.played.gate_day[:, gate]
    assert (ordered >= 0).any()
    assert ((ordered < 0) | (ordered == passed)).all()
    # A frame that is bent beyond help costs the rim nothing: it was never bought.
    lost = (futures.played.status == GATE_NO) & (futures.played.reason == gate)
    assert (ordered[lost] < 0).all()


def test_a_known_no_at_a_question_is_a_no_in_every_future() -> None:
    text = SLID + '\n[[gates]]\nid = "head"\ntemplate = "straight"\nanswer = "no"\n'
    drawn = draw(known(text), TRADE, n=200)
    stage = [gate.id for gate in drawn.compiled.bench].index("straight")
    assert not drawn.worlds.gate_ok[:, stage].any()
    played = play(drawn).played
    assert played.fell_back[played.gate_day[:, stage] >= 0, stage].all()


def test_a_late_bank_holds_up_the_finish_and_nothing_before_it() -> None:
    text = SLID + '\n[[gates]]\nid = "bank"\ntemplate = "papers"\nchance_yes = 1.0\nwait_days = 400\n'
    slow = draw(known(text), TRADE, n=200)
    quick = draw(known(text.replace("wait_days = 400", "wait_days = 1")), TRADE, n=200)
    policy = play(quick).policy
    late, early = play(slow, policy=policy).played, play(quick, policy=policy).played
    both = (late.status == FINISHED) & (early.status == FINISHED)
    assert both.sum() > 50
    # Work found at the road test may be met with other covers open, so a few finish a little sooner all the same.
    assert (late.day[both] >= early.day[both]).mean() > 0.9
    assert late.day[both].mean() > early.day[both].mean() + 50
    assert np.array_equal(late.gate_day[:, 0], early.gate_day[:, 0])


def test_quotes_do_not_follow_the_price_level_and_estimates_do(drawn: Drawn) -> None:
    text = SLID + '\n[[parts]]\ncomponent = "front_wheel"\nremedy = "used"\nprice_minor = 19500\n'
    quoted = draw(known(text), TRADE, n=100)
    line = next(i for i, part in enumerate(quoted.compiled.lines) if part.key == "front_wheel")
    assert (quoted.worlds.price_minor[:, line, 0] == 19500).all()
    wheel = next(i for i, part in enumerate(drawn.compiled.lines) if part.key == "front_wheel")
    assert np.unique(drawn.worlds.price_minor[:, wheel, 0]).size > N // 2


def test_a_part_on_the_shelf_has_no_wait_and_no_price_left() -> None:
    text = SLID + (
        '\n[[parts]]\ncomponent = "front_wheel"\nremedy = "used"\nprice_minor = 19500\npaid_minor = 19500\n'
        'state = "here"\n'
    )
    drawn = draw(known(text), TRADE, n=100)
    line = next(i for i, part in enumerate(drawn.compiled.lines) if part.here)
    assert (drawn.worlds.lead_days[:, line, 0] == 0).all()
    assert (drawn.worlds.price_minor[:, line, 0] == 0).all()
    assert drawn.compiled.rebuild.lines[line].sunk_minor == 19500


def test_finished_machines_of_the_owner_move_the_bill() -> None:
    dear = SLID + "".join(
        f"\n[[finished]]\nid = \"m{i}\"\npaid_minor = 100000\nspent_minor = 300000\nsold_minor = 400000\nmonths = 6\n"
        for i in range(5)
    )
    plain, moved = play(draw(known(), TRADE, n=300)), play(draw(known(dear), TRADE, n=300))
    both = (plain.played.status == FINISHED) & (moved.played.status == FINISHED)
    assert moved.played.out_minor[both].mean() > 1.2 * plain.played.out_minor[both].mean()


def test_silence_is_named_and_not_taken_for_sound() -> None:
    silent = unmentioned(known(), TRADE)
    assert "headlamp" in silent
    assert "mirror_r" not in silent
    guesses = play(draw(known(), TRADE, n=20)).guesses
    assert any(guess.field == "findings" and str(len(silent)) in guess.value for guess in guesses)
    looked = SLID.replace('"front rim dinged"]', '"front rim dinged", "headlamp fine"]')
    assert "headlamp" not in unmentioned(known(looked), TRADE)


def test_writing_down_an_order_leaves_the_luck_of_that_part_as_it_was(drawn: Drawn) -> None:
    """A part that was wanted and is on order now meets the same supplier's luck, in every future."""
    text = SLID + '\n[[parts]]\nid = "rim"\ncomponent = "front_wheel"\nstate = "ordered"\nordered_on = 2026-11-20\n'
    ordered = draw(known(text), TRADE, n=N)

    def line(made: Drawn) -> int:
        return next(i for i, part in enumerate(made.compiled.lines) if part.key == "front_wheel")

    def of(made: Drawn, remedy: str) -> int:
        supplies = made.compiled.lines[line(made)].supplies
        return next(i for i, supply in enumerate(supplies) if supply.remedy == remedy)

    first = ordered.compiled.lines[line(ordered)].supplies[0].remedy
    one = drawn.worlds.wrong[:, line(drawn), of(drawn, first)]
    assert np.array_equal(one, ordered.worlds.wrong[:, line(ordered), 0])


def test_what_has_been_put_right_is_no_suspect() -> None:
    text = SLID + '\n[[parts]]\ncomponent = "front_wheel"\nstate = "fitted"\n'
    assert "front_wheel" in play(draw(known(text), TRADE, n=20)).found_bad
