"""Part lines and outside answers along the time axis, and what a day earlier of each is worth."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from wreckwright.answers.part_lines import lines_in_record, state_words
from wreckwright.answers.plan_types import Parcel
from wreckwright.answers.spread import quantile_se
from wreckwright.answers.words import date_after
from wreckwright.futures.binding import Binding
from wreckwright.futures.draw import Drawn
from wreckwright.futures.policy import NEVER, ON_DISCOVERY
from wreckwright.futures.purchases import purchases
from wreckwright.futures.scene import Futures

HIDDEN_FROM = 0.02
"""What is only ordered once a hidden fault is found is listed from this share of the futures on."""
FloatArray = npt.NDArray[np.float64]


def parcels(futures: Futures, drawn: Drawn, binding: Binding, *, order: Sequence[str] = ()) -> tuple[Parcel, ...]:
    """Everything that comes from outside, that for which the end waits most often first.

    `order`: keys of work and tests in the order of the usual course.

    Days of arrival are over the futures in which it is ordered (or asked); what never comes counts as later than all
    days. `share`: of the finished futures, those in which the end waits for it last.
    """
    place = {key: index for index, key in enumerate(order)}
    found = [*_lines(futures, drawn, binding, place), *_answers(futures, drawn, binding, place)]
    return tuple(sorted(found, key=lambda parcel: (-parcel.share, parcel.p50 or "9999", parcel.name)))


def _lines(futures: Futures, drawn: Drawn, binding: Binding, place: Mapping[str, int]) -> list[Parcel]:
    bought = purchases(futures.rebuild, futures.worlds, futures.policy)
    rows = lines_in_record(drawn)
    found = []
    for index, part in enumerate(drawn.compiled.lines):
        trigger = futures.policy.line_trigger[index]
        share = float(binding.line_share[index])
        hidden = trigger == ON_DISCOVERY and not part.already_ordered
        if (hidden and share < HIDDEN_FROM) or (trigger == NEVER and not part.already_ordered):
            continue
        ordered = futures.played.order_day[:, index] >= 0
        never = bought.never[ordered, index]
        days = np.where(never, math.inf, futures.played.order_day[ordered, index] + bought.days[ordered, index])
        line = rows.get(index)
        # The steps of a remedy that do not hold the line themselves come after the one that does.
        slot = futures.rebuild.lines[index].slot
        from_day = int(np.median(futures.played.order_day[ordered, index])) if ordered.any() else 0
        found.append(_parcel(
            futures, part.name, days, never, share, kind="part", state=state_words(drawn, futures.policy, index),
            from_day=from_day, reaches=_keys(drawn, place, (slot,)),
            last_return=line.last_return_on.isoformat()
            if line is not None and line.state == "here" and line.last_return_on is not None else "",
        ))
    return found


def _answers(futures: Futures, drawn: Drawn, binding: Binding, place: Mapping[str, int]) -> list[Parcel]:
    found = []
    for o, need in enumerate(drawn.compiled.outside):
        days, never = _answer_days(futures, o)
        state = "answered no; a way round is tried" if need.answered_no else (
            "asked" if need.wait_days is not None else "to be asked"
        )
        waiting = tuple(j for j, slot in enumerate(futures.rebuild.slots) if o in slot.outside)
        found.append(_parcel(
            futures, need.question, days, never, float(binding.outside_share[o]), kind="answer", state=state,
            reaches=_keys(drawn, place, waiting),
        ))
    return found


def _answer_days(futures: Futures, o: int) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
    """Day of the yes, ways round counted in; infinite where there is none."""
    worlds = futures.worlds
    first = worlds.outside_days[:, o].astype(np.float64)
    days = np.where(first < 0, math.inf, first)
    good = worlds.outside_ok[:, o] & (first >= 0)
    for way in range(futures.rebuild.outside_gates[o].n_fallbacks):
        days = np.where(good, days, days + worlds.outside_fallback_days[:, o, way])
        good = good | worlds.outside_fallback_ok[:, o, way]
    days = np.where(good, days, math.inf)
    return days, ~np.isfinite(days)


def _parcel(
    futures: Futures, name: str, days: FloatArray, never: npt.NDArray[np.bool_], share: float, *, kind: str, state: str,
    last_return: str = "", from_day: int = 0, reaches: tuple[str, ...] = (),
) -> Parcel:
    horizon = futures.rebuild.cumulative_minutes.shape[0] - 1
    dates = []
    for p in (0.2, 0.5, 0.8):
        day = _quantile(days, p)
        dates.append(date_after(futures.as_of, int(day)) if day < horizon else "")
    return Parcel(
        name=name, kind="part" if kind == "part" else "answer", state=state, p20=dates[0], p50=dates[1], p80=dates[2],
        never_chance=float(never.mean()) if never.size else 0.0, share=share,
        day_worth_minor=round(share * futures.market.holding_day_minor), last_return=last_return,
        from_date=date_after(futures.as_of, from_day) if from_day > 0 else "", reaches=reaches,
    )


def _keys(drawn: Drawn, place: Mapping[str, int], slots: tuple[int, ...]) -> tuple[str, ...]:
    """Keys of slots, that which comes first in the usual course first; what is not in it last."""
    keys = [drawn.compiled.slots[slot].key for slot in slots]
    return tuple(sorted(keys, key=lambda key: place.get(key, len(place))))


def _quantile(days: FloatArray, p: float) -> float:
    if not days.size:
        return math.inf
    finite = np.where(np.isfinite(days), days, 10.0**9)
    return quantile_se(finite, p)[0]
