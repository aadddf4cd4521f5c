"""Taps sorted out: each into one row, once, with one change that can be taken back."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tests.acts.kept import SENT, THISTLE, as_replayed, journal, machine, rev, sending, thistle
from wreckwright.acts import ask
from wreckwright.acts.facts import Facts
from wreckwright.acts.finding_form import FindingForm
from wreckwright.acts.heap import As, Decision, decide
from wreckwright.acts.photographs import keep
from wreckwright.acts.place import Place
from wreckwright.acts.writes import Told, change_facts, change_finding, tap, undo_change
from wreckwright.errors import ConflictError, EntryError, NotThere, RecordError
from wreckwright.record.types import Job, Machine, PartLine, Tap

PNG = b"\x89PNG\r\n\x1a\n" + bytes(30)


@pytest.fixture
def kept(tmp_path: Path) -> tuple[Place, str]:
    return thistle(tmp_path)


def sort(kept: tuple[Place, str], as_: As, handle: str = "tap1", **more: object) -> Told:
    place, uid = kept
    return decide(place, uid, handle, rev(place, uid, "taps", handle), Decision(as_=as_, **more), SENT)  # type: ignore[arg-type]


def the_tap(kept: tuple[Place, str], handle: str = "tap1") -> Tap:
    return next(one for one in machine(*kept).taps if one.id == handle)


def part(kept: tuple[Place, str], handle: str = "p1") -> PartLine:
    return next(one for one in machine(*kept).parts if one.id == handle)


def job(kept: tuple[Place, str], handle: str = "j1") -> Job:
    return next(one for one in machine(*kept).jobs if one.id == handle)


def test_into_a_finding_with_its_photographs(kept: tuple[Place, str]) -> None:
    place, uid = kept
    sha = keep(place, PNG)
    handle = tap(place, uid, "snag", "it wobbles", (sha,), SENT).handle
    told = sort(kept, "finding", handle, component="front_wheel", severity=3)
    found = machine(*kept).findings[-1]
    assert told.handle == found.id == "f2"
    assert (found.component, found.severity, found.evidence, found.photos) == ("front_wheel", 3, "it wobbles", (sha,))
    assert the_tap(kept, handle) == Tap(
        id=handle, at=found.at, what="snag", note="it wobbles", photos=(sha,), decided=True, became="f2"
    )
    assert told.said == "Sorted into a finding: Front wheel: can hurt"


def test_into_a_finding_by_its_own_words(kept: tuple[Place, str]) -> None:
    place, uid = kept
    handle = tap(place, uid, "snag", "tank dented", (), SENT).handle
    sort(kept, "finding", handle)
    found = machine(*kept).findings[-1]
    # The words are the finding; they are not kept a second time as its evidence.
    assert (found.what, found.component, found.evidence, found.severity) == ("tank dented", "", "", 2)


def test_a_finding_may_also_be_that_something_is_missing_or_fine(kept: tuple[Place, str]) -> None:
    sort(kept, "finding", component="mirror_r", state="missing")
    assert machine(*kept).findings[-1].missing


@pytest.mark.parametrize(("as_", "state"), [("part_here", "here"), ("part_fitted", "fitted"), ("part_wrong", "wrong")])
def test_into_what_became_of_a_part(kept: tuple[Place, str], as_: As, state: str) -> None:
    told = sort(kept, as_, target="p1")
    assert part(kept).state == state and told.handle == "p1" and the_tap(kept).became == "p1"
    # When it was ordered stays as it was written.
    assert part(kept).ordered_on and part(kept).component == "mirror_l"


def test_a_part_that_is_gone_does_not_come_here(tmp_path: Path) -> None:
    for number, state in enumerate(("fitted", "sold", "refunded", "sent_back", "refused")):
        folder = tmp_path / str(number)
        folder.mkdir()
        kept = thistle(folder, THISTLE.replace('state = "ordered"', f'state = "{state}"'))
        with pytest.raises(EntryError, match=f"is {state.replace('_', ' ')}") as caught:
            sort(kept, "part_here", target="p1")
        assert caught.value.field == "target"
        assert not the_tap(kept).decided


def test_what_is_fitted_may_be_told_again_or_turn_out_wrong(tmp_path: Path) -> None:
    kept = thistle(tmp_path, THISTLE.replace('state = "ordered"', 'state = "fitted"'))
    sort(kept, "part_fitted", target="p1")
    assert rev(*kept, "parts", "p1") == 1 and the_tap(kept).became == "p1"
    handle = tap(*kept, "snag", "does not fit after all", (), SENT).handle
    sort(kept, "part_wrong", handle, target="p1")
    assert part(kept).state == "wrong"


def test_a_fitted_part_puts_the_finding_right(kept: tuple[Place, str]) -> None:
    asked = ask.Question(machine="Thistle", place=kept[0])
    assert "mirror_l" not in ask.open_machine(asked).known.put_right
    sort(kept, "part_fitted", target="p1")
    assert "mirror_l" in ask.open_machine(asked).known.put_right


def test_into_a_part_that_nobody_had_written_down(kept: tuple[Place, str]) -> None:
    handle = tap(*kept, "arrived", "brake lever, from the box", (), SENT).handle
    told = sort(kept, "new_part_here", handle, component="lever_brake_front")
    new = part(kept, told.handle)
    assert (new.name, new.component, new.state) == ("brake lever, from the box", "lever_brake_front", "here")
    # Nobody knows when it was ordered.
    assert new.ordered_on is None


def test_into_a_job_that_is_closed(kept: tuple[Place, str]) -> None:
    assert sort(kept, "job_closed", target="j1").said == "Closed up: True the wheel"
    assert job(kept).state == "closed_up"


def test_a_job_that_is_proved_stays_proved(tmp_path: Path) -> None:
    kept = thistle(tmp_path, THISTLE.replace('kind = "repair"', 'kind = "repair"\nstate = "proved"'))
    sort(kept, "job_closed", target="j1")
    assert job(kept).state == "proved" and the_tap(kept).became == "j1"


@pytest.mark.parametrize(
    ("what", "state", "kind"),
    [("done", "closed_up", "fit"), ("snag", "not_yet", "fit"), ("left_loose", "not_yet", "adjust")],
)
def test_into_a_new_job(kept: tuple[Place, str], what: str, state: str, kind: str) -> None:
    handle = tap(*kept, what, "axle nut", (), SENT).handle
    told = sort(kept, "new_job", handle, component="front_wheel")
    new = job(kept, told.handle)
    assert (new.name, new.component, new.state, new.kind) == ("axle nut", "front_wheel", state, kind)


def test_it_may_stay_a_note_and_be_put_in_better_words(kept: tuple[Place, str]) -> None:
    told = sort(kept, "note", note="rear brake dragged; pads were new")
    assert the_tap(kept) == Tap(id="tap1", what="snag", note="rear brake dragged; pads were new", decided=True)
    assert told.handle == "tap1" and told.said == "Kept as a note: Snag: rear brake dragged; pads were new"


def test_what_is_sorted_already_is_not_sorted_again(kept: tuple[Place, str]) -> None:
    first = sort(kept, "finding", component="rear_caliper")
    for as_ in ("finding", "note"):
        with pytest.raises(ConflictError, match="was sorted already, into f2") as caught:
            sort(kept, as_, component="rear_caliper")  # type: ignore[arg-type]
        assert caught.value.conflicts[0].since == first.said
        assert (caught.value.conflicts[0].kind, caught.value.conflicts[0].field) == ("taps", "decided")
    assert len(machine(*kept).findings) == 2


def test_two_who_sort_the_same_tap_at_once_make_one_row(kept: tuple[Place, str]) -> None:
    def one(_: int) -> bool:
        try:
            decide(*kept, "tap1", 1, Decision(as_="finding", component="rear_caliper"), SENT)
        except ConflictError:
            return False
        return True

    with ThreadPoolExecutor(8) as pool:
        assert sum(pool.map(one, range(8))) == 1
    assert len(machine(*kept).findings) == 2


def test_the_decision_is_taken_back_whole(kept: tuple[Place, str]) -> None:
    before = machine(*kept)
    for as_, more in (
        ("finding", {"component": "rear_caliper"}),
        ("part_fitted", {"target": "p1"}),
        ("new_job", {"what": "bleed it"}),
        ("note", {"note": "never mind"}),
    ):
        told = sort(kept, as_, **more)  # type: ignore[arg-type]
        assert machine(*kept) != before and told.change_id
        undo_change(kept[0], told.change_id, SENT)
        assert machine(*kept) == before


def test_what_it_became_and_was_changed_since_keeps_the_decision(kept: tuple[Place, str]) -> None:
    told = sort(kept, "finding", component="rear_caliper")
    change_finding(*kept, told.handle, 1, FindingForm(severity=3), SENT)
    assert told.change_id
    with pytest.raises(ConflictError):
        undo_change(kept[0], told.change_id, SENT)


@pytest.mark.parametrize(
    ("decision", "field"),
    [
        (Decision(as_="part_here"), "target"),
        (Decision(as_="job_closed"), "target"),
        (Decision(as_="finding", what="flumox"), "what"),
        (Decision(as_="finding"), "what"),
        (Decision(as_="finding", component="radiator", severity=7), "severity"),
        (Decision(as_="new_part_here", component="flumox"), "component"),
        (Decision(as_="new_job", component="radiatr"), "component"),
        (Decision(as_="note", note="x" * 2001), "note"),
        (Decision(as_="burnt"), "as"),  # type: ignore[arg-type]
    ],
)
def test_what_cannot_be_understood_leaves_the_tap_where_it_is(
    kept: tuple[Place, str], decision: Decision, field: str
) -> None:
    place, uid = kept
    handle = tap(place, uid, "snag", "brake" if decision.as_ == "finding" else "", (), SENT).handle
    entries = len(journal(place))
    with pytest.raises(EntryError) as caught:
        decide(place, uid, handle, 1, decision, SENT)
    assert caught.value.field == field and caught.value.allowed and caught.value.do
    assert not the_tap(kept, handle).decided and len(journal(place)) == entries


def test_a_new_row_needs_a_word_or_a_component(kept: tuple[Place, str]) -> None:
    handle = tap(*kept, "bag", "", (), SENT).handle
    with pytest.raises(EntryError, match="nothing is said"):
        sort(kept, "new_job", handle)
    assert sort(kept, "new_job", handle, component="front_wheel").said == "New job: Front wheel"


def test_what_is_not_there_is_told(kept: tuple[Place, str]) -> None:
    with pytest.raises(NotThere, match="no part line 'p9' of Thistle"):
        sort(kept, "part_here", target="p9")
    with pytest.raises(NotThere, match="no job 'p1'"):
        sort(kept, "job_closed", target="p1")
    with pytest.raises(NotThere, match="no tap 'tap9'"):
        decide(*kept, "tap9", 1, Decision(as_="note"), SENT)


def test_the_rules_of_a_record_hold_for_decisions_too(kept: tuple[Place, str]) -> None:
    # The part line is fine on the day of the record, and would not be on an earlier one; nothing here moves the day.
    before: Machine = machine(*kept)
    sort(kept, "part_fitted", target="p1")
    assert machine(*kept).as_of == before.as_of
    with pytest.raises(RecordError, match="ordered_on"):
        change_facts(*kept, {"machine": 1}, Facts(as_of="2026-11-01"), SENT)


SORTS: dict[str, Callable[[], Decision]] = {
    "finding": lambda: Decision(as_="finding", component="rear_caliper"),
    "part_here": lambda: Decision(as_="part_here", target="p1"),
    "part_fitted": lambda: Decision(as_="part_fitted", target="p1"),
    "part_wrong": lambda: Decision(as_="part_wrong", target="p1"),
    "new_part_here": lambda: Decision(as_="new_part_here"),
    "job_closed": lambda: Decision(as_="job_closed", target="j1"),
    "new_job": lambda: Decision(as_="new_job"),
    "note": lambda: Decision(as_="note"),
}


@pytest.mark.parametrize("name", SORTS)
def test_the_same_decision_sent_again_counts_once(kept: tuple[Place, str], name: str) -> None:
    first = decide(*kept, "tap1", 1, SORTS[name](), sending("operation-1"))
    after = machine(*kept)
    assert decide(*kept, "tap1", 1, SORTS[name](), sending("operation-1")) == as_replayed(first)
    assert machine(*kept) == after and len(journal(kept[0])) == 2
    assert the_tap(kept).decided
