"""Record files on disk: opened with all their faults named, written whole or not at all."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from wreckwright.errors import Problem, RecordError
from wreckwright.record.against_trade import check_against_trade
from wreckwright.record.faults import nearest, one_of
from wreckwright.record.file import LARGEST_BYTES, read_record, to_json, to_toml
from wreckwright.record.types import Machine
from wreckwright.store.whole_file import BY_UMASK, write_whole
from wreckwright.trade.mirror import mirror_trade
from wreckwright.trade.types import Trade


def open_record(path: str | os.PathLike[str]) -> Machine:
    """The machine in a record file.

    Raises RecordError: no such file, a folder, unreadable, larger than 5 MB (told without reading it), not UTF-8, or
    wrong inside.
    """
    return read_record(read_bytes(path), name=os.fspath(path))


def open_checked(path: str | os.PathLike[str], trade: Trade) -> Machine:
    """Like `open_record`, and every component, class, cover, ... it names is known to the trade data.

    `trade` is mirrored first if the machine is and the data are not.

    Raises RecordError with line numbers for both kinds of faults.
    """
    name = os.fspath(path)
    data = read_bytes(path)
    machine = read_record(data, name=name)
    if machine.mirrored and not trade.mirrored:
        trade = mirror_trade(trade)
    problems = check_against_trade(machine, trade, source=data, name=name)
    if problems:
        raise RecordError(problems, name=name)
    return machine


def read_bytes(path: str | os.PathLike[str]) -> bytes:
    """The bytes of a record file of at most 5 MB. Raises RecordError for everything that keeps them from being read."""
    name = os.fspath(path)
    try:
        with open(name, "rb", opener=_open_without_waiting) as file:
            about = os.fstat(file.fileno())
            if stat.S_ISDIR(about.st_mode):
                raise IsADirectoryError
            if not stat.S_ISREG(about.st_mode):
                raise _refuse(name, "a device or pipe", "a file", "write the record to a file first")
            if about.st_size > LARGEST_BYTES:
                raise _refuse(
                    name,
                    f"{about.st_size:,} bytes",
                    f"at most {LARGEST_BYTES:,} bytes",
                    "keep photographs and clips outside the record; it only names them",
                )
            # One byte more than allowed: a file that grows meanwhile is refused by the reader.
            return file.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise _refuse(name, "no such file", "a record file (.toml or .json)", _near_files(name)) from None
    except IsADirectoryError:
        raise _refuse(name, "a folder", "one record file (.toml or .json)", _files_inside(name)) from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise _refuse(
            name,
            f"a file that cannot be read ({reason})",
            "a file this user may read",
            "check the name and the file's permissions",
        ) from None


def write_record(path: str | os.PathLike[str], machine: Machine) -> None:
    """Write a record as TOML, or as JSON if the name ends in `.json`; an existing file is replaced in one step.

    The text is read back before it is written, so that no file comes to be that would not open. Comments of a file
    written by hand are not kept. Raises RecordError; then the old file, if any, is as it was.
    """
    name = os.fspath(path)
    data = to_json(machine) if name.lower().endswith(".json") else to_toml(machine).encode()
    if read_record(data, name=name) != machine:
        raise _refuse(
            name,
            "a record that does not read back as the same",
            "a record as read_record gives it",
            "pass it through to_json and read_record first",
        )
    replace_file(name, data)


def replace_file(path: str | os.PathLike[str], data: bytes) -> None:
    """Write a file whole or not at all; what a link leads to is replaced, its permissions stay. Raises RecordError."""
    name = os.fspath(path)
    target = Path(os.path.realpath(name))
    try:
        write_whole(target, data, mode=BY_UMASK)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise _refuse(
            name,
            f"a place that cannot be written ({reason})",
            "a file in a folder this user may write to",
            "choose another place; nothing was changed",
        ) from None


def _open_without_waiting(path: str, flags: int) -> int:
    # A pipe would block until somebody writes to it.
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def _refuse(name: str, found: str, allowed: str, do: str) -> RecordError:
    shown = name if name.isprintable() else ascii(name)[1:-1]
    return RecordError([Problem(where=shown, found=found, allowed=allowed, do=do)])


def record_files(folder: str) -> list[str]:
    """Names of the record files in a folder; none if it cannot be read."""
    try:
        return sorted(
            entry.name for entry in os.scandir(folder or ".") if entry.name.lower().endswith((".toml", ".json"))
        )
    except OSError:
        return []


def _near_files(name: str) -> str:
    folder, last = os.path.split(name)
    near = nearest(last, record_files(folder))
    return f"open {one_of(near)}" if near else "check the name and the folder"


def _files_inside(name: str) -> str:
    inside = record_files(name)
    return f"name one of the files in it: {one_of(inside, most=6)}" if inside else "name a record file"
