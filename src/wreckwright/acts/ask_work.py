"""What the command line asks of work: one evening, one card. Nothing of the memory is loaded for a record file."""

from __future__ import annotations

from wreckwright.acts.ask import Question, cards, evening
from wreckwright.acts.place import Tell, quiet
from wreckwright.acts.views import Reply
from wreckwright.answers.plan_types import JobCard, Tonight
from wreckwright.answers.tonight import tonight
from wreckwright.errors import EntryError, NotThere
from wreckwright.record.faults import nearest, one_of, shown

MOST_NEAR = 4
"""Of cards whose words are near; more of them are no help."""


def tonight_for(question: Question, *, hours: float, tell: Tell = quiet) -> Reply[Tonight]:
    """What can usefully be done with one machine in so many hours. Raises EntryError for other hours than 0 to 24."""
    if not 0.0 <= hours <= 24.0:
        raise EntryError(
            f"hours: {hours:g}", allowed="0 to 24", do="say how many hours there are tonight", field="hours"
        )
    reply = evening(question, tell=tell)
    return Reply(answer=tonight(reply.answer, hours), names=reply.names)


def card_for(question: Question, key: str, *, tell: Tell = quiet) -> Reply[JobCard]:
    """The card of one piece of work. Raises NotThere, with the nearest keys."""
    reply = cards(question, tell=tell)
    for card in reply.answer:
        if card.key == key:
            return Reply(answer=card, names=reply.names)
    known = {card.key: card.name for card in reply.answer}
    # What is on a card is known better by its words than by its key.
    near = [*nearest(key, known), *(one for one, name in known.items() if key.casefold() in name.casefold())]
    listed = [f"{one} ({known[one]})" for one in dict.fromkeys(near)]
    raise NotThere(
        f"there is no card with the key {shown(key)}",
        allowed="a key as `wreckwright plan` shows it" if known else "nothing: there is no work",
        do=f"name {one_of(listed, most=MOST_NEAR)}" if listed else "see `wreckwright plan`",
    )
