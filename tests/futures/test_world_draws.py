"""What is drawn for each future, against the figures it is drawn from."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtri

from tests.futures.made_known import SLID, TRADE, known
from wreckwright.futures.draw import Drawn, draw, fit_overrun_of
from wreckwright.futures.draws import common_factors, uniforms
from wreckwright.futures.job_minutes import MINUTES_SPREAD
from wreckwright.futures.outside_view import overrun_draws
from wreckwright.futures.supplies import PartNeed, Supply
from wreckwright.futures.world_draws import (
    MADE_PRICE_FACTOR,
    SUPPLIER_SHARE,
    Stream,
    _lead_luck,
    _or_made,
    genuine_mix,
)

N = 4000


@pytest.fixture(scope="module")
def drawn() -> Drawn:
    return draw(known(), TRADE, n=N)


def entries(drawn: Drawn) -> list[tuple[int, str, float, float]]:
    """(slot, component, sensitivity, chance of acting by mistake) of every entry of `Worlds.cries`, in its order."""
    rebuild = drawn.compiled.rebuild
    return [
        (index, rebuild.components[entry.component], entry.sensitivity, entry.false_alarm)
        for index, slot in enumerate(rebuild.slots) for entry in slot.exposes
    ]


def test_a_look_cries_as_often_as_its_check_says(drawn: Drawn) -> None:
    # independent: binomial frequencies within 5 standard errors, bad and sound machines apart. What is bad is read from
    # an entry that never errs (the road test shows everything a ride needs).
    rows = entries(drawn)
    truth = {c: column for column, (_, c, sens, false) in enumerate(rows) if sens == 1.0 and false == 0.0}
    tried = 0
    for column, (_, component, sensitivity, false_alarm) in enumerate(rows):
        if component not in truth or (sensitivity == 1.0 and false_alarm == 0.0):
            continue
        bad = drawn.worlds.cries[:, truth[component]]
        for who, chance in ((bad, sensitivity), (~bad, false_alarm)):
            if who.sum() > 200:
                seen = drawn.worlds.cries[who, column].mean()
                assert abs(seen - chance) < 5.0 * np.sqrt(chance * (1.0 - chance) / who.sum()) + 1e-9, component
                tried += 1
    assert tried > 30


def test_a_suspicion_is_looked_at_twice_before_it_is_acted_upon(drawn: Drawn) -> None:
    looks = [plan.look for plan in drawn.compiled.slots if plan.look is not None]
    assert looks
    for look in looks:
        figures = {one.component: one for one in TRADE.checks[look.check].detects}
        for component, (sensitivity, mistake) in look.detects.items():
            assert sensitivity == figures[component].sensitivity
            assert mistake == pytest.approx(figures[component].false_alarm ** 2)


def test_a_rough_look_foretells_only_a_no(drawn: Drawn) -> None:
    rebuild, worlds = drawn.compiled.rebuild, drawn.worlds
    rough = [index for index, slot in enumerate(rebuild.slots) if slot.rough_gate >= 0]
    assert len(rough) >= 3
    told = 0
    for index in rough:
        yes = worlds.gate_ok[:, rebuild.slots[index].rough_gate]
        assert not worlds.foretells[yes, index].any()
        look = drawn.compiled.slots[index].look
        assert look is not None
        if (~yes).sum() > 200:
            share = worlds.foretells[~yes, index].mean()
            assert share == pytest.approx(look.rough_sensitivity, abs=5.0 * np.sqrt(0.25 / (~yes).sum()))
            told += 1
    assert told


def test_a_question_is_yes_only_where_all_behind_it_is_sound(drawn: Drawn) -> None:
    for stage, gate in enumerate(drawn.compiled.bench):
        if gate.fails_with and gate.chance_yes == 1.0:
            expected = 1.0 - drawn.worlds.gate_ok[:, stage].mean()
            assert max(drawn.chance[c] for c in gate.fails_with) - 0.05 < expected
            assert expected < sum(drawn.chance[c] for c in gate.fails_with) + 0.05


def test_an_answer_that_never_comes_is_a_no_on_the_day_one_stops_waiting(drawn: Drawn) -> None:
    tried = 0
    for column, gate in enumerate(drawn.compiled.outside):
        if not gate.lead_class or gate.wait_days is not None:
            continue
        row = TRADE.lead_classes[gate.lead_class]
        never = uniforms(seed=1, purpose="never", key=f"answer/{gate.id}", n=N) < row.never_chance
        assert (drawn.worlds.outside_days[:, column] >= 0).all()
        assert not drawn.worlds.outside_ok[never, column].any()
        assert (drawn.worlds.outside_days[never, column] == row.cancel_days).all()
        tried += int(never.any())
    assert tried


def test_an_owner_who_takes_longer_works_longer(drawn: Drawn) -> None:
    slow = SLID + "".join(
        f"\n[[finished]]\nid = \"m{i}\"\npaid_minor = 100000\nspent_minor = 110000\nsold_minor = 400000\nmonths = 15\n"
        "expected_months = 3\n"
        for i in range(5)
    )
    late = draw(known(slow), TRADE, n=N)
    gate = drawn.compiled.rebuild.bench_gates[-1].slot
    slow_gate = late.compiled.rebuild.bench_gates[-1].slot
    assert late.worlds.minutes[:, slow_gate].mean() > 1.3 * drawn.worlds.minutes[:, gate].mean()


def test_what_the_second_source_fails_to_supply_is_made_later_and_dearer() -> None:
    supply = Supply(
        remedy="used", lead_class="used_online", price_minor=(100.0, 100.0, 100.0), cancel_days=45, refund_permille=950,
        resale_permille=500,
    )
    stream = Stream(1, 500)
    common = common_factors(seed=1, n=500)
    failed = np.arange(500) % 2 == 0
    days, money = _or_made(
        supply, "wheel/used", np.where(failed, -1, 9).astype(np.int32), np.full(500, 100.0), TRADE, common, stream
    )
    assert (days[~failed] == 9).all()
    assert (money[~failed] == 100.0).all()
    assert (money[failed] == MADE_PRICE_FACTOR * 100.0).all()
    came = days[failed] >= 0
    # The maker's own chance of never remains, and one first waits until it is clear that the second source fails.
    assert 0.85 < came.mean() < 1.0
    assert (days[failed][came] > 45).all()


def test_supply_of_genuine_parts_worsens_with_age() -> None:
    def never(age: int) -> float:
        mix = genuine_mix(TRADE, age)
        assert sum(mix.shares) == pytest.approx(1.0)
        return sum(share * lead.never_chance for share, lead in zip(mix.shares, mix.leads, strict=True))

    # hand-worked from the trade data: .2 x 0 + .6 x .03 + .15 x .12 + .05 x .40 = .056 for a young machine
    assert never(3) == pytest.approx(0.056)
    assert never(15) > never(3)


def test_an_open_order_has_less_left_to_wait_in_the_same_futures() -> None:
    def line(text: str) -> tuple[PartNeed, np.ndarray]:
        made = draw(known(text), TRADE, n=500)
        index = next(i for i, part in enumerate(made.compiled.lines) if part.key == "front_wheel")
        return made.compiled.lines[index], made.worlds.lead_days[:, index, 0]

    row = '\n[[parts]]\nid = "rim"\ncomponent = "front_wheel"\nremedy = "used"\nprice_minor = 19500\n'
    _, fresh = line(SLID + row)
    part, waiting = line(SLID + row + 'state = "ordered"\nordered_on = 2026-11-10\n')
    assert part.waited_days == 10
    # What never comes when ordered afresh never comes later on.
    assert (waiting[fresh < 0] < 0).all()
    assert (waiting < 0).mean() > (fresh < 0).mean()


def test_one_suppliers_parcels_are_late_together_and_each_keeps_its_own_law() -> None:
    # independent: the normals of two lines of one supplier correlate by SUPPLIER_SHARE (a one-factor copula), others
    # not at all; each line by itself stays uniform (Kolmogorov-Smirnov below its 0.1 % point 1.95 / sqrt(n))
    stream = Stream(3, 20_000)
    one, two = _lead_luck("rim", "dunmere", stream), _lead_luck("pump", "dunmere", stream)
    other, alone = _lead_luck("lamp", "halvard", stream), _lead_luck("lead", "", stream)
    z = ndtri(np.stack([one, two, other, alone]))
    seen = np.corrcoef(z)
    assert seen[0, 1] == pytest.approx(SUPPLIER_SHARE, abs=0.03)
    assert abs(seen[0, 2]) < 0.03
    assert abs(seen[0, 3]) < 0.03
    for u in (one, two, other):
        steps = np.arange(1, stream.n + 1) / stream.n
        assert np.abs(np.sort(u) - steps).max() < 1.95 / np.sqrt(stream.n)
    # Without a supplier nothing is drawn otherwise than before.
    assert (alone == uniforms(seed=3, purpose="lead", key="lead", n=stream.n)).all()


def test_a_supplier_named_in_two_lines_ties_their_waits() -> None:
    text = SLID + "".join(
        f'\n[[parts]]\nid = "{name}"\ncomponent = "{name}"\nremedy = "used"\nsupplier = "SUPPLIER"\n'
        for name in ("front_wheel", "mirror_r")
    )

    def waits(*suppliers: str) -> np.ndarray:
        said = text
        for supplier in suppliers:
            said = said.replace("SUPPLIER", supplier, 1)
        made = draw(known(said), TRADE, n=N)
        rows = [i for i, part in enumerate(made.compiled.lines) if part.key in ("front_wheel", "mirror_r")]
        return made.worlds.lead_days[:, rows, 0]

    same, apart = waits("Halvard's yard", " halvard's  YARD"), waits("Halvard's yard", "Dunmere")
    came = (same > 0).all(axis=1) & (apart > 0).all(axis=1)
    ties = [np.corrcoef(np.log(days[came]).T)[0, 1] for days in (same, apart)]
    # What delays all suppliers ties them a little in any case.
    assert ties[0] > ties[1] + 0.15


def test_steps_of_one_remedy_take_together_what_it_takes_in_one_piece(drawn: Drawn) -> None:
    # law: they share its luck, so their sum is spread like the whole, but for rounding to whole minutes
    group = [i for i, plan in enumerate(drawn.compiled.slots)
             if plan.need is not None and plan.need.group == "front_wheel"]
    assert len(group) > 2
    together = drawn.worlds.minutes[:, group].sum(axis=1)
    likely = TRADE.components["front_wheel"].fit_minutes
    common = common_factors(seed=1, n=N, attendance=known().attendance, pace=1.0)
    hands = common.pace * overrun_draws(fit_overrun_of(known(), TRADE), seed=1, n=N).time
    whole = likely * np.exp(MINUTES_SPREAD * Stream(1, N).normal("minutes", "front_wheel")) * hands
    assert np.abs(together - whole).max() <= 0.5 * len(group)
