"""Machines in the memory: a file goes in whole and comes out equal; a new one is begun from little."""

from __future__ import annotations

import datetime as dt
import itertools
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.acts.fitted import fitted_machines
from tests.acts.kept import AT, EXAMPLES, SENT, THISTLE, as_replayed, journal, machine, rev, row, sending, thistle
from tests.record.machines import SLOW_TO_MAKE
from wreckwright.acts import ask
from wreckwright.acts.diff import least_writes
from wreckwright.acts.files import open_record, write_record
from wreckwright.acts.finding_form import FindingForm
from wreckwright.acts.machines import (
    NewMachine,
    ever_used,
    identity_of,
    load_record,
    machines,
    new_machine,
    propose_nickname,
    save_record,
)
from wreckwright.acts.photographs import keep
from wreckwright.acts.place import Place, memory, open_memory
from wreckwright.acts.writes import note_finding, tap, undo_change
from wreckwright.errors import EntryError, NicknameTaken, NotThere, RecordError, UsageError
from wreckwright.record.file import to_toml
from wreckwright.store.rows import rows_of
from wreckwright.store.types import BareRow, Put, Remove, RowKey, StoredRow

PNG = b"\x89PNG\r\n\x1a\n" + bytes(30)


# A file goes in whole and comes out equal. --------------------------------------------------------------------------


@pytest.mark.parametrize("file", sorted(EXAMPLES.rglob("*.toml")), ids=lambda file: file.stem)
@pytest.mark.parametrize("ending", [".toml", ".json"])
def test_the_examples_come_out_as_they_went_in(tmp_path: Path, file: Path, ending: str) -> None:
    place, before = Place(tmp_path / "data"), file.read_bytes()
    loaded = load_record(place, file, sent=SENT)
    assert file.read_bytes() == before
    out = tmp_path / f"out{ending}"
    assert save_record(place, loaded.nickname, out) == loaded.nickname
    assert open_record(out) == open_record(file)
    assert len(journal(place)) == 1


NUMBERS = itertools.count()


@settings(max_examples=200, suppress_health_check=SLOW_TO_MAKE)
@given(wanted=fitted_machines())
def test_any_machine_comes_out_as_it_went_in(wanted: object, tmp_path_factory: pytest.TempPathFactory) -> None:
    folder = tmp_path_factory.getbasetemp() / "any"
    folder.mkdir(exist_ok=True)
    number = next(NUMBERS)
    # One memory for all of them, so each needs a name and an identity of its own.
    wanted = replace(wanted, nickname=f"Machine {number}", uid=f"{wanted.uid[:40]} {number}" if wanted.uid else "")
    source = folder / "in.toml"
    write_record(source, wanted)
    place = Place(folder / "data")
    load_record(place, source, sent=SENT)
    save_record(place, wanted.nickname, folder / "out.json", overwrite=True)
    assert open_record(folder / "out.json") == wanted


def test_answers_from_file_and_memory_agree(tmp_path: Path) -> None:
    # uid, who and when play no part in the draws.
    place = Place(tmp_path / "data")
    load_record(place, EXAMPLES / "bramble.toml", sent=SENT)
    from_file = ask.foresight(ask.Question(machine=EXAMPLES / "bramble.toml", n_futures=200)).answer
    from_memory = ask.foresight(ask.Question(machine="Bramble", place=place, n_futures=200)).answer
    assert from_memory == from_file


def test_what_a_file_takes_away_is_said(tmp_path: Path) -> None:
    """Own rule: what was told on a telephone after the file was written does not go without a word."""
    place, uid = thistle(tmp_path)
    written = tmp_path / "thistle.toml"
    write_record(written, machine(place, uid))
    assert "taken away" not in load_record(place, written, update=True, sent=SENT).said
    for number in range(7):
        tap(place, uid, "snag", f"told since {number}", (), SENT)
    loaded = load_record(place, written, update=True, sent=SENT)
    assert "Snag: told since 0" in loaded.said and loaded.said.endswith("Snag: told since 4; and 2 more)")
    assert journal(place)[0] == loaded.said
    undo_change(place, loaded.change_id or "", SENT)
    assert machine(place, uid).taps[-1].note == "told since 6"


