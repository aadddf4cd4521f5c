"""Loose ends: left, found by a word, seen to; and taps that are sorted into one. Expected rows are hand-worked."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.acts.at_the_bench import as_one, bench, nothing_written
from tests.acts.kept import SENT, machine, rev
from wreckwright.acts.doing import start
from wreckwright.acts.heap import AS_WORDS, Decision, decide
from wreckwright.acts.loose_ends import close, find_loose, leave
from wreckwright.acts.writes import tap
from wreckwright.errors import EntryError, NotThere


def test_what_is_left_is_kept_until_it_is_seen_to(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    told = as_one(
        place, lambda sent: leave(place, uid, "rags", " inlet ports ", "lever_brake_front:test", 3, (), sent))
    assert told.said == "Not to be forgotten: rags in a port (3): inlet ports"
    (end,) = machine(place, uid).loose_ends
    assert (end.id, end.what, end.words, end.work, end.count, end.closed, end.at) == (
        told.handle, "rags", "inlet ports", "lever_brake_front:test", 3, False, SENT.moment)
    seen = as_one(place, lambda sent: close(place, uid, told.handle, sent), "operation2")
    assert seen.said == "Seen to: rags in a port (3): inlet ports" and machine(place, uid).loose_ends[0].closed
    assert close(place, uid, told.handle, SENT).change_id is None


@pytest.mark.parametrize(
    ("what", "work", "count", "kind"),
    [
        ("tools", "", 1, EntryError),
        ("bag", "lever", 1, NotThere),
        ("rags", "", 0, EntryError),
        ("rags", "", 1001, EntryError),
    ],
)
def test_what_cannot_be_left(tmp_path: Path, what: str, work: str, count: int, kind: type[Exception]) -> None:
    place, uid = bench(tmp_path)
    nothing_written(place, lambda: leave(place, uid, what, "", work, count, (), SENT), kind)
    nothing_written(place, lambda: leave(place, uid, "bag", "", "", 1, ("ab" * 32,), SENT), NotThere)
    nothing_written(place, lambda: close(place, uid, "loose9", SENT), NotThere)


def test_it_is_found_by_a_word_that_only_it_has(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    nut = leave(place, uid, "loose", "axle nut left", "", 1, (), SENT).handle
    leave(place, uid, "loose", "caliper bolts left", "", 1, (), SENT)
    kept = machine(place, uid)
    assert find_loose(kept, "Axle") == nut == find_loose(kept, nut)
    for word in ("left", "handlebar"):
        with pytest.raises(NotThere) as caught:
            find_loose(kept, word)
        assert nut in caught.value.allowed
    close(place, uid, nut, SENT)
    with pytest.raises(NotThere):
        find_loose(machine(place, uid), "axle")


@pytest.mark.parametrize(
    ("what", "note", "wanted"),
    [
        ("left_loose", "axle nut", "loose"),
        ("bag", "fairing screws, tin 3", "bag"),
        ("left_loose", "rag in port", "rags"),
        ("left_loose", "ragged edge", "loose"),
    ],
)
def test_a_tap_is_sorted_into_a_loose_end(tmp_path: Path, what: str, note: str, wanted: str) -> None:
    place, uid = bench(tmp_path)
    handle = tap(place, uid, what, note, (), SENT).handle
    base = rev(place, uid, "taps", handle)
    told = as_one(place, lambda sent: decide(place, uid, handle, base, Decision(as_="loose_end"), sent))
    kept = machine(place, uid)
    (end,) = kept.loose_ends
    assert (end.what, end.words, end.id) == (wanted, note, told.handle)
    assert (kept.taps[-1].decided, kept.taps[-1].became) == (True, end.id)
    assert "loose_end" in AS_WORDS


def test_a_tap_is_sorted_into_a_loose_end_of_some_work(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    handle = tap(place, uid, "bag", "", (), SENT).handle
    decision = Decision(as_="loose_end", what="lever bolts", target="lever_brake_front")
    decide(place, uid, handle, 1, decision, SENT)
    assert (machine(place, uid).loose_ends[0].work, machine(place, uid).loose_ends[0].words) == (
        "lever_brake_front", "lever bolts")
    other = tap(place, uid, "bag", "", (), SENT).handle
    nothing_written(
        place, lambda: decide(place, uid, other, 1, Decision(as_="loose_end", target="lever"), SENT), NotThere)


def test_a_tap_that_says_done_of_a_job_of_the_plan_does_all_that_its_card_would(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    job = start(place, uid, "lever_brake_front", SENT).handle
    handle = tap(place, uid, "done", "lever is on", (), SENT).handle
    told = as_one(
        place, lambda sent: decide(place, uid, handle, 1, Decision(as_="job_closed", target=job), sent))
    kept = machine(place, uid)
    assert told.said == "Done: Fit front brake lever; fitted: front brake lever" and kept.parts[0].state == "fitted"
    assert (kept.jobs[-1].state, kept.jobs[-1].started_at) == ("closed_up", None)
    assert (kept.taps[-1].decided, kept.taps[-1].became) == (True, job)
