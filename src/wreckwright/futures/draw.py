"""One machine's futures, from the resolved record to the played-out worlds: the one entry for all answers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from wreckwright.futures.compile import Compiled, compile_rebuild
from wreckwright.futures.damage import Evidence
from wreckwright.futures.draws import CommonFactors, common_factors
from wreckwright.futures.gates import GateNeed, gates_of
from wreckwright.futures.looks import choose_looks, opening_of
from wreckwright.futures.map_error import common_numbers, map_replicates, sample_with_map_error
from wreckwright.futures.market import draw_market, expected_sales
from wreckwright.futures.needs import Needs, needs_of
from wreckwright.futures.outside_view import OutsideView, fit_overrun, overrun_draws
from wreckwright.futures.policy import Policy
from wreckwright.futures.rebuild import BoolArray, Worlds
from wreckwright.futures.scene import MAP_ERROR, QUESTION, Futures, Guess, Market
from wreckwright.futures.simulate import simulate
from wreckwright.futures.start_policy import start_policy
from wreckwright.futures.world_draws import Stream, draw_worlds
from wreckwright.record.known import Known, name_shown
from wreckwright.trade.types import Trade

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """One machine's worlds before a policy is played through them."""

    known: Known
    guesses: tuple[Guess, ...]
    needs: Needs
    compiled: Compiled
    worlds: Worlds
    market: Market
    chance: Mapping[str, float]
    """Component -> chance that it is bad, all evidence counted."""
    cause_chance: Mapping[str, float]
    drivers: Mapping[str, FloatArray]


def draw(known: Known, trade: Trade, *, n: int, booked: Mapping[dt.date, int] = MappingProxyType({})) -> Drawn:
    """Everything uncertain about one machine, drawn for `n` futures.

    `booked`: minutes at the beginning of evenings that machines with an earlier turn take. Pure: the same record, trade
    data and `n` give the same worlds, and the first of a larger `n` are the same.
    Raises: AnswerError when the findings contradict each other.
    """
    seed = known.machine.seed
    stream = Stream(seed, n)
    evidence = Evidence(
        likelihoods=known.likelihoods, signs_seen=known.signs_seen, signs_absent=known.signs_absent, told=known.told
    )
    replicates = map_replicates(trade, absent=known.absent, evidence=evidence, seed=seed)
    sampled = sample_with_map_error(replicates, uniform=stream.uniform, n=n)
    bad = sampled.bad
    causes = replicates.cause_chance
    needs = needs_of(known, trade, replicates.chance)
    bench, outside = gates_of(known, trade)
    looks = choose_looks(
        known, trade, needs.hidden, _opened(trade, needs, bench), frozenset(gate.id for gate in bench), causes
    )
    expected = expected_sales(known, trade, needs, tuple(gate.id for gate in bench), causes)
    compiled = compile_rebuild(
        known=known, trade=trade, needs=needs, looks=looks, bench=bench, outside=outside,
        as_it_stands_minor=expected.as_it_stands_minor, part_out_minor=expected.part_out_minor,
        part_out_minutes=expected.part_out_minutes, booked=booked,
    )
    common = common_factors(seed=seed, n=n, attendance=known.attendance, pace=known.pace)
    view = fit_overrun_of(known, trade)
    overrun = overrun_draws(view, seed=seed, n=n)
    worlds = draw_worlds(
        compiled=compiled, known=known, trade=trade, needs=needs, bad=bad, common=common,
        money_overrun=overrun.money, time_overrun=overrun.time, stream=stream,
    )
    market = draw_market(
        known=known, trade=trade, needs=needs, compiled=compiled, expected=expected, common=common, stream=stream
    )
    return Drawn(
        known=known, guesses=_guesses(known, trade, view, needs), needs=needs, compiled=compiled,
        worlds=worlds, market=market,
        chance=replicates.chance, cause_chance=causes,
        drivers={
            MAP_ERROR: common_numbers(len(replicates.posteriors))[sampled.version],
            **_drivers(compiled, needs, bad, common, overrun.money, overrun.time, market.sale_minor),
        },
    )