def test_the_answers_of_a_stored_machine_hold_for_its_day_or_today(tmp_path: Path) -> None:
    place, _ = thistle(tmp_path)
    asked = ask.Question(machine="Thistle", place=place)
    clock = dt.date(2026, 12, 24)
    assert ask.open_machine(asked, today=lambda: clock).known.as_of == dt.date(2026, 11, 20)
    load_record(place, _file(tmp_path, THISTLE.replace("as_of = 2026-11-20\n", "")), update=True, sent=SENT)
    assert ask.open_machine(asked, today=lambda: clock).known.as_of == clock
    given_day = ask.Question(machine="Thistle", place=place, as_of=dt.date(2026, 11, 9))
    with pytest.raises(RecordError, match="parts row 1 \\(p1\\)") as caught:
        ask.open_machine(given_day, today=lambda: clock)
    assert caught.value.name == "Thistle"


def test_a_file_that_is_refused_leaves_nothing_behind(tmp_path: Path) -> None:
    place = Place(tmp_path / "data")
    file = tmp_path / "bad.toml"
    file.write_text(THISTLE.replace("left mirror gone", "flumox gone"))
    with pytest.raises(RecordError, match="line 5"):
        load_record(place, file, sent=SENT)
    assert not place.folder.exists()


def test_a_file_names_photographs_that_are_not_here_and_is_taken_in_all_the_same(tmp_path: Path) -> None:
    place = Place(tmp_path / "data")
    here = keep(place, PNG)
    file = tmp_path / "a.toml"
    file.write_text(
        THISTLE + f'photos = ["{here}", "{"ab" * 32}"]\n[[log]]\ndate = 2026-11-20\nphoto_sha256 = "{"cd" * 32}"\n'
    )
    assert load_record(place, file, sent=SENT).photographs_missing == 2


# Known already. -----------------------------------------------------------------------------------------------------


def _file(folder: Path, text: str) -> Path:
    file = folder / "again.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_a_machine_that_is_known_needs_a_word(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path)
    for text in (THISTLE, THISTLE.replace("Thistle", "thistle"), THISTLE + "\n"):
        with pytest.raises(UsageError, match="in the memory already") as caught:
            load_record(place, _file(tmp_path, text), sent=SENT)
        assert "--update" in caught.value.do and "--as NICKNAME" in caught.value.do
    with pytest.raises(UsageError, match="both --update and --as"):
        load_record(place, _file(tmp_path, THISTLE), update=True, nickname="Teasel", sent=SENT)
    assert [head.uid for head in machines(place)] == [uid] and len(journal(place)) == 1


def test_known_by_its_uid_whatever_it_is_called_now(tmp_path: Path) -> None:
    text = 'uid = "t-1"\n' + THISTLE
    place, uid = thistle(tmp_path, text)
    assert uid == "t-1"
    renamed = _file(tmp_path, text.replace('"Thistle"', '"Burr"'))
    with pytest.raises(UsageError, match="in the memory already"):
        load_record(place, renamed, sent=SENT)
    assert load_record(place, renamed, update=True, sent=SENT).uid == "t-1"
    assert [head.nickname for head in machines(place)] == ["Burr"]


def test_another_machine_of_the_same_name_is_no_update(tmp_path: Path) -> None:
    place, _ = thistle(tmp_path, 'uid = "t-1"\n' + THISTLE)
    with pytest.raises(UsageError, match="is another machine \\(uid t-1\\)"):
        load_record(place, _file(tmp_path, 'uid = "t-2"\n' + THISTLE), update=True, sent=SENT)


def test_an_update_of_nothing_is_told(tmp_path: Path) -> None:
    place, _ = thistle(tmp_path)
    with pytest.raises(UsageError, match="there is no Teasel in the memory") as caught:
        load_record(place, _file(tmp_path, THISTLE.replace("Thistle", "Teasel")), update=True, sent=SENT)
    assert "Thistle" in caught.value.allowed


def test_a_copy_is_another_machine(tmp_path: Path) -> None:
    text = 'uid = "t-1"\n' + THISTLE
    place, uid = thistle(tmp_path, text)
    copy = load_record(place, _file(tmp_path, text), nickname=" Teasel ", sent=SENT)
    assert copy.uid != uid and copy.nickname == "Teasel"
    assert machine(place, copy.uid) == replace(machine(place, uid), nickname="Teasel", uid="")
    with pytest.raises(NicknameTaken):
        load_record(place, _file(tmp_path, text), nickname="TEASEL", sent=SENT)


