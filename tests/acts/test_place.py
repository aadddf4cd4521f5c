"""The data folder: which one it is, what is made in it and when, and who may read it."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tests.acts.kept import SENT, THISTLE, machine, thistle
from wreckwright.acts.machines import load_record
from wreckwright.acts.place import Place, forget_open, memory, memory_if_any, open_memory, place_of
from wreckwright.errors import NotThere, StoreError


def test_the_folder_named_goes_before_the_variable_and_that_before_the_usual_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("WRECKWRIGHT_DATA", str(tmp_path / "variable"))
    assert place_of(str(tmp_path / "named")).folder == tmp_path / "named"
    assert place_of(None).folder == tmp_path / "variable"
    monkeypatch.delenv("WRECKWRIGHT_DATA")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "usual"))
    usual = place_of().folder
    assert usual.name == "wreckwright"
    assert sys.platform != "linux" or usual == tmp_path / "usual" / "wreckwright"


def test_a_relative_folder_stays_the_same_when_the_program_goes_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert place_of("here").folder == tmp_path / "here"


def test_looking_makes_nothing(tmp_path: Path) -> None:
    place = Place(tmp_path / "none")
    assert memory_if_any(place) is None
    with pytest.raises(NotThere, match="there is no memory"):
        memory(place)
    assert list(tmp_path.iterdir()) == []


def test_the_folder_and_what_is_in_it_are_for_this_user_only(tmp_path: Path) -> None:
    place = Place(tmp_path / "a" / "b")
    told: list[str] = []
    open_memory(place, tell=told.append)
    assert place.secret
    assert stat.S_IMODE(place.folder.stat().st_mode) == 0o700
    assert stat.S_IMODE(place.secret_file.stat().st_mode) == 0o600
    assert stat.S_IMODE(place.database.stat().st_mode) == 0o600
    # A new database needs no copy from before.
    assert told == [] and not place.backups.exists()


def test_the_secret_is_made_once_whoever_asks_first(tmp_path: Path) -> None:
    place = Place(tmp_path / "data")
    with ThreadPoolExecutor(16) as pool:
        secrets = set(pool.map(lambda _: Place(tmp_path / "data").secret, range(64)))
    assert len(secrets) == 1 and len(secrets.pop()) == 32
    assert bytes.fromhex(place.secret_file.read_text().strip()) == place.secret
    assert [one.name for one in place.folder.iterdir()] == ["secret"]


@pytest.mark.parametrize("damaged", [b"", b"abc", b"zz" * 32, b"\xff\xfe"])
def test_a_damaged_secret_is_told_and_not_replaced(tmp_path: Path, damaged: bytes) -> None:
    place = Place(tmp_path)
    place.secret_file.write_bytes(damaged)
    with pytest.raises(StoreError, match="is damaged"):
        _ = place.secret
    assert place.secret_file.read_bytes() == damaged


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match="cannot be used") as caught:
        open_memory(Place(tmp_path / "file" / "data"))
    assert "--data" in caught.value.do


def test_another_database_under_the_same_name_is_opened_afresh(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path)
    assert memory(place) is memory(place)
    (tmp_path / "two.toml").write_text(THISTLE.replace("Thistle", "Teasel"))
    other = Place(tmp_path / "other")
    other_uid = load_record(other, tmp_path / "two.toml", sent=SENT).uid
    forget_open(other)
    os.rename(place.folder, tmp_path / "old")
    os.rename(other.folder, place.folder)
    assert machine(place, other_uid).nickname == "Teasel"
    with pytest.raises(NotThere):
        machine(place, uid)


def test_help_and_a_question_to_a_file_load_neither_database_nor_picture_library(tmp_path: Path) -> None:
    (tmp_path / "thistle.toml").write_text(THISTLE)
    script = (
        "import sys\n"
        "from wreckwright.acts.ask import Question, show\n"
        "from wreckwright.acts.place import place_of\n"
        "show(Question(machine='thistle.toml', place=place_of('data')))\n"
        "import wreckwright.acts.machines, wreckwright.acts.writes, wreckwright.acts.heap\n"
        "import wreckwright.acts.photographs, wreckwright.acts.safe\n"
        "print(*[name for name in ('sqlalchemy', 'alembic', 'PIL') if name in sys.modules])\n"
    )
    run = subprocess.run([sys.executable, "-c", script], cwd=tmp_path, capture_output=True, text=True, check=True)
    assert run.stdout.split() == []
    assert not (tmp_path / "data").exists()
