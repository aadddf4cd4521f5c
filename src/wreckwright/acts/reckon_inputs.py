"""What goes into a reckoning, and the name of it: the same name, the same answers."""

from __future__ import annotations

import datetime as dt
import hashlib

import msgspec

from wreckwright import __version__
from wreckwright.record.types import Machine
from wreckwright.trade.types import Trade


def reckoned_part(machine: Machine) -> Machine:
    """The record without what no answer reads: taps, log and the owner's own fields.

    The answers are read from this, so that a tap in the garage cannot make them out of date.
    """
    return msgspec.structs.replace(machine, taps=(), log=(), extra={})


def common_inputs(trade: Trade, *, n_futures: int) -> str:
    """Names what goes in beside the record and the day: trade data, program, number of futures."""
    mixed = hashlib.sha256(msgspec.json.encode(trade))
    mixed.update(f"\n{__version__}\n{n_futures}".encode())
    return mixed.hexdigest()


def input_hash(machine: Machine, *, day: dt.date, common: str) -> str:
    """Names all that goes in for this machine; `common` is from `common_inputs`. 64 hexadecimal digits."""
    mixed = hashlib.sha256(msgspec.json.encode(reckoned_part(machine), order="sorted"))
    mixed.update(f"\n{day.isoformat()}\n{common}".encode())
    return mixed.hexdigest()
