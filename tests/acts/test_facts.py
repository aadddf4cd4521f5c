"""Facts as they are typed: read back they change nothing, and each typed word becomes the value it means."""

from __future__ import annotations

import datetime as dt
from typing import Any

import msgspec
import pytest

from tests.acts.kept import EXAMPLES
from wreckwright.acts.checks import trade_data
from wreckwright.acts.facts import Facts, fact_rows, facts_of
from wreckwright.acts.files import open_record
from wreckwright.errors import EntryError
from wreckwright.record.types import Machine, Market, Owner, Purchase

FULL = Machine(
    nickname="Teasel",
    machine_class="naked",
    year=2016,
    as_of=dt.date(2026, 11, 20),
    vin="WW0000000000TEST1",
    odometer=21_300.5,
    odometer_unit="mi",
    mirrored=True,
    currency="JPY",
    purchase=Purchase(bought=True, price_minor=120_000, at_auction=True),
    market=Market(days_to_sell=21.0, selling_share=0.055, as_it_stands_minor=90_000, part_out_minor=150_000),
    owner=Owner(wanted_pay_minor=900, workshop_hour_minor=8_000, holding_day_minor=0, pace=1.25, words="us"),
)


def read(machine: Machine, facts: Facts) -> Machine:
    """The record after the rows that come of the facts were laid over it."""
    plain: dict[str, Any] = msgspec.to_builtins(machine)
    for kind, fields in fact_rows(facts, trade_data(), machine).items():
        row = plain if kind == "machine" else plain.setdefault(kind, {})
        for name, value in fields.items():
            row.pop(name, None)
            if value is not None:
                row[name] = value
    return msgspec.convert(plain, Machine)


@pytest.mark.parametrize(
    "machine",
    [FULL, *(f"{name}.toml" for name in ("sorrel", "bramble", "magpie"))],
    ids=lambda value: value if isinstance(value, str) else "every field",
)
def test_read_back_it_changes_nothing(machine: Machine | str) -> None:
    known = open_record(EXAMPLES / machine) if isinstance(machine, str) else machine
    assert read(known, facts_of(known)) == known


@pytest.mark.parametrize(
    ("facts", "kind", "fields"),
    [
        (Facts(days_to_sell="21"), "market", {"days_to_sell": 21.0}),
        (Facts(selling_share="5.5 %"), "market", {"selling_share": 0.055}),
        (Facts(attendance="60"), "calendar", {"attendance": 0.6}),
        (Facts(holding_day="0"), "owner", {"holding_day_minor": 0}),
        (Facts(wanted_pay="12.50"), "owner", {"wanted_pay_minor": 1250}),
        (Facts(pace="1,5"), "owner", {"pace": 1.5}),
        (Facts(words="uk"), "owner", {"words": None}),
        (Facts(words="us"), "owner", {"words": "us"}),
        (Facts(at_auction=True), "purchase", {"at_auction": True}),
        (Facts(at_auction=False), "purchase", {"at_auction": None}),
        (Facts(mirrored=True), "machine", {"mirrored": True}),
        (Facts(odometer="21 300"), "machine", {"odometer": 21300.0}),
        (Facts(odometer_unit="km"), "machine", {"odometer_unit": None}),
        (Facts(vin="  WW1  "), "machine", {"vin": "WW1"}),
        (Facts(as_it_stands=""), "market", {"as_it_stands_minor": None}),
    ],
)
def test_a_typed_word_becomes_its_value(facts: Facts, kind: str, fields: dict[str, Any]) -> None:
    assert fact_rows(facts, trade_data(), None) == {kind: fields}


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        (Facts(days_to_sell="soon"), "days_to_sell"),
        (Facts(days_to_sell="-3"), "days_to_sell"),
        (Facts(attendance="0"), "attendance"),
        (Facts(pace="0"), "pace"),
        (Facts(pace="99"), "pace"),
        (Facts(words="cockney"), "words"),
        (Facts(odometer="9" * 9), "odometer"),
        (Facts(odometer_unit="leagues"), "odometer_unit"),
        (Facts(wanted_pay="a lot"), "wanted_pay"),
    ],
)
def test_what_cannot_be_meant_is_refused_and_names_its_field(facts: Facts, field: str) -> None:
    with pytest.raises(EntryError) as raised:
        fact_rows(facts, trade_data(), None)
    assert raised.value.field == field
    assert raised.value.allowed and raised.value.do
