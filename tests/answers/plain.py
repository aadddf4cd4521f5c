"""A plain record and trade data with rows of the test's own, for the answers about work."""

from __future__ import annotations

import datetime as dt
from typing import Any

import msgspec

from wreckwright.record.file import read_record
from wreckwright.record.known import Known
from wreckwright.record.resolve import resolve
from wreckwright.trade.load import load_trade
from wreckwright.trade.types import Trade

DAY = dt.date(2026, 11, 20)
TRADE = load_trade()


def known(**over: Any) -> Known:
    plain: dict[str, Any] = {
        "nickname": "Thistle", "machine_class": "naked", "year": 2016, "as_of": "2026-11-20",
        "purchase": {"bought": True, "price_minor": 80000},
    }
    return resolve(read_record(msgspec.json.encode(plain | over)), TRADE, as_of=DAY)


def trade(**over: Any) -> Trade:
    """The trade data with some tables replaced."""
    return msgspec.structs.replace(TRADE, **over)
