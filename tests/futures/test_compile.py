"""From needs to numbered slots: order of jobs."""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import replace

import numpy as np
import pytest

from tests.futures.made_known import AS_OF, SLID, TRADE, known
from wreckwright.futures.compile import compile_rebuild
from wreckwright.futures.draw import draw, play
from wreckwright.futures.gates import gates_of
from wreckwright.futures.needs import needs_of
from wreckwright.futures.rebuild import Slot
from wreckwright.futures.rebuild_check import check_rebuild
from wreckwright.futures.rows import rows_of
from wreckwright.futures.start_policy import start_policy


def slots(text: str) -> dict[str, tuple[int, Slot]]:
    compiled = draw(known(text), TRADE, n=20).compiled
    return {plan.key: (index, compiled.rebuild.slots[index]) for index, plan in enumerate(compiled.slots)}


def test_a_job_waits_for_the_jobs_it_names_wherever_they_stand() -> None:
    found = slots(SLID + (
        '\n[[jobs]]\nid = "paint"\nname = "paint"\nafter = ["rim"]\n'
        '[[jobs]]\nid = "rim"\nname = "true the rim"\ncomponent = "front_wheel"\nafter = ["wash"]\n'
        '[[jobs]]\nid = "wash"\nname = "wash"\n[[jobs]]\nid = "old"\nname = "old"\nstate = "proved"\n'
    ))
    assert found["job:paint"][1].after == (found["front_wheel"][0],)
    assert found["job:wash"][0] in found["front_wheel"][1].after


def test_what_comes_before_a_job_is_needed_by_the_same_gate() -> None:
    # hand-worked: `turns` is the first question, so all three belong to the first stage
    found = slots(SLID + (
        '\n[[jobs]]\nid = "a"\nname = "a"\n[[jobs]]\nid = "b"\nname = "b"\nafter = ["a"]\n'
        '[[jobs]]\nid = "c"\nname = "c"\nafter = ["b"]\nbefore_gate = "turns"\n'
    ))
    assert [found[f"job:{name}"][1].stage for name in "abc"] == [0, 0, 0]
    assert [found[f"job:{name}"][1].needed_by for name in "abc"] == [0, 0, 0]


def test_what_lies_over_a_cover_that_is_off_is_off_too() -> None:
    compiled = draw(known(extra='covers_off = ["battery_out"]\n'), TRADE, n=20).compiled
    off = {compiled.covers[i] for i, node in enumerate(compiled.rebuild.covers) if node.off_at_start}
    # hand-worked: the battery lies under the seat
    assert TRADE.covers["battery_out"].under == ("seat_off",)
    assert {"battery_out", "seat_off"} <= off
    assert play(draw(known(extra='covers_off = ["battery_out"]\n'), TRADE, n=20)).played.status.shape == (20,)


def test_steps_know_the_slot_that_holds_their_part_and_only_the_first_opening_shows_what_lies_beneath() -> None:
    found = slots(SLID.replace('"right mirror gone"', '"right fairing cracked", "clutch worn"'))
    holder = found["front_wheel:try_on"]
    assert holder[1].lines and holder[1].part_of == -1
    others = [slot for key, (_, slot) in found.items() if key.startswith("front_wheel") and slot is not holder[1]]
    assert others
    assert all(slot.part_of == holder[0] and not slot.lines for slot in others)
    for group in ("front_wheel", "water_pump"):
        showing = [key for key, (_, slot) in found.items() if key.partition(":")[0] == group and slot.exposes]
        opening = [key for key, (_, slot) in found.items() if key.partition(":")[0] == group and slot.covers]
        assert showing in ([], opening[:1])


def test_a_part_that_never_comes_leaves_the_fitting_undone_with_it() -> None:
    text = SLID + '\n[[parts]]\ncomponent = "mirror_r"\nremedy = "genuine"\nlead_class = "factory_backorder"\n'
    drawn = draw(known(text), TRADE, n=2000)
    keys = [plan.key for plan in drawn.compiled.slots]
    line = drawn.compiled.rebuild.slots[keys.index("mirror_r:try_on")].lines[0]
    policy = start_policy(drawn.compiled, drawn.worlds, drawn.known)
    no_plan_b = tuple(-1 if index == line else source for index, source in enumerate(policy.plan_b_source))
    played = play(drawn, policy=replace(policy, plan_b_source=no_plan_b)).played
    undone = played.left_undone[played.status == 0]
    holder = undone[:, keys.index("mirror_r:try_on")]
    assert TRADE.components["mirror_r"].ride != "stop"
    assert holder.any()
    assert (undone[:, keys.index("mirror_r")] == holder).all()


def test_work_for_two_waits_for_a_helper_day_once_any_is_named() -> None:
    helped = SLID + '\n[[jobs]]\nid = "lift"\nname = "lift"\nhelper = true\n[calendar]\nhelper_weekdays = ["sunday"]\n'
    compiled = draw(known(helped), TRADE, n=20).compiled
    keys = [plan.key for plan in compiled.slots]
    assert compiled.rebuild.slots[keys.index("job:lift")].helper
    assert compiled.rebuild.helper_day is not None
    # hand-worked: 20 November 2026 is a Friday, so day 2 is the first Sunday
    assert compiled.rebuild.helper_day[:4].tolist() == [False, False, True, False]
    assert draw(known(SLID), TRADE, n=20).compiled.rebuild.helper_day is None
    covers = {compiled.covers[i]: cover.helper for i, cover in enumerate(compiled.rebuild.covers)}
    assert covers == {cover: TRADE.covers[cover].helper for cover in covers}


