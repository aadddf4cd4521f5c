"""`load`, `save`, `backup` and `restore` on a real memory, and data folders that cannot be used."""

from __future__ import annotations

import io
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image

from tests.cli.memory import BURDOCK, THISTLE, Memory
from wreckwright.acts.place import Place, forget_open
from wreckwright.cli import moving
from wreckwright.record.file import read_record

ORIENTATION, GPS = 0x0112, 0x8825
"""EXIF tags: published (Exif 2.32, tables 4 and 3)."""
NOBODY = 65534


@pytest.fixture
def loaded(memory: Memory) -> Memory:
    memory.say("load", memory.thistle)
    return memory


def nicknames(memory: Memory) -> list[str]:
    return [one["nickname"] for one in memory.ask("list")["machines"]]


def test_what_is_loaded_and_saved_is_the_same_record_in_both_formats(loaded: Memory) -> None:
    record = read_record(THISTLE.encode())
    assert read_record(loaded.say("save", "Thistle").encode()) == record
    for name in ("out.toml", "out.json"):
        result = loaded.run("save", "thistle", str(loaded.folder / name))
        assert result.exit_code == 0 and result.stdout == ""
        assert f"Thistle written to {loaded.folder / name}." in result.stderr
        assert read_record((loaded.folder / name).read_bytes(), name=name) == record
    assert Path(loaded.thistle).read_text(encoding="utf-8") == THISTLE


def test_a_known_machine_is_not_loaded_twice_without_a_word(loaded: Memory) -> None:
    said = loaded.refused("load", loaded.thistle, code=2)
    assert "--update" in said and "--as NICKNAME" in said
    assert nicknames(loaded) == ["Thistle"]


def test_update_makes_it_say_what_the_file_says_and_can_be_taken_back(loaded: Memory) -> None:
    before = loaded.say("save", "Thistle")
    loaded.file("thistle.toml", THISTLE.replace("2016", "2017"))
    assert "Brought up to date" in loaded.say("load", loaded.thistle, "--update")
    assert "year = 2017" in loaded.say("save", "Thistle")
    assert "says the same" in loaded.say("load", loaded.thistle, "--update")
    loaded.say("undo", "Thistle")
    assert loaded.say("save", "Thistle") == before


def test_as_loads_one_more_machine(loaded: Memory) -> None:
    loaded.say("load", loaded.thistle, "--as", "Teasel")
    assert nicknames(loaded) == ["Thistle", "Teasel"]
    assert "teasel" in loaded.refused("load", loaded.burdock, "--as", "teasel")
    loaded.refused("load", loaded.burdock, "--update", code=2)
    loaded.refused("load", loaded.thistle, "--update", "--as", "Third", code=2)


def test_a_bad_file_leaves_nothing_behind(memory: Memory) -> None:
    assert "year" in memory.refused("load", memory.file("bad.toml", THISTLE.replace("2016", "19")))
    assert "no such file" in memory.refused("load", str(memory.folder / "none.toml"))
    assert not memory.data.exists()


def test_a_file_that_is_there_is_replaced_only_if_that_is_said(loaded: Memory) -> None:
    said = loaded.refused("save", "Thistle", loaded.burdock, code=2)
    assert "comments too" in said and "--replace" in said
    assert Path(loaded.burdock).read_text(encoding="utf-8") == BURDOCK
    loaded.say("save", "Thistle", loaded.burdock, "--replace")
    assert read_record(Path(loaded.burdock).read_bytes()).nickname == "Thistle"


@pytest.mark.parametrize(
    ("typed", "code", "nickname"), [("y\n", 0, "Thistle"), ("n\n", 130, "Burdock"), ("", 130, "Burdock")]
)
def test_on_a_terminal_it_asks(
    loaded: Memory, monkeypatch: pytest.MonkeyPatch, typed: str, code: int, nickname: str
) -> None:
    monkeypatch.setattr(moving, "somebody_is_there", lambda: True)
    result = loaded.run("save", "Thistle", loaded.burdock, typed=typed)
    assert result.exit_code == code
    assert "Go on? [y/N]" in result.stderr
    assert read_record(Path(loaded.burdock).read_bytes()).nickname == nickname


def test_saving_a_file_is_no_use(loaded: Memory) -> None:
    assert "copy the file" in loaded.refused("save", loaded.thistle, code=2)
    assert "copy the file" in loaded.refused("save", loaded.thistle, "other.toml", code=2)


