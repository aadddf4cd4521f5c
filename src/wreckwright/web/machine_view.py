"""What the page of one machine shows of its answers, put into words and pictures."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from starlette.requests import Request

from wreckwright.acts.checks import trade_for
from wreckwright.acts.page_machines import verdict_sentence
from wreckwright.acts.page_record import not_covered
from wreckwright.acts.pages import machine_page
from wreckwright.acts.suspects import suspect_looks
from wreckwright.papers.figures import finish_figure, money_figure
from wreckwright.papers.said import (
    FIT_STATES,
    by,
    cost_words,
    driver_items,
    end_items,
    fit_words,
    in_futures,
    spread_words,
)
from wreckwright.papers.words import hours, money
from wreckwright.web.facts_fields import where_to_say
from wreckwright.web.pages_step import questions
from wreckwright.web.pages_walk import noting_address

if TYPE_CHECKING:
    from wreckwright.acts.pages import MachinePage
    from wreckwright.acts.reckon_shapes import Answers, Reckoned
    from wreckwright.answers.types import Foresight
    from wreckwright.record.types import Machine

NOT_YET = "The answer comes in a moment."
NO_ANSWER = "There is no answer yet."
WAITS_SHOWN, LEAST_WAIT_HOURS = 4, 0.5
"""Waiting for less than this on average is left out."""


def look_at(request: Request, uid: str) -> tuple[MachinePage, Machine | None]:
    """The machine's page as data, its reckoning begun if it is not up to date. Raises NotThere."""
    state = request.app.state
    state.reckoner.want(uid)
    with state.store.reading() as reader:
        page = machine_page(reader, state.trade, state.reckoner, uid)
        machine = None if page.head.problems else reader.machine(uid)
    return page, machine


def context_of(page: MachinePage, machine: Machine | None, *, revs: Mapping[tuple[str, str], int]) -> dict[str, Any]:
    """All that the templates `machine.html`, `says.html`, `reckon.html` and `answers.html` need.

    `revs`: (kind, handle) -> revision, of all rows of the machine.
    """
    answers = page.reckoned.answers
    made: dict[str, Any] = {
        "page": page,
        "head": page.head,
        "reckoned": page.reckoned,
        "sentence": sentence_of(page),
        "moved": page.moved,
        "moved_by": page.moved_by,
        # Of the row that holds the day of the record.
        "machine_rev": revs.get(("machine", "machine"), 0),
        "questions": questions(answers, machine, revs) if answers and machine else (),
        "not_covered": not_covered(machine) if machine else "",
        "oob": False,
    }
    return made | (answers_context(answers, page.head.uid, machine) if answers else {})


def sentence_of(page: MachinePage) -> str:
    """The answer in a sentence: what to do, or for a lot what to pay at most; without one, that it comes."""
    answers = page.reckoned.answers
    if answers is None:
        return NOT_YET if page.reckoned.state in ("running", "waiting") else NO_ANSWER
    return verdict_sentence(answers)


def answers_context(answers: Answers, uid: str, machine: Machine | None) -> dict[str, Any]:
    foresight = answers.foresight
    weighed = answers.verdict if foresight.bought else answers.bid
    trade = trade_for(machine) if machine else None
    suspects = suspect_looks(foresight.suspects, answers.names, trade) if trade else ()
    return {
        "figures": (finish_figure(foresight), money_figure(foresight)),
        "figures_in_words": figures_in_words(foresight),
        "driven": driven(answers),
        "suspects": suspects,
        "noted_at": {one.component: noting_address(uid, trade, one.component) for one in suspects} if trade else {},
        "rests_on": tuple((guess, *where_to_say(guess, uid)) for guess in weighed.rests_on),
        "notes": tuple(dict.fromkeys((*weighed.notes, *foresight.notes))),
        "fit": tuple(
            (state, tuple(fit_words(entry, answers.names) for entry in answers.fit.items if entry.state == state))
            for state in FIT_STATES
        ),
    }


def driven(answers: Answers) -> tuple[tuple[str, list[str]], ...]:
    """Heading -> sentences: what moves date and money, what is waited for, how else it may end, what would flip it."""
    foresight = answers.foresight
    waits = [
        f"{hours(wait.hours_mean)}: {wait.what}"
        for wait in foresight.waiting[:WAITS_SHOWN]
        if wait.hours_mean >= LEAST_WAIT_HOURS
    ]
    flips = [flip.words for flip in answers.verdict.flips] if foresight.bought else []
    happened = [f"{answers.names.get(one.component, one.component)}: {one.words}" for one in foresight.what_happened]
    return (
        ("What would change it", flips),
        ("What moves the date", driver_items(foresight.drivers_of_finish)),
        ("What moves the money", driver_items(foresight.drivers_of_net)),
        ("Evenings lost waiting", waits),
        ("How else it may end", end_items(foresight.ends_otherwise)),
        ("What may have happened to it", happened),
    )


def figures_in_words(answer: Foresight) -> tuple[tuple[str, str], ...]:
    """Name -> words, in the order in which they are read."""

    def say(amount_minor: int | None) -> str:
        return "-" if amount_minor is None else money(amount_minor, of=answer.currency)

    gone = (
        ("Come in already", say(-answer.sunk_minor))
        if answer.sunk_minor < 0
        else ("Gone already", say(answer.sunk_minor))
    )
    rows = [("Finished", in_futures(answer.finishes))]
    if answer.finish:
        rows.append(("If so, when", f"half {by(answer.finish.p50)}; 8 in 10 {by(answer.finish.p80)}"))
    if answer.sold:
        rows.append(("Money in hand", f"half {by(answer.sold.p50)}; 8 in 10 {by(answer.sold.p80)}"))
    rows += [
        ("Own hours", f"half below {hours(answer.hours.p50_hours)}; 8 in 10 below {hours(answer.hours.p80_hours)}"),
        (f"Still to spend, {answer.currency}", cost_words(answer.spend, say)),
        ("Purse at its deepest", cost_words(answer.largest_cash_out, say)),
        (
            "Left over in all",
            spread_words(answer.net, say) + (" (nothing taken off for the price)" if answer.price_free else ""),
        ),
        gone,
    ]
    pay = answer.pay_per_hour
    if pay.mean_minor is not None:
        rows.append(("Pay for an hour", f"{say(pay.mean_minor)} on average; 8 in 10 above {say(pay.p20_minor)}"))
    rows.append(("A loss", in_futures(answer.loss)))
    return tuple(rows)


def settled(reckoned: Reckoned) -> bool:
    """Nothing will change by itself."""
    return reckoned.state not in ("running", "waiting")
