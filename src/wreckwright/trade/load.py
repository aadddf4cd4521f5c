"""The one way in: packaged tables, model packs laid over them, checks, and the layout of the machine."""

from __future__ import annotations

import csv
import difflib
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from importlib import resources
from typing import Any

from msgspec.structs import replace

from wreckwright.errors import TradeDataError
from wreckwright.trade.common_parent import split_bands
from wreckwright.trade.mirror import mirror_trade
from wreckwright.trade.steps import lay_out_steps
from wreckwright.trade.tables import TABLES, RawRow, Table, build_row, key_of, where
from wreckwright.trade.types import (
    AfterRide,
    Band,
    BrandDiscount,
    CarryOver,
    Cause,
    CauseLink,
    Caution,
    Check,
    Component,
    Cover,
    Detects,
    FeeStep,
    FitItem,
    GateTemplate,
    JobTime,
    KnockOn,
    LeadClass,
    LegalDeferral,
    MachineClass,
    MoneyRow,
    MountedOn,
    Parking,
    Precondition,
    PriceStep,
    RenewWith,
    Severity,
    Sign,
    Station,
    StationRegion,
    SupplyShare,
    Told,
    Trade,
)
from wreckwright.trade.validate import check_trade

OWN_FIGURES = "owner's model pack"
"""Basis of a row that a model pack has changed, unless the pack says more."""
ABOUT = "about"
"""The one key of a model pack that is no table: a few words on what it is for."""

RawTables = dict[str, dict[tuple[str, ...], RawRow]]


def load_trade(*, packs: Sequence[Mapping[str, Any]] = (), mirrored: bool = False) -> Trade:
    """All trade data, checked, with `packs` laid over it in their order.

    A pack is a mapping of table names to rows of the same columns as the packaged files; a row with a known key changes
    the cells it names, a row with a new key must be complete. `mirrored` true: the machine carries its controls and
    chain the other way round (see `wreckwright.trade.mirror.mirror_trade` for exactly what changes sides).

    Raises `TradeDataError` with table, row, cell, what is allowed and what to do.

    >>> load_trade().components["radiator"].zone
    'cooling'
    >>> own = {"components": [{"id": "radiator", "fit_minutes": 35}]}
    >>> load_trade(packs=[own]).components["radiator"].fit_minutes
    35.0
    """
    raw = _packaged()
    for pack in packs:
        _lay_over(raw, pack)
    trade = _build(raw)
    check_trade(trade)
    return mirror_trade(trade) if mirrored else trade


def _packaged() -> RawTables:
    folder = resources.files("wreckwright.trade") / "data"
    gates = tomllib.loads((folder / "gates.toml").read_text(encoding="utf-8"))["gates"]
    raw: RawTables = {}
    for table in TABLES.values():
        if table.name == "gates":
            rows: Iterable[RawRow] = gates
        else:
            rows = read_csv(table, (folder / f"{table.name}.csv").read_text(encoding="utf-8"))
        raw[table.name] = _keyed(table, rows)
    return raw


def read_csv(table: Table, content: str) -> list[dict[str, str]]:
    """Rows of one CSV file: a header with exactly the table's columns in any order, then one row a line.

    >>> read_csv(TABLES["renew_with"], "component,pieces,basis\\nseat,rubbers; clips,common practice\\n")
    [{'component': 'seat', 'pieces': 'rubbers; clips', 'basis': 'common practice'}]
    """
    lines = csv.reader(content.splitlines())
    header = next(lines, [])
    if set(header) != table.cells or len(header) != len(table.cells):
        odd = sorted(set(header) ^ table.cells) or sorted({name for name in header if header.count(name) > 1})
        raise TradeDataError(
            f"{table.name}: the first line has the columns {', '.join(header) or '(none)'}",
            f"exactly {', '.join(sorted(table.cells))}",
            f"Put right: {', '.join(odd)}",
        )
    rows: list[dict[str, str]] = []
    for line in lines:
        if len(line) != len(header):
            raise TradeDataError(
                f"{table.name}, line {lines.line_num}: {len(line)} cells", f"{len(header)} cells, as in the first line",
                "Quote a cell that holds a comma",
            )
        rows.append(dict(zip(header, line, strict=True)))
    return rows


