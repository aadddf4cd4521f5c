"""Money already gone, each sum counted once.

A purchase is written under `purchase`, a part's payment in its part line, and people keep a purse besides, in which
the same payments stand again. So:

- a purse line with `pays = "purchase"` or `pays = "<handle of a part line>"` is the payment of that sum, not a further
  one; where several add up to more than the sum stated there, what was really paid counts;
- a purse line without `pays` that is equal, to the minor unit, to a sum stated there (price, fees, freight, all three
  together, or what was paid for a part) is taken as its payment too, each such sum once, if no line names that payee;
  it is then named as a guess;
- money that came back with such a `pays` is taken off that sum; a part line in the state `refunded` without such a line
  counts as given back whole;
- every other purse line is a further payment; money that came in is taken off.

Purse lines after the as-of date have not happened yet.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from wreckwright.record.known import RecordGuess
from wreckwright.record.money import show_money
from wreckwright.record.types import Machine

PURCHASE = "purchase"


@dataclass(frozen=True, kw_only=True)
class Sunk:
    total_minor: int
    guesses: tuple[RecordGuess, ...]
    part_minor: Mapping[str, int]
    """Handle of a part line -> what has been paid for it and not come back, by the line or by the purse."""
    purchase_minor: int
    """What the purse alone says has been paid for the machine, fees and freight among it."""


def sunk(machine: Machine, *, as_of: dt.date) -> Sunk:
    """Money gone by `as_of`, in minor units of the record's currency.

    >>> import msgspec
    >>> machine = msgspec.convert({
    ...     "nickname": "S", "machine_class": "naked", "year": 2019, "purchase": {"bought": True, "price_minor": 9000},
    ...     "purse": [{"id": "u1", "date": "2026-11-01", "what": "the machine", "out_minor": 9000, "pays": "purchase"},
    ...               {"id": "u2", "date": "2026-11-02", "what": "cleaner", "out_minor": 500}]}, Machine)
    >>> sunk(machine, as_of=dt.date(2026, 11, 20)).total_minor
    9500
    """
    stated = _stated(machine)
    paid: dict[str, int] = {}
    came_back: dict[str, int] = {}
    further = 0
    guesses: list[RecordGuess] = []
    lines = [line for line in machine.purse if line.date <= as_of]
    # A payee with payments of its own needs no guessing.
    named = {line.pays for line in lines}
    open_sums = {payee: list(sums) for payee, sums in stated.items() if payee not in named}
    for line in lines:
        payee = line.pays
        if not payee:
            payee = next((one for one, sums in open_sums.items() if line.out_minor > 0 and line.out_minor in sums), "")
            if payee:
                open_sums[payee].remove(line.out_minor)
                amount = show_money(line.out_minor, machine.currency)
                value = f"{amount} taken as the payment of {payee}, not a further one"
                guesses.append(RecordGuess(field=f"purse.{line.id}.pays", value=value, basis="judgement"))
        if not payee:
            further += line.out_minor
        elif line.out_minor > 0:
            paid[payee] = paid.get(payee, 0) + line.out_minor
        else:
            came_back[payee] = came_back.get(payee, 0) - line.out_minor
    given_back = {part.id for part in machine.parts if part.state == "refunded"} - came_back.keys()
    gone = {
        payee: max(0, max(_sum(machine, payee), paid.get(payee, 0)) - came_back.get(payee, 0))
        for payee in {**stated, **paid, **came_back}
        if payee not in given_back
    }
    return Sunk(
        total_minor=further + sum(gone.values()),
        guesses=tuple(guesses),
        part_minor={payee: amount for payee, amount in gone.items() if payee != PURCHASE},
        purchase_minor=max(0, paid.get(PURCHASE, 0) - came_back.get(PURCHASE, 0)),
    )


def _stated(machine: Machine) -> Mapping[str, tuple[int, ...]]:
    """Payee -> the sums that stand there, each of which a purse line may repeat."""
    stated: dict[str, tuple[int, ...]] = {}
    bought = machine.purchase
    if bought.bought:
        parts = tuple(one for one in (bought.price_minor, bought.fees_minor, bought.freight_minor) if one)
        stated[PURCHASE] = (*parts, sum(parts)) if len(parts) > 1 else parts
    stated |= {part.id: (part.paid_minor,) for part in machine.parts if part.paid_minor}
    return stated


def _sum(machine: Machine, payee: str) -> int:
    if payee == PURCHASE:
        bought = machine.purchase
        return (
            sum(one or 0 for one in (bought.price_minor, bought.fees_minor, bought.freight_minor))
            if bought.bought
            else 0
        )
    return next((part.paid_minor for part in machine.parts if part.id == payee), 0)
