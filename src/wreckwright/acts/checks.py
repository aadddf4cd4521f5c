"""What every change of a machine in the memory must leave: a record that any question can be asked of."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping
from functools import lru_cache
from typing import Any

import msgspec

from wreckwright.errors import EntryError, Problem, RecordError
from wreckwright.record.against_trade import check_against_trade
from wreckwright.record.faults import as_problem
from wreckwright.record.rules import HANDLE_PREFIX, rule_faults
from wreckwright.record.shape import shape_faults
from wreckwright.record.types import Machine
from wreckwright.record.words import Words
from wreckwright.trade.load import load_trade
from wreckwright.trade.mirror import mirror_trade
from wreckwright.trade.types import Trade

Today = Callable[[], dt.date]


def trade_data(*, mirrored: bool = False) -> Trade:
    """The trade data that come with the program, read once: the same object every time."""
    return _trade_data(mirrored)


@lru_cache(maxsize=2)
def _trade_data(mirrored: bool) -> Trade:
    return load_trade(mirrored=mirrored)


def trade_for(machine: Machine) -> Trade:
    """The trade data that fit this machine's layout."""
    return trade_data(mirrored=machine.mirrored)


def fitting_trade(machine: Machine, trade: Trade) -> Trade:
    """`trade` for this machine's layout. Those that come with the program are mirrored once."""
    if machine.mirrored == trade.mirrored:
        return trade
    return trade_for(machine) if _packed(trade) else mirror_trade(trade)


def words_of(trade: Trade) -> Words:
    """What understands plain words by these trade data; of those that come with the program it is made once."""
    return _words(trade.mirrored) if _packed(trade) else Words(trade)


def words_for(machine: Machine) -> Words:
    """What understands plain words of this machine."""
    return _words(machine.mirrored)


@lru_cache(maxsize=2)
def _words(mirrored: bool) -> Words:
    return Words(trade_data(mirrored=mirrored))


def _packed(trade: Trade) -> bool:
    return trade is trade_data(mirrored=trade.mirrored)


def day_of(machine: Machine, *, today: Today = dt.date.today) -> dt.date:
    """The day for which a stored machine's answers hold: that of the record, else today."""
    return machine.as_of or today()


def record_problems(machine: Machine, trade: Trade, *, today: Today = dt.date.today) -> list[Problem]:
    """Why no question can be asked of a record; empty as a rule. Places are named by the handles of the rows.

    A machine without a day of its own is held to today. `trade` is mirrored here where the machine needs it.
    """
    dated = msgspec.structs.replace(machine, as_of=day_of(machine, today=today))
    raw = msgspec.to_builtins(machine)
    problems = [as_problem(fault, raw=raw, lines={}) for fault in rule_faults(dated)]
    if problems:
        return problems
    return check_against_trade(machine, fitting_trade(machine, trade))


def check_machine(
    trade: Trade, *, before: Callable[[], Iterable[Machine]] = tuple, today: Today = dt.date.today
) -> Callable[[Machine], None]:
    """The check that the store calls before it keeps anything; raises RecordError.

    `before`: the machines as they stand; what was wrong with them already (after the trade data changed, say) is no
    reason to refuse a change, or it could never be put right one by one.
    """

    def check(machine: Machine) -> None:
        problems = record_problems(machine, trade, today=today)
        if problems:
            old = {
                (one.where, one.found) for earlier in before() for one in record_problems(earlier, trade, today=today)
            }
            problems = [one for one in problems if (one.where, one.found) not in old]
        if problems:
            raise RecordError(problems, name=machine.nickname)

    return check


def check_row(kind: str, fields: Mapping[str, Any]) -> None:
    """Whether the fields of one row have the right shape (lengths, ranges, names); None stands for an absent field.

    `kind` is a list of the record, one of its tables, or `machine`. Raises EntryError, which names the field.
    """
    row = {name: value for name, value in fields.items() if value is not None}
    least: dict[str, Any] = {"nickname": "-", "machine_class": "-", "year": 2000}
    plain = {"machine": least | row}.get(kind) or least | {kind: [{"id": "-"} | row] if kind in HANDLE_PREFIX else row}
    # A row need not be complete here: what it lacks, the row it changes may have.
    faults = [fault for fault in shape_faults(plain) if fault.found != "nothing"]
    if not faults:
        return
    first = faults[0]
    named = [step for step in first.path if isinstance(step, str) and step != kind]
    field = named[0] if named else kind
    more = f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""
    raise EntryError(f"{field}: found {first.found}{more}", allowed=first.allowed, do=first.do, field=field)
