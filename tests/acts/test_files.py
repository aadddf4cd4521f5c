"""Record files on disk: what cannot be opened is told, what is written is written whole or not at all."""

from __future__ import annotations

import os
import stat
import threading
from pathlib import Path

import pytest

from wreckwright.acts import files
from wreckwright.acts.files import open_checked, open_record, write_record
from wreckwright.errors import RecordError
from wreckwright.record.types import Machine, Owner
from wreckwright.trade.load import load_trade

TEXT = 'nickname = "Sorrel"\nmachine_class = "tourer"\nyear = 2019\n'
MACHINE = Machine(nickname="Sorrel", machine_class="tourer", year=2019, owner=Owner(pace=1.5))


def refused(path: Path | str) -> RecordError:
    with pytest.raises(RecordError) as caught:
        open_record(path)
    assert len(caught.value.problems) == 1
    return caught.value


def test_a_record_is_opened_with_or_without_a_byte_order_mark(tmp_path: Path) -> None:
    for name, start in (("a.toml", b""), ("b.toml", b"\xef\xbb\xbf")):
        (tmp_path / name).write_bytes(start + TEXT.encode())
        assert open_record(tmp_path / name).nickname == "Sorrel"


def test_no_such_file_names_the_nearest(tmp_path: Path) -> None:
    (tmp_path / "sorrel.toml").write_text(TEXT)
    error = refused(tmp_path / "sorel.toml")
    assert "no such file" in error.what and "sorel.toml" in error.what
    assert (error.allowed, error.do) == ("a record file (.toml or .json)", "open sorrel.toml")
    assert refused(tmp_path / "nowhere" / "x.toml").do == "check the name and the folder"


def test_a_folder_names_the_records_in_it(tmp_path: Path) -> None:
    (tmp_path / "bramble.toml").write_text(TEXT)
    error = refused(tmp_path)
    assert "a folder" in error.what and "bramble.toml" in error.do
    (tmp_path / "empty").mkdir()
    assert refused(tmp_path / "empty").do == "name a record file"


def test_a_file_of_50_mb_is_refused_without_reading_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "big.toml"
    with open(path, "wb") as file:
        file.truncate(50_000_000)

    def unread(*_: object, **__: object) -> bytes:
        raise AssertionError("the file was read")

    monkeypatch.setattr(files, "read_record", unread)
    error = refused(path)
    assert "50,000,000 bytes" in error.what
    assert error.allowed == "at most 5,000,000 bytes" and "outside the record" in error.do


def test_a_file_that_grows_while_it_is_opened_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "grows.toml"
    path.write_bytes(b"#" * 5_000_001)
    sizes = os.stat(tmp_path)
    monkeypatch.setattr(os, "fstat", lambda _: os.stat_result((stat.S_IFREG, *sizes[1:6], 10, *sizes[7:])))
    assert "5,000,001 bytes" in refused(path).what


def test_another_encoding_is_told_with_its_place(tmp_path: Path) -> None:
    path = tmp_path / "latin.toml"
    path.write_bytes(TEXT.encode() + 'vin = "\u00e9"\n'.encode("latin-1"))
    error = refused(path)
    assert (
        "line 4, byte 65" in error.what and "0xE9" in error.what and error.do == "save the file as UTF-8 in the editor"
    )


def test_a_pipe_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.toml")
    done: list[RecordError] = []
    thread = threading.Thread(target=lambda: done.append(refused(tmp_path / "pipe.toml")), daemon=True)
    thread.start()
    thread.join(timeout=5)
    assert done and "a device or pipe" in done[0].what


@pytest.mark.parametrize("name", ["x" * 5000 + ".toml", "a\0b.toml", "file.toml/inside.toml"])
def test_a_name_that_cannot_be_a_file(tmp_path: Path, name: str) -> None:
    (tmp_path / "file.toml").write_text(TEXT)
    error = refused(f"{tmp_path}/{name}")
    assert "cannot be read" in error.what and error.do == "check the name and the file's permissions"
    assert str(error).isprintable()


def test_a_file_without_permission(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "a.toml").write_text(TEXT)

    def forbidden(*_: object) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", forbidden)
    assert "Permission denied" in refused(tmp_path / "a.toml").what


def test_names_are_checked_against_the_trade_data_with_lines(tmp_path: Path) -> None:
    trade = load_trade()
    path = tmp_path / "a.toml"
    path.write_text(TEXT + 'findings = ["rack bent"]\n')
    assert open_checked(path, trade).findings[0].what == "rack bent"
    path.write_text(TEXT + '\nfindings = ["wheel bent"]\n')
    with pytest.raises(RecordError) as caught:
        open_checked(path, trade)
    assert caught.value.problems[0].where == "line 5, findings row 1, what"
    assert str(path) in caught.value.what
    # On a mirrored machine the gear lever is on the right.
    path.write_text(TEXT + 'mirrored = true\n[[findings]]\ncomponent = "shift_lever"\nside = "right"\n')
    assert open_checked(path, trade).mirrored


@pytest.mark.parametrize("name", ["a.toml", "a.json", "A.JSON", "noname"])
def test_what_is_written_opens_equal(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    write_record(path, MACHINE)
    assert open_record(path) == MACHINE
    assert path.read_text().startswith("{") == name.lower().endswith(".json")
    assert [entry.name for entry in tmp_path.iterdir()] == [name]


def test_a_failed_write_leaves_the_old_file_and_nothing_else(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.toml"
    path.write_text(TEXT)

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(RecordError, match="No space left on device") as caught:
        write_record(path, MACHINE)
    assert "nothing was changed" in caught.value.do
    assert path.read_text() == TEXT and list(tmp_path.iterdir()) == [path]


def test_a_record_that_would_not_open_is_not_written(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    with pytest.raises(RecordError, match="found nan"):
        write_record(path, Machine(nickname="S", machine_class="tourer", year=2019, owner=Owner(pace=float("nan"))))
    assert not path.exists()


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="cannot be written") as caught:
        write_record(tmp_path / "no" / "a.toml", MACHINE)
    assert "choose another place" in caught.value.do


def test_links_and_permissions_are_kept(tmp_path: Path) -> None:
    real, link = tmp_path / "real.toml", tmp_path / "link.toml"
    real.write_text(TEXT)
    real.chmod(0o640)
    link.symlink_to(real)
    write_record(link, MACHINE)
    assert link.is_symlink() and open_record(real) == MACHINE
    assert stat.S_IMODE(real.stat().st_mode) == 0o640
