"""What goes wrong at the bench: each kind is one change, and leaves the record so that the plan knows what to do now.

Expected rows are hand-worked from the record in `at_the_bench` and the steps and pieces of the trade data.
"""

from __future__ import annotations

import datetime as dt
import io
from pathlib import Path

import pytest
from PIL import Image

from tests.acts.at_the_bench import as_one, bench, job_of, nothing_written
from tests.acts.kept import SENT, machine, sending
from wreckwright.acts.checks import trade_data
from wreckwright.acts.doing import done, start
from wreckwright.acts.photographs import keep
from wreckwright.acts.place import Place, memory
from wreckwright.acts.plan_shapes import RemedyOffer
from wreckwright.acts.sent import Sent
from wreckwright.acts.snags import SNAGS, choose_remedy, remedies_on_offer, snag, snags_for
from wreckwright.acts.work_key import work_of
from wreckwright.acts.writes import undo_change
from wreckwright.errors import EntryError, NotThere
from wreckwright.futures.needs import needs_of
from wreckwright.record.evidence import gather
from wreckwright.record.part_lines import superseded
from wreckwright.record.resolve import resolve
from wreckwright.record.types import Machine

TRADE = trade_data()
LEVER = "lever_brake_front"
DAY = dt.date(2026, 11, 20)


def put_right(kept: Machine) -> frozenset[str]:
    return gather(kept, TRADE).put_right


def keys(kept: Machine) -> dict[str, tuple[str, ...]]:
    """Key of each known need -> names of the parts it waits for."""
    found = needs_of(resolve(kept, TRADE, as_of=DAY), TRADE, {})
    return {need.key: tuple(part.name for part in need.parts) for need in found.known}


def before(kept: Machine, key: str) -> tuple[str, ...]:
    found = needs_of(resolve(kept, TRADE, as_of=DAY), TRADE, {})
    return next(need.after for need in found.known if need.key == key)


def photo(place: Place, colour: str = "teal") -> str:
    out = io.BytesIO()
    Image.new("RGB", (40, 30), colour).save(out, "JPEG")
    return keep(place, out.getvalue())


def last_change(place: Place) -> str:
    with memory(place).reading() as reader:
        return reader.changes(limit=1)[0].id


# ---- something snapped ----