def test_a_place_that_cannot_be_written(loaded: Memory) -> None:
    assert "cannot be written" in loaded.refused("save", "Thistle", str(loaded.folder / "none" / "a.toml"))


def taken_somewhere(path: Path) -> bytes:
    """A photograph lying on its side, with the place where it was taken in it."""
    image = Image.new("RGB", (60, 40), "white")
    exif = image.getexif()
    exif[ORIENTATION] = 6
    exif.get_ifd(GPS)[2] = (51.0, 30.0, 0.0)
    out = io.BytesIO()
    image.save(out, "JPEG", exif=exif)
    path.write_bytes(out.getvalue())
    return out.getvalue()


@pytest.mark.parametrize("to_file", [True, False])
def test_photographs_go_along_upright_and_without_the_place(loaded: Memory, to_file: bool) -> None:
    original = taken_somewhere(loaded.folder / "a.jpg")
    loaded.say("note", "Thistle", "seat torn", "--photo", str(loaded.folder / "a.jpg"))
    out = loaded.folder / "pictures"
    result = loaded.run(
        "save", "Thistle", *([str(loaded.folder / "out.toml")] if to_file else []), "--photos", str(out)
    )
    assert result.exit_code == 0
    assert f"1 photograph written to {out}." in result.stderr
    assert result.stdout == "" if to_file else read_record(result.stdout.encode()).nickname == "Thistle"
    (picture,) = out.iterdir()
    with Image.open(picture) as image:
        assert image.size == (40, 60)
        assert dict(image.getexif()) == {}
    (kept,) = (loaded.data / "photos").rglob("*.jpg")
    assert kept.read_bytes() == original


def test_load_tells_of_photographs_that_are_not_here(memory: Memory) -> None:
    text = THISTLE.replace('"tank dented"', f'{{ what = "tank dented", photos = ["{"ab" * 32}"] }}')
    result = memory.run("load", memory.file("thistle.toml", text))
    assert result.exit_code == 0
    assert "not in the data folder: 1." in result.stderr


def test_backup_and_restore_bring_everything_back_and_keep_what_was_there(loaded: Memory) -> None:
    taken_somewhere(loaded.folder / "a.jpg")
    loaded.say("note", "Thistle", "seat torn", "--photo", str(loaded.folder / "a.jpg"))
    before, stick = loaded.say("save", "Thistle"), loaded.folder / "stick"
    said = loaded.say("backup", str(stick))
    (copy,) = stick.glob("*.sqlite")
    assert str(copy) in said and "1 photograph" in said
    loaded.say("load", loaded.burdock)
    loaded.say("undo", "Thistle")
    for photo in (loaded.data / "photos").rglob("*.jpg"):
        photo.unlink()
    told = loaded.say("restore", str(stick), "--yes")
    assert nicknames(loaded) == ["Thistle"]
    assert loaded.say("save", "Thistle") == before
    assert len(list((loaded.data / "photos").rglob("*.jpg"))) == 1
    # What was there before can be gone back to in the same way.
    kept = next(word for word in told.split() if word.startswith(str(loaded.data / "backups")))
    loaded.say("restore", kept, "--yes")
    assert nicknames(loaded) == ["Thistle", "Burdock"]


def test_backup_without_a_folder_goes_into_the_data_folder(loaded: Memory) -> None:
    assert str(loaded.data / "backups") in loaded.say("backup")
    assert len(list((loaded.data / "backups").glob("*.sqlite"))) == 1


def test_there_is_nothing_to_back_up_before_there_is_a_memory(memory: Memory) -> None:
    assert "no memory" in memory.refused("backup")
    assert not memory.data.exists()


def test_restore_asks(loaded: Memory, monkeypatch: pytest.MonkeyPatch) -> None:
    loaded.say("backup", str(loaded.folder / "stick"))
    loaded.say("load", loaded.burdock)
    assert "--yes" in loaded.refused("restore", str(loaded.folder / "stick"), code=2)
    monkeypatch.setattr(moving, "somebody_is_there", lambda: True)
    assert loaded.run("restore", str(loaded.folder / "stick"), typed="n\n").exit_code == 130
    assert nicknames(loaded) == ["Thistle", "Burdock"]
    assert loaded.run("restore", str(loaded.folder / "stick"), typed="y\n").exit_code == 0
    assert nicknames(loaded) == ["Thistle"]


