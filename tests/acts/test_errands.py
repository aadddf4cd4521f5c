"""Errands: taken on, changed, done with what they brought. Expected rows are hand-worked."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from tests.acts.at_the_bench import as_one, bench, nothing_written
from tests.acts.kept import SENT, machine, rev, sending
from wreckwright.acts.errands import ErrandForm, change_errand, errand_done, note_errand
from wreckwright.errors import ConflictError, EntryError, NotThere


def test_a_call_is_taken_on_and_its_answer_goes_where_it_belongs(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    form = ErrandForm(kind="call", words=" the shop: when does  it come? ", part="p2", gate="papers", day="27 Nov 2026")
    told = as_one(place, lambda sent: note_errand(place, uid, form, sent))
    errand = machine(place, uid).errands[-1]
    assert (errand.id, errand.kind, errand.words, errand.part, errand.gate, errand.day) == (
        told.handle, "call", "the shop: when does it come?", "p2", "papers", dt.date(2026, 11, 27))
    done = as_one(
        place,
        lambda sent: errand_done(
            place, uid, told.handle, "next week\nsays the man", sent, gate_answer="yes", promised_on="2026-12-04"),
        "operation2",
    )
    kept = machine(place, uid)
    assert kept.errands[-1].done and kept.errands[-1].answer == "next week\nsays the man"
    assert kept.parts[1].promised_on == dt.date(2026, 12, 4)
    assert [(gate.template, gate.answer) for gate in kept.gates] == [("papers", "yes")]
    assert done.said == (
        "Errand done: the shop: when does it come?; the question is answered: yes; promised for 2026-12-04; next week"
    )


def test_a_trip_wants_something_of_the_machine(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    form = ErrandForm(kind="trip", words="the painter", wants=("rolls", "steers", "rolls"), batch="b1")
    note_errand(place, uid, form, SENT)
    errand = machine(place, uid).errands[-1]
    assert (errand.kind, errand.wants, errand.batch) == ("trip", ("rolls", "steers"), "b1")
    # A call wants nothing, whatever was ticked before it was called one.
    note_errand(place, uid, ErrandForm(kind="call", words="x", wants=("rolls",)), SENT)
    assert machine(place, uid).errands[-1].wants == ()


@pytest.mark.parametrize(
    ("form", "field"),
    [
        (ErrandForm(words=" "), "words"),
        (ErrandForm(words="x", kind="walk"), "kind"),
        (ErrandForm(words="x", day="soon"), "day"),
        (ErrandForm(words="x", kind="trip", wants=("flies",)), "wants"),
        (ErrandForm(words="x", gate="tea"), "gate"),
        (ErrandForm(words="x", part="p9"), "part"),
        (ErrandForm(words="x", batch="b9"), "batch"),
        (ErrandForm(words="x" * 201), "words"),
    ],
)
def test_what_is_not_understood_names_its_field(tmp_path: Path, form: ErrandForm, field: str) -> None:
    place, uid = bench(tmp_path)
    error = nothing_written(place, lambda: note_errand(place, uid, form, SENT), EntryError)
    assert isinstance(error, EntryError) and error.field == field and error.allowed and error.do


def test_only_what_was_edited_is_changed(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    base = rev(place, uid, "errands", "e1")
    assert change_errand(place, uid, "e1", base, ErrandForm(words="the inspection"), SENT).change_id is None
    as_one(place, lambda sent: change_errand(place, uid, "e1", base, ErrandForm(day="2026-12-01"), sent))
    # Another device, from the same page, something else: both stay.
    change_errand(place, uid, "e1", base, ErrandForm(words="the inspection in town", day=""), sending("operation3"))
    errand = machine(place, uid).errands[0]
    assert (errand.words, errand.day, errand.wants) == ("the inspection in town", dt.date(2026, 12, 1), ("rolls",))
    with pytest.raises(ConflictError):
        change_errand(place, uid, "e1", base, ErrandForm(day="2026-12-09"), sending("operation4"))
    nothing_written(place, lambda: change_errand(place, uid, "e1", base, ErrandForm(words=""), SENT), EntryError)
    nothing_written(place, lambda: change_errand(place, uid, "e9", 1, ErrandForm(words="x"), SENT), NotThere)


def test_an_answer_needs_a_question_and_a_promise_a_part(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    for over, field in (({"gate_answer": "yes"}, "gate_answer"), ({"promised_on": "2026-12-04"}, "promised_on"),
                        ({"gate_answer": "perhaps"}, "gate_answer"), ({"promised_on": "soon"}, "promised_on")):
        error = nothing_written(place, lambda over=over: errand_done(place, uid, "e1", "", SENT, **over), EntryError)  # type: ignore[misc]
        assert isinstance(error, EntryError) and error.field == field
    nothing_written(place, lambda: errand_done(place, uid, "e9", "", SENT), NotThere)


def test_an_answer_to_a_question_that_has_its_row_goes_into_it(tmp_path: Path) -> None:
    place, uid = bench(tmp_path, '\n[[gates]]\nid = "g7"\ntemplate = "papers"\n')
    handle = note_errand(place, uid, ErrandForm(words="the bank", gate="papers"), SENT).handle
    errand_done(place, uid, handle, "", SENT, gate_answer="no")
    assert [(gate.id, gate.answer) for gate in machine(place, uid).gates] == [("g7", "no")]
