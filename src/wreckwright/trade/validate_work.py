"""What must hold in the tables of work: steps, mounts, parking, after the ride, preconditions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Protocol

from wreckwright.errors import TradeDataError
from wreckwright.trade.graph import find_circle, opening_order
from wreckwright.trade.steps import MAIN_STEP, WAYS
from wreckwright.trade.tables import WANTED
from wreckwright.trade.types import JobStep, Trade

ENGINE_HELD, ENGINE_BOLTS = "engine_support", "engine_mounts"
ENGINE_LOOSE = frozenset({"engine_out", "swingarm_out", "frame_bare"})
"""Covers that take out a bolt which carries the engine."""
_SUM_SLACK = 1e-6


class Known(Protocol):
    def __call__(self, place: str, column: str, names: Iterable[str], known: Iterable[str], kind: str) -> None: ...


def check_work(trade: Trade, known: Known) -> None:
    """Raise `TradeDataError` for the first row of work that does not fit the rest. `known` checks names of rows."""
    for way in WAYS:
        if ("", way) not in trade.job_steps:
            raise TradeDataError(
                f"job_steps: no rows for all the rest, way {way!r}", f"rows with an empty `of` and the way {way!r}",
                "Add them",
            )
    for (component, way), steps in trade.job_steps.items():
        _check_steps(f"job_steps, {component or 'the rest'} / {way}", MAIN_STEP[way], steps)
    for name, row in trade.mounted_on.items():
        place = f"mounted_on, row {name}"
        known(place, "component", [name], trade.components, "component")
        known(place, "mounts", row.mounts, trade.components, "component")
    circle = find_circle({name: row.mounts for name, row in trade.mounted_on.items()})
    if circle:
        raise TradeDataError(
            f"mounted_on: the rows go round in a circle: {' < '.join(circle)}", "rows that end somewhere",
            "Take one of the mounts out",
        )
    _check_engine_held(trade)
    for after in trade.after_ride:
        place = f"after_ride, row {after.id}"
        known(place, "component", [after.component] if after.component else [], trade.components, "component")
        known(place, "cautions", after.cautions, {*trade.cautions, *trade.legal}, "caution or legal row")
        if (after.heat_cycles > 0) == (after.distance_km > 0):
            raise TradeDataError(
                f"{place}: heat_cycles {after.heat_cycles} and distance_km {after.distance_km:g}",
                "one of the two above 0", "Say after how many heat cycles, or after how many kilometres",
            )
    _check_preconditions(trade, known)


def _check_steps(place: str, main: str, steps: tuple[JobStep, ...]) -> None:
    names = [step.step for step in steps]
    if names.count(main) != 1:
        raise TradeDataError(
            f"{place}: steps {', '.join(names)}", f"one step {main!r}, which puts the component right", "Name it so"
        )
    total = sum(step.share for step in steps)
    if abs(total - 1.0) > _SUM_SLACK:
        raise TradeDataError(f"{place}: the shares add up to {total:g}", "exactly 1", "Correct a share")
    if len({step.order for step in steps}) < len(steps):
        raise TradeDataError(
            f"{place}: orders {', '.join(str(step.order) for step in steps)}", "each order once", "Number them anew"
        )
    if not any(step.wants_part for step in steps[: names.index(main) + 1]):
        raise TradeDataError(
            f"{place}: no step up to {main!r} wants the part", "at least one", f"Set wants_part of {main!r} to yes"
        )
    for step in steps:
        if step.step == main and step.only_with_pieces:
            raise TradeDataError(
                f"{place}: {main!r} is only done with pieces to carry over", "a main step that is always done",
                "Set only_with_pieces to no",
            )


def _check_engine_held(trade: Trade) -> None:
    if ENGINE_HELD not in trade.covers:
        return
    wanted: Mapping[str, tuple[str, ...]] = {
        **{cover: (cover,) for cover in sorted(ENGINE_LOOSE & trade.covers.keys())},
        **{name: trade.components[name].covers for name in (ENGINE_BOLTS,) if name in trade.components},
    }
    for name, covers in wanted.items():
        if ENGINE_HELD not in opening_order(trade.covers, covers):
            raise TradeDataError(
                f"{name}: a bolt that carries the engine comes out, and {ENGINE_HELD} does not come before it",
                f"{ENGINE_HELD} under every cover, and among the covers of every component, that takes such a bolt out",
                f"Add {ENGINE_HELD}",
            )


def _check_preconditions(trade: Trade, known: Known) -> None:
    for name in WANTED:
        if name not in trade.preconditions:
            raise TradeDataError(f"preconditions: no row {name}", f"a row for each of {', '.join(WANTED)}", "Add it")
    for row in trade.preconditions.values():
        place = f"preconditions, row {row.id}"
        known(place, "components", row.components, trade.components, "component")
        known(place, "covers_on", row.covers_on, trade.covers, "cover")
