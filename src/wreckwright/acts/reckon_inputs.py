"""What goes into a reckoning, and the name of it: the same name, the same answers."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping
from types import MappingProxyType

import msgspec

from wreckwright import __version__
from wreckwright.record.types import Machine
from wreckwright.trade.types import Trade

NOTHING_BOOKED: Mapping[dt.date, int] = MappingProxyType({})


def reckoned_part(machine: Machine) -> Machine:
    """The record without what no answer reads: taps, loose ends, log, the clock of work, and the owner's own fields.

    The answers are read from this, so that a tap in the garage cannot make them out of date.
    """
    jobs = tuple(msgspec.structs.replace(job, started_at=None) if job.started_at else job for job in machine.jobs)
    return msgspec.structs.replace(machine, taps=(), loose_ends=(), log=(), jobs=jobs, extra={})


def common_inputs(trade: Trade, *, n_futures: int) -> str:
    """Names what goes in beside the record and the day: trade data, program, number of futures."""
    mixed = hashlib.sha256(msgspec.msgpack.encode(trade))
    mixed.update(f"\n{__version__}\n{n_futures}".encode())
    return mixed.hexdigest()


def input_hash(machine: Machine, *, day: dt.date, common: str, booked: Mapping[dt.date, int] = NOTHING_BOOKED) -> str:
    """Names all that goes in for this machine; `common` is from `common_inputs`. 64 hexadecimal digits.

    `booked`: minutes of each evening that machines with an earlier turn take; days before `day` do not count.
    """
    mixed = hashlib.sha256(msgspec.json.encode(reckoned_part(machine), order="sorted"))
    taken = sorted((date.isoformat(), minutes) for date, minutes in booked.items() if date >= day)
    mixed.update(f"\n{day.isoformat()}\n{common}\n{taken}".encode())
    return mixed.hexdigest()
