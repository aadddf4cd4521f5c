"""What cannot be played is refused with a reason: what is wrong, what is allowed, what to do.

hand-worked: all messages; each test breaks one thing of a machine that has nothing wrong with it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.futures.random_rebuilds import random_case
from tests.futures.small_machine import NEAR, Small
from wreckwright.errors import AnswerError
from wreckwright.futures.policy import NEVER, ON_DISCOVERY, Policy, check_policy
from wreckwright.futures.rebuild import BenchGate, CoverNode, Exposes, Rebuild
from wreckwright.futures.rebuild_check import check_rebuild
from wreckwright.futures.simulate import simulate
from wreckwright.futures.worlds import check_worlds


def sound() -> Small:
    """Slots: 0 look, 1 fit rim, 2 mend loom, 3 start, 4 way, 5 trim, 6 ride."""
    small = Small()
    small.cover("seat")
    small.cover("tank", under=["seat"])
    small.part("rim")
    small.part("loom", trigger=ON_DISCOVERY)
    small.job("look", 5, kind="look", exposes=["loom"], rough_gate=0, needed_by=0)
    small.job("fit rim", 20, parts=["rim"], needed_by=0)
    small.job("mend loom", 20, kind="follow_up", component="loom", parts=["loom"], covers=["tank"])
    small.gate("start", 10, ways=["way"], covers_on=["tank"])
    small.job("way", 10, kind="fallback")
    small.job("trim", 10, stage=1, after=["start"])
    small.gate("ride", 10)
    return small


def with_slot(rebuild: Rebuild, j: int, **changes: Any) -> Rebuild:
    slots = list(rebuild.slots)
    slots[j] = replace(slots[j], **changes)
    return replace(rebuild, slots=tuple(slots))


def with_line(rebuild: Rebuild, index: int, **changes: Any) -> Rebuild:
    lines = list(rebuild.lines)
    lines[index] = replace(lines[index], **changes)
    return replace(rebuild, lines=tuple(lines))


def with_gate(rebuild: Rebuild, k: int, **changes: Any) -> Rebuild:
    gates = list(rebuild.bench_gates)
    gates[k] = replace(gates[k], **changes)
    return replace(rebuild, bench_gates=tuple(gates))


def test_nothing_is_wrong_with_a_sound_machine() -> None:
    small = sound()
    assert check_rebuild(small.rebuild()) == []
    assert check_policy(small.rebuild(), small.policy()) == []
    assert check_worlds(small.rebuild(), small.worlds()) == []


def test_random_rebuilds_that_are_valid_by_construction_pass() -> None:
    for seed in range(60):
        case = random_case(seed)
        assert check_rebuild(case.rebuild) == [], seed
        assert check_policy(case.rebuild, case.policy) == [], seed
        assert check_worlds(case.rebuild, case.worlds) == [], seed


BROKEN_REBUILDS: dict[str, tuple[Callable[[Rebuild], Rebuild], str]] = {
    "helper days of a shorter calendar": (
        lambda r: replace(r, helper_day=np.ones(9, bool)),
        r"helper_day has shape \(9,\) and type bool; allowed: one row of 10 times true or false",
    ),
    "helpers by number": (
        lambda r: replace(r, helper_day=np.ones(10, np.int32)),
        r"helper_day has shape \(10,\) and type int32; allowed: one row of 10 times true or false",
    ),
    "stands or falls with nothing": (
        lambda r: with_slot(r, 5, part_of=7),
        r"slot 5 \(trim\): part_of names slot 7; allowed: 0 to 6",
    ),
    "stands or falls with itself": (
        lambda r: with_slot(r, 5, part_of=5),
        r"slot 5 \(trim\): part_of is 5 for a job; allowed: another slot",
    ),
    "a test stands or falls": (
        lambda r: with_slot(r, 3, part_of=5),
        r"slot 3 \(start\): part_of is 5 for a gate; allowed: another slot, for jobs, looks and follow-ups",
    ),
    "no gate": (lambda r: replace(r, bench_gates=(), as_it_stands_minor=(0,)), "there is no bench gate"),
    "unknown slot": (lambda r: with_slot(r, 5, after=(7,)), r"slot 5 \(trim\): after names slot 7; allowed: 0 to 6"),
    "unknown cover": (lambda r: with_slot(r, 5, covers=(-1,)), r"covers names cover -1; allowed: 0 to 1"),
    "unknown line": (lambda r: with_slot(r, 5, lines=(2,)), r"lines names line 2; allowed: 0 to 1"),
    "unknown outside gate": (
        lambda r: with_slot(r, 5, outside=(0,)),
        r"outside names outside gate 0; allowed: none, there is none",
    ),
    "unknown component": (lambda r: with_slot(r, 5, exposes=(Exposes(component=1),)), r"exposes names component 1"),
    "unknown stage": (lambda r: with_slot(r, 5, needed_by=2), r"needed_by names stage 2; allowed: 0 to 1"),
    "unknown rough gate": (lambda r: with_slot(r, 0, rough_gate=2), r"rough_gate names stage 2"),
    "gates unsorted": (lambda r: with_gate(r, 1, stage=0), r"bench gate 1 \(ride\): stage is 0; allowed: 1"),
    "gate is a job": (lambda r: with_gate(r, 0, slot=1), r"slot 1 \(fit rim\) is a job; allowed: a gate"),
    "fallback is a job": (lambda r: with_gate(r, 0, fallbacks=(5,)), r"slot 5 \(trim\) is a job; allowed: a fallback"),
    "fallback of nothing": (lambda r: with_gate(r, 0, fallbacks=()), r"slot 4 \(way\) is a fallback of 0 bench gates"),
    "fallback twice": (
        lambda r: with_gate(r, 1, fallbacks=(4,)),
        r"is a fallback of 2 bench gates; allowed: exactly one",
    ),
    "gate slot of another stage": (lambda r: with_slot(r, 6, stage=0), r"slot 6 \(ride\): stage is 0; allowed: 1"),
    "no follow-up": (lambda r: replace(r, components=("loom", "ecu")), r"component 1 \(ecu\) has 0 follow-up slots"),
    "follow-up without component": (lambda r: with_slot(r, 2, component=-1), r"component names component -1"),
    "job with component": (lambda r: with_slot(r, 5, component=0), r"component is 0 for a job; allowed: -1"),
    "job foretells": (lambda r: with_slot(r, 5, rough_gate=0), r"rough_gate is 0 for a job; allowed: -1"),
    "line of another": (lambda r: with_slot(r, 5, lines=(0,)), r"names line 0 \(rim\), which belongs to slot 1"),
    "line not named": (
        lambda r: with_slot(r, 1, lines=()),
        r"line 0 \(rim\) belongs to slot 1 \(fit rim\), which does not",
    ),
    "no source": (lambda r: with_line(r, 0, sources=()), r"line 0 \(rim\) has no source; allowed: at least one"),
    "refund above the price": (
        lambda r: with_line(r, 0, sources=(replace(NEAR, refund_permille=1001),)),
        r"refund_permille is 1001; allowed: 0 to 1000",
    ),
    "cancelled before the order": (
        lambda r: with_line(r, 0, sources=(replace(NEAR, cancel_days=-1),)),
        r"cancel_days is -1; allowed: 0 to 1000000",
    ),
    "negative sunk money": (
        lambda r: with_line(r, 0, sunk_minor=-5),
        r"line 0 \(rim\): sunk_minor is -5; allowed: 0 to",
    ),
    "too much money": (
        lambda r: with_slot(r, 1, mean_minor=10**11 + 1),
        r"mean_minor is 100000000001; allowed: 0 to 100000000000",
    ),
    "negative cure": (lambda r: with_slot(r, 1, cure_days=-1), r"cure_days is -1; allowed: 0"),
    "ring of work": (
        lambda r: with_slot(with_slot(r, 5, after=(1,)), 1, after=(5,)),
        r"slots wait for each other \((fit rim after trim after fit rim|trim after fit rim after trim)\)",
    ),
    "ring of covers": (
        lambda r: replace(r, covers=(CoverNode(name="seat", under=(1,)), r.covers[1])),
        r"covers lie on each other \(seat under tank under seat\)",
    ),
    "open under a closed one": (
        lambda r: replace(r, covers=(r.covers[0], replace(r.covers[1], off_at_start=True))),
        r"cover 1 \(tank\) is off at the start, but seat, which lies over it, is on",
    ),
    "test needs a cover off and on": (
        lambda r: with_slot(r, 3, covers=(1,)),
        r"bench gate 0 \(start\) needs tank both off and on",
    ),
    "last test needs a cover off": (
        lambda r: with_slot(r, 6, covers=(0,)),
        r"bench gate 1 \(ride\) needs seat both off and on",
    ),
    "way round after its own gate": (
        lambda r: with_slot(r, 4, after=(3,)),
        r"is a way round of gate 0 \(start\) and comes after it",
    ),
    "calendar starts late": (lambda r: replace(r, cumulative_minutes=np.array([5, 60])), "starts with 5 or falls"),
    "calendar falls": (
        lambda r: replace(r, cumulative_minutes=np.array([0, 60, 50])),
        "falls somewhere; allowed: 0, then",
    ),
    "calendar without days": (lambda r: replace(r, cumulative_minutes=np.array([0])), r"shape \(1,\)"),
    "calendar of floats": (
        lambda r: replace(r, cumulative_minutes=np.array([0.0, 60.0])),
        "type float64; allowed: one row",
    ),
    "too many minutes": (
        lambda r: replace(r, cumulative_minutes=np.array([0, 20_000_001])),
        "ends at 20000001; allowed: up to 20000000",
    ),
    "too many days": (
        lambda r: replace(r, cumulative_minutes=np.arange(30_002)),
        "covers 30001 days; allowed: up to 30000",
    ),
    "sale values do not fit": (lambda r: replace(r, as_it_stands_minor=(0,)), "has 1 entries; allowed: 3"),
}


@pytest.mark.parametrize("what", BROKEN_REBUILDS)
def test_a_rebuild_that_cannot_be_played_is_refused(what: str) -> None:
    change, message = BROKEN_REBUILDS[what]
    small = sound()
    broken = change(small.rebuild())
    reasons = check_rebuild(broken)
    assert [reason for reason in reasons if "; allowed: " in reason] == reasons
    assert any(re.search(message, reason) for reason in reasons), reasons
    with pytest.raises(AnswerError, match="The rebuild cannot be played: "):
        simulate(broken, small.worlds(), small.policy())


def with_entry(values: tuple[Any, ...], place: int, value: Any) -> tuple[Any, ...]:
    return (*values[:place], value, *values[place + 1 :])


def changed(name: str, place: int, value: Any) -> Callable[[Policy], Policy]:
    return lambda p: replace(p, **{name: with_entry(getattr(p, name), place, value)})


BROKEN_POLICIES: dict[str, tuple[Callable[[Policy], Policy], str]] = {
    "one line too few": (lambda p: replace(p, line_source=(0,)), "line_source has 1 entries; allowed: 2, one per line"),
    "unknown source": (changed("line_source", 0, 2), r"line 0 \(rim\): line_source is 2; allowed: 0 to 1"),
    "unknown plan B": (changed("plan_b_source", 0, 2), r"plan_b_source is 2; allowed: -1 \(none\) to 1"),
    "plan B before the order": (changed("plan_b_after_days", 0, -2), "plan_b_after_days is -2; allowed: -1"),
    "unknown trigger": (changed("line_trigger", 0, 2), r"line_trigger is 2; allowed: -1 \(now\), -2 \(never\), -3"),
    "a job is not discovered": (
        changed("line_trigger", 0, ON_DISCOVERY),
        r"ordered on discovery, but its slot \(fit rim\) is a job",
    ),
    "a later gate": (
        changed("line_trigger", 0, 1),
        r"line 0 \(rim\): a trigger names only earlier events, but it waits for gate 1 \(ride\) and its slot "
        r"\(fit rim\) is to be done in stage 0, before that gate; allowed: gates below 0",
    ),
    "its own gate": (changed("line_trigger", 0, 0), "a trigger names only earlier events, but it waits for gate 0"),
    "a follow-up's own gate": (changed("line_trigger", 1, 0), r"\(loom\): a trigger names only earlier events"),
    "too late": (
        changed("stage", 1, 1),
        r"slot 1 \(fit rim\): stage is 1; allowed: 0 to 0, because the gate of stage 0 needs it",
    ),
    "too early": (changed("stage", 1, -1), r"slot 1 \(fit rim\): stage is -1"),
    "follow-up after the end": (changed("stage", 2, 2), r"slot 2 \(mend loom\): stage is 2; allowed: 0 to 1"),
    "waits for the gate that waits for it": (
        changed("stage", 5, 0),
        r"stage is 0, but it comes after the gate that ends stage 0 \(start\)",
    ),
    "a job is not passed over": (changed("looks", 1, False), "looks is False for a job; allowed: True"),
    "one rank twice": (changed("rank", 3, 0), "rank 0 is given to entries 0 and 3"),
    "unknown epoch": (lambda p: replace(p, stop={6: (0.0,) * 7}), "stop names epoch 6; allowed: 0 to 5"),
    "six coefficients": (lambda p: replace(p, stop={0: (0.0,) * 6}), "allowed: 7 finite numbers"),
    "not a number": (lambda p: replace(p, stop={0: (float("nan"),) * 7}), "allowed: 7 finite numbers"),
}


@pytest.mark.parametrize("what", BROKEN_POLICIES)
def test_a_policy_that_cannot_be_played_is_refused(what: str) -> None:
    change, message = BROKEN_POLICIES[what]
    small = sound()
    policy = change(small.policy())
    reasons = check_policy(small.rebuild(), policy)
    assert len(reasons) == 1 and "; allowed: " in reasons[0]
    assert re.search(message, reasons[0]), reasons
    with pytest.raises(AnswerError, match="The policy cannot be played: "):
        simulate(small.rebuild(), small.worlds(), policy)


def test_what_a_trigger_may_name() -> None:
    """Now, never, an outside gate and, for work of stage 1, the gate before it."""
    small = sound()
    small.part("grip", trigger=0)
    small.slots["trim"]["parts"] = ["grip"]
    small.outside["papers"] = 0
    assert check_policy(small.rebuild(), small.policy()) == []
    for trigger in (-1, NEVER, 2):
        assert check_policy(small.rebuild(), small.policy(line_trigger=(trigger, trigger, trigger))) == []


BROKEN_WORLDS: dict[str, tuple[str, Callable[[np.ndarray], np.ndarray], str]] = {
    "a slot too few": ("minutes", lambda a: a[:, :-1], r"minutes has shape \(1, 10\); allowed: \(1, 11\)"),
    "a future too many": (
        "gate_ok",
        lambda a: np.repeat(a, 2, axis=0),
        r"gate_ok has shape \(2, 2\); allowed: \(1, 2\)",
    ),
    "a source too few": (
        "price_minor",
        lambda a: a[:, :, :1],
        r"price_minor has shape \(1, 2, 1\); allowed: \(1, 2, 2\)",
    ),
    "minutes as floats": ("minutes", lambda a: a + 0.5, "minutes has the type float64; allowed: whole numbers"),
    "chances for answers": (
        "gate_ok",
        lambda a: a.astype(np.int32),
        "gate_ok has the type int32; allowed: true or false",
    ),
    "negative minutes": ("minutes", lambda a: a - 6, "minutes is -1 in future 0 at 0; allowed: 0 to 10000000"),
    "endless minutes": ("minutes", lambda a: a + 10**7, "minutes is 10000005 in future 0 at 0"),
    "nobody works": (
        "attendance_permille",
        lambda a: a * 0,
        "attendance_permille is 0 in future 0; allowed: 1 to 1000",
    ),
    "too much money": ("price_minor", lambda a: a + 10**11, "price_minor is 100000001000 in future 0 at 0, 0"),
    "before the order": ("lead_days", lambda a: a - 2, "lead_days is -2 in future 0 at 0, 0; allowed: -1 to 1000000"),
}


@pytest.mark.parametrize("what", BROKEN_WORLDS)
def test_futures_that_cannot_be_played_are_refused(what: str) -> None:
    name, change, message = BROKEN_WORLDS[what]
    small = sound()
    worlds = replace(small.worlds(), **{name: change(getattr(small.worlds(), name))})
    assert any(re.search(message, reason) for reason in check_worlds(small.rebuild(), worlds))
    with pytest.raises(AnswerError, match="The futures cannot be played: ") as refused:
        simulate(small.rebuild(), worlds, small.policy())
    assert refused.value.allowed.startswith("Allowed: ") and refused.value.do[0].isupper()


@pytest.mark.parametrize(("block_futures", "patience_permille"), [(0, 200), (-3, 200), (10, -1), (10, 1001)])
def test_blocks_and_patience_have_limits(block_futures: int, patience_permille: int) -> None:
    small = sound()
    with pytest.raises(AnswerError, match=f"in blocks of {block_futures} with a patience of {patience_permille}"):
        simulate(
            small.rebuild(),
            small.worlds(),
            small.policy(),
            block_futures=block_futures,
            patience_permille=patience_permille,
        )


def test_too_many_pieces_are_refused() -> None:
    small = sound()
    for i in range(4000):
        small.job(f"{i}", 1)
    reasons = check_rebuild(small.rebuild())
    assert reasons == ["there are 4011 slots, covers and lines; allowed: up to 4000 together; take small work together"]


def test_a_gate_belongs_to_one_stage_only() -> None:
    small = sound()
    rebuild = small.rebuild()
    twice = (rebuild.bench_gates[0], BenchGate(name="ride", stage=1, slot=3))
    reasons = check_rebuild(replace(rebuild, bench_gates=twice))
    assert any("slot 3 (start) is a gate of 2 bench gates" in reason for reason in reasons)
    assert any("slot 6 (ride) is a gate of 0 bench gates" in reason for reason in reasons)
