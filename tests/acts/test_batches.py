"""Batches: gathered, away, back. Expected rows are hand-worked."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from tests.acts.at_the_bench import as_one, bench, nothing_written
from tests.acts.kept import SENT, machine, rev, sending
from wreckwright.acts.batches import BatchForm, batch_state, change_batch, note_batch
from wreckwright.errors import ConflictError, EntryError, NotThere, RecordError


def test_a_batch_is_gathered_away_and_back(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    form = BatchForm(
        name=" powder  coat ", components=("front_wheel", "rear_wheel", "front_wheel"), price="180", minimum="60,50",
        days="10", colour="black", done_by="the coater")
    told = as_one(place, lambda sent: note_batch(place, uid, form, sent))
    batch = machine(place, uid).batches[-1]
    assert told.said == "Gathered for work elsewhere: powder coat (Front wheel, Rear wheel)"
    assert (batch.id, batch.name, batch.components, batch.price_minor, batch.minimum_minor, batch.days) == (
        told.handle, "powder coat", ("front_wheel", "rear_wheel"), 18000, 6050, 10.0)
    as_one(place, lambda sent: batch_state(place, uid, told.handle, "away", sent, day="2026-11-18"), "operation2")
    assert (machine(place, uid).batches[-1].state, machine(place, uid).batches[-1].away_on) == (
        "away", dt.date(2026, 11, 18))
    as_one(place, lambda sent: batch_state(place, uid, told.handle, "back", sent), "operation3")
    assert machine(place, uid).batches[-1].state == "back"
    assert batch_state(place, uid, told.handle, "back", SENT).change_id is None
    as_one(place, lambda sent: batch_state(place, uid, told.handle, "gathering", sent), "operation4")
    assert (machine(place, uid).batches[-1].state, machine(place, uid).batches[-1].away_on) == ("gathering", None)


def test_without_a_day_it_went_on_the_day_of_the_record(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    batch_state(place, uid, "b1", "away", SENT)
    # The record holds for 20 November; told on the 25th.
    assert machine(place, uid).batches[0].away_on == dt.date(2026, 11, 20)


@pytest.mark.parametrize(
    ("form", "field"),
    [
        (BatchForm(name=""), "name"),
        (BatchForm(name="x", components=("wheelbarrow",)), "components"),
        (BatchForm(name="x", price="dear"), "price"),
        (BatchForm(name="x", days="soon"), "days"),
        (BatchForm(name="x" * 201), "name"),
    ],
)
def test_what_is_not_understood_names_its_field(tmp_path: Path, form: BatchForm, field: str) -> None:
    place, uid = bench(tmp_path)
    error = nothing_written(place, lambda: note_batch(place, uid, form, SENT), EntryError)
    assert isinstance(error, EntryError) and error.field == field


def test_what_cannot_be(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    nothing_written(place, lambda: batch_state(place, uid, "b1", "lost", SENT), EntryError)
    nothing_written(place, lambda: batch_state(place, uid, "b9", "away", SENT), NotThere)
    # The record's own rules: a part goes with one batch at a time, and not away tomorrow.
    nothing_written(
        place, lambda: note_batch(place, uid, BatchForm(name="chrome", components=("side_stand",)), SENT), RecordError)
    nothing_written(place, lambda: batch_state(place, uid, "b1", "away", SENT, day="2026-11-21"), RecordError)


def test_only_what_was_edited_is_changed(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    base = rev(place, uid, "batches", "b1")
    assert change_batch(place, uid, "b1", base, BatchForm(name="black paint"), SENT).change_id is None
    as_one(place, lambda sent: change_batch(place, uid, "b1", base, BatchForm(colour="RAL 9005"), sent))
    with pytest.raises(ConflictError):
        change_batch(place, uid, "b1", base, BatchForm(colour="red"), sending("operation3"))
    assert machine(place, uid).batches[0].colour == "RAL 9005"
    nothing_written(place, lambda: change_batch(place, uid, "b1", base, BatchForm(name=" "), SENT), EntryError)
