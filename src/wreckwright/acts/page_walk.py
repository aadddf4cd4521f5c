"""The walk-round: eight stations in walking order, and what was found from each."""

from __future__ import annotations

import datetime as dt
import re

from wreckwright.acts.checks import words_of
from wreckwright.acts.page_findings import finding_rows
from wreckwright.acts.page_record import PageRecord, Today, component_choices, name_of, page_record
from wreckwright.acts.page_shapes import (
    ComponentLine,
    FindingRow,
    RegionPart,
    SignLine,
    StationLine,
    StationPage,
    WalkPage,
)
from wreckwright.errors import NotThere
from wreckwright.record.faults import shown
from wreckwright.record.types import SeenSign
from wreckwright.store.read import Reader
from wreckwright.trade.types import Station, Trade

US_WORDS = {
    "mudguard": "fender", "headlamp": "headlight", "indicators": "turn signals", "tyres": "tires",
    "screen": "windscreen", "silencer": "muffler", "sump": "oil pan", "footrest": "footpeg", "footrests": "footpegs",
    "swing arm": "swingarm",
}
"""Words in the names of regions as the US has them; the names of components have both in the trade data."""
_UK_WORD = re.compile(rf"\b({'|'.join(US_WORDS)})\b", re.IGNORECASE)
REST = "rest"
"""Region for components of a station that lie in none of its regions."""


def walk_page(reader: Reader, trade: Trade, uid: str, *, today: Today = dt.date.today) -> WalkPage:
    """The eight stations of one machine. Raises NotThere."""
    record = page_record(reader, trade, uid, today=today)
    rows = finding_rows(record)
    return WalkPage(
        head=record.head, stations=_stations(record, rows), elsewhere=tuple(row for row in rows if not row.station),
        photos=tuple(one.photo_sha256 for one in record.machine.log if one.photo_sha256) if record.machine else (),
    )


def station_page(reader: Reader, trade: Trade, uid: str, station: str, *, today: Today = dt.date.today) -> StationPage:
    """One station of one machine. Raises NotThere."""
    record = page_record(reader, trade, uid, today=today)
    if station not in record.trade.stations:
        raise NotThere(
            f"The walk-round has no station {shown(station)}",
            allowed=f"one of its {len(record.trade.stations)} stations",
            do="Go back to the walk-round and choose one",
        )
    rows = finding_rows(record)
    lines = _stations(record, rows)
    line = next(one for one in lines if one.id == station)
    return StationPage(
        head=record.head, station=line, regions=_regions(record, record.trade.stations[station], rows),
        signs=_signs(record, record.trade.stations[station]), looked_fine=line.fine,
        mirrored=record.trade.mirrored,
        next_station=_after(line, lines),
    )


def _stations(record: PageRecord, rows: tuple[FindingRow, ...]) -> tuple[StationLine, ...]:
    ordered = sorted(record.trade.stations.values(), key=lambda station: station.order)
    found = {station.id: sum(_speaks_of(row, station) for row in rows) for station in ordered}
    fine = {row.zone for row in rows if row.state == "fine" and not row.components and not row.side}
    to_go = [station.id for station in ordered if not found[station.id] and station.id not in fine]
    return tuple(
        StationLine(
            id=station.id, order=station.order, name=station.name, found=found[station.id], fine=station.id in fine,
            next=to_go[:1] == [station.id],
        )
        for station in ordered
    )


def _speaks_of(row: FindingRow, station: Station) -> bool:
    return row.state in ("bad", "missing") and any(one in station.components for one in row.components)


def _after(line: StationLine, lines: tuple[StationLine, ...]) -> str:
    """The next one in walking order that nobody has been to; behind the last one the walk begins again."""
    at = lines.index(line)
    onward = (*lines[at + 1 :], *lines[:at])
    return next((one.id for one in onward if not one.found and not one.fine), "")


def _regions(record: PageRecord, station: Station, rows: tuple[FindingRow, ...]) -> tuple[RegionPart, ...]:
    # A cruiser has no fairing to look at, unless something was found of one; without a record that can be read nothing
    # is left out.
    there = {choice.value for choice in component_choices(record.machine, record.trade)} if record.machine else None
    if there is not None:
        there |= {one for row in rows for one in row.components}
    lines = {
        one: _component(record, one, rows)
        for one in station.components
        if one in record.trade.components and (there is None or one in there)
    }
    left = dict(lines)
    found = []
    us = record.machine is not None and record.machine.owner.words == "us"
    for region in record.trade.station_regions.get(station.id, ()):
        inside = tuple(left.pop(one) for one in region.components if one in left)
        found.append(_region(region.region, region_name(region.name, us=us), inside))
    if left:
        # A model pack may add a component to a station without putting it into a region.
        found.append(_region(REST, "The rest", tuple(left.values())))
    return tuple(found)


def region_name(name: str, *, us: bool) -> str:
    """
    >>> region_name("Plate and rear mudguard", us=True), region_name("Silencer", us=True), region_name("Seat", us=True)
    ('Plate and rear fender', 'Muffler', 'Seat')
    """

    def said(found: re.Match[str]) -> str:
        word = US_WORDS[found[0].lower()]
        return word.capitalize() if found[0][0].isupper() else word

    return _UK_WORD.sub(said, name) if us else name


def _region(region: str, name: str, components: tuple[ComponentLine, ...]) -> RegionPart:
    return RegionPart(
        id=region, name=name, components=components, level=max((one.level for one in components), default=0)
    )


def _component(record: PageRecord, component: str, rows: tuple[FindingRow, ...]) -> ComponentLine:
    """The worst finding on a component: bad before fine, severe before slight, first before later."""
    here = [row for row in rows if component in row.components]
    worst = min(here, key=lambda row: (row.state == "fine", -row.severity), default=None)
    name = record.trade.components[component].name_uk
    if record.machine is not None:
        name = name_of(record.trade.components[component], record.machine)
    if worst is None:
        return ComponentLine(id=component, name=name, found="", severity="", level=0, handle="", more=0)
    return ComponentLine(
        id=component, name=name, found=worst.words or worst.condition or worst.severity_words,
        severity=worst.severity_words, level=0 if worst.state == "fine" else worst.severity, handle=worst.handle,
        more=max(0, sum(row.state != "fine" for row in here) - 1),
    )


def _signs(record: PageRecord, station: Station) -> tuple[SignLine, ...]:
    seen: dict[str, SeenSign] = {}
    words = words_of(record.trade)
    for row in record.machine.signs if record.machine else ():
        sign = words.sign(row.sign)
        if isinstance(sign, str):
            seen[sign] = row
    lines = []
    for name in station.signs:
        told = seen.get(name)
        lines.append(SignLine(
            id=name, text=record.trade.signs[name].text,
            seen="" if told is None else "seen" if told.seen else "not there",
            handle=told.id if told else "", rev=record.rev(told.id) if told else 0,
        ))
    return tuple(lines)
