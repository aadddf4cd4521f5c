"""When each part line is there and what it costs, from the day it is ordered; docs/simulator.md, section Lines."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from wreckwright.futures.policy import Policy
from wreckwright.futures.rebuild import BoolArray, LongArray, Rebuild, Worlds

_Scalar = TypeVar("_Scalar", bound=np.generic)


@dataclass(frozen=True, kw_only=True)
class Purchases:
    """What comes of F x L orders under one policy. Days are counted from the day of the order."""

    never: BoolArray
    """[F, L] it never comes, neither from the first source nor from plan B."""
    days: LongArray
    """[F, L] day on which it is there, or, where it never comes, on which that is known."""
    paid_minor: LongArray
    """[F, L] everything that is paid for it, refunds taken off."""


def purchases(rebuild: Rebuild, worlds: Worlds, policy: Policy) -> Purchases:
    """Outcome of every order in every future, whether or not it will be placed.

    A part promised in 10 days that never comes, given up after 15 for a dearer one that takes 4:

    >>> import numpy as np
    >>> from dataclasses import replace
    >>> from wreckwright.futures.rebuild import BenchGate, Line, Slot, Source
    >>> from wreckwright.futures.worlds import calm_worlds
    >>> shops = (Source(name="near", cancel_days=90, refund_permille=800, mean_minor=5000),
    ...          Source(name="far", cancel_days=30, mean_minor=9000))
    >>> rebuild = Rebuild(
    ...     slots=(Slot(name="fit the lever", kind="job", lines=(0,)), Slot(name="road test", kind="gate")),
    ...     covers=(), bench_gates=(BenchGate(name="road test", stage=0, slot=1),), outside_gates=(),
    ...     lines=(Line(name="lever", slot=0, sources=shops),), components=(),
    ...     cumulative_minutes=np.arange(0, 6000, 60), big_find_minor=0, as_it_stands_minor=(0, 0), part_out_minor=0)
    >>> policy = Policy(line_source=(0,), line_trigger=(-1,), plan_b_source=(1,), plan_b_after_days=(15,), stage=(0, 0),
    ...     rank=(0, 1), looks=(True, True))
    >>> worlds = replace(calm_worlds(rebuild, 1), lead_days=np.array([[[-1, 4]]]))
    >>> bought = purchases(rebuild, worlds, policy)
    >>> bought.days.item(), bought.paid_minor.item(), bought.never.item()
    (19, 10000, False)
    """
    n_lines = len(rebuild.lines)
    if n_lines == 0:
        nothing = np.zeros((worlds.n, 0), np.int64)
        return Purchases(never=nothing.astype(bool), days=nothing, paid_minor=nothing)
    first = _from_source(rebuild, worlds, np.arange(n_lines), np.array(policy.line_source))
    never, days, paid = first.never, first.days, first.paid_minor

    changing = np.flatnonzero(np.array(policy.plan_b_source) >= 0)
    if len(changing):
        wait = np.array(policy.plan_b_after_days, np.int64)[changing]
        kept, lead, known_days = first.price_minor[:, changing], first.days[:, changing], first.cancel_days[changing]
        gone = first.never[:, changing]
        # A wait of -1 means: only when it is clear that it never comes.
        on_time = ~gone & ((wait == -1) | (lead <= wait))
        day = np.where(gone, np.where(wait == -1, known_days, np.minimum(wait, known_days)), wait)
        kept = kept - kept * first.refund_permille[changing] // 1000
        second = _from_source(rebuild, worlds, changing, np.array(policy.plan_b_source)[changing])
        never[:, changing] = ~on_time & second.never
        days[:, changing] = np.where(on_time, lead, day + second.days)
        paid[:, changing] = np.where(on_time, first.price_minor[:, changing], kept + second.paid_minor)
    return Purchases(never=never, days=days, paid_minor=paid)


@dataclass(frozen=True, kw_only=True)
class _FromSource:
    never: BoolArray
    days: LongArray
    price_minor: LongArray
    paid_minor: LongArray
    cancel_days: LongArray
    refund_permille: LongArray


def _from_source(
    rebuild: Rebuild, worlds: Worlds, lines: npt.NDArray[np.intp], source: npt.NDArray[np.intp]
) -> _FromSource:
    """Orders of `lines` ([m]) from `source` ([m]) with no thought of changing."""
    chosen = [rebuild.lines[line].sources[s] for line, s in zip(lines.tolist(), source.tolist(), strict=True)]
    cancel_days = np.array([s.cancel_days for s in chosen], np.int64)
    refund_permille = np.array([s.refund_permille for s in chosen], np.int64)

    def pick(values: npt.NDArray[_Scalar]) -> npt.NDArray[_Scalar]:
        flat = values.reshape(len(values), -1)
        picked: npt.NDArray[_Scalar] = flat.take(lines * values.shape[2] + source, axis=1)
        return picked

    lead = pick(worlds.lead_days).astype(np.int64)
    wrong = pick(worlds.wrong)
    price = pick(worlds.price_minor).astype(np.int64)
    lost = lead == -1
    if wrong.any():
        again = pick(worlds.second_lead_days)
        price += np.where(wrong & ~lost, pick(worlds.wrong_minor), 0)
        lost |= wrong & (again == -1)
        lead += np.where(wrong, again, 0)
    return _FromSource(
        never=lost,
        days=np.where(lost, cancel_days, lead),
        price_minor=price,
        paid_minor=np.where(lost, price - price * refund_permille // 1000, price),
        cancel_days=cancel_days,
        refund_permille=refund_permille,
    )
