"""The examples are good records: rich ones that teach the format, and the least that gives a first answer."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from wreckwright.record.against_trade import check_against_trade
from wreckwright.record.file import read_record, to_json, to_toml
from wreckwright.record.resolve import resolve
from wreckwright.trade.load import load_trade

TRADE = load_trade()
FOLDER = Path(__file__).resolve().parents[2] / "examples"
NAMES = ("sorrel", "bramble", "magpie")
ALL = sorted(FOLDER.rglob("*.toml"))


def facts(value: Any) -> int:
    if isinstance(value, dict):
        return sum(map(facts, value.values()))
    return sum(map(facts, value)) if isinstance(value, list) else 1


def test_three_machines_rich_and_minimal() -> None:
    assert {str(path.relative_to(FOLDER)) for path in ALL} == {
        f"{folder}{name}.toml" for folder in ("", "minimal/") for name in NAMES
    }


@pytest.mark.parametrize("path", ALL, ids=lambda path: str(path.relative_to(FOLDER)))
def test_an_example_is_read_understood_and_kept(path: Path) -> None:
    data = path.read_bytes()
    machine = read_record(data, name=path.name)
    assert check_against_trade(machine, TRADE, source=data) == []
    assert read_record(to_toml(machine).encode()) == read_record(to_json(machine)) == machine
    known = resolve(machine, TRADE, as_of=None)
    assert known.bad and known.as_of.isoformat() == "2026-11-20"
    # The words are chosen so that nothing about a part has to be assumed.
    assert not [guess for guess in known.guesses if guess.field.startswith("findings.")]


@pytest.mark.parametrize("name", NAMES)
def test_a_minimal_record_has_fewer_than_twelve_facts(name: str) -> None:
    raw = tomllib.loads((FOLDER / "minimal" / f"{name}.toml").read_text())
    assert facts(raw) < 12
    # Everything else is named: these are what the answers rest on.
    machine = read_record((FOLDER / "minimal" / f"{name}.toml").read_bytes())
    named = {guess.field for guess in resolve(machine, TRADE, as_of=None).guesses}
    assert {
        "calendar.attendance",
        "market.sound_value",
        "owner.hour_value_minor",
        "purchase.brand",
        "owner.pace",
    } <= named


@pytest.mark.parametrize("name", NAMES)
def test_money_of_a_rich_example_is_counted_once(name: str) -> None:
    known = resolve(read_record((FOLDER / f"{name}.toml").read_bytes()), TRADE, as_of=None)
    # hand-worked. Sorrel: 2,450 + 40 + 95, parts 118.50 + 42 + 14.50, 23.80 out, 40 in.
    # Bramble: 320 + 45 + 28.50 + 18.75. Magpie: not bought, 12 spent on looking.
    assert known.sunk_minor == {"sorrel": 274380, "bramble": 41225, "magpie": 1200}[name]


def test_sorrel_shows_what_a_record_can_hold() -> None:
    machine = read_record((FOLDER / "sorrel.toml").read_bytes())
    for rows in (
        "finished",
        "findings",
        "signs",
        "remedies",
        "parts",
        "jobs",
        "gates",
        "readings",
        "fastenings",
        "purse",
        "log",
    ):
        assert getattr(machine, rows), rows
    known = resolve(machine, TRADE, as_of=None)
    assert {bad.component for bad in known.bad} >= {
        "steering_stop", "front_wheel", "water_pump", "wheel_speed_sensors", "luggage_rack",
    }  # fmt: skip
    assert known.put_right == {"indicator_rr"}
    (bank,) = [gate for gate in known.gates if gate.id == "bank"]
    template = TRADE.gates[bank.template]
    assert template.kind == "outside" and bank.answer == "unasked"
    late = [part for part in machine.parts if part.state == "ordered" and part.ordered_on is not None]
    assert any((known.as_of - part.ordered_on).days >= 28 for part in late if part.ordered_on)
    assert any(entry.clip and entry.clip_from_s is not None for entry in machine.log)


def test_bramble_asks_a_bench_gate_of_its_own_and_magpie_is_a_lot() -> None:
    bramble = resolve(read_record((FOLDER / "bramble.toml").read_bytes()), TRADE, as_of=None)
    assert [(gate.id, gate.kind, gate.answer) for gate in bramble.gates if not gate.template] == [
        ("compression", "bench", "unasked")
    ]
    magpie = resolve(read_record((FOLDER / "magpie.toml").read_bytes()), TRADE, as_of=None)
    assert not magpie.bought and magpie.at_auction and magpie.machine.seen_in == "photographs"


@pytest.mark.parametrize("name", NAMES)
def test_vehicle_numbers_are_marked_as_invented(name: str) -> None:
    machine = read_record((FOLDER / f"{name}.toml").read_bytes())
    assert machine.vin.startswith("INVENTED-")
