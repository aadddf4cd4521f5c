"""What comes before what: steps of one remedy, the owner's own orders, batches, mounts, and what a trip wants.

The reasons can contradict each other (the owner lets a mount wait for what is fitted on it), and no order must run in a
ring. So they are added one by one, the weightiest first, and what would close a ring is left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from wreckwright.futures.need_types import Need
from wreckwright.futures.rows import Rows, keys_of_jobs
from wreckwright.record.known import Known
from wreckwright.record.pace import MENDING_REMEDIES
from wreckwright.trade.steps import MAIN_STEP
from wreckwright.trade.types import Trade

Edge = tuple[str, str]
"""(key of the later need, key of the one that comes before it)."""


def in_order(needs: Sequence[Need], *, known: Known, trade: Trade, rows: Rows, found: frozenset[str]) -> list[Need]:
    """The needs with all that comes before each in `after`. `found`: components whose findings are work."""
    before: dict[str, list[str]] = {need.key: [] for need in needs}
    groups = _groups(needs)
    for later, earlier in (
        *((need.key, key) for need in needs for key in need.after),
        *_as_the_owner_says(needs, groups, keys_of_jobs(known, rows, found)),
        *_batches(needs),
        *_mounts(groups, trade),
        *_errands(groups, known, trade),
    ):
        if later not in before or earlier not in before or earlier in (later, *before[later]):
            continue
        if not _comes_before(before, earlier, later):
            before[later].append(earlier)
    return [replace(need, after=tuple(before[need.key])) for need in needs]


def _comes_before(before: Mapping[str, Sequence[str]], key: str, wanted: str) -> bool:
    """Whether `wanted` is among all that comes before `key`."""
    seen = {key}
    open_ends = [key]
    while open_ends:
        for one in before[open_ends.pop()]:
            if one == wanted:
                return True
            if one not in seen:
                seen.add(one)
                open_ends.append(one)
    return False


def _groups(needs: Sequence[Need]) -> dict[str, list[Need]]:
    """Component -> the needs that fit, renew or mend it, in their order."""
    found: dict[str, list[Need]] = {}
    for need in needs:
        if need.component and (need.step or need.renews):
            found.setdefault(need.component, []).append(need)
    return found


def _as_the_owner_says(
    needs: Sequence[Need], groups: Mapping[str, Sequence[Need]], key_of: Mapping[str, str]
) -> Iterator[Edge]:
    for need in needs:
        job = need.job
        if job is None:
            continue
        later = [need.key]
        if need.step and not job.stands_for:
            # The mending of it as a whole: nothing of it is taken apart before that, but a part may be measured.
            later += [
                other.key for other in groups.get(need.component, ())
                if other.group == need.group and other.kind_of_work != "check" and other.key != need.key
            ]
        for handle in job.after:
            yield from ((key, key_of[handle]) for key in later if handle in key_of)


def _batches(needs: Sequence[Need]) -> Iterator[Edge]:
    trips = {need.batch: need.key for need in needs if need.batch and not need.step}
    for need in needs:
        trip = trips.get(need.batch)
        if trip is None or not need.step:
            continue
        if need.step in MAIN_STEP.values() or need.step == "carry_over":
            yield need.key, trip
        elif need.group not in need.after:
            # Taken off, and a new part measured, before it is brought; what comes after the main step stays after it.
            yield trip, need.key


def _fitting(group: Sequence[Need]) -> str:
    """Key of the step that puts a component on its mounts: of a mended one the fitting back."""
    back = next((need.key for need in group if need.remedy in MENDING_REMEDIES and need.step == "fit_back"), "")
    return back or next((need.key for need in group if need.renews), "")


def _mounts(groups: Mapping[str, Sequence[Need]], trade: Trade) -> Iterator[Edge]:
    for component, group in groups.items():
        row = trade.mounted_on.get(component)
        fitting = _fitting(group)
        if row is None or not fitting:
            continue
        for mount in row.mounts:
            mains = [need.key for need in groups.get(mount, ()) if need.renews]
            back = _fitting(groups.get(mount, ()))
            yield from ((fitting, key) for key in dict.fromkeys((*mains, back)) if key)


def _errands(groups: Mapping[str, Sequence[Need]], known: Known, trade: Trade) -> Iterator[Edge]:
    for errand in known.machine.errands:
        for want in errand.wants:
            row = trade.preconditions.get(want)
            for component in row.components if row is not None else ():
                back = _fitting(groups.get(component, ()))
                if back:
                    yield f"errand:{errand.id}:{want}", back
