"""What a job card says of dangers, figures and covers, read from the record and the trade data."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from wreckwright.answers.plan_types import CardCover, CardLimit, CardTorque
from wreckwright.answers.plan_words import small
from wreckwright.record.known import Known, name_shown
from wreckwright.record.types import Fastening, LooseEnd, Reading
from wreckwright.trade.graph import opening_order
from wreckwright.trade.types import Check, Component, Cover, Trade

NEVER_ESTIMATED = frozenset({"brakes", "steering", "forks", "axles", "wheels", "frame_head"})
"""Headings of the fit-to-ride list whose threads take the maker's figure and no other."""
FIND_IT = "find the maker's figure, and write it down before you tighten"
FIND_IT_NO_OTHER = f"{FIND_IT}; no estimate stands in for it here"
CHECKS_NAMED = 2
"""More checks of one part than this are no help on a card."""
FASTENED_WITH: Mapping[str, tuple[str, ...]] = {
    "front_wheel_out": ("front_axle",), "rear_wheel_out": ("rear_axle",), "calipers_f_off": ("front_calipers",),
    "forks_out": ("top_clamp", "bottom_clamp_stem"), "bars_off": ("handlebar",), "top_clamp_off": ("top_clamp",),
    "stem_out": ("head_bearings",), "swingarm_out": ("swingarm",), "shock_out": ("shock",), "linkage_out": ("linkage",),
    "hanger_l_off": ("rearset_l",), "hanger_r_off": ("rearset_r",), "engine_out": ("engine_mounts",),
}
"""Cover -> components whose threads the ride depends on and that are tightened anew when it goes back on."""


@dataclass(frozen=True, kw_only=True)
class CoverMinutes:
    off: float
    on: float


WHEN_LOOSENED = frozenset({"brake_work", "steering_work", "axles_wheels", "late_or_alone", "left_loose", "coolant"})
"""Cautions about what was loosened or opened: a part that is only measured and held up needs none of them."""


def cautions_for(
    trade: Trade, subjects: Collection[str], more: Sequence[str] = (), *, only_tried: bool = False
) -> tuple[str, ...]:
    """Cautions for components, checks and covers, and those named by id in `more`; what a life hangs on goes first.

    `only_tried`: the part is tried on dry, nothing is loosened for it.
    """
    wanted = set(subjects)
    found = [
        row for row in trade.cautions.values()
        if (row.id in more or wanted & set(row.applies_to)) and not (only_tried and row.id in WHEN_LOOSENED)
    ]
    found.sort(key=lambda row: -row.weight)
    legal = [row.text for row in trade.legal.values() if row.id in more]
    return tuple(dict.fromkeys([*(row.text for row in found), *legal]))


def covers_off(
    trade: Trade, opening: Sequence[str], already: Collection[str], minutes: Mapping[str, CoverMinutes]
) -> tuple[CardCover, ...]:
    """Covers in the order in which they come off, with what runs out, what holds the machine, what is for one use."""
    return tuple(
        CardCover(
            id=name, name=trade.covers[name].name, minutes=minutes[name].off, off_already=name in already,
            notes=_notes_off(trade.covers[name]), caution=trade.covers[name].caution,
        )
        for name in opening
    )


def covers_back_on(
    trade: Trade, opening: Sequence[str], already: Collection[str], minutes: Mapping[str, CoverMinutes]
) -> tuple[CardCover, ...]:
    """The same covers in the order in which they go back on."""
    return tuple(
        CardCover(
            id=name, name=trade.covers[name].name_on or trade.covers[name].name, minutes=minutes[name].on,
            off_already=name in already, notes=_notes_on(trade.covers[name]),
        )
        for name in reversed(opening)
    )


def _notes_off(cover: Cover) -> tuple[str, ...]:
    notes = [f"runs out: {fluid}; catch all of it" for fluid in cover.drains]
    if cover.support:
        notes.append(f"held by: {cover.support}")
    notes += [f"for one use, have a new one: {piece}" for piece in cover.one_use]
    return tuple(notes)


def _notes_on(cover: Cover) -> tuple[str, ...]:
    return (*(f"new: {piece}" for piece in cover.one_use), *(f"fill again: {fluid}" for fluid in cover.drains))


