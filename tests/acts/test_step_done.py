"""Answers and looks written down: one change each, and the next step moves on.

Expected rows are hand-worked from the trade data's gates and checks.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.acts.kept import SENT, journal, machine, row, sending, thistle
from wreckwright.acts.checks import trade_data
from wreckwright.acts.step_done import answer_gate, looked_and_fine
from wreckwright.acts.writes import FindingForm, note_finding, undo_change
from wreckwright.errors import ConflictError, EntryError, NotThere

TRADE = trade_data()
BARE = 'nickname = "Thistle"\nmachine_class = "naked"\nyear = 2016\n'
OWN = BARE + '[[gates]]\nid = "squeeze"\nquestion = "Is there compression?"\nkind = "bench"\n'


def test_a_question_of_the_trade_data_gets_its_row(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path, BARE)
    told = answer_gate(place, uid, "straight", "yes", SENT)
    assert told.said == "Are the frame head and the frame straight? Yes" == journal(place)[0]
    (gate,) = machine(place, uid).gates
    assert (gate.id, gate.template, gate.answer, gate.at) == (told.handle, "straight", "yes", SENT.moment)
    # A second answer goes into the same row, and the answer can be taken back.
    assert answer_gate(place, uid, "straight", "no", SENT).handle == told.handle
    assert [one.answer for one in machine(place, uid).gates] == ["no"]
    answer_gate(place, uid, told.handle, "unasked", SENT)
    assert row(place, uid, "gates", told.handle)[1].get("answer") is None


def test_an_own_question_is_answered_by_its_handle(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path, OWN)
    assert answer_gate(place, uid, "squeeze", "way_round", SENT).said == "Is there compression? Way round"
    assert machine(place, uid).gates[0].answer == "way_round"
    assert answer_gate(place, uid, "squeeze", "way_round", SENT).change_id is None


def test_an_answer_from_an_old_page_is_a_conflict(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path, OWN)
    answer_gate(place, uid, "squeeze", "yes", SENT, base_rev=1)
    with pytest.raises(ConflictError):
        answer_gate(place, uid, "squeeze", "no", SENT, base_rev=1)
    assert machine(place, uid).gates[0].answer == "yes"


@pytest.mark.parametrize(("gate", "answer", "kind"), [
    ("straight", "perhaps", EntryError), ("crooked", "yes", NotThere)])
def test_what_there_is_not(tmp_path: Path, gate: str, answer: str, kind: type[Exception]) -> None:
    place, uid = thistle(tmp_path, BARE)
    with pytest.raises(kind):
        answer_gate(place, uid, gate, answer, SENT)
    with pytest.raises(NotThere):
        looked_and_fine(place, uid, "tea_leaves", SENT)
    assert machine(place, uid).gates == () and len(journal(place)) == 1


def test_a_look_after_which_nothing_was_wrong(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path, BARE)
    note_finding(place, uid, FindingForm(what="fork tube left bent"), SENT)
    told = looked_and_fine(place, uid, "sight_and_swing", sending("operation1"))
    assert told.said == f"{TRADE.checks['sight_and_swing'].name}: nothing found"
    fine = [one for one in machine(place, uid).findings if one.looked_fine]
    seen = {one.component for one in TRADE.checks["sight_and_swing"].detects}
    assert "fork_tube_l" in seen
    # What was found bad before stays so.
    assert {one.component for one in fine} == seen - {"fork_tube_l"}
    assert {one.check for one in fine} == {"sight_and_swing"} and len({one.id for one in fine}) == len(fine)
    # Said twice it counts once; sent twice it is one sending; one undo takes all of it back.
    assert looked_and_fine(place, uid, "sight_and_swing", SENT).change_id is None
    assert looked_and_fine(place, uid, "sight_and_swing", sending("operation1")).replayed
    undo_change(place, str(told.change_id), SENT)
    assert [one.component for one in machine(place, uid).findings if one.looked_fine] == []


def test_parts_that_such_a_machine_does_not_have_are_not_noted(tmp_path: Path) -> None:
    absent = TRADE.classes["cruiser"].absent_components
    check = next(one.id for one in TRADE.checks.values() if any(part.component in absent for part in one.detects)
                 and not all(part.component in absent for part in one.detects))
    place, uid = thistle(tmp_path, BARE.replace("naked", "cruiser"))
    looked_and_fine(place, uid, check, SENT)
    noted = {one.component for one in machine(place, uid).findings}
    assert noted and noted.isdisjoint(absent)
