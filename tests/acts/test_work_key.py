"""What keys mean: every key that the plan can make is understood, on a machine of any layout."""

from __future__ import annotations

import pytest

from wreckwright.acts.checks import trade_data
from wreckwright.acts.work_key import above, bench_work, found_bad, is_main, pieces_of, remedy_now, steps_of, work_of
from wreckwright.errors import NotThere
from wreckwright.record.file import read_record
from wreckwright.record.remedies import default_remedy
from wreckwright.trade.steps import WAYS
from wreckwright.trade.steps import steps_of as steps_by_trade

BARE = 'nickname = "S"\nmachine_class = "naked"\nyear = 2019\n'


@pytest.mark.parametrize("mirrored", [False, True])
def test_every_step_of_every_component_by_every_way_is_understood(mirrored: bool) -> None:
    trade = trade_data(mirrored=mirrored)
    machine = read_record((BARE + f"mirrored = {str(mirrored).lower()}\n").encode())
    for component in trade.components:
        whole = bench_work(component, machine, trade)
        assert (whole.what, whole.component, whole.group, whole.rights) == ("main", component, component, True)
        for way in WAYS:
            for step in steps_by_trade(trade, component, way):
                if is_main(step):
                    continue
                work = bench_work(f"{component}:{step.step}", machine, trade)
                assert work.what == "step" and work.step is not None and work.step.step == step.step
                # A cover is off for what is uncovered only.
                assert bool(work.covers) <= work.step.uncovered
                assert work.name[0] == work.name[0].upper() and "{" not in work.name and not work.rights


def test_every_look_question_cover_and_standard_is_understood() -> None:
    trade, machine = trade_data(), read_record(BARE.encode())
    keys = [f"look:{one}" for one in trade.checks] + [f"gate:{one}" for one in trade.gates]
    keys += [f"{way}:{one}" for one in trade.covers for way in ("off", "on")]
    keys += [f"way:{one.id}:{at}" for one in trade.gates.values() for at, _ in enumerate(one.ways_round)]
    keys += [f"after:{one.id}" for one in trade.after_ride] + ["standard:document_build", "lump"]
    for key in keys:
        assert work_of(key, machine, trade).name, key


def test_the_remedy_is_what_was_chosen_else_what_lines_say_else_the_usual_one() -> None:
    trade = trade_data()
    found = BARE + '[[findings]]\ncomponent = "fairing_l"\nseverity = 1\n'
    component = trade.components["fairing_l"]
    usual = default_remedy(component, severity=1, missing=False)
    assert remedy_now("fairing_l", read_record(found.encode()), trade) == usual
    wanted = found + '[[parts]]\ncomponent = "fairing_l"\nremedy = "used"\n'
    assert remedy_now("fairing_l", read_record(wanted.encode()), trade) == "used"
    gone = found + '[[parts]]\ncomponent = "fairing_l"\nremedy = "used"\nstate = "refunded"\n'
    assert remedy_now("fairing_l", read_record(gone.encode()), trade) == usual
    chosen = wanted + '[[remedies]]\ncomponent = "fairing_l"\nremedy = "repair"\n'
    machine = read_record(chosen.encode())
    assert remedy_now("fairing_l", machine, trade) == "repair"
    assert "mend" in [step.step for step in steps_of(work_of("fairing_l", machine, trade), machine, trade)]


def test_what_was_found_is_the_worst_that_is_sure() -> None:
    rows = ['component = "seat"\nseverity = 1', 'component = "seat"\nseverity = 3\nsure = 0.5',
            'component = "seat"\nmissing = true', 'component = "horn"\nlooked_fine = true']
    machine = read_record((BARE + "".join(f"[[findings]]\n{row}\n" for row in rows)).encode())
    assert found_bad("seat", machine) == (2, True) and found_bad("horn", machine) is None


def test_covers_over_a_cover_come_first_and_once() -> None:
    trade = trade_data()
    for cover in trade.covers:
        listed = above([cover, cover], trade)
        assert listed[-1] == cover and len(set(listed)) == len(listed)
        assert all(set(trade.covers[one].under) <= set(listed[: listed.index(one)]) for one in listed)


def test_pieces_are_those_of_the_trade_and_of_the_row() -> None:
    machine = read_record((BARE + '[[jobs]]\nname = "x"\nkeep = ["shim"]\nrenew = ["bush"]\n').encode())
    pieces = pieces_of("lever_clutch", machine, trade_data(), machine.jobs[0])
    assert pieces[:2] == ("shim", "bush") and set(trade_data().carry_overs["lever_clutch"].pieces) <= set(pieces)
    assert len(set(pieces)) == len(pieces)


def test_a_key_that_means_nothing_names_the_nearest() -> None:
    with pytest.raises(NotThere) as caught:
        work_of("front_wheeel", read_record(BARE.encode()), trade_data())
    assert "front_wheel" in caught.value.do
