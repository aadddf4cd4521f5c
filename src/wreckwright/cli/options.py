"""What several commands share: their arguments, options, and how they speak."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from wreckwright.settings import FUTURES

if TYPE_CHECKING:
    from wreckwright.acts.place import Place
    from wreckwright.acts.sent import Sent

Function = Callable[..., Any]
Option = Callable[[Function], Function]

COMMAND_LINE = "the command line"
"""Who made a change, in the journal."""

MACHINE = click.argument("machine", metavar="MACHINE", type=click.Path(path_type=str))
MACHINE_OR_ALL = click.argument("machine", metavar="[MACHINE]", required=False, type=click.Path(path_type=str))
JSON = click.option("--json", "as_json", is_flag=True, help="Answer as JSON; the keys are in docs/cli-reference.md.")
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


def all_of(*options: Option) -> Option:
    """Several options as one, in the order in which help shows them."""

    def decorate(command: Function) -> Function:
        for option in reversed(options):
            command = option(command)
        return command

    return decorate


def place() -> Place:
    """The data folder that was named before the command, else the usual one."""
    from wreckwright.acts.place import place_of

    return place_of(click.get_current_context().find_root().obj)


def memory_place() -> Place:
    """The same for commands that need the memory: if it is of an older program, it is brought up to date and told."""
    from wreckwright.acts.place import memory_if_any

    here = place()
    memory_if_any(here, tell=tell)
    return here


def place_for(machine: str) -> Place:
    """The data folder in which MACHINE is looked for; nothing of the database is loaded for a record file."""
    from wreckwright.acts.find import names_a_file

    return place() if names_a_file(machine) else memory_place()


def sent() -> Sent:
    """What is written goes into the journal under this name, now."""
    from wreckwright.acts.sent import Sent

    return Sent(who=COMMAND_LINE)


def day_of(as_of: dt.datetime | None) -> dt.date | None:
    return as_of.date() if as_of else None


def say(lines: list[str]) -> None:
    click.echo("\n".join(lines))


def say_json(result: object) -> None:
    from wreckwright.papers.words import as_json

    click.echo(as_json(result))


def tell(words: str) -> None:
    """Something that happened by the way; not part of the answer."""
    click.echo(words, err=True)
