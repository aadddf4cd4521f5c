"""Names in a record that the trade data do not know are all told, with the nearest ones and with the line."""

from __future__ import annotations

import pytest

from wreckwright.record.against_trade import check_against_trade, find_class
from wreckwright.record.file import read_record
from wreckwright.trade.load import load_trade
from wreckwright.trade.mirror import mirror_trade

TRADE = load_trade()
HEAD = 'nickname = "Sorrel"\nmachine_class = "tourer"\nyear = 2019\n'

# hand-worked: where, what was found, what is to be done.
UNKNOWN = {
    "class": (HEAD.replace("tourer", "turer"), "line 2, machine_class", "'turer'", "write tourer"),
    "component": (
        HEAD + '[[findings]]\ncomponent = "front_weel"\n',
        "line 5, findings row 1, component",
        "'front_weel'",
        "front_wheel",
    ),
    "component of a part": (
        HEAD + '[[parts]]\ncomponent = "radiatr"\n',
        "line 5, parts row 1, component",
        "no component of the trade data",
        "write radiator",
    ),
    "component of a part, by its name": (
        HEAD + '[[parts]]\ncomponent = "front_brake_lever"\n',
        "line 5, parts row 1, component",
        "no component of the trade data",
        "write lever_brake_front",
    ),
    "words": (
        HEAD + 'findings = ["rack bent",\n "wheel bent"]\n',
        "line 5, findings row 2",
        "could be Front wheel or Rear wheel",
        'component = "front_wheel" (Front wheel) or component = "rear_wheel"',
    ),
    "component of a batch": (
        HEAD + '[[batches]]\nname = "paint"\ncomponents = ["seet"]\n',
        "line 6, batches row 1, components",
        "'seet', which is no component",
        "write seat",
    ),
    "work on an unknown component": (
        HEAD + '[[jobs]]\nname = "a"\nstands_for = "front_weel:strip"\n',
        "line 6, jobs row 1, stands_for",
        "'front_weel', which is no component",
        "front_wheel",
    ),
    "step that no remedy makes": (
        HEAD + '[[jobs]]\nname = "a"\nstands_for = "front_wheel:carryover"\n',
        "line 6, jobs row 1, stands_for",
        "'carryover', which is no step of front_wheel",
        "write carry_over",
    ),
    "step of a part that no remedy makes": (
        HEAD + '[[parts]]\nid = "p"\n[[jobs]]\nname = "a"\nstands_for = "part:p:tryon"\n',
        "line 8, jobs row 1, stands_for",
        "'tryon', which is no step",
        "write try_on",
    ),
    "unknown cover taken off": (
        HEAD + '[[jobs]]\nname = "a"\nstands_for = "off:seat_of"\n',
        "line 6, jobs row 1, stands_for",
        "'seat_of', which is no cover",
        "write seat_off",
    ),
    "unknown gate of a way round": (
        HEAD + '[[jobs]]\nname = "a"\nstands_for = "way:turn:1"\n',
        "line 6, jobs row 1, stands_for",
        "'turn', which is no gate",
        "write turns",
    ),
    "unknown standard work": (
        HEAD + '[[jobs]]\nname = "a"\nstands_for = "standard:document_built"\n',
        "line 6, jobs row 1, stands_for",
        "'document_built', which is no piece of standard work",
        "write document_build",
    ),
    "loose end of unknown work": (
        HEAD + '[[loose_ends]]\nwhat = "bag"\nwork = "look:nowhere"\n',
        "line 6, loose_ends row 1, work",
        "'nowhere', which is no check",
        "",
    ),
    "errand for an unknown gate": (
        HEAD + '[[errands]]\nkind = "trip"\nwords = "w"\ngate = "paper"\n',
        "line 7, errands row 1, gate",
        "'paper', which is no gate",
        "write papers",
    ),
    "title brand": (HEAD + '[purchase]\nbrand = "rebuild"\n', "line 5, purchase, brand", "'rebuild'", "write rebuilt"),
    "lead class": (
        HEAD + '[[parts]]\nid = "x"\nlead_class = "importr"\n',
        "line 6, parts row 1 (x), lead_class",
        "no lead class",
        "write importer",
    ),
    "sign": (
        HEAD + 'signs = ["one_side_scrape_lef"]\n',
        "line 4, signs row 1",
        "no sign is known by",
        "one_side_scrape_left",
    ),
    "gate": (HEAD + '[[gates]]\ntemplate = "straigt"\n', "line 5, gates row 1, template", "no gate", "write straight"),
    "gate of a part": (
        HEAD + '[[gates]]\nid = "bank"\ntemplate = "papers"\n[[parts]]\nheld_until_gate = "bnak"\n',
        "line 8, parts row 1, held_until_gate",
        "'bnak'",
        "write bank",
    ),
    "gate of a job": (
        HEAD + '[[jobs]]\nname = "a"\nbefore_gate = "rusn"\n',
        "line 6, jobs row 1, before_gate",
        "'rusn'",
        "write runs",
    ),
    "cover": (
        HEAD + '[[jobs]]\nname = "a"\ncovers = ["tank_of"]\n',
        "line 6, jobs row 1, covers entry 1",
        "'tank_of'",
        "write tank_off",
    ),
    "cover that is off": (HEAD + 'covers_off = ["set_off"]\n', "line 4, covers_off row 1", "no cover", "seat_off"),
    "fit item": (
        HEAD + '[[proofs]]\nitem = "brake"\nhow = "held"\n',
        "line 5, proofs row 1, item",
        "no heading of the fit-to-ride list",
        "write brakes",
    ),
    "fit item of a reading": (
        HEAD + '[[readings]]\nwhat = "x"\nvalue = 1\nunit = "mm"\nproves = "fork"\n',
        "line 8, readings row 1, proves",
        "'fork'",
        "write forks",
    ),
    "check": (
        HEAD + '[[findings]]\nwhat = "rack bent"\ncheck = "walkround"\n',
        "line 6, findings row 1, check",
        "no check",
        "write walk_round",
    ),
    "zone": (
        HEAD + '[[findings]]\nzone = "brake"\nlooked_fine = true\n',
        "line 5, findings row 1, zone",
        "no zone or station",
        "write brakes",
    ),
    "wrong side": (
        HEAD + '[[findings]]\ncomponent = "mirror_l"\nside = "right"\n',
        "line 6, findings row 1, side",
        "mirror_l is on the left",
        "on that side",
    ),
    "remedy": (
        HEAD + '[[remedies]]\ncomponent = "seet"\nremedy = "leave"\n',
        "line 5, remedies row 1, component",
        "'seet'",
        "write seat",
    ),
}


