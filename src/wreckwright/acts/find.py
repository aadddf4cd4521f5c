"""What MACHINE means: a machine in the memory by its nickname, or a record file by its path."""

from __future__ import annotations

import os
from dataclasses import dataclass

from wreckwright.acts.files import record_files
from wreckwright.acts.place import Place, memory_if_any
from wreckwright.errors import NotThere
from wreckwright.record.faults import nearest, one_of

FILE_ENDINGS = (".toml", ".json")
_MOST_LISTED = 6


@dataclass(frozen=True, kw_only=True)
class Found:
    """Either a file (`path`) or a machine in the memory (`uid`); the other is empty."""

    name: str
    """As it was asked for."""
    path: str = ""
    uid: str = ""
    nickname: str = ""
    """Of the machine in the memory, as it is written there."""

    @property
    def is_file(self) -> bool:
        return bool(self.path)


def find_machine(name: str | os.PathLike[str], place: Place | None) -> Found:
    """What `name` means. Without a `place` it is always a file.

    A path object, a name with a path separator and a name that ends in .toml or .json are files, whether they exist
    or not; else it is the nickname of a machine in the memory; else a file of that name.
    Raises NotThere, which lists near nicknames and files; StoreError.
    """
    asked = os.fspath(name)
    if place is None or not isinstance(name, str) or names_a_file(asked):
        return Found(name=asked, path=asked)
    nicknames: tuple[str, ...] = ()
    store = memory_if_any(place)
    if store is not None:
        with store.reading() as reader:
            uid = reader.find(asked)
            heads = reader.machines()
        if uid is not None:
            return Found(name=asked, uid=uid, nickname=next(one.nickname for one in heads if one.uid == uid))
        nicknames = tuple(one.nickname for one in heads)
    if os.path.isfile(asked):
        return Found(name=asked, path=asked)
    raise _nothing(asked, nicknames)


def names_a_file(name: str) -> bool:
    """Whether a name can only be that of a file.

    >>> names_a_file("Sorrel"), names_a_file("sorrel.toml"), names_a_file("garage/sorrel")
    (False, True, True)
    """
    separators = [os.sep, *([os.altsep] if os.altsep else [])]
    return any(one in name for one in separators) or name.lower().endswith(FILE_ENDINGS)


def _nothing(asked: str, nicknames: tuple[str, ...]) -> NotThere:
    files = record_files(".")
    near = [*nearest(asked, nicknames), *nearest(asked, files), *_with_that_stem(asked, files)]
    if near:
        do = f"name {one_of(dict.fromkeys(near))}"
    elif nicknames:
        do = f"name one of those in the memory: {one_of(nicknames, most=_MOST_LISTED)}"
    elif files:
        do = f"name a record file, such as {one_of(files, most=_MOST_LISTED)}; nothing is in the memory yet"
    else:
        do = "name a record file (.toml or .json); nothing is in the memory yet"
    return NotThere(
        f"no machine and no file is called {asked!r}",
        allowed="the nickname of a machine in the memory, or the path of a record file",
        do=do,
    )


def _with_that_stem(asked: str, files: list[str]) -> list[str]:
    return [file for file in files if os.path.splitext(file)[0].lower() == asked.strip().lower()]
