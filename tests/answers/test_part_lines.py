"""Part lines of the record and of the rebuild are the same lines; states hand-worked from the record."""

from __future__ import annotations

from tests.answers.plain import TRADE, known
from tests.answers.plain_plan import plain_planned
from wreckwright.answers.part_lines import line_index, lines_in_record, state_words
from wreckwright.futures.draw import draw

PARTS = [
    {"id": "p0", "component": "radiator", "state": "sent_back"},
    {"id": "p1", "component": "radiator", "state": "ordered", "ordered_on": "2026-11-10"},
    {"id": "p2", "component": "radiator", "state": "wanted", "name": "Second radiator"},
    {"id": "p3", "name": "Bolts", "state": "here"},
    {"id": "p4", "component": "front_wheel", "state": "shipped"},
    {"id": "p5", "component": "screen", "state": "fitted"},
    {"id": "p6", "component": "seat", "state": "kept_back", "held_until_gate": "runs"},
]


def test_every_line_that_is_waited_for_is_found_again() -> None:
    drawn = draw(known(parts=PARTS, findings=[{"component": "radiator"}, {"component": "front_wheel"}]), TRADE, n=10)
    found = {line.id: index for index, line in lines_in_record(drawn).items()}
    assert found.keys() == {"p1", "p2", "p3", "p4", "p6"} and len(set(found.values())) == 5
    names = {handle: drawn.compiled.lines[index].name for handle, index in found.items()}
    assert (names["p2"], names["p3"]) == ("Second radiator", "Bolts")
    gone = {line.id for line in drawn.known.parts} - found.keys()
    assert all(line_index(drawn, line) is None for line in drawn.known.parts if line.id in gone)
    policy = plain_planned(drawn).policy
    said = {handle: state_words(drawn, policy, index) for handle, index in found.items()}
    assert said["p1"] == "ordered on 2026-11-10" and said["p3"] == "here" and said["p4"] == "shipped"
    assert said["p6"] == f"held back until '{TRADE.gates['runs'].question}'"
    hidden = {state_words(drawn, policy, index) for index in range(len(drawn.compiled.lines))
              if drawn.compiled.rebuild.slots[drawn.compiled.rebuild.lines[index].slot].kind == "follow_up"}
    assert hidden == {"ordered once it is found"}