@pytest.mark.parametrize("kind", UNKNOWN)
def test_an_unknown_name_is_told_with_the_nearest(kind: str) -> None:
    text, where, found, do = UNKNOWN[kind]
    problems = check_against_trade(read_record(text.encode()), TRADE, source=text.encode())
    assert len(problems) == 1
    assert problems[0].where.startswith(where)
    assert found in problems[0].found
    assert do in problems[0].do
    assert problems[0].allowed


def test_all_unknown_names_are_told_at_once_and_without_the_file_they_are_told_without_lines() -> None:
    text = HEAD + 'covers_off = ["x"]\nfindings = ["wheel bent"]\nsigns = ["y"]\n[[gates]]\ntemplate = "z"\n'
    machine = read_record(text.encode())
    assert [problem.where for problem in check_against_trade(machine, TRADE)] == [
        "covers_off row 1",
        "findings row 1 (f1), what",
        "signs row 1 (s1), sign",
        "gates row 1 (g1), template",
    ]


def test_ten_thousand_odd_findings_are_not_all_read() -> None:
    text = HEAD + "findings = [" + '"zzz",' * 10_000 + "]"
    problems = check_against_trade(read_record(text.encode()), TRADE)
    assert len(problems) == 101 and "at least 1 more" in problems[-1].found


@pytest.mark.parametrize("name", ["tourer", "Sport-Tourer", "sport tourer", "TOURING"])
def test_a_class_may_go_by_its_other_names(name: str) -> None:
    found = find_class(name, TRADE)
    assert found is not None and found.id == "tourer"


def test_on_a_mirrored_machine_the_sides_are_those_of_the_mirrored_data() -> None:
    text = HEAD + 'mirrored = true\n[[findings]]\ncomponent = "shift_lever"\nside = "right"\n'
    machine = read_record(text.encode())
    assert check_against_trade(machine, mirror_trade(TRADE)) == []
    assert [problem.found for problem in check_against_trade(machine, TRADE)] == [
        "right, but shift_lever is on the left"
    ]