def test_what_others_have_booked_shortens_the_evenings_and_says_when_this_ones_turn_is() -> None:
    saturday = AS_OF + dt.timedelta(days=1)
    free = draw(known(), TRADE, n=20)
    after = draw(known(), TRADE, n=20, booked={saturday: 100})
    # hand-worked: without a calendar of one's own, 5 h on Saturday
    assert np.diff(after.compiled.rebuild.cumulative_minutes)[:2].tolist() == [0, 200]
    assert after.compiled.begin_minute[:3].tolist() == [0, 100, 0]
    assert not free.compiled.begin_minute.any()
    # Nothing else is drawn otherwise.
    assert (free.worlds.minutes == after.worlds.minutes).all()


def a_random_record(rng: random.Random) -> str:
    """Findings, lines, rows for steps in any state and order, batches, trips; some of it contradicts the rest."""
    components = [c.id for c in TRADE.components.values() if c.zone != "papers"]
    bad = rng.sample(components, 8)
    findings = ", ".join(
        f'{{ component = "{name}", missing = {str(rng.random() < 0.3).lower()} }}' for name in bad
    )
    text = SLID[: SLID.index("findings")] + f"findings = [{findings}]\n" + SLID[SLID.index("purchase"):]
    for name in rng.sample(components, 3) + bad[:2]:
        remedy = rng.choice(["genuine", "pattern", "used", "repair", "modify", "leave"])
        if f'component = "{name}"\nremedy' not in text:
            text += f'\n[[remedies]]\ncomponent = "{name}"\nremedy = "{remedy}"\n'
    lines = rng.sample(components, 4) + bad[2:5]
    for index, name in enumerate(lines):
        state = rng.choice(["wanted", "ordered", "here", "wrong", "fitted", "sold"])
        remedy = rng.choice(["genuine", "used", "repair"])
        text += f'\n[[parts]]\nid = "p{index}"\ncomponent = "{name}"\nstate = "{state}"\nremedy = "{remedy}"\n'
    keys = [*bad, *(f"{name}:{step}" for name in bad for step in ("try_on", "strip", "test", "fit_back"))]
    keys += ["part:p0", "part:p1:try_on", "standard:document_build", "errand:e1:rolls", "batch:b1"]
    steps = {name: {s.step for way in ("buy", "mend") for s in TRADE.job_steps.get((name, way), ())} for name in bad}
    everywhere = {s.step for way in ("buy", "mend") for s in TRADE.job_steps["", way]}
    keys = [key for key in keys if ":" not in key or key.partition(":")[0] not in steps
            or key.partition(":")[2] in steps[key.partition(":")[0]] | everywhere]
    for index, key in enumerate(rng.sample(keys, 9)):
        state = rng.choice(["not_yet", "open", "closed_up", "proved"])
        after = ", ".join(f'"r{i}"' for i in range(index) if rng.random() < 0.25)
        text += f'\n[[jobs]]\nid = "r{index}"\nname = "r"\nstands_for = "{key}"\nstate = "{state}"\nafter = [{after}]\n'
    for index, name in enumerate(rng.sample(components, 2) + bad[:1]):
        text += f'\n[[jobs]]\nid = "own{index}"\nname = "own"\ncomponent = "{name}"\nafter = ["r{index}"]\n'
    batch = ", ".join(f'"{name}"' for name in rng.sample(bad, 3))
    state = rng.choice(["gathering", "away", "back"])
    text += f'\n[[batches]]\nid = "b1"\nname = "b"\ncomponents = [{batch}]\nstate = "{state}"\n'
    return text + '\n[[errands]]\nid = "e1"\nkind = "trip"\nwords = "w"\nwants = ["rolls", "steers"]\n'


@pytest.mark.parametrize("seed", range(25))
def test_whatever_stands_in_a_record_can_be_played(seed: int) -> None:
    # law: keys are unique, every line has its slot, nothing runs in a ring, every part belongs to a slot that holds it
    made = known(a_random_record(random.Random(seed)))
    needs = needs_of(made, TRADE, {component: 0.05 for component in TRADE.components})
    bench, outside = gates_of(made, TRADE)
    compiled = compile_rebuild(
        known=made, trade=TRADE, needs=needs, looks=(), bench=bench, outside=outside,
        as_it_stands_minor=(0,) * (len(bench) + 1), part_out_minor=0, part_out_minutes=0,
    )
    assert check_rebuild(compiled.rebuild) == []
    keys = [plan.key for plan in compiled.slots]
    assert len(set(keys)) == len(keys)
    for need in needs.known:
        assert not rows_of(made).done(need.key)
        assert need.part_of in keys
        assert set(need.after) <= set(keys)
        if need.part_of != need.key:
            assert compiled.rebuild.slots[keys.index(need.part_of)].lines
