"""Work done elsewhere, for which several parts are brought at once: what is missing, and what one trip saves."""

from __future__ import annotations

from collections.abc import Collection

from wreckwright.answers.plan_types import BatchLine
from wreckwright.answers.plan_words import counted, day_after, small, some
from wreckwright.answers.words import money
from wreckwright.record.known import Known, name_shown
from wreckwright.record.types import Batch
from wreckwright.trade.types import Trade


def batches(known: Known, trade: Trade, *, open_keys: Collection[str]) -> tuple[BatchLine, ...]:
    """Every batch that is not back yet, in the order of the record.

    `open_keys`: keys of the work that is still to do; a part whose `<component>:strip` is among them is still on the
    machine.
    """
    return tuple(_line(batch, known, trade, open_keys) for batch in known.machine.batches if batch.state != "back")


def _line(batch: Batch, known: Known, trade: Trade, open_keys: Collection[str]) -> BatchLine:
    names = tuple(_name(component, known, trade) for component in batch.components)
    if batch.state == "away":
        return BatchLine(
            handle=batch.id, name=batch.name, parts=names, state=_away_words(batch), words=_back_words(batch, known)
        )
    on_machine = tuple(
        _name(component, known, trade) for component in batch.components if f"{component}:strip" in open_keys
    )
    if not names:
        words = "No part is written down for it yet."
    elif on_machine:
        come = "comes" if len(on_machine) == 1 else "come"
        words = f"Before it can go, {some(on_machine)} still {come} off. {_saving(batch, known)}"
    else:
        words = f"All of it is off and can go. {_saving(batch, known)}"
    if names and not batch.colour and "paint" in batch.name.lower():
        words += " The colour is not written down."
    return BatchLine(handle=batch.id, name=batch.name, parts=names, state="gathering", words=words.strip())


def _name(component: str, known: Known, trade: Trade) -> str:
    row = trade.components.get(component)
    return small(name_shown(row, known)) if row is not None else component


def _saving(batch: Batch, known: Known) -> str:
    """What one trip for all saves against one for each."""
    parts = len(batch.components)
    if parts < 2:
        return ""
    trips = counted(parts - 1, "trip")
    saved = saving_minor(batch)
    if saved > 0:
        return f"One trip for all {parts} saves {trips} and {money(saved, known.machine.currency)} of minimum charges."
    return f"One trip for all {parts} saves {trips}."


def saving_minor(batch: Batch) -> int:
    """What is charged more [minor units] if each part goes alone: the price is split evenly, and each time at least the
    minimum is charged. 0 where no minimum is known.

    >>> saving_minor(Batch(id="b1", name="Paint", components=("seat", "screen", "tail"), price_minor=9_000,
    ...                    minimum_minor=5_000))
    6000
    """
    parts = len(batch.components)
    if parts < 2 or not batch.minimum_minor:
        return 0
    price = batch.price_minor or 0
    alone = sum(max(batch.minimum_minor, price // parts) for _ in range(parts))
    return max(alone - max(batch.minimum_minor, price), 0)


def _away_words(batch: Batch) -> str:
    by = f" at {batch.done_by}" if batch.done_by else ""
    return f"away{by}" + (f" since {batch.away_on.isoformat()}" if batch.away_on is not None else "")


def _back_words(batch: Batch, known: Known) -> str:
    if batch.away_on is None or batch.days is None:
        return "When it comes back is not known: ask."
    back = day_after(batch.away_on.isoformat(), round(batch.days))
    if back < known.as_of.isoformat():
        late = (known.as_of - batch.away_on).days - round(batch.days)
        return f"It was to be back on {back}, {counted(late, 'day')} ago: ask."
    return f"It should be back on {back}."
