"""The three invented machines, in a data folder of their own that is never the user's."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import resources
from pathlib import Path

from wreckwright.acts.machines import load_record
from wreckwright.acts.place import Place, Tell, forget_open, make_folder, memory_if_any, quiet
from wreckwright.acts.sent import Sent
from wreckwright.errors import StoreError

MACHINES = ("sorrel", "bramble", "magpie")
"""In the order in which they are listed; each a record file of that name."""
WHO = "the demo"
_MARK = "demo.txt"
_MARK_TEXT = """\
This folder belongs to the demo of wreckwright and holds invented machines only.
It may be deleted at any time; `wreckwright demo --fresh` makes it anew.
"""
_ALL_HERE = "The machines were loaded.\n"


def demo_place(place: Place) -> Place:
    """The demo's data folder, beside that of the user: `wreckwright-demo` beside `wreckwright`."""
    return Place(place.folder.parent / f"{place.folder.name or 'wreckwright'}-demo")


def open_demo(place: Place, *, fresh: bool = False, tell: Tell = quiet) -> Place:
    """The demo's place with the three machines in it; `place` is the user's, and is not touched.

    What was done in an earlier demo is still there, unless it is to be `fresh`. Raises StoreError, RecordError.
    """
    own = demo_place(place)
    _make_sure_it_is_ours(own)
    if fresh:
        _empty(own)
    if _is_complete(own):
        tell(f"The demo as it was left lies in {own.folder}; --fresh begins anew")
        return own
    make_folder(own.folder)
    _mark(own, _MARK_TEXT)
    here = _nicknames(own)
    for name in MACHINES:
        with example(name) as path:
            # An earlier start may have been interrupted between two of them.
            if name not in here:
                load_record(own, path, sent=Sent(who=WHO))
    _mark(own, _MARK_TEXT + _ALL_HERE)
    tell(f"Three invented machines lie in {own.folder}, apart from your own")
    return own


@contextmanager
def example(name: str) -> Iterator[Path]:
    """The record file of one of `MACHINES`: packed with the program, or in the source tree."""
    packed = resources.files("wreckwright") / "examples" / f"{name}.toml"
    if packed.is_file():
        with resources.as_file(packed) as path:
            yield path
        return
    yield Path(__file__).resolve().parents[3] / "examples" / f"{name}.toml"


def _is_complete(own: Place) -> bool:
    try:
        text = (own.folder / _MARK).read_text(encoding="utf-8", errors="replace")
    except OSError:
        return False
    return text.endswith(_ALL_HERE) and own.database.is_file()


def _mark(own: Place, text: str) -> None:
    try:
        (own.folder / _MARK).write_text(text, encoding="utf-8")
    except OSError as error:
        raise _cannot(own, f"it cannot be written ({error.strerror or error})") from None


def _nicknames(place: Place) -> set[str]:
    store = memory_if_any(place)
    if store is None:
        return set()
    with store.reading() as reader:
        return {head.nickname.casefold() for head in reader.machines()}


def _make_sure_it_is_ours(own: Place) -> None:
    """Nothing is ever loaded into, or deleted from, a folder that another made."""
    try:
        if not own.folder.exists() or (own.folder / _MARK).is_file():
            return
        if own.folder.is_dir() and not any(own.folder.iterdir()):
            return
    except OSError as error:
        raise _cannot(own, f"it cannot be looked into ({error.strerror or error})") from None
    raise _cannot(own, "something else is there under that name")


def _empty(own: Place) -> None:
    try:
        if own.folder.exists():
            shutil.rmtree(own.folder)
    except OSError as error:
        raise _cannot(own, f"it cannot be deleted ({error.strerror or error})") from None
    forget_open(own)


def _cannot(own: Place, why: str) -> StoreError:
    return StoreError(
        f"the demo cannot use the folder {str(own.folder)!r}: {why}",
        allowed="a folder that the demo made itself, or none yet",
        do="move it elsewhere, or name a data folder (--data) beside which the demo may have one of its own",
    )