def _keyed(table: Table, rows: Iterable[RawRow]) -> dict[tuple[str, ...], RawRow]:
    keyed: dict[tuple[str, ...], RawRow] = {}
    for row in rows:
        key = key_of(table, row)
        if key in keyed:
            raise TradeDataError(
                f"{where(table, row)} stands there twice", f"one row for each {' and '.join(table.key)}",
                "Remove one of the two",
            )
        keyed[key] = row
    return keyed


def _nearest(name: str, names: Iterable[str]) -> str:
    close = difflib.get_close_matches(name, list(names), n=1, cutoff=0.4)
    return f"Did you mean {close[0]!r}?" if close else ""


def _lay_over(raw: RawTables, pack: Mapping[str, Any]) -> None:
    for name, rows in pack.items():
        if name == ABOUT:
            continue
        if name not in TABLES:
            raise TradeDataError(
                f"the model pack has a table {name!r}", f"one of {', '.join(TABLES)}, or {ABOUT!r}",
                _nearest(name, TABLES) or "Take the name of the packaged file",
            )
        if isinstance(rows, str | Mapping) or not isinstance(rows, Sequence):
            raise TradeDataError(
                f"the model pack's table {name} is not a list of rows",
                f"a list of rows, in TOML written [[{name}]]",
                "Write each row under its own double-bracketed heading",
            )
        given: set[tuple[str, ...]] = set()
        for row in rows:
            _lay_row(raw[name], TABLES[name], row, given)


def _lay_row(
    have: dict[tuple[str, ...], RawRow], table: Table, row: Any, given: set[tuple[str, ...]]
) -> None:
    if not isinstance(row, Mapping):
        raise TradeDataError(
            f"{table.name} in the model pack: a row is {row!r}", "a table of columns", "Name its columns"
        )
    for column in row:
        if column not in table.cells:
            raise TradeDataError(
                f"{where(table, row)} in the model pack has a column {column!r}",
                f"one of {', '.join(sorted(table.cells))}",
                _nearest(str(column), table.cells) or "Take the name of a column of the packaged file",
            )
    key = key_of(table, row)
    if key in given:
        raise TradeDataError(
            f"{where(table, row)} stands in the model pack twice", "once", "Put all its columns into one row"
        )
    given.add(key)
    own_basis = {"basis": OWN_FIGURES} if "basis" in table.cells else {}
    known = have.get(key)
    if known is not None:
        have[key] = {**known, **own_basis, **row}
        return
    missing = sorted(name for name in _needed(table) if name not in row)
    if missing:
        names = [" / ".join(other) for other in have]
        raise TradeDataError(
            f"{where(table, row)} in the model pack is not known, and as a new row it lacks {', '.join(missing)}",
            "a known row to change, or a complete new one",
            _nearest(" / ".join(key), names) or f"Look up the {' and '.join(table.key)} in the packaged file",
        )
    have[key] = {**own_basis, **row}


def _needed(table: Table) -> set[str]:
    needed: set[str] = set()
    for name, column in table.columns.items():
        if column.is_band:
            needed.update(cell for cell in table.cells if cell.startswith(f"{name}_"))
        elif column.required and name != "basis":
            needed.add(name)
    return needed


