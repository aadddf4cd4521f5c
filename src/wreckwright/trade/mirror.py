"""The generic map for a machine that is laid out the other way round.

The map assumes the gear lever, side stand, alternator, water pump and chain on the left, the brake pedal, silencer and
clutch cover on the right. What is held in the hands (throttle and front brake right, clutch left) is the same on all
machines and stays where it is.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from typing import TypeVar

from msgspec.structs import replace

from wreckwright.trade.types import CauseLink, Component, Cover, JobStep, Side, Station, StationRegion, Trade

_OTHER_SIDE: Mapping[Side, Side] = {"left": "right", "right": "left", "middle": "middle"}
_OTHER_WORD = {"left": "right", "right": "left", "Left": "Right", "Right": "Left"}
_SIDE_WORD = re.compile(r"\b(left|right|Left|Right)\b")
_Row = TypeVar("_Row", Component, Cover)


def mirror_trade(trade: Trade) -> Trade:
    """The same data for a machine with foot controls, chain, alternator, silencer ... on the other side.

    Exactly this changes:

    - Components marked `moves` keep their id and change `side`; the chances that a left-hand cause makes them bad
      become those of the right-hand cause and the other way round (slide, drop, struck side).
    - Components marked `swaps` (the engine covers, the footrest hangers) exchange their whole rows with their
      mirror's: name, looks, price, remedies, covers, wear, chances from causes, knock-ons, checks that detect them,
      pieces to carry over and to renew. The engine cover on the left is now the one over the clutch.
    - Covers that are named by side (`fairing_l_off`, `hanger_l_off` and their partners) exchange their rows; everything
      that lies under one of them now lies under the other.
    - What rests on a component goes with it: the steps of its work, what it is fastened to and what is fastened to it,
      what is looked at after the first ride, what must be right before it is taken somewhere.
    - Components that move change between the stations along the left and the right flank, each into the region of the
      same name; a region that is on one flank only moves with its components.
    - In the texts of all these rows the words left and right are exchanged.

    Nothing else changes: fork, steering, hand controls, lamps, fairings and footrests are the same on both sides, and
    what people say they hit (`told`) and signs speak of the machine's sides, not of its layout. Doing it twice gives
    the same data back.

    >>> from wreckwright.trade.load import load_trade
    >>> plain, turned = load_trade(), load_trade(mirrored=True)
    >>> plain.components["shift_lever"].side, turned.components["shift_lever"].side
    ('left', 'right')
    >>> turned.components["engine_cover_r"].name_uk
    'Engine cover, alternator side'
    >>> mirror_trade(turned) == plain
    True
    """
    moved = {row.id for row in trade.components.values() if row.when_mirrored != "stays"}
    swapped = {row.id: row.mirror for row in trade.components.values() if row.when_mirrored == "swaps"}
    partner = {cover: _partner(cover, "_l_", "_r_", trade.covers) for cover in trade.covers}
    other_cause = {cause: _partner(cause, "_left", "_right", trade.causes) for cause in trade.causes}

    def part(name: str) -> str:
        return swapped.get(name, name)

    def cover(name: str) -> str:
        return partner.get(name, name)

    def parts(names: Iterable[str]) -> tuple[str, ...]:
        return tuple(map(part, names))

    def covers(names: Iterable[str]) -> tuple[str, ...]:
        return tuple(map(cover, names))

    def step(row: JobStep) -> JobStep:
        if row.component not in moved:
            return row
        return replace(
            row, component=part(row.component), words=_turned(row.words), steps=tuple(map(_turned, row.steps)),
            film=_turned(row.film),
        )

    def link(row: CauseLink) -> CauseLink:
        if row.component not in moved:
            return row
        return replace(row, cause=other_cause[row.cause], component=part(row.component))

    return replace(
        trade,
        mirrored=not trade.mirrored,
        components=_in_order(
            trade.components, (_component(row, part, covers) for row in trade.components.values())
        ),
        cause_links=tuple(map(link, trade.cause_links)),
        knock_ons=tuple(replace(row, if_bad=part(row.if_bad), then=part(row.then)) for row in trade.knock_ons),
        signs={
            name: replace(row, component_ratio={part(c): ratio for c, ratio in row.component_ratio.items()})
            for name, row in trade.signs.items()
        },
        checks={
            name: replace(
                row,
                covers=covers(row.covers),
                detects=tuple(replace(seen, component=part(seen.component)) for seen in row.detects),
            )
            for name, row in trade.checks.items()
        },
        covers=_in_order(trade.covers, (_cover(row, cover, covers, parts) for row in trade.covers.values())),
        carry_overs={
            part(name): replace(row, component=part(name)) for name, row in trade.carry_overs.items()
        },
        renew_withs={
            part(name): replace(row, component=part(name)) for name, row in trade.renew_withs.items()
        },
        cautions={
            name: replace(row, applies_to=tuple(part(cover(what)) for what in row.applies_to))
            for name, row in trade.cautions.items()
        },
        gates={
            name: replace(
                row,
                fails_with=parts(row.fails_with),
                covers_off=covers(row.covers_off),
                covers_on=covers(row.covers_on),
            )
            for name, row in trade.gates.items()
        },
        classes={
            name: replace(row, absent_components=parts(row.absent_components)) for name, row in trade.classes.items()
        },
        job_steps={
            (part(name), way): tuple(map(step, rows)) for (name, way), rows in trade.job_steps.items()
        },
        mounted_on={
            part(name): replace(row, component=part(name), mounts=parts(row.mounts))
            for name, row in trade.mounted_on.items()
        },
        after_ride=tuple(replace(row, component=part(row.component)) for row in trade.after_ride),
        preconditions={
            name: replace(row, components=parts(row.components), covers_on=covers(row.covers_on))
            for name, row in trade.preconditions.items()
        },
        stations=_stations(trade),
        station_regions=_regions(trade),
    )


def _partner(name: str, one: str, other: str, known: Mapping[str, object]) -> str:
    """The id with one side word for the other, if there is such a row; else the same id."""
    for here, there in ((one, other), (other, one)):
        if here in name and name.replace(here, there) in known:
            return name.replace(here, there)
    return name


def _turned(text: str) -> str:
    return _SIDE_WORD.sub(lambda found: _OTHER_WORD[found.group()], text)


def _component(
    row: Component, part: Callable[[str], str], covers: Callable[[Iterable[str]], tuple[str, ...]]
) -> Component:
    if row.when_mirrored == "stays":
        return replace(row, covers=covers(row.covers))
    return replace(
        row,
        id=part(row.id),
        mirror=part(row.mirror),
        side=_OTHER_SIDE[row.side],
        covers=covers(row.covers),
        name_uk=_turned(row.name_uk),
        name_us=_turned(row.name_us),
        look_how=_turned(row.look_how),
        bad_looks_like=_turned(row.bad_looks_like),
        practice=_turned(row.practice),
    )


def _cover(
    row: Cover,
    cover: Callable[[str], str],
    covers: Callable[[Iterable[str]], tuple[str, ...]],
    parts: Callable[[Iterable[str]], tuple[str, ...]],
) -> Cover:
    row = replace(row, under=covers(row.under), exposes=parts(row.exposes))
    if cover(row.id) == row.id:
        return row
    return replace(
        row, id=cover(row.id), name=_turned(row.name), name_on=_turned(row.name_on), caution=_turned(row.caution)
    )


def _in_order(like: Mapping[str, _Row], rows: Iterable[_Row]) -> dict[str, _Row]:
    by_id = {row.id: row for row in rows}
    return {name: by_id[name] for name in like}


def _stations(trade: Trade) -> dict[str, Station]:
    place = {component: index for index, component in enumerate(trade.components)}
    moves = {row.id for row in trade.components.values() if row.when_mirrored == "moves"}
    stands: dict[str, list[str]] = {station: [] for station in trade.stations}
    for station, row in trade.stations.items():
        across = _partner(station, "left_", "right_", trade.stations)
        for component in row.components:
            stands[across if component in moves else station].append(component)
    return {
        station: replace(row, components=tuple(sorted(stands[station], key=place.__getitem__)))
        for station, row in trade.stations.items()
    }


def _regions(trade: Trade) -> dict[str, tuple[StationRegion, ...]]:
    """Regions go where their components go; what they are called goes with what moves."""
    place = {component: index for index, component in enumerate(trade.components)}
    moves = {row.id for row in trade.components.values() if row.when_mirrored == "moves"}
    rows = {(row.station, row.region): row for regions in trade.station_regions.values() for row in regions}
    inside: dict[tuple[str, str], list[str]] = {}
    for (station, region), row in rows.items():
        across = _partner(station, "left_", "right_", trade.stations)
        for component in row.components:
            inside.setdefault((across if component in moves else station, region), []).append(component)
    found: dict[str, list[StationRegion]] = {station: [] for station in trade.station_regions}
    for (station, region), components in inside.items():
        across = _partner(station, "left_", "right_", trade.stations)
        look = rows.get((across, region)) or rows[station, region]
        found[station].append(
            replace(look, station=station, components=tuple(sorted(components, key=place.__getitem__)))
        )
    return {station: tuple(sorted(regions, key=lambda row: row.order)) for station, regions in found.items()}
