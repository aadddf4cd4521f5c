"""The policy one starts from: what is ordered when, what waits for what."""

from __future__ import annotations

import numpy as np
import pytest

from tests.futures.made_known import SLID, TRADE, known
from wreckwright.futures.draw import Drawn, draw
from wreckwright.futures.policy import NOW, ON_DISCOVERY, Policy
from wreckwright.futures.start_policy import gate_index, holding_gain_minor, start_policy

RIM = (
    '\n[[parts]]\nid = "rim"\ncomponent = "front_wheel"\nremedy = "used"\nprice_minor = 60000\n'
    '\n[[gates]]\nid = "head"\ntemplate = "straight"\nchance_yes = CHANCE\nways_round = []\n'
)


def made(text: str = SLID, *, extra: str = "") -> tuple[Drawn, Policy]:
    drawn = draw(known(text, extra=extra), TRADE, n=300)
    return drawn, start_policy(drawn.compiled, drawn.worlds, drawn.known)


def trigger(chance: str, *, extra: str = "") -> tuple[Drawn, int]:
    drawn, policy = made(SLID + RIM.replace("CHANCE", chance), extra=extra)
    line = next(index for index, part in enumerate(drawn.compiled.lines) if part.key == "front_wheel")
    return drawn, policy.line_trigger[line]


def test_holding_back_pays_when_the_chance_of_loss_outweighs_the_wait() -> None:
    def gain(**changed: float) -> float:
        figures = {"no_chance": 0.15, "resale_share": 0.5, "price_minor": 900.0, "delay_days": 10.0}
        return holding_gain_minor(**{**figures, "day_cost_minor": 4.0, **changed})

    # hand-worked: 0.15 x 0.5 x 900 - 10 x 4 = 67.5 - 40; with a resale of 0.8: 0.15 x 0.2 x 900 - 40 = -13
    assert gain() == pytest.approx(27.5)
    assert gain(resale_share=0.8) == pytest.approx(-13.0)
    assert gain(no_chance=0.0) == pytest.approx(-40.0)


def test_a_dear_part_waits_for_the_question_that_can_end_the_project() -> None:
    sure = 'turns_over = "yes"\nkey_starts_it = "yes"\n'
    drawn, held = trigger("0.5", extra=sure)
    assert held >= gate_index(drawn.compiled, drawn.known, "head")  # type: ignore[operator]


def test_it_is_ordered_at_once_where_no_question_can_end_it() -> None:
    text = SLID + RIM.replace("CHANCE", "1.0") + '\n[[gates]]\nid = "go"\ntemplate = "runs"\nchance_yes = 1.0\n'
    drawn, policy = made(text, extra='turns_over = "yes"\n')
    line = next(index for index, part in enumerate(drawn.compiled.lines) if part.key == "front_wheel")
    assert policy.line_trigger[line] == NOW


def test_parts_for_finds_are_ordered_when_found() -> None:
    drawn, policy = made()
    for index, line in enumerate(drawn.compiled.rebuild.lines):
        found = drawn.compiled.rebuild.slots[line.slot].kind == "follow_up"
        assert (policy.line_trigger[index] == ON_DISCOVERY) == found


def test_plan_b_is_asked_after_three_usual_waits_and_a_week() -> None:
    drawn, policy = made()
    for index, part in enumerate(drawn.compiled.lines):
        if part.plan_b < 0:
            continue
        leads = drawn.worlds.lead_days[:, index, 0]
        # hand-worked from the rule: 3 x median + 7 days
        assert policy.plan_b_after_days[index] == round(3.0 * float(np.median(leads[leads >= 0]))) + 7


def test_the_first_start_waits_for_the_keys_and_the_road_test_for_the_papers() -> None:
    drawn, _ = made()
    rebuild = drawn.compiled.rebuild
    names = [gate.id for gate in drawn.compiled.outside]
    slot = {gate.id: rebuild.slots[rebuild.bench_gates[i].slot] for i, gate in enumerate(drawn.compiled.bench)}
    assert {names[o] for o in slot["runs"].outside} == {"key_turns", "chip_read", "unit_learns", "numbers_belong"}
    assert {names[o] for o in slot["fit_to_ride"].outside} == {"papers"}
    assert not slot["turns"].outside
    assert not slot["straight"].outside


def test_the_road_test_shows_what_a_ride_needs_and_the_start_what_a_start_needs() -> None:
    drawn, _ = made()
    rebuild = drawn.compiled.rebuild
    slot = {gate.id: rebuild.slots[rebuild.bench_gates[i].slot] for i, gate in enumerate(drawn.compiled.bench)}
    shown = {
        name: {rebuild.components[entry.component] for entry in one.exposes} for name, one in slot.items()
    }
    for need in drawn.needs.hidden:
        component = TRADE.components[need.component]
        assert (need.component in shown["fit_to_ride"]) or component.ride == "none"
        assert (need.component in shown["runs"]) or component.run != "stop"


def test_only_what_stops_a_ride_or_a_start_can_end_a_project() -> None:
    drawn, _ = made()
    for plan, slot in zip(drawn.compiled.slots, drawn.compiled.rebuild.slots, strict=True):
        if plan.need is not None and plan.need.component:
            component = TRADE.components[plan.need.component]
            assert slot.essential == ("stop" in (component.ride, component.run)), slot.name


def test_looks_come_first_and_tests_last() -> None:
    drawn, policy = made()
    ranks = {"look": [], "job": [], "gate": []}  # type: dict[str, list[int]]
    for index, slot in enumerate(drawn.compiled.rebuild.slots):
        if slot.kind in ranks:
            ranks[slot.kind].append(policy.rank[index])
    assert max(ranks["look"]) < min(ranks["job"])
    assert max(ranks["job"]) < min(ranks["gate"])
    assert sorted(policy.rank) == list(range(len(policy.rank)))
