"""Copies of all that is kept, and taking one back."""

from __future__ import annotations

import datetime as dt
import hashlib
import os
from collections.abc import Callable
from pathlib import Path

from wreckwright.acts.place import Place, Tell, forget_open, make_folder, memory, open_memory, quiet
from wreckwright.errors import StoreError
from wreckwright.store.whole_file import write_whole

_PREFIX = "wreckwright-"
_ENDING = ".sqlite"
PHOTOS = "photos"


def _now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


def backup_all(
    place: Place,
    target: str | os.PathLike[str] | None = None,
    *,
    tell: Tell = quiet,
    now: Callable[[], dt.datetime] = _now,
) -> Path:
    """Copy the database, and where that is another folder also the photographs that are not there yet; its path.

    Without `target` the copy goes into the folder `backups` of the place, where the photographs lie anyway.
    Others may write meanwhile: the copy is of one moment. Raises NotThere (nothing to copy), StoreError.
    """
    from wreckwright.store.backup import backup

    store = memory(place)
    folder = Path(target).expanduser() if target is not None else place.backups
    make_folder(folder)
    # The database first: every photograph it names was kept before its row was written.
    copy = _free_name(folder, f"{_PREFIX}{_stamp(now())}")
    backup(store, copy)
    if _same(folder, place.backups) or _same(folder, place.folder):
        tell(f"All machines were copied to {copy}")
    else:
        count = copy_photographs(place.photos, folder / PHOTOS, tell=tell)
        tell(f"All machines were copied to {copy}, and {_photographs(count)} that were not there yet")
    return copy


def restore_all(
    place: Place, source: str | os.PathLike[str], tell: Tell = quiet, *, now: Callable[[], dt.datetime] = _now
) -> Path | None:
    """Put back what a copy holds. What is there now is copied first, and it is told where; its path, None: nothing was.

    `source` is a copied database, or a folder with copies, of which the newest is taken. Photographs beside it that are
    not here yet come along; none is taken away. A damaged database is put aside. Raises StoreError, and then all is as
    it was.
    """
    from wreckwright.store.backup import restore
    from wreckwright.store.copying import examine

    database = find_copy(source)
    examine(database)
    before = _keep_what_is_there(place, now) if place.database.is_file() else None
    if before is not None:
        tell(f"What was there before is kept in {before}")
    make_folder(place.folder)
    # The photographs first: if there is no room for them, the machines are still those of before.
    count = copy_photographs(database.parent / PHOTOS, place.photos, tell=tell)
    restore(database, open_memory(place, tell=tell))
    tell(f"All machines are as they were in {database}{f', with {_photographs(count)}' if count else ''}")
    return before


def _keep_what_is_there(place: Place, now: Callable[[], dt.datetime]) -> Path:
    """A copy of the database, or, where it is too damaged to be copied, the database itself under another name."""
    from wreckwright.store.copying import examine

    try:
        return backup_all(place, now=now)
    except StoreError as error:
        try:
            examine(place.database)
        except StoreError:
            return _put_aside(place, _stamp(now()))
        # It is whole; the disk is full, or somebody is writing.
        raise error from None


def _put_aside(place: Place, stamp: str) -> Path:
    make_folder(place.backups)
    aside = _free_name(place.backups, f"damaged-{stamp}")
    forget_open(place)
    try:
        # With the log beside it, of which a part may be missing in the file.
        for ending in ("-wal", "-shm", ""):
            part = place.database.with_name(place.database.name + ending)
            if part.exists():
                os.replace(part, aside.with_name(aside.name + ending))
    except OSError as error:
        raise StoreError(
            f"the damaged database {str(place.database)!r} cannot be put aside: {error.strerror or error}",
            allowed="a data folder this user may write to",
            do="close the program everywhere, and do it again",
        ) from None
    return aside


def find_copy(source: str | os.PathLike[str]) -> Path:
    """The copied database that is meant: the file itself, or the newest in a folder. Raises StoreError."""
    path = Path(source).expanduser()
    if not path.is_dir():
        return path
    copies = [
        one for one in path.iterdir() if one.name.startswith(_PREFIX) and one.name.endswith(_ENDING) and one.is_file()
    ]
    if copies:
        return max(copies, key=_age)
    plain = path / f"wreckwright{_ENDING}"
    if plain.is_file():
        return plain
    raise StoreError(
        f"there is no copy of a database in {str(path)!r}",
        allowed=f"a file {_PREFIX}...{_ENDING} that was made by a backup, or a folder with such files",
        do="name the file itself",
    )


def _age(copy: Path) -> tuple[str, int, str]:
    """What copies are ordered by, the oldest first: the moment in the name, then the number of those of one second."""
    stem = copy.name.removeprefix(_PREFIX).removesuffix(_ENDING)
    stamp, _, rest = stem.partition("-")
    number = rest.rpartition("-")[2]
    return stamp, int(number) if number.isdecimal() and len(number) < 4 else 1, stem


def copy_photographs(source: Path, target: Path, *, tell: Tell = quiet) -> int:
    """Copy the photographs below `source` that are not below `target`; how many.

    One that is not what its name says (a damaged disk) is told, and not copied. Raises StoreError.
    """
    from wreckwright.store.photos import photos

    if not source.is_dir() or _same(source, target):
        return 0
    copied = 0
    for sha, path in photos(source):
        there = target / sha[:2] / path.name
        try:
            if there.is_file() and there.stat().st_size == path.stat().st_size:
                continue
            data = path.read_bytes()
            if hashlib.sha256(data).hexdigest() != sha:
                tell(f"The photograph {path} is damaged, and was not copied")
                continue
            make_folder(target)
            make_folder(there.parent)
            write_whole(there, data)
        except OSError as error:
            raise StoreError(
                f"the photograph {path.name} cannot be copied to {str(target)!r}: {error.strerror or error}",
                allowed="a folder this user may write to, with room in it",
                do="make room or choose another folder, then do it again; what was copied stays",
            ) from None
        copied += 1
    return copied


def _stamp(at: dt.datetime) -> str:
    return at.astimezone(dt.UTC).strftime("%Y%m%dT%H%M%SZ")


def _photographs(count: int) -> str:
    return f"{count} photograph{'' if count == 1 else 's'}"


def _free_name(folder: Path, stem: str) -> Path:
    path = folder / f"{stem}{_ENDING}"
    number = 2
    while path.exists():
        path = folder / f"{stem}-{number}{_ENDING}"
        number += 1
    return path


def _same(one: Path, other: Path) -> bool:
    return one.resolve() == other.resolve()