def supports_for(trade: Trade, opening: Sequence[str]) -> tuple[str, ...]:
    """What holds the machine up while these covers are off."""
    return tuple(dict.fromkeys(trade.covers[name].support for name in opening if trade.covers[name].support))


def torques_for(
    known: Known, trade: Trade, components: Sequence[str], estimates: Mapping[str, CardTorque]
) -> tuple[CardTorque, ...]:
    """One figure for the wrench for each thread of these components.

    The record's own figure with its basis goes first, then an estimate handed in under the fastening's handle or the
    component's id; where the ride depends on the thread there is no estimate, whatever is handed in.
    """
    found: list[CardTorque] = []
    for name in dict.fromkeys(components):
        component = trade.components.get(name)
        if component is None:
            continue
        rows = [row for row in known.machine.fastenings if row.component == name]
        for row in rows:
            written = row.target_nm is not None
            found.append(_written(row) if written else _other(row.where, row.id, component, estimates))
        if not rows:
            found.append(_other(name_shown(component, known), "", component, estimates))
    return tuple(sorted(found, key=lambda torque: torque.nm is None))


def _written(row: Fastening) -> CardTorque:
    thread = f", {row.thread}" if row.thread else ""
    return CardTorque(
        where=f"{row.where}{thread}", nm=row.target_nm, words=f"{row.target_nm:g} Nm",
        basis=row.basis or "written down without saying where it is from",
    )


def _other(where: str, handle: str, component: Component, estimates: Mapping[str, CardTorque]) -> CardTorque:
    if component.fit_to_ride in NEVER_ESTIMATED:
        return CardTorque(where=where, nm=None, words=FIND_IT_NO_OTHER, basis="the maker's manual")
    estimate = estimates.get(handle) or estimates.get(component.id)
    return estimate if estimate is not None else CardTorque(
        where=where, nm=None, words=FIND_IT, basis="the maker's manual"
    )


def limits_for(known: Known, trade: Trade, component: str, *, checks: bool) -> tuple[CardLimit, ...]:
    """The last readings of a component with their limits; with `checks`, when the checks that see it best pass."""
    last: dict[str, Reading] = {}
    for reading in known.machine.readings:
        if reading.component == component and component:
            last[reading.what.casefold()] = reading
    found = [CardLimit(what=reading.what, words=_reading_words(reading)) for reading in last.values()]
    if checks:
        found += [check_limit(check) for check in _best_checks(trade, component)]
    return tuple(found)


def check_limit(check: Check) -> CardLimit:
    """When a check passes and when it does not."""
    return CardLimit(what=check.name, words=f"fine: {small(check.passes_when)}; bad: {small(check.fails_when)}")


def _best_checks(trade: Trade, component: str) -> list[Check]:
    seen = [
        (detect.sensitivity, check) for check in trade.checks.values() for detect in check.detects
        if detect.component == component
    ]
    seen.sort(key=lambda pair: -pair[0])
    return [check for _, check in seen[:CHECKS_NAMED]]


def _reading_words(reading: Reading) -> str:
    spread = f" ± {reading.uncertainty:g}" if reading.uncertainty else ""
    said = f"last read {reading.value:g}{spread} {reading.unit}"
    low, high = reading.limit_low, reading.limit_high
    if low is None and high is None:
        return f"{said}; no limit written down: find the maker's figure before you judge it"
    if low is None:
        return f"at most {high:g} {reading.unit}; {said}"
    if high is None:
        return f"at least {low:g} {reading.unit}; {said}"
    return f"{low:g} to {high:g} {reading.unit}; {said}"


def bags_for(known: Known, key: str, group: str) -> tuple[str, ...]:
    """Loose ends of this work: bags to open, screws left finger-tight, rags to be counted out."""
    return tuple(
        _loose_words(end) for end in known.machine.loose_ends
        if not end.closed and end.work and (end.work == key or end.work.partition(":")[0] == group)
    )


def _loose_words(end: LooseEnd) -> str:
    said = end.words or "no words written"
    match end.what:
        case "bag":
            return f"bag: {said}"
        case "rags":
            return f"{end.count} rag{'' if end.count == 1 else 's'} to come out: {said}"
        case _:
            return f"left finger-tight: {said}"


def opening(trade: Trade, covers: Sequence[str]) -> tuple[str, ...]:
    """All that must be off for these covers to be off, in an order in which it can come off."""
    return opening_order(trade.covers, covers)