def play(drawn: Drawn, *, policy: Policy | None = None, ends: bool = False) -> Futures:
    """One policy played through drawn worlds; without one, the policy one starts from. `ends` as in `simulate`."""
    known = drawn.known
    rebuild = drawn.compiled.rebuild
    chosen = policy if policy is not None else start_policy(drawn.compiled, drawn.worlds, known)
    return Futures(
        nickname=known.machine.nickname,
        currency=known.machine.currency,
        as_of=known.as_of.isoformat(),
        bought=known.bought,
        price_minor=known.price_minor,
        accepted_loss_chance=known.accepted_loss_chance,
        hour_value_minor=known.hour_value_minor,
        wanted_pay_minor=known.wanted_pay_minor,
        rebuild=rebuild,
        worlds=drawn.worlds,
        policy=chosen,
        played=simulate(rebuild, drawn.worlds, chosen, ends=ends),
        market=drawn.market,
        guesses=drawn.guesses,
        drivers=drawn.drivers,
        damage=dict(drawn.chance),
        scenario=dict(drawn.cause_chance),
        lump_minor=round(drawn.needs.lump_mean[0]),
        found_bad=frozenset(bad.component for bad in known.bad) | known.put_right,
    )


def fit_overrun_of(known: Known, trade: Trade) -> OutsideView:
    """The outside view of this owner, from the finished machines in the record."""
    money = trade.money
    return fit_overrun(
        known.machine.finished,
        reference_spend_share=money["reference_rebuild_spend_share"].figure.mid,
        reference_months=money["reference_rebuild_months"].figure.mid,
        reference_overrun_money=money["reference_overrun_money"].figure.mid,
        reference_overrun_time=money["reference_overrun_time"].figure.mid,
    )


def _opened(trade: Trade, needs: Needs, bench: tuple[GateNeed, ...]) -> frozenset[str]:
    """Covers that come off for known work or tests anyway."""
    found: set[str] = set()
    for need in needs.known:
        found |= opening_of(trade, need.covers)
    for gate in bench:
        found |= opening_of(trade, gate.covers_off)
    return frozenset(found)


def _guesses(known: Known, trade: Trade, view: OutsideView, needs: Needs) -> tuple[Guess, ...]:
    found = [Guess(field=guess.field, value=guess.value, basis=guess.basis) for guess in known.guesses]
    for mount, on_it in needs.not_left.items():
        names = [name_shown(trade.components[name], known).lower() for name in (mount, on_it)]
        found.append(
            Guess(
                field=f"remedies.{mount}", basis="common practice",
                value=f"{names[0]} is not left, as it is missing and {names[1]} is to be fitted on it",
            )
        )
    if not known.machine.finished:
        low, high = view.money.low_high
        found.append(
            Guess(
                field="finished",
                value=(
                    f"a final bill of {view.money.median:.2f} times what we add up ({low:.2f} to {high:.2f} times), "
                    f"and {view.time.median:.2f} times the hours; a few finished machines of yours narrow this"
                ),
                basis="judgement",
            )
        )
    silent = unmentioned(known, trade)
    if silent:
        found.append(
            Guess(
                field="findings",
                value=f"{len(silent)} parts that show on a walk-round are not written of and count as not known",
                basis="judgement of the map for each; silence is never taken for sound",
            )
        )
    return tuple(found)


def unmentioned(known: Known, trade: Trade) -> tuple[str, ...]:
    """Components that can be seen without tools and of which the record says nothing."""
    spoken = known.likelihoods.keys() | known.put_right | known.absent | {bad.component for bad in known.bad}
    return tuple(
        component.id for component in trade.components.values()
        if component.seen_from == "walk_round" and not component.hidden and component.id not in spoken
    )


def _drivers(
    compiled: Compiled, needs: Needs, bad: Mapping[str, BoolArray], common: CommonFactors, money_overrun: FloatArray,
    time_overrun: FloatArray, sale: npt.NDArray[np.int64],
) -> dict[str, FloatArray]:
    """Inputs whose share in the spread of a result is asked for, one number a future."""
    hidden = np.zeros(sale.shape[0])
    for need in needs.hidden:
        cost = need.materials_minor[1] + sum(part.supplies[0].price_minor[1] for part in need.parts)
        hidden += bad[need.component] * cost
    for component, (cost, _) in needs.small.items():
        hidden += bad[component] * cost
    found: dict[str, FloatArray] = {
        "hidden damage": hidden,
        "own pace": common.pace * time_overrun,
        "evenings really worked": common.attendance_permille.astype(np.float64),
        "price level and overrun": common.price_level * money_overrun,
        "slow suppliers": common.supplier_delay,
        "what it sells for": sale.astype(np.float64),
    }
    for gate in compiled.bench:
        gate_bad = [bad[component] for component in gate.fails_with]
        if gate_bad:
            found[f"{QUESTION}{gate.question}"] = np.any(np.stack(gate_bad), axis=0).astype(np.float64)
    return found
