"""The commands. Each opens one record, calls one act, and says the answer; heavy imports wait until one is run."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from wreckwright import __version__
from wreckwright.cli.guard import MISTAKE, Guarded
from wreckwright.settings import FUTURES

if TYPE_CHECKING:
    from wreckwright.acts.ask import Question

Function = Callable[..., Any]

FILE = click.argument("file", metavar="FILE", type=click.Path(path_type=str))
AS_OF = click.option(
    "--as-of",
    metavar="DATE",
    type=click.DateTime(formats=["%Y-%m-%d"]),
    help="The day for which the answer holds, as 2026-03-31. Without it the record's own day, else today.",
)
PACK = click.option(
    "--pack",
    "packs",
    metavar="FILE",
    multiple=True,
    type=click.Path(path_type=str),
    help="A model pack: your own figures, laid over the trade data. May be given several times.",
)
JSON = click.option("--json", "as_json", is_flag=True, help="Answer as JSON; the keys are in docs/cli-reference.md.")
N_FUTURES = click.option(
    f"--{FUTURES.name}",
    "n_futures",
    metavar="N",
    type=click.IntRange(FUTURES.least, FUTURES.most),
    default=FUTURES.default,
    show_default=True,
    help=FUTURES.help,
)
PLOT = click.option(
    "--plot", metavar="OUT.svg", type=click.Path(path_type=str), help="Also draw a picture into this file."
)


def asks(*more: Callable[[Function], Function]) -> Callable[[Function], Function]:
    """The options that every question takes, and `more` of them, in the order in which help shows them."""

    options: tuple[Callable[[Function], Function], ...] = (FILE, JSON, AS_OF, *more, PACK)

    def decorate(command: Function) -> Function:
        for option in reversed(options):
            command = option(command)
        return command

    return decorate


def question(
    file: str, as_of: dt.datetime | None, packs: tuple[str, ...], n_futures: int = FUTURES.default
) -> Question:
    from wreckwright.acts.ask import Question

    return Question(path=file, as_of=as_of.date() if as_of else None, packs=packs, n_futures=n_futures)


def say(lines: list[str]) -> None:
    click.echo("\n".join(lines))


def say_json(result: object) -> None:
    from wreckwright.papers.words import as_json

    click.echo(as_json(result))


def draw(path: str, picture: str) -> None:
    from wreckwright.acts.keep import keep_picture

    keep_picture(path, picture)
    click.echo(f"Picture written to {path}", err=True)


@click.group(cls=Guarded, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80})
@click.version_option(__version__, prog_name="wreckwright", message="%(prog)s %(version)s")
def cli() -> None:
    """What to pay for a crash-damaged motorcycle, whether to go on with it, when it
    will be done, and what it leaves: read from the record of one machine.

    FILE is a record, TOML or JSON; a nickname, a class and a year
    are enough to begin.
    """


@cli.command()
@asks()
def check(file: str, as_json: bool, as_of: dt.datetime | None, packs: tuple[str, ...]) -> None:
    """Is this record well formed, and what is not in it?"""
    from wreckwright.acts import ask
    from wreckwright.cli.say_record import checked_lines

    result = ask.check(question(file, as_of, packs))
    if as_json:
        say_json(result)
    else:
        click.echo("\n".join(checked_lines(result)), err=not result.good)
    if not result.good:
        click.get_current_context().exit(MISTAKE)


@cli.command()
@asks()
def show(file: str, as_json: bool, as_of: dt.datetime | None, packs: tuple[str, ...]) -> None:
    """What is known of the machine, as it was understood."""
    from wreckwright.acts import ask
    from wreckwright.cli.say_record import shown_lines

    result = ask.show(question(file, as_of, packs))
    say_json(result) if as_json else say(shown_lines(result))


@cli.command()
@asks(N_FUTURES, PLOT)
def foresight(
    file: str, as_json: bool, as_of: dt.datetime | None, packs: tuple[str, ...], n_futures: int, plot: str | None
) -> None:
    """When is it finished, what does it take, what does it leave?"""
    from wreckwright.acts import ask, keep
    from wreckwright.cli.progress import Progress
    from wreckwright.cli.say_answers import foresight_lines
    from wreckwright.papers.pictures import foresight_picture

    if plot:
        keep.check_picture_name(plot)
    with Progress() as tell:
        reply = ask.foresight(question(file, as_of, packs, n_futures), tell=tell)
    say_json(reply.answer) if as_json else say(foresight_lines(reply))
    if plot:
        draw(plot, foresight_picture(reply.answer))


@cli.command()
@asks(N_FUTURES)
def verdict(file: str, as_json: bool, as_of: dt.datetime | None, packs: tuple[str, ...], n_futures: int) -> None:
    """Carry on, sell it as it stands, or part it out?"""
    from wreckwright.acts import ask
    from wreckwright.cli.progress import Progress
    from wreckwright.cli.say_answers import verdict_lines

    with Progress() as tell:
        reply = ask.verdict(question(file, as_of, packs, n_futures), tell=tell)
    say_json(reply.answer) if as_json else say(verdict_lines(reply))


@cli.command()
@asks(N_FUTURES, PLOT)
def bid(
    file: str, as_json: bool, as_of: dt.datetime | None, packs: tuple[str, ...], n_futures: int, plot: str | None
) -> None:
    """What is the most to pay for it?"""
    from wreckwright.acts import ask, keep
    from wreckwright.cli.progress import Progress
    from wreckwright.cli.say_answers import bid_lines
    from wreckwright.papers.pictures import price_curve_picture

    if plot:
        keep.check_picture_name(plot)
    with Progress() as tell:
        reply = ask.bid(question(file, as_of, packs, n_futures), tell=tell)
    say_json(reply.answer) if as_json else say(bid_lines(reply))
    if plot:
        draw(plot, price_curve_picture(reply.answer))


@cli.command()
@asks()
def fit(file: str, as_json: bool, as_of: dt.datetime | None, packs: tuple[str, ...]) -> None:
    """What must be proved by hand before anybody rides it?"""
    from wreckwright.acts import ask
    from wreckwright.cli.say_answers import fit_lines

    reply = ask.fit(question(file, as_of, packs))
    say_json(reply.answer) if as_json else say(fit_lines(reply))
