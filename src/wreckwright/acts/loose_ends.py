"""Loose ends: left finger-tight, bags of screws, rags in ports. They stand first on a list until they are closed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, get_args

from wreckwright.acts.checks import check_row, trade_for
from wreckwright.acts.place import Place
from wreckwright.acts.sent import Sent
from wreckwright.acts.several import Several
from wreckwright.acts.work_key import work_of
from wreckwright.acts.writes import Told, check_photos, drafted, find_row, new_row, write
from wreckwright.errors import EntryError, NotThere
from wreckwright.record.faults import one_of, shown
from wreckwright.record.types import LooseWhat, Machine

if TYPE_CHECKING:
    from wreckwright.store.read import Reader
    from wreckwright.store.types import Draft

LOOSE_WORDS: dict[str, str] = {"loose": "Left loose", "bag": "Bag of screws", "rags": "Rags in a port"}
"""Kinds of loose end, and how each begins in a list."""


def leave(
    place: Place, uid: str, what: str, words: str, work: str, count: int, photos: tuple[str, ...], sent: Sent
) -> Told:
    """Something that must not be forgotten. `work`: key of what was being done, or empty; `count`: of rags.

    Raises EntryError, NotThere (no such work, or a photograph that was not kept).
    """
    if what not in LOOSE_WORDS:
        raise EntryError(
            f"what: found {shown(what)}", allowed=one_of(get_args(LooseWhat)), do="choose one of these", field="what"
        )
    check_photos(place, photos)
    fields: dict[str, Any] = {
        "what": what, "words": words.strip() or None, "work": work.strip() or None, "count": count,
        "photos": list(dict.fromkeys(photos)) or None,
    }
    check_row("loose_ends", fields)

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        if fields["work"]:
            work_of(str(fields["work"]), machine, trade_for(machine))
        handle = reader.next_handle(uid, "loose_ends")
        said = f"Not to be forgotten: {loose_words(what, words.strip(), count)}"
        return drafted(uid, said, handle, [new_row(uid, "loose_ends", handle, fields, sent)])

    return write(place, draft, sent)


def close(place: Place, uid: str, handle: str, sent: Sent) -> Told:
    """It is seen to. Said twice it counts once. Raises NotThere."""

    def draft(reader: Reader) -> Draft:
        row = find_row(reader, uid, "loose_ends", handle)
        words = loose_words(
            str(row.fields["what"]), str(row.fields.get("words", "")), int(row.fields.get("count", 1))
        )
        if row.fields.get("closed"):
            return drafted(uid, f"Seen to before: {words}", handle, [])
        several = Several(reader, sent)
        several.put(uid, "loose_ends", handle, {"closed": True})
        return drafted(uid, f"Seen to: {words}", handle, several.writes())

    return write(place, draft, sent)


def loose_words(what: str, words: str, count: int = 1) -> str:
    """
    >>> loose_words("rags", "inlet ports", 2), loose_words("loose", "left axle nut"), loose_words("bag", "")
    ('rags in a port (2): inlet ports', 'left loose: left axle nut', 'bag of screws')
    """
    name = LOOSE_WORDS[what]
    many = f" ({count})" if count > 1 else ""
    first = words.splitlines()[0] if words else ""
    return f"{name[:1].lower()}{name[1:]}{many}{f': {first}' if first else ''}"


def find_loose(machine: Machine, handle: str) -> str:
    """The handle of an open loose end that is meant, by handle or by a word that only one of them has.

    Raises NotThere.
    """
    open_ones = {one.id: loose_words(one.what, one.words, one.count) for one in machine.loose_ends if not one.closed}
    if handle in open_ones or any(one.id == handle for one in machine.loose_ends):
        return handle
    meant = [one for one, words in open_ones.items() if handle.casefold() in words.casefold()]
    if len(meant) == 1:
        return meant[0]
    listed = [f"{one} ({words})" for one, words in open_ones.items()]
    raise NotThere(
        f"{'several loose ends are' if meant else 'no loose end is'} called {shown(handle)}",
        allowed=one_of(listed) if listed else "nothing: there are no loose ends",
        do="name one by its handle",
    )
