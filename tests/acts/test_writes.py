"""Changes of a stored machine: what is written, what is refused, what happens when two write, what a repeat does."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from msgspec.structs import replace

from tests.acts.kept import (
    AT,
    EXAMPLES,
    SENT,
    THISTLE,
    as_replayed,
    journal,
    machine,
    rev,
    row,
    sending,
    thistle,
)
from wreckwright.acts.checks import check_machine, record_problems, trade_data
from wreckwright.acts.facts import Facts, facts_of
from wreckwright.acts.finding_form import FindingForm
from wreckwright.acts.machines import NewMachine, load_record, new_machine
from wreckwright.acts.photographs import keep
from wreckwright.acts.place import Place, memory
from wreckwright.acts.sent import Sent
from wreckwright.acts.writes import (
    Told,
    change_facts,
    change_finding,
    note_finding,
    remove_row,
    rest_fine,
    tap,
    undo_change,
)
from wreckwright.errors import (
    ConflictError,
    EntryError,
    NicknameTaken,
    NotThere,
    OperationError,
    RecordError,
)
from wreckwright.record.file import read_record
from wreckwright.record.types import Finding
from wreckwright.store.apply import apply
from wreckwright.store.types import Draft, Put, RowKey

PNG = b"\x89PNG\r\n\x1a\n" + bytes(30)
NOWHERE = "ab" * 32
ALL_AT_ONE = {"machine": 1, "purchase": 1, "market": 1, "calendar": 1, "owner": 1}


@pytest.fixture
def kept(tmp_path: Path) -> tuple[Place, str]:
    return thistle(tmp_path)


# Findings. ----------------------------------------------------------------------------------------------------------


def test_a_finding_in_words_and_one_by_component(kept: tuple[Place, str]) -> None:
    place, uid = kept
    sha = keep(place, PNG)
    words = note_finding(place, uid, FindingForm(what=" tank dented ", photos=(sha,)), SENT)
    part = note_finding(place, uid, FindingForm(component="radiator", condition="leaks", severity=3, sure=0.6), SENT)
    assert (words.said, words.handle) == ("Noted: tank dented", "f2")
    assert (part.said, part.handle) == ("Noted: Radiator: leaks (can hurt)", "f3")
    at = AT.replace(microsecond=0)
    assert machine(place, uid).findings[1:] == (
        Finding(id="f2", at=at, what="tank dented", photos=(sha,)),
        Finding(id="f3", at=at, component="radiator", condition="leaks", severity=3, sure=0.6),
    )
    assert journal(place)[:2] == [part.said, words.said]


def test_the_states_of_a_finding(kept: tuple[Place, str]) -> None:
    place, uid = kept
    for state, missing, fine in (("bad", False, False), ("missing", True, False), ("fine", False, True)):
        told = note_finding(place, uid, FindingForm(component="mirror_r", state=state), SENT)  # type: ignore[arg-type]
        found = next(one for one in machine(place, uid).findings if one.id == told.handle)
        # Without a word on it the severity is 2, "works badly".
        assert (found.missing, found.looked_fine, found.severity) == (missing, fine, 2)


def test_silence_about_a_finding_leaves_fields_absent(kept: tuple[Place, str]) -> None:
    place, uid = kept
    handle = note_finding(place, uid, FindingForm(component="radiator"), SENT).handle
    assert row(place, uid, "findings", handle) == (
        1,
        {"at": "2026-11-25T19:30:12Z", "component": "radiator", "id": handle},
    )


def test_only_the_name_of_a_person_is_written_into_a_row(kept: tuple[Place, str]) -> None:
    place, uid = kept
    one = tap(place, uid, "done", "", (), sending("operation-1", who="telephone ab12")).handle
    other = tap(place, uid, "done", "", (), sending("operation-2", who="Wren", person=True)).handle
    by = {one.id: one.by for one in machine(place, uid).taps}
    assert (by[one], by[other]) == ("", "Wren")
    with memory(place).reading() as reader:
        assert [line.who for line in reader.changes(limit=2)] == ["Wren", "telephone ab12"]


@pytest.mark.parametrize(
    ("form", "field", "words"),
    [
        (FindingForm(what="flumox bent"), "what", "no part is known"),
        (FindingForm(what="brake worn"), "what", "nearest are Front brake calipers (front_calipers)"),
        (FindingForm(component="flumox"), "component", "nearest are"),
        (FindingForm(), "what", "nothing is said"),
        (FindingForm(what="  "), "what", "nothing is said"),
        (FindingForm(component="radiator", severity=4), "severity", "4"),
        (FindingForm(component="radiator", sure=1.5), "sure", "1.5"),
        (FindingForm(component="radiator", condition="x" * 201), "condition", "201"),
        (FindingForm(component="radiator", side="top"), "side", "top"),
        (FindingForm(component="radiator", state="gone"), "state", "gone"),  # type: ignore[arg-type]
        (FindingForm(component="radiator", photos=("zz",)), "photos", "zz"),
    ],
)
def test_what_cannot_be_understood_is_asked_back_and_not_written(
    kept: tuple[Place, str], form: FindingForm, field: str, words: str
) -> None:
    place, uid = kept
    with pytest.raises(EntryError) as caught:
        note_finding(place, uid, form, SENT)
    assert caught.value.field == field and words in str(caught.value) and caught.value.allowed and caught.value.do
    assert len(journal(place)) == 1


def test_a_photograph_that_is_not_kept_is_refused_everywhere(kept: tuple[Place, str]) -> None:
    place, uid = kept
    for write in (
        lambda: note_finding(place, uid, FindingForm(what="tank dented", photos=(NOWHERE,)), SENT),
        lambda: change_finding(place, uid, "f1", 1, FindingForm(photos=(NOWHERE,)), SENT),
        lambda: tap(place, uid, "snag", "", (NOWHERE,), SENT),
    ):
        with pytest.raises(NotThere, match="is not in the data folder"):
            write()
    assert len(journal(place)) == 1


def test_the_side_that_was_hit_helps_to_understand_words(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path, THISTLE.replace("year = 2016", 'year = 2016\nwhat_hit = "right"'))
    assert note_finding(place, uid, FindingForm(what="mirror cracked"), SENT).handle == "f2"


def test_a_change_sends_only_what_the_form_shows(tmp_path: Path) -> None:
    text = THISTLE.replace(
        'findings = ["left mirror gone"]',
        'findings = [{ id = "f1", what = "left mirror gone", condition = "snapped", evidence = "clip 3", sure = 0.8, '
        'check = "wheel_runout", extra = { shelf = 4 } }]',
    )
    place, uid = thistle(tmp_path, text)
    told = change_finding(place, uid, "f1", 1, FindingForm(state="bad", severity=3, what="left mirror cracked"), SENT)
    before = Finding(
        id="f1",
        what="left mirror gone",
        condition="snapped",
        evidence="clip 3",
        sure=0.8,
        check="wheel_runout",
        extra={"shelf": 4},
    )
    assert machine(place, uid).findings[0] == replace(before, what="left mirror cracked", severity=3)
    assert told.said == "Changed the finding: left mirror cracked"
    change_finding(place, uid, "f1", 2, FindingForm(evidence="", condition=""), SENT)
    assert machine(place, uid).findings[0] == replace(
        before, what="left mirror cracked", severity=3, evidence="", condition=""
    )


def test_a_form_sent_back_as_it_was_writes_nothing(kept: tuple[Place, str]) -> None:
    place, uid = kept
    form = FindingForm(
        what="left mirror gone", component="", condition="", state="bad", severity=2, sure=0.95, photos=()
    )
    told = change_finding(place, uid, "f1", 1, form, SENT)
    assert told.change_id is None and told.said.startswith("Nothing to change")
    assert rev(place, uid, "findings", "f1") == 1


def test_two_who_change_different_fields_both_keep_theirs(kept: tuple[Place, str]) -> None:
    # Both forms show and send all their fields; each was filled in at revision 1.
    place, uid = kept
    change_finding(place, uid, "f1", 1, FindingForm(what="left mirror gone", severity=3, evidence=""), SENT)
    change_finding(place, uid, "f1", 1, FindingForm(what="left mirror gone", severity=2, evidence="clip 4"), SENT)
    found = machine(place, uid).findings[0]
    assert (found.severity, found.evidence) == (3, "clip 4")


def test_two_who_change_the_same_field_are_told_and_nothing_is_written(kept: tuple[Place, str]) -> None:
    place, uid = kept
    first = change_finding(place, uid, "f1", 1, FindingForm(severity=3, evidence="clip 4"), SENT)
    with pytest.raises(ConflictError) as caught:
        change_finding(place, uid, "f1", 1, FindingForm(severity=1, condition="dull"), SENT)
    conflict = caught.value.conflicts[0]
    assert (conflict.kind, conflict.handle, conflict.field) == ("findings", "f1", "severity")
    # Absent stands for 2, the usual one.
    assert (conflict.base, conflict.now, conflict.wanted) == (None, 3, 1)
    assert conflict.since == first.said
    assert machine(place, uid).findings[0].condition == ""


def test_missing_on_one_side_and_fine_on_the_other_is_a_conflict_not_a_broken_record(kept: tuple[Place, str]) -> None:
    place, uid = kept
    handle = note_finding(place, uid, FindingForm(component="mirror_r"), SENT).handle
    change_finding(place, uid, handle, 1, FindingForm(state="missing"), SENT)
    with pytest.raises(ConflictError) as caught:
        change_finding(place, uid, handle, 1, FindingForm(state="fine"), SENT)
    assert [one.field for one in caught.value.conflicts] == ["missing"]


def test_a_change_into_words_that_mean_nothing_is_asked_back(kept: tuple[Place, str]) -> None:
    place, uid = kept
    with pytest.raises(EntryError, match="no part is known"):
        change_finding(place, uid, "f1", 1, FindingForm(what="flumox"), SENT)
    with pytest.raises(EntryError, match="nothing is said"):
        change_finding(place, uid, "f1", 1, FindingForm(what=""), SENT)
    with pytest.raises(NotThere, match="no finding 'f9' of Thistle"):
        change_finding(place, uid, "f9", 1, FindingForm(severity=3), SENT)


# Taken away. --------------------------------------------------------------------------------------------------------


def test_a_row_is_taken_away_and_comes_back(kept: tuple[Place, str]) -> None:
    place, uid = kept
    before = machine(place, uid)
    told = remove_row(place, uid, "findings", "f1", 1, SENT)
    assert told.said == "Taken away: finding, left mirror gone"
    assert machine(place, uid).findings == ()
    with pytest.raises(NotThere):
        remove_row(place, uid, "findings", "f1", 1, SENT)
    assert told.change_id
    assert undo_change(place, told.change_id, SENT).said == f"Taken back: {told.said}"
    assert machine(place, uid) == before


def test_a_row_that_others_need_stays(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path, THISTLE.replace('kind = "repair"', 'kind = "repair"\nparts = ["p1"]'))
    with pytest.raises(RecordError, match="jobs row 1 \\(j1\\)") as caught:
        remove_row(place, uid, "parts", "p1", 1, SENT)
    assert "no handle of a part line" in caught.value.problems[0].found
    assert [part.id for part in machine(place, uid).parts] == ["p1"]


def test_a_row_that_was_changed_meanwhile_stays(kept: tuple[Place, str]) -> None:
    place, uid = kept
    change_finding(place, uid, "f1", 1, FindingForm(severity=3), SENT)
    with pytest.raises(ConflictError):
        remove_row(place, uid, "findings", "f1", 1, SENT)
    assert len(machine(place, uid).findings) == 1


def test_a_list_that_does_not_exist_is_told(kept: tuple[Place, str]) -> None:
    with pytest.raises(NotThere, match="no list 'machine'"):
        remove_row(*kept, "machine", "machine", 1, SENT)


# The rest of a station. ---------------------------------------------------------------------------------------------


def test_the_rest_of_a_station_is_fine_once(kept: tuple[Place, str]) -> None:
    place, uid = kept
    first = rest_fine(place, uid, "nose_on", SENT)
    again = rest_fine(place, uid, "nose_on", SENT)
    other = rest_fine(place, uid, "tail_on", SENT)
    assert (first.handle, again.handle, other.handle) == ("f2", "f2", "f3")
    assert again.change_id is None and "before" in again.said
    found = machine(place, uid).findings[1]
    assert (found.zone, found.looked_fine, found.what, found.component) == ("nose_on", True, "", "")
    with pytest.raises(NotThere, match="no station 'roof'"):
        rest_fine(place, uid, "roof", SENT)


def test_the_rest_is_fine_once_even_if_many_say_so_at_the_same_time(kept: tuple[Place, str]) -> None:
    place, uid = kept
    with ThreadPoolExecutor(8) as pool:
        told = list(pool.map(lambda _: rest_fine(place, uid, "nose_on", SENT), range(16)))
    assert sum(one.change_id is not None for one in told) == 1
    assert [one.zone for one in machine(place, uid).findings if one.looked_fine] == ["nose_on"]


# Taps. --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("what", "said"),
    [
        ("done", "Done: chain cleaned"),
        ("snag", "Snag: chain cleaned"),
        ("arrived", "Arrived: chain cleaned"),
        ("left_loose", "Left loose: chain cleaned"),
        ("bag", "Bag: chain cleaned"),
    ],
)
def test_five_taps(kept: tuple[Place, str], what: str, said: str) -> None:
    place, uid = kept
    sha = keep(place, PNG)
    told = tap(place, uid, what, " chain cleaned ", (sha, sha), SENT)
    assert told.said.startswith(said)
    last = machine(place, uid).taps[-1]
    assert (last.what, last.note, last.photos, last.decided, last.became) == (what, "chain cleaned", (sha,), False, "")


def test_a_tap_moves_no_answer_and_no_other_is_known(kept: tuple[Place, str]) -> None:
    place, uid = kept
    with pytest.raises(EntryError, match="what: found 'shout'") as caught:
        tap(place, uid, "shout", "", (), SENT)
    assert caught.value.field == "what" and "left_loose" in caught.value.allowed
    with pytest.raises(EntryError) as caught:
        tap(place, uid, "snag", "x" * 2001, (), SENT)
    assert caught.value.field == "note"
    with pytest.raises(NotThere):
        tap(place, "nobody", "snag", "", (), SENT)
    assert len(journal(place)) == 1


def test_without_a_memory_nothing_is_made(tmp_path: Path) -> None:
    place = Place(tmp_path / "data")
    with pytest.raises(NotThere, match="there is no memory"):
        tap(place, "nobody", "snag", "", (), SENT)
    assert not place.folder.exists()


# What is known of the machine. --------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["sorrel", "bramble", "magpie"])
def test_the_facts_sent_back_as_they_are_shown_write_nothing(tmp_path: Path, name: str) -> None:
    place = Place(tmp_path / "data")
    uid = load_record(place, EXAMPLES / f"{name}.toml", sent=SENT).uid
    facts = facts_of(machine(place, uid))
    assert all(getattr(facts, field.name) is not None for field in dataclasses.fields(facts))
    assert change_facts(place, uid, ALL_AT_ONE, facts, SENT).change_id is None


def test_all_facts_that_a_form_can_show(kept: tuple[Place, str]) -> None:
    place, uid = kept
    facts = Facts(
        nickname=" Burr ",
        machine_class="roadster",
        year="2017",
        maker_and_model="Orrendal Lark 400",
        currency="gbp",
        what_hit=("left", "front"),
        key_starts_it="no",
        turns_over="yes",
        papers_right="",
        seen_in="hands_on",
        as_of="20 November 2026",
        bought=True,
        price="1,200.50",
        fees="80",
        freight="0",
        brand="clean",
        sound_value="4 000",
        sound_value_low="3500",
        sound_value_high="4800",
        aim="keep",
        accepted_loss_chance="15 %",
        hour_value="12",
        weekday_minutes=("", "2 h", "", "", "90", "5:00", ""),
    )
    told = change_facts(place, uid, ALL_AT_ONE, facts, SENT)
    now = machine(place, uid)
    assert (now.nickname, now.machine_class, now.year, now.currency) == ("Burr", "roadster", 2017, "GBP")
    assert (now.what_hit, now.seen_in, now.as_of) == (("left", "front"), "hands_on", dt.date(2026, 11, 20))
    assert (now.key_starts_it, now.turns_over, now.papers_right) == ("no", "yes", "unknown")
    purchase = now.purchase
    assert (purchase.price_minor, purchase.fees_minor, purchase.freight_minor, purchase.brand) == (
        120050,
        8000,
        0,
        "clean",
    )
    band = now.market.sound_value
    assert band and (band.low_minor, band.likely_minor, band.high_minor) == (350000, 400000, 480000)
    assert (now.owner.aim, now.owner.accepted_loss_chance, now.owner.hour_value_minor) == ("keep", 0.15, 1200)
    # hand-worked: 2 h, 90 min and 5 h, nothing on the other days.
    assert now.calendar.weekday_minutes == (0, 120, 0, 0, 90, 300, 0)
    assert told.said.startswith("What is known changed: nickname, machine class, year")
    assert facts_of(now).price == "1200.50"


def test_the_rest_of_the_facts_that_a_form_can_show(kept: tuple[Place, str]) -> None:
    place, uid = kept
    facts = Facts(
        vin=" WW123 ",
        odometer="21.300",
        odometer_unit="mi",
        mirrored=True,
        at_auction=True,
        days_to_sell="45",
        selling_share="4.5",
        as_it_stands="600",
        part_out="750.50",
        attendance="70 %",
        wanted_pay="15",
        workshop_hour="80",
        holding_day="1.20",
        pace="1.125",
        words="us",
    )
    change_facts(place, uid, ALL_AT_ONE, facts, SENT)
    now = machine(place, uid)
    assert (now.vin, now.odometer, now.odometer_unit, now.mirrored) == ("WW123", 21300.0, "mi", True)
    market = now.market
    assert (now.purchase.at_auction, market.days_to_sell, market.selling_share) == (True, 45.0, 0.045)
    assert (market.as_it_stands_minor, market.part_out_minor, now.calendar.attendance) == (60000, 75050, 0.7)
    owner = now.owner
    assert (owner.wanted_pay_minor, owner.workshop_hour_minor, owner.holding_day_minor) == (1500, 8000, 120)
    assert (owner.pace, owner.words) == (1.125, "us")
    revs = {kind: rev(place, uid, kind) for kind in ALL_AT_ONE}
    assert change_facts(place, uid, revs, facts_of(now), SENT).change_id is None
    nothing = dict.fromkeys(
        ("vin", "odometer", "odometer_unit", "days_to_sell", "selling_share", "as_it_stands", "part_out")
        + ("attendance", "wanted_pay", "workshop_hour", "holding_day", "pace", "words"),
        "",
    )
    change_facts(place, uid, revs, Facts(mirrored=False, at_auction=False, **nothing), SENT)  # type: ignore[arg-type]
    assert [row(place, uid, kind)[1] for kind in ("market", "calendar", "owner")] == [{}, {}, {}]


def test_an_empty_text_is_not_known_any_more(kept: tuple[Place, str]) -> None:
    place, uid = kept
    told = change_facts(place, uid, ALL_AT_ONE, Facts(price="", as_of="today", bought=False), SENT)
    assert told.said == "What is known changed: as of, bought, price"
    assert row(place, uid, "purchase") == (2, {})
    assert "as_of" not in row(place, uid, "machine")[1]


def test_a_form_that_shows_one_figure_keeps_a_band_that_it_does_not_show(tmp_path: Path) -> None:
    place, uid = thistle(
        tmp_path,
        THISTLE + "[market]\nsound_value = { low_minor = 300000, likely_minor = 400000, high_minor = 500000 }\n",
    )
    assert change_facts(place, uid, ALL_AT_ONE, Facts(sound_value="4000"), SENT).change_id is None
    change_facts(place, uid, ALL_AT_ONE, Facts(sound_value="4500"), SENT)
    market = machine(place, uid).market
    assert (market.sound_value, market.sound_value_minor) == (None, 450000)
    facts = Facts(sound_value="4500", sound_value_low="4000", sound_value_high="5000")
    change_facts(place, uid, {"market": 2}, facts, SENT)
    # Never both ways to write it at once.
    assert list(row(place, uid, "market")[1]) == ["sound_value"]


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        (Facts(nickname=" "), "nickname"),
        (Facts(machine_class="spaceship"), "machine_class"),
        (Facts(year=""), "year"),
        (Facts(year="1066"), "year"),
        (Facts(currency="pounds"), "currency"),
        (Facts(what_hit=("moon",)), "what_hit"),
        (Facts(key_starts_it="perhaps"), "key_starts_it"),
        (Facts(seen_in="dreams"), "seen_in"),
        (Facts(as_of="20/11/2026"), "as_of"),
        (Facts(price="a lot"), "price"),
        (Facts(fees="-1"), "fees"),
        (Facts(freight="x"), "freight"),
        (Facts(brand="shiny"), "brand"),
        (Facts(sound_value="0"), "sound_value"),
        (Facts(sound_value="10", sound_value_low="5"), "sound_value_high"),
        (Facts(sound_value="", sound_value_low="5", sound_value_high="9"), "sound_value"),
        (Facts(sound_value="10", sound_value_low="11", sound_value_high="12"), "sound_value"),
        (Facts(aim="burn"), "aim"),
        (Facts(accepted_loss_chance="0.2"), "accepted_loss_chance"),
        (Facts(hour_value="x"), "hour_value"),
        (Facts(odometer="far"), "odometer"),
        (Facts(odometer_unit="leagues"), "odometer_unit"),
        (Facts(days_to_sell="20000"), "days_to_sell"),
        (Facts(attendance="0"), "attendance"),
        (Facts(pace="11"), "pace"),
        (Facts(words="de"), "words"),
        (Facts(weekday_minutes=("0",) * 7), "weekday_minutes"),
        (Facts(weekday_minutes=("60",) * 6), "weekday_minutes"),
        (Facts(weekday_minutes=("", "", "", "", "", "25 h", "")), "Saturday"),
    ],
)
def test_a_fact_that_cannot_be_understood_names_its_field(kept: tuple[Place, str], facts: Facts, field: str) -> None:
    place, uid = kept
    before = machine(place, uid)
    with pytest.raises(EntryError) as caught:
        change_facts(place, uid, ALL_AT_ONE, facts, SENT)
    assert caught.value.field == field and caught.value.allowed and caught.value.do
    assert machine(place, uid) == before


def test_facts_that_contradict_the_rows_are_refused(kept: tuple[Place, str]) -> None:
    place, uid = kept
    with pytest.raises(RecordError, match="parts row 1 \\(p1\\), ordered_on"):
        change_facts(place, uid, ALL_AT_ONE, Facts(as_of="2026-11-09"), SENT)
    assert machine(place, uid).as_of == dt.date(2026, 11, 20)


def test_facts_merge_by_field_and_clash_by_field(kept: tuple[Place, str]) -> None:
    place, uid = kept
    shown = facts_of(machine(place, uid))
    change_facts(place, uid, ALL_AT_ONE, dataclasses.replace(shown, price="900"), SENT)
    change_facts(place, uid, ALL_AT_ONE, dataclasses.replace(shown, fees="50", aim="keep"), SENT)
    assert (machine(place, uid).purchase.price_minor, machine(place, uid).purchase.fees_minor) == (90000, 5000)
    with pytest.raises(ConflictError) as caught:
        change_facts(place, uid, ALL_AT_ONE, dataclasses.replace(shown, price="700", hour_value="9"), SENT)
    assert [(one.kind, one.field, one.now) for one in caught.value.conflicts] == [("purchase", "price_minor", 90000)]
    assert machine(place, uid).owner.hour_value_minor is None


def test_a_nickname_that_another_machine_has_is_refused(kept: tuple[Place, str]) -> None:
    place, uid = kept
    new_machine(place, NewMachine(machine_class="naked", year="2016", nickname="Teasel"), SENT)
    with pytest.raises(NicknameTaken, match="teasel"):
        change_facts(place, uid, ALL_AT_ONE, Facts(nickname="teasel"), SENT)


# Taken back. --------------------------------------------------------------------------------------------------------


def test_a_change_is_taken_back_and_the_undo_too(kept: tuple[Place, str]) -> None:
    place, uid = kept
    before = machine(place, uid)
    told = change_finding(place, uid, "f1", 1, FindingForm(severity=3), SENT)
    after = machine(place, uid)
    assert told.change_id
    undone = undo_change(place, told.change_id, SENT)
    assert (undone.uid, machine(place, uid)) == (uid, before)
    assert undone.change_id
    again = undo_change(place, undone.change_id, SENT)
    assert again.said == f"Brought back: {told.said}" and machine(place, uid) == after


def test_what_was_changed_since_is_not_taken_back(kept: tuple[Place, str]) -> None:
    place, uid = kept
    first = change_finding(place, uid, "f1", 1, FindingForm(severity=3), SENT)
    second = change_finding(place, uid, "f1", 2, FindingForm(evidence="clip 4"), SENT)
    assert first.change_id
    with pytest.raises(ConflictError) as caught:
        undo_change(place, first.change_id, SENT)
    assert [one.since for one in caught.value.conflicts] == [second.said]
    with pytest.raises(NotThere):
        undo_change(place, "nothing", SENT)


# The same sending counts once. --------------------------------------------------------------------------------------

WRITES: dict[str, Callable[[Place, str, Sent], Told]] = {
    "note": lambda place, uid, sent: note_finding(place, uid, FindingForm(what="tank dented"), sent),
    "change": lambda place, uid, sent: change_finding(place, uid, "f1", 1, FindingForm(severity=3), sent),
    "nothing changed": lambda place, uid, sent: change_finding(place, uid, "f1", 1, FindingForm(severity=2), sent),
    "remove": lambda place, uid, sent: remove_row(place, uid, "findings", "f1", 1, sent),
    "rest fine": lambda place, uid, sent: rest_fine(place, uid, "nose_on", sent),
    "tap": lambda place, uid, sent: tap(place, uid, "snag", "chain slack", (), sent),
    "facts": lambda place, uid, sent: change_facts(place, uid, ALL_AT_ONE, Facts(price="900"), sent),
    "undo": lambda place, uid, sent: undo_change(place, _last(place), sent),
}


def _last(place: Place) -> str:
    with memory(place).reading() as reader:
        return next(line.id for line in reader.changes() if line.what == "Snag: to be taken back")


@pytest.mark.parametrize("name", WRITES)
def test_the_same_sending_is_carried_out_once(kept: tuple[Place, str], name: str) -> None:
    place, uid = kept
    tap(place, uid, "snag", "to be taken back", (), SENT)
    count = len(journal(place))
    first = WRITES[name](place, uid, sending("operation-1"))
    after, entries = machine(place, uid), len(journal(place))
    assert not first.replayed and entries == count + (first.change_id is not None)
    for _ in range(2):
        assert WRITES[name](place, uid, sending("operation-1")) == as_replayed(first)
    assert machine(place, uid) == after and len(journal(place)) == entries
    with pytest.raises(OperationError):
        WRITES[name](place, uid, sending("operation-1", body="another"))


def test_a_sending_that_was_refused_may_come_again(kept: tuple[Place, str]) -> None:
    place, uid = kept
    with pytest.raises(EntryError):
        note_finding(place, uid, FindingForm(what="flumox"), sending("operation-1"))
    assert not note_finding(place, uid, FindingForm(what="tank dented"), sending("operation-1")).replayed


# What a record must obey to be kept. --------------------------------------------------------------------------------


def test_what_was_wrong_before_does_not_keep_the_rest_from_being_changed(kept: tuple[Place, str]) -> None:
    place, uid = kept
    # As if the trade data had lost two names since: written past the checks.
    for handle, component in (("f8", "flumox_x"), ("f9", "flumox_y")):
        key = RowKey(machine=uid, kind="findings", handle=handle)
        put = Put(key=key, fields={"component": component}, base_rev=0)
        draft = Draft(what="past the checks", writes=(put,))
        apply(memory(place), who="test", at=AT, draft=lambda _, draft=draft: draft, check=lambda _: None)  # type: ignore[misc]
    assert len(record_problems(machine(place, uid), trade_data())) == 2
    told = tap(place, uid, "snag", "still works", (), SENT)
    assert told.change_id and undo_change(place, told.change_id, SENT).change_id
    note_finding(place, uid, FindingForm(what="tank dented"), SENT)
    change_finding(place, uid, "f8", 1, FindingForm(component="radiator"), SENT)
    assert [one.where for one in record_problems(machine(place, uid), trade_data())] == [
        "findings row 3 (f9), component"
    ]
    with pytest.raises(EntryError, match="flumox_z"):
        note_finding(place, uid, FindingForm(component="flumox_z"), SENT)


def test_a_machine_without_a_day_is_held_to_today() -> None:
    text = THISTLE.replace("as_of = 2026-11-20\n", "")
    check_machine(trade_data(), today=lambda: dt.date(2026, 11, 10))(read_record(text.encode()))
    with pytest.raises(RecordError, match="after as_of \\(2026-11-09\\)"):
        check_machine(trade_data(), today=lambda: dt.date(2026, 11, 9))(read_record(text.encode()))


def test_a_mirrored_machine_is_checked_against_mirrored_trade_data(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path, THISTLE.replace("year = 2016", "year = 2016\nmirrored = true"))
    # The chain runs on the other side there, and with it the cover of its sprocket.
    assert note_finding(place, uid, FindingForm(component="sprocket_cover", side="right"), SENT).change_id


def test_sixteen_who_tap_at_once_are_all_heard(kept: tuple[Place, str]) -> None:
    place, uid = kept
    with ThreadPoolExecutor(8) as pool:
        told = list(pool.map(lambda n: tap(place, uid, "done", str(n), (), sending(f"operation-{n}")), range(16)))
    assert len({one.handle for one in told}) == 16
    assert {one.note for one in machine(place, uid).taps[1:]} == {str(n) for n in range(16)}
