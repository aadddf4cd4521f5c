"""The words for `answers`: what is asked, the answer in a sentence, and the command that says all of it."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING

from wreckwright.papers.words import COLUMNS, wrapped

if TYPE_CHECKING:
    from wreckwright.acts.tour import Tour
    from wreckwright.answers.types import Answer

COMMAND = "wreckwright"


def tour_lines(tour: Tour, machine: str) -> list[str]:
    """`machine` as it was named to the command."""
    shown = tour.shown
    name = shlex.quote(machine)
    what = ", ".join(filter(None, (shown.maker_and_model, str(shown.year), shown.machine_class)))
    found = "; ".join(finding.words or finding.component for finding in shown.findings if finding.severity != "sound")
    lines = [
        f"== {shown.nickname} ".ljust(COLUMNS, "="),
        *wrapped(f"{what}. {'Bought' if shown.bought else 'Not bought yet'}."),
    ]
    if found:
        lines += wrapped(f"Found: {found}.")
    lines += asked("When is it finished, what does it take, what does it leave?", tour.foresight, f"foresight {name}")
    if tour.verdict:
        lines += asked("Carry on, sell it as it stands, or part it out?", tour.verdict, f"verdict {name}")
    if tour.bid:
        lines += asked("What is the most to pay for it?", tour.bid, f"bid {name}")
    lines += asked("What must be proved by hand before anybody rides it?", tour.fit, f"fit {name}")
    guesses = tour.foresight.rests_on
    if guesses:
        more = f", and {len(guesses) - 1} more" if len(guesses) > 1 else ""
        lines += ["", *wrapped(f"Rests on {guesses[0].words}{more}.")]
    return lines


def asked(words: str, answer: Answer, command: str) -> list[str]:
    return ["", words, *wrapped(answer.why, indent=2), f"  $ {COMMAND} {command}"]
