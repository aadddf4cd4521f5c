"""What a name means: a machine in the memory, or a file."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.acts.kept import THISTLE, thistle
from wreckwright.acts import ask
from wreckwright.acts.find import find_machine
from wreckwright.acts.place import Place
from wreckwright.errors import NotThere, RecordError


@pytest.mark.parametrize("asked", ["Thistle", "thistle", " THISTLE "])
def test_a_nickname_is_found_whatever_the_capitals(tmp_path: Path, asked: str) -> None:
    place, uid = thistle(tmp_path)
    found = find_machine(asked, place)
    assert (found.uid, found.nickname, found.is_file) == (uid, "Thistle", False)


def test_a_nickname_goes_before_a_file_of_that_name_and_a_path_does_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place, uid = thistle(tmp_path)
    monkeypatch.chdir(tmp_path)
    Path("Thistle").write_text(THISTLE)
    Path("other").write_text(THISTLE)
    assert find_machine("Thistle", place).uid == uid
    assert find_machine("./Thistle", place).path == "./Thistle"
    assert find_machine(Path("Thistle"), place).path == "Thistle"
    assert find_machine("other", place).path == "other"


@pytest.mark.parametrize("name", ["none.toml", "none.JSON", "folder/none"])
def test_what_looks_like_a_file_is_one_even_if_it_is_not_there(tmp_path: Path, name: str) -> None:
    place, _ = thistle(tmp_path)
    assert find_machine(name, place).path == name
    with pytest.raises(RecordError, match="no such file"):
        ask.show(ask.Question(machine=name, place=place))


def test_without_a_place_every_name_is_a_file() -> None:
    assert find_machine("Thistle", None).is_file


def test_what_is_neither_is_told_with_the_near_names(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place, _ = thistle(tmp_path)
    monkeypatch.chdir(tmp_path)
    Path("bramble.toml").write_text(THISTLE)
    with pytest.raises(NotThere) as caught:
        find_machine("thistel", place)
    assert "'thistel'" in caught.value.what and "Thistle" in caught.value.do
    with pytest.raises(NotThere) as caught:
        find_machine("Bramble", place)
    assert "bramble.toml" in caught.value.do
    with pytest.raises(NotThere) as caught:
        find_machine("zzz", place)
    assert "one of those in the memory: Thistle" in caught.value.do


def test_without_a_memory_the_files_are_named_and_nothing_is_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    place = Place(tmp_path / "data")
    with pytest.raises(NotThere, match="nothing is in the memory yet"):
        find_machine("zzz", place)
    Path("bramble.toml").write_text(THISTLE)
    with pytest.raises(NotThere, match="such as bramble.toml"):
        find_machine("zzz", place)
    assert not place.folder.exists()
