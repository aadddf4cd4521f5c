"""Photographs that nothing names: what is left when a form was broken off after its photograph had been kept."""

from __future__ import annotations

from wreckwright.acts.place import Place, memory_if_any
from wreckwright.errors import StoreError

WEEK_S = 7 * 24 * 3600


def sweep_photographs(place: Place, *, older_than_s: float = WEEK_S) -> int:
    """Take away old photographs that neither the memory, its journal nor any copy in its backups names; how many.

    One that is older than the memory itself was not left by a form: the memory was lost, or is still to be put back on
    another computer; it stays. As long as there is a copy that cannot be read (damaged, or of another program), nothing
    is taken away: whoever mends it will want its photographs. Raises StoreError if the memory cannot be read.
    """
    from wreckwright.store.backup import photographs_named
    from wreckwright.store.photos import photos, sweep

    store = memory_if_any(place)
    if store is None or not place.photos.is_dir():
        return 0
    with store.reading() as reader:
        named, begun = reader.photos(), reader.begun()
    if begun is None:
        return 0
    named |= {sha for sha, path in photos(place.photos) if path.stat().st_mtime < begun.timestamp()}
    try:
        for copy in place.backups.iterdir() if place.backups.is_dir() else ():
            if not copy.name.startswith("."):
                named |= photographs_named(copy)
    except (OSError, StoreError):
        return 0
    return len(sweep(place.photos, named, older_than_s))
