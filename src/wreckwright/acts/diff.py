"""What has to be written so that a stored machine becomes the one of a file: the least there is."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wreckwright.store.types import BareRow, Put, Remove, RowKey, StoredRow


def least_writes(uid: str, wanted: Iterable[BareRow], stored: Iterable[StoredRow]) -> list[Put | Remove]:
    """Puts and removals that make the rows `stored` of machine `uid` say what `wanted` says, in the same order.

    `stored` is empty for a machine that is not there. Rows that are equal are not touched; a row is given another place
    only if its list is in another order.
    """
    from wreckwright.store.rows import same
    from wreckwright.store.types import Put, Remove, RowKey

    before = {row.key: row for row in stored}
    lists: dict[str, list[tuple[RowKey, BareRow]]] = {}
    for row in wanted:
        lists.setdefault(row.kind, []).append((RowKey(machine=uid, kind=row.kind, handle=row.handle), row))
    writes: list[Put | Remove] = []
    for rows in lists.values():
        places = _places([before[key].place if key in before else None for key, _ in rows])
        for (key, row), place in zip(rows, places, strict=True):
            old = before.pop(key, None)
            if old is None:
                writes.append(Put(key=key, fields=dict(row.fields), base_rev=0, place=place))
                continue
            changed = {
                name: row.fields.get(name)
                for name in (*row.fields, *old.fields)
                if not same(row.fields.get(name), old.fields.get(name))
            }
            if changed or place != old.place:
                writes.append(
                    Put(key=key, fields=changed, base_rev=old.rev, place=None if place == old.place else place)
                )
    return [*(Remove(key=key, base_rev=row.rev) for key, row in before.items()), *writes]


def _places(old: Sequence[int | None]) -> list[int]:
    """Rising places for the rows of a list, of which as many as can be keep the one they have (None: a new row).

    >>> _places([0, None, 2, 3]), _places([1, 0, 2]), _places([0, None, 1]), _places([None, 0])
    ([0, 1, 2, 3], [0, 1, 2], [0, 1, 2], [0, 1])
    """
    kept = _kept(old)
    places: list[int] = []
    for index, place in enumerate(old):
        places.append(place if index in kept and place is not None else places[-1] + 1 if places else 0)
    return places


def _kept(old: Sequence[int | None]) -> set[int]:
    """The longest choice of rows whose places rise, with room for all the rows that stand between and before them.

    Row i can keep place p before row j with place q exactly if q - p >= j - i, that is if p - i <= q - j: the longest
    run that does not fall (patience sorting) of p - i, of those that are not below 0.
    """
    tails: list[int] = []
    tail_rows: list[int] = []
    before: dict[int, int | None] = {}
    for index, place in enumerate(old):
        if place is None or place < index:
            continue
        slack = place - index
        at = bisect_right(tails, slack)
        before[index] = tail_rows[at - 1] if at else None
        tails[at : at + 1] = [slack]
        tail_rows[at : at + 1] = [index]
    kept: set[int] = set()
    last = tail_rows[-1] if tail_rows else None
    while last is not None:
        kept.add(last)
        last = before[last]
    return kept
