"""`list`, `note`, `undo` and `changes` on a real memory."""

from __future__ import annotations

import hashlib
import io
import time
from pathlib import Path

import pytest
from PIL import Image

from tests.cli.memory import THISTLE, Memory
from wreckwright.acts.find import find_machine
from wreckwright.acts.place import Place
from wreckwright.acts.reckon import Reckoner
from wreckwright.acts.sent import Sent
from wreckwright.acts.writes import tap
from wreckwright.record.file import read_record


@pytest.fixture
def loaded(memory: Memory) -> Memory:
    memory.say("load", memory.thistle)
    return memory


def photo(folder: Path, name: str = "a.jpg", colour: str = "teal") -> tuple[str, str]:
    """Path and SHA-256 of a small photograph."""
    out = io.BytesIO()
    Image.new("RGB", (40, 30), colour).save(out, "JPEG")
    (folder / name).write_bytes(out.getvalue())
    return str(folder / name), hashlib.sha256(out.getvalue()).hexdigest()


def test_an_empty_memory_lists_nothing_and_says_how_to_begin_and_makes_no_folder(memory: Memory) -> None:
    said = " ".join(memory.say("list").split())
    assert "wreckwright load FILE" in said and "wreckwright demo" in said
    assert memory.ask("list") == {"machines": []}
    assert memory.say("changes") == "Nothing has been changed yet.\n"
    assert not memory.data.exists()


def test_each_machine_has_a_line_with_what_it_is_and_how_far_its_answer_is(loaded: Memory) -> None:
    loaded.say("load", loaded.burdock)
    thistle, burdock = loaded.say("list").splitlines()
    assert thistle.startswith("Thistle: 2016 naked")
    assert thistle.endswith("; bought. Not reckoned yet.")
    assert burdock.startswith("Burdock: 2011 tourer") and "; a lot. " in burdock
    assert [one["nickname"] for one in loaded.ask("list")["machines"]] == ["Thistle", "Burdock"]


def test_the_list_shows_the_verdict_once_it_is_reckoned_and_not_after_the_record_has_changed(loaded: Memory) -> None:
    place = Place(loaded.data)
    uid = find_machine("Thistle", place).uid
    with Reckoner(place) as reckoner:
        reckoner.want(uid)
        while reckoner.look(uid).state in ("waiting", "running"):
            time.sleep(0.05)
        answers = reckoner.look(uid).answers
    assert answers is not None
    said = " ".join(loaded.say("list").split())
    assert answers.verdict.why.split(";")[0].rstrip(".") in said
    loaded.say("note", "Thistle", "front", "rim", "dinged")
    assert "Not reckoned yet." in loaded.say("list")


def test_taps_that_wait_to_be_sorted_are_counted(loaded: Memory) -> None:
    place = Place(loaded.data)
    uid = find_machine("Thistle", place).uid
    tap(place, uid, "snag", "rear brake drags", (), Sent(who="a test"))
    assert "1 tap to sort out." in loaded.say("list")
    tap(place, uid, "bag", "", (), Sent(who="a test"))
    assert "2 taps to sort out." in loaded.say("list")


def test_a_note_is_a_finding_and_is_in_the_next_answer_and_in_the_journal(loaded: Memory) -> None:
    assert loaded.say("note", "Thistle", "left", "mirror", "gone") == "Thistle: Noted: left mirror gone.\n"
    found = loaded.ask("show", "thistle")["findings"]
    assert [(one["words"], one["severity"]) for one in found] == [
        ("tank dented", "looks"),
        ("left mirror gone", "missing"),
    ]
    newest = loaded.ask("changes")["changes"][0]
    assert (newest["what"], newest["who"], newest["machines"]) == (
        "Noted: left mirror gone", "the command line", ["Thistle"],
    )  # fmt: skip


@pytest.mark.parametrize("target", ["memory", "file"])
@pytest.mark.parametrize(
    ("options", "wanted"),
    [
        (["--severity", "can-hurt"], {"severity": 3}),
        (["--severity", "looks"], {"severity": 1}),
        (["--side", "right"], {"side": "right"}),
        (["--fine"], {"looked_fine": True}),
        (["--missing"], {"missing": True}),
    ],
)
def test_the_options_stand_in_the_row(
    loaded: Memory, options: list[str], wanted: dict[str, object], target: str
) -> None:
    machine = "Thistle" if target == "memory" else loaded.thistle
    loaded.say("note", machine, "front rim", *(["dinged"] if "--fine" not in options else []), *options)
    text = loaded.say("save", "Thistle") if target == "memory" else Path(loaded.thistle).read_text(encoding="utf-8")
    row = read_record(text.encode()).findings[-1]
    assert {name: getattr(row, name) for name in wanted} == wanted


def test_words_that_mean_no_part_are_asked_back_with_the_nearest_and_nothing_is_written(loaded: Memory) -> None:
    before = loaded.ask("changes")
    path, _ = photo(loaded.folder)
    for words in (("note", "Thistle", "the", "thingy"), ("note", "Thistle", "the", "thingy", "--photo", path)):
        assert "nearest are" in loaded.refused(*words)
    assert loaded.ask("changes") == before
    assert not (loaded.data / "photos").exists()


@pytest.mark.parametrize("options", [["--fine", "--missing"], ["--fine", "--severity", "looks"]])
def test_options_that_contradict_each_other_are_refused(loaded: Memory, options: list[str]) -> None:
    assert "leave one out" in loaded.refused("note", "Thistle", "tank", *options, code=2)


