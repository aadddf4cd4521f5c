"""What comes before what, and that no order runs in a ring."""

from __future__ import annotations

import random

import pytest
from msgspec.structs import replace

from tests.futures.made_known import SLID, TRADE, known
from wreckwright.futures.before import in_order
from wreckwright.futures.draw import draw, play
from wreckwright.futures.need_types import Need
from wreckwright.futures.needs import needs_of
from wreckwright.futures.rebuild_check import check_rebuild
from wreckwright.futures.rows import rows_of
from wreckwright.trade.types import MountedOn, Trade

EVEN = {component: 0.1 for component in TRADE.components}


def mounted(**on: str) -> Trade:
    rows = {name: MountedOn(component=name, mounts=(mount,), basis="made up") for name, mount in on.items()}
    return replace(TRADE, mounted_on=rows)


def needs(text: str, trade: Trade = TRADE) -> dict[str, Need]:
    return {need.key: need for need in needs_of(known(text), trade, EVEN).known}


def test_fitting_waits_for_its_mount_that_is_put_right_too() -> None:
    text = SLID.replace('"right mirror gone"', '"headlamp smashed", "cowl bracket bent"')
    found = needs(text, mounted(headlamp="cowl_bracket"))
    assert "cowl_bracket" in found["headlamp"].after
    # It is measured when it comes, whatever the mount is like.
    assert "cowl_bracket" not in found["headlamp:try_on"].after
    # A mount that is mended is back on before anything is fitted on it.
    mend = '\n[[remedies]]\ncomponent = "cowl_bracket"\nremedy = "repair"\n'
    found = needs(text + mend, mounted(headlamp="cowl_bracket"))
    assert {"cowl_bracket", "cowl_bracket:fit_back"} <= set(found["headlamp"].after)


def test_the_mounts_that_ship_hold_a_lamp_back_until_its_bracket_is_there() -> None:
    # common practice
    text = SLID.replace('"right mirror gone"', '"headlamp smashed", "cowl bracket bent"')
    assert "cowl_bracket" in needs(text)["headlamp"].after


def test_a_missing_mount_is_not_left_where_something_is_fitted_on_it() -> None:
    trade = mounted(headlamp="cowl_bracket", cowl_bracket="instrument_panel")
    text = SLID.replace('"right mirror gone"', '"headlamp smashed", "cowl bracket missing"')
    text += '\n[[remedies]]\ncomponent = "cowl_bracket"\nremedy = "leave"\n'
    made = needs_of(known(text), trade, EVEN)
    assert dict(made.not_left) == {"cowl_bracket": "headlamp"}
    assert "cowl_bracket" in {need.key for need in made.known}
    # The answers name it.
    assert "remedies.cowl_bracket" in {guess.field for guess in draw(known(text), trade, n=10).guesses}
    # Left it is where nothing is fitted on it, or where it is there after all.
    no_lamp = text.replace('"headlamp smashed", ', "")
    assert needs_of(known(no_lamp), trade, EVEN).not_left == {}
    there = text.replace("bracket missing", "bracket bent")
    assert needs_of(known(there), trade, EVEN).not_left == {}


def test_what_contradicts_a_weightier_reason_is_left_out() -> None:
    # hand-worked: the owner lets the bracket wait for the lamp, which waits for the bracket; the owner goes first
    text = SLID.replace('"right mirror gone"', '"headlamp smashed", "cowl bracket bent"')
    text += (
        '\n[[jobs]]\nid = "b"\nname = "bracket"\nstands_for = "cowl_bracket"\nafter = ["l"]\n'
        '[[jobs]]\nid = "l"\nname = "lamp"\nstands_for = "headlamp"\n'
    )
    found = needs(text, mounted(headlamp="cowl_bracket"))
    assert "headlamp" in found["cowl_bracket"].after
    assert "cowl_bracket" not in found["headlamp"].after
    assert check_rebuild(draw(known(text), mounted(headlamp="cowl_bracket"), n=10).compiled.rebuild) == []


def test_an_own_job_may_come_after_a_step() -> None:
    text = SLID + (
        '\n[[jobs]]\nid = "s"\nname = "strip"\nstands_for = "front_wheel:carry_over"\n'
        '[[jobs]]\nid = "wash"\nname = "wash"\nafter = ["s"]\n'
    )
    assert needs(text)["job:wash"].after == ("front_wheel:carry_over",)


@pytest.mark.parametrize("seed", range(40))
def test_orders_never_run_in_a_ring(seed: int) -> None:
    # law: whatever is asked for, what comes out can be laid out in one line, and nothing weightier was dropped for less
    rng = random.Random(seed)
    keys = [f"job:{i}" for i in range(12)]
    wanted = {key: tuple(rng.sample(keys, rng.randint(0, 4))) for key in keys}
    made = [Need(key=key, name=key, kind="job", after=wanted[key]) for key in keys]
    plain = known()
    out = {need.key: need.after for need in in_order(made, known=plain, trade=TRADE, rows=rows_of(plain),
                                                    found=frozenset())}
    assert all(set(out[key]) <= set(wanted[key]) for key in keys)
    left, placed = set(keys), set[str]()
    while left:
        free = {key for key in left if placed >= set(out[key])}
        assert free, "a ring"
        placed |= free
        left -= free
    if all(earlier < later for later, before in wanted.items() for earlier in before):
        assert all(set(out[key]) == set(wanted[key]) for key in keys)


ERRAND = '\n[[errands]]\nid = "inspector"\nkind = "trip"\nwords = "to the inspector"\nwants = ["rolls"]\n'


def test_before_a_trip_the_machine_is_made_ready_after_what_that_rests_on() -> None:
    found = needs(SLID + ERRAND)
    ready = found["errand:inspector:rolls"]
    # hand-worked: it rolls on its wheels, and the front one is bad
    assert "front_wheel" in TRADE.preconditions["rolls"].components
    assert ready.after == ("front_wheel",)
    assert ready.minutes[1] == TRADE.preconditions["rolls"].minutes
    assert "errand:inspector:rolls" not in needs(SLID + ERRAND + "done = true\n")
    closed = ERRAND + '[[jobs]]\nname = "ready"\nstands_for = "errand:inspector:rolls"\nstate = "closed_up"\n'
    assert "errand:inspector:rolls" not in needs(SLID + closed)
    call = ERRAND.replace('kind = "trip"', 'kind = "call"').replace('wants = ["rolls"]\n', "")
    assert not any(key.startswith("errand") for key in needs(SLID + call))


def test_all_of_it_can_be_played() -> None:
    batch = '\n[[batches]]\nid = "paint"\nname = "paint"\ncomponents = ["front_wheel", "mirror_r"]\n'
    played = play(draw(known(SLID + ERRAND + batch), TRADE, n=50)).played
    assert (played.status == 0).mean() > 0.5