def test_a_piece_that_snaps_while_it_is_moved_over_is_wanted_and_waited_for(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    told = as_one(
        place, lambda sent: snag(place, uid, f"{LEVER}:carry_over", "snapped", sent, piece="bush", note="seized solid"))
    kept = machine(place, uid)
    finding, line = kept.findings[-1], kept.parts[-1]
    # What is done about it is decided of the piece, not of the lever, and once.
    assert told.handle == finding.id
    assert {one.component for one in remedies_on_offer(place, uid, finding.id)} == {line.id}
    choose_remedy(place, uid, line.id, "genuine", SENT)
    assert remedies_on_offer(place, uid, finding.id) == ()
    choose_remedy(place, uid, line.id, "leave", SENT)
    left = machine(place, uid)
    assert left.parts[-1].state == "refused" and remedies_on_offer(place, uid, finding.id) == ()
    assert f"part:{line.id}" not in keys(left) and not before(left, f"{LEVER}:carry_over")[1:]
    undo_change(place, last_change(place), SENT)
    assert (finding.component, finding.condition, finding.evidence) == (LEVER, "bush snapped", "seized solid")
    # Named after the piece, and of no component: a bush has not the price of a lever.
    assert (line.name, line.component, line.state) == ("bush", "", "wanted")
    assert "seized solid" in line.fits_notes
    # The plan: the bush is a part that is waited for, and the moving over waits for it.
    wants = keys(kept)
    assert wants[f"part:{line.id}"] == ("bush",)
    assert f"part:{line.id}" in before(kept, f"{LEVER}:carry_over")
    # Once the lever is on, so is the bush, and nothing of it is left to do.
    done(place, uid, LEVER, None, SENT)
    after = machine(place, uid)
    assert {one.id: one.state for one in after.parts}[line.id] == "fitted"
    assert job_of(after, f"part:{line.id}").state == "closed_up"
    assert [key for key in keys(after) if key.startswith((LEVER, f"part:{line.id}"))] == [f"{LEVER}:test"]


def test_a_piece_that_is_a_component_by_name_is_found_bad_itself(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    told = as_one(place, lambda sent: snag(place, uid, "job:j1", "snapped", sent, piece="Front axle"))
    kept = machine(place, uid)
    assert (kept.findings[-1].id, kept.findings[-1].component) == (told.handle, "front_axle")
    assert told.said == "Snapped: Front axle" and len(kept.parts) == 3
    assert "front_axle" in keys(kept)


def test_without_a_piece_it_is_the_part_of_the_work(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    told = as_one(place, lambda sent: snag(place, uid, "fork_tube_l", "snapped", sent))
    finding = machine(place, uid).findings[-1]
    assert (finding.component, finding.condition, finding.id) == ("fork_tube_l", "snapped", told.handle)


def test_what_was_fitted_and_snaps_is_wanted_again_and_its_work_is_open(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    done(place, uid, f"{LEVER}:try_on", None, SENT)
    done(place, uid, LEVER, 30, SENT)
    assert put_right(machine(place, uid)) == {LEVER}
    told = as_one(place, lambda sent: snag(place, uid, f"{LEVER}:test", "snapped", sent))
    kept = machine(place, uid)
    assert told.said == "Snapped: Front brake lever; its work is open again"
    assert put_right(kept) == frozenset()
    assert [(one.component, one.state, one.remedy) for one in kept.parts if one.component == LEVER] == [
        (LEVER, "fitted", "pattern"), (LEVER, "wanted", "pattern")]
    assert (job_of(kept, LEVER).state, job_of(kept, LEVER).done_minutes) == ("not_yet", None)
    wants = keys(kept)
    assert wants[f"{LEVER}:try_on"] == ("Front brake lever",) and LEVER in wants


def test_a_piece_of_an_own_job_is_wanted_and_no_sound_part_is_found_bad_for_it(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    count = len(machine(place, uid).findings)
    told = as_one(place, lambda sent: snag(place, uid, "job:j1", "missing", sent, piece="spoke nipple"))
    kept = machine(place, uid)
    assert len(kept.findings) == count
    assert (kept.parts[-1].id, kept.parts[-1].name) == (told.handle, "spoke nipple")
    assert told.handle in kept.jobs[0].parts


def test_a_cover_can_lose_a_piece(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    told = as_one(place, lambda sent: snag(place, uid, "off:side_covers_off", "snapped", sent, piece="push rivet"))
    assert told.said == "Snapped: push rivet (Side covers off); it is wanted"
    assert machine(place, uid).parts[-1].name == "push rivet" and len(machine(place, uid).jobs) == 2


def test_what_snapped_must_be_said_where_nothing_says_it(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    for key in ("job:j2", "look:sight_and_swing", "off:seat_off", "standard:document_build"):
        error = nothing_written(place, lambda key=key: snag(place, uid, key, "snapped", SENT), EntryError)  # type: ignore[misc]
        assert isinstance(error, EntryError) and error.field == "piece"


def test_a_part_without_a_component_that_snaps_is_wanted_again(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    as_one(place, lambda sent: snag(place, uid, "part:p3", "snapped", sent))
    kept = machine(place, uid)
    assert [(one.name, one.state) for one in kept.parts if one.name == "tank badge"] == [
        ("tank badge", "wrong"), ("tank badge", "wanted")]
    # The own job that needs it waits for the new one.
    assert kept.jobs[0].parts == (kept.parts[-1].id,)


def test_missing_is_missing(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    as_one(place, lambda sent: snag(place, uid, "job:j2", "missing", sent, piece="chain_guard"))
    finding = machine(place, uid).findings[-1]
    assert finding.missing and finding.component == "chain_guard" and finding.condition == ""


# ---- a part that is no good ----


@pytest.mark.parametrize("kind", ["does_not_fit", "arrived_wrong"])
def test_a_wrong_part_stays_as_such_and_another_is_wanted_once(tmp_path: Path, kind: str) -> None:
    place, uid = bench(tmp_path)
    done(place, uid, f"{LEVER}:try_on", 10, SENT)
    findings = machine(place, uid).findings
    told = as_one(place, lambda sent: snag(place, uid, f"{LEVER}:carry_over", kind, sent, note="hole is 2 mm off"))
    kept = machine(place, uid)
    old, new = (one for one in kept.parts if one.component == LEVER)
    assert (old.id, old.state, new.state, new.remedy, new.id) == ("p1", "wrong", "wanted", "pattern", told.handle)
    assert "hole is 2 mm off" in old.fits_notes
    # It says nothing of the machine.
    assert kept.findings == findings
    # The new one has to be tried on as well, and is bought once.
    assert job_of(kept, f"{LEVER}:try_on").state == "not_yet"
    assert superseded(kept.parts) == {"p1"}
    assert keys(kept)[f"{LEVER}:try_on"] == ("Front brake lever",)
    # With the new one fitted it is right, although the wrong one still lies there.
    done(place, uid, LEVER, None, SENT)
    after = machine(place, uid)
    assert {one.id: one.state for one in after.parts if one.component == LEVER} == {"p1": "wrong", new.id: "fitted"}
    assert put_right(after) == {LEVER}


def test_an_own_part_goes_on_under_the_key_of_its_new_line(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    done(place, uid, "part:p2:try_on", 5, SENT)
    start(place, uid, "part:p2", SENT)
    told = as_one(place, lambda sent: snag(place, uid, "part:p2", "does_not_fit", sent))
    kept = machine(place, uid)
    new = told.handle
    assert (kept.parts[1].state, kept.parts[-1].supplier) == ("wrong", "the shop at the corner")
    assert {job.stands_for for job in kept.jobs if job.stands_for} == {f"part:{new}", f"part:{new}:try_on"}
    assert job_of(kept, f"part:{new}").started_at is None
    wants = keys(kept)
    assert f"part:{new}" in wants and not any(key.startswith("part:p2") for key in wants)


def test_of_several_lines_the_nearest_is_meant_unless_one_is_named(tmp_path: Path) -> None:
    more = '\n[[parts]]\nid = "p9"\ncomponent = "lever_brake_front"\nname = "spare lever"\nstate = "ordered"\n'
    place, uid = bench(tmp_path, more)
    snag(place, uid, LEVER, "arrived_wrong", SENT, piece="p9")
    assert {one.id: one.state for one in machine(place, uid).parts}["p9"] == "wrong"
    snag(place, uid, LEVER, "arrived_wrong", SENT)
    assert {one.id: one.state for one in machine(place, uid).parts}["p1"] == "wrong"
    error = nothing_written(place, lambda: snag(place, uid, LEVER, "does_not_fit", SENT, piece="p77"), EntryError)
    assert isinstance(error, EntryError) and error.field == "piece"


def test_a_wrong_part_that_stands_in_no_line(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    as_one(place, lambda sent: snag(place, uid, "fork_tube_l", "arrived_wrong", sent))
    lines = [(one.state, one.name) for one in machine(place, uid).parts if one.component == "fork_tube_l"]
    assert lines == [("wrong", ""), ("wanted", "")]


# ---- it takes longer, and a no ----


def test_what_takes_longer_says_how_long_still(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    start(place, uid, LEVER, SENT)
    hour = Sent(who="the bench", device="ab12", op="longer", body_hash="one", at=SENT.at + dt.timedelta(hours=1))
    told = snag(place, uid, LEVER, "took_longer", hour, minutes=45)
    job = job_of(machine(place, uid), LEVER)
    assert told.handle == job.id and (job.done_minutes, job.started_at, job.state) == (60.0, None, "open")
    # 60 worked and 45 to do; 1 in 10 below and above by exp(1.2816 * 0.35) = 1.566 (hand-worked).
    assert job.minutes is not None and job.minutes.likely == 105.0
    assert job.minutes.low == pytest.approx(60 + 45 / 1.566, abs=0.1)
    assert job.minutes.high == pytest.approx(60 + 45 * 1.566, abs=0.1)
    for minutes in (None, 0, -5, 60_000):
        error = nothing_written(
            place, lambda minutes=minutes: snag(place, uid, LEVER, "took_longer", SENT, minutes=minutes), EntryError)  # type: ignore[misc]
        assert isinstance(error, EntryError) and error.field == "minutes"


def test_took_longer_is_one_change(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    as_one(place, lambda sent: snag(place, uid, "job:j2", "took_longer", sent, minutes=30, note="rusted solid"))


def test_a_question_that_failed_is_answered_no(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    told = as_one(place, lambda sent: snag(place, uid, "gate:straight", "gate_failed", sent))
    (gate,) = machine(place, uid).gates
    assert (gate.id, gate.template, gate.answer) == (told.handle, "straight", "no")
    assert told.said == "Are the frame head and the frame straight? No"
    # Said again it goes into the same row.
    assert snag(place, uid, "gate:straight", "gate_failed", SENT).change_id is None
    note = "stops at half a turn"
    noted = as_one(place, lambda sent: snag(place, uid, "gate:turns", "gate_failed", sent, note=note), "operation2")
    assert machine(place, uid).log[-1].note.endswith("stops at half a turn") and noted.change_id


# ---- what can be said of what, photographs ----


@pytest.mark.parametrize(
    ("key", "kinds"),
    [
        (LEVER, ("snapped", "does_not_fit", "arrived_wrong", "missing", "took_longer")),
        (f"{LEVER}:test", ("snapped", "does_not_fit", "arrived_wrong", "missing", "fails_test", "took_longer")),
        ("job:j2", ("snapped", "missing", "took_longer")),
        ("gate:straight", ("gate_failed",)),
        ("look:sight_and_swing", ("snapped", "missing")),
        ("off:seat_off", ("snapped", "missing")),
    ],
)
def test_only_what_makes_sense_can_be_said(tmp_path: Path, key: str, kinds: tuple[str, ...]) -> None:
    place, uid = bench(tmp_path)
    assert snags_for(work_of(key, machine(place, uid), TRADE)) == kinds
    for kind in SNAGS.keys() - set(kinds):
        error = nothing_written(place, lambda kind=kind: snag(place, uid, key, kind, SENT, minutes=5), EntryError)  # type: ignore[misc]
        assert isinstance(error, EntryError) and error.field == "kind"
    nothing_written(place, lambda: snag(place, uid, key, "exploded", SENT), EntryError)


def test_photographs_go_to_the_finding_else_into_the_log(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    one, two = photo(place), photo(place, "navy")
    as_one(place, lambda sent: snag(place, uid, "fork_tube_l", "snapped", sent, photos=(one, two, one)))
    assert machine(place, uid).findings[-1].photos == (one, two)
    as_one(place, lambda sent: snag(place, uid, LEVER, "does_not_fit", sent, photos=(one, two)), "operation2")
    assert [entry.photo_sha256 for entry in machine(place, uid).log] == [one, two]
    nothing_written(place, lambda: snag(place, uid, LEVER, "snapped", SENT, photos=("ab" * 32,)), NotThere)


def test_too_many_words_for_a_piece(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    error = nothing_written(place, lambda: snag(place, uid, LEVER, "snapped", SENT, piece="x" * 201), EntryError)
    assert isinstance(error, EntryError) and error.field == "piece"


# ---- what can be done about it ----


def by_remedy(offers: tuple[RemedyOffer, ...]) -> dict[str, RemedyOffer]:
    return {one.remedy: one for one in offers}


def test_the_remedies_are_offered_with_price_and_wait_and_the_usual_one_marked(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    told = snag(place, uid, "fork_tube_l", "snapped", SENT)
    offers = by_remedy(remedies_on_offer(place, uid, told.handle))
    # A fork tube is not mended, and nobody can ride without one (trade data).
    assert set(offers) == {"pattern", "genuine", "used"} and offers["pattern"].usual and offers["pattern"].chosen
    assert sum(one.usual for one in offers.values()) == 1
    assert all(one.price.startswith("about EUR ") and one.wait.startswith("usually ") for one in offers.values())
    assert offers["pattern"].wait == "usually 3 days, 9 times in 10 within 9"
    assert {one.component for one in offers.values()} == {"fork_tube_l"}
    as_one(place, lambda sent: choose_remedy(place, uid, "fork_tube_l", "genuine", sent))
    assert [(one.component, one.remedy) for one in machine(place, uid).remedies] == [("fork_tube_l", "genuine")]
    assert by_remedy(remedies_on_offer(place, uid, told.handle))["genuine"].chosen
    # Chosen otherwise: the same row.
    choose_remedy(place, uid, "fork_tube_l", "used", sending("operation9"))
    assert [one.remedy for one in machine(place, uid).remedies] == ["used"]


def test_a_wish_follows_the_choice_and_an_order_that_went_out_does_not(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    told = snag(place, uid, LEVER, "does_not_fit", SENT)
    choose_remedy(place, uid, LEVER, "genuine", SENT)
    lines = {one.id: one.remedy for one in machine(place, uid).parts}
    assert lines[told.handle] == "genuine" and lines["p1"] == "pattern"


def test_for_a_mere_piece_the_line_is_decided_about(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    told = snag(place, uid, "job:j1", "missing", SENT, piece="spoke nipple")
    offers = by_remedy(remedies_on_offer(place, uid, told.handle))
    assert set(offers) == {"repair", "genuine", "pattern", "used", "modify", "leave"}
    assert offers["genuine"].price == "price not known: ask" and offers["leave"].wait == ""
    as_one(place, lambda sent: choose_remedy(place, uid, told.handle, "used", sent))
    assert machine(place, uid).parts[-1].remedy == "used"
    as_one(place, lambda sent: choose_remedy(place, uid, told.handle, "leave", sent), "operation2")
    kept = machine(place, uid)
    assert (kept.parts[-1].id, kept.parts[-1].state, kept.jobs[0].parts) == (told.handle, "refused", ("p3",))
    assert not any(key.endswith(told.handle) for key in keys(kept))
    assert kept.jobs[0].after == () and len(kept.jobs) == 2


def test_what_cannot_be_chosen(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    nothing_written(place, lambda: choose_remedy(place, uid, "fork_tube_l", "pray", SENT), EntryError)
    nothing_written(place, lambda: choose_remedy(place, uid, "wheelbarrow", "used", SENT), NotThere)
    # What is here already is not left as it is by a word.
    nothing_written(place, lambda: choose_remedy(place, uid, "p3", "leave", SENT), EntryError)
    assert remedies_on_offer(place, uid, "nothing") == () == remedies_on_offer(place, uid, "j1")
    with pytest.raises(NotThere):
        remedies_on_offer(place, "nobody", "f1")


def test_a_new_battery_that_takes_no_charge_goes_back(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    done(place, uid, "part:p2:try_on", 5, SENT)
    told = as_one(place, lambda sent: snag(place, uid, "part:p2:charge", "fails_test", sent, note="9.8 V"))
    assert told.said == "Fails its test: Battery; another one is wanted"
    old, new = [line for line in machine(place, uid).parts if line.component == "battery"]
    assert (old.state, old.fits_notes, new.state) == ("wrong", "fails its test; 9.8 V", "wanted")
    # The machine is as it was; the next one is tried on and charged as well.
    assert len(machine(place, uid).findings) == 2
    assert job_of(machine(place, uid), f"part:{new.id}:try_on").state == "not_yet"


def test_what_fails_its_test_after_it_was_fitted_is_bad_and_its_work_is_open_again(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    done(place, uid, LEVER, 20, SENT)
    assert LEVER in gather(machine(place, uid), TRADE).put_right
    told = as_one(place, lambda sent: snag(place, uid, f"{LEVER}:test", "fails_test", sent, note="sinks to the grip"))
    assert told.said == "Fails its test: Front brake lever; its work is open again"
    found = machine(place, uid).findings[-1]
    assert (found.component, found.condition, found.evidence) == (LEVER, "fails its test", "sinks to the grip")
    assert LEVER not in gather(machine(place, uid), TRADE).put_right
    assert [line.state for line in machine(place, uid).parts if line.component == LEVER] == ["fitted", "wanted"]
    assert remedies_on_offer(place, uid, told.handle)


@pytest.mark.parametrize("remedy", ["repair", "leave"])
def test_a_wish_for_a_part_ends_when_nothing_is_bought_any_more(tmp_path: Path, remedy: str) -> None:
    place, uid = bench(tmp_path)
    snag(place, uid, LEVER, "arrived_wrong", SENT)
    wished = machine(place, uid).parts[-1]
    assert (wished.component, wished.state, wished.remedy) == (LEVER, "wanted", "pattern")
    as_one(place, lambda sent: choose_remedy(place, uid, LEVER, remedy, sent))
    assert [line.state for line in machine(place, uid).parts if line.component == LEVER] == ["wrong", "refused"]
    # Mended in the end: no part that was never bought is fitted.
    if remedy == "repair":
        done(place, uid, LEVER, 20, SENT)
        assert [line.state for line in machine(place, uid).parts if line.component == LEVER] == ["wrong", "refused"]