def test_a_uid_that_cannot_stand_in_an_address_stays_in_the_record(tmp_path: Path) -> None:
    odd = "a/../b c"
    place, uid = thistle(tmp_path, f'uid = "{odd}"\n' + THISTLE)
    assert uid == identity_of(machine(place, uid)) and uid.isalnum()
    assert machine(place, uid).uid == odd
    with pytest.raises(UsageError, match="already"):
        load_record(place, _file(tmp_path, f'uid = "{odd}"\n' + THISTLE.replace("Thistle", "Burr")), sent=SENT)


def test_an_update_touches_what_differs_and_can_be_taken_back(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path)
    before = machine(place, uid)
    changed = THISTLE.replace('name = "True the wheel"', 'name = "True the wheel"\ncost_minor = 4500').replace(
        'state = "ordered"', 'state = "here"'
    )
    loaded = load_record(place, _file(tmp_path, changed), update=True, sent=SENT)
    # hand-worked: one row of the parts and one of the jobs; all others still have their first revision.
    revs = {kind: rev(place, uid, kind) for kind in ("machine", "purchase", "market", "calendar", "owner")}
    assert set(revs.values()) == {1}
    assert [rev(place, uid, *at) for at in (("parts", "p1"), ("jobs", "j1"), ("findings", "f1"), ("taps", "tap1"))] == [
        2,
        2,
        1,
        1,
    ]
    assert loaded.change_id is not None
    undo_change(place, loaded.change_id, SENT)
    assert machine(place, uid) == before


def test_an_update_with_the_same_file_writes_nothing(tmp_path: Path) -> None:
    place, _ = thistle(tmp_path)
    again = load_record(place, _file(tmp_path, THISTLE), update=True, sent=SENT)
    assert again.change_id is None and "says the same" in again.said
    assert len(journal(place)) == 1


def test_rows_written_here_go_with_an_update_and_come_back_with_its_undo(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path)
    told = note_finding(place, uid, FindingForm(what="tank dented"), SENT)
    with_it = machine(place, uid)
    updated = load_record(place, _file(tmp_path, THISTLE), update=True, sent=SENT)
    assert [one.id for one in machine(place, uid).findings] == ["f1"]
    assert updated.change_id
    undo_change(place, updated.change_id, SENT)
    assert machine(place, uid) == with_it and told.handle == "f2"


def test_after_an_undone_load_the_file_goes_in_again(tmp_path: Path) -> None:
    text = 'uid = "t-1"\n' + THISTLE
    place = Place(tmp_path / "data")
    first = load_record(place, _file(tmp_path, text), sent=SENT)
    assert first.change_id
    undo_change(place, first.change_id, SENT)
    assert machines(place) == ()
    again = load_record(place, _file(tmp_path, text), sent=SENT)
    assert again.uid == "t-1" and machine(place, "t-1") == open_record(_file(tmp_path, text))


def test_the_same_load_twice_counts_once(tmp_path: Path) -> None:
    place = Place(tmp_path / "data")
    first = load_record(place, _file(tmp_path, THISTLE), sent=sending("operation-1"))
    again = load_record(place, _file(tmp_path, THISTLE), sent=sending("operation-1"))
    assert again.replayed and (again.uid, again.change_id, again.said) == (first.uid, first.change_id, first.said)
    assert len(machines(place)) == 1


# The least that has to be written. ----------------------------------------------------------------------------------


def _bare(handles: str) -> list[BareRow]:
    return [
        BareRow(kind="findings", handle=handle, place=place, fields={"id": handle})
        for place, handle in enumerate(handles)
    ]


def _stored(handles: str, places: list[int]) -> list[StoredRow]:
    return [
        StoredRow(key=RowKey(machine="m", kind="findings", handle=handle), place=place, rev=1, fields={"id": handle})
        for handle, place in zip(handles, places, strict=True)
    ]