def _build(raw: RawTables) -> Trade:
    def rows(name: str, make: Any) -> list[Any]:
        table = TABLES[name]
        return [build_row(table, row, where(table, row), make) for row in raw[name].values()]

    def by_id(name: str, make: Any) -> dict[str, Any]:
        return {row.id: row for row in rows(name, make)}

    components: dict[str, Component] = by_id("components", Component)
    links: list[CauseLink] = rows("cause_links", CauseLink)
    knock_ons: list[KnockOn] = rows("knock_ons", KnockOn)
    latent_wear: dict[str, Band] = {}
    for parent in rows("common_parents", dict):
        links, latent_wear[parent["id"]] = _give_common_parent(parent, components, links, knock_ons)
    causes = _causes(rows("causes", dict), rows("severities", dict))
    return Trade(
        components=components,
        causes=causes,
        cause_links=tuple(links),
        knock_ons=tuple(knock_ons),
        latents=tuple(latent_wear),
        latent_wear=latent_wear,
        signs=_signs(rows("signs", dict), rows("sign_chances", dict), rows("sign_ratios", dict), tuple(causes)),
        told=tuple(rows("told", Told)),
        checks=_checks(rows("checks", dict), rows("check_detects", dict)),
        covers=by_id("covers", Cover),
        carry_overs={row.component: row for row in rows("carry_over", CarryOver)},
        renew_withs={row.component: row for row in rows("renew_with", RenewWith)},
        lead_classes=by_id("lead_classes", LeadClass),
        supply_shares=tuple(rows("supply", SupplyShare)),
        price_steps={row.step: row for row in rows("price_steps", PriceStep)},
        job_times=by_id("job_times", JobTime),
        brand_discounts={row.brand: row for row in rows("brand_discounts", BrandDiscount)},
        fee_steps=tuple(rows("fee_steps", FeeStep)),
        money=by_id("money", MoneyRow),
        cautions=by_id("cautions", Caution),
        legal=by_id("legal", LegalDeferral),
        gates=by_id("gates", GateTemplate),
        fit_items=by_id("fit_to_ride", FitItem),
        classes=by_id("classes", MachineClass),
        stations=_stations(rows("stations", Station), tuple(components)),
        station_regions=_station_regions(
            rows("station_regions", StationRegion), (station for (station,) in raw["stations"]), tuple(components)
        ),
        job_steps=lay_out_steps(
            rows("job_steps", dict), {row["component"]: row["set"] for row in rows("step_sets", dict)}, components
        ),
        mounted_on={row.component: row for row in rows("mounted_on", MountedOn)},
        parking=tuple(sorted(rows("parking", Parking), key=lambda row: row.order)),
        after_ride=tuple(rows("after_ride", AfterRide)),
        preconditions=by_id("preconditions", Precondition),
        sources={
            row["id"]: f"{row['title']}. Read: {row['read']}. Used for: {row['used_for']}."
            for row in rows("sources", dict)
        },
    )


def _give_common_parent(
    parent: Mapping[str, Any], components: dict[str, Component], links: list[CauseLink], knock_ons: list[KnockOn]
) -> tuple[list[CauseLink], Band]:
    """Move what the two members share into the parent: their links from causes, and their wear."""
    name, members, share = parent["id"], parent["members"], parent["share_both"]
    if len(members) != 2 or any(member not in components for member in members):
        raise TradeDataError(
            f"common_parents, row {name}: members are {', '.join(members) or '(none)'}", "two known components",
            "Name the two components that are usually bad together",
        )
    one, other = members
    nothing = Band(0.0, 0.0, 0.0)
    given = {(link.cause, link.component): link for link in links if link.component in members}
    found: list[CauseLink] = []
    for link in links:
        if link.component not in members:
            found.append(link)
            continue
        pair = [given.get((link.cause, member)) for member in members]
        bands = [row.chance if row is not None else nothing for row in pair]
        common, own_one, own_other = split_bands(one=bands[0], other=bands[1], share_both=share)
        own = own_one if link.component == one else own_other
        found.append(CauseLink(cause=link.cause, component=link.component, chance=own, basis=link.basis))
        if link is next(row for row in pair if row is not None) and common.high > 0.0:
            found.append(CauseLink(cause=link.cause, component=name, chance=common, basis=parent["basis"]))
    wear, wear_one, wear_other = split_bands(
        one=components[one].wear_chance, other=components[other].wear_chance, share_both=share
    )
    components[one] = replace(components[one], wear_chance=wear_one)
    components[other] = replace(components[other], wear_chance=wear_other)
    sure = Band(1.0, 1.0, 1.0)
    knock_ons.extend(KnockOn(if_bad=name, then=member, chance=sure, basis=parent["basis"]) for member in members)
    return found, wear


