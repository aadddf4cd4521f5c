"""All machines, a line each; and one machine with its answers. Reads kept answers only: nothing is reckoned here."""

from __future__ import annotations

import datetime as dt

from wreckwright.acts.moved import moved
from wreckwright.acts.page_changes import changes_between
from wreckwright.acts.page_record import Today, about, page_record, undecided
from wreckwright.acts.page_shapes import MachineLine, MachinePage, MachinesPage
from wreckwright.acts.reckon import Reckoner
from wreckwright.acts.reckon_shapes import Answers, Reckoned
from wreckwright.errors import RecordError
from wreckwright.store.read import Reader
from wreckwright.store.rows import machine_of
from wreckwright.store.types import MachineHead
from wreckwright.trade.types import Trade


def machines_page(reader: Reader, trade: Trade, reckoner: Reckoner) -> MachinesPage:
    """The machines in the owner's order."""
    return MachinesPage(machines=tuple(_line(reader, trade, reckoner, head) for head in reader.machines()))


def machine_page(
    reader: Reader, trade: Trade, reckoner: Reckoner, uid: str, *, today: Today = dt.date.today
) -> MachinePage:
    """One machine. Raises NotThere."""
    record = page_record(reader, trade, uid, today=today)
    reckoned = reckoner.look(uid) if record.machine is None else reckoner.look_at(uid, record.machine)
    now, before = reckoned.answers, reckoned.before
    news = moved(before, now) if now is not None and before is not None else ()
    by = (
        changes_between(reader, uid, after=before.change, until=now.change)
        if news and now is not None and before is not None else ()
    )
    return MachinePage(head=record.head, reckoned=reckoned, moved=news, moved_by=by)


def _line(reader: Reader, trade: Trade, reckoner: Reckoner, head: MachineHead) -> MachineLine:
    try:
        machine = machine_of(reader.rows(head.uid))
    except RecordError as error:
        return MachineLine(
            uid=head.uid, nickname=head.nickname, about="", bought=False, sentence=str(error), next_words="",
            next_why="", reckon_state="failed", stale=False, undecided=0,
        )
    reckoned = reckoner.look_at(head.uid, machine)
    step = reckoned.answers.next_step if reckoned.answers else None
    return MachineLine(
        uid=head.uid, nickname=machine.nickname, about=about(machine, trade), bought=machine.purchase.bought,
        sentence=_sentence(reckoned), next_words=step.words if step else "", next_why=step.why if step else "",
        reckon_state=reckoned.state, stale=reckoned.stale, undecided=undecided(machine),
    )


def _sentence(reckoned: Reckoned) -> str:
    if reckoned.state == "failed":
        return reckoned.why
    if reckoned.answers is not None:
        return verdict_sentence(reckoned.answers)
    return {
        "running": f"It is being reckoned: {reckoned.step}.",
        "waiting": "It waits for its turn to be reckoned.",
        "stopped": reckoned.why,
    }.get(reckoned.state, "It has not been reckoned yet.")


def verdict_sentence(answers: Answers) -> str:
    """What to do with a machine that is bought, what to pay for one that is not; a sentence without its reasons."""
    if not answers.foresight.bought:
        return answers.bid.words.rstrip(".") + "."
    return answers.verdict.why.split("; ", 1)[0].rstrip(".") + "."
