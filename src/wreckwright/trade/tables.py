"""How each table of trade data looks: its key, its columns, what a cell may hold.

The same for packaged files and model packs.

A cell is text as it stands in a spreadsheet, or, in a model pack, already a number, a truth value, a list or a table.
Lists are written `a; b; c`, pairs `a=0.1; b=0.2`, bands as three columns `*_low`, `*_mid`, `*_high`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from wreckwright.errors import TradeDataError
from wreckwright.trade.types import Band, WayRound

RawRow = Mapping[str, Any]
BAND_ENDS = ("low", "mid", "high")


class CellError(Exception):
    """A cell does not hold what its column allows. Caught by the builder, which adds table, row and column."""

    def __init__(self, found: object, allowed: str) -> None:
        super().__init__(found, allowed)
        self.found = found
        self.allowed = allowed


@dataclass(frozen=True)
class Column:
    """One column: what it allows in words, how its cell is read, and its value when the cell is absent (if any)."""

    allowed: str
    read: Callable[[Any], Any]
    default: Any = None
    required: bool = True
    low: float | None = None
    high: float | None = None
    is_band: bool = False


@dataclass(frozen=True)
class Table:
    name: str
    key: tuple[str, ...]
    columns: Mapping[str, Column]
    cells: frozenset[str] = field(init=False)

    def __post_init__(self) -> None:
        cells: set[str] = set()
        for name, column in self.columns.items():
            cells.update(f"{name}_{end}" for end in BAND_ENDS) if column.is_band else cells.add(name)
        object.__setattr__(self, "cells", frozenset(cells))


def _text(cell: Any) -> str:
    if not isinstance(cell, str):
        raise CellError(cell, "text")
    return cell.strip()


def _filled(cell: Any) -> str:
    text = _text(cell)
    if not text:
        raise CellError(cell, "text that is not empty")
    return text


def _number(cell: Any) -> float:
    if isinstance(cell, bool) or not isinstance(cell, str | int | float):
        raise CellError(cell, "a number")
    try:
        number = float(cell)
    except (ValueError, OverflowError):
        raise CellError(cell, "a number, with a point for the decimals") from None
    if not math.isfinite(number):
        raise CellError(cell, "a finite number")
    return number


def _whole(cell: Any) -> int:
    number = _number(cell)
    if number != int(number):
        raise CellError(cell, "a whole number")
    return int(number)


def _yes_no(cell: Any) -> bool:
    if isinstance(cell, bool):
        return cell
    if cell in ("yes", "no"):
        return bool(cell == "yes")
    raise CellError(cell, "yes or no")


def _words(cell: Any) -> tuple[str, ...]:
    if isinstance(cell, str):
        return tuple(part.strip() for part in cell.split(";") if part.strip())
    if isinstance(cell, Sequence):
        return tuple(_filled(part) for part in cell)
    raise CellError(cell, "a list, written a; b; c")


def _pairs(cell: Any) -> dict[str, float]:
    if isinstance(cell, Mapping):
        return {_filled(name): _number(value) for name, value in cell.items()}
    found: dict[str, float] = {}
    for part in _words(cell):
        name, equals, value = part.partition("=")
        if not equals or not name.strip() or name.strip() in found:
            raise CellError(part, "pairs, written a=0.1; b=0.2, each name once")
        found[name.strip()] = _number(value)
    return found


def _ways(cell: Any) -> tuple[WayRound, ...]:
    if isinstance(cell, str) or not isinstance(cell, Sequence):
        raise CellError(cell, "a list of tables")
    return tuple(build_row(WAYS_ROUND, way, "ways_round", WayRound) for way in cell)


def text(*, default: str | None = None) -> Column:
    if default is None:
        return Column("text that is not empty", _filled)
    return Column("text", _text, default=default, required=False)


def choice(*values: str, default: str | None = None) -> Column:
    allowed = "one of " + ", ".join(repr(value) for value in values)

    def read(cell: Any) -> str:
        if cell not in values:
            raise CellError(cell, allowed)
        return str(cell)

    return Column(allowed, read, default=default, required=default is None)


def number(low: float, high: float, *, default: float | None = None) -> Column:
    allowed = f"a number from {low:g} to {high:g}"
    return Column(allowed, _number, default=default, required=default is None, low=low, high=high)


def whole(low: int, high: int, *, default: int | None = None) -> Column:
    allowed = f"a whole number from {low} to {high}"
    return Column(allowed, _whole, default=default, required=default is None, low=low, high=high)


def yes_no(*, default: bool | None = None) -> Column:
    return Column("yes or no", _yes_no, default=default, required=default is None)


def words() -> Column:
    return Column("a list, written a; b; c", _words, default=(), required=False)


def pairs(low: float, high: float) -> Column:
    allowed = f"pairs a=0.1; b=0.2 with numbers from {low:g} to {high:g}"
    return Column(allowed, _pairs, default={}, required=False, low=low, high=high)


def band(low: float, high: float) -> Column:
    return Column(
        f"three numbers from {low:g} to {high:g} with low <= mid <= high", _number, low=low, high=high, is_band=True
    )


def ways() -> Column:
    return Column("a list of ways round", _ways, default=(), required=False)


CHANCE = (0.0, 1.0)
MINUTES = (0.0, 10_000.0)
BASIS = {"basis": text()}
PARKING_WHEN = (
    "always", "ports_open", "engine_turned", "battery_in", "battery_out", "tank_on", "tyres_loaded", "calipers_off",
)
WANTED = ("rolls", "steers", "number_readable", "battery_up")
"""What a machine may have to be able to do before it is taken somewhere; the record knows these words."""


def _table(name: str, key: tuple[str, ...], columns: Mapping[str, Column], *, basis: bool = True) -> Table:
    return Table(name, key, {**columns, **BASIS} if basis else columns)


WAYS_ROUND = _table(
    "ways_round", ("name",),
    {
        "name": text(), "chance": number(*CHANCE), "price_step": whole(1, 7), "price_factor": number(0.0, 20.0),
        "lead_class": text(), "minutes": number(*MINUTES),
    },
    basis=False,
)

TABLES: Mapping[str, Table] = {
    table.name: table
    for table in (
        _table("sources", ("id",), {"id": text(), "title": text(), "read": text(), "used_for": text()}, basis=False),
        _table(
            "components", ("id",),
            {
                "id": text(), "name_uk": text(), "name_us": text(), "synonyms": words(), "zone": text(),
                "side": choice("left", "right", "middle"), "mirror": text(default=""),
                "when_mirrored": choice("stays", "moves", "swaps", default="stays"),
                "ride": choice("stop", "limit", "none"), "run": choice("stop", "limit", "none"),
                "looks_0_3": whole(0, 3), "hidden": yes_no(),
                "seen_from": choice("walk_round", "hands_on", "panels_off", "stripped", "papers"),
                "look_minutes": number(*MINUTES), "look_how": text(), "bad_looks_like": text(), "practice": text(),
                "used_ok": choice("ok", "with_care", "no"), "pattern_ok": choice("ok", "rare", "no"),
                "repairable": yes_no(), "price_step": whole(1, 7),
                "usual_remedy": choice("repair", "genuine", "pattern", "used", "modify", "leave"), "lead_class": text(),
                "fit_minutes": number(*MINUTES), "covers": words(), "wear_chance": band(*CHANCE),
                "fit_to_ride": text(default=""),
            },
        ),
        _table(
            "causes", ("id",),
            {"id": text(), "name": text(), "is_impact": yes_no(), "chance": band(*CHANCE), "may_combine_with": words()},
        ),
        _table(
            "severities", ("cause", "name"),
            {"cause": text(), "name": text(), "weight": number(*CHANCE), "logodds_shift": number(-5.0, 5.0)},
        ),
        _table(
            "cause_links", ("cause", "component"), {"cause": text(), "component": text(), "chance": band(*CHANCE)}
        ),
        _table(
            "common_parents", ("id",),
            {"id": text(), "name": text(), "members": words(), "share_both": number(*CHANCE)},
        ),
        _table("knock_ons", ("if_bad", "then"), {"if_bad": text(), "then": text(), "chance": band(*CHANCE)}),
        _table(
            "signs", ("id",),
            {
                "id": text(), "text": text(), "group": text(), "chance_otherwise": number(*CHANCE),
                "chance_any_cause": number(*CHANCE),
            },
        ),
        _table("sign_chances", ("sign", "cause"), {"sign": text(), "cause": text(), "chance": number(*CHANCE)}),
        _table(
            "sign_ratios", ("sign", "component"),
            {"sign": text(), "component": text(), "ratio": number(0.01, 100.0)},
        ),
        _table("told", ("hit", "cause"), {"hit": text(), "cause": text(), "chance": number(*CHANCE)}),
        _table(
            "checks", ("id",),
            {
                "id": text(), "name": text(), "minutes": number(*MINUTES), "tools": words(), "covers": words(),
                "passes_when": text(), "fails_when": text(), "caution": text(default=""), "only_after": words(),
                "blocked_over": pairs(*CHANCE), "unblocked_by": words(), "rough_for": text(default=""),
            },
        ),
        _table(
            "check_detects", ("check", "component"),
            {"check": text(), "component": text(), "sensitivity": number(*CHANCE), "false_alarm": number(*CHANCE)},
        ),
        _table(
            "covers", ("id",),
            {
                "id": text(), "name": text(), "name_on": text(default=""), "under": words(),
                "minutes_off": number(*MINUTES),
                "minutes_on": number(*MINUTES), "helper": yes_no(default=False), "drains": words(),
                "support": text(default=""), "one_use": words(), "caution": text(default=""), "exposes": words(),
            },
        ),
        _table("carry_over", ("component",), {"component": text(), "pieces": words()}),
        _table("renew_with", ("component",), {"component": text(), "pieces": words()}),
        _table(
            "job_steps", ("of", "way", "step"),
            {
                "of": text(default=""), "way": choice("buy", "mend"), "step": text(), "order": whole(1, 99),
                "kind": choice("strip", "check", "repair", "fit", "adjust", "clean", "test"), "words": text(),
                "share": number(*CHANCE), "wants_part": yes_no(), "uncovered": yes_no(),
                "cure_days": whole(0, 365, default=0), "helper": yes_no(default=False),
                "only_with_pieces": yes_no(default=False), "tools": words(), "steps": words(),
                "film": text(default=""),
            },
        ),
        _table("step_sets", ("component",), {"component": text(), "set": text()}),
        _table("mounted_on", ("component",), {"component": text(), "mounts": words()}),
        _table(
            "parking", ("id",),
            {
                "id": text(), "order": whole(1, 99), "words": text(), "from_days": whole(0, 3650),
                "when": choice(*PARKING_WHEN, default="always"),
            },
        ),
        _table(
            "after_ride", ("id",),
            {
                "id": text(), "words": text(), "component": text(default=""),
                "heat_cycles": whole(0, 1000, default=0), "distance_km": number(0.0, 100_000.0, default=0.0),
                "minutes": number(*MINUTES), "cautions": words(),
            },
        ),
        _table(
            "preconditions", ("id",),
            {
                "id": choice(*WANTED), "question": text(), "job": text(), "minutes": number(*MINUTES),
                "components": words(), "covers_on": words(),
            },
        ),
        _table(
            "lead_classes", ("id",),
            {
                "id": text(), "name": text(), "median_days": number(0.01, 3650.0), "p90_days": number(0.01, 3650.0),
                "never_chance": number(0.0, 0.99), "cancel_days": whole(1, 3650),
            },
        ),
        _table(
            "supply", ("machine_age_from_years", "lead_class"),
            {"machine_age_from_years": whole(0, 200), "lead_class": text(), "share": number(*CHANCE)},
        ),
        _table(
            "price_steps", ("step",),
            {
                "step": whole(1, 7), "word": text(), "new_share_of_sound_value": band(0.0, 2.0),
                "used_factor": band(0.0, 2.0), "pattern_factor": band(0.0, 2.0),
            },
        ),
        _table("job_times", ("id",), {"id": text(), "name": text(), "hours": band(0.0, 1000.0)}),
        _table("brand_discounts", ("brand",), {"brand": text(), "name": text(), "share_off": band(*CHANCE)}),
        _table("fee_steps", ("from_hours",), {"from_hours": number(0.0, 1e6), "rate": number(*CHANCE)}),
        _table("money", ("id",), {"id": text(), "figure": band(0.0, 1e6), "note": text(default="")}),
        _table(
            "cautions", ("id",),
            {"id": text(), "text": text(), "applies_to": words(), "weight": whole(1, 3, default=2)},
        ),
        _table("legal", ("id",), {"id": text(), "text": text(), "defer_to": text()}),
        _table(
            "gates", ("id",),
            {
                "id": text(), "question": text(), "kind": choice("bench", "outside"), "order": whole(0, 20),
                "pass_chance": number(0.0, 1.0, default=1.0), "fails_with": words(),
                "minutes": number(*MINUTES, default=0.0), "covers_off": words(), "covers_on": words(),
                "lead_class": text(default=""), "helper": yes_no(default=False),
                "needs_component_run": yes_no(default=False),
                "needs_component_ride": yes_no(default=False), "guards": words(), "rough_check": text(default=""),
                "ways_round": ways(), "cautions": words(),
            },
        ),
        _table("fit_to_ride", ("id",), {"id": text(), "name": text(), "how_proved": text()}),
        _table(
            "classes", ("id",),
            {
                "id": text(), "name": text(), "synonyms": words(), "absent_components": words(),
                "default_sound_value_hours": band(0.0, 1e5), "not_covered": text(default=""),
            },
        ),
        _table(
            "stations", ("id",),
            {"id": text(), "order": whole(1, 8), "name": text(), "components": words(), "signs": words()},
        ),
        _table(
            "station_regions", ("station", "region"),
            {"station": text(), "region": text(), "order": whole(1, 20), "name": text(), "components": words()},
        ),
    )
}


def key_of(table: Table, row: RawRow) -> tuple[str, ...]:
    """The key of a row as text, so that `5` and `"5"` name the same row."""
    return tuple(str(row.get(column, "")).strip() for column in table.key)


def where(table: Table, row: RawRow) -> str:
    """Table and row in words, for messages."""
    return f"{table.name}, row {' / '.join(key_of(table, row)) or '(no key)'}"


def build_row(table: Table, row: RawRow, place: str, make: Callable[..., Any]) -> Any:
    """Read every cell of `row` by its column and make a typed row of it; `place` goes in front of a complaint."""
    fields: dict[str, Any] = {}
    for name, column in table.columns.items():
        if column.is_band:
            ends = [_cell(table, row, column, f"{name}_{end}", place) for end in BAND_ENDS]
            if not ends[0] <= ends[1] <= ends[2]:
                raise _complaint(place, f"{name}_low/_mid/_high", ends, "low <= mid <= high")
            fields[name] = Band(*ends)
        else:
            fields[name] = _cell(table, row, column, name, place)
    return make(**fields)


def _cell(table: Table, row: RawRow, column: Column, name: str, place: str) -> Any:
    cell = row.get(name)
    if cell is None or (cell == "" and not column.required):
        if column.required:
            raise _complaint(place, name, "nothing", column.allowed)
        return column.default
    try:
        value = column.read(cell)
    except CellError as error:
        raise _complaint(place, name, error.found, error.allowed) from None
    if column.low is not None and column.high is not None:
        for figure in value.values() if isinstance(value, dict) else (value,):
            if not column.low <= figure <= column.high:
                raise _complaint(place, name, figure, column.allowed)
    return value


def _complaint(place: str, name: str, found: object, allowed: str) -> TradeDataError:
    return TradeDataError(
        f"{place}: {name} is {found!r}", f"allowed is {allowed}", "Correct that cell, or leave it out of the model pack"
    )
