"""What is known of a machine as a whole, for a form to change, and what is guessed where nothing is written."""

from __future__ import annotations

import datetime as dt

from wreckwright.acts.page_record import PageRecord, Today, page_record
from wreckwright.acts.page_shapes import Choice, FactsPage
from wreckwright.answers.types import RestsOn, rests_on_words
from wreckwright.errors import WreckwrightError
from wreckwright.record.resolve import resolve
from wreckwright.store.read import Reader
from wreckwright.store.types import SINGLE_KINDS
from wreckwright.trade.types import Trade


def facts_page(reader: Reader, trade: Trade, uid: str, *, today: Today = dt.date.today) -> FactsPage:
    """The facts of a machine. Raises NotThere."""
    record = page_record(reader, trade, uid, today=today)
    single = {row.key.kind: row for row in record.rows if row.key.kind in SINGLE_KINDS}
    return FactsPage(
        head=record.head,
        revs={kind: single[kind].rev if kind in single else 0 for kind in SINGLE_KINDS},
        values={kind: dict(single[kind].fields) if kind in single else {} for kind in SINGLE_KINDS},
        classes=class_choices(trade), brands=brand_choices(trade), rests_on=_guesses(record),
    )


def class_choices(trade: Trade) -> tuple[Choice, ...]:
    """Classes of machine, in the order of the trade data."""
    return tuple(Choice(value=row.id, words=row.name) for row in trade.classes.values())


def brand_choices(trade: Trade) -> tuple[Choice, ...]:
    """Title brands, in the order of the trade data."""
    return tuple(Choice(value=row.brand, words=row.name) for row in trade.brand_discounts.values())


def _guesses(record: PageRecord) -> tuple[RestsOn, ...]:
    if record.machine is None:
        return ()
    try:
        known = resolve(record.machine, record.trade, as_of=dt.date.fromisoformat(record.head.as_of))
    except WreckwrightError:
        # What is wrong is said in the head.
        return ()
    return tuple(
        RestsOn(
            field=guess.field, value=guess.value, basis=guess.basis,
            words=rests_on_words(field=guess.field, value=guess.value, basis=guess.basis),
        )
        for guess in known.guesses
    )