def _group(rows: Iterable[Mapping[str, Any]], owner: str, owners: Iterable[str], table: str) -> dict[str, list[Any]]:
    grouped: dict[str, list[Any]] = {name: [] for name in owners}
    for row in rows:
        if row[owner] not in grouped:
            raise TradeDataError(
                f"{table}: {owner} {row[owner]!r} is not known", f"a {owner} of the data",
                _nearest(row[owner], grouped) or f"Add the {owner} first",
            )
        grouped[row[owner]].append(row)
    return grouped


def _causes(rows: Iterable[dict[str, Any]], severities: Iterable[dict[str, Any]]) -> dict[str, Cause]:
    table = list(rows)
    grouped = _group(severities, "cause", [row["id"] for row in table], "severities")
    return {
        row["id"]: Cause(
            **row,
            severities=tuple(
                Severity(
                    name=level["name"],
                    weight=level["weight"],
                    logodds_shift=level["logodds_shift"],
                    basis=level["basis"],
                )
                for level in grouped[row["id"]]
            ),
        )
        for row in table
    }


def _signs(
    rows: Iterable[dict[str, Any]], chances: Iterable[dict[str, Any]], ratios: Iterable[dict[str, Any]],
    causes: tuple[str, ...],
) -> dict[str, Sign]:
    table = list(rows)
    ids = [row["id"] for row in table]
    by_sign = _group(chances, "sign", ids, "sign_chances")
    ratios_by_sign = _group(ratios, "sign", ids, "sign_ratios")
    signs: dict[str, Sign] = {}
    for row in table:
        any_cause = row.pop("chance_any_cause")
        signs[row["id"]] = Sign(
            **row,
            chance_given_cause={
                **dict.fromkeys(causes, any_cause), **{entry["cause"]: entry["chance"] for entry in by_sign[row["id"]]}
            },
            component_ratio={entry["component"]: entry["ratio"] for entry in ratios_by_sign[row["id"]]},
        )
    return signs


def _checks(rows: Iterable[dict[str, Any]], detects: Iterable[dict[str, Any]]) -> dict[str, Check]:
    table = list(rows)
    grouped = _group(detects, "check", [row["id"] for row in table], "check_detects")
    return {
        row["id"]: Check(
            **row,
            detects=tuple(
                Detects(
                    component=entry["component"], sensitivity=entry["sensitivity"], false_alarm=entry["false_alarm"],
                    basis=entry["basis"],
                )
                for entry in grouped[row["id"]]
            ),
        )
        for row in table
    }


def _stations(rows: Iterable[Station], components: tuple[str, ...]) -> dict[str, Station]:
    """Stations in walking order, their components in the order of the components table."""
    place = {component: index for index, component in enumerate(components)}
    return {
        row.id: Station(
            id=row.id, order=row.order, name=row.name, signs=row.signs, basis=row.basis,
            components=tuple(sorted(row.components, key=lambda name: place.get(name, len(place)))),
        )
        for row in sorted(rows, key=lambda row: row.order)
    }


def _station_regions(
    rows: Iterable[StationRegion], stations: Iterable[str], components: tuple[str, ...]
) -> dict[str, tuple[StationRegion, ...]]:
    """Regions of each station in their order; a region of an unknown station is kept for the check to complain of."""
    place = {component: index for index, component in enumerate(components)}
    grouped: dict[str, list[StationRegion]] = {station: [] for station in stations}
    for row in rows:
        inside = tuple(sorted(row.components, key=lambda name: place.get(name, len(place))))
        grouped.setdefault(row.station, []).append(replace(row, components=inside))
    return {station: tuple(sorted(found, key=lambda row: row.order)) for station, found in grouped.items()}