@given(st.permutations("abcdef"), st.permutations("cdefgh"), st.integers(0, 6), st.integers(0, 6), st.data())
def test_the_order_of_a_file_is_reached_with_the_fewest_moves(
    old: list[str], new: list[str], old_count: int, new_count: int, data: st.DataObject
) -> None:
    before, wanted = "".join(old[:old_count]), "".join(new[:new_count])
    places = sorted(data.draw(st.sets(st.integers(0, 12), min_size=len(before), max_size=len(before))))
    writes = least_writes("m", _bare(wanted), _stored(before, places))
    after = dict(zip(before, places, strict=True))
    for write in writes:
        if isinstance(write, Remove):
            del after[write.key.handle]
        else:
            assert isinstance(write, Put) and write.place is not None
            after[write.key.handle] = write.place
    assert sorted(after, key=lambda handle: after[handle]) == list(wanted)
    assert len(set(after.values())) == len(after) and min(after.values(), default=0) >= 0
    # independent: no choice of more rows that stay could be given rising places, found by trying them all.
    moved = {write.key.handle for write in writes if isinstance(write, Put) and write.base_rev}
    stay = [handle for handle in wanted if handle in before]
    at = {handle: index for index, handle in enumerate(wanted)}
    was = dict(zip(before, places, strict=True))
    best = max(
        len(some)
        for count in range(len(stay) + 1)
        for some in itertools.combinations(stay, count)
        if all(was[one] >= at[one] for one in some)
        and all(was[b] - was[a] >= at[b] - at[a] for a, b in itertools.pairwise(some))
    )
    assert len(stay) - len(moved) == best


def test_a_machine_that_is_not_there_is_written_whole() -> None:
    rows = rows_of(open_record(EXAMPLES / "sorrel.toml"))
    writes = least_writes("m", rows, ())
    assert [(one.key.kind, one.key.handle) for one in writes] == [(one.kind, one.handle) for one in rows]


# Written to a file. -------------------------------------------------------------------------------------------------


def test_a_file_of_the_owner_is_not_written_over_unasked(tmp_path: Path) -> None:
    place, _ = thistle(tmp_path)
    out = tmp_path / "out.toml"
    out.write_text("# mine\n")
    with pytest.raises(UsageError, match="is there already"):
        save_record(place, "Thistle", out)
    assert out.read_text() == "# mine\n"
    save_record(place, "Thistle", out, overwrite=True)
    assert open_record(out).nickname == "Thistle"


def test_only_machines_of_the_memory_are_written(tmp_path: Path) -> None:
    place, _ = thistle(tmp_path)
    with pytest.raises(UsageError, match="is a file already"):
        save_record(place, str(tmp_path / "thistle.toml"), tmp_path / "out.toml")
    with pytest.raises(NotThere):
        save_record(place, "Teasel", tmp_path / "out.toml")


# A new one. ---------------------------------------------------------------------------------------------------------


def test_a_machine_is_begun_from_little(tmp_path: Path) -> None:
    place = Place(tmp_path / "data")
    told = new_machine(place, NewMachine(machine_class="roadster", year="2016"), SENT)
    begun = machine(place, told.uid)
    assert told.said == "New machine: Teasel, 2016 naked road machine"
    assert to_toml(begun) == 'format = 1\nnickname = "Teasel"\nmachine_class = "naked"\nyear = 2016\n'


