"""The demo machines, one screen each: what is asked, the answer in a sentence, and the command that says all of it."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

import click

from wreckwright.cli.guard import translate
from wreckwright.papers.words import COLUMNS, wrapped

if TYPE_CHECKING:
    from wreckwright.acts.tour import Tour
    from wreckwright.answers.types import Answer

MACHINES = ("sorrel.toml", "bramble.toml", "magpie.toml")
COMMAND = "python3 run.py wreckwright"
INTRODUCTION = (
    "Three invented machines. Everything below is read from their records in examples/ and from the trade's own "
    "figures; what a record does not say is guessed, and the answer names the guess."
)
CLOSING = f"Copy one of the files, put your own machine in it, and ask again. {COMMAND} --help tells what can be asked."


def main(folder: str) -> int:
    """Show the answers for the three machines in `folder`; the exit code."""
    try:
        demo(folder)
    except BaseException as error:
        return translate(error)
    return 0


def demo(folder: str) -> None:
    from wreckwright.acts.ask import Question
    from wreckwright.acts.tour import tour
    from wreckwright.cli.progress import Progress

    say(wrapped(INTRODUCTION))
    for name in MACHINES:
        with Progress() as tell:
            answers = tour(Question(path=os.path.join(folder, name)), tell=tell)
        say(tour_lines(answers, f"examples/{name}"))
    say(["", *wrapped(CLOSING)])


def say(lines: list[str]) -> None:
    click.echo("\n".join(lines))


def tour_lines(tour: Tour, path: str) -> list[str]:
    shown = tour.shown
    what = ", ".join(filter(None, (shown.maker_and_model, str(shown.year), shown.machine_class)))
    found = "; ".join(finding.words or finding.component for finding in shown.findings if finding.severity != "sound")
    lines = [
        "",
        f"== {shown.nickname} ".ljust(COLUMNS, "="),
        *wrapped(f"{what}. {'Bought' if shown.bought else 'Not bought yet'}."),
    ]
    if found:
        lines += wrapped(f"Found: {found}.")
    lines += asked("When is it finished, what does it take, what does it leave?", tour.foresight, f"foresight {path}")
    if tour.verdict:
        lines += asked("Carry on, sell it as it stands, or part it out?", tour.verdict, f"verdict {path}")
    if tour.bid:
        lines += asked("What is the most to pay for it?", tour.bid, f"bid {path}")
    lines += asked("What must be proved by hand before anybody rides it?", tour.fit, f"fit {path}")
    guesses = tour.foresight.rests_on
    if guesses:
        more = f", and {len(guesses) - 1} more" if len(guesses) > 1 else ""
        lines += ["", *wrapped(f"Rests on {guesses[0].words}{more}.")]
    return lines


def asked(words: str, answer: Answer, command: str) -> list[str]:
    return ["", words, *wrapped(answer.why, indent=2), f"  $ {COMMAND} {command}"]


if __name__ == "__main__":
    sys.exit(main(sys.argv[1] if len(sys.argv) > 1 else "examples"))
