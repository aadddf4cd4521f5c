"""Where things are kept: one folder of the owner's, and the memory (the database) in it."""

from __future__ import annotations

import os
import secrets
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from wreckwright.errors import NotThere, StoreError

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from wreckwright.store.engine import Store
    from wreckwright.store.read import Reader

Tell = Callable[[str], None]
"""Called with a few words at the start of a long step, and when something happened that the user should know of."""

FOLDER_VARIABLE = "WRECKWRIGHT_DATA"
_SECRET_BYTES = 32


class NoMemory(NotThere):
    """Nothing was ever put into this data folder, or its disk is not there just now."""


def quiet(_: str) -> None:
    pass


@dataclass(frozen=True)
class Place:
    """A data folder. Nothing in it is made before it is needed."""

    folder: Path

    @property
    def database(self) -> Path:
        return self.folder / "wreckwright.sqlite"

    @property
    def photos(self) -> Path:
        """The originals, named by what is in them."""
        return self.folder / "photos"

    @property
    def backups(self) -> Path:
        return self.folder / "backups"

    @property
    def answers(self) -> Path:
        """What was reckoned or drawn once and can be made again; may be deleted at any time."""
        return self.folder / "answers"

    @property
    def secret_file(self) -> Path:
        return self.folder / "secret"

    @property
    def secret(self) -> bytes:
        """32 random bytes that only this user can read, made when first asked for. Raises StoreError."""
        try:
            return self._read_secret() or self._make_secret()
        except OSError as error:
            raise _unusable(self.secret_file, error) from None

    def _read_secret(self) -> bytes | None:
        try:
            text = self.secret_file.read_text(encoding="ascii").strip()
        except FileNotFoundError:
            return None
        except UnicodeDecodeError:
            text = ""
        try:
            found = bytes.fromhex(text)
        except ValueError:
            found = b""
        if len(found) != _SECRET_BYTES:
            raise StoreError(
                f"{str(self.secret_file)!r} is damaged",
                allowed=f"{2 * _SECRET_BYTES} hexadecimal digits",
                do="delete that file: a new one is made, and every device has to be let in again",
            )
        return found

    def _make_secret(self) -> bytes:
        make_folder(self.folder)
        new = secrets.token_bytes(_SECRET_BYTES)
        # Written whole under another name, then linked: two programs that start at once agree on one secret.
        temporary = self.folder / f".secret.{secrets.token_hex(6)}.part"
        handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        try:
            with os.fdopen(handle, "w", encoding="ascii") as file:
                file.write(new.hex() + "\n")
                file.flush()
                os.fsync(file.fileno())
            try:
                os.link(temporary, self.secret_file)
            except FileExistsError:
                pass
            except OSError:
                # A file system without links.
                os.replace(temporary, self.secret_file)
        finally:
            temporary.unlink(missing_ok=True)
        return self._read_secret() or new


def place_of(folder: str | os.PathLike[str] | None = None) -> Place:
    """The data folder: the one named, else that of the variable WRECKWRIGHT_DATA, else the usual one of this user."""
    named = os.fspath(folder) if folder else os.environ.get(FOLDER_VARIABLE, "")
    if named:
        return Place(Path(named).expanduser().absolute())
    import platformdirs

    return Place(Path(platformdirs.user_data_dir("wreckwright", appauthor=False)))


def make_folder(folder: Path) -> None:
    """Make a folder that only this user can open. Raises StoreError."""
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        folder.mkdir(mode=0o700, exist_ok=True)
    except OSError as error:
        raise _unusable(folder, error) from None


def open_memory(place: Place, *, tell: Tell = quiet) -> Store:
    """The database of this place, made if there is none, brought up to date if it is of an older program.

    Tells where the copy of an older database was put. Raises StoreError.
    """
    make_folder(place.folder)
    return _opened(place, tell)


def memory_if_any(place: Place, *, tell: Tell = quiet) -> Store | None:
    """The database of this place if there is one; makes none. Raises StoreError."""
    try:
        there = place.database.is_file()
    except OSError as error:
        raise _unusable(place.folder, error) from None
    return _opened(place, tell) if there else None


def memory(place: Place, *, tell: Tell = quiet) -> Store:
    """The database of this place, which must be there. Raises NoMemory, StoreError."""
    store = memory_if_any(place, tell=tell)
    if store is None:
        raise NoMemory(
            f"there is no memory in {str(place.folder)!r} yet",
            allowed="a data folder with machines in it",
            do="take in a record file or begin a new machine first, or name another data folder",
        )
    return store


class Memory:
    """The memory of a place, for somebody who reads it for a long time: always the database that is there now.

    A damaged one is put aside when a copy is restored, and another file has its name from then on.
    """

    def __init__(self, place: Place) -> None:
        self._place = place

    def reading(self) -> AbstractContextManager[Reader]:
        """See `Store.reading`. Raises NoMemory, StoreError."""
        return memory(self._place).reading()


_LOCK = threading.Lock()
_OPEN: dict[Path, tuple[tuple[int, int], Store]] = {}
"""Databases opened and brought up to date by this process, each with the identity of its file."""


def _opened(place: Place, tell: Tell) -> Store:
    with _LOCK:
        kept = _OPEN.get(place.database)
        if kept is not None:
            if kept[0] == _identity(place.database):
                return kept[1]
            # Another file has taken its name; what is open still reads the old one.
            kept[1].close()
        from wreckwright.store.engine import open_store
        from wreckwright.store.migrate import migrate

        store = open_store(place.database, create=True)
        copy = migrate(store, backups=place.backups)
        if copy is not None:
            tell(f"The memory was brought up to date; as it was before it lies in {copy}")
        identity = _identity(place.database)
        if identity is not None:
            _OPEN[place.database] = (identity, store)
        return store


def forget_open(place: Place) -> None:
    """Look at the database afresh when it is opened next, as after a restore."""
    with _LOCK:
        kept = _OPEN.pop(place.database, None)
    if kept is not None:
        kept[1].close()


def _identity(path: Path) -> tuple[int, int] | None:
    try:
        about = path.stat()
    except OSError:
        return None
    return about.st_dev, about.st_ino


def _unusable(path: Path, error: OSError) -> StoreError:
    return StoreError(
        f"{str(path)!r} cannot be used: {error.strerror or error}",
        allowed="a folder this user may write to",
        do=f"check its permissions and the space left, or name another folder (--data, or {FOLDER_VARIABLE})",
    )
