"""Resolved records for tests, written as short files the way an owner would."""

from __future__ import annotations

import datetime as dt

from wreckwright.record.file import read_record
from wreckwright.record.known import Known
from wreckwright.record.resolve import resolve
from wreckwright.trade.load import load_trade
from wreckwright.trade.types import Trade

TRADE: Trade = load_trade()
AS_OF = dt.date(2026, 11, 20)

SLID = """
nickname = "Teasel"
machine_class = "tourer"
year = 2019
what_hit = "right"
findings = ["right mirror gone", "water pump cover cracked", "front rim dinged"]
purchase = { bought = true, price_minor = 210000 }
market = { sound_value_minor = 640000 }
"""


def known(text: str = SLID, *, extra: str = "") -> Known:
    """The record `text`, with more lines put before its tables, resolved for a fixed day."""
    machine = read_record((extra + text).encode(), name="teasel.toml")
    return resolve(machine, TRADE, as_of=AS_OF)
