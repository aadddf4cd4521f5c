"""Every format that was ever released stays readable."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from wreckwright.record.file import read_record, to_json, to_toml
from wreckwright.record.types import (
    Calendar,
    Finding,
    Gate,
    Job,
    Machine,
    Market,
    MinutesBand,
    MoneyBand,
    Owner,
    PartLine,
    Purchase,
    PurseLine,
    SeenSign,
)
from wreckwright.record.upcast import CURRENT_FORMAT, UPCASTERS, format_fault, upcast

GOLDEN = Path(__file__).parent / "golden"

# hand-worked: what golden/format-1.toml says, field by field.
FORMAT_1 = Machine(
    nickname="Golden",
    machine_class="naked",
    year=2015,
    as_of=dt.date(2026, 11, 20),
    currency="GBP",
    odometer=21000.0,
    odometer_unit="mi",
    what_hit=("left",),
    turns_over="yes",
    findings=(Finding(id="f1", what="left mirror gone"), Finding(id="rim", what="front rim dinged", sure=0.8)),
    signs=(SeenSign(id="s1", sign="one_side_scrape_left"),),
    purchase=Purchase(bought=True, price_minor=123456, date=dt.date(2026, 10, 1)),
    market=Market(sound_value=MoneyBand(low_minor=300000, likely_minor=350000, high_minor=400000)),
    calendar=Calendar(weekday_minutes=(0, 90, 0, 90, 0, 240, 0), days_off=(dt.date(2026, 12, 25),), attendance=0.5),
    owner=Owner(accepted_loss_chance=0.1),
    parts=(
        PartLine(
            id="mirror",
            component="mirror_l",
            state="ordered",
            price_minor=2500,
            ordered_on=dt.date(2026, 11, 1),
            at=dt.datetime(2026, 11, 1, 19, 15, tzinfo=dt.UTC),
        ),
    ),
    jobs=(
        Job(
            id="j1",
            name="Fit the mirror",
            component="mirror_l",
            minutes=MinutesBand(low=5.0, likely=10.0, high=30.0),
            parts=("mirror",),
        ),
    ),
    gates=(Gate(id="g1", template="papers", answer="yes"),),
    purse=(PurseLine(id="purse1", date=dt.date(2026, 10, 1), what="the machine", out_minor=123456, pays="purchase"),),
    extra={"shelf": {"row": 2, "since": "2026-10-02"}},
)


def test_the_golden_file_of_format_1_means_what_it_always_meant() -> None:
    assert read_record((GOLDEN / "format-1.toml").read_bytes()) == FORMAT_1
    assert read_record(to_toml(FORMAT_1).encode()) == read_record(to_json(FORMAT_1)) == FORMAT_1


def test_there_is_a_golden_file_of_every_format_and_a_way_up_from_every_older_one() -> None:
    assert {path.name for path in GOLDEN.iterdir()} == {f"format-{n}.toml" for n in range(1, CURRENT_FORMAT + 1)}
    assert set(UPCASTERS) == set(range(1, CURRENT_FORMAT))


def test_a_file_without_a_format_is_read_as_format_1() -> None:
    text = (GOLDEN / "format-1.toml").read_text().replace("format = 1\n", "")
    assert read_record(text.encode()) == FORMAT_1


def test_upcasters_run_in_a_chain_and_change_nothing_in_place() -> None:
    def second(raw: Mapping[str, Any]) -> dict[str, Any]:
        return {**raw, "seen": [*raw.get("seen", ()), "1 to 2"]}

    def third(raw: Mapping[str, Any]) -> dict[str, Any]:
        return {**raw, "seen": [*raw["seen"], "2 to 3"]}

    old: dict[str, Any] = {"nickname": "S"}
    new = upcast(old, upcasters={1: second, 2: third}, current=3)
    # hand-worked
    assert new == {"nickname": "S", "seen": ["1 to 2", "2 to 3"], "format": 3}
    assert old == {"nickname": "S"}
    assert upcast({"format": 2, "seen": []}, upcasters={1: second, 2: third}, current=3)["seen"] == ["2 to 3"]
    assert format_fault({"format": 3}, current=3) is None
    assert format_fault({"format": True}) is not None
