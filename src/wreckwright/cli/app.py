"""The group of all commands. A command's module is imported only when that command is called for."""

from __future__ import annotations

import click

from wreckwright import __version__
from wreckwright.cli.menu import Menu, Offer

SECTIONS: dict[str, dict[str, Offer]] = {
    "Ask about one machine": {
        "answers": Offer("asking", "All questions at once, each answered in a sentence."),
        "foresight": Offer("asking", "When is it finished, what does it take, what does it leave?"),
        "verdict": Offer("asking", "Carry on, sell it as it stands, or part it out?"),
        "bid": Offer("asking", "What is the most to pay for it?"),
        "fit": Offer("asking", "What must be proved by hand before anybody rides it?"),
        "show": Offer("asking", "What is known of the machine, as it was understood."),
        "check": Offer("asking", "Is this record well formed, and what is not in it?"),
    },
    "Work on it": {
        "plan": Offer("planning", "All work on the calendar, and what the end waits for."),
        "tonight": Offer("planning", "What can usefully be done in the hours there are tonight?"),
        "card": Offer("planning", "Everything for one piece of work, as it is done."),
        "start": Offer("planning", "Somebody is at this piece of work from now on."),
        "stop": Offer("planning", "Leave a piece of work for later."),
        "done": Offer("planning", "A piece of work is done."),
        "snag": Offer("planning", "Something went wrong with a piece of work."),
        "remedy": Offer("planning", "How something is put right."),
        "loose": Offer("planning", "Loose ends: what must not be forgotten."),
        "hands": Offer("planning", "When are the hands there, and which machine goes first?"),
    },
    "Write down and take back": {
        "note": Offer("keeping", "Write down something that was found on a machine."),
        "undo": Offer("keeping", "Take back the last change."),
        "changes": Offer("keeping", "What was changed, when and by whom; newest first."),
    },
    "The memory": {
        "list": Offer("keeping", "The machines in the memory, a line each."),
        "load": Offer("moving", "Take a record file into the memory."),
        "save": Offer("moving", "Write a machine out as a record file."),
        "backup": Offer("moving", "Put a copy of everything into a safe place."),
        "restore": Offer("moving", "Go back to a copy that was made by backup."),
    },
    "In the browser": {
        "serve": Offer("serving", "The same on pages, for this computer or the phone in the garage."),
        "demo": Offer("serving", "Three invented machines to try it on, apart from your own."),
    },
}


@click.group(
    cls=Menu,
    sections=SECTIONS,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)
@click.version_option(__version__, prog_name="wreckwright", message="%(prog)s %(version)s")
@click.option(
    "--data",
    "folder",
    metavar="DIR",
    envvar="WRECKWRIGHT_DATA",
    type=click.Path(path_type=str),
    help="The data folder: the memory, photographs and backups. Without it the variable WRECKWRIGHT_DATA, else the "
    "usual place of this computer.",
)
@click.pass_context
def cli(context: click.Context, folder: str | None) -> None:
    """What to pay for a crash-damaged motorcycle, whether to go on with it, when it
    will be done, and what it leaves.

    MACHINE is the nickname of a machine in the memory, or a record file (TOML or JSON); a nickname, a class and a
    year in it are enough to begin.

    \b
    Example: wreckwright answers sorrel.toml
    """
    context.obj = folder