def test_all_of_the_first_form_is_written_down(tmp_path: Path) -> None:
    place = Place(tmp_path / "data")
    photos = (keep(place, PNG), keep(place, PNG + b"2"))
    new = NewMachine(
        nickname="Burdock",
        machine_class="Naked road machine",
        year="2016",
        price="2,450.00",
        bought=True,
        sound_value="6 900",
        what_hit=("right", "front"),
        photographs=(*photos, photos[0]),
        key_starts_it="yes",
        turns_over="",
        papers_right="no",
        currency="gbp",
        seen_in="photographs",
    )
    begun = machine(place, new_machine(place, new, SENT).uid)
    assert (begun.nickname, begun.machine_class, begun.year, begun.currency) == ("Burdock", "naked", 2016, "GBP")
    assert (begun.purchase.bought, begun.purchase.price_minor) == (True, 245000)
    assert begun.market.sound_value_minor == 690000
    assert begun.what_hit == ("right", "front") and begun.seen_in == "photographs"
    assert (begun.key_starts_it, begun.turns_over, begun.papers_right) == ("yes", "unknown", "no")
    assert [entry.photo_sha256 for entry in begun.log] == list(photos)
    assert {entry.date for entry in begun.log} == {dt.date.today()}
    assert {entry.at for entry in begun.log} == {AT.replace(microsecond=0)}
    # Not a finding: nobody has said yet what is on them.
    assert begun.findings == ()


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"machine_class": "spaceship"}, "machine_class"),
        ({"machine_class": ""}, "machine_class"),
        ({"year": ""}, "year"),
        ({"year": "16"}, "year"),
        ({"price": "much"}, "price"),
        ({"sound_value": "0"}, "sound_value"),
        ({"what_hit": ("moon",)}, "what_hit"),
        ({"key_starts_it": "maybe"}, "key_starts_it"),
        ({"nickname": "x" * 61}, "nickname"),
        ({"currency": "euro"}, "currency"),
        ({"photographs": tuple(f"{number:064x}" for number in range(9))}, "photos"),
    ],
)
def test_what_is_wrong_in_it_names_the_field_and_nothing_is_made(
    tmp_path: Path, wrong: dict[str, object], field: str
) -> None:
    place = Place(tmp_path / "data")
    with pytest.raises(EntryError) as caught:
        new_machine(place, NewMachine(**({"machine_class": "naked", "year": "2016"} | wrong)), SENT)  # type: ignore[arg-type]
    assert caught.value.field == field and caught.value.allowed and caught.value.do
    assert not place.folder.exists()


def test_a_photograph_that_was_not_kept_is_refused(tmp_path: Path) -> None:
    with pytest.raises(NotThere, match="is not in the data folder"):
        new_machine(
            Place(tmp_path / "data"), NewMachine(machine_class="naked", year="2016", photographs=("ab" * 32,)), SENT
        )


def test_a_name_is_proposed_once_and_never_again(tmp_path: Path) -> None:
    place = Place(tmp_path / "data")
    first = new_machine(place, NewMachine(machine_class="naked", year="2016"), SENT)
    assert first.change_id
    undo_change(place, first.change_id, SENT)
    second = new_machine(place, NewMachine(machine_class="naked", year="2016"), SENT)
    third = new_machine(place, NewMachine(machine_class="naked", year="2016", nickname="fieldfare"), SENT)
    fourth = new_machine(place, NewMachine(machine_class="naked", year="2016"), SENT)
    names = [machine(place, told.uid).nickname for told in (second, third, fourth)]
    # The list begins Teasel, Yarrow, Fieldfare, Campion; Teasel was used once and taken back.
    assert names == ["Yarrow", "fieldfare", "Campion"]
    with memory(place).reading() as reader:
        assert ever_used(reader) == {"Teasel", "Yarrow", "fieldfare", "Campion"}


def test_names_do_not_run_out() -> None:
    taken: list[str] = []
    for _ in range(200):
        taken.append(propose_nickname(taken))
    assert len({name.casefold() for name in taken}) == 200
    assert all(name.isascii() and 2 < len(name) <= 60 for name in taken)
    assert propose_nickname([" TEASEL "]) == "Yarrow"


def test_the_same_form_twice_makes_one_machine(tmp_path: Path) -> None:
    place = Place(tmp_path / "data")
    new = NewMachine(machine_class="naked", year="2016")
    first = new_machine(place, new, sending("operation-1"))
    again = new_machine(place, new, sending("operation-1"))
    assert again == as_replayed(first)
    assert len(machines(place)) == 1


def test_without_a_memory_there_are_no_machines(tmp_path: Path) -> None:
    assert machines(Place(tmp_path / "data")) == ()
    assert not (tmp_path / "data").exists()


def test_machines_stand_in_the_order_in_which_they_came(tmp_path: Path) -> None:
    place, _ = thistle(tmp_path)
    open_memory(place)
    load_record(place, EXAMPLES / "bramble.toml", sent=SENT)
    assert [head.nickname for head in machines(place)] == ["Thistle", "Bramble"]


def test_a_handle_is_never_given_out_twice(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path)
    first = tap(place, uid, "done", "", (), SENT)
    assert first.change_id
    undo_change(place, first.change_id, SENT)
    assert (first.handle, tap(place, uid, "done", "", (), SENT).handle) == ("tap2", "tap3")
    assert row(place, uid, "taps", "tap3")[1]["id"] == "tap3"