def test_photographs_of_a_machine_in_the_memory_are_kept_there(loaded: Memory) -> None:
    (first, sha_1), (second, sha_2) = photo(loaded.folder), photo(loaded.folder, "b.jpg", "navy")
    loaded.say("note", "Thistle", "left mirror gone", "--photo", first, "--photo", second)
    row = read_record(loaded.say("save", "Thistle").encode()).findings[-1]
    assert row.photos == (sha_1, sha_2)
    assert {path.stem for path in (loaded.data / "photos").rglob("*.jpg")} == {sha_1, sha_2}


def test_a_record_file_names_a_photograph_by_what_is_in_it_and_nothing_is_copied(loaded: Memory) -> None:
    path, sha = photo(loaded.folder)
    loaded.say("note", loaded.thistle, "left mirror gone", "--photo", path)
    assert read_record(Path(loaded.thistle).read_bytes()).findings[-1].photos == (sha,)
    assert not (loaded.data / "photos").exists()


@pytest.mark.parametrize("machine", ["Thistle", "thistle.toml"])
def test_what_is_no_photograph_is_refused(loaded: Memory, machine: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(loaded.folder)
    text = loaded.file("letter.jpg", "dear sir")
    assert "JPEG" in loaded.refused("note", machine, "tank dented", "--photo", text)
    assert "cannot be read" in loaded.refused("note", machine, "tank dented", "--photo", "none.jpg")
    assert Path(loaded.thistle).read_text(encoding="utf-8") == THISTLE


def test_a_note_in_a_file_keeps_its_comments_and_needs_no_memory(memory: Memory) -> None:
    said = memory.say("note", memory.thistle, "seat", "torn")
    assert said == f"Noted in {memory.thistle}: seat torn.\n"
    text = Path(memory.thistle).read_text(encoding="utf-8")
    assert text == THISTLE.replace('["tank dented"]', '["tank dented", "seat torn"]')
    assert not memory.data.exists()


def test_undo_goes_back_change_by_change_and_says_what_it_took_back(loaded: Memory) -> None:
    before = loaded.say("save", "Thistle")
    loaded.say("note", "Thistle", "seat torn")
    loaded.say("note", "Thistle", "left mirror gone")
    assert loaded.say("undo", "Thistle") == "Taken back: Noted: left mirror gone.\n"
    assert loaded.say("undo") == "Taken back: Noted: seat torn.\n"
    assert loaded.say("save", "Thistle") == before
    assert loaded.say("undo") == "Taken back: Taken in from thistle.toml: Thistle.\n"
    assert loaded.ask("list") == {"machines": []}
    assert "no change left" in loaded.refused("undo")


def test_an_undo_can_be_taken_back_by_its_id(loaded: Memory) -> None:
    loaded.say("note", "Thistle", "seat torn")
    with_it = loaded.say("save", "Thistle")
    loaded.say("undo")
    (undo, note, _) = loaded.ask("changes", "Thistle")["changes"]
    assert (undo["is_undo"], undo["undone"], note["undone"]) == (True, False, True)
    assert "(taken back since)" in loaded.say("changes")
    assert loaded.say("undo", "--change", undo["id"]).startswith("Brought back: ")
    assert loaded.say("save", "Thistle") == with_it


def test_undo_looks_at_one_machine_only_when_it_is_named(loaded: Memory) -> None:
    loaded.say("load", loaded.burdock)
    loaded.say("note", "Thistle", "seat torn")
    (burdock,) = loaded.ask("changes", "Burdock")["changes"]
    assert "did not touch Thistle" in loaded.refused("undo", "Thistle", "--change", burdock["id"])
    assert "Burdock" in loaded.say("undo", "Burdock")
    assert "seat torn" in loaded.say("undo")


def test_a_change_whose_rows_were_changed_since_is_not_taken_back(loaded: Memory) -> None:
    changed = THISTLE.replace("year = 2016", "year = 2017")
    loaded.say("load", loaded.file("thistle.toml", changed), "--update")
    loaded.say("load", loaded.file("thistle.toml", changed.replace("2017", "2018")), "--update")
    first = loaded.ask("changes")["changes"][1]["id"]
    assert "changed again since" in loaded.refused("undo", "--change", first)
    assert "year = 2018" in loaded.say("save", "Thistle")


@pytest.mark.parametrize("command", ["undo", "changes"])
def test_files_have_no_journal(loaded: Memory, command: str) -> None:
    said = loaded.refused(command, loaded.thistle, code=2)
    assert "files have no journal" in said and "load" in said


@pytest.mark.parametrize("command", [("undo", "--change", "abc"), ("undo", "Thistle", "--change", "abc")])
def test_a_change_that_is_not_there(loaded: Memory, command: tuple[str, ...]) -> None:
    assert "abc" in loaded.refused(*command)


def test_changes_are_newest_first_with_their_ids_and_as_many_as_asked_for(loaded: Memory) -> None:
    loaded.say("note", "Thistle", "seat torn")
    assert len(loaded.ask("changes", "--last", "1")["changes"]) == 1
    newest, oldest = loaded.ask("changes")["changes"]
    lines = loaded.say("changes").splitlines()
    assert "Thistle: Noted: seat torn" in lines[0] and newest["id"] in lines[1]
    assert oldest["id"] in lines[3]
    assert max(map(len, lines)) <= 80
    # Of one machine its name need not stand on every line.
    assert "Thistle: Noted" not in loaded.say("changes", "Thistle")


@pytest.mark.parametrize(
    "words",
    [("note", "Thistel", "tank dented"), ("undo", "Thistel"), ("changes", "Thistel"), ("show", "Thistel"),
     ("save", "Thistel"), ("answers", "Thistel"), ("verdict", "Thistel")],
)  # fmt: skip
def test_a_name_that_nobody_has_is_told_with_the_nearest(loaded: Memory, words: tuple[str, ...]) -> None:
    said = loaded.refused(*words)
    assert "'Thistel'" in said and "name Thistle" in said
