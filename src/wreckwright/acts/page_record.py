"""One machine as its pages read it: the record, its revisions, the trade data that fit it, and what is wrong in it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from wreckwright.acts.checks import day_of, fitting_trade, record_problems, trade_for
from wreckwright.acts.page_shapes import Choice, Head
from wreckwright.acts.views import CheckedProblem
from wreckwright.answers.plan_words import small as small
from wreckwright.errors import Problem, RecordError
from wreckwright.record.against_trade import find_class
from wreckwright.record.rules import HANDLE_PREFIX
from wreckwright.record.types import Machine
from wreckwright.store.read import Reader
from wreckwright.store.rows import machine_of
from wreckwright.store.types import StoredRow
from wreckwright.trade.types import Component, Trade

Today = Callable[[], dt.date]


@dataclass(frozen=True, kw_only=True)
class PageRecord:
    """What all pages of one machine begin with."""

    head: Head
    machine: Machine | None
    """None: the rows in the store are no record of this program's format; `head.problems` says why."""
    rows: tuple[StoredRow, ...]
    trade: Trade
    """Mirrored if the machine is."""

    def rev(self, handle: str) -> int:
        """Revision of a row; 0: there is none."""
        return next((row.rev for row in self.rows if row.key.handle == handle), 0)


def page_record(reader: Reader, trade: Trade, uid: str, *, today: Today = dt.date.today) -> PageRecord:
    """Read one machine for a page. Raises NotThere."""
    nickname = reader.head(uid).nickname
    rows = reader.rows(uid)
    try:
        machine = machine_of(rows)
    except RecordError as error:
        head = Head(
            uid=uid, nickname=nickname, about="", currency="", bought=False, undecided=0, as_of=today().isoformat(),
            as_of_fixed=False, problems=as_shown(error.problems),
        )
        return PageRecord(head=head, machine=None, rows=rows, trade=trade)
    fitting = fitting_trade(machine, trade)
    head = Head(
        uid=uid, nickname=machine.nickname, about=about(machine, trade), currency=machine.currency,
        bought=machine.purchase.bought, undecided=undecided(machine), as_of=day_of(machine, today=today).isoformat(),
        as_of_fixed=machine.as_of is not None,
        problems=as_shown(record_problems(machine, fitting, today=today)),
    )
    return PageRecord(head=head, machine=machine, rows=rows, trade=fitting)


def head_of(reader: Reader, trade: Trade, uid: str, *, today: Today = dt.date.today) -> Head:
    """The head of a machine's pages. Raises NotThere."""
    return page_record(reader, trade, uid, today=today).head


def as_shown(problems: Iterable[Problem]) -> tuple[CheckedProblem, ...]:
    return tuple(
        CheckedProblem(where=one.where, found=one.found, allowed=one.allowed, do=one.do) for one in problems
    )


def about(machine: Machine, trade: Trade) -> str:
    """The machine in a few words: year, class, and what its owner calls maker and model."""
    known = find_class(machine.machine_class, trade)
    kind = small(known.name if known else machine.machine_class.replace("_", " "))
    return f"{machine.year} {kind}" + (f", {machine.maker_and_model}" if machine.maker_and_model else "")


def not_covered(machine: Machine) -> str:
    """What the trade data lack for this class of machine, so that its answers are worth little; empty: nothing."""
    kind = find_class(machine.machine_class, trade_for(machine))
    return kind.not_covered if kind else ""


def undecided(machine: Machine) -> int:
    return sum(not tap.decided for tap in machine.taps)


def name_of(component: Component, machine: Machine) -> str:
    """The component's name in the owner's words, UK or US."""
    return component.name_us if machine.owner.words == "us" else component.name_uk


def component_choices(machine: Machine, trade: Trade) -> tuple[Choice, ...]:
    """Components that a machine of this class has, and those that its record names anyway; by name."""
    known = find_class(machine.machine_class, trade)
    absent = frozenset(known.absent_components if known else ()).difference(_components_named(machine))
    there = (row for row in trade.components.values() if row.id not in absent)
    found = (Choice(value=row.id, words=name_of(row, machine)) for row in there)
    return tuple(sorted(found, key=lambda choice: (choice.words.casefold(), choice.value)))


def _components_named(machine: Machine) -> Iterator[str]:
    for rows in (machine.findings, machine.parts, machine.jobs, machine.remedies, machine.readings):
        for row in rows:
            yield row.component


def row_words(machine: Machine, trade: Trade) -> Mapping[str, str]:
    """Handle of a finding, part or job -> a few words that name it."""
    found: dict[str, str] = {}
    for kind in HANDLE_PREFIX:
        for row in getattr(machine, kind):
            component = trade.components.get(getattr(row, "component", ""))
            named = getattr(row, "what", "") or getattr(row, "name", "")
            named = named or (name_of(component, machine) if component else "")
            condition = getattr(row, "condition", "")
            found[row.id] = ": ".join(filter(None, (named, condition))) if kind == "findings" else named or row.id
    return found
