"""Questions to one machine. Each command calls one act and says the answer."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import click

from wreckwright.cli.guard import MISTAKE
from wreckwright.cli.options import (
    AS_OF,
    JSON,
    MACHINE,
    N_FUTURES,
    PACK,
    PLOT,
    Option,
    all_of,
    day_of,
    place_for,
    say,
    say_json,
)
from wreckwright.settings import FUTURES

if TYPE_CHECKING:
    from wreckwright.acts.ask import Question


def asks(*more: Option) -> Option:
    """What every question takes, and `more`."""
    return all_of(MACHINE, JSON, AS_OF, *more, PACK)


def question(
    machine: str, as_of: dt.datetime | None, packs: tuple[str, ...], n_futures: int = FUTURES.default
) -> Question:
    from wreckwright.acts.ask import Question

    return Question(machine=machine, place=place_for(machine), as_of=day_of(as_of), packs=packs, n_futures=n_futures)


def draw(path: str, picture: str) -> None:
    from wreckwright.acts.keep import keep_picture

    keep_picture(path, picture)
    click.echo(f"Picture written to {path}", err=True)


@click.command("check")
@asks()
def check_command(machine: str, as_json: bool, as_of: dt.datetime | None, packs: tuple[str, ...]) -> None:
    """Is this record well formed, and what is not in it?

    \b
    Example: wreckwright check sorrel.toml
    """
    from wreckwright.acts import ask
    from wreckwright.cli.say_record import checked_lines

    result = ask.check(question(machine, as_of, packs))
    if as_json:
        say_json(result)
    else:
        click.echo("\n".join(checked_lines(result)), err=not result.good)
    if not result.good:
        click.get_current_context().exit(MISTAKE)


@click.command("show")
@asks()
def show_command(machine: str, as_json: bool, as_of: dt.datetime | None, packs: tuple[str, ...]) -> None:
    """What is known of the machine, as it was understood.

    \b
    Example: wreckwright show Sorrel
    """
    from wreckwright.acts import ask
    from wreckwright.cli.say_record import shown_lines

    result = ask.show(question(machine, as_of, packs))
    say_json(result) if as_json else say(shown_lines(result))


@click.command("foresight")
@asks(N_FUTURES, PLOT)
def foresight_command(
    machine: str, as_json: bool, as_of: dt.datetime | None, packs: tuple[str, ...], n_futures: int, plot: str | None
) -> None:
    """When is it finished, what does it take, what does it leave?

    \b
    Example: wreckwright foresight Sorrel --plot sorrel.svg
    """
    from wreckwright.acts import ask, keep
    from wreckwright.cli.progress import Progress
    from wreckwright.cli.say_answers import foresight_lines
    from wreckwright.papers.pictures import foresight_picture

    if plot:
        keep.check_picture_name(plot)
    with Progress() as tell:
        reply = ask.foresight(question(machine, as_of, packs, n_futures), tell=tell)
    say_json(reply.answer) if as_json else say(foresight_lines(reply))
    if plot:
        draw(plot, foresight_picture(reply.answer))


@click.command("verdict")
@asks(N_FUTURES)
def verdict_command(
    machine: str, as_json: bool, as_of: dt.datetime | None, packs: tuple[str, ...], n_futures: int
) -> None:
    """Carry on, sell it as it stands, or part it out?

    \b
    Example: wreckwright verdict Sorrel
    """
    from wreckwright.acts import ask
    from wreckwright.cli.progress import Progress
    from wreckwright.cli.say_answers import verdict_lines

    with Progress() as tell:
        reply = ask.verdict(question(machine, as_of, packs, n_futures), tell=tell)
    say_json(reply.answer) if as_json else say(verdict_lines(reply))


@click.command("bid")
@asks(N_FUTURES, PLOT)
def bid_command(
    machine: str, as_json: bool, as_of: dt.datetime | None, packs: tuple[str, ...], n_futures: int, plot: str | None
) -> None:
    """What is the most to pay for it?

    \b
    Example: wreckwright bid magpie.toml --json
    """
    from wreckwright.acts import ask, keep
    from wreckwright.cli.progress import Progress
    from wreckwright.cli.say_answers import bid_lines
    from wreckwright.papers.pictures import price_curve_picture

    if plot:
        keep.check_picture_name(plot)
    with Progress() as tell:
        reply = ask.bid(question(machine, as_of, packs, n_futures), tell=tell)
    say_json(reply.answer) if as_json else say(bid_lines(reply))
    if plot:
        draw(plot, price_curve_picture(reply.answer))


@click.command("fit")
@asks()
def fit_command(machine: str, as_json: bool, as_of: dt.datetime | None, packs: tuple[str, ...]) -> None:
    """What must be proved by hand before anybody rides it?

    \b
    Example: wreckwright fit Sorrel
    """
    from wreckwright.acts import ask
    from wreckwright.cli.say_answers import fit_lines

    reply = ask.fit(question(machine, as_of, packs))
    say_json(reply.answer) if as_json else say(fit_lines(reply))


@click.command("answers")
@asks(N_FUTURES)
def answers_command(
    machine: str, as_json: bool, as_of: dt.datetime | None, packs: tuple[str, ...], n_futures: int
) -> None:
    """All questions at once, each answered in a sentence.

    Under each sentence stands the command that says all of it.

    \b
    Example: wreckwright answers sorrel.toml
    """
    from wreckwright.acts.tour import tour
    from wreckwright.cli.progress import Progress
    from wreckwright.cli.say_tour import tour_lines

    with Progress() as tell:
        told = tour(question(machine, as_of, packs, n_futures), tell=tell)
    say_json(told) if as_json else say(tour_lines(told, machine))