@pytest.mark.parametrize("source", ["none.sqlite", "thistle.toml", "."])
def test_what_is_no_copy_is_refused_and_nothing_is_lost(
    loaded: Memory, source: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(loaded.folder)
    loaded.refused("restore", source, "--yes")
    assert nicknames(loaded) == ["Thistle"]


def test_a_damaged_memory_is_told_and_a_copy_can_be_restored_over_it(loaded: Memory) -> None:
    loaded.say("backup", str(loaded.folder / "stick"))
    forget_open(Place(loaded.data))
    (loaded.data / "wreckwright.sqlite").write_bytes(b"not a database" * 1000)
    for rest in ("-wal", "-shm"):
        (loaded.data / f"wreckwright.sqlite{rest}").unlink(missing_ok=True)
    assert "damaged" in loaded.refused("list")
    loaded.say("restore", str(loaded.folder / "stick"), "--yes")
    assert nicknames(loaded) == ["Thistle"]


MEMORY_COMMANDS = [
    ("list",), ("changes",), ("undo",), ("show", "Thistle"), ("note", "Thistle", "tank dented"), ("save", "Thistle"),
    ("backup",), ("load", "thistle.toml", "--update"),
]  # fmt: skip


@pytest.mark.parametrize("words", MEMORY_COMMANDS, ids=lambda words: words[0])
def test_a_memory_of_a_newer_program_is_refused_and_left_alone(
    loaded: Memory, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(loaded.folder)
    forget_open(Place(loaded.data))
    database = loaded.data / "wreckwright.sqlite"
    with sqlite3.connect(database) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.close()
    before = database.read_bytes()
    assert "newer version" in loaded.refused(*words)
    assert database.read_bytes() == before


@pytest.mark.parametrize("words", [("load", "thistle.toml"), ("note", "Thistle", "tank dented"), ("backup",)])
def test_a_data_folder_that_is_a_file(memory: Memory, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(memory.folder)
    memory.data.write_text("in the way", encoding="utf-8")
    memory.refused(*words)
    assert memory.data.read_text(encoding="utf-8") == "in the way"
    # What only looks sees that there is no memory.
    assert memory.ask("list") == {"machines": []}


@pytest.fixture
def somebody_elses() -> Iterator[Memory]:
    """A memory in a folder that may be looked into and not written, for whoever runs the tests, root too."""
    if os.name == "nt":
        pytest.skip("POSIX permissions")
    folder = Path(tempfile.mkdtemp())
    memory = Memory(folder)
    # Everything that the commands import is imported before the rights are gone.
    memory.say("load", memory.thistle)
    memory.say("note", "Thistle", "seat torn")
    memory.say("list")
    forget_open(Place(memory.data))
    is_root = os.geteuid() == 0
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o555 if path.is_dir() else 0o444)
    if is_root:
        os.seteuid(NOBODY)
    try:
        yield memory
    finally:
        if is_root:
            os.seteuid(0)
        for path in (folder, *folder.rglob("*")):
            path.chmod(0o755)
        shutil.rmtree(folder)


@pytest.mark.parametrize(
    "words", [("load", "burdock.toml"), ("note", "Thistle", "tank dented"), ("undo",), ("backup",)]
)
def test_a_data_folder_that_cannot_be_written_is_told(
    somebody_elses: Memory, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(somebody_elses.folder)
    somebody_elses.refused(*words)


def test_a_data_folder_that_cannot_be_made_is_told(somebody_elses: Memory) -> None:
    somebody_elses.data = somebody_elses.folder / "other"
    assert "Permission denied" in somebody_elses.refused("load", somebody_elses.thistle)


def test_a_data_folder_that_cannot_be_looked_into_is_told(somebody_elses: Memory) -> None:
    is_nobody = os.geteuid() == NOBODY
    if is_nobody:
        os.seteuid(0)
    somebody_elses.data.chmod(0o000)
    if is_nobody:
        os.seteuid(NOBODY)
    assert "Permission denied" in somebody_elses.refused("list")


def test_the_data_folder_is_that_of_the_option_then_of_the_variable(
    loaded: Memory, monkeypatch: pytest.MonkeyPatch
) -> None:
    from click.testing import CliRunner

    from wreckwright.cli.app import cli

    assert "No machine" in CliRunner().invoke(cli, ["list"]).stdout
    monkeypatch.setenv("WRECKWRIGHT_DATA", str(loaded.data))
    assert "Thistle" in CliRunner().invoke(cli, ["list"]).stdout
    assert "No machine" in CliRunner().invoke(cli, ["--data", str(loaded.folder / "other"), "list"]).stdout
